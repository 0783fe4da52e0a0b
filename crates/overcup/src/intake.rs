//! `overcup intake`.

use crate::check::{Answer, print};
use crate::printer;
use front::{Plain, Stopped, file};
use intake::{DraftRequest, draft_case};
use std::path::PathBuf;

/// What to draft from and where to write it.
pub(crate) struct Settings {
    /// Files and what is known of them.
    pub(crate) request: DraftRequest,
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
    let drafted = draft_case(&settings.request).map_err(|f| Stopped::Documents(vec![f]))?;
    let (draft, bodies) = (&drafted.draft, &drafted.bodies);
    if let Some(path) = &settings.picture {
        let title =
            settings.request.title.clone().unwrap_or_else(|| {
                format!("Made out of {}", count(bodies.len(), "mesh", "meshes"))
            });
        let unit = settings.request.units;
        let svg = survey::picture::plan(draft, bodies, &title, review::CAUTION, unit);
        file::write(path, svg.as_bytes())?;
    }
    file::write(&settings.out, drafted.text.as_bytes())?;
    let names: Vec<&str> = bodies.iter().map(|b| b.name.as_str()).collect();
    print(&printer::drafted(draft, &names, settings))?;
    Ok(if draft.questions.is_empty() { Answer::Yes } else { Answer::No })
}

/// `1 mesh`, `2 meshes`.
pub(crate) fn count(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
