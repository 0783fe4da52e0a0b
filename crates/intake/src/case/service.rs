//! What a case document says for the sealing: lading, tank, sidewall, bolts. All of it may be left
//! out.

use crate::fault::Pen;
use crate::near::{either, meant};
use crate::range::{STRENGTH, STRONGEST, Wanted, strength};
use crate::table::{Bound, Table, Text, choice_of};
use assembly::hold::{Bolts, Fluid, Jacket, Lading, LadingPressure, Service, Strength, Tank};
use measure::{Bounds, Length, Pressure, Temperature};

const PRESSURE: Wanted =
    Wanted { noun: "a pressure", example: "\"250 psi\"", bound: Bound::NotNegative };

/// Below and above these there is no open air: 54 kPa is the standard atmosphere's at 5000 m (ISO 2533),
/// 108.5 kPa the most that was measured (both from memory).
const LEAST_AIR: Pressure = Pressure::from_mpa(0.05);
const MOST_AIR: Pressure = Pressure::from_mpa(0.11);

/// Reads `[lading]`, `[tank]`, `[sidewall]` and `[bolts]`.
pub(super) fn service(root: &mut Table<'_>, pen: &mut Pen) -> Service {
    let lading = lading(root, pen);
    let tank = tank(root, pen);
    let sidewall = sidewall(root, pen);
    let mut service = Service { lading, tank, sidewall, housing_bolts: None, cover_bolts: None };
    if let Some(mut table) = root.maybe_table(pen, "bolts", "[bolts]") {
        service.housing_bolts = bolts(table.maybe_table(pen, "housing", "[bolts.housing]"), pen);
        service.cover_bolts = bolts(table.maybe_table(pen, "cover", "[bolts.cover]"), pen);
        table.finish(pen);
    }
    service
}

fn lading(root: &mut Table<'_>, pen: &mut Pen) -> Option<Lading> {
    let mut table = root.maybe_table(pen, "lading", "[lading]")?;
    let name = table.text(pen, "name", "\"anhydrous ammonia\"");
    let gauge: Option<Bounds<Pressure>> = table.maybe_range(pen, "gauge-pressure", PRESSURE);
    let basis = if gauge.is_some() {
        table.text(pen, "basis", "\"gauge on the tank, read on 2026-10-02\"").text
    } else {
        String::new()
    };
    let degrees =
        Wanted { noun: "a temperature", example: "\"105 deg F\"", bound: Bound::Positive };
    let temperature: Option<Bounds<Temperature>> = table.maybe_range(pen, "temperature", degrees);
    let around = Wanted { example: "\"101.325 kPa\"", bound: Bound::Positive, ..PRESSURE };
    let air = table.maybe_range(pen, "air-pressure", around);
    if let Some(air) = air
        && (air.low() < LEAST_AIR || air.high() > MOST_AIR)
    {
        pen.at(
            &table.place("air-pressure"),
            "\"air-pressure\" is no pressure of open air",
            "not from 50 to 110 kPa",
            "give the absolute pressure of the air around, and check its unit: at sea level it is about \
             \"101.325 kPa\"",
        );
    }
    if gauge.is_some() && temperature.is_some() {
        pen.at(
            &table.place("temperature"),
            "[lading] gives both a pressure and a temperature",
            "the pressure is given already",
            "keep \"gauge-pressure\" with its \"basis\", or \"temperature\" with \"air-pressure\"",
        );
    }
    if air.is_some() && temperature.is_none() {
        pen.at(
            &table.place("air-pressure"),
            "[lading] gives the pressure of the air without a temperature",
            "what the vapour presses is not known",
            "give \"temperature\" beside it, or take it out",
        );
    }
    let pressure = match (gauge, temperature) {
        (Some(gauge), _) => Some(LadingPressure::Stated { gauge, basis }),
        (None, Some(temperature)) => {
            fluid(pen, &name).map(|fluid| LadingPressure::Vapour { fluid, temperature, air })
        }
        (None, None) => None,
    };
    table.finish(pen);
    Some(Lading { name: name.text, pressure })
}

/// The lading of this name, whose vapour pressure is asked for.
fn fluid(pen: &mut Pen, name: &Text) -> Option<Fluid> {
    let words = || Fluid::ALL.iter().map(|f| f.word());
    let found = Fluid::ALL.into_iter().find(|f| f.word() == name.text);
    if found.is_none() && !name.text.is_empty() {
        let known = || format!("known are {}; for others give \"gauge-pressure\"", either(words()));
        pen.at(
            &name.span,
            format!("the vapour pressure of \"{}\" is not known", name.text),
            "not a known lading",
            meant(&name.text, words(), known),
        );
    }
    found
}

fn tank(root: &mut Table<'_>, pen: &mut Pen) -> Option<Tank> {
    let mut table = root.maybe_table(pen, "tank", "[tank]")?;
    let class = table.maybe_text(pen, "class", "\"105J300W\"").map(|t| t.text);
    let wanted = Wanted { bound: Bound::Positive, ..PRESSURE };
    let start: Option<Bounds<Pressure>> = table.maybe_range(pen, "start-to-discharge", wanted);
    if start.is_some_and(|p| p.low() < p.high()) {
        pen.at(
            &table.place("start-to-discharge"),
            "\"start-to-discharge\" is a range",
            "one pressure is stamped on the device",
            "write the pressure that is stamped on it",
        );
    }
    let words = Jacket::ALL.map(Jacket::word);
    let jacket = table.maybe_text(pen, "jacket", "\"insulation\"");
    let jacket = jacket.and_then(|text| choice_of(pen, &text, "jacket", &words));
    let jacket = jacket.and_then(|at| Jacket::ALL.get(at)).copied();
    table.finish(pen);
    Some(Tank { class, start_to_discharge: start.map(Bounds::high), jacket })
}

fn sidewall(root: &mut Table<'_>, pen: &mut Pen) -> Option<Strength> {
    let mut table = root.maybe_table(pen, "sidewall", "[sidewall]")?;
    let strength = strength(&mut table, pen);
    table.finish(pen);
    Some(strength)
}

fn bolts(table: Option<Table<'_>>, pen: &mut Pen) -> Option<Bolts> {
    let mut table = table?;
    let missing = |table: &Table<'_>, pen: &mut Pen, key: &str, example: &str| {
        pen.at(
            table.span(),
            format!("{} has no \"{key}\"", table.title),
            format!("\"{key}\" is missing here"),
            format!("add a line such as: {key} = {example}"),
        );
    };
    let count = table.maybe_count(pen, "count", u16::MAX);
    if !table.has("count") {
        missing(&table, pen, "count", "20");
    }
    let circle = table.has("circle").then(|| table.length(pen, "circle", Bound::Positive).value);
    let diameter = table.length(pen, "diameter", Bound::Positive).value;
    let pitch = table.length(pen, "pitch", Bound::Positive);
    if pitch.value >= diameter {
        pen.at(
            &pitch.span,
            format!("{}: the pitch leaves no root", table.title),
            "no less than the diameter",
            "check \"pitch\" and \"diameter\"",
        );
    }
    let shear: Option<Bounds<Pressure>> = table.maybe_range(pen, "shear-strength", STRENGTH);
    table.sensible(pen, "shear-strength", &STRONGEST, shear);
    if shear.is_none() {
        missing(&table, pen, "shear-strength", "\"60 ksi\"");
    }
    let basis = table.text(pen, "basis", "\"mill certificate\"").text;
    table.finish(pen);
    Some(Bolts {
        count: count?,
        circle: circle.map(Length::from_mm),
        diameter: Length::from_mm(diameter),
        pitch: Length::from_mm(pitch.value),
        shear_strength: shear?,
        basis,
    })
}
