//! A car top made of cylinders and boxes, looked at by a scanner that casts rays: nothing of the room
//! under test is used. Dimensions are invented.
#![allow(dead_code, reason = "each test uses a part of it")]

use nalgebra::{Point3, Vector3};
use scan::Shot;

/// A solid.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Solid {
    /// Upright: middle, radius, heights.
    Cylinder { x: f64, y: f64, r: f64, low: f64, high: f64 },
    /// Along the axes.
    Block { low: [f64; 3], high: [f64; 3] },
    /// An upright tube about the origin with one opening, which faces `facing` and is `wide` (rad).
    Tube {
        inner: f64,
        outer: f64,
        low: f64,
        high: f64,
        facing: f64,
        wide: f64,
        sill: f64,
        top: f64,
    },
}

impl Solid {
    pub(crate) fn holds(&self, p: &Point3<f64>) -> bool {
        match *self {
            Self::Cylinder { x, y, r, low, high } => {
                (p.x - x).hypot(p.y - y) <= r && p.z >= low && p.z <= high
            }
            Self::Block { low, high } => (0..3).all(|a| p[a] >= low[a] && p[a] <= high[a]),
            Self::Tube { inner, outer, low, high, .. } => {
                let r = p.x.hypot(p.y);
                r >= inner && r <= outer && p.z >= low && p.z <= high && !self.opening(p)
            }
        }
    }

    fn opening(&self, p: &Point3<f64>) -> bool {
        let Self::Tube { facing, wide, sill, top, .. } = *self else { return false };
        let off = (p.y.atan2(p.x) - facing + 9.0 * std::f64::consts::PI)
            .rem_euclid(2.0 * std::f64::consts::PI)
            - std::f64::consts::PI;
        off.abs() < 0.5 * wide && p.z > sill && p.z < top
    }

    /// Where a ray meets it first, as a share of `way`.
    fn met(&self, from: &Point3<f64>, way: &Vector3<f64>) -> Option<f64> {
        let mut best = f64::INFINITY;
        let mut take = |t: f64, ok: bool| {
            if ok && t > 1e-9 && t < best {
                best = t;
            }
        };
        let round = |x: f64, y: f64, r: f64| {
            let (dx, dy) = (from.x - x, from.y - y);
            let a = way.x * way.x + way.y * way.y;
            let b = dx * way.x + dy * way.y;
            let c = dx * dx + dy * dy - r * r;
            let under = b * b - a * c;
            if under < 0.0 {
                return [f64::NAN; 2];
            }
            [(-b - under.sqrt()) / a, (-b + under.sqrt()) / a]
        };
        match *self {
            Self::Cylinder { x, y, r, low, high } => {
                for t in round(x, y, r) {
                    let z = from.z + way.z * t;
                    take(t, z >= low && z <= high);
                }
                for z in [low, high] {
                    let t = (z - from.z) / way.z;
                    let p = from + way * t;
                    take(t, (p.x - x).hypot(p.y - y) <= r);
                }
            }
            Self::Block { low, high } => {
                let (mut t0, mut t1) = (f64::NEG_INFINITY, f64::INFINITY);
                for a in 0..3 {
                    let (u, v) = ((low[a] - from[a]) / way[a], (high[a] - from[a]) / way[a]);
                    t0 = t0.max(u.min(v));
                    t1 = t1.min(u.max(v));
                }
                take(t0, t0 <= t1);
            }
            Self::Tube { inner, outer, low, high, .. } => {
                for t in [round(0.0, 0.0, inner), round(0.0, 0.0, outer)].concat() {
                    let p = from + way * t;
                    take(t, p.z >= low && p.z <= high && !self.opening(&p));
                }
                let t = (high - from.z) / way.z;
                let p = from + way * t;
                let r = p.x.hypot(p.y);
                take(t, r >= inner && r <= outer);
            }
        }
        best.is_finite().then_some(best)
    }

    /// Its box.
    fn bounds(&self) -> ([f64; 3], [f64; 3]) {
        match *self {
            Self::Cylinder { x, y, r, low, high } => ([x - r, y - r, low], [x + r, y + r, high]),
            Self::Block { low, high } => (low, high),
            Self::Tube { outer, low, high, .. } => ([-outer, -outer, low], [outer, outer, high]),
        }
    }
}

/// The plate, on which all stands.
pub(crate) const PLATE: Solid = Solid::Cylinder { x: 0.0, y: 0.0, r: 290.0, low: -40.0, high: 0.0 };
/// The tank below.
const TANK: Solid = Solid::Block { low: [-480.0, -480.0, -60.0], high: [480.0, 480.0, -30.0] };

/// Two valves, one with a handwheel above its stem, and a stud.
pub(crate) fn fittings() -> Vec<Solid> {
    let cylinder = |x, y, r, low, high| Solid::Cylinder { x, y, r, low, high };
    vec![
        cylinder(130.0, 0.0, 75.0, 0.0, 30.0),
        cylinder(130.0, 0.0, 35.0, 30.0, 190.0),
        cylinder(130.0, 0.0, 9.0, 190.0, 230.0),
        cylinder(130.0, 0.0, 70.0, 230.0, 244.0),
        cylinder(-120.0, 90.0, 60.0, 0.0, 150.0),
        cylinder(-120.0, 90.0, 25.0, 150.0, 220.0),
        cylinder(0.0, -240.0, 18.0, 0.0, 34.0),
    ]
}

/// A rectangular wall, 10 mm thick, with an opening of 100 mm by 90 mm in its side at +y, sill 45 mm.
pub(crate) fn straight_wall() -> Vec<Solid> {
    let block = |low, high| Solid::Block { low, high };
    vec![
        block([-360.0, -330.0, -30.0], [360.0, -320.0, 300.0]),
        block([-360.0, -320.0, -30.0], [-350.0, 320.0, 300.0]),
        block([350.0, -320.0, -30.0], [360.0, 320.0, 300.0]),
        block([-360.0, 320.0, -30.0], [-50.0, 330.0, 300.0]),
        block([50.0, 320.0, -30.0], [360.0, 330.0, 300.0]),
        block([-50.0, 320.0, -30.0], [50.0, 330.0, 45.0]),
        block([-50.0, 320.0, 135.0], [50.0, 330.0, 300.0]),
    ]
}

/// A round wall, 12 mm thick, with an opening of 110 mm by 80 mm that faces 200 degrees, sill 50 mm.
pub(crate) fn round_wall() -> Vec<Solid> {
    vec![Solid::Tube {
        inner: 330.0,
        outer: 342.0,
        low: -30.0,
        high: 280.0,
        facing: 200.0_f64.to_radians(),
        wide: 110.0 / 330.0,
        sill: 50.0,
        top: 130.0,
    }]
}

/// Four eyes: three around, one over the middle.
pub(crate) fn eyes() -> Vec<Point3<f64>> {
    let around = |degrees: f64| {
        let a = degrees.to_radians();
        Point3::new(900.0 * a.cos(), 900.0 * a.sin(), 1000.0)
    };
    vec![around(20.0), around(140.0), around(260.0)]
}

/// A number between 0 and 1 that looks drawn by chance: splitmix64.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn normal(&mut self) -> f64 {
        let (a, b) = (self.next().max(1e-300), self.next());
        (-2.0 * a.ln()).sqrt() * (2.0 * std::f64::consts::PI * b).cos()
    }
}

/// What a scanner sees from an eye: rays some `spacing` apart where they meet the plane z = 100, each
/// point moved along its ray by chance.
pub(crate) fn look(
    solids: &[Solid],
    eye: Point3<f64>,
    spacing: f64,
    noise: f64,
    seed: u64,
) -> Shot {
    let mut chance = Chance(seed);
    let mut points = Vec::new();
    #[expect(clippy::cast_possible_truncation, reason = "some hundred")]
    let n = (1000.0 / spacing) as i32;
    for i in -n / 2..n / 2 {
        for j in -n / 2..n / 2 {
            let x = (f64::from(i) + chance.next()) * spacing;
            let y = (f64::from(j) + chance.next()) * spacing;
            let way = (Point3::new(x, y, 100.0) - eye).normalize();
            let met = solids.iter().filter_map(|s| s.met(&eye, &way)).fold(f64::INFINITY, f64::min);
            if met.is_finite() {
                points.push(eye + way * (met + noise * chance.normal()));
            }
        }
    }
    Shot { name: format!("shot {seed}"), points, seen_from: Some(eye), ..Shot::default() }
}

/// The whole scene seen from the eyes.
pub(crate) fn shots(solids: &[Solid], spacing: f64, noise: f64, seed: u64) -> Vec<Shot> {
    let all: Vec<Solid> = [PLATE, TANK].iter().chain(solids).copied().collect();
    (0..).zip(eyes()).map(|(n, eye)| look(&all, eye, spacing, noise, 1000 * seed + n)).collect()
}

/// Places in solids above the plate, drawn by chance.
pub(crate) fn within(solids: &[Solid], count: usize, seed: u64) -> Vec<Point3<f64>> {
    let mut chance = Chance(seed);
    let mut found = Vec::new();
    for s in solids {
        let (low, high) = s.bounds();
        let mut tries = 0;
        let target = found.len() + count;
        while found.len() < target && tries < 200 * count {
            tries += 1;
            let p = Point3::from([0, 1, 2].map(|a| low[a] + (high[a] - low[a]) * chance.next()));
            if p.z >= 0.0 && s.holds(&p) {
                found.push(p);
            }
        }
    }
    found
}
