use super::*;
use crate::build::block;
use nalgebra::{Rotation3, Vector3};
use proptest::prelude::*;

fn cube(low: f64, high: f64, outward: bool) -> Mesh {
    let mut made = block(P::new(low, low, low), P::new(high, high, high)).unwrap();
    if !outward {
        made.triangles.iter_mut().for_each(|t| t.swap(1, 2));
    }
    made
}

/// What is wrong with cubes together, each from a corner to a corner and facing a way.
fn found(cubes: &[(f64, f64, bool)]) -> Option<ContradictionKind> {
    let mut mesh = Mesh::default();
    for (low, high, outward) in cubes {
        mesh.append(&cube(*low, *high, *outward));
    }
    contradiction(&mesh, 1e-3).map(|c| c.kind)
}

#[test]
fn pieces_agree_beside_each_other_and_as_voids_within_each_other() {
    let whole = (0.0, 10.0, true);
    for cubes in [
        &[whole][..],
        &[whole, (20.0, 30.0, true)],
        &[whole, (2.0, 8.0, false)],
        &[whole, (2.0, 8.0, false), (3.0, 5.0, true)],
        &[whole, (2.0, 8.0, false), (3.0, 5.0, true), (3.5, 4.5, false)],
        &[(2.0, 8.0, false), whole],
        &[whole, (10.0, 12.0, true)],
    ] {
        assert_eq!(found(cubes), None, "{cubes:?}");
    }
}

#[test]
fn what_contradicts_is_told_the_worst_first() {
    use ContradictionKind::{Cancelled, Overlap, VoidOfNothing};
    let whole = (0.0, 10.0, true);
    for (cubes, kind) in [
        (&[whole, (2.0, 5.0, true)][..], Overlap),
        (&[whole, (5.0, 15.0, true)], Overlap),
        (&[whole, (20.0, 25.0, false)], VoidOfNothing),
        (&[whole, (5.0, 15.0, false)], Cancelled),
        (&[whole, (-5.0, 15.0, false)], Cancelled),
        // The same twice: all of it lies on the other.
        (&[whole, whole], Overlap),
        (&[whole, whole, (2.0, 5.0, false)], Overlap),
        // A void that is all of what it lies in; a void in a void.
        (&[whole, (0.0, 10.0, false), (20.0, 30.0, true)], Cancelled),
        (&[whole, (2.0, 8.0, false), (3.0, 5.0, false)], VoidOfNothing),
        (&[whole, (2.0, 5.0, true), (5.0, 15.0, false)], Cancelled),
    ] {
        assert_eq!(found(cubes), Some(kind), "{cubes:?}");
    }
}

#[test]
fn crossing_bars_have_no_corner_in_each_other() {
    let bar = |long: usize| {
        let mut high = [1.0; 3];
        high[long] = 10.0;
        let high = P::from(high);
        block(-high, high).unwrap()
    };
    let mut mesh = bar(0);
    mesh.append(&bar(2).transformed(&Vector3::new(0.3, 0.2, 0.1).into()));
    let found = contradiction(&mesh, 1e-3).unwrap();
    assert_eq!(found.kind, ContradictionKind::Overlap);
    assert!(found.at.coords.amax() < 1.5, "{}", found.at);
}

#[test]
fn a_piece_that_lies_flush_on_all_sides_is_found() {
    // A prism whose every corner and edge lies on the block: only its end face tells.
    let mut mesh = cube(0.0, 10.0, true);
    let at = |x: f64, y: f64, z: f64| P::new(x, y, z);
    let prism = Mesh {
        vertices: vec![
            at(0.0, 0.0, 5.0),
            at(10.0, 0.0, 5.0),
            at(0.0, 10.0, 5.0),
            at(0.0, 0.0, 15.0),
            at(10.0, 0.0, 15.0),
            at(0.0, 10.0, 15.0),
        ],
        triangles: vec![
            [0, 2, 1],
            [3, 4, 5],
            [0, 1, 4],
            [0, 4, 3],
            [1, 2, 5],
            [1, 5, 4],
            [2, 0, 3],
            [2, 3, 5],
        ],
    };
    assert!(volume(&prism) > 0.0);
    mesh.append(&prism);
    assert_eq!(contradiction(&mesh, 1e-3).map(|c| c.kind), Some(ContradictionKind::Overlap));
}

#[test]
fn pieces_that_stand_on_each_other_agree() {
    let mut mesh = cube(0.0, 10.0, true);
    mesh.append(&cube(0.0, 10.0, true).transformed(&Vector3::new(0.0, 0.0, 10.0).into()));
    mesh.append(&cube(0.0, 5.0, true).transformed(&Vector3::new(-5.0, 1.0, 1.0).into()));
    // A void up to a face of what it lies in, with a block on its floor.
    mesh.append(&cube(0.0, 5.0, false).transformed(&Vector3::new(1.0, 1.0, 15.0).into()));
    mesh.append(&cube(0.0, 2.0, true).transformed(&Vector3::new(2.0, 2.0, 15.0).into()));
    assert_eq!(contradiction(&mesh, 1e-3), None);
}

#[test]
fn what_runs_into_another_by_less_than_asked_touches_it() {
    let mut mesh = cube(0.0, 10.0, true);
    mesh.append(&cube(0.0, 10.0, true).transformed(&Vector3::new(9.99, 1.0, 1.0).into()));
    assert_eq!(contradiction(&mesh, 0.02), None);
    assert!(contradiction(&mesh, 0.002).is_some());
}

#[test]
fn an_open_mesh_has_no_answer() {
    let mut mesh = cube(0.0, 10.0, true);
    mesh.append(&cube(2.0, 5.0, true));
    mesh.triangles.pop();
    assert_eq!(contradiction(&mesh, 0.0), None);
    mesh.vertices[3].x = f64::NAN;
    assert_eq!(contradiction(&mesh, 0.0), None);
}

proptest! {
    /// Against solid angles: two blocks turned and moved by chance contradict each other where a point
    /// about which they wind twice or less than nought is found among many.
    #[test]
    fn blocks_by_chance(
        turn in prop::array::uniform3(-3.0..3.0_f64),
        by in prop::array::uniform3(-12.0..12.0_f64),
        size in prop::array::uniform3(1.0..8.0_f64),
        outward: bool,
    ) {
        let mut other = block(-P::from(size), P::from(size)).unwrap();
        for p in &mut other.vertices {
            *p = Rotation3::from_scaled_axis(Vector3::from(turn)) * *p + Vector3::from(by);
        }
        if !outward {
            other.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        }
        let mut mesh = cube(-5.0, 5.0, true);
        mesh.append(&other);
        let mut wrong = false;
        let n = 14;
        for i in 0..n * n * n {
            let at = |k: usize| -12.7 + 25.4 * f64::from(u32::try_from(k).unwrap()) / f64::from(u32::try_from(n).unwrap());
            let p = P::new(at(i % n), at(i / n % n), at(i / n / n));
            let w = crate::winding_number(&mesh, &p).round();
            wrong |= !(0.0..=1.0).contains(&w);
        }
        let told = contradiction(&mesh, 1e-6);
        if wrong {
            prop_assert!(told.is_some());
        }
        if let Some(told) = told {
            // Just beside the place it is as wrong as told, on one side of the surface at least.
            let off: Vec<f64> = (0..64).map(|k| {
                let a = f64::from(k);
                let d = Vector3::new((a * 1.1).sin(), (a * 2.3).cos(), (a * 0.7 + 1.0).sin()).normalize();
                crate::winding_number(&mesh, &(told.at + d * 1e-7)).round()
            }).collect();
            prop_assert!(off.iter().any(|w| !(0.0..=1.0).contains(w)), "{:?} {:?}", told, off);
        }
    }
}
