//! Units of a representation context, ISO 10303-41.

use crate::Fault;
use crate::graph::{Args, kinds, list, reference};
use crate::part21::Exchange;

/// The units in which a representation is written.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Units {
    /// Millimetres in the unit of length.
    pub(crate) length: f64,
    /// The name of the unit of length, as people write it.
    pub(crate) name: String,
    /// Radians in the unit of plane angle.
    pub(crate) angle: f64,
    /// Millimetres within which the file calls two points one, where it says so.
    pub(crate) uncertainty: Option<f64>,
    /// Whether the context names a unit of length.
    pub(crate) said: bool,
}

impl Default for Units {
    fn default() -> Self {
        Self { length: 1.0, name: "mm".into(), angle: 1.0, uncertainty: None, said: false }
    }
}

/// Units made of units, at most so deep.
const DEPTH: usize = 8;

/// The units of a context. What it does not say is millimetres and radians.
pub(crate) fn units(graph: &Exchange<'_>, context: u64) -> Result<Units, Fault> {
    let mut found = Units::default();
    if let Some(args) = graph.find(context, "GLOBAL_UNIT_ASSIGNED_CONTEXT") {
        for id in args.references(0)? {
            if graph.find(id, "LENGTH_UNIT").is_some() {
                (found.length, found.name) = unit(graph, id, "METRE", DEPTH)?;
                found.length *= 1000.0;
                found.said = true;
            } else if graph.find(id, "PLANE_ANGLE_UNIT").is_some() {
                (found.angle, _) = unit(graph, id, "RADIAN", DEPTH)?;
            }
        }
    }
    if let Some(args) = graph.find(context, "GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT") {
        // Bodies can be read without it, so that one that cannot be read is as none.
        for id in args.list(0).unwrap_or_default().iter().filter_map(reference) {
            if graph.find(id, "UNCERTAINTY_MEASURE_WITH_UNIT").is_none() {
                continue;
            }
            let Some(measure) = measure(graph, id) else { continue };
            let unit_of = measure.optional(1).filter(|u| graph.find(*u, "LENGTH_UNIT").is_some());
            let metres = unit_of.and_then(|of| unit(graph, of, "METRE", DEPTH).ok());
            if let (Ok(x), Some((metres, _))) = (measure.number(0), metres) {
                let mm = x * metres * 1000.0;
                if mm > 0.0 && found.uncertainty.is_none_or(|u| mm < u) {
                    found.uncertainty = Some(mm);
                }
            }
        }
    }
    Ok(found)
}

/// The record of a measure that holds its value and its unit: in a complex instance those stand under
/// the supertype's name.
fn measure<'g>(graph: &'g Exchange<'_>, id: u64) -> Option<Args<'g>> {
    let all = graph.get(id)?.records.iter().filter(|r| r.kind.ends_with("MEASURE_WITH_UNIT"));
    all.filter_map(|r| graph.find(id, &r.kind))
        .find(|args| args.number(0).is_ok() && args.optional(1).is_some())
}

/// How much of the base unit there is in a unit, and its name.
fn unit(
    graph: &Exchange<'_>,
    id: u64,
    base: &'static str,
    depth: usize,
) -> Result<(f64, String), Fault> {
    let depth = depth.checked_sub(1).ok_or(Fault::Cyclic { id })?;
    if let Some(args) = graph.find(id, "SI_UNIT") {
        // Alone it repeats the dimensions that NAMED_UNIT else has.
        let args = if args.word(1).is_none() { args.skip(1) } else { args };
        let name = args.word(1);
        if name != Some(base) {
            return Err(args.wrong(1, if base == "METRE" { ".METRE." } else { ".RADIAN." }));
        }
        let (factor, prefix) = match args.word(0) {
            None => (1.0, ""),
            Some(word) => PREFIXES
                .iter()
                .find(|(known, ..)| *known == word)
                .map(|(_, factor, letter)| (*factor, *letter))
                .ok_or_else(|| args.wrong(0, "a prefix of the SI"))?,
        };
        let short = if base == "METRE" { "m" } else { "rad" };
        return Ok((factor, format!("{prefix}{short}")));
    }
    let args = graph.find(id, "CONVERSION_BASED_UNIT").ok_or_else(|| {
        let kind = graph.get(id).map_or_else(String::new, kinds);
        Fault::Unread { id, kind }
    })?;
    let measure = measure(graph, args.reference(1)?)
        .ok_or_else(|| args.wrong(1, "a measure with its unit"))?;
    let factor = measure.number(0)?;
    let (inner, _) = unit(graph, measure.reference(1)?, base, depth)?;
    if factor <= 0.0 {
        return Err(measure.wrong(0, "a number above zero"));
    }
    Ok((factor * inner, args.text(0).to_lowercase()))
}

const PREFIXES: [(&str, f64, &str); 16] = [
    ("EXA", 1e18, "E"),
    ("PETA", 1e15, "P"),
    ("TERA", 1e12, "T"),
    ("GIGA", 1e9, "G"),
    ("MEGA", 1e6, "M"),
    ("KILO", 1e3, "k"),
    ("HECTO", 1e2, "h"),
    ("DECA", 1e1, "da"),
    ("DECI", 1e-1, "d"),
    ("CENTI", 1e-2, "c"),
    ("MILLI", 1e-3, "m"),
    ("MICRO", 1e-6, "\u{b5}"),
    ("NANO", 1e-9, "n"),
    ("PICO", 1e-12, "p"),
    ("FEMTO", 1e-15, "f"),
    ("ATTO", 1e-18, "a"),
];

/// The items of a representation and its context, ISO 10303-43.
pub(crate) fn representation(graph: &Exchange<'_>, id: u64) -> Option<(Vec<u64>, Option<u64>)> {
    let instance = graph.get(id)?;
    // A complex instance writes the supertype's parameters under the supertype's name.
    let record = instance.records.iter().find(|r| r.kind == "REPRESENTATION").or_else(|| {
        instance
            .records
            .iter()
            .find(|r| r.parameters.len() >= 3 && r.parameters.get(1).and_then(list).is_some())
    })?;
    let items = record.parameters.get(1).and_then(list)?;
    let context = record.parameters.get(2).and_then(reference);
    Some((items.iter().filter_map(reference).collect(), context))
}
