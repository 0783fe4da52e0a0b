//! The highest pressure that a rig still holds.

use super::{Rig, Verdict, assess};
use crate::Fault;
use measure::{Bounds, Pressure};

/// The highest pressure that a rig still holds, found by solving.
///
/// More pressure asks for more load, and every demand rises with load and pressure: a rig that
/// holds a pressure holds every lower one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Highest {
    /// It holds up to this gauge pressure for certain, rounded down; `None` where it does not hold
    /// even without pressure, or where that cannot be told at any.
    pub surely: Option<Pressure>,
    /// It does not hold above this for certain, rounded up; `None` where nothing that is given
    /// limits it up to [`Highest::SEARCHED`].
    pub at_most: Option<Pressure>,
}

impl Highest {
    /// No pressure above this is looked at: many times the strongest tank's burst pressure.
    pub const SEARCHED: Pressure = Pressure::from_mpa(100.0);
}

/// How close the solution comes, as a share of itself.
const CLOSE: f64 = 1e-9;

/// The greatest pressure at which `holds` is still true, between two neighbours no farther apart
/// than [`CLOSE`], as the one where it is and the one where it is not; `None` on the side that is
/// not found between zero and [`Highest::SEARCHED`].
fn boundary(holds: impl Fn(Pressure) -> bool) -> (Option<Pressure>, Option<Pressure>) {
    let (zero, top) = (0.0, Highest::SEARCHED.mpa());
    if !holds(Pressure::from_mpa(zero)) {
        return (None, Some(Pressure::from_mpa(zero)));
    }
    if holds(Pressure::from_mpa(top)) {
        return (Some(Pressure::from_mpa(top)), None);
    }
    let (mut low, mut high) = (zero, top);
    while high - low > CLOSE * high {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if holds(Pressure::from_mpa(middle)) {
            low = middle;
        } else {
            high = middle;
        }
    }
    (Some(Pressure::from_mpa(low)), Some(Pressure::from_mpa(high)))
}

/// Solves for the highest pressure at which the rig keeps its required factor. `Err`: what is wrong
/// with the rig.
pub fn highest_pressure(rig: &Rig) -> Result<Highest, Vec<Fault>> {
    let verdict = |p: Pressure| {
        assess(rig, Bounds::exactly(p))
            .map_or(Verdict::CannotTell, |hold| hold.verdict(rig.required_factor))
    };
    // A rig at fault is at fault at every pressure.
    assess(rig, Bounds::exactly(Pressure::from_mpa(0.0)))?;
    let (surely, _) = boundary(|p| verdict(p) == Verdict::Holds);
    let (_, at_most) = boundary(|p| verdict(p) != Verdict::DoesNotHold);
    Ok(Highest { surely, at_most })
}
