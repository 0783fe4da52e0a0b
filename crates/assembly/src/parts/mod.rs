//! The kit's parts as closed solids, each in its own frame (see [`crate::kit`]).
//!
//! Every solid's deviation is the chord error of its curves plus a worst-case bound on how far the
//! dimensions' tolerances can move its surface in its frame. Tolerances of dimensions that add up
//! along one direction are added; the totals of directions square to each other are combined as the
//! sides of a right angle. Play in holes and threads belongs to the pose, not to the part.
//!
//! Round bodies are meshed a little thin and bores a little narrow, each within the chord error.

mod bar;
mod cup;
mod foot;
mod gasket;
mod link;
mod outlet;
mod pin;
mod saddle;
mod screw;

pub use bar::bar;
pub use cup::{cup, hollow_cup, side_port};
pub use foot::foot;
pub use gasket::gasket;
pub use link::link;
pub use outlet::{outlet, outlet_handle, outlet_handle_sweep};
pub use pin::{
    lower_pin, lower_pin_path, pin_head_offset, pin_path_length, upper_pin, upper_pin_path,
};
pub use saddle::saddle;
pub use screw::{screw, screw_block, screw_handle_sweep};

use crate::kit::{Cup, Dim, Gasket, Kit, PartKind};
use crate::placement::{End, Side};
use crate::rig::{RigPart, gasket_of};
use measure::Stack;
use nalgebra::Point3;
use solids::build::{BuildError, ChordError};
use solids::{Body, Deviation, Mesh};

/// Why a kit's part cannot be built from its dimensions.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PartError {
    /// The kit's chord error is not a number, or finer than can be meshed.
    #[error(
        "the kit's chord error is {0} mm; it must be at least {finest} mm",
        finest = ChordError::FINEST
    )]
    ChordError(f64),
    /// The kit holds no gasket of the name that a cup gives.
    #[error("the kit has no gasket named {0:?}")]
    NoGasket(String),
    /// The link has no thickness of this index.
    #[error("the link has no thickness number {0}")]
    NoThickness(usize),
    /// Dimensions that contradict each other. `rule` is what must hold.
    #[error("{part}: {rule}", part = part.word())]
    Dimensions {
        /// The part.
        part: PartKind,
        /// What must hold, in the words of the kit document.
        rule: &'static str,
    },
    /// A dimension that no solid can have.
    #[error("{part}: {source}", part = part.word())]
    Build {
        /// The part.
        part: PartKind,
        /// What is wrong.
        source: BuildError,
    },
}

/// The solid of one part of a rig, in the frame in which [`crate::rig::RigPose::plate_from`] poses
/// it. `link_thickness` is [`crate::placement::Placement::link_thickness`].
///
/// # Errors
/// When the kit's dimensions contradict each other, or an index or a gasket does not exist.
pub fn body(
    kit: &Kit,
    cup: &Cup,
    link_thickness: [[usize; 2]; 2],
    part: RigPart,
) -> Result<Body, PartError> {
    let outside = |end: crate::placement::End| link_thickness[end.index()][Side::Outside.index()];
    match part {
        RigPart::Gasket => {
            let gasket = gasket_of(kit, cup);
            let gasket = gasket.ok_or_else(|| PartError::NoGasket(cup.gasket.clone()))?;
            self::gasket(kit, cup, gasket)
        }
        RigPart::Cup => self::cup(kit, cup),
        RigPart::SidePort => side_port(kit, cup),
        RigPart::Outlet => outlet(kit),
        RigPart::OutletHandle => outlet_handle_sweep(kit),
        RigPart::Bar => bar(kit),
        RigPart::Saddle(_) => saddle(kit),
        RigPart::UpperPin(end) => upper_pin(kit, outside(end)),
        RigPart::UpperPinPath(end) => upper_pin_path(kit, outside(end)),
        RigPart::Link(end, side) => link(kit, link_thickness[end.index()][side.index()]),
        RigPart::Foot(_) => foot(kit),
        RigPart::LowerPin(end) => lower_pin(kit, outside(end)),
        RigPart::LowerPinPath(end) => lower_pin_path(kit, outside(end)),
        RigPart::ScrewBlock => screw_block(kit),
        RigPart::Screw => screw(kit),
        RigPart::ScrewHandle => screw_handle_sweep(kit),
    }
}

/// What makes the surface of a part uncertain in its frame: the stack whose worst case is its solid's
/// deviation. Infinite for an index or a gasket that does not exist.
pub fn stack(kit: &Kit, cup: &Cup, link_thickness: [[usize; 2]; 2], part: RigPart) -> Stack {
    let unknown = || Stack::of("a part that does not exist", f64::INFINITY);
    let gasketed = |of: &dyn Fn(&Gasket) -> Stack| gasket_of(kit, cup).map_or_else(unknown, of);
    let thick = |end: End, side: Side, of: &dyn Fn(&Dim) -> Stack| {
        let thickness = kit.link.thicknesses.get(link_thickness[end.index()][side.index()]);
        thickness.map_or_else(unknown, of)
    };
    let (lower, upper) = (&kit.lower_pin, &kit.upper_pin);
    let outside = |end: End, of: &dyn Fn(&Dim) -> Stack| thick(end, Side::Outside, of);
    let tolerances = match part {
        RigPart::Gasket => gasketed(&|g| gasket::tolerances(cup, g)),
        RigPart::Cup => gasketed(&|g| self::cup::tolerances(kit, cup, g)),
        RigPart::SidePort => gasketed(&|g| self::cup::side_port_tolerances(cup, g)),
        RigPart::Outlet => outlet::tolerances(&kit.outlet),
        RigPart::OutletHandle => outlet::sweep_tolerances(&kit.outlet),
        RigPart::Bar => return bar::tolerances(kit),
        RigPart::Saddle(_) => saddle::tolerances(kit),
        RigPart::UpperPin(end) => outside(end, &|t| pin::tolerances(kit, upper, t)),
        RigPart::UpperPinPath(end) => outside(end, &|t| pin::path_tolerances(kit, upper, t)),
        RigPart::Link(end, side) => thick(end, side, &|t| link::tolerances(kit, t)),
        RigPart::Foot(_) => foot::tolerances(kit),
        RigPart::LowerPin(end) => outside(end, &|t| pin::tolerances(kit, lower, t)),
        RigPart::LowerPinPath(end) => outside(end, &|t| pin::path_tolerances(kit, lower, t)),
        RigPart::ScrewBlock => screw::block_tolerances(kit),
        RigPart::Screw => screw::tolerances(kit),
        RigPart::ScrewHandle => screw::sweep_tolerances(kit),
    };
    let meshing = format!("meshing of the {}", part.name(["A", "B"]));
    Stack::of(meshing, kit.chord_error) + tolerances
}

/// Everything that keeps the kit's parts from being built; empty for a kit that can be used.
pub fn faults(kit: &Kit) -> Vec<PartError> {
    let mut faults = Vec::new();
    let mut note = |built: Result<Body, PartError>| {
        if let Err(fault) = built
            && !faults.contains(&fault)
        {
            faults.push(fault);
        }
    };
    for cup in &kit.cups {
        note(body(kit, cup, [[0; 2]; 2], RigPart::Gasket));
        note(self::cup(kit, cup));
        note(side_port(kit, cup));
    }
    for built in [outlet, outlet_handle_sweep, bar, saddle, foot, screw, screw_block] {
        note(built(kit));
    }
    note(screw_handle_sweep(kit));
    // Without a thickness there is still an index to report.
    for thickness in 0..kit.link.thicknesses.len().max(1) {
        for built in [link, lower_pin, lower_pin_path, upper_pin, upper_pin_path] {
            note(built(kit, thickness));
        }
    }
    faults
}

/// Play that parts sliding in one another are given on each side where the kit gives no dimension,
/// mm. Our choice.
const SIDE_PLAY: f64 = 0.5;

/// What the parts' builders share: the part they build and the kit's chord error.
#[derive(Clone, Copy)]
struct Maker {
    part: PartKind,
    chord: ChordError,
}

impl Maker {
    fn new(kit: &Kit, part: PartKind) -> Result<Self, PartError> {
        let chord = ChordError::from_mm(kit.chord_error);
        Ok(Self { part, chord: chord.ok_or(PartError::ChordError(kit.chord_error))? })
    }

    /// Fails with `rule` unless `holds`.
    fn require(self, holds: bool, rule: &'static str) -> Result<(), PartError> {
        holds.then_some(()).ok_or(PartError::Dimensions { part: self.part, rule })
    }

    /// Fails unless every dimension is a positive number and its tolerance a number that is not
    /// negative.
    fn dims<'d>(self, dims: impl IntoIterator<Item = &'d Dim>) -> Result<(), PartError> {
        let good = |d: &Dim| {
            d.nominal > 0.0
                && d.nominal.is_finite()
                && d.tolerance >= 0.0
                && d.tolerance.is_finite()
        };
        self.require(
            dims.into_iter().all(good),
            "every dimension must be greater than zero and no tolerance negative",
        )
    }

    fn built<T>(self, built: Result<T, BuildError>) -> Result<T, PartError> {
        built.map_err(|source| PartError::Build { part: self.part, source })
    }

    /// The body, with the chord error and the tolerances' bound as its deviation.
    fn body(name: String, mesh: Mesh, chord: f64, tolerances: &Stack, how: &str) -> Body {
        let tolerances = tolerances.worst();
        let bound = chord + tolerances;
        let basis = format!(
            "chord error {chord:.3} mm and dimensions' tolerances {tolerances:.3} mm ({how})"
        );
        Body { name, mesh, deviation: Deviation { bound, basis } }
    }
}

/// A mesh built over the (y, z) plane and along x, from one built over (x, y) along z.
fn along_x(mut mesh: Mesh) -> Mesh {
    for p in &mut mesh.vertices {
        *p = Point3::new(p.z, p.x, p.y);
    }
    mesh
}
