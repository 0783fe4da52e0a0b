//! Links: each link against sidewall, port edges, hinge and everything else; upright and parallel
//! within tolerance.
//!
//! Links stand upright on their feet. A bar out of level turns its saddles, and a link that stays
//! square to the bar leans by its length times the bar's slope.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule};
use crate::scene::Scene;
use crate::stack;
use assembly::Choice;
use assembly::placement::{End, Side};
use assembly::rig::PORTS;
use assembly::rig::RigPart;
use measure::{Interval, Stack};

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
        let rise = s.pose.rise.abs();
        let lean = rise * reach / s.pose.line.span;
        let stack = lean_stack(s.scene, s.choice, s.placement.link_hole, end, rise);
        ledger.push(Margin::at_most(
            (Check::Links, Rule::Lean),
            (Part::Rig(RigPart::Link(end, Side::Inside)), Part::Rig(RigPart::Bar)),
            kit.rules.link_lean,
            (Interval::exactly(lean), stack),
            None,
        ));
    }
}

/// What makes the bar's rise uncertain: each end's port, foot and link.
pub(crate) fn rise_stack(scene: &Scene<'_>, choice: &Choice, holes: [usize; 2]) -> Stack {
    let kit = scene.kit;
    let links = holes.iter().filter_map(|&h| kit.link.holes.get(h)).map(|h| h.off("link holes"));
    Stack::of(PORTS, 2.0 * scene.clamp_deviation(choice))
        + kit.foot.seat.off("foot seat").scale(2.0)
        + links.sum()
}

/// What makes the lean of the links at an end uncertain, where the bar rises by `rise`, mm.
pub(crate) fn lean_stack(
    scene: &Scene<'_>,
    choice: &Choice,
    holes: [usize; 2],
    end: End,
    rise: f64,
) -> Stack {
    let Some(hole) = scene.kit.link.holes.get(holes[end.index()]) else { return Stack::none() };
    let span = stack::turns(scene, choice).span;
    let ports = Stack::of(PORTS, 2.0 * scene.clamp_deviation(choice));
    // Rise and hole over the span, each at its own bound with the others at theirs.
    let rises = rise_stack(scene, choice, holes);
    let highest = rise + rises.worst();
    rises.scale((hole.nominal + hole.tolerance) / span)
        + hole.off("link holes").scale(highest / span)
        + ports.scale(highest * (hole.nominal + hole.tolerance) / (span * span))
}
