//! Pairs of small bodies and sheets, each query judged against the exact answer over every pair
//! of their triangles.
#![allow(dead_code, unreachable_pub, reason = "each test file uses some of it")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::float_cmp,
    reason = "numbers drawn are small; exact values are meant"
)]

use std::f64::consts::PI;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use gap::{Proximity, Solid, clears, crosses, gap, surface_gap};
use nalgebra::{Isometry3, Point3, Translation3, Vector3};
use solids::Mesh;

use crate::common::{
    self, Kinds, Numbers, add_kinds, block, cylinder, on_every_processor, pipe, sphere, torus,
};
use crate::oracle;

/// Corners on a lattice, in units of [`UNIT`].
#[derive(Debug, Clone)]
pub struct Body {
    corners: Vec<[i64; 3]>,
    triangles: Vec<[u32; 3]>,
    shape: Shape,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shape {
    Closed,
    /// Open, all triangles facing one way.
    Open,
    /// Triangles that have nothing to do with one another: nothing is said of its inside.
    Soup,
}

/// The lattice's step, millimetres: a quarter of a micrometre.
const UNIT: f64 = 1.0 / 4_096.0;

/// Two bodies in one frame.
#[derive(Debug, Clone)]
pub struct Couple {
    pub kind: &'static str,
    pub a: Body,
    pub b: Body,
}

/// What is true of two bodies.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub meets: bool,
    /// Of the surfaces, millimetres; zero when they meet.
    pub distance: f64,
    /// Whether one holds the other, the surfaces being apart, told in frames along the axes of
    /// the lattice, and in any frame.
    pub holds: [Verdicts; 2],
}

/// What may be said of one body holding the other. More than one thing only where a surface is
/// open: then it depends on the corner asked about, and on the frame for a corner out of the box
/// around the open body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Verdicts {
    pub no: bool,
    pub yes: bool,
    pub undecided: bool,
}

impl Verdicts {
    pub const NO: Self = Self { no: true, yes: false, undecided: false };
    pub const YES: Self = Self { no: false, yes: true, undecided: false };

    fn allows(self, verdict: Option<bool>) -> bool {
        match verdict {
            Some(false) => self.no,
            Some(true) => self.yes,
            None => self.undecided,
        }
    }

    /// Of two holders: yes if either, else undecided if either.
    fn or(self, other: Self) -> Self {
        Self {
            no: self.no && other.no,
            yes: self.yes || other.yes,
            undecided: (self.undecided && (other.no || other.undecided))
                || (other.undecided && self.no),
        }
    }
}

/// Greatest error of a distance at an exact pose, as a share of the greatest coordinate.
pub const EXACT: f64 = 2e-13;

/// The same after both bodies were moved, their corners rounded. At 5 m 5e-9 mm.
pub const MOVED: f64 = 1e-12;

impl Body {
    fn new(mesh: &Mesh, shape: Shape) -> Self {
        let corners = mesh.vertices.iter().map(|v| snapped(&v.coords)).collect();
        Self { corners, triangles: mesh.triangles.clone(), shape }
    }

    fn shifted(mut self, by: [i64; 3]) -> Self {
        for corner in &mut self.corners {
            *corner = std::array::from_fn(|i| corner[i] + by[i]);
        }
        self
    }

    /// Every corner through a matrix of whole numbers, so that what lies in one plane stays so.
    fn sheared(mut self, matrix: &[[i64; 3]; 3]) -> Self {
        for corner in &mut self.corners {
            *corner = matrix.map(|row| (0..3).map(|i| row[i] * corner[i]).sum());
        }
        self
    }

    /// Three corners of its own for each triangle.
    fn unwelded(&self) -> Self {
        let of = |v: &u32| self.corners[*v as usize];
        let corners: Vec<[i64; 3]> = self.triangles.iter().flatten().map(of).collect();
        let triangles = (0..self.triangles.len() as u32).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]);
        Self { corners, triangles: triangles.collect(), shape: self.shape }
    }

    fn joined(mut self, other: &Self) -> Self {
        let base = self.corners.len() as u32;
        self.corners.extend(&other.corners);
        self.triangles.extend(other.triangles.iter().map(|t| t.map(|v| v + base)));
        self
    }

    fn whole(&self) -> Vec<oracle::Triangle<i128>> {
        let of = |v: u32| self.corners[v as usize].map(i128::from);
        self.triangles.iter().map(|t| t.map(of)).collect()
    }

    /// In millimetres, in the frame that `pose` brings into the lattice's.
    fn mesh(&self, pose: &Isometry3<f64>) -> Mesh {
        let back = pose.inverse();
        let place = |c: &[i64; 3]| {
            back * Point3::new(c[0] as f64 * UNIT, c[1] as f64 * UNIT, c[2] as f64 * UNIT)
        };
        Mesh {
            vertices: self.corners.iter().map(place).collect(),
            triangles: self.triangles.clone(),
        }
    }

    fn top(&self) -> i64 {
        self.corners.iter().map(|c| c[2]).max().expect("a body has corners")
    }

    fn bottom(&self) -> i64 {
        self.corners.iter().map(|c| c[2]).min().expect("a body has corners")
    }
}

fn snapped(v: &Vector3<f64>) -> [i64; 3] {
    [v.x, v.y, v.z].map(|c| (c / UNIT).round() as i64)
}

// The exact answer.

pub fn truth(couple: &Couple) -> Truth {
    let (a, b) = (couple.a.whole(), couple.b.whole());
    let mut least = f64::INFINITY;
    let mut meets = false;
    for p in &a {
        for q in &b {
            if meets || oracle::meets(p, q) {
                meets = true;
                least = 0.0;
            } else {
                least = least.min(oracle::distance(p, q));
            }
        }
    }
    let holds = if meets {
        [Verdicts::NO; 2]
    } else {
        let of_a = verdicts(&a, couple.a.shape, &b);
        let of_b = verdicts(&b, couple.b.shape, &a);
        [of_a[0].or(of_b[0]), of_a[1].or(of_b[1])]
    };
    Truth { meets, distance: least * UNIT, holds }
}

fn verdicts(
    holder: &[oracle::Triangle<i128>],
    shape: Shape,
    guest: &[oracle::Triangle<i128>],
) -> [Verdicts; 2] {
    if shape == Shape::Soup {
        return [Verdicts { no: true, yes: true, undecided: true }; 2];
    }
    let closed = shape == Shape::Closed;
    let all = || holder.iter().flatten();
    let mut here = Verdicts::default();
    let mut anywhere = Verdicts::default();
    for corner in guest.iter().flatten() {
        let out = |i: usize| all().all(|c| c[i] < corner[i]) || all().all(|c| c[i] > corner[i]);
        let boxed = !(0..3).any(out);
        if closed {
            here.yes |= boxed && oracle::winding(holder, corner) != 0;
            continue;
        }
        let solid_angle: f64 = holder.iter().map(|t| solid_angle(t, corner)).sum();
        let winding = solid_angle / (4.0 * PI);
        let unsure = (winding - winding.round()).abs() > 0.25;
        let yes = !unsure && winding.abs() >= 0.5;
        here.no |= !boxed || (!unsure && !yes);
        here.yes |= boxed && yes;
        here.undecided |= boxed && unsure;
        anywhere.no |= !yes;
        anywhere.yes |= yes;
        anywhere.undecided |= unsure;
    }
    if closed {
        // Every corner is asked about, one of each shell being enough.
        let sure = if here.yes { Verdicts::YES } else { Verdicts::NO };
        return [sure; 2];
    }
    [here, anywhere]
}

/// Van Oosterom and Strackee, "The solid angle of a plane triangle", IEEE Trans. Biomed. Eng.
/// 30(2), 1983 (from memory).
fn solid_angle(t: &oracle::Triangle<i128>, point: &oracle::Vector<i128>) -> f64 {
    let [a, b, c] = t.map(|corner| {
        let way = oracle::minus(&corner, point);
        Vector3::new(way[0] as f64, way[1] as f64, way[2] as f64)
    });
    let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
    let below = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
    2.0 * a.dot(&b.cross(&c)).atan2(below)
}

// The engine's answers.

/// One way to put the same question.
struct Asked<'s> {
    name: &'static str,
    a: &'s Solid,
    b: &'s Solid,
    a_from_b: Isometry3<f64>,
    /// Whether every corner of `b` comes into the frame of `a` without rounding.
    exact: bool,
}

/// Asks all queries every way: plain, swapped, moved; the worst error of a distance, millimetres.
pub fn judge(couple: &Couple, truth: &Truth, numbers: &mut Numbers) -> Result<f64, String> {
    let here = Isometry3::identity();
    let (a, b) = (Solid::new(&couple.a.mesh(&here)), Solid::new(&couple.b.mesh(&here)));
    let (from_a, from_b) = (numbers.pose(2_000.0), numbers.pose(2_000.0));
    let (far_a, far_b) = (Solid::new(&couple.a.mesh(&from_a)), Solid::new(&couple.b.mesh(&from_b)));
    let moved = from_a.inverse() * from_b;
    // A shift by whole steps of the lattice, up to half a metre.
    let step = Vector3::from_fn(|_, _| (numbers.unit() * 2e6).round() * UNIT);
    let shift = Isometry3::from_parts(Translation3::from(step), here.rotation);
    let near_b = Solid::new(&couple.b.mesh(&shift));
    let ways = [
        Asked { name: "plain", a: &a, b: &b, a_from_b: here, exact: true },
        Asked { name: "swapped", a: &b, b: &a, a_from_b: here, exact: true },
        Asked { name: "shifted", a: &a, b: &near_b, a_from_b: shift, exact: true },
        Asked { name: "moved", a: &far_a, b: &far_b, a_from_b: moved, exact: false },
        Asked {
            name: "moved, swapped",
            a: &far_b,
            b: &far_a,
            a_from_b: moved.inverse(),
            exact: false,
        },
    ];
    let mut worst = 0.0_f64;
    for asked in ways {
        match judge_one(&asked, truth) {
            Ok(error) => worst = worst.max(error),
            Err(wrong) => {
                return Err(format!("{}, {}: {wrong}; {truth:?}", couple.kind, asked.name));
            }
        }
    }
    Ok(worst)
}

fn judge_one(asked: &Asked, truth: &Truth) -> Result<f64, String> {
    let Asked { a, b, a_from_b: pose, exact, .. } = *asked;
    let reach = |s: &Solid| {
        let box_ = s.bounds().expect("a usable body");
        box_.low.coords.amax().max(box_.high.coords.amax())
    };
    let size = reach(a).max(reach(b)).max(pose.translation.vector.amax());
    let room = if exact { EXACT } else { MOVED } * size;
    let holds = truth.holds[usize::from(!exact)];
    let check = |right: bool, what: &str| if right { Ok(()) } else { Err(what.to_owned()) };

    let crossing = crosses(a, b, &pose);
    let surfaces = surface_gap(a, b, &pose, f64::INFINITY).map_err(|why| why.to_string())?;
    let surfaces = surfaces.ok_or("no distance of the surfaces")?;
    let told = gap(a, b, &pose, f64::INFINITY);
    let error = (surfaces.distance - truth.distance).abs();
    check(error <= room, &format!("surfaces {} apart", surfaces.distance))?;
    let witness = ((surfaces.on_a - surfaces.on_b).norm() - surfaces.distance).abs();
    check(witness <= 1e-9 * size, "the witness points are astray")?;
    let triangles = |s: &Solid| s.mesh().triangles.len();
    let [i, j] = surfaces.triangles.map(|t| t as usize);
    check(i < triangles(a) && j < triangles(b), "a triangle that is not there")?;

    // Where rounding has a say, a touch may open and a hair may close.
    let hair = !exact && truth.distance <= room;
    if !hair {
        check(crossing == truth.meets, &format!("crossing {crossing}"))?;
        check(truth.meets == (surfaces.distance == 0.0), "a distance of zero")?;
        let right = match told {
            Proximity::Overlapping => truth.meets || holds.yes,
            Proximity::CannotDecide(_) => !truth.meets && holds.undecided,
            Proximity::Apart(found) => !truth.meets && holds.no && found == surfaces,
            Proximity::AtLeast(_) => false,
        };
        check(right, &format!("gap {told:?}"))?;
    }
    check(!crossing || told == Proximity::Overlapping, "crossing, yet no overlap")?;

    for need in
        [0.0, truth.distance * 0.5, truth.distance - 2.0 * room, truth.distance + 2.0 * room]
    {
        let clear = clears(a, b, &pose, need);
        let capped = gap(a, b, &pose, need);
        let near = need > truth.distance;
        let sure = !hair && (need - truth.distance).abs() > room;
        if sure {
            let right = match clear {
                _ if truth.meets || near => clear == Some(false),
                told => holds.allows(told.map(|clear| !clear)),
            };
            check(right, &format!("clears {need}: {clear:?}"))?;
            let right = match (told, capped) {
                (Proximity::Apart(_), Proximity::AtLeast(cap)) => !near && cap == need.max(0.0),
                (Proximity::Apart(x), Proximity::Apart(y)) => {
                    near && (x.distance - y.distance).abs() <= room
                }
                (x, y) => x == y,
            };
            check(right, &format!("gap below {need}: {capped:?}"))?;
            let found = surface_gap(a, b, &pose, need).map_err(|why| why.to_string())?;
            let expected = need > truth.distance;
            check(found.is_some() == expected, &format!("surfaces below {need}: {found:?}"))?;
        }
    }
    Ok(error)
}

/// What a run over many couples found.
#[derive(Debug, Default)]
pub struct Tally {
    pub couples: u64,
    pub triangle_pairs: u64,
    pub meeting: u64,
    pub holding: u64,
    pub undecided: u64,
    /// Of each kind: couples, and how many of them meet.
    pub kinds: Kinds,
    /// Millimetres.
    pub worst: f64,
    pub faults: Vec<String>,
}

/// The couple of this number, with the numbers to go on with.
fn couple(k: u64) -> (Couple, Numbers) {
    let mut numbers = Numbers::new(Numbers::new(1_000_000 + k).bits());
    (drawn(&mut numbers), numbers)
}

pub fn some(count: u64) -> impl Iterator<Item = Couple> {
    (0..count).map(|k| couple(k).0)
}

/// Judges `count` couples on every processor; the same ones whatever their number.
pub fn run(count: u64) -> Tally {
    let next = AtomicU64::new(0);
    let work = || {
        let mut tally = Tally::default();
        loop {
            let k = next.fetch_add(1, Ordering::Relaxed);
            if k >= count || tally.faults.len() > 20 {
                return tally;
            }
            let (couple, mut numbers) = couple(k);
            let truth = truth(&couple);
            tally.couples += 1;
            tally.triangle_pairs += (couple.a.triangles.len() * couple.b.triangles.len()) as u64;
            tally.meeting += u64::from(truth.meets);
            tally.holding += u64::from(truth.holds[0] == Verdicts::YES);
            tally.undecided += u64::from(truth.holds[0].undecided);
            let kind = tally.kinds.entry(couple.kind).or_default();
            kind[0] += 1;
            kind[1] += u64::from(truth.meets);
            match judge(&couple, &truth, &mut numbers) {
                Ok(error) => tally.worst = tally.worst.max(error),
                Err(wrong) => tally.faults.push(format!("couple {k}: {wrong}")),
            }
        }
    };
    let mut whole = Tally::default();
    for other in on_every_processor(work) {
        whole.couples += other.couples;
        whole.triangle_pairs += other.triangle_pairs;
        whole.meeting += other.meeting;
        whole.holding += other.holding;
        whole.undecided += other.undecided;
        add_kinds(&mut whole.kinds, other.kinds);
        whole.worst = whole.worst.max(other.worst);
        whole.faults.extend(other.faults);
    }
    whole
}

pub fn report(tally: &Tally, took: Duration) -> String {
    let Tally { couples, triangle_pairs, meeting, holding, undecided, worst, faults, .. } = tally;
    let mut text = format!(
        "{couples} pairs of bodies ({triangle_pairs} pairs of triangles; {meeting} meeting, \
         {holding} holding, {undecided} undecided), each asked five ways, in {:.0} s: {} wrong\n\
         worst error of a distance {worst:.1e} mm",
        took.as_secs_f64(),
        faults.len(),
    );
    for fault in faults.iter().take(8) {
        text.push('\n');
        text.push_str(fault);
    }
    text
}

// The bodies.

/// Closed, of ten to two hundred triangles, standing along the axes.
fn upright(numbers: &mut Numbers) -> Mesh {
    let mut size = || 2.0 + 18.0 * numbers.unit().abs();
    let (x, y, z) = (size(), size(), size());
    match numbers.below(6) {
        0 | 1 => block(x, y, z),
        2 => cylinder(x, z, 5 + numbers.below(14) as u32, 1 + numbers.below(3) as u32),
        3 => torus(x + y, x, 4 + numbers.below(6) as u32, 3 + numbers.below(6) as u32),
        4 => sphere(x, 4 + numbers.below(8) as u32, 3 + numbers.below(5) as u32),
        _ => pipe(x, x + y, z, 4 + numbers.below(16) as u32),
    }
}

/// An open, wavy or flat sheet about the origin.
fn sheet(numbers: &mut Numbers) -> Mesh {
    let (n, m) = (2 + numbers.below(6) as u32, 2 + numbers.below(6) as u32);
    let (wide, wave) =
        (5.0 + 20.0 * numbers.unit().abs(), if numbers.below(2) == 0 { 0.0 } else { 4.0 });
    let mut mesh = Mesh::default();
    for i in 0..=n {
        for j in 0..=m {
            let across = |k: u32, of: u32| wide * (2.0 * f64::from(k) / f64::from(of) - 1.0);
            mesh.vertices.push(Point3::new(across(i, n), across(j, m), wave * numbers.unit()));
        }
    }
    for i in 0..n {
        for j in 0..m {
            let v = i * (m + 1) + j;
            mesh.triangles.extend([[v, v + m + 1, v + 1], [v + 1, v + m + 1, v + m + 2]]);
        }
    }
    mesh
}

/// A closed body with some of its triangles taken away.
fn pierced(numbers: &mut Numbers) -> Mesh {
    let mut mesh = upright(numbers);
    let last = mesh.triangles.len() as u64;
    let gone = 1 + numbers.below(last / 2);
    let first = numbers.below(last - gone + 1) as usize;
    mesh.triangles.drain(first..first + gone as usize);
    mesh
}

fn posed(mesh: &Mesh, numbers: &mut Numbers, shift: f64) -> Mesh {
    mesh.transformed(&numbers.pose(shift))
}

fn steps(numbers: &mut Numbers, most: f64) -> i64 {
    (numbers.unit() * most / UNIT).round() as i64
}

fn drawn(numbers: &mut Numbers) -> Couple {
    let shift = 5.0 + 55.0 * numbers.unit().abs();
    let (a, b) = (upright(numbers), upright(numbers));
    let (kind, a, b) = match numbers.below(14) {
        0 | 1 => {
            let (a, b) = (posed(&a, numbers, shift), posed(&b, numbers, shift));
            ("two bodies", Body::new(&a, Shape::Closed), Body::new(&b, Shape::Closed))
        }
        // Flat on flat: touching, a lattice step apart or a lattice step into each other.
        2 | 3 => {
            let (a, b) = (Body::new(&a, Shape::Closed), Body::new(&b, Shape::Closed));
            let lift = a.top() - b.bottom() + [0, 0, 1, -1, 40][numbers.below(5) as usize];
            let b = b.shifted([steps(numbers, 12.0), steps(numbers, 12.0), lift]);
            ("seated flat", a, b)
        }
        // The same, in planes along no axis.
        4 => {
            let (a, b) = (Body::new(&a, Shape::Closed), Body::new(&b, Shape::Closed));
            let lift = a.top() - b.bottom() + [0, 0, 1, -1][numbers.below(4) as usize];
            let b = b.shifted([steps(numbers, 12.0), steps(numbers, 12.0), lift]);
            let matrix = [[2, -1, 0], [1, 1, 1], [0, -1, 2]];
            ("seated on a slant", a.sheared(&matrix), b.sheared(&matrix))
        }
        // One in the other, or in its bore.
        5 => {
            let a = a.transformed(&common::pose([0.3, 0.2, 0.1], [1.0, 2.0, 3.0]));
            let small = 0.1 + 0.5 * numbers.unit().abs();
            let mut b = b;
            for v in &mut b.vertices {
                v.coords *= small;
            }
            let b = posed(&b, numbers, 3.0);
            ("one within", Body::new(&a, Shape::Closed), Body::new(&b, Shape::Closed))
        }
        6 => {
            let a = Body::new(&posed(&a, numbers, shift), Shape::Closed).unwelded();
            let b = Body::new(&posed(&b, numbers, shift), Shape::Closed).unwelded();
            ("corners apiece", a, b)
        }
        // A corner, an edge or all in common.
        7 => {
            let (a, b) = (Body::new(&a, Shape::Closed), Body::new(&b, Shape::Closed));
            let from = b.corners[numbers.below(b.corners.len() as u64) as usize];
            let to = a.corners[numbers.below(a.corners.len() as u64) as usize];
            let hair = [0, 0, 1][numbers.below(3) as usize];
            let by = std::array::from_fn(|i| to[i] - from[i] + hair);
            let b = if numbers.below(3) == 0 { a.clone() } else { b.shifted(by) };
            ("corners in common", a, b)
        }
        8 => {
            let (a, b) = (sheet(numbers), sheet(numbers));
            let (a, b) = (posed(&a, numbers, shift / 2.0), posed(&b, numbers, shift / 2.0));
            ("two sheets", Body::new(&a, Shape::Open), Body::new(&b, Shape::Open))
        }
        9 => {
            let b = sheet(numbers);
            let (a, b) = (posed(&a, numbers, shift / 2.0), posed(&b, numbers, shift / 2.0));
            ("a body and a sheet", Body::new(&a, Shape::Closed), Body::new(&b, Shape::Open))
        }
        10 => {
            let a = pierced(numbers);
            let mut b = b;
            for v in &mut b.vertices {
                v.coords *= 0.2;
            }
            let (a, b) = (posed(&a, numbers, 8.0), posed(&b, numbers, 8.0));
            ("a pierced body", Body::new(&a, Shape::Open), Body::new(&b, Shape::Closed))
        }
        11 | 12 => {
            let mut body = || {
                let (count, sides) = (10 + numbers.below(60) as u32, 4 + numbers.below(40));
                let mut corner = || std::array::from_fn(|_| numbers.below(sides) as i64 * 400);
                let corners = (0..3 * count).map(|_| corner()).collect();
                let triangles = (0..count).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect();
                Body { corners, triangles, shape: Shape::Soup }
            };
            let (a, b) = (body(), body());
            let by = std::array::from_fn(|_| numbers.below(40) as i64 * 400);
            ("soups on a lattice", a, b.shifted(by))
        }
        _ => {
            let more = upright(numbers);
            let a = Body::new(&posed(&a, numbers, shift), Shape::Closed);
            let a = a.joined(&Body::new(&posed(&more, numbers, shift), Shape::Closed));
            ("two shells", a, Body::new(&posed(&b, numbers, shift), Shape::Closed))
        }
    };
    // Which is asked about must not matter.
    if numbers.below(2) == 0 { Couple { kind, a, b } } else { Couple { kind, a: b, b: a } }
}
