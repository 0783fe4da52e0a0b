//! STL meshes, binary and ASCII, from bytes.
//!
//! Read here and not by `stl_io` 0.11, because that library
//!
//! - merges vertices through a general hash map, which is most of its reading time, and keeps `0.0`
//!   and `-0.0` apart (here [`crate::meshes`]' own table does it while the file comes in; vertices are one
//!   if their f32 coordinates are equal);
//! - trusts the header's count: a file with more triangles than promised loses them without a word
//!   (here the count must match the file's length to the byte, before anything is allocated);
//! - takes every file whose first line begins with `solid ` for ASCII, so that a binary file with
//!   such a header fails, and an ASCII file beginning with `solid` alone or in capitals is read as
//!   binary (here the length and the bytes decide);
//! - stops at the first `endsolid`: every later solid of the file is lost without a word (here all
//!   are read, each as a body);
//! - passes NaN and infinite coordinates on from binary files (here a fault);
//! - says nothing of the line at which an ASCII file is wrong (here it is named).
//!
//! It reads the same triangles where it reads a file at all: the tests hold it against this.
//!
//! Nothing is repaired: degenerate and duplicate triangles stay in the mesh.

use crate::meshes::distinct::{Distinct, Keyed};
use crate::meshes::fault::{MeshFault, name};
use crate::meshes::lines::{Lines, words};
use crate::meshes::{self, ModelBody, check_bodies, numbered};
use nalgebra::Point3;
use solids::Mesh;
use std::io::{self, Read};

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
    /// More solids than are read.
    #[error("the file holds too many solids")]
    TooManySolids,
    /// The file changed or went away while it was read.
    #[error("the file cannot be read to its end ({0})")]
    Unread(io::ErrorKind),
}

impl From<StlError> for MeshFault {
    fn from(error: StlError) -> Self {
        Self::whole(&error, error.remedy())
    }
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
            Self::TooManySolids => "export only what the rig meets",
            Self::Unread(_) => "copy the file again",
        }
    }
}

/// Bytes before the first triangle of a binary file, and bytes a triangle.
const HEADER: u64 = 84;
const FACET: u64 = 50;

/// Reads a mesh, coordinates multiplied by `scale` (millimetres per unit of the file); all its solids are
/// one mesh.
///
/// # Errors
/// When the bytes are not an STL mesh, or hold no triangle or a coordinate that is not finite.
pub fn read_stl(bytes: &[u8], scale: f64) -> Result<Mesh, StlError> {
    let length = bytes.len() as u64;
    if is_binary(bytes, length) {
        return read_binary(&mut &*bytes, length, scale);
    }
    Ok(meshes::joined(&solids(bytes, scale)?.iter().map(|(_, mesh)| mesh).collect::<Vec<_>>()))
}

/// Triangles that a binary header promises.
fn promised(head: &[u8]) -> Option<u32> {
    head.get(80..84).and_then(|b| <[u8; 4]>::try_from(b).ok()).map(u32::from_le_bytes)
}

/// Whether a file of this length that begins so is binary STL, to the byte.
pub(crate) fn is_binary(head: &[u8], length: u64) -> bool {
    promised(head).is_some_and(|n| HEADER + FACET * u64::from(n) == length)
}

/// The bodies of a file that is not binary to the byte: its solids, or what is wrong with it.
pub(crate) fn bodies(bytes: &[u8], scale: f64) -> Result<meshes::Read, MeshFault> {
    let named = (1..).zip(solids(bytes, scale)?);
    let body = |(number, (name, mesh)): (usize, (String, Mesh))| {
        ModelBody::new(if name.is_empty() { numbered(number) } else { name }, mesh)
    };
    Ok(meshes::Read { bodies: named.map(body).collect(), ..meshes::Read::default() })
}

/// The solids of a text file by their names.
fn solids(bytes: &[u8], scale: f64) -> Result<Vec<(String, Mesh)>, StlError> {
    if bytes.is_empty() {
        return Err(StlError::Empty);
    }
    if looks_like_text(bytes) {
        return ascii(bytes, scale);
    }
    let length = bytes.len() as u64;
    let Some(promised) = promised(bytes) else {
        return Err(StlError::NoHeader { bytes: length });
    };
    let body = length - HEADER;
    Err(StlError::Count { promised, held: body / FACET, over: body % FACET })
}

/// Whether the file begins with the word `solid` and has no byte that text never has near its
/// start.
fn looks_like_text(bytes: &[u8]) -> bool {
    let text = bytes.trim_ascii_start();
    let head = text.get(..text.len().min(512)).unwrap_or(text);
    head.get(..5).is_some_and(|word| word.eq_ignore_ascii_case(b"solid"))
        && head.iter().all(|b| *b >= b' ' || b.is_ascii_whitespace())
}

/// Triangles whose corners are looked up together.
const BATCH: usize = 128;

/// Reads binary STL of this length, which holds what its header promises.
pub(crate) fn read_binary(
    source: &mut impl Read,
    length: u64,
    scale: f64,
) -> Result<Mesh, StlError> {
    let unread = |e: io::Error| StlError::Unread(e.kind());
    source.read_exact(&mut [0; 84]).map_err(unread)?;
    let mut left = usize::try_from(length - HEADER).map_err(|_| StlError::TooMany)?;
    let count = left / 50;
    if count == 0 {
        return Err(StlError::NoTriangles);
    }
    let mut facets = Facets {
        // A closed mesh has half as many vertices as triangles.
        distinct: Distinct::for_about(count / 2 + 2),
        triangles: Vec::with_capacity(count),
        scale,
        fresh: Vec::with_capacity(3 * BATCH),
        corners: Vec::with_capacity(BATCH),
    };
    let mut block = vec![0; left.min(50 * BATCH * 32)];
    while left > 0 {
        let length = left.min(block.len());
        let Some(block) = block.get_mut(..length) else { break };
        source.read_exact(block).map_err(unread)?;
        left -= length;
        for batch in block.chunks(50 * BATCH) {
            facets.take(batch)?;
        }
    }
    Ok(Mesh { vertices: facets.distinct.into_points(), triangles: facets.triangles })
}

/// Gathers binary triangles.
struct Facets {
    distinct: Distinct,
    triangles: Vec<[u32; 3]>,
    scale: f64,
    /// Of a batch: the corners that are not the triangle's before.
    fresh: Vec<Keyed>,
    /// Of a batch: for each triangle the positions of its corners among the fresh ones.
    corners: Vec<[usize; 3]>,
}

impl Facets {
    fn take(&mut self, batch: &[u8]) -> Result<(), StlError> {
        self.fresh.clear();
        self.corners.clear();
        // Most corners are also corners of the triangle before, and told apart by their bits alone.
        let mut before = ([[u32::MAX; 3]; 3], [0; 3]);
        for facet in batch.chunks_exact(50) {
            let mut bits = [[0; 3]; 3];
            let words = facet.get(12..48).unwrap_or(&[]).chunks_exact(4);
            for (bits, word) in bits.as_flattened_mut().iter_mut().zip(words) {
                *bits = u32::from_le_bytes(word.try_into().unwrap_or_default());
            }
            let mut corners = [0; 3];
            for (corner, bits) in corners.iter_mut().zip(&bits) {
                let known = before.0.iter().zip(before.1).find(|(b, _)| *b == bits);
                if let Some((_, at)) = known {
                    *corner = at;
                    continue;
                }
                let point = bits.map(f32::from_bits);
                if !point.iter().all(|c| c.is_finite()) {
                    let triangle = (self.triangles.len() + self.corners.len() + 1) as u64;
                    return Err(StlError::NotFinite { triangle });
                }
                *corner = self.fresh.len();
                self.fresh.push(Keyed::new(Point3::from(point.map(|c| f64::from(c) * self.scale))));
            }
            self.corners.push(corners);
            before = (bits, corners);
        }
        self.distinct.fetch(&self.fresh);
        let mut numbers = [0; 3 * BATCH];
        for (number, of) in numbers.iter_mut().zip(&self.fresh) {
            *number = self.distinct.index(*of).ok_or(StlError::TooMany)?;
        }
        let number = |at: usize| numbers.get(at).copied().unwrap_or(0);
        self.triangles.extend(self.corners.iter().map(|corners| corners.map(number)));
        Ok(())
    }
}

/// The fault at the line read last, or at the end of the file.
fn wrong(lines: &Lines<'_>, expected: &'static str, line: Option<&[u8]>) -> StlError {
    let found = line.map_or_else(
        || "the end of the file".to_owned(),
        |l| format!("\"{}\"", meshes::fault::shown(l)),
    );
    StlError::Line { line: lines.last, expected, found }
}

/// The next line must consist of these words.
fn expect(lines: &mut Lines<'_>, expected: &'static str) -> Result<(), StlError> {
    let line = lines.next();
    if line.is_some_and(|l| is(l, expected)) { Ok(()) } else { Err(wrong(lines, expected, line)) }
}

/// Whether a line consists of these words, in any case and any spacing.
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

fn ascii(bytes: &[u8], scale: f64) -> Result<Vec<(String, Mesh)>, StlError> {
    let mut lines = Lines::new(bytes);
    let mut solids = Vec::new();
    let mut number = 0;
    while let Some(line) = lines.next() {
        if !begins(line, "solid") {
            return Err(wrong(&lines, "\"solid\"", Some(line)));
        }
        check_bodies(solids.len()).map_err(|_| StlError::TooManySolids)?;
        let named = name(line.get(5..).unwrap_or(b""));
        let mesh = solid(&mut lines, &mut number, scale)?;
        if !mesh.triangles.is_empty() {
            solids.push((named, mesh));
        }
    }
    if solids.is_empty() { Err(StlError::NoTriangles) } else { Ok(solids) }
}

/// The triangles up to the line that ends the solid; `number` counts those of the file.
fn solid(lines: &mut Lines<'_>, number: &mut u64, scale: f64) -> Result<Mesh, StlError> {
    const FACET_OR_END: &str = "\"facet normal\" or \"endsolid\"";
    let mut distinct = Distinct::for_about(0);
    let mut triangles = Vec::new();
    loop {
        let Some(line) = lines.next() else { return Err(wrong(lines, FACET_OR_END, None)) };
        if begins(line, "endsolid") {
            return Ok(Mesh { vertices: distinct.into_points(), triangles });
        }
        if !begins(line, "facet normal") {
            return Err(wrong(lines, FACET_OR_END, Some(line)));
        }
        *number += 1;
        expect(lines, "outer loop")?;
        let mut corners = [0; 3];
        for corner in &mut corners {
            let line = lines.next();
            let point = line
                .and_then(vertex)
                .ok_or_else(|| wrong(lines, "\"vertex\" with three numbers", line))?;
            if !point.iter().all(|c| c.is_finite()) {
                return Err(StlError::NotFinite { triangle: *number });
            }
            let point = Point3::from(point.map(|c| f64::from(c) * scale));
            *corner = distinct.index(Keyed::new(point)).ok_or(StlError::TooMany)?;
        }
        expect(lines, "endloop")?;
        expect(lines, "endfacet")?;
        triangles.push(corners);
    }
}

/// `vertex x y z`.
fn vertex(line: &[u8]) -> Option<[f32; 3]> {
    let mut words = words(line);
    words.next()?.eq_ignore_ascii_case(b"vertex").then_some(())?;
    let mut number = || std::str::from_utf8(words.next()?).ok()?.parse::<f32>().ok();
    let corner = [number()?, number()?, number()?];
    words.next().is_none().then_some(corner)
}

#[cfg(test)]
mod tests;
