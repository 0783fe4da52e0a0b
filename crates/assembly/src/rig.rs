//! Placement to poses: where every part of a rig lies in the plate frame.

use crate::car_top::{CarTop, LidState, Port};
use crate::kit::{Cup, Gasket, Kit, PartKind, widest};
use crate::placement::{Choice, End, Placement, Side};
use measure::{Angle, Stack};
use nalgebra::{
    Isometry3, Point2, Point3, Rotation3, Translation3, UnitQuaternion, Vector2, Vector3,
};

/// A part of the rig, or a space that one of its parts sweeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum RigPart {
    /// Gasket under the cup.
    Gasket,
    /// Cup without its side port: round about its axis.
    Cup,
    /// The cup's side port.
    SidePort,
    /// Outlet piping and valve.
    Outlet,
    /// Space swept by the outlet valve's handle.
    OutletHandle,
    /// Clamp bar.
    Bar,
    /// Saddle at one end.
    Saddle(End),
    /// Upper pin at one end.
    UpperPin(End),
    /// Space in which that pin is pushed in.
    UpperPinPath(End),
    /// Link at one end, inside or outside the sidewall.
    Link(End, Side),
    /// Foot at one end.
    Foot(End),
    /// Lower pin at one end.
    LowerPin(End),
    /// Space in which that pin is pushed in.
    LowerPinPath(End),
    /// Block that carries the screw.
    ScrewBlock,
    /// Clamp screw.
    Screw,
    /// Space swept by the screw's handle.
    ScrewHandle,
}

impl RigPart {
    /// Every part that a rig of this kit has, in the order of assembly.
    pub fn all(kit: &Kit) -> Vec<Self> {
        let mut parts = vec![
            Self::Gasket,
            Self::Cup,
            Self::SidePort,
            Self::Outlet,
            Self::OutletHandle,
            Self::Bar,
        ];
        for end in End::BOTH {
            parts.extend([Self::Saddle(end), Self::UpperPin(end)]);
            if kit.upper_pin.fitted_on_car {
                parts.push(Self::UpperPinPath(end));
            }
            parts.extend(Side::BOTH.map(|side| Self::Link(end, side)));
            parts.extend([Self::Foot(end), Self::LowerPin(end)]);
            if kit.lower_pin.fitted_on_car {
                parts.push(Self::LowerPinPath(end));
            }
        }
        parts.extend([Self::ScrewBlock, Self::Screw, Self::ScrewHandle]);
        parts
    }

    /// Its kind, for the table of needs.
    pub const fn kind(self) -> PartKind {
        match self {
            Self::Gasket => PartKind::Gasket,
            Self::Cup | Self::SidePort => PartKind::Cup,
            Self::Outlet => PartKind::Outlet,
            Self::OutletHandle => PartKind::OutletHandle,
            Self::Bar => PartKind::Bar,
            Self::Saddle(_) => PartKind::Saddle,
            Self::UpperPin(_) | Self::LowerPin(_) => PartKind::Pin,
            Self::UpperPinPath(_) | Self::LowerPinPath(_) => PartKind::PinPath,
            Self::Link(..) => PartKind::Link,
            Self::Foot(_) => PartKind::Foot,
            Self::ScrewBlock => PartKind::ScrewBlock,
            Self::Screw => PartKind::Screw,
            Self::ScrewHandle => PartKind::ScrewHandle,
        }
    }

    /// Name for people, given the names of the two ports.
    pub fn name(self, ports: [&str; 2]) -> String {
        let at = |end: End| ports[end.index()];
        match self {
            Self::Gasket => "gasket".into(),
            Self::Cup => "cup".into(),
            Self::SidePort => "side port".into(),
            Self::Outlet => "outlet".into(),
            Self::OutletHandle => "outlet handle's swing".into(),
            Self::Bar => "clamp bar".into(),
            Self::Saddle(e) => format!("saddle at {}", at(e)),
            Self::UpperPin(e) => format!("upper pin at {}", at(e)),
            Self::UpperPinPath(e) => format!("upper pin's path at {}", at(e)),
            Self::Link(e, Side::Inside) => format!("inside link at {}", at(e)),
            Self::Link(e, Side::Outside) => format!("outside link at {}", at(e)),
            Self::Foot(e) => format!("foot at {}", at(e)),
            Self::LowerPin(e) => format!("lower pin at {}", at(e)),
            Self::LowerPinPath(e) => format!("lower pin's path at {}", at(e)),
            Self::ScrewBlock => "screw block".into(),
            Self::Screw => "screw".into(),
            Self::ScrewHandle => "screw handle's swing".into(),
        }
    }

    /// Whether it hangs on the ports (clamp side) rather than on the fitting (cup side).
    pub const fn is_clamp(self) -> bool {
        !matches!(
            self,
            Self::Gasket | Self::Cup | Self::SidePort | Self::Outlet | Self::OutletHandle
        )
    }

    /// Whether it turns with the bar's line, and whether it leans with the bar.
    pub const fn turns_and_leans(self) -> [bool; 2] {
        match self {
            Self::Gasket | Self::Cup | Self::SidePort | Self::Outlet | Self::OutletHandle => {
                [false, false]
            }
            Self::Foot(_) | Self::LowerPin(_) | Self::LowerPinPath(_) | Self::Link(..) => {
                [true, false]
            }
            _ => [true, true],
        }
    }
}

/// How two parts of a rig may touch by design.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Contact {
    /// They must touch: rim in groove, ball in seat. Neither overlap nor gap beyond the tolerance.
    Seated,
    /// They may touch: pin in hole, link in slot. No overlap beyond the tolerance.
    Loose,
    /// They are one piece, or one is the other's swept space.
    Own,
}

/// The contact allowed by design between two rig parts, or `None` when a gap is asked for.
pub fn allowed_contact(a: RigPart, b: RigPart) -> Option<Contact> {
    use RigPart as P;
    let one_way = |a: P, b: P| match (a, b) {
        (P::Cup, P::Gasket | P::Screw)
        | (P::SidePort, P::Outlet)
        | (P::Bar, P::Saddle(_) | P::ScrewBlock) => Some(Contact::Seated),
        (P::Bar, P::Link(..) | P::Screw)
        | (P::Screw, P::ScrewBlock)
        | (P::Cup, P::Outlet)
        | (P::SidePort, P::Gasket) => Some(Contact::Loose),
        (P::Link(e, _), P::Foot(f) | P::Saddle(f) | P::LowerPin(f) | P::UpperPin(f))
        | (P::Foot(e), P::LowerPin(f))
        | (P::Saddle(e), P::UpperPin(f))
            if e == f =>
        {
            Some(Contact::Loose)
        }
        (P::LowerPinPath(e), P::LowerPin(f) | P::Link(f, Side::Outside))
        | (P::UpperPinPath(e), P::UpperPin(f) | P::Link(f, Side::Outside))
            if e == f =>
        {
            Some(Contact::Own)
        }
        (P::Cup, P::SidePort) | (P::Outlet, P::OutletHandle) | (P::Screw, P::ScrewHandle) => {
            Some(Contact::Own)
        }
        _ => None,
    };
    one_way(a, b).or_else(|| one_way(b, a))
}

/// The bar's line in the plate frame.
#[derive(Debug, Clone, PartialEq)]
pub struct BarLine {
    /// Lower pins' middles at ends A and B.
    pub feet: [Point3<f64>; 2],
    /// Unit direction seen from above, from B to A.
    pub along: Vector2<f64>,
    /// Distance between the feet seen from above, mm.
    pub span: f64,
    /// Angle between each port's facing and the bar's line at that end, `>= 0`.
    pub skew: [Angle; 2],
}

impl BarLine {
    /// The line through feet in these ports, or `None` when both feet stand at the same place.
    pub fn through(kit: &Kit, ports: [&Port; 2], shift: [f64; 2]) -> Option<Self> {
        let foot = |i: usize| {
            let port = ports[i];
            let (sin, cos) = port.facing.radians().sin_cos();
            let at = port.at + shift[i] * Vector2::new(-sin, cos);
            Point3::new(at.x, at.y, port.sill + port.height - kit.foot.seat.nominal)
        };
        let feet = [foot(0), foot(1)];
        let apart = (feet[0] - feet[1]).xy();
        let span = apart.norm();
        if span.is_nan() || span <= 1.0 {
            return None;
        }
        let along = apart / span;
        let skew = [0, 1].map(|i| {
            let (sin, cos) = ports[i].facing.radians().sin_cos();
            let outward = if i == 0 { along } else { -along };
            Angle::from_radians(outward.dot(&Vector2::new(cos, sin)).clamp(-1.0, 1.0).acos())
        });
        Some(Self { feet, along, span, skew })
    }

    /// Signed distance of a point from the line seen from above, positive to the left of B to A.
    pub fn offset_of(&self, point: Point2<f64>) -> f64 {
        let from_b = point - self.feet[1].xy();
        self.along.x * from_b.y - self.along.y * from_b.x
    }

    /// How far along from foot B the point's nearest place on the line is, mm.
    pub fn station_of(&self, point: Point2<f64>) -> f64 {
        self.along.dot(&(point - self.feet[1].xy()))
    }
}

/// A rig in its place: the pose of every part, and the numbers that its placing rules look at.
#[derive(Debug, Clone, PartialEq)]
pub struct RigPose {
    /// The bar's line.
    pub line: BarLine,
    /// Cup and gasket to plate. They are round, and stand the same way at any bearing.
    pub plate_from_cup: Isometry3<f64>,
    /// Side port to plate.
    pub plate_from_side_port: Isometry3<f64>,
    /// Outlet and its handle to plate.
    pub plate_from_outlet: Isometry3<f64>,
    /// Bar to plate.
    pub plate_from_bar: Isometry3<f64>,
    /// Screw to plate.
    pub plate_from_screw: Isometry3<f64>,
    /// Screw block to plate: the bar frame moved along the bar to the screw.
    pub plate_from_block: Isometry3<f64>,
    /// Feet to plate, by end; the lower pins share this frame.
    pub plate_from_foot: [Isometry3<f64>; 2],
    /// Saddles to plate, by end; the upper pins share this frame.
    pub plate_from_saddle: [Isometry3<f64>; 2],
    /// Links to plate, by end and side.
    pub plate_from_link: [[Isometry3<f64>; 2]; 2],
    /// Where the ball's centre should be for the screw to sit in the seat, plate frame.
    pub seat: Point3<f64>,
    /// Screw extension at which the ball meets the seat, mm.
    pub extension_to_seat: f64,
    /// Bar's overhang beyond the sidewall's outer face at each end, mm.
    pub overhang: [f64; 2],
    /// How much higher the bar's end A is than its end B between the links, mm.
    pub rise: f64,
}

fn frame(origin: Point3<f64>, x: Vector3<f64>, z: Vector3<f64>) -> Isometry3<f64> {
    let y = z.cross(&x);
    let rotation = Rotation3::from_basis_unchecked(&[x, y, z]);
    Isometry3::from_parts(
        Translation3::from(origin.coords),
        UnitQuaternion::from_rotation_matrix(&rotation),
    )
}

/// Height of the ball's centre above the sealing face when it sits in the cup's seat, mm.
pub fn seat_height(kit: &Kit, cup: &Cup, gasket: &Gasket) -> f64 {
    rim_height(gasket) + cup.inside_height.nominal + cup.crown.nominal + cup.seat_height.nominal
        - cup.seat_depth.nominal
        + 0.5 * kit.screw.ball_diameter.nominal
}

/// Height of the rim's lower edge above the sealing face, mm.
pub fn rim_height(gasket: &Gasket) -> f64 {
    gasket.thickness.nominal - gasket.groove_depth.nominal
}

/// The gasket that goes under a cup.
pub fn gasket_of<'k>(kit: &'k Kit, cup: &Cup) -> Option<&'k Gasket> {
    kit.gaskets.iter().find(|g| g.name == cup.gasket)
}

/// What makes the height of the rim uncertain.
pub(crate) fn rim_off(gasket: &Gasket) -> Stack {
    gasket.thickness.off("gasket thickness") + gasket.groove_depth.off("gasket groove-depth")
}

/// What makes the place of a part's frame uncertain, of the tolerances of what the part stands on.
/// Upward they add; what they move sideways stands at a right angle to that. That a frame turns is
/// not in it, see [`turns`].
///
/// The outlet stands on the cup; links stand on the feet, saddles on the links, the bar on the
/// saddles; the screw stands in the cup's seat. The part's own dimensions are in its solid's
/// deviation, and so is the gasket under the cup.
pub fn stack(kit: &Kit, cup: &Cup, part: RigPart) -> Stack {
    let rim = || gasket_of(kit, cup).map_or_else(Stack::none, rim_off);
    let foot = || kit.foot.seat.off("foot seat");
    match part {
        RigPart::Gasket | RigPart::Cup | RigPart::SidePort => Stack::none(),
        RigPart::Outlet | RigPart::OutletHandle => Stack::square_to_each_other([
            rim() + cup.port_height.off("cup port-height"),
            cup.port_face.off("cup port-face"),
        ]),
        RigPart::Foot(_) | RigPart::LowerPin(_) | RigPart::LowerPinPath(_) => foot(),
        RigPart::Link(..) => {
            let out =
                kit.foot.depth.off("foot depth") + widest(&kit.link.thicknesses, "link thickness");
            Stack::square_to_each_other([foot(), out.scale(0.5)])
        }
        RigPart::Saddle(_) | RigPart::UpperPin(_) | RigPart::UpperPinPath(_) => upper_pin_off(kit),
        RigPart::Bar | RigPart::ScrewBlock => {
            upper_pin_off(kit) + kit.saddle.pin_drop.off("saddle pin-drop")
        }
        RigPart::Screw | RigPart::ScrewHandle => {
            rim()
                + cup.inside_height.off("cup inside-height")
                + cup.crown.off("cup crown")
                + cup.seat_height.off("cup seat-height")
                + cup.seat_depth.off("cup seat-depth")
                + kit.screw.ball_diameter.off("screw ball-diameter").scale(0.5)
        }
    }
}

/// What makes the height of an upper pin above its port's upper edge uncertain.
fn upper_pin_off(kit: &Kit) -> Stack {
    kit.foot.seat.off("foot seat") + widest(&kit.link.holes, "link holes")
}

/// The name of the ports' figures as a cause of deviation.
pub const PORTS: &str = "ports' figures";

/// What makes the clamp turn, as angles in radians.
#[derive(Debug, Clone, PartialEq)]
pub struct Turns {
    /// The least distance between the feet, mm.
    pub span: f64,
    /// Of the bar's line seen from above.
    pub flat: Stack,
    /// Of the bar out of level.
    pub steep: Stack,
}

/// How much the bar's line may turn and tilt when each foot is off by the ports' `deviation` and each
/// end of the bar by the tolerances of what it stands on.
pub fn turns(kit: &Kit, ports: [&Port; 2], deviation: f64) -> Turns {
    let within = ports.map(|port| 0.5 * port.width + port.deviation);
    let span = ((ports[0].at - ports[1].at).norm() - within[0] - within[1]).max(1.0);
    let flat = Stack::of(PORTS, deviation).scale(2.0 / span);
    let steep = flat.clone() + upper_pin_off(kit).scale(2.0 / span);
    Turns { span, flat, steep }
}

/// How far a part's frame lies from what it turns about, seen from above and in the bar's upright
/// plane, mm: beside the reach of the part itself.
pub fn arms(kit: &Kit, part: RigPart) -> [f64; 2] {
    let slide = kit.rules.overhang_difference + kit.saddle.pin_drop.nominal;
    match part {
        RigPart::Link(..) => {
            let thickest = kit.link.thicknesses.iter().map(|t| t.nominal).fold(0.0, f64::max);
            [0.5 * (kit.foot.depth.nominal + thickest), 0.0]
        }
        RigPart::Bar => [slide, slide],
        // It stays at the cup's axis while the bar turns.
        RigPart::ScrewBlock => {
            [kit.rules.screw_offset, slide + kit.screw.retracted.nominal + kit.screw.travel.nominal]
        }
        _ => [0.0; 2],
    }
}

/// Poses a rig. `None` when the choice does not define a bar line: the two feet in one place, an
/// index out of range, a cup without its gasket.
pub fn pose(kit: &Kit, car: &CarTop, choice: &Choice, placement: &Placement) -> Option<RigPose> {
    let fitting = car.fittings.get(choice.fitting)?;
    let cup = kit.cups.get(choice.cup)?;
    let gasket = gasket_of(kit, cup)?;
    let ports = [car.ports.get(choice.ports[0])?, car.ports.get(choice.ports[1])?];
    let line = BarLine::through(kit, ports, placement.foot_shift)?;
    let axis = fitting.centre + placement.cup_offset;

    let plate_from_cup = Isometry3::translation(axis.x, axis.y, 0.0);
    let plate_from_side_port =
        plate_from_cup * Isometry3::rotation(Vector3::z() * placement.outlet_bearing.radians());
    let side_port =
        Vector3::new(cup.port_face.nominal, 0.0, rim_height(gasket) + cup.port_height.nominal);
    let plate_from_outlet = plate_from_side_port
        * Isometry3::new(side_port, -Vector3::x() * placement.elbow_turn.radians());

    // The clamp. Links stand upright; the bar lies on both saddles and may be out of level.
    let u = Vector3::new(line.along.x, line.along.y, 0.0);
    let up = Vector3::z();
    let mut upper = [Point3::origin(); 2];
    for end in End::BOTH {
        let i = end.index();
        let reach = kit.link.holes.get(placement.link_hole[i])?.nominal;
        upper[i] = line.feet[i] + up * reach;
    }
    let rise = upper[0].z - upper[1].z;
    let bar_along = (upper[0] - upper[1]).normalize();
    let bar_up = bar_along.cross(&Vector3::z()).cross(&bar_along).normalize();
    let middle = nalgebra::center(&upper[0], &upper[1]);
    let bar_origin =
        middle + bar_up * kit.saddle.pin_drop.nominal + bar_along * placement.bar_slide;
    let plate_from_bar = frame(bar_origin, bar_along, bar_up);

    let outward = [u, -u];
    let bar_outward = [bar_along, -bar_along];
    let plate_from_foot = [0, 1].map(|i| frame(line.feet[i], outward[i], up));
    let plate_from_saddle = [0, 1].map(|i| frame(upper[i], bar_outward[i], bar_up));
    let mut plate_from_link = [[Isometry3::identity(); 2]; 2];
    for end in End::BOTH {
        for side in Side::BOTH {
            let (i, j) = (end.index(), side.index());
            let thickness = kit.link.thicknesses.get(placement.link_thickness[i][j])?.nominal;
            let from_foot = 0.5 * (kit.foot.depth.nominal + thickness);
            let sign = if side == Side::Outside { 1.0 } else { -1.0 };
            plate_from_link[i][j] =
                frame(line.feet[i] + outward[i] * (sign * from_foot), outward[i], up);
        }
    }

    // The screw stands on the bar where the cup's axis comes nearest to the bar's line.
    let seat = Point3::new(axis.x, axis.y, seat_height(kit, cup, gasket));
    let station = bar_along.dot(&(seat - bar_origin));
    let on_bar = bar_origin + bar_along * station;
    let extension_to_seat = bar_up.dot(&(on_bar - seat));
    let plate_from_block = frame(on_bar, bar_along, bar_up);
    let plate_from_screw = frame(on_bar - bar_up * placement.screw_extension, bar_along, bar_up);

    let half = 0.5 * kit.bar.length.nominal;
    let overhang = [0, 1].map(|i| {
        let sign = if i == 0 { 1.0 } else { -1.0 };
        half + sign * placement.bar_slide - 0.5 * line.span - 0.5 * ports[i].wall
    });
    Some(RigPose {
        line,
        plate_from_cup,
        plate_from_side_port,
        plate_from_outlet,
        plate_from_bar,
        plate_from_screw,
        plate_from_block,
        plate_from_foot,
        plate_from_saddle,
        plate_from_link,
        seat,
        extension_to_seat,
        overhang,
        rise,
    })
}

impl RigPose {
    /// The pose of one part.
    pub fn plate_from(&self, part: RigPart) -> &Isometry3<f64> {
        match part {
            RigPart::Gasket | RigPart::Cup => &self.plate_from_cup,
            RigPart::SidePort => &self.plate_from_side_port,
            RigPart::Outlet | RigPart::OutletHandle => &self.plate_from_outlet,
            RigPart::Bar => &self.plate_from_bar,
            RigPart::Saddle(e) | RigPart::UpperPin(e) | RigPart::UpperPinPath(e) => {
                &self.plate_from_saddle[e.index()]
            }
            RigPart::Link(e, s) => &self.plate_from_link[e.index()][s.index()],
            RigPart::Foot(e) | RigPart::LowerPin(e) | RigPart::LowerPinPath(e) => {
                &self.plate_from_foot[e.index()]
            }
            RigPart::ScrewBlock => &self.plate_from_block,
            RigPart::Screw | RigPart::ScrewHandle => &self.plate_from_screw,
        }
    }
}

/// The pose of the lid at an opening, or `None` when there is no hinged lid.
pub fn plate_from_lid(car: &CarTop, opening: Angle) -> Option<Isometry3<f64>> {
    let LidState::Hinged(lid) = &car.lid else { return None };
    let turn = opening.radians() - lid.drawn_at.radians();
    let rotation = UnitQuaternion::from_axis_angle(&lid.axis, turn);
    let shift = lid.axis_point - rotation * lid.axis_point;
    Some(Isometry3::from_parts(Translation3::from(shift), rotation))
}
