//! Writes placed rigs and the car top around them as OBJ files, all or nothing.

use front::folder::Draft;
use front::{Plain, Stopped};
use review::record::{Margin, Record, Verdict};
use review::{PosedFitting, PosedPart};
use serde::Serialize;
use std::collections::HashSet;
use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::Path;

/// `index.json`: what the files hold and what was reported between them.
#[derive(Serialize)]
struct Index<'a> {
    /// Grows by one whenever a field changes its meaning or goes away.
    format: u32,
    case: &'a str,
    kit: &'a str,
    unit: &'static str,
    fittings: Vec<Entry<'a>>,
}

#[derive(Serialize)]
struct Entry<'a> {
    name: &'a str,
    folder: String,
    verdict: Option<Verdict>,
    cup: Option<&'a str>,
    parts: Vec<Part<'a>>,
    figures: Vec<Figure<'a>>,
}

#[derive(Serialize)]
struct Part<'a> {
    /// Name as in the figures.
    name: &'a str,
    file: String,
    /// Bound on how far the mesh may be from the truth.
    deviation_mm: f64,
}

#[derive(Serialize)]
struct Figure<'a> {
    #[serde(flatten)]
    margin: &'a Margin,
    /// For gaps: the distance between the two meshes as written, before deviations widen it.
    mesh_distance_mm: Option<f64>,
}

/// Writes everything into a folder beside the one asked for and renames it at the end.
pub(crate) fn write(folder: &Path, record: &Record, posed: &[PosedFitting]) -> Result<(), Stopped> {
    let unwritten = |error: io::Error| Plain::unwritten(&folder.display().to_string(), &error);
    let draft = Draft::beside(folder).map_err(unwritten)?;
    fill(draft.path(), record, posed).and_then(|()| draft.publish(folder)).map_err(unwritten)?;
    Ok(())
}

fn fill(root: &Path, record: &Record, posed: &[PosedFitting]) -> io::Result<()> {
    let mut entries = Vec::new();
    let mut folders = Names::default();
    for fitting in posed {
        let folder = folders.take("", &fitting.name, "");
        let path = root.join(&folder);
        fs::create_dir(&path)?;
        let mut files = Names::default();
        let mut parts = Vec::new();
        let rig = fitting.rig.iter().map(|p| ("rig-", p));
        for (prefix, part) in rig.chain(fitting.car.iter().map(|p| ("car-", p))) {
            let file = files.take(prefix, &part.name, ".obj");
            fs::write(path.join(&file), obj(part))?;
            parts.push(Part { name: &part.name, file, deviation_mm: part.deviation });
        }
        let found = record.fittings.iter().find(|f| f.name == fitting.name);
        let figures = fitting
            .margins
            .iter()
            .map(|m| Figure { margin: &m.margin, mesh_distance_mm: m.mesh_distance });
        entries.push(Entry {
            name: &fitting.name,
            folder,
            verdict: found.map(|f| f.verdict),
            cup: found.and_then(|f| f.cup.as_deref()),
            parts,
            figures: figures.collect(),
        });
    }
    let index = Index {
        format: 1,
        case: &record.case.title,
        kit: &record.kit.title,
        unit: "mm",
        fittings: entries,
    };
    let text = serde_json::to_string_pretty(&index)?;
    fs::write(root.join("index.json"), text + "\n")
}

/// A part as Wavefront OBJ; every coordinate reads back to the same number.
fn obj(part: &PosedPart) -> String {
    let mut text = format!("# {}, plate frame, mm\n", part.name.replace(['\n', '\r'], " "));
    // Writing into a string does not fail.
    for p in &part.mesh.vertices {
        let _ = writeln!(text, "v {} {} {}", p.x, p.y, p.z);
    }
    for t in &part.mesh.triangles {
        let [a, b, c] = t.map(|v| u64::from(v) + 1);
        let _ = writeln!(text, "f {a} {b} {c}");
    }
    text
}

/// File names from names for people, each once.
#[derive(Default)]
struct Names(HashSet<String>);

impl Names {
    fn take(&mut self, prefix: &str, name: &str, suffix: &str) -> String {
        let plain: String =
            name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
        let plain = plain.to_ascii_lowercase();
        let mut file = format!("{prefix}{plain}{suffix}");
        let mut count = 1;
        while !self.0.insert(file.clone()) {
            count += 1;
            file = format!("{prefix}{plain}-{count}{suffix}");
        }
        file
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_are_plain_and_each_once() {
        let mut names = Names::default();
        assert_eq!(
            names.take("rig-", "upper pin's path at P0", ".obj"),
            "rig-upper-pin-s-path-at-p0.obj"
        );
        assert_eq!(names.take("car-", "../a", ".obj"), "car----a.obj");
        assert_eq!(names.take("car-", "../A", ".obj"), "car----a-2.obj");
    }
}
