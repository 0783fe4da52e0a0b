//! The escapes within strings, ISO 10303-21 clause 6.4.3.

/// The text of a string as it stands between its apostrophes. Bytes above 127, which the standard
/// did not allow before edition 3, are taken as UTF-8 where they are that and as ISO 8859-1
/// elsewhere. An escape that is none stands as it is.
pub(crate) fn decoded(raw: &[u8]) -> String {
    let plain = !raw.iter().any(|b| matches!(b, b'\\' | b'\'' | b'\n' | b'\r'));
    if plain && let Ok(text) = std::str::from_utf8(raw) {
        return text.to_owned();
    }
    let wide = std::str::from_utf8(raw).is_ok();
    let mut out: Vec<u8> = Vec::with_capacity(raw.len());
    let mut rest = raw;
    // The part of ISO 8859 that `\S\` reads from: `\PA\` is part 1.
    let mut page = b'A';
    while let Some((&byte, after)) = rest.split_first() {
        rest = after;
        match byte {
            b'\'' => {
                rest = after.strip_prefix(b"'").unwrap_or(after);
                out.push(b'\'');
            }
            // Line ends within a string are only how the file is broken into lines.
            b'\n' | b'\r' => {}
            b'\\' => {
                if let Some((text, left)) = escape(after, &mut page) {
                    out.extend_from_slice(text.as_bytes());
                    rest = left;
                } else {
                    out.push(b'\\');
                }
            }
            byte if byte < 128 || wide => out.push(byte),
            byte => push(&mut out, char::from(byte)),
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}

fn push(out: &mut Vec<u8>, letter: char) {
    out.extend_from_slice(letter.encode_utf8(&mut [0; 4]).as_bytes());
}

/// What follows a backslash: the text that it means, and what is left.
fn escape<'a>(after: &'a [u8], page: &mut u8) -> Option<(String, &'a [u8])> {
    if let Some(left) = after.strip_prefix(b"\\") {
        return Some(("\\".into(), left));
    }
    if let Some(left) = after.strip_prefix(b"N\\") {
        return Some(("\n".into(), left));
    }
    if let Some(left) = after.strip_prefix(b"F\\") {
        return Some(("\n".into(), left));
    }
    if let [b'P', letter @ b'A'..=b'I', b'\\', left @ ..] = after {
        *page = *letter;
        return Some((String::new(), left));
    }
    if let [b'S', b'\\', letter, left @ ..] = after {
        return Some((high(*page, letter | 0x80).to_string(), left));
    }
    if let [b'X', b'\\', a, b, left @ ..] = after {
        let code = hex(&[*a, *b])?;
        return Some((char::from_u32(code)?.to_string(), left));
    }
    let (width, body) = match after {
        [b'X', b'2', b'\\', body @ ..] => (4, body),
        [b'X', b'4', b'\\', body @ ..] => (8, body),
        _ => return None,
    };
    let length = body.windows(4).position(|w| w == b"\\X0\\")?;
    let digits: Vec<u8> =
        body.get(..length)?.iter().copied().filter(|b| !b.is_ascii_whitespace()).collect();
    if !digits.len().is_multiple_of(width) {
        return None;
    }
    let codes: Option<Vec<u32>> = digits.chunks(width).map(hex).collect();
    let codes = codes?;
    let text = if width == 4 {
        let units: Vec<u16> = codes.iter().filter_map(|c| u16::try_from(*c).ok()).collect();
        String::from_utf16_lossy(&units)
    } else {
        codes.iter().map(|c| char::from_u32(*c).unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
    };
    Some((text, body.get(length + 4..)?))
}

fn hex(digits: &[u8]) -> Option<u32> {
    u32::from_str_radix(std::str::from_utf8(digits).ok()?, 16).ok()
}

/// A letter of the upper half of a part of ISO 8859. Parts 1 and 5 are what is met; a letter of the
/// others is told as one that could not be read.
fn high(page: u8, code: u8) -> char {
    match page {
        b'A' => char::from(code),
        b'E' => match code {
            0xA0 | 0xAD => char::from(code),
            0xF0 => '\u{2116}',
            0xFD => '\u{A7}',
            // ISO 8859-5 follows the Cyrillic block.
            _ => char::from_u32(0x0360 + u32::from(code)).unwrap_or(char::REPLACEMENT_CHARACTER),
        },
        _ => char::REPLACEMENT_CHARACTER,
    }
}
