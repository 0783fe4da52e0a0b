//! Building the tree: top down, each node split three times over where the surface heuristic is
//! least, and at the bottom at multiples of [`WIDTH`] so that the last nodes are full.
//!
//! Every choice depends on the triangles alone, so the tree is the same whatever the number of
//! threads.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::frame::{self, Axes};
use super::{Cell, Frame, LEAF, Node, Tree, WIDTH, WORTH_A_THREAD};
use crate::quad::Quad;
use crate::soup::Soup;

/// Bins along each axis for the surface heuristic.
const BINS: usize = 16;
/// Triangles up to which every split between full last nodes is tried.
const TRY_ALL: usize = WIDTH * WIDTH;

/// A triangle's box and number, single precision: enough to choose a split.
#[derive(Clone, Copy)]
struct Brick {
    span: Span,
    triangle: u32,
}

/// A box for choosing splits.
#[derive(Clone, Copy)]
struct Span {
    low: [f32; 3],
    high: [f32; 3],
}

impl Span {
    const NONE: Self = Self { low: [f32::INFINITY; 3], high: [f32::NEG_INFINITY; 3] };

    #[inline]
    fn hold(&mut self, other: &Self) {
        for k in 0..3 {
            self.low[k] = self.low[k].min(other.low[k]);
            self.high[k] = self.high[k].max(other.high[k]);
        }
    }

    fn surface(&self) -> f32 {
        if self.low[0] > self.high[0] {
            return 0.0;
        }
        let side: [f32; 3] = std::array::from_fn(|k| self.high[k] - self.low[k]);
        side[0] * side[1]
            + side[1] * side[2]
            + side[2] * side[0]
            + 1e-6 * (side[0] + side[1] + side[2])
    }

    /// Twice the middle along an axis.
    #[inline]
    fn middle(&self, axis: usize) -> f32 {
        self.low[axis] + self.high[axis]
    }
}

/// A node without its boxes: its first child, and where the slots of its children start and end.
#[derive(Clone, Copy)]
struct Sketch {
    first: u32,
    count: u32,
    starts: [u32; WIDTH + 1],
}

impl Tree {
    /// Builds the tree over `triangles`, at least one, all with finite corners; returns it with
    /// the triangles in slot order and the index of the triangle in each slot.
    pub(crate) fn build(
        vertices: &[Point3<f64>],
        triangles: &[[u32; 3]],
    ) -> (Self, Soup, Vec<u32>) {
        let unsorted: Vec<u32> = (0..index(triangles.len())).collect();
        let whole = Soup::in_order(vertices, triangles, &unsorted);
        let axes = frame::of_body(&whole);
        let mut bricks = lay(&whole, &axes);
        let sketches = plan(&mut bricks, 0);
        let slots: Vec<u32> = bricks.iter().map(|brick| brick.triangle).collect();
        drop(bricks);
        drop(whole);
        let soup = Soup::in_order(vertices, triangles, &slots);
        let nodes: Vec<Node> = if triangles.len() >= WORTH_A_THREAD {
            sketches.par_iter().with_min_len(64).map(|sketch| fit(sketch, &soup)).collect()
        } else {
            sketches.iter().map(|sketch| fit(sketch, &soup)).collect()
        };
        let root = around(&soup);
        let slack = 256.0 * f64::EPSILON * (root.centre.amax() + root.half.amax());
        (Self { nodes, root, slack }, soup, slots)
    }
}

fn around(soup: &Soup) -> Cell {
    let mut low = Point3::from([f64::INFINITY; 3]);
    let mut high = Point3::from([f64::NEG_INFINITY; 3]);
    for vertex in soup.vertices() {
        (low, high) = (low.inf(vertex), high.sup(vertex));
    }
    Cell::spanning(low.coords, high.coords)
}

fn lay(soup: &Soup, axes: &Axes) -> Vec<Brick> {
    let brick = |slot: usize| {
        let mut span = Span::NONE;
        for corner in soup.corners(slot) {
            let at = axes.map(|axis| axis.dot(&corner.coords) as f32);
            span.hold(&Span { low: at, high: at });
        }
        Brick { span, triangle: index(slot) }
    };
    if soup.len() >= WORTH_A_THREAD {
        (0..soup.len()).into_par_iter().map(brick).collect()
    } else {
        (0..soup.len()).map(brick).collect()
    }
}

/// The nodes over the bricks, which it puts in slot order; the first is the one over all.
fn plan(bricks: &mut [Brick], first_slot: u32) -> Vec<Sketch> {
    let ends = divide(bricks);
    let mut sketch = Sketch { first: 1, count: index(ends.len()), starts: [first_slot; WIDTH + 1] };
    for (start, end) in sketch.starts[1..].iter_mut().zip(&ends) {
        *start = first_slot + index(*end);
    }
    if bricks.len() <= WIDTH {
        return vec![Sketch { first: LEAF | first_slot, ..sketch }];
    }
    let mut groups = Vec::with_capacity(ends.len());
    let mut rest = &mut *bricks;
    let mut taken = 0;
    for (end, start) in ends.iter().zip(sketch.starts) {
        let (group, after) = rest.split_at_mut(end - taken);
        groups.push((group, start));
        (rest, taken) = (after, *end);
    }
    let below: Vec<Vec<Sketch>> = if taken >= WORTH_A_THREAD {
        groups.into_par_iter().map(|(group, start)| plan(group, start)).collect()
    } else {
        groups.into_iter().map(|(group, start)| plan(group, start)).collect()
    };
    join(sketch, &below)
}

/// The node over `below`, the children's top nodes first and then what is under each.
fn join(top: Sketch, below: &[Vec<Sketch>]) -> Vec<Sketch> {
    let mut all = Vec::with_capacity(1 + below.iter().map(Vec::len).sum::<usize>());
    all.push(top);
    // Where the nodes under each child come to stand, less the child's own place in its list.
    let mut offsets = Vec::with_capacity(below.len());
    let mut next = below.len();
    for child in below {
        offsets.push(index(next));
        next += child.len() - 1;
    }
    let moved = |sketch: &Sketch, offset: u32| {
        let last = sketch.first & LEAF != 0;
        Sketch { first: if last { sketch.first } else { sketch.first + offset }, ..*sketch }
    };
    for (child, offset) in below.iter().zip(&offsets) {
        all.push(moved(&child[0], *offset));
    }
    for (child, offset) in below.iter().zip(&offsets) {
        all.extend(child[1..].iter().map(|sketch| moved(sketch, *offset)));
    }
    all
}

/// Sorts the bricks into at most [`WIDTH`] groups, and tells where each ends.
fn divide(bricks: &mut [Brick]) -> Vec<usize> {
    if bricks.len() <= WIDTH {
        return (1..=bricks.len()).collect();
    }
    let many = bricks.len() > WIDTH * TRY_ALL;
    let mut groups = vec![(0, bricks.len(), 0.0_f32)];
    while groups.len() < WIDTH {
        let largest =
            groups.iter().enumerate().filter(|(_, (start, end, _))| end - start > WIDTH).max_by(
                |(_, x), (_, y)| {
                    if many { x.2.total_cmp(&y.2) } else { (x.1 - x.0).cmp(&(y.1 - y.0)) }
                },
            );
        let Some((place, (start, end, _))) = largest.map(|(place, group)| (place, *group)) else {
            break;
        };
        let middle = start + cut(&mut bricks[start..end]);
        let surface = |group: &[Brick]| span_of(group).surface();
        groups[place] = (start, middle, surface(&bricks[start..middle]));
        groups.insert(place + 1, (middle, end, surface(&bricks[middle..end])));
    }
    groups.iter().map(|(_, end, _)| *end).collect()
}

fn span_of(bricks: &[Brick]) -> Span {
    let mut span = Span::NONE;
    for brick in bricks {
        span.hold(&brick.span);
    }
    span
}

/// Parts the bricks, more than [`WIDTH`], in two, neither empty; tells where the second begins.
fn cut(bricks: &mut [Brick]) -> usize {
    if bricks.len() <= TRY_ALL { cut_between_full_nodes(bricks) } else { cut_by_bins(bricks) }
}

/// At the multiple of [`WIDTH`] along any axis where the surfaces are least.
fn cut_between_full_nodes(bricks: &mut [Brick]) -> usize {
    let mut best = (f32::INFINITY, 0, WIDTH);
    let mut order: Vec<(f32, usize)> = Vec::with_capacity(bricks.len());
    let mut after: Vec<f32> = Vec::with_capacity(bricks.len() / WIDTH + 1);
    for axis in 0..3 {
        sort_along(bricks, axis, &mut order);
        // Surface of the bricks from each candidate on.
        after.clear();
        let mut span = Span::NONE;
        for (rank, (_, place)) in order.iter().enumerate().rev() {
            span.hold(&bricks[*place].span);
            if rank % WIDTH == 0 {
                after.push(span.surface());
            }
        }
        let mut span = Span::NONE;
        for (rank, (_, place)) in order.iter().enumerate() {
            if rank > 0 && rank % WIDTH == 0 {
                let beyond = after[after.len() - 1 - rank / WIDTH];
                let nodes_beyond = (bricks.len() - rank).div_ceil(WIDTH);
                let cost = span.surface() * (rank / WIDTH) as f32 + beyond * nodes_beyond as f32;
                if cost < best.0 {
                    best = (cost, axis, rank);
                }
            }
            span.hold(&bricks[*place].span);
        }
    }
    sort_along(bricks, best.1, &mut order);
    let sorted: Vec<Brick> = order.iter().map(|(_, place)| bricks[*place]).collect();
    bricks.copy_from_slice(&sorted);
    best.2
}

fn sort_along(bricks: &[Brick], axis: usize, order: &mut Vec<(f32, usize)>) {
    order.clear();
    order.extend(bricks.iter().enumerate().map(|(place, b)| (b.span.middle(axis), place)));
    order.sort_unstable_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
}

/// Between two bins along any axis where the surface heuristic is least.
fn cut_by_bins(bricks: &mut [Brick]) -> usize {
    let mut low = [f32::INFINITY; 3];
    let mut high = [f32::NEG_INFINITY; 3];
    for brick in &*bricks {
        for k in 0..3 {
            let middle = brick.span.middle(k);
            low[k] = low[k].min(middle);
            high[k] = high[k].max(middle);
        }
    }
    let per: [f32; 3] = std::array::from_fn(|k| BINS as f32 / (high[k] - low[k]));
    // A whole number from a float outside its range is the nearest end of the range.
    #[expect(clippy::cast_sign_loss, reason = "the middle is not below the least")]
    let bin = |brick: &Brick, k: usize| {
        (((brick.span.middle(k) - low[k]) * per[k]) as usize).min(BINS - 1)
    };
    let mut bins = [[(0_usize, Span::NONE); BINS]; 3];
    for brick in &*bricks {
        for k in 0..3 {
            let (count, span) = &mut bins[k][bin(brick, k)];
            *count += 1;
            span.hold(&brick.span);
        }
    }
    let mut best = (f32::INFINITY, 0, 0);
    for (k, bins) in bins.iter().enumerate() {
        let mut after = [(0, 0.0); BINS];
        let (mut count, mut span) = (0, Span::NONE);
        for (place, bin) in bins.iter().enumerate().rev() {
            count += bin.0;
            span.hold(&bin.1);
            after[place] = (count, span.surface());
        }
        let (mut count, mut span) = (0, Span::NONE);
        for place in 1..BINS {
            count += bins[place - 1].0;
            span.hold(&bins[place - 1].1);
            let cost = span.surface() * count as f32 + after[place].1 * after[place].0 as f32;
            if count > 0 && after[place].0 > 0 && cost < best.0 {
                best = (cost, k, place);
            }
        }
    }
    let (cost, axis, place) = best;
    if cost.is_infinite() {
        // All in one place, or too large for single precision: any half is as good.
        return bricks.len() / 2;
    }
    partition(bricks, |brick| bin(brick, axis) < place)
}

/// Puts the bricks for which `before` holds first, and tells how many.
fn partition(bricks: &mut [Brick], before: impl Fn(&Brick) -> bool) -> usize {
    let (mut next, mut end) = (0, bricks.len());
    while next < end {
        if before(&bricks[next]) {
            next += 1;
        } else {
            end -= 1;
            bricks.swap(next, end);
        }
    }
    next
}

/// Gives a node its frame and its boxes.
fn fit(sketch: &Sketch, soup: &Soup) -> Node {
    let count = sketch.count as usize;
    let starts = &sketch.starts[..=count];
    let axes = frame::closest(soup, starts);
    let axes = axes.map(|axis| axis.map(|x| x as f32).into());
    let turned = Frame::new(&axes, [0.0; 3]);
    let boxes: [_; WIDTH] = std::array::from_fn(|lane| {
        if lane < count { limits(soup, &turned, starts[lane], starts[lane + 1]) } else { NOTHING }
    });
    let (mut low, mut high) = NOTHING;
    for (l, h) in &boxes {
        for k in 0..3 {
            low[k] = low[k].min(l[k]);
            high[k] = high[k].max(h[k]);
        }
    }
    // About the middle of what is below, as near as single precision comes.
    let middle = Vector3::from_fn(|k, _| 0.5 * (low[k] + high[k]));
    let origin = turned.pose().turn * middle;
    let frame = Frame::new(&axes, origin.map(|x| x as f32).into());
    let moved = turned.take(&Point3::from(frame.origin().map(f64::from)));
    let mut node = Node {
        centre: [[0.0; WIDTH]; 3],
        half: [[0.0; WIDTH]; 3],
        frame,
        reach: Quad::ZERO,
        first: sketch.first,
        count: sketch.count,
    };
    for (lane, (low, high)) in boxes.iter().enumerate().take(count) {
        for k in 0..3 {
            let (low, high) = (low[k] - moved[k], high[k] - moved[k]);
            (node.centre[k][lane], node.half[k][lane]) = rounded_out(low, high);
            node.reach.0[k] = node.reach.0[k].max(up(low.abs().max(high.abs())));
        }
    }
    node
}

/// The limits of no triangles.
const NOTHING: ([f64; 3], [f64; 3]) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);

/// Least and greatest coordinates in a frame of the triangles in some slots.
fn limits(soup: &Soup, frame: &Frame, first: u32, end: u32) -> ([f64; 3], [f64; 3]) {
    let (mut low, mut high) = NOTHING;
    for slot in first..end {
        for corner in &soup.corners(slot as usize) {
            let at = frame.take(corner);
            for k in 0..3 {
                low[k] = if at[k] < low[k] { at[k] } else { low[k] };
                high[k] = if at[k] > high[k] { at[k] } else { high[k] };
            }
        }
    }
    (low, high)
}

/// Centre and half extent in single precision that hold from `low` to `high`.
fn rounded_out(low: f64, high: f64) -> (f32, f32) {
    let centre = (0.5 * (low + high)) as f32;
    let at = f64::from(centre);
    (centre, up((high - at).max(at - low)))
}

/// Single precision, not below.
fn up(x: f64) -> f32 {
    let near = (x * (1.0 + f64::EPSILON)) as f32;
    if f64::from(near) < x { near.next_up() } else { near }
}

/// Counts of triangles and nodes fit `u32`: a body has fewer than 2^31 triangles.
fn index(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
