//! The placing rules, worked out from the placement's numbers with arithmetic of their own.

use super::poses::{self, Lines};
use super::sample_car::Sample;
use assembly::car_top::{BodyId, Port};
use assembly::kit::PartKind;
use assembly::placement::{End, Side};
use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Kit, Placement};
use fitup::{Part, Rule};

/// One figure against its rule.
#[derive(Debug)]
pub(crate) struct Figure {
    pub(crate) rule: Rule,
    pub(crate) between: (Part, Part),
    /// What the figure is on the nominal model, mm.
    pub(crate) nominal: f64,
    /// What is left to the rule's limit in the worst case of the tolerances and deviations, mm.
    pub(crate) left: f64,
}

pub(crate) fn figures(
    sample: &Sample,
    kit: &Kit,
    choice: &Choice,
    placement: &Placement,
    present: &[BodyId],
) -> Vec<Figure> {
    let car = &sample.car;
    let lines = poses::lines(kit, car, choice, placement);
    let ports = choice.ports.map(|p| &car.ports[p]);
    let play = ports[0].deviation.max(ports[1].deviation);
    let sidewall = Part::Car(car.housing[0]);
    let rig = |part| Part::Rig(part);
    let mut all = Vec::new();
    let mut at_most = |rule, between, limit: f64, nominal: f64, deviation: f64| {
        all.push(Figure { rule, between, nominal, left: limit - nominal - deviation });
    };
    let rules = &kit.rules;

    let offset = poses::off_line(lines.lower, lines.axis).abs();
    let on_cup = (rig(RigPart::Screw), rig(RigPart::Cup));
    at_most(Rule::ScrewOffset, on_cup, rules.screw_offset, offset, play);
    let rise = (lines.upper[0].z - lines.upper[1].z).abs();
    let on_bar = (rig(RigPart::Screw), rig(RigPart::Bar));
    let holes = placement.link_hole.map(|h| kit.link.holes[h]);
    // Port, foot and link at each end.
    let rise_off =
        2.0 * play + 2.0 * kit.foot.seat.tolerance + holes[0].tolerance + holes[1].tolerance;
    let least_span = least_span(ports);
    at_most(Rule::Level, on_bar, rules.bar_level, rise, rise_off);
    for end in End::BOTH {
        let hole = holes[end.index()];
        let reach = hole.nominal;
        let between = (rig(RigPart::Link(end, Side::Inside)), rig(RigPart::Bar));
        let slope = rise / lines.span;
        let (high, far) = (rise + rise_off, reach + hole.tolerance);
        let deviation = rise_off * far / least_span
            + hole.tolerance * high / least_span
            + 2.0 * play * high * far / least_span.powi(2);
        at_most(Rule::Lean, between, rules.link_lean, slope * reach, deviation);

        let facing = ports[end.index()].facing.radians();
        let outward = lines.level * if end == End::A { 1.0 } else { -1.0 };
        let sideways = (outward.y * facing.cos() - outward.x * facing.sin()).abs();
        let half = kit.foot.width.nominal / 2.0;
        let limit = half * rules.foot_skew.radians().sin();
        let between = (rig(RigPart::Foot(end)), sidewall);
        let deviation = 2.0 * play * half / least_span;
        at_most(Rule::Skew, between, limit, half * sideways, deviation);
    }
    let on_wall = (rig(RigPart::Bar), sidewall);
    let over = overhangs(kit, &lines, ports.map(|p| p.wall));
    at_most(
        Rule::OverhangDifference,
        on_wall,
        rules.overhang_difference,
        (over[0] - over[1]).abs(),
        play,
    );

    let mut at_least = |rule, between, need: f64, nominal: f64, deviation: f64| {
        all.push(Figure { rule, between, nominal, left: nominal - deviation - need });
    };
    for end in End::BOTH {
        let i = end.index();
        let outside = &kit.link.thicknesses[placement.link_thickness[i][Side::Outside.index()]];
        let link_face = kit.foot.depth.nominal / 2.0 + outside.nominal;
        // The link stands in the slot, which ends before the bar does.
        let beyond = over[i] + ports[i].wall / 2.0 - link_face - kit.bar.end.nominal;
        let deviation = play
            + kit.bar.end.tolerance
            + 0.5 * (kit.bar.length.tolerance + kit.foot.depth.tolerance)
            + outside.tolerance;
        at_least(Rule::Overhang, on_wall, 0.0, beyond, deviation);

        let facing = ports[i].facing.radians();
        let level = lines.level;
        let sin = (level.y * facing.cos() - level.x * facing.sin()).abs();
        let cos = (1.0 - sin * sin).sqrt();
        let (w, d) = (kit.foot.width.nominal / 2.0, kit.foot.depth.nominal / 2.0);
        let between = (rig(RigPart::Foot(end)), sidewall);
        let need = rules.need(PartKind::Foot, PartKind::Housing);
        let beside = ports[i].width / 2.0 - placement.foot_shift[i].abs() - (w * cos + d * sin);
        at_least(
            Rule::FootInPort,
            between,
            need,
            beside,
            ports[i].deviation + beside_off(kit, ports),
        );
        at_least(
            Rule::FootInPort,
            between,
            need,
            ports[i].height - kit.foot.height.nominal,
            ports[i].deviation + kit.foot.height.tolerance,
        );
    }
    at_least(
        Rule::Travel,
        on_cup,
        0.0,
        travel_left(kit, placement),
        travel_stack(car, kit, choice),
    );

    all.extend(of_cup(sample, kit, choice, &lines, present));
    all
}

/// The fitting in the cup's cavity, and the gasket on the plate.
fn of_cup(
    sample: &Sample,
    kit: &Kit,
    choice: &Choice,
    lines: &Lines,
    present: &[BodyId],
) -> Vec<Figure> {
    let (car, rules) = (&sample.car, &kit.rules);
    let cup = &kit.cups[choice.cup];
    let mut all = Vec::new();
    let mut at_least = |rule, between, need: f64, nominal: f64, deviation: f64| {
        all.push(Figure { rule, between, nominal, left: nominal - deviation - need });
    };
    let gasket = poses::gasket_under(kit, cup);
    let radius = cup.inside_diameter.nominal / 2.0;
    let crown = poses::rim(gasket) + cup.inside_height.nominal;
    let need = rules.need(PartKind::Cup, PartKind::Fitting);
    for &id in present.iter().filter(|id| super::confirm::covered(car, choice, **id)) {
        let body = &car.body(id).body;
        let out = body
            .mesh
            .vertices
            .iter()
            .map(|p| (p.x - lines.axis.x).hypot(p.y - lines.axis.y))
            .fold(0.0, f64::max);
        let top = body.mesh.vertices.iter().map(|p| p.z).fold(f64::NEG_INFINITY, f64::max);
        let between = (Part::Rig(RigPart::Cup), Part::Car(id));
        let bound = body.deviation.bound;
        let side = bound + cup.inside_diameter.tolerance / 2.0;
        at_least(Rule::Cavity, between, need, radius - out, side);
        let above = bound
            + cup.inside_height.tolerance
            + gasket.thickness.tolerance
            + gasket.groove_depth.tolerance;
        at_least(Rule::Cavity, between, need, crown - top, above);
    }
    let land = (Part::Rig(RigPart::Gasket), Part::Car(car.plate));
    let room = sample.plate_radius - lines.axis.coords.norm();
    let inner = gasket.inside_diameter.nominal / 2.0;
    let width = (room - inner).min(gasket.outside_diameter.nominal / 2.0 - inner);
    let deviation = 0.5 * (gasket.inside_diameter.tolerance + gasket.outside_diameter.tolerance);
    at_least(Rule::SealWidth, land, rules.land_seal_width, width, deviation);
    all
}

/// Beyond the sidewall's outer face at each end.
fn overhangs(kit: &Kit, lines: &Lines, walls: [f64; 2]) -> [f64; 2] {
    let half = kit.bar.length.nominal / 2.0;
    let ends = [lines.bar + lines.along * half, lines.bar - lines.along * half];
    [0, 1].map(|i| {
        let sign = if i == 0 { 1.0 } else { -1.0 };
        let end = (ends[i] - lines.upper[i]).dot(&lines.along) * sign;
        end - walls[i] / 2.0
    })
}

pub(crate) fn travel_left(kit: &Kit, placement: &Placement) -> f64 {
    let used = placement.screw_extension - kit.screw.retracted.nominal;
    used.min(kit.screw.travel.nominal - used)
}

/// Every tolerance in the chain from the port's upper edge over foot, link, saddle, bar and screw
/// to the seat, and from the plate over gasket and cup to the seat.
pub(crate) fn travel_stack(car: &CarTop, kit: &Kit, choice: &Choice) -> f64 {
    let play = choice.ports.map(|p| car.ports[p].deviation).into_iter().fold(0.0, f64::max);
    let cup = &kit.cups[choice.cup];
    let gasket = poses::gasket_under(kit, cup);
    let hole = kit.link.holes.iter().map(|h| h.tolerance).fold(0.0, f64::max);
    let span = least_span(choice.ports.map(|p| &car.ports[p]));
    let tilt = 2.0 * (play + kit.foot.seat.tolerance + hole) / span;
    let longest = kit.screw.retracted.nominal + kit.screw.travel.nominal;
    let leaning = longest * tilt * (tilt + kit.rules.bar_level / span);
    leaning
        + play
        + car.body(car.plate).body.deviation.bound
        + hole
        + [
            kit.foot.seat,
            kit.saddle.pin_drop,
            kit.screw.retracted,
            kit.screw.travel,
            gasket.thickness,
            gasket.groove_depth,
            cup.inside_height,
            cup.crown,
            cup.seat_height,
            cup.seat_depth,
        ]
        .iter()
        .map(|d| d.tolerance)
        .sum::<f64>()
        + kit.screw.ball_diameter.tolerance / 2.0
}

/// The feet stand in their ports, wherever those are.
fn least_span(ports: [&Port; 2]) -> f64 {
    let [a, b] = ports;
    let within = 0.5 * (a.width + b.width) + a.deviation + b.deviation;
    (a.at.x - b.at.x).hypot(a.at.y - b.at.y) - within
}

/// How much a foot's reach to the side of its port may be off, beside the port.
pub(crate) fn beside_off(kit: &Kit, ports: [&Port; 2]) -> f64 {
    let play = ports[0].deviation.max(ports[1].deviation);
    let (w, d) = (kit.foot.width, kit.foot.depth);
    let turn = 2.0 * play / least_span(ports);
    0.5 * w.tolerance.hypot(d.tolerance) + 0.5 * turn * w.nominal.hypot(d.nominal)
}
