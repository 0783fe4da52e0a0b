//! How the time of a whole review grows with triangles, tolerance and options: `cargo bench -p
//! review`. Every fitting of an example with every cup of the demo kit, proofs included; seconds on
//! all threads, without reading. Finer car tops are the same with each triangle cut into a grid of
//! n by n.

#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints")]

use assembly::{CarTop, Kit};
use fitup::{CupStudy, Effort, Scene, Verdict, study_cup};
use nalgebra::Point3;
use rayon::prelude::*;
use solids::Mesh;
use std::collections::HashMap;
use std::path::Path;
use std::time::Instant;

fn example(name: &str) -> CarTop {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    intake::read_case(&root.join(name).join("case.toml")).unwrap().car
}

fn kit() -> Kit {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    intake::read_kit(&root.join("kit.toml")).unwrap().kit
}

/// Each triangle as a grid of `n` by `n`. A shared edge is cut at the same points on both sides.
fn cut(mesh: &Mesh, n: u32) -> Mesh {
    let mut fine = Mesh::default();
    let mut known: HashMap<[u64; 3], u32> = HashMap::new();
    let mut vertex = |p: Point3<f64>| {
        *known.entry([p.x, p.y, p.z].map(f64::to_bits)).or_insert_with(|| {
            fine.vertices.push(p);
            u32::try_from(fine.vertices.len() - 1).unwrap()
        })
    };
    let between = |a: &Point3<f64>, b: &Point3<f64>, part: u32| {
        // From the same end whichever way the edge is run.
        let first = [a.x, a.y, a.z] <= [b.x, b.y, b.z];
        let (from, to, part) = if first { (a, b, part) } else { (b, a, n - part) };
        match part {
            0 => *from,
            _ if part == n => *to,
            _ => from + (to - from) * (f64::from(part) / f64::from(n)),
        }
    };
    let mut triangles = Vec::new();
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(t);
        let rows: Vec<Vec<u32>> = (0..=n)
            .map(|row| {
                let (left, right) = (between(&a, &b, row), between(&a, &c, row));
                let point = |i: u32| match (i, row) {
                    (0, _) => left,
                    _ if i == row => right,
                    _ if row == n => between(&b, &c, i),
                    _ => left + (right - left) * (f64::from(i) / f64::from(row)),
                };
                (0..=row).map(|i| vertex(point(i))).collect()
            })
            .collect();
        for pair in rows.windows(2) {
            for i in 0..pair[0].len() {
                triangles.push([pair[0][i], pair[1][i], pair[1][i + 1]]);
                if i + 1 < pair[0].len() {
                    triangles.push([pair[0][i], pair[1][i + 1], pair[0][i + 1]]);
                }
            }
        }
    }
    Mesh { triangles, ..fine }
}

fn run(what: &str, car: &CarTop, kit: &Kit, effort: &Effort) {
    let triangles: usize = car.bodies.iter().map(|b| b.body.mesh.triangles.len()).sum();
    let begun = Instant::now();
    let scene = Scene::new(car, kit).unwrap();
    let pairs: Vec<(usize, usize)> = (0..car.fittings.len())
        .flat_map(|fitting| (0..kit.cups.len()).map(move |cup| (fitting, cup)))
        .collect();
    let studies: Vec<CupStudy> =
        pairs.par_iter().map(|&(fitting, cup)| study_cup(&scene, effort, fitting, cup)).collect();
    let seconds = begun.elapsed().as_secs_f64();
    let fit = studies.iter().filter(|s| s.verdict.is_fit()).count();
    let not = studies.iter().filter(|s| s.verdict == Verdict::DoesNotFit).count();
    let looked: usize = studies.iter().map(|s| s.looked_at).sum();
    println!(
        "{what:44} {triangles:9} triangles {seconds:7.2} s {looked:6} looks; of {} {fit} fit, {not} do not",
        studies.len()
    );
}

fn main() {
    let (kit, usual) = (kit(), Effort::default());
    let large = example("pressure-car");
    for n in [1, 2, 3] {
        let mut car = large.clone();
        for body in &mut car.bodies {
            body.body.mesh = cut(&body.body.mesh, n);
        }
        run(&format!("each triangle cut {n} by {n}"), &car, &kit, &usual);
    }
    for tolerance in [0.4, 0.1, 0.025] {
        let effort = Effort { tolerance, ..usual };
        run(&format!("tolerance {tolerance} mm"), &large, &kit, &effort);
    }
    let mut plain = kit.clone();
    plain.outlet.elbow_turns.truncate(1);
    run("one elbow turn", &large, &plain, &usual);
    plain.link.thicknesses.drain(..plain.link.thicknesses.len() - 1);
    run("and one link thickness", &large, &plain, &usual);
    plain.link.holes.drain(3..);
    plain.link.holes.drain(..2);
    run("and one link hole: no discrete choice left", &large, &plain, &usual);
}
