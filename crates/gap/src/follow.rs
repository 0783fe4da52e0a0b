//! One body along a path about another.

use nalgebra::Isometry3;

use crate::best_first::{Found, Start, nearest_first};
use crate::motion::end_bound_of;
use crate::pose::Pose;
use crate::query::{Pair, Proximity, usable_cap};
use crate::solid::{Solid, Undecided};
use crate::triangle;

/// A pair of bodies of which one moves about the other in small steps.
///
/// Each query answers as [`gap`](fn@crate::gap) does, within rounding; of several equally near
/// pairs of triangles it may tell another. It starts from the triangles found by the last one, so
/// that the nearer the poses, the less there is to look at.
#[derive(Debug, Clone)]
pub struct Follower<'s> {
    a: &'s Solid,
    b: &'s Solid,
    /// The slots of the last nearest triangles, or of the last that met.
    last: Option<[usize; 2]>,
    settled: Option<Settled>,
}

/// What held at the last pose at which the surfaces were apart.
#[derive(Debug, Clone, Copy)]
struct Settled {
    pose: Pose,
    /// Millimetres that they were at least apart.
    apart: f64,
    one_holds_other: Result<bool, Undecided>,
}

impl<'s> Follower<'s> {
    /// `b` moves about `a`.
    pub fn new(a: &'s Solid, b: &'s Solid) -> Self {
        Self { a, b, last: None, settled: None }
    }

    /// The body that moves.
    pub(crate) fn moving(&self) -> &'s Solid {
        self.b
    }

    /// As [`gap`](fn@crate::gap) with the two bodies.
    pub fn gap(&mut self, a_from_b: &Isometry3<f64>, cap: f64) -> Proximity {
        let pair = match Pair::new(self.a, self.b, a_from_b) {
            Ok(pair) => pair,
            Err(why) => return Proximity::CannotDecide(why),
        };
        let cap = usable_cap(cap);
        let mut start = Start::below(cap);
        if let Some(slots) = self.last {
            let (p, q) = pair.triangles(slots);
            if triangle::meet(&p, &q) {
                return Proximity::Overlapping;
            }
            let squared = triangle::nearest_apart(&p, &q).squared;
            if squared < start.squared {
                start = Start { squared, slots: Some(slots), ..start };
            }
        }
        let (apart, gap) = match nearest_first(&pair, start) {
            Found::Meet(slots) => {
                self.last = Some(slots);
                return Proximity::Overlapping;
            }
            Found::Beyond => (cap, None),
            Found::Apart(slots, near) => {
                self.last = Some(slots);
                (near.squared.sqrt(), Some(pair.gap_at(slots, &near)))
            }
        };
        let one_holds_other = self.one_holds_other(&pair);
        self.settled = Some(Settled { pose: pair.a_from_b, apart, one_holds_other });
        Proximity::of_apart(one_holds_other, gap, cap)
    }

    /// Whether one body holds the other. It still does or does not when no point has moved as far
    /// as the surfaces were apart: they did not meet on the straight way between. Where a surface is
    /// not whole, the winding number changes on the way, and is looked at again.
    fn one_holds_other(&self, pair: &Pair<'_>) -> Result<bool, Undecided> {
        match self.settled {
            Some(settled)
                if pair.are_whole()
                    && end_bound_of(pair.b, &settled.pose, &pair.a_from_b) + pair.slack()
                        < settled.apart =>
            {
                settled.one_holds_other
            }
            _ => pair.one_holds_other(),
        }
    }
}
