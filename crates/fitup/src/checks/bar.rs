//! Bar: clamp bar with saddles, upper pins and screw block against everything; it overhangs the
//! housing equally within tolerance, and its slot reaches past both outside links.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule};
use assembly::placement::End;
use assembly::rig::RigPart;
use measure::Interval;

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    ledger.lid_and_hinge(Check::Bar);
    overhang(ledger);
    ledger.pairs(Check::Bar);
}

fn overhang(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let kit = s.scene.kit;
    let housing = s.sidewall().unwrap_or(s.scene.car.plate);
    let parts = (Part::Rig(RigPart::Bar), Part::Car(housing));
    let [a, b] = s.pose.overhang;
    let difference = (a - b).abs();
    ledger.push(Margin::at_most(
        (Check::Bar, Rule::OverhangDifference),
        parts,
        kit.rules.overhang_difference,
        (Interval::exactly(difference), ledger.ports()),
        None,
    ));
    // The slot must take the links: it reaches past the outside links' outer faces.
    for end in End::BOTH {
        let i = end.index();
        let thickness = kit.link.thicknesses[s.placement.link_thickness[i][1]];
        let wall = s.scene.car.ports[s.choice.ports[i]].wall;
        let beyond = s.pose.overhang[i]
            - 0.5 * (kit.foot.depth.nominal - wall)
            - thickness.nominal
            - kit.bar.end.nominal;
        let stack = ledger.ports()
            + kit.bar.length.off("bar length").scale(0.5)
            + kit.foot.depth.off("foot depth").scale(0.5)
            + thickness.off("link thickness")
            + kit.bar.end.off("bar end");
        ledger.push(Margin::at_least(
            (Check::Bar, Rule::Overhang),
            parts,
            0.0,
            (Interval::exactly(beyond), stack),
            None,
        ));
    }
}
