//! Faults: what is wrong in a document, where, and how to put it right.

use miette::{Diagnostic, LabeledSpan, NamedSource, SourceCode};
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// A marked place in a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Byte range in the document; on character boundaries.
    pub bytes: Range<usize>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What stands under the mark, in a few words.
    pub label: String,
}

/// One thing that is wrong.
#[derive(Debug, Clone)]
pub struct Fault {
    /// The document, as its path was given.
    pub file: String,
    /// Where; `None` when the document as a whole is at fault.
    pub place: Option<Place>,
    /// What is wrong, in one short sentence.
    pub message: String,
    /// How to put it right.
    pub remedy: String,
    source: Option<Arc<NamedSource<String>>>,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Fault {}

impl Diagnostic for Fault {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.remedy))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.source.as_deref().map(|s| s as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let place = self.place.as_ref()?;
        Some(Box::new(std::iter::once(LabeledSpan::new_with_span(
            Some(place.label.clone()),
            place.bytes.clone(),
        ))))
    }
}

impl Fault {
    /// The fault as plain text: message, file and place, the marked line, the remedy.
    pub fn render(&self) -> String {
        let mut text = format!("fault: {}\n", self.message);
        match &self.place {
            None => {
                text.push_str("  in ");
                text.push_str(&self.file);
                text.push('\n');
            }
            Some(place) => {
                let line = self.source.as_ref().map_or("", |s| line_at(s.inner(), place));
                let number = place.line.to_string();
                let gutter = " ".repeat(number.len());
                let before: String = line
                    .chars()
                    .take(place.column - 1)
                    .map(|c| if c == '\t' { '\t' } else { ' ' })
                    .collect();
                let marked = self.source.as_ref().and_then(|s| s.inner().get(place.bytes.clone()));
                let width = marked.map_or(1, |m| m.lines().next().unwrap_or("").chars().count());
                let mark = "^".repeat(width.max(1));
                let at = format!("  at {}:{}:{}", self.file, place.line, place.column);
                let shown = format!(" {number} | {line}");
                let label = format!(" {gutter} | {before}{mark} {}", place.label);
                for line in [at, shown, label] {
                    text.push_str(line.trim_end());
                    text.push('\n');
                }
            }
        }
        text.push_str("  remedy: ");
        text.push_str(&self.remedy);
        text.push('\n');
        text
    }
}

fn line_at<'a>(text: &'a str, place: &Place) -> &'a str {
    let start = text.get(..place.bytes.start).and_then(|t| t.rfind('\n')).map_or(0, |at| at + 1);
    text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or("")
}

/// Everything that is wrong in what was read; never empty.
#[derive(Debug, Clone)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// The faults of several documents; there must be one at least.
    pub(crate) fn joined(all: impl Iterator<Item = Self>) -> Self {
        Self(all.flat_map(|faults| faults.0).collect())
    }

    /// The faults, in the order of their places.
    pub fn iter(&self) -> std::slice::Iter<'_, Fault> {
        self.0.iter()
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// All faults as plain text, one after the other with an empty line between.
    pub fn render(&self) -> String {
        self.0.iter().map(Fault::render).collect::<Vec<_>>().join("\n")
    }
}

impl<'a> IntoIterator for &'a Faults {
    type Item = &'a Fault;
    type IntoIter = std::slice::Iter<'a, Fault>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render())
    }
}

impl std::error::Error for Faults {}

impl Diagnostic for Faults {
    fn related<'a>(&'a self) -> Option<Box<dyn Iterator<Item = &'a dyn Diagnostic> + 'a>> {
        Some(Box::new(self.0.iter().map(|f| f as &dyn Diagnostic)))
    }
}

/// Collects the faults of one document while it is read.
pub(crate) struct Pen {
    file: String,
    source: Option<Arc<NamedSource<String>>>,
    faults: Vec<Fault>,
}

impl Pen {
    /// For a document that has not been opened yet.
    pub(crate) fn new(file: String) -> Self {
        Self { file, source: None, faults: Vec::new() }
    }

    /// From here on places refer to this text.
    pub(crate) fn opened(&mut self, text: String) -> Arc<NamedSource<String>> {
        let source = Arc::new(NamedSource::new(self.file.clone(), text));
        self.source = Some(Arc::clone(&source));
        source
    }

    /// Notes a fault of the document as a whole.
    pub(crate) fn whole(&mut self, message: impl Into<String>, remedy: impl Into<String>) {
        self.faults.push(Fault {
            file: self.file.clone(),
            place: None,
            message: message.into(),
            remedy: remedy.into(),
            source: None,
        });
    }

    /// Notes a fault at a byte range of the document.
    pub(crate) fn at(
        &mut self,
        bytes: &Range<usize>,
        message: impl Into<String>,
        label: impl Into<String>,
        remedy: impl Into<String>,
    ) {
        let text = self.source.as_ref().map_or("", |s| s.inner().as_str());
        let start = boundary(text, bytes.start);
        let end = boundary(text, bytes.end).max(start);
        let before = text.get(..start).unwrap_or("");
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        let place = Place {
            bytes: start..end,
            line: before.matches('\n').count() + 1,
            column: before.get(line_start..).unwrap_or("").chars().count() + 1,
            label: label.into(),
        };
        self.faults.push(Fault {
            file: self.file.clone(),
            place: Some(place),
            message: message.into(),
            remedy: remedy.into(),
            source: self.source.clone(),
        });
    }

    /// Whether nothing is wrong so far.
    pub(crate) fn is_clean(&self) -> bool {
        self.faults.is_empty()
    }

    /// How many faults were noted so far.
    pub(crate) fn count(&self) -> usize {
        self.faults.len()
    }

    /// `value`, or the faults in the order of their places.
    pub(crate) fn close<T>(mut self, value: Option<T>) -> Result<T, Faults> {
        match value {
            Some(value) if self.faults.is_empty() => Ok(value),
            _ => {
                if self.faults.is_empty() {
                    self.whole("the document could not be read", "write it anew from an example");
                }
                self.faults.sort_by_key(|f| f.place.as_ref().map_or(0, |p| p.bytes.start));
                Err(Faults(self.faults))
            }
        }
    }
}

/// The greatest character boundary not beyond `at`.
fn boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
