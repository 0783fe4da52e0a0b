//! How deep two bodies run into each other.
//!
//! The depth of an overlap is the length of the shortest translation of `b` that leaves the two
//! bodies apart. It is bracketed, not computed:
//!
//! - from below by a point of one body that lies inside the other: any translation that frees
//!   the bodies must bring it out, so its distance to the other's surface is a lower bound; first
//!   by the balls inscribed in the bodies, then by what of the surfaces is deeper still;
//! - from above by a translation that was tried and frees them.

use nalgebra::{Isometry3, Point3, Vector3};
use std::cell::OnceCell;

use crate::deepest::{Dive, Sample};
use crate::inscribed::{Deep, deep_in};
use crate::lanes::{BATCH, Batch};
use crate::pose::unit;
use crate::query::Pair;
use crate::solid::{Ready, Solid};
use crate::triangle;

/// Crossings that are looked at for a start of the search for the deepest sample, where it needs one.
const MOST_CROSSINGS: usize = 512;
/// Factor between the translations tried along one direction.
const RUNG: f64 = 1.5;
/// Shortest translation worth telling apart from none, millimetres.
const SHORTEST: f64 = 1e-4;
/// Relative width at which the search along one direction stops.
const CLOSE: f64 = 1e-4;
/// Crossings found last, at first some of those where the bodies are, that are tried first.
const MOST_RECENT: usize = 16;
/// Slacks by which a point has to be off a surface to be surely on one side of it.
const CLEAR: f64 = 16.0;
/// A stretch of a way, millimetres, along which the triangles that may meet are gathered once: mostly few.
const NARROW: f64 = 0.125;
/// Where they are too many, the next try is so much narrower.
const NARROWER: f64 = 0.125;
/// How often the direction is improved by the contact normal where the bodies come free.
const IMPROVEMENTS: usize = 3;

/// How deep two bodies overlap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overlap {
    /// No translation of `b` shorter than this, in any direction, frees the bodies; millimetres,
    /// `>= 0`. It is the depth of the deepest sample found of either surface inside the other
    /// body, corners, middles of edges and centroids of triangles, or of a point between them. Zero
    /// when none lies inside, as when only an edge passes through a thin wall.
    pub depth_low: f64,
    /// The translation of `b` by this much along `way_out` leaves the bodies apart: it was tried,
    /// surfaces and insides. Millimetres, `>= depth_low`. It is the shortest found along the
    /// directions searched, so the true depth may be less.
    pub depth_high: f64,
    /// The deepest sample found, or a point where the surfaces meet; frame of `a`.
    pub at: Point3<f64>,
    /// Unit vector, frame of `a`.
    pub way_out: Vector3<f64>,
}

/// How deep `a` and `b` overlap. `None` when they do not, or when [`gap`](fn@crate::gap) cannot
/// decide whether they do.
///
/// The upper bound searches the six axis directions of `a`, the twelve and eight diagonals
/// between them, the way from the deepest sample of either body to the other's surface, and the
/// normals of the contacts met where the bodies come free.
pub fn overlap(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>) -> Option<Overlap> {
    let mut search = Search::new(a, b, a_from_b, f64::INFINITY)?;
    let mut directions = search.outward();
    directions.extend(compass());
    let mut best = search.shortest(&directions, None);
    for _ in 0..IMPROVEMENTS {
        let Some(normal) = best.and_then(|best| search.contact_normal(&best)) else { break };
        let next = search.shortest(&[normal], best);
        if next == best {
            break;
        }
        best = next;
    }
    best.map(|way| search.overlap(&way))
}

/// As [`overlap`](fn@overlap), but the way out is searched only along `directions`, in the frame
/// of `a` and of any length; `None` also when none of them has a length. The lower bound still
/// holds for every direction.
pub fn overlap_along(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
    directions: &[Vector3<f64>],
) -> Option<Overlap> {
    let mut search = Search::new(a, b, a_from_b, f64::INFINITY)?;
    let directions: Vec<_> = directions.iter().filter_map(unit).collect();
    search.shortest(&directions, None).map(|way| search.overlap(&way))
}

/// The certified lower bound of [`overlap`](fn@overlap) alone, with the point it was found at in
/// the frame of `a`: far cheaper, since no way out is looked for. The search for a deeper point ends
/// once one of `enough` millimetres is found; pass infinity for the deepest, and zero where it is known that
/// there is no depth, as of bodies that stand on each other. `None` when `overlap` is.
pub fn least_depth(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
    enough: f64,
) -> Option<(f64, Point3<f64>)> {
    let search = Search::new(a, b, a_from_b, enough)?;
    Some((search.depth_low(), search.at()))
}

/// The directions to the faces, edges and corners of a cube.
fn compass() -> Vec<Vector3<f64>> {
    let steps = [-1.0, 0.0, 1.0];
    steps
        .iter()
        .flat_map(|x| steps.iter().flat_map(move |y| steps.map(|z| Vector3::new(*x, *y, z))))
        .filter_map(|d| unit(&d))
        .collect()
}

/// A translation of `b` that frees the bodies.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Way {
    direction: Vector3<f64>,
    length: f64,
}

/// Two overlapping bodies with the deepest samples found.
struct Search<'s> {
    pair: Pair<'s>,
    /// Deepest of `b` inside `a`, and of `a` inside `b`; frame of `a`.
    deepest: [Option<Sample>; 2],
    meeting: Option<Point3<f64>>,
    /// Pairs of triangles that crossed where a way was blocked, the last ones first: where one of them
    /// still does, so is the way.
    recent: Vec<[usize; 2]>,
    /// The way found last, with the pairs of triangles among which the nearest at its end are.
    near: Option<(Way, Vec<[usize; 2]>)>,
}

impl<'s> Search<'s> {
    /// `None` unless the bodies certainly overlap. A point `enough` deep ends the search for deeper
    /// ones.
    fn new(a: &'s Solid, b: &'s Solid, a_from_b: &Isometry3<f64>, enough: f64) -> Option<Self> {
        let pair = Pair::new(a, b, a_from_b).ok()?;
        let mut deepest = [None; 2];
        let mut beaten = 0.0;
        if let Some((holder, sample)) = by_balls([a, b], &pair, enough) {
            deepest[holder] = Some(sample);
            beaten = sample.depth;
        }
        if beaten >= enough && beaten > 2.0 * pair.slack() {
            return Some(Self { pair, deepest, meeting: None, recent: Vec::new(), near: None });
        }
        // Where no depth is wanted, one tells that they overlap.
        let recent = pair.crossings(if enough > 0.0 { MOST_RECENT } else { 1 });
        let meeting = recent.first().map(|slots| pair.meeting_point(*slots));
        if meeting.is_none() && !pair.one_holds_other().is_ok_and(|holds| holds) {
            return None;
        }
        let many = OnceCell::new();
        let crossings = || many.get_or_init(|| pair.crossings(MOST_CROSSINGS)).iter().copied();
        // Each is only kept when it is deeper than those before it.
        let slack = pair.slack();
        let dive = Dive::new([pair.a, pair.b], &pair.a_from_b, (beaten, enough), slack);
        if let Some(b_in_a) = dive.deepest(|| crossings().map(|[of_a, of_b]| [of_b, of_a])) {
            deepest = [Some(b_in_a), None];
            beaten = b_in_a.depth;
        }
        let dive = Dive::new([pair.b, pair.a], &pair.b_from_a, (beaten, enough), slack);
        if let Some(a_in_b) = dive.deepest(crossings) {
            deepest[1] = Some(a_in_b.moved_by(&pair.a_from_b));
        }
        Some(Self { pair, deepest, meeting, recent, near: None })
    }

    fn deepest_sample(&self) -> Option<Sample> {
        self.deepest.into_iter().flatten().max_by(|a, b| a.depth.total_cmp(&b.depth))
    }

    fn depth_low(&self) -> f64 {
        let depth = self.deepest_sample().map_or(0.0, |sample| sample.depth);
        (depth - self.pair.slack()).max(0.0)
    }

    fn overlap(&self, way: &Way) -> Overlap {
        Overlap {
            depth_low: self.depth_low().min(way.length),
            depth_high: way.length,
            at: self.at(),
            way_out: way.direction,
        }
    }

    /// The deepest sample, or a point where the surfaces meet; frame of `a`.
    fn at(&self) -> Point3<f64> {
        let corner = || self.pair.a.soup.corners(0)[0];
        self.deepest_sample().map(|s| s.at).or(self.meeting).unwrap_or_else(corner)
    }

    /// The ways that bring the deepest samples out.
    fn outward(&self) -> Vec<Vector3<f64>> {
        let of_b = self.deepest[0].map(|sample| sample.surface - sample.at);
        let of_a = self.deepest[1].map(|sample| sample.at - sample.surface);
        [of_b, of_a].into_iter().flatten().filter_map(|d| unit(&d)).collect()
    }

    /// The shortest way found along `directions` that is shorter than `best`, or `best`: all
    /// directions go up one ladder of lengths together, so that none is followed far when another
    /// comes free early; from the first free rung it is halved down toward the last blocked one.
    fn shortest(&mut self, directions: &[Vector3<f64>], mut best: Option<Way>) -> Option<Way> {
        let exits: Vec<f64> = directions.iter().map(|direction| self.exit(direction)).collect();
        let last = exits.iter().copied().fold(0.0, f64::max);
        let mut rung = self.depth_low().max(SHORTEST);
        // No way as long as the depth frees the bodies, whatever its direction.
        let is_deep = self.pair.are_whole() && rung > SHORTEST;
        let mut blocked = if is_deep { rung } else { 0.0 };
        rung *= if is_deep { RUNG } else { 1.0 };
        while blocked < last && best.is_none_or(|way| blocked < way.length) {
            for (direction, exit) in directions.iter().zip(&exits) {
                let shorter = best.map_or(f64::INFINITY, |way| way.length * (1.0 - CLOSE));
                let length = rung.min(*exit).min(shorter);
                if length > blocked && self.is_free(direction, length, None) {
                    let length = self.shortened(direction, blocked, length);
                    best = Some(Way { direction: *direction, length });
                }
            }
            blocked = rung;
            rung *= RUNG;
        }
        best
    }

    /// A shorter length between a blocked and a free one that is still free.
    fn shortened(&mut self, direction: &Vector3<f64>, mut blocked: f64, mut free: f64) -> f64 {
        let mut near: Option<Vec<[usize; 2]>> = None;
        let mut narrow = NARROW;
        while free > SHORTEST && free - blocked > CLOSE * free {
            let middle = 0.5 * (free + blocked);
            let ahead = 0.5 * (free - blocked);
            if near.is_none() && ahead <= narrow {
                // Whatever meets before the free end is no farther apart half-way there, and what is nearest
                // at the end hardly more.
                let within = ahead + CLOSE * free + 2.0 * SHORTEST;
                near = self.moved(direction, middle).pairs_within(within);
                narrow *= NARROWER;
            }
            if self.is_free(direction, middle, near.as_deref()) {
                free = middle;
            } else {
                blocked = middle;
            }
        }
        self.near = near.map(|near| (Way { direction: *direction, length: free }, near));
        free
    }

    /// Whether a translation of `b` leaves the bodies apart. `near` are pairs of triangles without which none
    /// meet there, where they are known.
    fn is_free(
        &mut self,
        direction: &Vector3<f64>,
        length: f64,
        near: Option<&[[usize; 2]]>,
    ) -> bool {
        let moved = self.moved(direction, length);
        if let Some(known) = moved.first_that_meets(&self.recent) {
            self.recent[..=known].rotate_right(1);
            return false;
        }
        if self.keeps_inside(direction, length) {
            return false;
        }
        let crossing = match near {
            Some(near) => moved.first_that_meets(near).map(|first| near[first]),
            None => moved.first_crossing(),
        };
        if let Some(crossing) = crossing {
            self.recent.truncate(MOST_RECENT - 1);
            self.recent.insert(0, crossing);
            return false;
        }
        moved.one_holds_other() == Ok(false)
    }

    /// Whether one of the deepest samples is surely inside the other body still after a translation of `b`:
    /// then the bodies overlap.
    fn keeps_inside(&self, direction: &Vector3<f64>, length: f64) -> bool {
        let clear = CLEAR * self.pair.slack();
        let is_in = |holder: &Ready, point: &Point3<f64>| {
            holder.is_inside(point) == Ok(true) && holder.any_within(point, clear).is_none()
        };
        // About an open surface a point inside need not mean that it is crossed or held.
        let Pair { a, b, .. } = self.pair;
        let way = direction * length;
        let [of_b, of_a] = &self.deepest;
        self.pair.are_whole()
            && (of_b.is_some_and(|of_b| is_in(a, &(of_b.at + way)))
                || of_a.is_some_and(|of_a| is_in(b, &self.pair.b_from_a.apply(&(of_a.at - way)))))
    }

    fn moved(&self, direction: &Vector3<f64>, length: f64) -> Pair<'s> {
        let pose = self.pair.a_from_b.moved(&(direction * length));
        Pair::at(self.pair.a, self.pair.b, pose)
    }

    /// The translation along `direction` after which the boxes around the bodies are apart.
    fn exit(&self, direction: &Vector3<f64>) -> f64 {
        let a = self.pair.a.bounds;
        let b = self.pair.b.tree.root().seen_from(&self.pair.a_from_b);
        let length = (0..3)
            .filter(|axis| direction[*axis] != 0.0)
            .map(|axis| {
                let way = if direction[axis] > 0.0 {
                    a.high[axis] - (b.centre[axis] - b.half[axis])
                } else {
                    b.centre[axis] + b.half[axis] - a.low[axis]
                };
                way.max(0.0) / direction[axis].abs()
            })
            .fold(f64::INFINITY, f64::min);
        length * (1.0 + 1e-9) + SHORTEST
    }

    /// The direction from `a` to `b` where they are nearest right after coming free.
    fn contact_normal(&self, way: &Way) -> Option<Vector3<f64>> {
        let moved = self.moved(&way.direction, way.length);
        let last = self.near.as_ref().filter(|(last, _)| last == way);
        let among = |(_, near): &(Way, Vec<[usize; 2]>)| {
            moved.nearest_among(near, CLOSE * way.length + SHORTEST)
        };
        // They ran into each other no farther back than the way was halved down to.
        let near = 2.0 * (CLOSE * way.length + SHORTEST) + self.pair.slack();
        let contact = last
            .and_then(among)
            .or_else(|| moved.nearest_apart(near))
            .or_else(|| moved.nearest_apart(f64::INFINITY))?;
        unit(&(contact.on_b - contact.on_a))
    }
}

/// The deepest point that the balls inscribed in two bodies show, and which of them holds it; frame
/// of `a`.
fn by_balls(solids: [&Solid; 2], pair: &Pair<'_>, enough: f64) -> Option<(usize, Sample)> {
    let Deep { sunk, in_a } = deep_in(solids, pair, enough)?;
    let near = |holder: &Ready, at: &Point3<f64>| holder.nearest_point(at, f64::INFINITY);
    let (holder, at, surface) = if in_a {
        (0, sunk.on_b, near(pair.a, &sunk.on_b)?.point)
    } else {
        let local = pair.b_from_a.apply(&sunk.on_a);
        (1, sunk.on_a, pair.a_from_b.apply(&near(pair.b, &local)?.point))
    };
    Some((holder, Sample { depth: sunk.overlap(), at, surface }))
}

impl Pair<'_> {
    /// The first of some pairs of triangles that meets.
    fn first_that_meets(&self, pairs: &[[usize; 2]]) -> Option<usize> {
        let mut batch = Batch::new();
        for (chunk, some) in pairs.chunks(BATCH).enumerate() {
            batch.clear();
            for slots in some {
                let (p, q) = self.triangles(*slots);
                batch.push(*slots, &p, &q);
            }
            if let Some(lane) = batch.meeting_dispatched().iter().position(|meets| *meets) {
                return Some(chunk * BATCH + lane);
            }
        }
        None
    }

    /// A point, in the frame of `a`, where two triangles known to meet do so.
    fn meeting_point(&self, slots: [usize; 2]) -> Point3<f64> {
        let (p, q) = self.triangles(slots);
        triangle::nearest(&p, &q, f64::INFINITY).map_or(p[0], |at| at.on_p)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point2;
    use solids::build::{ChordError, block, revolve};

    /// Whether a way is free is the same by the few pairs of triangles gathered along a stretch of it as by
    /// all: just there where the bodies come free.
    #[test]
    fn the_triangles_gathered_tell_whether_a_way_is_free() {
        let chord = ChordError::from_mm(0.1).unwrap();
        let ring = [[30.0, 0.0], [55.0, 0.0], [55.0, 12.0], [30.0, 12.0]];
        let ring = revolve(&ring.map(|[r, z]| Point2::new(r, z)), chord).unwrap();
        let block = block(Point3::new(-20.0, -30.0, 0.0), Point3::new(25.0, 30.0, 70.0)).unwrap();
        let solids = [ring, block].map(|mesh| Solid::new(&mesh));
        let mut told = [0, 0];
        for i in 0..24_u16 {
            let along = |k: f64| (f64::from(i) * k).sin();
            let shift = Vector3::new(30.0 * along(0.7), 30.0 * along(1.3), 8.0 * along(2.1));
            let turn = if i % 2 == 0 {
                Vector3::zeros()
            } else {
                Vector3::new(0.0, along(0.9), along(1.7))
            };
            let pose = Isometry3::new(shift, turn);
            let (a, b) = (&solids[usize::from(i % 2)], &solids[usize::from(i / 2 % 2)]);
            let Some(mut search) = Search::new(a, b, &pose, f64::INFINITY) else { continue };
            let Some(way) = search.shortest(&compass(), None) else { continue };
            for stretch in [0.1, 0.01, 0.001] {
                let middle = way.length + 0.3 * stretch;
                let near = search.moved(&way.direction, middle).pairs_within(stretch + 1e-9);
                let Some(near) = near else { continue };
                for step in -10..=10 {
                    let length = middle + stretch * f64::from(step) / 10.0;
                    let by_few = search.is_free(&way.direction, length, Some(&near));
                    let by_all = search.moved(&way.direction, length);
                    let by_all =
                        by_all.first_crossing().is_none() && by_all.one_holds_other() == Ok(false);
                    assert_eq!(by_few, by_all, "{i} {stretch} {step}");
                    told[usize::from(by_few)] += 1;
                }
            }
        }
        assert!(told.iter().all(|count| *count > 50), "{told:?}");
    }
}
