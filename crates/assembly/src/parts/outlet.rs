//! Outlet: port nipple, elbow, riser nipple, valve, and the space its handle sweeps.

use super::{Maker, PartError, along_x};
use crate::kit::{Kit, Outlet, PartKind};
use measure::{Angle, Stack};
use nalgebra::{Point2, Point3, Rotation2};
use solids::Body;
use solids::build::{Run, arc, bent_run, cylinder, extrude};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// The outlet in the outlet frame with no elbow turn: nipple from the origin along +x, elbow, riser
/// and valve along +z, stem along +x. Pipes are solid inside: only the outside matters.
///
/// The elbow is the envelope that centre-to-end and band diameter allow (see
/// [`solids::build::bent_run`]). The stem, for which the kit gives no diameter, is as thick as the
/// handle is wide, from the valve's axis to the handle's upper face. Two closed shells stand for
/// their union: run and stem.
///
/// Deviation, from the tolerances: hypot(port nipple + centre to end + max(half the pipe, band or
/// valve diameter, stem height + handle thickness), max(half the pipe or band diameter, centre to end
/// + riser nipple + max(valve length, valve length / 2 + handle width / 2))).
///
/// # Errors
/// When dimensions contradict each other.
pub fn outlet(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::Outlet)?;
    let o = &kit.outlet;
    check(make, o)?;
    let run = |diameter: f64, length: f64| Run { diameter, length };
    let pipe = o.pipe_diameter.nominal;
    let mut mesh = make.built(bent_run(
        &[run(pipe, o.port_nipple.nominal)],
        o.elbow_band.nominal,
        o.elbow_centre_to_end.nominal,
        &[run(pipe, o.riser_nipple.nominal), run(o.valve_diameter.nominal, o.valve_length.nominal)],
        make.chord,
    ))?;
    let (riser, valve) = stem_at(o);
    let reach = riser + o.stem_height.nominal + o.handle_thickness.nominal;
    let stem = make.built(cylinder(
        Point3::new(riser, 0.0, valve),
        Point3::new(reach, 0.0, valve),
        0.5 * o.handle_width.nominal,
        make.chord,
    ))?;
    mesh.append(&stem);

    Ok(Maker::body("outlet".into(), mesh, make.chord.mm(), &tolerances(o), "along port and riser"))
}

pub(super) fn tolerances(o: &Outlet) -> Stack {
    let elbow = || o.elbow_centre_to_end.off("outlet elbow-centre-to-end");
    let thick =
        o.pipe_diameter.off("outlet pipe-diameter").or(o.elbow_band.off("outlet elbow-band"));
    let thickest = thick.clone().or(o.valve_diameter.off("outlet valve-diameter"));
    let valve = || o.valve_length.off("outlet valve-length");
    let stem = valve().scale(0.5) + o.handle_width.off("outlet handle-width").scale(0.5);
    Stack::square_to_each_other([
        o.port_nipple.off("outlet port-nipple") + elbow() + thickest.scale(0.5).or(stem_off(o)),
        thick.scale(0.5).or(elbow() + o.riser_nipple.off("outlet riser-nipple") + valve().or(stem)),
    ])
}

/// The stack of how far the handle's upper face lies from the riser's axis.
fn stem_off(o: &Outlet) -> Stack {
    o.stem_height.off("outlet stem-height") + o.handle_thickness.off("outlet handle-thickness")
}

/// The space that the valve's handle sweeps, in the outlet frame with no elbow turn: a plate of the
/// handle's thickness. The handle starts along the riser, tip away from the elbow, and swings
/// clockwise seen from outside looking at the cup for a positive swing, counter-clockwise for a
/// negative one. Its inner end is rounded about the stem.
///
/// Deviation, from the tolerances: hypot(port nipple + centre to end + stem height + handle
/// thickness, centre to end + riser nipple + valve length / 2 + hypot(handle length, handle width /
/// 2)).
///
/// # Errors
/// When dimensions contradict each other.
pub fn outlet_handle_sweep(kit: &Kit) -> Result<Body, PartError> {
    let make = Maker::new(kit, PartKind::OutletHandle)?;
    let o = &kit.outlet;
    check(make, o)?;
    let swing = o.handle_swing.radians();
    make.require(swing.is_finite(), "handle-swing must be a number")?;
    let (length, half) = (o.handle_length.nominal, 0.5 * o.handle_width.nominal);
    make.require(half < length, "handle-length must be more than half of handle-width")?;

    // Flat frame: +x along the handle at its start, +y to the side that it swings to.
    let turn = swing.abs();
    let (tip, corner) = (length.hypot(half), half.atan2(length));
    let centre = Point2::origin();
    let outline = if turn + 2.0 * corner >= TAU {
        let mut circle = arc(centre, tip, 0.0, TAU, make.chord);
        circle.pop();
        circle
    } else {
        let mut outline = if turn == 0.0 {
            vec![Point2::new(length, -half), Point2::new(length, half)]
        } else if turn < 2.0 * corner {
            // Between the ways of its two corners the tip shows the edge where it starts and the
            // edge where it ends, which meet half way.
            let mut tips = arc(centre, tip, -corner, turn - corner, make.chord);
            let out = length / (0.5 * turn).cos();
            tips.push(Rotation2::new(0.5 * turn) * Point2::new(out, 0.0));
            tips.extend(arc(centre, tip, corner, turn + corner, make.chord));
            tips
        } else {
            arc(centre, tip, -corner, turn + corner, make.chord)
        };
        if turn < PI {
            outline.extend(arc(centre, half, turn + FRAC_PI_2, PI + FRAC_PI_2, make.chord));
        } else {
            // Beyond half a turn the first and the last edge of the handle meet.
            let out = half / (0.5 * (TAU - turn)).sin();
            outline.push(Rotation2::new(0.5 * turn + PI) * Point2::new(out, 0.0));
        }
        outline
    };
    let side = if swing < 0.0 { -1.0 } else { 1.0 };
    let (riser, valve) = stem_at(o);
    let flat: Vec<_> = outline.iter().map(|p| Point2::new(side * p.y, valve + p.x)).collect();
    let from = riser + o.stem_height.nominal;
    let mesh = make.built(extrude(&flat, &[], from, from + o.handle_thickness.nominal))?;

    Ok(Maker::body(
        "outlet handle's swing".into(),
        along_x(mesh),
        make.chord.mm(),
        &sweep_tolerances(o),
        "along port and riser",
    ))
}

pub(super) fn sweep_tolerances(o: &Outlet) -> Stack {
    let elbow = || o.elbow_centre_to_end.off("outlet elbow-centre-to-end");
    let tip = Stack::square_to_each_other([
        o.handle_length.off("outlet handle-length"),
        o.handle_width.off("outlet handle-width").scale(0.5),
    ]);
    Stack::square_to_each_other([
        o.port_nipple.off("outlet port-nipple") + elbow() + stem_off(o),
        elbow()
            + o.riser_nipple.off("outlet riser-nipple")
            + o.valve_length.off("outlet valve-length").scale(0.5)
            + tip,
    ])
}

/// The valve's handle where the valve is open, in the outlet frame with no elbow turn: the space
/// that it would sweep in a swing of nothing, and so with that space's deviation.
///
/// # Errors
/// When dimensions contradict each other.
pub fn outlet_handle(kit: &Kit) -> Result<Body, PartError> {
    let outlet = Outlet { handle_swing: Angle::ZERO, ..kit.outlet.clone() };
    let still = Kit { outlet, ..kit.clone() };
    outlet_handle_sweep(&still).map(|body| Body { name: "outlet handle".into(), ..body })
}

/// Distance of the riser's axis from the port boss's face, and height of the valve's stem above the
/// port's axis, mm.
fn stem_at(o: &Outlet) -> (f64, f64) {
    let leg = o.elbow_centre_to_end.nominal;
    (o.port_nipple.nominal + leg, leg + o.riser_nipple.nominal + 0.5 * o.valve_length.nominal)
}

fn check(make: Maker, o: &Outlet) -> Result<(), PartError> {
    make.dims([
        &o.pipe_diameter,
        &o.port_nipple,
        &o.elbow_centre_to_end,
        &o.elbow_band,
        &o.riser_nipple,
        &o.valve_length,
        &o.valve_diameter,
        &o.stem_height,
        &o.handle_length,
        &o.handle_width,
        &o.handle_thickness,
    ])?;
    make.require(
        0.5 * o.elbow_band.nominal < o.elbow_centre_to_end.nominal,
        "elbow-centre-to-end must be more than half of elbow-band",
    )?;
    make.require(
        o.handle_width.nominal < o.valve_diameter.nominal.min(o.valve_length.nominal),
        "handle-width must be less than valve-diameter and valve-length",
    )
}
