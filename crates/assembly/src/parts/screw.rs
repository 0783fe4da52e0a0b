//! Clamp screw, its block, and the space its handle sweeps.

use super::{Maker, PartError, SIDE_PLAY};
use crate::kit::{Kit, PartKind};
use measure::Stack;
use nalgebra::{Point2, Point3};
use solids::Body;
use solids::build::{arc, circle, cylinder, extrude, revolve};
use std::f64::consts::FRAC_PI_2;

/// Share of a thick screw's ball that its neck takes.
const NECK: f64 = 0.75;

/// The screw in the screw frame: ball about the origin, shank of the thread's outside diameter up
/// to `length`, and the handle's rod across it, along x.
///
/// A shank thinner than three quarters of the ball starts on the ball; a thicker one starts at the
/// ball's top, on a neck that thick (our choice: the kit gives no neck). Two closed shells stand for
/// their union: screw and rod.
///
/// Deviation, from the tolerances: the greater of hypot(max(diameter, ball diameter) / 2, length)
/// and hypot(handle length / 2, handle diameter / 2, length + handle drop + handle diameter / 2).
///
/// # Errors
/// When dimensions contradict each other.
pub fn screw(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Screw)?;
    let s = &kit.screw;
    check(make, kit)?;
    let (shank, ball) = (0.5 * s.diameter.nominal, 0.5 * s.ball_diameter.nominal);
    let neck = shank.min(NECK * ball);
    let top = s.length.nominal;
    let chord = make.chord.half();
    let rise = ((ball - neck) * (ball + neck)).sqrt();
    let mut profile = arc(Point2::origin(), ball, -FRAC_PI_2, rise.atan2(neck), chord);
    // The ends of the arc, free of rounding.
    if let [first, .., last] = profile.as_mut_slice() {
        *first = Point2::new(0.0, -ball);
        *last = Point2::new(neck, rise);
    }
    if neck < shank {
        profile.extend([Point2::new(neck, ball), Point2::new(shank, ball)]);
    }
    profile.extend([Point2::new(shank, top), Point2::new(0.0, top)]);
    let mut mesh = make.built(revolve(&profile, chord))?;
    let (half, axis) = (0.5 * s.handle_length.nominal, top - s.handle_drop.nominal);
    let rod = make.built(cylinder(
        Point3::new(-half, 0.0, axis),
        Point3::new(half, 0.0, axis),
        0.5 * s.handle_diameter.nominal,
        make.chord,
    ))?;
    mesh.append(&rod);

    Ok(Maker::body(
        "screw".into(),
        mesh,
        make.chord.mm(),
        &tolerances(kit),
        "greater of screw, handle",
    ))
}

pub(super) fn tolerances(kit: &Kit) -> Stack {
    let s = &kit.screw;
    let across = s.diameter.off("screw diameter").or(s.ball_diameter.off("screw ball-diameter"));
    let body = Stack::square_to_each_other([across.scale(0.5), s.length.off("screw length")]);
    body.or(handle_off(kit))
}

/// The space that the screw's handle sweeps in a full turn, in the screw frame: a disc as thick as
/// the rod, out to the corners of its ends. It takes in the part of the screw within it.
///
/// Deviation, from the tolerances: hypot(handle length / 2, handle diameter / 2, length + handle drop
/// + handle diameter / 2); and the rounding of the disc's edge that the round rod would leave.
///
/// # Errors
/// When dimensions contradict each other.
pub fn screw_handle_sweep(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::ScrewHandle)?;
    let s = &kit.screw;
    check(make, kit)?;
    let (length, rod) = (0.5 * s.handle_length.nominal, 0.5 * s.handle_diameter.nominal);
    let (reach, axis) = (length.hypot(rod), s.length.nominal - s.handle_drop.nominal);
    let mesh = make.built(cylinder(
        Point3::new(0.0, 0.0, axis - rod),
        Point3::new(0.0, 0.0, axis + rod),
        reach,
        make.chord,
    ))?;
    Ok(Maker::body(
        "screw handle's swing".into(),
        mesh,
        make.chord.mm(),
        &sweep_tolerances(kit),
        "across and along",
    ))
}

pub(super) fn sweep_tolerances(kit: &Kit) -> Stack {
    let s = &kit.screw;
    let (length, rod) = (0.5 * s.handle_length.nominal, 0.5 * s.handle_diameter.nominal);
    handle_off(kit) + Stack::of("rounding of the screw handle's swing", length.hypot(rod) - length)
}

/// The screw's block in the bar frame moved along the bar to the screw: a block under the rails,
/// its top face on their underside, and a stem of the same length in the slot, up to the rails'
/// upper face with 0.5 mm of play on each side (our choice: the kit gives no stem). Both are bored
/// for the screw along z. Two closed shells stand for their union.
///
/// Deviation, from the tolerances: hypot(block length / 2, max(block width, slot, screw diameter) /
/// 2, max(block height, rail height)).
///
/// # Errors
/// When dimensions contradict each other.
pub fn screw_block(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::ScrewBlock)?;
    let (s, bar) = (&kit.screw, &kit.bar);
    make.dims([
        &s.diameter,
        &s.block_length,
        &s.block_width,
        &s.block_height,
        &bar.slot,
        &bar.rail_height,
    ])?;
    let stem = 0.5 * bar.slot.nominal - SIDE_PLAY;
    make.require(
        0.5 * s.diameter.nominal < stem,
        "the screw's diameter must leave 1 mm in the bar's slot",
    )?;
    make.require(
        s.diameter.nominal < s.block_length.nominal && s.diameter.nominal < s.block_width.nominal,
        "block-length and block-width must be more than the screw's diameter",
    )?;
    let x = 0.5 * s.block_length.nominal;
    let bore = circle(Point2::origin(), 0.5 * s.diameter.nominal, make.chord);
    let prism = |y: f64, low: f64, high: f64| {
        let outline =
            [Point2::new(-x, -y), Point2::new(x, -y), Point2::new(x, y), Point2::new(-x, y)];
        make.built(extrude(&outline, std::slice::from_ref(&bore), low, high))
    };
    let height = s.block_height.nominal;
    let mut mesh = prism(0.5 * s.block_width.nominal, -height, 0.0)?;
    mesh.append(&prism(stem, -0.5 * height, bar.rail_height.nominal)?);
    let tolerances = block_tolerances(kit);
    Ok(Maker::body(
        "screw block".into(),
        mesh,
        make.chord.mm(),
        &tolerances,
        "along, across and up",
    ))
}

pub(super) fn block_tolerances(kit: &Kit) -> Stack {
    let (s, bar) = (&kit.screw, &kit.bar);
    let across = s.block_width.off("screw block-width").or(bar.slot.off("bar slot"));
    Stack::square_to_each_other([
        s.block_length.off("screw block-length").scale(0.5),
        across.or(s.diameter.off("screw diameter")).scale(0.5),
        s.block_height.off("screw block-height").or(bar.rail_height.off("bar rail-height")),
    ])
}

/// The stack of where the handle's rod ends.
fn handle_off(kit: &Kit) -> Stack {
    let s = &kit.screw;
    let rod = || s.handle_diameter.off("screw handle-diameter").scale(0.5);
    Stack::square_to_each_other([
        s.handle_length.off("screw handle-length").scale(0.5),
        rod(),
        s.length.off("screw length") + s.handle_drop.off("screw handle-drop") + rod(),
    ])
}

fn check(make: Maker, kit: &Kit) -> Result<(), PartError> {
    let s = &kit.screw;
    make.dims([
        &s.diameter,
        &s.ball_diameter,
        &s.length,
        &s.handle_length,
        &s.handle_diameter,
        &s.handle_drop,
    ])?;
    make.require(
        s.length.nominal - s.handle_drop.nominal - 0.5 * s.handle_diameter.nominal
            > 0.5 * s.ball_diameter.nominal,
        "handle-drop must leave the handle above the ball",
    )?;
    make.require(
        s.diameter.nominal < s.handle_length.nominal,
        "handle-length must be more than diameter",
    )
}
