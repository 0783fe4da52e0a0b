//! What must hold of any bytes that are read as STEP.

use step::{Accuracy, BodyKind, read};

/// Reads bytes coarsely and looks at what comes of it.
pub(crate) fn look(bytes: &[u8]) -> Result<(), String> {
    let model = match read(bytes, Accuracy::Share(1e-2)) {
        Ok(model) => model,
        Err(error) => {
            let told = error.to_string();
            let good = told.len() < 600 && !told.chars().any(char::is_control);
            return if good { Ok(()) } else { Err(format!("told as {told:?}")) };
        }
    };
    for (index, body) in model.bodies.iter().enumerate() {
        let wrong = |what: &str| Err(format!("body {index}: {what}"));
        let count = body.mesh.vertices.len();
        if body.mesh.triangles.iter().flatten().any(|v| *v as usize >= count) {
            return wrong("a corner that is not there");
        }
        if body.triangle_faces.len() != body.mesh.triangles.len() {
            return wrong("not a face for every triangle");
        }
        let colours = body.triangle_colours.len();
        if colours != 0 && colours != body.mesh.triangles.len() {
            return wrong("colours for some triangles");
        }
        let senseless = body.deviation.is_some_and(|d| d.is_nan() || d < 0.0);
        if senseless || body.lost.len() > body.faces {
            return wrong("a deviation or a count that makes no sense");
        }
        if body.deviation.is_none() && body.kind != BodyKind::Tessellated {
            return wrong("no deviation, and it was meshed here");
        }
        let sound = body.is_sound();
        if sound && (!body.lost.is_empty() || solids::volume(&body.mesh) <= 0.0) {
            return wrong("sound without reason");
        }
        if sound && body.mesh.vertices.iter().flat_map(|p| p.iter()).any(|c| !c.is_finite()) {
            return wrong("sound with a coordinate that is not finite");
        }
    }
    for (index, occurrence) in model.occurrences.iter().enumerate() {
        if occurrence.parent.is_some_and(|p| p >= index) {
            return Err(format!("occurrence {index} comes before the one that holds it"));
        }
        if occurrence.bodies.iter().any(|b| b.body >= model.bodies.len()) {
            return Err(format!("occurrence {index} has a body that is not there"));
        }
    }
    if model.bodies.is_empty() && model.is_whole() {
        return Err("whole without a body".to_owned());
    }
    Ok(())
}
