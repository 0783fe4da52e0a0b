//! The rig's parts as free bodies: every force on each, in the plane of the bar.

use super::Rig;
use crate::{Bar, CarLoads, End, Fault, LinkPair};
use measure::{Bounds, Force, Length, Moment, Pressure};

/// A force along the screw's line, at its place along the bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneForce {
    /// What exerts it.
    pub from: &'static str,
    /// Where, from midway between the saddles, positive toward end A.
    pub at: Length,
    /// How much, positive away from the plate.
    pub up: Force,
}

/// One part with all that acts on it.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeBody {
    /// Which part.
    pub part: &'static str,
    /// The forces on it.
    pub forces: Vec<PlaneForce>,
    /// The moment on it that is no force of these, positive as a force up at a place toward end A
    /// would turn it.
    pub moment: Moment,
}

/// All parts of a rig as free bodies under a screw load and a pressure, at the middle of every
/// bound.
///
/// The screw is taken to stand on end A's side of the cup's axis, and the side moment to act the
/// same way. Only the plane of the bar is looked at: across it see [`crate::Hang`]. Friction and weights are
/// left out. Fault: a load that does not exceed the end load, under which the gasket bears nothing; no side
/// moment given.
pub fn free_bodies(rig: &Rig, load: Force, pressure: Pressure) -> Result<Vec<FreeBody>, Fault> {
    let aim = rig.aim()?;
    let force = |from, at, up| PlaneForce { from, at, up };
    let still = Moment::from_newton_mm(0.0);
    let exactly = |length: Bounds<Length>| Bounds::exactly(length.middle());
    let bar = Bar { span: exactly(rig.bar.span), along: exactly(rig.bar.along), ..rig.bar };
    let along = bar.along.middle();
    let half = bar.span.middle() / 2.0;
    let axis = along - aim.offset.middle();
    let end_load = rig.gasket.end_load(Bounds::exactly(pressure));
    let end_load = Bounds::exactly(end_load.middle());
    let car = CarLoads::of(Bounds::exactly(load), end_load, &bar);
    let (push, press) = (end_load.middle(), car.gasket.middle());
    if !(load.newtons().is_finite() && press > Force::from_newtons(0.0)) {
        let remedy = format!("the end load alone is {push}: give a load above it");
        return Err(Fault::out_of_range("screw load", load, remedy));
    }
    let side = aim.side_moment.middle();
    // Where the gasket presses back: the uneven contact's moment over its force.
    let lean = load * aim.offset.middle() + side;
    let centre = axis + lean / press;

    let mut bodies = vec![
        FreeBody {
            part: "cup",
            forces: vec![
                force("screw", along, -load),
                force("pressure", axis, push),
                force("gasket", centre, press),
            ],
            moment: -side,
        },
        FreeBody {
            part: "bar with screw and block",
            forces: vec![
                force("cup", along, load),
                force("saddle A", half, -car.ports[0].middle()),
                force("saddle B", -half, -car.ports[1].middle()),
            ],
            moment: still,
        },
    ];
    for (end, pull) in End::BOTH.into_iter().zip(car.ports.map(Bounds::middle)) {
        // The links hang upright: alike on both pins, midway between what they have on each.
        let (upper, lower) = (rig.end(end).upper, rig.end(end).lower);
        let alike =
            |of: fn(LinkPair) -> Bounds<Length>| (of(upper).middle() + of(lower).middle()) / 2.0;
        let (apart, lean) = (alike(|links| links.middles()), alike(|links| links.lean()));
        // The inside link stands toward the middle.
        let outward = if end == End::A { 1.0 } else { -1.0 };
        let middle = half * outward;
        let inside = middle - (apart / 2.0 + lean) * outward;
        let outside = middle + (apart / 2.0 - lean) * outward;
        let of_inside = pull * (0.5 - lean / apart);
        let of_outside = pull * (0.5 + lean / apart);
        bodies.push(FreeBody {
            part: "saddle with upper pin",
            forces: vec![
                force("bar", middle, pull),
                force("inside link", inside, -of_inside),
                force("outside link", outside, -of_outside),
            ],
            moment: still,
        });
        bodies.push(FreeBody {
            part: "foot with lower pin",
            forces: vec![
                force("inside link", inside, of_inside),
                force("outside link", outside, of_outside),
                force("port edge", middle, -pull),
            ],
            moment: still,
        });
    }
    bodies.push(FreeBody {
        part: "car",
        forces: vec![
            force("foot A", half, car.ports[0].middle()),
            force("foot B", -half, car.ports[1].middle()),
            force("gasket", centre, -press),
            force("pressure", axis, -push),
        ],
        moment: side,
    });
    Ok(bodies)
}
