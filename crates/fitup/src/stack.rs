//! What makes the place of each part uncertain.

use crate::scene::Scene;
use assembly::car_top::BodyId;
use assembly::placement::End;
use assembly::rig::{self, RigPart, Turns};
use assembly::{Choice, parts};
use measure::Stack;

/// The stack of how far a car body's true surface may be from its mesh.
pub(crate) fn of_car(scene: &Scene<'_>, id: BodyId) -> Stack {
    let body = &scene.car.body(id).body;
    Stack::of(body.name.clone(), body.deviation.bound)
}

/// The stack of what a rig part stands on together with its own surface, where parts in contact move
/// together: the ports' figures for the clamp, the plate for the cup.
pub(crate) fn in_contact(
    scene: &Scene<'_>,
    choice: &Choice,
    link_thickness: [[usize; 2]; 2],
    part: RigPart,
) -> Stack {
    let Some(cup) = scene.kit.cups.get(choice.cup) else { return Stack::none() };
    let own = if scene.is_exact() {
        Stack::none()
    } else {
        parts::stack(scene.kit, cup, link_thickness, part)
    };
    own + ground(scene, choice, part)
}

/// The stack of how far a rig part's true surface may be from where it is posed.
pub(crate) fn of_part(
    scene: &Scene<'_>,
    choice: &Choice,
    link_thickness: [[usize; 2]; 2],
    part: RigPart,
) -> Stack {
    let Some(cup) = scene.kit.cups.get(choice.cup) else { return Stack::none() };
    let mut stack =
        in_contact(scene, choice, link_thickness, part) + rig::stack(scene.kit, cup, part);
    if matches!(part, RigPart::Screw | RigPart::ScrewHandle) {
        // It hangs on the bar and stands in the cup's seat.
        stack = stack + of_car(scene, scene.car.plate);
    }
    let turning = part.turns_and_leans();
    if turning[0] {
        let turns = turns(scene, choice);
        let shape = Scene::shape_by(part, choice, link_thickness);
        let reach = scene.shape(shape).map_or([f64::INFINITY; 2], |shaped| shaped.reach);
        let arms = rig::arms(scene.kit, part);
        for (i, turn) in [turns.flat, turns.steep].into_iter().enumerate() {
            if turning[i] {
                stack = stack + turn.scale(reach[i] + arms[i]);
            }
        }
    }
    stack
}

fn ground(scene: &Scene<'_>, choice: &Choice, part: RigPart) -> Stack {
    if part.is_clamp() {
        Stack::of(rig::PORTS, scene.clamp_deviation(choice))
    } else {
        of_car(scene, scene.car.plate)
    }
}

/// How much the clamp of a choice may turn and tilt.
pub(crate) fn turns(scene: &Scene<'_>, choice: &Choice) -> Turns {
    let ports = choice.ports.map(|p| &scene.car.ports[p]);
    rig::turns(scene.kit, ports, scene.clamp_deviation(choice))
}

/// The stack of a rule about one port: its own figures.
pub(crate) fn of_port(scene: &Scene<'_>, choice: &Choice, end: End) -> Stack {
    let port = &scene.car.ports[choice.ports[end.index()]];
    Stack::of(rig::PORTS, port.deviation)
}
