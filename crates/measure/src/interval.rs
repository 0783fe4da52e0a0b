//! Closed intervals with outward rounding.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A closed interval `[low, high]` that holds the true value of a quantity.
///
/// Arithmetic rounds outward by one unit in the last place, so that a result never loses the true
/// value to rounding. Where an operation has no value (`inf - inf`) the result is the whole line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end, not less than `low`.
    pub high: f64,
}

/// Rounded to nearest, taken down by one unit in the last place; what has no value becomes
/// minus infinity.
fn down(x: f64) -> f64 {
    if x.is_nan() { f64::NEG_INFINITY } else { x.next_down() }
}

/// As [`down`], upward.
fn up(x: f64) -> f64 {
    if x.is_nan() { f64::INFINITY } else { x.next_up() }
}

/// `a * b`, with `0 * inf = 0`: an interval's end at infinity stands for numbers without bound,
/// each of which is finite.
fn product(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

impl Interval {
    /// Every number: nothing is known.
    pub const WHOLE: Self = Self { low: f64::NEG_INFINITY, high: f64::INFINITY };

    /// The interval that holds one number.
    pub const fn exactly(value: f64) -> Self {
        Self { low: value, high: value }
    }

    /// The interval between two numbers, in either order; the whole line if either is not a number.
    pub fn between(a: f64, b: f64) -> Self {
        if a.is_nan() || b.is_nan() {
            return Self::WHOLE;
        }
        Self { low: a.min(b), high: a.max(b) }
    }

    /// This interval with `by >= 0` added on both sides, rounded outward.
    #[must_use]
    pub fn widened(self, by: f64) -> Self {
        Self { low: down(self.low - by), high: up(self.high + by) }
    }

    /// This interval times a number.
    #[must_use]
    pub fn scale(self, by: f64) -> Self {
        self * Self::exactly(by)
    }

    /// The square root of the part that is not negative; zero where there is none.
    #[must_use]
    pub fn sqrt(self) -> Self {
        Self { low: down(self.low.max(0.0).sqrt()).max(0.0), high: up(self.high.max(0.0).sqrt()) }
    }

    /// How far from zero.
    #[must_use]
    pub fn abs(self) -> Self {
        if self.low >= 0.0 {
            self
        } else if self.high <= 0.0 {
            -self
        } else {
            Self { low: 0.0, high: self.high.max(-self.low) }
        }
    }

    /// The interval of the smaller of two quantities.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.min(other.high) }
    }

    /// The interval of the greater of two quantities.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self { low: self.low.max(other.low), high: self.high.max(other.high) }
    }

    /// The least interval that holds both.
    #[must_use]
    pub fn hull(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    /// Whether `value` lies in it, ends included.
    pub fn contains(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// Whether all of `other` lies in it.
    pub fn encloses(self, other: Self) -> bool {
        self.low <= other.low && other.high <= self.high
    }

    /// Width, rounded up.
    pub fn width(self) -> f64 {
        up(self.high - self.low)
    }

    /// Midpoint.
    pub fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }
}

impl Add for Interval {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { low: down(self.low + other.low), high: up(self.high + other.high) }
    }
}

impl Sub for Interval {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { low: down(self.low - other.high), high: up(self.high - other.low) }
    }
}

impl Neg for Interval {
    type Output = Self;
    fn neg(self) -> Self {
        Self { low: -self.high, high: -self.low }
    }
}

impl Mul for Interval {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let ends = [
            product(self.low, other.low),
            product(self.low, other.high),
            product(self.high, other.low),
            product(self.high, other.high),
        ];
        if ends.iter().any(|e| e.is_nan()) {
            return Self::WHOLE;
        }
        let low = ends.iter().copied().fold(f64::INFINITY, f64::min);
        let high = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self { low: down(low), high: up(high) }
    }
}

impl Div for Interval {
    type Output = Self;
    /// The whole line where the divisor may be zero.
    fn div(self, other: Self) -> Self {
        if other.contains(0.0) {
            return Self::WHOLE;
        }
        let ends = [
            self.low / other.low,
            self.low / other.high,
            self.high / other.low,
            self.high / other.high,
        ];
        if ends.iter().any(|e| e.is_nan()) {
            return Self::WHOLE;
        }
        let low = ends.iter().copied().fold(f64::INFINITY, f64::min);
        let high = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self { low: down(low), high: up(high) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// An interval and a number in it.
    fn held() -> impl Strategy<Value = (Interval, f64)> {
        (-1e6..1e6_f64, -1e6..1e6_f64, 0.0..=1.0_f64).prop_map(|(a, b, t)| {
            let i = Interval::between(a, b);
            (i, (i.low + t * (i.high - i.low)).clamp(i.low, i.high))
        })
    }

    /// The exact sum is `s + e` (two-sum, Knuth): the rounding error itself is a double.
    fn two_sum(a: f64, b: f64) -> (f64, f64) {
        let s = a + b;
        let bb = s - a;
        (s, (a - (s - bb)) + (b - bb))
    }

    /// Whether the exact number `s + e` with `|e| <= ulp(s) / 2` lies in `i`.
    fn holds_exactly(i: Interval, s: f64, e: f64) -> bool {
        (i.low < s || (i.low <= s && e >= 0.0)) && (s < i.high || (s <= i.high && e <= 0.0))
    }

    proptest! {
        #[test]
        fn sums_and_differences_keep_the_exact_value((i, x) in held(), (j, y) in held()) {
            let (s, e) = two_sum(x, y);
            prop_assert!(holds_exactly(i + j, s, e));
            let (s, e) = two_sum(x, -y);
            prop_assert!(holds_exactly(i - j, s, e));
            prop_assert!((-i).contains(-x));
        }

        #[test]
        fn products_keep_the_exact_value((i, x) in held(), (j, y) in held()) {
            let s = x * y;
            let e = x.mul_add(y, -s);
            prop_assert!(holds_exactly(i * j, s, e));
            prop_assert!(holds_exactly(i.scale(y), s, e));
        }

        #[test]
        fn quotients_keep_the_exact_value((i, x) in held(), (j, y) in held()) {
            prop_assume!(y != 0.0);
            // x / y lies in the quotient exactly where x lies in q * y: the remainder is a double.
            let s = x / y;
            let remainder = s.mul_add(-y, x) / y;
            prop_assert!(holds_exactly(i / j, s, remainder));
        }

        #[test]
        fn roots_and_distances_from_zero_keep_the_value((i, x) in held()) {
            prop_assert!(i.abs().contains(x.abs()));
            let root = i.sqrt();
            prop_assert!(root.low * root.low <= x.max(0.0) && x.max(0.0) <= root.high * root.high);
        }

        #[test]
        fn choices_keep_the_value((i, x) in held(), (j, y) in held(), by in 0.0..10.0_f64) {
            prop_assert!(i.min(j).contains(x.min(y)));
            prop_assert!(i.max(j).contains(x.max(y)));
            prop_assert!(i.hull(j).encloses(i) && i.hull(j).encloses(j));
            prop_assert!(i.widened(by).encloses(i));
            prop_assert!(i.width() >= i.high - i.low);
        }
    }

    #[test]
    fn what_has_no_value_becomes_the_whole_line() {
        assert_eq!(Interval::between(f64::NAN, 1.0), Interval::WHOLE);
        let one = Interval::exactly(1.0);
        assert_eq!(one / Interval::between(-1.0, 1.0), Interval::WHOLE);
        let inf = Interval::exactly(f64::INFINITY);
        assert_eq!(inf / inf, Interval::WHOLE);
        assert_eq!(inf - inf, Interval::WHOLE);
        assert_eq!(Interval::exactly(0.0) * Interval::WHOLE, Interval::exactly(0.0).widened(0.0));
    }

    #[test]
    fn a_sum_rounded_to_nearest_alone_would_lose_the_true_value() {
        // 0.1 + 0.2 rounds up in binary; the exact sum of the two doubles lies below it.
        let sum = Interval::exactly(0.1) + Interval::exactly(0.2);
        assert!(sum.low < 0.1 + 0.2 && sum.contains(0.3));
    }
}
