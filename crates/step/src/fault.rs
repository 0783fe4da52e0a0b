//! What is wrong with an entity.

/// Why an entity could not be used. Entities are named by their instance number, `#12`.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Fault {
    /// A reference to an instance that is not in the file.
    #[error("#{id} is referred to and is not in the file")]
    Dangling {
        /// The instance.
        id: u64,
    },
    /// An instance of another type than belongs there.
    #[error("#{id} is {found}, where {expected} belongs")]
    Kind {
        /// The instance.
        id: u64,
        /// Its type.
        found: String,
        /// What belongs there.
        expected: &'static str,
    },
    /// A parameter that is missing or of another type.
    #[error("#{id}: parameter {number} of {kind} is not {expected}")]
    Parameter {
        /// The instance.
        id: u64,
        /// The entity type, whose parameters are counted.
        kind: String,
        /// Which, from 1.
        number: usize,
        /// What belongs there.
        expected: &'static str,
    },
    /// Instances that refer to each other in a circle.
    #[error("#{id} refers back to itself, or through too many others")]
    Cyclic {
        /// The instance at which that was noticed.
        id: u64,
    },
    /// An entity type that the standard knows and this reader does not.
    #[error("#{id}: {kind} is not read")]
    Unread {
        /// The instance.
        id: u64,
        /// Its type.
        kind: String,
    },
    /// Values that describe no geometry.
    #[error("#{id}: {why}")]
    Values {
        /// The instance.
        id: u64,
        /// What is wrong.
        why: &'static str,
    },
    /// More or fewer of what is written than is said to be.
    #[error("#{id}: it says that there are {said} points, and there are {there}")]
    Count {
        /// The instance.
        id: u64,
        /// How many it says.
        said: usize,
        /// How many there are.
        there: usize,
    },
    /// An index that stands for nothing; the first is 1.
    #[error("#{id}: it uses point {index} of {count}")]
    Index {
        /// The instance.
        id: u64,
        /// The index.
        index: usize,
        /// How many points there are.
        count: usize,
    },
    /// An edge whose end does not lie on its curve, or whose curve does not lie on its surface.
    #[error("#{id}: {what} is {distance:.3} mm away from {from}")]
    Apart {
        /// The instance.
        id: u64,
        /// What lies apart.
        what: &'static str,
        /// From what.
        from: &'static str,
        /// Millimetres.
        distance: f64,
    },
    /// Loops of a face that run into each other.
    #[error("#{id}: its boundary crosses itself")]
    Crossing {
        /// The face.
        id: u64,
    },
    /// A face whose boundary does not bound a piece of its surface.
    #[error("#{id}: its boundary does not bound a piece of its surface ({why})")]
    Unbounded {
        /// The face.
        id: u64,
        /// How that shows.
        why: &'static str,
    },
    /// More triangles than are made of one face.
    #[error("#{id}: the face would take too many triangles at this accuracy")]
    TooFine {
        /// The face.
        id: u64,
    },
}

impl Fault {
    /// The instance that is named.
    pub const fn id(&self) -> u64 {
        match self {
            Self::Dangling { id }
            | Self::Kind { id, .. }
            | Self::Parameter { id, .. }
            | Self::Cyclic { id }
            | Self::Unread { id, .. }
            | Self::Values { id, .. }
            | Self::Count { id, .. }
            | Self::Index { id, .. }
            | Self::Apart { id, .. }
            | Self::Crossing { id }
            | Self::Unbounded { id, .. }
            | Self::TooFine { id } => *id,
        }
    }
}
