//! The hierarchy: parry's bounding-volume tree, flattened eight boxes to a node, each node with a
//! frame of its own in which its boxes fit closely. Boxes along the axes of the body alone would
//! be large around long thin triangles that lie across them, and the search many times slower.

#![expect(
    clippy::needless_range_loop,
    reason = "loops over the lanes of several arrays at once, plain for the vectoriser"
)]

use nalgebra::{Matrix3, Point3, Vector3};
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector;
use parry3d_f64::partitioning::{Bvh, BvhBuildStrategy, BvhNodeIndex, TraversalAction};

use crate::pose::Pose;
use crate::triangle::Triangle;

/// Boxes per node.
pub(crate) const WIDTH: usize = 8;
/// Marks a child that is a triangle, not a node.
const LEAF: u32 = 1 << 31;

/// A box along the axes of some frame, by its centre and half extents.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cell {
    pub(crate) centre: Vector3<f64>,
    pub(crate) half: Vector3<f64>,
}

impl Cell {
    /// Smallest cell that holds everything from `low` to `high`, rounding included.
    fn spanning(low: Vector3<f64>, high: Vector3<f64>) -> Self {
        let centre = (low + high) * 0.5;
        let half = (high - centre).sup(&(centre - low));
        Self { centre, half: half * (1.0 + 2.0 * f64::EPSILON) }
    }

    /// A measure of size to choose which of two nodes to open.
    #[inline]
    pub(crate) fn size(&self) -> f64 {
        self.half.x + self.half.y + self.half.z
    }

    /// The cell around this one along the axes of another frame.
    #[inline]
    pub(crate) fn seen_from(&self, pose: &Pose) -> Self {
        Self { centre: pose.turn * self.centre + pose.shift, half: pose.turn.abs() * self.half }
    }
}

/// What a child of a node is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Child(u32);

impl Child {
    pub(crate) const ROOT: Self = Self(0);

    /// The triangle slot, if the child is a triangle.
    #[inline]
    pub(crate) fn triangle(self) -> Option<usize> {
        (self.0 & LEAF != 0).then_some((self.0 & !LEAF) as usize)
    }
}

/// Up to [`WIDTH`] boxes, one array per coordinate, in the node's own frame.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    centre: [[f64; WIDTH]; 3],
    half: [[f64; WIDTH]; 3],
    child: [Child; WIDTH],
    count: usize,
    /// Takes the node's frame into the body's.
    frame: Pose,
}

impl Node {
    fn empty() -> Self {
        Self {
            centre: [[0.0; WIDTH]; 3],
            half: [[0.0; WIDTH]; 3],
            child: [Child::ROOT; WIDTH],
            count: 0,
            frame: Pose::identity(),
        }
    }

    fn push(&mut self, child: Child) {
        self.child[self.count] = child;
        self.count += 1;
    }

    fn set_cell(&mut self, lane: usize, cell: &Cell) {
        for axis in 0..3 {
            self.centre[axis][lane] = cell.centre[axis];
            self.half[axis][lane] = cell.half[axis];
        }
    }

    #[inline]
    pub(crate) fn count(&self) -> usize {
        self.count
    }

    #[inline]
    pub(crate) fn child(&self, lane: usize) -> Child {
        self.child[lane]
    }

    /// In the node's frame.
    #[inline]
    pub(crate) fn cell(&self, lane: usize) -> Cell {
        let at = |block: &[[f64; WIDTH]; 3]| {
            Vector3::new(block[0][lane], block[1][lane], block[2][lane])
        };
        Cell { centre: at(&self.centre), half: at(&self.half) }
    }

    /// Takes the frame of the cells into the body's.
    #[inline]
    pub(crate) fn frame(&self) -> &Pose {
        &self.frame
    }

    /// Squared lower bounds on the distance from each box to `other`, a cell in a frame of its
    /// own that `here` takes into the node's. Lanes past [`Node::count`] are meaningless.
    ///
    /// Each bound is the better of two: between this box and the box around `other` along this
    /// node's axes, and the reverse.
    #[inline]
    pub(crate) fn bounds(&self, other: &Cell, here: &Pose) -> [f64; WIDTH] {
        let seen = other.seen_from(here);
        let mut forward = [0.0; WIDTH];
        for axis in 0..3 {
            let (at, reach) = (seen.centre[axis], seen.half[axis]);
            for lane in 0..WIDTH {
                let apart = (self.centre[axis][lane] - at).abs() - self.half[axis][lane] - reach;
                let apart = apart.max(0.0);
                forward[lane] += apart * apart;
            }
        }
        let mut reverse = [0.0; WIDTH];
        for axis in 0..3 {
            // The other frame's axis, seen from here.
            let along = [here.turn[(0, axis)], here.turn[(1, axis)], here.turn[(2, axis)]];
            let spread = along.map(f64::abs);
            let start =
                along[0] * here.shift[0] + along[1] * here.shift[1] + along[2] * here.shift[2];
            let (at, reach) = (start + other.centre[axis], other.half[axis]);
            for lane in 0..WIDTH {
                let centre = along[0] * self.centre[0][lane]
                    + along[1] * self.centre[1][lane]
                    + along[2] * self.centre[2][lane];
                let half = spread[0] * self.half[0][lane]
                    + spread[1] * self.half[1][lane]
                    + spread[2] * self.half[2][lane];
                let apart = ((centre - at).abs() - half - reach).max(0.0);
                reverse[lane] += apart * apart;
            }
        }
        for lane in 0..WIDTH {
            forward[lane] = forward[lane].max(reverse[lane]);
        }
        forward
    }

    /// Squared lower bounds on the distance from each box to a point of the body's frame.
    #[inline]
    pub(crate) fn bounds_to(&self, point: &Point3<f64>) -> [f64; WIDTH] {
        let point = self.frame.take_back(point);
        let mut bound = [0.0; WIDTH];
        for axis in 0..3 {
            for lane in 0..WIDTH {
                let apart = (self.centre[axis][lane] - point[axis]).abs() - self.half[axis][lane];
                let apart = apart.max(0.0);
                bound[lane] += apart * apart;
            }
        }
        bound
    }
}

/// The flattened tree. Child triangles are slots in leaf order, not indices of the mesh.
#[derive(Debug, Clone)]
pub(crate) struct Tree {
    nodes: Vec<Node>,
    root: Cell,
    /// Covers the rounding of boxes against points of the body's frame, millimetres.
    slack: f64,
}

impl Tree {
    /// Builds the tree over `triangles`, which must be finite and at least one; returns it with
    /// the triangle index of each slot.
    pub(crate) fn build(triangles: &[Triangle]) -> (Self, Vec<u32>) {
        let boxes: Vec<Aabb> = triangles.iter().map(box_around).collect();
        let hierarchy = Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes);
        let root = cell_of(&hierarchy.root_aabb());
        let slack = 256.0 * f64::EPSILON * (root.centre.amax() + root.half.amax());
        let mut tree = Self { nodes: vec![Node::empty()], root, slack };
        let mut slots = Vec::with_capacity(triangles.len());
        let mut first_slot = vec![0];
        // Nodes still to fill, each with the branch of parry's tree that it stands for. Taking
        // the last one makes the slots below any node one run.
        let mut open: Vec<(usize, Option<BvhNodeIndex>)> = vec![(0, None)];
        while let Some((place, branch)) = open.pop() {
            first_slot[place] = slots.len();
            for twig in widen(&hierarchy, branch) {
                let child = if let Some(triangle) = twig.leaf {
                    slots.push(triangle);
                    Child(LEAF | index(slots.len() - 1))
                } else {
                    tree.nodes.push(Node::empty());
                    first_slot.push(0);
                    open.push((tree.nodes.len() - 1, Some(twig.branch)));
                    Child(index(tree.nodes.len() - 1))
                };
                tree.nodes[place].push(child);
            }
        }
        let in_order: Vec<Triangle> = slots.iter().map(|t| triangles[*t as usize]).collect();
        tree.fit(&first_slot, &in_order);
        (tree, slots)
    }

    /// Gives every node its frame and its boxes, from the triangles in slot order.
    fn fit(&mut self, first_slot: &[usize], triangles: &[Triangle]) {
        let mut below = vec![0_usize; self.nodes.len()];
        // A node comes before its children.
        for place in (0..self.nodes.len()).rev() {
            let node = &self.nodes[place];
            let counts = node.child[..node.count].iter().map(|child| match child.triangle() {
                Some(_) => 1,
                None => below[child.0 as usize],
            });
            below[place] = counts.sum();
            let groups: Vec<&[Triangle]> = node.child[..node.count]
                .iter()
                .map(|child| {
                    if let Some(slot) = child.triangle() {
                        return &triangles[slot..=slot];
                    }
                    let first = first_slot[child.0 as usize];
                    &triangles[first..first + below[child.0 as usize]]
                })
                .collect();
            let first = first_slot[place];
            let frame = closest_frame(&triangles[first..first + below[place]], &groups);
            let cells: Vec<Cell> = groups.iter().map(|group| cell_in(&frame, group, 1)).collect();
            let node = &mut self.nodes[place];
            node.frame = frame;
            for (lane, cell) in cells.iter().enumerate() {
                node.set_cell(lane, cell);
            }
        }
    }

    #[inline]
    pub(crate) fn node(&self, child: Child) -> &Node {
        &self.nodes[child.0 as usize]
    }

    /// Along the body's axes.
    pub(crate) fn root(&self) -> &Cell {
        &self.root
    }

    /// Calls `visit` with every triangle slot whose box holds the point, until it returns false.
    pub(crate) fn at_point(&self, point: &Point3<f64>, visit: impl FnMut(usize) -> bool) {
        self.along_ray(point, &Vector3::zeros(), 0.0, visit);
    }

    /// Calls `visit` with every triangle slot whose box meets the segment from `origin` along
    /// `direction` as far as `length` times it, until `visit` returns false.
    pub(crate) fn along_ray(
        &self,
        origin: &Point3<f64>,
        direction: &Vector3<f64>,
        length: f64,
        mut visit: impl FnMut(usize) -> bool,
    ) {
        let slack = self.slack + 256.0 * f64::EPSILON * (origin.coords.amax() + length);
        let mut open = vec![Child::ROOT];
        while let Some(next) = open.pop() {
            if let Some(slot) = next.triangle() {
                if !visit(slot) {
                    return;
                }
                continue;
            }
            let node = self.node(next);
            let from = node.frame.take_back(origin);
            let along = node.frame.turn.tr_mul(direction);
            for lane in 0..node.count() {
                if node.cell(lane).meets_segment(&from, &along, length, slack) {
                    open.push(node.child(lane));
                }
            }
        }
    }
}

impl Cell {
    /// Whether the cell, grown by `slack`, meets the segment from `from` as far as `length` times
    /// `along`. By the separating axes of a box and a segment but for the cross products.
    fn meets_segment(
        &self,
        from: &Point3<f64>,
        along: &Vector3<f64>,
        length: f64,
        slack: f64,
    ) -> bool {
        let (mut enter, mut leave) = (0.0_f64, length);
        for axis in 0..3 {
            let to_centre = self.centre[axis] - from[axis];
            let reach = self.half[axis] + slack;
            let step = along[axis];
            // Within its rounding of square to the axis: the segment's drift is below the slack.
            if (step * length).abs() <= slack {
                if to_centre.abs() > reach + slack {
                    return false;
                }
                continue;
            }
            let (x, y) = ((to_centre - reach) / step, (to_centre + reach) / step);
            enter = enter.max(x.min(y));
            leave = leave.min(x.max(y));
        }
        enter <= leave
    }
}

/// Triangles looked at per box to choose a frame.
const LOOKED_AT: usize = 64;

/// The frame, of a few likely ones, in which the boxes around the groups have the least surface.
fn closest_frame(all: &[Triangle], groups: &[&[Triangle]]) -> Pose {
    let mut normals = Matrix3::zeros();
    let mut edges = Matrix3::zeros();
    let mut longest = (0.0, Vector3::zeros(), Vector3::zeros());
    for t in all.iter().step_by(all.len() / (8 * LOOKED_AT) + 1) {
        let sides = [t[1] - t[0], t[2] - t[1], t[0] - t[2]];
        let normal = sides[0].cross(&sides[1]);
        let area = normal.norm();
        if area > 0.0 {
            normals += normal * normal.transpose() / area;
        }
        for side in sides {
            let length = side.norm();
            if length > 0.0 {
                edges += side * side.transpose() / length.sqrt();
            }
            if length > longest.0 {
                longest = (length, side, normal);
            }
        }
    }
    let turns = [principal(normals), principal(edges), turn_along(longest.1, longest.2)];
    let mut best = Pose::identity();
    let mut least = surface_in(&best, groups);
    for turn in turns.into_iter().flatten() {
        let frame = Pose { turn, shift: Vector3::zeros() };
        let surface = surface_in(&frame, groups);
        // Only for a gain beyond rounding: the body's own axes are the exact ones.
        if surface < 0.999 * least {
            (best, least) = (frame, surface);
        }
    }
    best
}

/// The summed surface of the boxes, with a little for their lengths so that flat ones compare.
fn surface_in(frame: &Pose, groups: &[&[Triangle]]) -> f64 {
    groups
        .iter()
        .map(|group| {
            let half = cell_in(frame, group, group.len() / LOOKED_AT + 1).half;
            half.x * half.y + half.y * half.z + half.z * half.x + 1e-6 * half.sum()
        })
        .sum()
}

/// The cell along the frame's axes around every `step`th triangle.
fn cell_in(frame: &Pose, triangles: &[Triangle], step: usize) -> Cell {
    let mut low = Vector3::repeat(f64::INFINITY);
    let mut high = -low;
    for corner in triangles.iter().step_by(step).flatten() {
        let corner = frame.take_back(corner).coords;
        low = low.inf(&corner);
        high = high.sup(&corner);
    }
    Cell::spanning(low, high)
}

/// The principal axes of a symmetric matrix as a rotation.
fn principal(matrix: Matrix3<f64>) -> Option<Matrix3<f64>> {
    let mut axes = matrix.try_symmetric_eigen(f64::EPSILON, 100)?.eigenvectors;
    if axes.determinant() < 0.0 {
        axes.neg_mut();
    }
    let off = (axes.tr_mul(&axes) - Matrix3::identity()).amax();
    (off < 1e-14).then_some(axes)
}

/// A rotation with its first axis along `first` and the third as near `third` as can be.
fn turn_along(first: Vector3<f64>, third: Vector3<f64>) -> Option<Matrix3<f64>> {
    let x = first.try_normalize(f64::MIN_POSITIVE)?;
    let y = third.cross(&x).try_normalize(f64::MIN_POSITIVE)?;
    let axes = Matrix3::from_columns(&[x, y, x.cross(&y)]);
    let off = (axes.tr_mul(&axes) - Matrix3::identity()).amax();
    (off < 1e-14).then_some(axes)
}

/// One branch of parry's tree.
struct Twig {
    branch: BvhNodeIndex,
    bounds: Aabb,
    leaf: Option<u32>,
}

/// The branches below `branch`, opened largest first until there are [`WIDTH`] of them.
fn widen(hierarchy: &Bvh, branch: Option<BvhNodeIndex>) -> Vec<Twig> {
    let mut twigs = below(hierarchy, branch);
    while twigs.len() < WIDTH {
        let largest = twigs
            .iter()
            .enumerate()
            .filter(|(_, twig)| twig.leaf.is_none())
            .max_by(|(_, x), (_, y)| surface(&x.bounds).total_cmp(&surface(&y.bounds)))
            .map(|(place, _)| place);
        let Some(place) = largest else { break };
        let opened = twigs.swap_remove(place);
        twigs.extend(below(hierarchy, Some(opened.branch)));
    }
    twigs
}

/// The one or two branches right below `branch`, or at the top of the tree.
fn below(hierarchy: &Bvh, branch: Option<BvhNodeIndex>) -> Vec<Twig> {
    let mut twigs = Vec::with_capacity(WIDTH);
    hierarchy.traverse_indexed(branch, |node, here| {
        if Some(here) == branch {
            return TraversalAction::Continue;
        }
        twigs.push(Twig { branch: here, bounds: node.aabb(), leaf: node.leaf_data() });
        TraversalAction::Prune
    });
    twigs
}

fn surface(bounds: &Aabb) -> f64 {
    let side = bounds.maxs - bounds.mins;
    side.x * side.y + side.y * side.z + side.z * side.x
}

fn box_around(triangle: &Triangle) -> Aabb {
    let low = triangle[0].inf(&triangle[1]).inf(&triangle[2]);
    let high = triangle[0].sup(&triangle[1]).sup(&triangle[2]);
    Aabb::new(Vector::new(low.x, low.y, low.z), Vector::new(high.x, high.y, high.z))
}

fn cell_of(bounds: &Aabb) -> Cell {
    let (low, high) = (bounds.mins, bounds.maxs);
    Cell::spanning(Vector3::new(low.x, low.y, low.z), Vector3::new(high.x, high.y, high.z))
}

/// Places in the tree fit `u32`: a body has fewer than 2^31 triangles.
fn index(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}
