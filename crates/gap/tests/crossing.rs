//! Where surfaces cross and how much space bodies share, against closed forms and laws.
//!
//! Two spheres: E. Weisstein, "Sphere-Sphere Intersection", and two circles: "Circle-Circle
//! Intersection", both `MathWorld`, from memory. Round meshes have their corners on the true
//! surface, so they lie between it and one that is smaller by the sagitta.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;

use std::f64::consts::{PI, TAU};

use common::{Numbers, at, block, cylinder, flipped, pipe, pose, sagitta, solid, sphere, torus};
use gap::{
    CrossingLine, Location, Solid, Undecided, crosses, crossing_lines, locate, nearest_point,
    shared_body, shared_volume,
};
use nalgebra::{Isometry3, Point3};

fn lines(a: &Solid, b: &Solid, pose: &Isometry3<f64>) -> Vec<CrossingLine> {
    crossing_lines(a, b, pose).unwrap()
}

fn volume(a: &Solid, b: &Solid, pose: &Isometry3<f64>) -> f64 {
    let shared = shared_volume(a, b, pose).unwrap();
    let volume = shared.volume.unwrap();
    assert!(shared.at_least <= volume * (1.0 + 1e-9), "{shared:?}");
    assert!(volume <= shared.at_most * (1.0 + 1e-9), "{shared:?}");
    match shared_body(a, b, pose).unwrap() {
        None => assert_eq!(volume, 0.0),
        Some(body) => {
            near(solids::volume(&body), volume, 1e-9 * volume);
            assert!(solid(&body).is_closed());
            for p in &body.vertices {
                let in_b = pose.inverse_transform_point(p);
                for (whole, p) in [(a, *p), (b, in_b)] {
                    let on = nearest_point(whole, &p, 1e-6).unwrap().is_some();
                    assert!(on || locate(whole, &p) == Location::Inside, "{p}");
                }
            }
        }
    }
    volume
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found}, expected {expected} +- {tolerance}");
}

#[track_caller]
fn between(found: f64, low: f64, high: f64) {
    assert!(low <= found && found <= high, "{found}, expected {low} to {high}");
}

/// A pose that moves both bodies alike, and what `b`'s pose is then.
fn carried(numbers: &mut Numbers, a_from_b: &Isometry3<f64>) -> (Isometry3<f64>, Isometry3<f64>) {
    let by = numbers.pose(50.0);
    (by, by * a_from_b)
}

#[test]
fn boxes_share_a_box_and_cross_along_its_edges() {
    let (a, b) = (block(5.0, 6.0, 7.0), block(3.0, 2.0, 4.0));
    let mut numbers = Numbers::new(41);
    // Corner in corner: 1 x 1.5 x 2, and a hexagon of its edges.
    let there = at(7.0, 6.5, 9.0);
    let (x, y) = (solid(&a), solid(&b));
    near(volume(&x, &y, &there), 3.0, 1e-12);
    let found = lines(&x, &y, &there);
    assert_eq!(found.len(), 1);
    assert!(found[0].closed);
    near(found[0].length(), 2.0 * (1.0 + 1.5 + 2.0), 1e-12);
    for _ in 0..50 {
        let (by, _) = carried(&mut numbers, &there);
        let turned = solid(&a.transformed(&by));
        let there = by * there;
        near(volume(&turned, &y, &there), 3.0, 1e-9);
        let found = lines(&turned, &y, &there);
        assert_eq!(found.len(), 1, "{found:?}");
        near(found[0].length(), 9.0, 1e-9);
    }
    // A bar through a plate: two squares.
    let (plate, bar) = (solid(&block(9.0, 9.0, 1.0)), solid(&block(2.0, 2.0, 9.0)));
    let through = pose([0.0, 0.0, 0.7], [1.0, -2.0, 0.5]);
    near(volume(&plate, &bar, &through), 4.0 * 4.0 * 2.0, 1e-9);
    let found = lines(&plate, &bar, &through);
    assert_eq!(found.len(), 2);
    for line in found {
        assert!(line.closed);
        near(line.length(), 16.0, 1e-9);
    }
}

/// Volume of the lens of two spheres with their middles `d` apart.
fn lens(r: f64, s: f64, d: f64) -> f64 {
    let reach = r + s - d;
    PI * reach.powi(2) * (d * d + 2.0 * d * (r + s) + 6.0 * r * s - 3.0 * (r * r + s * s))
        / (12.0 * d)
}

#[test]
fn spheres_share_a_lens_and_cross_along_a_circle() {
    for (n, rows) in [(40, 20), (120, 60)] {
        for d in [12.0, 15.0, 17.5] {
            let (r, s) = (10.0, 8.0);
            let (off_r, off_s) = (2.0 * sagitta(r, n), 2.0 * sagitta(s, n));
            let (a, b) = (solid(&sphere(r, n, rows)), solid(&sphere(s, n, rows)));
            let there = pose([0.4, -0.3, 0.9], [d, 0.0, 0.0]);
            let found = volume(&a, &b, &there);
            between(found, lens(r - off_r, s - off_s, d), lens(r, s, d));
            let circle = |r: f64, s: f64| {
                let along = d * d - s * s + r * r;
                (4.0 * d * d * r * r - along * along).sqrt() / (2.0 * d)
            };
            let found = lines(&a, &b, &there);
            assert_eq!(found.len(), 1);
            assert!(found[0].closed);
            let (low, high) = (circle(r - off_r, s - off_s), circle(r, s));
            between(found[0].length(), TAU * low * 0.99, TAU * high);
        }
    }
}

/// Two equal cylinders whose axes cross at a right angle share 16 r^3 / 3 and cross along two ellipses
/// of half axes r and r sqrt 2: E. Weisstein, "Steinmetz Solid", `MathWorld`, and the complete elliptic
/// integral E(1/2) = 1.350 643 881, both from memory.
#[test]
fn cylinders_that_cross_share_a_bicylinder() {
    let (r, n) = (5.0, 180);
    let rod = solid(&cylinder(r, 10.0, n, 3));
    // Turned a little about its axis too, so that no corners fall together.
    let there = pose([TAU / 4.0, 0.0, 0.0], [0.0; 3]) * pose([0.0, 0.0, 0.011], [0.0; 3]);
    let found = volume(&rod, &rod, &there);
    let of = |r: f64| 16.0 / 3.0 * r.powi(3);
    between(found, of(r - sagitta(r, n)), of(r));
    let found = lines(&rod, &rod, &there);
    let length: f64 = found.iter().map(CrossingLine::length).sum();
    let both = 2.0 * 4.0 * 2.0_f64.sqrt() * 1.350_643_881 * r;
    between(length, 0.99 * both, 1.01 * both);
    for p in found.iter().flat_map(|line| &line.points) {
        near(p.y.abs(), p.z.abs(), 0.05);
        between(p.x.hypot(p.y), r - sagitta(r, n) - 1e-9, r + 1e-9);
    }
}

#[test]
fn parallel_cylinders_share_a_lens_times_their_length() {
    let area = |r: f64, s: f64, d: f64| {
        let (u, v) = ((d * d + r * r - s * s) / (2.0 * d), (d * d + s * s - r * r) / (2.0 * d));
        let root = ((r + s - d) * (d + r - s) * (d - r + s) * (d + r + s)).sqrt();
        r * r * (u / r).acos() + s * s * (v / s).acos() - 0.5 * root
    };
    let (r, s) = (9.0, 6.0);
    for n in [60, 240] {
        let (a, b) = (solid(&cylinder(r, 20.0, n, 2)), solid(&cylinder(s, 20.0, n, 2)));
        for d in [5.0, 9.0, 13.0] {
            let there = pose([0.0, 0.0, 0.05], [d, 0.0, 12.5]);
            let found = volume(&a, &b, &there);
            let least = area(r - sagitta(r, n), s - sagitta(s, n), d);
            between(found, 27.5 * least, 27.5 * area(r, s, d));
        }
    }
}

#[test]
fn a_body_inside_another_shares_all_of_it_and_crosses_nothing() {
    let (a, b) = (solid(&block(9.0, 9.0, 9.0)), solid(&block(1.0, 2.0, 3.0)));
    let there = pose([0.3, 0.2, 0.1], [1.0, 2.0, -3.0]);
    for (x, y, there) in [(&a, &b, there), (&b, &a, there.inverse())] {
        near(volume(x, y, &there), 48.0, 1e-9);
        assert_eq!(lines(x, y, &there), []);
    }
    // In the bore of a pipe nothing is shared.
    let ring = solid(&pipe(9.0, 12.0, 9.0, 40));
    assert_eq!(volume(&ring, &b, &there), 0.0);
    assert_eq!(shared_volume(&ring, &b, &there).unwrap().at_most, 0.0);
}

#[test]
fn shells_that_overlap_count_once() {
    // Two boxes that share half of themselves, and a plate over both.
    let mut both = block(2.0, 2.0, 2.0);
    both.append(&block(2.0, 2.0, 2.0).transformed(&at(2.0, 0.0, 0.0)));
    let (both, plate) = (solid(&both), solid(&block(9.0, 1.0, 1.0)));
    let shared = shared_volume(&both, &plate, &at(0.0, 0.0, 0.0)).unwrap();
    let truth = 6.0 * 2.0 * 2.0;
    assert!(shared.at_least <= truth && truth <= shared.at_most, "{shared:?}");
    assert!(shared.at_least > 0.8 * truth && shared.at_most < 1.1 * truth, "{shared:?}");
    assert!(shared.volume.is_none_or(|volume| (volume - truth).abs() < 1e-9), "{shared:?}");
}

#[test]
fn triangles_that_face_inward_share_the_same() {
    let (a, b) = (block(5.0, 5.0, 5.0), block(2.0, 2.0, 2.0));
    let there = at(6.0, 0.5, 0.25);
    for (a, b) in [(flipped(&a), b.clone()), (a, flipped(&b))] {
        let shared = shared_volume(&solid(&a), &solid(&b), &there).unwrap();
        let truth = 16.0;
        assert!(shared.at_least <= truth && truth <= shared.at_most, "{shared:?}");
        assert!(shared.volume.is_none_or(|volume| (volume - truth).abs() < 1e-9), "{shared:?}");
    }
}

#[test]
fn a_touch_is_a_point_and_a_seat_its_outline() {
    let a = solid(&block(5.0, 5.0, 5.0));
    // A triangle on its tip.
    let tip = common::triangle([
        Point3::new(0.0, 0.0, 0.0),
        Point3::new(1.0, 0.5, 2.0),
        Point3::new(-1.0, 0.25, 3.0),
    ]);
    let found = lines(&a, &solid(&tip), &at(1.0, 2.0, 5.0));
    let touch = CrossingLine { points: vec![Point3::new(1.0, 2.0, 5.0)], closed: false };
    assert_eq!(found, [touch]);
    // Flat on the top: the foot's outline.
    let foot = solid(&block(1.0, 2.0, 3.0));
    let found = lines(&a, &foot, &at(0.5, 0.25, 8.0));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].closed);
    near(found[0].length(), 12.0, 1e-12);
    near(volume(&a, &foot, &at(0.5, 0.25, 8.0)), 0.0, 1e-12);
}

#[test]
fn an_open_surface_ends_its_lines_and_has_no_volume() {
    let mut sheet = block(9.0, 9.0, 0.0);
    // The upper face of the flat box alone.
    sheet.triangles.retain(|t| {
        let corners = t.map(|v| sheet.vertices[v as usize]);
        (corners[1] - corners[0]).cross(&(corners[2] - corners[0])).z > 0.0
    });
    assert_eq!(sheet.triangles.len(), 2);
    let (sheet, bar) = (solid(&sheet), solid(&block(2.0, 20.0, 3.0)));
    let found = lines(&sheet, &bar, &at(1.0, 0.5, 1.0));
    assert_eq!(found.len(), 2);
    for line in found {
        assert!(!line.closed);
        near(line.length(), 18.0, 1e-12);
    }
    let refused = shared_volume(&sheet, &bar, &at(1.0, 0.5, 1.0));
    assert_eq!(refused, Err(Undecided::Open));
    let nowhere = at(f64::NAN, 0.0, 0.0);
    assert_eq!(crossing_lines(&sheet, &bar, &nowhere), Err(Undecided::BadPose));
    assert_eq!(shared_volume(&bar, &bar, &nowhere), Err(Undecided::BadPose));
}

#[test]
fn lines_of_closed_bodies_are_closed_and_lie_on_both() {
    let mut numbers = Numbers::new(7);
    let bodies = [
        torus(9.0, 3.0, 50, 24),
        cylinder(5.0, 8.0, 30, 4),
        sphere(7.0, 30, 15),
        pipe(5.0, 7.0, 6.0, 32),
    ];
    let mut crossing = 0;
    for k in 0..200 {
        let (a, b) = (&bodies[k % 4], &bodies[k / 4 % 4]);
        let there = numbers.pose(7.0);
        let (a, b) = (solid(a), solid(b));
        let found = lines(&a, &b, &there);
        assert_eq!(!found.is_empty(), crosses(&a, &b, &there));
        crossing += usize::from(!found.is_empty());
        for line in &found {
            assert!(line.closed && line.points.len() >= 3, "{k}: {line:?}");
            for point in &line.points {
                let back = there.inverse() * point;
                for (body, point) in [(&a, point), (&b, &back)] {
                    let off = nearest_point(body, point, 1.0).unwrap().unwrap().distance;
                    assert!(off < 1e-11, "{k}: {off:e}");
                }
            }
        }
        // Swapped, the same lines.
        let length = |lines: &[CrossingLine]| lines.iter().map(CrossingLine::length).sum::<f64>();
        let swapped = lines(&b, &a, &there.inverse());
        assert_eq!(found.len(), swapped.len(), "{k}");
        near(length(&swapped), length(&found), 1e-8);
    }
    assert!(crossing > 100, "{crossing}");
}
