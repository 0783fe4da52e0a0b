//! Reading of `number unit` text: decimals, fractions, mixed numbers, feet with inches.

use crate::ParseError;
use std::ops::Range;

/// What a kind of quantity accepts.
pub(crate) struct Grammar {
    /// The quantity in words with its article: "a length".
    pub(crate) noun: &'static str,
    /// Two ways to write one, quoted, for remedies.
    pub(crate) examples: &'static str,
    /// Unit spellings, each with its factor to the inside unit as numerator and denominator, so
    /// that decimal factors such as 25.4 round once.
    pub(crate) units: &'static [(&'static str, f64, f64)],
    /// Spellings of which the first may be followed by the second: feet, then inches.
    pub(crate) compound: Option<(&'static [&'static str], &'static [&'static str])>,
}

/// A number as written: `top / bottom`, both exact for the integers and fractions people write.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Number {
    top: f64,
    bottom: f64,
}

/// A cursor over the text.
pub(crate) struct Cursor<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Cursor<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self { text, at: 0 }
    }

    pub(crate) fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    pub(crate) fn at(&self) -> usize {
        self.at
    }

    pub(crate) fn skip_space(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    pub(crate) fn eat(&mut self, c: char) -> bool {
        let found = self.rest().starts_with(c);
        if found {
            self.at += c.len_utf8();
        }
        found
    }

    /// The longest run of ASCII digits here, perhaps empty.
    pub(crate) fn digits(&mut self) -> &'a str {
        let rest = self.rest();
        let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        self.at += end;
        rest.get(..end).unwrap_or("")
    }

    /// Tries `read`; goes back to where it stood when that gives nothing.
    fn attempt<T>(&mut self, read: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        let start = self.at;
        let got = read(self);
        if got.is_none() {
            self.at = start;
        }
        got
    }

    /// `/ digits`, spaces allowed around the stroke.
    fn denominator(&mut self) -> Option<(&'a str, Range<usize>)> {
        self.attempt(|c| {
            c.skip_space();
            if !c.eat('/') {
                return None;
            }
            c.skip_space();
            let start = c.at;
            let digits = c.digits();
            (!digits.is_empty()).then_some((digits, start..c.at))
        })
    }

    /// A decimal, an integer, a fraction or a mixed number, without sign. `None` when no digit
    /// stands here.
    pub(crate) fn number(&mut self) -> Result<Option<Number>, ParseError> {
        let start = self.at;
        let whole = self.digits();
        let decimal = self.attempt(|c| {
            c.eat('.').then_some(())?;
            let fraction = c.digits();
            (!(whole.is_empty() && fraction.is_empty())).then_some(())
        });
        if whole.is_empty() && decimal.is_none() {
            return Ok(None);
        }
        let exponent = self.attempt(|c| {
            (c.eat('e') || c.eat('E')).then_some(())?;
            let _ = c.eat('-') || c.eat('+');
            (!c.digits().is_empty()).then_some(())
        });
        if decimal.is_some() || exponent.is_some() {
            let written = self.text.get(start..self.at).unwrap_or("");
            let top = finite(written, start..self.at)?;
            return Ok(Some(Number { top, bottom: 1.0 }));
        }
        if self.rest().starts_with(',') {
            return Err(ParseError::new(
                self.at..self.at + 1,
                "a comma in a number",
                "write the decimal sign as a point: \"19.05 mm\"",
            ));
        }
        if let Some((bottom, span)) = self.denominator() {
            return fraction(None, (whole, start..start + whole.len()), (bottom, span)).map(Some);
        }
        let mixed = self.attempt(|c| {
            if !c.eat('-') {
                c.skip_space();
            }
            let top_start = c.at;
            let top = c.digits();
            if top.is_empty() {
                return None;
            }
            let top_span = top_start..c.at;
            c.denominator().map(|bottom| ((top, top_span), bottom))
        });
        let whole = (whole, start..start + whole.len());
        match mixed {
            Some((top, bottom)) => fraction(Some(whole), top, bottom).map(Some),
            None => Ok(Some(Number { top: finite(whole.0, whole.1)?, bottom: 1.0 })),
        }
    }

    /// Everything up to the next digit, sign or the end, trimmed: a unit, with its place. A hyphen
    /// between two letters is no sign: `lb-ft`.
    fn unit(&mut self) -> (&'a str, Range<usize>) {
        self.skip_space();
        let start = self.at;
        let rest = self.rest();
        let letter = |c: Option<char>| c.is_some_and(char::is_alphabetic);
        let hyphen = |at: usize| {
            let (before, after) = (rest.get(..at), rest.get(at + 1..));
            letter(before.and_then(|t| t.chars().next_back()))
                && letter(after.and_then(|t| t.chars().next()))
        };
        let end = rest
            .char_indices()
            .find(|&(at, c)| match c {
                '-' => !hyphen(at),
                '.' | '+' => true,
                _ => c.is_ascii_digit(),
            })
            .map_or(rest.len(), |(at, _)| at);
        self.at += end;
        let unit = rest.get(..end).unwrap_or("").trim_end();
        (unit, start..start + unit.len())
    }
}

fn finite(digits: &str, span: Range<usize>) -> Result<f64, ParseError> {
    match digits.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(ParseError::new(span, "a number too large to hold", "write a smaller number")),
    }
}

fn fraction(
    whole: Option<(&str, Range<usize>)>,
    top: (&str, Range<usize>),
    bottom: (&str, Range<usize>),
) -> Result<Number, ParseError> {
    let span = top.1.start..bottom.1.end;
    let (t, b) = (finite(top.0, top.1)?, finite(bottom.0, bottom.1.clone())?);
    if b == 0.0 {
        return Err(ParseError::new(
            bottom.1,
            "a fraction over zero",
            "write the denominator, as in \"3/4 in\"",
        ));
    }
    let Some((whole, whole_span)) = whole else {
        return Ok(Number { top: t, bottom: b });
    };
    if t >= b {
        return Err(ParseError::new(
            span,
            "the fraction of a mixed number is one or more",
            "write a proper fraction after the whole number, as in \"1 1/2 in\"",
        ));
    }
    let top = finite(whole, whole_span.clone())?.mul_add(b, t);
    if !top.is_finite() {
        return Err(ParseError::new(
            whole_span,
            "a number too large to hold",
            "write a smaller one",
        ));
    }
    Ok(Number { top, bottom: b })
}

impl Grammar {
    /// Reads a whole text: sign, number, unit, and for feet perhaps inches after them. The result
    /// is in the inside unit and finite.
    pub(crate) fn read(&self, text: &str) -> Result<f64, ParseError> {
        let mut cursor = Cursor::new(text);
        cursor.skip_space();
        let negative = cursor.eat('-');
        if !negative {
            let _ = cursor.eat('+');
        }
        cursor.skip_space();
        let (mut value, unit) = self.term(&mut cursor, text)?;
        cursor.skip_space();
        if let Some((first, second)) = self.compound
            && first.contains(&unit)
            && !cursor.rest().is_empty()
        {
            let start = cursor.at();
            let (more, unit) = self.term(&mut cursor, text)?;
            if !second.contains(&unit) {
                return Err(ParseError::new(
                    start..text.len(),
                    "only inches can follow feet",
                    "write it in one unit, or as in \"2 ft 1 in\"",
                ));
            }
            value += more;
            cursor.skip_space();
        }
        if !cursor.rest().is_empty() {
            return Err(ParseError::new(
                cursor.at()..text.len(),
                "more text than one quantity",
                format!("write {} such as {}", self.noun, self.examples),
            ));
        }
        if !value.is_finite() {
            return Err(ParseError::new(
                0..text.len(),
                "a quantity too large to hold",
                "write a smaller number",
            ));
        }
        Ok(if negative { -value } else { value })
    }

    fn term<'a>(&self, cursor: &mut Cursor<'a>, text: &str) -> Result<(f64, &'a str), ParseError> {
        let start = cursor.at();
        let Some(number) = cursor.number()? else {
            let span = if start < text.len() { start..text.len() } else { 0..text.len() };
            return Err(ParseError::new(
                span,
                "no number here",
                format!("write {} such as {}", self.noun, self.examples),
            ));
        };
        let written = text.get(start..cursor.at()).unwrap_or("").to_owned();
        let (unit, span) = cursor.unit();
        if unit.is_empty() {
            return Err(ParseError::new(
                start..start + written.len(),
                "a number without a unit",
                format!("write the unit after it, as in {}", self.examples),
            ));
        }
        let spelt = unit.replace(['\u{b7}', '*', '-'], " ");
        let spelt = spelt.split_whitespace().collect::<Vec<_>>().join(" ");
        let Some((_, top, bottom)) = self.units.iter().find(|(name, ..)| *name == spelt) else {
            let near = self.units.iter().find(|(name, ..)| name.eq_ignore_ascii_case(&spelt));
            let remedy = near.map_or_else(
                || format!("write {} such as {}", self.noun, self.examples),
                |(name, ..)| format!("write \"{written} {name}\""),
            );
            return Err(ParseError::new(span, format!("\"{unit}\" is not a unit here"), remedy));
        };
        Ok(((number.top * top) / (number.bottom * bottom), unit))
    }
}
