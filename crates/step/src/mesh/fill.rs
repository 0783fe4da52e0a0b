//! Triangles within the outline of a face: constrained Delaunay in the plane of parameters, refined
//! until every triangle is proven to err little enough.

use super::edges::Pool;
use super::outline::{Chord, Node, Obstacle, Outline, extent};
use super::view::View;
use crate::Fault;
use crate::geometry::P;
use spade::handles::{FixedFaceHandle, FixedVertexHandle, InnerTag};
use spade::{ConstrainedDelaunayTriangulation, Point2, PositionInTriangulation, Triangulation};
use std::collections::{HashMap, HashSet};

type Cdt = ConstrainedDelaunayTriangulation<Point2<f64>>;

/// A place for a corner, and a corner beside it where one is known: looked for from the last one, places
/// that lie anywhere would take most of the time.
type Wanted = (Point2<f64>, Option<FixedVertexHandle>);

/// How often all triangles are looked at, and in between those that are new.
const PASSES: usize = 4;
const ROUNDS: usize = 40;

/// A face's outline laid into a triangulation.
pub(super) struct Plane {
    cdt: Cdt,
    /// Of each corner of the triangulation: its place in the plane of parameters and its vertex.
    corners: Vec<([f64; 2], u32)>,
    /// How often the outline runs along an edge of the triangulation.
    walls: HashMap<(usize, usize), u32>,
    /// Scale of x and y in the triangulation.
    scale: [f64; 2],
    middle: [f64; 2],
}

/// What a face is made of.
pub(super) struct Filled {
    pub(super) triangles: Vec<[u32; 3]>,
    /// How far they and the surface are from each other, mm.
    pub(super) deviation: f64,
}

fn key(a: usize, b: usize) -> (usize, usize) {
    (a.min(b), a.max(b))
}

/// Zero for what spade cannot hold.
fn held(x: f64) -> f64 {
    if x.abs() < 1e-40 { 0.0 } else { x }
}

impl Plane {
    /// Lays an outline out. Chords that cross are to be cut; if they are as short as can be, it is a
    /// fault.
    pub(super) fn lay(
        id: u64,
        view: &View<'_>,
        outline: &Outline,
        pool: &Pool,
        chord: f64,
        near: f64,
    ) -> Result<Self, Obstacle> {
        let all: Vec<Node> = outline.rings.iter().flatten().copied().collect();
        let (xs, ys) = (extent(&all, 0), extent(&all, 1));
        let middle = [f64::midpoint(xs.0, xs.1), f64::midpoint(ys.0, ys.1)];
        let scale = scale(view, xs, ys, chord);
        let mut plane =
            Self { cdt: Cdt::new(), corners: Vec::new(), walls: HashMap::new(), scale, middle };
        // While all corners lie in one line, every further one takes as long as all before it: one more
        // beside that line, which belongs to no ring and so to no triangle inside.
        let wide = [xs.1 - xs.0, ys.1 - ys.0];
        if let Some(flat) = wide.iter().position(|w| *w <= 0.0) {
            let mut aside = middle;
            aside[flat] += wide[1 - flat].max(1.0) / scale[flat];
            if plane.insert(aside).is_some() {
                plane.corners.push((aside, all.first().map_or(0, |n| n.vertex)));
            }
        }
        let mut rings: Vec<Vec<FixedVertexHandle>> = Vec::new();
        for ring in &outline.rings {
            let mut handles = Vec::with_capacity(ring.len());
            for node in ring {
                let before = plane.cdt.num_vertices();
                let handle = plane.insert(node.at).ok_or(Obstacle::Fault(Fault::Values {
                    id,
                    why: "a parameter is too large",
                }))?;
                let vertex = pool.root(node.vertex);
                if plane.cdt.num_vertices() > before {
                    plane.corners.push((node.at, vertex));
                } else if let Some((_, known)) = plane.corners.get(handle.index())
                    && *known != vertex
                {
                    let apart = (pool.at(*known) - pool.at(vertex)).norm();
                    return Err(if apart <= near {
                        Obstacle::Unite(*known, vertex)
                    } else {
                        Obstacle::Fault(Fault::Crossing { id })
                    });
                }
                handles.push(handle);
            }
            rings.push(handles);
        }
        let mut chords: HashMap<(usize, usize), Chord> = HashMap::new();
        let mut cut: HashSet<Chord> = HashSet::new();
        let mut crossed = false;
        for (ring, handles) in outline.rings.iter().zip(&rings) {
            let n = handles.len();
            for i in 0..n {
                let (from, to) = (handles[i], handles[(i + 1) % n]);
                if from == to {
                    continue;
                }
                let key = key(from.index(), to.index());
                let chord = ring[i].chord;
                if plane.cdt.can_add_constraint(from, to) {
                    plane.cdt.add_constraint(from, to);
                    if plane.cdt.exists_constraint(from, to) {
                        *plane.walls.entry(key).or_default() += 1;
                        if let Some(chord) = chord {
                            chords.insert(key, chord);
                        }
                    } else {
                        // It runs through a corner of another chord.
                        crossed = true;
                        cut.extend(chord);
                    }
                } else {
                    crossed = true;
                    cut.extend(chord);
                    for edge in plane.cdt.get_conflicting_edges_between_vertices(from, to) {
                        let [a, b] = edge.vertices().map(|v| v.fix().index());
                        cut.extend(chords.get(&self::key(a, b)));
                    }
                }
            }
        }
        if !crossed {
            Ok(plane)
        } else if cut.is_empty() {
            Err(Obstacle::Fault(Fault::Crossing { id }))
        } else {
            let mut cut: Vec<_> = cut.into_iter().map(|c| (c, None)).collect();
            cut.sort_by_key(|c| c.0);
            Err(Obstacle::Cut(cut))
        }
    }

    fn insert(&mut self, at: [f64; 2]) -> Option<FixedVertexHandle> {
        self.cdt.insert(self.scaled(at)).ok()
    }

    fn scaled(&self, at: [f64; 2]) -> Point2<f64> {
        let along = |axis: usize| held((at[axis] - self.middle[axis]) * self.scale[axis]);
        Point2::new(along(0), along(1))
    }

    /// Which triangles lie inside, by the number of walls between them and the outside.
    fn inside(&self) -> Vec<bool> {
        let n = self.cdt.num_all_faces();
        let mut side: Vec<Option<bool>> = vec![None; n];
        let mut waiting = Vec::new();
        let crossing = |a: usize, b: usize, wall: bool| {
            wall && self.walls.get(&key(a, b)).copied().unwrap_or(1) % 2 == 1
        };
        for edge in self.cdt.convex_hull() {
            let inner = if edge.is_outer_edge() { edge.rev() } else { edge };
            if let Some(face) = inner.face().as_inner() {
                let (a, b) = (edge.from().fix().index(), edge.to().fix().index());
                let slot = &mut side[face.fix().index()];
                if slot.is_none() {
                    *slot = Some(crossing(a, b, edge.is_constraint_edge()));
                    waiting.push(face.fix());
                }
            }
        }
        while let Some(face) = waiting.pop() {
            let here = side[face.index()].unwrap_or(false);
            for edge in self.cdt.face(face).adjacent_edges() {
                if let Some(next) = edge.rev().face().as_inner() {
                    let slot = &mut side[next.fix().index()];
                    if slot.is_none() {
                        let (a, b) = (edge.from().fix().index(), edge.to().fix().index());
                        *slot = Some(here != crossing(a, b, edge.is_constraint_edge()));
                        waiting.push(next.fix());
                    }
                }
            }
        }
        side.into_iter().map(|s| s.unwrap_or(false)).collect()
    }

    /// Refines until every triangle errs by `chord` at most, and gives the triangles, counter-clockwise
    /// in the plane of parameters. At `most` corners a pass ends, at twice as many none begins, and the
    /// deviation is what it then is.
    pub(super) fn fill(
        mut self,
        view: &View<'_>,
        pool: &mut Pool,
        chord: f64,
        most: usize,
    ) -> Filled {
        let mut points: Vec<P> = self.corners.iter().map(|c| pool.at(c.1)).collect();
        self.seed(view, pool, (chord, most), &mut points);
        for _ in 0..PASSES {
            let inside = self.inside();
            let all: Vec<FixedFaceHandle<InnerTag>> =
                self.cdt.inner_faces().map(|f| f.fix()).filter(|f| inside[f.index()]).collect();
            let mut wanted = self.wanted(view, &points, &all, chord);
            if wanted.is_empty() || self.corners.len() >= 2 * most {
                break;
            }
            for _ in 0..ROUNDS {
                let added = self.add(&wanted, view, pool, &mut points);
                if added.is_empty() || self.corners.len() >= most {
                    break;
                }
                // Every triangle that was not there before has one of the added corners.
                let mut fresh: Vec<FixedFaceHandle<InnerTag>> = added
                    .iter()
                    .flat_map(|v| self.cdt.vertex(*v).out_edges())
                    .filter_map(|e| e.face().as_inner().map(|f| f.fix()))
                    .collect();
                fresh.sort_unstable_by_key(|f| std::cmp::Reverse(f.index()));
                fresh.dedup();
                wanted = self.wanted(view, &points, &fresh, chord);
            }
        }
        let inside = self.inside();
        let mut found = Filled { triangles: Vec::new(), deviation: 0.0 };
        for face in self.cdt.inner_faces().filter(|f| inside[f.fix().index()]) {
            let at = face.vertices().map(|v| v.fix().index());
            let error = view.error(at.map(|i| self.corners[i].0), &at.map(|i| points[i]));
            found.deviation = super::worst(found.deviation, error);
            let [a, b, c] = at.map(|i| self.corners[i].1);
            if a != b && b != c && c != a {
                found.triangles.push([a, b, c]);
            }
        }
        found
    }

    /// Where corners are wanted, because one of these triangles errs by more than `chord`.
    fn wanted(
        &self,
        view: &View<'_>,
        points: &[P],
        faces: &[FixedFaceHandle<InnerTag>],
        chord: f64,
    ) -> Vec<Wanted> {
        let mut wanted: Vec<Wanted> = Vec::new();
        let mut split: HashSet<(usize, usize)> = HashSet::new();
        for face in faces {
            let face = self.cdt.face(*face);
            let [near, ..] = face.vertices().map(|v| v.fix());
            let at = face.vertices().map(|v| v.fix().index());
            let places = at.map(|i| self.corners[i].0);
            let error = view.error(places, &at.map(|i| points[i]));
            if error <= chord {
                continue;
            }
            // The longest of its edges, in what it errs, that is no wall.
            let mut longest: Option<(f64, (usize, usize))> = None;
            for edge in face.adjacent_edges() {
                if edge.is_constraint_edge() {
                    continue;
                }
                let (i, j) = (edge.from().fix().index(), edge.to().fix().index());
                let (p, q) = (self.corners[i].0, self.corners[j].0);
                let along = view.error([p, q, q], &[points[i], points[j], points[j]]);
                if longest.as_ref().is_none_or(|l| along > l.0) {
                    longest = Some((along, key(i, j)));
                }
            }
            match longest {
                Some((along, (i, j))) if along > 0.2 * error => {
                    if split.insert((i, j)) {
                        let (p, q) = (self.corners[i].0, self.corners[j].0);
                        wanted.push((self.break_between(view, p, q), Some(near)));
                    }
                }
                _ => {
                    let third = |axis: usize| places.iter().map(|p| p[axis]).sum::<f64>() / 3.0;
                    wanted.push((self.scaled([third(0), third(1)]), Some(near)));
                }
            }
        }
        wanted
    }

    /// Corners spread over the inside about as densely as the accuracy asks, away from the outline:
    /// halving triangles alone makes four times as many.
    fn seed(
        &mut self,
        view: &View<'_>,
        pool: &mut Pool,
        (chord, most): (f64, usize),
        points: &mut Vec<P>,
    ) {
        if view.is_plane() {
            return;
        }
        let all: Vec<Node> =
            self.corners.iter().map(|c| Node { at: c.0, vertex: c.1, chord: None }).collect();
        let (xs, ys) = (extent(&all, 0), extent(&all, 1));
        let bound = view.spread_bound(xs, ys);
        let bend =
            [bound.second[0] * (xs.1 - xs.0).powi(2), bound.second[2] * (ys.1 - ys.0).powi(2)];
        if bend.iter().any(|b| *b < 0.1 * chord) {
            // Straight one way: corners within would only be coarser than those of the outline.
            return;
        }
        let mut places = Vec::new();
        spread(view, (xs, ys), chord, most / 4, &mut places);
        if places.len() < 2 {
            return;
        }
        let inside = self.inside();
        let near = self.near_outline();
        let wanted: Vec<Wanted> = places
            .into_iter()
            .map(|at| self.scaled(at))
            .filter(|p| !near.holds(p))
            .filter(|p| match self.cdt.locate(*p) {
                PositionInTriangulation::OnFace(face) => inside[face.index()],
                _ => false,
            })
            .map(|p| (p, None))
            .collect();
        self.add(&wanted, view, pool, points);
    }

    fn near_outline(&self) -> Near {
        let mut near = Near::default();
        for edge in self.cdt.undirected_edges().filter(|e| e.is_constraint_edge()) {
            let [a, b] = edge.vertices().map(|v| v.position());
            near.add([a.x, a.y], [b.x, b.y]);
        }
        near
    }

    /// The place between two at which to part them: on a crease between them, else halfway.
    fn break_between(&self, view: &View<'_>, p: [f64; 2], q: [f64; 2]) -> Point2<f64> {
        let mut share = 0.5;
        for axis in 0..2 {
            let (low, high) = (p[axis].min(q[axis]), p[axis].max(q[axis]));
            if let Some(crease) = view.crease(axis, (low, high)) {
                share = (crease - p[axis]) / (q[axis] - p[axis]);
                let mut at = [0, 1].map(|axis| p[axis] + (q[axis] - p[axis]) * share);
                at[axis] = crease;
                return self.scaled(at);
            }
        }
        self.scaled([0, 1].map(|axis| p[axis] + (q[axis] - p[axis]) * share))
    }

    /// Adds corners within the outline, and gives those that could be added.
    fn add(
        &mut self,
        wanted: &[Wanted],
        view: &View<'_>,
        pool: &mut Pool,
        points: &mut Vec<P>,
    ) -> Vec<FixedVertexHandle> {
        let mut added = Vec::new();
        for (place, near) in wanted {
            // Rounding may bring a place onto a wall or beyond; there it has to stay away.
            let there = match near {
                Some(near) => self.cdt.locate_with_hint(*place, *near),
                None => self.cdt.locate(*place),
            };
            match there {
                PositionInTriangulation::OnFace(_) => {}
                PositionInTriangulation::OnEdge(edge)
                    if !self.cdt.directed_edge(edge).is_constraint_edge() => {}
                _ => continue,
            }
            let before = self.cdt.num_vertices();
            let inserted = match near {
                Some(near) => self.cdt.insert_with_hint(*place, *near),
                None => self.cdt.insert(*place),
            };
            let Ok(handle) = inserted else { continue };
            if self.cdt.num_vertices() == before {
                continue;
            }
            let at = [
                place.x / self.scale[0] + self.middle[0],
                place.y / self.scale[1] + self.middle[1],
            ];
            let p = view.at(at[0], at[1]);
            self.corners.push((at, pool.add(p)));
            points.push(p);
            added.push(handle);
        }
        added
    }
}

/// Scales of x and y under which a step of one errs about as much as asked, and no step is much longer
/// than the other.
fn scale(view: &View<'_>, xs: (f64, f64), ys: (f64, f64), chord: f64) -> [f64; 2] {
    if view.is_plane() {
        return [1.0, 1.0];
    }
    let (mut first, mut second) = ([0.0; 2], [0.0; 2]);
    let cells = 5_u32;
    let part = |(low, high): (f64, f64), i: u32| {
        let at = |i: u32| low + (high - low) * f64::from(i) / f64::from(cells);
        (at(i), at(i + 1))
    };
    for i in 0..cells {
        for j in 0..cells {
            let bound = view.spread_bound(part(xs, i), part(ys, j));
            let share = 1.0 / f64::from(cells * cells);
            first[0] += bound.first[0] * share;
            first[1] += bound.first[1] * share;
            second[0] += bound.second[0].sqrt() * share;
            second[1] += bound.second[2].sqrt() * share;
        }
    }
    let wide = [xs.1 - xs.0, ys.1 - ys.0];
    // Steps in millimetres.
    let step = |axis: usize| {
        let whole = (first[axis] * wide[axis]).max(1e-300);
        let by_error = first[axis] * (8.0 * chord).sqrt() / second[axis].max(1e-300);
        by_error.min(whole)
    };
    let (mut a, mut b) = (step(0), step(1));
    a = a.min(20.0 * b);
    b = b.min(20.0 * a);
    let scale = |axis: usize, step: f64| {
        let s = first[axis] / step;
        if s.is_finite() && s > 0.0 { s } else { 1.0 / wide[axis].max(1e-300) }
    };
    let made = [scale(0, a), scale(1, b)];
    made.map(|s| if s.is_finite() && s > 0.0 { s.clamp(1e-30, 1e30) } else { 1.0 })
}

/// Segments by the unit squares through which they run.
#[derive(Default)]
struct Near {
    squares: HashMap<(i64, i64), Vec<[[f64; 2]; 2]>>,
}

/// How near the outline no corner is wanted, in the triangulation's unit.
const APART: f64 = 0.4;

#[allow(clippy::cast_possible_truncation, reason = "a rounded place; beyond i64 it saturates")]
fn square(x: f64, y: f64) -> (i64, i64) {
    (x.floor() as i64, y.floor() as i64)
}

impl Near {
    fn add(&mut self, a: [f64; 2], b: [f64; 2]) {
        let long = (b[0] - a[0]).abs().max((b[1] - a[1]).abs());
        // Steps of half a square miss none by more than what is looked at around it.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let steps = (2.0 * long).ceil().clamp(1.0, 20_000.0) as usize;
        for i in 0..=steps {
            let share = i as f64 / steps as f64;
            let at = square(a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share);
            let held = self.squares.entry(at).or_default();
            if held.last() != Some(&[a, b]) {
                held.push([a, b]);
            }
        }
    }

    fn holds(&self, p: &Point2<f64>) -> bool {
        let (i, j) = square(p.x, p.y);
        (-1..=1).any(|di| {
            (-1..=1).any(|dj| {
                let held = self.squares.get(&(i.saturating_add(di), j.saturating_add(dj)));
                held.into_iter().flatten().any(|[a, b]| {
                    let (x, y) = (b[0] - a[0], b[1] - a[1]);
                    let square = x * x + y * y;
                    let along = (p.x - a[0]) * x + (p.y - a[1]) * y;
                    let share = if square > 0.0 { (along / square).clamp(0.0, 1.0) } else { 0.0 };
                    (p.x - a[0] - share * x).hypot(p.y - a[1] - share * y) < APART
                })
            })
        })
    }
}

/// The middles of rectangles over each of which a pair of triangles errs about as much as asked.
fn spread(
    view: &View<'_>,
    whole: ((f64, f64), (f64, f64)),
    chord: f64,
    most: usize,
    places: &mut Vec<[f64; 2]>,
) {
    let mut waiting = vec![whole];
    // Where one parameter turns a profile, the profile is parted first: how far a turn may go hangs on
    // where it is.
    let turned = view.turned_axis();
    while let Some((xs, ys)) = waiting.pop() {
        if places.len() + waiting.len() > most {
            return;
        }
        let bound = view.spread_bound(xs, ys);
        let (dx, dy) = (xs.1 - xs.0, ys.1 - ys.0);
        // What is known exactly needs no mixed term.
        let mixed = if turned.is_some() { 0.0 } else { bound.second[1] * dx * dy };
        let square = [bound.second[0] * dx * dx + mixed, bound.second[2] * dy * dy + mixed];
        let first = bound.rough[0] * dx + bound.rough[1] * dy;
        let creased = view.crease(0, xs).is_some() || view.crease(1, ys).is_some();
        if (square[0] + square[1]) / 8.0 + first <= chord && !creased {
            places.push([f64::midpoint(xs.0, xs.1), f64::midpoint(ys.0, ys.1)]);
            continue;
        }
        let (axis, parts) = match turned {
            Some(turn) => {
                let parts = |axis: usize| (square[axis] / (4.0 * chord)).sqrt().ceil();
                let profile = 1 - turn;
                let axis = if parts(profile) > 1.0 { profile } else { turn };
                (axis, parts(axis).clamp(2.0, 5000.0))
            }
            None => {
                let axis = usize::from(square[1] > square[0]);
                let parts = (square[axis] / (4.0 * chord)).sqrt().ceil();
                (axis, if (2.0..=4.0).contains(&parts) { parts } else { 2.0 })
            }
        };
        if dx.max(dy) <= 0.0 {
            continue;
        }
        let part = |(low, high): (f64, f64), i: f64| {
            (low + (high - low) * i / parts, low + (high - low) * (i + 1.0) / parts)
        };
        let mut i = 0.0;
        while i < parts {
            waiting.push(if axis == 0 { (part(xs, i), ys) } else { (xs, part(ys, i)) });
            i += 1.0;
        }
    }
}
