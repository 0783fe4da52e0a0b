//! STEP files, ISO 10303-21, of the application protocols 203, 214 and 242: parts with their names,
//! placements and colours, and bodies as closed meshes.
//!
//! ```no_run
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let bytes = std::fs::read("part.step")?;
//! let model = step::read(&bytes, step::Accuracy::default())?;
//! for body in &model.bodies {
//!     println!("{}: sound {}, within {:?} mm", body.name, body.is_sound(), body.deviation);
//! }
//! # Ok(())
//! # }
//! ```
//!
//! Whatever the bytes, a call ends in a [`Model`] or a [`ReadError`]. What of a file could not be read is
//! a [`Finding`] or, where it belongs to a body, a [`LostFace`]: nothing is left out silently, and a body
//! with a lost face is never sound.
//!
//! All lengths are millimetres and all angles radians, whatever the file's own units are; each
//! representation is converted by its own context (ISO 10303-41, -43). Geometry and topology are those of
//! ISO 10303-42.
//!
//! The deviation of a body that is meshed here is proven: see [`Body::deviation`]. Of triangles that the
//! file holds as such (tessellated geometry) nobody knows how far they are from the surface that they stand
//! for. Where a part has both, the exact one counts.

#![allow(clippy::single_match_else, reason = "both cases of what a file may say, side by side")]

mod colour;
mod fault;
mod geometry;
mod graph;
mod load;
mod mesh;
mod part21;
mod placement;
mod read;
mod tessellated;
mod units;

pub use colour::Colour;
pub use fault::Fault;
pub use part21::SyntaxError;
pub use placement::Placement;
pub use read::read;

use solids::{Contradiction, Deviation, Mesh, Soundness};

/// How far a mesh may be from its surfaces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Accuracy {
    /// Millimetres.
    Length(f64),
    /// A share of each body's greatest extent.
    Share(f64),
}

impl Default for Accuracy {
    /// A ten thousandth of a body's extent: a tenth of a millimetre on a plate of a metre.
    fn default() -> Self {
        Self::Share(1e-4)
    }
}

/// Why there is no model.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReadError {
    /// The text departs from ISO 10303-21.
    #[error(transparent)]
    Syntax(#[from] SyntaxError),
    /// The asked accuracy is no length.
    #[error("the asked accuracy is not above zero and finite")]
    Accuracy,
}

/// A read file.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// The names in `FILE_SCHEMA`, such as `AUTOMOTIVE_DESIGN`.
    pub schemas: Vec<String>,
    /// The file's unit of length: that of its first body, else of its first part.
    pub unit: Unit,
    /// Every body once, in the frame of its own part.
    pub bodies: Vec<Body>,
    /// Parts and where they are used: an occurrence comes after the one that holds it.
    pub occurrences: Vec<Occurrence>,
    /// What could not be read, or was read under an assumption.
    pub findings: Vec<Finding>,
}

/// A unit of length.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// As people write it: `mm`, `m`, `inch`.
    pub name: String,
    /// Millimetres in it.
    pub millimetres: f64,
    /// Whether the file says so. Where it does not, millimetres are assumed.
    pub said: bool,
}

/// A use of a part: as a whole of its own, or within another.
#[derive(Debug, Clone, PartialEq)]
pub struct Occurrence {
    /// The product's name, or its id where it has no name.
    pub product: String,
    /// The name of this use of it; the product's own where it is used nowhere.
    pub instance: String,
    /// The occurrence that holds this one.
    pub parent: Option<usize>,
    /// Where it lies in its parent.
    pub parent_from_here: Placement,
    /// The bodies of the product itself, those of its parts not among them.
    pub bodies: Vec<PlacedBody>,
}

/// A body in an occurrence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedBody {
    /// Its index in [`Model::bodies`].
    pub body: usize,
    /// Where it lies in the occurrence.
    pub here_from_body: Placement,
}

/// What a body is in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BodyKind {
    /// A solid within a closed shell.
    Solid,
    /// A solid with voids.
    SolidWithVoids,
    /// A solid with plane faces alone.
    Faceted,
    /// Surfaces that need not be closed.
    Surfaces,
    /// Triangles that the file holds as such, whether closed or not.
    Tessellated,
}

/// A body as a mesh.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Its instance in the file.
    pub id: u64,
    /// The name of the entity; often empty, the product's is what people know.
    pub name: String,
    /// What it is in the file.
    pub kind: BodyKind,
    /// Millimetres in the frame of its part; wound counter-clockwise seen from outside.
    pub mesh: Mesh,
    /// Millimetres by which the mesh and the body's true surface are away from each other at most. It is
    /// proven: chords by second derivatives or the hull of control points, triangles by upper bounds of
    /// the second derivatives over what they cover. What the file's edges lie beside its surfaces is
    /// measured at the ends and the middle of every chord, and is part of it. It holds for the faces that
    /// were meshed.
    ///
    /// Of a tessellated body it is what the file states for it, and none where the file states nothing.
    pub deviation: Option<f64>,
    /// What is wrong with the mesh.
    pub soundness: Soundness,
    /// How its closed pieces contradict each other, where they do: then nobody knows where it is solid.
    /// What they reach into each other by no more than their deviations is not looked at.
    pub contradiction: Option<Contradiction>,
    /// Faces that could not be meshed.
    pub lost: Vec<LostFace>,
    /// Faces in the file.
    pub faces: usize,
    /// The face's instance in the file, for each triangle.
    pub triangle_faces: Vec<u64>,
    /// Shells whose triangles were turned, because the file has them inside out.
    pub turned_shells: usize,
    /// The colour of the whole.
    pub colour: Option<Colour>,
    /// The colour of each triangle whose face or shell has one of its own; empty where none has.
    pub triangle_colours: Vec<Option<Colour>>,
}

impl Body {
    /// Whether it is a closed body with nothing missing, whose shells agree about where it is.
    pub fn is_sound(&self) -> bool {
        self.soundness.is_closed()
            && self.lost.is_empty()
            && self.contradiction.is_none()
            && self.deviation.is_none_or(f64::is_finite)
            && solids::volume(&self.mesh) > 0.0
    }

    /// The mesh where it is placed, and how far it and the body's true surface are away from each other at
    /// most, where that is known.
    pub fn placed(&self, there_from_body: &Placement) -> (Mesh, Option<Deviation>) {
        let basis = match self.kind {
            BodyKind::Tessellated => "chord error that its STEP file states",
            _ => "chord error of the mesh of its STEP surfaces",
        };
        let deviation = self
            .deviation
            .map(|mm| Deviation { bound: mm * there_from_body.scale(), basis: basis.to_owned() });
        (there_from_body.of_mesh(&self.mesh), deviation)
    }
}

/// A face that could not be meshed.
#[derive(Debug, Clone, PartialEq)]
pub struct LostFace {
    /// The face's instance in the file.
    pub id: u64,
    /// The type of its surface, such as `CYLINDRICAL_SURFACE`.
    pub kind: String,
    /// Why.
    pub fault: Fault,
}

/// Something about the file that the reader of a result has to know.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Finding {
    /// There is no body to be read.
    #[error("the file holds no solid and no surface body")]
    NoBody,
    /// No unit of length is said.
    #[error("the file says no unit of length for its bodies; millimetres are assumed")]
    NoUnit,
    /// An item of a part that is not read: the part lacks it.
    #[error("an item of a part is missing: {0}")]
    Item(Fault),
    /// Units that cannot be read: what is written in them is left out.
    #[error("units cannot be read, and what is written in them is missing: {0}")]
    Units(Fault),
    /// A part whose place is unknown: it is left out, with all that it holds.
    #[error("the place of part \"{instance}\" cannot be read, so it is missing: {fault}")]
    Place {
        /// The part's use.
        instance: String,
        /// What is wrong.
        fault: Fault,
    },
    /// Parts that hold each other.
    #[error("part \"{0}\" holds itself; that use of it is left out")]
    Circle(String),
    /// A part that is used and has no shape in the file, as one that is kept in a file of its own.
    #[error("part \"{0}\" has no shape in this file, so it is missing")]
    NoShape(String),
    /// More items in parts within parts than are looked at.
    #[error("the parts have more than {0} items, counted at every use; the rest is missing")]
    TooManyItems(usize),
    /// More findings than are listed.
    #[error("more than {0} things are wrong; the rest is not listed")]
    TooManyFindings(usize),
    /// More uses of parts than are read.
    #[error("the file uses its parts more than {0} times; the rest is missing")]
    TooManyOccurrences(usize),
}

impl Finding {
    /// Whether something of the file is missing in the model.
    pub const fn is_loss(&self) -> bool {
        !matches!(self, Self::NoUnit)
    }
}

impl Model {
    /// Where an occurrence lies in the whole.
    pub fn whole_from(&self, occurrence: usize) -> Placement {
        let mut placement = Placement::default();
        let mut at = self.occurrences.get(occurrence);
        while let Some(occurrence) = at {
            placement = occurrence.parent_from_here.after(&placement);
            at = occurrence.parent.and_then(|p| self.occurrences.get(p));
        }
        placement
    }

    /// Every body at every place at which it is used: the occurrence, the body's index, and where it
    /// lies in the whole.
    pub fn placed(&self) -> impl Iterator<Item = (usize, usize, Placement)> + '_ {
        self.occurrences.iter().enumerate().flat_map(|(i, occurrence)| {
            let here = self.whole_from(i);
            occurrence.bodies.iter().map(move |b| (i, b.body, here.after(&b.here_from_body)))
        })
    }

    /// Whether everything in the file was read and every body is sound.
    pub fn is_whole(&self) -> bool {
        self.bodies.iter().all(Body::is_sound) && !self.findings.iter().any(Finding::is_loss)
    }
}
