//! The bytes of a glTF document's buffers: in the file, written into the document, or in files beside it.

use super::document::Buffer;
use crate::document::{self, SourceFile};
use crate::meshes::fault::{AGAIN, DAMAGED, MeshFault, shown};
use std::borrow::Cow;
use std::path::{Component, Path};

/// The bytes of every buffer, and the files that were read for them.
pub(super) type Buffers<'a> = (Vec<Cow<'a, [u8]>>, Vec<SourceFile>);

/// Gives the bytes of every buffer, and the files beside the document that were read for it. `own` is what
/// a GLB file carries.
pub(super) fn read<'a>(
    buffers: &[Buffer],
    own: Option<&'a [u8]>,
    path: &Path,
) -> Result<Buffers<'a>, MeshFault> {
    let mut all = Vec::with_capacity(buffers.len());
    let mut beside: Vec<SourceFile> = Vec::new();
    let mut total = 0;
    for (number, buffer) in buffers.iter().enumerate() {
        let told =
            |what: String, remedy| MeshFault::at(format_args!("buffer {number}"), what, remedy);
        let bytes = match &buffer.uri {
            None if number == 0 && own.is_some() => Cow::Borrowed(own.unwrap_or(&[])),
            None => return Err(told("it is neither in the file nor named".to_owned(), AGAIN)),
            Some(uri) if uri.starts_with("data:") => {
                let coded = uri.split_once(";base64,").map(|(_, coded)| coded);
                let bytes = coded.and_then(|coded| decoded(coded.as_bytes()));
                Cow::Owned(bytes.ok_or_else(|| told("its base64 is broken".to_owned(), DAMAGED))?)
            }
            Some(uri) => {
                let left = document::LONGEST_MESH - total;
                let (bytes, name) =
                    file_beside(uri, path, left).map_err(|(what, remedy)| told(what, remedy))?;
                let source = document::source(&name, &bytes);
                if !beside.contains(&source) {
                    beside.push(source);
                }
                Cow::Owned(bytes)
            }
        };
        let held = bytes.len() as u64;
        // A GLB chunk is padded to four bytes.
        if held < buffer.byte_length {
            let what = format!("{} bytes are promised, there are {held}", buffer.byte_length);
            return Err(told(what, DAMAGED));
        }
        total += held;
        if total > document::LONGEST_MESH {
            return Err(told("the buffers together are longer than is read".to_owned(), AGAIN));
        }
        all.push(bytes);
    }
    Ok((all, beside))
}

/// The bytes of a file that a buffer names, and its path from the document's folder, which it must lie in.
fn file_beside(
    uri: &str,
    document: &Path,
    longest: u64,
) -> Result<(Vec<u8>, String), (String, &'static str)> {
    const INSIDE: &str = "put the file into the document's folder and name it from there";
    let named = shown(uri.as_bytes());
    let Some(name) = unescaped(uri) else {
        return Err((format!("\"{named}\" is no name of a file"), INSIDE));
    };
    let relative = Path::new(&name);
    let plain =
        relative.components().all(|c| matches!(c, Component::Normal(_) | Component::CurDir));
    if !plain || name.is_empty() || name.contains([':', '\\', '\0']) {
        return Err((format!("\"{named}\" lies outside the document's folder"), INSIDE));
    }
    let folder = match document.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let path = folder.join(relative);
    // A link may lead out of it.
    let lies_inside = match (path.canonicalize(), folder.canonicalize()) {
        (Ok(path), Ok(folder)) => path.starts_with(folder),
        // What is not there is told below.
        _ => true,
    };
    if !lies_inside {
        return Err((format!("\"{named}\" leads outside the document's folder"), INSIDE));
    }
    match document::bytes(&path, longest) {
        Ok(bytes) => Ok((bytes, name)),
        Err(error) => Err((format!("\"{named}\" cannot be opened: {error}"), INSIDE)),
    }
}

/// A name with its percent signs resolved.
fn unescaped(uri: &str) -> Option<String> {
    let mut out = Vec::with_capacity(uri.len());
    let mut bytes = uri.bytes();
    while let Some(byte) = bytes.next() {
        if byte == b'%' {
            let digits = [bytes.next()?, bytes.next()?];
            let text = std::str::from_utf8(&digits).ok()?;
            out.push(u8::from_str_radix(text, 16).ok()?);
        } else {
            out.push(byte);
        }
    }
    String::from_utf8(out).ok()
}

/// Base64 as RFC 4648 section 4 has it; the padding may be left out.
fn decoded(coded: &[u8]) -> Option<Vec<u8>> {
    let end = coded.iter().rposition(|b| *b != b'=').map_or(0, |at| at + 1);
    if coded.len() - end > 2 {
        return None;
    }
    let mut out = Vec::with_capacity(coded.len() / 4 * 3 + 3);
    for group in coded.get(..end)?.chunks(4) {
        let mut bits = 0_u32;
        for byte in group {
            let value = match byte {
                b'A'..=b'Z' => byte - b'A',
                b'a'..=b'z' => byte - b'a' + 26,
                b'0'..=b'9' => byte - b'0' + 52,
                b'+' => 62,
                b'/' => 63,
                _ => return None,
            };
            bits = (bits << 6) | u32::from(value);
        }
        let bytes = (bits << (6 * (4 - group.len()))).to_be_bytes();
        // Of one letter no byte can be made.
        let count = group.len().checked_sub(1).filter(|count| *count > 0)?;
        out.extend(bytes.get(1..=count)?);
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648 section 10.
    #[test]
    fn base64_as_in_the_standard() {
        for (coded, plain) in [
            ("", ""),
            ("Zg==", "f"),
            ("Zm8=", "fo"),
            ("Zm9v", "foo"),
            ("Zm9vYg==", "foob"),
            ("Zm9vYmE=", "fooba"),
            ("Zm9vYmFy", "foobar"),
            ("Zm9vYg", "foob"),
        ] {
            assert_eq!(decoded(coded.as_bytes()).as_deref(), Some(plain.as_bytes()), "{coded}");
        }
        for broken in ["Z", "Zm9vY", "Zm9v!", "Z===", "Zm=v"] {
            assert_eq!(decoded(broken.as_bytes()), None, "{broken}");
        }
    }

    #[test]
    fn percent_signs_are_resolved() {
        assert_eq!(unescaped("a%20b.bin").as_deref(), Some("a b.bin"));
        assert_eq!(unescaped("a%2").as_deref(), None);
    }
}
