//! Cells of equal size over the space that matters, each free, seen or unseen.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "cell numbers stay far below 2^31: a grid holds at most some hundred million"
)]

use nalgebra::{Point3, Vector3};

/// A cell's place by whole numbers; cells beyond the grid have places too.
pub(crate) type At = [i32; 3];

/// Where the cells lie. The lowest layer stands on the plate.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Grid {
    /// The corner with the least coordinates, mm.
    pub(crate) low: Point3<f64>,
    /// The side of a cell, mm.
    pub(crate) step: f64,
    /// How many cells along x, y and z.
    pub(crate) size: [usize; 3],
}

impl Grid {
    /// How many cells there are.
    pub(crate) fn len(&self) -> usize {
        self.size[0] * self.size[1] * self.size[2]
    }

    /// Cells of one layer.
    pub(crate) fn layer(&self) -> usize {
        self.size[0] * self.size[1]
    }

    /// The corner with the greatest coordinates, mm.
    pub(crate) fn high(&self) -> Point3<f64> {
        self.low + Vector3::from(self.size.map(|n| n as f64 * self.step))
    }

    /// The cell in which a point lies, whether or not the grid has it.
    pub(crate) fn at(&self, p: &Point3<f64>) -> At {
        let place = (p - self.low) / self.step;
        // Casts of floats saturate.
        [place.x.floor() as i32, place.y.floor() as i32, place.z.floor() as i32]
    }

    /// A cell's number; `None` beyond the grid.
    pub(crate) fn number(&self, at: At) -> Option<usize> {
        let [nx, ny, nz] = self.size;
        let [i, j, k] = [at[0] as usize, at[1] as usize, at[2] as usize];
        (at[0] >= 0 && at[1] >= 0 && at[2] >= 0 && i < nx && j < ny && k < nz)
            .then(|| (k * ny + j) * nx + i)
    }

    /// The place of a cell by its number.
    pub(crate) fn place(&self, number: usize) -> At {
        let [nx, ny, _] = self.size;
        [(number % nx) as i32, (number / nx % ny) as i32, (number / (nx * ny)) as i32]
    }

    /// The middle of a cell, mm.
    pub(crate) fn middle(&self, at: At) -> Point3<f64> {
        self.low + Vector3::from(at.map(|n| (f64::from(n) + 0.5) * self.step))
    }

    /// A grid over the same space with cells twice as large.
    pub(crate) fn coarser(&self) -> Self {
        Self { low: self.low, step: 2.0 * self.step, size: self.size.map(|n| n.div_ceil(2)) }
    }

    /// The last cell's place.
    pub(crate) fn last(&self) -> At {
        self.size.map(|n| n as i32 - 1)
    }
}

/// What is known of a cell, in bits.
pub(crate) mod bit {
    /// A line of sight passed.
    pub(crate) const FREE: u8 = 1;
    /// A line of sight passed just before it ended at a point.
    pub(crate) const TAIL: u8 = 2;
    /// A point lies in it.
    pub(crate) const POINT: u8 = 4;
    /// A point lies in it or in a cell beside it.
    pub(crate) const SEEN: u8 = 8;
    /// So near to points that the surface through them is looked for.
    pub(crate) const BAND: u8 = 16;
    /// Something is there or may be.
    pub(crate) const FULL: u8 = 32;
    /// Something is surely there: just behind a seen surface.
    pub(crate) const SHELL: u8 = 64;
    /// It holds points that tell no surface.
    pub(crate) const LONE: u8 = 128;
}
