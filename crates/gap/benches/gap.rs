//! Times of the queries on made-up car tops of about 10,000 and 200,000 triangles against cups of
//! about 3,000 and 20,000: `cargo bench -p gap`. Medians over 1,000 poses near a fitting, in
//! microseconds; "turned" has both bodies turned arbitrarily in their own frames, so that no box
//! lies along a surface.

#![allow(
    clippy::print_stdout,
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a bench prints; its shapes are shared with the tests"
)]

#[path = "../tests/common/mod.rs"]
mod common;

use std::hint::black_box;
use std::time::{Duration, Instant};

use common::{Numbers, at, cylinder, pipe, pose, solid, torus};
use gap::{
    Proximity, Solid, clears, crosses, crossing_lines, gap, least_depth, overlap, shared_volume,
};
use nalgebra::Isometry3;
use solids::Mesh;

const POSES: usize = 1_000;

/// Plate, housing, six fittings with flange, bonnet and handwheel, twenty studs; `fine` scales
/// the number of chords.
fn car_top(fine: u32) -> Mesh {
    let mut top = cylinder(300.0, 15.0, 24 * fine, 1).transformed(&at(0.0, 0.0, -15.0));
    top.append(
        &refined(pipe(335.0, 350.0, 200.0, 24 * fine), fine).transformed(&at(0.0, 0.0, 200.0)),
    );
    for k in 0..6 {
        let angle = f64::from(k) * std::f64::consts::TAU / 6.0 + 0.2;
        let place = at(140.0 * angle.cos(), 140.0 * angle.sin(), 0.0);
        let high = 50.0 + 10.0 * f64::from(k);
        for (radius, half, z) in
            [(45.0, 9.0, 9.0), (26.0, high, high), (4.0, high + 20.0, high + 20.0)]
        {
            let part = cylinder(radius, half, 12 * fine, 4 * fine);
            top.append(&part.transformed(&(place * at(0.0, 0.0, z))));
        }
        let wheel = torus(30.0, 4.0, 12 * fine, 5 * fine);
        top.append(&wheel.transformed(&(place * at(0.0, 0.0, 2.0 * high + 30.0))));
    }
    for k in 0..20 {
        let angle = f64::from(k) * std::f64::consts::TAU / 20.0;
        let place = at(270.0 * angle.cos(), 270.0 * angle.sin(), 0.0);
        top.append(
            &cylinder(10.0, 32.0, 6 * fine, 2 * fine).transformed(&(place * at(0.0, 0.0, 32.0))),
        );
        top.append(&cylinder(18.0, 9.0, 6, 1).transformed(&(place * at(0.0, 0.0, 9.0))));
    }
    top
}

/// Cup with rim flange and an outlet ring on top.
fn cup(fine: u32) -> Mesh {
    let mut cup =
        refined(pipe(55.0, 62.0, 125.0, 24 * fine), fine).transformed(&at(0.0, 0.0, 125.0));
    cup.append(&cylinder(62.0, 5.0, 24 * fine, 1).transformed(&at(0.0, 0.0, 255.0)));
    cup.append(&pipe(55.0, 85.0, 7.0, 24 * fine).transformed(&at(0.0, 0.0, 7.0)));
    let elbow = torus(35.0, 17.0, 12 * fine, 6 * fine);
    cup.append(&elbow.transformed(&pose([1.5, 0.0, 0.0], [0.0, 0.0, 310.0])));
    cup
}

/// Every triangle cut in four, as often as `fine` doubles.
fn refined(mut mesh: Mesh, fine: u32) -> Mesh {
    for _ in 0..fine.ilog2() {
        let mut cut = Mesh { vertices: mesh.vertices.clone(), triangles: Vec::new() };
        for t in &mesh.triangles {
            let base = u32::try_from(cut.vertices.len()).expect("small");
            for (x, y) in [(0, 1), (1, 2), (2, 0)] {
                let end = |i: usize| mesh.vertices[t[i] as usize];
                cut.vertices.push(nalgebra::center(&end(x), &end(y)));
            }
            let [a, b, c] = [base, base + 1, base + 2];
            cut.triangles.extend([[t[0], a, c], [a, t[1], b], [c, b, t[2]], [a, b, c]]);
        }
        mesh = cut;
    }
    mesh
}

/// Placements over the fittings, tilted by a few degrees.
fn placements() -> Vec<Isometry3<f64>> {
    let mut numbers = Numbers::new(9);
    (0..POSES)
        .map(|_| {
            let angle = numbers.below(6) as f64 * std::f64::consts::TAU / 6.0 + 0.2;
            let tilt = [numbers.unit() * 0.05, numbers.unit() * 0.05, 0.0];
            let over = [
                140.0 * angle.cos() + 12.0 * numbers.unit(),
                140.0 * angle.sin() + 12.0 * numbers.unit(),
                110.0 + 110.0 * numbers.unit(),
            ];
            pose(tilt, over) * pose([0.0, 0.0, 3.0 * numbers.unit()], [0.0; 3])
        })
        .collect()
}

fn time<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let start = Instant::now();
    let value = black_box(work());
    (value, start.elapsed())
}

fn report(what: &str, mut times: Vec<Duration>) {
    times.sort_unstable();
    let at =
        |share: usize| times.get(times.len() * share / 100).map_or(0.0, |t| t.as_secs_f64() * 1e6);
    println!("    {what:<30} {:>9.1} median {:>9.1} p95   of {}", at(50), at(95), times.len());
}

fn measure(name: &str, top: &Mesh, cup: &Mesh, turned: bool) {
    let (m, n) = if turned {
        (pose([0.7, -0.4, 0.5], [0.0; 3]), pose([-0.3, 0.9, 0.6], [0.0; 3]))
    } else {
        (Isometry3::identity(), Isometry3::identity())
    };
    let (top, cup) = (top.transformed(&m), cup.transformed(&n));
    let (a, built) = time(|| Solid::new(&top));
    let b = Solid::new(&cup);
    println!(
        "{name}: {} against {} triangles, built in {:.0} ms",
        top.triangles.len(),
        cup.triangles.len(),
        built.as_secs_f64() * 1e3
    );
    let poses: Vec<_> = placements().iter().map(|p| m * p * n.inverse()).collect();
    let run = |query: &dyn Fn(&Isometry3<f64>)| {
        poses.iter().map(|p| time(|| query(p)).1).collect::<Vec<_>>()
    };
    let (mut free, mut overlapping) = (Vec::new(), Vec::new());
    for p in &poses {
        let (answer, took) = time(|| gap(&a, &b, p, f64::INFINITY));
        match answer {
            Proximity::Apart(_) => free.push(took),
            _ => overlapping.push(took),
        }
    }
    report("gap, apart", free);
    report("gap, overlapping", overlapping);
    report(
        "gap capped at 10 mm",
        run(&|p| {
            black_box(gap(&a, &b, p, 10.0));
        }),
    );
    report(
        "clears 2 mm",
        run(&|p| {
            black_box(clears(&a, &b, p, 2.0));
        }),
    );
    report(
        "crosses",
        run(&|p| {
            black_box(crosses(&a, &b, p));
        }),
    );
    let blocked: Vec<_> = poses.iter().filter(|p| crosses(&a, &b, p)).take(40).collect();
    let run = |query: &dyn Fn(&Isometry3<f64>)| {
        blocked.iter().map(|p| time(|| query(p)).1).collect::<Vec<_>>()
    };
    report(
        "overlap, when they do",
        run(&|p| {
            black_box(overlap(&a, &b, p));
        }),
    );
    report(
        "least depth, when they do",
        run(&|p| {
            black_box(least_depth(&a, &b, p, f64::INFINITY));
        }),
    );
    report(
        "crossing lines, when they do",
        run(&|p| {
            black_box(crossing_lines(&a, &b, p).is_ok());
        }),
    );
    report(
        "shared volume, when they do",
        run(&|p| {
            black_box(shared_volume(&a, &b, p).is_ok());
        }),
    );
}

fn main() {
    for (name, fine, fine_cup) in [("10k", 2, 2), ("200k", 8, 4)] {
        let (top, cup) = (car_top(fine), cup(fine_cup));
        measure(name, &top, &cup, false);
        measure(&format!("{name}, turned"), &top, &cup, true);
    }
    // Two fine bodies of one size, pressed into one another.
    let ring = solid(&torus(60.0, 20.0, 200, 50));
    let near = pose([0.4, 0.2, 0.0], [30.0, 20.0, 10.0]);
    let (found, took) = time(|| overlap(&ring, &ring, &near));
    println!("overlap of two 20,000-triangle rings: {:.1} ms, {found:?}", took.as_secs_f64() * 1e3);
    // A seat: a fine ring lying flat on a fine plate, and pressed 0.01 mm into it.
    let ring = solid(&refined(pipe(60.0, 80.0, 5.0, 48), 16));
    let plate = solid(&refined(cylinder(300.0, 15.0, 96, 1), 16));
    for high in [20.0, 19.99] {
        let seat = pose([0.0, 0.0, 0.3], [90.0, 40.0, high]);
        let (_, asked) = time(|| gap(&plate, &ring, &seat, 5.0));
        let (found, took) = time(|| overlap(&plate, &ring, &seat));
        println!(
            "seat at {high}: gap {:.1} us, overlap {:.1} ms, {found:?}",
            asked.as_secs_f64() * 1e6,
            took.as_secs_f64() * 1e3
        );
    }
}
