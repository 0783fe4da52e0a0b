//! Builders of closed, outward-wound meshes.
//!
//! Curves are replaced by chords between points that lie on the true curve. A circle of radius `R`
//! in `n` chords departs from the true circle by at most `R (1 - cos(pi / n))`, always toward the
//! inside of the circle: a round body is meshed a little thin, a bore a little narrow. `n` is the
//! least multiple of four (so that the extremes along the axes are exact) for which that bound does
//! not exceed the chord error asked for. Where two curvatures meet (a ball, an elbow's heel) each
//! gets half of the chord error.

mod boss;
mod elbow;
mod extrude;
mod revolve;

pub use boss::{Boss, boss};
pub use elbow::{Run, bent_run};
pub use extrude::{block, extrude, hexagonal_prism};
pub use revolve::{cylinder, revolve};

use nalgebra::{Isometry3, Point2, Point3, Translation3, UnitQuaternion, Vector3};
use std::f64::consts::{PI, TAU};

/// The greatest distance by which chords may depart from their curve, mm.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct ChordError(f64);

impl ChordError {
    /// The finest that can be asked for, mm.
    pub const FINEST: f64 = 1e-3;

    /// `None` unless `mm` is a finite number and at least [`Self::FINEST`].
    pub fn from_mm(mm: f64) -> Option<Self> {
        (mm.is_finite() && mm >= Self::FINEST).then_some(Self(mm))
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.0
    }

    /// Half of it, for a surface with two curvatures.
    #[must_use]
    pub const fn half(self) -> Self {
        Self(0.5 * self.0)
    }

    /// The least number of chords, a multiple of four, that keeps a full circle of this radius
    /// within the chord error: `radius (1 - cos(pi / n)) <= error`.
    pub fn chords_in_circle(self, radius: f64) -> usize {
        // acos(1 - x) loses digits for small x; 2 asin(sqrt(x / 2)) is the same angle.
        let half_angle = 2.0 * (0.5 * self.0 / radius).clamp(0.0, 1.0).sqrt().asin();
        4 * count(PI / half_angle / 4.0).max(2)
    }

    /// The least number of chords that keeps an arc within the chord error.
    pub fn chords_in_arc(self, radius: f64, angle: f64) -> usize {
        let half_angle = 2.0 * (0.5 * self.0 / radius).clamp(0.0, 1.0).sqrt().asin();
        count(0.5 * angle.abs() / half_angle).max(1)
    }
}

/// A count from a positive ratio, rounded up.
fn count(ratio: f64) -> usize {
    // Bounded by MOST_CHORDS, so neither truncation nor a sign can be lost.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let whole = ratio.ceil().clamp(1.0, MOST_CHORDS) as usize;
    whole
}

/// More chords than any part of at most [`LARGEST`] needs at the finest chord error.
const MOST_CHORDS: f64 = 25_000.0;

/// Coordinates beyond this are refused: no car top or kit part is 100 m long, mm.
pub const LARGEST: f64 = 1e5;

/// Why a solid cannot be built.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum BuildError {
    /// A coordinate or size that is not a number or is larger than [`LARGEST`].
    #[error("a coordinate or size is not a number within {LARGEST} mm")]
    NotANumber,
    /// A length, radius or height that must be greater than zero is not.
    #[error("a length that must be greater than zero is {0} mm")]
    NotPositive(f64),
    /// A profile reaches across the axis.
    #[error("the profile reaches across the axis, to radius {0} mm")]
    AcrossAxis(f64),
    /// An outline with fewer than three corners, without area, or that crosses or touches itself or
    /// another outline.
    #[error("an outline has no area, crosses itself or touches another outline")]
    BadOutline,
    /// A boss as wide as its cylinder, or whose face lies inside it.
    #[error("the boss does not fit its cylinder")]
    BadBoss,
}

fn finite(values: impl IntoIterator<Item = f64>) -> Result<(), BuildError> {
    values.into_iter().all(|v| v.abs() <= LARGEST).then_some(()).ok_or(BuildError::NotANumber)
}

fn positive(values: impl IntoIterator<Item = f64>) -> Result<(), BuildError> {
    for value in values {
        finite([value])?;
        if value <= 0.0 {
            return Err(BuildError::NotPositive(value));
        }
    }
    Ok(())
}

/// The corners of a circle in chords, counter-clockwise from +x.
pub fn circle(centre: Point2<f64>, radius: f64, chord: ChordError) -> Vec<Point2<f64>> {
    let n = chord.chords_in_circle(radius);
    (0..n).map(|i| centre + radius * unit(i, n)).collect()
}

/// Points of an arc from angle `from` to angle `to`, radians from +x, both ends included.
pub fn arc(
    centre: Point2<f64>,
    radius: f64,
    from: f64,
    to: f64,
    chord: ChordError,
) -> Vec<Point2<f64>> {
    let n = chord.chords_in_arc(radius, to - from);
    (0..=n)
        .map(|i| {
            let (sin, cos) = (from + (to - from) * i as f64 / n as f64).sin_cos();
            centre + radius * nalgebra::Vector2::new(cos, sin)
        })
        .collect()
}

/// Unit vector `i` of `n` around the circle, exact on the four axes when `n` is a multiple of four.
fn unit(i: usize, n: usize) -> nalgebra::Vector2<f64> {
    let (quarter, within) = (4 * i / n, i * 4 % n);
    let (sin, cos) = (0.25 * TAU * within as f64 / n as f64).sin_cos();
    match quarter {
        0 => nalgebra::Vector2::new(cos, sin),
        1 => nalgebra::Vector2::new(-sin, cos),
        2 => nalgebra::Vector2::new(-cos, -sin),
        _ => nalgebra::Vector2::new(sin, -cos),
    }
}

/// The frame at `from` whose +z points to `to`.
fn frame_along(from: Point3<f64>, to: Point3<f64>) -> Isometry3<f64> {
    let turn = UnitQuaternion::rotation_between(&Vector3::z(), &(to - from))
        .unwrap_or_else(|| UnitQuaternion::from_axis_angle(&Vector3::x_axis(), PI));
    Isometry3::from_parts(Translation3::from(from.coords), turn)
}

/// Twice the signed area of a closed outline, positive counter-clockwise.
fn doubled_area(outline: &[Point2<f64>]) -> f64 {
    edges(outline).map(|(a, b)| a.x * b.y - a.y * b.x).sum()
}

/// The edges of a closed outline.
fn edges(outline: &[Point2<f64>]) -> impl Iterator<Item = (Point2<f64>, Point2<f64>)> + Clone + '_ {
    outline.iter().copied().zip(outline.iter().copied().cycle().skip(1))
}

/// Whether closed outlines neither cross nor touch themselves or each other, and each has area.
fn simple(outlines: &[&[Point2<f64>]]) -> bool {
    if outlines.iter().any(|o| o.len() < 3 || doubled_area(o) == 0.0) {
        return false;
    }
    let all: Vec<_> = outlines.iter().flat_map(|o| edges(o)).collect();
    let side = |a: Point2<f64>, b: Point2<f64>, c: Point2<f64>| {
        let coord = |p: Point2<f64>| robust::Coord { x: p.x, y: p.y };
        let s = robust::orient2d(coord(a), coord(b), coord(c));
        if s == 0.0 { 0.0 } else { s.signum() }
    };
    let within = |a: Point2<f64>, b: Point2<f64>, p: Point2<f64>| {
        let (lo, hi) = (a.inf(&b), a.sup(&b));
        lo.x <= p.x && p.x <= hi.x && lo.y <= p.y && p.y <= hi.y
    };
    all.iter().enumerate().all(|(i, &(a, b))| {
        a != b
            && all[i + 1..].iter().all(|&(c, d)| {
                if a.inf(&b).x > c.sup(&d).x
                    || c.inf(&d).x > a.sup(&b).x
                    || a.inf(&b).y > c.sup(&d).y
                    || c.inf(&d).y > a.sup(&b).y
                {
                    return true;
                }
                let (sc, sd) = (side(a, b, c), side(a, b, d));
                let (sa, sb) = (side(c, d, a), side(c, d, b));
                // Neighbours share one corner; they may not fold back onto each other.
                if b == c || d == a {
                    let (shared, p, q) = if b == c { (b, a, d) } else { (a, b, c) };
                    return p != q
                        && (side(p, shared, q) != 0.0 || (p - shared).dot(&(q - shared)) < 0.0);
                }
                if sc * sd < 0.0 && sa * sb < 0.0 {
                    return false;
                }
                !(sc == 0.0 && within(a, b, c)
                    || sd == 0.0 && within(a, b, d)
                    || sa == 0.0 && within(c, d, a)
                    || sb == 0.0 && within(c, d, b))
            })
    })
}

fn index(i: usize) -> u32 {
    // Builders make far fewer than 2^32 vertices: MOST_CHORDS squared bounds them.
    u32::try_from(i).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Mesh, area, soundness, volume};
    use proptest::prelude::*;

    fn chord(mm: f64) -> ChordError {
        ChordError::from_mm(mm).unwrap()
    }

    fn assert_sound(mesh: &Mesh, components: usize) {
        let found = soundness(mesh);
        assert!(found.is_sound(), "{found:?}");
        assert_eq!(found.components, components);
        assert!(volume(mesh) > 0.0, "wound inward");
    }

    /// Points spread over every triangle, its corners and edges included.
    fn samples(mesh: &Mesh) -> impl Iterator<Item = Point3<f64>> + '_ {
        (0..mesh.triangles.len()).flat_map(|t| {
            let [a, b, c] = mesh.corners(t);
            (0..=4_u8).flat_map(move |i| {
                (0..=4 - i).map(move |j| {
                    let (u, v) = (f64::from(i) / 4.0, f64::from(j) / 4.0);
                    a + (b - a) * u + (c - a) * v
                })
            })
        })
    }

    #[test]
    fn chord_errors_that_cannot_be_met_are_refused() {
        for mm in [0.0, -1.0, 1e-9, f64::NAN, f64::INFINITY] {
            assert_eq!(ChordError::from_mm(mm), None, "{mm}");
        }
    }

    proptest! {
        #[test]
        fn a_circle_has_as_many_chords_as_needed_and_no_more(
            radius in 0.5..2000.0_f64,
            error in 1e-3..2.0_f64,
        ) {
            let n = chord(error).chords_in_circle(radius);
            let sagitta = |n: usize| radius * (1.0 - (PI / n as f64).cos());
            prop_assert_eq!(n % 4, 0);
            prop_assert!(sagitta(n) <= error * (1.0 + 1e-6));
            prop_assert!(n == 8 || sagitta(n - 4) > error);
        }

        #[test]
        fn a_cylinder_lies_between_any_two_points(
            from in prop::array::uniform3(-300.0..300.0_f64),
            to in prop::array::uniform3(-300.0..300.0_f64),
            radius in 1.0..200.0_f64,
            error in 0.01..0.5_f64,
        ) {
            let (from, to) = (Point3::from(from), Point3::from(to));
            let length = (to - from).norm();
            prop_assume!(length > 1e-3);
            let mesh = cylinder(from, to, radius, chord(error)).unwrap();
            assert_sound(&mesh, 1);
            let n = chord(error).chords_in_circle(radius) as f64;
            let exact = 0.5 * n * radius * radius * (TAU / n).sin() * length;
            prop_assert!((volume(&mesh) / exact - 1.0).abs() < 1e-9);
            let axis = (to - from) / length;
            for p in &mesh.vertices {
                let along = axis.dot(&(p - from));
                prop_assert!(along.abs().min((along - length).abs()) < 1e-9);
                let out = (p - from - axis * along).norm();
                prop_assert!(out < 1e-9 || (out - radius).abs() < 1e-9);
            }
        }

        #[test]
        fn a_turned_half_circle_is_a_ball_within_the_chord_error(
            radius in 1.0..120.0_f64,
            error in 0.02..0.5_f64,
        ) {
            let half = chord(error).half();
            let mut profile = arc(Point2::origin(), radius, -PI / 2.0, PI / 2.0, half);
            let last = profile.len() - 1;
            profile[0] = Point2::new(0.0, -radius);
            profile[last] = Point2::new(0.0, radius);
            let mesh = revolve(&profile, half).unwrap();
            assert_sound(&mesh, 1);
            for p in samples(&mesh) {
                let off = p.coords.norm() - radius;
                prop_assert!(off < 1e-9 && off > -error, "{off}");
            }
            let exact = 4.0 / 3.0 * PI * radius.powi(3);
            prop_assert!(volume(&mesh) < exact);
            prop_assert!(volume(&mesh) > exact - error * 4.0 * PI * radius * radius);
        }

        #[test]
        fn a_boss_stands_on_its_cylinder(
            from in 30.0..180.0_f64,
            part in 0.15..0.95_f64,
            beyond in 1.0..40.0_f64,
            error in 0.02..0.4_f64,
        ) {
            let (radius, height, face) = (part * from, 17.0, from + beyond);
            let shape = Boss { from, height, diameter: 2.0 * radius, face };
            let mesh = boss(&shape, chord(error)).unwrap();
            assert_sound(&mesh, 1);
            for p in samples(&mesh) {
                let from_axis = p.coords.xy().norm();
                let from_port = p.y.hypot(p.z - height);
                let off = [from_axis - from, from_port - radius, p.x - face];
                let nearest = off.iter().fold(f64::INFINITY, |a, b| a.min(b.abs()));
                prop_assert!(nearest <= error * (1.0 + 1e-6), "{nearest} at {p}");
            }
            // Over the boss's section, the depth from the face back to the cylinder.
            let n = 4000;
            let exact: f64 = (0..n).map(|i| {
                let y = radius * (2.0 * (f64::from(i) + 0.5) / f64::from(n) - 1.0);
                let width = 2.0 * (radius * radius - y * y).sqrt();
                (face - (from * from - y * y).sqrt()) * width * 2.0 * radius / f64::from(n)
            }).sum();
            let slack = error * area(&mesh) + 1e-4 * exact;
            prop_assert!((volume(&mesh) - exact).abs() < slack, "{} {exact}", volume(&mesh));
        }

        #[test]
        fn a_run_turns_a_square_corner(
            pipe in 10.0..60.0_f64,
            fatter in 1.0..1.6_f64,
            leg in 1.02..2.0_f64,
            nipple in 1.0..80.0_f64,
            riser in 1.0..80.0_f64,
            error in 0.02..0.4_f64,
        ) {
            let radius = 0.5 * pipe * fatter;
            let leg = leg * radius;
            let before = [Run { diameter: pipe, length: nipple }];
            let after = [
                Run { diameter: pipe, length: riser },
                Run { diameter: 2.0 * radius, length: 20.0 },
            ];
            let mesh = bent_run(&before, 2.0 * radius, leg, &after, chord(error)).unwrap();
            assert_sound(&mesh, 1);
            let centre = nipple + leg;
            let (lo, hi) = mesh.bounds().unwrap();
            prop_assert!((lo - Point3::new(0.0, -radius, -radius)).norm() < 1e-9);
            let top = leg + riser + 20.0;
            prop_assert!((hi - Point3::new(centre + radius, radius, top)).norm() < 1e-9);
            for p in samples(&mesh) {
                let (x, z) = (p.x - centre, p.z);
                let end = leg - 1e-9;
                let off = if x > 0.0 && z < 0.0 {
                    x.hypot(z).hypot(p.y) - radius
                } else if x.abs() < end && z.abs() < end && (x < 0.0 || z > 0.0) {
                    // Between the elbow's ends: on one of the two cylinders.
                    let (level, upright) = (p.y.hypot(z) - radius, p.y.hypot(x) - radius);
                    if level.abs() < upright.abs() { level } else { upright }
                } else {
                    continue;
                };
                prop_assert!(off.abs() <= error * (1.0 + 1e-6), "{off} at {p}");
            }
            // Two cylinders to the corner, less what the mitre takes from each, and a quarter ball.
            let r3 = radius.powi(3);
            let exact = PI * radius * radius * (2.0 * leg + 20.0) - 4.0 / 3.0 * r3 + PI / 3.0 * r3
                + 0.25 * PI * pipe * pipe * (nipple + riser);
            prop_assert!((volume(&mesh) - exact).abs() < error * area(&mesh));
        }

        #[test]
        fn a_prism_with_holes_has_its_area_times_its_height(
            radius in 20.0..100.0_f64,
            hole in 1.0..9.0_f64,
            height in 1.0..50.0_f64,
        ) {
            let outline = circle(Point2::new(3.0, -2.0), radius, chord(0.05));
            let holes: Vec<_> = [-10.0, 10.0]
                .map(|x| circle(Point2::new(3.0 + x, -2.0), hole, chord(0.05)))
                .to_vec();
            let mesh = extrude(&outline, &holes, -1.0, height).unwrap();
            assert_sound(&mesh, 1);
            let flat = 0.5 * doubled_area(&outline)
                - holes.iter().map(|h| 0.5 * doubled_area(h)).sum::<f64>();
            let exact = flat * (height + 1.0);
            prop_assert!((volume(&mesh) / exact - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn what_is_no_solid_is_refused() {
        let p = Point2::new;
        let square = [p(0.0, 0.0), p(4.0, 0.0), p(4.0, 4.0), p(0.0, 4.0)];
        let bow = [p(0.0, 0.0), p(4.0, 4.0), p(4.0, 0.0), p(0.0, 4.0)];
        let spike = [p(0.0, 0.0), p(4.0, 0.0), p(2.0, 0.0), p(2.0, 3.0)];
        let moved = |x: f64| square.map(|q| p(0.25 * q.x + x, 0.25 * q.y + 1.0)).to_vec();
        let bad = Err(BuildError::BadOutline);
        assert_eq!(extrude(&bow, &[], 0.0, 1.0), bad);
        assert_eq!(extrude(&spike, &[], 0.0, 1.0), bad);
        assert_eq!(extrude(&square[..2], &[], 0.0, 1.0), bad);
        assert_eq!(extrude(&square, &[moved(9.0)], 0.0, 1.0), bad, "hole outside");
        assert_eq!(extrude(&square, &[moved(3.5)], 0.0, 1.0), bad, "hole across the edge");
        assert_eq!(extrude(&square, &[moved(3.0)], 0.0, 1.0), bad, "hole touches the edge");
        assert_eq!(extrude(&square, &[moved(1.0), moved(1.5)], 0.0, 1.0), bad, "holes overlap");
        assert_eq!(extrude(&square, &[], 1.0, 1.0), Err(BuildError::NotPositive(0.0)));
        assert_eq!(revolve(&bow, chord(0.1)), bad);
        let across = square.map(|q| p(q.x - 1.0, q.y));
        assert_eq!(revolve(&across, chord(0.1)), Err(BuildError::AcrossAxis(-1.0)));
        let nan = square.map(|q| p(q.x, q.y * f64::NAN));
        assert_eq!(revolve(&nan, chord(0.1)), Err(BuildError::NotANumber));
        assert_eq!(extrude(&nan, &[], 0.0, 1.0), Err(BuildError::NotANumber));
    }

    #[test]
    fn a_boss_off_its_cylinder_is_refused() {
        let good = Boss { from: 55.0, height: 45.0, diameter: 60.0, face: 80.0 };
        assert_sound(&boss(&good, chord(0.1)).unwrap(), 1);
        for bad in [Boss { diameter: 111.0, ..good }, Boss { face: 55.0, ..good }] {
            assert_eq!(boss(&bad, chord(0.1)), Err(BuildError::BadBoss), "{bad:?}");
        }
    }

    #[test]
    fn boxes_and_hexagons_are_exact() {
        let mesh = block(Point3::new(-1.0, 2.0, 3.0), Point3::new(4.0, 5.0, 7.0)).unwrap();
        assert_sound(&mesh, 1);
        assert!((volume(&mesh) - 60.0).abs() < 1e-12);
        assert!((area(&mesh) - 94.0).abs() < 1e-12);
        let nut = hexagonal_prism(30.0, 10.0).unwrap();
        assert_sound(&nut, 1);
        // Area of a regular hexagon of inscribed radius r: 2 sqrt(3) r^2.
        assert!((volume(&nut) - 2.0 * 3.0_f64.sqrt() * 225.0 * 10.0).abs() < 1e-9);
    }
}
