//! Tokens of ISO 10303-21.

use super::SyntaxError;
use std::borrow::Cow;

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Token<'a> {
    /// An entity type, section name or the like, in capitals.
    Keyword(Cow<'a, str>),
    Reference(u64),
    /// `@12`, `<..>` or a named constant: something that lies elsewhere.
    Elsewhere,
    Number(f64),
    Text(&'a [u8]),
    Enumeration(Cow<'a, str>),
    Binary,
    Open,
    Close,
    Comma,
    Semicolon,
    Equals,
    Dollar,
    Star,
    Other(u8),
    End,
}

impl Token<'_> {
    /// As told to people.
    pub(super) fn told(&self) -> String {
        match self {
            Self::Keyword(k) => cut(k),
            Self::Reference(id) => format!("#{id}"),
            Self::Elsewhere => "a name from elsewhere".into(),
            Self::Number(x) => format!("{x}"),
            Self::Text(_) => "a string".into(),
            Self::Enumeration(e) => format!(".{}.", cut(e)),
            Self::Binary => "a binary".into(),
            Self::Open => "\"(\"".into(),
            Self::Close => "\")\"".into(),
            Self::Comma => "\",\"".into(),
            Self::Semicolon => "\";\"".into(),
            Self::Equals => "\"=\"".into(),
            Self::Dollar => "\"$\"".into(),
            Self::Star => "\"*\"".into(),
            Self::Other(b) if b.is_ascii_graphic() => format!("\"{}\"", char::from(*b)),
            Self::Other(b) => format!("byte 0x{b:02X}"),
            Self::End => "the end of the file".into(),
        }
    }
}

fn cut(text: &str) -> String {
    if text.chars().count() <= 40 {
        text.into()
    } else {
        text.chars().take(40).chain("...".chars()).collect()
    }
}

pub(super) struct Lexer<'a> {
    bytes: &'a [u8],
    at: usize,
    /// The last place that was asked for, and its line and where that begins: places are asked for
    /// in ascending order, so that counting lines takes one pass over the file.
    known: std::cell::Cell<(usize, usize, usize)>,
}

impl<'a> Lexer<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        // A byte order mark is no part of the text.
        let at = if bytes.starts_with(&[0xEF, 0xBB, 0xBF]) { 3 } else { 0 };
        Self { bytes, at, known: std::cell::Cell::new((0, 1, 0)) }
    }

    /// Line and column, both from 1.
    pub(super) fn place(&self, at: usize) -> (usize, usize) {
        let (mut from, mut line, mut begins) = self.known.get();
        if at < from {
            (from, line, begins) = (0, 1, 0);
        }
        for (offset, byte) in self.bytes.iter().enumerate().take(at).skip(from) {
            if *byte == b'\n' {
                line += 1;
                begins = offset + 1;
            }
        }
        self.known.set((at, line, begins));
        (line, at - begins + 1)
    }

    fn byte(&self, offset: usize) -> Option<u8> {
        self.bytes.get(self.at + offset).copied()
    }

    fn unclosed(&self, at: usize, what: &'static str) -> SyntaxError {
        let (line, column) = self.place(at);
        SyntaxError::Unclosed { line, column, what }
    }

    /// Passes blanks and comments.
    fn pass_blanks(&mut self) -> Result<(), SyntaxError> {
        loop {
            match self.byte(0) {
                Some(b) if b.is_ascii_whitespace() || b == 0x0B || b == 0 => self.at += 1,
                // Print control directives within the text, clause 6.4.4.
                Some(b'\\') if matches!(self.byte(1), Some(b'N' | b'F')) => {
                    self.at += if self.byte(2) == Some(b'\\') { 3 } else { 2 };
                }
                Some(b'/') if self.byte(1) == Some(b'*') => {
                    let rest = self.bytes.get(self.at + 2..).unwrap_or(&[]);
                    let Some(end) = rest.windows(2).position(|w| w == b"*/") else {
                        return Err(self.unclosed(self.at, "a comment"));
                    };
                    self.at += end + 4;
                }
                _ => return Ok(()),
            }
        }
    }

    /// Passes a section whose content is not read, its ENDSEC included. A name in angle brackets and
    /// a string may hold that word.
    pub(super) fn pass_section(&mut self) {
        while let Some(byte) = self.byte(0) {
            let close = match byte {
                b'\'' => Some(b'\''),
                b'<' => Some(b'>'),
                _ => None,
            };
            if let Some(close) = close {
                let rest = self.bytes.get(self.at + 1..).unwrap_or(&[]);
                let inside = rest.iter().position(|b| *b == close).unwrap_or(rest.len());
                self.at += inside + 2;
            } else if self.bytes.get(self.at..).is_some_and(|r| r.starts_with(b"ENDSEC")) {
                self.at += 6;
                while self.byte(0).is_some_and(|b| b.is_ascii_whitespace()) {
                    self.at += 1;
                }
                if self.byte(0) == Some(b';') {
                    self.at += 1;
                    return;
                }
            } else {
                self.at += 1;
            }
        }
    }

    /// Bytes from here on that satisfy `belongs`, taken.
    fn take(&mut self, belongs: impl Fn(u8) -> bool) -> &'a [u8] {
        let rest = self.bytes.get(self.at..).unwrap_or(&[]);
        let length = rest.iter().position(|b| !belongs(*b)).unwrap_or(rest.len());
        self.at += length;
        rest.get(..length).unwrap_or(&[])
    }

    /// The next token with where it begins.
    pub(super) fn next(&mut self) -> Result<(Token<'a>, usize), SyntaxError> {
        self.pass_blanks()?;
        let at = self.at;
        let Some(byte) = self.byte(0) else { return Ok((Token::End, at)) };
        let single = match byte {
            b'(' => Some(Token::Open),
            b')' => Some(Token::Close),
            b',' => Some(Token::Comma),
            b';' => Some(Token::Semicolon),
            b'=' => Some(Token::Equals),
            b'$' => Some(Token::Dollar),
            b'*' => Some(Token::Star),
            _ => None,
        };
        if let Some(token) = single {
            self.at += 1;
            return Ok((token, at));
        }
        let token = match byte {
            b'\'' => self.string(at)?,
            b'"' => {
                self.at += 1;
                self.take(|b| b != b'"');
                if self.byte(0).is_none() {
                    return Err(self.unclosed(at, "a binary"));
                }
                self.at += 1;
                Token::Binary
            }
            b'<' => {
                self.take(|b| b != b'>');
                self.at += 1;
                Token::Elsewhere
            }
            b'#' | b'@' => self.name(at, byte)?,
            b'.' if self.byte(1).is_some_and(|b| b.is_ascii_alphabetic() || b == b'_') => {
                self.at += 1;
                let name = self.take(|b| b.is_ascii_alphanumeric() || b == b'_');
                if self.byte(0) != Some(b'.') {
                    let (line, column) = self.place(self.at);
                    let found = self.byte(0).map_or(Token::End, Token::Other).told();
                    let expected = "\".\" at the end of an enumeration";
                    return Err(SyntaxError::Unexpected { line, column, expected, found });
                }
                self.at += 1;
                Token::Enumeration(capitals(name))
            }
            b'0'..=b'9' | b'+' | b'-' | b'.' => self.number(at)?,
            b'!' | b'_' | b'a'..=b'z' | b'A'..=b'Z' => {
                self.at += 1;
                self.take(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-');
                Token::Keyword(capitals(self.bytes.get(at..self.at).unwrap_or(&[])))
            }
            other => {
                self.at += 1;
                Token::Other(other)
            }
        };
        Ok((token, at))
    }

    fn string(&mut self, at: usize) -> Result<Token<'a>, SyntaxError> {
        self.at += 1;
        let begins = self.at;
        loop {
            self.take(|b| b != b'\'');
            match (self.byte(0), self.byte(1)) {
                (None, _) => return Err(self.unclosed(at, "a string")),
                (_, Some(b'\'')) => self.at += 2,
                _ => break,
            }
        }
        let text = self.bytes.get(begins..self.at).unwrap_or(&[]);
        self.at += 1;
        Ok(Token::Text(text))
    }

    fn name(&mut self, at: usize, mark: u8) -> Result<Token<'a>, SyntaxError> {
        self.at += 1;
        let word = self.take(|b| b.is_ascii_alphanumeric() || b == b'_');
        let digits = !word.is_empty() && word.iter().all(u8::is_ascii_digit);
        if mark == b'@' || (!digits && !word.is_empty()) {
            return Ok(Token::Elsewhere);
        }
        let id = std::str::from_utf8(word).ok().and_then(|w| w.parse().ok());
        id.map(Token::Reference).ok_or_else(|| self.no_number(at))
    }

    fn number(&mut self, at: usize) -> Result<Token<'a>, SyntaxError> {
        let word =
            self.take(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b'E' | b'e'));
        let number = std::str::from_utf8(word).ok().and_then(|w| w.parse::<f64>().ok());
        match number {
            Some(x) if x.is_finite() => Ok(Token::Number(x)),
            _ => Err(self.no_number(at)),
        }
    }

    fn no_number(&self, at: usize) -> SyntaxError {
        let (line, column) = self.place(at);
        let text = String::from_utf8_lossy(self.bytes.get(at..self.at).unwrap_or(&[]));
        SyntaxError::Number { line, column, found: format!("\"{}\"", cut(&text)) }
    }
}

/// A word in capitals; the standard has no other, some writers do.
fn capitals(word: &[u8]) -> Cow<'_, str> {
    match String::from_utf8_lossy(word) {
        Cow::Borrowed(w) if !w.bytes().any(|b| b.is_ascii_lowercase()) => Cow::Borrowed(w),
        other => Cow::Owned(other.to_ascii_uppercase()),
    }
}
