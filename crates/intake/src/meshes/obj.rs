//! OBJ, the text format of vertices and faces.
//!
//! Read here and not by `tobj` 4: that library cuts every polygon into a fan from its first corner, which
//! lies outside where the polygon is not convex; takes no more from `o` and `g` than that a new model
//! begins, so that one body in two pieces is two; and its errors name no line.
//!
//! - Bodies are what `o` names. In a file without `o` they are what `g` names; in a file with both, groups
//!   are pieces of an object's surface and not looked at, since a body must stay closed. Faces of one name
//!   are one body wherever they stand.
//! - Polygons are cut into triangles by [`super::polygon`]; negative numbers count back from the last
//!   vertex; a line may go on after a backslash.
//! - Free-form curves and surfaces are a fault: left out, they would be taken for free space. Points and
//!   lines have no surface and are left out with a note. Materials are not looked at.

use super::distinct::Pool;
use super::fault::{AGAIN, COARSER, MeshFault, name, shown};
use super::lines::{Lines, number, whole, words};
use super::{ModelBody, Read, check_bodies, numbered, polygon};
use nalgebra::Point3;
use std::collections::HashMap;

/// Statements that say nothing of the surface's shape.
const IDLE: [&[u8]; 17] = [
    b"vt",
    b"vn",
    b"s",
    b"usemtl",
    b"mtllib",
    b"usemap",
    b"maplib",
    b"mg",
    b"lod",
    b"bevel",
    b"c_interp",
    b"d_interp",
    b"shadow_obj",
    b"trace_obj",
    b"ctech",
    b"stech",
    b"vp",
];
/// Statements that begin what is not read here.
const FREE_FORM: [&[u8]; 12] = [
    b"cstype", b"deg", b"bmat", b"step", b"curv", b"curv2", b"surf", b"parm", b"trim", b"hole",
    b"scrv", b"con",
];

/// Reads the bodies of an OBJ file, coordinates multiplied by `scale`.
pub(super) fn read(bytes: &[u8], scale: f64) -> Result<Read, MeshFault> {
    let mut file = File::default();
    let mut lines = Lines::new(bytes);
    let mut joined = Vec::new();
    while let Some(line) = lines.next() {
        let mut line = line;
        if line.ends_with(b"\\") {
            joined.clear();
            while let Some(begun) = line.strip_suffix(b"\\") {
                joined.extend_from_slice(begun);
                joined.push(b' ');
                line = lines.next().unwrap_or(b"");
            }
            joined.extend_from_slice(line);
            line = &joined;
        }
        file.statement(line, scale).map_err(|(what, remedy)| lines.fault(what, remedy))?;
    }
    file.finish()
}

/// What is wrong with a statement, and its remedy.
type Wrong = (String, &'static str);

/// An object and a group, by the numbers of their names.
type Belongs = [Option<usize>; 2];

#[derive(Default)]
struct File {
    points: Vec<Point3<f64>>,
    /// Names of objects and groups, each once.
    names: Vec<String>,
    numbers: HashMap<String, usize>,
    /// The object and the group that the faces belong to now.
    now: Belongs,
    /// Faces by object and group, in the order in which these first came.
    pieces: Vec<(Belongs, Vec<[u32; 3]>)>,
    places: HashMap<Belongs, usize>,
    /// The piece that the last face belongs to.
    piece: Option<usize>,
    /// Points and lines left out.
    left_out: u64,
    corners: Vec<u32>,
    /// The polygon's corners.
    outline: Vec<Point3<f64>>,
}

impl File {
    fn statement(&mut self, line: &[u8], scale: f64) -> Result<(), Wrong> {
        let mut words = words(line);
        let Some(word) = words.next() else { return Ok(()) };
        let again = |what| (what, AGAIN);
        match word {
            b"v" => {
                let mut next = || number(words.next()).map_err(again);
                let point = Point3::new(next()?, next()?, next()?) * scale;
                self.points.push(point);
            }
            b"f" | b"fo" => self.face(words)?,
            b"o" => self.belongs(0, line.get(1..).unwrap_or(b""))?,
            b"g" => self.belongs(1, line.get(1..).unwrap_or(b""))?,
            b"p" | b"l" => self.left_out += 1,
            _ if word.starts_with(b"#") || IDLE.contains(&word) => {}
            _ if FREE_FORM.contains(&word) => {
                return Err((
                    format!("\"{}\" begins a free-form curve or surface", shown(word)),
                    "such are not read: export the body as triangles",
                ));
            }
            _ => return Err((format!("\"{}\" is not a statement of OBJ", shown(word)), AGAIN)),
        }
        Ok(())
    }

    /// From here on faces belong to the object (0) or group (1) of this name.
    fn belongs(&mut self, kind: usize, named: &[u8]) -> Result<(), Wrong> {
        let named = name(named);
        let next = self.names.len();
        check_bodies(next).map_err(|fault| (fault.what, COARSER))?;
        let number = *self.numbers.entry(named).or_insert_with_key(|named| {
            self.names.push(named.clone());
            next
        });
        if let Some(now) = self.now.get_mut(kind) {
            *now = Some(number);
        }
        self.piece = None;
        Ok(())
    }

    fn face<'a>(&mut self, words: impl Iterator<Item = &'a [u8]>) -> Result<(), Wrong> {
        self.corners.clear();
        for word in words.take_while(|w| !w.starts_with(b"#")) {
            // Of place/texture/normal the first counts.
            let place = word.split(|b| *b == b'/').next().unwrap_or(word);
            let number = whole(place).map_err(|what| (what, AGAIN))?;
            let held = self.points.len();
            let index = match usize::try_from(number.unsigned_abs()).unwrap_or(usize::MAX) {
                0 => return Err(("vertices are numbered from 1, not from 0".to_owned(), AGAIN)),
                far if far > held => {
                    let what =
                        format!("vertex {number} is not there, {held} come before this line");
                    return Err((what, AGAIN));
                }
                back if number < 0 => held - back,
                at => at - 1,
            };
            let index = u32::try_from(index);
            self.corners.push(index.map_err(|_| ("too many vertices".to_owned(), COARSER))?);
        }
        if self.corners.len() < 3 {
            let what = format!("a face of {} corners", self.corners.len());
            return Err((what, AGAIN));
        }
        let at = match self.piece {
            Some(at) => at,
            None => *self.places.entry(self.now).or_insert_with(|| {
                self.pieces.push((self.now, Vec::new()));
                self.pieces.len() - 1
            }),
        };
        self.piece = Some(at);
        let Some((_, triangles)) = self.pieces.get_mut(at) else { return Ok(()) };
        if let [a, b, c] = *self.corners.as_slice() {
            triangles.push([a, b, c]);
            return Ok(());
        }
        self.outline.clear();
        self.outline.extend(self.corners.iter().filter_map(|c| self.points.get(*c as usize)));
        let cut = polygon::triangles(&self.outline).ok_or_else(|| {
            let what = format!("the face of {} corners crosses itself", self.corners.len());
            (what, "export the body as triangles")
        })?;
        for triangle in cut {
            triangles.push(triangle.map(|i| self.corners.get(i).copied().unwrap_or(0)));
        }
        Ok(())
    }

    fn finish(self) -> Result<Read, MeshFault> {
        let kind = usize::from(!self.pieces.iter().any(|(now, _)| now[0].is_some()));
        // Pieces of one name are one body.
        let mut bodies: Vec<(Option<usize>, Vec<[u32; 3]>)> = Vec::new();
        let mut places = HashMap::new();
        for (now, triangles) in self.pieces {
            let key = now[kind];
            let at = *places.entry(key).or_insert_with(|| {
                bodies.push((key, Vec::new()));
                bodies.len() - 1
            });
            if let Some((_, held)) = bodies.get_mut(at) {
                if held.is_empty() {
                    *held = triangles;
                } else {
                    held.extend(triangles);
                }
            }
        }
        if bodies.is_empty() {
            let remedy = "export the body again and check that the exporter had something selected";
            return Err(MeshFault::whole("the file holds no face", remedy));
        }
        let mut pool = Pool::new(&self.points);
        let mut out = Read::default();
        for (number, (key, triangles)) in (1..).zip(bodies) {
            let named = key.and_then(|at| self.names.get(at)).filter(|n| !n.is_empty()).cloned();
            let mesh = pool
                .mesh(&triangles)
                .ok_or_else(|| MeshFault::whole("more vertices than can be numbered", COARSER))?;
            out.bodies.push(ModelBody::new(named.unwrap_or_else(|| numbered(number)), mesh));
        }
        if self.left_out > 0 {
            let what = format!("{} statements of points and lines are left out", self.left_out);
            out.notes.push(what);
        }
        Ok(out)
    }
}
