//! `overcup export`.

use crate::check::{Answer, print, review_told};
use crate::printer;
use display::DisplayList;
use front::{Plain, Reviewed, Stopped, file, one_fitting, read, unmade};
use std::path::PathBuf;

/// What to write where.
pub(crate) struct Settings {
    /// The case document.
    pub(crate) case: PathBuf,
    /// The kit document; `None` looks for one.
    pub(crate) kit: Option<PathBuf>,
    /// The fitting by name; `None` where the case has only one.
    pub(crate) fitting: Option<String>,
    /// Cups by name; none asks for all.
    pub(crate) cups: Vec<String>,
    /// The file to write.
    pub(crate) out: PathBuf,
}

/// Reads, reviews the fitting, writes its scene.
pub(crate) fn run(settings: &Settings) -> Result<Answer, Stopped> {
    file::check_free(&settings.out)?;
    let (case, kit) = read(&settings.case, settings.kit.as_deref())?;
    let fitting = one_fitting(&case.car, settings.fitting.as_deref(), "a scene")?;
    let Reviewed { case, kit, found, record, .. } =
        review_told((case, kit), (&[fitting], &settings.cups), None)?;
    let list = match found.fittings.first().and_then(|f| Some((f.fitting, f.chosen()?))) {
        Some((fitting, chosen)) => DisplayList::of(&case.car, &kit.kit, fitting, &chosen.study)
            .map_err(|error| unmade(&error, &kit))?,
        None => None,
    };
    let Some(mut list) = list else {
        return Err(Plain::new("there is nothing to show", "ask for a cup of the kit").into());
    };
    if let Some(recorded) = record.fittings.first() {
        list.marks = display::marks(recorded, case.car.unit);
    }
    let program = format!("overcup {}", record.program);
    let caution = record.cautions.join(" ");
    let shown = settings.out.display();
    let bytes = display::glb(&list, &program, &caution).map_err(|error| {
        Plain::new(format!("{shown} cannot be written: {error}"), "nothing was left half-written")
    })?;
    file::write(&settings.out, &bytes)?;
    print(&printer::exported(&list, &settings.out))?;
    Ok(if found.all_fit() { Answer::Yes } else { Answer::No })
}
