//! Mesh files of any format behind one door.
//!
//! [`read`] looks at a file's content, and at its name where the content does not tell, and gives a
//! [`Model`]: named bodies in millimetres, as the file places them. What a format says of itself (unit,
//! colours, placements) is kept to; what it leaves open (the unit of STL, OBJ and PLY) must be given, and
//! what it says is not to be contradicted. Whatever the bytes, the answer is a model or a [`MeshFault`]
//! with its place and remedy: counts are held against the bytes that are there before anything is set
//! aside for them, what grows by being referred to again is counted before it is made, and nothing is
//! followed in circles.
//!
//! Nothing is repaired. Vertices of one body with equal coordinates are one, since formats split them for
//! reasons of their own (normals, colours); a mirrored placement turns the triangles around, so that they
//! face outward again.
//!
//! The readers, and why each is our own or a library's, are described in their modules.

mod cad;
pub(crate) mod distinct;
pub(crate) mod fault;
mod gltf;
mod judged;
pub(crate) mod lines;
mod obj;
mod ply;
mod polygon;
mod threemf;
mod unit;

pub(crate) use ply::written;

pub use crate::soundness::Wrong;
pub use fault::MeshFault;
pub use judged::Judged;
pub use unit::MeshUnit;

use crate::document::{self, SourceFile};
use crate::stl;
use distinct::Pool;
use nalgebra::{Matrix4, Point3};
use solids::{Deviation, Mesh};
use std::io::{self, Read as _};
use std::path::Path;

/// As many triangles as the longest STL file that is read holds, in all bodies together: what a file of
/// another format may grow to by placing one mesh again and again.
const MOST_TRIANGLES: u64 = document::LONGEST_MESH / 50;
/// More bodies are in no car top.
const MOST_BODIES: usize = 100_000;

/// What a mesh file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// STL, binary or text.
    Stl,
    /// OBJ.
    Obj,
    /// PLY, binary or text.
    Ply,
    /// glTF as text, with its buffers in it or beside it.
    Gltf,
    /// glTF in one binary file.
    Glb,
    /// 3MF.
    ThreeMf,
    /// STEP.
    Step,
}

impl Format {
    /// Its name for people.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stl => "STL",
            Self::Obj => "OBJ",
            Self::Ply => "PLY",
            Self::Gltf => "glTF",
            Self::Glb => "GLB",
            Self::ThreeMf => "3MF",
            Self::Step => "STEP",
        }
    }

    /// Whether files of it state their unit, or it is in the format's standard.
    pub const fn has_unit(self) -> bool {
        match self {
            Self::Stl | Self::Obj | Self::Ply => false,
            Self::Gltf | Self::Glb | Self::ThreeMf | Self::Step => true,
        }
    }

    /// By the file name's ending.
    pub(crate) fn of_name(path: &Path) -> Option<Self> {
        let ending = path.extension()?.to_string_lossy().to_lowercase();
        Some(match ending.as_str() {
            "stl" => Self::Stl,
            "obj" => Self::Obj,
            "ply" => Self::Ply,
            "gltf" => Self::Gltf,
            "glb" => Self::Glb,
            "3mf" => Self::ThreeMf,
            "step" | "stp" => Self::Step,
            _ => return None,
        })
    }

    /// By the file's first bytes, where these tell.
    fn of_content(head: &[u8]) -> Option<Self> {
        let text = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head).trim_ascii_start();
        let word =
            |word: &[u8]| text.get(..word.len()).is_some_and(|t| t.eq_ignore_ascii_case(word));
        if head.starts_with(b"glTF") {
            Some(Self::Glb)
        } else if head.starts_with(b"PK\x03\x04") || head.starts_with(b"PK\x05\x06") {
            Some(Self::ThreeMf)
        } else if head.starts_with(b"ply\n") || head.starts_with(b"ply\r") {
            Some(Self::Ply)
        } else if word(b"ISO-10303-21") {
            Some(Self::Step)
        } else if text.starts_with(b"{") {
            Some(Self::Gltf)
        } else if word(b"solid") {
            Some(Self::Stl)
        } else {
            None
        }
    }
}

/// The unit that a model's file was written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitBy {
    /// Stated by the file or its format.
    File(MeshUnit),
    /// Given by whoever asked for the file.
    Given(MeshUnit),
    /// Neither: coordinates are the file's own numbers.
    Nobody,
}

impl UnitBy {
    /// The unit, where it is known.
    pub const fn unit(self) -> Option<MeshUnit> {
        match self {
            Self::File(unit) | Self::Given(unit) => Some(unit),
            Self::Nobody => None,
        }
    }
}

/// What a mesh file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// What the file is.
    pub format: Format,
    /// Its unit. Coordinates are in millimetres unless nobody states one.
    pub unit: UnitBy,
    /// Its bodies, in the order of the file. Names need not be different.
    pub bodies: Vec<ModelBody>,
    /// Points without faces, as scanners give; then there are no bodies.
    pub points: Option<Points>,
    /// What was left out or is odd, a sentence each.
    pub notes: Vec<String>,
    /// What the file holds and could not be read, a sentence each: bodies may be missing.
    pub missing: Vec<String>,
    /// Files beside it that were read too, by their paths from its folder.
    pub beside: Vec<SourceFile>,
}

impl Model {
    /// The bodies of this name, or, where none has it, those whose names are as the pattern says: a star
    /// stands for any letters, none included. Names with those of what holds a body before them,
    /// `Studs/Nut`, are looked at too; and where nothing is named so, what uses of parts are called.
    pub fn named(&self, asked: &str) -> Vec<usize> {
        let all = |is: &dyn Fn(&ModelBody) -> bool| -> Vec<usize> {
            (0..).zip(&self.bodies).filter(|(_, b)| is(b)).map(|(at, _)| at).collect()
        };
        let names = |is: &dyn Fn(&str) -> bool| all(&|b| is(&b.name) || is(&b.path()));
        let uses = |is: &dyn Fn(&str) -> bool| all(&|b| b.called.as_deref().is_some_and(is));
        let exact = |name: &str| name == asked;
        let alike = |name: &str| matches(asked, name);
        [names(&exact), uses(&exact), names(&alike), uses(&alike)]
            .into_iter()
            .find(|found| !found.is_empty())
            .unwrap_or_default()
    }
}

/// Whether a name is as a pattern says: its pieces between stars, one after the other.
fn matches(pattern: &str, name: &str) -> bool {
    let Some((first, others)) = pattern.split_once('*') else { return pattern == name };
    let Some(mut rest) = name.strip_prefix(first) else { return false };
    let (between, last) = others.rsplit_once('*').unwrap_or(("", others));
    // Where a piece is found first, most is left for the others.
    for piece in between.split('*') {
        let Some(at) = rest.find(piece) else { return false };
        rest = rest.get(at + piece.len()..).unwrap_or("");
    }
    rest.ends_with(last)
}

/// A body of a mesh file.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelBody {
    /// Its name in the file, `body 3` where it has none.
    pub name: String,
    /// The name of this use of it, where the file gives one beside the name of the part that is used: what
    /// several uses of one part are told apart by.
    pub called: Option<String>,
    /// Names of what holds it, outermost first.
    pub within: Vec<String>,
    /// Its triangles, placed as in the file.
    pub mesh: Mesh,
    /// Its colour as the file gives it: red, green, blue (sRGB) and opacity.
    pub colour: Option<[u8; 4]>,
    /// The colours of its vertices, where the file gives them; otherwise empty.
    pub vertex_colours: Vec<[u8; 4]>,
    /// How far its triangles may be from the surface in the file, where that surface is exact and was
    /// meshed here, or as the file states it; `None` for meshes, which are all that their files hold.
    pub deviation: Option<Deviation>,
    /// Pieces of its surface that could not be meshed, named for people. With any, it is never sound.
    pub missing: Vec<String>,
}

impl ModelBody {
    pub(crate) fn new(name: String, mesh: Mesh) -> Self {
        Self {
            name,
            called: None,
            within: Vec::new(),
            mesh,
            colour: None,
            vertex_colours: Vec::new(),
            deviation: None,
            missing: Vec::new(),
        }
    }

    /// Its name after those of what holds it, `/` between.
    pub fn path(&self) -> String {
        let names = self.within.iter().chain([&self.name]).map(String::as_str);
        names.collect::<Vec<_>>().join("/")
    }
}

/// Points that no face joins.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Points {
    /// Their places.
    pub places: Vec<Point3<f64>>,
    /// Their colours, or none at all: red, green, blue (sRGB) and opacity.
    pub colours: Vec<[u8; 4]>,
}

impl Points {
    /// The corners of the box around them; none without points.
    pub fn bounds(&self) -> Option<[[f64; 3]; 2]> {
        let first = *self.places.first()?;
        let (low, high) =
            self.places.iter().fold((first, first), |(low, high), p| (low.inf(p), high.sup(p)));
        Some([low.into(), high.into()])
    }
}

/// What a reader gives.
#[derive(Debug, Default)]
pub(crate) struct Read {
    pub(crate) bodies: Vec<ModelBody>,
    pub(crate) points: Option<Points>,
    pub(crate) notes: Vec<String>,
    pub(crate) missing: Vec<String>,
    pub(crate) beside: Vec<SourceFile>,
}

/// Meshes as one. Where one of them is open, as a piece of a surface is, vertices with equal coordinates
/// become one over all; closed ones stay the shells that they are.
pub(crate) fn joined(meshes: &[&Mesh]) -> Mesh {
    let mut all = Mesh::default();
    for mesh in meshes {
        all.append(mesh);
    }
    if meshes.len() < 2 || meshes.iter().all(|mesh| solids::soundness(mesh).is_closed()) {
        return all;
    }
    Pool::new(&all.vertices).mesh(&all.triangles).unwrap_or(all)
}

/// A mesh where a placement puts it, then all in millimetres; one that mirrors turns the triangles around.
/// `None` when nothing is left of a body, or it lies beyond all bounds.
fn place(mesh: &Mesh, at: &Matrix4<f64>, mm: f64) -> Option<Mesh> {
    let turned = at.fixed_view::<3, 3>(0, 0).determinant();
    if !turned.is_finite() || turned == 0.0 {
        return None;
    }
    let vertices: Vec<Point3<f64>> =
        mesh.vertices.iter().map(|p| at.transform_point(p) * mm).collect();
    if !vertices.iter().flat_map(|p| p.iter()).all(|c| c.is_finite()) {
        return None;
    }
    let turn = |[a, b, c]: &[u32; 3]| if turned < 0.0 { [*a, *c, *b] } else { [*a, *b, *c] };
    Some(Mesh { vertices, triangles: mesh.triangles.iter().map(turn).collect() })
}

/// The name of a body that has none, by its number from 1.
pub(crate) fn numbered(number: usize) -> String {
    format!("body {number}")
}

/// Fails where there are too many bodies.
pub(crate) fn check_bodies(count: usize) -> Result<(), MeshFault> {
    if count < MOST_BODIES {
        return Ok(());
    }
    let what = format!("more than {MOST_BODIES} bodies");
    Err(MeshFault::whole(what, "export only what the rig meets"))
}

/// Reads a mesh file; `given` is the unit of a file that does not state its own.
///
/// # Errors
/// When the file cannot be opened or used, or states another unit than the one given.
pub fn read(path: &Path, given: Option<MeshUnit>) -> Result<Model, MeshFault> {
    Ok(open(path, given, false)?.0)
}

/// The same with the file's hash.
///
/// # Errors
/// As [`read`].
pub fn read_hashed(path: &Path, given: Option<MeshUnit>) -> Result<(Model, SourceFile), MeshFault> {
    let (model, hash) = open(path, given, true)?;
    Ok((model, SourceFile { path: path.display().to_string(), sha256: hash }))
}

/// Reads a mesh file that is in memory; `path` is its name, and where files beside it are looked for.
///
/// # Errors
/// As [`read`].
pub fn read_bytes(bytes: &[u8], path: &Path, given: Option<MeshUnit>) -> Result<Model, MeshFault> {
    take(&mut &*bytes, bytes.len() as u64, path, given)
}

fn open(path: &Path, given: Option<MeshUnit>, hashed: bool) -> Result<(Model, String), MeshFault> {
    let (file, length) = document::open(path, document::LONGEST_MESH)
        .map_err(|e| MeshFault { opened: false, ..MeshFault::whole(e, "check the path") })?;
    let mut file = document::Hashing::new(file, hashed);
    let model = take(&mut file, length, path, given)?;
    let hash = file.finish().map_err(|e| unread(&e))?;
    Ok((model, hash))
}

fn unread(error: &io::Error) -> MeshFault {
    MeshFault::whole(format_args!("cannot be read: {}", error.kind()), "copy the file again")
}

/// Reads a model from bytes that come one after the other, `length` of them; `path` is their name and where
/// files beside them lie.
fn take(
    source: &mut impl io::Read,
    length: u64,
    path: &Path,
    given: Option<MeshUnit>,
) -> Result<Model, MeshFault> {
    let mut head = Vec::new();
    source.by_ref().take(512).read_to_end(&mut head).map_err(|e| unread(&e))?;
    let named = Format::of_name(path);
    let binary_stl = stl::is_binary(&head, length);
    let content = if binary_stl { Some(Format::Stl) } else { Format::of_content(&head) };
    let Some(format) = content.or(named) else {
        return Err(MeshFault::whole(
            "of a kind that is not read",
            "STL, OBJ, PLY, glTF, GLB, 3MF and STEP are read: export it as one of these",
        ));
    };
    let scale = given.map_or(1.0, MeshUnit::mm);
    let mut stated = None;
    let mut read = if binary_stl {
        let mesh = stl::read_binary(&mut (&*head).chain(source), length, scale)?;
        Read { bodies: vec![ModelBody::new(numbered(1), mesh)], ..Read::default() }
    } else {
        let mut bytes = head;
        bytes.reserve_exact(usize::try_from(length).unwrap_or(0).saturating_sub(bytes.len()));
        source.read_to_end(&mut bytes).map_err(|e| unread(&e))?;
        match format {
            Format::Stl => stl::bodies(&bytes, scale)?,
            Format::Obj => obj::read(&bytes, scale)?,
            Format::Ply => ply::read(&bytes, scale)?,
            Format::Gltf | Format::Glb => {
                stated = Some(MeshUnit::Metre);
                gltf::read(&bytes, path)?
            }
            Format::ThreeMf => {
                let (read, unit) = threemf::read(&bytes)?;
                stated = Some(unit);
                read
            }
            Format::Step => {
                let (read, unit) = cad::read(&bytes, given)?;
                stated = unit;
                read
            }
        }
    };
    let unit = match (stated, given) {
        (Some(stated), Some(given)) if stated != given => {
            return Err(contradicted(format, stated, given));
        }
        (Some(stated), _) => UnitBy::File(stated),
        (None, Some(given)) => UnitBy::Given(given),
        (None, None) => UnitBy::Nobody,
    };
    if let Some(named) = named.filter(|named| *named != format) {
        let (word, is) = (named.word(), format.word());
        read.notes.push(format!("named as {word}, but it is {is}"));
    }
    let Read { bodies, points, notes, missing, beside } = read;
    Ok(Model { format, unit, bodies, points, notes, missing, beside })
}

/// What to say where a file's unit is said to be another.
pub(crate) fn contradicted(format: Format, stated: MeshUnit, given: MeshUnit) -> MeshFault {
    let (stated, given) = (stated.word(), given.word());
    let what = match format {
        Format::Gltf | Format::Glb => {
            format!("the unit is said to be {given}, but glTF is in {stated} by its standard")
        }
        _ => format!("the unit is said to be {given}, but the file says {stated}"),
    };
    MeshFault::whole(what, "leave the unit out; if the file is wrong, export it again in its unit")
}

#[cfg(test)]
mod tests;
