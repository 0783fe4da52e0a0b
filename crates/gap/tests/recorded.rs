//! Distances recorded from FCL (python-fcl 0.7.0.11), recomputed live by
//! `tests/outside/gap/run`. Surfaces by FCL, insides by a winding number summed in numpy.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;
#[path = "../../../tests/outside/shared/tables.rs"]
mod tables;

use std::collections::HashMap;
use std::path::PathBuf;

use gap::{Proximity, Solid, clears, crosses, gap};
use tables::{pose, read_obj};

/// Millimetres; FCL's own tolerance in these sizes is far below.
const AGREE: f64 = 1e-6;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/outside/gap")
}

fn body(name: &str) -> Solid {
    Solid::new(&read_obj(&folder().join(format!("mesh/{name}.obj"))).unwrap())
}

#[test]
fn agrees_with_fcl() {
    let pairs = HashMap::from([
        ("cup", (body("cup"), body("valve"))),
        ("torus", (body("torus"), body("cylinder"))),
        ("disc", (body("disc"), body("link"))),
        ("drum", (body("drum"), body("pebble"))),
    ]);
    for (a, b) in pairs.values() {
        assert!(a.is_closed() && b.is_closed());
    }
    let recorded = std::fs::read_to_string(folder().join("recorded.csv")).unwrap();
    let mut count: HashMap<(&str, &str), u32> = HashMap::new();
    let mut worst = 0.0_f64;
    for (number, line) in recorded.lines().enumerate() {
        let row: Vec<&str> = line.split(',').collect();
        let value = |k: usize| row[k].parse::<f64>().unwrap();
        let pose = pose(&mut row[1..8].iter().copied()).unwrap();
        let (state, distance) = (row[8], value(9));
        let (a, b) = &pairs[row[0]];
        let answer = gap(a, b, &pose, f64::INFINITY);
        assert_eq!(crosses(a, b, &pose), state == "cross", "row {number}: {line}");
        match (state, answer) {
            ("cross" | "held", Proximity::Overlapping) => {}
            ("apart", Proximity::Apart(found)) => {
                worst = worst.max((found.distance - distance).abs());
                assert!(
                    (found.distance - distance).abs() < AGREE,
                    "row {number}: {found:?} {line}"
                );
                assert_eq!(clears(a, b, &pose, distance - AGREE), Some(true), "row {number}");
                assert_eq!(clears(a, b, &pose, distance + AGREE), Some(false), "row {number}");
            }
            _ => panic!("row {number}: {answer:?} but {line}"),
        }
        *count.entry((row[0], row[8])).or_default() += 1;
    }
    println!("{count:?}, worst difference {worst:e} mm");
    assert!(count.values().sum::<u32>() >= 2_000);
    for pair in pairs.keys() {
        assert!(count[&(*pair, "apart")] >= 200 && count[&(*pair, "cross")] >= 100, "{count:?}");
    }
    assert!(count[&("drum", "held")] >= 30, "{count:?}");
}
