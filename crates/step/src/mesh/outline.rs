//! The boundary of a face as closed polygons in the plane of its surface's parameters.
//!
//! A face's loops are brought into the plane point by point, each point near the one before it. On a
//! closed surface a loop may run around and end a period away; two such loops, or one and a pole, are
//! joined by a cut to one polygon. A loop through a pole runs along the line of parameters that the
//! pole is, to the side on which the face lies. Loops have the face on their left.

use super::edges::{Edge, Pool};
use super::turn;
use super::view::View;
use crate::Fault;
use crate::geometry::{P, Pole};
use robust::{Coord, orient2d};

/// One step of a loop: an edge, and whether it is run from its start to its end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub(super) edge: usize,
    pub(super) forward: bool,
}

/// A chord of an edge.
pub(super) type Chord = (usize, usize);

/// A corner of a polygon.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    pub(super) at: [f64; 2],
    pub(super) vertex: u32,
    /// The edge's chord from here to the next corner, where it is one.
    pub(super) chord: Option<Chord>,
}

/// Why there is no outline yet.
pub(super) enum Obstacle {
    /// Chords that must be cut first, at a parameter or in their middle.
    Cut(Vec<(Chord, Option<f64>)>),
    /// Two vertices that lie at one place.
    Unite(u32, u32),
    Fault(Fault),
}

impl From<Fault> for Obstacle {
    fn from(fault: Fault) -> Self {
        Self::Fault(fault)
    }
}

/// The polygons of a face, by parity its inside.
pub(super) struct Outline {
    pub(super) rings: Vec<Vec<Node>>,
    /// Whether x and y are v and u.
    pub(super) swapped: bool,
    /// How far surface and mesh are from each other along the boundary, mm.
    pub(super) deviation: f64,
    /// How far corners lie from the surface, mm.
    pub(super) gap: f64,
    /// How far the surface lies from the chords, mm.
    pub(super) along: f64,
}

/// What is needed besides the face.
pub(super) struct Setting<'p> {
    pub(super) pool: &'p mut Pool,
    pub(super) edges: &'p [Edge],
    /// Asked chord error, mm.
    pub(super) chord: f64,
    /// The file's tolerance, mm.
    pub(super) tolerance: f64,
    /// A length of the body, mm.
    pub(super) size: f64,
    /// What lies farther apart than this is a fault.
    pub(super) loose: f64,
}

/// A loop in the plane.
struct Ring {
    nodes: Vec<Node>,
    /// How often it runs around each closed parameter.
    winding: [i64; 2],
}

/// The outline of face `id`. Its loops have the face on their left as seen along `du cross dv`.
pub(super) fn outline(
    id: u64,
    view: &View<'_>,
    loops: &[Vec<Step>],
    vertices: &[u32],
    set: &mut Setting<'_>,
) -> Result<Outline, Obstacle> {
    let mut measured = Measured::default();
    let mut rings = Vec::new();
    for steps in loops {
        let mut steps = steps.clone();
        if view.swapped {
            turn(&mut steps);
        }
        if let Some(ring) = ring(id, view, &steps, set, &mut measured)? {
            rings.push(ring);
        }
    }
    if measured.gap > set.loose {
        let (what, from) = ("the boundary of the face", "its surface");
        return Err(Fault::Apart { id, what, from, distance: measured.gap }.into());
    }
    let unbounded = |why| Obstacle::Fault(Fault::Unbounded { id, why });
    let along = |axis: usize| rings.iter().filter(|r| r.winding[axis] != 0).count();
    if along(1) > 0 && along(0) > 0 {
        return Err(unbounded("loops run around it both ways"));
    }
    if along(1) > 0 {
        if view.swapped {
            return Err(unbounded("a loop runs around it both ways"));
        }
        let swapped = View::new(view.surface, set.tolerance, true);
        return outline(id, &swapped, loops, vertices, set);
    }
    let (around, mut simple): (Vec<Ring>, Vec<Ring>) =
        rings.into_iter().partition(|r| r.winding[0] != 0);
    if around.iter().any(|r| r.winding[0].abs() != 1) {
        return Err(unbounded("a loop runs around it more than once"));
    }
    simple.sort_by(|a, b| area(&b.nodes).abs().total_cmp(&area(&a.nodes).abs()));
    let mut polygons: Vec<Vec<Node>> = Vec::new();
    let closed = is_closed(view);
    if !around.is_empty() {
        polygons = bands(view, around, &simple, vertices, set).map_err(unbounded)?;
    } else if closed && simple.first().is_none_or(|r| area(&r.nodes) < 0.0 && !has_seam(r)) {
        match whole(view, &simple, vertices, set) {
            Ok(polygon) => polygons.push(polygon),
            // Loops that reach all the way around are no holes, whichever way they are run.
            Err(why) if simple.is_empty() => return Err(unbounded(why)),
            Err(_) => {}
        }
    } else if simple.is_empty() {
        if loops.iter().all(Vec::is_empty) {
            return Err(unbounded("it has no loop"));
        }
        // Every loop has shrunk to nothing at this accuracy.
        return Ok(Outline {
            rings: Vec::new(),
            swapped: view.swapped,
            deviation: measured.deviation.max(measured.gap),
            gap: measured.gap,
            along: measured.along,
        });
    }
    for ring in simple {
        let nodes = into_place(view, ring.nodes, polygons.first());
        polygons.push(nodes);
    }
    Ok(Outline {
        rings: polygons,
        swapped: view.swapped,
        deviation: measured.deviation,
        gap: measured.gap,
        along: measured.along,
    })
}

/// Whether a loop runs along a chord twice: along a seam, which no hole has.
fn has_seam(ring: &Ring) -> bool {
    let mut seen = std::collections::HashSet::new();
    ring.nodes.iter().filter_map(|n| n.chord).any(|c| !seen.insert(c))
}

/// Whether the surface has no border at all.
fn is_closed(view: &View<'_>) -> bool {
    let ends = |axis: usize| {
        view.periods[axis].is_some() || view.poles.iter().filter(|p| p.fixed == axis).count() == 2
    };
    ends(0) && ends(1) && view.periods.iter().any(Option::is_some)
}

#[derive(Default)]
struct Measured {
    gap: f64,
    deviation: f64,
    along: f64,
}

/// The pole at a point.
fn pole_at<'v>(view: &'v View<'_>, p: &P, set: &Setting<'_>) -> Option<&'v Pole> {
    let near = (1e-7 * set.size).max(set.tolerance);
    view.poles.iter().find(|pole| (pole.point - p).norm() <= near)
}

/// One loop in the plane. None where it has shrunk to fewer than three places.
#[allow(
    clippy::too_many_lines,
    reason = "one walk around a loop; its parts share all that they know"
)]
fn ring(
    id: u64,
    view: &View<'_>,
    steps: &[Step],
    set: &mut Setting<'_>,
    measured: &mut Measured,
) -> Result<Option<Ring>, Obstacle> {
    // The vertices in order, each with the chord to the next.
    let mut walk: Vec<(u32, Option<Chord>)> = Vec::new();
    let mut last: Option<u32> = None;
    let mut first = None;
    for step in steps {
        let Some(edge) = set.edges.get(step.edge) else { continue };
        let count = edge.stops.len();
        let stop = |i: usize| edge.stops.get(if step.forward { i } else { count - 1 - i });
        let (Some(from), Some(to)) = (stop(0), stop(count - 1)) else { continue };
        first.get_or_insert(from.vertex);
        join(id, last, from.vertex, set)?;
        last = Some(to.vertex);
        for i in 0..count - 1 {
            if let Some(stop) = stop(i) {
                let chord = if step.forward { i } else { count - 2 - i };
                walk.push((set.pool.root(stop.vertex), Some((step.edge, chord))));
            }
        }
    }
    if let Some(first) = first {
        join(id, last, first, set)?;
    }
    // A chord between a place and itself is none.
    let n = walk.len();
    let keep: Vec<bool> = (0..n).map(|i| walk[i].0 != walk[(i + 1) % n].0).collect();
    let mut kept = keep.iter();
    walk.retain(|_| kept.next().copied().unwrap_or(true));
    if walk.len() < 3 {
        let curved = |chord: &Chord| {
            let edge = set.edges.get(chord.0);
            edge.is_some_and(|e| {
                e.chords.len() < 4 && e.chords.get(chord.1).is_some_and(|c| *c > 1e-9 * set.size)
            })
        };
        let cut: Vec<_> =
            walk.iter().filter_map(|w| w.1).filter(curved).map(|c| (c, None)).collect();
        if cut.is_empty() && steps.iter().any(|s| set.edges.get(s.edge).is_some_and(|e| e.doubtful))
        {
            let why = "its loop has shrunk to nothing, or an edge of it is a full turn";
            return Err(Fault::Unbounded { id, why }.into());
        }
        return if cut.is_empty() { Ok(None) } else { Err(Obstacle::Cut(cut)) };
    }

    // What the file itself calls one place is good enough to stop looking elsewhere.
    let accept = set.tolerance;
    let mut hint = None;
    let mut raw: Vec<[f64; 2]> = Vec::with_capacity(walk.len());
    let mut poles: Vec<Option<&Pole>> = Vec::with_capacity(walk.len());
    for (v, _) in &walk {
        let p = set.pool.at(*v);
        let pole = pole_at(view, &p, set);
        let (at, distance) = view.nearest(&p, hint, accept);
        if !(distance.is_finite() && at[0].is_finite() && at[1].is_finite()) {
            return Err(Fault::Values { id, why: "a point has no place on the surface" }.into());
        }
        measured.gap = measured.gap.max(distance);
        if pole.is_none() {
            hint = Some(at);
        }
        raw.push(at);
        poles.push(pole);
    }
    let n = walk.len();
    let Some(start) = poles.iter().position(Option::is_none) else {
        return Err(Fault::Unbounded { id, why: "a loop lies at one point" }.into());
    };
    let near = |x: f64, to: f64, period: Option<f64>| match period {
        Some(period) => x + period * ((to - x) / period).round(),
        None => x,
    };
    let mut cut: Vec<(Chord, Option<f64>)> = Vec::new();
    let mut nodes: Vec<Node> = Vec::with_capacity(n + 8);
    let mut now = raw[start];
    nodes.push(Node { at: now, vertex: walk[start].0, chord: walk[start].1 });
    let mut pending: Option<(&Pole, u32, Option<Chord>)> = None;
    for k in 1..=n {
        let j = (start + k) % n;
        if let Some(pole) = poles[j] {
            pending = Some((pole, walk[j].0, walk[j].1));
            continue;
        }
        let mut next = raw[j];
        if let Some((pole, vertex, chord)) = pending.take() {
            let (fixed, free) = (pole.fixed, 1 - pole.fixed);
            if let Some(period) = view.periods[free] {
                // The face lies to the left of a line run toward lower x above it or higher x below it.
                let sign = if (fixed == 1) == pole.above { -1.0 } else { 1.0 };
                let mut way = (sign * (next[free] - now[free])).rem_euclid(period);
                if way < 1e-6 * period {
                    way = period;
                }
                next[free] = now[free] + sign * way;
            }
            next[fixed] = near(next[fixed], pole.value, view.periods[fixed]);
            let parts = line_parts(view, free, (next[free] - now[free]).abs());
            for i in 0..=parts {
                let mut at = [pole.value; 2];
                at[free] = now[free] + (next[free] - now[free]) * f64::from(i) / f64::from(parts);
                let chord = if i == parts { chord } else { None };
                nodes.push(Node { at, vertex, chord });
            }
        } else {
            for axis in 0..2 {
                next[axis] = near(next[axis], now[axis], view.periods[axis]);
                if let Some(period) = view.periods[axis]
                    && (next[axis] - now[axis]).abs() > 0.3 * period
                    && let Some(chord) = walk[(start + k - 1) % n].1
                {
                    cut.extend(long_way(view, chord, set));
                }
            }
        }
        now = next;
        if k < n {
            nodes.push(Node { at: now, vertex: walk[j].0, chord: walk[j].1 });
        }
    }
    let turns = |axis: usize| {
        view.periods[axis].map_or(0.0, |p| ((now[axis] - raw[start][axis]) / p).round())
    };
    #[allow(clippy::cast_possible_truncation, reason = "a few turns")]
    let winding = [turns(0) as i64, turns(1) as i64];
    let end = [now[0], now[1]];
    along_chords(view, &nodes, end, set, measured, &mut cut);
    if cut.is_empty() { Ok(Some(Ring { nodes, winding })) } else { Err(Obstacle::Cut(cut)) }
}

/// The end of one edge and the start of the next are one vertex, or become it.
fn join(id: u64, last: Option<u32>, next: u32, set: &mut Setting<'_>) -> Result<(), Fault> {
    let Some(last) = last else { return Ok(()) };
    if set.pool.root(last) == set.pool.root(next) {
        return Ok(());
    }
    let distance = (set.pool.at(last) - set.pool.at(next)).norm();
    if distance > (10.0 * set.tolerance).max(1e-6 * set.size) {
        let (what, from) = ("the end of an edge of the loop", "the start of the next");
        return Err(Fault::Apart { id, what, from, distance });
    }
    set.pool.unite(last, next);
    Ok(())
}

/// A chord that jumps along a closed parameter: cut where its edge passes a pole, else in the middle.
fn long_way(view: &View<'_>, chord: Chord, set: &Setting<'_>) -> Option<(Chord, Option<f64>)> {
    let edge = set.edges.get(chord.0)?;
    let (a, b) = (edge.stops.get(chord.1)?, edge.stops.get(chord.1 + 1)?);
    let length = (set.pool.at(a.vertex) - set.pool.at(b.vertex)).norm();
    if length < 1e-7 * set.size {
        return None;
    }
    let near = (1e-7 * set.size).max(set.tolerance);
    let passed = view.poles.iter().find_map(|pole| {
        let (t, distance) = edge.nearest_on(chord.1, &pole.point)?;
        (distance <= near).then_some(t)
    });
    Some((chord, passed))
}

/// In how many parts a line that is one point is cut.
#[allow(clippy::cast_possible_truncation, reason = "clamped before")]
fn line_parts(view: &View<'_>, free: usize, way: f64) -> u32 {
    let whole = view.periods[free].unwrap_or_else(|| {
        let (a, b) = view.ranges[free];
        b - a
    });
    #[allow(clippy::cast_sign_loss, reason = "clamped before")]
    let parts = (96.0 * way / whole).ceil().clamp(1.0, 128.0) as u32;
    parts
}

/// Bounds the deviation along every chord of a loop, and asks for a cut where it is too much.
fn along_chords(
    view: &View<'_>,
    nodes: &[Node],
    end: [f64; 2],
    set: &Setting<'_>,
    measured: &mut Measured,
    cut: &mut Vec<(Chord, Option<f64>)>,
) {
    for (i, node) in nodes.iter().enumerate() {
        let Some(chord) = node.chord else { continue };
        let Some(edge) = set.edges.get(chord.0) else { continue };
        let (to, vertex) =
            nodes.get(i + 1).map_or_else(|| (end, nodes[0].vertex), |n| (n.at, n.vertex));
        let points = [set.pool.at(node.vertex), set.pool.at(vertex), set.pool.at(vertex)];
        let on_surface = view.error([node.at, to, to], &points);
        let err = edge.chords.get(chord.1).copied().unwrap_or(0.0);
        let length = (points[0] - points[1]).norm();
        if on_surface > 0.5 * set.chord && length > 1e-3 * set.chord {
            let crease = (0..2).find_map(|axis| {
                let (a, b) = (node.at[axis], to[axis]);
                let at = view.crease(axis, (a.min(b), a.max(b)))?;
                Some((at - a) / (b - a))
            });
            let t = crease.and_then(|share| {
                let (a, b) = (edge.stops.get(chord.1)?, edge.stops.get(chord.1 + 1)?);
                let back =
                    edge.stops.get(chord.1).is_some_and(|s| set.pool.root(s.vertex) != node.vertex);
                let share = if back { 1.0 - share } else { share };
                Some(a.t + (b.t - a.t) * share.clamp(0.05, 0.95))
            });
            cut.push((chord, t));
            continue;
        }
        // Between the corners, too, the curve may lie beside the surface.
        let Some(middle) = edge.middle(chord.1, set.pool) else { continue };
        let half = [0, 1].map(|axis| f64::midpoint(node.at[axis], to[axis]));
        let (mut at, gap) = view.nearest(&middle, Some(half), set.tolerance);
        measured.gap = measured.gap.max(gap);
        // The piece between a chord's line and the curve in the plane bends by the square of its width.
        for axis in 0..2 {
            if let Some(period) = view.periods[axis] {
                at[axis] += period * ((half[axis] - at[axis]) / period).round();
            }
        }
        let aside = if view.poles.is_empty() || pole_at(view, &middle, set).is_none() {
            let [from, to] = [half, at].map(|[x, y]| view.at(x, y));
            view.error([half, at, at], &[from, to, to]).min(on_surface)
        } else {
            0.0
        };
        measured.along = measured.along.max(on_surface);
        let all = on_surface + err + gap + 4.0 * aside;
        measured.deviation = super::worst(measured.deviation, all);
    }
}

pub(super) fn area(nodes: &[Node]) -> f64 {
    let Some(first) = nodes.first() else { return 0.0 };
    // About a corner, so that far places lose nothing.
    let of = |n: &Node| [n.at[0] - first.at[0], n.at[1] - first.at[1]];
    let pairs = nodes.iter().zip(nodes.iter().cycle().skip(1));
    pairs.map(|(a, b)| (of(a), of(b))).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>() / 2.0
}

/// Least and greatest coordinate.
pub(super) fn extent(nodes: &[Node], axis: usize) -> (f64, f64) {
    nodes.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), n| {
        (low.min(n.at[axis]), high.max(n.at[axis]))
    })
}

fn shift(nodes: &mut [Node], by: [f64; 2]) {
    for node in nodes {
        node.at[0] += by[0];
        node.at[1] += by[1];
    }
}

/// Whether a place lies inside a polygon.
fn inside(nodes: &[Node], [x, y]: [f64; 2]) -> bool {
    let mut inside = false;
    for (a, b) in nodes.iter().zip(nodes.iter().cycle().skip(1)) {
        let ([ax, ay], [bx, by]) = (a.at, b.at);
        if (ay > y) != (by > y) && x < (bx - ax) * (y - ay) / (by - ay) + ax {
            inside = !inside;
        }
    }
    inside
}

/// A loop moved by whole periods to where most of it lies within the outer polygon.
fn into_place(view: &View<'_>, mut nodes: Vec<Node>, outer: Option<&Vec<Node>>) -> Vec<Node> {
    let Some(outer) = outer else { return nodes };
    let moves = |axis: usize| -> Vec<f64> {
        let Some(period) = view.periods[axis] else { return vec![0.0] };
        let ((a, b), (c, d)) = (extent(outer, axis), extent(&nodes, axis));
        let first = ((f64::midpoint(a, b) - f64::midpoint(c, d)) / period).round();
        [0.0, 1.0, -1.0, 2.0, -2.0].iter().map(|k| (first + k) * period).collect()
    };
    let mut best = (0, [0.0, 0.0]);
    for dx in moves(0) {
        for dy in moves(1) {
            let held = nodes.iter().filter(|n| inside(outer, [n.at[0] + dx, n.at[1] + dy])).count();
            if held > best.0 {
                best = (held, [dx, dy]);
            }
        }
    }
    shift(&mut nodes, best.1);
    nodes
}

/// The nodes run the other way.
fn backward(nodes: &[Node]) -> Vec<Node> {
    let mut turned: Vec<Node> = nodes.iter().rev().copied().collect();
    let chords: Vec<Option<Chord>> = turned.iter().map(|n| n.chord).collect();
    let n = turned.len();
    for (i, node) in turned.iter_mut().enumerate() {
        node.chord = chords[(i + 1) % n];
    }
    turned
}

/// The line of a pole as a loop that runs around, with places above or below the other loop's.
fn pole_line(
    view: &View<'_>,
    pole: &Pole,
    vertices: &[u32],
    other: &[Node],
    set: &mut Setting<'_>,
) -> Ring {
    let near = (1e-6 * set.size).max(set.tolerance);
    let known = vertices.iter().copied().find(|v| (set.pool.at(*v) - pole.point).norm() <= near);
    let vertex = known.unwrap_or_else(|| set.pool.add(pole.point));
    let period = view.periods[0].unwrap_or(1.0);
    let base = other.first().map_or(view.ranges[0].0, |n| n.at[0]);
    let mut xs: Vec<f64> = if other.len() >= 3 {
        other.iter().map(|n| base + (n.at[0] - base).rem_euclid(period)).collect()
    } else {
        (0..96).map(|i| base + period * f64::from(i) / 96.0).collect()
    };
    xs.sort_by(f64::total_cmp);
    xs.dedup_by(|a, b| (*a - *b).abs() < 1e-9 * period);
    if pole.above {
        xs.reverse();
    }
    let nodes = xs.iter().map(|x| Node { at: [*x, pole.value], vertex, chord: None }).collect();
    Ring { nodes, winding: [if pole.above { -1 } else { 1 }, 0] }
}

/// Polygons between loops that run around, and between the last such loop and a pole.
fn bands(
    view: &View<'_>,
    mut around: Vec<Ring>,
    simple: &[Ring],
    vertices: &[u32],
    set: &mut Setting<'_>,
) -> Result<Vec<Vec<Node>>, &'static str> {
    if around.len() % 2 == 1 {
        // The face reaches a pole: above a loop that runs toward higher x, below one that runs back.
        let toward: i64 = around.iter().map(|r| r.winding[0]).sum();
        let poles = || view.poles.iter().filter(|p| p.fixed == 1);
        let pole = poles()
            .find(|p| p.above == (toward > 0))
            .or_else(|| poles().next())
            .ok_or("a single loop runs around it, and it has no end there")?;
        let line = pole_line(view, pole, vertices, &around[0].nodes, set);
        around.push(line);
    }
    let height = |r: &Ring| {
        let (a, b) = extent(&r.nodes, 1);
        f64::midpoint(a, b)
    };
    let mut polygons = Vec::new();
    if let Some(period) = view.periods[1] {
        // Closed the other way too: from each loop toward higher x up to the next that runs back.
        let (mut low, mut high): (Vec<Ring>, Vec<Ring>) =
            around.into_iter().partition(|r| r.winding[0] > 0);
        if low.len() != high.len() {
            return Err("loops around it do not come in pairs");
        }
        while let Some(lower) = low.pop() {
            let base = height(&lower);
            let above = |r: &Ring| {
                let d = (height(r) - base).rem_euclid(period);
                if d < 1e-9 * period { d + period } else { d }
            };
            let best = (0..high.len()).min_by(|a, b| above(&high[*a]).total_cmp(&above(&high[*b])));
            let Some(best) = best else { break };
            let mut upper = high.swap_remove(best);
            let by = above(&upper) + base - height(&upper);
            shift(&mut upper.nodes, [0.0, by]);
            polygons.push(band(view, &lower.nodes, &upper.nodes, simple, set)?);
        }
        return Ok(polygons);
    }
    around.sort_by(|a, b| height(a).total_cmp(&height(b)));
    let mut rest = around.into_iter();
    while let (Some(lower), Some(upper)) = (rest.next(), rest.next()) {
        let forward = |r: Ring, toward: i64| {
            if r.winding[0] == toward { r.nodes } else { backward(&r.nodes) }
        };
        polygons.push(band(view, &forward(lower, 1), &forward(upper, -1), simple, set)?);
    }
    Ok(polygons)
}

/// The polygon between a loop that runs toward higher x and one above it that runs back.
fn band(
    view: &View<'_>,
    lower: &[Node],
    upper: &[Node],
    others: &[Ring],
    set: &mut Setting<'_>,
) -> Result<Vec<Node>, &'static str> {
    let period = view.periods[0].ok_or("a loop runs around what is not closed")?;
    let near = |x: f64, to: f64| x + period * ((to - x) / period).round();
    // Pairs that see each other, the nearest first. Lengths in the metric of the surface.
    let middle = [lower[0].at[0], f64::midpoint(lower[0].at[1], upper[0].at[1])];
    let bound = view.bound((middle[0], middle[0]), (middle[1], middle[1]));
    let stride = |n: usize, most: usize| n.div_ceil(most).max(1);
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for i in (0..lower.len()).step_by(stride(lower.len(), 400)) {
        for j in (0..upper.len()).step_by(stride(upper.len(), 400)) {
            let dx = near(upper[j].at[0], lower[i].at[0]) - lower[i].at[0];
            let dy = upper[j].at[1] - lower[i].at[1];
            // A straight cut is worth a longer one.
            pairs.push((4.0 * (bound.first[0] * dx).abs() + (bound.first[1] * dy).abs(), i, j));
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let walls: Vec<&[Node]> =
        [lower, upper].into_iter().chain(others.iter().map(|r| r.nodes.as_slice())).collect();
    let free = |(_, i, j): &&(f64, usize, usize)| {
        let from = lower[*i].at;
        let to = [near(upper[*j].at[0], from[0]), upper[*j].at[1]];
        sees(from, to, &walls, period)
    };
    let (_, i, j) = pairs.iter().take(4000).find(free).ok_or("no cut leads from loop to loop")?;
    let (i, j) = (*i, *j);
    let mut polygon: Vec<Node> = Vec::new();
    for k in 0..=lower.len() {
        let mut node = lower[(i + k) % lower.len()];
        // Its corners follow each other around, those after the last a period on.
        if i + k >= lower.len() {
            node.at[0] += period;
        }
        polygon.push(node);
    }
    let from = lower[i];
    let top = near(upper[j].at[0], from.at[0]);
    let cut = cut_line(view, from.at, [top, upper[j].at[1]], set);
    if let Some(last) = polygon.last_mut() {
        last.chord = None;
    }
    polygon.extend(cut.iter().map(|n| Node { at: [n.at[0] + period, n.at[1]], ..*n }));
    let offset = top - upper[j].at[0];
    for k in 0..=upper.len() {
        let mut node = upper[(j + k) % upper.len()];
        node.at[0] += offset + if j + k >= upper.len() { 0.0 } else { period };
        if k == upper.len() {
            node.chord = None;
        }
        polygon.push(node);
    }
    polygon.extend(cut.iter().rev());
    Ok(polygon)
}

/// Whether a segment from a corner to a corner meets no other wall, which come again every period.
fn sees(from: [f64; 2], to: [f64; 2], walls: &[&[Node]], period: f64) -> bool {
    let coord = |[x, y]: [f64; 2]| Coord { x, y };
    let (low, high) = (from[0].min(to[0]), from[0].max(to[0]));
    walls.iter().all(|nodes| {
        // A loop that runs around closes a period on.
        let n = nodes.len();
        (0..n).all(|k| {
            let a = nodes[k].at;
            let mut b = nodes[(k + 1) % n].at;
            b[0] += period * ((a[0] - b[0]) / period).round();
            let (wall_low, wall_high) = (a[0].min(b[0]), a[0].max(b[0]));
            let mut turn = ((low - wall_high) / period).ceil();
            while wall_low + turn * period <= high {
                let by = turn * period;
                let (c, d) = ([a[0] + by, a[1]], [b[0] + by, b[1]]);
                turn += 1.0;
                let is_end = |p: [f64; 2]| same(p, from, period) || same(p, to, period);
                let (c_end, d_end) = (is_end(c), is_end(d));
                if c_end && d_end {
                    continue;
                }
                let side = |p| orient2d(coord(from), coord(to), coord(p));
                let (sc, sd) = (side(c), side(d));
                if c_end || d_end {
                    // The wall starts at an end of the cut: it must not run along it.
                    let (s, other) = if c_end { (sd, d) } else { (sc, c) };
                    let ahead = (other[0] - from[0]) * (to[0] - from[0])
                        + (other[1] - from[1]) * (to[1] - from[1]);
                    let square = (to[0] - from[0]).powi(2) + (to[1] - from[1]).powi(2);
                    if s == 0.0 && ahead > 0.0 && ahead < square {
                        return false;
                    }
                    continue;
                }
                let across = |p, q| {
                    orient2d(coord(c), coord(d), coord(p)) * orient2d(coord(c), coord(d), coord(q))
                        <= 0.0
                };
                if sc * sd <= 0.0 && across(from, to) {
                    return false;
                }
            }
            true
        })
    })
}

fn same(a: [f64; 2], b: [f64; 2], period: f64) -> bool {
    (a[0] - b[0]).abs() <= 1e-9 * period && (a[1] - b[1]).abs() <= 1e-12 * (1.0 + a[1].abs())
}

/// Corners strictly between two places, on every crease between them and close enough to each other that
/// the chords between them err little.
fn cut_line(view: &View<'_>, from: [f64; 2], to: [f64; 2], set: &mut Setting<'_>) -> Vec<Node> {
    let mut ends = vec![from];
    let mut ahead = vec![to];
    while let (Some(here), Some(next)) = (ends.last().copied(), ahead.last().copied()) {
        let crease = (0..2).find_map(|axis| {
            let (a, b) = (here[axis], next[axis]);
            let at = view.crease(axis, (a.min(b), a.max(b)))?;
            let share = (at - a) / (b - a);
            let mut place = [0, 1].map(|axis| here[axis] + (next[axis] - here[axis]) * share);
            place[axis] = at;
            Some(place)
        });
        match crease {
            Some(place) if ahead.len() < 4096 => ahead.push(place),
            _ => {
                ends.push(next);
                ahead.pop();
            }
        }
    }
    let mut places = Vec::new();
    for pair in ends.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let at = |i: u32, parts: u32| {
            let share = f64::from(i) / f64::from(parts);
            [0, 1].map(|axis| from[axis] + (to[axis] - from[axis]) * share)
        };
        let mut parts = 1_u32;
        while parts < 4096 {
            let good = (0..parts).all(|i| {
                let (a, b) = (at(i, parts), at(i + 1, parts));
                let points = [view.at(a[0], a[1]), view.at(b[0], b[1])];
                view.error([a, b, b], &[points[0], points[1], points[1]]) <= 0.5 * set.chord
            });
            if good {
                break;
            }
            parts *= 2;
        }
        places.extend((1..parts).map(|i| at(i, parts)));
        places.push(to);
    }
    places.pop();
    let node = |at: [f64; 2]| Node { at, vertex: set.pool.add(view.at(at[0], at[1])), chord: None };
    places.into_iter().map(node).collect()
}

/// The polygon of a whole closed surface, cut where no loop is.
fn whole(
    view: &View<'_>,
    holes: &[Ring],
    vertices: &[u32],
    set: &mut Setting<'_>,
) -> Result<Vec<Node>, &'static str> {
    let poles: Vec<Pole> = view.poles.iter().filter(|p| p.fixed == 1).copied().collect();
    if let [a, b] = poles.as_slice() {
        let (low, high) = if a.above { (b, a) } else { (a, b) };
        let lower = pole_line(view, low, vertices, &[], set);
        let upper = pole_line(view, high, vertices, &[], set);
        return band(view, &lower.nodes, &upper.nodes, holes, set);
    }
    let (Some(px), Some(py)) = (view.periods[0], view.periods[1]) else {
        return Err("a surface closed in no way that is known here is meant as a whole");
    };
    let x = open_line(holes, 0, px, view.ranges[0].0).ok_or("loops leave no way around it")?;
    let y = open_line(holes, 1, py, view.ranges[1].0).ok_or("loops leave no way around it")?;
    let corner = set.pool.add(view.at(x, y));
    let along_x = cut_line(view, [x, y], [x + px, y], set);
    let along_y = cut_line(view, [x, y], [x, y + py], set);
    let moved = |n: &Node, by: [f64; 2]| Node { at: [n.at[0] + by[0], n.at[1] + by[1]], ..*n };
    let at = |x: f64, y: f64| Node { at: [x, y], vertex: corner, chord: None };
    let mut polygon = vec![at(x, y)];
    polygon.extend(&along_x);
    polygon.push(at(x + px, y));
    polygon.extend(along_y.iter().map(|n| moved(n, [px, 0.0])));
    polygon.push(at(x + px, y + py));
    polygon.extend(along_x.iter().rev().map(|n| moved(n, [0.0, py])));
    polygon.push(at(x, y + py));
    polygon.extend(along_y.iter().rev());
    Ok(polygon)
}

/// A value of a closed parameter that no loop reaches: the middle of the widest gap.
fn open_line(holes: &[Ring], axis: usize, period: f64, first: f64) -> Option<f64> {
    let mut spans: Vec<(f64, f64)> = holes
        .iter()
        .map(|r| {
            let (low, high) = extent(&r.nodes, axis);
            let from = (low - first).rem_euclid(period);
            (from, from + high - low)
        })
        .collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(start) = spans.first().map(|s| s.0) else { return Some(first) };
    spans.push((start + period, start + period));
    let mut reached = spans[0].1;
    let mut best = (0.0, None);
    for span in &spans[1..] {
        if span.0 - reached > best.0 {
            best = (span.0 - reached, Some(first + f64::midpoint(span.0, reached)));
        }
        reached = reached.max(span.1);
    }
    best.1
}

/// How many corners on a small fold may reach.
const FOLD: usize = 10;

/// Straightens small folds of a boundary, which edges have that a file draws less exactly than they are
/// cut here: where two of its pieces near each other meet within a length of `short` millimetres, the
/// corners between them are spread along a straight line. What they are moved is added to the gap.
pub(super) fn straighten(view: &View<'_>, outline: &mut Outline, pool: &Pool, short: f64) {
    let mut moved: f64 = 0.0;
    for ring in &mut outline.rings {
        let n = ring.len();
        if n < 6 {
            continue;
        }
        for _ in 0..4 {
            let mut any = false;
            for i in 0..n {
                for k in 1..=FOLD.min(n - 3) {
                    let at = |j: usize| ring[(i + j) % n];
                    if !meet(at(0).at, at(1).at, at(k).at, at(k + 1).at, k) {
                        continue;
                    }
                    let place = |j: usize| pool.at(at(j).vertex);
                    let length: f64 = (0..=k).map(|j| (place(j) - place(j + 1)).norm()).sum();
                    if length > short {
                        continue;
                    }
                    let (from, to) = (at(0).at, at(k + 1).at);
                    for j in 1..=k {
                        let share = j as f64 / (k + 1) as f64;
                        let node = &mut ring[(i + j) % n];
                        node.at = [0, 1].map(|axis| from[axis] + (to[axis] - from[axis]) * share);
                        let off = (view.at(node.at[0], node.at[1]) - pool.at(node.vertex)).norm();
                        moved = moved.max(off);
                    }
                    any = true;
                }
            }
            if !any {
                break;
            }
        }
    }
    if moved > 0.0 {
        outline.gap = outline.gap.max(moved);
        outline.deviation += moved;
    }
}

/// Whether the piece from `a` to `b` meets that from `c` to `d`, `apart` pieces on.
fn meet(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2], apart: usize) -> bool {
    let side = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        let coord = |[x, y]: [f64; 2]| Coord { x, y };
        orient2d(coord(a), coord(b), coord(c))
    };
    if apart == 1 {
        // Straight back on itself.
        let back = (b[0] - a[0]) * (d[0] - c[0]) + (b[1] - a[1]) * (d[1] - c[1]) < 0.0;
        return back && side(a, b, d) == 0.0;
    }
    let apart = |p: f64, q: f64| (p > 0.0 && q > 0.0) || (p < 0.0 && q < 0.0);
    if apart(side(a, b, c), side(a, b, d)) || apart(side(c, d, a), side(c, d, b)) {
        return false;
    }
    // In one line they meet where their boxes do.
    (0..2).all(|axis| {
        let (low, high) = (a[axis].min(b[axis]), a[axis].max(b[axis]));
        c[axis].min(d[axis]) <= high && c[axis].max(d[axis]) >= low
    })
}
