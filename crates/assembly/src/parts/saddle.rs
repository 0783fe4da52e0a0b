//! Saddle.

use super::{Maker, PartError, along_x};
use crate::kit::{Kit, PartKind};
use measure::Stack;
use nalgebra::Point2;
use solids::Body;
use solids::build::{circle, extrude};

/// A saddle in the saddle frame; the underside of its top lies on the rails, `pin_drop` and the
/// rails' height above the pin's axis.
///
/// Deviation, from the tolerances: hypot(length / 2, max(stem width, top width, hole) / 2,
/// max(edge, pin drop + rail height + top height)).
///
/// # Errors
/// When dimensions contradict each other.
pub fn saddle(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Saddle)?;
    let s = &kit.saddle;
    let rail = kit.bar.rail_height;
    make.dims([
        &s.length,
        &s.stem_width,
        &s.top_width,
        &s.top_height,
        &s.pin_drop,
        &s.edge,
        &s.hole,
        &rail,
    ])?;
    make.require(
        s.stem_width.nominal < s.top_width.nominal,
        "stem-width must be less than top-width",
    )?;
    make.require(
        s.hole.nominal < s.stem_width.nominal && 0.5 * s.hole.nominal < s.edge.nominal,
        "hole must lie within the stem: less than stem-width and twice edge",
    )?;
    let (stem, top) = (0.5 * s.stem_width.nominal, 0.5 * s.top_width.nominal);
    let low = -s.edge.nominal;
    let on_rails = s.pin_drop.nominal + rail.nominal;
    let high = on_rails + s.top_height.nominal;
    let outline = [
        Point2::new(-stem, low),
        Point2::new(stem, low),
        Point2::new(stem, on_rails),
        Point2::new(top, on_rails),
        Point2::new(top, high),
        Point2::new(-top, high),
        Point2::new(-top, on_rails),
        Point2::new(-stem, on_rails),
    ];
    let hole = circle(Point2::origin(), 0.5 * s.hole.nominal, make.chord);
    let half = 0.5 * s.length.nominal;
    let mesh = make.built(extrude(&outline, &[hole], -half, half))?;
    Ok(Maker::body(
        "saddle".into(),
        along_x(mesh),
        make.chord.mm(),
        &tolerances(kit),
        "along, across and up",
    ))
}

pub(super) fn tolerances(kit: &Kit) -> Stack {
    let s = &kit.saddle;
    let across = s.stem_width.off("saddle stem-width").or(s.top_width.off("saddle top-width"));
    let top = s.pin_drop.off("saddle pin-drop")
        + kit.bar.rail_height.off("bar rail-height")
        + s.top_height.off("saddle top-height");
    Stack::square_to_each_other([
        s.length.off("saddle length").scale(0.5),
        across.or(s.hole.off("saddle hole")).scale(0.5),
        s.edge.off("saddle edge").or(top),
    ])
}
