//! Changes that a designer could make to a car top, each of one kind with one size.
//!
//! Only what the meshes carry exactly is here: whole bodies moved or turned, the studs of a circle
//! moved apart, and bodies made longer or shorter where they are straight up and down. A port
//! cannot be moved in its sidewall, nor made wider: the opening would have to be cut anew. Ports
//! move by turning the housing or by making it higher.

mod ranges;
mod studs;

pub use ranges::{fitting_ranges, housing_ranges};

use crate::car_top::{BodyId, CarTop, Fitting, FittingKind, LidState, Port, Removable};
use measure::Angle;
use nalgebra::{
    Isometry3, Point2, Point3, Rotation2, Translation3, UnitQuaternion, Vector2, Vector3,
};
use studs::StudCircle;

/// What a change does; its size is given beside it, in millimetres or radians.
#[derive(Debug, Clone, PartialEq)]
pub enum Way {
    /// The lid's stop lets it open farther; radians.
    LidStop,
    /// A fitting, by index, is turned counter-clockwise about its centreline; radians.
    TurnFitting {
        /// Index into [`CarTop::fittings`].
        fitting: usize,
    },
    /// A fitting is made longer where it is straight; mm, below zero for shorter.
    StretchFitting {
        /// Index into [`CarTop::fittings`].
        fitting: usize,
        /// The heights between which it is straight, mm.
        range: [f64; 2],
    },
    /// A fitting is moved on the plate; mm.
    MoveFitting {
        /// Index into [`CarTop::fittings`].
        fitting: usize,
        /// The bearing toward which it is moved.
        toward: Angle,
    },
    /// The circle on which a body's studs stand is made wider; mm on the radius.
    SpreadStuds {
        /// The studs.
        studs: BodyId,
    },
    /// The housing is turned counter-clockwise about its axis, with its ports, port covers, lid and
    /// hinge; radians.
    TurnHousing {
        /// Bodies that turn along: studs that hold the housing.
        with: Vec<BodyId>,
    },
    /// The sidewall is made higher where it is straight, and all that is fixed to it above goes up;
    /// mm, below zero for lower.
    StretchHousing {
        /// The heights between which it is straight, mm.
        range: [f64; 2],
    },
}

/// A change: a way and how much.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// What it does.
    pub way: Way,
    /// How much, in the way's unit.
    pub by: f64,
}

/// What must be left of a straight piece that is made shorter, mm. Our choice.
const LEFT: f64 = 1.0;

impl Way {
    /// Whether its size is an angle.
    pub const fn is_turn(&self) -> bool {
        matches!(self, Self::LidStop | Self::TurnFitting { .. } | Self::TurnHousing { .. })
    }

    /// The bodies that it moves or changes; the lid's is drawn where it was when its stop changes.
    pub fn bodies(&self, car: &CarTop) -> Vec<BodyId> {
        match self {
            Self::LidStop => lid(car).into_iter().collect(),
            Self::TurnFitting { fitting }
            | Self::StretchFitting { fitting, .. }
            | Self::MoveFitting { fitting, .. } => car.bodies_of(*fitting),
            Self::SpreadStuds { studs } => vec![*studs],
            Self::TurnHousing { with } => {
                let mut bodies = car.bodies_of_housing();
                bodies.extend(with);
                bodies
            }
            Self::StretchHousing { .. } => car.bodies_of_housing(),
        }
    }

    /// Where a point of a body, given in a car top changed by `from`, lies in one changed by `to`; the
    /// lid's points are given as it is drawn. `None` where the way does not say: studs go each
    /// their own way, and what is straight is stretched. `car` is the car top before both.
    pub fn carried(
        &self,
        car: &CarTop,
        id: BodyId,
        point: &Point3<f64>,
        (from, to): (f64, f64),
    ) -> Option<Point3<f64>> {
        let by = to - from;
        if !self.bodies(car).contains(&id) {
            return Some(*point);
        }
        let raised =
            |above: bool| Point3::new(point.x, point.y, point.z + if above { by } else { 0.0 });
        match self {
            Self::LidStop => Some(*point),
            Self::TurnFitting { fitting } => {
                Some(turn_about(car.fittings.get(*fitting)?.centre, by) * point)
            }
            Self::TurnHousing { .. } => Some(turn_about(Point2::origin(), by) * point),
            Self::MoveFitting { toward, .. } => {
                let (sin, cos) = toward.radians().sin_cos();
                Some(point + Vector3::new(cos, sin, 0.0) * by)
            }
            Self::SpreadStuds { .. } => None,
            Self::StretchHousing { range } if Some(id) == lid(car) => match &car.lid {
                LidState::Hinged(lid) => Some(raised(lid.axis_point.z >= range[1])),
                LidState::Unknown | LidState::None => None,
            },
            Self::StretchFitting { range, .. } | Self::StretchHousing { range } => {
                let above = point.z >= range[1] + from;
                (above || point.z <= range[0]).then(|| raised(above))
            }
        }
    }

    /// The car top changed. `None` where it cannot be so much, or the way does not exist on it.
    pub fn made(&self, car: &CarTop, by: f64) -> Option<CarTop> {
        if !by.is_finite() {
            return None;
        }
        let mut changed = car.clone();
        match self {
            Self::LidStop => {
                let LidState::Hinged(lid) = &mut changed.lid else { return None };
                lid.stop = Angle::from_radians(lid.stop.radians() + by);
                (lid.stop.radians() > 0.0).then_some(())?;
            }
            Self::TurnFitting { fitting } => {
                let centre = car.fittings.get(*fitting)?.centre;
                changed.place(&self.bodies(car), &turn_about(centre, by));
            }
            Self::StretchFitting { range, .. } => {
                stretchable(*range, by)?;
                changed.stretch(&self.bodies(car), *range, by);
            }
            Self::MoveFitting { fitting, toward } => {
                let (sin, cos) = toward.radians().sin_cos();
                let way = Vector2::new(cos, sin) * by;
                changed.fittings.get_mut(*fitting)?.centre += way;
                changed.place(&self.bodies(car), &Isometry3::translation(way.x, way.y, 0.0));
            }
            Self::SpreadStuds { studs } => {
                let mesh = &car.bodies.get(studs.0)?.body.mesh;
                changed.bodies.get_mut(studs.0)?.body.mesh =
                    StudCircle::of(mesh)?.spread(mesh, by)?;
            }
            Self::TurnHousing { .. } => changed.turn_housing(&self.bodies(car), by),
            Self::StretchHousing { range } => {
                stretchable(*range, by)?;
                changed.stretch_housing(*range, by)?;
            }
        }
        Some(changed)
    }
}

fn stretchable([low, high]: [f64; 2], by: f64) -> Option<()> {
    (high - low + by >= LEFT).then_some(())
}

fn lid(car: &CarTop) -> Option<BodyId> {
    match &car.lid {
        LidState::Hinged(lid) => Some(lid.body),
        LidState::Unknown | LidState::None => None,
    }
}

/// A turn about an upright axis.
fn turn_about(centre: Point2<f64>, by: f64) -> Isometry3<f64> {
    let to = Translation3::new(centre.x, centre.y, 0.0);
    let turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), by);
    to * turn * to.inverse()
}

/// What a stretch does to a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PortStretch {
    /// It lies below and stays.
    Stays,
    /// It lies above and goes up.
    Rises,
    /// It becomes taller.
    Grows,
}

impl PortStretch {
    /// What a stretch of the sidewall between two heights does to a port; `None` where its figures
    /// and the mesh do not agree on whether the sidewall is straight there.
    pub fn of(port: &Port, [low, high]: [f64; 2]) -> Option<Self> {
        let (sill, top) = (port.sill, port.sill + port.height);
        let off = port.deviation + 1e-6;
        if sill >= high - off {
            Some(Self::Rises)
        } else if top <= low + off {
            Some(Self::Stays)
        } else if sill <= low + off && top >= high - off {
            Some(Self::Grows)
        } else {
            None
        }
    }
}

impl CarTop {
    /// A fitting's bodies: those that stay and those that come off. Empty where there is none.
    pub fn bodies_of(&self, fitting: usize) -> Vec<BodyId> {
        let Some(fitting) = self.fittings.get(fitting) else { return Vec::new() };
        fitting.bodies.iter().copied().chain(fitting.removables.iter().map(|r| r.body)).collect()
    }

    /// The housing with all that is fixed to it: port covers, lid and hinge.
    pub fn bodies_of_housing(&self) -> Vec<BodyId> {
        let covers = self.ports.iter().filter_map(|p| p.cover);
        let hinge = self.hinge.iter().flatten().copied();
        let mut bodies: Vec<BodyId> =
            self.housing.iter().copied().chain(covers).chain(hinge).chain(lid(self)).collect();
        bodies.sort_unstable();
        bodies.dedup();
        bodies
    }

    fn place(&mut self, bodies: &[BodyId], to_from_here: &Isometry3<f64>) {
        for id in bodies {
            if let Some(body) = self.bodies.get_mut(id.0) {
                for v in &mut body.body.mesh.vertices {
                    *v = to_from_here * *v;
                }
            }
        }
    }

    /// Raises what lies above a range of heights.
    fn stretch(&mut self, bodies: &[BodyId], [_, high]: [f64; 2], by: f64) {
        for id in bodies {
            if let Some(body) = self.bodies.get_mut(id.0) {
                for v in body.body.mesh.vertices.iter_mut().filter(|v| v.z >= high) {
                    v.z += by;
                }
            }
        }
    }

    fn turn_housing(&mut self, bodies: &[BodyId], by: f64) {
        self.place(bodies, &turn_about(Point2::origin(), by));
        for port in &mut self.ports {
            port.at = Rotation2::new(by) * port.at;
            port.facing = Angle::from_radians(port.facing.radians() + by);
        }
        if let LidState::Hinged(lid) = &mut self.lid {
            let turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), by);
            lid.axis_point = turn * lid.axis_point;
            lid.axis = turn * lid.axis;
        }
    }

    fn stretch_housing(&mut self, range: [f64; 2], by: f64) -> Option<()> {
        for port in &mut self.ports {
            match PortStretch::of(port, range)? {
                PortStretch::Stays => {}
                PortStretch::Rises => port.sill += by,
                PortStretch::Grows => port.height += by,
            }
            (port.height > 0.0).then_some(())?;
        }
        let lid = lid(self);
        let bodies: Vec<BodyId> =
            self.bodies_of_housing().into_iter().filter(|id| Some(*id) != lid).collect();
        self.stretch(&bodies, range, by);
        // The lid hangs on its hinge, however it is drawn.
        if let LidState::Hinged(lid) = &mut self.lid
            && lid.axis_point.z >= range[1]
        {
            lid.axis_point.z += by;
            let id = lid.body;
            self.place(&[id], &Isometry3::translation(0.0, 0.0, by));
        }
        Some(())
    }
}

/// The car top with some bodies as pieces that come off, the lid as if there were none: with
/// everything off it is what they leave, wherever a change puts them.
#[must_use]
pub fn with_loose(car: &CarTop, bodies: &[BodyId]) -> CarTop {
    let mut loose = car.clone();
    if lid(car).is_some_and(|lid| bodies.contains(&lid)) {
        loose.lid = LidState::None;
    }
    let removables = bodies.iter().map(|&body| Removable { name: String::new(), body }).collect();
    loose.fittings.push(Fitting {
        name: String::new(),
        kind: FittingKind::BlindFlange,
        size: String::new(),
        centre: Point2::origin(),
        flange: 0.0,
        bodies: Vec::new(),
        removables,
    });
    loose
}
