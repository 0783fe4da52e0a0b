//! Stacks of deviations: what makes a figure uncertain, each with its bound.

use std::borrow::Cow;
use std::iter::Sum;
use std::ops::Add;

/// What makes a figure uncertain: independent causes by name, each with the most by which it can
/// move the figure, millimetres.
///
/// Two totals are kept. The worst case holds whatever the causes do together. The root of the sum of
/// squares treats them as independent, each as likely above as below: the law of propagation of
/// uncertainty (JCGM 100:2008, 5.1.2, from memory), with the stated bounds taken as limits of one
/// and the same level of confidence. It is never more than the worst case. A cause that enters twice
/// is one cause.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stack {
    worst: f64,
    causes: Vec<(Cow<'static, str>, f64)>,
}

impl Stack {
    /// Nothing is uncertain.
    pub const fn none() -> Self {
        Self { worst: 0.0, causes: Vec::new() }
    }

    /// One cause with its bound, `>= 0`, mm.
    pub fn of(cause: impl Into<Cow<'static, str>>, bound: f64) -> Self {
        if bound == 0.0 {
            return Self::none();
        }
        Self { worst: bound, causes: vec![(cause.into(), bound)] }
    }

    /// The bound in the worst case, mm.
    pub const fn worst(&self) -> f64 {
        self.worst
    }

    /// The root of the sum of squares, mm.
    pub fn root_sum_square(&self) -> f64 {
        self.square().sqrt().min(self.worst)
    }

    fn square(&self) -> f64 {
        self.causes.iter().map(|(_, bound)| bound * bound).sum()
    }

    /// The causes with their bounds, greatest first, mm.
    pub fn causes(&self) -> Vec<(&str, f64)> {
        let mut causes: Vec<_> = self.causes.iter().map(|(c, b)| (c.as_ref(), *b)).collect();
        causes.sort_by(|a, b| b.1.total_cmp(&a.1));
        causes
    }

    /// Each bound times `by >= 0`.
    #[must_use]
    pub fn scale(mut self, by: f64) -> Self {
        self.worst *= by;
        for (_, bound) in &mut self.causes {
            *bound *= by;
        }
        self
    }

    /// Stacks of directions square to each other, as one of the distance moved.
    pub fn square_to_each_other(directions: impl IntoIterator<Item = Self>) -> Self {
        directions.into_iter().fold(Self::none(), |a, b| a.joined(b, f64::hypot))
    }

    /// The stack of whichever moves farther: for surfaces that move on their own.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        let worst = self.worst.max(other.worst);
        let causes = if other.square() > self.square() { other.causes } else { self.causes };
        Self { worst, causes }
    }

    fn joined(mut self, other: Self, join: fn(f64, f64) -> f64) -> Self {
        self.worst = join(self.worst, other.worst);
        for (cause, bound) in other.causes {
            match self.causes.iter_mut().find(|(known, _)| *known == cause) {
                Some((_, known)) => *known = join(*known, bound),
                None => self.causes.push((cause, bound)),
            }
        }
        self
    }
}

impl Add for Stack {
    type Output = Self;
    /// Along one direction.
    fn add(self, other: Self) -> Self {
        self.joined(other, |a, b| a + b)
    }
}

impl Sum for Stack {
    fn sum<I: Iterator<Item = Self>>(stacks: I) -> Self {
        stacks.fold(Self::none(), Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-12
    }

    #[test]
    fn three_and_four_are_seven_at_worst_and_five_by_squares() {
        let stack = Stack::of("a", 3.0) + Stack::of("b", 4.0);
        assert!(near(stack.worst(), 7.0) && near(stack.root_sum_square(), 5.0));
        assert_eq!(stack.causes(), [("b", 4.0), ("a", 3.0)]);
    }

    /// A dimension that moves both parts of a pair moves them together at worst.
    #[test]
    fn a_cause_that_enters_twice_is_one_cause() {
        let stack = Stack::of("a", 3.0) + Stack::of("a", 4.0);
        assert!(near(stack.worst(), 7.0) && near(stack.root_sum_square(), 7.0));
    }

    #[test]
    fn directions_square_to_each_other_are_the_sides_of_a_right_angle() {
        let sides = [Stack::of("a", 1.0) + Stack::of("b", 2.0), Stack::of("c", 4.0)];
        let stack = Stack::square_to_each_other(sides);
        assert!(near(stack.worst(), 5.0) && near(stack.root_sum_square(), 21.0_f64.sqrt()));
    }

    fn stacks() -> impl Strategy<Value = Stack> {
        let leaf = (0..5_usize, 0.0..2.0_f64)
            .prop_map(|(cause, bound)| Stack::of(["a", "b", "c", "d", "e"][cause], bound));
        leaf.prop_recursive(5, 40, 2, |inner| {
            (inner.clone(), inner, 0..4_usize, 0.0..3.0_f64).prop_map(|(a, b, how, by)| match how {
                0 => a + b,
                1 => Stack::square_to_each_other([a, b]),
                2 => a.or(b),
                _ => a.scale(by),
            })
        })
    }

    proptest! {
        #[test]
        fn the_root_of_squares_is_never_more_than_the_worst_case(stack in stacks()) {
            prop_assert!(stack.square().sqrt() <= stack.worst() * (1.0 + 1e-12));
            prop_assert!(stack.root_sum_square() <= stack.worst());
        }
    }
}
