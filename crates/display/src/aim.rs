//! Flying to a mark: from where it is looked at, and the section that opens the view to it.

use crate::cut::Plane;
use crate::list::{DisplayList, Item, Shown};
use crate::marks::Mark;
use crate::ray::Target;
use crate::view::{ANGLE, AROUND, Framing};
use nalgebra::{Point3, Unit, Vector3};
use std::f64::consts::TAU;

/// Bearings and heights (degrees above level) from which a mark may be looked at, the first from where
/// the view "corner" looks. Our choice.
const BEARINGS: u32 = 16;
const HEIGHTS: [f64; 3] = [35.0, 12.0, 65.0];
/// Around a mark at least so much is shown in each direction, and at most, mm. Our choice.
const AROUND_A_MARK: [f64; 2] = [60.0, 250.0];
/// Ends nearer than this are one point, mm.
const ONE_POINT: f64 = 1e-6;

/// What may stand between an eye and a mark.
struct Screen<'l> {
    target: Target<'l>,
    /// How much it hides: one that is seen through half as much.
    hides: u32,
}

impl DisplayList<'_> {
    /// Frames a mark with what lies around it, for a picture so many times as wide as it is high, when
    /// all is done.
    ///
    /// The eye stands where nothing hides the mark, or else where the least does: of such sides the one
    /// most square to the line between its two points, and then the first, from the corner on around.
    /// What is hidden or a ghost hides nothing, and two parts that overlap do not hide where they do.
    pub fn framing_of(&self, mark: &Mark, aspect: f64) -> Framing {
        let [a, b] = mark.ends;
        let along = (b - a).try_normalize(ONE_POINT);
        let screens = self.screens(mark, along.is_none());
        let seen = [0.5, 0.1, 0.9].map(|share| a + (b - a) * share);
        let mut sides = sides();
        // In hundredths, so that rounding does not choose between sides that are alike.
        let lean = |side: &Vector3<f64>| {
            along.map_or(0.0, |along| (100.0 * along.dot(side).abs()).round())
        };
        sides.sort_by(|a, b| lean(a).total_cmp(&lean(b)));
        let mut best: Option<(u32, Vector3<f64>)> = None;
        for side in sides {
            let hidden = seen.iter().map(|point| hidden(&screens, point, &side)).sum();
            if best.is_none_or(|(least, _)| hidden < least) {
                best = Some((hidden, side));
            }
            if hidden == 0 {
                break;
            }
        }
        let side = best.map_or_else(Vector3::z, |(_, side)| side);
        let reach = self.reach_around(mark) * AROUND;
        let distance = reach / (0.5 * ANGLE).sin() / aspect.min(1.0);
        let target = seen[0];
        Framing {
            eye: target + side * distance,
            target,
            up: Vector3::z_axis(),
            angle: ANGLE,
            height: 2.0 * reach / aspect.min(1.0),
        }
    }

    /// The plane through a mark's two points that faces an eye: what is on the eye's side is to be
    /// taken away.
    pub fn plane_of(&self, mark: &Mark, framing: &Framing) -> Plane {
        let [a, b] = mark.ends;
        let toward = framing.eye - framing.target;
        let along = (b - a).try_normalize(ONE_POINT).unwrap_or_default();
        let square = |v: Vector3<f64>| {
            let v = v - along * along.dot(&v);
            Unit::try_new(v, ONE_POINT * toward.norm())
        };
        // An eye that looks along the line sees nothing of a plane through it, and the next best faces up.
        let normal = square(toward).or_else(|| square(framing.up.into_inner()));
        let normal = normal.unwrap_or_else(Vector3::z_axis);
        Plane { point: nalgebra::center(&a, &b), normal }
    }

    /// What may hide a mark.
    fn screens(&self, mark: &Mark, overlaps: bool) -> Vec<Screen<'_>> {
        let done = self.lasts();
        let hides = |item: &&Item| {
            let is_own = overlaps && mark.parts.contains(&item.name);
            item.shown == Shown::Solid && !is_own
        };
        let screen = |item: &Item| {
            let target = Target::new(self.meshes.get(item.mesh)?, &item.place_at(done)?)?;
            let hides = if item.role.colour().opacity < u8::MAX { 1 } else { 2 };
            Some(Screen { target, hides })
        };
        self.items.iter().filter(hides).filter_map(screen).collect()
    }

    /// How far around a mark is to be seen, mm: half of the smaller of its parts, and the whole of its
    /// line.
    fn reach_around(&self, mark: &Mark) -> f64 {
        let [a, b] = mark.ends;
        let parts = self.items.iter().filter(|item| mark.parts.contains(&item.name));
        let sizes = parts.filter_map(|item| {
            let (low, high) = self.meshes.get(item.mesh)?.bounds()?;
            Some(0.5 * (high - low).norm())
        });
        let [least, most] = AROUND_A_MARK;
        sizes.fold(most, f64::min).max(least).max((b - a).norm())
    }
}

/// The sides from which a mark may be looked at, unit vectors toward the eye.
fn sides() -> Vec<Vector3<f64>> {
    let corner = (-0.8_f64).atan2(-1.0);
    let at = |height: f64, bearing: u32| {
        let (up, out) = height.to_radians().sin_cos();
        let bearing = corner + TAU * f64::from(bearing) / f64::from(BEARINGS);
        Vector3::new(out * bearing.cos(), out * bearing.sin(), up)
    };
    HEIGHTS.into_iter().flat_map(|h| (0..BEARINGS).map(move |b| at(h, b))).collect()
}

/// How much stands between a point and an eye far away on this side.
fn hidden(screens: &[Screen<'_>], point: &Point3<f64>, side: &Vector3<f64>) -> u32 {
    let in_the_way = |screen: &&Screen<'_>| screen.target.met(point, side).next().is_some();
    screens.iter().filter(in_the_way).map(|screen| screen.hides).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sides_are_unit_vectors_and_differ() {
        let sides = sides();
        assert_eq!(sides.len(), 48);
        for (i, a) in sides.iter().enumerate() {
            assert!((a.norm() - 1.0).abs() < 1e-12 && a.z > 0.0);
            assert!(sides[i + 1..].iter().all(|b| (a - b).norm() > 0.1));
        }
    }
}
