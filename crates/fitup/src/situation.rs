//! A rig placed in a scene.

use crate::checks::{Facing, facings};
use crate::contacts::Found;
use crate::land::{Asking, Land};
use crate::margin::Part;
use crate::memory::{Key, Memory};
use crate::path::solid_of;
use crate::scene::{Scene, Shaped};
use crate::stack;
use assembly::car_top::{BodyId, LidState};
use assembly::kit::PartKind;
use assembly::rig::{self, RigPart, RigPose};
use assembly::{Choice, Placement};
use gap::{Bounds, Proximity, Solid};
use measure::{Interval, Stack};
use nalgebra::{Isometry3, Point3, Vector3};
use solids::{Mesh, Polyline};
use std::collections::{BTreeMap, HashSet};
use std::sync::OnceLock;

/// A rig placed in a scene: the poses of its parts, what is off, what the lid's opening is.
pub struct Situation<'s> {
    /// Car top and kit.
    pub scene: &'s Scene<'s>,
    /// Fitting, cup, ports, what is off.
    pub choice: &'s Choice,
    /// The numbers that pose the rig.
    pub placement: &'s Placement,
    /// The poses.
    pub pose: RigPose,
    plate_from_lid: Isometry3<f64>,
    lid: Option<BodyId>,
    absent: HashSet<BodyId>,
    /// What makes the place of each part of the rig uncertain, and by how much in the worst case.
    stacks: BTreeMap<RigPart, (Stack, f64)>,
    memory: Option<&'s Memory<'s>>,
    facings: OnceLock<Vec<Facing>>,
}

/// What a query found between two parts.
#[derive(Debug, Clone, PartialEq)]
pub enum Measured {
    /// Farther apart than asked about, mm.
    Beyond(f64),
    /// The distance between them (below zero: the depth of their overlap) by their meshes, and where,
    /// plate frame.
    Between(Interval, Option<[Point3<f64>; 2]>),
    /// The meshes do not let the query decide, for this reason.
    Undecided(String),
}

/// Where two parts run into each other, plate frame, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Meeting {
    /// The lines along which their surfaces cross; none where one part is inside the other.
    pub lines: Vec<Polyline>,
    /// What both fill; `None` where a surface is open, and where it could not be made and proven.
    pub shared: Option<Mesh>,
}

impl<'s> Situation<'s> {
    /// Places a rig. `None` when the choice does not define a bar line (see [`rig::pose`]).
    pub fn new(scene: &'s Scene<'s>, choice: &'s Choice, placement: &'s Placement) -> Option<Self> {
        let car = scene.car;
        let pose = rig::pose(scene.kit, car, choice, placement)?;
        let mut absent = HashSet::new();
        for removed in &choice.removed {
            absent
                .insert(car.fittings.get(removed.fitting)?.removables.get(removed.removable)?.body);
        }
        // The covers of the two ports that the feet go through are opened or off.
        absent.extend(choice.ports.iter().filter_map(|&p| car.ports[p].cover));
        let lid = match &car.lid {
            LidState::Hinged(lid) => Some(lid.body),
            LidState::Unknown | LidState::None => None,
        };
        let plate_from_lid =
            rig::plate_from_lid(car, placement.lid_opening).unwrap_or_else(Isometry3::identity);
        let stack = |part| stack::of_part(scene, choice, placement.link_thickness, part);
        let parts = RigPart::all(scene.kit).into_iter();
        let known = |stack: Stack| {
            let worst = stack.worst();
            (stack, worst)
        };
        let stacks = parts.map(|part| (part, known(stack(part)))).collect();
        let (memory, facings) = (None, OnceLock::new());
        Some(Self {
            scene,
            choice,
            placement,
            pose,
            plate_from_lid,
            lid,
            absent,
            stacks,
            memory,
            facings,
        })
    }

    /// The same, where what was measured before is not measured again.
    pub fn with_memory(
        memory: &'s Memory<'s>,
        choice: &'s Choice,
        placement: &'s Placement,
    ) -> Option<Self> {
        memory.turn();
        let situation = Self::new(memory.scene, choice, placement)?;
        Some(Self { memory: Some(memory), ..situation })
    }

    /// Where what is measured is kept, if it is.
    pub(crate) fn memory(&self) -> Option<&Memory<'s>> {
        self.memory
    }

    /// The land under the gasket.
    pub(crate) fn land(&self, asking: &Asking) -> Land {
        let find = || Land::of(self.scene.plate_top(), asking);
        self.memory.map_or_else(find, |memory| memory.land(asking, find))
    }

    /// The bodies of the car top that are there.
    pub fn present(&self) -> impl Iterator<Item = BodyId> {
        (0..self.scene.car.bodies.len()).map(BodyId).filter(|id| !self.absent.contains(id))
    }

    /// The kind of a car body.
    pub fn kind(&self, id: BodyId) -> PartKind {
        self.scene.car.body(id).kind
    }

    /// Whether a car body belongs to the fitting that is to be covered.
    pub fn is_covered(&self, id: BodyId) -> bool {
        let fitting = &self.scene.car.fittings[self.choice.fitting];
        fitting.bodies.contains(&id) || fitting.removables.iter().any(|r| r.body == id)
    }

    /// The rig's parts.
    pub fn rig_parts(&self) -> Vec<RigPart> {
        RigPart::all(self.scene.kit)
    }

    /// The solid and deviation of a rig part.
    pub fn shaped(&self, part: RigPart) -> Option<&Shaped> {
        self.scene.shape(Scene::shape_of(part, self.choice, self.placement))
    }

    /// The pose of a car body: the lid's at its opening, everything else as drawn.
    pub fn plate_from_car(&self, id: BodyId) -> Isometry3<f64> {
        let drawn = self.scene.plate_from_solid(id);
        if self.lid == Some(id) { self.plate_from_lid * drawn } else { drawn }
    }

    /// What makes the place of a part's true surface uncertain: its own deviation, and that of what
    /// it stands on.
    pub fn stack(&self, part: Part) -> Stack {
        match part {
            Part::Car(id) => stack::of_car(self.scene, id),
            Part::Rig(rig) => match self.stacks.get(&rig) {
                Some((stack, _)) => stack.clone(),
                None => stack::of_part(self.scene, self.choice, self.placement.link_thickness, rig),
            },
        }
    }

    /// The bound on how far a part's true surface may be from where it is posed, mm.
    pub fn deviation(&self, part: Part) -> f64 {
        match part {
            Part::Car(id) => self.scene.car.body(id).body.deviation.bound,
            Part::Rig(rig) => match self.stacks.get(&rig) {
                Some((_, worst)) => *worst,
                None => self.stack(part).worst(),
            },
        }
    }

    /// The same between parts that stand on each other and move together: their own deviations,
    /// and those of the ports' figures for the clamp and of the plate for the cup.
    pub(crate) fn deviation_in_contact(&self, part: Part) -> f64 {
        match part {
            Part::Car(_) => self.deviation(part),
            Part::Rig(rig) => {
                let links = self.placement.link_thickness;
                stack::in_contact(self.scene, self.choice, links, rig).worst()
            }
        }
    }

    /// The body of the sidewall that carries the ports: the first one named for the housing.
    pub(crate) fn sidewall(&self) -> Option<BodyId> {
        self.scene.car.housing.first().copied()
    }

    fn posed(&self, part: Part) -> Option<(&Solid, Isometry3<f64>)> {
        match part {
            Part::Car(id) => Some((self.scene.car_solid(id), self.plate_from_car(id))),
            Part::Rig(rig) => Some((&self.shaped(rig)?.solid, *self.pose.plate_from(rig))),
        }
    }

    /// Whether a car body has holes in its surface and the boxes around it and a rig part come
    /// within `reach` of each other, so that what is missing may be in the part's way.
    pub(crate) fn may_meet_hole(&self, part: RigPart, id: BodyId, reach: f64) -> bool {
        let solid = self.scene.car_solid(id);
        if solid.is_closed() {
            return false;
        }
        let (Some(shaped), Some(body)) = (self.shaped(part), solid.bounds()) else { return true };
        let Some(own) = shaped.solid.bounds() else { return true };
        let body_from_part = self.plate_from_car(id).inv_mul(self.pose.plate_from(part));
        boxes_meet(&own, &body, &body_from_part, reach)
    }

    /// The distance between two parts, as far as `cap`.
    pub fn between(&self, a: Part, b: Part, cap: f64) -> Measured {
        self.measure((a, b), (cap, false), |solids, a_from_b| with_depth(solids, a_from_b, cap))
    }

    /// The same, but of parts that run into each other it is only told that they do.
    pub(crate) fn between_or_in(&self, a: Part, b: Part, cap: f64) -> Measured {
        let Some([(solid_a, plate_from_a), (solid_b, plate_from_b)]) =
            self.posed(a).zip(self.posed(b)).map(|(a, b)| [a, b])
        else {
            return Measured::Undecided("the kit has no such part".into());
        };
        let a_from_b = plate_from_a.inv_mul(&plate_from_b);
        match gap::gap(solid_a, solid_b, &a_from_b, cap) {
            Proximity::AtLeast(least) => Measured::Beyond(least),
            Proximity::Apart(found) => Measured::Between(
                Interval::exactly(found.distance),
                Some([plate_from_a * found.on_a, plate_from_a * found.on_b]),
            ),
            Proximity::Overlapping => {
                Measured::Between(Interval { low: f64::NEG_INFINITY, high: 0.0 }, None)
            }
            Proximity::CannotDecide(why) => Measured::Undecided(why.to_string()),
        }
    }

    /// The distance between two parts as they are seen, each where it stands or where it was moved to,
    /// plate frame from the part's own: the cup with its cavity empty, and of the outlet's handle the
    /// handle itself.
    pub fn between_as_seen(&self, [a, b]: [(Part, Option<Isometry3<f64>>); 2]) -> Measured {
        let seen = |(part, moved): (Part, Option<Isometry3<f64>>)| match part {
            Part::Car(id) => {
                let stands = || self.plate_from_car(id);
                let drawn = |moved| moved * self.scene.plate_from_solid(id);
                Some((self.scene.car_solid(id), moved.map_or_else(stands, drawn)))
            }
            Part::Rig(rig) => {
                let stands = || *self.pose.plate_from(rig);
                Some((solid_of(self, rig)?, moved.unwrap_or_else(stands)))
            }
        };
        measured([seen(a), seen(b)], |solids, a_from_b| with_depth(solids, a_from_b, f64::INFINITY))
    }

    /// Where two parts run into each other, by the solids between which [`Situation::between`] measures.
    /// `None` where they do not, or where neither a line nor a body can be told.
    pub fn meeting(&self, a: Part, b: Part) -> Option<Meeting> {
        let ((a, plate_from_a), (b, plate_from_b)) = (self.posed(a)?, self.posed(b)?);
        let a_from_b = plate_from_a.inv_mul(&plate_from_b);
        let lines = gap::crossing_lines(a, b, &a_from_b).ok()?;
        let lines: Vec<Polyline> = lines
            .into_iter()
            .map(|line| Polyline {
                points: line.points.iter().map(|p| plate_from_a * p).collect(),
                closed: line.closed,
            })
            .collect();
        let shared = gap::shared_body(a, b, &a_from_b).ok().flatten();
        let shared = shared.map(|body| body.transformed(&plate_from_a));
        (!lines.is_empty() || shared.is_some()).then_some(Meeting { lines, shared })
    }

    /// As [`Situation::between`] for a contact by design.
    pub(crate) fn contact(&self, a: Part, b: Part, cap: f64) -> Measured {
        let shape = |part| Scene::shape_of(part, self.choice, self.placement);
        self.measure((a, b), (cap, true), |solids, a_from_b| match (a, b) {
            (Part::Rig(a), Part::Rig(b)) => {
                self.scene.contacts.of([shape(a), shape(b)], solids, a_from_b, cap)
            }
            _ => Found::standing(solids, a_from_b, cap),
        })
    }

    /// Every pair of parts that some check owns.
    pub(crate) fn facings(&self) -> &[Facing] {
        self.facings.get_or_init(|| facings(self))
    }

    /// The box around a part along the axes of the plate frame; `None` for a part without one.
    pub(crate) fn plate_box(&self, part: Part) -> Option<PlateBox> {
        let (solid, plate_from_part) = self.posed(part)?;
        let Bounds { low, high } = solid.bounds()?;
        let turn = plate_from_part.rotation.to_rotation_matrix().matrix().map(f64::abs);
        let centre = plate_from_part * nalgebra::center(&low, &high);
        Some(PlateBox { centre, half: turn * (0.5 * (high - low)) })
    }

    /// How far two parts are apart at the least, by the boxes around them, mm; zero or below where nothing
    /// is told by them.
    pub(crate) fn apart_at_least(&self, a: Part, b: Part) -> f64 {
        let (Some((solid_a, plate_from_a)), Some((solid_b, plate_from_b))) =
            (self.posed(a), self.posed(b))
        else {
            return f64::NEG_INFINITY;
        };
        apart_at_least([solid_a, solid_b], &plate_from_a.inv_mul(&plate_from_b))
    }

    /// Whether two parts are surely as far apart as this, mm.
    pub(crate) fn is_clear(&self, a: Part, b: Part, gap: f64) -> bool {
        let (Some((solid_a, plate_from_a)), Some((solid_b, plate_from_b))) =
            (self.posed(a), self.posed(b))
        else {
            return false;
        };
        let a_from_b = plate_from_a.inv_mul(&plate_from_b);
        let solids = [solid_a, solid_b];
        apart_at_least(solids, &a_from_b) > gap
            || gap::clears(solid_a, solid_b, &a_from_b, gap) == Some(true)
    }

    fn measure(
        &self,
        (a, b): (Part, Part),
        (cap, is_contact): (f64, bool),
        find: impl Fn([&Solid; 2], &Isometry3<f64>) -> Found,
    ) -> Measured {
        measured([self.posed(a), self.posed(b)], |solids, a_from_b| {
            // Most pairs are, which is told far more quickly than what was measured is looked up.
            if apart_at_least(solids, a_from_b) > cap {
                return Found::Beyond(cap);
            }
            let find = || find(solids, a_from_b);
            let Some(memory) = self.memory else { return find() };
            let shape = |part| Scene::shape_of(part, self.choice, self.placement);
            let key = Key::new([a.who(shape), b.who(shape)], a_from_b, cap, is_contact);
            memory.found(key, find)
        })
    }
}

/// What rounding may do to boxes, mm.
const ROUNDING: f64 = 1e-9;

/// A box along the axes of the plate frame: its middle, and half its sides, mm.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PlateBox {
    centre: Point3<f64>,
    half: Vector3<f64>,
}

impl PlateBox {
    /// How far what is in two boxes is apart at the least, mm; zero or below where they overlap.
    pub(crate) fn apart(&self, other: &Self) -> f64 {
        let apart = (self.centre - other.centre).abs() - self.half - other.half;
        apart.iter().copied().fold(f64::NEG_INFINITY, f64::max) - ROUNDING
    }
}

/// How far two solids are apart at the least, by the boxes around them, mm; zero or below where nothing is
/// told by them.
fn apart_at_least([a, b]: [&Solid; 2], a_from_b: &Isometry3<f64>) -> f64 {
    let (Some(a), Some(b)) = (a.bounds(), b.bounds()) else { return f64::NEG_INFINITY };
    boxes_apart(&b, &a, a_from_b) - ROUNDING
}

/// The distance between two solids, and how deep they overlap.
fn with_depth(solids: [&Solid; 2], a_from_b: &Isometry3<f64>, cap: f64) -> Found {
    Found::between(solids, a_from_b, cap, |a, b, a_from_b| {
        let found = gap::overlap(a, b, a_from_b)?;
        Some((Interval::between(-found.depth_high, -found.depth_low), found.at))
    })
}

/// What is found between two posed solids.
fn measured(
    posed: [Option<(&Solid, Isometry3<f64>)>; 2],
    find: impl Fn([&Solid; 2], &Isometry3<f64>) -> Found,
) -> Measured {
    let [Some((solid_a, plate_from_a)), Some((solid_b, plate_from_b))] = posed else {
        return Measured::Undecided("the kit has no such part".into());
    };
    let a_from_b = plate_from_a.inv_mul(&plate_from_b);
    match find([solid_a, solid_b], &a_from_b) {
        Found::Beyond(least) => Measured::Beyond(least),
        Found::Apart(found) => Measured::Between(
            Interval::exactly(found.distance),
            Some([plate_from_a * found.on_a, plate_from_a * found.on_b]),
        ),
        Found::Deep(interval, at) => {
            let at = at.map(|at| plate_from_a * at);
            Measured::Between(interval, at.map(|at| [at, at]))
        }
        Found::Undecided(why) => Measured::Undecided(why.to_string()),
    }
}

/// Whether a box and the box around another, turned one come within `reach` of each other, mm.
pub(crate) fn boxes_meet(
    own: &Bounds,
    body: &Bounds,
    body_from_own: &Isometry3<f64>,
    reach: f64,
) -> bool {
    boxes_apart(own, body, body_from_own) <= reach
}

/// How far a box and the box around another, turned one are apart along the axis along which they are the
/// most, mm; below zero where they overlap.
fn boxes_apart(own: &Bounds, body: &Bounds, body_from_own: &Isometry3<f64>) -> f64 {
    let centre = body_from_own * nalgebra::center(&own.low, &own.high);
    let half = body_from_own.rotation.to_rotation_matrix().matrix().map(f64::abs)
        * (0.5 * (own.high - own.low));
    let along =
        |i: usize| (body.low[i] - centre[i] - half[i]).max(centre[i] - half[i] - body.high[i]);
    (0..3).map(along).fold(f64::NEG_INFINITY, f64::max)
}
