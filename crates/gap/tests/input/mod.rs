//! Any bytes as two meshes, a pose and a question, for the fuzzer and for its kept inputs.
#![allow(dead_code, unreachable_pub, reason = "each user takes some of it")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::float_cmp,
    reason = "bytes choose, and any choice will do; exact values are meant"
)]

use gap::Solid;
use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};
use solids::Mesh;

use crate::common;

/// Greatest number of triangles of one mesh; keeps one input well below a second.
const MOST: usize = 40;

/// Greatest coordinate that the engine promises to take, millimetres.
pub const LARGEST: f64 = 1e7;

/// One question, ready to ask.
#[derive(Debug, Clone)]
pub struct Case {
    /// Which law is looked at; see `laws_for_any`.
    pub law: u8,
    pub a: Mesh,
    pub b: Mesh,
    pub a_from_b: Isometry3<f64>,
    /// A cap or a need.
    pub number: f64,
    pub point: Point3<f64>,
    pub way: Vector3<f64>,
}

impl Case {
    pub fn new(data: &[u8]) -> Self {
        let mut bytes = Bytes { data };
        let law = bytes.byte();
        let a_from_b = bytes.pose();
        let number = bytes.any_number();
        let (point, way) = (Point3::from(bytes.vector(6)), bytes.vector(6));
        // The second mesh may be the first.
        let same = bytes.byte() == 77;
        let a = bytes.mesh();
        let b = if same { a.clone() } else { bytes.mesh() };
        Self { law, a, b, a_from_b, number, point, way }
    }

    /// Whether no coordinate is so close to zero that the products of an exact predicate, or their
    /// rounding errors, are below what a floating-point number can be.
    pub fn is_moderate(&self) -> bool {
        let corners = self.a.vertices.iter().chain(&self.b.vertices).flat_map(|v| v.iter());
        let all = corners.chain(self.a_from_b.translation.vector.iter()).chain(self.point.iter());
        all.copied().all(|c| c == 0.0 || c.is_nan() || c.abs() >= 1e-40)
    }

    pub fn solids(&self) -> (Solid, Solid) {
        (Solid::new(&self.a), Solid::new(&self.b))
    }
}

/// Whether the engine promises to take this mesh.
pub fn is_usable(mesh: &Mesh) -> bool {
    let good = |v: &u32| {
        let corner = mesh.vertices.get(*v as usize);
        corner.is_some_and(|c| c.iter().all(|x| x.abs() <= LARGEST))
    };
    !mesh.triangles.is_empty() && mesh.triangles.iter().flatten().all(good)
}

/// Whether the engine promises to take this pose.
pub fn is_a_pose(pose: &Isometry3<f64>) -> bool {
    let norm = pose.rotation.as_ref().norm_squared();
    (norm - 1.0).abs() <= 1e-9 && pose.translation.vector.iter().all(|c| c.abs() <= LARGEST)
}

/// Greatest coordinate of a usable mesh, millimetres.
pub fn reach(mesh: &Mesh) -> f64 {
    let used = mesh.triangles.iter().flatten().filter_map(|v| mesh.vertices.get(*v as usize));
    used.map(|c| c.coords.amax()).fold(0.0, f64::max)
}

/// What rounding may make of a distance among coordinates of this size, millimetres: a share of
/// it, and what is left of a length whose square is too small for a floating-point number.
pub fn room(size: f64) -> f64 {
    2e-12 * size + 1e-100
}

/// What is left to read; zeros when nothing is.
struct Bytes<'d> {
    data: &'d [u8],
}

const SPECIAL: [f64; 32] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    0.5,
    1.0 / 3.0,
    0.1,
    1.0 + f64::EPSILON,
    1.0 - f64::EPSILON / 2.0,
    f64::EPSILON,
    1e-6,
    -1e-6,
    1e-9,
    1e-12,
    1e-30,
    1e-39,
    f64::MIN_POSITIVE,
    5e-324,
    100.0,
    -2_000.0,
    5_000.0,
    123_456.789,
    1e6,
    LARGEST,
    -LARGEST,
    10_000_000.000_000_002,
    1e16,
    1e155,
    f64::MAX,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::NAN,
];

const SCALES: [f64; 8] = [1.0, 0.125, 1e-3, 1e-6, 1_000.0, 65_536.0, 0.1, 1e-8];

impl Bytes<'_> {
    fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.data.split_first() else { return 0 };
        self.data = rest;
        *first
    }

    fn some<const N: usize>(&mut self) -> [u8; N] {
        std::array::from_fn(|_| self.byte())
    }

    /// From -16 to 15.5 in halves, or by one more byte: mostly numbers that meet again.
    fn small(&mut self) -> f64 {
        f64::from(self.byte().cast_signed()) / 8.0
    }

    fn any_number(&mut self) -> f64 {
        match self.byte() % 6 {
            0 | 1 => self.small(),
            2 => self.small() * SCALES[usize::from(self.byte() % 8)],
            3 => SPECIAL[usize::from(self.byte() % 32)],
            4 => f64::from(f32::from_le_bytes(self.some())),
            _ => f64::from_le_bytes(self.some()),
        }
    }

    /// A coordinate in one of the styles of a mesh.
    fn coordinate(&mut self, style: u8) -> f64 {
        match style {
            0 => self.small().round(),
            1 | 2 => self.small(),
            3 => self.small() * 1e-6 + 1_000.0,
            4 => self.small() * 3e5,
            5 => f64::from(i16::from_le_bytes(self.some())) / 3.0,
            _ => self.any_number(),
        }
    }

    fn vector(&mut self, style: u8) -> Vector3<f64> {
        Vector3::from_fn(|_, _| self.coordinate(style))
    }

    fn points(&mut self, count: usize, style: u8) -> Vec<Point3<f64>> {
        (0..count).map(|_| Point3::from(self.vector(style))).collect()
    }

    fn pose(&mut self) -> Isometry3<f64> {
        let kind = self.byte() % 8;
        let style = if kind < 6 { self.byte() % 6 } else { 6 };
        let shift = Translation3::from(self.vector(style));
        let turn = match kind {
            0 | 1 => UnitQuaternion::identity(),
            2 => {
                // A right angle, or a third of a turn about a diagonal.
                let axis = Vector3::from_fn(|_, _| f64::from(self.byte() % 2));
                let angle = if axis.sum() > 2.5 { 120.0_f64 } else { 90.0 };
                let axis = axis.try_normalize(0.5).unwrap_or_else(Vector3::z);
                UnitQuaternion::from_scaled_axis(axis * angle.to_radians())
            }
            3 | 4 | 6 => UnitQuaternion::from_scaled_axis(self.vector(2) * 0.25),
            5 => UnitQuaternion::from_scaled_axis(self.vector(2) * 1e-9),
            _ => {
                let [w, x, y, z] = std::array::from_fn(|_| self.any_number());
                UnitQuaternion::new_unchecked(Quaternion::new(w, x, y, z))
            }
        };
        Isometry3::from_parts(shift, turn)
    }

    fn mesh(&mut self) -> Mesh {
        let mut mesh = self.shape();
        if self.byte().is_multiple_of(4) {
            mesh.append(&self.shape());
        }
        for _ in 0..self.byte() % 5 {
            self.spoil(&mut mesh);
        }
        mesh.triangles.truncate(MOST);
        mesh
    }

    fn shape(&mut self) -> Mesh {
        let kind = self.byte() % 10;
        let style = self.byte() % 8;
        match kind {
            // Triangles that share nothing.
            0 => {
                let count = usize::from(self.byte() % 8);
                let triangles = (0..count as u32).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]);
                Mesh { vertices: self.points(3 * count, style), triangles: triangles.collect() }
            }
            // Triangles between a few corners; now and then one that is not there.
            1 => {
                let count = 1 + usize::from(self.byte() % 10);
                let vertices = self.points(count, style);
                let mut index = || match self.byte() {
                    255 => u32::MAX,
                    254 => count as u32,
                    other => u32::from(other) % count as u32,
                };
                let corners: Vec<u32> = (0..30).map(|_| index()).collect();
                let kept = usize::from(self.byte()) % 11;
                let triangles = corners.chunks_exact(3).take(kept).map(|t| [t[0], t[1], t[2]]);
                Mesh { vertices, triangles: triangles.collect() }
            }
            2 | 3 => Mesh {
                vertices: self.points(4, style),
                triangles: vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]],
            },
            4..=6 => {
                let half = self.vector(style).map(f64::abs);
                let middle = self.vector(style);
                moved(common::block(half.x, half.y, half.z), &middle)
            }
            // A fan about a corner: open.
            7 => {
                let count = 3 + usize::from(self.byte() % 8);
                let vertices = self.points(count, style);
                let triangles = (1..count as u32 - 1).map(|v| [0, v, v + 1]).collect();
                Mesh { vertices, triangles }
            }
            8 => {
                let (radius, half) = (self.coordinate(style).abs(), self.coordinate(style).abs());
                let sides = 3 + u32::from(self.byte() % 5);
                moved(common::cylinder(radius, half, sides, 1), &self.vector(style))
            }
            _ => {
                let (ring, tube) = (self.coordinate(style).abs(), self.coordinate(style).abs());
                let ring_sides = 3 + u32::from(self.byte() % 3);
                moved(common::torus(ring + tube, tube, ring_sides, 3), &self.vector(style))
            }
        }
    }

    /// One change of the kinds that real files have.
    fn spoil(&mut self, mesh: &mut Mesh) {
        let (triangles, vertices) = (mesh.triangles.len(), mesh.vertices.len());
        if triangles == 0 || vertices == 0 {
            return;
        }
        let kind = self.byte() % 10;
        let (t, v) = (usize::from(self.byte()) % triangles, usize::from(self.byte()) % vertices);
        match kind {
            0 => drop(mesh.triangles.remove(t)),
            1 => mesh.triangles[t].swap(0, 1),
            2 => mesh.triangles.push(mesh.triangles[t]),
            3 => mesh.vertices[v] = mesh.vertices[usize::from(self.byte()) % vertices],
            4 => mesh.vertices[v][usize::from(self.byte() % 3)] = self.any_number(),
            5 => mesh.triangles[t][1] = mesh.triangles[t][0],
            // A corner of its own at the same place.
            6 => {
                mesh.vertices.push(mesh.vertices[v]);
                for corner in mesh.triangles.iter_mut().take(t).flatten() {
                    if *corner as usize == v {
                        *corner = vertices as u32;
                    }
                }
            }
            7 => {
                let factor = SCALES[usize::from(self.byte() % 8)];
                mesh.vertices.iter_mut().for_each(|v| v.coords *= factor);
            }
            8 => {
                let by = self.vector(2);
                mesh.vertices.iter_mut().for_each(|v| *v += by);
            }
            // The same twice, the second time perhaps inside out.
            _ => {
                let again = if self.byte().is_multiple_of(2) {
                    mesh.clone()
                } else {
                    common::flipped(mesh)
                };
                mesh.append(&again);
            }
        }
    }
}

fn moved(mut mesh: Mesh, by: &Vector3<f64>) -> Mesh {
    mesh.vertices.iter_mut().for_each(|v| *v += by);
    mesh
}
