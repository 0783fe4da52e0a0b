//! The car top: everything on the cover plate that the rig meets.

use crate::kit::PartKind;
use measure::{Angle, LengthUnit};
use nalgebra::{Point2, Point3, Unit, Vector3};
use solids::Body;

/// Index of a body in [`CarTop::bodies`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct BodyId(pub usize);

/// A car top in the plate frame.
#[derive(Debug, Clone, PartialEq)]
pub struct CarTop {
    /// Title for people.
    pub title: String,
    /// Unit in which its reader reads lengths.
    pub unit: LengthUnit,
    /// Who measured it, when and how.
    pub measured: Measured,
    /// Every body, each once.
    pub bodies: Vec<CarBody>,
    /// The cover plate's body.
    pub plate: BodyId,
    /// The housing's sidewall, which carries the ports, and then whatever is fixed to it.
    pub housing: Vec<BodyId>,
    /// Openings in the sidewall.
    pub ports: Vec<Port>,
    /// The lid; `None` when nothing is known of it, which leaves its checks undecided.
    pub lid: LidState,
    /// Hinge lugs and pin; `None` when nothing is known of them.
    pub hinge: Option<Vec<BodyId>>,
    /// Studs with their nuts; `None` when nothing is known of them.
    pub studs: Option<Vec<BodyId>>,
    /// Fittings.
    pub fittings: Vec<Fitting>,
}

impl CarTop {
    /// The body behind an index.
    pub fn body(&self, id: BodyId) -> &CarBody {
        &self.bodies[id.0]
    }

    /// Whether a body is space into which nobody saw.
    pub fn is_unseen(&self, id: BodyId) -> bool {
        self.body(id).unseen
    }
}

/// Who measured a car top, when and how.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Measured {
    /// Person or team.
    pub by: String,
    /// Date, as written.
    pub on: String,
    /// Method.
    pub how: String,
}

/// A body of the car top with its kind. Its mesh is in the plate frame.
#[derive(Debug, Clone, PartialEq)]
pub struct CarBody {
    /// What it is.
    pub kind: PartKind,
    /// The triangles.
    pub body: Body,
    /// Whether it is space into which nobody saw: something may fill it, in part or wholly, or nothing
    /// may. What must surely be clear stays clear of it; that something is surely in the way it never
    /// shows.
    pub unseen: bool,
}

/// What is known of the lid.
#[derive(Debug, Clone, PartialEq)]
pub enum LidState {
    /// The document does not speak of it: checks that meet it cannot be told.
    Unknown,
    /// The document says there is none, or that it is taken off.
    None,
    /// A hinged lid.
    Hinged(Lid),
}

/// A hinged lid.
#[derive(Debug, Clone, PartialEq)]
pub struct Lid {
    /// Its body, drawn at `drawn_at`.
    pub body: BodyId,
    /// A point on the hinge pin's axis.
    pub axis_point: Point3<f64>,
    /// Direction of the hinge pin's axis; a positive turn about it opens the lid.
    pub axis: Unit<Vector3<f64>>,
    /// The opening at which the mesh is drawn; zero is closed.
    pub drawn_at: Angle,
    /// The opening at its stop.
    pub stop: Angle,
}

/// A closable opening in the sidewall.
#[derive(Debug, Clone, PartialEq)]
pub struct Port {
    /// Name for people.
    pub name: String,
    /// Seen from above: the middle of the opening at mid-wall.
    pub at: Point2<f64>,
    /// The way the opening faces, outward.
    pub facing: Angle,
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// Height of the lower edge above the sealing face, mm.
    pub sill: f64,
    /// Thickness of the sidewall there, mm.
    pub wall: f64,
    /// Bound on how wrong these numbers may be, mm.
    pub deviation: f64,
    /// Its cover, if it has one.
    pub cover: Option<BodyId>,
}

/// What may leak.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitting {
    /// Short name for people, unique in the car top.
    pub name: String,
    /// What it is.
    pub kind: FittingKind,
    /// Nominal size as written.
    pub size: String,
    /// Where its centreline meets the sealing face.
    pub centre: Point2<f64>,
    /// Diameter of its flange, mm, for the plan check.
    pub flange: f64,
    /// Bodies that stay.
    pub bodies: Vec<BodyId>,
    /// Pieces that can come off, in the order in which they do.
    pub removables: Vec<Removable>,
}

/// Kinds of fittings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FittingKind {
    /// Liquid valve.
    LiquidValve,
    /// Vapor valve.
    VaporValve,
    /// Pressure relief device.
    ReliefDevice,
    /// Sampling valve.
    SamplingValve,
    /// Gauging device.
    GaugingDevice,
    /// Thermometer well.
    ThermometerWell,
    /// Blind flange.
    BlindFlange,
}

impl FittingKind {
    /// Every kind.
    pub const ALL: [Self; 7] = [
        Self::LiquidValve,
        Self::VaporValve,
        Self::ReliefDevice,
        Self::SamplingValve,
        Self::GaugingDevice,
        Self::ThermometerWell,
        Self::BlindFlange,
    ];

    /// The words used in documents and output.
    pub const fn word(self) -> &'static str {
        match self {
            Self::LiquidValve => "liquid valve",
            Self::VaporValve => "vapor valve",
            Self::ReliefDevice => "pressure relief device",
            Self::SamplingValve => "sampling valve",
            Self::GaugingDevice => "gauging device",
            Self::ThermometerWell => "thermometer well",
            Self::BlindFlange => "blind flange",
        }
    }
}

/// A piece of a fitting that can be taken off first.
#[derive(Debug, Clone, PartialEq)]
pub struct Removable {
    /// Name for people, unique in its fitting: handwheel, outlet plug.
    pub name: String,
    /// Its body.
    pub body: BodyId,
}
