//! Where a section plane cuts what is there: outlines, and faces that close the cut bodies.

use crate::interference::Interference;
use crate::list::{DisplayList, Item, Shown};
use nalgebra::{Isometry3, Point2, Point3, Unit, Vector3};
use solids::{Mesh, Polyline, section};
use spade::{ConstrainedDelaunayTriangulation, HasPosition, Triangulation};

/// A section plane, plate frame, mm. What is on the side of its normal is taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// A point of it.
    pub point: Point3<f64>,
    /// Toward the side that is taken away.
    pub normal: Unit<Vector3<f64>>,
}

/// Where a plane cuts an item, plate frame, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct CutFace {
    /// Index into [`DisplayList::items`].
    pub item: usize,
    /// The face that closes the cut body, counter-clockwise seen from the side that is taken away.
    /// `None` where it is not known what is inside: the body is open, or its outline could not be
    /// filled.
    pub fill: Option<Mesh>,
    /// The lines of the cut, those of a closed body counter-clockwise round its material seen from
    /// there.
    pub outlines: Vec<Polyline>,
}

impl DisplayList<'_> {
    /// Cuts what is there at a time of the installation by a plane; [`DisplayList::lasts`] is when all
    /// is done. Items that are hidden are not cut.
    pub fn cut(&self, plane: &Plane, at: f64) -> Vec<CutFace> {
        let cut = |(index, item): (usize, &Item)| {
            let place = item.place_at(at).filter(|_| item.shown != Shown::Hidden)?;
            let mesh = self.meshes.get(item.mesh)?;
            CutFace::of(index, mesh, &place, plane)
        };
        self.items.iter().enumerate().filter_map(cut).collect()
    }
}

impl DisplayList<'_> {
    /// Cuts what parts that run into each other share, so that it can be seen in their cut faces, with
    /// which these lie in one plane; `item` is then an index into [`DisplayList::interferences`].
    pub fn cut_interferences(&self, plane: &Plane) -> Vec<CutFace> {
        let volumes = self.interferences.iter().enumerate();
        let cut = |(index, found): (usize, &Interference)| {
            CutFace::of(index, found.volume.as_ref()?, &Isometry3::identity(), plane)
        };
        volumes.filter_map(cut).collect()
    }
}

impl CutFace {
    /// `None` where the plane does not meet the mesh.
    fn of(item: usize, mesh: &Mesh, place: &Isometry3<f64>, plane: &Plane) -> Option<Self> {
        let from = place.inverse_transform_point(&plane.point);
        let normal = place.inverse_transform_unit_vector(&plane.normal);
        let mut outlines = section(mesh, &from, &normal);
        for point in outlines.iter_mut().flat_map(|line| &mut line.points) {
            *point = place * *point;
        }
        if outlines.is_empty() {
            return None;
        }
        let is_known = outlines.iter().all(|line| line.closed) && is_closed(mesh);
        let fill = is_known.then(|| filled(&outlines, plane)).flatten();
        Some(Self { item, fill, outlines })
    }
}

/// Whether every edge is run as often one way as the other, so that the mesh bounds a body.
///
/// Each directed edge has a number that looks drawn by chance, and less its opposite's they add up to
/// nothing on a closed mesh; on another they do by chance in one of 2^64. A sort of the edges tells
/// the same for sure, and takes ten times as long while a plane is dragged.
fn is_closed(mesh: &Mesh) -> bool {
    let corners = mesh.vertices.len();
    if mesh.triangles.iter().flatten().any(|v| *v as usize >= corners) {
        return false;
    }
    let number = |from: u32, to: u32| mixed(u64::from(from) << 32 | u64::from(to));
    let off = mesh.triangles.iter().fold(0_u64, |off, t| {
        [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])]
            .iter()
            .fold(off, |off, (a, b)| off.wrapping_add(number(*a, *b)).wrapping_sub(number(*b, *a)))
    });
    off == 0
}

/// Steele, Lea and Flood's mixing of 64 bits (`SplitMix`).
fn mixed(x: u64) -> u64 {
    let x = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

/// A corner of the flat picture.
#[derive(Debug, Clone, Copy)]
struct Corner(spade::Point2<f64>);

impl HasPosition for Corner {
    type Scalar = f64;

    fn position(&self) -> spade::Point2<f64> {
        self.0
    }
}

/// The triangles within closed lines: where these do not run round as often one way as the other, so
/// that shells that overlap are one and hollows stay open. `None` where the lines cannot be laid into a
/// triangulation.
fn filled(outlines: &[Polyline], plane: &Plane) -> Option<Mesh> {
    let (u, v) = across(&plane.normal);
    let flat = |p: &Point3<f64>| {
        let off = p - plane.point;
        // What lies this near to zero the triangulation takes for an underflow.
        Point2::new(u.dot(&off), v.dot(&off)).map(|x| if x.abs() < 1e-30 { 0.0 } else { x })
    };
    let lines: Vec<Vec<Point2<f64>>> =
        outlines.iter().map(|line| line.points.iter().map(flat).collect()).collect();
    let rings = Rings::new(&lines)?;
    let mut net = ConstrainedDelaunayTriangulation::<Corner>::new();
    for line in &lines {
        let handles: Vec<_> = line
            .iter()
            .map(|p| net.insert(Corner(spade::Point2::new(p.x, p.y))))
            .collect::<Result<_, _>>()
            .ok()?;
        for (index, from) in handles.iter().enumerate() {
            let to = handles.get(index + 1).or_else(|| handles.first())?;
            if from != to {
                // Shells that run into each other cross.
                net.add_constraint_and_split(*from, *to, Corner);
            }
        }
    }
    let back = |p: spade::Point2<f64>| plane.point + u * p.x + v * p.y;
    let mut mesh = Mesh {
        vertices: net.vertices().map(|vertex| back(vertex.position())).collect(),
        triangles: Vec::new(),
    };
    for face in net.inner_faces() {
        let centre = face.center();
        if rings.turns(&Point2::new(centre.x, centre.y)) != 0 {
            let corner = |index: usize| u32::try_from(index).ok();
            let [a, b, c] = face.vertices().map(|vertex| corner(vertex.index()));
            mesh.triangles.push([a?, b?, c?]);
        }
    }
    (!mesh.triangles.is_empty()).then_some(mesh)
}

/// Two unit vectors square to a normal and each other, right-handed with it.
fn across(normal: &Unit<Vector3<f64>>) -> (Vector3<f64>, Vector3<f64>) {
    let least = normal.iamin();
    let mut axis = Vector3::zeros();
    axis[least] = 1.0;
    let u = axis.cross(normal).normalize();
    (u, normal.cross(&u))
}

/// The edges of closed lines by bands of their second coordinate.
struct Rings {
    edges: Vec<[Point2<f64>; 2]>,
    bands: Vec<Vec<usize>>,
    low: f64,
    /// Bands over a mm.
    per_mm: f64,
}

impl Rings {
    /// `None` where a coordinate is not finite.
    fn new(lines: &[Vec<Point2<f64>>]) -> Option<Self> {
        let edges: Vec<[Point2<f64>; 2]> = lines
            .iter()
            .flat_map(|line| line.iter().zip(line.iter().cycle().skip(1)))
            .map(|(a, b)| [*a, *b])
            .collect();
        let heights = || edges.iter().map(|[a, _]| a.y);
        let (low, high) =
            (heights().fold(f64::INFINITY, f64::min), heights().fold(f64::NEG_INFINITY, f64::max));
        let all = || edges.iter().flatten().flat_map(|p| [p.x, p.y]);
        if !all().all(f64::is_finite) || low > high {
            return None;
        }
        let count = (edges.len() / 4).max(1);
        let per_mm = if high > low { count as f64 / (high - low) } else { 0.0 };
        let mut rings = Self { bands: vec![Vec::new(); count], edges, low, per_mm };
        for (index, [a, b]) in rings.edges.iter().enumerate() {
            let (from, to) = (rings.band(a.y.min(b.y)), rings.band(a.y.max(b.y)));
            for band in rings.bands.get_mut(from..=to)? {
                band.push(index);
            }
        }
        Some(rings)
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a float to an integer saturates, and the last band takes what is above"
    )]
    fn band(&self, y: f64) -> usize {
        (((y - self.low) * self.per_mm) as usize).min(self.bands.len() - 1)
    }

    /// How often the lines run round a point counter-clockwise, less how often clockwise.
    fn turns(&self, point: &Point2<f64>) -> i32 {
        let mut turns = 0;
        for index in self.bands.get(self.band(point.y)).into_iter().flatten() {
            let Some([a, b]) = self.edges.get(*index) else { continue };
            let is_above = [a.y > point.y, b.y > point.y];
            if is_above[0] == is_above[1] {
                continue;
            }
            let left = (b.x - a.x) * (point.y - a.y) - (b.y - a.y) * (point.x - a.x);
            // Rays to the right are crossed upward by what runs counter-clockwise.
            if is_above[1] && left > 0.0 {
                turns += 1;
            } else if is_above[0] && left < 0.0 {
                turns -= 1;
            }
        }
        turns
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use solids::area;
    use solids::build::{ChordError, block, cylinder, revolve};
    use std::f64::consts::PI;

    fn chord() -> ChordError {
        ChordError::from_mm(0.002).unwrap()
    }

    fn cut(mesh: &Mesh, point: [f64; 3], normal: [f64; 3]) -> CutFace {
        let plane = Plane { point: point.into(), normal: Unit::new_normalize(normal.into()) };
        // Turned and moved, as items are.
        let place = Isometry3::new(Vector3::new(30.0, -20.0, 5.0), Vector3::new(0.3, -1.1, 0.7));
        let moved = Plane { point: place * plane.point, normal: place * plane.normal };
        let face = CutFace::of(3, mesh, &place, &moved).unwrap();
        assert_eq!(face.item, 3);
        for p in face.fill.iter().flat_map(|fill| &fill.vertices) {
            assert!(moved.normal.dot(&(p - moved.point)).abs() < 1e-9);
        }
        for index in 0..face.fill.as_ref().map_or(0, |fill| fill.triangles.len()) {
            let [a, b, c] = face.fill.as_ref().unwrap().corners(index);
            assert!((b - a).cross(&(c - a)).dot(&moved.normal) > -1e-12, "faces the cut side");
        }
        face
    }

    fn area_of(face: &CutFace) -> f64 {
        area(face.fill.as_ref().unwrap())
    }

    /// Areas in closed form, from memory.
    #[test]
    fn cuts_have_the_areas_of_closed_forms() {
        let cube = block(Point3::origin(), Point3::new(2.0, 3.0, 5.0)).unwrap();
        assert!((area_of(&cut(&cube, [1.0, 1.0, 1.0], [0.0, 0.0, 1.0])) - 6.0).abs() < 1e-9);
        // Through a corner and square to a face's diagonal: a rectangle.
        let slanted = cut(&cube, [1.0, 1.5, 0.0], [3.0, -2.0, 0.0]);
        assert!((area_of(&slanted) - 5.0 * 13.0_f64.sqrt()).abs() < 1e-9);
        // A unit cube square to its body diagonal through its middle: a regular hexagon.
        let unit = block(Point3::origin(), Point3::new(1.0, 1.0, 1.0)).unwrap();
        let hexagon = cut(&unit, [0.5; 3], [1.0; 3]);
        assert!((area_of(&hexagon) - 0.75 * 3.0_f64.sqrt()).abs() < 1e-9);

        let rod = cylinder(Point3::new(0.0, 0.0, -9.0), Point3::new(0.0, 0.0, 9.0), 4.0, chord())
            .unwrap();
        let round = area_of(&cut(&rod, [0.0; 3], [0.0, 0.0, 1.0]));
        assert!((round - 16.0 * PI).abs() < 0.05, "{round}");
        // At 45 degrees an ellipse.
        let ellipse = area_of(&cut(&rod, [0.0; 3], [1.0, 0.0, 1.0]));
        assert!((ellipse - 16.0 * PI * 2.0_f64.sqrt()).abs() < 0.08, "{ellipse}");

        let p = Point2::new;
        let tube = revolve(&[p(3.0, 0.0), p(5.0, 0.0), p(5.0, 9.0), p(3.0, 9.0)], chord()).unwrap();
        let ring = cut(&tube, [0.0, 0.0, 4.0], [0.0, 0.0, 1.0]);
        assert!((area_of(&ring) - 16.0 * PI).abs() < 0.1);
        assert_eq!(ring.outlines.len(), 2);
        // Along its axis two rectangles.
        let along = cut(&tube, [0.0, 0.0, 4.0], [0.3, 1.0, 0.0]);
        assert!((area_of(&along) - 2.0 * 2.0 * 9.0).abs() < 0.05);

        let (major, minor) = (10.0, 3.0);
        let section: Vec<Point2<f64>> = (0..240)
            .map(|k| 2.0 * PI * f64::from(k) / 240.0)
            .map(|t| p(major + minor * t.cos(), minor * t.sin()))
            .collect();
        let torus = revolve(&section, chord()).unwrap();
        // Square to its axis at height z a ring of area 4 pi R sqrt(r^2 - z^2).
        for z in [0.0, 1.0, -2.5] {
            let ring = area_of(&cut(&torus, [0.0, 0.0, z], [0.0, 0.0, 1.0]));
            let exact = 4.0 * PI * major * (minor * minor - z * z).sqrt();
            assert!((ring - exact).abs() < 0.002 * exact, "{z}: {ring} for {exact}");
        }
        let both = area_of(&cut(&torus, [0.0; 3], [1.0, 0.4, 0.0]));
        assert!((both - 2.0 * PI * minor * minor).abs() < 0.03, "{both}");
    }

    #[test]
    fn shells_that_overlap_are_one() {
        let mut cross = block(Point3::new(-3.0, -1.0, 0.0), Point3::new(3.0, 1.0, 4.0)).unwrap();
        cross.append(&block(Point3::new(-1.0, -3.0, 0.0), Point3::new(1.0, 3.0, 4.0)).unwrap());
        let face = cut(&cross, [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]);
        assert!((area_of(&face) - (12.0 + 12.0 - 4.0)).abs() < 1e-9);
        // Faces that lie on each other, and one shell in another that faces inward: a hollow.
        let mut hollow = block(Point3::origin(), Point3::new(4.0, 4.0, 4.0)).unwrap();
        let mut inside = block(Point3::new(1.0, 1.0, 1.0), Point3::new(3.0, 3.0, 3.0)).unwrap();
        for t in &mut inside.triangles {
            t.swap(0, 1);
        }
        hollow.append(&inside);
        hollow.append(&block(Point3::new(4.0, 0.0, 0.0), Point3::new(5.0, 4.0, 4.0)).unwrap());
        let face = cut(&hollow, [2.0, 2.0, 2.0], [0.0, 0.0, 1.0]);
        assert!((area_of(&face) - (16.0 - 4.0 + 4.0)).abs() < 1e-9);
    }

    /// Bodies of shells that run into each other at random: a point of the plane is in the face exactly
    /// where the winding number says that it is in the body.
    #[test]
    fn a_face_is_where_the_body_is() {
        let mut seed = 7_u64;
        let mut number = |low: f64, high: f64| {
            seed = mixed(seed);
            low + (high - low) * (seed >> 11) as f64 / (1_u64 << 53) as f64
        };
        let (mut inside, mut outside) = (0, 0);
        for _ in 0..60 {
            let mut mesh = Mesh::default();
            for shell in 0..5 {
                let sizes = [number(1.0, 6.0), number(1.0, 6.0), number(1.0, 6.0)];
                let half = Vector3::from(sizes);
                let body = if shell % 2 == 0 {
                    block(Point3::from(-half), Point3::from(half)).unwrap()
                } else {
                    let end = Point3::new(0.0, 0.0, sizes[0]);
                    cylinder(-end, end, sizes[1], ChordError::from_mm(0.1).unwrap()).unwrap()
                };
                // Some lie square to each other, so that faces and edges fall together.
                let turn = if shell < 2 { 0.0 } else { number(-3.0, 3.0) };
                let shift = [number(-4.0, 4.0), number(-4.0, 4.0), number(-4.0, 4.0)];
                let shift = if shell < 2 { shift.map(f64::round) } else { shift };
                let place =
                    Isometry3::new(shift.into(), Vector3::new(turn, 0.3 * turn, 1.0 - turn));
                mesh.append(&body.transformed(&place));
            }
            let normal = Vector3::new(number(-1.0, 1.0), number(-1.0, 1.0), number(-1.0, 1.0));
            let plane = Plane { point: Point3::origin(), normal: Unit::new_normalize(normal) };
            let Some(face) = CutFace::of(0, &mesh, &Isometry3::identity(), &plane) else {
                continue;
            };
            let fill = face.fill.unwrap();
            let (u, v) = across(&plane.normal);
            for _ in 0..60 {
                let p = plane.point + u * number(-9.0, 9.0) + v * number(-9.0, 9.0);
                let is_in = |index: usize| {
                    let [a, b, c] = fill.corners(index);
                    [(a, b), (b, c), (c, a)]
                        .iter()
                        .all(|(from, to)| (to - from).cross(&(p - from)).dot(&plane.normal) >= 0.0)
                };
                let found = (0..fill.triangles.len()).any(is_in);
                let expected = solids::winding_number(&mesh, &p).round() != 0.0;
                assert_eq!(found, expected, "{p}");
                if expected { inside += 1 } else { outside += 1 }
            }
        }
        assert!(inside > 500 && outside > 500, "{inside} {outside}");
    }

    #[test]
    fn what_is_open_is_never_filled() {
        let cube = block(Point3::origin(), Point3::new(2.0, 2.0, 2.0)).unwrap();
        let mut no_top = cube.clone();
        no_top.triangles.retain(|t| t.iter().any(|v| cube.vertices[*v as usize].z < 1.0));
        let face = cut(&no_top, [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]);
        assert!(face.outlines.iter().all(|line| line.closed));
        assert_eq!(face.fill, None, "closed lines, but an open body");
        let mut turned = cube.clone();
        turned.triangles[0].swap(0, 1);
        assert_eq!(cut(&turned, [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]).fill, None);
        assert!(is_closed(&cube) && !is_closed(&no_top) && !is_closed(&turned));
        let bad = Mesh { vertices: vec![Point3::origin()], triangles: vec![[0, 0, 7]] };
        assert!(!is_closed(&bad));
    }

    #[test]
    fn a_plane_beside_a_body_cuts_nothing() {
        let cube = block(Point3::origin(), Point3::new(2.0, 2.0, 2.0)).unwrap();
        let plane = Plane { point: Point3::new(0.0, 0.0, 9.0), normal: Vector3::z_axis() };
        assert_eq!(CutFace::of(0, &cube, &Isometry3::identity(), &plane), None);
    }
}
