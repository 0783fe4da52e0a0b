//! Vertices and edges that faces share: every edge is cut into chords once, for all of its faces.

use crate::Fault;
use crate::geometry::{Curve, P};
use crate::load::Loader;
use std::collections::HashMap;
use std::rc::Rc;

/// Points by number. Numbers that turn out to mean one place can be made one.
#[derive(Debug, Default)]
pub(super) struct Pool {
    points: Vec<P>,
    /// Another number of the same place, or the number itself.
    up: Vec<u32>,
    /// How far the places of all numbers of a place lie from it at most, mm, by the number that is itself.
    moved: Vec<f64>,
    by_entity: HashMap<u64, u32>,
}

impl Pool {
    pub(super) fn add(&mut self, p: P) -> u32 {
        let number = u32::try_from(self.points.len()).unwrap_or(u32::MAX);
        self.points.push(p);
        self.up.push(number);
        self.moved.push(0.0);
        number
    }

    pub(super) fn len(&self) -> usize {
        self.points.len()
    }

    pub(super) fn root(&self, mut v: u32) -> u32 {
        while let Some(&up) = self.up.get(v as usize) {
            if up == v {
                break;
            }
            v = up;
        }
        v
    }

    pub(super) fn at(&self, v: u32) -> P {
        self.points.get(self.root(v) as usize).copied().unwrap_or_else(P::origin)
    }

    /// Makes two numbers one place: that of the lower.
    pub(super) fn unite(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return;
        }
        let (low, high) = (a.min(b), a.max(b));
        let by = (self.at(low) - self.at(high)).norm() + self.moved(high);
        if let Some(moved) = self.moved.get_mut(low as usize) {
            *moved = super::worst(*moved, by);
        }
        if let Some(up) = self.up.get_mut(high as usize) {
            *up = low;
        }
    }

    /// How far from its own place a number that was made one with others may have come to lie, mm.
    pub(super) fn moved(&self, v: u32) -> f64 {
        self.moved.get(self.root(v) as usize).copied().unwrap_or(0.0)
    }

    /// The number of an entity's place, new if it is not known.
    pub(super) fn of_entity(
        &mut self,
        id: u64,
        place: impl FnOnce() -> Result<P, Fault>,
    ) -> Result<u32, Fault> {
        if let Some(v) = self.by_entity.get(&id) {
            return Ok(*v);
        }
        let v = self.add(place()?);
        self.by_entity.insert(id, v);
        Ok(v)
    }
}

/// A place at which an edge is cut.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stop {
    pub(super) t: f64,
    pub(super) vertex: u32,
}

/// An edge as a chain of chords.
#[derive(Debug)]
pub(super) struct Edge {
    pub(super) id: u64,
    /// None for a straight line between two points without an entity of its own.
    pub(super) curve: Option<Rc<Curve>>,
    period: Option<f64>,
    /// From its start to its end; a single one where the edge has no length.
    pub(super) stops: Vec<Stop>,
    /// How far the curve and each chord may be from each other, mm.
    pub(super) chords: Vec<f64>,
    /// How far start and end lie from the curve's points, mm.
    ends: [f64; 2],
    /// Two vertices at one place on a closed curve, taken as an edge of nearly no length: whether a
    /// full turn is meant nobody can say.
    pub(super) doubtful: bool,
}

/// Radians through which a chord may turn, so that small bodies and long thin ones keep their area to a
/// thousandth.
pub(super) const TURN: f64 = 0.045;
/// But no accuracy finer than this part of what is asked is sought for that.
pub(super) const LEAST: f64 = 40.0;

/// Chords of an edge, at most.
const MOST_CHORDS: usize = 20_000;

impl Edge {
    /// The straight edge of a polygon.
    pub(super) fn straight(id: u64, from: u32, to: u32) -> Self {
        let stops = vec![Stop { t: 0.0, vertex: from }, Stop { t: 1.0, vertex: to }];
        Self {
            id,
            curve: None,
            period: None,
            stops,
            chords: vec![0.0],
            ends: [0.0; 2],
            doubtful: false,
        }
    }

    /// An `edge_curve` cut into chords that err by `chord` at most. One that is `alone` in a loop has to
    /// go around on its own.
    pub(super) fn read(
        loader: &Loader<'_>,
        id: u64,
        pool: &mut Pool,
        chord: f64,
        loose: f64,
        alone: bool,
    ) -> Result<Self, Fault> {
        let args = loader.graph.expect(id, "EDGE_CURVE")?;
        let (from, to) = (args.reference(1)?, args.reference(2)?);
        let from = vertex(loader, from, pool)?;
        let to = vertex(loader, to, pool)?;
        let curve = Rc::new(loader.curve(args.reference(3)?)?);
        let forward = args.flag(4)?;
        let (start, end) = (pool.at(from), pool.at(to));
        let period = curve.period(loader.tolerance);
        let (mut t0, mut t1) = (curve.nearest(&start), curve.nearest(&end));
        let apart = (start - end).norm();
        let reach = |t: f64, p: &P| (curve.at(curve.wrapped(t, period)) - p).norm();
        let mut doubtful = false;
        if let Some(period) = period {
            let turn = if forward { 1.0 } else { -1.0 };
            let near = apart <= loader.tolerance.max(1e-9 * loose);
            // Two vertices at one place are one, and what goes around from it to it is a full turn.
            if pool.root(from) == pool.root(to)
                || (near && (alone || apart <= 1e-3 * loader.tolerance))
            {
                pool.unite(from, to);
                t1 = t0 + turn * period;
            } else {
                let mut along = (turn * (t1 - t0)).rem_euclid(period);
                if near && along > 0.5 * period {
                    along = 0.0;
                }
                doubtful = near;
                t1 = t0 + turn * along;
            }
        } else if pool.root(from) == pool.root(to)
            && let Some((a, b)) = curve.domain()
            && reach(a, &start).max(reach(b, &start)) <= loose
            && reach(f64::midpoint(a, b), &start) > 10.0 * loader.tolerance
        {
            // Closed but for more than the file's tolerance: all of it, with what is open as a gap.
            (t0, t1) = if forward { (a, b) } else { (b, a) };
        }
        let ends = [reach(t0, &start), reach(t1, &end)];
        let distance = ends[0].max(ends[1]);
        if !distance.is_finite() || distance > loose {
            let (what, from) = ("an end of the edge", "its curve");
            return Err(Fault::Apart { id, what, from, distance });
        }
        let first = Stop { t: t0, vertex: from };
        if (t1 - t0).abs() <= 0.0 {
            // An edge without length, or one within the file's own tolerance.
            let mut stops = vec![first];
            let mut chords = Vec::new();
            if pool.root(from) != pool.root(to) {
                stops.push(Stop { t: t1, vertex: to });
                chords.push(apart);
            }
            return Ok(Self { id, curve: Some(curve), period, stops, chords, ends, doubtful });
        }
        let last = Stop { t: t1, vertex: to };
        let mut edge = Self {
            id,
            curve: Some(curve),
            period,
            stops: vec![first],
            chords: Vec::new(),
            ends,
            doubtful,
        };
        // What is smaller than the file's own tolerance means nothing.
        let least = (chord / LEAST).max(0.5 * loader.tolerance);
        let mut coarse = edge.coarse(t0, t1);
        coarse.push(last.t);
        for (i, t) in coarse.iter().enumerate() {
            let to = if i + 1 == coarse.len() {
                last
            } else {
                Stop { t: *t, vertex: pool.add(edge.at(*t)) }
            };
            edge.run_to(to, pool, chord, least)?;
        }
        edge.mind_ends();
        Ok(edge)
    }

    fn at(&self, t: f64) -> P {
        self.curve.as_ref().map_or_else(P::origin, |c| c.at(c.wrapped(t, self.period)))
    }

    /// Parameters strictly between two at which the edge is cut whatever the accuracy.
    fn coarse(&self, t0: f64, t1: f64) -> Vec<f64> {
        let Some(curve) = &self.curve else { return Vec::new() };
        let (low, high) = (t0.min(t1), t0.max(t1));
        let mut all: Vec<f64> = match &**curve {
            Curve::Line { .. } => Vec::new(),
            Curve::Ellipse { .. } => even(low, high, ((high - low) / 0.6).ceil()),
            Curve::Hyperbola { .. } | Curve::Parabola { .. } => even(low, high, 2.0),
            other => {
                // Around a closed curve the breaks come again.
                let mut breaks = Vec::new();
                match (self.period, other.domain()) {
                    (Some(period), Some((a, b))) => {
                        for turn in -1_i32..=1 {
                            let shift = f64::from(turn) * period;
                            breaks.extend(other.breaks(a, b).into_iter().map(|t| t + shift));
                            breaks.extend([a + shift, b + shift]);
                        }
                    }
                    _ => breaks = other.breaks(low, high),
                }
                breaks
                    .retain(|t| *t > low + 1e-9 * (high - low) && *t < high - 1e-9 * (high - low));
                breaks.sort_by(f64::total_cmp);
                breaks.dedup();
                if breaks.is_empty() { even(low, high, 2.0) } else { breaks }
            }
        };
        if t1 < t0 {
            all.reverse();
        }
        all
    }

    /// Cuts on to a stop, halving until every chord errs little enough.
    fn run_to(&mut self, to: Stop, pool: &mut Pool, chord: f64, least: f64) -> Result<(), Fault> {
        let mut ahead = vec![to];
        while let (Some(from), Some(next)) = (self.stops.last().copied(), ahead.last().copied()) {
            let bound = self.bound(from.t, next.t);
            let middle = f64::midpoint(from.t, next.t);
            let inside = (middle - from.t) * (next.t - middle) > 0.0;
            let length = (self.at(from.t) - self.at(next.t)).norm();
            let fine = bound <= chord.min((TURN / 8.0 * length).max(least));
            if fine || !inside || ahead.len() > 40 {
                self.stops.push(next);
                self.chords.push(bound);
                ahead.pop();
            } else {
                ahead.push(Stop { t: middle, vertex: pool.add(self.at(middle)) });
            }
            if self.chords.len() > MOST_CHORDS {
                let why = "an edge would take too many chords at this accuracy";
                return Err(Fault::Values { id: self.id, why });
            }
        }
        Ok(())
    }

    /// How far curve and chord are from each other between two parameters.
    fn bound(&self, a: f64, b: f64) -> f64 {
        let Some(curve) = &self.curve else { return 0.0 };
        if self.period.is_none() || matches!(**curve, Curve::Ellipse { .. }) {
            return curve.chord_bound(a, b);
        }
        // Stops lie at the seam, so that no chord runs across it.
        let middle = f64::midpoint(a, b);
        let shift = curve.wrapped(middle, self.period) - middle;
        let (low, high) = curve.domain().unwrap_or((f64::NEG_INFINITY, f64::INFINITY));
        curve.chord_bound((a + shift).clamp(low, high), (b + shift).clamp(low, high))
    }

    /// Adds to the first and last chord what the ends are away from the curve.
    fn mind_ends(&mut self) {
        if let Some(first) = self.chords.first_mut() {
            *first += self.ends[0];
        }
        if let Some(last) = self.chords.last_mut() {
            *last += self.ends[1];
        }
    }

    /// The point of the curve in the middle of a chord's parameters.
    pub(super) fn middle(&self, chord: usize, pool: &Pool) -> Option<P> {
        let (a, b) = (self.stops.get(chord)?, self.stops.get(chord + 1)?);
        match &self.curve {
            Some(_) if (a.t - b.t).abs() > 0.0 => Some(self.at(f64::midpoint(a.t, b.t))),
            _ => Some(nalgebra::center(&pool.at(a.vertex), &pool.at(b.vertex))),
        }
    }

    /// The parameter on a chord at which the curve is nearest to a point, with the distance.
    pub(super) fn nearest_on(&self, chord: usize, p: &P) -> Option<(f64, f64)> {
        let (a, b) = (self.stops.get(chord)?, self.stops.get(chord + 1)?);
        let (low, high) = (a.t.min(b.t), a.t.max(b.t));
        crate::geometry::least(&even_with_ends(low, high, 16.0), |t| (self.at(t) - p).norm())
    }

    /// Cuts a chord in two, at `t` or in its middle. False where it cannot be cut.
    pub(super) fn split(&mut self, chord: usize, t: Option<f64>, pool: &mut Pool) -> bool {
        let (Some(a), Some(b)) =
            (self.stops.get(chord).copied(), self.stops.get(chord + 1).copied())
        else {
            return false;
        };
        if self.chords.len() >= MOST_CHORDS {
            return false;
        }
        let t = t.unwrap_or_else(|| f64::midpoint(a.t, b.t));
        let (low, high) = (a.t.min(b.t), a.t.max(b.t));
        if !(t > low && t < high) {
            return false;
        }
        let p = match self.curve {
            Some(_) => self.at(t),
            None => {
                let share = (t - a.t) / (b.t - a.t);
                let (from, to) = (pool.at(a.vertex), pool.at(b.vertex));
                from + (to - from) * share
            }
        };
        let vertex = pool.add(p);
        self.stops.insert(chord + 1, Stop { t, vertex });
        let mut halves = [self.bound(a.t, t), self.bound(t, b.t)];
        if chord == 0 {
            halves[0] += self.ends[0];
        }
        if chord + 1 == self.chords.len() {
            halves[1] += self.ends[1];
        }
        self.chords.splice(chord..=chord, halves);
        true
    }
}

fn even(low: f64, high: f64, parts: f64) -> Vec<f64> {
    let mut all = even_with_ends(low, high, parts);
    all.pop();
    if !all.is_empty() {
        all.remove(0);
    }
    all
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped before")]
fn even_with_ends(low: f64, high: f64, parts: f64) -> Vec<f64> {
    let n = parts.clamp(1.0, 1000.0) as usize;
    (0..=n).map(|i| low + (high - low) * i as f64 / n as f64).collect()
}

/// The place of a `vertex_point`.
pub(super) fn vertex(loader: &Loader<'_>, id: u64, pool: &mut Pool) -> Result<u32, Fault> {
    pool.of_entity(id, || loader.point(loader.graph.expect(id, "VERTEX_POINT")?.reference(1)?))
}

impl Edge {
    /// Millimetres between the ends of a chord.
    pub(super) fn chord_length(&self, chord: usize, pool: &Pool) -> f64 {
        match (self.stops.get(chord), self.stops.get(chord + 1)) {
            (Some(a), Some(b)) => (pool.at(a.vertex) - pool.at(b.vertex)).norm(),
            _ => 0.0,
        }
    }
}
