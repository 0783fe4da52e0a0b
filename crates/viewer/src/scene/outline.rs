//! The edges of a body that a drawing would show.

mod rough;

use display::Surface;
use std::collections::HashMap;

/// Edges whose faces meet at less than this are smooth: they are drawn only where they are the outline of
/// what is seen, degrees. Our choice.
const SHARP: f64 = 30.0;
/// Edges whose faces meet at less than this are within a flat face and never drawn, degrees. Our choice.
const FLAT: f64 = 0.5;

/// A triangle lower than this share of its longest edge is a sliver. Its own normal says little where its
/// points are a little off; the face beyond it, over its longest other edge, stands for it. Our choice.
const SLIVER: f64 = 0.12;

/// An edge between two faces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    /// Its ends, in the body's frame.
    pub(super) ends: [[f32; 3]; 2],
    /// The unit normals of its two faces, each as the surface about it lies, so that the roughness of a
    /// mesh makes no outlines; zeros where it is drawn from wherever it is seen.
    pub(super) faces: [[f32; 3]; 2],
}

/// Every edge that is drawn from somewhere. Where a body is open its rim is drawn too. Of a rough body that
/// nobody saw none is: a line would tell more than is known.
pub(super) fn edges(surface: &Surface, is_seen: bool) -> Vec<Edge> {
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
    let mut faces: Vec<Face> = Vec::new();
    let mut meeting: HashMap<(u32, u32), Vec<usize>> = HashMap::new();
    let mut order: Vec<(u32, u32)> = Vec::new();
    for triangle in &surface.triangles {
        let corners = triangle.map(name);
        let points = corners.map(point);
        let Some(own) = normal(points) else { continue };
        let weight = length(cross(points));
        let about = about(surface, triangle).unwrap_or(own).map(|x| f64::from(x) * weight);
        for key in sides(corners) {
            let meets = meeting.entry(key).or_insert_with(|| {
                order.push(key);
                Vec::new()
            });
            meets.push(faces.len());
        }
        faces.push(Face { own, about, weight, corners, is_sliver: is_sliver(points) });
    }
    let along = |[left, right]: [usize; 2]| dot(&faces[left].own, &faces[right].own);
    let meets = |key: &(u32, u32)| Some((*key, meeting.get(key)?.as_slice()));
    let crease = |(key, meets): ((u32, u32), &[usize])| match meets {
        [left, right] => {
            let is_crease = along([*left, *right]) < sharp
                && [left, right].into_iter().all(|index| !faces[*index].is_sliver);
            is_crease.then_some(key)
        }
        _ => None,
    };
    let creases: Vec<(u32, u32)> = order.iter().filter_map(meets).filter_map(crease).collect();
    if rough::is_rough(&creases, order.len()) {
        let all = order.iter().filter_map(meets);
        return if is_seen { rough::edges(&faces, &points, all) } else { Vec::new() };
    }
    let flat_pairs = order.iter().filter_map(|key| match meeting.get(key)?.as_slice() {
        [left, right] => Some([*left, *right]).filter(|pair| along(*pair) > flat),
        _ => None,
    });
    let abouts = of_flats(&faces, flat_pairs);
    // The face that stands for one at an edge.
    let beyond = |index: usize, edge: (u32, u32)| {
        let face = &faces[index];
        if !face.is_sliver {
            return index;
        }
        let long = |(a, b): (u32, u32)| distance(point(a), point(b));
        let others = sides(face.corners).into_iter().filter(|side| *side != edge);
        let longest = others.max_by(|a, b| long(*a).total_cmp(&long(*b)));
        let meets = longest.and_then(|side| meeting.get(&side)).map(Vec::as_slice);
        match meets {
            Some([a, b]) => {
                if *a == index {
                    *b
                } else {
                    *a
                }
            }
            _ => index,
        }
    };
    let edge = |key: (u32, u32)| {
        let sides = match meeting.get(&key)?.as_slice() {
            [left, right] => {
                let pair = [*left, *right];
                if along(pair) > flat {
                    return None;
                }
                let looks_sharp = along(pair) < sharp;
                let pair = pair.map(|index| if looks_sharp { beyond(index, key) } else { index });
                if along(pair) < sharp { [[0.0; 3]; 2] } else { pair.map(|index| abouts[index]) }
            }
            _ => [[0.0; 3]; 2],
        };
        Some(Edge { ends: [point(key.0), point(key.1)], faces: sides })
    };
    order.into_iter().filter_map(edge).collect()
}

/// The edges of a triangle, each by the names of its ends, the lower one first.
fn sides([a, b, c]: [u32; 3]) -> [(u32, u32); 3] {
    [(a, b), (b, c), (c, a)].map(|(from, to)| (from.min(to), from.max(to)))
}

fn distance(p: [f32; 3], q: [f32; 3]) -> f64 {
    let off = [0, 1, 2].map(|i: usize| p[i] - q[i]);
    dot(&off, &off).sqrt()
}

fn is_sliver([a, b, c]: [[f32; 3]; 3]) -> bool {
    let longest = [distance(a, b), distance(b, c), distance(c, a)].into_iter().fold(0.0, f64::max);
    // As long as the longest edge and the height over it, one by the other.
    length(cross([a, b, c])) < SLIVER * longest * longest
}

/// How a triangle lies.
struct Face {
    /// Its own unit normal.
    own: [f32; 3],
    /// The mean of the normals at its corners, which are those of the surface about it, times twice its
    /// area.
    about: [f64; 3],
    /// Twice its area.
    weight: f64,
    /// By their names.
    corners: [u32; 3],
    is_sliver: bool,
}

/// Of each face, the mean unit normal of the surface about the flat piece of which it is one. A facet of
/// something round is two triangles, and the outline runs beside both.
fn of_flats(faces: &[Face], pairs: impl Iterator<Item = [usize; 2]>) -> Vec<[f32; 3]> {
    let mut first: Vec<usize> = (0..faces.len()).collect();
    let found = |first: &mut [usize], mut index: usize| {
        while first[index] != index {
            first[index] = first[first[index]];
            index = first[index];
        }
        index
    };
    for pair in pairs {
        let [a, b] = pair.map(|index| found(&mut first, index));
        first[a.max(b)] = a.min(b);
    }
    let mut sums = vec![[0.0; 3]; faces.len()];
    for (index, face) in faces.iter().enumerate() {
        let sum = &mut sums[found(&mut first, index)];
        for (sum, x) in sum.iter_mut().zip(face.about) {
            *sum += x;
        }
    }
    let unit = |(index, face): (usize, &Face)| {
        let sum = sums[found(&mut first, index)];
        let long = length(sum);
        if long > 0.0 { sum.map(|x| narrow(x / long)) } else { face.own }
    };
    faces.iter().enumerate().map(unit).collect()
}

fn length(v: [f64; 3]) -> f64 {
    v.iter().map(|x| x * x).sum::<f64>().sqrt()
}

fn dot(a: &[f32; 3], b: &[f32; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum()
}

/// The unit mean of the normals at a triangle's corners.
fn about(surface: &Surface, triangle: &[u32; 3]) -> Option<[f32; 3]> {
    let mut sum = [0.0; 3];
    for corner in triangle {
        for (sum, x) in sum.iter_mut().zip(surface.normals.get(*corner as usize)?) {
            *sum += x;
        }
    }
    let long = dot(&sum, &sum).sqrt();
    (long > 1e-6).then(|| sum.map(|x| narrow(f64::from(x) / long)))
}

#[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
fn narrow(x: f64) -> f32 {
    x as f32
}

fn normal(corners: [[f32; 3]; 3]) -> Option<[f32; 3]> {
    let cross = cross(corners);
    let long = length(cross);
    (long > 0.0).then(|| cross.map(|x| narrow(x / long)))
}

/// Square to a triangle and twice as long as its area.
fn cross([a, b, c]: [[f32; 3]; 3]) -> [f64; 3] {
    let sub = |p: [f32; 3], q: [f32; 3]| [0, 1, 2].map(|i: usize| f64::from(p[i] - q[i]));
    let (u, v) = (sub(b, a), sub(c, a));
    [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]]
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

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
        let edges = edges(&block(), true);
        assert_eq!(edges.len(), 12);
        assert!(edges.iter().all(|e| e.faces == [[0.0; 3]; 2]));
    }

    #[test]
    fn an_open_box_shows_its_rim() {
        let mut open = block();
        open.triangles.truncate(10);
        let edges = edges(&open, true);
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
        let edges = edges(&surface, true);
        let smooth = edges.iter().filter(|e| e.faces != [[0.0; 3]; 2]).count();
        // The upright ones; the diagonals are within flat sides, and the rims are open.
        assert_eq!((smooth, edges.len() - smooth), (usize::from(SIDES), 2 * usize::from(SIDES)));
    }

    /// Drawn where one face looks at an eye far away and the other does not, as the shader does it.
    pub(super) fn outline(edges: &[Edge], eye: [f32; 3]) -> impl Iterator<Item = &Edge> {
        let looks = move |face: &[f32; 3]| dot(face, &eye) > 0.0;
        let smooth = edges.iter().filter(|e| e.faces != [[0.0; 3]; 2]);
        smooth.filter(move |e| looks(&e.faces[0]) != looks(&e.faces[1]))
    }

    /// A pipe whose points are a little off has fewer outlines than its faces alone would give it.
    #[test]
    fn a_rough_surface_has_few_outlines_of_its_own() {
        const SIDES: u32 = 48;
        const ROWS: u32 = 30;
        // A sequence without a pattern, from -1 to 1.
        let off = |i: u32| ((f64::from(i) * 0.754_877_666).fract() - 0.5) * 2.0;
        let mut mesh = solids::Mesh::default();
        for row in 0..=ROWS {
            for side in 0..SIDES {
                let radius = 50.0 + 0.5 * off(row * SIDES + side + 7);
                let angle = std::f64::consts::TAU * f64::from(side) / f64::from(SIDES);
                let z = 5.0 * f64::from(row);
                mesh.vertices.push(Point3::new(radius * angle.cos(), radius * angle.sin(), z));
            }
        }
        for row in 0..ROWS {
            for side in 0..SIDES {
                let next = (side + 1) % SIDES;
                let [a, b] = [row * SIDES + side, row * SIDES + next];
                mesh.triangles.push([a, b, a + SIDES]);
                mesh.triangles.push([b, b + SIDES, a + SIDES]);
            }
        }
        let surface = display::surface(&mesh);
        let drawn = edges(&surface, true);
        let bare = edges(&Surface { normals: Vec::new(), ..surface }, true);
        for eye in [[1.0, 0.03, 0.0], [0.3, -0.8, 0.4], [0.5, 0.5, -0.6]] {
            let [seen, rough] = [&drawn, &bare].map(|edges| outline(edges, eye).count());
            // Two lines along the pipe, an edge or so more or less where they step aside.
            assert!((54..=66).contains(&seen) && rough > 80, "{seen} of {rough} edges");
        }
    }

    /// Two faces of a plane with a sliver between them, whose point is 0.8 mm off: it leans by 39 degrees, and
    /// only the rim is drawn.
    #[test]
    fn a_sliver_has_no_sharp_edges() {
        let points = [
            [0.0, 0.0, 0.0],
            [35.0, 0.0, 0.0],
            [17.0, -30.0, 0.0],
            [17.0, 1.0, 0.8],
            [17.0, 30.0, 0.0],
        ];
        let mesh = solids::Mesh {
            vertices: points.map(|[x, y, z]| Point3::new(x, y, z)).to_vec(),
            triangles: vec![[0, 2, 1], [0, 1, 3], [0, 3, 4], [3, 1, 4]],
        };
        let edges = edges(&display::surface(&mesh), true);
        assert_eq!(edges.iter().filter(|e| e.faces == [[0.0; 3]; 2]).count(), 4);
        assert!(edges.len() > 4);
    }
}
