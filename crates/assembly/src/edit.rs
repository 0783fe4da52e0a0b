//! One change by hand of a rig: of what is chosen, or of how it is placed.

use crate::placement::{Removed, Side};
use measure::Angle;
use nalgebra::Vector2;

/// One change by hand. Ends of the bar go by the port in which their foot stands: which end is A is not
/// known to whoever writes one down.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// Another fitting, by index into [`crate::CarTop::fittings`].
    Fitting(usize),
    /// Another cup, by index into [`crate::Kit::cups`].
    Cup(usize),
    /// Other ports for the feet at ends A and B, by index into [`crate::CarTop::ports`].
    Ports([usize; 2]),
    /// A piece taken off, with what comes off its fitting before it.
    TakeOff(Removed),
    /// A piece put back, with what comes off its fitting after it.
    PutBack(Removed),
    /// From the fitting's centreline to the cup's axis, plate frame, mm.
    CupOffset(Vector2<f64>),
    /// The way the side port points.
    OutletBearing(Angle),
    /// Index into the turns of the elbow that the kit allows.
    ElbowTurn(usize),
    /// Opening of the lid.
    LidOpening(Angle),
    /// From midway between the feet to the bar's middle, along the bar toward A, mm.
    BarSlide(f64),
    /// From the bar's underside down to the ball's centre, mm.
    ScrewExtension(f64),
    /// How far a foot stands from the middle of its port.
    FootShift {
        /// Index into [`crate::CarTop::ports`].
        port: usize,
        /// Along the sidewall, positive counter-clockwise seen from above, mm.
        shift: f64,
    },
    /// Another thickness of a link.
    LinkThickness {
        /// Index into [`crate::CarTop::ports`].
        port: usize,
        /// Inside or outside the sidewall.
        side: Side,
        /// Index into [`crate::kit::Link::thicknesses`].
        thickness: usize,
    },
    /// Another hole of the two links at a port.
    LinkHole {
        /// Index into [`crate::CarTop::ports`].
        port: usize,
        /// Index into [`crate::kit::Link::holes`].
        hole: usize,
    },
}
