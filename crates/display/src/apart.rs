//! The rig taken apart: its parts drawn away from each other along the axes of bar and cup.

use crate::list::{DisplayList, Item};
use assembly::placement::End;
use assembly::rig::RigPart;
use fitup::Part;
use nalgebra::{Point3, UnitQuaternion, Vector3};

/// Between parts that stand apart, mm. Our choice.
const BETWEEN: f64 = 25.0;

/// A way in which parts are drawn off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    /// Along the cup's axis, up.
    Up,
    /// Along the bar, out at this end.
    Out(End),
}

/// A box in the frame of bar and cup, mm: x along the bar toward its end A, z up.
#[derive(Debug, Clone, Copy)]
struct Extent {
    low: Point3<f64>,
    high: Point3<f64>,
}

impl DisplayList<'_> {
    /// How far each item is moved from where it is when all is done, in the list's order, plate frame,
    /// mm, for a share from 0 (together) to 1 (apart).
    ///
    /// What hangs at an end of the bar goes out along it, everything else of the rig up, and the car
    /// top stays. At 1 no box around a part, along the bar and up, meets another's nor the car top's: the
    /// parts stand one after the other in the order of their lifts, those put on first the nearest. The
    /// open lid, beside everything, does not count as in the way.
    pub fn apart(&self, share: f64) -> Vec<Vector3<f64>> {
        let along = self.along_bar();
        let frame = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), along.y.atan2(along.x));
        let extents: Vec<Option<Extent>> =
            self.items.iter().map(|item| self.extent(item, &frame)).collect();
        let stays = |item: &Item| way(item.part).is_none() && item.role != crate::Role::Lid;
        let car = self.items.iter().zip(&extents).filter(|(item, _)| stays(item));
        let car = car.filter_map(|(_, extent)| *extent).reduce(Extent::around);
        let mut moved = vec![Vector3::zeros(); self.items.len()];
        // What goes up has to pass over what goes out as well.
        let going_out = self
            .items
            .iter()
            .zip(&extents)
            .filter(|(item, _)| matches!(way(item.part), Some(Way::Out(_))));
        let all = going_out.filter_map(|(_, extent)| *extent).chain(car).reduce(Extent::around);
        for one in [Way::Up, Way::Out(End::A), Way::Out(End::B)] {
            let (axis, beyond) = match one {
                Way::Up => (Vector3::z(), all),
                Way::Out(End::A) => (Vector3::x(), car),
                Way::Out(End::B) => (-Vector3::x(), car),
            };
            let goes = |i: &usize| self.items.get(*i).and_then(|item| way(item.part)) == Some(one);
            let mut own: Vec<usize> = (0..self.items.len()).filter(goes).collect();
            // By their lifts; of one lift the nearest first.
            let near = |i: &usize| extents[*i].map_or(0.0, |extent| extent.along(&axis)[0]);
            own.sort_by(|a, b| {
                let comes = |i: &usize| self.items[*i].track.comes;
                comes(a).total_cmp(&comes(b)).then(near(a).total_cmp(&near(b))).then(a.cmp(b))
            });
            let mut reached = beyond.map_or(f64::NEG_INFINITY, |extent| extent.along(&axis)[1]);
            for i in own {
                let Some(extent) = extents[i] else { continue };
                let [low, high] = extent.along(&axis);
                let off = (reached + BETWEEN - low).max(0.0);
                reached = high + off;
                moved[i] = frame * (axis * (off * share.clamp(0.0, 1.0)));
            }
        }
        moved
    }

    fn extent(&self, item: &Item, frame: &UnitQuaternion<f64>) -> Option<Extent> {
        let points = self.meshes.get(item.mesh)?.vertices.iter();
        let points = points.map(|p| frame.inverse_transform_point(&(item.place * p)));
        points.map(|p| Extent { low: p, high: p }).reduce(Extent::around)
    }
}

impl Extent {
    fn around(self, other: Self) -> Self {
        Self { low: self.low.inf(&other.low), high: self.high.sup(&other.high) }
    }

    /// Least and greatest along one of the axes, either way.
    fn along(&self, axis: &Vector3<f64>) -> [f64; 2] {
        let ends = [axis.dot(&self.low.coords), axis.dot(&self.high.coords)];
        [ends[0].min(ends[1]), ends[0].max(ends[1])]
    }
}

/// Which way a part goes; `None` for the car top.
fn way(part: Part) -> Option<Way> {
    let Part::Rig(part) = part else { return None };
    Some(match part {
        RigPart::Saddle(end)
        | RigPart::UpperPin(end)
        | RigPart::UpperPinPath(end)
        | RigPart::Link(end, _)
        | RigPart::Foot(end)
        | RigPart::LowerPin(end)
        | RigPart::LowerPinPath(end) => Way::Out(end),
        RigPart::Gasket
        | RigPart::Cup
        | RigPart::SidePort
        | RigPart::Outlet
        | RigPart::OutletHandle
        | RigPart::Bar
        | RigPart::Screw
        | RigPart::ScrewBlock
        | RigPart::ScrewHandle => Way::Up,
    })
}
