//! Pins and the spaces in which they are pushed in.
//!
//! Pin frame: the foot's frame for a lower pin, the saddle's for an upper one: origin on the axis
//! midway between the inner faces of the two links, which stand the foot's depth apart at both
//! ends; +x outward. The head bears on the outer face of the outside link, at
//! `x = foot.depth / 2 + thickness`, and the shank runs from there inward.

use super::{Maker, PartError, along_x};
use crate::kit::{Dim, Kit, PartKind, Pin};
use measure::Stack;
use nalgebra::Point2;
use solids::build::revolve;
use solids::{Body, Mesh};

/// Where the underside of a pin's head lies along the pin frame's x, mm, when the outside link is
/// `outside_thickness` mm thick.
pub fn pin_head_offset(kit: &Kit, outside_thickness: f64) -> f64 {
    0.5 * kit.foot.depth.nominal + outside_thickness
}

/// How far the space in which a pin is pushed in reaches beyond its head's outer face, mm: the
/// pin's length under the head and room for the hand.
pub fn pin_path_length(kit: &Kit, pin: &Pin) -> f64 {
    pin.length.nominal + kit.rules.pin_hand_room
}

/// The lower pin in the foot's frame, behind an outside link of thickness number `outside`.
///
/// Deviation, from the tolerances: hypot(max(diameter, head diameter) / 2, foot depth / 2 + outside
/// link's thickness + max(length, head thickness)).
///
/// # Errors
/// When dimensions contradict each other, when the pin does not reach through the outside link and the
/// thickest one inside, or when there is no such thickness.
pub fn lower_pin(kit: &Kit, outside: usize) -> Result<Body, PartError> {
    pin(kit, &kit.lower_pin, outside, "lower pin")
}

/// The upper pin in the saddle's frame; otherwise as [`lower_pin`].
///
/// # Errors
/// As for [`lower_pin`].
pub fn upper_pin(kit: &Kit, outside: usize) -> Result<Body, PartError> {
    pin(kit, &kit.upper_pin, outside, "upper pin")
}

/// The space in which the lower pin is pushed in and drawn, in the foot's frame: a cylinder of the
/// head's diameter, from the head's outer face outward by the pin's length and room for the hand.
///
/// Deviation, from the tolerances: hypot(head diameter / 2, foot depth / 2 + outside link's
/// thickness + head thickness + length).
///
/// # Errors
/// As for [`lower_pin`].
pub fn lower_pin_path(kit: &Kit, outside: usize) -> Result<Body, PartError> {
    path(kit, &kit.lower_pin, outside, "lower pin's path")
}

/// The same for the upper pin, in the saddle's frame.
///
/// # Errors
/// As for [`lower_pin`].
pub fn upper_pin_path(kit: &Kit, outside: usize) -> Result<Body, PartError> {
    path(kit, &kit.upper_pin, outside, "upper pin's path")
}

fn pin(kit: &Kit, pin: &Pin, outside: usize, name: &str) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Pin)?;
    let thickness = check(make, kit, pin, outside)?;
    let under_head = pin_head_offset(kit, thickness.nominal);
    let (shank, head) = (0.5 * pin.diameter.nominal, 0.5 * pin.head_diameter.nominal);
    let outer = under_head + pin.head_thickness.nominal;
    let inner = under_head - pin.length.nominal;
    let mesh = make.built(turned(
        make,
        &[
            Point2::new(0.0, inner),
            Point2::new(shank, inner),
            Point2::new(shank, under_head),
            Point2::new(head, under_head),
            Point2::new(head, outer),
            Point2::new(0.0, outer),
        ],
    ))?;
    let tolerances = tolerances(kit, pin, thickness);
    Ok(Maker::body(name.into(), mesh, make.chord.mm(), &tolerances, "across and along"))
}

pub(super) fn tolerances(kit: &Kit, pin: &Pin, outside: &Dim) -> Stack {
    let across = pin.diameter.off("pin diameter").or(pin.head_diameter.off("pin head-diameter"));
    let ends = pin.length.off("pin length").or(pin.head_thickness.off("pin head-thickness"));
    Stack::square_to_each_other([across.scale(0.5), head_off(kit, outside) + ends])
}

/// The stack of where the underside of a pin's head lies.
fn head_off(kit: &Kit, outside: &Dim) -> Stack {
    kit.foot.depth.off("foot depth").scale(0.5) + outside.off("link thickness")
}

fn path(kit: &Kit, pin: &Pin, outside: usize, name: &str) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::PinPath)?;
    let thickness = check(make, kit, pin, outside)?;
    let room = kit.rules.pin_hand_room;
    make.require(room >= 0.0 && room.is_finite(), "pin-hand-room must not be negative")?;
    let from = pin_head_offset(kit, thickness.nominal) + pin.head_thickness.nominal;
    let to = from + pin_path_length(kit, pin);
    let radius = 0.5 * pin.head_diameter.nominal;
    let mesh = make.built(turned(
        make,
        &[
            Point2::new(0.0, from),
            Point2::new(radius, from),
            Point2::new(radius, to),
            Point2::new(0.0, to),
        ],
    ))?;
    let tolerances = path_tolerances(kit, pin, thickness);
    Ok(Maker::body(name.into(), mesh, make.chord.mm(), &tolerances, "across and along"))
}

pub(super) fn path_tolerances(kit: &Kit, pin: &Pin, outside: &Dim) -> Stack {
    Stack::square_to_each_other([
        pin.head_diameter.off("pin head-diameter").scale(0.5),
        head_off(kit, outside)
            + pin.head_thickness.off("pin head-thickness")
            + pin.length.off("pin length"),
    ])
}

/// A profile `(radius, x)` turned about x.
fn turned(make: Maker, profile: &[Point2<f64>]) -> Result<Mesh, solids::build::BuildError> {
    revolve(profile, make.chord).map(along_x)
}

fn check<'k>(make: Maker, kit: &'k Kit, pin: &Pin, outside: usize) -> Result<&'k Dim, PartError> {
    let thickness = kit.link.thicknesses.get(outside).ok_or(PartError::NoThickness(outside))?;
    make.dims([
        &pin.diameter,
        &pin.length,
        &pin.head_diameter,
        &pin.head_thickness,
        &kit.foot.depth,
        thickness,
    ])?;
    make.require(
        pin.diameter.nominal < pin.head_diameter.nominal,
        "diameter must be less than head-diameter",
    )?;
    let apart = kit.foot.depth.nominal.max(kit.saddle.length.nominal);
    let thickest = kit.link.thicknesses.iter().map(|t| t.nominal).fold(thickness.nominal, f64::max);
    make.require(
        pin.length.nominal >= apart + thickness.nominal + thickest - 1e-9,
        "length must reach through the links chosen and what holds them apart",
    )?;
    Ok(thickness)
}
