//! Screw: over the cup's seat within tolerance, square to the plate, within its travel, and its
//! handle turns freely.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule, departure};
use crate::scene::Scene;
use assembly::Choice;
use assembly::rig::{RigPart, gasket_of};
use measure::Interval;
use nalgebra::Point2;

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    ledger.lid_and_hinge(Check::Screw);
    placing(ledger);
    ledger.pairs(Check::Screw);
}

fn placing(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let kit = s.scene.kit;
    let to_cup = (Part::Rig(RigPart::Screw), Part::Rig(RigPart::Cup));
    let deviation = s.clamp_deviation();
    let axis = Point2::from(s.pose.plate_from_cup.translation.vector.xy());
    let offset = s.pose.line.offset_of(axis).abs();
    ledger.push(Margin::at_most(
        (Check::Screw, Rule::ScrewOffset),
        to_cup,
        kit.rules.screw_offset,
        departure(offset, deviation),
        None,
    ));
    let rise = s.pose.rise.abs();
    ledger.push(Margin::at_most(
        (Check::Screw, Rule::Level),
        (Part::Rig(RigPart::Screw), Part::Rig(RigPart::Bar)),
        kit.rules.bar_level,
        departure(rise, 2.0 * deviation),
        None,
    ));
    let extension = s.placement.screw_extension;
    let left = (extension - kit.screw.retracted.nominal)
        .min(kit.screw.retracted.nominal + kit.screw.travel.nominal - extension);
    let Some(stack) = travel_stack(s.scene, s.choice) else { return };
    ledger.push(Margin::at_least(
        (Check::Screw, Rule::Travel),
        to_cup,
        0.0,
        Interval::exactly(left).widened(stack),
        None,
    ));
}

/// The bound on how wrong the travel left may be, mm: from the port's upper edge up over foot,
/// link, saddle and bar down to the ball, and from the plate up over gasket and cup to the seat.
/// `None` for a cup without its gasket.
pub(crate) fn travel_stack(scene: &Scene<'_>, choice: &Choice) -> Option<f64> {
    let (kit, car) = (scene.kit, scene.car);
    let cup = kit.cups.get(choice.cup)?;
    let gasket = gasket_of(kit, cup)?;
    let ports = choice.ports.map(|p| car.ports[p].deviation);
    let hole = kit.link.holes.iter().map(|h| h.tolerance).fold(0.0, f64::max);
    Some(
        ports[0].max(ports[1])
            + car.body(car.plate).body.deviation.bound
            + kit.foot.seat.tolerance
            + hole
            + kit.saddle.pin_drop.tolerance
            + kit.screw.retracted.tolerance
            + kit.screw.travel.tolerance
            + gasket.thickness.tolerance
            + gasket.groove_depth.tolerance
            + cup.inside_height.tolerance
            + cup.crown.tolerance
            + cup.seat_height.tolerance
            + cup.seat_depth.tolerance
            + 0.5 * kit.screw.ball_diameter.tolerance,
    )
}
