//! A body that moves past another: the first contact, or a proof that there is none.
//!
//! The gap at one pose holds, less the way the farthest point goes, at the poses around it
//! ([`Travel::between`]). The sweep looks a little ahead of the proven stretch: a pose whose gap
//! reaches back to the stretch's end carries it on past the pose, by as much again. Where a pose
//! does not reach back, what lies between is halved; where it is blocked, nothing beyond it
//! matters any more.

use std::ops::ControlFlow;

use nalgebra::Isometry3;
use thiserror::Error;

use crate::certify::rounding;
use crate::follow::Follower;
use crate::motion::{Motion, Travel};
use crate::query::{Gap, Proximity};
use crate::solid::{Solid, Undecided};

/// Poses that a sweep may look at before it gives up.
pub const MOST_QUERIES: usize = 100_000;
/// Part of the tolerance, the floor: a gap nearer the need than this is not followed further,
/// unless it is known to end in a contact. Then the floor is lowered by the same factor again.
const FLOOR: f64 = 1.0 / 16.0;
/// Poses that a sweep may look at to bring a contact at a slant within the tolerance.
const SLANT_QUERIES: usize = 10_000;
/// Part of the predicted step that is tried.
const PRUDENCE: f64 = 0.9;
/// Most that a step grows over the last gap.
const GROWTH: f64 = 4.0;
/// Part of the moving body's size for the first step.
const FIRST_STEP: f64 = 1.0 / 16.0;

/// What a sweep found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sweep {
    /// The answer.
    pub course: Course,
    /// The nearest pose looked at where the bodies are apart, of those whose distance had to be
    /// measured: its parameter and the gap there. Other poses may be nearer.
    pub nearest: Option<(f64, Gap)>,
    /// Poses looked at.
    pub queries: usize,
    /// Whether both bodies are closed. Where one is open, inside and outside shade into one
    /// another, and what is proven between the poses looked at is the distance of the surfaces.
    pub closed: bool,
}

/// How a sweep goes. Parameters are those of the motion, 0 to 1; "blocked" is a pose whose gap is
/// less than the need, or where the bodies overlap or touch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course {
    /// Proven: at no pose of the motion is the gap less than the need.
    Clear {
        /// A lower bound of the gap over the whole motion, millimetres, no less than the need.
        at_least: f64,
        /// Where the bound is this low. The gap itself may be least elsewhere.
        at: f64,
    },
    /// The pose at the start is blocked.
    BlockedAtStart(Block),
    /// The first contact lies between two parameters, from one to the other of which no point
    /// moves farther than the tolerance.
    Blocked {
        /// Proven: every pose before is clear.
        clear_until: f64,
        /// A pose that is blocked.
        blocked_at: f64,
        /// How.
        block: Block,
        /// The nearest points at `clear_until`, where the contact is about to be. `None` if none
        /// are found within the need and twice the tolerance there.
        contact: Option<Gap>,
    },
    /// The gap comes so close to the need that neither a contact nor clearance can be told: to be
    /// taken as not clear.
    Grazing {
        /// Proven: every pose before is clear.
        clear_until: f64,
        /// A pose, no farther than a sixteenth of the tolerance after `clear_until`, whose gap is
        /// at least the need, but by less than a sixteenth of the tolerance.
        near_at: f64,
        /// How far the sweep went on, in steps of the tolerance or of the gap's excess over the
        /// need where that is more. Up to here the gap is nowhere less than the need by more than
        /// the tolerance; less by a hair it may be anywhere between the poses looked at.
        seen_until: f64,
        /// The first pose looked at that is blocked, at most one such step after `seen_until`.
        /// `None` with `seen_until` below 1: the next pose could not be told.
        blocked_at: Option<f64>,
    },
    /// It cannot be told.
    CannotDecide {
        /// Proven: every pose before is clear.
        clear_until: f64,
        /// The pose that cannot be told; no pose before it that was looked at is blocked.
        at: f64,
        /// Why.
        why: WhyUndecided,
    },
}

/// How a pose is blocked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Block {
    /// The bodies are apart, but by less than the need.
    TooNear(Gap),
    /// They overlap or touch.
    Overlapping,
}

/// Why a sweep could not be decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum WhyUndecided {
    /// A pose could not be.
    #[error(transparent)]
    Pose(#[from] Undecided),
    /// The need is not a finite number.
    #[error("the need is not a finite number")]
    BadNeed,
    /// The tolerance is not a finite number above zero, or too fine for the size of the bodies
    /// and the motion: rounding hides a sixty-fourth of it.
    #[error("the tolerance is not a number above zero, or rounding hides it")]
    BadTolerance,
    /// [`MOST_QUERIES`] poses were looked at.
    #[error("the sweep looked at the most poses it may and was not done")]
    OutOfQueries,
}

/// Moves `b` along `motion` from the pose `start` past `a`: `motion.pose_at(s) * start` takes
/// coordinates of `b` into the frame of `a`, in which the motion is stated too. `need` is the gap
/// to keep and `tolerance` how finely the first contact is wanted, both in millimetres; a need
/// below zero is zero, where a touch is a contact.
///
/// What is promised, for rounded poses and distances as well:
///
/// - [`Course::Clear`] is a proof for every pose of the motion.
/// - Whatever the answer, every pose before its `clear_until` is proven clear, so the contact told
///   is never later than the true first one by more than the tolerance: from `clear_until` to
///   `blocked_at` no point moves farther.
/// - `blocked_at` was looked at and is blocked.
/// - Where the gap is the need and a sixteenth of the tolerance or more all along, the answer is
///   `Clear`, if the poses can be told and the queries suffice. Only a gap that comes closer than
///   that, and does not soon after fall below the need, gives [`Course::Grazing`].
///
/// The same arguments give the same answer.
pub fn sweep(
    a: &Solid,
    b: &Solid,
    start: &Isometry3<f64>,
    motion: &Motion,
    need: f64,
    tolerance: f64,
) -> Sweep {
    sweep_within(a, b, start, motion, need, tolerance, MOST_QUERIES)
}

fn sweep_within(
    a: &Solid,
    b: &Solid,
    start: &Isometry3<f64>,
    motion: &Motion,
    need: f64,
    tolerance: f64,
    queries: usize,
) -> Sweep {
    let closed = a.is_closed() && b.is_closed();
    let undecided = |why| Course::CannotDecide { clear_until: 0.0, at: 0.0, why };
    let refuse = |why| Sweep { course: undecided(why), nearest: None, queries: 0, closed };
    if !need.is_finite() {
        return refuse(WhyUndecided::BadNeed);
    }
    if let Err(why) = a.usable().and_then(|()| b.usable()) {
        return refuse(why.into());
    }
    let travel = match motion.travel(b, start) {
        Ok(travel) => travel,
        Err(why) => return refuse(why.into()),
    };
    let rounding = rounding(a, b, start) + 2.0 * travel.rounding();
    // What the promise of `sweep` says, less what rounding takes of it.
    let floor = tolerance * FLOOR - 2.0 * rounding;
    // Not-a-number fails the comparison.
    if !(tolerance.is_finite() && floor >= 2.0 * rounding) {
        return refuse(WhyUndecided::BadTolerance);
    }
    let need = need.max(0.0);
    let mut search = Search {
        poses: Poses {
            bodies: Follower::new(a, b),
            start,
            motion,
            need,
            rounding,
            left: queries,
            nearest: None,
        },
        travel,
        tolerance,
        floor,
        clear_until: 0.0,
        obstacle: None,
        islands: Vec::new(),
        graze: None,
        looks: Vec::new(),
    };
    let course = search.run();
    let Poses { nearest, left, .. } = search.poses;
    Sweep { course, nearest, queries: queries - left, closed }
}

/// What one pose shows.
#[derive(Debug, Clone, Copy)]
enum Look {
    /// The gap is at least the need. By how much more at least, and whether that is all there is.
    Clear {
        excess: f64,
        measured: bool,
    },
    Blocked(Block),
    Undecided(WhyUndecided),
}

/// The one place where poses are looked at.
struct Poses<'s> {
    bodies: Follower<'s>,
    start: &'s Isometry3<f64>,
    motion: &'s Motion,
    need: f64,
    /// What rounding can make of an excess.
    rounding: f64,
    /// Queries left.
    left: usize,
    nearest: Option<(f64, Gap)>,
}

impl Poses<'_> {
    /// Looks at the pose at `s`. An excess over the need of more than `wanted` is not measured.
    fn look(&mut self, s: f64, wanted: f64) -> Look {
        let proximity = match self.proximity(s, self.need + wanted + self.rounding) {
            Ok(proximity) => proximity,
            Err(why) => return Look::Undecided(why),
        };
        match proximity {
            Proximity::Overlapping => Look::Blocked(Block::Overlapping),
            Proximity::CannotDecide(why) => Look::Undecided(why.into()),
            Proximity::AtLeast(_) => Look::Clear { excess: wanted, measured: false },
            Proximity::Apart(gap) => {
                if self.nearest.is_none_or(|(_, least)| gap.distance < least.distance) {
                    self.nearest = Some((s, gap));
                }
                let excess = (gap.distance - self.need - self.rounding).max(0.0);
                if gap.distance < self.need {
                    Look::Blocked(Block::TooNear(gap))
                } else {
                    Look::Clear { excess, measured: true }
                }
            }
        }
    }

    fn proximity(&mut self, s: f64, cap: f64) -> Result<Proximity, WhyUndecided> {
        self.left = self.left.checked_sub(1).ok_or(WhyUndecided::OutOfQueries)?;
        Ok(self.bodies.gap(&(self.motion.pose_at(s) * self.start), cap))
    }
}

/// A pose looked at that is not clear.
#[derive(Clone, Copy)]
struct Obstacle {
    at: f64,
    what: Result<Block, WhyUndecided>,
}

struct Search<'s> {
    poses: Poses<'s>,
    travel: Travel,
    tolerance: f64,
    /// An excess below this is not followed.
    floor: f64,
    /// Every pose before is proven clear.
    clear_until: f64,
    /// The nearest pose known not to be clear.
    obstacle: Option<Obstacle>,
    /// Stretches before the obstacle proven clear by themselves, the nearest last.
    islands: Vec<(f64, f64)>,
    graze: Option<Graze>,
    /// Clear poses by parameter, with their excess.
    looks: Vec<(f64, f64)>,
}

/// Where the excess fell below the floor for the first time, and what came after.
#[derive(Clone, Copy)]
struct Graze {
    near_at: f64,
    seen_until: f64,
    /// Queries left at which the search for the contact ends.
    last: usize,
}

impl Search<'_> {
    fn run(&mut self) -> Course {
        let size = self
            .poses
            .bodies
            .moving()
            .bounds()
            .map_or(0.0, |bounds| (bounds.high - bounds.low).norm());
        let mut step = (size * FIRST_STEP).max(self.tolerance);
        match self.look(0.0, step) {
            Look::Clear { excess, .. } => self.clear_until = self.travel.ahead(0.0, excess),
            Look::Blocked(block) => return Course::BlockedAtStart(block),
            Look::Undecided(why) => return self.undecided(0.0, why),
        }
        // The last pose of those that went farther ahead, where its excess was measured.
        let mut before: Option<(f64, f64)> = None;
        loop {
            let most = match self.room() {
                ControlFlow::Continue(room) => 0.5 * room,
                ControlFlow::Break(course) => return course,
            };
            let between = self.islands.last().map(|(from, _)| 0.5 * (self.clear_until + from));
            let s = between.unwrap_or_else(|| {
                self.travel.ahead(self.clear_until, step.max(self.tolerance).min(most))
            });
            let back = self.travel.between(self.clear_until, s);
            let (excess, measured) = match self.look(s, back.max(self.floor)) {
                Look::Clear { excess, measured } => (excess, measured),
                Look::Undecided(why @ WhyUndecided::OutOfQueries) => return self.undecided(s, why),
                Look::Blocked(block) => {
                    self.stand_before(Obstacle { at: s, what: Ok(block) });
                    continue;
                }
                Look::Undecided(why) => {
                    self.stand_before(Obstacle { at: s, what: Err(why) });
                    continue;
                }
            };
            if between.is_none() {
                step = match before.filter(|_| measured) {
                    Some((t, was)) => next_step(excess, was - excess, self.travel.between(t, s)),
                    None => 2.0 * excess,
                };
                before = measured.then_some((s, excess));
            }
            let reached = self.travel.ahead(s, excess);
            if excess >= back && reached > self.clear_until {
                self.clear_until = reached;
            } else if back > self.floor {
                self.islands.push((self.travel.behind(s, excess), reached));
            } else if let ControlFlow::Break(course) = self.grazes(s) {
                return course;
            }
        }
    }

    /// Takes in the stretches that the proven one has reached, and tells how far it is to the
    /// obstacle, or the answer where there is one.
    fn room(&mut self) -> ControlFlow<Course, f64> {
        let mut clear_until = self.clear_until;
        while let Some((_, to)) = self.islands.pop_if(|(from, _)| *from <= clear_until) {
            clear_until = clear_until.max(to);
        }
        self.clear_until = clear_until;
        let mut room = f64::INFINITY;
        if let Some(obstacle) = self.obstacle {
            // Surfaces that are apart all along can still come to hold an open body.
            self.clear_until = self.clear_until.min(obstacle.at);
            room = self.travel.between(self.clear_until, obstacle.at);
            if room <= self.tolerance {
                return ControlFlow::Break(self.at_obstacle(obstacle));
            }
        }
        if self.clear_until >= 1.0 {
            return ControlFlow::Break(self.clear());
        }
        match self.graze {
            Some(graze) if self.poses.left <= graze.last => ControlFlow::Break(self.grazing(graze)),
            _ => ControlFlow::Continue(room),
        }
    }

    fn look(&mut self, s: f64, wanted: f64) -> Look {
        let look = self.poses.look(s, wanted);
        if let Look::Clear { excess, .. } = look {
            self.looks.push((s, excess));
        }
        look
    }

    /// An obstacle nearer than all that was looked at ahead.
    fn stand_before(&mut self, obstacle: Obstacle) {
        self.obstacle = Some(obstacle);
        self.islands.clear();
    }

    fn undecided(&self, at: f64, why: WhyUndecided) -> Course {
        Course::CannotDecide { clear_until: self.clear_until, at, why }
    }

    fn at_obstacle(&mut self, obstacle: Obstacle) -> Course {
        let block = match obstacle.what {
            Ok(block) => block,
            Err(why) => return self.undecided(obstacle.at, why),
        };
        let near = self.poses.need + 2.0 * self.tolerance;
        let contact = match self.poses.proximity(self.clear_until, near) {
            Ok(Proximity::Apart(gap)) => Some(gap),
            _ => None,
        };
        let clear_until = self.clear_until;
        Course::Blocked { clear_until, blocked_at: obstacle.at, block, contact }
    }

    fn grazing(&self, graze: Graze) -> Course {
        let blocked = self.obstacle.filter(|obstacle| obstacle.what.is_ok());
        let seen_until = graze.seen_until.max(self.clear_until);
        Course::Grazing {
            clear_until: self.clear_until,
            near_at: graze.near_at,
            seen_until: self.obstacle.map_or(seen_until, |obstacle| seen_until.min(obstacle.at)),
            blocked_at: blocked.map(|obstacle| obstacle.at),
        }
    }

    /// The excess at `s`, no more than the floor after the proven stretch, is below the floor.
    /// When the sweep runs into something farther on, that may be a plain contact at a slant,
    /// which a lower floor brings near; else the answer is found.
    fn grazes(&mut self, s: f64) -> ControlFlow<Course> {
        let graze = match self.graze {
            Some(graze) => Graze { near_at: s, ..graze },
            None => self.feel_ahead(s)?,
        };
        self.graze = Some(graze);
        self.floor *= FLOOR;
        if self.obstacle.is_none() || self.floor < 2.0 * self.poses.rounding {
            return ControlFlow::Break(self.grazing(graze));
        }
        ControlFlow::Continue(())
    }

    /// Goes on without proof from `near_at`, where the excess is below the floor, to the first
    /// pose that is not clear.
    fn feel_ahead(&mut self, near_at: f64) -> ControlFlow<Course, Graze> {
        let end = self.obstacle.map_or(1.0, |obstacle| obstacle.at);
        let mut seen_until = near_at;
        let mut s = self.travel.ahead(self.clear_until, self.tolerance).min(end);
        while s > seen_until {
            let obstacle = match self.look(s, 2.0 * self.tolerance) {
                Look::Clear { excess, .. } => {
                    seen_until = s;
                    s = self.travel.ahead(s, excess.max(self.tolerance)).min(end);
                    continue;
                }
                Look::Undecided(why @ WhyUndecided::OutOfQueries) => {
                    return ControlFlow::Break(self.undecided(s, why));
                }
                Look::Blocked(block) => Obstacle { at: s, what: Ok(block) },
                Look::Undecided(why) => Obstacle { at: s, what: Err(why) },
            };
            self.stand_before(obstacle);
            break;
        }
        ControlFlow::Continue(Graze {
            near_at,
            seen_until,
            last: self.poses.left.saturating_sub(SLANT_QUERIES),
        })
    }

    /// The proof, and the lower bound it comes to: between two poses looked at, each vouches for
    /// the side that is nearer to it.
    fn clear(&mut self) -> Course {
        self.looks.sort_by(|x, y| x.0.total_cmp(&y.0));
        let ends = [self.looks.first(), self.looks.last()].into_iter().flatten();
        let mut low = ends
            .zip([0.0, 1.0])
            .map(|((s, excess), end)| (excess - self.travel.between(*s, end), end))
            .fold((f64::INFINITY, 0.0), lower);
        for pair in self.looks.windows(2) {
            let [(s, excess), (t, other)] = pair else { continue };
            let way = self.travel.between(*s, *t);
            let share = if way > 0.0 { 0.5 * (1.0 + (excess - other) / way) } else { 0.5 };
            let split = s + (t - s) * share.clamp(0.0, 1.0);
            let here = excess - self.travel.between(*s, split);
            let there = other - self.travel.between(split, *t);
            low = lower(low, (here.min(there), split));
        }
        // The proof itself stands on other splits.
        Course::Clear { at_least: self.poses.need + low.0.max(0.0), at: low.1 }
    }
}

fn lower(x: (f64, f64), y: (f64, f64)) -> (f64, f64) {
    if y.0 < x.0 { y } else { x }
}

/// The way ahead of the proven stretch, that ends `excess` after the last pose, at which the next
/// pose is likely to reach just back: its own excess is as large as that way when the excess goes
/// on falling as it did, by `fall` over `way`.
fn next_step(excess: f64, fall: f64, way: f64) -> f64 {
    let rate = if way > 0.0 { (fall / way).clamp(-1.0, 1.0) } else { 0.0 };
    (PRUDENCE * excess * (1.0 - rate) / (1.0 + rate)).min(GROWTH * excess)
}

#[cfg(test)]
mod tests {
    use nalgebra::{Point3, Vector3};
    use solids::build::block;

    use super::*;

    #[test]
    fn a_sweep_that_runs_out_of_queries_says_so_and_keeps_its_proof() {
        let cube = |half: f64| {
            Solid::new(&block(Point3::from([-half; 3]), Point3::from([half; 3])).unwrap())
        };
        let (a, b) = (cube(10.0), cube(1.0));
        let start = Isometry3::translation(0.0, 0.0, 40.0);
        let across = Motion::turn(Point3::new(50.0, 0.0, 0.0), Vector3::y(), 3.0).unwrap();
        let within = |most| sweep_within(&a, &b, &start, &across, 0.5, 0.01, most);
        let all = within(MOST_QUERIES);
        assert!(matches!(all.course, Course::Clear { .. } | Course::Blocked { .. }), "{all:?}");
        let mut last = 0.0;
        for most in 1..all.queries - 1 {
            let found = within(most);
            let Course::CannotDecide { clear_until, why, .. } = found.course else {
                panic!("{most}: {found:?}")
            };
            assert_eq!((why, found.queries), (WhyUndecided::OutOfQueries, most));
            assert!(clear_until >= last && clear_until < 1.0);
            last = clear_until;
        }
        assert!(last > 0.0);
        assert_eq!(within(all.queries), all);
    }

    #[test]
    fn the_next_step_reaches_just_back() {
        // Falling as fast as it may, the excess is all there is.
        assert!(next_step(4.0, 1.0, 1.0).abs() < 1e-12);
        // Staying as it is, nearly as far again.
        assert!((next_step(4.0, 0.0, 1.0) - 4.0 * PRUDENCE).abs() < 1e-12);
        assert!((next_step(4.0, 0.5, 1.0) - 4.0 * PRUDENCE / 3.0).abs() < 1e-12);
        assert!((next_step(4.0, -9.0, 1.0) - 4.0 * GROWTH).abs() < 1e-12);
        assert!((next_step(4.0, 0.0, 0.0) - 4.0 * PRUDENCE).abs() < 1e-12);
    }
}
