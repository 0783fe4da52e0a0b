//! Drafting a case from files alone: reading them, having them surveyed, writing the document.

mod document;
mod scanned;
mod words;

use crate::fault::{Faults, Pen};
use crate::meshes::{self, MeshFault, MeshUnit, Model, UnitBy, Wrong};
use crate::soundness;
use measure::{Angle, Length, LengthUnit};
use solids::{Body, Deviation};
use std::path::{Path, PathBuf};
use survey::{Draft, Question, Settings, Unfound, survey};

pub use scanned::{ScanDraft, ScanRequest, draft_scans};
pub use words::read_words;

/// What to draft from, and what is known beforehand.
#[derive(Debug, Clone)]
pub struct DraftRequest {
    /// Mesh files of any format that is read, each with one body or more.
    pub files: Vec<PathBuf>,
    /// The folder from which the document will be read: the files are named relative to it.
    pub folder: PathBuf,
    /// The unit of files that state none.
    pub unit: Option<MeshUnit>,
    /// Bounds on how far the meshes may be from the truth: of one body by its name, or of all that
    /// are not named.
    pub deviations: Vec<(Option<String>, Length)>,
    /// What those rest on.
    pub basis: Option<String>,
    /// The user's own patterns for names; `None` leaves the usual ones.
    pub words: Option<PathBuf>,
    /// Where the hinge stands, in the frame that is taken without this.
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

/// A body of a file.
struct Part {
    /// The file as the document names it.
    file: String,
    /// The body's name in a file that holds several.
    inside: Option<String>,
    /// The unit, of a file that states none.
    unit: Option<MeshUnit>,
    /// How far the document says that it may be from the truth; what meshing adds is in `body`.
    stated: f64,
    body: Body,
    /// Pieces of its surface that could not be meshed.
    missing: Vec<String>,
    /// Spaces behind it into which no scan saw, with their files.
    behind: Vec<(String, Body)>,
    /// How closed pieces of it contradict each other.
    contradictory: Option<Wrong>,
}

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
        match read(request, path, &parts) {
            Ok(more) => parts.extend(more),
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
    let mut draft =
        survey(&bodies, &settings).map_err(|unfound| unfound_fault(request, &unfound))?;
    for part in &parts {
        if let Some(first) = part.missing.first() {
            let count = part.missing.len();
            draft.questions.push(Question {
                about: format!("body \"{}\"", part.body.name),
                guess: "as if what is missing were of no matter".to_owned(),
                why: format!(
                    "{count} of its faces could not be meshed, {first} the first: what was found of it \
                     may be wrong, and near them nothing can be told"
                ),
                at: None,
            });
        }
        if let Some(Wrong { count, what, .. }) = part.contradictory {
            draft.questions.push(Question {
                about: format!("body \"{}\"", part.body.name),
                guess: "as if its pieces agreed".to_owned(),
                why: format!(
                    "it has {count} {what}; what was found of it may be wrong, and a case may refuse it"
                ),
                at: None,
            });
        }
    }
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

/// The bodies of a file.
fn read(request: &DraftRequest, path: &Path, before: &[Part]) -> Result<Vec<Part>, Faults> {
    let model = meshes::read(path, None).map_err(|fault| match fault {
        MeshFault { opened: false, what, .. } => {
            let message = format!("the file cannot be opened: {what}");
            whole(path, message, "give the path of a mesh file")
        }
        fault => whole(path, format!("the file cannot be used: {fault}"), fault.remedy),
    })?;
    if model.points.is_some() {
        let message = "the file cannot be used: it holds points and no face";
        return Err(whole(path, message, "give bodies; a scan must be made into bodies first"));
    }
    let (unit, scale) = match (model.unit, request.unit) {
        (UnitBy::File(_) | UnitBy::Given(_), _) => (None, 1.0),
        (UnitBy::Nobody, Some(unit)) => (Some(unit), unit.mm()),
        (UnitBy::Nobody, None) => {
            let message = format!("{} has no unit", model.format.word());
            return Err(whole(path, message, "say in which it was written, as in --unit mm"));
        }
    };
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let file = relative(&request.folder, path);
    let mut parts: Vec<Part> = Vec::new();
    for (inside, bodies) in by_name(&model) {
        let alone = bodies.len() == model.bodies.len();
        let own = inside.trim();
        // A lone body without a name of its own has its file's.
        let wanted = if alone && (own.is_empty() || own == meshes::numbered(1)) {
            stem.as_str()
        } else {
            own
        };
        let name = unused(wanted, &before.iter().chain(&parts));
        let Some(stated) = stated(request, &name) else {
            return Err(whole(
                path,
                format!("nothing tells how far mesh \"{name}\" may be from the true surface"),
                "state it for all meshes, as in --deviation \"0.05 mm\", or for this one, as in \
                 --deviation \"NAME=0.3 mm\"",
            ));
        };
        let pieces: Vec<_> = bodies.iter().filter_map(|at| model.bodies.get(*at)).collect();
        let mut mesh = meshes::joined(&pieces.iter().map(|b| &b.mesh).collect::<Vec<_>>());
        for point in &mut mesh.vertices {
            *point *= scale;
        }
        // As the document's reader adds it.
        let meshed = pieces.iter().filter_map(|b| b.deviation.as_ref()).map(|d| d.bound);
        let bound = stated + meshed.fold(0.0, f64::max);
        let basis = request.basis.clone().unwrap_or_else(|| "as stated for the draft".to_owned());
        let body = Body { name, mesh, deviation: Deviation { bound, basis } };
        let inside = (!alone).then(|| inside.clone());
        let missing = pieces.iter().flat_map(|b| b.missing.iter().cloned()).collect();
        let found = pieces.iter().find_map(|b| soundness::contradiction(b));
        let contradictory = found.as_ref().map(soundness::contradictory);
        let file = file.clone();
        let behind = Vec::new();
        parts.push(Part { file, inside, unit, stated, body, missing, behind, contradictory });
    }
    Ok(parts)
}

/// The bodies of a file by names that find each: its own, or with those of what holds it before it.
/// Bodies that only share names are one mesh together, as they are to the document.
fn by_name(model: &Model) -> Vec<(String, Vec<usize>)> {
    let mut all: Vec<(String, Vec<usize>)> = Vec::new();
    for (at, body) in (0..).zip(&model.bodies) {
        if all.iter().any(|(_, bodies)| bodies.contains(&at)) {
            continue;
        }
        let path = body.path();
        let named = model.named(&body.name);
        let with_path = model.named(&path);
        if named == [at] {
            all.push((body.name.clone(), named));
        } else if with_path.contains(&at) {
            all.push((path, with_path));
        } else {
            all.push((body.name.clone(), named));
        }
    }
    all
}

/// The bound that is stated for a body.
fn stated(request: &DraftRequest, name: &str) -> Option<f64> {
    let of = |wanted: Option<&str>| {
        let mut all = request.deviations.iter();
        all.find(|(n, _)| n.as_deref() == wanted).map(|(_, d)| d.mm())
    };
    of(Some(name)).or_else(|| of(None))
}

/// A name that no part has yet.
fn unused<'a>(wanted: &str, parts: &(impl Iterator<Item = &'a Part> + Clone)) -> String {
    let mut name = wanted.to_owned();
    let mut twin = 1;
    while parts.clone().any(|p| p.body.name == name) {
        twin += 1;
        name = format!("{wanted}-{twin}");
    }
    name
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
