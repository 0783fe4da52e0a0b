//! Documents read, what is asked for reviewed.

use crate::fault::{Plain, Stopped};
use assembly::CarTop;
use intake::{CaseFile, KitFile, LessonFile, SourceFile, read_case, read_kit, read_lesson};
use review::record::{Finding, InputFile};
use review::{Inputs, Progress, Record, Request, Review};
use std::path::{Path, PathBuf};

/// A case and a kit as they were read.
pub type Documents = (CaseFile, KitFile);

/// A part of the kit whose dimensions make no solid.
pub fn unmade(error: &review::PartError, kit: &KitFile) -> Plain {
    Plain::new(
        format!("a part of the kit cannot be made: {error}"),
        format!("correct its dimensions in {}", kit.source.path),
    )
}

/// What was read, what was asked for and what was found.
pub struct Reviewed {
    /// The case.
    pub case: CaseFile,
    /// The kit.
    pub kit: KitFile,
    /// What was asked for.
    pub request: Request,
    /// What was found.
    pub found: Review,
    /// The same as it is written down.
    pub record: Record,
}

/// Reviews the fittings and cups asked for by name, none for all; `effort` is the number of pieces of
/// the placement space to look at, `None` the usual one. `progress` is called from any thread.
pub fn reviewed(
    (case, kit): Documents,
    (fittings, cups): (&[String], &[String]),
    effort: Option<usize>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Reviewed, Stopped> {
    let (car, kit_used) = (&case.car, &kit.kit);
    let mut request = Request::named(car, kit_used, fittings, cups)
        .map_err(|unknown| Stopped::Asked(unknown.iter().map(Plain::unknown).collect()))?;
    request.pieces = effort.unwrap_or(request.pieces);
    let found =
        review::review(car, kit_used, &request, progress).map_err(|error| unmade(&error, &kit))?;
    let record = Record::of(&found, car, kit_used, &request, inputs(&case, &kit));
    Ok(Reviewed { case, kit, request, found, record })
}

/// Reads both documents; the faults of both are told together. Without a kit, one beside the case or one
/// folder up is looked for.
pub fn read(case: &Path, kit: Option<&Path>) -> Result<Documents, Stopped> {
    let kit_path = kit.map_or_else(|| find_kit(case), |kit| Ok(kit.to_owned()))?;
    match (read_case(case), read_kit(&kit_path)) {
        (Ok(case), Ok(kit)) => Ok((case, kit)),
        (case, kit) => {
            Err(Stopped::Documents([case.err(), kit.err()].into_iter().flatten().collect()))
        }
    }
}

/// Reads a lesson with the case and the kit that it names; the faults of all three are told together.
pub fn lesson(path: &Path) -> Result<LessonFile, Stopped> {
    read_lesson(path).map_err(|faults| Stopped::Documents(vec![faults]))
}

/// The kit beside the case or one folder up.
fn find_kit(case: &Path) -> Result<PathBuf, Plain> {
    let folder = match case.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let looked = [folder.join("kit.toml"), folder.join("..").join("kit.toml")];
    looked.iter().find(|p| p.is_file()).cloned().ok_or_else(|| Plain::no_kit(&looked))
}

fn inputs(case: &CaseFile, kit: &KitFile) -> Inputs {
    let file = |s: &SourceFile| InputFile { path: s.path.clone(), sha256: s.sha256.clone() };
    let finding = |f: &intake::Finding| Finding {
        about: f.about.clone(),
        file: f.file.clone(),
        what: f.what.clone(),
        count: f.count,
        at_mm: f.at.map(|p| [p.x, p.y, p.z]),
        remedy: f.remedy.clone(),
    };
    Inputs {
        program: env!("CARGO_PKG_VERSION").into(),
        case_files: case.sources.iter().map(file).collect(),
        kit_files: vec![file(&kit.source)],
        findings: case.findings.iter().chain(&kit.findings).map(finding).collect(),
    }
}

/// The fitting by the name given, or the only one; `what` shows one: `a scene`.
pub fn one_fitting(car: &CarTop, given: Option<&str>, what: &str) -> Result<String, Plain> {
    match (given, car.fittings.as_slice()) {
        (Some(name), _) => Ok(name.to_owned()),
        (None, [only]) => Ok(only.name.clone()),
        (None, all) => {
            let names: Vec<&str> = all.iter().map(|f| f.name.as_str()).collect();
            let remedy = format!("name one with --fitting: {}", names.join(", "));
            let message = format!("the case has {} fittings, and {what} shows one", all.len());
            Err(Plain::new(message, remedy))
        }
    }
}

/// A document given as itself or as the folder that holds it.
pub fn document(path: PathBuf, name: &str) -> PathBuf {
    if path.is_dir() { path.join(name) } else { path }
}
