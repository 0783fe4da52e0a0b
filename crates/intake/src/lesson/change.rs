//! The changes that a lesson makes of a placement.

use super::names::Names;
use crate::fault::Pen;
use crate::table::{Bound, Table};
use assembly::Edit;
use assembly::car_top::LidState;
use assembly::kit::Dim;
use assembly::placement::Side;
use measure::{Angle, Length};
use nalgebra::Vector2;

/// Angles that are meant to be the same, radians.
const ALIKE: f64 = 1e-6;
/// Decimals with which a thickness is shown, and how far it may then be off, mm.
const PLACES: usize = 4;
const AS_SHOWN: f64 = 0.002;

/// The changes of a table, in the order in which they are made: what is chosen before what is placed, the
/// screw last.
pub(super) fn edits(
    mut table: Table<'_>,
    pen: &mut Pen,
    (names, fitting): (&Names<'_>, usize),
) -> Vec<Edit> {
    let before = pen.count();
    let mut edits = Vec::new();
    chosen(&mut table, pen, (names, fitting), &mut edits);
    placed(&mut table, pen, names, &mut edits);
    for foot in table.tables(pen, "foot", "foot") {
        edits.extend(self::foot(foot, pen, names));
    }
    for link in table.tables(pen, "link", "link") {
        link_edits(link, pen, names, &mut edits);
    }
    if table.has("screw") {
        edits.push(Edit::ScrewExtension(table.length(pen, "screw", Bound::Positive).value));
    }
    if edits.is_empty() && pen.count() == before {
        pen.at(
            table.span(),
            format!("{} changes nothing", table.title),
            "no change in here",
            "take it out, or say what is changed, as in: outlet = \"3 o'clock\"",
        );
    }
    table.finish(pen);
    edits
}

/// Cup, ports, pieces.
fn chosen(
    table: &mut Table<'_>,
    pen: &mut Pen,
    (names, fitting): (&Names<'_>, usize),
    edits: &mut Vec<Edit>,
) {
    if let Some(name) = table.maybe_text(pen, "cup", "\"B\"") {
        edits.extend(names.cup(pen, &name).map(Edit::Cup));
    }
    if table.has("ports") {
        let example = "[\"P0\", \"P180\"]";
        let listed = table.texts(pen, "ports", example);
        match &listed[..] {
            [a, b] => {
                let ports = [names.port(pen, a), names.port(pen, b)];
                if let [Some(a), Some(b)] = ports {
                    edits.push(Edit::Ports([a, b]));
                }
            }
            [] => {}
            _ => pen.at(
                &table.place("ports"),
                "\"ports\" must name two ports",
                "two are wanted here",
                format!("write it as in: ports = {example}"),
            ),
        }
    }
    for (key, edit) in
        [("take-off", Edit::TakeOff as fn(_) -> _), ("put-back", Edit::PutBack as fn(_) -> _)]
    {
        if table.has(key) {
            for name in table.texts(pen, key, "[\"outlet plug\"]") {
                edits.extend(names.piece(pen, &name, fitting).map(edit));
            }
        }
    }
}

/// The numbers that place cup, outlet, lid and bar.
fn placed(table: &mut Table<'_>, pen: &mut Pen, names: &Names<'_>, edits: &mut Vec<Edit>) {
    if table.has("cup-offset") {
        edits.push(Edit::CupOffset(Vector2::from(table.lengths::<2>(pen, "cup-offset"))));
    }
    if table.has("outlet") {
        let bearing = table.angle(pen, "outlet", str::parse::<Angle>).value;
        edits.push(Edit::OutletBearing(Angle::from_radians(bearing)));
    }
    if table.has("elbow") {
        let asked = table.angle(pen, "elbow", Angle::parse_clockwise);
        let turns = names.kit.map(|kit| kit.outlet.elbow_turns.as_slice());
        let is_it = |turn: &Angle| (turn.radians() - asked.value).abs() < ALIKE;
        match turns.map(|turns| (turns.iter().position(is_it), turns)) {
            Some((Some(turn), _)) => edits.push(Edit::ElbowTurn(turn)),
            Some((None, turns)) if asked.value.is_finite() => {
                let known: Vec<String> = turns.iter().map(|t| t.show()).collect();
                pen.at(
                    &asked.span,
                    "the kit has no such turn of the elbow",
                    "not one of its turns",
                    format!("write one of {}", known.join(", ")),
                );
            }
            _ => edits.push(Edit::ElbowTurn(0)),
        }
    }
    if table.has("lid") {
        let opening = table.angle(pen, "lid", Angle::parse_plain);
        let stop = names.car.map(|car| match &car.lid {
            LidState::Hinged(lid) => lid.stop.radians(),
            LidState::Unknown | LidState::None => f64::NEG_INFINITY,
        });
        if stop == Some(f64::NEG_INFINITY) {
            pen.at(&opening.span, "the case has no hinged lid", "nothing to open", "take it out");
        } else if opening.value < 0.0 || stop.is_some_and(|stop| opening.value > stop + ALIKE) {
            let most = stop.map_or_else(String::new, |s| Angle::from_radians(s).show());
            pen.at(
                &opening.span,
                "the lid does not open so far",
                "beyond its stop, or below closed",
                format!("write an opening from \"0 deg\" to \"{most}\""),
            );
        }
        edits.push(Edit::LidOpening(Angle::from_radians(opening.value)));
    }
    if table.has("bar-slide") {
        edits.push(Edit::BarSlide(table.length(pen, "bar-slide", Bound::Any).value));
    }
}

fn foot(mut table: Table<'_>, pen: &mut Pen, names: &Names<'_>) -> Option<Edit> {
    let name = table.text(pen, "port", "\"P0\"");
    let port = names.port(pen, &name);
    let shift = table.length(pen, "shift", Bound::Any).value;
    table.finish(pen);
    Some(Edit::FootShift { port: port?, shift })
}

fn link_edits(mut table: Table<'_>, pen: &mut Pen, names: &Names<'_>, edits: &mut Vec<Edit>) {
    let name = table.text(pen, "port", "\"P0\"");
    let port = names.port(pen, &name);
    if table.has("thickness") {
        let sides = [Side::Inside, Side::Outside];
        let side = table.choice(pen, "side", &["inside", "outside"]);
        let side = side.and_then(|at| sides.get(at)).copied();
        let asked = table.length(pen, "thickness", Bound::Positive);
        let found = names.kit.map(|kit| {
            let is_it = |t: &Dim| (t.nominal - asked.value).abs() < AS_SHOWN;
            kit.link.thicknesses.iter().position(is_it)
        });
        if let (Some(None), Some(kit), true) = (found, names.kit, asked.value.is_finite()) {
            let all = kit.link.thicknesses.iter();
            let shown = all.map(|t| Length::from_mm(t.nominal).show_to(kit.unit, PLACES));
            pen.at(
                &asked.span,
                "the kit has no link of this thickness",
                "not one of its thicknesses",
                format!("write one of {}", shown.collect::<Vec<_>>().join(", ")),
            );
        }
        if let (Some(port), Some(side), Some(thickness)) = (port, side, found.unwrap_or(Some(0))) {
            edits.push(Edit::LinkThickness { port, side, thickness });
        }
    }
    let hole = table.maybe_count(pen, "hole", 100);
    if let Some(hole) = hole {
        let index = usize::from(hole) - 1;
        let count = names.kit.map_or(usize::MAX, |kit| kit.link.holes.len());
        if index >= count {
            pen.at(
                &table.place("hole"),
                "the links have no such hole",
                "beyond the last",
                format!("write a hole from 1, the lowest, to {count}"),
            );
        } else if let Some(port) = port {
            edits.push(Edit::LinkHole { port, hole: index });
        }
    }
    if !table.has("thickness") && !table.has("hole") {
        pen.at(
            table.span(),
            "a link is named and not changed",
            "neither \"thickness\" nor \"hole\"",
            "add thickness = \"3/4 in\" with side = \"inside\", or hole = 2",
        );
    }
    table.finish(pen);
}
