//! The deepest point of one body's surface inside another.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use nalgebra::{Matrix3, Point3, Vector3};

use crate::lanes::{BATCH, Points};
use crate::pose::Pose;
use crate::solid::{Bounds, Ready, Undecided};
use crate::tree::Child;
use crate::triangle::{Triangle, nearest_to_point};

/// Points that the search may look up after its start.
const EFFORT: usize = 400;
/// The same where a depth is named that is enough: then a bound is wanted, not the deepest.
const LITTLE_EFFORT: usize = 300;
/// Triangles that it starts from where it does.
const STARTS: usize = 64;
/// Depth to be beaten, mm, from which on it begins without them: it is mostly done sooner.
const DEEP: f64 = 2.0;
/// Triangles of the holder to which samples were near lately that are tried for others.
const LATELY: usize = 2;
/// Covers rounding where two distances are compared.
const NEARER: f64 = 0.999;

/// A point of one surface inside the other body.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sample {
    pub(crate) depth: f64,
    pub(crate) at: Point3<f64>,
    /// The nearest point of the other body's surface.
    pub(crate) surface: Point3<f64>,
}

impl Sample {
    pub(crate) fn moved_by(self, pose: &Pose) -> Self {
        Self { at: pose.apply(&self.at), surface: pose.apply(&self.surface), ..self }
    }
}

/// What is known of a point: its distance to the holder's surface and the triangle nearest to it.
#[derive(Clone, Copy)]
struct Known {
    at: Point3<f64>,
    distance: f64,
    /// Slot of the holder.
    nearest: usize,
    inside: Result<bool, Undecided>,
}

/// A box of the guest's tree, or a triangle, by the greatest depth that a point in it can have.
#[derive(Clone, Copy)]
struct Branch {
    ceiling: f64,
    child: Child,
    /// Place in the list of boxes.
    place: usize,
}

/// The box of a branch.
#[derive(Clone, Copy)]
struct Around {
    centre: Point3<f64>,
    /// Half the box's sides; in the frame of the holder.
    half: Matrix3<f64>,
    /// Of the middle of a box around this one.
    above: Known,
}

impl Ord for Branch {
    fn cmp(&self, other: &Self) -> Ordering {
        self.ceiling.total_cmp(&other.ceiling).then(other.child.cmp(&self.child))
    }
}
impl PartialOrd for Branch {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl PartialEq for Branch {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Branch {}

/// The search for the deepest sample of `guest` inside `holder`, in the frame of `holder`: branch
/// and bound over the guest's tree, deepest possible branch first. It ends when nothing deeper can
/// be left, when a sample is `enough` deep, or when its effort is spent. Where no depth is known, and where
/// its effort does not suffice, it goes on from the places where the surfaces cross, since the parts inside
/// begin there.
///
/// No point of a box is deeper than it is far from any one triangle of the holder, and that
/// distance is greatest at a corner of the box, since a triangle is convex. A box is first bounded
/// by the triangle nearest to the middle of the box above it, and looked up itself only when its
/// turn comes.
pub(crate) struct Dive<'s> {
    holder: &'s Ready,
    guest: &'s Ready,
    holder_from_guest: &'s Pose,
    enough: f64,
    /// Whether a depth is known so that it begins without starts.
    is_deep: bool,
    /// No sample is deeper than this, by the boxes around the bodies and but for rounding.
    most: f64,
    best: Option<Sample>,
    /// Of the best sample, or to be beaten.
    depth: f64,
    /// Points looked up so far.
    spent: usize,
    /// Points whose side was found last, one outside and one inside, with how far from the holder's
    /// surface they are at least.
    settled: [Option<(Point3<f64>, f64)>; 2],
    /// Slots of the holder to which samples were found to be near lately.
    lately: [usize; LATELY],
    open: BinaryHeap<Branch>,
    boxes: Vec<Around>,
}

impl<'s> Dive<'s> {
    /// Looks for a sample deeper than `beaten`. `slack` is what rounding can make of a depth.
    pub(crate) fn new(
        [holder, guest]: [&'s Ready; 2],
        holder_from_guest: &'s Pose,
        (beaten, enough): (f64, f64),
        slack: f64,
    ) -> Self {
        let open = BinaryHeap::new();
        Self {
            holder,
            guest,
            holder_from_guest,
            enough,
            is_deep: beaten > DEEP,
            most: most(holder, guest, holder_from_guest) - slack,
            best: None,
            depth: beaten,
            spent: 0,
            settled: [None; 2],
            lately: [0; LATELY],
            open,
            boxes: Vec::new(),
        }
    }

    /// The deepest sample found. `crossing` are the slots of triangles of the guest that cross the
    /// holder's surface, some or all, each with that of one of the holder that it crosses; not asked for
    /// where the search ends without them.
    pub(crate) fn deepest<C>(mut self, crossing: impl FnOnce() -> C) -> Option<Sample>
    where
        C: Iterator<Item = [usize; 2]>,
    {
        if self.is_deep_enough() {
            return None;
        }
        let root = self.guest.tree.root();
        let centre = self.holder_from_guest.apply(&Point3::from(root.centre));
        let known = self.look_up(&centre, None)?;
        if self.is_deep {
            self.expand(Child::ROOT, &known);
            if self.dig() {
                return self.best;
            }
        }
        let mut starts: Vec<[usize; 2]> = crossing().collect();
        starts.sort_unstable();
        starts.dedup_by_key(|[slot, _]| *slot);
        for [slot, nearest] in starts.iter().step_by(starts.len().div_ceil(STARTS).max(1)) {
            self.sample(*slot, &known, *nearest);
            if self.is_deep_enough() {
                return self.best;
            }
        }
        if !self.is_deep {
            self.expand(Child::ROOT, &known);
        }
        self.dig();
        self.best
    }

    /// Takes the branches as far as the effort goes; whether nothing deeper is left or wanted.
    fn dig(&mut self) -> bool {
        self.spent = 0;
        let effort = if self.enough.is_finite() { LITTLE_EFFORT } else { EFFORT };
        while let Some(branch) = self.open.pop() {
            if branch.ceiling <= self.depth || self.is_deep_enough() {
                return true;
            }
            if self.spent > effort {
                self.open.push(branch);
                return false;
            }
            self.take(&branch);
        }
        true
    }

    /// Whether no deeper sample is wanted, or none can be.
    fn is_deep_enough(&self) -> bool {
        self.depth >= self.enough || (self.depth > 0.0 && self.depth >= self.most)
    }

    /// Distance and side of a point, by what is known of one near it.
    fn look_up(&mut self, point: &Point3<f64>, near: Option<&Known>) -> Option<Known> {
        self.spent += 1;
        let cap = near.map_or(f64::INFINITY, |near| self.apart(point, near.nearest));
        let (distance, nearest) = match (self.holder.nearest_slot(point, cap), near) {
            (Some((slot, distance)), _) => (distance, slot),
            (None, Some(near)) => (cap, near.nearest),
            (None, None) => return None,
        };
        // No surface lies between points nearer to one another than to the surface.
        let same_side =
            |near: &&Known| (point - near.at).norm() < NEARER * near.distance.max(distance);
        let inside = near
            .filter(same_side)
            .map_or_else(|| self.is_inside(point, distance), |near| near.inside);
        Some(Known { at: *point, distance, nearest, inside })
    }

    /// Whether a point at least so far from the holder's surface is inside.
    fn is_inside(&mut self, point: &Point3<f64>, distance: f64) -> Result<bool, Undecided> {
        let same_side = |settled: &Option<(Point3<f64>, f64)>| {
            settled.is_some_and(|(at, far)| (point - at).norm() < NEARER * far.max(distance))
        };
        if let Some(inside) = self.settled.iter().position(same_side) {
            return Ok(inside == 1);
        }
        let inside = self.holder.is_inside(point);
        // About an open surface the winding number changes away from it too.
        if self.holder.is_whole()
            && let Ok(inside) = inside
        {
            self.settled[usize::from(inside)] = Some((*point, distance));
        }
        inside
    }

    fn apart(&self, point: &Point3<f64>, slot: usize) -> f64 {
        (nearest_to_point(point, &self.holder.soup.corners(slot)) - point).norm()
    }

    fn take(&mut self, branch: &Branch) {
        let Around { centre, half, above } = self.boxes[branch.place];
        if let Some(slot) = branch.child.triangle() {
            self.sample(slot, &above, above.nearest);
            return;
        }
        let Some(known) = self.look_up(&centre, Some(&above)) else { return };
        let radius = half.norm();
        let by_way = match known.inside {
            Ok(false) => radius - known.distance,
            Ok(true) | Err(_) => radius + known.distance,
        };
        let ceiling = branch.ceiling.min(by_way).min(self.ceiling(&centre, &half, known.nearest));
        if ceiling > self.depth {
            self.expand(branch.child, &known);
        }
    }

    /// Opens the children of a node of which a point is known.
    fn expand(&mut self, child: Child, known: &Known) {
        let node = self.guest.tree.node(child);
        let pose = self.holder_from_guest.after(&node.frame.pose());
        for lane in 0..node.count() {
            let cell = node.cell(lane);
            let seen = cell.seen_from(&pose);
            let (low, high) = (self.holder.bounds.low.coords, self.holder.bounds.high.coords);
            let apart = |axis: usize| {
                seen.centre[axis] + seen.half[axis] < low[axis]
                    || seen.centre[axis] - seen.half[axis] > high[axis]
            };
            if (0..3).any(apart) {
                continue;
            }
            let centre = Point3::from(seen.centre);
            let half = pose.turn * Matrix3::from_diagonal(&cell.half);
            let ceiling = self.ceiling(&centre, &half, known.nearest);
            if ceiling > self.depth {
                let child = node.child(lane);
                self.open.push(Branch { ceiling, child, place: self.boxes.len() });
                self.boxes.push(Around { centre, half, above: *known });
            }
        }
    }

    /// The greatest distance of a point of a box from a triangle of the holder.
    fn ceiling(&self, centre: &Point3<f64>, half: &Matrix3<f64>, slot: usize) -> f64 {
        let [x, y, z] = [0, 1, 2].map(|side| Vector3::from(half.column(side)));
        let corners = [-x, x].map(|x| [-y, y].map(|y| [-z, z].map(|z| centre + (z + (y + x)))));
        let corners = corners.into_iter().flatten().flatten();
        let squared = Points::of(corners).squared_from(&self.holder.soup.corners(slot));
        squared.into_iter().fold(0.0, f64::max).sqrt()
    }

    /// Looks at the samples of a triangle of the guest, by what is known of a point near it and by a
    /// triangle of the holder near it. Most are not deep, so that no more than that is asked for first.
    fn sample(&mut self, slot: usize, above: &Known, mut nearest: usize) {
        let corners = self.holder_from_guest.apply_all(&self.guest.soup.corners(slot));
        let samples = samples(&corners);
        let lanes = Points::of(samples);
        let held = [0, 1, 2, 3, 4, 5, 6].map(|lane| self.holder.bounds.hold(&samples[lane]));
        // No farther than this from some triangle.
        let mut squared = lanes.squared_from(&self.holder.soup.corners(nearest));
        let far = |squared: &[f64; BATCH], depth: f64| {
            (0..samples.len()).any(|lane| held[lane] && squared[lane].sqrt() > depth)
        };
        let lately: &[usize] = if self.is_deep { &self.lately } else { &[] };
        for slot in lately {
            if !far(&squared, self.depth) {
                return;
            }
            let other = lanes.squared_from(&self.holder.soup.corners(*slot));
            for lane in 0..samples.len() {
                squared[lane] = squared[lane].min(other[lane]);
            }
        }
        for lane in 0..samples.len() {
            // Where depths are great, what is found at the centroid mostly tells enough of the others.
            let lane = if self.is_deep { samples.len() - 1 - lane } else { lane };
            let point = &samples[lane];
            if !held[lane] || squared[lane].sqrt() <= self.depth {
                continue;
            }
            self.spent += 1;
            if let Some(slot) = self.holder.any_within(point, self.depth) {
                nearest = slot;
                self.lately.rotate_right(1);
                self.lately[0] = slot;
                let other = lanes.squared_from(&self.holder.soup.corners(slot));
                for lane in 0..samples.len() {
                    squared[lane] = squared[lane].min(other[lane]);
                }
                continue;
            }
            let same_side = (point - above.at).norm() < NEARER * above.distance;
            let inside = if same_side { above.inside } else { self.is_inside(point, self.depth) };
            if inside == Ok(true)
                && let Some(known) = self.look_up(point, Some(&Known { nearest, ..*above }))
            {
                nearest = known.nearest;
                self.keep_deeper(&known);
            }
        }
    }

    fn keep_deeper(&mut self, known: &Known) {
        if known.distance > self.depth && known.inside == Ok(true) {
            self.depth = known.distance;
            let triangle = self.holder.soup.corners(known.nearest);
            let surface = nearest_to_point(&known.at, &triangle);
            self.best = Some(Sample { depth: known.distance, at: known.at, surface });
        }
    }
}

/// A depth that no point of the guest has in the holder: whatever lies inside a whole body comes out of it
/// on the shortest way out of its box.
fn most(holder: &Ready, guest: &Ready, holder_from_guest: &Pose) -> f64 {
    if !holder.is_whole() {
        return f64::INFINITY;
    }
    let Bounds { low, high } = holder.bounds;
    let seen = guest.tree.root().seen_from(holder_from_guest);
    let along = |axis: usize| {
        let (from, to) = (seen.centre[axis] - seen.half[axis], seen.centre[axis] + seen.half[axis]);
        let middle = 0.5 * (low[axis] + high[axis]);
        // Of the guest's places the one nearest to the middle.
        let at = middle.min(to).max(from);
        (high[axis] - at).min(at - low[axis])
    };
    (0..3).map(along).fold(f64::INFINITY, f64::min)
}

/// Corners, middles of the edges, centroid.
fn samples(t: &Triangle) -> [Point3<f64>; 7] {
    let [a, b, c] = *t;
    let middle = |x: &Point3<f64>, y: &Point3<f64>| nalgebra::center(x, y);
    let centroid = Point3::from((a.coords + b.coords + c.coords) / 3.0);
    [a, b, c, middle(&a, &b), middle(&b, &c), middle(&c, &a), centroid]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::query::Pair;
    use crate::solid::Solid;
    use nalgebra::{Isometry3, Point2};
    use solids::build::{ChordError, block, revolve};
    use std::cell::Cell;

    /// Two blocks that overlap by so much in height; their middles are far deeper in each other's shadow.
    #[test]
    fn no_sample_is_deeper_than_the_boxes_allow() {
        let low = Solid::new(&block(Point3::origin(), Point3::new(50.0, 40.0, 10.0)).unwrap());
        let high = Solid::new(&block(Point3::origin(), Point3::new(20.0, 60.0, 30.0)).unwrap());
        for (by, bound) in
            [(-1.0, -1.0), (0.0, 0.0), (0.25, 0.25), (3.0, 3.0), (7.0, 5.0), (15.0, 5.0)]
        {
            let pose = Isometry3::translation(15.0, -5.0, 10.0 - by);
            let pair = Pair::new(&low, &high, &pose).unwrap();
            let most = most(pair.a, pair.b, &pair.a_from_b);
            assert!((most - bound).abs() < 1e-12, "{by} {most}");
            let slack = pair.slack();
            let none = (0.0, f64::INFINITY);
            let dive = Dive::new([pair.a, pair.b], &pair.a_from_b, none, slack);
            let deepest = dive.deepest(std::iter::empty).map_or(0.0, |sample| sample.depth);
            assert!(deepest <= most.max(0.0) + slack, "{by} {deepest}");
            // What is as deep as it can be is not looked for.
            let beaten = (bound, f64::INFINITY);
            let dive = Dive::new([pair.a, pair.b], &pair.a_from_b, beaten, slack);
            assert!(bound <= 0.0 || dive.deepest(std::iter::empty).is_none(), "{by}");
        }
    }

    /// A ring, a cup and a block deep in each other: the deepest of all samples is found, here by looking at
    /// every one, unless the search asks for starts.
    #[test]
    fn where_a_depth_is_known_the_deepest_sample_is_found_unless_starts_are_asked_for() {
        let chord = ChordError::from_mm(0.05).unwrap();
        let profile =
            [[0.0, 0.0], [60.0, 0.0], [60.0, 50.0], [45.0, 50.0], [45.0, 20.0], [0.0, 20.0]];
        let cup = revolve(&profile.map(|[r, z]| Point2::new(r, z)), chord).unwrap();
        let ring = [[30.0, 0.0], [55.0, 0.0], [55.0, 40.0], [30.0, 40.0]];
        let ring = revolve(&ring.map(|[r, z]| Point2::new(r, z)), chord).unwrap();
        let block = block(Point3::new(-20.0, -30.0, 0.0), Point3::new(25.0, 30.0, 70.0)).unwrap();
        let solids = [cup, ring, block].map(|mesh| Solid::new(&mesh));
        let mut compared = [0, 0];
        for i in 0..60_u16 {
            let along = |k: f64| (f64::from(i) * k).sin();
            let shift = Vector3::new(40.0 * along(0.7), 40.0 * along(1.3), 20.0 * along(2.1));
            let pose = Isometry3::new(shift, Vector3::new(along(0.3), along(0.9), along(1.7)));
            let (a, b) = (&solids[usize::from(i) % 3], &solids[usize::from(i) / 3 % 3]);
            let pair = Pair::new(a, b, &pose).unwrap();
            let depth = |corners: Triangle| {
                let inside =
                    |p: &Point3<f64>| pair.a.is_inside(&pair.a_from_b.apply(p)) == Ok(true);
                let from = |p: Point3<f64>| {
                    let at = pair.a_from_b.apply(&p);
                    pair.a.nearest_slot(&at, f64::INFINITY).unwrap().1
                };
                samples(&corners).into_iter().filter(inside).map(from).fold(0.0, f64::max)
            };
            let deepest = (0..pair.b.slots.len())
                .map(|slot| depth(pair.b.soup.corners(slot)))
                .fold(0.0, f64::max);
            for beaten in [DEEP * 1.01, 0.5 * deepest, 0.999 * deepest] {
                if beaten <= DEEP || beaten >= deepest {
                    continue;
                }
                let asked = Cell::new(false);
                let starts = || {
                    asked.set(true);
                    std::iter::empty()
                };
                let beaten = (beaten, f64::INFINITY);
                let dive = Dive::new([pair.a, pair.b], &pair.a_from_b, beaten, pair.slack());
                let found = dive.deepest(starts).map_or(0.0, |sample| sample.depth);
                assert!(found <= deepest + 1e-9, "{i}: {found} {deepest}");
                if !asked.get() {
                    assert!(found >= deepest - 1e-9, "{i}: {found} {deepest}");
                }
                compared[usize::from(asked.get())] += 1;
            }
        }
        assert!(compared[0] > 60, "{compared:?}");
    }
}
