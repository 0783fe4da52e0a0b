//! STL meshes, binary and ASCII, from bytes.
//!
//! `stl_io` 0.11 decodes the binary triangles; the rest is done here, because that library
//!
//! - trusts the header's count: a file with more triangles than promised loses them without a word
//!   (here the count must match the file's length to the byte, before anything is allocated);
//! - takes every file whose first line begins with `solid ` for ASCII, so that a binary file with
//!   such a header fails, and an ASCII file beginning with `solid` alone or in capitals is read as
//!   binary (here the length and the bytes decide);
//! - stops at the first `endsolid`: every later solid of the file is lost without a word (here all
//!   are read);
//! - passes NaN and infinite coordinates on from binary files (here a fault);
//! - says nothing of the line at which an ASCII file is wrong (here it is named);
//! - merges vertices through a general hash map, which is most of its reading time, and keeps `0.0`
//!   and `-0.0` apart (here an open-addressed table of indices; vertices are one if their f32
//!   coordinates are equal).
//!
//! Nothing is repaired: degenerate and duplicate triangles stay in the mesh.

use nalgebra::Point3;
use solids::Mesh;

/// Why bytes are not a usable STL mesh.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StlError {
    /// No bytes at all.
    #[error("the file is empty")]
    Empty,
    /// Neither a binary header with its count nor an ASCII `solid` fits in it.
    #[error("the file has {bytes} bytes, too few for an STL header")]
    NoHeader {
        /// Length of the file.
        bytes: u64,
    },
    /// The binary header's count and the file's length disagree.
    #[error("the header promises {promised} triangles, the file holds {held}{}", rest(*.over))]
    Count {
        /// Triangles by the header.
        promised: u32,
        /// Whole triangles by the length.
        held: u64,
        /// Bytes after the last whole triangle.
        over: u64,
    },
    /// No triangle in it.
    #[error("the file holds no triangle")]
    NoTriangles,
    /// A coordinate that is NaN or infinite.
    #[error("triangle {triangle} has a coordinate that is not a finite number")]
    NotFinite {
        /// Which triangle, from 1.
        triangle: u64,
    },
    /// A line of an ASCII file that does not belong there.
    #[error("line {line}: {expected} expected, found {found}")]
    Line {
        /// Line, from 1.
        line: usize,
        /// What belongs there.
        expected: &'static str,
        /// What stands there.
        found: String,
    },
    /// More vertices than can be numbered.
    #[error("the file holds more vertices than can be numbered")]
    TooMany,
}

fn rest(over: u64) -> String {
    if over == 0 { String::new() } else { format!(" and {over} bytes more") }
}

impl StlError {
    /// How to put it right.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Empty | Self::NoHeader { .. } | Self::NoTriangles => {
                "export the body again and check that the exporter had something selected"
            }
            Self::Count { .. } => {
                "the file is cut short, padded or damaged: copy or export it again"
            }
            Self::NotFinite { .. } => "mend the body where it was made and export it again",
            Self::Line { .. } => "export the body again, as binary STL where possible",
            Self::TooMany => "export the body more coarsely and state its deviation",
        }
    }
}

/// Bytes before the first triangle of a binary file, and bytes a triangle.
const HEADER: u64 = 84;
const FACET: u64 = 50;

/// Reads a mesh, coordinates multiplied by `scale` (millimetres per unit of the file).
///
/// # Errors
/// When the bytes are not an STL mesh, or hold no triangle or a coordinate that is not finite.
pub fn read_stl(bytes: &[u8], scale: f64) -> Result<Mesh, StlError> {
    if bytes.is_empty() {
        return Err(StlError::Empty);
    }
    let length = bytes.len() as u64;
    let promised =
        bytes.get(80..84).and_then(|b| <[u8; 4]>::try_from(b).ok()).map(u32::from_le_bytes);
    let exact = promised.is_some_and(|n| HEADER + FACET * u64::from(n) == length);
    if !exact && looks_like_text(bytes) {
        return ascii(bytes, scale);
    }
    let Some(promised) = promised else {
        return Err(StlError::NoHeader { bytes: length });
    };
    if !exact {
        let body = length - HEADER;
        return Err(StlError::Count { promised, held: body / FACET, over: body % FACET });
    }
    binary(bytes, scale)
}

/// Whether the file begins with the word `solid` and has no byte that text never has near its
/// start.
fn looks_like_text(bytes: &[u8]) -> bool {
    let text = bytes.trim_ascii_start();
    let head = text.get(..text.len().min(512)).unwrap_or(text);
    head.get(..5).is_some_and(|word| word.eq_ignore_ascii_case(b"solid"))
        && head.iter().all(|b| *b >= b' ' || b.is_ascii_whitespace())
}

fn binary(bytes: &[u8], scale: f64) -> Result<Mesh, StlError> {
    // stl_io looks for the word `solid` at the start of the header to tell ASCII from binary; the
    // header says nothing else, so it gets a blank one.
    let mut file = BlankHeader { bytes, at: 0 };
    let count = (bytes.len() as u64 - HEADER) / FACET;
    let mut merge = Merge::for_triangles(count);
    let io = |_| StlError::Count { promised: u32::MAX, held: count, over: 0 };
    for (number, triangle) in (1_u64..).zip(stl_io::create_stl_reader(&mut file).map_err(io)?) {
        let corners = triangle.map_err(io)?.vertices.map(|v| v.0);
        if !corners.iter().flatten().all(|c| c.is_finite()) {
            return Err(StlError::NotFinite { triangle: number });
        }
        merge.add(corners)?;
    }
    merge.finish(scale)
}

/// The file with its eighty header bytes read as spaces.
struct BlankHeader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl std::io::Read for BlankHeader<'_> {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let rest = self.bytes.get(self.at..).unwrap_or(&[]);
        let count = rest.len().min(out.len());
        for (to, from) in out.iter_mut().zip(rest) {
            *to = *from;
        }
        if self.at < 80 {
            out.iter_mut().take(count.min(80 - self.at)).for_each(|b| *b = b' ');
        }
        self.at += count;
        Ok(count)
    }
}

impl std::io::Seek for BlankHeader<'_> {
    fn seek(&mut self, to: std::io::SeekFrom) -> std::io::Result<u64> {
        // Only the way back to the start is ever asked for.
        match to {
            std::io::SeekFrom::Start(0) => self.at = 0,
            _ => return Err(std::io::ErrorKind::Unsupported.into()),
        }
        Ok(0)
    }
}

/// The lines of an ASCII file that hold something, as words, with their numbers.
struct Lines<'a> {
    rest: Option<&'a [u8]>,
    /// Number of the line read last.
    last: usize,
}

impl<'a> Lines<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        Self { rest: Some(bytes), last: 0 }
    }

    fn next(&mut self) -> Option<&'a [u8]> {
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

    /// The fault at the line read last, or at the end of the file.
    fn wrong(&self, expected: &'static str, line: Option<&[u8]>) -> StlError {
        let found = line.map_or_else(
            || "the end of the file".to_owned(),
            |l| {
                let text = String::from_utf8_lossy(l);
                let short: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
                format!("\"{short}\"")
            },
        );
        StlError::Line { line: self.last, expected, found }
    }

    /// The next line must consist of these words.
    fn expect(&mut self, expected: &'static str) -> Result<(), StlError> {
        let line = self.next();
        if line.is_some_and(|l| is(l, expected)) { Ok(()) } else { Err(self.wrong(expected, line)) }
    }
}

/// The words of a line, in any case and any spacing.
fn words(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    line.split(u8::is_ascii_whitespace).filter(|w| !w.is_empty())
}

fn is(line: &[u8], expected: &str) -> bool {
    let mut line = words(line);
    expected.split(' ').all(|e| line.next().is_some_and(|w| w.eq_ignore_ascii_case(e.as_bytes())))
        && line.next().is_none()
}

/// Whether a line begins with these words.
fn begins(line: &[u8], expected: &str) -> bool {
    let mut line = words(line);
    expected.split(' ').all(|e| line.next().is_some_and(|w| w.eq_ignore_ascii_case(e.as_bytes())))
}

fn ascii(bytes: &[u8], scale: f64) -> Result<Mesh, StlError> {
    let mut lines = Lines::new(bytes);
    let mut merge = Merge::for_triangles(0);
    let mut inside = false;
    let mut number = 0;
    while let Some(line) = lines.next() {
        if !inside {
            if !begins(line, "solid") {
                return Err(lines.wrong("\"solid\"", Some(line)));
            }
            inside = true;
        } else if begins(line, "endsolid") {
            inside = false;
        } else if begins(line, "facet normal") {
            number += 1;
            lines.expect("outer loop")?;
            let mut corners = [[0.0_f32; 3]; 3];
            for corner in &mut corners {
                let line = lines.next();
                *corner = line
                    .and_then(vertex)
                    .ok_or_else(|| lines.wrong("\"vertex\" with three numbers", line))?;
                if !corner.iter().all(|c| c.is_finite()) {
                    return Err(StlError::NotFinite { triangle: number });
                }
            }
            lines.expect("endloop")?;
            lines.expect("endfacet")?;
            merge.add(corners)?;
        } else {
            return Err(lines.wrong("\"facet normal\" or \"endsolid\"", Some(line)));
        }
    }
    if inside {
        return Err(lines.wrong("\"facet normal\" or \"endsolid\"", None));
    }
    merge.finish(scale)
}

/// `vertex x y z`.
fn vertex(line: &[u8]) -> Option<[f32; 3]> {
    let mut words = words(line);
    words.next()?.eq_ignore_ascii_case(b"vertex").then_some(())?;
    let mut number = || std::str::from_utf8(words.next()?).ok()?.parse::<f32>().ok();
    let corner = [number()?, number()?, number()?];
    words.next().is_none().then_some(corner)
}

/// Gathers triangles, making vertices with equal coordinates one.
struct Merge {
    vertices: Vec<[f32; 3]>,
    triangles: Vec<[u32; 3]>,
    /// Open addressing, linear probing: a vertex index, or `FREE`. A power of two long, at most
    /// half full.
    slots: Vec<u32>,
}

const FREE: u32 = u32::MAX;

impl Merge {
    /// Ready for about so many triangles; a closed mesh has half as many vertices.
    fn for_triangles(count: u64) -> Self {
        let count = usize::try_from(count).unwrap_or(0);
        Self {
            vertices: Vec::with_capacity(count / 2 + 2),
            triangles: Vec::with_capacity(count),
            slots: vec![FREE; (count + 16).next_power_of_two()],
        }
    }

    fn add(&mut self, corners: [[f32; 3]; 3]) -> Result<(), StlError> {
        let mut indices = [0; 3];
        for (index, corner) in indices.iter_mut().zip(corners) {
            // Adding zero turns -0.0 into 0.0 and changes nothing else.
            *index = self.index(corner.map(|c| c + 0.0))?;
        }
        self.triangles.push(indices);
        Ok(())
    }

    fn index(&mut self, corner: [f32; 3]) -> Result<u32, StlError> {
        if 2 * self.vertices.len() >= self.slots.len() {
            self.grow();
        }
        let slot = self.slot_of(&corner);
        match self.slots.get_mut(slot) {
            Some(slot) if *slot == FREE => {
                let index = u32::try_from(self.vertices.len()).map_err(|_| StlError::TooMany)?;
                if index == FREE {
                    return Err(StlError::TooMany);
                }
                *slot = index;
                self.vertices.push(corner);
                Ok(index)
            }
            Some(slot) => Ok(*slot),
            None => Err(StlError::TooMany),
        }
    }

    /// The slot that holds the vertex, or the free one where it belongs.
    fn slot_of(&self, corner: &[f32; 3]) -> usize {
        let mask = self.slots.len() - 1;
        let mut at = hash(corner) & mask;
        while let Some(&index) = self.slots.get(at) {
            if index == FREE || self.vertices.get(index as usize) == Some(corner) {
                break;
            }
            at = (at + 1) & mask;
        }
        at
    }

    fn grow(&mut self) {
        let length = 2 * self.slots.len();
        self.slots.clear();
        self.slots.resize(length, FREE);
        for index in 0..self.vertices.len() {
            let Some(corner) = self.vertices.get(index).copied() else { continue };
            let at = self.slot_of(&corner);
            if let (Some(slot), Ok(index)) = (self.slots.get_mut(at), u32::try_from(index)) {
                *slot = index;
            }
        }
    }

    fn finish(self, scale: f64) -> Result<Mesh, StlError> {
        if self.triangles.is_empty() {
            return Err(StlError::NoTriangles);
        }
        let point = |v: [f32; 3]| Point3::from(v.map(|c| f64::from(c) * scale));
        Ok(Mesh {
            vertices: self.vertices.into_iter().map(point).collect(),
            triangles: self.triangles,
        })
    }
}

/// Mixes the bits of three coordinates: two rounds of multiply and fold on 64 bits.
#[allow(clippy::cast_possible_truncation, reason = "a hash may lose bits")]
fn hash(corner: &[f32; 3]) -> usize {
    let [x, y, z] = corner.map(|c| u64::from(c.to_bits()));
    let fold = |a: u64, b: u64| {
        let wide = u128::from(a) * u128::from(b);
        (wide as u64) ^ ((wide >> 64) as u64)
    };
    let first = fold((x | (y << 32)) ^ 0x9e37_79b9_7f4a_7c15, 0xd6e8_feb8_6659_fd93);
    fold(first ^ z, 0xa076_1d64_78bd_642f) as usize
}

#[cfg(test)]
mod tests;
