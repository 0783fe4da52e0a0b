//! Studs on a circle.

use nalgebra::{Matrix3, Point2, Vector2, Vector3};
use solids::{Mesh, shells};

/// The studs of a mesh that stand on a circle.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct StudCircle {
    centre: Point2<f64>,
    studs: Vec<Stud>,
}

/// One stud with its nut.
#[derive(Debug, Clone, PartialEq)]
struct Stud {
    vertices: Vec<usize>,
    /// The box around it seen from above.
    low: Point2<f64>,
    high: Point2<f64>,
}

impl Stud {
    fn middle(&self) -> Point2<f64> {
        nalgebra::center(&self.low, &self.high)
    }

    fn meets(&self, other: &Self) -> bool {
        (0..2).all(|i| self.low[i] <= other.high[i] && self.high[i] >= other.low[i])
    }
}

/// How far a stud may stand from the circle, mm. Our choice.
const OFF: f64 = 1.0;

impl StudCircle {
    /// The circle on which three or more studs of a mesh stand; `None` where they do not.
    pub(super) fn of(mesh: &Mesh) -> Option<Self> {
        let studs = studs(mesh);
        let middles: Vec<Point2<f64>> = studs.iter().map(Stud::middle).collect();
        let (centre, radius) = circle_through(&middles)?;
        let off = |p: &Point2<f64>| ((p - centre).norm() - radius).abs();
        middles.iter().all(|p| off(p) <= OFF).then_some(Self { centre, studs })
    }

    /// The mesh with every stud moved away from the circle's centre. `None` where two studs would
    /// come together, or one to the centre.
    pub(super) fn spread(&self, mesh: &Mesh, by: f64) -> Option<Mesh> {
        let mut mesh = mesh.clone();
        let mut moved = Vec::new();
        for stud in &self.studs {
            let out = stud.middle() - self.centre;
            (out.norm() + by > OFF).then_some(())?;
            let way: Vector2<f64> = out.normalize() * by;
            for v in &stud.vertices {
                let vertex = mesh.vertices.get_mut(*v)?;
                vertex.x += way.x;
                vertex.y += way.y;
            }
            moved.push(Stud { vertices: Vec::new(), low: stud.low + way, high: stud.high + way });
        }
        let pairs = (0..moved.len()).flat_map(|i| (0..i).map(move |j| (i, j)));
        pairs.into_iter().all(|(i, j)| !moved[i].meets(&moved[j])).then_some(mesh)
    }
}

/// The studs of a mesh: shells whose boxes seen from above meet are of one stud.
fn studs(mesh: &Mesh) -> Vec<Stud> {
    let mut studs: Vec<Stud> = Vec::new();
    for vertices in shells(mesh) {
        let points = || vertices.iter().map(|v| mesh.vertices[*v].xy());
        let Some(first) = points().next() else { continue };
        let low = points().fold(first, |low, p| low.inf(&p));
        let high = points().fold(first, |high, p| high.sup(&p));
        let mut stud = Stud { vertices, low, high };
        while let Some(i) = studs.iter().position(|other| other.meets(&stud)) {
            let other = studs.swap_remove(i);
            stud.vertices.extend(other.vertices);
            stud.low = stud.low.inf(&other.low);
            stud.high = stud.high.sup(&other.high);
        }
        studs.push(stud);
    }
    studs
}

/// The circle with the least sum of squares of `|p - c|^2 - r^2` (Kasa's fit), from memory.
fn circle_through(points: &[Point2<f64>]) -> Option<(Point2<f64>, f64)> {
    if points.len() < 3 {
        return None;
    }
    let middle = points.iter().map(|p| p.coords).sum::<Vector2<f64>>() / points.len() as f64;
    let (mut a, mut b) = (Matrix3::zeros(), Vector3::zeros());
    for p in points {
        let q = p.coords - middle;
        let row = Vector3::new(2.0 * q.x, 2.0 * q.y, 1.0);
        a += row * row.transpose();
        b += row * q.norm_squared();
    }
    let found = a.lu().solve(&b)?;
    let centre = Vector2::new(found.x, found.y);
    let radius = (found.z + centre.norm_squared()).sqrt();
    radius.is_finite().then_some((Point2::from(middle + centre), radius))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;
    use solids::build::{ChordError, cylinder};

    /// Studs of radius 12 with nuts of radius 20 on a circle of radius 300 about (5, -3).
    fn eight() -> Mesh {
        let chord = ChordError::from_mm(0.1).unwrap();
        let mut mesh = Mesh::default();
        for i in 0..8 {
            let (sin, cos) = (f64::from(i) * std::f64::consts::FRAC_PI_4).sin_cos();
            let at = |z: f64| Point3::new(5.0 + 300.0 * cos, -3.0 + 300.0 * sin, z);
            mesh.append(&cylinder(at(0.0), at(40.0), 12.0, chord).unwrap());
            mesh.append(&cylinder(at(5.0), at(25.0), 20.0, chord).unwrap());
        }
        mesh
    }

    #[test]
    fn studs_with_their_nuts_are_moved_away_from_their_circles_centre() {
        let mesh = eight();
        let circle = StudCircle::of(&mesh).unwrap();
        assert_eq!(circle.studs.len(), 8);
        assert!((circle.centre - Point2::new(5.0, -3.0)).norm() < 1e-9);
        let moved = circle.spread(&mesh, 7.0).unwrap();
        let again = StudCircle::of(&moved).unwrap();
        for stud in &again.studs {
            assert!(((stud.middle() - circle.centre).norm() - 307.0).abs() < 1e-9);
        }
        for (a, b) in mesh.vertices.iter().zip(&moved.vertices) {
            assert!(((a - b).norm() - 7.0).abs() < 1e-9);
        }
    }

    #[test]
    fn studs_that_would_meet_are_not_moved() {
        let mesh = eight();
        // Nuts of 40 mm on eight places meet below a radius of about 52 mm: boxes a little above.
        assert!(StudCircle::of(&mesh).unwrap().spread(&mesh, -260.0).is_none());
        assert!(StudCircle::of(&mesh).unwrap().spread(&mesh, -200.0).is_some());
    }

    #[test]
    fn studs_on_no_circle_have_none() {
        let chord = ChordError::from_mm(0.1).unwrap();
        let mut mesh = eight();
        let stray = cylinder(Point3::new(0.0, 0.0, 0.0), Point3::new(0.0, 0.0, 9.0), 5.0, chord);
        mesh.append(&stray.unwrap());
        assert_eq!(StudCircle::of(&mesh), None);
    }
}
