//! The edges of a body that a drawing would show.

use display::Surface;
use std::collections::HashMap;

/// Edges whose faces meet at less than this are smooth: they are drawn only where they are the outline of
/// what is seen, degrees. Our choice.
const SHARP: f64 = 30.0;
/// Edges whose faces meet at less than this are within a flat face and never drawn, degrees. Our choice.
const FLAT: f64 = 0.5;

/// An edge between two faces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    /// Its ends, in the body's frame.
    pub(super) ends: [[f32; 3]; 2],
    /// The unit normals of its two faces; zeros where it is drawn from wherever it is seen.
    pub(super) faces: [[f32; 3]; 2],
}

/// Every edge that is drawn from somewhere. Where a body is open its rim is drawn too.
pub(super) fn edges(surface: &Surface) -> Vec<Edge> {
    let [sharp, flat] = [SHARP, FLAT].map(|degrees| degrees.to_radians().cos());
    let mut known: HashMap<[u32; 3], u32> = HashMap::new();
    let mut points: Vec<[f32; 3]> = Vec::new();
    // One point has several corners where edges meet in it.
    let names: Vec<u32> = surface
        .positions
        .iter()
        .map(|p| {
            *known.entry(p.map(f32::to_bits)).or_insert_with(|| {
                points.push(*p);
                u32::try_from(points.len() - 1).unwrap_or(u32::MAX)
            })
        })
        .collect();
    let name = |corner: u32| names.get(corner as usize).copied().unwrap_or_default();
    let point = |name: u32| points.get(name as usize).copied().unwrap_or_default();
    let mut meeting: HashMap<(u32, u32), Vec<[f32; 3]>> = HashMap::new();
    let mut order: Vec<(u32, u32)> = Vec::new();
    for triangle in &surface.triangles {
        let [a, b, c] = triangle.map(name);
        let Some(normal) = normal([a, b, c].map(point)) else { continue };
        for (from, to) in [(a, b), (b, c), (c, a)] {
            let key = (from.min(to), from.max(to));
            let faces = meeting.entry(key).or_insert_with(|| {
                order.push(key);
                Vec::new()
            });
            faces.push(normal);
        }
    }
    let edge = |(from, to): (u32, u32)| {
        let faces = match meeting.get(&(from, to))?.as_slice() {
            [left, right] => {
                let along: f64 =
                    left.iter().zip(right).map(|(l, r)| f64::from(*l) * f64::from(*r)).sum();
                if along > flat {
                    return None;
                }
                if along < sharp { [[0.0; 3]; 2] } else { [*left, *right] }
            }
            _ => [[0.0; 3]; 2],
        };
        Some(Edge { ends: [point(from), point(to)], faces })
    };
    order.into_iter().filter_map(edge).collect()
}

fn normal([a, b, c]: [[f32; 3]; 3]) -> Option<[f32; 3]> {
    let sub = |p: [f32; 3], q: [f32; 3]| [0, 1, 2].map(|i: usize| f64::from(p[i] - q[i]));
    let (u, v) = (sub(b, a), sub(c, a));
    let cross = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    let long = cross.iter().map(|x| x * x).sum::<f64>().sqrt();
    #[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
    (long > 0.0).then(|| cross.map(|x| (x / long) as f32))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A box from 0 to 1, each face of two triangles.
    fn block() -> Surface {
        let at = |i: u32| [i & 1, (i >> 1) & 1, (i >> 2) & 1].map(|x| x as f32);
        let faces =
            [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let triangles = faces.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]);
        Surface {
            positions: (0..8).map(at).collect(),
            normals: vec![[0.0, 0.0, 1.0]; 8],
            triangles: triangles.collect(),
        }
    }

    #[test]
    fn a_box_has_twelve_edges_all_sharp() {
        let edges = edges(&block());
        assert_eq!(edges.len(), 12);
        assert!(edges.iter().all(|e| e.faces == [[0.0; 3]; 2]));
    }

    #[test]
    fn an_open_box_shows_its_rim() {
        let mut open = block();
        open.triangles.truncate(10);
        let edges = edges(&open);
        assert_eq!(edges.len(), 12);
    }

    #[test]
    fn a_prism_of_many_sides_is_smooth_about() {
        const SIDES: u16 = 36;
        let ring = |z: f32| {
            (0..SIDES).map(move |i| {
                let angle = f32::from(i) / f32::from(SIDES) * std::f32::consts::TAU;
                [angle.cos(), angle.sin(), z]
            })
        };
        let n = u32::from(SIDES);
        let side = |i: u32| {
            let j = (i + 1) % n;
            [[i, j, n + i], [j, n + j, n + i]]
        };
        let positions: Vec<[f32; 3]> = ring(0.0).chain(ring(1.0)).collect();
        let surface = Surface {
            normals: vec![[0.0; 3]; positions.len()],
            positions,
            triangles: (0..n).flat_map(side).collect(),
        };
        let edges = edges(&surface);
        let smooth = edges.iter().filter(|e| e.faces != [[0.0; 3]; 2]).count();
        // The upright ones; the diagonals are within flat sides, and the rims are open.
        assert_eq!((smooth, edges.len() - smooth), (usize::from(SIDES), 2 * usize::from(SIDES)));
    }
}
