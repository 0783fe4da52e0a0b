//! PLY, text and binary.
//!
//! Read here and not by `ply-rs` 0.1 or its kin: that library keeps every element as a map from property
//! names to values, hundreds of bytes a vertex, and sets aside what the header's counts and the lists'
//! lengths promise before it has seen a byte of it.
//!
//! - Numbers may be of any type, `int` or `int32`, in text or either order of bytes; elements and
//!   properties that say nothing of the surface are passed over.
//! - Faces are polygons, cut into triangles by [`super::polygon`]. Triangle strips are a fault: left out,
//!   they would be taken for free space.
//! - A file without faces is a cloud of points.
//! - Colours are those of the vertices; a body whose vertices are all of one colour has that colour.

use super::distinct::Pool;
use super::fault::{AGAIN, COARSER, DAMAGED, MeshFault, shown};
use super::lines::{Lines, number, words};
use super::{ModelBody, Points, Read, numbered, polygon};
use nalgebra::Point3;
use solids::Mesh;

/// The longest header that is read, bytes, and the most elements and properties in it.
const LONGEST_HEADER: usize = 1 << 20;
const MOST_WORDS: usize = 1000;

/// Reads the body or the points of a PLY file, coordinates multiplied by `scale`.
pub(super) fn read(bytes: &[u8], scale: f64) -> Result<Read, MeshFault> {
    let (header, mut values) = header(bytes)?;
    let mut held = Held::default();
    let mut seen = 0;
    for element in &header {
        element.check(&values)?;
        match element.name.as_str() {
            "vertex" => held.vertices(element, &mut values, scale)?,
            "face" => held.faces(element, &mut values)?,
            "tristrips" if element.count > 0 => {
                let remedy = "strips are not read: export the body with faces";
                return Err(MeshFault::whole("the file holds triangle strips", remedy));
            }
            _ => element.each(&mut values, |_, _, _| Ok(()))?,
        }
        seen += usize::from(element.name == "vertex");
    }
    if seen != 1 {
        let what = format!("the header has {seen} elements \"vertex\"");
        return Err(MeshFault::whole(what, AGAIN));
    }
    values.end()?;
    held.finish()
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Kind {
    fn of(word: &[u8]) -> Option<Self> {
        Some(match word {
            b"char" | b"int8" => Self::I8,
            b"uchar" | b"uint8" => Self::U8,
            b"short" | b"int16" => Self::I16,
            b"ushort" | b"uint16" => Self::U16,
            b"int" | b"int32" => Self::I32,
            b"uint" | b"uint32" => Self::U32,
            b"float" | b"float32" => Self::F32,
            b"double" | b"float64" => Self::F64,
            _ => return None,
        })
    }

    /// Bytes of a value.
    const fn size(self) -> u64 {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    const fn is_whole(self) -> bool {
        !matches!(self, Self::F32 | Self::F64)
    }

    /// What stands for full in a colour of this kind.
    const fn full(self) -> f64 {
        match self {
            Self::I8 => 127.0,
            Self::U8 => 255.0,
            Self::I16 => 32_767.0,
            Self::U16 => 65_535.0,
            Self::I32 => 2_147_483_647.0,
            Self::U32 => 4_294_967_295.0,
            Self::F32 | Self::F64 => 1.0,
        }
    }
}

struct Property {
    name: String,
    kind: Kind,
    /// The kind of the length where it is a list.
    length: Option<Kind>,
}

struct Element {
    name: String,
    count: u64,
    properties: Vec<Property>,
}

#[derive(Clone, Copy, PartialEq)]
enum Order {
    Text,
    Little,
    Big,
}

/// The values after the header.
struct Values<'a> {
    order: Order,
    /// Of a binary file: what has not been read yet, and where the whole ends.
    rest: &'a [u8],
    whole: usize,
    lines: Lines<'a>,
    /// Of a text: what is left of the line.
    line: &'a [u8],
}

/// The elements that the header announces, and the values behind it.
fn header(bytes: &[u8]) -> Result<(Vec<Element>, Values<'_>), MeshFault> {
    // Old files end their lines with a carriage return alone.
    let returns = bytes.get(..bytes.len().min(LONGEST_HEADER)).unwrap_or(bytes);
    let first = returns.iter().position(|b| matches!(b, b'\n' | b'\r'));
    let alone = first
        .is_some_and(|at| returns.get(at) == Some(&b'\r') && returns.get(at + 1) != Some(&b'\n'));
    if alone {
        let remedy = "save it with line ends of today, or export it again";
        return Err(MeshFault::at("line 1", "lines end with a carriage return alone", remedy));
    }
    let mut lines = Lines::new(bytes);
    if lines.next().is_none_or(|line| line != b"ply") {
        return Err(lines.fault("\"ply\" expected", "check that it is a PLY file"));
    }
    let mut order = None;
    let mut elements: Vec<Element> = Vec::new();
    let mut said = 0;
    loop {
        let Some(line) = lines.next() else {
            return Err(MeshFault::whole("the header has no \"end_header\"", DAMAGED));
        };
        said += 1;
        if said > MOST_WORDS || bytes.len() - lines.rest().len() > LONGEST_HEADER {
            return Err(lines.fault("the header is longer than is read", AGAIN));
        }
        let mut words = words(line);
        match words.next().unwrap_or(b"") {
            b"format" => {
                let word = words.next().unwrap_or(b"");
                order = match word {
                    b"ascii" => Some(Order::Text),
                    b"binary_little_endian" => Some(Order::Little),
                    b"binary_big_endian" => Some(Order::Big),
                    _ => {
                        let what = format!("the format \"{}\" is not known", shown(word));
                        return Err(lines.fault(what, AGAIN));
                    }
                };
            }
            b"comment" | b"obj_info" => {}
            b"element" => {
                let named = shown(words.next().unwrap_or(b""));
                let word = words.next().unwrap_or(b"");
                let count = std::str::from_utf8(word).ok().and_then(|w| w.parse::<u64>().ok());
                let Some(count) = count else {
                    let what = format!("a count expected, found \"{}\"", shown(word));
                    return Err(lines.fault(what, AGAIN));
                };
                elements.push(Element { name: named, count, properties: Vec::new() });
            }
            b"property" => {
                let Some(element) = elements.last_mut() else {
                    return Err(lines.fault("a property before the first element", AGAIN));
                };
                let mut next = |what: &str| {
                    let word = words.next().unwrap_or(b"");
                    let fault = || format!("{what} expected, found \"{}\"", shown(word));
                    if word == b"list" {
                        Ok(None)
                    } else {
                        Kind::of(word).ok_or_else(fault).map(Some)
                    }
                };
                let mut described = || match next("a type")? {
                    Some(kind) => Ok((None, kind)),
                    None => match (next("the type of a length")?, next("a type of values")?) {
                        (Some(length), Some(kind)) => Ok((Some(length), kind)),
                        _ => Err("a list of lists".to_owned()),
                    },
                };
                let (length, kind) = described().map_err(|what| lines.fault(what, AGAIN))?;
                if length.is_some_and(|length| !length.is_whole()) {
                    return Err(lines.fault("a list's length is no whole number", AGAIN));
                }
                let named = shown(words.next().unwrap_or(b""));
                element.properties.push(Property { name: named, kind, length });
            }
            b"end_header" => break,
            word => {
                let what = format!("\"{}\" does not belong into a header", shown(word));
                return Err(lines.fault(what, AGAIN));
            }
        }
    }
    let Some(order) = order else {
        return Err(MeshFault::whole("the header has no \"format\"", AGAIN));
    };
    let rest = lines.rest();
    Ok((elements, Values { order, rest, whole: bytes.len(), lines, line: &[] }))
}

impl Values<'_> {
    fn is_text(&self) -> bool {
        self.order == Order::Text
    }

    /// Bytes that are left.
    fn left(&self) -> u64 {
        if self.is_text() { self.lines.rest().len() as u64 } else { self.rest.len() as u64 }
    }

    /// Where the next value is, for people.
    fn fault(&self, what: impl std::fmt::Display, remedy: &str) -> MeshFault {
        if self.is_text() {
            return self.lines.fault(what, remedy);
        }
        MeshFault::at(format_args!("byte {}", self.whole - self.rest.len()), what, remedy)
    }

    /// Begins a row of an element: in a text, a line.
    fn begin(&mut self) -> Result<(), MeshFault> {
        if self.is_text() {
            let Some(line) = self.lines.next() else {
                return Err(MeshFault::whole("the file ends before its last element", DAMAGED));
            };
            self.line = line;
        }
        Ok(())
    }

    /// Ends a row.
    fn finish(&self) -> Result<(), MeshFault> {
        if self.is_text() && !self.line.trim_ascii().is_empty() {
            let what = format!("more than belongs here: \"{}\"", shown(self.line));
            return Err(self.fault(what, AGAIN));
        }
        Ok(())
    }

    fn next(&mut self, kind: Kind) -> Result<f64, MeshFault> {
        if self.is_text() {
            let line = self.line.trim_ascii_start();
            let end = line.iter().position(u8::is_ascii_whitespace).unwrap_or(line.len());
            let (word, rest) = line.split_at_checked(end).unwrap_or((line, &[]));
            self.line = rest;
            let value = number(Some(word).filter(|w| !w.is_empty()))
                .map_err(|what| self.fault(what, AGAIN))?;
            if kind.is_whole() && value.fract() != 0.0 {
                let what = format!("a whole number expected, found \"{}\"", shown(word));
                return Err(self.fault(what, AGAIN));
            }
            return Ok(value);
        }
        let value = match kind {
            Kind::I8 => f64::from(i8::from_ne_bytes(self.bytes()?)),
            Kind::U8 => f64::from(u8::from_ne_bytes(self.bytes()?)),
            Kind::I16 => f64::from(i16::from_le_bytes(self.bytes()?)),
            Kind::U16 => f64::from(u16::from_le_bytes(self.bytes()?)),
            Kind::I32 => f64::from(i32::from_le_bytes(self.bytes()?)),
            Kind::U32 => f64::from(u32::from_le_bytes(self.bytes()?)),
            Kind::F32 => f64::from(f32::from_le_bytes(self.bytes()?)),
            Kind::F64 => f64::from_le_bytes(self.bytes()?),
        };
        Ok(value)
    }

    /// The next bytes, the least significant first.
    fn bytes<const N: usize>(&mut self) -> Result<[u8; N], MeshFault> {
        let Some((bytes, rest)) = self.rest.split_first_chunk::<N>() else {
            return Err(self.fault("the file ends before its last element", DAMAGED));
        };
        self.rest = rest;
        let mut bytes = *bytes;
        if self.order == Order::Big {
            bytes.reverse();
        }
        Ok(bytes)
    }

    /// Nothing may be left.
    fn end(&mut self) -> Result<(), MeshFault> {
        let left = self.left();
        if self.is_text() {
            if let Some(line) = self.lines.next() {
                let what = format!("more than the header promises: \"{}\"", shown(line));
                return Err(self.fault(what, DAMAGED));
            }
        } else if left > 0 {
            let what = format!("{left} bytes more than the header promises");
            return Err(MeshFault::whole(what, DAMAGED));
        }
        Ok(())
    }
}

impl Element {
    /// Holds the count against the bytes that are left, before anything is set aside for it.
    fn check(&self, values: &Values<'_>) -> Result<(), MeshFault> {
        let least = |p: &Property| match (values.is_text(), p.length) {
            // A digit, and what parts it from the next.
            (true, _) => 2,
            (false, Some(length)) => length.size(),
            (false, None) => p.kind.size(),
        };
        let row: u64 = self.properties.iter().map(least).sum();
        // A text may end without a line end.
        if u128::from(row) * u128::from(self.count) > u128::from(values.left()) + 1 {
            let (count, left) = (self.count, values.left());
            let what = format!(
                "the header promises {count} of \"{}\", too many for the {left} bytes that follow",
                self.name
            );
            return Err(MeshFault::whole(what, DAMAGED));
        }
        Ok(())
    }

    /// Hands every value on, with the number of its property; of a list first its length, then its values;
    /// at the end of a row its end.
    fn each(
        &self,
        values: &mut Values<'_>,
        mut each: impl FnMut(usize, Item, f64) -> Result<(), String>,
    ) -> Result<(), MeshFault> {
        if self.properties.is_empty() {
            return Ok(());
        }
        for row in 0..self.count {
            let told = |what: String| {
                MeshFault::at(format_args!("{} {}", self.name, row + 1), what, AGAIN)
            };
            values.begin()?;
            for (number, property) in self.properties.iter().enumerate() {
                let Some(length) = property.length else {
                    let value = values.next(property.kind)?;
                    each(number, Item::Value, value).map_err(told)?;
                    continue;
                };
                let length = values.next(length)?;
                if length < 0.0 {
                    return Err(told(format!("a list of {length} values")));
                }
                each(number, Item::Length, length).map_err(told)?;
                let mut left = length;
                while left > 0.0 {
                    let value = values.next(property.kind)?;
                    each(number, Item::Entry, value).map_err(told)?;
                    left -= 1.0;
                }
            }
            each(usize::MAX, Item::End, 0.0).map_err(told)?;
            values.finish()?;
        }
        Ok(())
    }

    fn find(&self, names: &[&str]) -> Option<usize> {
        self.properties.iter().position(|p| names.contains(&p.name.as_str()))
    }

    /// For each property, which of those named it is.
    fn parts(&self, names: &[&[&str]]) -> Vec<Option<usize>> {
        let mut parts = vec![None; self.properties.len()];
        for (number, names) in names.iter().enumerate() {
            if let Some(at) = self.find(names)
                && let Some(part) = parts.get_mut(at)
            {
                *part = Some(number);
            }
        }
        parts
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Item {
    Value,
    Length,
    Entry,
    /// The row is over.
    End,
}

#[derive(Default)]
struct Held {
    points: Vec<Point3<f64>>,
    colours: Vec<[u8; 4]>,
    /// Corners of the faces, one after the other, and how many each has.
    corners: Vec<u32>,
    lengths: Vec<u32>,
}

impl Held {
    fn vertices(
        &mut self,
        element: &Element,
        values: &mut Values<'_>,
        scale: f64,
    ) -> Result<(), MeshFault> {
        const NAMES: [&[&str]; 7] = [
            &["x"],
            &["y"],
            &["z"],
            &["red", "r", "diffuse_red"],
            &["green", "g", "diffuse_green"],
            &["blue", "b", "diffuse_blue"],
            &["alpha", "a"],
        ];
        let parts = element.parts(&NAMES);
        for (at, names) in NAMES.iter().enumerate().take(3) {
            if !parts.contains(&Some(at)) {
                let what = format!("the vertices have no \"{}\"", names.first().unwrap_or(&""));
                return Err(MeshFault::whole(what, AGAIN));
            }
        }
        let coloured = (3..6).all(|at| parts.contains(&Some(at)));
        // No more than there are bytes for.
        let count = usize::try_from(element.count).unwrap_or(0);
        self.points.reserve_exact(count);
        if coloured {
            self.colours.reserve_exact(count);
        }
        let full: Vec<f64> = element.properties.iter().map(|p| p.kind.full()).collect();
        let mut row = [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0];
        let (points, colours) = (&mut self.points, &mut self.colours);
        element.each(values, |number, item, value| {
            if let (Item::Value, Some(Some(part))) = (item, parts.get(number))
                && let (Some(slot), Some(full)) = (row.get_mut(*part), full.get(number))
            {
                *slot = if *part < 3 { value } else { value / full };
                if *part < 3 && !value.is_finite() {
                    return Err("a coordinate that is not a finite number".to_owned());
                }
            } else if parts.get(number).is_some_and(Option::is_some) {
                return Err("a list where a number belongs".to_owned());
            }
            if item == Item::End {
                let [x, y, z, red, green, blue, alpha] = row;
                points.push(Point3::new(x, y, z) * scale);
                if coloured {
                    colours.push([red, green, blue, alpha].map(byte));
                }
            }
            Ok(())
        })?;
        Ok(())
    }

    fn faces(&mut self, element: &Element, values: &mut Values<'_>) -> Result<(), MeshFault> {
        if element.count == 0 {
            return Ok(());
        }
        let Some(at) = element.find(&["vertex_indices", "vertex_index"]) else {
            return Err(MeshFault::whole("the faces have no \"vertex_indices\"", AGAIN));
        };
        if !element.properties.get(at).is_some_and(|p| p.length.is_some() && p.kind.is_whole()) {
            let what = "the faces' \"vertex_indices\" are no list of whole numbers";
            return Err(MeshFault::whole(what, AGAIN));
        }
        let count = usize::try_from(element.count).unwrap_or(0);
        self.lengths.reserve_exact(count);
        let (corners, lengths) = (&mut self.corners, &mut self.lengths);
        element.each(values, |number, item, value| {
            if number == at && item == Item::Length {
                if value < 3.0 {
                    return Err(format!("a face of {value} corners"));
                }
                lengths.push(whole(value).ok_or("too many corners")?);
            } else if number == at {
                corners.push(whole(value).ok_or_else(|| format!("vertex {value} is not there"))?);
            }
            Ok(())
        })
    }

    fn finish(self) -> Result<Read, MeshFault> {
        if self.points.is_empty() {
            return Err(MeshFault::whole("the file holds no vertex", AGAIN));
        }
        let mut out = Read::default();
        if self.lengths.is_empty() {
            out.points = Some(Points { places: self.points, colours: self.colours });
            return Ok(out);
        }
        let mut triangles = Vec::with_capacity(self.lengths.len());
        let mut rest = self.corners.as_slice();
        let mut outline = Vec::new();
        for (face, length) in (1_u64..).zip(&self.lengths) {
            let (corners, after) = rest.split_at_checked(*length as usize).unwrap_or((rest, &[]));
            rest = after;
            let told =
                |what: String, remedy| MeshFault::at(format_args!("face {face}"), what, remedy);
            if let Some(far) = corners.iter().find(|c| **c as usize >= self.points.len()) {
                let held = self.points.len();
                return Err(told(format!("vertex {far} is not there, {held} are, from 0"), AGAIN));
            }
            if let [a, b, c] = *corners {
                triangles.push([a, b, c]);
                continue;
            }
            outline.clear();
            outline.extend(corners.iter().filter_map(|c| self.points.get(*c as usize)));
            let Some(cut) = polygon::triangles(&outline) else {
                let what = format!("its {length} corners make a polygon that crosses itself");
                return Err(told(what, "export the body as triangles"));
            };
            let corner = |i: usize| corners.get(i).copied().unwrap_or(0);
            triangles.extend(cut.iter().map(|t| t.map(corner)));
        }
        let mut pool = Pool::new(&self.points);
        let Some(mesh) = pool.mesh(&triangles) else {
            return Err(MeshFault::whole("more vertices than can be numbered", COARSER));
        };
        let mut body = ModelBody::new(numbered(1), mesh);
        if !self.colours.is_empty() {
            let firsts = pool.firsts(body.mesh.vertices.len());
            let colour = |at: &usize| self.colours.get(*at).copied().unwrap_or([0; 4]);
            let colours: Vec<_> = firsts.iter().map(colour).collect();
            match colours.split_first() {
                Some((first, others)) if others.iter().all(|c| c == first) => {
                    body.colour = Some(*first);
                }
                _ => body.vertex_colours = colours,
            }
        }
        out.bodies.push(body);
        Ok(out)
    }
}

/// A share of full as a byte; what is beyond is full or nothing.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 255")]
fn byte(share: f64) -> u8 {
    (share.clamp(0.0, 1.0) * 255.0).round() as u8
}

/// A whole number that a u32 holds.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "asked before")]
fn whole(value: f64) -> Option<u32> {
    (value >= 0.0 && value < f64::from(u32::MAX)).then_some(value as u32)
}
/// A mesh as binary PLY, little endian, with doubles: read back, every coordinate is the same to the bit.
pub(crate) fn written(mesh: &Mesh) -> Vec<u8> {
    let head = format!(
        "ply\nformat binary_little_endian 1.0\nelement vertex {}\nproperty double x\nproperty double y\n\
         property double z\nelement face {}\nproperty list uchar int vertex_indices\nend_header\n",
        mesh.vertices.len(),
        mesh.triangles.len()
    );
    let mut out = head.into_bytes();
    out.reserve(24 * mesh.vertices.len() + 13 * mesh.triangles.len());
    for coordinate in mesh.vertices.iter().flat_map(|p| p.iter()) {
        out.extend(coordinate.to_le_bytes());
    }
    for triangle in &mesh.triangles {
        out.push(3);
        out.extend(triangle.iter().flat_map(|corner| corner.to_le_bytes()));
    }
    out
}
