//! Fewer triangles for the eye, with a bound on how far they are from those that are measured.
//!
//! Edges are drawn together one after the other, each time that which moves the surface least. Round a
//! vertex, the triangles before and after lie over the same piece of a plane; how far they are apart
//! over it is exact, at the vertex and where their edges pass each other, and it adds up with what
//! went before. So flat faces and straight edges lose their triangles first and at no price, sharp
//! edges and corners stay, and the bound holds everywhere, not only where it was sampled.

use crate::list::DisplayList;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use solids::Mesh;
use std::borrow::Cow;
use std::collections::HashMap;

/// Most triangles round a vertex that is drawn into another.
const MOST_ROUND: usize = 24;
/// Between ways that move the surface alike the shorter edge goes: so much of its length counts as if
/// the surface moved. Our choice.
const SHORTER_FIRST: f64 = 1e-5;
/// Of all edges that could go, the best of one in so many are taken before looking again. Our choice:
/// fewer are nearer to the best order, and slower.
const AT_ONCE: usize = 2;
/// A new triangle leans less than so from the one most like it of those it replaces, as a cosine: 20
/// degrees, so that none stands on edge where none did, and no edge is seen where the surface is smooth.
/// Our choice.
const LEAST_ALONG: f64 = 0.94;
/// How far beside a triangle a point may be and still count as on it, as a share of its size.
const BESIDE: f64 = 1e-9;

impl DisplayList<'_> {
    /// Replaces meshes by simpler ones, see [`simplified`].
    pub fn simplify(&mut self, most_triangles: usize) {
        let drawn = |index: usize| self.items.iter().filter(|item| item.mesh == index).count();
        let meshes: Vec<(&Mesh, usize)> =
            self.meshes.iter().enumerate().map(|(index, mesh)| (&**mesh, drawn(index))).collect();
        let simpler = simplified(&meshes, most_triangles);
        for (mesh, simpler) in self.meshes.iter_mut().zip(simpler) {
            if let Some((simpler, within)) = simpler {
                *mesh = Cow::Owned(simpler);
                self.drawn_within = self.drawn_within.max(within);
            }
        }
    }
}

/// Meshes, each drawn so many times, with so few triangles that at most so many are drawn in all, or as few
/// as can be had; each with the bound on how far any point of either surface is from the other, mm. `None`
/// for each that stays as it is. Of all that goes first which moves its surface least, so that none is
/// coarser than another.
///
/// The borders of an open surface stay, and so do edges that more than two triangles share, and triangles
/// without an area. For the eye alone: nothing is measured on it.
pub fn simplified(meshes: &[(&Mesh, usize)], most_triangles: usize) -> Vec<Option<(Mesh, f64)>> {
    let has = meshes.iter().map(|(mesh, drawn)| mesh.triangles.len() * drawn).sum::<usize>();
    if has <= most_triangles {
        return vec![None; meshes.len()];
    }
    let mut work = Work::new(meshes);
    while work.drawn() > most_triangles && work.pass(most_triangles) > 0 {}
    let simpler = work.finished();
    let shrinks = |(simpler, (mesh, _)): ((Mesh, f64), &(&Mesh, usize))| {
        (simpler.0.triangles.len() < mesh.triangles.len() && is_whole(mesh)).then_some(simpler)
    };
    simpler.into_iter().zip(meshes).map(shrinks).collect()
}

/// Whether every triangle's corners are there.
fn is_whole(mesh: &Mesh) -> bool {
    mesh.triangles.iter().flatten().all(|v| (*v as usize) < mesh.vertices.len())
}

/// A way to draw a vertex into a neighbour.
#[derive(Debug, Clone, Copy)]
struct Collapse {
    into: u32,
    /// The bound on the surface's way then, mm.
    within: f64,
    /// By which ways are told apart.
    price: f64,
}

/// Meshes while they are simplified.
struct Work {
    points: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
    /// Of each triangle, how far it may be from the surface that it stands for, and the other way
    /// round, mm.
    within: Vec<f64>,
    /// The best way for each vertex, as far as known.
    best: Vec<Option<Collapse>>,
    /// Whether that is to be found anew.
    stale: Vec<bool>,
    /// Of each mesh, the vertex after its last, and how many times it is drawn.
    ends: Vec<(u32, usize)>,
}

impl Work {
    fn new(meshes: &[(&Mesh, usize)]) -> Self {
        let welded: Vec<Mesh> = meshes.par_iter().map(|(mesh, _)| welded(mesh)).collect();
        let mut all = Mesh::default();
        let mut ends = Vec::with_capacity(meshes.len());
        for (mesh, (_, drawn)) in welded.iter().zip(meshes) {
            all.append(mesh);
            ends.push((u32::try_from(all.vertices.len()).unwrap_or(u32::MAX), *drawn));
        }
        let Mesh { vertices: points, triangles } = all;
        let (within, best) = (vec![0.0; triangles.len()], vec![None; points.len()]);
        let stale = vec![true; points.len()];
        Self { points, triangles, within, best, stale, ends }
    }

    /// The mesh of a vertex.
    fn mesh_of(&self, v: u32) -> usize {
        self.ends.partition_point(|(end, _)| *end <= v)
    }

    /// How many times a vertex's mesh is drawn.
    fn times(&self, v: u32) -> usize {
        self.ends.get(self.mesh_of(v)).map_or(0, |(_, drawn)| *drawn)
    }

    /// How many triangles are drawn.
    fn drawn(&self) -> usize {
        self.triangles.iter().map(|[v, ..]| self.times(*v)).sum()
    }

    /// Draws vertices into neighbours, the best ways first and none beside another; how many went.
    fn pass(&mut self, most_triangles: usize) -> usize {
        let around = Around::new(self.points.len(), &self.triangles);
        let best: Vec<Option<Collapse>> = (0..self.points.len())
            .into_par_iter()
            .map(|v| if self.stale[v] { self.best_of(&around, v) } else { self.best[v] })
            .collect();
        self.best = best;
        self.stale.fill(false);
        let mut order: Vec<(f64, u32)> = (0_u32..)
            .zip(&self.best)
            .filter_map(|(v, way)| Some((way.as_ref()?.price, v)))
            .collect();
        let by_price = |a: &(f64, u32), b: &(f64, u32)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
        let most = order.len().div_ceil(AT_ONCE);
        if most < order.len() {
            order.select_nth_unstable_by(most, by_price);
            order.truncate(most);
        }
        order.par_sort_unstable_by(by_price);
        let mut touched = vec![false; self.points.len()];
        let mut gained = vec![false; self.points.len()];
        let mut changed = vec![false; self.triangles.len()];
        let mut gone = vec![false; self.triangles.len()];
        let mut left = self.drawn();
        let mut went = 0;
        for (_, v) in order {
            if left <= most_triangles {
                break;
            }
            let Some(way) = self.best[v as usize] else { continue };
            let star = around.of(v as usize);
            // What was found for it holds while none of its triangles changed.
            if gained[way.into as usize] || star.iter().any(|t| changed[*t as usize]) {
                continue;
            }
            if !self.is_link(&around, v, way.into, &gone) {
                // Its neighbours changed.
                self.best[v as usize] = None;
                continue;
            }
            gained[way.into as usize] = true;
            let times = self.times(v);
            for t in star {
                changed[*t as usize] = true;
                let triangle = &mut self.triangles[*t as usize];
                for w in *triangle {
                    touched[w as usize] = true;
                }
                if triangle.contains(&way.into) {
                    gone[*t as usize] = true;
                    left = left.saturating_sub(times);
                }
                for w in triangle.iter_mut().filter(|w| **w == v) {
                    *w = way.into;
                }
                self.within[*t as usize] = way.within;
            }
            self.best[v as usize] = None;
            went += 1;
        }
        let mut kept = gone.iter().map(|gone| !gone);
        self.triangles.retain(|_| kept.next().unwrap_or(true));
        let mut kept = gone.iter().map(|gone| !gone);
        self.within.retain(|_| kept.next().unwrap_or(true));
        self.stale = touched;
        went
    }

    /// Whether drawing an edge together leaves the surface in one: only the two triangles on either
    /// side of it join neighbours of both its ends.
    fn is_link(&self, around: &Around, from: u32, into: u32, gone: &[bool]) -> bool {
        let star = |v: u32| {
            let all =
                around.of(v as usize).iter().filter(|t| gone.get(**t as usize) != Some(&true));
            all.map(|t| self.triangles[*t as usize])
        };
        // Round a closed fan each neighbour is met twice.
        let is_near = |w: u32| w != from && w != into && star(into).any(|t| t.contains(&w));
        star(from).flatten().filter(|w| is_near(*w)).count() == 4
    }

    /// The best way for a vertex; `None` where it must stay.
    fn best_of(&self, around: &Around, v: usize) -> Option<Collapse> {
        let fan = Fan::new(self, around.of(v), v)?;
        let star = around.of(v).iter();
        let before = star.map(|t| self.within[*t as usize]).fold(0.0, f64::max);
        let mut ways = [(0.0, 0_usize); MOST_ROUND];
        let ways = &mut ways[..fan.count];
        for (j, way) in ways.iter_mut().enumerate() {
            *way = (fan.estimate(j) + SHORTER_FIRST * fan.spokes[j].norm(), j);
        }
        ways.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let from = u32::try_from(v).ok()?;
        let may_go = |j: usize| fan.is_seen(j) && self.is_link(around, from, fan.ring[j], &[]);
        let (_, j) = ways.iter().find(|(_, j)| may_go(*j))?;
        let within = before + fan.apart(*j)?;
        let price = within + SHORTER_FIRST * fan.spokes[*j].norm();
        Some(Collapse { into: fan.ring[*j], within, price })
    }

    /// Each mesh with its bound.
    fn finished(self) -> Vec<(Mesh, f64)> {
        let mut place = vec![u32::MAX; self.points.len()];
        let mut found = vec![(Mesh::default(), 0.0); self.ends.len()];
        for (t, within) in self.triangles.iter().zip(&self.within) {
            let Some((mesh, most)) = found.get_mut(self.mesh_of(t[0])) else { continue };
            *most = within.max(*most);
            let corners = t.map(|v| {
                let place = &mut place[v as usize];
                if *place == u32::MAX {
                    *place = u32::try_from(mesh.vertices.len()).unwrap_or(u32::MAX);
                    mesh.vertices.push(self.points[v as usize]);
                }
                *place
            });
            mesh.triangles.push(corners);
        }
        found
    }
}

/// A mesh with the vertices at one place made one, and without triangles of fewer than three of them.
/// Empty where a corner is missing.
fn welded(mesh: &Mesh) -> Mesh {
    if !is_whole(mesh) {
        return Mesh::default();
    }
    let mut first: HashMap<[u64; 3], u32> = HashMap::with_capacity(mesh.vertices.len());
    let mut vertices = Vec::with_capacity(mesh.vertices.len());
    let place: Vec<u32> = mesh
        .vertices
        .iter()
        .map(|p| {
            let key = [p.x, p.y, p.z].map(|x| (x + 0.0).to_bits());
            *first.entry(key).or_insert_with(|| {
                vertices.push(*p);
                // Each is one of the mesh's, which are counted with 32 bits.
                u32::try_from(vertices.len() - 1).unwrap_or(u32::MAX)
            })
        })
        .collect();
    let triangles = mesh.triangles.iter().map(|t| t.map(|v| place[v as usize]));
    let triangles = triangles.filter(|[a, b, c]| a != b && b != c && c != a);
    let triangles = triangles.collect();
    Mesh { vertices, triangles }
}

/// The triangles round each vertex.
struct Around {
    /// Where each vertex's triangles begin in `all`.
    first: Vec<usize>,
    all: Vec<u32>,
}

impl Around {
    fn new(vertices: usize, triangles: &[[u32; 3]]) -> Self {
        let mut first = vec![0; vertices + 1];
        for v in triangles.iter().flatten() {
            first[*v as usize + 1] += 1;
        }
        for v in 0..vertices {
            first[v + 1] += first[v];
        }
        let mut next = first.clone();
        let mut all = vec![0; 3 * triangles.len()];
        for (t, triangle) in (0_u32..).zip(triangles) {
            for v in triangle {
                all[next[*v as usize]] = t;
                next[*v as usize] += 1;
            }
        }
        Self { first, all }
    }

    fn of(&self, v: usize) -> &[u32] {
        &self.all[self.first[v]..self.first[v + 1]]
    }
}

/// The closed fan of triangles round a vertex, over the plane square to its mean normal: a piece of
/// the surface over a polygon, seen once.
struct Fan {
    count: usize,
    /// The vertices round it, counter-clockwise.
    ring: [u32; MOST_ROUND],
    /// From the vertex to each of them.
    spokes: [Vector3<f64>; MOST_ROUND],
    /// The same in the plane, and over it.
    flat: [[f64; 2]; MOST_ROUND],
    height: [f64; MOST_ROUND],
    /// Unit normals of the triangles, each after its spoke.
    normals: [Vector3<f64>; MOST_ROUND],
}

impl Fan {
    /// `None` where the triangles are no such fan.
    fn new(work: &Work, star: &[u32], v: usize) -> Option<Self> {
        let count = star.len();
        if !(3..=MOST_ROUND).contains(&count) {
            return None;
        }
        let own = u32::try_from(v).ok()?;
        let mut edges = [[0; 2]; MOST_ROUND];
        for (edge, t) in edges.iter_mut().zip(star) {
            let [a, b, c] = work.triangles[*t as usize];
            *edge = match own {
                own if own == a => [b, c],
                own if own == b => [c, a],
                _ => [a, b],
            };
        }
        // Each edge of the ring goes on where the one before ends, and the last ends where the first
        // begins; then every vertex is met once.
        let edges = &mut edges[..count];
        for i in 1..count {
            let end = edges[i - 1][1];
            let next = (i..count).find(|k| edges[*k][0] == end)?;
            edges.swap(i, next);
        }
        if edges[count - 1][1] != edges[0][0] {
            return None;
        }
        let mut fan = Self {
            count,
            ring: [0; MOST_ROUND],
            spokes: [Vector3::zeros(); MOST_ROUND],
            flat: [[0.0; 2]; MOST_ROUND],
            height: [0.0; MOST_ROUND],
            normals: [Vector3::zeros(); MOST_ROUND],
        };
        for i in 0..count {
            fan.ring[i] = edges[i][0];
            if edges[..i].iter().any(|edge| edge[0] == edges[i][0]) {
                return None;
            }
            fan.spokes[i] = work.points[edges[i][0] as usize] - work.points[v];
        }
        let mut sum = Vector3::zeros();
        for i in 0..count {
            fan.normals[i] = fan.spokes[i].cross(&fan.spokes[fan.after(i)]);
            sum += fan.normals[i];
        }
        let up = sum.try_normalize(0.0)?;
        for normal in &mut fan.normals[..count] {
            *normal = normal.try_normalize(0.0)?;
        }
        let mut axis = Vector3::zeros();
        axis[up.iamin()] = 1.0;
        let x = axis.cross(&up).try_normalize(0.0)?;
        let y = up.cross(&x);
        for i in 0..count {
            fan.flat[i] = [x.dot(&fan.spokes[i]), y.dot(&fan.spokes[i])];
            fan.height[i] = up.dot(&fan.spokes[i]);
        }
        // Every triangle is seen from above, and they go round once.
        let mut rounds = 0;
        for i in 0..count {
            let (a, b) = (fan.flat[i], fan.flat[fan.after(i)]);
            if turn([0.0; 2], a, b) <= 0.0 {
                return None;
            }
            rounds += usize::from(a[1] < 0.0 && b[1] >= 0.0);
        }
        (rounds == 1).then_some(fan)
    }

    fn after(&self, i: usize) -> usize {
        if i + 1 == self.count { 0 } else { i + 1 }
    }

    /// The vertices but `j`, from the one after it on around.
    fn others(&self, j: usize) -> impl Iterator<Item = usize> {
        (1..self.count).map(move |k| if j + k < self.count { j + k } else { j + k - self.count })
    }

    /// About how far the surface moves when the vertex is drawn into the `j`-th of the ring: how far that
    /// is from the planes of the triangles.
    fn estimate(&self, j: usize) -> f64 {
        let off = self.normals[..self.count].iter().map(|normal| normal.dot(&self.spokes[j]).abs());
        off.fold(0.0, f64::max)
    }

    /// Whether the triangles would all be seen from above then, none leaning away from all that were there.
    fn is_seen(&self, j: usize) -> bool {
        let (p, at) = (self.flat[j], self.spokes[j]);
        let mut last: Option<usize> = None;
        self.others(j).all(|i| {
            let Some(last) = last.replace(i) else { return true };
            let area = (self.spokes[last] - at).cross(&(self.spokes[i] - at));
            let along = self.normals[..self.count].iter().map(|normal| normal.dot(&area));
            turn(p, self.flat[last], self.flat[i]) > 0.0
                && along.fold(0.0, f64::max) > LEAST_ALONG * area.norm()
        })
    }

    /// How far the triangles round the vertex and those after it is drawn into the `j`-th of the ring
    /// are apart, at most, square to the plane.
    fn apart(&self, j: usize) -> Option<f64> {
        let (p, high) = (self.flat[j], self.height[j]);
        // At the vertex itself, which is the origin.
        let mut most = f64::NEG_INFINITY;
        let mut last: Option<usize> = None;
        for i in self.others(j) {
            if let Some(last) = last {
                let (a, b) = (self.flat[last], self.flat[i]);
                let whole = turn(p, a, b);
                let shares = [turn([0.0; 2], a, b), turn(p, [0.0; 2], b), turn(p, a, [0.0; 2])];
                if shares.iter().all(|share| *share >= -BESIDE * whole) {
                    let over = [high, self.height[last], self.height[i]];
                    let sum: f64 = shares.iter().zip(over).map(|(share, h)| share * h).sum();
                    most = most.max((sum / whole).abs());
                }
            }
            last = Some(i);
        }
        if !most.is_finite() {
            return None;
        }
        // Where an edge from the vertex passes one from the neighbour.
        for i in self.others(j) {
            let a = self.flat[i];
            for k in self.others(j).filter(|k| *k != i) {
                let b = self.flat[k];
                let to = [b[0] - p[0], b[1] - p[1]];
                let scale = a[0] * to[1] - a[1] * to[0];
                if scale == 0.0 {
                    continue;
                }
                let s = (p[0] * to[1] - p[1] * to[0]) / scale;
                let t = (p[0] * a[1] - p[1] * a[0]) / scale;
                let is_on = |share: f64| (-BESIDE..=1.0 + BESIDE).contains(&share);
                if is_on(s) && is_on(t) {
                    let before = s * self.height[i];
                    let after = high + t * (self.height[k] - high);
                    most = most.max((before - after).abs());
                }
            }
        }
        Some(most)
    }
}

/// Twice the area of a triangle in the plane, above zero where it is counter-clockwise.
fn turn(a: [f64; 2], b: [f64; 2], c: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One mesh by itself.
    fn alone(mesh: &Mesh, most_triangles: usize) -> (Mesh, f64) {
        let simpler = simplified(&[(mesh, 1)], most_triangles).pop().flatten();
        simpler.unwrap_or_else(|| (mesh.clone(), 0.0))
    }
    use gap::{Solid, nearest_point};
    use nalgebra::Point2;
    use solids::build::{ChordError, block, revolve};
    use solids::volume;
    use std::f64::consts::TAU;

    /// A wavy ring of `2 * 2 n^2` triangles.
    fn wavy(n: u32) -> Mesh {
        let around = 2 * n;
        let point = |i: u32, j: u32| {
            let [a, b] = [(i, around), (j, n)].map(|(k, of)| TAU * f64::from(k) / f64::from(of));
            let r = 60.0 + 4.0 * (7.0 * a).sin() * (5.0 * b).cos();
            let out = 300.0 + r * b.cos();
            Point3::new(out * a.cos(), out * a.sin(), r * b.sin())
        };
        let id = |i: u32, j: u32| (i % around) * n + j % n;
        let all = || (0..around).flat_map(|i| (0..n).map(move |j| (i, j)));
        let pair = |(i, j): (u32, u32)| {
            let far = id(i + 1, j + 1);
            [[id(i, j), id(i + 1, j), far], [id(i, j), far, id(i, j + 1)]]
        };
        Mesh {
            vertices: all().map(|(i, j)| point(i, j)).collect(),
            triangles: all().flat_map(pair).collect(),
        }
    }

    /// A cube whose faces are grids; corners along its edges are there once for each face.
    fn gridded(n: u32, side: f64) -> Mesh {
        let mut mesh = Mesh::default();
        for (axis, far) in (0..3).flat_map(|axis| [(axis, false), (axis, true)]) {
            let first = u32::try_from(mesh.vertices.len()).unwrap();
            for (i, j) in (0..=n).flat_map(|i| (0..=n).map(move |j| (i, j))) {
                let mut p = [if far { side } else { 0.0 }; 3];
                p[(axis + 1) % 3] = side * f64::from(i) / f64::from(n);
                p[(axis + 2) % 3] = side * f64::from(j) / f64::from(n);
                mesh.vertices.push(p.into());
            }
            let id = |i: u32, j: u32| first + i * (n + 1) + j;
            for (i, j) in (0..n).flat_map(|i| (0..n).map(move |j| (i, j))) {
                let mut pair = [
                    [id(i, j), id(i + 1, j), id(i + 1, j + 1)],
                    [id(i, j), id(i + 1, j + 1), id(i, j + 1)],
                ];
                if !far {
                    for t in &mut pair {
                        t.swap(1, 2);
                    }
                }
                mesh.triangles.extend(pair);
            }
        }
        mesh
    }

    /// The greatest distance of points spread over either surface from the other, by `gap`.
    fn apart(full: &Mesh, simple: &Mesh) -> f64 {
        let solids = [full, simple].map(Solid::new);
        let mut worst: f64 = 0.0;
        for (mesh, other) in [(full, &solids[1]), (simple, &solids[0])] {
            for index in 0..mesh.triangles.len() {
                let [a, b, c] = mesh.corners(index);
                for (u, v) in [(0.0, 0.0), (0.5, 0.0), (0.5, 0.5), (0.3, 0.4), (0.1, 0.2)] {
                    let p = a + (b - a) * u + (c - a) * v;
                    let near = nearest_point(other, &p, f64::INFINITY).unwrap().unwrap();
                    worst = worst.max((near.point - p).norm());
                }
            }
        }
        worst
    }

    #[test]
    fn the_bound_holds_and_is_not_far_off() {
        for (n, most) in [(60, 6000), (60, 1000), (24, 700)] {
            let full = wavy(n);
            let (simple, within) = alone(&full, most);
            assert!(simple.triangles.len() <= most, "{} of {most}", simple.triangles.len());
            let measured = apart(&full, &simple);
            assert!(measured <= within, "{measured} mm, {within} stated");
            assert!(within < 4.0 * measured, "{measured} mm, {within} stated");
            assert!(Solid::new(&simple).is_closed());
        }
    }

    #[test]
    fn flat_faces_and_sharp_edges_stay() {
        let (simple, within) = alone(&gridded(30, 100.0), 200);
        assert!(simple.triangles.len() <= 200 && within < 1e-9, "{within}");
        assert!((volume(&simple) - 1e6).abs() < 1e-3);
        let corners = simple.vertices.iter().filter(|p| p.iter().all(|x| (x - 50.0).abs() >= 50.0));
        assert_eq!(corners.count(), 8);
        assert!(apart(&gridded(30, 100.0), &simple) < 1e-9);
    }

    #[test]
    fn what_is_small_enough_or_cannot_be_read_stays_as_it_is() {
        let cube = block(Point3::origin(), Point3::new(1.0, 2.0, 3.0)).unwrap();
        assert_eq!(alone(&cube, 12), (cube.clone(), 0.0));
        // Nothing of it can go.
        let (simple, within) = alone(&cube, 0);
        assert!(simple.triangles.len() <= 12 && within <= apart(&cube, &simple) * 4.0 + 2.0);
        let bad = Mesh { vertices: vec![Point3::origin()], triangles: vec![[0, 1, 9]; 3] };
        assert_eq!(alone(&bad, 1), (bad.clone(), 0.0));
        assert_eq!(alone(&Mesh::default(), 0).0, Mesh::default());
    }

    /// A ring of flat facets, each cut into `n * n` triangles as a fine mesh of a coarse model is.
    #[expect(clippy::cast_possible_truncation, reason = "single precision is what it is about")]
    fn facetted(n: u32) -> Mesh {
        let p = Point2::new;
        let round = |k: u32| (TAU * f64::from(k) / 24.0).sin_cos();
        let profile: Vec<_> =
            (0..24).map(round).map(|(s, c)| p(80.0 + 30.0 * c, 30.0 * s)).collect();
        let coarse = revolve(&profile, ChordError::from_mm(0.5).unwrap()).unwrap();
        let mut fine = Mesh::default();
        for index in 0..coarse.triangles.len() {
            let [a, b, c] = coarse.corners(index);
            let first = u32::try_from(fine.vertices.len()).unwrap();
            let id = |i: u32, j: u32| first + i * (2 * n + 3 - i) / 2 + j;
            for (i, j) in (0..=n).flat_map(|i| (0..=n - i).map(move |j| (i, j))) {
                // Single precision makes one point of what both triangles of an edge reckon.
                let [u, v] = [i, j].map(|k| f64::from(k) / f64::from(n));
                let at = a + (b - a) * u + (c - a) * v;
                fine.vertices.push(at.map(|x| f64::from(x as f32)));
            }
            for (i, j) in (0..n).flat_map(|i| (0..n - i).map(move |j| (i, j))) {
                fine.triangles.push([id(i, j), id(i + 1, j), id(i, j + 1)]);
                if i + j + 1 < n {
                    fine.triangles.push([id(i + 1, j), id(i + 1, j + 1), id(i, j + 1)]);
                }
            }
        }
        fine
    }

    #[test]
    fn no_edge_is_sharp_where_the_surface_is_smooth() {
        let full = facetted(5);
        let sharpest = |mesh: &Mesh| {
            let mut sides: HashMap<[u32; 2], Vec<Vector3<f64>>> = HashMap::new();
            let mesh = welded(mesh);
            for (index, [a, b, c]) in mesh.triangles.iter().enumerate() {
                let [p, q, r] = mesh.corners(index);
                let normal = (q - p).cross(&(r - p)).normalize();
                for (from, to) in [(a, b), (b, c), (c, a)] {
                    sides.entry([*from.min(to), *from.max(to)]).or_default().push(normal);
                }
            }
            let pairs = sides.values().filter_map(|side| Some(side.first()?.angle(side.get(1)?)));
            pairs.fold(0.0, f64::max).to_degrees()
        };
        let (simple, _) = alone(&full, full.triangles.len() / 5);
        assert!(simple.triangles.len() <= full.triangles.len() / 5);
        let [before, after] = [&full, &simple].map(sharpest);
        assert!(before < 16.0 && after < 30.0, "{before} degrees before, {after} after");
    }

    #[test]
    fn borders_of_an_open_surface_stay() {
        let mut open = gridded(12, 60.0);
        // Without the face z = 60.
        let vertices = open.vertices.clone();
        open.triangles.retain(|t| t.iter().any(|v| vertices[*v as usize].z < 60.0));
        let (simple, within) = alone(&open, 10);
        let border = |mesh: &Mesh| {
            let on = |p: &&Point3<f64>| p.z >= 60.0;
            let mut all: Vec<_> = mesh.vertices.iter().filter(on).map(|p| format!("{p}")).collect();
            all.sort();
            all.dedup();
            all.len()
        };
        assert_eq!(border(&simple), 48);
        assert!(apart(&open, &simple) <= within + 1e-9, "{within}");
    }

    #[test]
    fn a_thin_wall_stays_a_wall() {
        let p = Point2::new;
        let chord = ChordError::from_mm(0.001).unwrap();
        let pipe = revolve(&[p(50.0, 0.0), p(51.0, 0.0), p(51.0, 80.0), p(50.0, 80.0)], chord);
        let pipe = pipe.unwrap();
        let (simple, within) = alone(&pipe, pipe.triangles.len() / 4);
        assert!(within < 0.2, "{within}");
        let measured = apart(&pipe, &simple);
        assert!(measured <= within + 1e-9, "{measured} mm, {within} stated");
        assert!((volume(&simple) / volume(&pipe) - 1.0).abs() < 0.1);
    }
}
