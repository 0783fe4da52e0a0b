//! Clamp bar.

use super::{Maker, PartError};
use crate::kit::{Kit, PartKind};
use measure::Stack;
use nalgebra::Point2;
use solids::Body;
use solids::build::extrude;

/// The clamp bar in the bar frame: two rails, the slot open between the end pieces.
///
/// Deviation, from the tolerances: hypot(length / 2 + end, slot / 2 + rail width, rail height).
///
/// # Errors
/// When dimensions contradict each other.
pub fn bar(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Bar)?;
    let bar = &kit.bar;
    make.dims([&bar.length, &bar.rail_width, &bar.rail_height, &bar.slot, &bar.end])?;
    make.require(
        2.0 * bar.end.nominal < bar.length.nominal,
        "length must be more than twice end: otherwise there is no slot",
    )?;
    let rectangle = |x: f64, y: f64| {
        vec![Point2::new(-x, -y), Point2::new(x, -y), Point2::new(x, y), Point2::new(-x, y)]
    };
    let half = 0.5 * bar.length.nominal;
    let slot = 0.5 * bar.slot.nominal;
    let mesh = make.built(extrude(
        &rectangle(half, slot + bar.rail_width.nominal),
        &[rectangle(half - bar.end.nominal, slot)],
        0.0,
        bar.rail_height.nominal,
    ))?;
    Ok(Maker::body("clamp bar".into(), mesh, 0.0, &tolerances(kit), "along, across and up"))
}

pub(super) fn tolerances(kit: &Kit) -> Stack {
    let bar = &kit.bar;
    Stack::square_to_each_other([
        bar.length.off("bar length").scale(0.5) + bar.end.off("bar end"),
        bar.slot.off("bar slot").scale(0.5) + bar.rail_width.off("bar rail-width"),
        bar.rail_height.off("bar rail-height"),
    ])
}
