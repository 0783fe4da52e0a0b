//! What is met by level rays from the housing's axis: a body cut by upright half-planes.

use crate::face::Face;
use nalgebra::{Point2, Vector2};
use std::f64::consts::{PI, TAU};

/// Rays at even bearings and heights, and which of them meet the body.
#[derive(Debug, Clone)]
pub(crate) struct Around {
    /// Number of bearings, the first half a step from +x.
    pub(crate) bearings: usize,
    /// Number of heights, the first half a step above zero.
    pub(crate) rows: usize,
    /// Between heights, mm.
    pub(crate) step: f64,
    met: Vec<bool>,
    /// For each bearing the lowest and highest point of the body there and the farthest from the
    /// axis, mm; `None` where it is not met at all.
    pub(crate) columns: Vec<Option<Column>>,
    /// Whether the body is seen at the axis itself from above, within some mm of it.
    pub(crate) holds_axis: bool,
}

/// The body at one bearing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Column {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) far: f64,
}

/// A fitting or lid at the axis reaches as near to it as this, mm.
const AT_AXIS: f64 = 15.0;

impl Around {
    /// Up to `height` above the plate, axis upright through `axis`.
    pub(crate) fn of(
        faces: &[Face],
        axis: &Point2<f64>,
        bearings: usize,
        height: f64,
        step: f64,
    ) -> Self {
        let rows = whole((height / step).ceil());
        let mut around = Self {
            bearings,
            rows,
            step,
            met: vec![false; bearings * rows],
            columns: vec![None; bearings],
            holds_axis: false,
        };
        for face in faces {
            around.draw(face, axis);
        }
        around
    }

    /// The bearing of a column's rays, radians.
    pub(crate) fn bearing(&self, column: usize) -> f64 {
        TAU * (column as f64 + 0.5) / self.bearings as f64
    }

    /// The height of a row's rays, mm.
    pub(crate) fn height(&self, row: usize) -> f64 {
        (row as f64 + 0.5) * self.step
    }

    pub(crate) fn is_met(&self, column: usize, row: usize) -> bool {
        self.met[column * self.rows + row]
    }

    /// The share of bearings at which a row's ray meets the body.
    pub(crate) fn coverage(&self, row: usize) -> f64 {
        let met = (0..self.bearings).filter(|c| self.is_met(*c, row)).count();
        met as f64 / self.bearings as f64
    }

    /// Adds what another body meets.
    pub(crate) fn join(&mut self, other: &Self) {
        for (mine, theirs) in self.met.iter_mut().zip(&other.met) {
            *mine |= theirs;
        }
    }

    fn draw(&mut self, face: &Face, axis: &Point2<f64>) {
        let flat = face.corners.map(|p| p.xy() - axis);
        if near_origin(&flat) {
            self.holds_axis = true;
        }
        let angles = flat.map(|p| p.y.atan2(p.x));
        let from = angles[0];
        let turn = |a: f64| (a - from + PI).rem_euclid(TAU) - PI;
        let (b, c) = (turn(angles[1]), turn(angles[2]));
        let (low, high) = (b.min(c).min(0.0), b.max(c).max(0.0));
        // About the axis itself there is no telling which way the triangle goes.
        let (low, high) = if high - low >= PI { (0.0, TAU) } else { (low, high) };
        let step = TAU / self.bearings as f64;
        let first = ((from + low) / step - 0.5).ceil();
        let last = ((from + high) / step - 0.5).floor();
        let count = whole((last - first + 1.0).max(0.0)).min(self.bearings);
        for i in 0..count {
            let column = whole((first + i as f64).rem_euclid(self.bearings as f64));
            let column = column % self.bearings;
            let bearing = self.bearing(column);
            let way = Vector2::new(bearing.cos(), bearing.sin());
            if let Some((low, high, far)) = cut(face, axis, &way) {
                self.mark(column, low, high, far);
            }
        }
    }

    fn mark(&mut self, column: usize, low: f64, high: f64, far: f64) {
        let kept = self.columns[column].get_or_insert(Column { low, high, far });
        kept.low = kept.low.min(low);
        kept.high = kept.high.max(high);
        kept.far = kept.far.max(far);
        let first = whole((low / self.step - 0.5).ceil().max(0.0));
        let past = whole((high / self.step + 0.5).floor().max(0.0)).min(self.rows);
        for row in first..past {
            self.met[column * self.rows + row] = true;
        }
    }
}

/// Whether the origin lies in a triangle or within [`AT_AXIS`] of it.
fn near_origin(flat: &[Vector2<f64>; 3]) -> bool {
    let [a, b, c] = flat;
    let sides = [(a, b), (b, c), (c, a)];
    let turns = sides.map(|(p, q)| p.perp(q));
    if turns.iter().all(|t| *t >= 0.0) || turns.iter().all(|t| *t <= 0.0) {
        return true;
    }
    sides.iter().any(|(p, q)| {
        let along: Vector2<f64> = *q - *p;
        let square = along.norm_squared();
        let s = if square > 0.0 { (-p.dot(&along) / square).clamp(0.0, 1.0) } else { 0.0 };
        (*p + along * s).norm() <= AT_AXIS
    })
}

/// Lowest, highest and farthest point of a triangle in the half-plane from the axis along `way`.
fn cut(face: &Face, axis: &Point2<f64>, way: &Vector2<f64>) -> Option<(f64, f64, f64)> {
    let mut out: Option<(f64, f64, f64)> = None;
    for i in 0..3 {
        let (p, q) = (face.corners[i], face.corners[(i + 1) % 3]);
        let (u, v) = (p.xy() - axis, q.xy() - axis);
        let (s, t) = (way.perp(&u), way.perp(&v));
        if (s < 0.0) == (t < 0.0) {
            continue;
        }
        let share = s / (s - t);
        let far = way.dot(&(u + (v - u) * share));
        if far <= 0.0 {
            continue;
        }
        let z = p.z + (q.z - p.z) * share;
        let (low, high, most) = out.unwrap_or((z, z, far));
        out = Some((low.min(z), high.max(z), most.max(far)));
    }
    out
}

/// A count from a number that is none below zero.
pub(crate) fn whole(count: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
    let whole = count.clamp(0.0, 1e7) as usize;
    whole
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::face::faces;
    use nalgebra::Point3;
    use solids::build::block;

    #[test]
    fn a_block_to_one_side_is_met_on_that_side_only() {
        let mesh = block(Point3::new(90.0, -40.0, 20.0), Point3::new(110.0, 40.0, 60.0)).unwrap();
        let around = Around::of(&faces(&mesh), &Point2::origin(), 360, 100.0, 2.0);
        assert!(!around.holds_axis);
        for column in 0..360 {
            let bearing = around.bearing(column).to_degrees();
            let off = if bearing > 180.0 { 360.0 - bearing } else { bearing };
            // The near corners stand at 24.0 degrees.
            let met = off < 23.9;
            if met || off > 24.1 {
                assert_eq!(around.is_met(column, 20), met, "{bearing}");
            }
        }
        assert!(!around.is_met(0, 9) && around.is_met(0, 10) && around.is_met(0, 29));
        assert!(!around.is_met(0, 30));
        let at = around.columns[0].unwrap();
        assert!((at.low - 20.0).abs() < 1e-9 && (at.high - 60.0).abs() < 1e-9);
        assert!((at.far - 110.0).abs() < 0.1);
    }
}
