//! How every part of a placed rig reaches its place, in the kit's order.

use super::Hindrance;
use super::carried::{Carried, Placed, target};
use super::let_down::{NoWay, let_down};
use super::order::{self, Lift};
use super::passage::Stop;
use super::route::Route;
use super::simple::Manner;
use crate::checks;
use crate::margin::Part;
use crate::situation::Situation;
use assembly::rig::RigPart;
use nalgebra::{Isometry3, Point3, Translation3, Vector3};

/// How one lift reaches its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// The lift.
    pub lift: Lift,
    /// Where each of its parts stands at its place, in the order of the lift.
    pub places: Vec<Isometry3<f64>>,
    /// The way, or what stands in it.
    pub found: Result<Clear, Blocked>,
}

/// A way that is proven clear.
#[derive(Debug, Clone, PartialEq)]
pub struct Clear {
    /// How the parts are carried.
    pub manner: Manner,
    /// The way, told from the place out.
    pub route: Route,
    /// How far each part of the lift stands off from its place before it settles, mm, in the order of
    /// the lift; all along the route it stands off as much.
    pub retreats: Vec<Vector3<f64>>,
    /// What is proven to be left between the true surfaces everywhere on it, mm.
    pub clearance: f64,
    /// Between which parts, where they come nearer than the kit's clearance.
    pub narrowest: Option<(RigPart, Part)>,
}

/// Why no way was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Blocked {
    /// The manner that got farthest.
    pub manner: Manner,
    /// What stood in its way; `None` where the lift could not be formed.
    pub stop: Option<Stopped>,
    /// Whether a search was made too.
    pub searched: bool,
}

/// What stood in the way.
#[derive(Debug, Clone, PartialEq)]
pub struct Stopped {
    /// The part that did not get on.
    pub moving: RigPart,
    /// What it met.
    pub still: Part,
    /// How far from its place it gets, mm.
    pub progress: f64,
    /// Where, plate frame.
    pub at: Option<Point3<f64>>,
    /// How.
    pub why: Hindrance,
}

impl Way {
    /// The poses of one of its parts at the ends of the way's legs, the far end first, then before it
    /// settles, and its place last, plate frame; empty where no way was found.
    pub fn waypoints(&self, part: RigPart) -> Vec<Isometry3<f64>> {
        let index = self.lift.parts.iter().position(|p| *p == part);
        let (Some(index), Ok(clear)) = (index, &self.found) else { return Vec::new() };
        let (Some(place), Some(retreat)) = (self.places.get(index), clear.retreats.get(index))
        else {
            return Vec::new();
        };
        let settling = Translation3::from(*retreat);
        let on_the_way = clear.route.waypoints().into_iter().map(|d| d * settling * place);
        on_the_way.chain([*place]).collect()
    }
}

/// Works out the ways of a placed rig's lifts; `may_search` allows a search where no simple way is
/// clear.
pub fn ways(s: &Situation<'_>, may_search: bool) -> Vec<Way> {
    let mut placed: Vec<Placed> = Vec::new();
    let mut ways = Vec::new();
    for lift in order::order(s.scene.kit).lifts {
        // One part without a way is enough not to tell; for the others no search is made.
        let may_search = may_search && ways.iter().all(|way: &Way| way.found.is_ok());
        let found = find(s, &lift, &placed, may_search);
        let places = lift.parts.iter().map(|part| target(s, &lift, *part)).collect();
        placed.retain(|p| !lift.parts.contains(&p.part));
        for &part in &lift.parts {
            placed.push(Placed { part, plate_from_part: target(s, &lift, part) });
            if part == RigPart::Outlet {
                let handle = RigPart::OutletHandle;
                placed.push(Placed { part: handle, plate_from_part: target(s, &lift, handle) });
            }
        }
        ways.push(Way { lift, places, found });
    }
    ways
}

/// The lift with a retreat that brings it free of what it touches: four times what the kit allows between
/// parts that touch, and where it touches the car no less than the car's mesh may be off.
fn carried<'c, 's>(
    s: &'c Situation<'s>,
    lift: &'c Lift,
    placed: &[Placed],
) -> Option<Carried<'c, 's>> {
    /// Least retreat, mm, where the kit allows next to nothing between parts that touch.
    const LEAST: f64 = 0.05;
    /// Part of the retreat that must be left between them.
    const FREE: f64 = 0.2;
    let shortest = s.scene.kit.rules.contact.max(LEAST);
    let longest = || {
        let slack = lift.parts.iter().map(|part| checks::contact_slack(s, *part));
        slack.fold(4.0 * shortest, f64::max)
    };
    let mut retreat = shortest;
    loop {
        let carried = Carried::new(s, lift, placed, retreat)?;
        if carried.passage.freed() >= FREE * shortest || retreat >= longest() {
            return Some(carried);
        }
        retreat *= 2.0;
    }
}

fn find(
    s: &Situation<'_>,
    lift: &Lift,
    placed: &[Placed],
    may_search: bool,
) -> Result<Clear, Blocked> {
    let unformed = Blocked { manner: Manner::Down, stop: None, searched: false };
    let Some(mut carried) = carried(s, lift, placed) else { return Err(unformed) };
    let (Some(room), Some(bounds)) = (carried.room(), carried.passage.bounds()) else {
        return Err(unformed);
    };
    let special = carried.special(&room);
    let forward = (!carried.is_guided()).then(|| carried.forward());
    match let_down(&mut carried.passage, special, &room, &bounds, forward.as_ref(), may_search) {
        Ok((manner, route, proven)) => {
            let narrowest = proven.narrowest.and_then(|(piece, obstacle)| {
                Some((*carried.moving.get(piece)?, *carried.still.get(obstacle)?))
            });
            let retreats =
                (0..lift.parts.len()).filter_map(|i| carried.passage.retreat(i)).collect();
            Ok(Clear { manner, route, retreats, clearance: proven.clearance, narrowest })
        }
        Err(NoWay { manner, stop, searched }) => {
            let name = |stop: Stop| {
                Some(Stopped {
                    moving: *carried.moving.get(stop.piece)?,
                    still: *carried.still.get(stop.obstacle)?,
                    progress: stop.progress,
                    at: stop.at,
                    why: stop.why,
                })
            };
            Err(Blocked { manner, stop: stop.and_then(name), searched })
        }
    }
}
