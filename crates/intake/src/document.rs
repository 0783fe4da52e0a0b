//! Opening files: documents as text, meshes as bytes, each with its hash.

use crate::fault::Pen;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use toml::Spanned;
use toml::de::DeTable;

/// A document may be this long: 8 MiB.
const LONGEST_DOCUMENT: u64 = 8 << 20;
/// A mesh file may be this long: 2 GiB.
pub(crate) const LONGEST_MESH: u64 = 2 << 30;

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// Its path as written in the document, or as given for the document itself.
    pub path: String,
    /// SHA-256 of its bytes, in lower case hexadecimal.
    pub sha256: String,
}

/// Why a file's bytes could not be had.
#[derive(Debug, thiserror::Error)]
pub(crate) enum OpenError {
    #[error("there is no such file")]
    Missing,
    #[error("it is a folder")]
    Folder,
    #[error("it is not a regular file")]
    NotRegular,
    #[error("it is {0} bytes long, more than is read")]
    TooLong(u64),
    #[error("it cannot be read ({0})")]
    Io(io::ErrorKind),
}

impl OpenError {
    #[allow(clippy::needless_pass_by_value, reason = "called on errors that end here")]
    fn of(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => Self::Missing,
            kind => Self::Io(kind),
        }
    }
}

/// A regular file of at most `longest` bytes, with its length.
pub(crate) fn open(path: &Path, longest: u64) -> Result<(io::Take<File>, u64), OpenError> {
    // Asked before opening: opening a pipe would wait for its other end.
    let kind = std::fs::metadata(path).map_err(OpenError::of)?;
    if kind.is_dir() {
        return Err(OpenError::Folder);
    }
    if !kind.is_file() {
        return Err(OpenError::NotRegular);
    }
    if kind.len() > longest {
        return Err(OpenError::TooLong(kind.len()));
    }
    // The file may grow meanwhile; more than the longest is never read.
    Ok((File::open(path).map_err(OpenError::of)?.take(longest), kind.len()))
}

/// The bytes of a regular file of at most `longest` bytes.
pub(crate) fn bytes(path: &Path, longest: u64) -> Result<Vec<u8>, OpenError> {
    let (mut file, length) = open(path, longest)?;
    let mut out = Vec::with_capacity(usize::try_from(length).unwrap_or(0));
    file.read_to_end(&mut out).map_err(OpenError::of)?;
    Ok(out)
}

/// A source that is hashed, if asked for, while it is read.
pub(crate) struct Hashing<R> {
    source: R,
    hash: Option<Sha256>,
}

impl<R: Read> Hashing<R> {
    pub(crate) fn new(source: R, hashed: bool) -> Self {
        Self { source, hash: hashed.then(Sha256::new) }
    }

    /// The hash of all bytes, those that were not read included; empty where none was asked for.
    pub(crate) fn finish(mut self) -> io::Result<String> {
        if self.hash.is_some() {
            io::copy(&mut self, &mut io::sink())?;
        }
        Ok(self.hash.map(|hash| hexadecimal(&hash.finalize())).unwrap_or_default())
    }
}

impl<R: Read> Read for Hashing<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let count = self.source.read(out)?;
        if let (Some(hash), Some(read)) = (&mut self.hash, out.get(..count)) {
            hash.update(read);
        }
        Ok(count)
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // Writing into a string does not fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

pub(crate) fn source(path: &str, bytes: &[u8]) -> SourceFile {
    SourceFile { path: path.to_owned(), sha256: hexadecimal(&Sha256::digest(bytes)) }
}

/// The text of a document, faults noted; `what` should be there: `a lesson.toml`.
pub(crate) fn text(pen: &mut Pen, path: &Path, what: &str) -> Option<(String, SourceFile)> {
    let bytes = match bytes(path, LONGEST_DOCUMENT) {
        Ok(bytes) => bytes,
        Err(error) => {
            pen.whole(
                format!("the document cannot be opened: {error}"),
                format!("give the path of {what}"),
            );
            return None;
        }
    };
    let source = source(&path.display().to_string(), &bytes);
    match String::from_utf8(bytes) {
        Ok(text) => Some((text, source)),
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            let line = error.as_bytes().iter().take(at).filter(|b| **b == b'\n').count() + 1;
            pen.whole(
                format!("line {line} holds bytes that are not UTF-8 text"),
                "save the document as UTF-8",
            );
            None
        }
    }
}

/// Parses a document, every fault of syntax noted. With such faults the table still holds what
/// could be made out, but a fault noted from it might be a consequence, so nothing is returned.
pub(crate) fn parse<'a>(pen: &mut Pen, text: &'a str) -> Option<Spanned<DeTable<'a>>> {
    let (table, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        let mut lines = error.message().lines();
        let label = lines.next().unwrap_or("not understood").to_owned();
        let more: Vec<&str> = lines.collect();
        let remedy = if label.contains("duplicate key") {
            "keep one of the two".to_owned()
        } else if more.is_empty() {
            "write it as TOML: a key, an equals sign, a value".to_owned()
        } else {
            more.join("; ")
        };
        pen.at(&span, "the document is not well-formed TOML", label, remedy);
    }
    errors.is_empty().then_some(table)
}

/// The place that stands for a document as a whole: its first line that is no comment.
pub(crate) fn first_line(text: &str) -> std::ops::Range<usize> {
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let held = line.trim();
        if !held.is_empty() && !held.starts_with('#') {
            let indent = line.len() - line.trim_start().len();
            return start + indent..start + indent + held.len();
        }
        start += line.len();
    }
    0..0
}
