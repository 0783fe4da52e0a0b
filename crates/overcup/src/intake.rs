//! `overcup intake`.

use crate::check::{Answer, print};
use crate::printer;
use front::{Plain, Stopped, file};
use intake::{DraftRequest, ScanRequest, draft_case, draft_scans};
use measure::LengthUnit;
use std::path::{Path, PathBuf};
use survey::Draft;

/// What a case is drafted from.
pub(crate) enum From {
    /// Mesh files and what is known of them.
    Meshes(DraftRequest),
    /// Scans by their document.
    Scans(PathBuf),
}

/// What to draft from and where to write it.
pub(crate) struct Settings {
    /// What it is drafted from.
    pub(crate) from: From,
    /// Where the hinge stands, if not where one is found.
    pub(crate) hinge_at: Option<measure::Angle>,
    /// The document's title, if not the usual one.
    pub(crate) title: Option<String>,
    /// The document to write.
    pub(crate) out: PathBuf,
    /// The picture to write.
    pub(crate) picture: Option<PathBuf>,
}

/// Reads, finds what is what, writes the document and the picture.
pub(crate) fn run(settings: &Settings) -> Result<Answer, Stopped> {
    file::check_free(&settings.out)?;
    if let Some(picture) = &settings.picture {
        file::check_free(picture)?;
        if *picture == settings.out {
            let what = "document and picture would be one file";
            return Err(Plain::new(what, "name another file for the picture").into());
        }
    }
    let bodies_folder = bodies_folder(&settings.out);
    let (drafted, unit, notes, files) = match &settings.from {
        From::Meshes(request) => {
            let drafted = draft_case(request).map_err(|f| Stopped::Documents(vec![f]))?;
            (drafted, request.units, Vec::new(), Vec::new())
        }
        From::Scans(document) => {
            file::check_free(&bodies_folder)?;
            let name = bodies_folder.file_name().unwrap_or_default().to_string_lossy();
            let request = ScanRequest {
                document: document.clone(),
                bodies: format!("{name}/"),
                hinge_at: settings.hinge_at,
                title: settings.title.clone(),
            };
            let found = draft_scans(&request).map_err(|f| Stopped::Documents(vec![f]))?;
            (found.drafted, found.unit, found.notes, found.files)
        }
    };
    let (draft, bodies) = (&drafted.draft, &drafted.bodies);
    if let Some(path) = &settings.picture {
        let title = settings.title.clone().unwrap_or_else(|| match &settings.from {
            From::Meshes(_) => format!("Made out of {}", count(bodies.len(), "mesh", "meshes")),
            From::Scans(_) => {
                format!("Made out of scans: {}", count(bodies.len(), "body", "bodies"))
            }
        });
        let svg = survey::picture::plan(draft, bodies, &title, review::CAUTION, unit);
        file::write(path, svg.as_bytes())?;
    }
    if !files.is_empty() {
        let named = |(name, bytes): (String, Vec<u8>)| {
            (name.rsplit('/').next().unwrap_or_default().to_owned(), bytes)
        };
        file::write_folder(&bodies_folder, &files.into_iter().map(named).collect::<Vec<_>>())?;
    }
    if let Err(fault) = file::write(&settings.out, drafted.text.as_bytes()) {
        if matches!(settings.from, From::Scans(_)) {
            // Bodies without the document that names them are of no use.
            let _ = std::fs::remove_dir_all(&bodies_folder);
        }
        return Err(fault.into());
    }
    let names: Vec<&str> = bodies.iter().map(|b| b.name.as_str()).collect();
    print(&printer::drafted(&Drafted { draft, names: &names, unit, notes: &notes }, settings))?;
    Ok(if draft.questions.is_empty() { Answer::Yes } else { Answer::No })
}

/// What was drafted, to be told.
pub(crate) struct Drafted<'d> {
    pub(crate) draft: &'d Draft,
    /// The bodies' names, in the order of the draft's indices.
    pub(crate) names: &'d [&'d str],
    /// In which lengths are told.
    pub(crate) unit: LengthUnit,
    /// What was done before anything was found, a sentence each.
    pub(crate) notes: &'d [String],
}

/// The folder beside a case for bodies made of scans: `case-bodies`.
fn bodies_folder(out: &Path) -> PathBuf {
    let stem = out.file_stem().unwrap_or_default().to_string_lossy();
    out.with_file_name(format!("{stem}-bodies"))
}

/// `1 mesh`, `2 meshes`.
pub(crate) fn count(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
