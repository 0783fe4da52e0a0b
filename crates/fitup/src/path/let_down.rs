//! The ways that are tried for one passage, in order.

use super::passage::{Passage, Proven, Stop};
use super::route::Route;
use super::search::search;
use super::simple::{Manner, Room, roundabout, straight};
use gap::Bounds;
use nalgebra::{Unit, Vector3};

/// Why no way was found.
#[derive(Debug, Clone, PartialEq)]
pub struct NoWay {
    /// The first manner that was tried.
    pub manner: Manner,
    /// What ends it, nearest to the place; `None` where there was nothing to try.
    pub stop: Option<Stop>,
    /// Whether a search was made too.
    pub searched: bool,
}

/// Finds a way for a passage: by the routes that are special to the part, straight down, roundabout,
/// and by a search, in this order. `bounds` is the box around the pieces at their place, `forward` a
/// level direction that means something to them; `None` for pieces that go only by their special
/// routes. `may_search` allows the search, which is dear where it finds nothing.
///
/// # Errors
/// What is in the way of the first route.
pub fn let_down(
    passage: &mut Passage<'_>,
    special: Vec<(Manner, Route)>,
    room: &Room,
    bounds: &Bounds,
    forward: Option<&Unit<Vector3<f64>>>,
    may_search: bool,
) -> Result<(Manner, Route, Proven), NoWay> {
    let mut routes = special;
    if forward.is_some() {
        routes.extend(straight(room));
    }
    let first = routes.first().cloned();
    if let Some(found) = first_clear(passage, routes) {
        return Ok(found);
    }
    let Some((manner, route)) = first else {
        return Err(NoWay { manner: Manner::Down, stop: None, searched: false });
    };
    let stop = passage.first_stop(&route);
    if let Some(forward) = forward {
        let reached = straight(room)
            .first()
            .and_then(|(_, down)| passage.first_stop(down))
            .map_or(0.0, |stop| stop.progress);
        if let Some(found) = first_clear(passage, roundabout(bounds, room, reached, forward)) {
            return Ok(found);
        }
        if may_search && let Some((route, proven)) = search(passage, room, forward) {
            return Ok((Manner::Searched, route, proven));
        }
    }
    Err(NoWay { manner, stop, searched: may_search && forward.is_some() })
}

/// The first of some routes that is proven clear.
fn first_clear(
    passage: &mut Passage<'_>,
    routes: Vec<(Manner, Route)>,
) -> Option<(Manner, Route, Proven)> {
    routes.into_iter().find_map(|(manner, route)| {
        if passage.is_seen_blocked(&route) {
            return None;
        }
        let proven = passage.prove(&route).ok()?;
        Some((manner, route, proven))
    })
}
