//! The points, sorted into boxes, so that those near a place are found at once.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "indices of points fit u32 by the limit on their number; boxes are few"
)]

use crate::grid::Grid;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// A point as the grid keeps it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Dot {
    /// From the grid's lowest corner, mm: half the memory of whole coordinates, and exact to 1e-4 mm.
    pub(crate) from_low: [f32; 3],
    /// Which shot it is of.
    pub(crate) shot: u32,
    /// Its index in that shot.
    pub(crate) index: u32,
}

impl Dot {
    pub(crate) fn place(&self) -> Vector3<f64> {
        Vector3::from(self.from_low.map(f64::from))
    }
}

/// Dots by boxes of one size.
#[derive(Debug)]
pub(crate) struct Bins {
    side: f64,
    size: [usize; 3],
    starts: Vec<u32>,
    /// Sorted by box, within a box by shot and index.
    pub(crate) dots: Vec<Dot>,
}

impl Bins {
    pub(crate) fn new(grid: &Grid, dots: &[Dot], side: f64) -> Self {
        let reach = grid.high() - grid.low;
        let size = [reach.x, reach.y, reach.z].map(|r| (r / side).floor().max(0.0) as usize + 1);
        let mut bins = Self { side, size, starts: Vec::new(), dots: Vec::new() };
        let mut keyed: Vec<(u32, u32)> = dots
            .par_iter()
            .zip(0_u32..dots.len() as u32)
            .map(|(d, n)| (bins.of(&d.place()), n))
            .collect();
        keyed.par_sort_unstable();
        let mut starts = vec![0_u32; size[0] * size[1] * size[2] + 1];
        for (key, _) in &keyed {
            starts[*key as usize + 1] += 1;
        }
        for n in 1..starts.len() {
            starts[n] += starts[n - 1];
        }
        bins.starts = starts;
        bins.dots = keyed.par_iter().map(|(_, n)| dots[*n as usize]).collect();
        bins
    }

    fn of(&self, place: &Vector3<f64>) -> u32 {
        let part = |x: f64, n: usize| ((x / self.side).floor().max(0.0) as usize).min(n - 1);
        let [nx, ny, nz] = self.size;
        ((part(place.z, nz) * ny + part(place.y, ny)) * nx + part(place.x, nx)) as u32
    }

    /// Calls `f` with every dot whose box comes within `boxes` sides of a box of a place, in a fixed
    /// order.
    pub(crate) fn around(&self, place: &Vector3<f64>, boxes: u32, mut f: impl FnMut(&Dot)) {
        let boxes = f64::from(boxes);
        let [nx, ny, nz] = self.size;
        let range = |x: f64, n: usize| {
            let low = ((x / self.side).floor() - boxes).max(0.0) as usize;
            let high = ((x / self.side).floor() + boxes).max(0.0) as usize;
            (low.min(n - 1), high.min(n - 1))
        };
        let (x0, x1) = range(place.x, nx);
        let (y0, y1) = range(place.y, ny);
        let (z0, z1) = range(place.z, nz);
        for z in z0..=z1 {
            for y in y0..=y1 {
                let row = (z * ny + y) * nx;
                let from = self.starts[row + x0] as usize;
                let to = self.starts[row + x1 + 1] as usize;
                for dot in &self.dots[from..to] {
                    f(dot);
                }
            }
        }
    }
}

/// The dots of all shots that lie within the grid, or `below` it: what is just below the plate's height
/// tells how a surface goes on above it.
pub(crate) fn dots(grid: &Grid, shots: &[crate::Shot], below: f64) -> Vec<Dot> {
    let high = grid.high();
    let mut all = Vec::new();
    for (shot, s) in (0_u32..).zip(shots) {
        let within = |p: &Point3<f64>| {
            (0..3).all(|a| p[a] >= grid.low[a] - if a == 2 { below } else { 0.0 } && p[a] < high[a])
        };
        let found: Vec<Dot> = s
            .points
            .par_iter()
            .zip(0_u32..s.points.len() as u32)
            .filter(|(p, _)| within(p))
            .map(|(p, index)| {
                let d = p - grid.low;
                Dot { from_low: [d.x as f32, d.y as f32, d.z as f32], shot, index }
            })
            .collect();
        all.extend(found);
    }
    all
}
