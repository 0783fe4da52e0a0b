//! Is a mesh the closed boundary of a body?

use crate::Mesh;
use crate::sets::Sets;
use nalgebra::Point3;

/// What is wrong with a mesh, in counts. Two vertices at the same place are two vertices: weld
/// before asking.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Soundness {
    /// Triangles looked at.
    pub triangles: usize,
    /// Sets of triangles connected through edges.
    pub components: usize,
    /// Edges that only one triangle uses.
    pub open_edges: usize,
    /// Edges that more than two triangles use.
    pub overfull_edges: usize,
    /// Edges of two or more triangles that are not used as often in one direction as in the other.
    pub inconsistent_edges: usize,
    /// Triangles over the same three vertices as an earlier one.
    pub duplicate_triangles: usize,
    /// Triangles without area: a corner twice, or three corners in line.
    pub degenerate_triangles: usize,
    /// Triangles that name a vertex that does not exist, or one whose coordinates are not finite.
    pub dangling_triangles: usize,
    /// The ends of one open edge, mm.
    pub first_open_edge: Option<[Point3<f64>; 2]>,
    /// The ends of one edge that more than two triangles use, mm.
    pub first_overfull_edge: Option<[Point3<f64>; 2]>,
    /// The ends of one edge that is not used as often in one direction as in the other, mm.
    pub first_inconsistent_edge: Option<[Point3<f64>; 2]>,
    /// The middle of one triangle that occurs more than once, mm.
    pub first_duplicate: Option<Point3<f64>>,
    /// The middle of one triangle without area, mm.
    pub first_degenerate: Option<Point3<f64>>,
}

impl Soundness {
    /// Whether the mesh has triangles and bounds a body: every edge is used as often in one
    /// direction as in the other, so that the winding number is a whole number everywhere.
    pub const fn is_closed(&self) -> bool {
        self.triangles > 0
            && self.dangling_triangles == 0
            && self.open_edges == 0
            && self.inconsistent_edges == 0
    }

    /// Whether nothing at all is wrong: closed, two triangles at every edge, no duplicates, no
    /// triangle without area.
    pub const fn is_sound(&self) -> bool {
        self.is_closed()
            && self.overfull_edges == 0
            && self.duplicate_triangles == 0
            && self.degenerate_triangles == 0
    }
}

/// Counts what is wrong with a mesh, in `O(n log n)` time.
pub fn soundness(mesh: &Mesh) -> Soundness {
    let mut found = Soundness { triangles: mesh.triangles.len(), ..Soundness::default() };
    let good = |t: &[u32; 3]| {
        t.iter().all(|v| {
            mesh.vertices.get(*v as usize).is_some_and(|p| p.iter().all(|x| x.is_finite()))
        })
    };
    let whole: Vec<[u32; 3]> = mesh.triangles.iter().copied().filter(good).collect();
    found.dangling_triangles = found.triangles - whole.len();
    let corner = |v: u32| mesh.vertices[v as usize];

    let mut same: Vec<[u32; 3]> = whole
        .iter()
        .map(|t| {
            let mut sorted = *t;
            sorted.sort_unstable();
            sorted
        })
        .collect();
    same.sort_unstable();
    let middle = |t: &[u32; 3]| {
        let [a, b, c] = t.map(corner);
        Point3::from((a.coords + b.coords + c.coords) / 3.0)
    };
    let mut twice = same.windows(2).filter(|w| w[0] == w[1]).map(|w| &w[0]).peekable();
    found.first_duplicate = twice.peek().copied().map(middle);
    found.duplicate_triangles = twice.count();
    drop(same);

    let no_area = |t: &&[u32; 3]| {
        let [a, b, c] = t.map(corner);
        (b - a).cross(&(c - a)).norm_squared() == 0.0
    };
    let mut degenerate = whole.iter().filter(no_area).peekable();
    found.first_degenerate = degenerate.peek().copied().map(middle);
    found.degenerate_triangles = degenerate.count();

    // Every use of an edge: its ends in ascending order, and triangle and direction.
    let mut uses: Vec<(u64, u32)> = Vec::with_capacity(3 * whole.len());
    for (number, t) in (0_u32..).zip(&whole) {
        for (a, b) in [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])] {
            let key = (u64::from(a.min(b)) << 32) | u64::from(a.max(b));
            uses.push((key, (number << 1) | u32::from(a > b)));
        }
    }
    uses.sort_unstable();
    let mut sets = Sets::new(whole.len());
    for edge in uses.chunk_by(|a, b| a.0 == b.0) {
        let backward = edge.iter().filter(|u| u.1 & 1 == 1).count();
        for pair in edge.windows(2) {
            sets.join(pair[0].1 >> 1, pair[1].1 >> 1);
        }
        let Some((key, _)) = edge.first() else { continue };
        // The key holds two u32 by construction.
        #[expect(clippy::cast_possible_truncation)]
        let ends = || [(key >> 32) as u32, *key as u32].map(corner);
        if edge.len() == 1 {
            found.open_edges += 1;
            found.first_open_edge.get_or_insert_with(ends);
        } else if 2 * backward != edge.len() {
            found.inconsistent_edges += 1;
            found.first_inconsistent_edge.get_or_insert_with(ends);
        }
        if edge.len() > 2 {
            found.overfull_edges += 1;
            found.first_overfull_edge.get_or_insert_with(ends);
        }
    }
    found.components = sets.count();
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::block;
    use nalgebra::Vector3;

    fn cube() -> Mesh {
        block(Point3::origin(), Point3::new(1.0, 1.0, 1.0)).unwrap()
    }

    #[test]
    fn a_cube_is_sound() {
        let found = soundness(&cube());
        assert!(found.is_sound());
        assert_eq!((found.triangles, found.components), (12, 1));
        assert_eq!(found.first_open_edge, None);
    }

    #[test]
    fn nothing_is_not_a_body() {
        assert!(!soundness(&Mesh::default()).is_closed());
    }

    #[test]
    fn a_missing_triangle_opens_three_edges() {
        let mut mesh = cube();
        let gone = mesh.triangles.pop().unwrap().map(|v| mesh.vertices[v as usize]);
        let found = soundness(&mesh);
        assert_eq!((found.open_edges, found.inconsistent_edges), (3, 0));
        assert!(!found.is_closed());
        let ends = found.first_open_edge.unwrap();
        assert!(ends.iter().all(|p| gone.contains(p)));
    }

    #[test]
    fn a_flipped_triangle_disagrees_with_its_three_neighbours() {
        let mut mesh = cube();
        mesh.triangles[4].swap(0, 1);
        let turned = mesh.triangles[4].map(|v| mesh.vertices[v as usize]);
        let found = soundness(&mesh);
        assert_eq!((found.open_edges, found.inconsistent_edges), (0, 3));
        assert!(!found.is_closed());
        assert!(found.first_inconsistent_edge.unwrap().iter().all(|p| turned.contains(p)));
    }

    #[test]
    fn a_repeated_triangle_is_found_whatever_its_direction() {
        for turn in [[0, 1, 2], [1, 2, 0], [1, 0, 2]] {
            let mut mesh = cube();
            let t = mesh.triangles[7];
            mesh.triangles.push(turn.map(|i: usize| t[i]));
            let found = soundness(&mesh);
            assert_eq!((found.duplicate_triangles, found.overfull_edges), (1, 3));
            let corners = t.map(|v| mesh.vertices[v as usize]);
            let middle = corners.iter().fold(Vector3::zeros(), |sum, p| sum + p.coords) / 3.0;
            assert!((found.first_duplicate.unwrap().coords - middle).norm() < 1e-12);
            assert!(found.first_overfull_edge.unwrap().iter().all(|p| corners.contains(p)));
            assert!(!found.is_sound());
        }
    }

    #[test]
    fn a_triangle_without_area_is_found() {
        let mut mesh = cube();
        mesh.vertices.push(Point3::new(0.5, 0.0, 0.0));
        mesh.triangles.push([0, 8, 0]);
        mesh.triangles.push([0, 8, 1]);
        let found = soundness(&mesh);
        assert_eq!(found.degenerate_triangles, 2);
        assert_eq!(found.first_degenerate, Some(Point3::new(0.5 / 3.0, 0.0, 0.0)));
    }

    #[test]
    fn missing_vertices_and_nan_are_counted_not_followed() {
        let mut mesh = cube();
        mesh.triangles.push([0, 1, 99]);
        mesh.vertices[6].z = f64::NAN;
        let around = mesh.triangles.iter().filter(|t| t.contains(&6)).count();
        let found = soundness(&mesh);
        assert_eq!(found.dangling_triangles, 1 + around);
        assert!(!found.is_closed());
    }

    #[test]
    fn shells_are_counted_and_may_share_an_edge() {
        let mut mesh = cube();
        let mut other = cube();
        for p in &mut other.vertices {
            *p += Vector3::new(5.0, 0.0, 0.0);
        }
        mesh.append(&other);
        assert_eq!(soundness(&mesh).components, 2);
        assert!(soundness(&mesh).is_sound());

        // Two tetrahedra hinged on the edge 0-1: closed, but four triangles at that edge.
        let p = Point3::new;
        let hinged = Mesh {
            vertices: vec![
                p(0.0, 0.0, 0.0),
                p(0.0, 0.0, 1.0),
                p(1.0, 0.0, 0.0),
                p(1.0, 1.0, 0.0),
                p(-1.0, 0.0, 0.0),
                p(-1.0, -1.0, 0.0),
            ],
            triangles: [[0, 1, 2, 3], [0, 1, 4, 5]]
                .iter()
                .flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d], [a, d, b], [b, d, c]])
                .collect(),
        };
        let found = soundness(&hinged);
        assert_eq!((found.overfull_edges, found.open_edges), (1, 0));
        assert!(found.is_closed() && !found.is_sound());
    }
}
