//! Car tops and kits as they may have been built: drawn within the stated tolerances and deviations.

use crate::car_top::{CarTop, Port};
use crate::kit::{Dim, Kit, Pin};
use nalgebra::{Isometry3, Translation3, UnitQuaternion, Vector3};
use solids::Mesh;

/// Numbers from -1 to 1, one after the other: by chance, or the ends alone.
pub type Numbers<'n> = dyn FnMut() -> f64 + 'n;

/// A car top and a kit as they may have been built.
#[derive(Debug, Clone, PartialEq)]
pub struct AsBuilt {
    /// The car top, its bodies moved, without deviations.
    pub car: CarTop,
    /// How each of its bodies was moved.
    pub moved: Vec<Isometry3<f64>>,
    /// The kit, without tolerances.
    pub kit: Kit,
}

/// A car top and a kit that the stated ones may stand for, with nothing left uncertain but the
/// meshing of the kit's parts.
///
/// Every dimension of the kit lies within its tolerance, every body of the car top is moved as a whole
/// by no more than its deviation, and the figures of the ports are wrong by no more than theirs. The
/// plate stays where it is: its frame is what the others are measured in. A kit has one figure for
/// all parts of a kind, so that its two feet are drawn alike. The kit may contradict itself; making
/// its parts tells.
pub fn as_built(car: &CarTop, kit: &Kit, numbers: &mut Numbers<'_>) -> AsBuilt {
    let (mut car, mut kit) = (car.clone(), kit.clone());
    for dim in dims(&mut kit) {
        dim.nominal += dim.tolerance * numbers();
        dim.tolerance = 0.0;
    }
    let plate = car.plate;
    let mut moved = Vec::with_capacity(car.bodies.len());
    for (index, body) in car.bodies.iter_mut().enumerate() {
        let deviation = &mut body.body.deviation;
        moved.push(if index == plate.0 {
            Isometry3::identity()
        } else {
            displace(&mut body.body.mesh, deviation.bound, numbers)
        });
        deviation.bound = 0.0;
    }
    for port in &mut car.ports {
        redraw(port, numbers);
    }
    AsBuilt { car, moved, kit }
}

/// Moves a body so that no point of it moves farther than `bound`, mm: shifted by a part of the bound
/// and turned about its middle by as much as the rest of it allows.
fn displace(mesh: &mut Mesh, bound: f64, numbers: &mut Numbers<'_>) -> Isometry3<f64> {
    let part = 0.5 * (1.0 + numbers());
    let (shift, turn) = (in_ball(numbers), in_ball(numbers));
    let Some((low, high)) = mesh.bounds() else { return Isometry3::identity() };
    if bound <= 0.0 || !bound.is_finite() {
        return Isometry3::identity();
    }
    let middle = nalgebra::center(&low, &high);
    let radius = mesh.vertices.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max);
    let turn = if radius > 0.0 { turn * ((1.0 - part) * bound / radius) } else { turn * 0.0 };
    let about = Isometry3::rotation_wrt_point(UnitQuaternion::from_scaled_axis(turn), middle);
    let moved: Isometry3<f64> = Translation3::from(shift * (part * bound)) * about;
    for p in &mut mesh.vertices {
        *p = moved * *p;
    }
    moved
}

/// The middle of a port's upper edge lies within its deviation, and so do its other figures.
fn redraw(port: &mut Port, numbers: &mut Numbers<'_>) {
    let by = in_ball(numbers) * port.deviation;
    port.at += by.xy();
    let upper = port.sill + port.height + by.z;
    port.height += port.deviation * numbers();
    port.width += port.deviation * numbers();
    port.wall += port.deviation * numbers();
    port.sill = upper - port.height;
    port.deviation = 0.0;
}

/// A point of the ball of radius one: one of the cube, brought in along its ray.
fn in_ball(numbers: &mut Numbers<'_>) -> Vector3<f64> {
    let cube = Vector3::new(numbers(), numbers(), numbers());
    let length = cube.norm();
    if length > 0.0 { cube * (cube.amax() / length) } else { cube }
}

/// Every dimension of a kit.
pub fn dims(kit: &mut Kit) -> Vec<&mut Dim> {
    let Kit {
        title: _,
        unit: _,
        chord_error: _,
        rules: _,
        cups,
        gaskets,
        outlet: o,
        bar: b,
        saddle: s,
        link: l,
        foot: f,
        lower_pin,
        upper_pin,
        screw: w,
        hold: _,
        steps: _,
    } = kit;
    let mut all = Vec::new();
    for c in cups {
        all.extend([&mut c.inside_diameter, &mut c.wall, &mut c.inside_height, &mut c.crown]);
        all.extend([&mut c.seat_diameter, &mut c.seat_height, &mut c.seat_depth]);
        all.extend([&mut c.port_height, &mut c.port_diameter, &mut c.port_bore, &mut c.port_face]);
    }
    for g in gaskets {
        all.extend([&mut g.inside_diameter, &mut g.outside_diameter]);
        all.extend([&mut g.thickness, &mut g.groove_depth]);
    }
    all.extend([&mut o.pipe_diameter, &mut o.port_nipple, &mut o.elbow_centre_to_end]);
    all.extend([&mut o.elbow_band, &mut o.riser_nipple, &mut o.valve_length]);
    all.extend([&mut o.valve_diameter, &mut o.stem_height, &mut o.handle_length]);
    all.extend([&mut o.handle_width, &mut o.handle_thickness]);
    all.extend([&mut b.length, &mut b.rail_width, &mut b.rail_height, &mut b.slot, &mut b.end]);
    all.extend([&mut s.length, &mut s.stem_width, &mut s.top_width, &mut s.top_height]);
    all.extend([&mut s.pin_drop, &mut s.edge, &mut s.hole]);
    all.extend([&mut l.width, &mut l.hole, &mut l.edge]);
    all.extend(l.thicknesses.iter_mut().chain(&mut l.holes));
    all.extend([&mut f.depth, &mut f.width, &mut f.height, &mut f.seat, &mut f.hole]);
    for Pin { diameter, length, head_diameter, head_thickness, fitted_on_car: _ } in
        [lower_pin, upper_pin]
    {
        all.extend([diameter, length, head_diameter, head_thickness]);
    }
    all.extend([&mut w.diameter, &mut w.ball_diameter, &mut w.length, &mut w.retracted]);
    all.extend([&mut w.travel, &mut w.handle_length, &mut w.handle_diameter, &mut w.handle_drop]);
    all.extend([&mut w.block_length, &mut w.block_width, &mut w.block_height]);
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_point_of_a_body_moves_farther_than_its_deviation(
            numbers in prop::collection::vec(prop_oneof![Just(-1.0), Just(1.0), -1.0..1.0_f64], 7),
            points in prop::collection::vec(prop::array::uniform3(-300.0..300.0_f64), 2..9),
            bound in 0.0..3.0_f64,
        ) {
            let vertices: Vec<_> = points.into_iter().map(Point3::from).collect();
            let mut mesh = Mesh { vertices: vertices.clone(), triangles: vec![] };
            let mut next = numbers.into_iter();
            let moved = displace(&mut mesh, bound, &mut || next.next().unwrap());
            for (p, q) in vertices.iter().zip(&mesh.vertices) {
                prop_assert!((moved * p - q).norm() < 1e-9);
                prop_assert!((p - q).norm() <= bound + 1e-9);
            }
        }
    }
}
