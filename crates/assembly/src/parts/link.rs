//! Link.

use super::{Maker, PartError, along_x};
use crate::kit::{Dim, Kit, PartKind, widest};
use measure::Stack;
use nalgebra::Point2;
use solids::Body;
use solids::build::{arc, circle, extrude};
use std::f64::consts::{PI, TAU};

/// A link of thickness number `thickness` in the link frame: its ends round, of half its width,
/// `edge` beyond the outermost holes; every hole bored.
///
/// Deviation, from the tolerances: hypot(thickness / 2, max(width, hole) / 2, edge + the greatest
/// of the holes' places).
///
/// # Errors
/// When dimensions contradict each other or there is no such thickness.
pub fn link(kit: &Kit, thickness: usize) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Link)?;
    let link = &kit.link;
    let thick = link.thicknesses.get(thickness).ok_or(PartError::NoThickness(thickness))?;
    make.dims([&link.width, thick, &link.hole, &link.edge])?;
    make.dims(&link.holes)?;
    make.require(!link.holes.is_empty(), "holes must name at least one upper hole")?;
    let (radius, hole) = (0.5 * link.width.nominal, 0.5 * link.hole.nominal);
    make.require(
        hole < radius && hole < link.edge.nominal,
        "hole must lie within the link: less than width and twice edge",
    )?;
    let last = link.holes.iter().map(|h| h.nominal).fold(0.0, f64::max);
    let low = radius - link.edge.nominal;
    let high = last + link.edge.nominal - radius;
    make.require(low < high, "the link must be longer than wide")?;

    let mut outline = arc(Point2::new(0.0, low), radius, PI, TAU, make.chord);
    outline.extend(arc(Point2::new(0.0, high), radius, 0.0, PI, make.chord));
    let holes: Vec<_> = std::iter::once(0.0)
        .chain(link.holes.iter().map(|h| h.nominal))
        .map(|z| circle(Point2::new(0.0, z), hole, make.chord))
        .collect();
    let half = 0.5 * thick.nominal;
    let mesh = make.built(extrude(&outline, &holes, -half, half))?;
    Ok(Maker::body(
        "link".into(),
        along_x(mesh),
        make.chord.mm(),
        &tolerances(kit, thick),
        "through, across and along",
    ))
}

pub(super) fn tolerances(kit: &Kit, thick: &Dim) -> Stack {
    let link = &kit.link;
    Stack::square_to_each_other([
        thick.off("link thickness").scale(0.5),
        link.width.off("link width").or(link.hole.off("link hole")).scale(0.5),
        link.edge.off("link edge") + widest(&link.holes, "link holes"),
    ])
}
