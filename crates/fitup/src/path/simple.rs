//! The simple routes by which a part is let down to its place, in the order in which they are tried.

use super::route::{Leg, Route};
use gap::Bounds;
use nalgebra::{Point3, Unit, Vector3};
use std::f64::consts::TAU;

/// How a part is carried to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Manner {
    /// Straight down from above everything.
    Down,
    /// Brought in from the side just over everything but the lid, and then straight down.
    FromTheSide,
    /// Down beside its place and then across.
    Across,
    /// Tilted in and levelled.
    Tilted,
    /// Swung about its lower pin.
    Swung,
    /// Put into its port from outside, and lifted.
    ThroughThePort,
    /// Put into its port from inside, and lifted.
    FromInside,
    /// Pushed along its axis.
    Pushed,
    /// Slid along the bar.
    Slid,
    /// Turned along its axis.
    Turned,
    /// By a way that a search found.
    Searched,
}

impl Manner {
    /// Its words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Down => "straight down",
            Self::FromTheSide => "in from the side over the rim, then straight down",
            Self::Across => "down beside its place, then across",
            Self::Tilted => "tilted in and levelled",
            Self::Swung => "swung about the lower pin",
            Self::ThroughThePort => "put into the port from outside and lifted",
            Self::FromInside => "put into the port from inside and lifted",
            Self::Pushed => "pushed along its axis",
            Self::Slid => "put under the bar and slid along it",
            Self::Turned => "turned along its axis",
            Self::Searched => "found by search",
        }
    }
}

/// The room over a car top in which a part is free.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// How far up from its place a part is above everything, mm.
    pub top: f64,
    /// How far up it is above everything but the lid, mm.
    pub over: f64,
    /// Level ways out from there that do not lead toward the lid.
    pub away: Vec<Unit<Vector3<f64>>>,
    /// How far out a part is beside everything, mm.
    pub far: f64,
}

/// Steps to the side that are tried, mm.
const ACROSS: [f64; 4] = [15.0, 30.0, 60.0, 120.0];
/// Bearings that are tried.
const BEARINGS: u32 = 12;
/// Tilts that are tried, degrees.
const TILTS: [f64; 5] = [5.0, 10.0, 20.0, 30.0, 45.0];

const fn up(by: f64) -> Leg {
    Leg::Straight(Vector3::new(0.0, 0.0, by))
}

/// Straight down, at once or from the side.
pub fn straight(room: &Room) -> Vec<(Manner, Route)> {
    let mut routes = vec![(Manner::Down, Route(vec![up(room.top)]))];
    let side = room.away.iter().map(|away| {
        (Manner::FromTheSide, Route(vec![up(room.over), Leg::Straight(away.scale(room.far))]))
    });
    routes.extend(side);
    routes
}

/// Down beside the place and then across; tilted in and levelled. `bounds` is the box around the
/// pieces at their place, `reached` how far up they get straight, `forward` a level direction that
/// means something to the part.
pub fn roundabout(
    bounds: &Bounds,
    room: &Room,
    reached: f64,
    forward: &Unit<Vector3<f64>>,
) -> Vec<(Manner, Route)> {
    let heights = [0.0, 0.5 * reached, reached - 2.0];
    let heights = || heights.iter().copied().filter(|h| *h >= 0.0);
    let begin = |height: f64| if height > 0.0 { vec![up(height)] } else { Vec::new() };
    let mut routes = Vec::new();
    for height in heights() {
        for by in ACROSS {
            for bearing in 0..BEARINGS {
                let angle = TAU * f64::from(bearing) / f64::from(BEARINGS);
                let turn = nalgebra::Rotation3::from_axis_angle(&Vector3::z_axis(), angle);
                let mut legs = begin(height);
                legs.extend([Leg::Straight(turn * forward.scale(by)), up(room.top)]);
                routes.push((Manner::Across, Route(legs)));
            }
        }
    }
    let middle = nalgebra::center(&bounds.low, &bounds.high);
    let half = 0.5 * (bounds.high - bounds.low);
    let across = Unit::new_normalize(Vector3::z().cross(forward));
    for height in heights() {
        for (axis, along) in [(across, *forward), (*forward, across)] {
            let reach = half.x * along.x.abs() + half.y * along.y.abs();
            for pivot in [0.0, reach, -reach] {
                let through: Point3<f64> =
                    middle + along.scale(pivot) + Vector3::new(0.0, 0.0, height);
                for tilt in TILTS.iter().flat_map(|t| [*t, -*t]) {
                    let angle = tilt.to_radians();
                    let mut legs = begin(height);
                    legs.push(Leg::Turn { through, axis, angle, advance: 0.0 });
                    // Tilted, a part is lower at one end by no more than its size.
                    legs.push(up(room.top + 2.0 * half.norm()));
                    routes.push((Manner::Tilted, Route(legs)));
                }
            }
        }
    }
    routes
}
