//! Pairs of single triangles against independent oracles: crossing against separating axes in
//! whole-number arithmetic of unlimited size, distance against a certificate that no nearer pair
//! of points exists.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;

use common::{Numbers, triangle};
use gap::{Gap, Solid, crosses, surface_gap};
use nalgebra::{Isometry3, Point3, Vector3};
use num_bigint::BigInt;

const PAIRS: u64 = 100_000;

type Triangle = [Point3<f64>; 3];

// The oracle. Two convex sets are apart exactly when some direction separates them; for two
// triangles, segments or points a finite list of directions is enough.

type Exact = [BigInt; 3];

/// The coordinate times 2^200 as a whole number; exact for every coordinate drawn here.
fn whole(c: f64) -> BigInt {
    const SCALE: i32 = 200;
    let bits = c.to_bits();
    let exponent = i32::try_from((bits >> 52) & 0x7ff).unwrap();
    let fraction = bits & ((1 << 52) - 1);
    let (mantissa, exponent) =
        if exponent == 0 { (fraction, -1074) } else { (fraction | (1 << 52), exponent - 1075) };
    let shift = exponent + SCALE;
    let size = if shift >= 0 {
        BigInt::from(mantissa) << shift
    } else {
        let size = BigInt::from(mantissa) >> -shift;
        assert_eq!(&size << -shift, BigInt::from(mantissa), "{c} is finer than the oracle");
        size
    };
    if c < 0.0 { -size } else { size }
}

fn minus(a: &Exact, b: &Exact) -> Exact {
    std::array::from_fn(|i| &a[i] - &b[i])
}

fn cross(a: &Exact, b: &Exact) -> Exact {
    std::array::from_fn(|i| {
        let (j, k) = ((i + 1) % 3, (i + 2) % 3);
        &a[j] * &b[k] - &a[k] * &b[j]
    })
}

fn dot(a: &Exact, b: &Exact) -> BigInt {
    &a[0] * &b[0] + &a[1] * &b[1] + &a[2] * &b[2]
}

fn is_zero(a: &Exact) -> bool {
    a.iter().all(|c| *c == BigInt::ZERO)
}

fn separates(axis: &Exact, p: &[Exact; 3], q: &[Exact; 3]) -> bool {
    let range = |t: &[Exact; 3]| {
        let on = [dot(axis, &t[0]), dot(axis, &t[1]), dot(axis, &t[2])];
        (on.iter().min().unwrap().clone(), on.iter().max().unwrap().clone())
    };
    let ((p_low, p_high), (q_low, q_high)) = (range(p), range(q));
    p_high < q_low || q_high < p_low
}

fn oracle_meets(p: &Triangle, q: &Triangle) -> bool {
    let exact = |t: &Triangle| t.map(|c| [whole(c.x), whole(c.y), whole(c.z)]);
    let (p, q) = (exact(p), exact(q));
    let edges = |t: &[Exact; 3]| [minus(&t[1], &t[0]), minus(&t[2], &t[1]), minus(&t[0], &t[2])];
    let (ep, eq) = (edges(&p), edges(&q));
    let apart = |axis: &Exact| separates(axis, &p, &q);

    // Facets of the difference of the sets when it has volume: its normals are the triangles'
    // own and those of two edges.
    let mut normals = vec![cross(&ep[0], &ep[1]), cross(&eq[0], &eq[1])];
    if normals.iter().any(apart) {
        return false;
    }
    let of_edges: Vec<Exact> = ep.iter().flat_map(|e| eq.iter().map(|f| cross(e, f))).collect();
    if of_edges.iter().any(apart) {
        return false;
    }
    // When it is flat: normals of its border within its plane.
    normals.retain(|n| !is_zero(n));
    normals.extend(of_edges.into_iter().filter(|n| !is_zero(n)).take(2));
    let all_edges = || ep.iter().chain(&eq);
    if normals.iter().any(|n| all_edges().any(|e| apart(&cross(n, e)))) {
        return false;
    }
    // When it is a segment or a point: along it, and square to it toward the other set.
    let offset = minus(&q[0], &p[0]);
    if all_edges().any(|e| apart(e) || apart(&cross(&cross(e, &offset), e))) {
        return false;
    }
    !apart(&offset)
}

// The pairs: plain, touching, coplanar, degenerate, slivers, shared corners and edges.

fn drawn(kind: u64, numbers: &mut Numbers) -> (Triangle, Triangle) {
    let any = |numbers: &mut Numbers| -> Triangle { std::array::from_fn(|_| numbers.point(1.0)) };
    let lattice = |numbers: &mut Numbers, sides: u64| -> Triangle {
        std::array::from_fn(|_| Point3::from(Vector3::from_fn(|_, _| numbers.below(sides) as f64)))
    };
    let within = |t: &Triangle, numbers: &mut Numbers| {
        let (u, v) = (numbers.unit().abs(), numbers.unit().abs());
        let (u, v) = if u + v > 1.0 { (1.0 - u, 1.0 - v) } else { (u, v) };
        t[0] + (t[1] - t[0]) * u + (t[2] - t[0]) * v
    };
    let p = any(numbers);
    let q = any(numbers);
    match kind {
        0 => (p, q),
        // On a small lattice nearly every case of touching, coplanar and degenerate comes up.
        1 => (lattice(numbers, 3), lattice(numbers, 3)),
        2 => (lattice(numbers, 4), lattice(numbers, 4)),
        // In one plane.
        3 => (p.map(|c| Point3::new(c.x, c.y, 0.5)), q.map(|c| Point3::new(c.x, c.y, 0.5))),
        4 => (
            lattice(numbers, 5).map(|c| Point3::new(c.x, c.y, c.x + c.y)),
            lattice(numbers, 5).map(|c| Point3::new(c.x, c.y, c.x + c.y)),
        ),
        // A corner of one rounded onto the other: touching, or a bit above or below.
        5 => (p, [within(&p, numbers), q[1], q[2]]),
        // A shared corner; a shared edge.
        6 => (p, [p[1], q[1], q[2]]),
        7 => (p, [p[2], p[0], q[2]]),
        // A sliver through the other, and beside it.
        8 => {
            let through = within(&p, numbers);
            let along = (q[0] - q[1]) * 3.0;
            let thin = Vector3::from(numbers.point(1e-9).coords);
            (p, [through - along * numbers.unit(), through + along, through + along + thin])
        }
        // Two slivers nearly along one another.
        9 => {
            let (d, thin) = (p[1] - p[0], numbers.point(1e-7).coords);
            let beside = numbers.point(1e-7).coords;
            ([p[0], p[1], p[0] + d * 0.5 + thin], [p[0] + beside, p[1] - beside, p[0] + d * 0.3])
        }
        // Segments and points.
        10 => ([p[0], p[1], p[1]], q),
        11 => ([p[0], p[0], p[0]], [p[0], q[1], q[2]]),
        12 => {
            let l = lattice(numbers, 3);
            ([l[0], l[1], l[1]], lattice(numbers, 3))
        }
        13 => {
            let (l, m) = (lattice(numbers, 4), lattice(numbers, 4));
            ([l[0], l[1], l[0]], [m[0], m[0], m[1]])
        }
        // Edges that touch, up to rounding.
        14 => {
            let on_p = p[0] + (p[1] - p[0]) * numbers.unit().abs();
            let along = q[0] - q[1];
            (p, [on_p - along, on_p + along, q[2]])
        }
        // Parallel and a hair apart.
        _ => (p, p.map(|c| c + Vector3::new(0.0, 0.0, numbers.unit() * 1e-12))),
    }
}
const KINDS: u64 = 16;

fn body(t: &Triangle) -> Solid {
    Solid::new(&triangle(*t))
}

#[test]
fn crossing_is_exact() {
    let mut numbers = Numbers::new(1);
    let mut met = vec![0; usize::try_from(KINDS).unwrap()];
    for k in 0..PAIRS {
        let kind = k % KINDS;
        let (p, q) = drawn(kind, &mut numbers);
        let told = crosses(&body(&p), &body(&q), &Isometry3::identity());
        let true_ = oracle_meets(&p, &q);
        assert_eq!(told, true_, "kind {kind}, pair {k}: {p:?} {q:?}");
        let swapped = crosses(&body(&q), &body(&p), &Isometry3::identity());
        assert_eq!(swapped, true_, "kind {kind}, pair {k} swapped: {p:?} {q:?}");
        met[usize::try_from(kind).unwrap()] += u32::from(true_);
    }
    // The kinds do what they are for: all but the shared-corner ones see both answers.
    for (kind, met) in met.iter().enumerate() {
        let of = u32::try_from(PAIRS / KINDS).unwrap();
        let both = *met > of / 500 && *met < of - of / 500;
        assert!(both || [3, 6, 7, 8, 9, 10, 11, 15].contains(&kind), "kind {kind}: {met} of {of}");
    }
}

/// Whether `point` is on the triangle but for rounding: on its plane and left of its edges, or,
/// where it is too thin for that, within its height of an edge.
fn is_on(t: &Triangle, point: &Point3<f64>) -> bool {
    let edges = [t[1] - t[0], t[2] - t[1], t[0] - t[2]];
    let normal = edges[0].cross(&edges[1]);
    let longest = edges.iter().map(Vector3::norm).fold(0.0, f64::max);
    let height = if longest > 0.0 { normal.norm() / longest } else { 0.0 };
    if height > 1e-3 {
        let left = |i: usize| edges[i].cross(&(point - t[i])).dot(&normal) / normal.norm_squared();
        return normal.normalize().dot(&(point - t[0])).abs() < 1e-12
            && (0..3).all(|i| left(i) > -1e-12);
    }
    (0..3).any(|i| {
        let along = edges[i].try_normalize(1e-30).unwrap_or_else(Vector3::x);
        let at = (point - t[i]).dot(&along).clamp(0.0, edges[i].norm());
        (point - (t[i] + along * at)).norm() <= height + 1e-12
    })
}

/// Whether the triangles meet, or do after a shift that rounding alone could make.
fn touches(p: &Triangle, q: &Triangle) -> bool {
    const ROUNDING: f64 = 1e-15;
    let steps = [0.0, -ROUNDING, ROUNDING];
    steps.iter().any(|x| {
        steps.iter().any(|y| {
            steps.iter().any(|z| oracle_meets(p, &q.map(|c| c + Vector3::new(*x, *y, *z))))
        })
    })
}

#[test]
fn distance_is_the_least() {
    let mut numbers = Numbers::new(2);
    let mut checked = 0;
    for k in 0..PAIRS {
        let (p, q) = drawn(k % KINDS, &mut numbers);
        let nearest = surface_gap(&body(&p), &body(&q), &Isometry3::identity(), f64::INFINITY);
        let Gap { distance, on_a, on_b, .. } = nearest.unwrap().unwrap();
        if distance == 0.0 {
            assert!(touches(&p, &q), "pair {k} is apart: {p:?} {q:?}");
            continue;
        }
        // Not too small: the distance is between points of the two triangles. Not too large: the
        // slab square to their line separates the triangles by as much.
        let across = on_b - on_a;
        assert!((across.norm() - distance).abs() <= 1e-15 * (1.0 + distance), "pair {k}");
        assert!(is_on(&p, &on_a) && is_on(&q, &on_b), "pair {k}: {on_a} {p:?} {on_b} {q:?}");
        if distance < 1e-9 {
            continue;
        }
        let along = across / distance;
        let beyond_a = p.iter().map(|c| along.dot(&(c - on_a))).fold(f64::NEG_INFINITY, f64::max);
        let before_b = q.iter().map(|c| along.dot(&(c - on_b))).fold(f64::INFINITY, f64::min);
        // Rounding turns the slab by up to about 1e-15 / distance.
        let tolerance = 1e-13 + 1e-14 / distance;
        assert!(
            beyond_a <= tolerance && before_b >= -tolerance,
            "pair {k}, kind {}: {distance} but {beyond_a:e} {before_b:e} {p:?} {q:?}",
            k % KINDS
        );
        checked += 1;
    }
    assert!(checked > PAIRS / 4, "{checked} distances checked");
}
