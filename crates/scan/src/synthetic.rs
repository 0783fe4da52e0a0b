//! Car tops of known dimensions as a scanner sees them, for the tests: points on surfaces, some hidden
//! from the eye, with scatter. Rays are followed against plain shapes; nothing here is shared with the
//! code under test but the numbers drawn by chance.

use crate::chance::Chance;
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};
use std::f64::consts::TAU;

/// Shapes in the true plate frame, mm.
#[derive(Debug, Clone, Copy)]
enum Shape {
    /// Level, at a height: a disc of a radius about the axis.
    Disc { at: [f64; 3], radius: f64 },
    /// Upright about an axis, from low to high; both sides are seen.
    Tube { at: [f64; 2], radius: f64, low: f64, high: f64 },
    /// A rectangle: a corner and two sides.
    Sheet { corner: [f64; 3], a: [f64; 3], b: [f64; 3] },
}

/// What a car top has.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Car {
    pub(crate) straight: bool,
    pub(crate) fittings: bool,
    /// A walkway around it, and an open lid behind it.
    pub(crate) around: bool,
}

impl Car {
    pub(crate) const fn round() -> Self {
        Self { straight: false, fittings: true, around: false }
    }

    pub(crate) const fn straight() -> Self {
        Self { straight: true, ..Self::round() }
    }

    fn shapes(self) -> Vec<Shape> {
        let mut all = vec![Shape::Disc { at: [0.0; 3], radius: 330.0 }];
        let pillar = |x: f64, y: f64, radius: f64, high: f64| {
            [
                Shape::Tube { at: [x, y], radius, low: 0.0, high },
                Shape::Disc { at: [x, y, high], radius },
            ]
        };
        if self.straight {
            for (x, y) in [(330.0, 0.0), (-330.0, 0.0), (0.0, 320.0), (0.0, -320.0)] {
                for out in [0.0, 10.0] {
                    let (x, y): (f64, f64) = (
                        x + out * f64::signum(x) * f64::from(x != 0.0),
                        y + out * f64::signum(y) * f64::from(y != 0.0),
                    );
                    let (corner, a) = if x == 0.0 {
                        ([-330.0, y, 0.0], [660.0, 0.0, 0.0])
                    } else {
                        ([x, -320.0, 0.0], [0.0, 640.0, 0.0])
                    };
                    all.push(Shape::Sheet { corner, a, b: [0.0, 0.0, 260.0] });
                }
            }
        } else {
            all.extend([320.0, 330.0].map(|radius| Shape::Tube {
                at: [0.0; 2],
                radius,
                low: 0.0,
                high: 260.0,
            }));
        }
        if self.fittings {
            for (x, y, flange, body, high) in [
                (137.0, 5.0, 82.0, 42.0, 190.0),
                (-150.0, 0.0, 82.0, 38.0, 170.0),
                (3.0, 135.0, 75.0, 50.0, 220.0),
                (0.0, -140.0, 62.0, 25.0, 120.0),
            ] {
                all.extend(pillar(x, y, flange, 28.0));
                all.extend(pillar(x, y, body, high));
            }
            // An outlet to one side, a block.
            all.extend([
                Shape::Sheet {
                    corner: [160.0, -15.0, 90.0],
                    a: [60.0, 0.0, 0.0],
                    b: [0.0, 30.0, 0.0],
                },
                Shape::Sheet {
                    corner: [160.0, -15.0, 60.0],
                    a: [60.0, 0.0, 0.0],
                    b: [0.0, 0.0, 30.0],
                },
                Shape::Sheet {
                    corner: [220.0, -15.0, 60.0],
                    a: [0.0, 30.0, 0.0],
                    b: [0.0, 0.0, 30.0],
                },
            ]);
        }
        if self.around {
            all.push(Shape::Sheet {
                corner: [345.0, -340.0, 270.0],
                a: [0.0, 680.0, 0.0],
                b: [180.0, 0.0, 600.0],
            });
            for (x, y) in [(-1000.0, -1000.0), (-1000.0, 340.0)] {
                all.push(Shape::Sheet {
                    corner: [x, y, -60.0],
                    a: [2000.0, 0.0, 0.0],
                    b: [0.0, 660.0, 0.0],
                });
            }
        }
        all
    }
}

/// How far along a ray a shape is met first.
fn met(shape: &Shape, from: &Point3<f64>, way: &Vector3<f64>) -> Option<f64> {
    let ahead = |t: f64| (t > 1e-6).then_some(t);
    match *shape {
        Shape::Disc { at, radius } => {
            let t = ahead((at[2] - from.z) / way.z)?;
            let p = from + way * t;
            ((p.x - at[0]).hypot(p.y - at[1]) <= radius).then_some(t)
        }
        Shape::Tube { at, radius, low, high } => {
            let (x, y) = (from.x - at[0], from.y - at[1]);
            let (a, b) = (way.x * way.x + way.y * way.y, x * way.x + y * way.y);
            let root = b * b - a * (x * x + y * y - radius * radius);
            if root < 0.0 {
                return None;
            }
            [(-b - root.sqrt()) / a, (-b + root.sqrt()) / a].into_iter().find(|t| {
                let z = from.z + way.z * t;
                *t > 1e-6 && (low..=high).contains(&z)
            })
        }
        Shape::Sheet { corner, a, b } => {
            let (corner, a, b) = (Point3::from(corner), Vector3::from(a), Vector3::from(b));
            let normal = a.cross(&b);
            let t = ahead(normal.dot(&(corner - from)) / normal.dot(way))?;
            let p = from + way * t - corner;
            let (u, v) = (p.dot(&a) / a.norm_squared(), p.dot(&b) / b.norm_squared());
            ((0.0..=1.0).contains(&u) && (0.0..=1.0).contains(&v)).then_some(t)
        }
    }
}

/// Normal scatter of one standard deviation (Box and Muller 1958).
fn scatter(chance: &mut Chance) -> f64 {
    (-2.0 * (1.0 - chance.share()).ln()).sqrt() * (TAU * chance.share()).cos()
}

/// Where the true frame's points lie in a scan's, drawn by chance.
pub(crate) fn pose(seed: u64) -> Isometry3<f64> {
    let mut chance = Chance::new(seed.wrapping_mul(77).wrapping_add(5));
    let axis = Vector3::from([(); 3].map(|()| 3.0 * chance.either_way()));
    let shift = Vector3::from([(); 3].map(|()| 2000.0 * chance.either_way()));
    Isometry3::from_parts(Translation3::from(shift), UnitQuaternion::new(axis))
}

/// What is seen of a car top from one place in the true frame: points there, with scatter along the
/// ray.
pub(crate) fn from_eye(
    car: Car,
    eye: &Point3<f64>,
    noise: f64,
    rays: usize,
    seed: u64,
) -> Vec<Point3<f64>> {
    let shapes = car.shapes();
    let mut chance = Chance::new(seed);
    (0..rays)
        .filter_map(|_| {
            // Aimed evenly at a level square over the car top's middle.
            let toward =
                Point3::new(600.0 * chance.either_way(), 600.0 * chance.either_way(), 100.0);
            let way = (toward - eye).normalize();
            let first = shapes.iter().filter_map(|s| met(s, eye, &way)).reduce(f64::min)?;
            Some(eye + way * (first + noise * scatter(&mut chance)))
        })
        .collect()
}

/// Places from which a car top is looked at, true frame.
pub(crate) fn eyes() -> [Point3<f64>; 3] {
    [
        Point3::new(500.0, 300.0, 1300.0),
        Point3::new(-500.0, 350.0, 1250.0),
        Point3::new(50.0, -650.0, 1200.0),
    ]
}

/// What is seen from three places, in a scan's coordinates, with the places.
pub(crate) fn seen(
    car: Car,
    noise: f64,
    rays: usize,
    seed: u64,
    scan_from_truth: &Isometry3<f64>,
) -> (Vec<Point3<f64>>, Vec<Point3<f64>>) {
    let mut points = Vec::new();
    for (eye, i) in eyes().iter().zip(0..) {
        let seen = from_eye(car, eye, noise, rays / 3, seed.wrapping_mul(31).wrapping_add(i));
        points.extend(seen.iter().map(|p| scan_from_truth * p));
    }
    (points, eyes().map(|e| scan_from_truth * e).to_vec())
}
