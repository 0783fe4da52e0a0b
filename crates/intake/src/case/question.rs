//! What a draft left open, and what was answered.

use crate::fault::Pen;
use crate::finding::Finding;
use crate::table::Table;

/// Reads `[[question]]`: one without an answer is a fault, so that nothing that was guessed is ever
/// taken for told; an answered one becomes a finding, which stands in every record.
pub(super) fn read(root: &mut Table<'_>, pen: &mut Pen, findings: &mut Vec<Finding>) {
    for (number, mut table) in (1..).zip(root.tables(pen, "question", "question")) {
        let about = table.text(pen, "about", "\"fitting \\\"F1\\\", kind\"").text;
        table.title = format!("question {number}");
        let guess = table.text(pen, "guess", "\"liquid valve\"").text;
        let why = table.text(pen, "why", "\"its name does not tell\"").text;
        let place = table.place("answer");
        // An empty answer is a fault of its own kind, so that it is not read as other texts are.
        let written = table.get("answer").map(|value| value.get_ref().as_str());
        let answer = written.flatten().map(str::trim);
        if written == Some(None) {
            pen.at(
                &place,
                "\"answer\" is not a text",
                "a text is wanted here",
                "write what was found out, between quotes",
            );
        } else if !answer.is_some_and(says_something) && !about.is_empty() {
            // What was measured in a frame does not follow when the frame is corrected.
            let remedy = if about.starts_with("frame") {
                format!(
                    "where \"{guess}\" is so, say it as its answer; where it is not, draft again, as the \
                     question says: everything else here was measured in that frame"
                )
            } else {
                format!(
                    "write what is so as its answer, and where it belongs in the document, too; the guess \
                     was \"{guess}\""
                )
            };
            pen.at(
                &place,
                format!("question {number} is not answered: {about}"),
                "no answer",
                remedy,
            );
        }
        table.finish(pen);
        if let Some(answer) = answer.filter(|answer| says_something(answer)) {
            findings.push(Finding {
                about,
                file: None,
                what: format!("guessed \"{guess}\" from the meshes; answered \"{answer}\""),
                count: None,
                at: None,
                remedy: format!("asked because: {why}"),
            });
        }
    }
}

/// Whether a text is an answer: a mark alone, as "?", is none.
fn says_something(answer: &str) -> bool {
    answer.chars().any(char::is_alphanumeric)
}
