//! From where a scene is looked at.

use crate::list::DisplayList;
use crate::palette::Role;
use assembly::rig::RigPart;
use fitup::Part;
use nalgebra::{Point3, Unit, Vector3};
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
    /// The angle over the picture's height, radians.
    pub angle: f64,
}

/// A perspective picture's angle over its height. Our choice.
const ANGLE: f64 = PI / 6.0;
/// Around what is to be seen a margin is left, as a share. Our choice.
const AROUND: f64 = 1.06;

impl DisplayList<'_> {
    /// A ball about everything that is to be seen: the car top, and the rig where there is one; not the
    /// open lid, which is beside it.
    fn ball(&self) -> (Point3<f64>, f64) {
        let seen = self.items.iter().filter(|item| item.role != Role::Lid);
        let corners = seen.filter_map(|item| Some((self.meshes.get(item.mesh)?, item)));
        let points = corners.flat_map(|(mesh, item)| mesh.vertices.iter().map(|p| item.place * p));
        let bounds = points.fold(None::<(Point3<f64>, Point3<f64>)>, |bounds, p| {
            let (low, high) = bounds.unwrap_or((p, p));
            Some((low.inf(&p), high.sup(&p)))
        });
        bounds.map_or((Point3::origin(), 1.0), |(low, high)| {
            (nalgebra::center(&low, &high), 0.5 * (high - low).norm())
        })
    }

    /// Frames everything for a picture so many times as wide as it is high.
    pub fn framing(&self, view: View, aspect: f64) -> Framing {
        let (target, radius) = self.ball();
        let along = self.along_bar();
        let across = Vector3::z().cross(&along);
        let (from, up) = match view {
            View::Above => (Vector3::z(), Vector3::x()),
            View::AlongBar => (along, Vector3::z()),
            View::AcrossBar => (across, Vector3::z()),
            View::FromHinge => (Vector3::new(1.0, 0.0, 1.0), Vector3::z()),
            View::Corner => (Vector3::new(-1.0, -0.8, 1.0), Vector3::z()),
        };
        // The ball's silhouette, not its middle, fills the picture.
        let distance = AROUND * radius / ((0.5 * ANGLE).sin() * aspect.clamp(0.1, 1.0));
        let eye = target + from.normalize() * distance;
        Framing { eye, target, up: Unit::new_normalize(up), angle: ANGLE }
    }

    /// The bar's direction seen from above; toward the hinge without a bar.
    fn along_bar(&self) -> Vector3<f64> {
        let bar = self.items.iter().find(|item| item.part == Part::Rig(RigPart::Bar));
        let level = bar.map(|bar| {
            let x = bar.place * Vector3::x();
            Vector3::new(x.x, x.y, 0.0)
        });
        level.and_then(|level| level.try_normalize(1e-9)).unwrap_or_else(Vector3::x)
    }
}
