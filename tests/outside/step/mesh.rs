//! Reads a STEP file and writes its meshes, for `tests/outside/step/surfaces.py`.
//!
//!     step_mesh FILE CHORD
//!
//! CHORD is the asked accuracy in millimetres. Writes one line of JSON: for each body its deviation,
//! whether it is sound, its vertices and triangles; millimetres.

use serde_json::{Value, json};
use std::io::Write as _;
use step::{Accuracy, read};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [path, chord] = args.as_slice() else { return Err("usage: step_mesh FILE CHORD".into()) };
    let model = read(&std::fs::read(path)?, Accuracy::Length(chord.parse()?))?;
    let bodies: Vec<Value> = model
        .bodies
        .iter()
        .map(|b| {
            let vertices: Vec<[f64; 3]> = b.mesh.vertices.iter().map(|p| [p.x, p.y, p.z]).collect();
            let lost: Vec<String> = b.lost.iter().map(|l| l.fault.to_string()).collect();
            json!({
                "deviation": b.deviation,
                "sound": b.is_sound(),
                "open_edges": b.soundness.open_edges,
                "lost": lost,
                "vertices": vertices,
                "triangles": b.mesh.triangles,
            })
        })
        .collect();
    let findings: Vec<String> = model.findings.iter().map(ToString::to_string).collect();
    writeln!(std::io::stdout(), "{}", json!({ "bodies": bodies, "findings": findings }))?;
    Ok(())
}
