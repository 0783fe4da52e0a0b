//! `overcup verify`.

use crate::check::{Answer, print};
use crate::printer;
use front::{Plain, Stopped, read};
use intake::SourceFile;
use review::Record;
use review::record::{FORMAT, InputFile};
use std::path::{Path, PathBuf};

/// What to re-check.
pub(crate) struct Settings {
    /// The record.
    pub(crate) record: PathBuf,
    /// The case document; `None` is the one that the record names.
    pub(crate) case: Option<PathBuf>,
    /// The kit document, likewise.
    pub(crate) kit: Option<PathBuf>,
}

/// Reads the record and what it is about, re-checks it, prints.
pub(crate) fn run(settings: &Settings) -> Result<Answer, Stopped> {
    let record = read_record(&settings.record)?;
    let case_path = document(settings.case.as_deref(), &record.case.files, "case")?;
    let kit_path = document(settings.kit.as_deref(), &record.kit.files, "kit")?;
    let (case, kit) = read(&case_path, Some(&kit_path))?;
    let mut changed = changed(&record.case.files, &case.sources);
    changed.extend(self::changed(&record.kit.files, std::slice::from_ref(&kit.source)));
    if !changed.is_empty() {
        return Err(Stopped::Asked(changed));
    }
    let found = recheck::record(&case.car, &kit.kit, &record);
    print(&printer::rechecked(&found))?;
    let holds = found.iter().all(|one| one.outcome.is_ok());
    Ok(if holds { Answer::Yes } else { Answer::No })
}

fn read_record(path: &Path) -> Result<Record, Plain> {
    let again = "write it again with `overcup check CASE --json > RECORD`";
    let shown = path.display();
    let text = std::fs::read_to_string(path)
        .map_err(|error| Plain::new(format!("{shown} cannot be read: {error}"), again))?;
    let record: Record = serde_json::from_str(&text)
        .map_err(|error| Plain::new(format!("{shown} is no record: {error}"), again))?;
    if record.format != FORMAT {
        let message = format!("{shown} has format {}, this program reads {FORMAT}", record.format);
        return Err(Plain::new(message, again));
    }
    Ok(record)
}

/// The document given, or the first that the record names.
fn document(given: Option<&Path>, named: &[InputFile], what: &str) -> Result<PathBuf, Plain> {
    if let Some(path) = given {
        return Ok(path.to_owned());
    }
    named.first().map(|file| PathBuf::from(&file.path)).ok_or_else(|| {
        Plain::new(format!("the record names no {what}"), format!("give it with --{what}"))
    })
}

/// Files whose contents are not those that the record is about.
fn changed(named: &[InputFile], read: &[SourceFile]) -> Vec<Plain> {
    let remedy = "re-check with the files that the record was made from, or make it again";
    let mut faults = Vec::new();
    if named.len() != read.len() {
        faults.push(Plain::new(
            format!("the record names {} files, {} were read", named.len(), read.len()),
            remedy,
        ));
    }
    for (named, read) in named.iter().zip(read) {
        if named.sha256 != read.sha256 {
            faults.push(Plain::new(
                format!("{} is not what the record was made from: its SHA-256 differs", read.path),
                remedy,
            ));
        }
    }
    faults
}
