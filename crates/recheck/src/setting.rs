//! What does not change from placement to placement: car top, kit, fitting, cup, ports, what is off.

use crate::fault::Fault;
use assembly::car_top::{BodyId, Fitting, Lid, LidState, Port};
use assembly::kit::{Cup, Gasket, PartKind};
use assembly::parts::{self, PartError};
use assembly::rig::{Contact, RigPart, allowed_contact};
use assembly::{CarTop, Choice, Kit};
use nalgebra::Point3;
use solids::{Body, Mesh};

/// One of the two parts that a gap is between.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Piece {
    /// A part of the rig, or a space that it sweeps.
    Rig(RigPart),
    /// A body of the car top.
    Car(BodyId),
}

impl Piece {
    /// The rig part that it stands for.
    pub(crate) fn rig(self) -> Option<RigPart> {
        match self {
            Self::Rig(part) => Some(part),
            Self::Car(_) => None,
        }
    }
}

/// A choice on a car top with a kit, with every index known to be in range.
pub struct Setting<'s> {
    /// The car top.
    pub car: &'s CarTop,
    /// The kit.
    pub kit: &'s Kit,
    /// The fitting to be covered.
    pub fitting: &'s Fitting,
    /// The cup.
    pub cup: &'s Cup,
    /// The gasket under it.
    pub gasket: &'s Gasket,
    /// The ports of the feet at ends A and B.
    pub ports: [&'s Port; 2],
    /// What is taken off, and the covers of the two ports.
    absent: Vec<BodyId>,
}

impl<'s> Setting<'s> {
    /// Checks every index in the car top and the choice.
    pub fn new(car: &'s CarTop, kit: &'s Kit, choice: &Choice) -> Result<Self, Fault> {
        let unusable = |what: &str| Fault::Unusable { what: what.to_owned() };
        let fitting =
            car.fittings.get(choice.fitting).ok_or_else(|| unusable("no such fitting"))?;
        let cup = kit.cups.get(choice.cup).ok_or_else(|| unusable("no such cup"))?;
        let gasket = kit.gaskets.iter().find(|g| g.name == cup.gasket);
        let gasket = gasket.ok_or_else(|| unusable("no gasket for the cup"))?;
        let [a, b] = choice.ports;
        let (Some(port_a), Some(port_b)) = (car.ports.get(a), car.ports.get(b)) else {
            return Err(unusable("no such port"));
        };
        if a == b {
            return Err(unusable("both feet in one port"));
        }
        if kit.link.holes.is_empty() || kit.link.thicknesses.is_empty() {
            return Err(unusable("links without holes or thicknesses"));
        }
        let mut absent: Vec<BodyId> = [port_a, port_b].iter().filter_map(|p| p.cover).collect();
        for removed in &choice.removed {
            let piece = car
                .fittings
                .get(removed.fitting)
                .and_then(|f| f.removables.get(removed.removable))
                .ok_or_else(|| unusable("no such piece to take off"))?;
            absent.push(piece.body);
        }
        let lid = match &car.lid {
            LidState::Hinged(lid) => Some(lid.body),
            LidState::Unknown | LidState::None => None,
        };
        let all_there = [car.plate]
            .into_iter()
            .chain(car.housing.iter().copied())
            .chain(lid)
            .chain(absent.iter().copied())
            .chain(fitting.bodies.iter().copied())
            .chain(fitting.removables.iter().map(|r| r.body))
            .all(|id| id.0 < car.bodies.len());
        if !all_there {
            return Err(unusable("a body that is not there"));
        }
        if !car.bodies.iter().all(|b| is_whole(&b.body.mesh)) {
            return Err(unusable("a mesh with a corner that is nowhere"));
        }
        Ok(Self { car, kit, fitting, cup, gasket, ports: [port_a, port_b], absent })
    }

    /// The bodies of the car top that are there.
    pub fn present(&self) -> impl Iterator<Item = BodyId> {
        (0..self.car.bodies.len()).map(BodyId).filter(|id| self.is_present(*id))
    }

    /// Whether a body is not taken off.
    pub fn is_present(&self, id: BodyId) -> bool {
        !self.absent.contains(&id)
    }

    /// Whether a body belongs to the fitting to be covered.
    pub fn is_covered(&self, id: BodyId) -> bool {
        self.fitting.bodies.contains(&id) || self.fitting.removables.iter().any(|r| r.body == id)
    }

    /// The hinged lid.
    pub(crate) fn lid(&self) -> Option<&'s Lid> {
        match &self.car.lid {
            LidState::Hinged(lid) => Some(lid),
            LidState::Unknown | LidState::None => None,
        }
    }

    /// The greater of the two ports' deviations, mm.
    pub fn play(&self) -> f64 {
        self.ports[0].deviation.max(self.ports[1].deviation)
    }

    /// The plate's deviation, mm.
    pub fn plate(&self) -> f64 {
        self.car.body(self.car.plate).body.deviation.bound
    }

    /// The kind of a piece, for the table of needs.
    pub fn kind(&self, piece: Piece) -> PartKind {
        match piece {
            Piece::Rig(part) => part.kind(),
            Piece::Car(id) => self.car.body(id).kind,
        }
    }

    /// The gap asked for between two pieces, mm.
    pub fn need(&self, a: Piece, b: Piece) -> f64 {
        self.kit.rules.need(self.kind(a), self.kind(b))
    }

    /// The contact by design between two pieces, or `None` where a gap is asked for.
    pub fn contact(&self, a: Piece, b: Piece) -> Option<Contact> {
        let on_car = |part: RigPart, id: BodyId| match part {
            RigPart::Gasket if self.car.body(id).kind == PartKind::Plate => Some(Contact::Seated),
            // The fitting stands in the cavity, which a rule of its own measures.
            RigPart::Cup if self.is_covered(id) => Some(Contact::Own),
            RigPart::Foot(_)
                if self.car.body(id).kind == PartKind::Housing
                    && self.car.housing.first() == Some(&id) =>
            {
                Some(Contact::Seated)
            }
            _ => None,
        };
        match (a.rig(), b.rig(), a, b) {
            (Some(a), Some(b), ..) => allowed_contact(a, b),
            (Some(part), None, _, Piece::Car(id)) | (None, Some(part), Piece::Car(id), _) => {
                on_car(part, id)
            }
            _ => None,
        }
    }

    /// The solid of a piece, with links of these thicknesses by end and side.
    pub fn body(&self, piece: Piece, thickness: [[usize; 2]; 2]) -> Result<Body, PartError> {
        match piece {
            Piece::Rig(part) => parts::body(self.kit, self.cup, thickness, part),
            Piece::Car(id) => Ok(self.car.body(id).body.clone()),
        }
    }

    /// What the tolerances of all that a part stands on add up to, mm: along one direction they
    /// add, square to each other they are the sides of a right angle.
    fn stood_on(&self, part: RigPart) -> f64 {
        let (kit, cup) = (self.kit, self.cup);
        let under_rim = self.gasket.thickness.tolerance + self.gasket.groove_depth.tolerance;
        match part {
            // The gasket's tolerances are in the cup's own deviation.
            RigPart::Gasket | RigPart::Cup | RigPart::SidePort => 0.0,
            RigPart::Outlet | RigPart::OutletHandle => {
                (under_rim + cup.port_height.tolerance).hypot(cup.port_face.tolerance)
            }
            RigPart::Foot(_) | RigPart::LowerPin(_) | RigPart::LowerPinPath(_) => {
                kit.foot.seat.tolerance
            }
            RigPart::Link(..) => {
                let thick = kit.link.thicknesses.iter().fold(0.0_f64, |t, d| t.max(d.tolerance));
                kit.foot.seat.tolerance.hypot(0.5 * (kit.foot.depth.tolerance + thick))
            }
            RigPart::Saddle(_) | RigPart::UpperPin(_) | RigPart::UpperPinPath(_) => {
                self.to_upper_pin()
            }
            RigPart::Bar | RigPart::ScrewBlock => {
                self.to_upper_pin() + kit.saddle.pin_drop.tolerance
            }
            RigPart::Screw | RigPart::ScrewHandle => {
                [cup.inside_height, cup.crown, cup.seat_height, cup.seat_depth]
                    .iter()
                    .map(|d| d.tolerance)
                    .sum::<f64>()
                    + under_rim
                    + kit.screw.ball_diameter.tolerance / 2.0
            }
        }
    }

    /// The tolerances from a port's upper edge to an upper pin, mm.
    fn to_upper_pin(&self) -> f64 {
        let holes = &self.kit.link.holes;
        self.kit.foot.seat.tolerance + holes.iter().fold(0.0_f64, |t, h| t.max(h.tolerance))
    }

    /// The least distance between the feet: each stands in its port, mm.
    pub(crate) fn least_span(&self) -> f64 {
        let [a, b] = self.ports;
        let between = (a.at - b.at).norm();
        (between - 0.5 * (a.width + b.width) - a.deviation - b.deviation).max(1.0)
    }

    /// How much the bar's line may turn seen from above, and how much the bar may tilt, radians: each
    /// end may be off, the one to one side, the other to the other.
    pub(crate) fn turn_and_tilt(&self) -> [f64; 2] {
        let per_mm = 2.0 / self.least_span();
        [self.play() * per_mm, (self.play() + self.to_upper_pin()) * per_mm]
    }

    /// How far the clamp's turn and tilt may move a part's surface, mm: by the arms on which it
    /// turns.
    fn swung(&self, part: RigPart, body: &Body) -> f64 {
        let reach =
            |of: fn(&Point3<f64>) -> f64| body.mesh.vertices.iter().map(of).fold(0.0, f64::max);
        let flat = reach(|p| p.x.hypot(p.y));
        let steep = reach(|p| p.x.hypot(p.z));
        let (kit, rules) = (self.kit, &self.kit.rules);
        let off_middle = rules.overhang_difference + kit.saddle.pin_drop.nominal;
        let [turn, tilt] = self.turn_and_tilt();
        match part {
            RigPart::Foot(_) | RigPart::LowerPin(_) | RigPart::LowerPinPath(_) => turn * flat,
            RigPart::Link(..) => {
                let thick = kit.link.thicknesses.iter().fold(0.0_f64, |t, d| t.max(d.nominal));
                turn * (flat + 0.5 * (kit.foot.depth.nominal + thick))
            }
            RigPart::Bar => turn * (flat + off_middle) + tilt * (steep + off_middle),
            RigPart::ScrewBlock => {
                let down = kit.screw.retracted.nominal + kit.screw.travel.nominal;
                turn * (flat + rules.screw_offset) + tilt * (steep + off_middle + down)
            }
            RigPart::Saddle(_)
            | RigPart::UpperPin(_)
            | RigPart::UpperPinPath(_)
            | RigPart::Screw
            | RigPart::ScrewHandle => turn * flat + tilt * steep,
            RigPart::Gasket
            | RigPart::Cup
            | RigPart::SidePort
            | RigPart::Outlet
            | RigPart::OutletHandle => 0.0,
        }
    }

    /// How far a piece's frame and its turn may be off by what it stands on, beside the ports' figures
    /// or the plate, mm.
    pub fn stack(&self, piece: Piece, body: &Body) -> f64 {
        let Some(part) = piece.rig() else { return 0.0 };
        let in_seat = matches!(part, RigPart::Screw | RigPart::ScrewHandle);
        let plate = if in_seat { self.plate() } else { 0.0 };
        self.stood_on(part) + plate + self.swung(part, body)
    }

    /// The bound on how far a piece's surface may be from where it is posed, mm: its own deviation,
    /// that of the ports' figures or of the plate, and the stack that it stands on.
    pub fn deviation(&self, piece: Piece, body: &Body) -> f64 {
        let own = body.deviation.bound;
        match piece.rig() {
            None => own,
            Some(part) if part.is_clamp() => own + self.play() + self.stack(piece, body),
            Some(_) => own + self.plate() + self.stack(piece, body),
        }
    }

    /// The bound on how wrong a foot's reach to the side of its port may be, beside the port, mm.
    pub fn beside(&self) -> f64 {
        let foot = &self.kit.foot;
        let size = (foot.width.tolerance / 2.0).hypot(foot.depth.tolerance / 2.0);
        size + self.turn_and_tilt()[0] * foot.width.nominal.hypot(foot.depth.nominal) / 2.0
    }

    /// The bound on how wrong a foot's turn may be, as distance at its corner, mm.
    pub fn askew(&self) -> f64 {
        self.turn_and_tilt()[0] * self.kit.foot.width.nominal / 2.0
    }

    /// The bound on how wrong the bar's rise may be, mm, with its ends in these holes.
    pub fn rise_off(&self, holes: [usize; 2]) -> f64 {
        let of = |h: usize| self.kit.link.holes.get(h).map_or(f64::INFINITY, |d| d.tolerance);
        2.0 * (self.play() + self.kit.foot.seat.tolerance) + of(holes[0]) + of(holes[1])
    }

    /// The bound on how wrong the lean of the links at an end may be, mm: the rise times the hole's
    /// distance over the span, each at its worst.
    pub fn lean_off(&self, holes: [usize; 2], end: usize, rise: f64) -> f64 {
        let Some(hole) = self.kit.link.holes.get(holes[end]) else { return f64::INFINITY };
        let (off, span) = (self.rise_off(holes), self.least_span());
        let (highest, farthest) = (rise + off, hole.nominal + hole.tolerance);
        let wider = 2.0 * self.play() * highest * farthest / (span * span);
        (off * farthest + hole.tolerance * highest) / span + wider
    }

    /// The sum of the tolerances from the port's upper edge up to the bar and down to the ball, and
    /// from the plate up to the seat, and what the bar's tilt does to it, mm.
    pub(crate) fn travel_stack(&self) -> f64 {
        let screw = &self.kit.screw;
        let tilt = self.turn_and_tilt()[1];
        let longest = screw.retracted.nominal + screw.travel.nominal;
        let leaning = tilt + self.kit.rules.bar_level / self.least_span();
        // The ball stands in the seat, the bar on the saddles; the screw's own figures are between.
        self.play()
            + self.plate()
            + self.stood_on(RigPart::Bar)
            + self.stood_on(RigPart::Screw)
            + screw.retracted.tolerance
            + screw.travel.tolerance
            + longest * leaning * tilt
    }
}

fn is_whole(mesh: &Mesh) -> bool {
    let there = |v: &u32| (*v as usize) < mesh.vertices.len();
    let finite = |p: &Point3<f64>| p.iter().all(|c| c.is_finite());
    mesh.triangles.iter().flatten().all(there) && mesh.vertices.iter().all(finite)
}
