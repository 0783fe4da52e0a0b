//! How the rig's parts move with the variables of a placement: their frames at given values, and
//! bounds on how far a straight line between two placements is from the way a point takes.
//!
//! The frames are those of [`assembly::rig::pose`], in a form that is cheap to work out many times.
//! [`Curvature`] bounds the second derivative of a point's place along each variable; with it the
//! values at the corners of a cell bound those inside (see [`super::bound`]).

use super::space::{CHOICES, ELBOW, Options, VARIABLES, Values, hole, thickness, var};
use crate::scene::Scene;
use assembly::Choice;
use assembly::car_top::LidState;
use assembly::placement::{End, Side};
use assembly::rig::{self, RigPart, gasket_of, rim_height};
use nalgebra::{
    Isometry3, Matrix3, Point2, Rotation3, Translation3, UnitQuaternion, Vector2, Vector3,
};

/// What moves as one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Frame {
    /// The car top but for the lid.
    Plate,
    /// The lid.
    Lid,
    /// Gasket and cup, which are round and do not turn with the bearing.
    Still,
    /// The side port.
    SidePort,
    /// Outlet and handle.
    Outlet,
    /// Foot, lower pin and its path.
    Foot(End),
    /// Link.
    Link(End, Side),
    /// Saddle, upper pin and its path.
    Saddle(End),
    /// Clamp bar.
    Bar,
    /// Screw block.
    Block,
    /// Screw and handle.
    Screw,
}

impl Frame {
    /// The frame of a rig part.
    pub fn of(part: RigPart) -> Self {
        match part {
            RigPart::Gasket | RigPart::Cup => Self::Still,
            RigPart::SidePort => Self::SidePort,
            RigPart::Outlet | RigPart::OutletHandle => Self::Outlet,
            RigPart::Bar => Self::Bar,
            RigPart::Saddle(e) | RigPart::UpperPin(e) | RigPart::UpperPinPath(e) => Self::Saddle(e),
            RigPart::Link(e, s) => Self::Link(e, s),
            RigPart::Foot(e) | RigPart::LowerPin(e) | RigPart::LowerPinPath(e) => Self::Foot(e),
            RigPart::ScrewBlock => Self::Block,
            RigPart::Screw | RigPart::ScrewHandle => Self::Screw,
        }
    }

    /// Whether a rectangle in it may stand for a point in the witness of a gap to another frame: it
    /// does not turn, or only with the line of the feet against what does not move.
    pub const fn may_hold_rectangle(self, other: Self) -> bool {
        match self {
            Self::Plate | Self::Still => true,
            Self::Foot(_) | Self::Link(..) => matches!(other, Self::Plate),
            _ => false,
        }
    }

    /// The continuous variables that move it.
    pub fn moved_by(self) -> [bool; VARIABLES] {
        let mut by = [false; VARIABLES];
        let set: &[usize] = match self {
            Self::Plate => &[],
            Self::Lid => &[var::LID],
            Self::Still => &[var::X, var::Y],
            Self::SidePort | Self::Outlet => &[var::X, var::Y, var::BEARING],
            Self::Foot(_) | Self::Link(..) | Self::Saddle(_) => &[var::SHIFT, var::SHIFT + 1],
            Self::Bar => &[var::SHIFT, var::SHIFT + 1, var::SLIDE],
            Self::Block | Self::Screw => &[var::X, var::Y, var::SHIFT, var::SHIFT + 1],
        };
        for &k in set {
            by[k] = true;
        }
        by
    }

    /// The discrete variables that its place depends on.
    pub fn chosen_by(self) -> [bool; CHOICES] {
        let mut by = [false; CHOICES];
        match self {
            Self::Outlet => by[ELBOW] = true,
            Self::Link(end, side) => by[thickness(end, side)] = true,
            Self::Saddle(_) | Self::Bar | Self::Block | Self::Screw => {
                by[hole(End::A)] = true;
                by[hole(End::B)] = true;
            }
            Self::Plate | Self::Lid | Self::Still | Self::SidePort | Self::Foot(_) => {}
        }
        by
    }
}

/// A place: axes as columns, and the origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    axes: Matrix3<f64>,
    at: Vector3<f64>,
}

impl Place {
    /// Where a point of the frame lies in the plate frame.
    pub fn point(&self, local: &Vector3<f64>) -> Vector3<f64> {
        self.axes * local + self.at
    }

    /// A point of the plate frame seen from here.
    pub fn seen(&self, point: &Vector3<f64>) -> Vector3<f64> {
        self.axes.tr_mul(&(point - self.at))
    }

    /// As an isometry to the plate frame.
    pub fn isometry(&self) -> Isometry3<f64> {
        let rotation = Rotation3::from_matrix_unchecked(self.axes);
        Isometry3::from_parts(
            Translation3::from(self.at),
            UnitQuaternion::from_rotation_matrix(&rotation),
        )
    }
}

/// The numbers of a choice that its frames rest on.
#[derive(Debug, Clone)]
pub struct Mechanism {
    centre: Vector2<f64>,
    port_at: [Vector2<f64>; 2],
    tangent: [Vector2<f64>; 2],
    /// Directions in which the ports face, seen from above.
    pub facing: [Vector2<f64>; 2],
    pin_height: [f64; 2],
    holes: Vec<f64>,
    from_foot: Vec<f64>,
    drop: f64,
    seat: f64,
    side_port: Vector3<f64>,
    elbow: Vec<Matrix3<f64>>,
    lid: Option<LidHinge>,
}

#[derive(Debug, Clone)]
struct LidHinge {
    through: Vector3<f64>,
    axis: nalgebra::Unit<Vector3<f64>>,
    drawn_at: f64,
}

/// The clamp's main lines at given values.
#[derive(Debug, Clone, Copy)]
pub struct Lines {
    /// Lower pins.
    pub feet: [Vector3<f64>; 2],
    /// Upper pins.
    upper: [Vector3<f64>; 2],
    /// Unit vector seen from above, from B to A.
    pub level: Vector3<f64>,
    /// Unit vector along the bar, from B to A.
    along: Vector3<f64>,
    /// Level, square to the bar.
    across: Vector3<f64>,
    /// Square to both.
    up: Vector3<f64>,
    /// On the bar's underside, midway between the upper pins.
    middle: Vector3<f64>,
    /// Where the ball's centre sits.
    pub seat: Vector3<f64>,
    /// Distance between the feet seen from above.
    pub span: f64,
    /// How much higher the bar's end A is.
    pub rise: f64,
}

impl Lines {
    /// The screw's extension that brings the ball to its seat.
    pub fn extension(&self) -> f64 {
        self.up.dot(&(self.middle - self.seat))
    }

    /// Signed distance of the cup's axis from the line of the feet seen from above.
    pub fn off_line(&self) -> f64 {
        let from = self.seat - self.feet[1];
        self.level.x * from.y - self.level.y * from.x
    }
}

impl Mechanism {
    /// `None` for a choice that does not exist or has both feet in one place.
    pub fn new(scene: &Scene<'_>, choice: &Choice) -> Option<Self> {
        let (car, kit) = (scene.car, scene.kit);
        let cup = kit.cups.get(choice.cup)?;
        let gasket = gasket_of(kit, cup)?;
        let ports = [car.ports.get(choice.ports[0])?, car.ports.get(choice.ports[1])?];
        let direction = ports.map(|p| {
            let (sin, cos) = p.facing.radians().sin_cos();
            Vector2::new(cos, sin)
        });
        let lid = match &car.lid {
            LidState::Hinged(lid) => Some(LidHinge {
                through: lid.axis_point.coords,
                axis: lid.axis,
                drawn_at: lid.drawn_at.radians(),
            }),
            LidState::Unknown | LidState::None => None,
        };
        let from_foot = |t: &assembly::kit::Dim| 0.5 * (kit.foot.depth.nominal + t.nominal);
        Some(Self {
            centre: car.fittings.get(choice.fitting)?.centre.coords,
            port_at: ports.map(|p| p.at.coords),
            tangent: direction.map(|d| Vector2::new(-d.y, d.x)),
            facing: direction,
            pin_height: ports.map(|p| p.sill + p.height - kit.foot.seat.nominal),
            holes: kit.link.holes.iter().map(|h| h.nominal).collect(),
            from_foot: kit.link.thicknesses.iter().map(from_foot).collect(),
            drop: kit.saddle.pin_drop.nominal,
            seat: rig::seat_height(kit, cup, gasket),
            side_port: Vector3::new(
                cup.port_face.nominal,
                0.0,
                rim_height(gasket) + cup.port_height.nominal,
            ),
            elbow: kit
                .outlet
                .elbow_turns
                .iter()
                .map(|t| Rotation3::from_axis_angle(&-Vector3::x_axis(), t.radians()).into_inner())
                .collect(),
            lid,
        })
    }

    /// The cup's axis seen from above.
    pub fn axis(&self, v: &Values) -> Point2<f64> {
        Point2::from(self.centre + Vector2::new(v[var::X], v[var::Y]))
    }

    fn foot(&self, i: usize, v: &Values) -> Vector3<f64> {
        let at = self.port_at[i] + v[var::SHIFT + i] * self.tangent[i];
        Vector3::new(at.x, at.y, self.pin_height[i])
    }

    /// The main lines.
    pub fn lines(&self, v: &Values, options: &Options) -> Lines {
        let feet = [self.foot(0, v), self.foot(1, v)];
        let upper = End::BOTH.map(|end| {
            let reach = self.holes.get(options[hole(end)]).copied().unwrap_or(0.0);
            feet[end.index()] + Vector3::z() * reach
        });
        let apart = (feet[0] - feet[1]).xy();
        let span = apart.norm();
        let level = Vector3::new(apart.x / span, apart.y / span, 0.0);
        let across = Vector3::new(-level.y, level.x, 0.0);
        let along = (upper[0] - upper[1]).normalize();
        let up = along.cross(&across);
        let axis = self.axis(v);
        Lines {
            feet,
            upper,
            level,
            along,
            across,
            up,
            middle: 0.5 * (upper[0] + upper[1]) + self.drop * up,
            seat: Vector3::new(axis.x, axis.y, self.seat),
            span,
            rise: upper[0].z - upper[1].z,
        }
    }

    /// The place of a frame.
    pub fn place(&self, frame: Frame, v: &Values, options: &Options, lines: &Lines) -> Place {
        let columns =
            |x: Vector3<f64>, y: Vector3<f64>, z: Vector3<f64>| Matrix3::from_columns(&[x, y, z]);
        let outward = |end: End| if end == End::A { 1.0 } else { -1.0 };
        let axis = || Vector3::new(lines.seat.x, lines.seat.y, 0.0);
        let turned = || {
            let (s, c) = v[var::BEARING].sin_cos();
            Matrix3::new(c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0)
        };
        match frame {
            Frame::Plate => Place { axes: Matrix3::identity(), at: Vector3::zeros() },
            Frame::Lid => match &self.lid {
                None => Place { axes: Matrix3::identity(), at: Vector3::zeros() },
                Some(lid) => {
                    let turn = v[var::LID] - lid.drawn_at;
                    let axes = Rotation3::from_axis_angle(&lid.axis, turn).into_inner();
                    Place { axes, at: lid.through - axes * lid.through }
                }
            },
            Frame::Still => Place { axes: Matrix3::identity(), at: axis() },
            Frame::SidePort => Place { axes: turned(), at: axis() },
            Frame::Outlet => {
                let axes = turned();
                let elbow = self.elbow.get(options[ELBOW]);
                Place { at: axis() + axes * self.side_port, axes: elbow.map_or(axes, |e| axes * e) }
            }
            Frame::Foot(end) => {
                let x = lines.level * outward(end);
                let y = lines.across * outward(end);
                Place { axes: columns(x, y, Vector3::z()), at: lines.feet[end.index()] }
            }
            Frame::Link(end, side) => {
                let option = options[thickness(end, side)];
                let from = self.from_foot.get(option).copied().unwrap_or(0.0)
                    * if side == Side::Outside { 1.0 } else { -1.0 };
                let x = lines.level * outward(end);
                let y = lines.across * outward(end);
                let at = lines.feet[end.index()] + x * from;
                Place { axes: columns(x, y, Vector3::z()), at }
            }
            Frame::Saddle(end) => {
                let x = lines.along * outward(end);
                let y = lines.across * outward(end);
                Place { axes: columns(x, y, lines.up), at: lines.upper[end.index()] }
            }
            Frame::Bar => Place {
                axes: columns(lines.along, lines.across, lines.up),
                at: lines.middle + lines.along * v[var::SLIDE],
            },
            Frame::Block | Frame::Screw => {
                let axes = columns(lines.along, lines.across, lines.up);
                let from = lines.seat - lines.middle;
                let at = if frame == Frame::Block {
                    lines.middle + lines.along * lines.along.dot(&from)
                } else {
                    lines.seat - lines.across * lines.across.dot(&from)
                };
                Place { axes, at }
            }
        }
    }

    /// Bounds for the points of a frame over a range of values.
    ///
    /// With `D` the distance between the feet seen from above, a foot's shift by one millimetre
    /// turns the bar's line by at most `1/D`, and the second derivative of that turn is at most
    /// `1/D²`: the turn's rate is `sin/D` of the angle between line and shift, and its own rate
    /// `2 sin cos / D²`. A level unit vector's second derivative is then at most `2/D²`. A bar whose
    /// ends differ in height by `r` tilts by `atan(r/D)`, whose rate is at most `r/D²` and second
    /// derivative at most `3r/D³`; so its unit vectors have first derivatives of at most
    /// `(1 + r/D)/D` and second ones of at most `(2 + 6r/D)/D²`.
    pub fn curvature(&self, low: &Values, high: &Values, options: &Options) -> Curvature {
        let middle: Values = std::array::from_fn(|k| 0.5 * (low[k] + high[k]));
        let half: Values = std::array::from_fn(|k| 0.5 * (high[k] - low[k]));
        let lines = self.lines(&middle, options);
        let shifts = half[var::SHIFT] + half[var::SHIFT + 1];
        let span = (lines.span - shifts).max(1.0);
        let tilt = lines.rise.abs() / span;
        // From a point of the bar's line to the seat, at the most.
        let mut reach = (lines.seat - lines.middle).norm();
        reach += half[var::X].hypot(half[var::Y]) + shifts + self.drop;
        let slide = low[var::SLIDE].abs().max(high[var::SLIDE].abs());
        let side_port = self.side_port.x;
        let drop = self.drop;
        let half_span = 0.5 * (lines.span + shifts);
        let shift = End::BOTH.map(|end| {
            let k = var::SHIFT + end.index();
            low[k].abs().max(high[k].abs())
        });
        Curvature { span, half_span, tilt, reach, slide, side_port, drop, shift }
    }

    /// What the bend grows by where a rectangle in a frame stands for a point. The nearest point `q`
    /// of the rectangle to `p`, seen from the frame, moves no faster than `p` does: by `s` for each
    /// unit of a variable. On the way between two values of the variable the frame's turn by `t` for
    /// each unit and the move of `q` bend the distance by `2 t s` at most. A foot's shift turns the
    /// frame by `1/D` about the foot's pin, which moves by one.
    pub fn rectangle_bend(&self, frame: Frame, p: &Vector3<f64>, cell: &Curvature) -> Values {
        let mut bend = [0.0; VARIABLES];
        if let Frame::Foot(end) | Frame::Link(end, _) = frame {
            let away = (p.xy() - self.port_at[end.index()]).norm() + cell.shift[end.index()];
            let speed = 1.0 + away / cell.span;
            bend[var::SHIFT] = 2.0 * speed / cell.span;
            bend[var::SHIFT + 1] = bend[var::SHIFT];
        }
        bend
    }

    /// The lid hinge's axis: a point and a direction.
    fn hinge_radius(&self, local: &Vector3<f64>) -> f64 {
        self.lid.as_ref().map_or(0.0, |lid| (local - lid.through).cross(&lid.axis).norm())
    }

    /// An upper bound, for each variable, of the norm of the second derivative of where a point of a
    /// frame lies.
    pub fn bend(
        &self,
        frame: Frame,
        local: &Vector3<f64>,
        options: &Options,
        cell: &Curvature,
    ) -> Values {
        let mut bend = [0.0; VARIABLES];
        let d = cell.span;
        let flat = 2.0 / (d * d);
        let tilted = (2.0 + 6.0 * cell.tilt) / (d * d);
        let turn = (1.0 + cell.tilt) / d;
        let sizes = local.x.abs() + local.y.abs() + local.z.abs();
        let mut shifts = |by: f64| {
            bend[var::SHIFT] = by;
            bend[var::SHIFT + 1] = by;
        };
        match frame {
            Frame::Plate | Frame::Still => {}
            Frame::Lid => bend[var::LID] = self.hinge_radius(local),
            Frame::SidePort => bend[var::BEARING] = local.xy().norm(),
            Frame::Outlet => {
                let axes = self.elbow.get(options[ELBOW]);
                let turned = axes.map_or(*local, |e| e * local);
                bend[var::BEARING] = (turned.x + cell.side_port).hypot(turned.y);
            }
            Frame::Foot(_) => shifts(flat * local.xy().norm()),
            Frame::Link(end, side) => {
                let from = self.from_foot.get(options[thickness(end, side)]).copied();
                let sign = if side == Side::Outside { 1.0 } else { -1.0 };
                let x = local.x + sign * from.unwrap_or(0.0);
                shifts(flat * x.hypot(local.y));
            }
            Frame::Saddle(_) => shifts(tilted * sizes),
            Frame::Bar => shifts(tilted * (sizes + cell.slide + cell.drop)),
            // Of the point O on the bar's line: first derivative 1/2 + drop turn, second drop
            // tilted. Of e (e . W), e a unit vector and W from O to the seat:
            // |e''| |W| + 2 |e'| |(e . W)'| + |(e . W)''|.
            Frame::Block | Frame::Screw => {
                let (first, second) = (0.5 + cell.drop * turn, cell.drop * tilted);
                let along = turn * cell.reach + first;
                let bent = tilted * cell.reach
                    + 2.0 * turn * along
                    + tilted * cell.reach
                    + 2.0 * turn * first
                    + second;
                shifts(second + bent + tilted * sizes);
            }
        }
        bend
    }
}

/// What the bounds on a range of values rest on.
#[derive(Debug, Clone, Copy)]
pub struct Curvature {
    /// Least distance between the feet seen from above, mm.
    pub span: f64,
    /// Half the greatest, mm.
    pub half_span: f64,
    /// Greatest slope of the bar.
    pub tilt: f64,
    /// Greatest distance of the seat from a point of the bar's line between the upper pins, mm.
    pub reach: f64,
    slide: f64,
    side_port: f64,
    /// From the upper pins up to the bar's underside, mm.
    pub drop: f64,
    /// Greatest shift of each foot either way, mm.
    shift: [f64; 2],
}
