//! Sentences about what is tried by hand. None of them is a verdict on a fitting.

use crate::ring::{ArcState, RingArc};
use crate::runner::{Reply, Score};
use crate::tried::{Row, RowState, Setup, Tried};
use assembly::placement::{End, Side};
use assembly::{CarTop, Kit};
use fitup::Stand;
use measure::{Angle, Length, LengthUnit};
use review::words as shared;

/// What the figures shown of a placement rest on: one tried by hand, or the best that a review found.
pub const fn what_it_is(is_best: bool) -> &'static str {
    if is_best {
        "The best placement that the review found for this cup. Its verdict rests on the ways of the parts \
         and on room for hands too, which these figures leave out."
    } else {
        "Tried by hand: this is one placement and no verdict. Whether the parts get there and hands find \
         room is not looked at."
    }
}

/// How a placement stands, in a line: `at this placement nothing is short: least 0.210 in, gap, outlet to
/// lv1-body`.
pub fn headline(tried: &Tried, unit: LengthUnit) -> String {
    match tried.stand {
        Stand::NothingShort => {
            format!("at this placement nothing is short: {}", least(tried, unit))
        }
        Stand::Short => {
            let more = tried.rows.iter().filter(|row| row.state == RowState::Short).count();
            let more = match more.saturating_sub(1) {
                0 => String::new(),
                1 => "; one more is short".to_owned(),
                more => format!("; {more} more are short"),
            };
            let limit = tried.limit.as_ref();
            let what = limit.map_or_else(String::new, |row| sentence(row, unit));
            format!("short at this placement: {what}{more}")
        }
        Stand::CannotTell => {
            let why = match (tried.undecided.first(), &tried.limit) {
                (Some(undecided), _) => {
                    format!("{}: {}", undecided.check.word(), undecided.reason)
                }
                (None, Some(row)) => sentence(row, unit),
                (None, None) => "nothing was measured".to_owned(),
            };
            format!("cannot tell at this placement: {why}")
        }
    }
}

/// Why it cannot be told and what to do about it, a sentence each; empty where it can.
pub fn cannot_tell(tried: &Tried) -> Vec<String> {
    let told = |u: &fitup::Undecided| format!("{}: {}; {}", u.check.word(), u.reason, u.remedy);
    tried.undecided.iter().map(told).collect()
}

/// The least margin with what it is between: `least 0.210 in, gap, outlet to lv1-body`.
pub fn least(tried: &Tried, unit: LengthUnit) -> String {
    match (&tried.least, &tried.limit) {
        (Some(least), Some(limit)) => {
            format!("least {}, {}", shared::down(least.low, unit), shared::limit(&limit.told))
        }
        _ => "nothing was measured".to_owned(),
    }
}

/// What was found, in the words of an engineer.
pub(crate) fn found(tried: &Tried) -> String {
    headline(tried, LengthUnit::Millimetre)
}

/// A margin of the list: what is left at least where it is kept, what is missing at least where it is
/// short, both ends where it is neither.
pub fn margin(row: &Row, unit: LengthUnit) -> String {
    match row.state {
        RowState::Kept => shared::down(row.margin.low, unit),
        RowState::Short => shared::up(row.margin.high, unit),
        RowState::MayBeShort => shared::interval(row.told.margin_mm, unit),
    }
}

/// What a margin of the list is about: `gap, outlet to lv1-body`.
pub fn between(row: &Row) -> String {
    shared::limit(&row.told)
}

/// A margin in a sentence without its full stop.
pub fn sentence(row: &Row, unit: LengthUnit) -> String {
    shared::sentence(&row.told, unit)
}

/// The word beside a margin of the list, so that colour is not alone.
pub const fn state(state: RowState) -> &'static str {
    match state {
        RowState::Short => "short",
        RowState::MayBeShort => "may be short",
        RowState::Kept => "kept",
    }
}

/// A bearing: `3:46 o'clock (247.2 deg)`.
pub fn bearing(bearing: Angle) -> String {
    let within = Angle::from_degrees(bearing.degrees().rem_euclid(360.0));
    format!("{} ({})", bearing.show_clock(), within.show())
}

/// An arc of the ring, read clockwise: `free from 1:10 o'clock (outlet to lid) to 2:30 o'clock (outlet to
/// clamp bar)`.
pub fn arc(arc: &RingArc) -> String {
    let [from, to] = arc.ends;
    let word = arc.state.word();
    if to.degrees() - from.degrees() >= 360.0 - 1e-6 {
        let by = arc.by.iter().flatten().next().map(|row| format!(": {}", between(row)));
        return format!("{word} all round{}", by.unwrap_or_default());
    }
    let end = |end: Angle, by: &Option<Row>| {
        let by = by.as_ref().map(|row| format!(" ({})", shared::between(&row.told)));
        format!("{}{}", end.show_clock(), by.unwrap_or_default())
    };
    let [first, last] = &arc.by;
    format!("{word} from {} to {}", end(to, last), end(from, first))
}

/// Where the outlet points and what is known of that: `outlet at 1:30 o'clock (315.0 deg): free`.
pub fn pointer(pointer: Angle, pointed_at: Option<ArcState>) -> String {
    let state = pointed_at.map_or(String::new(), |state| format!(": {}", state.word()));
    format!("outlet at {}{state}", bearing(pointer))
}

/// Lengths below this are none, mm: less than is shown.
const NONE: f64 = 0.005;

/// What is set up, each thing with its value, in the order of a panel.
pub fn settings(car: &CarTop, kit: &Kit, setup: &Setup, unit: LengthUnit) -> Vec<[String; 2]> {
    let (choice, place) = (&setup.choice, &setup.placement);
    let length = |mm: f64| Length::from_mm(mm).show(unit);
    let mut all: Vec<[String; 2]> = Vec::new();
    let mut add = |what: &str, value: String| all.push([what.to_owned(), value]);
    if let Some(fitting) = car.fittings.get(choice.fitting) {
        add("fitting", format!("{}, {} {}", fitting.name, fitting.size, fitting.kind.word()));
    }
    if let Some(cup) = kit.cups.get(choice.cup) {
        add("cup", cup.name.clone());
    }
    let piece = |r: &assembly::placement::Removed| {
        let fitting = car.fittings.get(r.fitting)?;
        let piece = &fitting.removables.get(r.removable)?.name;
        Some(if r.fitting == choice.fitting {
            piece.clone()
        } else {
            format!("{} {piece}", fitting.name)
        })
    };
    let off: Vec<String> = choice.removed.iter().filter_map(piece).collect();
    add("taken off", if off.is_empty() { "nothing".to_owned() } else { off.join(", ") });
    let [toward, left] = [place.cup_offset.x, place.cup_offset.y];
    let hinge = if toward < 0.0 { "away from the hinge" } else { "toward the hinge" };
    let side = if left < 0.0 { "right" } else { "left" };
    let is_none = |mm: f64| mm.abs() < NONE;
    let off = format!("{} {hinge}, {} {side} of it", length(toward.abs()), length(left.abs()));
    let centred = is_none(toward) && is_none(left);
    add("cup's axis", if centred { "on the fitting's centreline".to_owned() } else { off });
    add("outlet", bearing(place.outlet_bearing));
    add("elbow", Angle::from_radians(-place.elbow_turn.radians()).show_clock());
    for end in End::BOTH {
        let i = end.index();
        let Some(port) = car.ports.get(choice.ports[i]) else { continue };
        let shift = place.foot_shift[i];
        let way = if shift < 0.0 { "clockwise" } else { "counter-clockwise" };
        let shifted = format!("{} {way} of the port's middle", length(shift.abs()));
        let foot = if is_none(shift) { "in the port's middle".to_owned() } else { shifted };
        add(&format!("foot at {}", port.name), foot);
        let thick = |side: Side| kit.link.thicknesses.get(place.link_thickness[i][side.index()]);
        if let (Some(inside), Some(outside), Some(hole)) =
            (thick(Side::Inside), thick(Side::Outside), kit.link.holes.get(place.link_hole[i]))
        {
            let [inside, outside] = [inside, outside].map(|t| length(t.nominal));
            let hole = format!("hole {} ({})", place.link_hole[i] + 1, length(hole.nominal));
            add(
                &format!("links at {}", port.name),
                format!("{inside} inside, {outside} outside, {hole}"),
            );
        }
    }
    let slide = place.bar_slide;
    let toward = car.ports.get(choice.ports[usize::from(slide < 0.0)]);
    let toward = toward.map_or(String::new(), |port| format!(" toward {}", port.name));
    let slid = format!("{}{toward}", length(slide.abs()));
    add("bar", if is_none(slide) { "its middle midway".to_owned() } else { slid });
    add("screw below the bar", length(place.screw_extension));
    if let assembly::car_top::LidState::Hinged(_) = car.lid {
        add("lid open", place.lid_opening.show());
    }
    all
}

/// What was scored: `5 of 7 points, 3 of 4 steps done`.
pub fn score(score: &Score) -> String {
    let Score { points, of, done, steps } = score;
    format!("{points} of {of} points, {done} of {steps} steps done")
}

/// How what was tried or answered is taken, as a sentence.
pub const fn reply(reply: Reply) -> &'static str {
    match reply {
        Reply::Right => "Right.",
        Reply::NotSo => "Not so.",
        Reply::Shown => "The solution was shown.",
    }
}

/// What a lesson says when it is not what the checks find.
pub(crate) fn untrue(found: &str) -> String {
    format!("The lesson does not hold here, and nothing is scored: {found}.")
}
