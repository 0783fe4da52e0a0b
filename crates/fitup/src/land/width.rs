//! The narrowest run of good land over all bearings, between two bounds.
//!
//! Land is described by convex polygons of several kinds seen from above. Along a bearing, walked
//! inward from far out, each edge that is crossed enters or leaves its polygon, so that counts tell
//! at each point how many polygons of each kind lie there. Edges that two polygons of a kind share
//! cancel; what is left are borders.
//!
//! Between two bearings at which no edge begins or ends, every edge that is there runs all the way.
//! Two edges that keep their order at both bearings keep it between them: along a straight edge
//! `1 / r` at a bearing is a sum, with weights that are not negative, of its values at the two ends.
//! So the order in which edges are crossed, and with it what is good, is known over the whole sector
//! from its two ends; only edges that cross each other inside it are taken together as a stretch of
//! which nothing is known. The width of a run over the sector is at least its outer edge's least
//! distance from the axis less its inner edge's greatest. Sectors are halved, the narrowest first,
//! until that bound is close to a width that was found.

use super::polygon::{cross, edges};
use nalgebra::{Point3, Vector2};
use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::f64::consts::PI;

/// The kinds of polygons.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    /// Plate within the tolerance of its best-fit plane.
    Level,
    /// Something that stands above the tolerance.
    High,
    /// Plate that is seen at all.
    Seen,
    /// Within the deviation of a border.
    Near,
}

const KINDS: usize = 4;

/// What counts as good.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Asked {
    /// Level for certain: nothing above it, and no border near.
    Sure,
    /// Level perhaps: near a border, or, where `unseen`, where nothing is seen.
    Possible {
        /// Whether there may be plate where none is seen.
        unseen: bool,
    },
    /// Seen, or within the deviation of what is.
    Seen,
}

/// Bounds on how many polygons of each kind lie somewhere.
#[derive(Clone, Copy)]
struct Counts {
    least: [i32; KINDS],
    most: [i32; KINDS],
}

impl Asked {
    fn good(self, c: &Counts) -> bool {
        let some = |kind: Kind| c.least[kind as usize] > 0;
        let none = |kind: Kind| c.most[kind as usize] <= 0;
        match self {
            Self::Sure => some(Kind::Level) && none(Kind::High) && none(Kind::Near),
            Self::Possible { unseen } => {
                (some(Kind::Level) && none(Kind::High))
                    || some(Kind::Near)
                    || (unseen && none(Kind::Seen) && none(Kind::High))
            }
            Self::Seen => some(Kind::Seen) || some(Kind::Near),
        }
    }
}

/// Gaps between good land that are narrower than this are cracks between triangles, mm.
const CRACK: f64 = 1e-3;
/// Bounds on the narrowest run are taken this close, mm.
const CLOSE: f64 = 0.01;
/// Sectors looked at, at most, beyond the first ones.
const MOST: usize = 4000;
/// Bearings closer than this are one, radians: what is narrower, some 1e-6 mm, is a crack as well.
const SAME: f64 = 1e-8;

/// An edge of one or more polygons of a kind.
#[derive(Debug, Clone, Copy)]
struct Edge {
    ends: [Vector2<f64>; 2],
    kind: Kind,
    /// How the count changes where the edge is crossed inward.
    step: i32,
}

/// An edge over bearings from `from` to `to`.
#[derive(Debug, Clone, Copy)]
struct Span {
    edge: usize,
    from: f64,
    to: f64,
    /// Bearings of the edge's ends, which are `from` and `to` but for an edge that is split where
    /// bearings begin anew.
    bearings: [f64; 2],
    /// Their distances.
    distances: [f64; 2],
}

impl Span {
    fn distance(&self, bearing: f64) -> f64 {
        let [start, end] = self.bearings;
        let (to_end, from_start) =
            ((end - bearing).sin().max(0.0), (bearing - start).sin().max(0.0));
        let whole = (end - start).sin();
        let [near, far] = self.distances;
        let sum = to_end / near + from_start / far;
        if bearing <= start || sum <= 0.0 {
            near
        } else if bearing >= end {
            far
        } else {
            (whole / sum).clamp(0.0, near.max(far))
        }
    }
}

/// Borders of polygons about the axis.
#[derive(Debug, Clone, Default)]
pub(super) struct Borders {
    edges: Vec<Edge>,
}

impl Borders {
    /// Adds a polygon's edges.
    pub(super) fn add(&mut self, kind: Kind, polygon: &[Point3<f64>]) {
        for (p, q) in edges(polygon) {
            // Adding zero turns minus zero into zero.
            let ends = [p, q].map(|p| p.xy().coords.map(|c| c + 0.0));
            let side = cross(ends[0], ends[1]);
            // An edge along a bearing is crossed at none; it counts as a border all the same.
            let enters = if side == 0.0 { [p.x, p.y] < [q.x, q.y] } else { side > 0.0 };
            self.edges.push(Edge { ends, kind, step: if enters { 1 } else { -1 } });
        }
    }

    /// Takes out what two polygons share and what lies within `inner` of the axis.
    pub(super) fn settle(&mut self, inner: f64) {
        let key = |e: &Edge| {
            let [p, q] = e.ends.map(|p| [p.x, p.y]);
            let [[a, b], [c, d]] = if p < q { [p, q] } else { [q, p] };
            (e.kind, [a, b, c, d].map(f64::to_bits))
        };
        // Sorted by a mix of the key's bits, far quicker than by the key; two keys that mix alike
        // are not taken for one.
        let mixed = |e: &Edge| {
            let (kind, bits) = key(e);
            let mix = |sum: u64, b: u64| (sum ^ b ^ (b >> 29)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            bits.into_iter().fold(kind as u64, mix)
        };
        let mut order: Vec<(u64, usize)> =
            self.edges.iter().enumerate().map(|(i, e)| (mixed(e), i)).collect();
        order.sort_unstable();
        let mut left = Vec::new();
        for alike in order.chunk_by(|a, b| a.0 == b.0) {
            let same = alike.iter().filter_map(|(_, i)| self.edges.get(*i)).copied();
            let begun: usize = left.len();
            for edge in same {
                let known = left.get_mut(begun..).unwrap_or_default().iter_mut();
                match known.into_iter().find(|e| key(e) == key(&edge)) {
                    Some(e) => e.step += edge.step,
                    None => left.push(edge),
                }
            }
        }
        left.retain(|e| e.step != 0 && e.ends.iter().any(|p| p.norm() >= inner));
        self.edges = left;
    }

    /// These borders with the space within `by` of some of them.
    fn with_near(&self, some: &[bool], by: f64) -> Self {
        let mut all = self.clone();
        for (edge, _) in self.edges.iter().zip(some).filter(|(_, marked)| **marked) {
            let [p, q] = edge.ends;
            let Some(way) = (q - p).try_normalize(0.0) else { continue };
            let (along, across) = (way * by, Vector2::new(-way.y, way.x) * by);
            let corner = |at: Vector2<f64>| Point3::new(at.x, at.y, 0.0);
            all.add(
                Kind::Near,
                &[
                    corner(p - along - across),
                    corner(q + along - across),
                    corner(q + along + across),
                    corner(p - along + across),
                ],
            );
        }
        all
    }
}

/// The narrowest of the widest runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Narrowest {
    /// At every bearing some run is at least this wide, mm.
    pub(super) low: f64,
    /// At `bearing` no run is wider, mm.
    pub(super) high: f64,
    /// Radians.
    pub(super) bearing: f64,
}

/// The narrowest, over all bearings, of the widest run of good land between two distances of the
/// axis; good land within `by` of a border that ends it counts by what is asked.
pub(super) fn narrowest(
    borders: &Borders,
    asked: Asked,
    (inner, outer): (f64, f64),
    by: f64,
) -> Narrowest {
    let sweep = |borders: &Borders, marks: Option<&mut Vec<bool>>, grow: f64| {
        Sweep { borders, asked, inner: inner - grow, outer: outer + grow }.run(marks)
    };
    if by <= 0.0 {
        return sweep(borders, None, 0.0);
    }
    // What runs along a bearing ends no run, but what is near it may.
    let along = |e: &Edge| {
        let [p, q] = e.ends;
        cross(p, q).abs() <= 1e-9 * p.norm() * q.norm()
    };
    let mut marks: Vec<bool> = borders.edges.iter().map(along).collect();
    sweep(borders, Some(&mut marks), by);
    sweep(&borders.with_near(&marks, by), None, 0.0)
}

struct Sweep<'b> {
    borders: &'b Borders,
    asked: Asked,
    inner: f64,
    outer: f64,
}

/// A run of good land over a sector: its ends at the sector's two bearings.
struct Run {
    far: [f64; 2],
    near: [f64; 2],
    /// The crossings that end it, as ranges of indices.
    at: [std::ops::Range<usize>; 2],
}

/// An edge crossed over a sector.
#[derive(Clone, Copy)]
struct Crossing {
    at: [f64; 2],
    span: usize,
    kind: Kind,
    step: i32,
}

/// A sector to be halved, the narrowest first.
struct Open {
    low: f64,
    bearings: [f64; 2],
    spans: Vec<usize>,
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Open {}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        other.low.total_cmp(&self.low).then(other.bearings[0].total_cmp(&self.bearings[0]))
    }
}

impl Sweep<'_> {
    /// Goes over every sector; where marks are asked for, only once, and marks the edges that end
    /// a run.
    fn run(&self, mut marks: Option<&mut Vec<bool>>) -> Narrowest {
        let mut spans = self.spans();
        spans.sort_by(|a, b| a.from.total_cmp(&b.from));
        let mut stops: Vec<f64> = spans.iter().flat_map(|s| [s.from, s.to]).collect();
        stops.extend([-PI, PI]);
        stops.sort_by(f64::total_cmp);
        stops.dedup();
        let mut found = Narrowest { low: f64::INFINITY, high: f64::INFINITY, bearing: 0.0 };
        let mut open = BinaryHeap::new();
        let mut there: Vec<usize> = Vec::new();
        let mut next = 0;
        for pair in stops.windows(2) {
            let [from, to] = [pair[0], pair[1]];
            while spans.get(next).is_some_and(|s| s.from <= from) {
                there.push(next);
                next += 1;
            }
            there.retain(|&s| spans[s].to >= to);
            if to - from <= SAME {
                continue;
            }
            if let Some(marks) = marks.as_deref_mut() {
                self.mark(&spans, &there, [from, to], marks);
                continue;
            }
            let sector = self.sector(&spans, &there, [from, to], &mut found);
            open.push(sector);
        }
        if marks.is_some() {
            return found;
        }
        for _ in 0..MOST {
            let Some(least) = open.pop() else { break };
            let [from, to] = least.bearings;
            if to - from <= SAME {
                continue;
            }
            if least.low >= found.high - CLOSE {
                open.push(least);
                break;
            }
            let middle = 0.5 * (from + to);
            for half in [[from, middle], [middle, to]] {
                let sector = self.sector(&spans, &least.spans, half, &mut found);
                open.push(sector);
            }
        }
        found.low = open.peek().map_or(0.0, |least| least.low).min(found.high);
        found
    }

    fn spans(&self) -> Vec<Span> {
        let mut spans = Vec::with_capacity(self.borders.edges.len() + 8);
        for (edge, Edge { ends: [p, q], .. }) in self.borders.edges.iter().enumerate() {
            let side = cross(*p, *q);
            if side == 0.0 {
                continue;
            }
            let [p, q] = if side > 0.0 { [p, q] } else { [q, p] };
            let [from, to] = [p, q].map(|p| p.y.atan2(p.x));
            let distances = [p.norm(), q.norm()];
            let mut add = |from: f64, to: f64, bearings: [f64; 2]| {
                spans.push(Span { edge, from, to, bearings, distances });
            };
            if from <= to {
                add(from, to, [from, to]);
            } else {
                add(from, PI, [from, to + 2.0 * PI]);
                add(-PI, to, [from - 2.0 * PI, to]);
            }
        }
        spans
    }

    fn crossings(&self, spans: &[Span], there: &[usize], [from, to]: [f64; 2]) -> Vec<Crossing> {
        let mut all: Vec<Crossing> = there
            .iter()
            .filter_map(|&s| {
                let span = spans.get(s)?;
                let edge = self.borders.edges.get(span.edge)?;
                let at = [span.distance(from), span.distance(to)];
                Some(Crossing { at, span: s, kind: edge.kind, step: edge.step })
            })
            .collect();
        all.sort_by(|a, b| (b.at[0] + b.at[1]).total_cmp(&(a.at[0] + a.at[1])));
        all
    }

    /// The widest run's lower bound over a sector; enters the widths at its ends and its middle.
    fn sector(
        &self,
        spans: &[Span],
        there: &[usize],
        bearings: [f64; 2],
        found: &mut Narrowest,
    ) -> Open {
        let all = self.crossings(spans, there, bearings);
        let turn = bearings[1] - bearings[0];
        let over = |run: &Run| {
            least_distance(run.far, turn).min(self.outer)
                - run.near[0].max(run.near[1]).max(self.inner)
        };
        let low = self.runs(&all).iter().map(over).fold(0.0, f64::max);
        // At one bearing the order is that of the distances there, and where edges meet at the
        // sector's end that of the sector.
        for (end, bearing) in [(0, bearings[0]), (1, bearings[1])] {
            self.enter(&all, |c| c.at[end], bearing, found);
        }
        let middle = 0.5 * (bearings[0] + bearings[1]);
        self.enter(&all, |c| spans[c.span].distance(middle), middle, found);
        Open { low, bearings, spans: there.to_vec() }
    }

    fn enter(
        &self,
        all: &[Crossing],
        at: impl Fn(&Crossing) -> f64,
        bearing: f64,
        found: &mut Narrowest,
    ) {
        let mut here: Vec<Crossing> =
            all.iter().map(|c| Crossing { at: [at(c); 2], ..*c }).collect();
        here.sort_by(|a, b| b.at[0].total_cmp(&a.at[0]));
        let width = |run: &Run| run.far[0].min(self.outer) - run.near[0].max(self.inner);
        let widest = self.runs(&here).iter().map(width).fold(0.0, f64::max);
        if widest < found.high {
            found.high = widest;
            found.bearing = bearing;
        }
    }

    /// Marks the edges that end a run within the two distances.
    fn mark(&self, spans: &[Span], there: &[usize], bearings: [f64; 2], marks: &mut [bool]) {
        let all = self.crossings(spans, there, bearings);
        let turn = bearings[1] - bearings[0];
        for run in self.runs(&all) {
            for range in run.at {
                let ends = all.get(range).unwrap_or_default().iter().filter(|c| {
                    c.at[0].max(c.at[1]) >= self.inner && least_distance(c.at, turn) <= self.outer
                });
                for crossing in ends {
                    if let Some(span) = spans.get(crossing.span)
                        && let Some(mark) = marks.get_mut(span.edge)
                    {
                        *mark = true;
                    }
                }
            }
        }
    }

    /// The runs of good land along crossings in falling order, cracks closed.
    fn runs(&self, all: &[Crossing]) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        let mut count = Counts { least: [0; KINDS], most: [0; KINDS] };
        let mut begun = self.asked.good(&count).then_some(([f64::INFINITY; 2], 0..0));
        let mut end = |far: [f64; 2], from: std::ops::Range<usize>, near: [f64; 2], to| {
            if let Some(last) = runs.last_mut()
                && (0..2).all(|i| last.near[i] - far[i] <= CRACK)
            {
                last.near = near;
                last.at[1] = to;
            } else {
                runs.push(Run { far, near, at: [from, to] });
            }
        };
        let mut i = 0;
        while let Some(first) = all.get(i) {
            // Edges that do not keep their order are taken together.
            let (mut near, mut far) = (first.at, first.at);
            let mut last = i + 1;
            while let Some(more) = all.get(last)
                && (0..2).any(|k| more.at[k] > near[k])
            {
                for k in 0..2 {
                    near[k] = near[k].min(more.at[k]);
                    far[k] = far[k].max(more.at[k]);
                }
                last += 1;
            }
            let mut between = count;
            let mut after = count;
            for c in all.get(i..last).unwrap_or_default() {
                let kind = c.kind as usize;
                between.least[kind] += c.step.min(0);
                between.most[kind] += c.step.max(0);
                after.least[kind] += c.step;
                after.most[kind] += c.step;
            }
            let through = if last == i + 1 { true } else { self.asked.good(&between) };
            let good = self.asked.good(&after);
            if let Some((start, from)) = begun.take() {
                if good && through {
                    begun = Some((start, from));
                } else {
                    end(start, from, far, i..last);
                }
            }
            if begun.is_none() && good {
                begun = Some((near, i..last));
            }
            count = after;
            i = last;
        }
        if let Some((start, from)) = begun {
            end(start, from, [0.0; 2], 0..0);
        }
        runs
    }
}

/// The least distance from the axis of the segment between two points at given distances and with
/// this turn between them.
fn least_distance([a, b]: [f64; 2], turn: f64) -> f64 {
    let (sin, cos) = turn.sin_cos();
    if a.is_finite() && b.is_finite() && a - b * cos > 0.0 && b - a * cos > 0.0 {
        a * b * sin / (a * a + b * b - 2.0 * a * b * cos).sqrt().max(f64::MIN_POSITIVE)
    } else {
        a.min(b)
    }
}
