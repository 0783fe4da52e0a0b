//! Plain shapes to measure, made here so that these tests lean on no other crate's builders.
#![allow(dead_code, unreachable_pub, reason = "each test file uses some of the shapes")]
#![allow(
    clippy::float_cmp,
    clippy::expect_used,
    reason = "exact values are meant; a worker of a test may fail"
)]

use std::f64::consts::TAU;

use gap::Solid;
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};
use solids::Mesh;

pub fn at(x: f64, y: f64, z: f64) -> Isometry3<f64> {
    Isometry3::translation(x, y, z)
}

/// A pose from a rotation vector and a translation.
pub fn pose(turn: [f64; 3], shift: [f64; 3]) -> Isometry3<f64> {
    Isometry3::from_parts(
        Translation3::from(Vector3::from(shift)),
        UnitQuaternion::from_scaled_axis(Vector3::from(turn)),
    )
}

pub fn triangle(corners: [Point3<f64>; 3]) -> Mesh {
    Mesh { vertices: corners.to_vec(), triangles: vec![[0, 1, 2]] }
}

pub fn solid(mesh: &Mesh) -> Solid {
    Solid::new(mesh)
}

/// A box about the origin, by its half sides.
pub fn block(x: f64, y: f64, z: f64) -> Mesh {
    let vertices = (0..8)
        .map(|i| {
            let sign = |bit: i32| if i & bit == 0 { -1.0 } else { 1.0 };
            Point3::new(x * sign(1), y * sign(2), z * sign(4))
        })
        .collect();
    let faces =
        [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let triangles = faces.iter().flat_map(|f| [[f[0], f[1], f[2]], [f[0], f[2], f[3]]]).collect();
    Mesh { vertices, triangles }
}

/// A closed surface over a ring of `m` points carried round a ring of `n`; the torus grid.
fn grid(n: u32, m: u32, point: impl Fn(f64, f64) -> Point3<f64>) -> Mesh {
    let mut mesh = Mesh::default();
    for i in 0..n {
        for j in 0..m {
            let turn = |k: u32, of: u32| TAU * f64::from(k) / f64::from(of);
            mesh.vertices.push(point(turn(i, n), turn(j, m)));
            let (a, b) = (i * m + j, i * m + (j + 1) % m);
            let (c, d) = ((i + 1) % n * m + j, (i + 1) % n * m + (j + 1) % m);
            mesh.triangles.extend([[a, c, b], [b, c, d]]);
        }
    }
    mesh
}

/// A torus about z with its corners on the true surface.
pub fn torus(ring: f64, tube: f64, n: u32, m: u32) -> Mesh {
    grid(n, m, |u, v| {
        let radius = ring + tube * v.cos();
        Point3::new(radius * u.cos(), radius * u.sin(), tube * v.sin())
    })
}

/// A cylinder along z with its corners on the true surface, capped, from `-half` to `half`, with
/// `rows` of quads along it.
pub fn cylinder(radius: f64, half: f64, n: u32, rows: u32) -> Mesh {
    let mut mesh = Mesh::default();
    for row in 0..=rows {
        let z = half * (2.0 * f64::from(row) / f64::from(rows) - 1.0);
        for i in 0..n {
            let t = TAU * f64::from(i) / f64::from(n);
            mesh.vertices.push(Point3::new(radius * t.cos(), radius * t.sin(), z));
        }
    }
    for row in 0..rows {
        for i in 0..n {
            let (a, b) = (row * n + i, row * n + (i + 1) % n);
            mesh.triangles.extend([[a, b, a + n], [b, b + n, a + n]]);
        }
    }
    for (base, middle, up) in [(0, -half, false), (rows * n, half, true)] {
        let centre = u32::try_from(mesh.vertices.len()).unwrap();
        mesh.vertices.push(Point3::new(0.0, 0.0, middle));
        for i in 0..n {
            let (a, b) = (base + i, base + (i + 1) % n);
            mesh.triangles.push(if up { [centre, a, b] } else { [centre, b, a] });
        }
    }
    mesh
}

/// A sphere about the origin with its corners on the true surface.
pub fn sphere(radius: f64, n: u32, rows: u32) -> Mesh {
    let mut mesh = Mesh::default();
    mesh.vertices.push(Point3::new(0.0, 0.0, -radius));
    for row in 1..rows {
        let polar = TAU / 2.0 * f64::from(row) / f64::from(rows);
        for i in 0..n {
            let t = TAU * f64::from(i) / f64::from(n);
            let level = radius * polar.sin();
            mesh.vertices.push(Point3::new(
                level * t.cos(),
                level * t.sin(),
                -radius * polar.cos(),
            ));
        }
    }
    let top = u32::try_from(mesh.vertices.len()).unwrap();
    mesh.vertices.push(Point3::new(0.0, 0.0, radius));
    for i in 0..n {
        let j = (i + 1) % n;
        mesh.triangles.push([0, 1 + j, 1 + i]);
        let last = 1 + (rows - 2) * n;
        mesh.triangles.push([top, last + i, last + j]);
        for row in 0..rows - 2 {
            let (a, b) = (1 + row * n + i, 1 + row * n + j);
            mesh.triangles.extend([[a, b, a + n], [b, b + n, a + n]]);
        }
    }
    mesh
}

/// A pipe about z from `-half` to `half`.
pub fn pipe(inner: f64, outer: f64, half: f64, n: u32) -> Mesh {
    // The corner of the section that each quarter turn of the small ring stands for.
    grid(n, 4, |u, v| {
        let quarter = (v / (TAU / 4.0)).round();
        let radius = if quarter == 0.0 || quarter == 3.0 { outer } else { inner };
        let z = if quarter < 1.5 { half } else { -half };
        Point3::new(radius * u.cos(), radius * u.sin(), z)
    })
}

/// The mesh turned inside out.
pub fn flipped(mesh: &Mesh) -> Mesh {
    let triangles = mesh.triangles.iter().map(|t| [t[0], t[2], t[1]]).collect();
    Mesh { vertices: mesh.vertices.clone(), triangles }
}

/// How far a chord of a circle cut in `n` lies inside it at most.
pub fn sagitta(radius: f64, n: u32) -> f64 {
    radius * (1.0 - (TAU / 2.0 / f64::from(n)).cos())
}

/// A small generator with a fixed start, so that a failure comes back on the next run.
pub struct Numbers(u64);

impl Numbers {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    pub fn bits(&mut self) -> u64 {
        // splitmix64 (Steele, Lea, Flood 2014; from memory).
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From -1 to 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }

    pub fn below(&mut self, count: u64) -> u64 {
        self.bits() % count
    }

    pub fn point(&mut self, size: f64) -> Point3<f64> {
        Point3::new(self.unit(), self.unit(), self.unit()) * size
    }

    pub fn pose(&mut self, shift: f64) -> Isometry3<f64> {
        let turn = [self.unit() * 3.0, self.unit() * 3.0, self.unit() * 3.0];
        pose(turn, [self.unit() * shift, self.unit() * shift, self.unit() * shift])
    }
}

/// Does the work on every processor at once.
pub fn on_every_processor<T: Send>(work: impl Fn() -> T + Sync) -> Vec<T> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(&work)).collect();
        workers.into_iter().map(|worker| worker.join().expect("a worker came to an end")).collect()
    })
}

/// Of each kind of pair: how many, and how many of them meet.
pub type Kinds = std::collections::BTreeMap<&'static str, [u64; 2]>;

/// Adds up two counts.
pub fn add_kinds(to: &mut Kinds, other: Kinds) {
    for (kind, [all, meeting]) in other {
        let mine = to.entry(kind).or_default();
        mine[0] += all;
        mine[1] += meeting;
    }
}
