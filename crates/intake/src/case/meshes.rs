//! The meshes of a case: read, brought into the plate frame, each given to one part.

use super::plate::Outline;
use super::unique;
use crate::document::SourceFile;
use crate::fault::Pen;
use crate::finding::Finding;
use crate::meshes::{self, Format, MeshFault, MeshUnit, Model, ModelBody, UnitBy};
use crate::near::meant;
use crate::soundness;
use crate::table::{Bound, Table, Text, choice_of};
use assembly::car_top::{BodyId, CarBody};
use assembly::kit::PartKind;
use nalgebra::{Isometry3, Point3};
use solids::build::LARGEST;
use solids::{Body, ContradictionKind, Deviation, Mesh};
use std::ops::Range;
use std::path::Path;

/// One `[[mesh]]`.
pub(super) struct Entry {
    name: Text,
    file: String,
    /// The file's unit, and where the document says so: where it names the file, when the file says so
    /// itself. `None` when it is at fault.
    pub(super) unit: Option<UnitBy>,
    pub(super) unit_place: Range<usize>,
    pub(super) deviation: Deviation,
    /// In the plate frame; without triangles when it could not be read.
    pub(super) mesh: Mesh,
    /// Whether it is space into which nobody saw.
    unseen: bool,
    /// Which part it was given to.
    claimed: Option<(PartKind, String)>,
}

/// A file that meshes are taken from.
struct MeshFile {
    /// As written, where it is named first.
    named: Text,
    /// `None` when it cannot be used, which is noted.
    read: Option<(Model, SourceFile)>,
    /// Who has each body.
    taken: Vec<Taken>,
    /// Whether a body was asked for that is not there.
    unresolved: bool,
}

/// Who has a body of a file.
#[derive(Debug, Clone, Copy)]
enum Taken {
    /// Nobody yet.
    Free,
    /// Nobody, as the document says.
    LeftOut,
    /// The mesh of this number.
    By(usize),
}

/// Every `[[mesh]]`, in the order of the document.
pub(super) struct Meshes {
    entries: Vec<Entry>,
    files: Vec<MeshFile>,
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
        let mut files: Vec<MeshFile> = Vec::new();
        for mut table in root.tables(pen, "mesh", "mesh") {
            let name = table.text(pen, "name", "\"plate\"");
            unique(pen, &mut names, &name, "mesh");
            if !name.text.is_empty() {
                table.title = format!("mesh \"{}\"", name.text);
            }
            let file = table.text(pen, "file", "\"mesh/plate.stl\"");
            let body = table.maybe_text(pen, "body", "\"plate\"");
            let left_out = table.maybe_texts(pen, "leave-out", "[\"name\"]");
            let words = MeshUnit::STATED.map(MeshUnit::word);
            let states_unit = Format::of_name(Path::new(&file.text)).is_some_and(Format::has_unit);
            let stated = if states_unit {
                let unit = table.maybe_text(pen, "unit", "\"mm\"");
                unit.and_then(|unit| choice_of(pen, &unit, "unit", &words))
            } else {
                table.choice(pen, "unit", &words)
            };
            let stated = stated.and_then(|at| MeshUnit::STATED.get(at)).copied();
            let mut unit_place = table.place("unit");
            let bound = table.length(pen, "deviation", Bound::NotNegative).value;
            let basis = table.text(pen, "basis", "\"CAD export, chord error\"").text;
            let unseen = table.maybe_flag(pen, "unseen").unwrap_or(false);
            table.finish(pen);
            let mut entry = Entry {
                name,
                file: file.text.clone(),
                unit: None,
                unit_place: unit_place.clone(),
                deviation: Deviation { bound, basis },
                mesh: Mesh::default(),
                unseen,
                claimed: None,
            };
            let at = files.iter().position(|f| f.named.text == file.text).unwrap_or_else(|| {
                files.push(MeshFile::read(pen, findings, folder, &file));
                files.len() - 1
            });
            if let Some(MeshFile { read: Some((model, _)), taken, unresolved, .. }) =
                files.get_mut(at)
            {
                if let UnitBy::File(_) = model.unit {
                    unit_place.clone_from(&file.span);
                }
                entry.unit = unit(pen, &entry, model, stated);
                entry.unit_place = unit_place;
                let asked = Asked { body: body.as_ref(), left_out: &left_out, file: &file };
                let picked = asked.pick(pen, model, taken, entries.len());
                *unresolved |= body.is_some() && picked.is_empty();
                let twin = picked.iter().find_map(|p| Some((p.0, entries.get(p.1?)?)));
                if let Some((at, twin)) = twin {
                    let (twin, named) = (&twin.name.text, model.bodies.get(at).map(|b| &b.name));
                    let (what, remedy) = match (body, named) {
                        (Some(_), Some(named)) => (
                            format!("body \"{named}\" is in mesh \"{twin}\" too"),
                            "give each body to one mesh",
                        ),
                        _ => (
                            format!("the same file as mesh \"{twin}\""),
                            "name each body's own file, or its body in the file",
                        ),
                    };
                    findings.push(Finding {
                        about: entry.name.text.clone(),
                        file: Some(file.text.clone()),
                        what,
                        count: None,
                        at: None,
                        remedy: remedy.to_owned(),
                    });
                }
                let picked: Vec<usize> = picked.into_iter().map(|p| p.0).collect();
                entry.take(pen, findings, &file, model, &picked);
                if let Some(to) = plate_from_mesh {
                    entry.mesh = entry.mesh.transformed(to);
                }
                if !entry.mesh.triangles.is_empty() {
                    let (name, mesh) = (&entry.name.text, &entry.mesh);
                    let found = soundness::report(name, &entry.file, mesh, findings);
                    // Each body by itself: those of one mesh may well run into each other.
                    if found.components > picked.len() {
                        let bodies = picked.iter().filter_map(|at| model.bodies.get(*at));
                        let to = plate_from_mesh;
                        bodies.for_each(|b| entry.note_pieces(pen, findings, &file, b, to));
                    }
                }
            }
            entries.push(entry);
        }
        note_bodies_of_no_mesh(pen, &files);
        Self { entries, files, placed: plate_from_mesh.is_some(), unresolved: false }
    }

    /// The entry behind a body.
    pub(super) fn get(&self, id: BodyId) -> Option<&Entry> {
        self.entries.get(id.0)
    }

    /// Gives a mesh to a part that is surely there; notes a name that is not there or was given before.
    pub(super) fn claim(
        &mut self,
        pen: &mut Pen,
        name: &Text,
        kind: PartKind,
        who: &str,
    ) -> Option<BodyId> {
        let id = self.claim_any(pen, name, kind, who)?;
        if self.is_unseen(id) {
            pen.at(
                &name.span,
                format!("{who} cannot be mesh \"{}\"", name.text),
                "space into which nobody saw, by its [[mesh]]",
                "name the mesh of what was seen here, and this one under the fitting or the housing \
                 behind which it lies, or in [unseen]",
            );
        }
        Some(id)
    }

    /// Whether a mesh is space into which nobody saw.
    pub(super) fn is_unseen(&self, id: BodyId) -> bool {
        self.get(id).is_some_and(|entry| entry.unseen)
    }

    /// The same for a part or for the space behind one.
    fn claim_any(
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
        names.iter().filter_map(|name| self.claim_any(pen, name, kind, &table.title)).collect()
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
        // What nobody saw may be all around.
        for entry in self.entries.iter().filter(|entry| !entry.unseen) {
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
        for entry in self.entries {
            let (kind, _) = entry.claimed?;
            let body = Body { name: entry.name.text, mesh: entry.mesh, deviation: entry.deviation };
            bodies.push(CarBody { kind, body, unseen: entry.unseen });
        }
        let mut sources = Vec::with_capacity(self.files.len());
        for file in self.files {
            let (model, source) = file.read?;
            sources.push(source);
            sources.extend(model.beside);
        }
        Some((bodies, sources))
    }
}

/// The unit of a mesh's file, once the document and the file agree; `stated` is the document's.
fn unit(pen: &mut Pen, entry: &Entry, model: &Model, stated: Option<MeshUnit>) -> Option<UnitBy> {
    match (model.unit, stated) {
        (UnitBy::File(unit), Some(stated)) if unit != stated => {
            let fault = meshes::contradicted(model.format, unit, stated);
            pen.at(
                &entry.unit_place,
                format!("mesh file \"{}\" is in another unit", entry.file),
                fault.what,
                fault.remedy,
            );
            None
        }
        (UnitBy::File(unit), _) => Some(UnitBy::File(unit)),
        (_, stated) => stated.map(UnitBy::Given),
    }
}

/// What a `[[mesh]]` asks of its file.
struct Asked<'a> {
    body: Option<&'a Text>,
    left_out: &'a [Text],
    file: &'a Text,
}

impl Asked<'_> {
    /// The bodies asked for, each with the mesh that has it already; notes in `taken` whose they are.
    fn pick(
        &self,
        pen: &mut Pen,
        model: &Model,
        taken: &mut [Taken],
        mesh: usize,
    ) -> Vec<(usize, Option<usize>)> {
        for pattern in self.left_out {
            for at in self.find(pen, model, pattern) {
                if let Some(taken @ Taken::Free) = taken.get_mut(at) {
                    *taken = Taken::LeftOut;
                }
            }
        }
        let asked = match self.body {
            None => (0..model.bodies.len()).collect(),
            Some(body) => self.find(pen, model, body),
        };
        let mut picked = Vec::with_capacity(asked.len());
        for at in asked {
            let Some(taken) = taken.get_mut(at) else { continue };
            match *taken {
                // The whole file is asked for, but for these.
                Taken::LeftOut if self.body.is_none() => {}
                Taken::By(before) => picked.push((at, Some(before))),
                Taken::Free | Taken::LeftOut => {
                    picked.push((at, None));
                    *taken = Taken::By(mesh);
                }
            }
        }
        picked
    }

    /// The bodies of a name or a pattern; notes where there are none.
    fn find(&self, pen: &mut Pen, model: &Model, asked: &Text) -> Vec<usize> {
        if asked.text.is_empty() {
            return Vec::new();
        }
        let found = model.named(&asked.text);
        if found.is_empty() {
            let names = || model.bodies.iter().map(|b| b.name.as_str());
            let remedy = meant(&asked.text, names(), || {
                let first: Vec<String> = names().take(8).map(|n| format!("\"{n}\"")).collect();
                let more = if model.bodies.len() > 8 { " and others" } else { "" };
                format!("its bodies are {}{more}; a star stands for any letters", first.join(", "))
            });
            pen.at(
                &asked.span,
                format!("there is no body \"{}\" in \"{}\"", asked.text, self.file.text),
                "no body of the file has this name",
                remedy,
            );
        }
        found
    }
}

/// Notes bodies of a file that no mesh has: left out without a word, they would be taken for free space.
fn note_bodies_of_no_mesh(pen: &mut Pen, files: &[MeshFile]) {
    for file in files {
        let Some((model, _)) = &file.read else { continue };
        let free =
            model.bodies.iter().zip(&file.taken).filter(|(_, taken)| matches!(taken, Taken::Free));
        let names: Vec<String> = free.map(|(body, _)| format!("\"{}\"", body.name)).collect();
        // Where one was asked for that is not there, the two are likely one mistake.
        if names.is_empty() || file.unresolved {
            continue;
        }
        let mut first = names.iter().take(4).cloned().collect::<Vec<_>>().join(", ");
        if let Some(more) = names.len().checked_sub(4).filter(|more| *more > 0) {
            first = format!("{first} and {more} more");
        }
        let noun = if names.len() == 1 { "a body" } else { "bodies" };
        pen.at(
            &file.named.span,
            format!("{noun} of \"{}\" in no mesh: {first}", file.named.text),
            "holds them",
            "name it as \"body\" of a [[mesh]]; or list it under \"leave-out\" in one that names the \
             file, if the rig never meets it",
        );
    }
}

impl Entry {
    /// Millimetres a unit, where that is known.
    pub(super) fn scale(&self) -> Option<f64> {
        self.unit.and_then(UnitBy::unit).map(MeshUnit::mm)
    }

    /// Takes bodies of its file, in millimetres; where the unit is at fault, in the file's.
    fn take(
        &mut self,
        pen: &mut Pen,
        findings: &mut Vec<Finding>,
        file: &Text,
        model: &Model,
        picked: &[usize],
    ) {
        let bodies: Vec<_> = picked.iter().filter_map(|at| model.bodies.get(*at)).collect();
        let mut mesh = meshes::joined(&bodies.iter().map(|b| &b.mesh).collect::<Vec<_>>());
        if let Some(UnitBy::Given(unit)) = self.unit {
            for point in &mut mesh.vertices {
                *point *= unit.mm();
            }
        }
        // 100 m, in millimetres: beyond it nothing makes sense on a car top.
        if let Some(far) = mesh.vertices.iter().position(|p| p.coords.amax() > LARGEST) {
            pen.at(
                &file.span,
                format!("mesh file \"{}\" has coordinates beyond 100 m", file.text),
                format!("vertex {far} is one of them"),
                "check \"unit\", or export the body again near its origin",
            );
            return;
        }
        self.mesh = mesh;
        // The file's surface may be off the true one, and the mesh off the file's.
        let meshed: Vec<_> = bodies.iter().filter_map(|b| b.deviation.as_ref()).collect();
        if let Some(most) = meshed.iter().max_by(|a, b| a.bound.total_cmp(&b.bound)) {
            self.deviation.bound += most.bound;
            self.deviation.basis = format!("{}; {}", self.deviation.basis, most.basis);
        }
        let missing: Vec<&str> =
            bodies.iter().flat_map(|b| &b.missing).map(String::as_str).collect();
        if let Some(first) = missing.first() {
            findings.push(Finding {
                about: self.name.text.clone(),
                file: Some(file.text.clone()),
                what: format!("pieces of the surface that could not be meshed, {first} the first"),
                count: Some(missing.len()),
                at: None,
                remedy: "mend the body where it was made and export it again".to_owned(),
            });
        }
    }
}

impl Entry {
    /// Notes closed pieces of a body that contradict each other. Where voids and solids cancel, or
    /// nobody knows, solid would be taken for free space: no verdict may rest on that.
    fn note_pieces(
        &self,
        pen: &mut Pen,
        findings: &mut Vec<Finding>,
        file: &Text,
        body: &ModelBody,
        plate_from_mesh: Option<&Isometry3<f64>>,
    ) {
        let Some(found) = soundness::contradiction(body) else { return };
        let wrong = soundness::contradictory(&found);
        let what = format!("{} (body \"{}\")", wrong.what, body.name);
        if matches!(found.kind, ContradictionKind::Cancelled | ContradictionKind::TooMany) {
            pen.at(
                &file.span,
                format!("mesh file \"{}\" holds a body that contradicts itself", self.file),
                format!("{} {what}", wrong.count),
                wrong.remedy,
            );
            return;
        }
        let scale = match self.unit {
            Some(UnitBy::Given(unit)) => unit.mm(),
            _ => 1.0,
        };
        findings.push(Finding {
            about: self.name.text.clone(),
            file: Some(file.text.clone()),
            what,
            count: Some(wrong.count),
            at: plate_from_mesh.map(|to| to * (found.at * scale)),
            remedy: wrong.remedy.to_owned(),
        });
    }
}

impl MeshFile {
    /// Reads a file; what is wrong with it is noted where it is named.
    fn read(pen: &mut Pen, findings: &mut Vec<Finding>, folder: &Path, file: &Text) -> Self {
        let mut read =
            Self { named: file.clone(), read: None, taken: Vec::new(), unresolved: false };
        if file.text.is_empty() {
            return read;
        }
        match meshes::read_hashed(&folder.join(&file.text), None) {
            Ok((model, mut source)) if model.points.is_none() => {
                source.path.clone_from(&file.text);
                for note in &model.notes {
                    findings.push(Finding {
                        about: file.text.clone(),
                        file: Some(file.text.clone()),
                        what: note.clone(),
                        count: None,
                        at: None,
                        remedy: "see to it that the rig meets nothing of what is left out"
                            .to_owned(),
                    });
                }
                if let Some(first) = model.missing.first() {
                    pen.at(
                        &file.span,
                        format!("mesh file \"{}\" holds what cannot be read", file.text),
                        match model.missing.len() {
                            1 => first.clone(),
                            more => format!("{first}; and {} more", more - 1),
                        },
                        "export it again as a mesh format, or without what cannot be read if the rig \
                         never meets it",
                    );
                }
                read.taken = vec![Taken::Free; model.bodies.len()];
                read.read = Some((model, source));
            }
            Ok(_) => pen.at(
                &file.span,
                format!("mesh file \"{}\" cannot be used", file.text),
                "it holds points and no face: no body can be made of it here",
                "give bodies; a scan must be made into bodies first",
            ),
            Err(MeshFault { opened: false, what, .. }) => {
                let remedy = if file.text.contains('\\') {
                    "write the path with forward slashes, relative to the document"
                } else {
                    "write the path relative to the document"
                };
                let message = format!("mesh file \"{}\" cannot be opened", file.text);
                pen.at(&file.span, message, what, remedy);
            }
            Err(fault) => pen.at(
                &file.span,
                format!("mesh file \"{}\" cannot be used", file.text),
                fault.to_string(),
                fault.remedy,
            ),
        }
        read
    }
}
