//! Reads STEP files and tells of each what a reference can be held against, for
//! `tests/outside/step/run`.
//!
//!     table FILE...
//!
//! Writes one line of JSON a file. Millimetres; bodies in the frames of their parts, leaves and the box
//! in that of the whole.

use serde_json::{Value, json};
use std::io::Write as _;
use std::time::Instant;
use step::{Accuracy, Model, read};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for path in std::env::args().skip(1) {
        let bytes = std::fs::read(&path)?;
        let began = Instant::now();
        let found = read(&bytes, Accuracy::default());
        let seconds = began.elapsed().as_secs_f64();
        let told = match found {
            Ok(model) => told(&model),
            Err(error) => json!({ "error": error.to_string() }),
        };
        let line = json!({ "file": path, "seconds": seconds, "read": told });
        writeln!(std::io::stdout(), "{line}")?;
    }
    Ok(())
}

fn told(model: &Model) -> Value {
    let bodies: Vec<Value> = model
        .bodies
        .iter()
        .map(|b| {
            let lost: Vec<Value> = b
                .lost
                .iter()
                .map(|l| json!({ "id": l.id, "kind": l.kind, "why": l.fault.to_string() }))
                .collect();
            json!({
                "id": b.id,
                "kind": format!("{:?}", b.kind),
                "sound": b.is_sound(),
                "volume": solids::volume(&b.mesh),
                "area": solids::area(&b.mesh),
                "deviation": b.deviation,
                "triangles": b.mesh.triangles.len(),
                "faces": b.faces,
                "open_edges": b.soundness.open_edges,
                "turned_shells": b.turned_shells,
                "lost": lost,
            })
        })
        .collect();
    let mut holds_parts = vec![false; model.occurrences.len()];
    for occurrence in &model.occurrences {
        if let Some(parent) = occurrence.parent {
            holds_parts[parent] = true;
        }
    }
    let mut leaves = Vec::new();
    for (i, occurrence) in model.occurrences.iter().enumerate() {
        if holds_parts[i] && occurrence.bodies.is_empty() {
            continue;
        }
        let offset = model.whole_from(i).offset;
        let volume: f64 =
            occurrence.bodies.iter().map(|b| solids::volume(&model.bodies[b.body].mesh)).sum();
        leaves.push(json!({
            "instance": occurrence.instance,
            "product": occurrence.product,
            "at": [offset.x, offset.y, offset.z],
            "bodies": occurrence.bodies.len(),
            "volume": volume,
        }));
    }
    let mut placed = Vec::new();
    let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for (_, body, placement) in model.placed() {
        let body = &model.bodies[body];
        let (mesh, _) = body.placed(&placement);
        placed.push(json!({ "body": body.id, "sound": body.is_sound() }));
        for vertex in &mesh.vertices {
            for axis in 0..3 {
                low[axis] = low[axis].min(vertex[axis]);
                high[axis] = high[axis].max(vertex[axis]);
            }
        }
    }
    let mut colours: Vec<String> = model
        .bodies
        .iter()
        .flat_map(|b| b.colour.iter().chain(b.triangle_colours.iter().flatten()))
        .map(|c| format!("{c:?}"))
        .collect();
    colours.sort();
    colours.dedup();
    let findings: Vec<String> = model.findings.iter().map(ToString::to_string).collect();
    json!({
        "schemas": model.schemas,
        "unit": model.unit.name,
        "millimetres": model.unit.millimetres,
        "bodies": bodies,
        "leaves": leaves,
        "placed": placed,
        "low": low.map(|x| if x.is_finite() { json!(x) } else { Value::Null }),
        "high": high.map(|x| if x.is_finite() { json!(x) } else { Value::Null }),
        "colours": colours.len(),
        "findings": findings,
    })
}
