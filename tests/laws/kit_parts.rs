//! Laws of the kit's parts: whatever plausible dimensions a kit has, its parts are sound solids of
//! those dimensions that touch where they should.

// The helpers outside of test functions unwrap as the tests do.
#![allow(clippy::unwrap_used)]

#[path = "../support/sample_kit.rs"]
mod sample_kit;

use assembly::kit::{Dim, Kit};
use assembly::parts::{self, PartError};
use assembly::placement::{End, Side};
use assembly::rig::{RigPart, gasket_of, rim_height, seat_height};
use measure::Angle;
use nalgebra::Point3;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use sample_kit::sample_kit;
use solids::{Body, Mesh, area, soundness, volume, winding_number};
use std::f64::consts::PI;

/// Kits around the sample: every dimension scaled by its own factor, so that every part changes in
/// its proportions and some dimensions swap their order.
fn kits() -> impl Strategy<Value = Kit> {
    let factors = prop::collection::vec(0.95..1.05_f64, 70);
    // Short swings are frequent: their tip is not round.
    let swing = prop_oneof![2 => -330.0..330.0_f64, 1 => -20.0..20.0_f64, 1 => Just(0.0)];
    (0.5..2.0_f64, factors, 0.02..0.3_f64, swing, any::<bool>()).prop_map(
        |(size, factors, chord, swing, deep_seat)| {
            let mut kit = sample_kit();
            kit.chord_error = chord;
            kit.outlet.handle_swing = Angle::from_degrees(swing);
            if deep_seat {
                let ball = kit.screw.ball_diameter.nominal;
                kit.cups[0].seat_depth.nominal = 0.6 * ball;
                kit.cups[0].seat_height.nominal = 0.7 * ball;
            }
            let mut factor = factors.into_iter();
            for d in dims(&mut kit) {
                d.nominal *= size * factor.next().unwrap();
            }
            // Holes keep their order and their room between them.
            let first = kit.link.holes[0].nominal;
            kit.link.holes[1].nominal = 1.125 * first;
            kit.link.holes[2].nominal = 1.25 * first;
            kit
        },
    )
}

/// How wide the narrower of the two lips beside the gasket's groove is, mm, with 0.5 mm of play
/// beside the cup's wall; or how far it is from being there.
fn narrowest_lip(kit: &Kit) -> f64 {
    let (c, g) = (&kit.cups[0], &kit.gaskets[0]);
    let (inside, wall) = (0.5 * c.inside_diameter.nominal, c.wall.nominal);
    let outer = 0.5 * g.outside_diameter.nominal - inside - wall - 0.5;
    let inner = inside - 0.5 - 0.5 * g.inside_diameter.nominal;
    outer.abs().min(inner.abs())
}

/// Every dimension of a kit with one cup, one gasket.
fn dims(kit: &mut Kit) -> Vec<&mut Dim> {
    let (c, g, o) = (&mut kit.cups[0], &mut kit.gaskets[0], &mut kit.outlet);
    let (b, s, l, f) = (&mut kit.bar, &mut kit.saddle, &mut kit.link, &mut kit.foot);
    let w = &mut kit.screw;
    let mut all = vec![
        &mut c.inside_diameter,
        &mut c.wall,
        &mut c.inside_height,
        &mut c.crown,
        &mut c.seat_diameter,
        &mut c.seat_height,
        &mut c.seat_depth,
        &mut c.port_height,
        &mut c.port_diameter,
        &mut c.port_bore,
        &mut c.port_face,
        &mut g.inside_diameter,
        &mut g.outside_diameter,
        &mut g.thickness,
        &mut g.groove_depth,
        &mut o.pipe_diameter,
        &mut o.port_nipple,
        &mut o.elbow_centre_to_end,
        &mut o.elbow_band,
        &mut o.riser_nipple,
        &mut o.valve_length,
        &mut o.valve_diameter,
        &mut o.stem_height,
        &mut o.handle_length,
        &mut o.handle_width,
        &mut o.handle_thickness,
        &mut b.length,
        &mut b.rail_width,
        &mut b.rail_height,
        &mut b.slot,
        &mut b.end,
        &mut s.length,
        &mut s.stem_width,
        &mut s.top_width,
        &mut s.top_height,
        &mut s.pin_drop,
        &mut s.edge,
        &mut s.hole,
        &mut l.width,
        &mut l.hole,
        &mut l.edge,
        &mut f.depth,
        &mut f.width,
        &mut f.height,
        &mut f.seat,
        &mut f.hole,
        &mut w.diameter,
        &mut w.ball_diameter,
        &mut w.length,
        &mut w.handle_length,
        &mut w.handle_diameter,
        &mut w.handle_drop,
        &mut w.block_length,
        &mut w.block_width,
        &mut w.block_height,
    ];
    all.extend(l.thicknesses.iter_mut().chain(&mut l.holes));
    for p in [&mut kit.lower_pin, &mut kit.upper_pin] {
        all.extend([&mut p.diameter, &mut p.length, &mut p.head_diameter, &mut p.head_thickness]);
    }
    all
}

const LINKS: [[usize; 2]; 2] = [[0, 1], [2, 0]];

fn body(kit: &Kit, part: RigPart) -> Body {
    parts::body(kit, &kit.cups[0], LINKS, part).unwrap()
}

/// Every part's solid; pin paths whether fitted on the car or not.
fn bodies(kit: &Kit) -> Vec<(RigPart, Body)> {
    let mut kit = kit.clone();
    kit.upper_pin.fitted_on_car = true;
    RigPart::all(&kit).into_iter().map(|part| (part, body(&kit, part))).collect()
}

fn assert_box(mesh: &Mesh, low: [f64; 3], high: [f64; 3]) {
    let (lo, hi) = mesh.bounds().unwrap();
    let off = (lo - Point3::from(low)).amax().max((hi - Point3::from(high)).amax());
    assert!(off < 1e-9, "{lo} {hi} instead of {low:?} {high:?}");
}

/// The volume agrees with a closed form to within the chord error over the whole surface.
fn assert_volume(kit: &Kit, mesh: &Mesh, exact: f64) {
    let off = (volume(mesh) - exact).abs();
    assert!(off <= kit.chord_error * area(mesh) + 1e-9 * exact, "{} {exact}", volume(mesh));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn every_part_is_a_sound_solid(kit in kits()) {
        prop_assume!(parts::faults(&kit).is_empty());
        let bodies = bodies(&kit);
        prop_assert_eq!(bodies.len(), 25);
        for (part, body) in bodies {
            let found = soundness(&body.mesh);
            prop_assert!(found.is_sound(), "{part:?} {found:?}");
            let shells = match part {
                RigPart::Outlet | RigPart::Screw | RigPart::ScrewBlock => 2,
                _ => 1,
            };
            prop_assert_eq!(found.components, shells, "{:?}", part);
            prop_assert!(volume(&body.mesh) > 0.0);
            // A lip so narrow that the tolerances decide whether it is there is in doubt whole.
            let doubtful = part == RigPart::Gasket && narrowest_lip(&kit) < 0.25;
            let most = if doubtful { kit.gaskets[0].groove_depth.nominal } else { 0.0 } + 1.5;
            let bound = body.deviation.bound;
            prop_assert!(bound >= 0.1 && bound < most, "{:?} {:?}", part, body.deviation);
            prop_assert!(body.deviation.basis.contains("chord error"));
        }
    }

    #[test]
    fn parts_fill_the_boxes_of_their_dimensions(kit in kits()) {
        prop_assume!(parts::faults(&kit).is_empty());
        let n = |d: Dim| d.nominal;
        let mesh = |part| body(&kit, part).mesh;

        let (c, g) = (&kit.cups[0], &kit.gaskets[0]);
        let (rim, outside) = (n(g.thickness) - n(g.groove_depth), 0.5 * n(c.inside_diameter) + n(c.wall));
        let top = rim + n(c.inside_height) + n(c.crown) + n(c.seat_height);
        assert_box(
            &mesh(RigPart::Cup),
            [-outside, -outside, rim],
            [outside, outside, top],
        );
        let (axis, boss) = (rim + n(c.port_height), 0.5 * n(c.port_diameter));
        let from = 0.5 * (n(c.inside_diameter) + n(c.wall));
        assert_box(
            &mesh(RigPart::SidePort),
            [(from * from - boss * boss).sqrt(), -boss, axis - boss],
            [n(c.port_face), boss, axis + boss],
        );
        let ring = 0.5 * n(g.outside_diameter);
        assert_box(&mesh(RigPart::Gasket), [-ring, -ring, 0.0], [ring, ring, n(g.thickness)]);

        let b = &kit.bar;
        let (x, y) = (0.5 * n(b.length), 0.5 * n(b.slot) + n(b.rail_width));
        assert_box(&mesh(RigPart::Bar), [-x, -y, 0.0], [x, y, n(b.rail_height)]);

        let s = &kit.saddle;
        let (x, y) = (0.5 * n(s.length), 0.5 * n(s.top_width));
        let high = n(s.pin_drop) + n(b.rail_height) + n(s.top_height);
        assert_box(&mesh(RigPart::Saddle(End::A)), [-x, -y, -n(s.edge)], [x, y, high]);

        let l = &kit.link;
        let y = 0.5 * n(l.width);
        let high = l.holes.iter().map(|h| h.nominal).fold(0.0, f64::max) + n(l.edge);
        for (end, side) in [(End::A, Side::Inside), (End::A, Side::Outside), (End::B, Side::Inside)] {
            let x = 0.5 * n(l.thicknesses[LINKS[end.index()][side.index()]]);
            let link = mesh(RigPart::Link(end, side));
            let (lo, hi) = link.bounds().unwrap();
            // The round ends' tops need not be corners of their chords.
            let off = (lo - Point3::new(-x, -y, -n(l.edge))).amax()
                .max((hi - Point3::new(x, y, high)).amax());
            prop_assert!(off <= kit.chord_error, "{off}");
        }

        let f = &kit.foot;
        let (x, y) = (0.5 * n(f.depth), 0.5 * n(f.width));
        assert_box(
            &mesh(RigPart::Foot(End::A)),
            [-x, -y, n(f.seat) - n(f.height)],
            [x, y, n(f.seat)],
        );

        for (end, outside) in [(End::A, 1), (End::B, 0)] {
            let p = &kit.lower_pin;
            let under_head = 0.5 * n(f.depth) + n(l.thicknesses[outside]);
            let (r, outer) = (0.5 * n(p.head_diameter), under_head + n(p.head_thickness));
            let inner = under_head - n(p.length);
            assert_box(&mesh(RigPart::LowerPin(end)), [inner, -r, -r], [outer, r, r]);
            let far = outer + n(p.length) + kit.rules.pin_hand_room;
            assert_box(&mesh(RigPart::LowerPinPath(end)), [outer, -r, -r], [far, r, r]);
        }

        let w = &kit.screw;
        let y = (0.5 * n(w.diameter)).max(0.5 * n(w.ball_diameter));
        let half = 0.5 * n(w.handle_length);
        let (lo, hi) = mesh(RigPart::Screw).bounds().unwrap();
        let off = (lo - Point3::new(-half, -y, -0.5 * n(w.ball_diameter))).amax()
            .max((hi - Point3::new(half, y, n(w.length))).amax());
        prop_assert!(off <= kit.chord_error, "{off}");
        let (x, y) = (0.5 * n(w.block_length), 0.5 * n(w.block_width));
        let y = y.max(0.5 * n(b.slot) - 0.5);
        assert_box(
            &mesh(RigPart::ScrewBlock),
            [-x, -y, -n(w.block_height)],
            [x, y, n(b.rail_height)],
        );
    }

    #[test]
    fn parts_have_the_volumes_of_their_shapes(kit in kits()) {
        prop_assume!(parts::faults(&kit).is_empty());
        let n = |d: Dim| d.nominal;
        let disc = |d: f64| 0.25 * PI * d * d;
        let check = |part, exact: f64| assert_volume(&kit, &body(&kit, part).mesh, exact);

        let b = &kit.bar;
        let slot = (n(b.length) - 2.0 * n(b.end)) * n(b.slot);
        let plan = n(b.length) * (n(b.slot) + 2.0 * n(b.rail_width)) - slot;
        check(RigPart::Bar, plan * n(b.rail_height));

        let l = &kit.link;
        let last = l.holes.iter().map(|h| h.nominal).fold(0.0, f64::max);
        let plan = n(l.width) * (last + 2.0 * n(l.edge) - n(l.width)) + disc(n(l.width))
            - 4.0 * disc(n(l.hole));
        check(RigPart::Link(End::B, Side::Inside), plan * n(l.thicknesses[2]));

        let f = &kit.foot;
        check(RigPart::Foot(End::B), (n(f.width) * n(f.height) - disc(n(f.hole))) * n(f.depth));

        let s = &kit.saddle;
        let front = n(s.stem_width) * (n(s.edge) + n(s.pin_drop) + n(b.rail_height))
            + n(s.top_width) * n(s.top_height) - disc(n(s.hole));
        check(RigPart::Saddle(End::A), front * n(s.length));

        let p = &kit.upper_pin;
        let pin = disc(n(p.diameter)) * n(p.length) + disc(n(p.head_diameter)) * n(p.head_thickness);
        check(RigPart::UpperPin(End::A), pin);

        let (c, g) = (&kit.cups[0], &kit.gaskets[0]);
        let groove = disc(n(c.inside_diameter) + 2.0 * n(c.wall) + 1.0) - disc(n(c.inside_diameter) - 1.0);
        if n(c.inside_diameter) - 1.0 > n(g.inside_diameter)
            && n(c.inside_diameter) + 2.0 * n(c.wall) + 1.0 < n(g.outside_diameter)
        {
            let ring = disc(n(g.outside_diameter)) - disc(n(g.inside_diameter));
            check(RigPart::Gasket, ring * n(g.thickness) - groove * n(g.groove_depth));
        }
    }

    /// Points just inside and just outside of faces that touch another part by design.
    #[test]
    fn parts_touch_where_they_should(kit in kits()) {
        prop_assume!(parts::faults(&kit).is_empty());
        let c = &kit.cups[0];
        let g = gasket_of(&kit, c).unwrap();
        let wanted = [RigPart::Cup, RigPart::SidePort, RigPart::Gasket, RigPart::Screw, RigPart::OutletHandle];
        let meshes = wanted.map(|part| (part, body(&kit, part).mesh));
        let inside = |part, x: f64, y: f64, z: f64| {
            let mesh = &meshes.iter().find(|m| m.0 == part).unwrap().1;
            winding_number(mesh, &Point3::new(x, y, z)) > 0.5
        };
        let step = 1.01 * kit.chord_error;

        // Rim on the groove's bottom, away from the side port.
        let wall = -0.5 * (c.inside_diameter.nominal + c.wall.nominal);
        prop_assert!(inside(RigPart::Cup, wall, 0.0, rim_height(g) + 1e-6));
        prop_assert!(!inside(RigPart::Cup, wall, 0.0, rim_height(g) - 1e-6));
        prop_assert!(inside(RigPart::Gasket, wall, 0.0, rim_height(g) - 1e-6));
        prop_assert!(!inside(RigPart::Gasket, wall, 0.0, rim_height(g) + 1e-6));

        // Ball in its socket, along a ray from the ball's centre.
        let ball = 0.5 * kit.screw.ball_diameter.nominal;
        let centre = seat_height(&kit, c, g);
        for (x, y, z) in [(0.0_f64, 0.0_f64, -1.0_f64), (0.2, 0.1, -1.0), (-0.1, 0.3, -1.0)] {
            let k = (x * x + y * y + z * z).sqrt().recip();
            let at = |r: f64| (x * k * r, y * k * r, z * k * r);
            let (x, y, z) = at(ball - step);
            prop_assert!(inside(RigPart::Screw, x, y, z));
            prop_assert!(!inside(RigPart::Cup, x, y, centre + z));
            let (x, y, z) = at(ball + step);
            prop_assert!(!inside(RigPart::Screw, x, y, z));
            prop_assert!(inside(RigPart::Cup, x, y, centre + z));
        }

        // The side port's boss stands in the wall and reaches its face.
        let axis = rim_height(g) + c.port_height.nominal;
        let middle = 0.4 * c.port_diameter.nominal;
        let cavity = 0.5 * c.inside_diameter.nominal;
        let port = &meshes.iter().find(|m| m.0 == RigPart::SidePort).unwrap().1;
        prop_assert!(port.vertices.iter().all(|p| p.coords.xy().norm() > cavity));
        prop_assert!(inside(RigPart::SidePort, c.port_face.nominal - 1e-6, 0.0, axis + middle));
        prop_assert!(!inside(RigPart::SidePort, c.port_face.nominal + 1e-6, 0.0, axis + middle));

        // Handle at the start and at the end of its swing; the hub between.
        let o = &kit.outlet;
        let leg = o.elbow_centre_to_end.nominal;
        let x = o.port_nipple.nominal + leg + o.stem_height.nominal + 0.5 * o.handle_thickness.nominal;
        let stem = leg + o.riser_nipple.nominal + 0.5 * o.valve_length.nominal;
        let swing = o.handle_swing.radians();
        for part in 0..=8 {
            let (sin, cos) = (swing * f64::from(part) / 8.0).sin_cos();
            for (along, across) in [(0.99, 0.0), (0.98, 0.9), (0.98, -0.9), (0.05, 0.0)] {
                let along = along * o.handle_length.nominal;
                let across = across * (0.5 * o.handle_width.nominal - step);
                let at = (along * sin + across * cos, stem + along * cos - across * sin);
                prop_assert!(inside(RigPart::OutletHandle, x, at.0, at.1));
            }
        }
        // The tip's corners go furthest; where neither corner passes, it is an edge that does.
        let (length, half) = (o.handle_length.nominal, 0.5 * o.handle_width.nominal);
        let corner = half.atan2(length);
        for part in -4..=12 {
            let at = swing * f64::from(part) / 8.0;
            let nearest = |way: f64| (way - at).abs() - 0.5 * swing.abs();
            let off = nearest(0.5 * swing + corner).min(nearest(0.5 * swing - corner));
            let end = at.abs().max((at - swing).abs());
            let out = if off <= 0.0 { length.hypot(half) } else { length / end.min(corner).cos() };
            let (sin, cos) = at.sin_cos();
            let beyond = out + 1e-6;
            prop_assert!(!inside(RigPart::OutletHandle, x, beyond * sin, stem + beyond * cos));
        }
        // What the handle never reaches: straight back, when the swing stays short of it.
        if swing.abs() < 2.5 {
            let back = 0.5 * swing + PI;
            let (sin, cos) = back.sin_cos();
            let out = o.handle_width.nominal;
            prop_assert!(!inside(RigPart::OutletHandle, x, out * sin, stem + out * cos));
        }
    }
}

/// That the strategy above mostly makes kits that can be built; otherwise the laws say little.
#[test]
fn most_kits_of_these_laws_can_be_built() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let good = (0..200)
        .filter(|_| {
            let kit = kits().new_tree(&mut runner).unwrap().current();
            parts::faults(&kit).is_empty()
        })
        .count();
    assert!(good > 150, "{good} of 200");
}

#[test]
fn two_builds_are_the_same_to_the_bit() {
    let kit = sample_kit();
    assert_eq!(bodies(&kit), bodies(&kit));
}

/// Makes a kit contradict itself.
type Spoil = fn(&mut Kit);

#[test]
fn dimensions_that_contradict_each_other_are_named() {
    assert_eq!(parts::faults(&sample_kit()), []);
    let cases: [(&str, Spoil); 14] = [
        ("chord error", |k| k.chord_error = 0.0),
        ("no gasket", |k| k.gaskets.clear()),
        ("thickness number", |k| k.link.thicknesses.clear()),
        ("greater than zero", |k| k.foot.depth.nominal = -1.0),
        ("greater than zero", |k| k.screw.ball_diameter.nominal = f64::NAN),
        ("no tolerance negative", |k| k.bar.slot.tolerance = -0.1),
        ("wall's width", |k| k.cups[0].port_height.nominal = 30.0),
        ("port-bore", |k| k.cups[0].port_bore.nominal = 90.0),
        ("port-face", |k| k.cups[0].port_face.nominal = 100.0),
        ("twice end", |k| k.bar.end.nominal = 400.0),
        ("within the stem", |k| k.saddle.hole.nominal = 50.0),
        ("outline", |k| k.link.holes[1].nominal = 245.0),
        ("elbow-centre-to-end", |k| k.outlet.elbow_centre_to_end.nominal = 40.0),
        ("slot", |k| k.screw.diameter.nominal = 53.5),
    ];
    for (word, spoil) in cases {
        let mut kit = sample_kit();
        spoil(&mut kit);
        let faults = parts::faults(&kit);
        assert!(faults.iter().any(|f| f.to_string().contains(word)), "{word}: {faults:?}");
    }
}

#[test]
fn a_missing_thickness_is_an_error() {
    let kit = sample_kit();
    assert_eq!(parts::link(&kit, 3), Err(PartError::NoThickness(3)));
    assert_eq!(parts::lower_pin(&kit, 9), Err(PartError::NoThickness(9)));
}
