//! Lowering: every part reaches its place along its way among the parts already placed, in the
//! kit's order.
//!
//! A way that was not found may still exist, so the check cannot tell then.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule};
use crate::path::order::order;
use crate::path::{Blocked, Hindrance, Way};
use measure::{Angle, Interval, Length, Stack};

pub(super) fn run(ledger: &mut Ledger<'_, '_>, ways: &[Way]) {
    for (reason, remedy) in order(ledger.situation.scene.kit).faults {
        ledger.undecided(Check::Lowering, reason, &remedy);
    }
    for way in ways {
        match &way.found {
            Ok(clear) => {
                let Some(lead) = way.lift.lead() else { continue };
                // Proven no further than it was asked for.
                let clearance = Interval { low: clear.clearance, high: f64::INFINITY };
                let (a, b) = clear.narrowest.unwrap_or((lead, Part::Rig(lead)));
                ledger.push(Margin::at_least(
                    (Check::Lowering, Rule::OnTheWay),
                    (Part::Rig(a), b),
                    0.0,
                    (clearance, Stack::none()),
                    None,
                ));
            }
            Err(blocked) => {
                let reason = why(ledger, way, blocked);
                ledger.undecided(
                    Check::Lowering,
                    reason,
                    "look at the order of the kit's steps, or try it on the car before it is relied \
                     on",
                );
            }
        }
    }
}

fn why(ledger: &Ledger<'_, '_>, way: &Way, blocked: &Blocked) -> String {
    let unit = ledger.situation.scene.car.unit;
    let show = |mm: f64| Length::from_mm(mm).show(unit);
    let lead = way.lift.lead().map_or_else(|| "part".into(), |p| ledger.name(Part::Rig(p)));
    let with = if way.lift.parts.len() > 1 { " and what goes with it" } else { "" };
    let way = format!(
        "no way was found for the {lead}{with} (step {}): {}",
        way.lift.step + 1,
        blocked.manner.words()
    );
    let searched = if blocked.searched { "; a search found none either" } else { "" };
    let Some(stop) = &blocked.stop else {
        return format!("{way}, it could not be followed{searched}");
    };
    let (moving, still) = (ledger.name(Part::Rig(stop.moving)), ledger.name(stop.still));
    let met = match &stop.why {
        Hindrance::InTheWay => {
            format!("the {moving} meets the {still} {} from its place", show(stop.progress))
        }
        Hindrance::AtThePlace => format!("the {moving} does not come free of the {still}"),
        Hindrance::Holes => format!("the {still} has holes in its surface"),
        Hindrance::Undecided(why) => format!("{moving} and {still}: {why}"),
    };
    let place = stop.at.map_or_else(String::new, |at| {
        let clock = Angle::from_radians(at.y.atan2(at.x)).show_clock();
        format!(", at {clock}, {} out, {} up", show(at.xy().coords.norm()), show(at.z))
    });
    format!("{way}, {met}{place}{searched}")
}
