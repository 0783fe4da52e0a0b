//! The sizes at which a way is tried: whole steps of what is printed.

use measure::{Angle, LengthUnit};

/// Sizes of a way, as numbers of steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sizes {
    /// One step, mm or radians.
    pub(super) step: f64,
    /// A size that is known not to do: smaller ones are not tried.
    above: usize,
    /// The first size tried.
    first: usize,
    /// From one size to the next the first time, at the most.
    stride: usize,
    /// The greatest size tried.
    most: usize,
}

impl Sizes {
    /// Lengths up to the farthest move: 1 mm, twice that and so on, 16 mm farther at the most, so
    /// that no stud or sidewall is passed over unseen.
    pub(super) fn lengths(unit: LengthUnit) -> Self {
        let decimals = i32::try_from(unit.usual_places()).unwrap_or(0);
        let step = match unit {
            LengthUnit::Inch => 25.4,
            LengthUnit::Millimetre => 1.0,
        } * 0.1_f64.powi(decimals);
        Self::new(step, 1.0, 16.0, super::FARTHEST.0)
    }

    /// Angles up to the farthest turn: 1 degree and so on, 8 degrees farther at the most.
    pub(super) fn angles() -> Self {
        let degrees = |d: f64| Angle::from_degrees(d).radians();
        Self::new(degrees(0.1), degrees(1.0), degrees(8.0), degrees(super::FARTHEST.1))
    }

    fn new(step: f64, first: f64, stride: f64, most: f64) -> Self {
        /// A whole number of steps is not lost to rounding.
        const HAIR: f64 = 1e-9;
        // All are small and above zero.
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let whole = |x: f64| (x / step + HAIR).floor() as usize;
        let (first, stride) = (whole(first).max(1), whole(stride).max(1));
        Self { step, above: 0, first, stride, most: whole(most) }
    }

    /// A size in mm or radians.
    pub(super) fn size(&self, steps: usize) -> f64 {
        steps as f64 * self.step
    }

    fn next(&self, steps: usize) -> usize {
        let gone = steps.saturating_sub(self.above);
        let stride = if gone == 0 { self.first } else { gone.min(self.stride) };
        (steps + stride).min(self.most)
    }

    /// The smallest size found at which a way is possible and does what is asked. Sizes that are
    /// not possible end the search: what lies beyond is not looked at.
    pub(super) fn smallest(
        &self,
        mut possible: impl FnMut(usize) -> bool,
        mut does: impl FnMut(usize) -> bool,
    ) -> Option<usize> {
        let mut below = self.above;
        let mut here = self.next(below);
        if self.most <= below {
            return None;
        }
        loop {
            if !possible(here) {
                // The farthest that is possible before that.
                let (mut good, mut bad) = (below, here);
                while bad - good > 1 {
                    let middle = usize::midpoint(good, bad);
                    if possible(middle) { good = middle } else { bad = middle }
                }
                if good == below || !does(good) {
                    return None;
                }
                here = good;
                break;
            }
            if does(here) {
                break;
            }
            if here >= self.most {
                return None;
            }
            below = here;
            here = self.next(here);
        }
        Some(Self::narrowed((below, here), possible, does))
    }

    /// The sizes that are at least a tenth smaller than one that is known.
    pub(super) fn below(self, known: usize) -> Self {
        Self { most: known - known.div_ceil(10), ..self }
    }

    /// The sizes above one that does not do.
    pub(super) const fn beyond(self, not: usize) -> Self {
        Self { above: not, ..self }
    }

    /// Between a size that does not and one that does, by halving.
    fn narrowed(
        (mut not, mut does_it): (usize, usize),
        mut possible: impl FnMut(usize) -> bool,
        mut does: impl FnMut(usize) -> bool,
    ) -> usize {
        while does_it - not > 1 {
            let middle = usize::midpoint(not, does_it);
            if possible(middle) && does(middle) { does_it = middle } else { not = middle }
        }
        does_it
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_those_that_are_printed() {
        assert!((Sizes::lengths(LengthUnit::Inch).step - 0.254).abs() < 1e-12);
        assert!((Sizes::lengths(LengthUnit::Millimetre).step - 0.1).abs() < 1e-12);
        let mm = Sizes::lengths(LengthUnit::Millimetre);
        assert_eq!((mm.first, mm.stride, mm.most), (10, 160, 1000));
        assert_eq!(Sizes::angles().most, 450);
    }

    #[test]
    fn the_smallest_of_a_threshold_is_found_to_the_step() {
        let sizes = Sizes::lengths(LengthUnit::Millimetre);
        for threshold in [1, 9, 10, 11, 317, 999, 1000] {
            assert_eq!(sizes.smallest(|_| true, |k| k >= threshold), Some(threshold));
        }
        assert_eq!(sizes.smallest(|_| true, |k| k > 1000), None);
    }

    #[test]
    fn beyond_a_size_that_does_not_do_the_steps_grow_anew() {
        let sizes = Sizes::lengths(LengthUnit::Millimetre).beyond(300);
        for threshold in [301, 310, 333, 999, 1000] {
            let mut tried = Vec::new();
            let found = sizes.smallest(
                |_| true,
                |k| {
                    tried.push(k);
                    k >= threshold
                },
            );
            assert_eq!(found, Some(threshold));
            assert!(tried[0] == 310 && tried.iter().all(|k| *k > 300), "{tried:?}");
        }
        assert_eq!(sizes.below(310).smallest(|_| true, |_| true), None);
        assert_eq!(sizes.smallest(|k| k < 305, |k| k >= 303), Some(303));
    }

    #[test]
    fn what_is_not_possible_ends_the_search_but_what_is_just_before_it_is_tried() {
        let sizes = Sizes::lengths(LengthUnit::Millimetre);
        assert_eq!(sizes.smallest(|k| k < 300, |k| k >= 250), Some(250));
        assert_eq!(sizes.smallest(|k| k < 300, |k| k >= 300), None);
        assert_eq!(sizes.smallest(|k| !(200..400).contains(&k), |k| k >= 420), None);
        assert_eq!(sizes.smallest(|_| false, |_| true), None);
    }

    #[test]
    fn a_smaller_one_saves_a_tenth_or_is_none() {
        let sizes = Sizes::lengths(LengthUnit::Millimetre);
        assert_eq!(sizes.below(100).smallest(|_| true, |k| k >= 40), Some(40));
        assert_eq!(sizes.below(100).smallest(|_| true, |k| k >= 91), None);
        // One that is large does not hide one that is small.
        assert_eq!(sizes.below(500).smallest(|_| true, |k| (60..100).contains(&k)), Some(60));
        assert_eq!(sizes.below(1).smallest(|_| true, |_| true), None);
    }
}
