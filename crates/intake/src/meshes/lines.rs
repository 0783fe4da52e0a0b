//! Files of lines, as bytes.

use super::fault::{MeshFault, shown};

/// The lines of a file that hold something, without space around them, with their numbers.
pub(crate) struct Lines<'a> {
    rest: Option<&'a [u8]>,
    /// Number of the line read last, from 1.
    pub(crate) last: usize,
}

impl<'a> Lines<'a> {
    pub(crate) fn new(bytes: &'a [u8]) -> Self {
        Self { rest: Some(bytes), last: 0 }
    }

    pub(crate) fn next(&mut self) -> Option<&'a [u8]> {
        while let Some(rest) = self.rest {
            let end = rest.iter().position(|b| *b == b'\n');
            let line = rest.get(..end.unwrap_or(rest.len())).unwrap_or(rest).trim_ascii();
            self.rest = end.and_then(|end| rest.get(end + 1..));
            self.last += 1;
            if !line.is_empty() {
                return Some(line);
            }
        }
        None
    }

    /// What has not been read yet.
    pub(crate) fn rest(&self) -> &'a [u8] {
        self.rest.unwrap_or(&[])
    }

    /// A fault at the line read last.
    pub(crate) fn fault(&self, what: impl std::fmt::Display, remedy: &str) -> MeshFault {
        MeshFault::at(format_args!("line {}", self.last), what, remedy)
    }
}

/// The words of a line.
pub(crate) fn words(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    line.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty())
}

/// A finite number, or what is wrong with the word.
pub(crate) fn number(word: Option<&[u8]>) -> Result<f64, String> {
    let Some(word) = word else { return Err("a number is missing".to_owned()) };
    let number = std::str::from_utf8(word).ok().and_then(|w| w.parse::<f64>().ok());
    match number {
        Some(number) if number.is_finite() => Ok(number),
        Some(_) => Err(format!("\"{}\" is not a finite number", shown(word))),
        None => Err(format!("a number expected, found \"{}\"", shown(word))),
    }
}

/// A whole number, or what is wrong with the word.
pub(crate) fn whole(word: &[u8]) -> Result<i64, String> {
    std::str::from_utf8(word)
        .ok()
        .and_then(|w| w.parse().ok())
        .ok_or_else(|| format!("a whole number expected, found \"{}\"", shown(word)))
}
