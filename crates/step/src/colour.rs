//! Colours of items, ISO 10303-46.

use crate::graph::{Args, reference};
use crate::part21::{Exchange, Value};
use std::collections::HashMap;

/// A colour, each part from 0 to 1 as the file has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Colour {
    /// Red.
    pub red: f64,
    /// Green.
    pub green: f64,
    /// Blue.
    pub blue: f64,
}

/// The pre-defined colours of ISO 10303-46.
const NAMED: [(&str, [f64; 3]); 8] = [
    ("red", [1.0, 0.0, 0.0]),
    ("green", [0.0, 1.0, 0.0]),
    ("blue", [0.0, 0.0, 1.0]),
    ("yellow", [1.0, 1.0, 0.0]),
    ("magenta", [1.0, 0.0, 1.0]),
    ("cyan", [0.0, 1.0, 1.0]),
    ("black", [0.0, 0.0, 0.0]),
    ("white", [1.0, 1.0, 1.0]),
];

/// From a style to its colour there are at most so many steps.
const DEPTH: usize = 64;

/// The colour of every item that is given one for its surface. Where an item is styled twice the later
/// one holds, and one that overrides another always.
pub(crate) fn colours(graph: &Exchange<'_>) -> HashMap<u64, Colour> {
    let mut found = HashMap::new();
    let mut known = HashMap::new();
    for kind in ["STYLED_ITEM", "OVER_RIDING_STYLED_ITEM"] {
        for instance in &graph.instances {
            // The supertype's record of a complex instance holds the parameters.
            let Some(args) = graph.find(instance.id, kind) else { continue };
            let overrides = instance.records.iter().any(|r| r.kind == "OVER_RIDING_STYLED_ITEM");
            if kind == "STYLED_ITEM" && overrides {
                continue;
            }
            let args = if overrides {
                graph.find(instance.id, "STYLED_ITEM").unwrap_or(args)
            } else {
                args
            };
            let (Ok(styles), Some(item)) = (args.references(1), args.optional(2)) else { continue };
            if let Some(colour) = styles.iter().find_map(|s| of_style(graph, *s, &mut known, DEPTH))
            {
                found.insert(item, colour);
            }
        }
    }
    found
}

/// The colour that a style gives to surfaces.
fn of_style(
    graph: &Exchange<'_>,
    id: u64,
    known: &mut HashMap<u64, Option<Colour>>,
    depth: usize,
) -> Option<Colour> {
    if let Some(found) = known.get(&id) {
        return *found;
    }
    // A style that leads back to itself finds nothing on that way.
    known.insert(id, None);
    let found = search(graph, id, known, depth.checked_sub(1)?);
    known.insert(id, found);
    found
}

/// The colour in a style's own records, or in what it refers to.
fn search(
    graph: &Exchange<'_>,
    id: u64,
    known: &mut HashMap<u64, Option<Colour>>,
    depth: usize,
) -> Option<Colour> {
    let instance = graph.get(id)?;
    for record in &instance.records {
        match &*record.kind {
            "COLOUR_RGB" => return rgb(graph.find(id, "COLOUR_RGB")?),
            "DRAUGHTING_PRE_DEFINED_COLOUR" | "PRE_DEFINED_COLOUR" => {
                let name = graph.find(id, &record.kind)?.text(0).to_lowercase();
                let [red, green, blue] = NAMED.iter().find(|(known, _)| *known == name)?.1;
                return Some(Colour { red, green, blue });
            }
            // Of lines, points and texts.
            "CURVE_STYLE"
            | "POINT_STYLE"
            | "TEXT_STYLE"
            | "SYMBOL_STYLE"
            | "FILL_AREA_STYLE_HATCHING"
            | "SURFACE_STYLE_BOUNDARY"
            | "SURFACE_STYLE_PARAMETER_LINE"
            | "SURFACE_STYLE_SILHOUETTE"
            | "SURFACE_STYLE_SEGMENTATION_CURVE"
            | "SURFACE_STYLE_CONTROL_GRID" => return None,
            _ => {}
        }
    }
    let values = instance.records.iter().flat_map(|r| &r.parameters);
    values.flat_map(references_in).find_map(|r| of_style(graph, r, known, depth))
}

fn references_in(value: &Value<'_>) -> Vec<u64> {
    match value {
        Value::List(inner) => inner.iter().filter_map(reference).collect(),
        other => reference(other).into_iter().collect(),
    }
}

fn rgb(args: Args<'_>) -> Option<Colour> {
    let part = |i| args.number(i).ok().map(|x| x.clamp(0.0, 1.0));
    Some(Colour { red: part(1)?, green: part(2)?, blue: part(3)? })
}
