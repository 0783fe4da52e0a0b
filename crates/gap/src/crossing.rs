//! Where two surfaces cross.
//!
//! Whether an edge of one surface passes a triangle of the other is decided exactly, and the point
//! where it does is reckoned from the edge and the triangle alone. So the two triangles on either
//! side of an edge give the very same point, and the pieces of a line join by their ends.

use std::collections::HashMap;

use nalgebra::{Isometry3, Point3};
use pulp::Simd;

use crate::lanes::Batch;
use crate::query::Pair;
use crate::solid::{Solid, Undecided};
use crate::triangle::{self, Triangle, holds, nearest_to_point, segment_meets_triangle, side};
use crate::walk::{Visit, walk};

/// A line along which two surfaces cross or touch.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossingLine {
    /// Its points in order, frame of `a`, millimetres; at least one. A line of a single point is a
    /// touch there.
    pub points: Vec<Point3<f64>>,
    /// Whether the last point joins the first, which is not repeated.
    pub closed: bool,
}

impl CrossingLine {
    /// Millimetres.
    pub fn length(&self) -> f64 {
        let steps = self.points.windows(2).map(|two| (two[1] - two[0]).norm()).sum::<f64>();
        match (self.closed, self.points.as_slice()) {
            (true, [first, .., last]) => steps + (first - last).norm(),
            _ => steps,
        }
    }
}

/// The lines along which the surfaces of `a` and `b` cross or touch; none when they are apart or
/// one body is inside the other. Lines end where an open surface does, and where more than two
/// pieces come together. Where surfaces lie flat on one another, the lines are those of the
/// neighbouring triangles: the outline of the contact, if the neighbours leave the plane.
///
/// A point is on both surfaces but for rounding, a few units in the last place of the greatest
/// coordinate; where they are nearly parallel it is less certain along them. Ends nearer than
/// rounding are one.
///
/// # Errors
/// When a body or the pose cannot be used.
pub fn crossing_lines(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
) -> Result<Vec<CrossingLine>, Undecided> {
    let pair = Pair::new(a, b, a_from_b)?;
    let mut found = pair.crossings(usize::MAX);
    // By the meshes' own order, which no tree changes.
    found.sort_unstable_by_key(|slots| [pair.a.slots[slots[0]], pair.b.slots[slots[1]]]);
    let mut ends = Ends::new(pair.slack());
    let mut pieces = Vec::with_capacity(found.len());
    for slots in found {
        let (p, q) = pair.triangles(slots);
        if let Some([from, to]) = piece(&p, &q, pair.slack()) {
            let piece = [ends.place(&from), ends.place(&to)];
            pieces.push([piece[0].min(piece[1]), piece[0].max(piece[1])]);
        }
    }
    pieces.sort_unstable();
    pieces.dedup();
    Ok(joined(&ends.points, &pieces))
}

/// The ends of what two triangles that meet have in common; `None` when they do not meet, or lie
/// in one plane.
fn piece(p: &Triangle, q: &Triangle, rounding: f64) -> Option<[Point3<f64>; 2]> {
    let mut ends = [Point3::origin(); 12];
    let mut count = 0;
    for (through, of) in [(q, p), (p, q)] {
        for i in 0..3 {
            for end in piercing(of[i], of[(i + 1) % 3], through, rounding).into_iter().flatten() {
                ends[count] = end;
                count += 1;
            }
        }
    }
    // All lie on one line: the longest way is the piece.
    let ends = &ends[..count];
    let from = ends.first()?;
    let farthest = |from: &Point3<f64>| {
        let far = |p: &&Point3<f64>, q: &&Point3<f64>| {
            (*p - from).norm_squared().total_cmp(&(*q - from).norm_squared())
        };
        ends.iter().max_by(far).copied().unwrap_or(*from)
    };
    let to = farthest(from);
    Some([farthest(&to), to])
}

/// Where an edge meets a triangle: one point where it passes the plane, or its ends that lie on
/// the triangle. The same whichever way the edge runs.
fn piercing(
    start: Point3<f64>,
    end: Point3<f64>,
    through: &Triangle,
    rounding: f64,
) -> [Option<Point3<f64>>; 2] {
    let order = (0..3).map(|i| start[i].total_cmp(&end[i])).find(|order| order.is_ne());
    let (start, end) =
        if order.is_some_and(std::cmp::Ordering::is_gt) { (end, start) } else { (start, end) };
    let (from, to) = (side(through, &start), side(through, &end));
    if from == 0.0 || to == 0.0 {
        let on =
            |of: f64, point: Point3<f64>| (of == 0.0 && holds(through, &point)).then_some(point);
        return [on(from, start), on(to, end)];
    }
    if (from > 0.0) == (to > 0.0) || !segment_meets_triangle(&start, &end, through) {
        return [None, None];
    }
    [Some(passage(&start, &end, through, rounding)), None]
}

/// The point at which a segment passes a triangle.
fn passage(
    start: &Point3<f64>,
    end: &Point3<f64>,
    through: &Triangle,
    rounding: f64,
) -> Point3<f64> {
    let normal = (through[1] - through[0]).cross(&(through[2] - through[0]));
    let (from, to) = (normal.dot(&(start - through[0])), normal.dot(&(end - through[0])));
    let point = start + (end - start) * (from / (from - to)).clamp(0.0, 1.0);
    let off = (nearest_to_point(&point, through) - point).norm();
    if off <= rounding {
        return point;
    }
    // Nearly parallel, or a sliver whose plane is lost in rounding.
    let near = triangle::nearest(&[*start, *end, *end], through, f64::INFINITY);
    near.map_or(*start, |near| near.on_p)
}

/// Points by where they are; those nearer than rounding are one.
struct Ends {
    points: Vec<Point3<f64>>,
    near: f64,
    /// The points by cells of side `near`; within a cell and its neighbours are all that can be
    /// one.
    cells: HashMap<[i64; 3], Vec<u32>>,
}

impl Ends {
    fn new(near: f64) -> Self {
        // A length below which no coordinate has a unit in the last place.
        Self { points: Vec::new(), near: near.max(f64::MIN_POSITIVE), cells: HashMap::new() }
    }

    fn place(&mut self, point: &Point3<f64>) -> u32 {
        #[expect(clippy::cast_possible_truncation, reason = "saturates, and the distance decides")]
        let cell = [0, 1, 2].map(|i| (point[i] / self.near).floor() as i64);
        if let Some(known) = self.known(point, &cell) {
            return known;
        }
        // More than that do not fit into memory.
        let place = u32::try_from(self.points.len()).unwrap_or(u32::MAX);
        self.points.push(*point);
        self.cells.entry(cell).or_default().push(place);
        place
    }

    fn known(&self, point: &Point3<f64>, cell: &[i64; 3]) -> Option<u32> {
        (0..27)
            .filter_map(|k| {
                let by = [k % 3 - 1, k / 3 % 3 - 1, k / 9 - 1];
                let beside = [0, 1, 2].map(|i| cell[i].saturating_add(by[i]));
                self.cells.get(&beside)
            })
            .flatten()
            .copied()
            .find(|k| (self.points[*k as usize] - point).norm() <= self.near)
    }
}

/// Pieces joined to lines, first from every end and branching, then round what is left.
fn joined(points: &[Point3<f64>], pieces: &[[u32; 2]]) -> Vec<CrossingLine> {
    let mut left = Left { at: vec![Vec::new(); points.len()] };
    for [from, to] in pieces.iter().filter(|[from, to]| from != to) {
        left.at[*from as usize].push(*to);
        left.at[*to as usize].push(*from);
    }
    let degree: Vec<usize> = left.at.iter().map(Vec::len).collect();
    let places = || (0..u32::MAX).take(points.len());
    let ends = places().filter(|place| degree[*place as usize] != 2);
    let mut lines = Vec::new();
    for start in ends.chain(places()) {
        while let Some(next) = left.step(start) {
            let mut line = vec![start, next];
            let mut here = next;
            while degree[here as usize] == 2 && here != start {
                let Some(next) = left.step(here) else { break };
                line.push(next);
                here = next;
            }
            let closed = here == start;
            if closed {
                line.pop();
            }
            let points = line.iter().map(|place| points[*place as usize]).collect();
            lines.push(CrossingLine { points, closed });
        }
    }
    let touches = pieces.iter().filter(|[from, to]| from == to && degree[*from as usize] == 0);
    lines.extend(
        touches.map(|[place, _]| CrossingLine {
            points: vec![points[*place as usize]],
            closed: false,
        }),
    );
    lines
}

/// The pieces not yet in a line: from each place, the places at their other ends.
struct Left {
    at: Vec<Vec<u32>>,
}

impl Left {
    /// Takes a piece that ends at `here`; its other end.
    fn step(&mut self, here: u32) -> Option<u32> {
        let next = self.at[here as usize].pop()?;
        let back = &mut self.at[next as usize];
        if let Some(place) = back.iter().position(|place| *place == here) {
            back.swap_remove(place);
        }
        Some(next)
    }
}

impl Pair<'_> {
    /// The pairs of triangles that meet, as slots of `a` and `b`, in the order of the walk; no
    /// more than `most`.
    pub(crate) fn crossings(&self, most: usize) -> Vec<[usize; 2]> {
        let limit = self.slack().powi(2);
        let mut every = EveryCrossing { limit, most, found: Vec::new(), batch: Batch::new() };
        walk(self, &mut every);
        every.found
    }
}

struct EveryCrossing {
    limit: f64,
    most: usize,
    found: Vec<[usize; 2]>,
    batch: Batch,
}

impl Visit for EveryCrossing {
    const SORTED: bool = false;

    #[inline(always)]
    fn limit(&self) -> f64 {
        self.limit
    }

    #[inline(always)]
    fn pair<S: Simd>(&mut self, simd: S, slots: [usize; 2], p: &Triangle, q: &Triangle) -> bool {
        self.batch.push(slots, p, q);
        if self.batch.is_full() {
            self.finish(simd);
        }
        self.found.len() < self.most
    }

    #[inline(always)]
    fn finish<S: Simd>(&mut self, simd: S) {
        let meeting = self.batch.meeting(simd);
        for lane in 0..self.batch.count() {
            if meeting[lane] && self.found.len() < self.most {
                self.found.push(self.batch.slots(lane));
            }
        }
        self.batch.clear();
    }
}
