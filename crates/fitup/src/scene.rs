//! A car top and a kit, prepared for proximity queries.

use crate::contacts::Contacts;
use crate::land::Top;
use assembly::as_built::AsBuilt;
use assembly::car_top::CarBody;
use assembly::kit::Kit;
use assembly::parts::PartError;
use assembly::rig::{RigPart, gasket_of};
use assembly::{CarTop, Choice, Placement, parts};
use gap::Solid;
use nalgebra::{Isometry3, Point3};
use rayon::prelude::*;
use solids::{Body, Mesh};
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

/// The distinct solids of a kit; several rig parts may share one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Shape {
    /// Cup, by index in the kit.
    Cup(usize),
    /// The same with its cavity empty, likewise.
    HollowCup(usize),
    /// Its side port, likewise.
    SidePort(usize),
    /// Gasket of a cup, by the cup's index.
    Gasket(usize),
    /// Outlet.
    Outlet,
    /// Space swept by the outlet's handle.
    OutletHandle,
    /// That handle where the valve is open.
    OpenHandle,
    /// Clamp bar.
    Bar,
    /// Saddle.
    Saddle,
    /// Link, by index of its thickness.
    Link(usize),
    /// Foot.
    Foot,
    /// Lower pin, by index of the outside link's thickness.
    LowerPin(usize),
    /// Upper pin, likewise.
    UpperPin(usize),
    /// Path of the lower pin, likewise.
    LowerPinPath(usize),
    /// Path of the upper pin, likewise.
    UpperPinPath(usize),
    /// Screw.
    Screw,
    /// Screw block.
    ScrewBlock,
    /// Space swept by the screw's handle.
    ScrewHandle,
}

/// A kit part's solid.
#[derive(Debug)]
pub struct Shaped {
    /// The triangles and their deviation, in the part's frame.
    pub body: Body,
    /// The same, ready for queries.
    pub solid: Solid,
    /// How far it reaches from its frame's z axis and from its y axis, mm.
    pub reach: [f64; 2],
}

impl Shaped {
    fn new(body: Body) -> Self {
        let solid = Solid::new(&body.mesh);
        let from =
            |of: fn(&Point3<f64>) -> f64| body.mesh.vertices.iter().map(of).fold(0.0, f64::max);
        let reach = [from(|p| p.x.hypot(p.y)), from(|p| p.x.hypot(p.z))];
        Self { body, solid, reach }
    }
}

/// The vertices of a body that can be farthest from any upright axis, and its highest.
#[derive(Debug, Clone, PartialEq)]
pub struct Extent {
    /// The vertices on the convex hull of the body seen from above.
    pub outline: Vec<Point3<f64>>,
    /// The highest vertex; `None` for an empty mesh.
    pub top: Option<Point3<f64>>,
}

impl Extent {
    pub(crate) fn of(mesh: &Mesh) -> Self {
        let top = mesh.vertices.iter().copied().max_by(|a, b| a.z.total_cmp(&b.z));
        Self { outline: plan_hull(&mesh.vertices), top }
    }
}

/// The convex hull of points seen from above, by Andrew's monotone chain.
fn plan_hull(points: &[Point3<f64>]) -> Vec<Point3<f64>> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    sorted.dedup_by(|a, b| a.xy() == b.xy());
    if sorted.len() < 3 {
        return sorted;
    }
    let left_turn = |a: &Point3<f64>, b: &Point3<f64>, c: &Point3<f64>| {
        (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x) > 0.0
    };
    let half = |points: &mut dyn Iterator<Item = &Point3<f64>>| {
        let mut chain: Vec<Point3<f64>> = Vec::new();
        for p in points {
            while let [.., a, b] = chain.as_slice() {
                if left_turn(a, b, p) {
                    break;
                }
                chain.pop();
            }
            chain.push(*p);
        }
        chain.pop();
        chain
    };
    let mut hull = half(&mut sorted.iter());
    hull.extend(half(&mut sorted.iter().rev()));
    hull
}

/// A car top and a kit, prepared for proximity queries. Costs a hierarchy per body to build; holds
/// for every fitting, cup and placement.
pub struct Scene<'a> {
    /// The car top.
    pub car: &'a CarTop,
    /// The kit.
    pub kit: &'a Kit,
    solids: Vec<Arc<Solid>>,
    /// Where each of the solids lies: moved, for a car top as it was built.
    moved: Option<Vec<Isometry3<f64>>>,
    extents: Vec<Arc<OnceLock<Extent>>>,
    shapes: Arc<BTreeMap<Shape, Shaped>>,
    pub(crate) contacts: Arc<Contacts>,
    top: Arc<Top>,
    /// Whether the kit's parts are as they are meshed.
    is_exact: bool,
}

impl<'a> Scene<'a> {
    /// Prepares a car top and a kit.
    ///
    /// # Errors
    /// When the kit's dimensions contradict each other, so that a part cannot be built.
    pub fn new(car: &'a CarTop, kit: &'a Kit) -> Result<Self, PartError> {
        let solid = |b: &CarBody| Arc::new(Solid::new(&b.body.mesh));
        let solids: Vec<Arc<Solid>> = car.bodies.par_iter().map(solid).collect();
        let top = Top::of(&car.body(car.plate).body.mesh, solids[car.plate.0].is_closed());
        Self::with(car, kit, solids, Arc::new(top))
    }

    fn with(
        car: &'a CarTop,
        kit: &'a Kit,
        solids: Vec<Arc<Solid>>,
        top: Arc<Top>,
    ) -> Result<Self, PartError> {
        let extents = car.bodies.iter().map(|_| Arc::default()).collect();
        let mut bodies = Vec::new();
        let mut add = |shape, body: Result<Body, PartError>| {
            bodies.push((shape, body?));
            Ok(())
        };
        for (i, cup) in kit.cups.iter().enumerate() {
            add(Shape::Cup(i), parts::cup(kit, cup))?;
            add(Shape::HollowCup(i), parts::hollow_cup(kit, cup))?;
            add(Shape::SidePort(i), parts::side_port(kit, cup))?;
            let gasket =
                gasket_of(kit, cup).ok_or_else(|| PartError::NoGasket(cup.gasket.clone()))?;
            add(Shape::Gasket(i), parts::gasket(kit, cup, gasket))?;
        }
        for t in 0..kit.link.thicknesses.len() {
            add(Shape::Link(t), parts::link(kit, t))?;
            add(Shape::LowerPin(t), parts::lower_pin(kit, t))?;
            add(Shape::UpperPin(t), parts::upper_pin(kit, t))?;
            add(Shape::LowerPinPath(t), parts::lower_pin_path(kit, t))?;
            add(Shape::UpperPinPath(t), parts::upper_pin_path(kit, t))?;
        }
        add(Shape::Outlet, parts::outlet(kit))?;
        add(Shape::OutletHandle, parts::outlet_handle_sweep(kit))?;
        add(Shape::OpenHandle, parts::outlet_handle(kit))?;
        add(Shape::Bar, parts::bar(kit))?;
        add(Shape::Saddle, parts::saddle(kit))?;
        add(Shape::Foot, parts::foot(kit))?;
        add(Shape::Screw, parts::screw(kit))?;
        add(Shape::ScrewBlock, parts::screw_block(kit))?;
        add(Shape::ScrewHandle, parts::screw_handle_sweep(kit))?;
        let shaped = |(shape, body)| (shape, Shaped::new(body));
        let shapes = Arc::new(bodies.into_par_iter().map(shaped).collect());
        Ok(Self {
            car,
            kit,
            solids,
            moved: None,
            extents,
            shapes,
            contacts: Arc::default(),
            top,
            is_exact: false,
        })
    }

    /// The same kit with a car top of the same bodies, some of them with another mesh: what is alike
    /// is prepared once for both.
    pub fn with_changed<'b>(&'b self, car: &'b CarTop) -> Scene<'b> {
        let before = |i: usize, mesh: &Mesh| {
            self.car.bodies.get(i).is_some_and(|before| before.body.mesh == *mesh)
        };
        let (mut solids, mut extents) = (Vec::new(), Vec::new());
        for (i, b) in car.bodies.iter().enumerate() {
            let mesh = &b.body.mesh;
            if before(i, mesh) {
                solids.push(Arc::clone(&self.solids[i]));
                extents.push(Arc::clone(&self.extents[i]));
            } else {
                solids.push(Arc::new(Solid::new(mesh)));
                extents.push(Arc::default());
            }
        }
        let plate = car.plate.0;
        let top = if before(plate, &car.bodies[plate].body.mesh) {
            Arc::clone(&self.top)
        } else {
            Arc::new(Top::of(&car.bodies[plate].body.mesh, solids[plate].is_closed()))
        };
        let (shapes, contacts) = (Arc::clone(&self.shapes), Arc::clone(&self.contacts));
        let (moved, is_exact) = (self.moved.clone(), self.is_exact);
        Scene { car, kit: self.kit, solids, moved, extents, shapes, contacts, top, is_exact }
    }

    /// A car top and a kit as they may have been built from this scene's: every part of the kit just
    /// as it is meshed. The car top's hierarchies are shared.
    ///
    /// # Errors
    /// As for [`Scene::new`].
    pub fn built<'b>(&self, built: &'b AsBuilt) -> Result<Scene<'b>, PartError> {
        let (solids, top) = (self.solids.clone(), Arc::clone(&self.top));
        let scene = Scene::with(&built.car, &built.kit, solids, top)?;
        Ok(Scene { moved: Some(built.moved.clone()), is_exact: true, ..scene })
    }

    /// Whether the kit's parts are taken as they are meshed.
    pub fn is_exact(&self) -> bool {
        self.is_exact
    }

    /// Where the solid of a car body lies as drawn: moved, for a car top as it was built.
    pub fn plate_from_solid(&self, id: assembly::car_top::BodyId) -> Isometry3<f64> {
        let moved = self.moved.as_ref().and_then(|moved| moved.get(id.0));
        moved.copied().unwrap_or_else(Isometry3::identity)
    }

    /// The solid of a car body, in the plate frame as drawn, but for [`Scene::plate_from_solid`].
    pub fn car_solid(&self, id: assembly::car_top::BodyId) -> &Solid {
        &self.solids[id.0]
    }

    /// How far a car body reaches sideways and up, as drawn.
    pub fn extent(&self, id: assembly::car_top::BodyId) -> &Extent {
        self.extents[id.0].get_or_init(|| Extent::of(&self.car.body(id).body.mesh))
    }

    /// The plate's surface near its sealing face.
    pub(crate) fn plate_top(&self) -> &Top {
        &self.top
    }

    /// The solid of a kit shape, or `None` when the kit has no such shape.
    pub fn shape(&self, shape: Shape) -> Option<&Shaped> {
        self.shapes.get(&shape)
    }

    /// The bound on how wrong the figures of a choice's ports may be, mm.
    pub fn clamp_deviation(&self, choice: &Choice) -> f64 {
        choice.ports.iter().map(|&p| self.car.ports[p].deviation).fold(0.0, f64::max)
    }

    /// The shape of a rig part under a choice and a placement.
    pub fn shape_of(part: RigPart, choice: &Choice, placement: &Placement) -> Shape {
        Self::shape_by(part, choice, placement.link_thickness)
    }

    /// The same by the placement's links.
    pub(crate) fn shape_by(
        part: RigPart,
        choice: &Choice,
        link_thickness: [[usize; 2]; 2],
    ) -> Shape {
        let outside = |end: assembly::placement::End| link_thickness[end.index()][1];
        match part {
            RigPart::Gasket => Shape::Gasket(choice.cup),
            RigPart::Cup => Shape::Cup(choice.cup),
            RigPart::SidePort => Shape::SidePort(choice.cup),
            RigPart::Outlet => Shape::Outlet,
            RigPart::OutletHandle => Shape::OutletHandle,
            RigPart::Bar => Shape::Bar,
            RigPart::Saddle(_) => Shape::Saddle,
            RigPart::UpperPin(end) => Shape::UpperPin(outside(end)),
            RigPart::UpperPinPath(end) => Shape::UpperPinPath(outside(end)),
            RigPart::Link(end, side) => Shape::Link(link_thickness[end.index()][side.index()]),
            RigPart::Foot(_) => Shape::Foot,
            RigPart::LowerPin(end) => Shape::LowerPin(outside(end)),
            RigPart::LowerPinPath(end) => Shape::LowerPinPath(outside(end)),
            RigPart::ScrewBlock => Shape::ScrewBlock,
            RigPart::Screw => Shape::Screw,
            RigPart::ScrewHandle => Shape::ScrewHandle,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hull_of_a_grid_is_its_corners() {
        let points: Vec<_> = (0..25)
            .map(|i| Point3::new(f64::from(i % 5), f64::from(i / 5), f64::from(i)))
            .collect();
        let hull = plan_hull(&points);
        assert_eq!(hull.len(), 4);
        assert!(hull.contains(&Point3::new(4.0, 4.0, 24.0)));
    }
}
