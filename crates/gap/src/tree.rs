//! The hierarchy: eight boxes to a node, each node with a frame of its own in which its boxes fit
//! closely. Boxes along the axes of the body alone would be large around long thin triangles that
//! lie across them, and the search many times slower.
//!
//! Boxes are single precision, rounded outward, about the node's own origin, so that their
//! rounding shrinks with the node. They only ever decide what need not be looked at; every
//! distance and every crossing comes from the triangles in double precision.

#![expect(
    clippy::cast_possible_truncation,
    reason = "single precision on purpose; what must be outward is rounded outward"
)]

mod build;
mod frame;

use nalgebra::{Matrix3, Point3, Vector3};

use crate::pose::Pose;
use crate::quad::Quad;

/// Boxes per node.
pub(crate) const WIDTH: usize = 8;
/// Triangles from which on a body is prepared by several threads. The outcome is the same.
pub(crate) const WORTH_A_THREAD: usize = 8192;
/// One number per box.
pub(crate) type Lanes = [f32; WIDTH];
/// Marks a child that is a triangle, not a node.
const LEAF: u32 = 1 << 31;
/// What single-precision rounding can add to a coordinate in a node's frame, relative to the
/// lengths that went into it: some ten roundings of 6e-8.
pub(crate) const GRAIN: f32 = 1e-6;

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

    /// The cell around this one along the axes of another frame.
    #[inline]
    pub(crate) fn seen_from(&self, pose: &Pose) -> Self {
        Self { centre: pose.turn * self.centre + pose.shift, half: pose.turn.abs() * self.half }
    }
}

/// What a child of a node is: a node or a triangle slot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Child(pub(crate) u32);

impl Child {
    pub(crate) const ROOT: Self = Self(0);

    /// The triangle slot, if the child is a triangle.
    #[inline]
    pub(crate) fn triangle(self) -> Option<usize> {
        (self.0 & LEAF != 0).then_some((self.0 & !LEAF) as usize)
    }
}

/// Takes a body's coordinates into a node's: `x = turn (v - origin)`. The turn is a rotation to
/// within single precision; the boxes hold the triangles as this very map takes them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    /// By the body's axes: the components along the node's three axes, and of the origin.
    columns: [Quad<f32>; 3],
}

impl Frame {
    fn new(axes: &[[f32; 3]; 3], origin: [f32; 3]) -> Self {
        let column = |i: usize| Quad([axes[0][i], axes[1][i], axes[2][i], origin[i]]);
        Self { columns: [column(0), column(1), column(2)] }
    }

    /// A node's axis, seen from the body.
    #[inline(always)]
    pub(crate) fn axis(&self, k: usize) -> [f32; 3] {
        [self.columns[0].0[k], self.columns[1].0[k], self.columns[2].0[k]]
    }

    #[inline(always)]
    pub(crate) fn origin(&self) -> [f32; 3] {
        self.axis(3)
    }

    /// Turns a direction of the body into the node's frame.
    #[inline(always)]
    pub(crate) fn turned(&self, v: Quad<f32>) -> Quad<f32> {
        Quad::combined(&self.columns, v.0[0], v.0[1], v.0[2])
    }

    /// Takes a point of the body into the node's frame in single precision.
    #[inline(always)]
    pub(crate) fn take_single(&self, point: Quad<f64>) -> Quad<f32> {
        let [x, y, z] = self.origin();
        let origin = Quad([f64::from(x), f64::from(y), f64::from(z), 0.0]);
        self.turned(point.less(origin).single())
    }

    #[inline(always)]
    pub(crate) fn take(&self, point: &Point3<f64>) -> [f64; 3] {
        let [x, y, z] = self.origin();
        self.turn(&[point.x - f64::from(x), point.y - f64::from(y), point.z - f64::from(z)])
    }

    #[inline(always)]
    fn turn(&self, v: &[f64; 3]) -> [f64; 3] {
        let along = |k: usize| {
            let [x, y, z] = self.axis(k);
            f64::from(x) * v[0] + f64::from(y) * v[1] + f64::from(z) * v[2]
        };
        [along(0), along(1), along(2)]
    }

    /// As a pose from the node's frame into the body's, true to single precision.
    pub(crate) fn pose(&self) -> Pose {
        let axis = |k: usize| Vector3::from(self.axis(k).map(f64::from));
        Pose { turn: Matrix3::from_columns(&[axis(0), axis(1), axis(2)]), shift: axis(3) }
    }
}

/// Up to [`WIDTH`] boxes, one array per coordinate, in the node's own frame. Its children are all
/// nodes or all triangles, and stand one after the other.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    centre: [Lanes; 3],
    half: [Lanes; 3],
    pub(crate) frame: Frame,
    /// Half extents of the box about the origin that holds everything below.
    pub(crate) reach: Quad<f32>,
    /// The first child.
    first: u32,
    count: u32,
}

/// Another body's node or triangle as a node's boxes see it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Seen {
    /// Axes of the other frame, by components along this node's axes.
    pub(crate) axes: [Quad<f32>; 3],
    /// The other's origin, the centre of its box.
    pub(crate) at: Quad<f32>,
    /// Half extents along the other's axes.
    pub(crate) reach: Quad<f32>,
}

impl Node {
    #[inline]
    pub(crate) fn count(&self) -> usize {
        self.count as usize
    }

    #[inline]
    pub(crate) fn child(&self, lane: usize) -> Child {
        Child(self.first + lane as u32)
    }

    /// The triangle slot of a lane of a node over triangles.
    #[inline]
    pub(crate) fn slot(&self, lane: usize) -> usize {
        (self.first & !LEAF) as usize + lane
    }

    /// Whether its children are triangles.
    #[inline]
    pub(crate) fn is_last(&self) -> bool {
        self.first & LEAF != 0
    }

    /// A measure of size to choose which of two nodes to open.
    #[inline]
    pub(crate) fn size(&self) -> f32 {
        self.reach.sum()
    }

    /// In the node's frame.
    #[inline]
    pub(crate) fn cell(&self, lane: usize) -> Cell {
        let at =
            |block: &[Lanes; 3]| Vector3::from(std::array::from_fn(|k| f64::from(block[k][lane])));
        Cell { centre: at(&self.centre), half: at(&self.half) }
    }

    /// Squared lower bounds on the distance from each box to the other's box. Lanes past
    /// [`Node::count`] are meaningless.
    ///
    /// Each bound is the better of two: between this box and the box around the other along this
    /// node's axes, and the reverse.
    #[inline(always)]
    pub(crate) fn bounds(&self, other: &Seen) -> Lanes {
        let grain = GRAIN * (self.reach.sum() + other.reach.sum() + other.at.abs().sum());
        let [x, y, z] = &other.axes;
        let [rx, ry, rz, _] = other.reach.0;
        let reaches = Quad::combined(&[x.abs(), y.abs(), z.abs()], rx, ry, rz);
        let mut forward = [0.0_f32; WIDTH];
        for k in 0..3 {
            let reach = reaches.0[k] + grain;
            let at = other.at.0[k];
            for lane in 0..WIDTH {
                let apart = (self.centre[k][lane] - at).abs() - (self.half[k][lane] + reach);
                let apart = if apart > 0.0 { apart } else { 0.0 };
                forward[lane] += apart * apart;
            }
        }
        let mut reverse = [0.0_f32; WIDTH];
        for axis in 0..3 {
            let along = other.axes[axis].0;
            let spread = other.axes[axis].abs().0;
            let reach = other.reach.0[axis] + grain;
            let start = other.axes[axis].dot(other.at);
            for lane in 0..WIDTH {
                let centre = along[0] * self.centre[0][lane]
                    + along[1] * self.centre[1][lane]
                    + along[2] * self.centre[2][lane];
                let half = spread[0] * self.half[0][lane]
                    + spread[1] * self.half[1][lane]
                    + spread[2] * self.half[2][lane];
                let apart = (centre - start).abs() - (half + reach);
                let apart = if apart > 0.0 { apart } else { 0.0 };
                reverse[lane] += apart * apart;
            }
        }
        for lane in 0..WIDTH {
            if reverse[lane] > forward[lane] {
                forward[lane] = reverse[lane];
            }
        }
        forward
    }

    /// Squared lower bounds on the distance from each box to a triangle by its corners in the
    /// node's frame: along the node's axes and along the triangle's normal.
    #[inline(always)]
    pub(crate) fn bounds_to_triangle(&self, corners: &[Quad<f32>; 3]) -> Lanes {
        let [a, b, c] = corners;
        let mut forward = [0.0_f32; WIDTH];
        let far = a.abs().sum().max(b.abs().sum()).max(c.abs().sum());
        let grain = GRAIN * (self.reach.sum() + far);
        for k in 0..3 {
            let low = a.0[k].min(b.0[k]).min(c.0[k]) - grain;
            let high = a.0[k].max(b.0[k]).max(c.0[k]) + grain;
            for lane in 0..WIDTH {
                let (centre, half) = (self.centre[k][lane], self.half[k][lane]);
                let above = (centre - half) - high;
                let below = low - (centre + half);
                let apart = if above > below { above } else { below };
                let apart = if apart > 0.0 { apart } else { 0.0 };
                forward[lane] += apart * apart;
            }
        }
        let normal = b.less(*a).cross(c.less(*a));
        let squared = normal.dot(normal);
        // Any direction gives a bound; one too short for a precise square gives none.
        let per = if squared > 1e-30 { 1.0 / squared.sqrt() } else { 0.0 };
        let normal = normal.times(per);
        let spread = normal.abs().0;
        let heights = [normal.dot(*a), normal.dot(*b), normal.dot(*c)];
        let normal = normal.0;
        let low = heights[0].min(heights[1]).min(heights[2]) - grain;
        let high = heights[0].max(heights[1]).max(heights[2]) + grain;
        for lane in 0..WIDTH {
            let centre = normal[0] * self.centre[0][lane]
                + normal[1] * self.centre[1][lane]
                + normal[2] * self.centre[2][lane];
            let half = spread[0] * self.half[0][lane]
                + spread[1] * self.half[1][lane]
                + spread[2] * self.half[2][lane];
            let above = (centre - half) - high;
            let below = low - (centre + half);
            let apart = if above > below { above } else { below };
            let apart = if apart > 0.0 { apart } else { 0.0 };
            let squared = apart * apart;
            if squared > forward[lane] {
                forward[lane] = squared;
            }
        }
        forward
    }

    /// Which boxes, grown by `slack`, meet the segment from `from` as far as `length` times `along`. By
    /// the separating axes of a box and a segment but for the cross products. Lanes past
    /// [`Node::count`] are meaningless.
    fn on_segment(
        &self,
        from: &Point3<f64>,
        along: &Vector3<f64>,
        length: f64,
        slack: f64,
    ) -> [bool; WIDTH] {
        let (mut enter, mut leave) = ([0.0_f64; WIDTH], [length; WIDTH]);
        for axis in 0..3 {
            let (centre, half) = (&self.centre[axis], &self.half[axis]);
            let (start, step) = (from[axis], along[axis]);
            // Within its rounding of square to the axis: the segment's drift is below the slack.
            if (step * length).abs() <= slack {
                for lane in 0..WIDTH {
                    let away = (f64::from(centre[lane]) - start).abs();
                    let is_off = away > f64::from(half[lane]) + 2.0 * slack;
                    leave[lane] = if is_off { -1.0 } else { leave[lane] };
                }
                continue;
            }
            let per = 1.0 / step;
            for lane in 0..WIDTH {
                let to_centre = f64::from(centre[lane]) - start;
                let reach = f64::from(half[lane]) + slack;
                let (x, y) = ((to_centre - reach) * per, (to_centre + reach) * per);
                let (first, last) = if x < y { (x, y) } else { (y, x) };
                enter[lane] = if first > enter[lane] { first } else { enter[lane] };
                leave[lane] = if last < leave[lane] { last } else { leave[lane] };
            }
        }
        let mut met = [false; WIDTH];
        for lane in 0..WIDTH {
            met[lane] = enter[lane] <= leave[lane];
        }
        met
    }

    /// Squared lower bounds on the distance from each box to a point of the body's frame.
    #[inline(always)]
    pub(crate) fn bounds_to(&self, point: &Point3<f64>) -> Lanes {
        let point = self.frame.take_single(Quad([point.x, point.y, point.z, 0.0]));
        let grain = GRAIN * (self.reach.sum() + point.abs().sum());
        let point = point.0;
        let mut bound = [0.0_f32; WIDTH];
        for k in 0..3 {
            for lane in 0..WIDTH {
                let apart = (self.centre[k][lane] - point[k]).abs() - (self.half[k][lane] + grain);
                let apart = if apart > 0.0 { apart } else { 0.0 };
                bound[lane] += apart * apart;
            }
        }
        bound
    }
}

/// The squared limit in single precision that no bound of something within it exceeds.
#[inline]
pub(crate) fn outward(squared: f64) -> f32 {
    // Covers the rounding of the bound's last operations and of the frame's turn.
    ((squared * (1.0 + 4.0 * f64::from(GRAIN))) as f32).max(f32::MIN_POSITIVE)
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
    #[inline]
    pub(crate) fn node(&self, child: Child) -> &Node {
        &self.nodes[child.0 as usize]
    }

    /// Along the body's axes.
    pub(crate) fn root(&self) -> &Cell {
        &self.root
    }

    /// Bytes it takes.
    pub(crate) fn bytes(&self) -> usize {
        self.nodes.capacity() * size_of::<Node>()
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
        // The maps into the nodes' frames are linear, so that the segment's image is a segment
        // whatever the rounding of their turns; what is left is double-precision rounding.
        let slack = self.slack + 256.0 * f64::EPSILON * (origin.coords.amax() + length);
        let mut open = Vec::with_capacity(64);
        open.push(Child::ROOT);
        while let Some(next) = open.pop() {
            if let Some(slot) = next.triangle() {
                if !visit(slot) {
                    return;
                }
                continue;
            }
            let node = self.node(next);
            let from = Point3::from(node.frame.take(origin));
            let along = Vector3::from(node.frame.turn(&[direction.x, direction.y, direction.z]));
            let met = node.on_segment(&from, &along, length, slack);
            for lane in 0..node.count() {
                if met[lane] {
                    open.push(node.child(lane));
                }
            }
        }
    }
}
