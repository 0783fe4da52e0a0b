//! What must hold of any bytes that are read as a mesh file.

use intake::meshes::{self, Format, Judged, Model};
use std::io::Write as _;
use std::path::Path;

/// The readers, by the ending that the bytes are given.
#[allow(dead_code, reason = "the fuzzer's entries know theirs")]
pub(crate) const READERS: [&str; 6] = ["stl", "obj", "ply", "gltf", "glb", "3mf"];

/// Reads bytes as a file of this ending and looks at what comes of it.
pub(crate) fn look(ending: &str, bytes: &[u8]) -> Result<(), String> {
    // In a folder that is not there, so that nothing beside it is found.
    let path = format!("/nowhere/at/all/file.{ending}");
    match meshes::read_bytes(bytes, Path::new(&path), None) {
        Ok(model) => holds(&model, bytes.len()),
        Err(fault) if fault.what.is_empty() || fault.remedy.is_empty() => {
            Err(format!("a fault without words: {fault:?}"))
        }
        Err(fault) if fault.to_string().len() > 600 => Err(format!("a long story: {fault}")),
        Err(fault) if fault.to_string().chars().any(char::is_control) => {
            Err(format!("control characters: {fault:?}"))
        }
        Err(_) => Ok(()),
    }
}

/// What must hold of a model that was read from so many bytes.
pub(crate) fn holds(model: &Model, bytes: usize) -> Result<(), String> {
    if model.bodies.is_empty() == model.points.is_none() {
        return Err("neither bodies nor points, or both".to_owned());
    }
    for body in &model.bodies {
        let (mesh, name) = (&body.mesh, &body.name);
        if mesh.triangles.is_empty() {
            return Err(format!("{name:?} has no triangle"));
        }
        let count = mesh.vertices.len();
        let mut used = vec![false; count];
        for corner in mesh.triangles.iter().flatten() {
            *used
                .get_mut(*corner as usize)
                .ok_or(format!("{name:?}: corner {corner} of {count}"))? = true;
        }
        if used.contains(&false) {
            return Err(format!("{name:?} has vertices that no triangle uses"));
        }
        if !mesh.vertices.iter().flat_map(|p| p.iter()).all(|c| c.is_finite()) {
            return Err(format!("{name:?} has a coordinate that is not finite"));
        }
        for name in body.within.iter().chain([name]) {
            if name.is_empty() || name.chars().any(char::is_control) || name.chars().count() > 200 {
                return Err(format!("{name:?} is no name"));
            }
        }
        if !body.vertex_colours.is_empty() && body.vertex_colours.len() != count {
            return Err(format!("{name:?} has colours for some vertices"));
        }
        let judged = Judged::of(body);
        if judged.triangles != mesh.triangles.len() || judged.wrong.iter().any(|w| w.count == 0) {
            return Err(format!("{name:?} is judged wrongly"));
        }
    }
    // Four bytes make a triangle at the least, in a face of many corners; placements multiply.
    let placed = matches!(model.format, Format::Gltf | Format::Glb | Format::ThreeMf);
    let triangles: usize = model.bodies.iter().map(|b| b.mesh.triangles.len()).sum();
    if !placed && triangles > bytes {
        return Err(format!("{triangles} triangles of {bytes} bytes"));
    }
    if let Some(points) = &model.points
        && (points.places.len() > bytes
            || !points.places.iter().flat_map(|p| p.iter()).all(|c| c.is_finite())
            || !(points.colours.is_empty() || points.colours.len() == points.places.len()))
    {
        return Err("points are wrong".to_owned());
    }
    Ok(())
}

/// A file of bytes that a fuzzer can work on: a GLB of a text and a buffer (the first two bytes say how long
/// the text is), a 3MF archive of a model; of others the bytes themselves.
#[allow(dead_code, reason = "not every reader needs it")]
pub(crate) fn wrapped(ending: &str, bytes: &[u8]) -> Vec<u8> {
    match ending {
        "glb" => {
            let Some((length, rest)) = bytes.split_first_chunk::<2>() else {
                return bytes.to_vec();
            };
            let length = usize::from(u16::from_le_bytes(*length)).min(rest.len());
            let (text, buffer) = rest.split_at(length);
            let mut text = text.to_vec();
            text.resize(text.len().next_multiple_of(4), b' ');
            let mut buffer = buffer.to_vec();
            buffer.resize(buffer.len().next_multiple_of(4), 0);
            let word = |n: usize| u32::try_from(n).unwrap_or(0).to_le_bytes();
            let whole = 12 + 8 + text.len() + 8 + buffer.len();
            let head = [&b"glTF\x02\0\0\0"[..], &word(whole), &word(text.len()), b"JSON"].concat();
            [&head, &text[..], &word(buffer.len()), b"BIN\0", &buffer].concat()
        }
        "3mf" => {
            let relations = "<Relationships><Relationship Target=\"/m\" \
                Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>";
            let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
            let options = zip::write::SimpleFileOptions::default()
                .compression_method(zip::CompressionMethod::Stored);
            let written = writer
                .start_file("_rels/.rels", options)
                .and_then(|()| Ok(writer.write_all(relations.as_bytes())?))
                .and_then(|()| writer.start_file("m", options))
                .and_then(|()| Ok(writer.write_all(bytes)?))
                .and_then(|()| writer.finish());
            written.map(std::io::Cursor::into_inner).unwrap_or_default()
        }
        _ => bytes.to_vec(),
    }
}
