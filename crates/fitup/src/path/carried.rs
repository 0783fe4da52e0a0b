//! A lift in its situation: its pieces, what stands around them, the routes that are tried.

use super::order::Lift;
use super::passage::{Obstacle, Pair, Passage, Piece};
use super::route::{Leg, Route};
use super::simple::{Manner, Room};
use crate::checks::contact_on_car;
use crate::margin::Part;
use crate::scene::{Scene, Shape};
use crate::situation::Situation;
use assembly::car_top::LidState;
use assembly::kit::Motion;
use assembly::placement::Side;
use assembly::rig::{Contact, RigPart, allowed_contact};
use gap::Solid;
use nalgebra::{Isometry3, Translation3, Unit, Vector3};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Air left above everything and beside it, mm.
const AIR: f64 = 10.0;
/// How far out of its port a foot is put down, and how far to the side a swung link is taken, mm.
const OUT: f64 = 300.0;
/// Bearings from which a part is brought in over the rim.
const BEARINGS: u32 = 8;

/// A rig part where it stands already.
#[derive(Debug, Clone, Copy)]
pub(super) struct Placed {
    /// The part.
    pub part: RigPart,
    /// Where it stands: a screw may be drawn up.
    pub plate_from_part: Isometry3<f64>,
}

/// A lift with what stands around it.
pub(super) struct Carried<'c, 's> {
    situation: &'c Situation<'s>,
    lift: &'c Lift,
    /// The parts that move, as pieces of the passage.
    pub moving: Vec<RigPart>,
    /// What stands still, as obstacles of the passage.
    pub still: Vec<Part>,
    /// The passage.
    pub passage: Passage<'c>,
}

/// The solid of a part on its way or in its place: the cup's with its cavity empty, and of the
/// outlet's handle the handle itself, where the valve is open.
pub(crate) fn solid_of<'c>(s: &'c Situation<'_>, part: RigPart) -> Option<&'c Solid> {
    let shape = match part {
        RigPart::OutletHandle => Shape::OpenHandle,
        RigPart::Cup => Shape::HollowCup(s.choice.cup),
        _ => Scene::shape_of(part, s.choice, s.placement),
    };
    s.scene.shape(shape).map(|shaped| &shaped.solid)
}

/// Where a lift's part goes: its place, but for a screw that is carried drawn up.
pub(crate) fn target(s: &Situation<'_>, lift: &Lift, part: RigPart) -> Isometry3<f64> {
    let place = *s.pose.plate_from(part);
    if lift.screw_up && part == RigPart::Screw {
        place * Translation3::new(0.0, 0.0, drawn_up(s))
    } else {
        place
    }
}

/// How far a screw that is fully drawn up is from its seat, mm.
fn drawn_up(s: &Situation<'_>) -> f64 {
    (s.placement.screw_extension - s.scene.kit.screw.retracted.nominal).max(0.0)
}

impl<'c, 's> Carried<'c, 's> {
    /// A lift among the rig parts that are placed already, standing off from its place by `retreat`
    /// before it settles, mm. `None` for a kit that lacks one of the parts.
    pub(super) fn new(
        situation: &'c Situation<'s>,
        lift: &'c Lift,
        placed: &[Placed],
        retreat: f64,
    ) -> Option<Self> {
        let s = situation;
        let turned = lift.lead() == Some(RigPart::Screw);
        let mut moving = lift.parts.clone();
        if moving.contains(&RigPart::Outlet) {
            moving.push(RigPart::OutletHandle);
        }
        // A turned screw takes its handle's whole swing along, whatever its lead.
        if turned {
            moving.push(RigPart::ScrewHandle);
        }
        let lead = lift.lead()?;
        let mut pieces = Vec::with_capacity(moving.len());
        for &part in &moving {
            pieces.push(Piece {
                solid: solid_of(s, part)?,
                plate_from_piece: target(s, lift, part),
                retreat: off(s, lead, part) * before_settling(s, lead, retreat),
                deviation: s.deviation(Part::Rig(part)),
            });
        }
        let mut still = Vec::new();
        let mut obstacles = Vec::new();
        for id in s.present() {
            still.push(Part::Car(id));
            obstacles.push(Obstacle {
                solid: s.scene.car_solid(id),
                plate_from_obstacle: s.plate_from_car(id),
                deviation: s.deviation(Part::Car(id)),
            });
        }
        for Placed { part, plate_from_part } in placed {
            if moving.contains(part) {
                continue;
            }
            still.push(Part::Rig(*part));
            obstacles.push(Obstacle {
                solid: solid_of(s, *part)?,
                plate_from_obstacle: *plate_from_part,
                deviation: s.deviation(Part::Rig(*part)),
            });
        }
        let mut pairs = Vec::new();
        for (piece, &a) in moving.iter().enumerate() {
            for (obstacle, &b) in still.iter().enumerate() {
                let contact = match b {
                    Part::Rig(b) => allowed_contact(a, b),
                    Part::Car(id) => contact_on_car(s, a, id),
                };
                if !is_joint(lift, a, b) {
                    let touches = matches!(contact, Some(Contact::Seated | Contact::Loose));
                    pairs.push(Pair { piece, obstacle, touches });
                }
            }
        }
        let passage = Passage::new(pieces, obstacles, &pairs, s.scene.kit.rules.path_clearance);
        Some(Self { situation, lift, moving, still, passage })
    }

    /// The room above: over everything, and over everything but the lid.
    pub(super) fn room(&self) -> Option<Room> {
        let s = self.situation;
        let own = self.passage.bounds()?;
        let all = self.passage.bounds_of_obstacles(|_| true)?;
        let lid = match &s.scene.car.lid {
            LidState::Hinged(lid) => Some(lid),
            LidState::Unknown | LidState::None => None,
        };
        let is_lid = |i: usize| matches!((self.still.get(i), lid), (Some(Part::Car(id)), Some(lid)) if *id == lid.body);
        let rest = self.passage.bounds_of_obstacles(|i| !is_lid(i))?;
        let toward = lid.and_then(|lid| {
            let level = Vector3::new(lid.axis_point.x, lid.axis_point.y, 0.0);
            Unit::try_new(level, 1e-6)
        });
        let away = (0..BEARINGS)
            .map(|k| {
                let (sin, cos) = (TAU * f64::from(k) / f64::from(BEARINGS)).sin_cos();
                Unit::new_normalize(Vector3::new(cos, sin, 0.0))
            })
            .filter(|way| toward.is_some_and(|t| way.dot(&t) < 0.5))
            .collect();
        Some(Room {
            top: (all.high.z - own.low.z).max(0.0) + AIR,
            over: (rest.high.z - own.low.z).max(0.0) + AIR,
            away,
            far: (all.high - all.low).norm() + (own.high - own.low).norm(),
        })
    }

    /// A level direction that means something to the leading part: along the bar, out of the port,
    /// along the outlet.
    pub(super) fn forward(&self) -> Unit<Vector3<f64>> {
        let lead = self.lift.lead().unwrap_or(RigPart::Cup);
        let lead = if lead == RigPart::Cup { RigPart::SidePort } else { lead };
        let x = self.situation.pose.plate_from(lead) * Vector3::x();
        Unit::try_new(Vector3::new(x.x, x.y, 0.0), 1e-6).unwrap_or_else(Vector3::x_axis)
    }

    /// Whether the leading part goes only as its joint lets it: no way is searched for it.
    pub(super) fn is_guided(&self) -> bool {
        matches!(
            self.lift.lead(),
            Some(
                RigPart::UpperPin(_)
                    | RigPart::LowerPin(_)
                    | RigPart::Screw
                    | RigPart::Outlet
                    | RigPart::ScrewBlock
            )
        )
    }

    /// The routes that are special to the leading part, if it has any; `room` is the room above.
    pub(super) fn special(&self, room: &Room) -> Vec<(Manner, Route)> {
        let s = self.situation;
        let kit = s.scene.kit;
        let Some(lead) = self.lift.lead() else { return Vec::new() };
        let place = target(s, self.lift, lead);
        let along = |x: f64, y: f64, z: f64| Leg::Straight(place * Vector3::new(x, y, z));
        let up = |by: f64| Leg::Straight(Vector3::new(0.0, 0.0, by));
        match lead {
            RigPart::Foot(end) => {
                let Some(port) = s.scene.car.ports.get(s.choice.ports[end.index()]) else {
                    return Vec::new();
                };
                let height = port.height - kit.foot.height.nominal;
                let inward = kit.foot.depth.nominal + port.wall + AIR;
                let mut routes = Vec::new();
                for share in [0.5, 0.25, 0.75] {
                    let down = up(-share * height);
                    let out = along(OUT, 0.0, 0.0);
                    routes.push((Manner::ThroughThePort, Route(vec![down, out])));
                    let legs = vec![down, along(-inward, 0.0, 0.0), up(room.top + height)];
                    routes.push((Manner::FromInside, Route(legs)));
                }
                routes.sort_by_key(|(manner, _)| *manner == Manner::FromInside);
                routes
            }
            RigPart::UpperPin(_) | RigPart::LowerPin(_) => {
                let pin = if matches!(lead, RigPart::UpperPin(_)) {
                    &kit.upper_pin
                } else {
                    &kit.lower_pin
                };
                let out = assembly::parts::pin_path_length(kit, pin);
                vec![(Manner::Pushed, Route(vec![along(out, 0.0, 0.0)]))]
            }
            RigPart::Link(_, side) if self.lift.motion == Motion::Swing => {
                let axis = Unit::new_normalize(place * Vector3::x());
                let through = place * nalgebra::Point3::origin();
                let away = match side {
                    Side::Outside => vec![along(OUT, 0.0, 0.0)],
                    Side::Inside => vec![along(-kit.foot.depth.nominal, 0.0, 0.0), up(room.top)],
                };
                [FRAC_PI_2, -FRAC_PI_2]
                    .map(|angle| {
                        let mut legs = vec![Leg::Turn { through, axis, angle, advance: 0.0 }];
                        legs.extend(&away);
                        (Manner::Swung, Route(legs))
                    })
                    .to_vec()
            }
            RigPart::ScrewBlock => slid(kit, &along, room),
            RigPart::Screw => {
                let legs = if self.came_before() {
                    let settling = before_settling(s, lead, 0.0);
                    vec![along(0.0, 0.0, (drawn_up(s) - settling).max(0.0))]
                } else {
                    vec![along(0.0, 0.0, kit.screw.length.nominal), up(room.top)]
                };
                vec![(Manner::Turned, Route(legs))]
            }
            RigPart::Outlet => {
                // A turn brings the elbow and the riser all the way round.
                let through = place * nalgebra::Point3::origin();
                let axis = Unit::new_normalize(place * Vector3::x());
                let advance = kit.outlet.pipe_diameter.nominal;
                let legs = vec![Leg::Turn { through, axis, angle: TAU, advance }, up(room.top)];
                vec![(Manner::Turned, Route(legs))]
            }
            _ => Vec::new(),
        }
    }

    /// Whether the screw came drawn up with an earlier lift.
    fn came_before(&self) -> bool {
        let steps = &self.situation.scene.kit.steps;
        steps
            .iter()
            .take(self.lift.step)
            .any(|step| step.with.contains(&assembly::kit::PartKind::Screw))
    }
}

/// Along the bar either way, then down out of the slot, across and up.
fn slid(
    kit: &assembly::Kit,
    along: &impl Fn(f64, f64, f64) -> Leg,
    room: &Room,
) -> Vec<(Manner, Route)> {
    let down = kit.bar.rail_height.nominal + AIR;
    let across =
        kit.bar.slot.nominal + 2.0 * kit.bar.rail_width.nominal + kit.screw.block_width.nominal;
    let length = kit.screw.block_length.nominal;
    let mut routes = Vec::new();
    for by in [0.0, 1.0, -1.0, 2.0, -2.0] {
        for side in [1.0, -1.0] {
            let mut legs = Vec::new();
            if by != 0.0 {
                legs.push(along(by * length, 0.0, 0.0));
            }
            legs.extend([along(0.0, 0.0, -down), along(0.0, side * across, 0.0)]);
            legs.push(Leg::Straight(Vector3::new(0.0, 0.0, room.top + down)));
            routes.push((Manner::Slid, Route(legs)));
        }
    }
    routes
}

/// Parts that hold each other all along a motion: a screw in its block's thread, a link on the pin
/// that it swings about. What they do to each other is not looked at.
fn is_joint(lift: &Lift, moving: RigPart, still: Part) -> bool {
    let Part::Rig(still) = still else { return false };
    match (lift.lead(), moving, still) {
        (Some(RigPart::Screw), RigPart::Screw | RigPart::ScrewHandle, RigPart::ScrewBlock) => true,
        (Some(RigPart::Link(..)), RigPart::Link(e, _), RigPart::LowerPin(f)) => {
            lift.motion == Motion::Swing && e == f
        }
        _ => false,
    }
}

/// How far a part stands off from its place before it settles, mm: a turned screw as far as its seat
/// is deep, for the socket draws the ball in from as far aside as its own rule allows.
fn before_settling(s: &Situation<'_>, lead: RigPart, retreat: f64) -> f64 {
    match (lead, s.scene.kit.cups.get(s.choice.cup)) {
        (RigPart::Screw, Some(cup)) => retreat + cup.seat_depth.nominal,
        _ => retreat,
    }
}

/// The way in which a part stands off from its place before it settles.
fn off(s: &Situation<'_>, lead: RigPart, part: RigPart) -> Vector3<f64> {
    let x = s.pose.plate_from(part) * Vector3::x();
    let z = s.pose.plate_from(part) * Vector3::z();
    match (lead, part) {
        (RigPart::Foot(_) | RigPart::ScrewBlock, _) => -z,
        (RigPart::Screw, _) => z,
        (RigPart::UpperPin(_) | RigPart::LowerPin(_) | RigPart::Outlet, _)
        | (_, RigPart::Link(_, Side::Outside)) => x,
        (_, RigPart::Link(_, Side::Inside)) => -x,
        _ => Vector3::z(),
    }
}
