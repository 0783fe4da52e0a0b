//! `overcup check`.

use crate::{meshes, printer};
use front::{Documents, Plain, Reviewed, Stopped, folder, read, reviewed, unmade};
use measure::LengthUnit;
use review::{DRAWS, PIECES, Progress, Record, Vary};
use std::io::{self, IsTerminal as _, Write as _};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// What to check and how to show it.
pub(crate) struct Settings {
    /// The case document.
    pub(crate) case: PathBuf,
    /// The kit document; `None` looks for one.
    pub(crate) kit: Option<PathBuf>,
    /// Fittings by name; none asks for all.
    pub(crate) fittings: Vec<String>,
    /// Cups by name; none asks for all.
    pub(crate) cups: Vec<String>,
    /// Whether to look for changes that make a fitting fit.
    pub(crate) advise: bool,
    /// Whether to look for the outlet's bearings overall.
    pub(crate) bearings: bool,
    /// Pieces of the placement space to look at; `None` is the usual number.
    pub(crate) effort: Option<usize>,
    /// What to print.
    pub(crate) form: Form,
    /// Unit of the lengths; `None` is the case's.
    pub(crate) unit: Option<LengthUnit>,
    /// Where to write the placed meshes.
    pub(crate) meshes: Option<PathBuf>,
    /// As-built variations to draw.
    pub(crate) vary: Option<Vary>,
}

/// What to print.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// One line a fitting.
    Table,
    /// The table and all details.
    Details,
    /// The record.
    Json,
}

/// What the exit status tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Answer {
    /// Every fitting asked for can be covered; every claim holds.
    Yes,
    /// One cannot, or it cannot be told; one is refused.
    No,
}

/// A run that takes longer tells how far it has come.
const PATIENCE: Duration = Duration::from_secs(1);

/// A number of variations out of bounds is a fault; `--seed` alone asks for none.
fn check_draws(vary: Option<Vary>) -> Result<(), Plain> {
    match vary {
        Some(vary) if !DRAWS.contains(&vary.draws) => Err(Plain::new(
            format!("{} variations are asked for", vary.draws),
            format!("--vary takes a number from {} to {}", DRAWS.start(), DRAWS.end()),
        )),
        _ => Ok(()),
    }
}

/// An effort out of bounds is a fault.
pub(crate) fn check_effort(effort: Option<usize>) -> Result<(), Plain> {
    match effort {
        Some(pieces) if !PIECES.contains(&pieces) => Err(Plain::new(
            format!("an effort of {pieces} pieces is asked for"),
            format!("--effort takes a number from {} to {}", PIECES.start(), PIECES.end()),
        )),
        _ => Ok(()),
    }
}

/// Reviews, telling on a terminal how far it has come.
pub(crate) fn review_told(
    documents: Documents,
    asked: (&[String], &[String]),
    effort: Option<usize>,
) -> Result<Reviewed, Stopped> {
    let teller = Teller::new("pairs of fitting and cup looked at");
    let found = reviewed(documents, asked, effort, &|p| teller.tell(p));
    teller.clear();
    found
}

/// The record as it is written.
pub(crate) fn json(record: &Record) -> Result<String, Plain> {
    serde_json::to_string_pretty(record)
        .map(|json| json + "\n")
        .map_err(|error| Plain::unwritten("the record", &error.into()))
}

/// Reads, reviews, prints.
pub(crate) fn run(settings: &Settings) -> Result<Answer, Stopped> {
    check_draws(settings.vary)?;
    check_effort(settings.effort)?;
    if let Some(meshes) = &settings.meshes {
        folder::check_free(meshes)?;
    }
    let documents = read(&settings.case, settings.kit.as_deref())?;
    let asked = (settings.fittings.as_slice(), settings.cups.as_slice());
    let reviewed = review_told(documents, asked, settings.effort)?;
    let Reviewed { case, kit, request, found, mut record } = reviewed;
    let (car, kit_used) = (&case.car, &kit.kit);
    let unmade = |error: review::PartError| unmade(&error, &kit);
    let unit = settings.unit.unwrap_or(car.unit);
    if settings.bearings {
        let teller = Teller::new("fittings' outlets turned");
        let found = review::bearings(car, kit_used, (&request, &found), &|p| teller.tell(p));
        teller.clear();
        record.turn(&found.map_err(unmade)?, car);
    }
    if let Some(vary) = settings.vary {
        let teller = Teller::new("variations looked at");
        let variations = review::vary(car, kit_used, &found, vary, &|p| teller.tell(p));
        let variations = variations.map_err(unmade)?;
        teller.clear();
        record.vary(vary, &variations, &found, car);
    }
    if settings.advise {
        let teller = Teller::new("places for a change tried");
        let asked = (&request, &found);
        let advice = review::advise(car, kit_used, asked, unit, &|p| teller.tell(p));
        teller.clear();
        record.advise(&advice.map_err(unmade)?, car, kit_used);
    }
    if let Some(folder) = &settings.meshes {
        let posed = review::posed(car, kit_used, &found.fittings).map_err(unmade)?;
        meshes::write(folder, &record, &posed)?;
    }
    let text = match settings.form {
        Form::Table => printer::table(&record, unit),
        Form::Details => printer::details(&record, unit),
        Form::Json => json(&record)?,
    };
    print(&text)?;
    Ok(if found.all_fit() { Answer::Yes } else { Answer::No })
}

/// Prints a result. A reader that stops reading early is no fault.
pub(crate) fn print(text: &str) -> Result<(), Plain> {
    let mut stdout = anstream::AutoStream::auto(io::stdout().lock());
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Plain::unwritten("the result", &error))
        }
        _ => Ok(()),
    }
}

/// Tells on a terminal how far a long run has come.
struct Teller {
    /// What is counted.
    what: &'static str,
    since: Instant,
    on_terminal: bool,
    told: AtomicBool,
}

impl Teller {
    fn new(what: &'static str) -> Self {
        Self {
            what,
            since: Instant::now(),
            on_terminal: io::stderr().is_terminal(),
            told: AtomicBool::new(false),
        }
    }

    fn tell(&self, progress: Progress) {
        if self.on_terminal && self.since.elapsed() > PATIENCE {
            self.told.store(true, Ordering::Relaxed);
            let line = format!("\r{} of {} {}", progress.done, progress.total, self.what);
            // With stderr gone there is nobody left to tell.
            let _ = io::stderr().write_all(line.as_bytes());
        }
    }

    /// Wipes the line.
    fn clear(&self) {
        if self.told.load(Ordering::Relaxed) {
            let _ = io::stderr().write_all(format!("\r{:60}\r", "").as_bytes());
        }
    }
}
