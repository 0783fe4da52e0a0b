//! A table of words: patterns by which names are understood, the user's own.

use crate::document;
use crate::fault::{Faults, Pen};
use crate::table::{ROOT, Table};
use std::path::Path;
use survey::{Meaning, Words};

/// Reads a table of words, which go before the usual ones:
///
/// ```toml
/// format = 1
/// [words]
/// plate = ["deck"]
/// "sampling valve" = ["sv"]
/// ```
///
/// # Errors
/// Everything that is wrong, each with its place and remedy.
pub fn read_words(path: &Path) -> Result<Words, Faults> {
    let mut pen = Pen::new(path.display().to_string());
    let words = read(&mut pen, path);
    pen.close(words)
}

fn read(pen: &mut Pen, path: &Path) -> Option<Words> {
    let (text, _) = document::text(pen, path, "a table of words")?;
    let source = pen.opened(text);
    let text = source.inner();
    let parsed = document::parse(pen, text)?;
    let mut root = Table::new(parsed.get_ref(), document::first_line(text), ROOT);
    crate::case::form(&mut root, pen);
    let mut words = Words::usual();
    if let Some(mut table) = root.table(pen, "words") {
        for meaning in Meaning::all() {
            if !table.has(meaning.word()) {
                continue;
            }
            for pattern in table.texts(pen, meaning.word(), "[\"word\"]") {
                if let Err(error) = words.add(meaning, &pattern.text)
                    && !pattern.text.is_empty()
                {
                    pen.at(
                        &pattern.span,
                        error.to_string(),
                        "met by no name",
                        "write the words that a name must hold, as in \"liquid valve\" or \"liq*\"",
                    );
                }
            }
        }
        table.finish(pen);
    }
    root.finish(pen);
    pen.is_clean().then_some(words)
}
