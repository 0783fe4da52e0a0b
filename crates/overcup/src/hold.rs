//! `overcup hold`.

use crate::check::{Answer, Form, check_effort, json, print, review_told};
use crate::printer;
use front::{Plain, Reviewed, Stopped, read};
use measure::LengthUnit;
use review::sealing::Verdict;
use std::path::PathBuf;

/// What to look at and how to show it.
pub(crate) struct Settings {
    /// The case document.
    pub(crate) case: PathBuf,
    /// The kit document; `None` looks for one.
    pub(crate) kit: Option<PathBuf>,
    /// Fittings by name; none asks for all.
    pub(crate) fittings: Vec<String>,
    /// Cups by name; none asks for all.
    pub(crate) cups: Vec<String>,
    /// Pieces of the placement space to look at; `None` is the usual number.
    pub(crate) effort: Option<usize>,
    /// What to print.
    pub(crate) form: Form,
    /// Unit of the lengths, which brings those of the forces; `None` is the case's.
    pub(crate) unit: Option<LengthUnit>,
}

/// Reads, reviews, looks at the sealing, prints.
pub(crate) fn run(settings: &Settings) -> Result<Answer, Stopped> {
    check_effort(settings.effort)?;
    let (case, kit) = read(&settings.case, settings.kit.as_deref())?;
    let faults = review::hold::faults(&case.service);
    if !faults.is_empty() {
        let path = case.sources.first().map_or("the case", |s| s.path.as_str());
        let plain = |(what, remedy)| Plain::new(format!("{path}: {what}"), remedy);
        return Err(Stopped::Asked(faults.into_iter().map(plain).collect()));
    }
    let Reviewed { case, kit, found, mut record, .. } =
        review_told((case, kit), (&settings.fittings, &settings.cups), settings.effort)?;
    let holdings = review::hold::hold(&case.car, &kit.kit, &case.service, &found);
    record.hold(&holdings, &found, &case.car);
    let unit = settings.unit.unwrap_or(case.car.unit);
    let text = match settings.form {
        Form::Table => printer::sealing::table(&record, unit),
        Form::Details => printer::sealing::details(&record, unit),
        Form::Json => json(&record)?,
    };
    print(&text)?;
    let holds = |f: &review::record::Fitting| {
        f.sealing.as_ref().is_some_and(|s| s.verdict == Verdict::Holds)
    };
    let all = found.all_fit() && record.fittings.iter().all(holds);
    Ok(if all { Answer::Yes } else { Answer::No })
}
