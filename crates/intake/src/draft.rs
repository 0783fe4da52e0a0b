//! Drafting a case from files alone: reading them, having them surveyed, writing the document.

mod document;
mod words;

use crate::document::{LONGEST_MESH, bytes};
use crate::fault::{Faults, Pen};
use crate::stl;
use measure::{Angle, Length, LengthUnit};
use solids::{Body, Deviation};
use std::path::{Path, PathBuf};
use survey::{Draft, Settings, Unfound, survey};

pub use words::read_words;

/// What to draft from, and what is known beforehand.
#[derive(Debug, Clone)]
pub struct DraftRequest {
    /// Mesh files, each with one body.
    pub files: Vec<PathBuf>,
    /// The folder from which the document will be read: the files are named relative to it.
    pub folder: PathBuf,
    /// The unit of files that have none: one of `mm`, `in`, `cm`, `m`, `ft`.
    pub unit: Option<String>,
    /// Bounds on how far the meshes may be from the truth: of one body by its name, or of all that
    /// are not named.
    pub deviations: Vec<(Option<String>, Length)>,
    /// What those rest on.
    pub basis: Option<String>,
    /// The user's own patterns for names; `None` leaves the usual ones.
    pub words: Option<PathBuf>,
    /// Where the hinge stands, in the frame taken where none is found.
    pub hinge_at: Option<Angle>,
    /// The unit in which the document speaks.
    pub units: LengthUnit,
    /// The document's title; `None` names the first file.
    pub title: Option<String>,
}

/// A case drafted.
#[derive(Debug, Clone)]
pub struct DraftFile {
    /// What was found.
    pub draft: Draft,
    /// The bodies, in mm as the files have them, in the order of `draft`'s indices.
    pub bodies: Vec<Body>,
    /// The document.
    pub text: String,
}

/// A file with its body.
struct Part {
    /// As the document names it.
    file: String,
    unit: &'static str,
    body: Body,
}

/// Spellings of a mesh's unit with millimetres a unit.
const UNITS: [(&str, f64); 5] =
    [("mm", 1.0), ("in", 25.4), ("cm", 10.0), ("m", 1000.0), ("ft", 304.8)];

/// Reads the files, finds what is what, and writes the document.
///
/// # Errors
/// Everything that is wrong with the files or with what is known of them; and when no plate or no
/// housing is found, without which there is no frame.
pub fn draft_case(request: &DraftRequest) -> Result<DraftFile, Faults> {
    let mut faults: Vec<Faults> = Vec::new();
    let mut settings =
        Settings { hinge_at: request.hinge_at, unit: request.units, ..Settings::default() };
    if let Some(path) = &request.words {
        match read_words(path) {
            Ok(words) => settings.words = words,
            Err(fault) => faults.push(fault),
        }
    }
    let mut parts: Vec<Part> = Vec::new();
    for path in &request.files {
        match part(request, path, &parts) {
            Ok(part) => parts.push(part),
            Err(fault) => faults.push(fault),
        }
    }
    if faults.is_empty() {
        faults.extend(unknown_names(request, &parts));
    }
    if !faults.is_empty() {
        return Err(Faults::joined(faults.into_iter()));
    }
    let bodies: Vec<Body> = parts.iter().map(|p| p.body.clone()).collect();
    let draft = survey(&bodies, &settings).map_err(|unfound| unfound_fault(request, &unfound))?;
    let text = document::text(request, &parts, &draft);
    Ok(DraftFile { draft, bodies, text })
}

fn whole(path: &Path, message: impl Into<String>, remedy: impl Into<String>) -> Faults {
    let mut pen = Pen::new(path.display().to_string());
    pen.whole(message, remedy);
    match pen.close::<()>(None) {
        Err(faults) => faults,
        Ok(()) => Faults::joined(std::iter::empty()),
    }
}

fn unfound_fault(request: &DraftRequest, unfound: &Unfound) -> Faults {
    let first = request.files.first().cloned().unwrap_or_default();
    whole(&first, format!("no case can be drafted: {unfound}"), unfound.remedy())
}

/// Bounds given for bodies that there are not.
fn unknown_names(request: &DraftRequest, parts: &[Part]) -> Option<Faults> {
    let names: Vec<&str> = parts.iter().map(|p| p.body.name.as_str()).collect();
    let given = request.deviations.iter().filter_map(|(name, _)| name.as_deref());
    let unknown = given.into_iter().find(|name| !names.contains(name))?;
    let remedy = format!("the bodies are: {}", names.join(", "));
    Some(whole(Path::new("--deviation"), format!("there is no body \"{unknown}\""), remedy))
}

fn part(request: &DraftRequest, path: &Path, before: &[Part]) -> Result<Part, Faults> {
    let is_stl = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("stl"));
    if !is_stl {
        return Err(whole(
            path,
            "the file is of a kind that is not read",
            "STL is read here: export each body as STL, named .stl",
        ));
    }
    let Some((unit, scale)) =
        request.unit.as_ref().and_then(|u| UNITS.into_iter().find(|(word, _)| word == u))
    else {
        return Err(whole(
            path,
            "an STL file has no unit",
            "say in which it was written, as in --unit mm",
        ));
    };
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let mut name = stem.clone();
    let mut twin = 1;
    while before.iter().any(|p| p.body.name == name) {
        twin += 1;
        name = format!("{stem}-{twin}");
    }
    let of = |wanted: Option<&str>| {
        let mut all = request.deviations.iter();
        all.find(|(n, _)| n.as_deref() == wanted).map(|(_, d)| *d)
    };
    let Some(bound) = of(Some(&name)).or_else(|| of(None)) else {
        return Err(whole(
            path,
            "nothing tells how far this mesh may be from the true surface",
            "state it for all meshes, as in --deviation \"0.05 mm\", or for this one, as in \
             --deviation \"NAME=0.3 mm\"",
        ));
    };
    let read = bytes(path, LONGEST_MESH).map_err(|error| {
        whole(path, format!("the file cannot be opened: {error}"), "give the path of a mesh file")
    })?;
    let mesh = stl::read_stl(&read, scale).map_err(|error| {
        whole(path, format!("the file cannot be used: {error}"), error.remedy())
    })?;
    let basis = request.basis.clone().unwrap_or_else(|| "as stated for the draft".to_owned());
    let deviation = Deviation { bound: bound.mm(), basis };
    Ok(Part { file: relative(&request.folder, path), unit, body: Body { name, mesh, deviation } })
}

/// A file's path from a folder, with forward slashes; as given where the two have no common root.
fn relative(folder: &Path, file: &Path) -> String {
    let whole = |p: &Path| std::path::absolute(p).and_then(|p| p.canonicalize().or(Ok(p)));
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let (Ok(from), Ok(to)) = (whole(here), whole(file)) else {
        return file.display().to_string();
    };
    let common = from.components().zip(to.components()).take_while(|(a, b)| a == b).count();
    if common == 0 {
        return to.display().to_string();
    }
    let up = from.components().skip(common).map(|_| "..".to_owned());
    let down = to.components().skip(common).map(|c| c.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}
