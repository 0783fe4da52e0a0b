//! Foot.

use super::{Maker, PartError, along_x};
use crate::kit::{Kit, PartKind};
use measure::Stack;
use nalgebra::Point2;
use solids::Body;
use solids::build::{circle, extrude};

/// A foot in the foot frame; its bearing face lies `seat` above the pin's axis.
///
/// Deviation, from the tolerances: hypot(depth / 2, max(width, hole) / 2, seat + height).
///
/// # Errors
/// When dimensions contradict each other.
pub fn foot(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Foot)?;
    let foot = &kit.foot;
    make.dims([&foot.depth, &foot.width, &foot.height, &foot.seat, &foot.hole])?;
    let hole = 0.5 * foot.hole.nominal;
    let (low, high) = (foot.seat.nominal - foot.height.nominal, foot.seat.nominal);
    make.require(
        low < -hole && hole < high && foot.hole.nominal < foot.width.nominal,
        "hole must lie within the foot: seat and height less seat more than half of it, width more \
         than it",
    )?;
    let y = 0.5 * foot.width.nominal;
    let outline =
        [Point2::new(-y, low), Point2::new(y, low), Point2::new(y, high), Point2::new(-y, high)];
    let half = 0.5 * foot.depth.nominal;
    let bore = circle(Point2::origin(), hole, make.chord);
    let mesh = make.built(extrude(&outline, &[bore], -half, half))?;
    Ok(Maker::body(
        "foot".into(),
        along_x(mesh),
        make.chord.mm(),
        &tolerances(kit),
        "through, across and up",
    ))
}

pub(super) fn tolerances(kit: &Kit) -> Stack {
    let foot = &kit.foot;
    Stack::square_to_each_other([
        foot.depth.off("foot depth").scale(0.5),
        foot.width.off("foot width").or(foot.hole.off("foot hole")).scale(0.5),
        foot.seat.off("foot seat") + foot.height.off("foot height"),
    ])
}
