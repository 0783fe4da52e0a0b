//! Links: each link against sidewall, port edges, hinge and everything else; upright and parallel
//! within tolerance.
//!
//! Links stand upright on their feet. A bar out of level turns its saddles, and a link that stays
//! square to the bar leans by its length times the bar's slope.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule, departure};
use assembly::placement::{End, Side};
use assembly::rig::RigPart;

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    ledger.lid_and_hinge(Check::Links);
    ledger.studs(Check::Links);
    lean(ledger);
    ledger.pairs(Check::Links);
}

fn lean(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let kit = s.scene.kit;
    for end in End::BOTH {
        let reach = kit.link.holes[s.placement.link_hole[end.index()]].nominal;
        let per_rise = reach / s.pose.line.span;
        let lean = s.pose.rise.abs() * per_rise;
        let deviation = 2.0 * s.clamp_deviation() * per_rise;
        ledger.push(Margin::at_most(
            (Check::Links, Rule::Lean),
            (Part::Rig(RigPart::Link(end, Side::Inside)), Part::Rig(RigPart::Bar)),
            kit.rules.link_lean,
            departure(lean, deviation),
            None,
        ));
    }
}
