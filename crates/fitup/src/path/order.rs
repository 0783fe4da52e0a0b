//! The kit's steps as lifts: what is carried together, one lift after the other.

use assembly::kit::{Kit, Motion, PartKind, Step};
use assembly::placement::{End, Side};
use assembly::rig::RigPart;

/// What is carried to its place together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lift {
    /// Index of the step in [`Kit::steps`].
    pub step: usize,
    /// The part that leads, and what goes with it.
    pub parts: Vec<RigPart>,
    /// How the kit says that it moves.
    pub motion: Motion,
    /// Whether a screw that is carried is drawn up, to be turned down by a later step.
    pub screw_up: bool,
}

impl Lift {
    /// The part that leads.
    pub fn lead(&self) -> Option<RigPart> {
        self.parts.first().copied()
    }
}

/// The lifts of a kit's steps, and what is wrong with the steps: a sentence and a remedy each.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Order {
    /// In the order of the steps.
    pub lifts: Vec<Lift>,
    /// Why the order cannot be kept.
    pub faults: Vec<(String, String)>,
}

/// The parts that are put in their places, in the order in which a kit is described: no spaces that
/// parts sweep.
pub fn put_parts(kit: &Kit) -> Vec<RigPart> {
    let space = |part: &RigPart| {
        matches!(
            part,
            RigPart::OutletHandle
                | RigPart::ScrewHandle
                | RigPart::UpperPinPath(_)
                | RigPart::LowerPinPath(_)
        )
    };
    RigPart::all(kit).into_iter().filter(|part| !space(part)).collect()
}

/// Works out the lifts.
pub fn order(kit: &Kit) -> Order {
    let mut order = Order::default();
    let mut left = put_parts(kit);
    for (number, step) in kit.steps.iter().enumerate() {
        // Handles swing where they are; other checks look at that.
        if matches!(step.part, PartKind::OutletHandle | PartKind::ScrewHandle) {
            continue;
        }
        let turned_down = step.part == PartKind::Screw
            && step.motion == Motion::Turn
            && order.lifts.iter().any(|l| l.screw_up);
        if turned_down {
            order.lifts.push(lift(number, step, vec![RigPart::Screw], false));
            continue;
        }
        let before = order.lifts.len();
        while let Some(parts) = take(step, &mut left) {
            let screw_up = parts.contains(&RigPart::Screw)
                && step.part != PartKind::Screw
                && kit.steps.iter().skip(number + 1).any(is_turn_of_screw);
            order.lifts.push(lift(number, step, parts, screw_up));
        }
        if order.lifts.len() == before {
            let why = format!(
                "step {} moves the {}, of which none is left to put in its place, or what carries \
                 it is not there yet",
                number + 1,
                step.part.word()
            );
            order.faults.push((why, ORDER.into()));
        }
    }
    prerequisites(kit, &mut order);
    let mut kinds: Vec<PartKind> = Vec::new();
    for part in left {
        if !kinds.contains(&part.kind()) {
            kinds.push(part.kind());
        }
    }
    for kind in kinds {
        let word = kind.word();
        let why = format!("no step of the kit puts the {word} in its place");
        let remedy =
            format!("add a [[step]] with part = \"{word}\", or name it in another step's \"with\"");
        order.faults.push((why, remedy));
    }
    order
}

const ORDER: &str = "put the steps of the kit in the order in which the parts are put on";

fn lift(step: usize, of: &Step, parts: Vec<RigPart>, screw_up: bool) -> Lift {
    Lift { step, parts, motion: of.motion, screw_up }
}

fn is_turn_of_screw(step: &Step) -> bool {
    step.part == PartKind::Screw && step.motion == Motion::Turn
}

/// The end at which a part stands; `None` for parts of which there is one.
const fn end_of(part: RigPart) -> Option<End> {
    match part {
        RigPart::Saddle(e)
        | RigPart::Link(e, _)
        | RigPart::Foot(e)
        | RigPart::UpperPin(e)
        | RigPart::LowerPin(e) => Some(e),
        _ => None,
    }
}

/// What a pin joins at its middle.
const fn holder(part: RigPart) -> Option<RigPart> {
    match part {
        RigPart::UpperPin(e) => Some(RigPart::Saddle(e)),
        RigPart::LowerPin(e) => Some(RigPart::Foot(e)),
        _ => None,
    }
}

/// Takes the next lift of a step out of the parts that are left.
fn take(step: &Step, left: &mut Vec<RigPart>) -> Option<Vec<RigPart>> {
    // A side port is a piece of its cup.
    let is_lead = |part: &RigPart| part.kind() == step.part && *part != RigPart::SidePort;
    // A pin is put through what is there.
    let ready = |part: &RigPart| holder(*part).is_none_or(|h| !left.contains(&h));
    let lead = left.iter().copied().find(|part| is_lead(part) && ready(part))?;
    let mut parts = vec![lead];
    if lead == RigPart::Cup {
        parts.push(RigPart::SidePort);
    }
    let end = end_of(lead);
    for kind in &step.with {
        let beside = |part: &RigPart| {
            part.kind() == *kind && (end.is_none() || end_of(*part).is_none_or(|e| Some(e) == end))
        };
        let held = |part: &RigPart, parts: &[RigPart]| {
            holder(*part).is_none_or(|h| parts.contains(&h) || step.with.contains(&h.kind()))
        };
        let more: Vec<RigPart> =
            left.iter().copied().filter(|p| beside(p) && held(p, &parts)).collect();
        parts.extend(more);
    }
    left.retain(|part| !parts.contains(part));
    Some(parts)
}

/// What must be there, or be carried along, before a part can be where it goes.
fn needs(part: RigPart) -> Vec<RigPart> {
    use RigPart as P;
    match part {
        P::Cup => vec![P::Gasket],
        P::Outlet => vec![P::Cup],
        P::Saddle(_) | P::ScrewBlock => vec![P::Bar],
        P::UpperPin(e) => {
            vec![P::Saddle(e), P::Link(e, Side::Inside), P::Link(e, Side::Outside)]
        }
        P::LowerPin(e) => vec![P::Foot(e), P::Link(e, Side::Inside), P::Link(e, Side::Outside)],
        P::Screw => vec![P::ScrewBlock],
        _ => Vec::new(),
    }
}

fn prerequisites(kit: &Kit, order: &mut Order) {
    let all = put_parts(kit);
    let mut there: Vec<RigPart> = Vec::new();
    for lift in &order.lifts {
        there.extend(&lift.parts);
        for part in &lift.parts {
            for need in needs(*part).into_iter().filter(|n| all.contains(n) && !there.contains(n)) {
                let why = format!(
                    "step {} moves the {} before the {} is there",
                    lift.step + 1,
                    part.kind().word(),
                    need.kind().word()
                );
                // Links swing about pins that were put through them before.
                let swung = matches!(need, RigPart::Link(..))
                    && kit
                        .steps
                        .iter()
                        .any(|s| s.part == PartKind::Link && s.motion == Motion::Swing);
                let fault = (why, ORDER.to_owned());
                if !swung && !order.faults.contains(&fault) {
                    order.faults.push(fault);
                }
            }
        }
    }
}
