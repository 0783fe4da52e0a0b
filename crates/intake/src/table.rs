//! Walking a parsed document: every key that is asked for is known, every other key is a fault.
//!
//! Reading goes on after a fault so that all of them are told at once. A value that could not be
//! read becomes a stand-in: an empty text, a number that is not a number (NaN). Comparisons with NaN
//! are false, so a check written as `if a > b { fault }` stays silent about stand-ins; and since
//! the pen holds a fault by then, nothing built from a stand-in is ever handed out.

use crate::fault::Pen;
use crate::near::{either, meant, nearest};
use measure::{Angle, Length, ParseError};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A text with its place.
#[derive(Debug, Clone)]
pub(crate) struct Text {
    pub(crate) text: String,
    pub(crate) span: Range<usize>,
}

/// A number with its place; NaN when it could not be read.
#[derive(Debug, Clone)]
pub(crate) struct Number {
    pub(crate) value: f64,
    pub(crate) span: Range<usize>,
}

/// What a length may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Bound {
    /// Greater than zero.
    Positive,
    /// Zero or greater.
    NotNegative,
    /// Any sign.
    Any,
}

/// Beyond this no length in a document makes sense: 100 m, in millimetres.
const GREATEST_LENGTH: f64 = 100_000.0;

/// A table being read.
pub(crate) struct Table<'a> {
    entries: &'a DeTable<'a>,
    span: Range<usize>,
    /// What it is, for messages: `[plate]`, `cup "A"`.
    pub(crate) title: String,
    known: Vec<&'static str>,
}

impl<'a> Table<'a> {
    pub(crate) fn new(
        entries: &'a DeTable<'a>,
        span: Range<usize>,
        title: impl Into<String>,
    ) -> Self {
        Self { entries, span, title: title.into(), known: Vec::new() }
    }

    /// The place of the table's header.
    pub(crate) fn span(&self) -> &Range<usize> {
        &self.span
    }

    /// The value of a key that may be left out.
    pub(crate) fn get(&mut self, key: &'static str) -> Option<&'a Spanned<DeValue<'a>>> {
        if !self.known.contains(&key) {
            self.known.push(key);
        }
        self.entries.get(key)
    }

    /// The value of a key that must be there.
    fn need(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
    ) -> Option<&'a Spanned<DeValue<'a>>> {
        let value = self.get(key);
        if value.is_none() {
            pen.at(
                &self.span,
                format!("{} has no \"{key}\"", self.title),
                format!("\"{key}\" is missing here"),
                format!("add a line such as: {key} = {example}"),
            );
        }
        value
    }

    /// The place of a key's value, or of the table where the key is missing.
    pub(crate) fn place(&self, key: &str) -> Range<usize> {
        self.entries.get(key).map_or_else(|| self.span.clone(), Spanned::span)
    }

    /// [`Self::finish`], keeping the table for the places of its values.
    pub(crate) fn finished(self, pen: &mut Pen) -> Self {
        self.note_unknown(pen);
        self
    }

    /// Notes every key that was never asked for.
    pub(crate) fn finish(self, pen: &mut Pen) {
        self.note_unknown(pen);
    }

    fn note_unknown(&self, pen: &mut Pen) {
        for key in self.entries.keys() {
            let word: &str = key.get_ref();
            if self.known.contains(&word) {
                continue;
            }
            let near = nearest(word, self.known.iter().copied());
            let remedy = near.map_or_else(
                || {
                    let mut known = self.known.clone();
                    known.sort_unstable();
                    format!("take it out; {} knows {}", self.title, known.join(", "))
                },
                |near| format!("did you mean \"{near}\"? If not, take it out"),
            );
            pen.at(
                &key.span(),
                format!("{} has no key \"{word}\"", self.title),
                "unknown key",
                remedy,
            );
        }
    }

    /// A text that must be there and not be empty.
    pub(crate) fn text(&mut self, pen: &mut Pen, key: &'static str, example: &str) -> Text {
        let Some(value) = self.need(pen, key, example) else {
            return Text { text: String::new(), span: self.span.clone() };
        };
        text_of(pen, value, key, example)
    }

    /// A text that may be left out.
    pub(crate) fn maybe_text(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
    ) -> Option<Text> {
        self.get(key).map(|value| text_of(pen, value, key, example))
    }

    /// `true` or `false`, if there.
    pub(crate) fn maybe_flag(&mut self, pen: &mut Pen, key: &'static str) -> Option<bool> {
        let value = self.get(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            wrong_kind(pen, value, key, "true or false", "true");
        }
        flag
    }

    /// `true` or `false`.
    pub(crate) fn flag(&mut self, pen: &mut Pen, key: &'static str) -> bool {
        let _ = self.need(pen, key, "true");
        self.maybe_flag(pen, key).unwrap_or(false)
    }

    /// One of a few words; the index among them.
    pub(crate) fn choice(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        words: &[&str],
    ) -> Option<usize> {
        let example = format!("\"{}\"", words.first().unwrap_or(&""));
        let text = self.text(pen, key, &example);
        choice_of(pen, &text, key, words)
    }

    /// A length in millimetres; NaN when it could not be read.
    pub(crate) fn length(&mut self, pen: &mut Pen, key: &'static str, bound: Bound) -> Number {
        match self.need(pen, key, "\"3/4 in\"") {
            None => Number { value: f64::NAN, span: self.span.clone() },
            Some(value) => length_of(pen, value, key, bound),
        }
    }

    /// Two or three lengths.
    pub(crate) fn lengths<const N: usize>(&mut self, pen: &mut Pen, key: &'static str) -> [f64; N] {
        let mut out = [f64::NAN; N];
        let example = format!("[{}]", vec!["\"1 in\""; N].join(", "));
        let Some(value) = self.need(pen, key, &example) else { return out };
        if let Some(items) = array_of(pen, value, key, N, &example) {
            for (slot, item) in out.iter_mut().zip(items) {
                *slot = length_of(pen, item, key, Bound::Any).value;
            }
        }
        out
    }

    /// A direction: three plain numbers. `None` when it is missing or at fault.
    pub(crate) fn direction(&mut self, pen: &mut Pen, key: &'static str) -> Option<[f64; 3]> {
        let value = self.need(pen, key, "[0, 0, 1]")?;
        let items = array_of(pen, value, key, 3, "[0, 0, 1]")?;
        let mut out = [0.0; 3];
        for (slot, item) in out.iter_mut().zip(items) {
            *slot = number_of(pen, item, key)?;
        }
        if out.iter().all(|c| *c == 0.0) {
            pen.at(
                &value.span(),
                format!("\"{key}\" has no direction"),
                "all three numbers are zero",
                "write the three components of a direction, as in [0, 0, 1]",
            );
            return None;
        }
        Some(out)
    }

    /// An angle, read by `read`; NaN when it could not be read.
    pub(crate) fn angle(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        read: fn(&str) -> Result<Angle, ParseError>,
    ) -> Number {
        match self.need(pen, key, "\"30 deg\"") {
            None => Number { value: f64::NAN, span: self.span.clone() },
            Some(value) => angle_of(pen, value, key, read),
        }
    }

    /// The first of these keys that is there, with its place. Knows them all from then on.
    pub(crate) fn any_of(&mut self, keys: &[&'static str]) -> Option<Range<usize>> {
        let found = keys.iter().filter_map(|key| self.get(key).map(Spanned::span));
        found.min_by_key(|span| span.start)
    }

    /// A list of texts; empty when it is missing or at fault.
    pub(crate) fn texts(&mut self, pen: &mut Pen, key: &'static str, example: &str) -> Vec<Text> {
        let Some(value) = self.need(pen, key, example) else { return Vec::new() };
        list_of(pen, value, key, example)
            .unwrap_or_default()
            .iter()
            .map(|item| text_of(pen, item, key, "\"name\""))
            .collect()
    }

    /// A list of texts that may be left out.
    pub(crate) fn maybe_texts(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
    ) -> Vec<Text> {
        if self.has(key) { self.texts(pen, key, example) } else { Vec::new() }
    }

    /// A list of values that must be there and not be empty.
    pub(crate) fn list(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
    ) -> &'a [Spanned<DeValue<'a>>] {
        let Some(value) = self.need(pen, key, example) else { return &[] };
        let list = list_of(pen, value, key, example).unwrap_or_default();
        if list.is_empty() && value.get_ref().is_array() {
            pen.at(
                &value.span(),
                format!("\"{key}\" is empty"),
                "nothing listed",
                format!("list at least one, as in {example}"),
            );
        }
        list
    }

    /// A list of pairs of texts that must be there and not be empty; pairs at fault are left out.
    pub(crate) fn pairs(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
    ) -> Vec<[Text; 2]> {
        let list = self.list(pen, key, example);
        let pair = |item| {
            let [a, b] = array_of(pen, item, key, 2, example)? else { return None };
            Some([a, b].map(|text| text_of(pen, text, key, "\"name\"")))
        };
        list.iter().filter_map(pair).collect()
    }

    /// A table that may be left out.
    pub(crate) fn maybe_table(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        title: &str,
    ) -> Option<Table<'a>> {
        let value = self.get(key)?;
        table_of(pen, value, key, title)
    }

    /// A table that must be there.
    pub(crate) fn table(&mut self, pen: &mut Pen, key: &'static str) -> Option<Table<'a>> {
        let title = format!("[{key}]");
        if self.get(key).is_none() {
            let whose = if self.title == ROOT { "the document" } else { self.title.as_str() };
            pen.at(
                &self.span,
                format!("{whose} has no {title}"),
                format!("no {title} in here"),
                format!("add a table that begins with the line: {title}"),
            );
        }
        self.maybe_table(pen, key, &title)
    }

    /// Whether the table has a key, with anything under it.
    pub(crate) fn has(&mut self, key: &'static str) -> bool {
        self.get(key).is_some()
    }

    /// The tables written as `[[key]]`, in order; none when there are none.
    pub(crate) fn tables(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        title: &str,
    ) -> Vec<Table<'a>> {
        let Some(value) = self.get(key) else { return Vec::new() };
        let Some(items) = value.get_ref().as_array() else {
            pen.at(
                &value.span(),
                format!("\"{key}\" is {}, not a list of tables", kind(value.get_ref())),
                "one pair of brackets, or a plain value",
                format!("begin each one with the line: [[{title}]]"),
            );
            return Vec::new();
        };
        items.iter().filter_map(|item| table_of(pen, item, key, &format!("[[{title}]]"))).collect()
    }
}

/// The title of the document's outermost table.
pub(crate) const ROOT: &str = "the document";

/// What a value is, with its article.
fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a bare number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn wrong_kind(pen: &mut Pen, value: &Spanned<DeValue<'_>>, key: &str, wanted: &str, example: &str) {
    pen.at(
        &value.span(),
        format!("\"{key}\" is {}, not {wanted}", kind(value.get_ref())),
        format!("{wanted} is wanted here"),
        format!("write it as in: {key} = {example}"),
    );
}

fn text_of(pen: &mut Pen, value: &Spanned<DeValue<'_>>, key: &str, example: &str) -> Text {
    let span = value.span();
    let text = match value.get_ref() {
        DeValue::String(text) => text.trim().to_owned(),
        DeValue::Datetime(date) if key == "on" => date.to_string(),
        _ => {
            wrong_kind(pen, value, key, "a text", example);
            return Text { text: String::new(), span };
        }
    };
    if text.is_empty() {
        pen.at(
            &span,
            format!("\"{key}\" is empty"),
            "nothing between the quotes",
            format!("write it as in: {key} = {example}"),
        );
    }
    Text { text, span }
}

/// The index of a text among a few words.
pub(crate) fn choice_of(pen: &mut Pen, text: &Text, key: &str, words: &[&str]) -> Option<usize> {
    if text.text.is_empty() {
        return None;
    }
    let found = words.iter().position(|w| *w == text.text);
    if found.is_none() {
        let remedy = meant(&text.text, words.iter().copied(), || {
            format!("write {}", either(words.iter().copied()))
        });
        pen.at(
            &text.span,
            format!("\"{key}\" cannot be \"{}\"", text.text),
            "not a known word",
            remedy,
        );
    }
    found
}

fn list_of<'a>(
    pen: &mut Pen,
    value: &'a Spanned<DeValue<'a>>,
    key: &str,
    example: &str,
) -> Option<&'a [Spanned<DeValue<'a>>]> {
    let list = value.get_ref().as_array();
    if list.is_none() {
        wrong_kind(pen, value, key, "a list", example);
    }
    list.map(|l| &**l)
}

/// A list of exactly `count` values.
fn array_of<'a>(
    pen: &mut Pen,
    value: &'a Spanned<DeValue<'a>>,
    key: &str,
    count: usize,
    example: &str,
) -> Option<&'a [Spanned<DeValue<'a>>]> {
    let list = list_of(pen, value, key, example)?;
    if list.len() == count {
        return Some(list);
    }
    pen.at(
        &value.span(),
        format!("\"{key}\" has {} values where {count} are wanted", list.len()),
        format!("{count} values are wanted here"),
        format!("write it as in: {key} = {example}"),
    );
    None
}

/// A quantity written as a text with its unit.
pub(crate) fn quantity_of(
    pen: &mut Pen,
    value: &Spanned<DeValue<'_>>,
    key: &str,
    noun: &str,
    example: &str,
    read: impl Fn(&str) -> Result<f64, ParseError>,
) -> Number {
    let span = value.span();
    let nothing = Number { value: f64::NAN, span: span.clone() };
    let bare = match value.get_ref() {
        DeValue::String(text) => {
            return match read(text) {
                Ok(value) => Number { value, span },
                Err(error) => {
                    // The quote takes one byte. With escapes in the text the offsets would not
                    // match, so then the whole value is marked.
                    let plain = span.len() == text.len() + 2;
                    let place = if plain && !error.span.is_empty() {
                        span.start + 1 + error.span.start..span.start + 1 + error.span.end
                    } else {
                        span
                    };
                    pen.at(&place, format!("\"{key}\" is not {noun}"), error.message, error.remedy);
                    nothing
                }
            };
        }
        DeValue::Integer(number) => number.to_string(),
        DeValue::Float(number) => number.to_string(),
        _ => {
            wrong_kind(pen, value, key, &format!("{noun} with its unit"), example);
            return nothing;
        }
    };
    let remedy = match noun {
        "a length" => format!("write {key} = \"{bare} in\" or {key} = \"{bare} mm\""),
        "an angle" => format!("write {key} = \"{bare} deg\""),
        _ => format!("write it as in: {key} = {example}"),
    };
    pen.at(&span, format!("\"{key}\" is a bare number"), "has no unit", remedy);
    nothing
}

/// A length in millimetres.
pub(crate) fn length_of(
    pen: &mut Pen,
    value: &Spanned<DeValue<'_>>,
    key: &str,
    bound: Bound,
) -> Number {
    let number = quantity_of(pen, value, key, "a length", "\"3/4 in\"", |t| {
        t.parse::<Length>().map(Length::mm)
    });
    let wrong = match bound {
        Bound::Positive if number.value <= 0.0 => {
            Some(("is not greater than zero", "write a length greater than zero"))
        }
        Bound::NotNegative if number.value < 0.0 => {
            Some(("is negative", "write a length of zero or more"))
        }
        _ if number.value.abs() > GREATEST_LENGTH => {
            Some(("is longer than 100 m", "check the number and its unit"))
        }
        _ => None,
    };
    match wrong {
        None => number,
        Some((what, remedy)) => {
            pen.at(&number.span, format!("\"{key}\" {what}"), "not possible", remedy);
            Number { value: f64::NAN, span: number.span }
        }
    }
}

/// An angle in radians.
pub(crate) fn angle_of(
    pen: &mut Pen,
    value: &Spanned<DeValue<'_>>,
    key: &str,
    read: fn(&str) -> Result<Angle, ParseError>,
) -> Number {
    quantity_of(pen, value, key, "an angle", "\"30 deg\"", |t| read(t).map(Angle::radians))
}

/// A plain finite number.
fn number_of(pen: &mut Pen, value: &Spanned<DeValue<'_>>, key: &str) -> Option<f64> {
    let number = match value.get_ref() {
        DeValue::Integer(n) if n.radix() == 10 => n.as_str().parse::<f64>().ok(),
        DeValue::Float(n) => n.as_str().parse::<f64>().ok(),
        _ => None,
    };
    let number = number.filter(|n| n.is_finite() && n.abs() < 1e100);
    if number.is_none() {
        pen.at(
            &value.span(),
            format!("\"{key}\" holds something that is no plain number"),
            "a plain number is wanted here",
            format!("write three plain numbers, as in: {key} = [0, 0, 1]"),
        );
    }
    number
}

fn table_of<'a>(
    pen: &mut Pen,
    value: &'a Spanned<DeValue<'a>>,
    key: &str,
    title: &str,
) -> Option<Table<'a>> {
    if let Some(table) = value.get_ref().as_table() {
        return Some(Table::new(table, value.span(), title));
    }
    pen.at(
        &value.span(),
        format!("\"{key}\" is {}, not a table", kind(value.get_ref())),
        "a table is wanted here",
        format!("begin it with a line of its own: {title}"),
    );
    None
}
