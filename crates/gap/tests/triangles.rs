//! Pairs of single triangles against the exact answer. The full run of ten million is
//! `tests/outside/pairs/run`.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail")]

mod common;
mod oracle;
mod pairs;

use std::time::Instant;

use common::Numbers;
use nalgebra::Point3;
use pairs::{Fault, Pair, Truth, ask, judge};

#[test]
fn crossing_and_distance_are_exact() {
    let began = Instant::now();
    let tally = pairs::run(200_000);
    println!("{}", pairs::report(&tally, began.elapsed()));
    assert!(tally.faults.is_empty(), "{}", pairs::report(&tally, began.elapsed()));
    assert_eq!(tally.pairs, 200_000);
    // The kinds do what they are for: each is seen to meet and, but for one, to be apart.
    assert_eq!(tally.kinds.len(), 23);
    for (kind, [pairs, meeting]) in &tally.kinds {
        let apart = pairs - meeting;
        let never_meets = ["far", "free, parallel", "free, edge along edge"].contains(kind);
        let never_apart = kind.contains("shared");
        assert!(*meeting > pairs / 500 || never_meets, "{kind}: {meeting} of {pairs} meet");
        assert!(apart > pairs / 500 || never_apart, "{kind}: {apart} of {pairs} are apart");
    }
}

/// Two ways to the answer that share only the whole numbers: separating directions, and the
/// distance between corners, edges and faces with the edges that pierce a face.
#[test]
fn the_oracle_agrees_with_itself() {
    let mut numbers = Numbers::new(8);
    for k in 0..60_000_u64 {
        let sides = 3 + k % 7;
        let mut corner = || {
            std::array::from_fn(|_| {
                i128::from(numbers.below(sides)) * if k % 2 == 0 { 1 } else { 9_973 }
            })
        };
        let p: oracle::Triangle<i128> = std::array::from_fn(|_| corner());
        let q: oracle::Triangle<i128> = std::array::from_fn(|_| corner());
        let met = oracle::pierces(&p, &q) || oracle::distance(&p, &q) == 0.0;
        assert_eq!(oracle::meets(&p, &q), met, "{p:?} {q:?}");
    }
}

/// Distances known by hand.
#[test]
fn the_oracle_measures() {
    let p = [[0_i128, 0, 0], [12, 0, 0], [0, 12, 0]];
    let cases: [(oracle::Triangle<i128>, f64); 5] = [
        // Over the face; off the slanted edge; off a corner; edge over edge; flat beside.
        ([[3, 3, 7], [3, 3, 20], [4, 4, 30]], 7.0),
        ([[9, 9, 0], [20, 20, 5], [20, 20, 9]], 3.0 * 2.0_f64.sqrt()),
        ([[-3, -4, 0], [-3, -9, 0], [-9, -9, 0]], 5.0),
        ([[2, -9, -5], [2, 9, 13], [2, -1, 3]], 4.0 / 2.0_f64.sqrt()),
        ([[0, -2, 0], [12, -2, 0], [6, -9, 0]], 2.0),
    ];
    for (q, expected) in cases {
        let found = oracle::distance(&p, &q);
        let met = oracle::meets(&p, &q);
        assert!((found - expected).abs() < 1e-14 && !met, "{q:?}: {found} {expected} {met}");
        let whole = |t: &oracle::Triangle<i128>| t.map(|c| c.map(num_bigint::BigInt::from));
        assert!((oracle::distance(&whole(&p), &whole(&q)) - expected).abs() < 1e-14);
    }
    // Through the face, and a corner on an edge.
    assert!(oracle::meets(&p, &[[3, 3, -1], [3, 3, 1], [30, 30, 1]]));
    assert!(oracle::meets(&p, &[[6, 6, 0], [30, 30, 1], [30, 31, 0]]));
}

/// A wrong answer of every sort is found out, on every pair where it can be told.
#[test]
fn a_wrong_answer_is_caught() {
    let at = |c: [f64; 3]| Point3::from(c);
    let flat = [at([0.0, 0.0, 0.0]), at([12.0, 0.0, 0.0]), at([0.0, 12.0, 0.0])];
    let pair = |lift: f64| {
        let q = [at([3.0, 3.0, lift]), at([4.0, 3.0, 9.0]), at([3.0, 4.0, 9.0])];
        let truth = Truth { meets: lift <= 0.0, distance: lift.max(0.0) };
        let p_from_q = nalgebra::Isometry3::identity();
        Pair { kind: "by hand", p: flat, q, own_q: q, p_from_q, truth }
    };
    for lift in [-1.0, 0.0, 1e-9, 1e-3, 5.0] {
        let pair = pair(lift);
        let right = ask(&pair);
        assert_eq!(judge(&pair, &right).map(|error| error < 1e-14), Ok(true), "{lift}");
        let wrong = |change: &dyn Fn(&mut pairs::Told)| {
            let mut told = right;
            change(&mut told);
            judge(&pair, &told).unwrap_err()
        };
        let meets = pair.truth.meets;
        let crossing = if meets { Fault::FalseClear } else { Fault::FalseCrossing };
        assert_eq!(wrong(&|told| told.crosses = !told.crosses), crossing);
        assert_eq!(wrong(&|told| told.gap = Ok(None)), Fault::Distance);
        let farther = |told: &mut pairs::Told| {
            let gap = told.gap.as_mut().unwrap().as_mut().unwrap();
            gap.distance += 1e-11;
            gap.on_b.z += 1e-11;
        };
        assert_eq!(wrong(&farther), if meets { Fault::FalseClear } else { Fault::Distance });
        let threshold = if meets { Fault::FalseClear } else { Fault::Threshold };
        assert_eq!(wrong(&|told| told.clears[1] = Some(true)), threshold);
        if !meets {
            assert_eq!(wrong(&|told| told.clears[0] = Some(false)), Fault::Threshold);
            let astray = |told: &mut pairs::Told| {
                told.gap.as_mut().unwrap().as_mut().unwrap().on_a.x += 1e-3 + lift;
            };
            assert_eq!(wrong(&astray), Fault::Witness);
        }
    }
}
