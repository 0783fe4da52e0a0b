//! A closed surface of which every edge belongs to two triangles.
//!
//! Cells that touch along an edge or at a corner share vertices there, and four triangles and more meet
//! at an edge. Each such place is made two: the triangles about the same solid stay together, and the
//! copies of a vertex are drawn a hair into their own solids, so that they are not one again when the mesh
//! is read.

use nalgebra::{Point3, Vector3};
use solids::{Mesh, Sets};

/// How far copies of a vertex are drawn apart, mm: it counts for nothing, and stays in any file.
const HAIR: f64 = 1e-4;

/// A triangle at an edge between two vertices.
#[derive(Clone, Copy)]
struct Use {
    /// The lower and the higher vertex of the edge.
    edge: (u32, u32),
    triangle: u32,
    /// Which of its corners are at the lower and at the higher vertex.
    corners: [u8; 2],
    /// Whether it runs from the lower to the higher.
    forward: bool,
}

/// The sums of the unit normals of the triangles at vertices that are asked for.
fn normals(mesh: &Mesh, asked: impl Fn(u32) -> bool) -> Vec<Vector3<f64>> {
    let mut out = vec![Vector3::zeros(); mesh.vertices.len()];
    for t in &mesh.triangles {
        if t.iter().any(|v| asked(*v)) {
            let [a, b, c] = t.map(|v| mesh.vertices[v as usize]);
            let normal = (b - a).cross(&(c - a)).try_normalize(0.0).unwrap_or_default();
            for v in t {
                out[*v as usize] += normal;
            }
        }
    }
    out
}

/// Splits vertices and edges at which more than one piece of the surface meets. Every edge must be used
/// as often in one direction as in the other. Triangles keep their order.
pub(crate) fn split(mesh: &mut Mesh) {
    let mut uses = Vec::with_capacity(3 * mesh.triangles.len());
    for (triangle, t) in (0_u32..).zip(&mesh.triangles) {
        for (a, b) in [(0_u8, 1_u8), (1, 2), (2, 0)] {
            let (u, v) = (t[usize::from(a)], t[usize::from(b)]);
            let forward = u < v;
            let (edge, corners) = if forward { ((u, v), [a, b]) } else { ((v, u), [b, a]) };
            uses.push(Use { edge, triangle, corners, forward });
        }
    }
    uses.sort_unstable_by_key(|u| (u.edge, u.triangle));
    // Corners that stay one vertex.
    let mut same = Sets::new(3 * mesh.triangles.len());
    let corner = |u: &Use, end: usize| 3 * u.triangle + u32::from(u.corners[end]);
    for about in uses.chunk_by(|a, b| a.edge == b.edge) {
        for (a, b) in pairs(mesh, about) {
            for end in 0..2 {
                same.join(corner(&a, end), corner(&b, end));
            }
        }
    }
    drop(uses);
    let mut first: Vec<Option<u32>> = vec![None; mesh.vertices.len()];
    let mut copies: Vec<(u32, u32)> = Vec::new();
    let roots: Vec<u32> =
        (0_u32..).take(3 * mesh.triangles.len()).map(|corner| same.root(corner)).collect();
    for (triangle, t) in mesh.triangles.iter().enumerate() {
        for (k, vertex) in t.iter().enumerate() {
            let root = roots[3 * triangle + k];
            match first[*vertex as usize] {
                None => first[*vertex as usize] = Some(root),
                Some(known) if known == root => {}
                Some(_) => copies.push((root, *vertex)),
            }
        }
    }
    copies.sort_unstable();
    copies.dedup();
    if copies.is_empty() {
        return;
    }
    let Ok(before) = u32::try_from(mesh.vertices.len()) else { return };
    let mut split: Vec<u32> = copies.iter().map(|(_, of)| *of).collect();
    split.sort_unstable();
    split.dedup();
    let mut rank: Vec<u32> = Vec::with_capacity(copies.len());
    let mut count = vec![1_u32; mesh.vertices.len()];
    for (_, of) in &copies {
        count[*of as usize] += 1;
        rank.push(count[*of as usize]);
    }
    mesh.vertices
        .extend(copies.iter().map(|(_, of)| mesh.vertices[*of as usize]).collect::<Vec<_>>());
    for (triangle, t) in mesh.triangles.iter_mut().enumerate() {
        for (k, vertex) in t.iter_mut().enumerate() {
            let key = (roots[3 * triangle + k], *vertex);
            if let Ok(at) = copies.binary_search(&key) {
                *vertex = before + u32::try_from(at).unwrap_or_default();
            }
        }
    }
    // Each copy, and what it was made of, goes into its own solid.
    let moves = |vertex: u32| vertex >= before || split.binary_search(&vertex).is_ok();
    let out = normals(mesh, moves);
    for (at, (place, out)) in (0_u32..).zip(mesh.vertices.iter_mut().zip(out)) {
        if moves(at) {
            let way = out.try_normalize(1e-9).unwrap_or_else(|| spread(at));
            // Each farther than the one before, should they go the same way.
            let turn =
                at.checked_sub(before).and_then(|n| rank.get(n as usize)).copied().unwrap_or(1);
            *place -= way * (HAIR * f64::from(turn));
        }
    }
}

/// A direction of its own for a vertex whose triangles give none.
fn spread(at: u32) -> Vector3<f64> {
    let turn = f64::from(at) * 2.399_963;
    let z = 1.0 - 2.0 * (f64::from(at) * 0.618_034).fract();
    let flat = (1.0 - z * z).max(0.0).sqrt();
    Vector3::new(flat * turn.cos(), flat * turn.sin(), z)
}

/// Which triangles at an edge stay together: those between which their solid lies.
fn pairs(mesh: &Mesh, about: &[Use]) -> Vec<(Use, Use)> {
    if let [a, b] = about {
        return vec![(*a, *b)];
    }
    let Some(any) = about.first() else { return Vec::new() };
    let [low, high] = [any.edge.0, any.edge.1].map(|v| mesh.vertices[v as usize]);
    let along = (high - low).try_normalize(0.0).unwrap_or_else(Vector3::z);
    let side = if along.x.abs() < 0.9 { Vector3::x() } else { Vector3::y() };
    let side = (side - along * along.dot(&side)).normalize();
    let up = along.cross(&side);
    let mut turned: Vec<(f64, Use)> = about
        .iter()
        .map(|u| {
            let t = mesh.triangles[u.triangle as usize];
            let apex = usize::from(3 - u.corners[0] - u.corners[1]);
            let to: Point3<f64> = mesh.vertices[t[apex] as usize];
            let way = to - low;
            (way.dot(&up).atan2(way.dot(&side)), *u)
        })
        .collect();
    // A solid begins at a triangle that runs backward and ends at the next that runs forward.
    turned.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.forward.cmp(&b.1.forward)));
    let mut begun: Vec<Use> = Vec::new();
    let mut found = Vec::new();
    for (_, u) in turned.iter().chain(&turned) {
        if found
            .iter()
            .any(|(a, b): &(Use, Use)| a.triangle == u.triangle || b.triangle == u.triangle)
        {
            continue;
        }
        if !u.forward {
            if begun.iter().all(|b| b.triangle != u.triangle) {
                begun.push(*u);
            }
        } else if let Some(from) = begun.pop() {
            found.push((from, *u));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use solids::build::block;
    use solids::{soundness, volume};

    /// Two cubes as one mesh over the vertices that they share.
    fn cubes(second: Vector3<f64>) -> Mesh {
        let one = block(Point3::origin(), Point3::new(1.0, 1.0, 1.0)).unwrap();
        let mut mesh = one.clone();
        let mut number = Vec::new();
        for v in &one.vertices {
            let place = v + second;
            let known = mesh.vertices.iter().position(|w| (w - place).norm() < 1e-9);
            let at = known.unwrap_or(mesh.vertices.len());
            if known.is_none() {
                mesh.vertices.push(place);
            }
            number.push(u32::try_from(at).unwrap());
        }
        let more = one.triangles.iter().map(|t| t.map(|v| number[v as usize]));
        mesh.triangles.extend(more);
        mesh
    }

    #[test]
    fn cubes_that_touch_at_an_edge_or_a_corner_come_apart() {
        for second in [Vector3::new(1.0, 1.0, 0.0), Vector3::new(1.0, 1.0, 1.0)] {
            let mut mesh = cubes(second);
            let triangles = mesh.triangles.len();
            split(&mut mesh);
            assert_eq!(mesh.triangles.len(), triangles);
            let found = soundness(&mesh);
            assert!(found.is_sound() && found.components == 2, "{found:?}");
            assert!((volume(&mesh) - 2.0).abs() < 0.01);
            // No two vertices are at one place.
            let mut places: Vec<_> =
                mesh.vertices.iter().map(|p| p.coords.map(f64::to_bits)).collect();
            places.sort_by(|a, b| a.as_slice().cmp(b.as_slice()));
            assert!(places.windows(2).all(|w| w[0] != w[1]));
        }
    }
}
