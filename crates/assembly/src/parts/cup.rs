//! Cup and its side port.

use super::{Maker, PartError};
use crate::kit::{Cup, Gasket, Kit, PartKind};
use crate::rig::{gasket_of, rim_height, rim_off};
use measure::Stack;
use nalgebra::Point2;
use solids::Body;
use solids::build::{Boss, arc, boss, revolve};
use std::f64::consts::FRAC_PI_2;

/// The space that a cup takes up, in the cup frame, its rim on the bottom of its gasket's groove: one
/// closed shell, round about the cup's axis. The cavity is filled from just above the gasket up to
/// the crown, for nothing but the fitting may stand in it, and that is kept within it by a rule of
/// its own; the side port is [a part of its own](side_port).
///
/// Deviation: the greater of
/// wall and crown: hypot(inside diameter / 2 + wall, rim + inside height + crown);
/// seat: hypot(max(seat diameter, ball diameter) / 2, rim + inside height + crown + seat height +
/// seat depth);
/// where each word stands for that dimension's tolerance and rim for gasket thickness + groove
/// depth.
///
/// # Errors
/// When dimensions contradict each other or the cup's gasket is missing.
pub fn cup(kit: &Kit, cup: &Cup) -> Result<Body, PartError> {
    shell(kit, cup, true)
}

/// The same with its cavity empty, for the way down over the fitting.
///
/// # Errors
/// As for [`cup`](fn@cup).
pub fn hollow_cup(kit: &Kit, cup: &Cup) -> Result<Body, PartError> {
    shell(kit, cup, false)
}

fn shell(kit: &Kit, cup: &Cup, fill: bool) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Cup)?;
    let gasket = gasket_of(kit, cup).ok_or_else(|| PartError::NoGasket(cup.gasket.clone()))?;
    let ball = kit.screw.ball_diameter;
    make.dims([
        &cup.inside_diameter,
        &cup.wall,
        &cup.inside_height,
        &cup.crown,
        &cup.seat_diameter,
        &cup.seat_height,
        &cup.seat_depth,
        &cup.port_height,
        &cup.port_diameter,
        &cup.port_bore,
        &cup.port_face,
        &gasket.thickness,
        &gasket.groove_depth,
        &ball,
    ])?;
    let inside = 0.5 * cup.inside_diameter.nominal;
    let outside = inside + cup.wall.nominal;
    let rim = rim_height(gasket);
    let under = rim + cup.inside_height.nominal;
    let crown = under + cup.crown.nominal;
    let seat = crown + cup.seat_height.nominal;
    let (seat_radius, ball_radius) = (0.5 * cup.seat_diameter.nominal, 0.5 * ball.nominal);
    let socket = seat - cup.seat_depth.nominal;
    let ball_centre = socket + ball_radius;
    // The ball's sphere meets the boss's top, or runs out straight when it is sunk deeper than its
    // centre.
    let rise = (seat - ball_centre).min(0.0);
    let mouth = ((ball_radius - rise) * (ball_radius + rise)).sqrt();

    make.require(gasket.groove_depth.nominal < gasket.thickness.nominal, GROOVE)?;
    make.require(seat_radius < outside, "seat-diameter must be less than the outside diameter")?;
    make.require(
        mouth < seat_radius,
        "the socket for the screw's ball must be narrower than seat-diameter",
    )?;
    make.require(
        cup.seat_depth.nominal < cup.seat_height.nominal + cup.crown.nominal,
        "seat-depth must be less than seat-height and crown together",
    )?;
    make.require(
        cup.port_bore.nominal < cup.port_diameter.nominal,
        "port-bore must be less than port-diameter",
    )?;
    make.require(
        cup.port_face.nominal > outside,
        "port-face must lie outside the wall: more than half the outside diameter",
    )?;
    let port = 0.5 * cup.port_diameter.nominal;
    make.require(
        port < inside + 0.5 * cup.wall.nominal
            && port < cup.port_height.nominal
            && cup.port_height.nominal + port < crown - rim,
        "the side port's boss must lie within the wall's width and below the crown",
    )?;
    make.require(
        cup.port_bore.nominal < cup.inside_diameter.nominal
            && cup.port_height.nominal + 0.5 * cup.port_bore.nominal < cup.inside_height.nominal,
        "the side port's bore must lie within the inside of the wall",
    )?;

    let mut profile = vec![
        Point2::new(inside, rim),
        Point2::new(outside, rim),
        Point2::new(outside, crown),
        Point2::new(seat_radius, crown),
        Point2::new(seat_radius, seat),
    ];
    if ball_centre < seat {
        profile.push(Point2::new(mouth, seat));
    }
    let chord = make.chord.half();
    let start = rise.atan2(mouth);
    let mut sphere = arc(Point2::new(0.0, ball_centre), ball_radius, start, -FRAC_PI_2, chord);
    // The ends of the arc, free of rounding.
    if let [first, .., last] = sphere.as_mut_slice() {
        *first = Point2::new(mouth, seat.min(ball_centre));
        *last = Point2::new(0.0, socket);
    }
    profile.extend(sphere);
    let above_gasket = (gasket.thickness.nominal + ABOVE_GASKET).min(under);
    let filled = if fill { above_gasket } else { under };
    profile.extend([Point2::new(0.0, filled), Point2::new(inside, filled)]);
    let mesh = make.built(revolve(&profile, chord))?;

    Ok(Maker::body(
        format!("cup {}", cup.name),
        mesh,
        make.chord.mm(),
        &tolerances(kit, cup, gasket),
        "greater of wall and crown, and seat",
    ))
}

/// The boss of a cup's side port, in the cup frame, from the middle of the wall to its face: solid,
/// for nothing reaches into its bore.
///
/// Deviation, from the tolerances: hypot(max(port face, inside diameter / 2 + wall / 2), rim + port
/// height + port diameter / 2), with rim as in [`cup`].
///
/// # Errors
/// As for [`cup`].
pub fn side_port(kit: &Kit, cup: &Cup) -> Result<Body, PartError> {
    self::cup(kit, cup)?;
    let make = Maker::new(kit, PartKind::Cup)?;
    let gasket = gasket_of(kit, cup).ok_or_else(|| PartError::NoGasket(cup.gasket.clone()))?;
    let shape = Boss {
        from: 0.5 * (cup.inside_diameter.nominal + cup.wall.nominal),
        height: rim_height(gasket) + cup.port_height.nominal,
        diameter: cup.port_diameter.nominal,
        face: cup.port_face.nominal,
    };
    let mesh = make.built(boss(&shape, make.chord))?;
    Ok(Maker::body(
        format!("side port of cup {}", cup.name),
        mesh,
        make.chord.mm(),
        &side_port_tolerances(cup, gasket),
        "along and across the port",
    ))
}

pub(super) fn side_port_tolerances(cup: &Cup, gasket: &Gasket) -> Stack {
    let inner = cup.inside_diameter.off("cup inside-diameter") + cup.wall.off("cup wall");
    Stack::square_to_each_other([
        cup.port_face.off("cup port-face").or(inner.scale(0.5)),
        rim_off(gasket)
            + cup.port_height.off("cup port-height")
            + cup.port_diameter.off("cup port-diameter").scale(0.5),
    ])
}

pub(super) const GROOVE: &str = "the gasket's groove-depth must be less than its thickness";

/// How far above the gasket the filled cavity begins, mm: the groove's inner lip is no obstacle. Our
/// choice.
const ABOVE_GASKET: f64 = 1.0;

/// The stack of [`cup`]'s documentation.
pub(super) fn tolerances(kit: &Kit, cup: &Cup, gasket: &Gasket) -> Stack {
    let top =
        rim_off(gasket) + cup.inside_height.off("cup inside-height") + cup.crown.off("cup crown");
    let outside =
        cup.inside_diameter.off("cup inside-diameter").scale(0.5) + cup.wall.off("cup wall");
    let wall = Stack::square_to_each_other([outside, top.clone()]);
    let boss = cup.seat_diameter.off("cup seat-diameter");
    let seat = Stack::square_to_each_other([
        boss.or(kit.screw.ball_diameter.off("screw ball-diameter")).scale(0.5),
        top + cup.seat_height.off("cup seat-height") + cup.seat_depth.off("cup seat-depth"),
    ]);
    wall.or(seat)
}
