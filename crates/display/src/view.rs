//! From where a scene is looked at.

use crate::list::{DisplayList, Item, Shown};
use crate::palette::Role;
use assembly::rig::RigPart;
use fitup::Part;
use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use std::f64::consts::PI;

/// Standing views.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum View {
    /// Straight down, the hinge at the top, as clock positions are read.
    Above,
    /// Level, along the bar.
    AlongBar,
    /// Level, square to the bar.
    AcrossBar,
    /// From over the hinge.
    FromHinge,
    /// From over the side away from the hinge, half to the right.
    Corner,
}

impl View {
    /// Every view.
    pub const ALL: [Self; 5] =
        [Self::Above, Self::AlongBar, Self::AcrossBar, Self::FromHinge, Self::Corner];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Above => "above",
            Self::AlongBar => "along-bar",
            Self::AcrossBar => "across-bar",
            Self::FromHinge => "from-hinge",
            Self::Corner => "corner",
        }
    }
}

/// Where the eye is and what it sees, plate frame, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Framing {
    /// The eye.
    pub eye: Point3<f64>,
    /// What is in the middle of the picture.
    pub target: Point3<f64>,
    /// What points up in the picture.
    pub up: Unit<Vector3<f64>>,
    /// The angle over the height of a perspective picture, radians.
    pub angle: f64,
    /// The height of what a parallel picture shows, mm.
    pub height: f64,
}

/// A perspective picture's angle over its height. Our choice.
pub(crate) const ANGLE: f64 = PI / 6.0;
/// Around what is to be seen a margin is left, as a share. Our choice.
pub(crate) const AROUND: f64 = 1.06;
/// So many times as much may be shown for the open lid to be in the picture. Our choice.
const FOR_THE_LID: f64 = 1.5;

impl DisplayList<'_> {
    /// The points of everything that is to be framed: the car top, and the rig where there is one, with
    /// the open lid or without it; not what is hidden.
    fn framed(&self, moved: &[Vector3<f64>], has_lid: bool) -> impl Iterator<Item = Point3<f64>> {
        let is_framed =
            move |item: &Item| (has_lid || item.role != Role::Lid) && item.shown != Shown::Hidden;
        let seen = self.items.iter().zip(moved).filter(move |(item, _)| is_framed(item));
        let bodies = seen.filter_map(|(item, by)| Some((self.meshes.get(item.mesh)?, item, by)));
        bodies.flat_map(|(mesh, item, by)| mesh.vertices.iter().map(move |p| item.place * p + by))
    }

    /// Frames everything but the open lid, which is beside it all, as near as it goes, for a picture so
    /// many times as wide as it is high.
    pub fn framing(&self, view: View, aspect: f64) -> Framing {
        self.framing_moved(view, aspect, &vec![Vector3::zeros(); self.items.len()], false)
    }

    /// The same with the open lid, unless that would make everything else small.
    pub fn framing_with_lid(&self, view: View, aspect: f64) -> Framing {
        let without = self.framing(view, aspect);
        let still = vec![Vector3::zeros(); self.items.len()];
        let with = self.framing_moved(view, aspect, &still, true);
        if with.height <= FOR_THE_LID * without.height { with } else { without }
    }

    /// The same with the rig taken apart by a share, see [`DisplayList::apart`].
    pub fn framing_apart(&self, view: View, aspect: f64, share: f64) -> Framing {
        self.framing_moved(view, aspect, &self.apart(share), false)
    }

    fn framing_moved(
        &self,
        view: View,
        aspect: f64,
        moved: &[Vector3<f64>],
        has_lid: bool,
    ) -> Framing {
        let along = self.along_bar();
        let across = Vector3::z().cross(&along);
        let (from, up) = match view {
            View::Above => (Vector3::z(), Vector3::x()),
            View::AlongBar => (along, Vector3::z()),
            View::AcrossBar => (across, Vector3::z()),
            View::FromHinge => (Vector3::new(1.0, 0.0, 1.0), Vector3::z()),
            View::Corner => (Vector3::new(-1.0, -0.8, 1.0), Vector3::z()),
        };
        let look = UnitQuaternion::look_at_rh(&-from, &up);
        let seen = |p: &Point3<f64>| look * p;
        let far = Point3::from(Vector3::repeat(f64::INFINITY));
        let (low, high) = self
            .framed(moved, has_lid)
            .map(|p| seen(&p))
            .fold((far, -far), |(low, high), p| (low.inf(&p), high.sup(&p)));
        let up = Unit::new_normalize(up);
        if low.x > high.x {
            let target = Point3::origin();
            let height = 2.0 * (0.5 * ANGLE).tan();
            return Framing { eye: target + from, target, up, angle: ANGLE, height };
        }
        let middle = nalgebra::center(&low, &high);
        let half = (0.5 * ANGLE).tan() / AROUND;
        // From the middle back until every point is within the picture's edges.
        let back = |p: Point3<f64>| {
            let off = seen(&p) - middle;
            off.z + (off.y.abs() / half).max(off.x.abs() / (half * aspect))
        };
        let distance = self.framed(moved, has_lid).map(back).fold(0.0, f64::max);
        let half = (high - low) * (0.5 * AROUND);
        let height = 2.0 * half.y.max(half.x / aspect);
        let target = look.inverse() * middle;
        let eye = target + from.normalize() * distance;
        Framing { eye, target, up, angle: ANGLE, height }
    }

    /// The bar's direction seen from above; toward the hinge without a bar.
    pub(crate) fn along_bar(&self) -> Vector3<f64> {
        let bar = self.items.iter().find(|item| item.part == Part::Rig(RigPart::Bar));
        let level = bar.map(|bar| {
            let x = bar.place * Vector3::x();
            Vector3::new(x.x, x.y, 0.0)
        });
        level.and_then(|level| level.try_normalize(1e-9)).unwrap_or_else(Vector3::x)
    }
}
