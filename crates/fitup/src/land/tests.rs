//! Lands whose figures are closed forms, lands with noise, and lands changed in ways that must be
//! noticed. All dimensions are invented.

use super::*;
use nalgebra::{Rotation3, Translation3};
use proptest::prelude::*;
use solids::Mesh;
use solids::build::{ChordError, block, cylinder, extrude};
use std::f64::consts::TAU;

const RADII: [f64; 2] = [84.0, 116.0];
const TOLERANCE: f64 = 0.8;

fn asking(deviation: f64) -> Asking {
    Asking { axis: Point2::origin(), radii: RADII, tolerance: TOLERANCE, deviation }
}

fn land(mesh: &Mesh, deviation: f64) -> Land {
    Land::of(&Top::of(mesh, true), &asking(deviation))
}

/// A closed plate 50 mm thick over the lines of a grid, its top at given heights.
fn plate(xs: &[f64], ys: &[f64], z: impl Fn(f64, f64) -> f64) -> Mesh {
    let (nx, ny) = (xs.len(), ys.len());
    let mut mesh = Mesh::default();
    for (x, y) in ys.iter().flat_map(|y| xs.iter().map(move |x| (*x, *y))) {
        mesh.vertices.push(Point3::new(x, y, z(x, y)));
    }
    for (x, y) in ys.iter().flat_map(|y| xs.iter().map(move |x| (*x, *y))) {
        mesh.vertices.push(Point3::new(x, y, -50.0));
    }
    let at = |i: usize, j: usize| u32::try_from(j * nx + i).unwrap();
    let below = u32::try_from(nx * ny).unwrap();
    let mut quad = |a: u32, b: u32, c: u32, d: u32| {
        mesh.triangles.extend([[a, b, c], [a, c, d]]);
    };
    for j in 0..ny - 1 {
        for i in 0..nx - 1 {
            let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            quad(a, b, c, d);
            quad(a + below, d + below, c + below, b + below);
        }
    }
    for i in 0..nx - 1 {
        for (a, b) in [(at(i + 1, 0), at(i, 0)), (at(i, ny - 1), at(i + 1, ny - 1))] {
            quad(a, b, b + below, a + below);
        }
    }
    for j in 0..ny - 1 {
        for (a, b) in [(at(0, j), at(0, j + 1)), (at(nx - 1, j + 1), at(nx - 1, j))] {
            quad(a, b, b + below, a + below);
        }
    }
    mesh
}

fn lines(count: usize) -> Vec<f64> {
    (0..=count).map(|i| -150.0 + 300.0 * i as f64 / count as f64).collect()
}

fn slab(x: [f64; 2], y: [f64; 2], z: [f64; 2]) -> Mesh {
    block(Point3::new(x[0], y[0], z[0]), Point3::new(x[1], y[1], z[1])).unwrap()
}

fn circle(x: f64, y: f64, radius: f64, count: usize) -> Vec<Point2<f64>> {
    (0..count)
        .map(|i| {
            let (sin, cos) = (TAU * i as f64 / count as f64).sin_cos();
            Point2::new(x + radius * cos, y + radius * sin)
        })
        .collect()
}

fn turned(mesh: &Mesh, degrees: f64) -> Mesh {
    let turn = Rotation3::from_axis_angle(&Vector3::z_axis(), degrees.to_radians());
    mesh.transformed(&nalgebra::Isometry3::from_parts(Translation3::identity(), turn.into()))
}

/// Every triangle in four.
fn refined(mesh: &Mesh) -> Mesh {
    let mut finer = Mesh::default();
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(t);
        let [d, e, f] = [(a, b), (b, c), (c, a)].map(|(p, q)| {
            // The same point from both sides.
            let (p, q) = if [p.x, p.y, p.z] < [q.x, q.y, q.z] { (p, q) } else { (q, p) };
            nalgebra::center(&p, &q)
        });
        for corners in [[a, d, f], [d, b, e], [f, e, c], [d, e, f]] {
            let first = u32::try_from(finer.vertices.len()).unwrap();
            finer.vertices.extend(corners);
            finer.triangles.push([first, first + 1, first + 2]);
        }
    }
    finer
}

#[track_caller]
fn near(found: Interval, expected: f64, within: f64) {
    assert!(
        found.low - within <= expected && expected <= found.high + within,
        "{expected} is not in {found:?}"
    );
    assert!(found.high - found.low <= 0.02 + within, "{found:?} is too wide to say anything");
}

fn departure(land: &Land) -> Interval {
    land.flatness.unwrap().departure
}

fn whole(land: &Land) -> bool {
    land.seal_width.low >= RADII[1] - RADII[0]
}

#[test]
fn a_tilted_plate_is_flat() {
    let mesh = plate(&lines(7), &lines(9), |x, y| 0.02 * x - 0.01 * y + 0.3);
    let found = land(&mesh, 0.0);
    assert!(departure(&found).high < 1e-8 && whole(&found), "{found:?}");
}

#[test]
fn a_dished_plate_departs_by_the_formula() {
    // z = -k r^2 over the ring: the heights' range k (R^2 - r^2), half of it the least departure;
    // by symmetry the best plane is level. Chords of a 2.5 mm grid are off by k 2.5^2 / 4 at most.
    let k = 1e-4;
    let mesh = plate(&lines(120), &lines(120), |x, y| -k * (x * x + y * y));
    let found = land(&mesh, 0.0);
    let formula = 0.5 * k * (RADII[1] * RADII[1] - RADII[0] * RADII[0]);
    near(departure(&found), formula, 2.0 * k * 2.5 * 2.5);
    assert!(whole(&found));
    // The same from a sphere: sagitta R - sqrt(R^2 - r^2).
    let radius: f64 = 2000.0;
    let sag = |r: f64| radius - (radius * radius - r * r).sqrt();
    let mesh = plate(&lines(120), &lines(120), |x, y| -sag(x.hypot(y)));
    let formula = 0.5 * (sag(RADII[1]) - sag(RADII[0]));
    near(departure(&land(&mesh, 0.0)), formula, 2.5 * 2.5 / radius);
}

#[test]
fn a_step_across_the_land_departs_by_half_its_height() {
    // Both edges of the step have the same place seen from above: no plane is nearer to both.
    let mut mesh = slab([-150.0, 0.0], [-150.0, 150.0], [-50.0, 0.0]);
    mesh.append(&slab([0.0, 150.0], [-150.0, 150.0], [-50.0, -6.0]));
    near(departure(&land(&mesh, 0.0)), 3.0, 1e-3);
}

#[test]
fn a_narrow_groove_across_the_land_is_found_at_its_bearing() {
    // 0.3 mm wide and 2 mm deep, along a ray: at bearings 2 degrees apart it would be missed.
    for degrees in [0.0, 37.3, 180.0, 271.0] {
        let mut mesh = slab([-150.0, 150.0], [-150.0, -0.15], [-50.0, 0.0]);
        mesh.append(&slab([-150.0, 150.0], [0.15, 150.0], [-50.0, 0.0]));
        mesh.append(&slab([-150.0, 10.0], [-0.15, 0.15], [-50.0, 0.0]));
        mesh.append(&slab([10.0, 150.0], [-0.15, 0.15], [-50.0, -2.0]));
        let found = land(&turned(&mesh, degrees), 0.0);
        assert!(found.seal_width.high < 1e-9, "{found:?}");
        let off = found.narrowest.degrees() - degrees;
        let off = (off + 180.0).rem_euclid(360.0) - 180.0;
        assert!(off.abs() <= (0.15_f64 / RADII[0]).asin().to_degrees() + 1e-9, "{found:?}");
    }
}

#[test]
fn a_groove_along_the_land_leaves_what_is_beside_it() {
    // From x = 99.9 to 100.1, straight: narrowest where it crosses the x axis, 16 less a tenth.
    let mut mesh = slab([-150.0, 99.9], [-150.0, 150.0], [-50.0, 0.0]);
    mesh.append(&slab([99.9, 100.1], [-150.0, 150.0], [-50.0, -2.0]));
    mesh.append(&slab([100.1, 150.0], [-150.0, 150.0], [-50.0, 0.0]));
    // Toward +x there are 15.9 mm inside the groove and 15.9 mm beyond it; at another bearing one
    // of both grows.
    let found = land(&mesh, 0.0);
    near(found.seal_width, 15.9, 1e-9);
    assert!(found.narrowest.degrees().abs() < 2.0, "{found:?}");
    // Within 0.05 mm of the truth: 15.8 to 16.0 for certain.
    let found = land(&mesh, 0.05);
    assert!((found.seal_width.low - 15.85).abs() < 0.011, "{found:?}");
    assert!((found.seal_width.high - 15.95).abs() < 0.011, "{found:?}");
}

#[test]
fn borders_along_a_bearing_are_widened_as_well() {
    // Two pits that share no bearing, 0.1 mm apart: one from y = 0 up, its side along the x axis,
    // at x from 92 to 97, one from y = -0.1 down at x from 103 to 108. Each alone leaves 19 mm;
    // within 0.1 mm of the truth they may lie at one bearing and leave 8 mm, a little less.
    let pits = |xs: [[f64; 2]; 2]| {
        let mut mesh = slab([-150.0, 150.0], [2.0, 150.0], [-50.0, 0.0]);
        mesh.append(&slab([-150.0, 150.0], [-150.0, -2.1], [-50.0, 0.0]));
        mesh.append(&slab([-150.0, 150.0], [-0.1, 0.0], [-50.0, 0.0]));
        for ([from, to], y) in xs.into_iter().zip([[0.0, 2.0], [-2.1, -0.1]]) {
            mesh.append(&slab([-150.0, from], y, [-50.0, 0.0]));
            mesh.append(&slab([to, 150.0], y, [-50.0, 0.0]));
            mesh.append(&slab([from, to], y, [-50.0, -5.0]));
        }
        mesh
    };
    let mesh = pits([[92.0, 97.0], [103.0, 108.0]]);
    for degrees in [0.0, 1.0, 37.3, 180.0] {
        let mesh = turned(&mesh, degrees);
        let apart = land(&mesh, 0.0).seal_width;
        assert!(apart.low > 18.9, "{apart:?}");
        let close = land(&mesh, 0.1).seal_width;
        assert!(close.low < 8.0 && close.high > 18.9, "{close:?}");
    }
}

#[test]
fn an_off_centre_hole_leaves_the_width_of_the_formula() {
    // A round hole of radius 6 about x = 97: toward it 7 mm inside and 13 mm beyond it. As far as
    // the hole reaches in bearing, the longest run is the one beyond it.
    let square = [(-150.0, -150.0), (150.0, -150.0), (150.0, 150.0), (-150.0, 150.0)];
    let outline = square.map(|(x, y)| Point2::new(x, y));
    let mesh = extrude(&outline, &[circle(97.0, 0.0, 6.0, 400)], -50.0, 0.0).unwrap();
    let found = land(&mesh, 0.0);
    // At bearing t the hole's far side is at 97 cos t + sqrt(36 - 97^2 sin^2 t), farthest at t = 0.
    near(found.seal_width, RADII[1] - 103.0, 1e-3);
    assert!(found.narrowest.degrees().abs() < 0.5, "{found:?}");
}

#[test]
fn a_round_plates_edge_leaves_the_width_of_the_formula() {
    // Radius 120 about x = -15, y = 8: the edge is nearest opposite to that, at 120 less 17.
    let chord = ChordError::from_mm(0.001).unwrap();
    let (from, to) = (Point3::new(-15.0, 8.0, -50.0), Point3::new(-15.0, 8.0, 0.0));
    let mesh = cylinder(from, to, 120.0, chord).unwrap();
    let found = land(&mesh, 0.0);
    near(found.seal_width, 120.0 - 17.0 - RADII[0], 0.002);
    let toward = (-8.0_f64).atan2(15.0).to_degrees();
    assert!((found.narrowest.degrees() - toward).abs() < 1.0, "{found:?}");
    // The edge may be nearer or farther by the deviation, and so may no more.
    let found = land(&mesh, 0.25);
    assert!((found.seal_width.low - 18.75).abs() < 0.02, "{found:?}");
    assert!((found.seal_width.high - 19.25).abs() < 0.02, "{found:?}");
}

#[test]
fn what_hangs_over_the_land_stands_in_it_and_what_lies_under_it_does_not() {
    let flat = slab([-150.0, 150.0], [-150.0, 150.0], [-50.0, 0.0]);
    // A roof over x > 104, 5 to 60 mm up, part of the plate's mesh.
    let mut roofed = flat.clone();
    roofed.append(&slab([104.0, 150.0], [-30.0, 30.0], [5.0, 60.0]));
    near(land(&roofed, 0.0).seal_width, 104.0 - RADII[0], 1e-9);
    // A plate of two layers: the lower one's upper face is covered.
    let mut layers = slab([-150.0, 150.0], [-150.0, 150.0], [-50.0, -20.0]);
    layers.append(&slab([-150.0, 150.0], [-150.0, 150.0], [-20.0, 0.0]));
    let found = land(&layers, 0.0);
    assert!(departure(&found).high < 1e-8 && whole(&found), "{found:?}");
    // Half of the upper layer gone: the lower one shows.
    let mut half = slab([-150.0, 150.0], [-150.0, 150.0], [-50.0, -20.0]);
    half.append(&slab([-150.0, 0.0], [-150.0, 150.0], [-20.0, 0.0]));
    near(departure(&land(&half, 0.0)), 10.0, 1e-3);
}

#[test]
fn a_small_bump_leaves_the_rest_good() {
    // 2 mm high on a base of 4 mm about x = 90: beyond it 24 mm are good, and it is found.
    let mut mesh = slab([-150.0, 150.0], [-150.0, 150.0], [-50.0, 0.0]);
    mesh.append(&slab([88.0, 92.0], [-2.0, 2.0], [-1.0, 2.0]));
    let found = land(&mesh, 0.0);
    near(departure(&found), 1.0, 1e-3);
    near(found.seal_width, 116.0 - 92.0, 0.05);
    let top = found.flatness.unwrap().farthest()[1];
    assert!((top.z - 2.0).abs() < 1e-12 && (top.x - 90.0).abs() <= 2.0, "{top:?}");
}

#[test]
fn a_hole_in_a_scan_is_neither_plate_nor_none() {
    // An open sheet without one cell of 2.5 mm at x from 97.5 to 100, y from 0 to 2.5.
    let grid = lines(120);
    let closed = plate(&grid, &grid, |_, _| 0.0);
    let open = |gap: f64, deviation: f64| {
        let mut mesh = closed.clone();
        mesh.triangles.retain(|t| {
            let p = t.map(|v| mesh.vertices[v as usize]);
            let middle = (p[0].coords + p[1].coords + p[2].coords) / 3.0;
            let hole = 97.5 < middle.x && middle.x < 97.5 + gap && 0.0 < middle.y && middle.y < 2.5;
            p.iter().all(|p| p.z >= -1.0) && !hole
        });
        Land::of(&Top::of(&mesh, false), &asking(deviation))
    };
    let unharmed = open(0.0, 0.0);
    assert!(whole(&unharmed) && unharmed.unseen.is_none(), "{unharmed:?}");
    let found = open(2.5, 0.0);
    assert!(found.unseen.is_some());
    assert!((found.seal_width.low - 16.0).abs() < 0.05, "{found:?}");
    assert!((found.seal_width.high - 32.0).abs() < 1e-9, "{found:?}");
    // Every point of the hole is within 1.25 mm of its border.
    assert!(open(2.5, 1.3).unseen.is_none());
    assert!(open(2.5, 1.2).unseen.is_some());
    // What the same hole is in a closed mesh: missing.
    let mut cut = closed.clone();
    cut.append(&Mesh::default());
    cut.triangles.retain(|t| {
        let p = t.map(|v| cut.vertices[v as usize]);
        !p.iter().all(|p| p.z >= -1.0 && (97.0..101.0).contains(&p.x) && (-0.1..2.6).contains(&p.y))
    });
    let found = land(&cut, 0.0);
    assert!((found.seal_width.high - found.seal_width.low) < 0.02, "{found:?}");
    assert!((found.seal_width.low - 16.0).abs() < 0.05 && found.unseen.is_none());
}

#[test]
fn nothing_known_is_nothing_promised() {
    let none = Land::of(&Top::of(&Mesh::default(), false), &asking(0.1));
    assert!(none.flatness.is_none() && none.unseen.is_some());
    assert!(none.seal_width.low <= 0.0 && none.seal_width.high >= 32.0);
    let flat = slab([-150.0, 150.0], [-150.0, 150.0], [-50.0, 0.0]);
    for bad in [f64::NAN, f64::INFINITY] {
        let found = land(&flat, bad);
        assert!(found.flatness.is_none() && found.seal_width.low <= 0.0, "{found:?}");
    }
    // A corner that is not a number is no plate.
    let mut broken = flat.clone();
    let top = broken.vertices.iter().position(|p| p.z == 0.0).unwrap();
    broken.vertices[top].z = f64::NAN;
    assert!(!whole(&Land::of(&Top::of(&broken, false), &asking(0.0))));
    // Known to within more than the tolerance: perhaps all of it is flat, perhaps nothing.
    let found = land(&flat, 1.0);
    assert!(found.seal_width.low <= 0.0 && found.seal_width.high >= 32.0, "{found:?}");
    assert!(departure(&found).low <= 0.0 && departure(&found).high > TOLERANCE);
}

#[test]
fn the_window_does_not_mistake_the_underside_for_the_land() {
    // A plate 10 mm thick, wound inside out as well: only its upper face counts.
    let mut thin = slab([-150.0, 150.0], [-150.0, 150.0], [-10.0, 0.0]);
    for _ in 0..2 {
        let found = land(&thin, 0.0);
        assert!(departure(&found).high < 1e-8 && whole(&found), "{found:?}");
        let open = Land::of(&Top::of(&thin, false), &asking(0.0));
        assert!(departure(&open).high < 1e-8 && whole(&open) && open.unseen.is_none());
        for t in &mut thin.triangles {
            t.swap(0, 1);
        }
    }
}

/// Waves, with a hole, an edge and a boss at random.
fn landscape(seed: [f64; 6], n: usize) -> Mesh {
    let [a, b, c, x, y, size] = seed;
    let mut mesh = plate(&lines(n), &lines(n), |px, py| {
        a * (0.05 * px + c).sin() + b * (0.07 * py - c).cos() + 0.004 * c * px
    });
    let (low, high) = (Point2::new(x - size, y - size), Point2::new(x + size, y + size));
    mesh.append(&slab([low.x, high.x], [low.y, high.y], [-3.0, 3.0 + c]));
    mesh
}

fn seeds() -> impl Strategy<Value = [f64; 6]> {
    (0.0..0.6_f64, 0.0..0.6_f64, 0.0..2.0_f64, 70.0..110.0_f64, -40.0..40.0_f64, 0.5..9.0_f64)
        .prop_map(|(a, b, c, x, y, size)| [a, b, c, x, y, size])
}

/// The longest run of a bearing's samples by rays from above, and the greatest departure of any.
fn sampled(mesh: &Mesh, plane: &Plane, bearing: f64, count: usize) -> (f64, f64) {
    let solid = gap::Solid::new(mesh);
    let (sin, cos) = bearing.sin_cos();
    let pitch = (RADII[1] - RADII[0]) / count as f64;
    let (mut run, mut longest, mut far) = (0, 0, 0.0_f64);
    for i in 0..=count {
        let r = (RADII[0] + pitch * i as f64).clamp(RADII[0] + 1e-6, RADII[1] - 1e-6);
        let origin = Point3::new(r * cos, r * sin, WINDOW);
        let hits = gap::ray_hits(&solid, &origin, &-Vector3::z()).unwrap();
        let height = hits.first().map(|hit| plane.height(&hit.point));
        far = height.map_or(far, |h| far.max(h.abs()));
        run = if height.is_some_and(|h| h.abs() <= TOLERANCE) { run + 1 } else { 0 };
        longest = longest.max(run);
    }
    (pitch * (f64::from(longest) + 1.0), far)
}

/// Numbers from -1 to 1 by chance (splitmix64, Steele, Lea and Flood 2014).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 64,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn a_flat_plate_measured_with_noise_may_be_flat(
        seed in any::<u64>(),
        d in 0.01..0.4_f64,
    ) {
        let noise = std::cell::RefCell::new(Noise(seed));
        let mesh = plate(&lines(40), &lines(40), |_, _| d * noise.borrow_mut().next());
        let found = land(&mesh, d);
        prop_assert!(departure(&found).low <= 0.0, "{found:?}");
        prop_assert!(found.seal_width.high >= RADII[1] - RADII[0], "{found:?}");
        // Told to be flat for certain where it is flat for certain: twice the deviation.
        prop_assert!(departure(&found).high <= 2.01 * d + 1e-3);
    }

    #[test]
    fn the_truth_lies_in_what_a_noisy_mesh_tells(
        seed in seeds(),
        chance in any::<u64>(),
        d in 0.01..0.3_f64,
    ) {
        // The same mesh with every corner moved by up to d: both surfaces are within d of each
        // other. Only the top's heights are asked about: no boss.
        let truth = plate(&lines(24), &lines(24), |x, y| {
            seed[0] * (0.05 * x + seed[2]).sin() + seed[1] * (0.07 * y).cos()
        });
        let mut mesh = truth.clone();
        let mut noise = Noise(chance);
        for p in &mut mesh.vertices {
            let by = Vector3::new(noise.next(), noise.next(), noise.next());
            *p += by * (d / 3.0_f64.sqrt());
        }
        let (exact, found) = (departure(&land(&truth, 0.0)), departure(&land(&mesh, d)));
        prop_assert!(found.low <= exact.high && exact.low <= found.high, "{exact:?} {found:?}");
    }

    #[test]
    fn the_true_edge_lies_in_what_a_noisy_mesh_tells(
        chance in any::<u64>(),
        d in 0.01..1.0_f64,
        x in -20.0..20.0_f64,
        radius in 3.0..9.0_f64,
    ) {
        // A disc with a hole under the land, each of their corners moved to the side.
        let edge = circle(x, 5.0, 118.0, 180);
        let hole = circle(98.0, x, radius, 30);
        let mut noise = Noise(chance);
        let mut moved = |all: &[Point2<f64>]| -> Vec<Point2<f64>> {
            let far = d / 2.0_f64.sqrt();
            all.iter()
                .map(|p| Point2::new(p.x + far * noise.next(), p.y + far * noise.next()))
                .collect()
        };
        let truth = extrude(&edge, std::slice::from_ref(&hole), -50.0, 0.0);
        // Corners moved too far make edges cross; a hole over the edge is no hole.
        let mesh = extrude(&moved(&edge), &[moved(&hole)], -50.0, 0.0);
        prop_assume!(truth.is_ok() && mesh.is_ok());
        let (truth, mesh) = (truth.unwrap(), mesh.unwrap());
        let (exact, found) = (land(&truth, 0.0).seal_width, land(&mesh, d).seal_width);
        prop_assert!(found.low <= exact.high && exact.low <= found.high, "{exact:?} {found:?}");
        prop_assert!(exact.high - exact.low <= 0.011, "{exact:?}");
    }

    #[test]
    fn no_ray_sees_less_than_what_is_promised(seed in seeds(), turn in 0.0..TAU) {
        let mesh = landscape(seed, 20);
        let found = land(&mesh, 0.0);
        let plane = found.flatness.unwrap().plane;
        // Samples miss at most what is narrower than their pitch.
        let own = sampled(&mesh, &plane, found.narrowest.radians(), 64);
        prop_assert!(own.0 >= found.seal_width.low - 1e-9, "{own:?} {found:?}");
        for i in 0..12 {
            let (width, far) = sampled(&mesh, &plane, turn + 0.5 * f64::from(i), 64);
            prop_assert!(width >= found.seal_width.low - 1e-9, "{width} {found:?}");
            let height = found.flatness.unwrap().extremes.departure();
            prop_assert!(far <= height + 1e-9, "{far} {found:?}");
        }
    }

    #[test]
    fn neither_refining_nor_turning_changes_a_land(seed in seeds(), turn in -180.0..180.0_f64) {
        let mesh = landscape(seed, 12);
        let was = land(&mesh, 0.02);
        for other in [refined(&mesh), turned(&mesh, 1.0), turned(&mesh, turn)] {
            let is = land(&other, 0.02);
            let (a, b) = (departure(&was), departure(&is));
            // The least zone is closed to 1e-4, the narrowest run to 0.01.
            prop_assert!((a.low - b.low).abs() < 2e-4, "{a:?} {b:?}");
            // Over an upright step many planes are best; which is found may differ, but only where
            // none is good.
            let close = (a.high - b.high).abs() < 2e-4;
            prop_assert!(close || a.low.min(b.low) > TOLERANCE, "{a:?} {b:?}");
            let (a, b) = (was.seal_width, is.seal_width);
            prop_assert!((a.low - b.low).abs() < 0.025 && (a.high - b.high).abs() < 0.025,
                "{a:?} {b:?}");
        }
    }

    #[test]
    fn what_is_changed_under_the_gasket_is_noticed(
        bearing in 0.0..TAU, r in 88.0..112.0_f64, kind in 0..3,
    ) {
        let grid = lines(60);
        let mut mesh = plate(&grid, &grid, |_, _| 0.0);
        let at = Point2::new(r * bearing.cos(), r * bearing.sin());
        let nearest = (0..grid.len() * grid.len())
            .min_by(|i, j| {
                let far = |i: &usize| (mesh.vertices[*i].xy() - at).norm();
                far(i).total_cmp(&far(j))
            })
            .unwrap();
        match kind {
            0 => mesh.vertices[nearest].z = 2.0,
            1 => mesh.vertices[nearest].z = -2.0,
            _ => {
                let corner = u32::try_from(nearest).unwrap();
                mesh.triangles.retain(|t| !t.contains(&corner));
            }
        }
        let found = land(&mesh, 0.0);
        prop_assert!(!whole(&found), "{found:?}");
        let bumped = departure(&found).low > TOLERANCE;
        prop_assert!(bumped == (kind < 2), "{found:?}");
    }
}
