//! The steps of the installation: which parts move, with which others, and how.
//!
//! What is wrong with a step by itself, or with one that was there before, is a fault. Whether the
//! order can be kept is told by the check of lowering, which knows what stands in the way.

use super::part_kind;
use crate::fault::Pen;
use crate::table::{Table, Text};
use assembly::kit::{Motion, PartKind, Step};

const MOTIONS: [(&str, Motion); 5] = [
    ("lower", Motion::Lower),
    ("push", Motion::Push),
    ("swing", Motion::Swing),
    ("turn", Motion::Turn),
    ("seat", Motion::Seat),
];

/// Parts that are put in their places.
const PUT: [PartKind; 10] = [
    PartKind::Gasket,
    PartKind::Cup,
    PartKind::Outlet,
    PartKind::Bar,
    PartKind::Saddle,
    PartKind::Link,
    PartKind::Foot,
    PartKind::Pin,
    PartKind::Screw,
    PartKind::ScrewBlock,
];

/// Reads every `[[step]]`.
pub(super) fn steps(root: &mut Table<'_>, pen: &mut Pen) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    for mut table in root.tables(pen, "step", "step") {
        let name = table.text(pen, "part", "\"gasket\"");
        let part = part_kind(pen, &name, "part");
        let names =
            if table.has("with") { table.texts(pen, "with", "[\"outlet\"]") } else { Vec::new() };
        let motion = table.choice(pen, "motion", &MOTIONS.map(|(word, _)| word));
        let motion = motion.and_then(|at| MOTIONS.get(at)).map(|(_, motion)| *motion);
        let text = table.text(pen, "text", "\"...\"").text;
        table.finish(pen);
        if let Some(part) = part {
            check_part(pen, part, &name, motion, &steps);
        }
        let mut with = Vec::new();
        for name in &names {
            let Some(kind) = part_kind(pen, name, "with") else { continue };
            check_with(pen, kind, name, part, &with, &steps);
            with.push(kind);
        }
        if let (Some(part), Some(motion)) = (part, motion) {
            steps.push(Step { part, with, motion, text });
        }
    }
    steps
}

/// Whether a step before puts parts of this kind in their places.
fn is_put(kind: PartKind, steps: &[Step]) -> bool {
    steps.iter().any(|s| s.part == kind || s.with.contains(&kind))
}

fn check_part(pen: &mut Pen, part: PartKind, name: &Text, motion: Option<Motion>, steps: &[Step]) {
    let handle = matches!(part, PartKind::OutletHandle | PartKind::ScrewHandle);
    if !handle && !PUT.contains(&part) {
        not_put(pen, part, name);
    }
    // Pins are put in twice, below and above. A screw that came with the bar is turned down later.
    let turned = part == PartKind::Screw
        && motion == Some(Motion::Turn)
        && !steps.iter().any(|s| s.part == part);
    if PUT.contains(&part) && part != PartKind::Pin && !turned && is_put(part, steps) {
        pen.at(
            &name.span,
            format!("two steps put the {} in its place", part.word()),
            "put there before",
            "keep one of the two steps, or take it out of the other's \"with\"",
        );
    }
}

fn check_with(
    pen: &mut Pen,
    kind: PartKind,
    name: &Text,
    part: Option<PartKind>,
    with: &[PartKind],
    steps: &[Step],
) {
    if !PUT.contains(&kind) {
        not_put(pen, kind, name);
    } else if Some(kind) == part || with.contains(&kind) {
        pen.at(
            &name.span,
            format!("the step names the {} twice", kind.word()),
            "named before",
            "take it out",
        );
    } else if kind != PartKind::Pin && is_put(kind, steps) {
        pen.at(
            &name.span,
            format!("two steps put the {} in its place", kind.word()),
            "put there before",
            "keep one of the two steps, or take it out of this one's \"with\"",
        );
    }
}

fn not_put(pen: &mut Pen, kind: PartKind, name: &Text) {
    let words: Vec<&str> = PUT.iter().map(|k| k.word()).collect();
    pen.at(
        &name.span,
        format!("no step puts a {} in its place", kind.word()),
        "no part that is put on",
        format!("write one of {}", words.join(", ")),
    );
}
