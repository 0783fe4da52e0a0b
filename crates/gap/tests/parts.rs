//! All least pairs of two sets of parts, against every pair asked on its own.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;

use common::{Numbers, at, block, cylinder, solid, sphere, torus};
use gap::{NearParts, Part, Proximity, Solid, Undecided, gap, least_gaps};
use nalgebra::Isometry3;
use solids::Mesh;

fn shapes() -> Vec<Solid> {
    [block(3.0, 2.0, 1.0), torus(4.0, 1.0, 24, 10), cylinder(1.5, 4.0, 16, 4), sphere(2.0, 16, 8)]
        .iter()
        .map(solid)
        .collect()
}

fn parts(shapes: &[Solid], count: usize, spread: f64, seed: u64) -> Vec<Part<'_>> {
    let mut numbers = Numbers::new(seed);
    (0..count)
        .map(|i| Part { solid: &shapes[i % shapes.len()], common_from_solid: numbers.pose(spread) })
        .collect()
}

#[test]
fn equals_every_pair_on_its_own() {
    let shapes = shapes();
    let mut kinds = [0; 3];
    for (seed, cap) in [(1, 5.0), (2, 0.0), (3, f64::INFINITY), (4, 25.0), (5, 1.0)] {
        let (a, b) = (parts(&shapes, 40, 15.0, seed), parts(&shapes, 30, 15.0, seed + 99));
        let found = least_gaps(&a, &b, cap);
        let mut expected = Vec::new();
        for (i, first) in a.iter().enumerate() {
            for (j, second) in b.iter().enumerate() {
                let pose = first.common_from_solid.inv_mul(&second.common_from_solid);
                match gap(first.solid, second.solid, &pose, cap) {
                    Proximity::Apart(gap) => expected.push((2, gap.distance, [i, j])),
                    Proximity::Overlapping => expected.push((0, 0.0, [i, j])),
                    Proximity::AtLeast(_) => kinds[1] += 1,
                    Proximity::CannotDecide(why) => panic!("{why}"),
                }
            }
        }
        expected.sort_by(|x, y| x.partial_cmp(y).unwrap());
        let rows: Vec<_> = found
            .iter()
            .map(|near| match near.proximity {
                NearParts::Overlapping => (0, 0.0, near.parts),
                NearParts::CannotDecide(why) => panic!("{why}"),
                NearParts::Apart(gap) => {
                    assert!(((gap.on_a - gap.on_b).norm() - gap.distance).abs() < 1e-9);
                    // The points are on the bodies, in the common frame.
                    for (part, point) in
                        [(&a[near.parts[0]], gap.on_a), (&b[near.parts[1]], gap.on_b)]
                    {
                        let own = part.common_from_solid.inverse_transform_point(&point);
                        let off = gap::nearest_point(part.solid, &own, f64::INFINITY);
                        assert!(off.unwrap().unwrap().distance < 1e-9);
                    }
                    (2, gap.distance, near.parts)
                }
            })
            .collect();
        assert_eq!(rows, expected);
        kinds[0] += rows.iter().filter(|row| row.0 == 0).count();
        kinds[2] += rows.iter().filter(|row| row.0 == 2).count();
    }
    assert!(kinds.iter().all(|count| *count > 100), "{kinds:?}");
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let shapes = shapes();
    let (a, b) = (parts(&shapes, 60, 40.0, 11), parts(&shapes, 60, 40.0, 12));
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| least_gaps(&a, &b, 12.0))
    };
    let one = with(1);
    assert!(one.len() > 50);
    assert_eq!(one, with(2));
    assert_eq!(one, with(7));
}

#[test]
fn a_touch_counts_at_any_cap_and_even_pairs_keep_their_order() {
    let cube = solid(&block(1.0, 1.0, 1.0));
    let row = |xs: &[f64]| -> Vec<Part<'_>> {
        xs.iter().map(|x| Part { solid: &cube, common_from_solid: at(*x, 0.0, 0.0) }).collect()
    };
    let found = least_gaps(&row(&[6.0, 0.0]), &row(&[2.0, 3.0, 9.0]), 0.0);
    assert_eq!(found.iter().map(|near| near.parts).collect::<Vec<_>>(), [[1, 0]]);
    let found = least_gaps(&row(&[6.0, 0.0]), &row(&[2.0, 3.0, 9.0]), 1.5);
    let order: Vec<_> = found.iter().map(|near| near.parts).collect();
    assert_eq!(order, [[1, 0], [0, 1], [0, 2], [1, 1]]);
    assert!(least_gaps(&[], &row(&[1.0]), 9.0).is_empty());
    assert_eq!(least_gaps(&row(&[0.0]), &row(&[2.0]), -3.0).len(), 1);
}

#[test]
fn what_cannot_be_used_is_undecided_against_everything() {
    let (cube, nothing) = (solid(&block(1.0, 1.0, 1.0)), solid(&Mesh::default()));
    let far = |solid, x| Part { solid, common_from_solid: at(x, 0.0, 0.0) };
    let nowhere =
        Part { solid: &cube, common_from_solid: Isometry3::translation(f64::NAN, 0.0, 0.0) };
    let found = least_gaps(
        &[far(&cube, 0.0), far(&nothing, 0.0), nowhere],
        &[far(&cube, 900.0), far(&cube, 1.5)],
        1.0,
    );
    let rows: Vec<_> = found.iter().map(|near| (near.parts, near.proximity)).collect();
    let empty = NearParts::CannotDecide(Undecided::Empty);
    let bad = NearParts::CannotDecide(Undecided::BadPose);
    let expected = [
        ([0, 1], NearParts::Overlapping),
        ([1, 0], empty),
        ([1, 1], empty),
        ([2, 0], bad),
        ([2, 1], bad),
    ];
    assert_eq!(rows, expected);
}
