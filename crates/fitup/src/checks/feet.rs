//! Feet and pins: the feet seat in their ports, square to them and with room at their sides; pins
//! can be pushed in along their axis with room for the hand.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule};
use crate::stack;
use assembly::kit::Foot;
use assembly::kit::PartKind;
use assembly::placement::End;
use assembly::rig::RigPart;
use measure::{Interval, Stack};

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    in_port(ledger);
    ledger.studs(Check::Feet);
    ledger.pairs(Check::Feet);
}

fn in_port(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let kit = s.scene.kit;
    let housing = s.sidewall().unwrap_or(s.scene.car.plate);
    for end in End::BOTH {
        let i = end.index();
        let port = &s.scene.car.ports[s.choice.ports[i]];
        let parts = (Part::Rig(RigPart::Foot(end)), Part::Car(housing));
        let skew = s.pose.line.skew[i].radians();
        let (half_width, half_depth) = (0.5 * kit.foot.width.nominal, 0.5 * kit.foot.depth.nominal);
        // A foot turned by the skew takes up more of the port's width.
        let reach = half_width * skew.cos() + half_depth * skew.sin();
        let room = 0.5 * port.width - s.placement.foot_shift[i].abs() - reach;
        let turns = stack::turns(s.scene, s.choice);
        let own = stack::of_port(s.scene, s.choice, end);
        ledger.push(Margin::at_least(
            (Check::Feet, Rule::FootInPort),
            parts,
            kit.rules.need(PartKind::Foot, PartKind::Housing),
            (Interval::exactly(room), own.clone() + beside(&kit.foot, &turns.flat)),
            None,
        ));
        let limit = half_width * kit.rules.foot_skew.radians().sin();
        let sideways = half_width * skew.sin();
        // Either port may be off, which turns the bar's line. That the rule is put as a distance at
        // the foot's nominal corner does not depend on the foot as built.
        let turn = turns.flat.scale(half_width);
        ledger.push(Margin::at_most(
            (Check::Feet, Rule::Skew),
            parts,
            limit,
            (Interval::exactly(sideways), turn),
            None,
        ));
        // The foot goes in through the port: its height must pass between sill and upper edge.
        let height = port.height - kit.foot.height.nominal;
        ledger.push(Margin::at_least(
            (Check::Feet, Rule::FootInPort),
            parts,
            kit.rules.need(PartKind::Foot, PartKind::Housing),
            (Interval::exactly(height), own + kit.foot.height.off("foot height")),
            None,
        ));
    }
}

/// What makes a foot's reach to the side of its port uncertain, beside the port: its own size, and
/// that it turns with the bar's line.
pub(crate) fn beside(foot: &Foot, turn: &Stack) -> Stack {
    let size = Stack::square_to_each_other([
        foot.width.off("foot width").scale(0.5),
        foot.depth.off("foot depth").scale(0.5),
    ]);
    size + turn.clone().scale(0.5 * foot.width.nominal.hypot(foot.depth.nominal))
}
