//! Screw: over the cup's seat within tolerance, square to the plate, within its travel, and its
//! handle turns freely.

use super::Ledger;
use super::links::rise_stack;
use crate::margin::{Check, Margin, Part, Rule};
use crate::scene::Scene;
use crate::stack;
use assembly::Choice;
use assembly::rig::{self, RigPart};
use measure::{Interval, Stack};
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
    let axis = Point2::from(s.pose.plate_from_cup.translation.vector.xy());
    let offset = s.pose.line.offset_of(axis).abs();
    ledger.push(Margin::at_most(
        (Check::Screw, Rule::ScrewOffset),
        to_cup,
        kit.rules.screw_offset,
        (Interval::exactly(offset), ledger.ports()),
        None,
    ));
    let rise = s.pose.rise.abs();
    ledger.push(Margin::at_most(
        (Check::Screw, Rule::Level),
        (Part::Rig(RigPart::Screw), Part::Rig(RigPart::Bar)),
        kit.rules.bar_level,
        (Interval::exactly(rise), rise_stack(s.scene, s.choice, s.placement.link_hole)),
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
        (Interval::exactly(left), stack),
        None,
    ));
}

/// What makes the travel left uncertain: from the port's upper edge up over foot, link, saddle and
/// bar down to the ball, and from the plate up over gasket and cup to the seat; and that the bar
/// leans. `None` for a cup that does not exist.
pub(crate) fn travel_stack(scene: &Scene<'_>, choice: &Choice) -> Option<Stack> {
    let (kit, car) = (scene.kit, scene.car);
    let cup = kit.cups.get(choice.cup)?;
    let turns = stack::turns(scene, choice);
    let longest = kit.screw.retracted.nominal + kit.screw.travel.nominal;
    let lean = turns.steep.worst() + kit.rules.bar_level / turns.span;
    Some(
        Stack::of(rig::PORTS, scene.clamp_deviation(choice))
            + stack::of_car(scene, car.plate)
            + rig::stack(kit, cup, RigPart::Bar)
            + rig::stack(kit, cup, RigPart::Screw)
            + kit.screw.retracted.off("screw retracted")
            + kit.screw.travel.off("screw travel")
            + turns.steep.scale(longest * lean),
    )
}
