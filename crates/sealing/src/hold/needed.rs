//! The screw load that a rig needs, with what the load itself does to it.

use super::Rig;
use super::gather::{Told, both};
use crate::{Aim, Fault};
use measure::{Bounds, Force, Length, Pressure};

/// The screw load below which the joint is not tight.
#[derive(Debug, Clone)]
pub(super) struct Needed {
    /// The load; without bound above where `beyond` is told.
    pub(super) load: Bounds<Force>,
    /// How it falls on the cup, at the load that arises.
    pub(super) aim: Aim,
    /// Why no load is known to suffice.
    pub(super) beyond: Option<Fault>,
}

/// No more rounds are gone while load and bar are brought to agree.
const ROUNDS: usize = 200;

/// The screw load that a rig needs, where the load that arises is up to `excess` times as much, and the
/// end load `more` on top.
///
/// The load bends the bar, the screw leans with it and presses farther off the axis, and that asks for
/// more load. From below, round by round, until a round asks for no more than it was given: that load
/// suffices, and so does every one from there to what arises, which leans the screw no farther. `Err`:
/// what is not given.
pub(super) fn needed(
    rig: &Rig,
    pressure: Bounds<Pressure>,
    excess: f64,
    more: Force,
) -> Told<Needed> {
    let given = |aim: Result<Aim, Fault>| {
        both(aim.map_err(|f| vec![f]), rig.gasket.seats().map_err(|f| vec![f])).map(|(aim, ())| aim)
    };
    let none = Bounds::exactly(Length::from_mm(0.0));
    let straight = given(rig.aim())?;
    let asks = |aim: &Aim| rig.gasket.needed_load(pressure, aim);
    // Whichever way the screw leans, no less is needed than on the axis.
    let centred = asks(&Aim { offset: none, ..straight }).map_err(|f| vec![f])?;
    let mut load = asks(&straight).unwrap_or(centred);
    // Without a bound above, what is told of the load is unsure anyway.
    let excess = Bounds::exactly(if excess.is_finite() { excess } else { 1.0 });
    let (mut least, mut beyond) = (centred.low(), None);
    for _ in 0..ROUNDS {
        let arises = Bounds::between(least, (load * excess + Bounds::exactly(more)).high());
        let aim = given(rig.aim_under(arises))?;
        match asks(&aim) {
            Err(fault) => {
                beyond = Some(fault);
                break;
            }
            Ok(asked) if asked.high() <= load.high() => {
                let load = Bounds::between(asked.low(), load.high());
                return Ok(Needed { load, aim, beyond: None });
            }
            Ok(asked) => {
                least = asked.low();
                load = asked * Bounds::between(1.0, 1.0 + 1e-12);
            }
        }
    }
    let offset = given(rig.aim_under(Bounds::exactly(least)))?.offset;
    Ok(Needed {
        load: Bounds::between(least, Force::from_newtons(f64::INFINITY)),
        aim: Aim {
            offset: offset.hull(Bounds::exactly(Length::from_mm(f64::INFINITY))),
            ..straight
        },
        beyond: Some(beyond.unwrap_or_else(|| {
            let remedy =
                "as the bar bends the screw leans ever farther off: a stiffer bar is wanted";
            Fault::out_of_range("lean of the screw over the bent bar", "without end", remedy)
        })),
    })
}
