//! STEP, whose surfaces the room `step` meshes with a proven chord error. Triangles that a file holds as such
//! come without a deviation, as those of mesh files do, unless the file states one.
//!
//! A body is named as its product; where a product has several, its own name or its number stands behind.
//! What a use of a product is called beside that is kept: it tells several uses apart.
//! What the file holds and could not be read is [`Read::missing`]: left out without a word, it would be taken
//! for free space.

use super::fault::{AGAIN, DAMAGED, MeshFault, name};
use super::{MeshUnit, ModelBody, Read, check_bodies};
use std::collections::HashMap;
use step::{Accuracy, ReadError};

/// Reads the bodies of a STEP file, in millimetres, and its unit where it says one.
pub(super) fn read(
    bytes: &[u8],
    given: Option<MeshUnit>,
) -> Result<(Read, Option<MeshUnit>), MeshFault> {
    let model = step::read(bytes, Accuracy::default()).map_err(|error| match error {
        ReadError::Syntax(error) => MeshFault::whole(name(error.to_string().as_bytes()), DAMAGED),
        ReadError::Accuracy => MeshFault::whole(error, AGAIN),
    })?;
    let mut out = Read::default();
    let unit = stated(&model.unit, &mut out.notes);
    // Without a unit millimetres were assumed, so that the coordinates are the file's own numbers.
    let scale = if unit.is_none() { given.map_or(1.0, MeshUnit::mm) } else { 1.0 };
    for finding in &model.findings {
        let what = name(finding.to_string().as_bytes());
        match finding {
            step::Finding::NoBody => {
                return Err(MeshFault::whole(what, "export the part as a solid"));
            }
            // Told with the unit.
            step::Finding::NoUnit => {}
            _ => out.missing.push(what),
        }
    }
    for (at, index, whole_from_body) in model.placed() {
        let (Some(part), Some(body)) = (model.occurrences.get(at), model.bodies.get(index)) else {
            continue;
        };
        check_bodies(out.bodies.len())?;
        let (mut mesh, mut deviation) = body.placed(&whole_from_body);
        if scale.to_bits() != 1.0_f64.to_bits() {
            mesh.vertices.iter_mut().for_each(|p| *p *= scale);
            if let Some(deviation) = &mut deviation {
                deviation.bound *= scale;
            }
        }
        if mesh.triangles.is_empty() {
            let why =
                body.lost.first().map_or_else(String::new, |lost| format!(": {}", face(lost)));
            out.missing.push(format!("the body #{} of \"{}\"{why}", body.id, shown(&part.product)));
            continue;
        }
        let number = part.bodies.iter().position(|b| b.body == index).map_or(0, |n| n + 1);
        let named = match (part.bodies.len(), shown(&body.name)) {
            (0 | 1, _) => shown(&part.product),
            (_, own) if own.is_empty() => format!("{} {number}", shown(&part.product)),
            (_, own) => format!("{} {own}", shown(&part.product)),
        };
        let named = if named.is_empty() { super::numbered(out.bodies.len() + 1) } else { named };
        let mut made = ModelBody::new(named, mesh);
        made.called = Some(shown(&part.instance)).filter(|called| {
            !called.is_empty() && *called != made.name && *called != shown(&part.product)
        });
        made.within = within(&model, at);
        made.colour =
            body.colour.map(|c| [c.red, c.green, c.blue].map(byte)).map(|[r, g, b]| [r, g, b, 255]);
        made.missing = body.lost.iter().map(face).collect();
        if deviation.as_ref().is_some_and(|d| !d.bound.is_finite()) {
            made.missing.push("a bound on how far its mesh is from its surfaces".to_owned());
        }
        made.deviation = deviation.filter(|d| d.bound.is_finite());
        out.bodies.push(made);
    }
    if out.bodies.is_empty() {
        let first = out.missing.first().map_or_else(String::new, |first| format!(": {first}"));
        let what = format!("no body of the file could be meshed{first}");
        return Err(MeshFault::whole(what, "export the part as a solid"));
    }
    // What several uses share tells them apart no better.
    let mut uses: HashMap<(String, Option<String>), usize> = HashMap::new();
    for body in &out.bodies {
        *uses.entry((body.path(), body.called.clone())).or_default() += 1;
    }
    for body in &mut out.bodies {
        if uses.get(&(body.path(), body.called.clone())).is_some_and(|n| *n > 1) {
            body.called = None;
        }
    }
    Ok((out, unit))
}

/// A face that could not be meshed, named for people.
fn face(lost: &step::LostFace) -> String {
    name(format!("face #{}, {}: {}", lost.id, lost.kind, lost.fault).as_bytes())
}

fn shown(text: &str) -> String {
    name(text.as_bytes())
}

/// The products that hold an occurrence, outermost first; beyond a depth that no assembly has, the outer
/// ones are left out.
fn within(model: &step::Model, of: usize) -> Vec<String> {
    let up = |at: usize| model.occurrences.get(at).and_then(|o| o.parent);
    let mut names: Vec<String> = std::iter::successors(up(of), |at| up(*at))
        .take(64)
        .filter_map(|at| model.occurrences.get(at))
        .map(|o| shown(&o.product))
        .filter(|n| !n.is_empty())
        .collect();
    names.reverse();
    names
}

/// The unit that the file says, if it does; one that is none of ours is turned into millimetres.
fn stated(unit: &step::Unit, notes: &mut Vec<String>) -> Option<MeshUnit> {
    if !unit.said {
        return None;
    }
    let known = MeshUnit::STATED.into_iter().chain([MeshUnit::Micrometre]);
    let near = |known: &MeshUnit| (known.mm() - unit.millimetres).abs() <= 1e-6 * known.mm();
    Some({ known }.find(near).unwrap_or_else(|| {
        notes.push(format!("lengths in {} were turned into millimetres", shown(&unit.name)));
        MeshUnit::Millimetre
    }))
}

/// A share of full as a byte.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 255")]
fn byte(share: f64) -> u8 {
    (share.clamp(0.0, 1.0) * 255.0).round() as u8
}
