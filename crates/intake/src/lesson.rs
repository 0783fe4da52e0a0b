//! `lesson.toml`: a training lesson about one fitting of a case, with a kit.

mod change;
mod names;

use crate::case::{CaseFile, form, read_case, unique};
use crate::document::{self, SourceFile};
use crate::fault::{Faults, Pen};
use crate::kit::{KitFile, read_kit};
use crate::table::{ROOT, Table, Text};
use lesson::{Answer, Lesson, Outcome, SetRight, Start, Step, Task, Trial};
use names::Names;
use std::path::{Path, PathBuf};

/// What a lesson document gives.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonFile {
    /// The lesson.
    pub lesson: Lesson,
    /// The case that it names.
    pub case: CaseFile,
    /// The kit that it names.
    pub kit: KitFile,
    /// The document.
    pub source: SourceFile,
}

/// Reads a lesson document with the case and the kit that it names. What the lesson claims is not looked
/// at: that takes the checks.
///
/// # Errors
/// Everything that is wrong in any of the three documents, each with its place and remedy; the lesson's
/// own first.
pub fn read_lesson(path: &Path) -> Result<LessonFile, Faults> {
    let mut pen = Pen::new(path.display().to_string());
    let (mut case, mut kit) = (None, None);
    let read = read(&mut pen, path, &mut case, &mut kit);
    match (pen.close(read), case, kit) {
        (Ok((lesson, source)), Some(Ok(case)), Some(Ok(kit))) => {
            Ok(LessonFile { lesson, case, kit, source })
        }
        (own, case, kit) => {
            let others = [case.and_then(Result::err), kit.and_then(Result::err)];
            Err(Faults::joined([own.err()].into_iter().chain(others).flatten()))
        }
    }
}

type Read<T> = Option<Result<T, Faults>>;

fn read(
    pen: &mut Pen,
    path: &Path,
    case: &mut Read<CaseFile>,
    kit: &mut Read<KitFile>,
) -> Option<(Lesson, SourceFile)> {
    let (text, source) = document::text(pen, path, "a lesson.toml")?;
    let opened = pen.opened(text);
    let text = opened.inner();
    let parsed = document::parse(pen, text)?;
    let mut root = Table::new(parsed.get_ref(), document::first_line(text), ROOT);
    form(&mut root, pen);
    let title = root.text(pen, "title", "\"...\"").text;
    let about = root.text(pen, "about", "\"...\"").text;
    let folder = path.parent().unwrap_or(Path::new(""));
    *case = named(&mut root, pen, folder, "case").map(|path| read_case(&path));
    *kit = named(&mut root, pen, folder, "kit").map(|path| read_kit(&path));
    let car = case.as_ref().and_then(|c| c.as_ref().ok()).map(|c| &c.car);
    let names = Names::new(car, kit.as_ref().and_then(|k| k.as_ref().ok()).map(|k| &k.kit));

    let start = start(&mut root, pen, &names);
    let mut titles = Vec::new();
    let tables = root.tables(pen, "step", "step");
    let is_empty = |value: &toml::Spanned<toml::de::DeValue<'_>>| {
        value.get_ref().as_array().is_some_and(|list| list.is_empty())
    };
    if root.get("step").is_none_or(is_empty) {
        pen.at(
            &document::first_line(text),
            "the lesson has no step",
            "no [[step]] in here",
            "add at least one table that begins with the line: [[step]]",
        );
    }
    let fitting = start.as_ref().map_or(0, |start| start.fitting);
    let steps: Vec<Option<Step>> =
        tables.into_iter().map(|table| step(table, pen, (&names, fitting), &mut titles)).collect();
    root.finish(pen);
    // A step that could not be read has its fault.
    let steps = steps.into_iter().collect::<Option<Vec<Step>>>()?;
    Some((Lesson { title, about, start: start?, steps }, source))
}

/// The path of a document that the lesson names, from the lesson's folder.
fn named(root: &mut Table<'_>, pen: &mut Pen, folder: &Path, key: &'static str) -> Option<PathBuf> {
    let name = root.text(pen, key, &format!("\"{key}.toml\""));
    if name.text.is_empty() {
        return None;
    }
    let path = folder.join(&name.text);
    if path.is_file() {
        return Some(path);
    }
    pen.at(
        &name.span,
        format!("there is no {key} \"{}\"", name.text),
        "no such file",
        format!("write the path of a {key}.toml, from the folder of the lesson"),
    );
    None
}

fn start(root: &mut Table<'_>, pen: &mut Pen, names: &Names<'_>) -> Option<Start> {
    let mut table = root.table(pen, "start")?;
    let name = table.text(pen, "fitting", "\"LV1\"");
    let fitting = names.fitting(pen, &name);
    let cup = table.maybe_text(pen, "cup", "\"B\"");
    let cup = cup.map(|name| names.cup(pen, &name));
    let edits = changes(&mut table, pen, (names, fitting.unwrap_or(0)), "change");
    let outcome = outcome(&mut table, pen, names);
    table.finish(pen);
    let cup = match cup {
        Some(None) => return None,
        Some(found) => found,
        None => None,
    };
    Some(Start { fitting: fitting?, cup, edits, outcome: outcome? })
}

/// The changes in a table under a key, none where there is none.
fn changes(
    table: &mut Table<'_>,
    pen: &mut Pen,
    of: (&Names<'_>, usize),
    key: &'static str,
) -> Vec<assembly::Edit> {
    let title = format!("[{key}]");
    table.maybe_table(pen, key, &title).map(|t| change::edits(t, pen, of)).unwrap_or_default()
}

const OUTCOMES: [(&str, Outcome); 2] =
    [("nothing short", Outcome::NothingShort), ("cannot tell", Outcome::CannotTell)];
const EXPECT: &str = "\"nothing short\", \"cannot tell\" or [[\"outlet\", \"clamp bar\"]]";

/// What must be found: one of a few words, or pairs of parts that must be short.
fn outcome(table: &mut Table<'_>, pen: &mut Pen, names: &Names<'_>) -> Option<Outcome> {
    let is_list = table.get("expect").is_some_and(|value| value.get_ref().is_array());
    if !is_list {
        let word = table.text(pen, "expect", EXPECT);
        if word.text.is_empty() {
            return None;
        }
        let found = OUTCOMES.iter().find(|(known, _)| *known == word.text);
        if found.is_none() {
            pen.at(
                &word.span,
                format!("\"expect\" cannot be \"{}\"", word.text),
                "not a known word",
                format!("write {EXPECT}, a list of pairs of parts that must be short"),
            );
        }
        return found.map(|(_, outcome)| outcome.clone());
    }
    let pairs = table.pairs(pen, "expect", "[[\"outlet\", \"clamp bar\"]]");
    let named: Vec<Option<[String; 2]>> = pairs.iter().map(|pair| names.pair(pen, pair)).collect();
    let named: Option<Vec<[String; 2]>> = named.into_iter().collect();
    named.filter(|pairs| !pairs.is_empty()).map(Outcome::Short)
}

const KINDS: [&str; 3] = ["try", "question", "set-right"];

fn step(
    mut table: Table<'_>,
    pen: &mut Pen,
    of: (&Names<'_>, usize),
    titles: &mut Vec<String>,
) -> Option<Step> {
    let title = table.text(pen, "title", "\"...\"");
    unique(pen, titles, &title, "step");
    if !title.text.is_empty() {
        table.title = format!("step \"{}\"", title.text);
    }
    let text = table.text(pen, "text", "\"...\"").text;
    let points = table.maybe_count(pen, "points", 100);
    let kind = table.choice(pen, "kind", &KINDS)?;
    let task = match kind {
        0 => trials(&mut table, pen, of, points.is_some()).map(Task::Try),
        1 => Some(Task::Question(answers(&mut table, pen))),
        _ => set_right(&mut table, pen, of).map(Task::SetRight),
    };
    table.finish(pen);
    Some(Step { title: title.text, text, points: points.unwrap_or(0).into(), task: task? })
}

fn trials(
    table: &mut Table<'_>,
    pen: &mut Pen,
    of: (&Names<'_>, usize),
    is_scored: bool,
) -> Option<Vec<Trial>> {
    let mut texts = Vec::new();
    let mut trials = Vec::new();
    let mut is_whole = true;
    for mut choice in items(table, pen, "choice", 1) {
        let text = choice.text(pen, "text", "\"...\"");
        unique(pen, &mut texts, &text, "choice");
        let edits = changes(&mut choice, pen, of, "change");
        let outcome = outcome(&mut choice, pen, of.0);
        let because = choice.text(pen, "because", "\"...\"").text;
        choice.finish(pen);
        match outcome {
            Some(outcome) => trials.push(Trial { text: text.text, edits, outcome, because }),
            None => is_whole = false,
        }
    }
    if is_whole && is_scored && trials.iter().all(|t| t.outcome != Outcome::NothingShort) {
        pen.at(
            &table.place("points"),
            format!("{} has points and no right choice", table.title),
            "nobody can have them",
            "add a choice with expect = \"nothing short\", or take the points out",
        );
    }
    is_whole.then_some(trials)
}

fn answers(table: &mut Table<'_>, pen: &mut Pen) -> Vec<Answer> {
    let mut texts = Vec::new();
    let mut answers = Vec::new();
    for mut answer in items(table, pen, "answer", 2) {
        let text = answer.text(pen, "text", "\"...\"");
        unique(pen, &mut texts, &text, "answer");
        let is_right = answer.flag(pen, "right");
        let because = answer.text(pen, "because", "\"...\"").text;
        answer.finish(pen);
        answers.push(Answer { text: text.text, is_right, because });
    }
    if !answers.is_empty() && answers.iter().all(|a| !a.is_right) {
        pen.at(
            table.span(),
            format!("{} has no right answer", table.title),
            "every answer is wrong",
            "write right = true in at least one of its answers",
        );
    }
    answers
}

/// The tables of a step under a key, at least so many.
fn items<'a>(
    table: &mut Table<'a>,
    pen: &mut Pen,
    key: &'static str,
    least: usize,
) -> Vec<Table<'a>> {
    let is_list = table.get(key).is_none_or(|value| value.get_ref().is_array());
    let items = table.tables(pen, key, &format!("step.{key}"));
    if is_list && items.len() < least {
        pen.at(
            table.span(),
            format!(
                "{} has {} [[step.{key}]] where at least {least} are wanted",
                table.title,
                items.len()
            ),
            "too few in here",
            format!("add a table that begins with the line: [[step.{key}]]"),
        );
    }
    items
}

fn set_right(table: &mut Table<'_>, pen: &mut Pen, of: (&Names<'_>, usize)) -> Option<SetRight> {
    let edits = changes(table, pen, of, "change");
    let outcome = outcome(table, pen, of.0);
    if outcome.as_ref().is_some_and(|outcome| !matches!(outcome, Outcome::Short(_))) {
        pen.at(
            &table.place("expect"),
            format!("{} has nothing to set right", table.title),
            "nothing is surely short at its beginning",
            "name what is short there, as in: expect = [[\"outlet\", \"clamp bar\"]]",
        );
    }
    let solution = changes(table, pen, of, "solution");
    if solution.is_empty() {
        pen.at(
            &table.place("solution"),
            format!("{} has no solution", table.title),
            "nothing is changed",
            "add a table [step.solution] with the changes that set it right",
        );
    }
    let because = table.text(pen, "because", "\"...\"").text;
    Some(SetRight { edits, outcome: outcome?, solution, because })
}

/// A text as the names in messages have it.
fn unknown(pen: &mut Pen, what: &str, name: &Text, known: &[String]) {
    if name.text.is_empty() {
        return;
    }
    let words = || known.iter().map(String::as_str);
    let remedy = crate::near::meant(&name.text, words(), || {
        format!("write {}", crate::near::either(words()))
    });
    pen.at(&name.span, format!("there is no {what} \"{}\"", name.text), "not known", remedy);
}
