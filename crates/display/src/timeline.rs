//! When what is seen moves: the lid opens, pieces come off, the rig's parts are put on one lift after
//! the other, each along its own way.

use assembly::rig::RigPart;
use fitup::path::{Clear, Leg, Way};
use nalgebra::{Isometry3, Translation3, UnitQuaternion, Vector3};
use std::f64::consts::TAU;

/// How long a lift takes, the opening of the lid, and taking a piece off; and the rest after each.
/// Seconds, our choice.
const LIFT: f64 = 2.5;
pub(crate) const LID: f64 = 2.0;
pub(crate) const OFF: f64 = 1.0;
pub(crate) const REST: f64 = 0.5;
/// Of a lift, the last stretch from where the part stands off to its place.
const SETTLING: f64 = 0.3;
/// Between two keys of a turn, degrees at most: half a millimetre off the arc at 800 mm from the axis
/// where a straight line joins them.
const FINEST_TURN: f64 = 4.0;
/// Between two keys of a part that turns about its own axis, degrees: well below half a turn, past
/// which the shorter way round is the other one.
const FINEST_SPIN: f64 = 60.0;

/// A step of the installation.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// What is done: `take off LV1 handwheel`.
    pub name: String,
    /// When it begins, seconds.
    pub from: f64,
    /// When it ends.
    pub to: f64,
}

/// Where an item is at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// Seconds.
    pub at: f64,
    /// Plate frame from the item's.
    pub plate_from_item: Isometry3<f64>,
}

/// How an item moves, and when it is there.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Track {
    /// When it comes, seconds; zero where it is there from the beginning.
    pub comes: f64,
    /// When it goes; `None` where it stays.
    pub goes: Option<f64>,
    /// Where it is, in the order of time; between two of them it moves evenly, its origin on a straight
    /// line. Empty where it stands still.
    pub keys: Vec<Key>,
}

impl Track {
    /// Whether the item is there at a time.
    pub fn is_there(&self, at: f64) -> bool {
        self.comes <= at && self.goes.is_none_or(|goes| at < goes)
    }

    /// Where the item is at a time; `None` where it stands still all along.
    pub fn pose(&self, at: f64) -> Option<Isometry3<f64>> {
        let after = self.keys.iter().position(|key| key.at > at);
        let pair = match after {
            None => return self.keys.last().map(|key| key.plate_from_item),
            Some(0) => return self.keys.first().map(|key| key.plate_from_item),
            Some(next) => [self.keys.get(next - 1)?, self.keys.get(next)?],
        };
        let [a, b] = pair;
        let share = (at - a.at) / (b.at - a.at);
        Some(between(&a.plate_from_item, &b.plate_from_item, share))
    }
}

/// The pose between two, the shorter way round.
fn between(a: &Isometry3<f64>, b: &Isometry3<f64>, share: f64) -> Isometry3<f64> {
    let shift = a.translation.vector.lerp(&b.translation.vector, share);
    let turn: UnitQuaternion<f64> =
        a.rotation.try_slerp(&b.rotation, share, 1e-9).unwrap_or(b.rotation);
    Isometry3::from_parts(Translation3::from(shift), turn)
}

/// The clock along which the stages follow each other.
#[derive(Debug, Default)]
pub(crate) struct Clock {
    now: f64,
    pub(crate) stages: Vec<Stage>,
}

impl Clock {
    /// A stage that takes so long; when it begins and ends.
    pub(crate) fn stage(&mut self, name: String, takes: f64) -> [f64; 2] {
        let (from, to) = (self.now, self.now + takes);
        self.stages.push(Stage { name, from, to });
        self.now = to + REST;
        [from, to]
    }

    /// A lift of the kit's steps.
    pub(crate) fn lift(&mut self, name: String) -> [f64; 2] {
        self.stage(name, LIFT)
    }
}

/// The keys of a turning lid: evenly from one pose to another about a fixed axis, `pose` giving that
/// after a share of the turn.
pub(crate) fn turn(
    [from, to]: [f64; 2],
    degrees: f64,
    pose: impl Fn(f64) -> Option<Isometry3<f64>>,
) -> Vec<Key> {
    let parts = parts_of(degrees, FINEST_TURN);
    let key = |part: u32| {
        let share = f64::from(part) / f64::from(parts);
        let plate_from_item = pose(share)?;
        Some(Key { at: from + share * (to - from), plate_from_item })
    };
    (0..=parts).filter_map(key).collect()
}

/// The keys of one part of a lift, from the far end of its way to its place.
pub(crate) fn carried(way: &Way, part: RigPart, [from, to]: [f64; 2]) -> Vec<Key> {
    let index = way.lift.parts.iter().position(|p| *p == part);
    let Some((index, place)) = index.and_then(|i| Some((i, *way.places.get(i)?))) else {
        return Vec::new();
    };
    let at_place = Key { at: to, plate_from_item: place };
    let Ok(clear) = &way.found else { return vec![Key { at: from, ..at_place }] };
    let settling = clear.retreats.get(index).map_or_else(Translation3::identity, |r| (*r).into());
    let mut keys = on_the_way(clear, &(settling * place), [from, to - SETTLING]);
    keys.push(at_place);
    keys
}

/// The keys of a screw that is turned down in its thread: `keys` move along its axis, and a right-handed
/// thread of this lead, mm a turn, turns it meanwhile. Common practice, no source: right-handed.
pub(crate) fn screwed(keys: &[Key], lead: f64) -> Vec<Key> {
    let Some(place) = keys.last().map(|key| key.plate_from_item) else { return Vec::new() };
    let turned = |key: Key| {
        let above = place.inverse_transform_vector(
            &(key.plate_from_item.translation.vector - place.translation.vector),
        );
        let turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), TAU * above.z / lead);
        Key { plate_from_item: key.plate_from_item * turn, ..key }
    };
    let mut all = Vec::new();
    for pair in keys.windows(2) {
        let [a, b] = pair else { continue };
        let way = b.plate_from_item.translation.vector - a.plate_from_item.translation.vector;
        let parts = parts_of(360.0 * way.norm() / lead, FINEST_SPIN);
        for part in 0..parts {
            let share = f64::from(part) / f64::from(parts);
            let plate_from_item = between(&a.plate_from_item, &b.plate_from_item, share);
            all.push(turned(Key { at: a.at + share * (b.at - a.at), plate_from_item }));
        }
    }
    all.extend(keys.last().copied());
    all
}

/// The keys along a route, run through from its far end.
fn on_the_way(clear: &Clear, settled: &Isometry3<f64>, [from, to]: [f64; 2]) -> Vec<Key> {
    let legs = clear.route.0.len();
    let each = (to - from) / legs.max(1) as f64;
    let mut keys = Vec::new();
    for (number, leg) in clear.route.0.iter().rev().enumerate() {
        let parts = match leg {
            Leg::Straight(_) => 1,
            Leg::Turn { angle, .. } => parts_of(angle.to_degrees(), FINEST_TURN),
        };
        let first = u32::from(number > 0);
        for part in first..=parts {
            let gone = number as f64 + f64::from(part) / f64::from(parts);
            let out = clear.route.displacement_at(1.0 - gone / legs as f64);
            keys.push(Key { at: from + gone * each, plate_from_item: out * settled });
        }
    }
    keys
}

/// Into how many parts a turn is divided.
fn parts_of(degrees: f64, finest: f64) -> u32 {
    let mut parts = 1;
    while degrees.abs() > finest * f64::from(parts) {
        parts += 1;
    }
    parts
}
