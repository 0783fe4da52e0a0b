//! Pairs of single triangles, plain and awkward, each judged against the exact answer.
#![allow(dead_code, unreachable_pub, reason = "each test file uses some of it")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::float_cmp,
    reason = "numbers drawn are small; exact values are meant"
)]

use std::fmt::Write as _;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use gap::{Gap, Solid, Undecided, clears, crosses, surface_gap};
use nalgebra::{Isometry3, Matrix3, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};
use num_bigint::BigInt;

use crate::common::{Kinds, Numbers, add_kinds, on_every_processor, triangle};
use crate::oracle;

pub type Triangle = [Point3<f64>; 3];
type Corners = [[i64; 3]; 3];

/// Two triangles in one frame, the second also as a body at a pose. The pose takes its corners
/// into the frame without any rounding.
#[derive(Debug, Clone)]
pub struct Pair {
    pub kind: &'static str,
    pub p: Triangle,
    pub q: Triangle,
    /// `q` in its own frame.
    pub own_q: Triangle,
    pub p_from_q: Isometry3<f64>,
    pub truth: Truth,
}

/// The exact answer; the distance, millimetres, right to 2^-50 of itself.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub meets: bool,
    pub distance: f64,
}

/// What the engine says of a pair.
#[derive(Debug, Clone, Copy)]
pub struct Told {
    pub crosses: bool,
    pub gap: Result<Option<Gap>, Undecided>,
    /// Whether a need of a little less than the true distance is clear, and of a little more.
    pub clears: [Option<bool>; 2],
}

/// How the answer to a pair is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// They meet, and are told not to cross or to be some way apart or clear.
    FalseClear,
    /// They are apart and told to cross.
    FalseCrossing,
    /// A distance beyond the tolerance, or none at all.
    Distance,
    /// The witness points are not as far apart as the distance says, or not on the triangles.
    Witness,
    /// A need the distance meets is not clear, or one that it does not meet is.
    Threshold,
}

/// Greatest error of a distance, as a share of the greatest coordinate of the pair in any frame:
/// 1e-6 mm would be allowed at the size of a car top, 5 m; this is a thousandth of that.
pub const TOLERANCE: f64 = 2e-13;

/// As [`TOLERANCE`] for the witness points of two triangles that meet, whose distance is zero:
/// where they nearly lie in one plane, the line they meet in is hard to tell.
pub const TOUCH: f64 = 1e-9;

/// Greatest coordinate in either frame, millimetres.
pub fn size(pair: &Pair) -> f64 {
    let corners = pair.p.iter().chain(&pair.q).chain(&pair.own_q);
    let most = corners.map(|c| c.coords.amax()).fold(0.0, f64::max);
    most.max(pair.p_from_q.translation.vector.amax())
}

pub fn ask(pair: &Pair) -> Told {
    let (p, q) = (Solid::new(&triangle(pair.p)), Solid::new(&triangle(pair.own_q)));
    let pose = &pair.p_from_q;
    let (under, over) = needs(pair);
    Told {
        crosses: crosses(&p, &q, pose),
        gap: surface_gap(&p, &q, pose, f64::INFINITY),
        clears: [clears(&p, &q, pose, under), clears(&p, &q, pose, over)],
    }
}

/// Whether the corners are any numbers; then the witness points too are compared exactly.
fn is_free(pair: &Pair) -> bool {
    pair.kind.starts_with("free")
}

/// A need surely met, if the triangles are apart at all, and one surely not.
fn needs(pair: &Pair) -> (f64, f64) {
    let room = 2.0 * TOLERANCE * size(pair);
    ((pair.truth.distance - room).max(0.0), pair.truth.distance + room)
}

/// The error of the distance, millimetres, or what is wrong.
pub fn judge(pair: &Pair, told: &Told) -> Result<f64, Fault> {
    let Truth { meets, distance } = pair.truth;
    let Ok(Some(gap)) = told.gap else { return Err(Fault::Distance) };
    if meets {
        let clear = told.clears.iter().any(|c| *c != Some(false));
        if !told.crosses || gap.distance != 0.0 || clear {
            return Err(Fault::FalseClear);
        }
    } else if told.crosses {
        return Err(Fault::FalseCrossing);
    }
    let tolerance = TOLERANCE * size(pair);
    let error = (gap.distance - distance).abs();
    if error.is_nan() || error > tolerance {
        return Err(Fault::Distance);
    }
    let apart = (gap.on_a - gap.on_b).norm();
    if (apart - gap.distance).abs() > if meets { TOUCH * size(pair) } else { tolerance } {
        return Err(Fault::Witness);
    }
    if is_free(pair) {
        for (point, t) in [(gap.on_a, &pair.p), (gap.on_b, &pair.q)] {
            if free_truth(&[point; 3], t).distance > tolerance {
                return Err(Fault::Witness);
            }
        }
    }
    // An open surface may leave it undecided, but must not be told to be nearer than it is.
    if (!meets && told.clears[0] == Some(false)) || told.clears[1] != Some(false) {
        return Err(Fault::Threshold);
    }
    Ok(error)
}

/// What a run over many pairs found.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    pub pairs: u64,
    /// Of these, the ones whose corners are any floating-point numbers, not of a lattice.
    pub free: u64,
    pub meeting: u64,
    /// Pairs of each kind, and how many of them meet.
    pub kinds: Kinds,
    /// Greatest error of a distance, millimetres, and the pair's size.
    pub worst: (f64, f64),
    /// Greatest error as a share of the pair's size.
    pub worst_share: f64,
    /// Greatest error of the pairs no larger than 5 m, millimetres.
    pub worst_on_a_car: f64,
    pub faults: Vec<(Fault, Pair, Told)>,
}

impl Tally {
    fn add(&mut self, pair: Pair) {
        let told = ask(&pair);
        self.pairs += 1;
        self.free += u64::from(is_free(&pair));
        self.meeting += u64::from(pair.truth.meets);
        let kind = self.kinds.entry(pair.kind).or_default();
        kind[0] += 1;
        kind[1] += u64::from(pair.truth.meets);
        match judge(&pair, &told) {
            Ok(error) => {
                let size = size(&pair);
                if error > self.worst.0 {
                    self.worst = (error, size);
                }
                if size > 0.0 {
                    self.worst_share = self.worst_share.max(error / size);
                }
                if size <= 5_000.0 {
                    self.worst_on_a_car = self.worst_on_a_car.max(error);
                }
            }
            Err(fault) => self.faults.push((fault, pair, told)),
        }
    }

    fn join(&mut self, other: Self) {
        self.pairs += other.pairs;
        self.free += other.free;
        self.meeting += other.meeting;
        add_kinds(&mut self.kinds, other.kinds);
        if other.worst.0 > self.worst.0 {
            self.worst = other.worst;
        }
        self.worst_share = self.worst_share.max(other.worst_share);
        self.worst_on_a_car = self.worst_on_a_car.max(other.worst_on_a_car);
        self.faults.extend(other.faults);
    }
}

/// One pair in this many has free corners, judged in unlimited whole numbers.
const FREE_EVERY: u64 = 20;

/// Judges `count` pairs on every processor; the same pairs whatever their number.
pub fn run(count: u64) -> Tally {
    const BLOCK: u64 = 1_000;
    let next = AtomicU64::new(0);
    let work = || {
        let mut tally = Tally::default();
        loop {
            let block = next.fetch_add(1, Ordering::Relaxed);
            if block * BLOCK >= count || tally.faults.len() > 20 {
                return tally;
            }
            // Through the generator, since the streams of neighbouring seeds overlap.
            let mut numbers = Numbers::new(Numbers::new(block).bits());
            for k in block * BLOCK..count.min((block + 1) * BLOCK) {
                let free = k % FREE_EVERY == 0;
                tally.add(if free { free_pair(&mut numbers) } else { lattice_pair(&mut numbers) });
            }
        }
    };
    let mut whole = Tally::default();
    for tally in on_every_processor(work) {
        whole.join(tally);
    }
    whole
}

/// Two lines on the run, and on the first faults.
pub fn report(tally: &Tally, took: Duration) -> String {
    let Tally { pairs, free, meeting, worst, worst_share, worst_on_a_car, .. } = tally;
    let mut text = format!(
        "{pairs} pairs of triangles ({free} with free corners, {meeting} meeting) in {:.0} s: {} \
         wrong\nworst error of a distance {:.1e} mm (at coordinates up to {:.1e} mm), \
         {worst_share:.1e} of the coordinates; {worst_on_a_car:.1e} mm within 5 m",
        took.as_secs_f64(),
        tally.faults.len(),
        worst.0,
        worst.1,
    );
    for (fault, pair, told) in tally.faults.iter().take(5) {
        write!(text, "\n{fault:?} of {pair:?}: {told:?}").expect("a string takes all");
    }
    text
}

// Pairs on a lattice.

/// Half the lattice's sides.
const REACH: i64 = 1 << 20;

/// A random whole number from `-reach` to `reach`.
fn number(numbers: &mut Numbers, reach: i64) -> i64 {
    let sides = u64::try_from(2 * reach + 1).expect("a reach is positive");
    i64::try_from(numbers.below(sides)).expect("below 2^22") - reach
}

fn vector(numbers: &mut Numbers, reach: i64) -> [i64; 3] {
    std::array::from_fn(|_| number(numbers, reach))
}

fn any(numbers: &mut Numbers, reach: i64) -> Corners {
    std::array::from_fn(|_| vector(numbers, reach))
}

fn sum(a: [i64; 3], b: [i64; 3]) -> [i64; 3] {
    std::array::from_fn(|i| a[i] + b[i])
}

fn times(a: [i64; 3], k: i64) -> [i64; 3] {
    a.map(|c| c * k)
}

fn difference(a: [i64; 3], b: [i64; 3]) -> [i64; 3] {
    sum(a, times(b, -1))
}

/// A triangle with `at` in its inside, on a lattice point.
fn around(numbers: &mut Numbers, at: [i64; 3], reach: i64) -> Corners {
    let (u, v) = (vector(numbers, reach / 2), vector(numbers, reach / 2));
    [sum(at, u), sum(at, v), difference(difference(at, u), v)]
}

/// A triangle with `at` on its first edge.
fn beside(numbers: &mut Numbers, at: [i64; 3], reach: i64) -> Corners {
    let along = vector(numbers, reach / 8);
    let (before, after) = (number(numbers, 4) + 4, number(numbers, 4) + 4);
    [difference(at, times(along, before)), sum(at, times(along, after)), vector(numbers, reach)]
}

/// Long and, seen from its ends, nearly a line.
fn sliver(numbers: &mut Numbers, middle: [i64; 3], reach: i64) -> Corners {
    let along = vector(numbers, reach / 4);
    let apex = sum(middle, vector(numbers, 3));
    let apex = sum(apex, if numbers.below(2) == 0 { [0; 3] } else { along });
    [difference(middle, along), sum(middle, times(along, 2)), apex]
}

/// A step off by nothing or by a few lattice units.
fn hair(numbers: &mut Numbers) -> [i64; 3] {
    let reach = [0, 0, 1, 1, 5][numbers.below(5) as usize];
    vector(numbers, reach)
}

/// Two points of one lattice plane through `at`.
fn in_plane(numbers: &mut Numbers, at: [i64; 3], u: [i64; 3], v: [i64; 3]) -> [i64; 3] {
    sum(at, sum(times(u, number(numbers, 9)), times(v, number(numbers, 9))))
}

fn drawn(numbers: &mut Numbers) -> (&'static str, Corners, Corners) {
    let reach = 1 << (2 + numbers.below(18));
    let p = any(numbers, reach);
    let at = vector(numbers, reach / 2);
    match numbers.below(16) {
        0 => ("any", p, any(numbers, reach)),
        // On a small lattice nearly every case of touching, coplanar and no area comes up.
        1 | 2 => {
            let few = 1 + numbers.below(3) as i64;
            ("few", any(numbers, few), any(numbers, few))
        }
        3 => {
            let (u, v) = (vector(numbers, reach / 16 + 1), vector(numbers, reach / 16 + 1));
            let mut corner = || in_plane(numbers, at, u, v);
            let p: Corners = std::array::from_fn(|_| corner());
            let q: Corners = std::array::from_fn(|_| corner());
            let lift = hair(numbers);
            ("coplanar", p, q.map(|c| sum(c, lift)))
        }
        4 => {
            let p = around(numbers, at, reach);
            ("corner on face", p, [sum(at, hair(numbers)), vector(numbers, reach), p[1]])
        }
        5 => {
            let p = around(numbers, at, reach);
            let q = [sum(at, hair(numbers)), vector(numbers, reach), vector(numbers, reach)];
            ("corner on face", p, q)
        }
        6 => {
            let p = beside(numbers, at, reach);
            let q = [sum(at, hair(numbers)), vector(numbers, reach), vector(numbers, reach)];
            ("corner on edge", p, q)
        }
        7 => {
            let (p, q) = (beside(numbers, at, reach), beside(numbers, at, reach));
            let off = hair(numbers);
            ("edge on edge", p, q.map(|c| sum(c, off)))
        }
        8 => ("shared corner", p, [p[1], vector(numbers, reach), vector(numbers, reach)]),
        9 => {
            let off = hair(numbers);
            ("shared edge", p, [sum(p[2], off), sum(p[0], off), vector(numbers, reach)])
        }
        10 => {
            // The same triangle, or a part of it, a hair off.
            let off = hair(numbers);
            let q = [sum(p[2], off), sum(p[0], off), sum(p[1], hair(numbers))];
            ("nearly the same", p, q)
        }
        11 => {
            let p = around(numbers, at, reach);
            // Parallel but for a hair in each corner.
            let (k, off) = (number(numbers, 3), vector(numbers, 9));
            let q = p.map(|c| sum(sum(c, off), times(difference(c, at), k)));
            let q = q.map(|c| sum(c, hair(numbers)));
            ("nearly parallel", p, q)
        }
        12 => {
            let (p, q) = (sliver(numbers, at, reach), sliver(numbers, at, reach));
            let off = hair(numbers);
            ("slivers", p, q.map(|c| sum(c, off)))
        }
        13 => {
            // Along one another.
            let p = sliver(numbers, at, reach);
            ("slivers", p, p.map(|c| sum(c, vector(numbers, 2))))
        }
        14 => {
            let p = around(numbers, at, reach);
            let (speck, off) = (any(numbers, 3), vector(numbers, 6));
            ("a speck at a face", p, speck.map(|c| sum(sum(c, at), off)))
        }
        _ => {
            let far = vector(numbers, REACH / 2);
            ("far", p.map(|c| c.map(|x| x / 2)), any(numbers, reach / 2).map(|c| sum(c, far)))
        }
    }
}

/// Takes the area of a triangle: a segment, three points in line, or one point.
fn flattened(numbers: &mut Numbers, t: &mut Corners) {
    match numbers.below(4) {
        0 => t[1] = t[0],
        1 => t[2] = t[1],
        2 => t[2] = std::array::from_fn(|i| 2 * t[1][i] - t[0][i]),
        _ => *t = [t[0]; 3],
    }
}

fn lattice_pair(numbers: &mut Numbers) -> Pair {
    let (kind, mut p, mut q) = drawn(numbers);
    if numbers.below(8) == 0 {
        flattened(numbers, &mut p);
    }
    if numbers.below(8) == 0 {
        flattened(numbers, &mut q);
    }
    let turns = numbers.below(3);
    q.rotate_left(turns as usize);
    let (p, q) = if numbers.below(2) == 0 { (p, q) } else { (q, p) };
    let most = p.iter().chain(&q).flatten().map(|c| c.abs()).max().expect("six corners");
    assert!(most <= 4 * REACH, "{kind} leaves the lattice: {most}");
    // The size: largest coordinate from 1e-6 mm to 1e6 mm.
    let largest = numbers.below(41) as i32 - 20;
    let unit = 2.0_f64.powi(largest - most.max(1).ilog2() as i32);
    // Far from the origins, now and then, as far as the engine's ten kilometres and the 53 bits
    // of a coordinate go.
    let farthest = (9e6 / unit).min(2.0_f64.powi(50)) as i64;
    let mut far = |often: u64| {
        let bits = numbers.below(u64::from(farthest.max(2).ilog2()));
        let away = numbers.below(often) == 0;
        let sides = 1_i64 << bits;
        let place = std::array::from_fn(|_| (numbers.unit() * sides as f64) as i64);
        if away { place } else { [0; 3] }
    };
    let (off_p, off_q) = (far(4), far(4));
    let turn = TURNS[numbers.below(12) as usize];
    let turn = UnitQuaternion::new_unchecked(Quaternion::new(turn[0], turn[1], turn[2], turn[3]));
    let matrix: Matrix3<f64> = *turn.to_rotation_matrix().matrix();
    let (p, q) = (p.map(|c| sum(c, off_p)), q.map(|c| sum(c, off_p)));
    let whole = |c: &[i64; 3]| Vector3::new(c[0] as f64, c[1] as f64, c[2] as f64);
    let back = matrix.transpose();
    let own_q = q.map(|c| Point3::from(back * whole(&difference(c, off_q)) * unit));
    let truth = truth_of(&p.map(|c| difference(c, p[0])), &q.map(|c| difference(c, p[0])), unit);
    Pair {
        kind,
        p: p.map(|c| Point3::from(whole(&c) * unit)),
        q: q.map(|c| Point3::from(whole(&c) * unit)),
        own_q,
        p_from_q: Isometry3::from_parts(Translation3::from(whole(&off_q) * unit), turn),
        truth,
    }
}

/// The twelve turns whose matrices are whole numbers and whose quaternions are exact.
const TURNS: [[f64; 4]; 12] = [
    [1.0, 0.0, 0.0, 0.0],
    [0.0, 1.0, 0.0, 0.0],
    [0.0, 0.0, 1.0, 0.0],
    [0.0, 0.0, 0.0, 1.0],
    [0.5, 0.5, 0.5, 0.5],
    [0.5, -0.5, 0.5, 0.5],
    [0.5, 0.5, -0.5, 0.5],
    [0.5, 0.5, 0.5, -0.5],
    [0.5, -0.5, -0.5, 0.5],
    [0.5, -0.5, 0.5, -0.5],
    [0.5, 0.5, -0.5, -0.5],
    [0.5, -0.5, -0.5, -0.5],
];

fn truth_of(p: &Corners, q: &Corners, unit: f64) -> Truth {
    let (p, q) = (p.map(|c| c.map(i128::from)), q.map(|c| c.map(i128::from)));
    let meets = oracle::meets(&p, &q);
    Truth { meets, distance: if meets { 0.0 } else { oracle::distance(&p, &q) * unit } }
}

// Pairs whose corners are any floating-point numbers.

/// Coordinates as whole numbers of the finest unit among them, and that unit's power of two.
pub fn whole_corners(p: &Triangle, q: &Triangle) -> ([oracle::Triangle<BigInt>; 2], i32) {
    let parts = |c: f64| {
        let exponent = i32::try_from((c.to_bits() >> 52) & 0x7ff).expect("eleven bits");
        let fraction = i64::try_from(c.to_bits() & ((1 << 52) - 1)).expect("52 bits");
        let size = if exponent == 0 { fraction } else { fraction | (1 << 52) };
        (if c < 0.0 { -size } else { size }, exponent.max(1) - 1075)
    };
    let all = p.iter().chain(q).flat_map(|c| [c.x, c.y, c.z]).map(parts);
    let unit = all.filter(|(size, _)| *size != 0).map(|(_, power)| power).min().unwrap_or(0);
    let whole = |c: f64| {
        let (size, power) = parts(c);
        BigInt::from(size) << (power - unit).max(0)
    };
    ([p, q].map(|t| t.map(|c| [whole(c.x), whole(c.y), whole(c.z)])), unit)
}

pub fn free_truth(p: &Triangle, q: &Triangle) -> Truth {
    let ([p, q], unit) = whole_corners(p, q);
    let meets = oracle::meets(&p, &q);
    let distance = if meets { 0.0 } else { oracle::distance(&p, &q) * 2.0_f64.powi(unit) };
    Truth { meets, distance }
}

fn within(t: &Triangle, numbers: &mut Numbers) -> Point3<f64> {
    let (u, v) = (numbers.unit().abs(), numbers.unit().abs());
    let (u, v) = if u + v > 1.0 { (1.0 - u, 1.0 - v) } else { (u, v) };
    t[0] + (t[1] - t[0]) * u + (t[2] - t[0]) * v
}

fn free_corners(numbers: &mut Numbers) -> (&'static str, Triangle, Triangle) {
    let p: Triangle = std::array::from_fn(|_| numbers.point(1.0));
    let q: Triangle = std::array::from_fn(|_| numbers.point(1.0));
    match numbers.below(10) {
        0 => ("free", p, q),
        // A corner rounded onto the other: touching, or a bit above or below.
        1 => ("free, corner on face", p, [within(&p, numbers), q[1], q[2]]),
        2 => ("free, shared corner", p, [p[1], q[1], q[2]]),
        3 => ("free, shared edge", p, [p[2], p[0], q[2]]),
        // A sliver through the other, and beside it.
        4 => {
            let through = within(&p, numbers);
            let along = (q[0] - q[1]) * 3.0;
            let thin = numbers.point(1e-9).coords;
            let start = through - along * numbers.unit();
            ("free, sliver", p, [start, through + along, through + along + thin])
        }
        // Two slivers nearly along one another.
        5 => {
            let (d, thin) = (p[1] - p[0], numbers.point(1e-7).coords);
            let off = numbers.point(1e-7).coords;
            let q = [p[0] + off, p[1] - off, p[0] + d * 0.3];
            ("free, slivers", [p[0], p[1], p[0] + d * 0.5 + thin], q)
        }
        // Segments and points.
        6 => match numbers.below(3) {
            0 => ("free, no area", [p[0], p[1], p[1]], q),
            1 => ("free, no area", [p[0], p[0], p[0]], [p[0], q[1], q[2]]),
            _ => ("free, no area", [p[0], p[1], nalgebra::center(&p[0], &p[1])], q),
        },
        // Edges that touch, up to rounding.
        7 => {
            let on_p = p[0] + (p[1] - p[0]) * numbers.unit().abs();
            let along = q[0] - q[1];
            ("free, edge on edge", p, [on_p - along, on_p + along, q[2]])
        }
        // Edges that cross under a very small angle, one a little over the other.
        8 => {
            let (along, over) = (p[1] - p[0], (p[1] - p[0]).cross(&(p[2] - p[0])));
            let mut power = |most: f64| 10.0_f64.powf(-most * numbers.unit().abs());
            let (turn, lift) = (power(14.0), power(16.0));
            let at = p[0] + along * 0.4 + over * lift;
            let other = along + (q[0] - q[1]) * turn;
            let q = [at - other * 0.3, at + other * 0.5, at + (p[0] - p[2]) + over * 0.3];
            ("free, edge along edge", p, q)
        }
        // Parallel and a hair apart.
        _ => {
            let lift = Vector3::new(0.0, 0.0, numbers.unit() * 1e-12);
            ("free, parallel", p, p.map(|c| c + lift))
        }
    }
}

fn free_pair(numbers: &mut Numbers) -> Pair {
    let (kind, p, q) = free_corners(numbers);
    let scale = 10.0_f64.powf(6.0 * numbers.unit());
    let off = if numbers.below(3) == 0 { numbers.point(1e6) } else { Point3::origin() };
    let placed = |t: Triangle| t.map(|c| Point3::from(c.coords * scale + off.coords));
    let (p, q) = (placed(p), placed(q));
    let truth = free_truth(&p, &q);
    Pair { kind, p, q, own_q: q, p_from_q: Isometry3::identity(), truth }
}
