//! Small vectors padded to four numbers, which the compiler keeps in one register.

use std::ops::{Add, Mul, Sub};

/// Three numbers and a spare one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Quad<F>(pub(crate) [F; 4]);

impl<F: Copy + Add<Output = F> + Sub<Output = F> + Mul<Output = F>> Quad<F> {
    #[inline(always)]
    pub(crate) fn plus(self, other: Self) -> Self {
        let mut out = self;
        for k in 0..4 {
            out.0[k] = self.0[k] + other.0[k];
        }
        out
    }

    #[inline(always)]
    pub(crate) fn less(self, other: Self) -> Self {
        let mut out = self;
        for k in 0..4 {
            out.0[k] = self.0[k] - other.0[k];
        }
        out
    }

    #[inline(always)]
    pub(crate) fn times(self, by: F) -> Self {
        let mut out = self;
        for k in 0..4 {
            out.0[k] = self.0[k] * by;
        }
        out
    }

    /// `columns[0] * x + columns[1] * y + columns[2] * z`
    #[inline(always)]
    pub(crate) fn combined(columns: &[Self; 3], x: F, y: F, z: F) -> Self {
        columns[0].times(x).plus(columns[1].times(y)).plus(columns[2].times(z))
    }
}

impl Quad<f32> {
    pub(crate) const ZERO: Self = Self([0.0; 4]);

    #[inline(always)]
    pub(crate) fn abs(self) -> Self {
        let mut out = self;
        for k in 0..4 {
            out.0[k] = self.0[k].abs();
        }
        out
    }

    /// Of the first three.
    #[inline(always)]
    pub(crate) fn sum(self) -> f32 {
        self.0[0] + self.0[1] + self.0[2]
    }

    /// Of the first three.
    #[inline(always)]
    pub(crate) fn dot(self, other: Self) -> f32 {
        self.0[0] * other.0[0] + self.0[1] * other.0[1] + self.0[2] * other.0[2]
    }

    #[inline(always)]
    pub(crate) fn cross(self, other: Self) -> Self {
        let ([a, b, c, _], [x, y, z, _]) = (self.0, other.0);
        Self([b * z - c * y, c * x - a * z, a * y - b * x, 0.0])
    }
}

impl Quad<f64> {
    #[inline(always)]
    pub(crate) fn single(self) -> Quad<f32> {
        #[expect(clippy::cast_possible_truncation, reason = "single precision on purpose")]
        Quad([self.0[0] as f32, self.0[1] as f32, self.0[2] as f32, self.0[3] as f32])
    }
}
