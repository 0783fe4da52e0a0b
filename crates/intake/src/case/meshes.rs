//! The meshes of a case: read, brought into the plate frame, each given to one part.

use super::plate::Outline;
use super::unique;
use crate::document::{self, LONGEST_MESH, SourceFile};
use crate::fault::Pen;
use crate::finding::Finding;
use crate::near::meant;
use crate::soundness;
use crate::stl;
use crate::table::{Bound, Table, Text};
use assembly::car_top::{BodyId, CarBody};
use assembly::kit::PartKind;
use nalgebra::{Isometry3, Point3};
use solids::{Body, Deviation, Mesh};
use std::ops::Range;
use std::path::Path;

/// Spellings of a mesh's unit with millimetres a unit.
pub(super) const UNITS: [(&str, f64); 5] =
    [("mm", 1.0), ("in", 25.4), ("cm", 10.0), ("m", 1000.0), ("ft", 304.8)];

/// Coordinates beyond this make no sense on a car top: 100 m, in millimetres.
const GREATEST_COORDINATE: f64 = 100_000.0;

/// One `[[mesh]]`.
pub(super) struct Entry {
    name: Text,
    file: String,
    /// Millimetres a unit of the file, and where the document says so.
    pub(super) scale: f64,
    pub(super) unit_place: Range<usize>,
    pub(super) deviation: Deviation,
    /// In the plate frame; without triangles when it could not be read.
    pub(super) mesh: Mesh,
    /// Which part it was given to.
    claimed: Option<(PartKind, String)>,
    source: Option<SourceFile>,
}

/// Every `[[mesh]]`, in the order of the document.
pub(super) struct Meshes {
    entries: Vec<Entry>,
    /// Whether they stand in the plate frame; not so when `[frame]` is at fault, and then no
    /// question of place is answered.
    placed: bool,
    /// Whether a part names a mesh that it could not be given.
    unresolved: bool,
}

impl Meshes {
    /// Reads `[[mesh]]` and the files it names.
    pub(super) fn read(
        root: &mut Table<'_>,
        pen: &mut Pen,
        findings: &mut Vec<Finding>,
        folder: &Path,
        plate_from_mesh: Option<&Isometry3<f64>>,
    ) -> Self {
        let mut names = Vec::new();
        let mut entries: Vec<Entry> = Vec::new();
        for mut table in root.tables(pen, "mesh", "mesh") {
            let name = table.text(pen, "name", "\"plate\"");
            unique(pen, &mut names, &name, "mesh");
            if !name.text.is_empty() {
                table.title = format!("mesh \"{}\"", name.text);
            }
            let file = table.text(pen, "file", "\"mesh/plate.stl\"");
            let unit = table.choice(pen, "unit", &UNITS.map(|(word, _)| word));
            let scale = unit.and_then(|at| UNITS.get(at)).map_or(f64::NAN, |(_, scale)| *scale);
            let unit_place = table.place("unit");
            let bound = table.length(pen, "deviation", Bound::NotNegative).value;
            let basis = table.text(pen, "basis", "\"CAD export, chord error\"").text;
            table.finish(pen);
            if let Some(twin) = entries.iter().find(|e| e.file == file.text) {
                findings.push(Finding {
                    about: name.text.clone(),
                    file: Some(file.text.clone()),
                    what: format!("the same file as mesh \"{}\"", twin.name.text),
                    count: None,
                    at: None,
                    remedy: "name each body's own file".to_owned(),
                });
            }
            let scale_or_one = if scale.is_nan() { 1.0 } else { scale };
            let loaded = load(pen, folder, &file, scale_or_one);
            let (mesh, source) = loaded.unwrap_or_default();
            let mesh = plate_from_mesh.map_or_else(|| mesh.clone(), |to| mesh.transformed(to));
            if !mesh.triangles.is_empty() {
                soundness::report(&name.text, &file.text, &mesh, findings);
            }
            entries.push(Entry {
                name,
                file: file.text,
                scale,
                unit_place,
                deviation: Deviation { bound, basis },
                mesh,
                claimed: None,
                source,
            });
        }
        Self { entries, placed: plate_from_mesh.is_some(), unresolved: false }
    }

    /// The entry behind a body.
    pub(super) fn get(&self, id: BodyId) -> Option<&Entry> {
        self.entries.get(id.0)
    }

    /// Gives a mesh to a part; notes a name that is not there or was given before.
    pub(super) fn claim(
        &mut self,
        pen: &mut Pen,
        name: &Text,
        kind: PartKind,
        who: &str,
    ) -> Option<BodyId> {
        if name.text.is_empty() {
            return None;
        }
        let Some(at) = self.entries.iter().position(|e| e.name.text == name.text) else {
            let known = self.entries.iter().map(|e| e.name.text.as_str());
            let remedy = meant(&name.text, known, || {
                "add a [[mesh]] of this name, or write the name of one that is there".to_owned()
            });
            pen.at(
                &name.span,
                format!("there is no mesh \"{}\"", name.text),
                "no [[mesh]] has this name",
                remedy,
            );
            self.unresolved = true;
            return None;
        };
        let entry = self.entries.get_mut(at)?;
        if let Some((_, before)) = &entry.claimed {
            pen.at(
                &name.span,
                format!("mesh \"{}\" is used twice", name.text),
                format!("{before} has it already"),
                "give each part its own mesh",
            );
            self.unresolved = true;
            return None;
        }
        entry.claimed = Some((kind, who.to_owned()));
        Some(BodyId(at))
    }

    /// Gives the meshes listed under `meshes` to the table's part.
    pub(super) fn claim_list(
        &mut self,
        table: &mut Table<'_>,
        pen: &mut Pen,
        kind: PartKind,
        some: bool,
    ) -> Vec<BodyId> {
        let names = table.texts(pen, "meshes", "[\"name\"]");
        let empty = table.get("meshes").and_then(|v| v.get_ref().as_array().map(|a| a.is_empty()));
        if some && empty == Some(true) {
            pen.at(
                &table.place("meshes"),
                format!("{} has no meshes", table.title),
                "nothing listed",
                "name at least one mesh",
            );
        }
        names.iter().filter_map(|name| self.claim(pen, name, kind, &table.title)).collect()
    }

    /// Leaves meshes without a part unnoted: a fault noted elsewhere is the cause.
    pub(super) fn forgive_unused(&mut self) {
        self.unresolved = true;
    }

    /// Notes every mesh that no part has: left out, it would be taken for free space. Silent where
    /// a part asks for a mesh that is not there: the two are likely one mistake.
    pub(super) fn note_unused(&self, pen: &mut Pen) {
        if self.unresolved {
            return;
        }
        for entry in self.entries.iter().filter(|e| e.claimed.is_none() && !e.name.text.is_empty())
        {
            pen.at(
                &entry.name.span,
                format!("mesh \"{}\" belongs to no part", entry.name.text),
                "named nowhere else",
                "name it under the part it is, such as [housing]; or take it out, if the rig \
                 never meets it",
            );
        }
    }

    /// Finds bodies that stand away from the plate or dwarf it: a wrong unit or frame.
    pub(super) fn note_far(&self, plate: Option<&Outline>, findings: &mut Vec<Finding>) {
        let Some(plate) = plate else { return };
        for entry in &self.entries {
            let Some((low, high)) = entry.mesh.bounds() else { continue };
            let middle = nalgebra::center(&low, &high);
            let wide = (high - low).max() > 4.0 * plate.radius;
            let what = if middle.coords.norm() > 3.0 * plate.radius {
                "stands away from the plate"
            } else if wide {
                "is more than twice as large as the plate"
            } else {
                continue;
            };
            findings.push(Finding {
                about: entry.name.text.clone(),
                file: Some(entry.file.clone()),
                what: what.to_owned(),
                count: None,
                at: Some(middle),
                remedy: "check its unit and the coordinates it was exported in".to_owned(),
            });
        }
    }

    /// The box around some bodies, where every one of them could be read and placed.
    pub(super) fn bounds(&self, ids: &[BodyId]) -> Option<(Point3<f64>, Point3<f64>)> {
        let mut all: Option<(Point3<f64>, Point3<f64>)> = None;
        for id in ids.iter().filter(|_| self.placed) {
            let (low, high) = self.get(*id)?.mesh.bounds()?;
            all = Some(all.map_or((low, high), |(l, h)| (l.inf(&low), h.sup(&high))));
        }
        all
    }

    /// The middle of the box around a body.
    pub(super) fn middle(&self, id: BodyId) -> Option<Point3<f64>> {
        self.bounds(&[id]).map(|(low, high)| nalgebra::center(&low, &high))
    }

    /// The bodies and their files, once nothing is at fault.
    pub(super) fn into_bodies(self) -> Option<(Vec<CarBody>, Vec<SourceFile>)> {
        let mut bodies = Vec::with_capacity(self.entries.len());
        let mut sources = Vec::with_capacity(self.entries.len());
        for entry in self.entries {
            let (kind, _) = entry.claimed?;
            let body = Body { name: entry.name.text, mesh: entry.mesh, deviation: entry.deviation };
            bodies.push(CarBody { kind, body });
            sources.push(entry.source?);
        }
        Some((bodies, sources))
    }
}

/// The mesh of a file with the file's hash.
fn load(
    pen: &mut Pen,
    folder: &Path,
    file: &Text,
    scale: f64,
) -> Option<(Mesh, Option<SourceFile>)> {
    if file.text.is_empty() {
        return None;
    }
    let path = folder.join(&file.text);
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    let refused = match ending.as_deref() {
        Some("stl") => None,
        Some("step" | "stp") => Some("STEP is not read yet: export the body as binary STL"),
        _ => Some("STL is read here (STEP later): export the body as STL, named .stl"),
    };
    if let Some(remedy) = refused {
        pen.at(
            &file.span,
            format!("\"{}\" is of a kind that is not read", file.text),
            "not an STL file by its name",
            remedy,
        );
        return None;
    }
    let bytes = match document::bytes(&path, LONGEST_MESH) {
        Ok(bytes) => bytes,
        Err(error) => {
            let remedy = if file.text.contains('\\') {
                "write the path with forward slashes, relative to the document"
            } else {
                "write the path relative to the document"
            };
            pen.at(
                &file.span,
                format!("mesh file \"{}\" cannot be opened", file.text),
                error.to_string(),
                remedy,
            );
            return None;
        }
    };
    let source = document::source(&file.text, &bytes);
    match stl::read_stl(&bytes, scale) {
        Ok(mesh) => {
            let far = mesh.vertices.iter().position(|p| p.coords.amax() > GREATEST_COORDINATE);
            if let Some(far) = far {
                pen.at(
                    &file.span,
                    format!("mesh file \"{}\" has coordinates beyond 100 m", file.text),
                    format!("vertex {far} is one of them"),
                    "check \"unit\", or export the body again near its origin",
                );
                return None;
            }
            Some((mesh, Some(source)))
        }
        Err(error) => {
            pen.at(
                &file.span,
                format!("mesh file \"{}\" cannot be used", file.text),
                error.to_string(),
                error.remedy(),
            );
            None
        }
    }
}
