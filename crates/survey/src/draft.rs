//! What was found, each with its confidence and its reason, and what must be asked.

use assembly::car_top::FittingKind;
use measure::Angle;
use nalgebra::{Isometry3, Point2, Point3, Unit, Vector3};

/// How far a guess can be relied on. There is no number behind it: which it is follows from rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    /// Name and shape disagree, or there are two readings, or neither tells: there is a question.
    Doubtful,
    /// One of name and shape says so plainly, and the other nothing against it.
    Likely,
    /// Name and shape say the same.
    Sure,
}

impl Confidence {
    /// For people.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sure => "sure",
            Self::Likely => "likely",
            Self::Doubtful => "doubtful",
        }
    }
}

/// Why something was taken for what it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// How far that goes.
    pub confidence: Confidence,
    /// Why, in one sentence without its full stop.
    pub because: String,
}

/// A body taken for something.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Index among the bodies given.
    pub body: usize,
    /// Why.
    pub reason: Reason,
}

/// A car top as far as it could be made out. Lengths are mm, angles radians, coordinates those of
/// the plate frame unless they say otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// Takes the coordinates of the bodies given into the plate frame.
    pub plate_from_mesh: Isometry3<f64>,
    /// Why the origin lies where it does, and why +x points where it does.
    pub frame: [Reason; 2],
    /// The cover plate.
    pub plate: Found,
    /// The plane of the sealing face: how it was met.
    pub sealing_face: SealingFace,
    /// The housing's bodies, those of the sidewall first.
    pub housing: Vec<Found>,
    /// The sidewall's inner face seen from above, for pictures: points in order.
    pub inner_outline: Vec<Point2<f64>>,
    /// Openings in the sidewall that can carry a foot.
    pub ports: Vec<Port>,
    /// The lid.
    pub lid: Option<Lid>,
    /// Hinge pin and lugs.
    pub hinge: Vec<Found>,
    /// Bodies of studs with their nuts.
    pub studs: Vec<Found>,
    /// Fittings.
    pub fittings: Vec<Fitting>,
    /// What must be asked, in the order in which the document asks.
    pub questions: Vec<Question>,
}

/// How well the plane of the sealing face was met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SealingFace {
    /// Root of the mean square of how far the face's triangles lie off the plane, mm.
    pub rms: f64,
    /// The most that any lies off, mm.
    pub most: f64,
    /// Its area, mm2.
    pub area: f64,
    /// How many other bodies stand on it.
    pub standing: usize,
}

/// An opening in the sidewall.
#[derive(Debug, Clone, PartialEq)]
pub struct Port {
    /// A name made of the clock-wise unambiguous bearing of its middle: `P90`.
    pub name: String,
    /// Its middle at mid-wall, seen from above.
    pub at: Point2<f64>,
    /// The way it faces, outward.
    pub facing: Angle,
    /// Clear width, mm.
    pub width: f64,
    /// Clear height, mm.
    pub height: f64,
    /// Its lower edge above the sealing face, mm.
    pub sill: f64,
    /// Thickness of the wall there, mm.
    pub wall: f64,
    /// Bound on how wrong these may be: the mesh's own and how far the edges wander, mm.
    pub deviation: f64,
    /// Its cover.
    pub cover: Option<Found>,
    /// Why it is one.
    pub reason: Reason,
}

/// A hinged lid.
#[derive(Debug, Clone, PartialEq)]
pub struct Lid {
    /// Its body.
    pub found: Found,
    /// A point on the hinge pin's axis.
    pub axis_point: Point3<f64>,
    /// The axis; a right-hand turn about it opens the lid.
    pub axis: Unit<Vector3<f64>>,
    /// Why the axis lies there.
    pub axis_reason: Reason,
    /// How far it is open where it is drawn.
    pub drawn_at: Angle,
    /// Why.
    pub drawn_reason: Reason,
}

/// What may leak.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitting {
    /// A short name, unique.
    pub name: String,
    /// What it is.
    pub kind: FittingKind,
    /// Why.
    pub kind_reason: Reason,
    /// Its nominal size as a document writes it.
    pub size: String,
    /// Why.
    pub size_reason: Reason,
    /// Where its centreline meets the sealing face.
    pub centre: Point2<f64>,
    /// Its flange's diameter, mm.
    pub flange: f64,
    /// Why centre and flange are these.
    pub place_reason: Reason,
    /// Bodies that stay.
    pub bodies: Vec<Found>,
    /// Pieces that come off, in the order in which they do.
    pub removables: Vec<Removable>,
}

/// A piece that comes off.
#[derive(Debug, Clone, PartialEq)]
pub struct Removable {
    /// Name for people.
    pub name: String,
    /// Its body.
    pub found: Found,
}

/// Something that a person must answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// What it is about: `fitting "F1", kind`.
    pub about: String,
    /// What the document says meanwhile.
    pub guess: String,
    /// Why it is asked.
    pub why: String,
    /// Where it is, seen from above; `None` for what has no place.
    pub at: Option<Point2<f64>>,
}

/// Why no draft can be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unfound {
    /// A body's mesh has no triangle, or one with a corner that is not there or is no number.
    #[error("body \"{0}\" has no usable triangles")]
    Unusable(String),
    /// A body's coordinates are larger than are reckoned with.
    #[error(
        "body \"{body}\" lies too far from the origin of its coordinates: up to {far:.0} m, and no more \
         than 100 m is reckoned with"
    )]
    TooFar {
        /// Its name.
        body: String,
        /// Its largest coordinate, m.
        far: f64,
    },
    /// No body has a flat face on which others stand.
    #[error("no cover plate is found: no body has a large flat face on which others stand")]
    NoPlate,
    /// The plate is not as large as one is.
    #[error("the plate, body \"{body}\", would be {size:.0} mm wide; 300 to 1000 mm are plausible")]
    PlateSize {
        /// Its name.
        body: String,
        /// Its greatest extent in its own plane, mm.
        size: f64,
    },
    /// The plate's triangles face inward.
    #[error("the plate, body \"{0}\", is inside out: its sealing face looks into it")]
    InsideOut(String),
    /// Nothing surrounds the plate's middle.
    #[error(
        "no housing is found: no body or set of bodies surrounds the middle of the plate \"{0}\""
    )]
    NoHousing(String),
}

impl Unfound {
    /// What to do about it.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::Unusable(_) => "export the body again as a triangle mesh",
            Self::TooFar { .. } => {
                "check the unit, or move all bodies together nearer to the origin and export them again"
            }
            Self::NoPlate => {
                "give the cover plate as a body of its own, together with what stands on it"
            }
            Self::PlateSize { .. } => "check the unit of the files",
            Self::InsideOut(_) => "turn its triangles to face outward and export it again",
            Self::NoHousing(_) => {
                "give the housing's sidewall too; a document without one is written by hand"
            }
        }
    }
}
