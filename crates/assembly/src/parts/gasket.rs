//! Gasket.

use super::cup::GROOVE;
use super::{Maker, PartError, SIDE_PLAY};
use crate::kit::{Cup, Gasket, Kit, PartKind};
use crate::rig::rim_off;
use measure::Stack;
use nalgebra::Point2;
use solids::Body;
use solids::build::revolve;

/// A gasket in the cup frame, from the sealing face up, with a groove that gives the rim of `cup`
/// 0.5 mm of play on each side (our choice: the kit gives the groove's depth only). Where the
/// groove would run out of the ring there is a step instead.
///
/// Deviation: the greater of
/// ring: hypot(max(inside diameter, outside diameter) / 2, thickness);
/// groove: hypot(cup inside diameter / 2 + cup wall, thickness + groove depth) of the tolerances;
/// and the groove's depth, where the tolerances decide whether there is a lip beside it.
///
/// # Errors
/// When dimensions contradict each other.
pub fn gasket(kit: &Kit, cup: &Cup, gasket: &Gasket) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Gasket)?;
    make.dims([
        &gasket.inside_diameter,
        &gasket.outside_diameter,
        &gasket.thickness,
        &gasket.groove_depth,
        &cup.inside_diameter,
        &cup.wall,
    ])?;
    let inner = 0.5 * gasket.inside_diameter.nominal;
    let outer = 0.5 * gasket.outside_diameter.nominal;
    let rim_inner = 0.5 * cup.inside_diameter.nominal;
    let rim_outer = rim_inner + cup.wall.nominal;
    let top = gasket.thickness.nominal;
    make.require(gasket.groove_depth.nominal < top, GROOVE)?;
    make.require(
        inner <= rim_inner && rim_outer <= outer,
        "it must lie under the whole rim: inside-diameter at most the cup's, outside-diameter at \
         least the cup's with its walls",
    )?;
    let groove = top - gasket.groove_depth.nominal;
    let (from, to) = (rim_inner - SIDE_PLAY, rim_outer + SIDE_PLAY);
    let mut profile = vec![Point2::new(inner, 0.0), Point2::new(outer, 0.0)];
    if to < outer {
        profile.extend([Point2::new(outer, top), Point2::new(to, top), Point2::new(to, groove)]);
    } else {
        profile.push(Point2::new(outer, groove));
    }
    if inner < from {
        profile.extend([
            Point2::new(from, groove),
            Point2::new(from, top),
            Point2::new(inner, top),
        ]);
    } else {
        profile.push(Point2::new(inner, groove));
    }
    let mesh = make.built(revolve(&profile, make.chord))?;

    Ok(Maker::body(
        format!("gasket {}", gasket.name),
        mesh,
        make.chord.mm(),
        &tolerances(cup, gasket),
        "greater of ring, groove",
    ))
}

pub(super) fn tolerances(cup: &Cup, gasket: &Gasket) -> Stack {
    let inside = gasket.inside_diameter.off("gasket inside-diameter");
    let ring = Stack::square_to_each_other([
        inside.or(gasket.outside_diameter.off("gasket outside-diameter")).scale(0.5),
        gasket.thickness.off("gasket thickness"),
    ]);
    let wall = cup.inside_diameter.off("cup inside-diameter").scale(0.5) + cup.wall.off("cup wall");
    let groove = Stack::square_to_each_other([wall.clone(), rim_off(gasket)]);
    // How wide the lips outside and inside of the groove are, and how much that may be off.
    let rim = 0.5 * cup.inside_diameter.nominal;
    let lips = [
        (
            0.5 * gasket.outside_diameter.nominal - rim - cup.wall.nominal - SIDE_PLAY,
            0.5 * gasket.outside_diameter.tolerance + wall.worst(),
        ),
        (
            rim - SIDE_PLAY - 0.5 * gasket.inside_diameter.nominal,
            0.5 * (gasket.inside_diameter.tolerance + cup.inside_diameter.tolerance),
        ),
    ];
    let lip = if lips.iter().any(|(width, off)| width.abs() <= *off) {
        Stack::of("lip of the gasket's groove", gasket.groove_depth.nominal)
    } else {
        Stack::none()
    };
    ring.or(groove) + lip
}
