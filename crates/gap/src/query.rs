//! Two bodies at a pose: gap, threshold and crossing.

use nalgebra::{Isometry3, Point3};

use pulp::Simd;

use crate::best_first::{Found, Start, nearest_first};
use crate::lanes::Batch;
use crate::pose::Pose;
use crate::solid::{Ready, Solid, Undecided};
use crate::triangle::{self, Triangle};
use crate::walk::{Visit, walk};

/// How near two bodies are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Proximity {
    /// The bodies are apart, this far.
    Apart(Gap),
    /// The bodies are apart, at least the asked cap: millimetres.
    AtLeast(f64),
    /// The surfaces cross or touch, or one body holds a shell of the other.
    Overlapping,
    /// The surfaces are apart, but it cannot be told whether one body holds the other; or the
    /// input cannot be used.
    CannotDecide(Undecided),
}

impl Proximity {
    /// The answer for surfaces that do not meet.
    pub(crate) fn of_apart(
        one_holds_other: Result<bool, Undecided>,
        gap: Option<Gap>,
        cap: f64,
    ) -> Self {
        match (one_holds_other, gap) {
            (Err(why), _) => Self::CannotDecide(why),
            (Ok(false), Some(gap)) if gap.distance > 0.0 => Self::Apart(gap),
            (Ok(false), None) => Self::AtLeast(cap),
            (Ok(true), _) | (Ok(false), Some(_)) => Self::Overlapping,
        }
    }
}

/// The shortest way between two bodies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Millimetres, `> 0`; exact over the triangles but for rounding, some ten units in the last
    /// place of the greatest coordinate.
    pub distance: f64,
    /// The nearest point of `a`, in the frame of `a`.
    pub on_a: Point3<f64>,
    /// The nearest point of `b`, in the frame of `a`.
    pub on_b: Point3<f64>,
    /// The triangles of `a` and `b` they lie on, as indices of their meshes.
    pub triangles: [u32; 2],
}

/// The gap between `a` and `b`. Only whether it is at least `cap` millimetres is told when it is;
/// a cap that is not a number is no cap, and one below zero is zero.
///
/// A touch is an overlap: [`Proximity::Apart`] always has a distance above zero.
pub fn gap(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>, cap: f64) -> Proximity {
    let pair = match Pair::new(a, b, a_from_b) {
        Ok(pair) => pair,
        Err(why) => return Proximity::CannotDecide(why),
    };
    let cap = usable_cap(cap);
    let gap = match nearest_first(&pair, Start::below(cap)) {
        Found::Meet(_) => return Proximity::Overlapping,
        Found::Beyond => None,
        Found::Apart(slots, near) => Some(pair.gap_at(slots, &near)),
    };
    Proximity::of_apart(pair.one_holds_other(), gap, cap)
}

/// A cap that is not a number is no cap, and one below zero is zero.
pub(crate) fn usable_cap(cap: f64) -> f64 {
    if cap.is_nan() { f64::INFINITY } else { cap.max(0.0) }
}

/// The shortest way between the surfaces of `a` and `b` alone, as if they were sheets: a body
/// inside the other is as far from it as its surface. For open surfaces, where [`gap`] may not be
/// able to tell inside from outside. `None` when it is at least `cap` millimetres; the distance
/// is zero when the surfaces meet. A cap that is not a number is no cap.
pub fn surface_gap(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
    cap: f64,
) -> Result<Option<Gap>, Undecided> {
    let pair = Pair::new(a, b, a_from_b)?;
    let cap = usable_cap(cap);
    let found = match nearest_first(&pair, Start::below(cap)) {
        Found::Meet(slots) => {
            let (p, q) = pair.triangles(slots);
            triangle::nearest(&p, &q, f64::INFINITY).map(|near| pair.gap_at(slots, &near))
        }
        Found::Beyond => None,
        Found::Apart(slots, near) => Some(pair.gap_at(slots, &near)),
    };
    Ok(found.filter(|gap| gap.distance < cap))
}

/// Whether the gap between `a` and `b` is at least `need` millimetres: `Some(false)` also when
/// they overlap or touch, whatever the need. `None` when it cannot be decided; a need that is not
/// a number cannot.
pub fn clears(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>, need: f64) -> Option<bool> {
    if need.is_nan() {
        return None;
    }
    Pair::new(a, b, a_from_b).ok()?.clears(need)
}

/// Whether the surfaces of `a` and `b` cross or touch, decided exactly for the corners of `b` as
/// rounded into the frame of `a`. A body inside the other does not cross it. Bodies or a pose that
/// cannot be used cross nothing; [`gap`] tells that case apart.
pub fn crosses(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>) -> bool {
    Pair::new(a, b, a_from_b).is_ok_and(|pair| pair.first_crossing().is_some())
}

/// Two usable bodies at a usable pose.
#[derive(Clone, Copy)]
pub(crate) struct Pair<'s> {
    pub(crate) a: &'s Ready,
    pub(crate) b: &'s Ready,
    pub(crate) a_from_b: Pose,
    pub(crate) b_from_a: Pose,
    /// Covers the rounding of boxes and poses, millimetres.
    slack: f64,
}

impl<'s> Pair<'s> {
    pub(crate) fn new(
        a: &'s Solid,
        b: &'s Solid,
        a_from_b: &Isometry3<f64>,
    ) -> Result<Self, Undecided> {
        let (a, b) = (a.ready()?, b.ready()?);
        Ok(Self::at(a, b, Pose::new(a_from_b)?))
    }

    pub(crate) fn at(a: &'s Ready, b: &'s Ready, a_from_b: Pose) -> Self {
        // Some thirty roundings, and frames square to within 1e-14, of values no greater than this.
        let scale = a.reach + 3.0 * b.reach + 2.0 * a_from_b.shift.amax();
        let b_from_a = a_from_b.inverse();
        Self { a, b, a_from_b, b_from_a, slack: 256.0 * f64::EPSILON * scale }
    }

    /// What rounding can make of a distance, millimetres.
    pub(crate) fn slack(&self) -> f64 {
        self.slack
    }

    /// See [`clears`].
    pub(crate) fn clears(&self, need: f64) -> Option<bool> {
        // Distances are compared squared: a need whose square vanishes asks only for no touch.
        let near = if need * need > 0.0 && need > 0.0 {
            self.any_within(need)
        } else {
            self.first_crossing().is_some()
        };
        if near { Some(false) } else { self.one_holds_other().ok().map(|holds| !holds) }
    }

    /// Whether inside and outside of both bodies can be told apart everywhere.
    pub(crate) fn are_whole(&self) -> bool {
        self.a.is_whole() && self.b.is_whole()
    }

    /// Whether a shell of one body lies inside the other, provided that the surfaces do not meet:
    /// then a shell is inside as a whole or not at all, and one of its corners tells.
    pub(crate) fn one_holds_other(&self) -> Result<bool, Undecided> {
        let mut undecided = None;
        for inside in self.shells_of_b_inside().chain(self.shells_of_a_inside()) {
            match inside {
                Ok(true) => return Ok(true),
                Ok(false) => {}
                Err(why) => undecided = undecided.or(Some(why)),
            }
        }
        undecided.map_or(Ok(false), Err)
    }

    /// Whether a corner of each shell of `a` lies inside `b`.
    pub(crate) fn shells_of_a_inside(&self) -> impl Iterator<Item = Result<bool, Undecided>> {
        self.a.shells.iter().map(|corner| self.b.is_inside(&self.b_from_a.apply(corner)))
    }

    /// Whether a corner of each shell of `b` lies inside `a`.
    pub(crate) fn shells_of_b_inside(&self) -> impl Iterator<Item = Result<bool, Undecided>> {
        self.b.shells.iter().map(|corner| self.a.is_inside(&self.a_from_b.apply(corner)))
    }

    /// The first pair of triangles found to meet, as slots of `a` and `b`.
    pub(crate) fn first_crossing(&self) -> Option<[usize; 2]> {
        self.crossings(1).pop()
    }

    /// The nearest two points of surfaces known not to meet, if nearer than `cap` millimetres.
    pub(crate) fn nearest_apart(&self, cap: f64) -> Option<Gap> {
        let start = Start { are_apart: true, ..Start::below(cap) };
        match nearest_first(self, start) {
            Found::Apart(slots, near) => Some(self.gap_at(slots, &near)),
            _ => None,
        }
    }

    /// Whether any two triangles meet or are nearer than `need`.
    fn any_within(&self, need: f64) -> bool {
        let mut within = AnyWithin {
            squared: need * need,
            reach: (need + self.slack).powi(2),
            screened: Batch::new(),
            found: false,
        };
        walk(self, &mut within);
        within.found
    }

    /// The triangle of `a` and that of `b`, in the frame of `a`.
    pub(crate) fn triangles(&self, slots: [usize; 2]) -> (Triangle, Triangle) {
        let q = self.b.soup.corners(slots[1]);
        (self.a.soup.corners(slots[0]), self.a_from_b.apply_all(&q))
    }

    pub(crate) fn gap_at(&self, slots: [usize; 2], near: &triangle::Nearest) -> Gap {
        Gap {
            distance: near.squared.sqrt(),
            on_a: near.on_p,
            on_b: near.on_q,
            triangles: [self.a.slots[slots[0]], self.b.slots[slots[1]]],
        }
    }
}

struct AnyWithin {
    /// The need, squared; and with rounding covered.
    squared: f64,
    reach: f64,
    screened: Batch,
    found: bool,
}

impl Visit for AnyWithin {
    const SORTED: bool = true;

    #[inline(always)]
    fn limit(&self) -> f64 {
        self.reach
    }

    #[inline(always)]
    fn pair<S: Simd>(&mut self, simd: S, slots: [usize; 2], p: &Triangle, q: &Triangle) -> bool {
        self.screened.push(slots, p, q);
        if self.screened.is_full() {
            self.finish(simd);
        }
        !self.found
    }

    #[inline(always)]
    fn finish<S: Simd>(&mut self, simd: S) {
        let at_least = self.screened.at_least(simd);
        for lane in 0..self.screened.count() {
            let (p, q) = self.screened.triangles(lane);
            self.found = self.found
                || at_least[lane] <= self.reach
                    && triangle::nearest(&p, &q, self.squared)
                        .is_some_and(|near| near.squared < self.squared);
        }
        self.screened.clear();
    }
}
