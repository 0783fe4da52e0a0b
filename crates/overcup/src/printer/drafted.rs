//! What a draft holds, as text for people.

use super::Page;
use crate::intake::{Drafted, Settings, count};
use measure::Length;
use survey::{Found, Reason};

/// What was found, with its reasons, and how many questions stand open.
pub(crate) fn drafted(drafted: &Drafted<'_>, settings: &Settings) -> String {
    let Drafted { draft, names, unit, notes } = *drafted;
    let told = |mm: f64| Length::from_mm(mm).show(unit);
    let mut page = Page::default();
    for note in notes {
        page.prose("· ", note);
    }
    if !notes.is_empty() {
        page.line("");
    }
    let mut rows = vec![["part", "taken from", "how sure"].map(str::to_owned).to_vec()];
    let mut row = |part: &str, from: String, reason: &Reason| {
        rows.push(vec![part.to_owned(), from, reason.confidence.word().to_owned()]);
    };
    let name = |f: &Found| names.get(f.body).map_or_else(String::new, |name| (*name).to_owned());
    row("plate", name(&draft.plate), &draft.plate.reason);
    for found in &draft.housing {
        row("housing", name(found), &found.reason);
    }
    for port in &draft.ports {
        let size = format!("{} by {}", told(port.width), told(port.height));
        row(&format!("port {}", port.name), size, &port.reason);
        if let Some(cover) = &port.cover {
            row("  its cover", name(cover), &cover.reason);
        }
    }
    if let Some(lid) = &draft.lid {
        row("lid", name(&lid.found), &lid.found.reason);
    }
    for found in &draft.hinge {
        row("hinge", name(found), &found.reason);
    }
    for found in &draft.studs {
        row("studs", name(found), &found.reason);
    }
    for fitting in &draft.fittings {
        let part = format!("{}, {}", fitting.name, fitting.kind.word());
        row(&part, format!("flange {}", told(fitting.flange)), &fitting.kind_reason);
        for found in &fitting.bodies {
            row("  stays", name(found), &found.reason);
        }
        for piece in &fitting.removables {
            row(&format!("  {}", piece.name), name(&piece.found), &piece.found.reason);
        }
    }
    page.columns(0, &rows);
    page.line("");
    for (number, question) in (1..).zip(&draft.questions) {
        let text = format!("{}: guessed {}; {}", question.about, question.guess, question.why);
        page.prose(&format!("{number:>3}  "), &text);
    }
    if !draft.questions.is_empty() {
        page.line("");
    }
    let out = settings.out.display();
    let told = match draft.questions.len() {
        0 => format!("{out} is written; it asks nothing."),
        n => format!(
            "{out} is written, with the reason beside each guess and {}; it is refused until each is \
             answered there.",
            count(n, "question", "questions")
        ),
    };
    page.prose("", &told);
    if let Some(picture) = &settings.picture {
        page.prose("", &format!("The plan is in {}.", picture.display()));
    }
    page.line("");
    page.prose("", review::CAUTION);
    page.text
}
