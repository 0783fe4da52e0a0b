//! 3MF, the zipped XML format of additive manufacturing.
//!
//! `zip` 9 opens the archive and unpacks, `quick-xml` 0.41 reads what is unpacked while it comes; both are
//! well kept. `roxmltree` was gone around because it holds the whole document, many times the mesh's size.
//! What they leave to their user is done here:
//!
//! - an archive that unpacks to far more than any mesh packs to is a bomb and stopped on the way, whatever
//!   sizes it states;
//! - a document type, which entities need, is a fault, as the standard has it, and so are elements nested
//!   deeper than a model's ever are;
//! - an object may only name objects before it, as the standard has it. So nothing goes in circles, and how
//!   many bodies and triangles an object stands for is known, and held against the limits, before one is
//!   made.
//!
//! The unit is the model's (`millimeter` where it does not say). Every item of the build is placed, through
//! components of components; each mesh so met is a body, named as its object is. A mirrored placement turns
//! the triangles around. Of the extensions that a model requires, materials and triangle sets are passed
//! over, since they say nothing of shape. Any other is a fault by its name, and so is a path into another
//! part of the archive, which is the production extension's.

use super::distinct::Pool;
use super::fault::{AGAIN, COARSER, DAMAGED, MeshFault, name, shown};
use super::lines::number;
use super::{MOST_BODIES, MOST_TRIANGLES, MeshUnit, ModelBody, Read, numbered, place};
use crate::document::LONGEST_MESH;
use nalgebra::{Matrix4, Point3};
use quick_xml::Reader;
use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};
use solids::Mesh;
use std::borrow::Cow;
use std::collections::HashMap;
use std::io::{self, BufReader, Cursor};
use zip::ZipArchive;

const CORE: &str = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02";
const PRODUCTION: &str = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06";
/// Extensions that say nothing of shape.
const IDLE: [&str; 3] = [
    CORE,
    "http://schemas.microsoft.com/3dmanufacturing/material/2015/02",
    "http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07",
];
const MODEL: &str = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";

/// Deflate makes XML of numbers five to twenty times shorter; up to this many times is read, and this many
/// bytes in any case.
const MOST_TIMES: u64 = 200;
const SMALL: u64 = 16 << 20;
/// Elements and components are nulled out beyond this depth.
const DEEPEST: usize = 64;

/// Reads the bodies of a 3MF file, in millimetres, and its unit.
pub(super) fn read(bytes: &[u8]) -> Result<(Read, MeshUnit), MeshFault> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|e| broken(&e))?;
    let part = root_part(&mut archive)?;
    let mut model = Model::default();
    each_element(&mut archive, &part, |element, depth| model.element(element, depth))?;
    model.finish()
}

fn broken(error: &dyn std::fmt::Display) -> MeshFault {
    let text: String = error.to_string().chars().filter(|c| !c.is_control()).take(120).collect();
    MeshFault::whole(format_args!("the archive is broken: {text}"), DAMAGED)
}

/// An element that begins or ends.
enum Element<'a> {
    Begin(&'a BytesStart<'a>),
    End(&'a [u8]),
}

/// Hands on every element of a part with its depth, the root's being 1.
fn each_element(
    archive: &mut ZipArchive<Cursor<&[u8]>>,
    part: &str,
    mut each: impl FnMut(&Element<'_>, usize) -> Result<(), MeshFault>,
) -> Result<(), MeshFault> {
    let wanted = part.trim_start_matches('/');
    let alike = |n: &Cow<'_, str>| n.trim_start_matches('/').eq_ignore_ascii_case(wanted);
    let found = archive.file_names().flatten().find(alike).map(Cow::into_owned);
    let Some(found) = found else {
        let what = format!("the archive has no \"{}\"", shown(wanted.as_bytes()));
        return Err(MeshFault::whole(what, "check that it is a 3MF file, or export it again"));
    };
    let file = archive.by_name(&found).map_err(|e| broken(&e))?;
    let most = file.compressed_size().saturating_mul(MOST_TIMES).clamp(SMALL, LONGEST_MESH);
    let source = Limited { source: file, left: most, broke: false };
    let mut reader = Reader::from_reader(BufReader::with_capacity(1 << 16, source));
    reader.config_mut().expand_empty_elements = true;
    let told = |what: String| MeshFault::at(part, what, DAMAGED);
    let mut buffer = Vec::new();
    let mut depth = 0;
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer) {
            Ok(Event::Start(element)) => {
                depth += 1;
                if depth > DEEPEST {
                    return Err(told(format!("elements are nested deeper than {DEEPEST}")));
                }
                each(&Element::Begin(&element), depth)?;
            }
            Ok(Event::End(element)) => {
                each(&Element::End(element.name().0), depth)?;
                depth = depth.saturating_sub(1);
            }
            Ok(Event::DocType(_)) => {
                let what = "it has a document type, which 3MF does not allow";
                return Err(MeshFault::at(part, what, AGAIN));
            }
            Ok(Event::Eof) if depth == 0 => return Ok(()),
            Ok(Event::Eof) => return Err(told("it ends within an element".to_owned())),
            Ok(_) => {}
            Err(error) => {
                let times = format!("it unpacks to more than {MOST_TIMES} times its size");
                let bomb = reader.get_ref().get_ref().broke;
                if bomb {
                    let remedy = "no mesh packs so well: do not use the file";
                    return Err(MeshFault::at(part, times, remedy));
                }
                let at = reader.error_position();
                let text = error.to_string();
                let text: String = text.chars().filter(|c| !c.is_control()).take(120).collect();
                return Err(told(format!("not well-formed at byte {at}: {text}")));
            }
        }
    }
}

/// A source that fails beyond so many bytes.
struct Limited<R> {
    source: R,
    left: u64,
    broke: bool,
}

impl<R: io::Read> io::Read for Limited<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let count = self.source.read(out)?;
        let Some(left) = self.left.checked_sub(count as u64) else {
            self.broke = true;
            return Err(io::ErrorKind::FileTooLarge.into());
        };
        self.left = left;
        Ok(count)
    }
}

/// The part that holds the model.
fn root_part(archive: &mut ZipArchive<Cursor<&[u8]>>) -> Result<String, MeshFault> {
    let mut part = None;
    each_element(archive, "_rels/.rels", |element, _| {
        if let Element::Begin(element) = element
            && element.local_name().as_ref() == b"Relationship"
            && text_of(element, b"Type")?.as_deref() == Some(MODEL)
            && part.is_none()
        {
            part = text_of(element, b"Target")?;
        }
        Ok(())
    })?;
    part.ok_or_else(|| {
        let what = "the archive names no model";
        MeshFault::whole(what, "check that it is a 3MF file, or export it again")
    })
}

/// An attribute's text, entities resolved; only those of XML itself are known.
fn text_of(element: &BytesStart<'_>, key: &[u8]) -> Result<Option<String>, MeshFault> {
    let mut found = None;
    for attribute in element.attributes().with_checks(false) {
        let attribute = attribute.map_err(|e| broken_element(element, &e))?;
        if attribute.key.0 == key {
            let value = attribute.normalized_value(XmlVersion::Implicit1_0);
            found = Some(value.map_err(|e| broken_element(element, &e))?.into_owned());
        }
    }
    Ok(found)
}

fn broken_element(element: &BytesStart<'_>, error: &dyn std::fmt::Display) -> MeshFault {
    let text: String = error.to_string().chars().filter(|c| !c.is_control()).take(120).collect();
    MeshFault::whole(format_args!("<{}>: {text}", shown(element.name().0)), DAMAGED)
}

#[derive(Default)]
struct Model {
    unit: Option<MeshUnit>,
    /// How the elements of the core begin: nothing, or a prefix with its colon.
    prefix: Vec<u8>,
    objects: HashMap<u32, Object>,
    /// The object that is being read.
    now: Option<(u32, Draft)>,
    items: Vec<Placed>,
    /// Colours by the group's number.
    colours: HashMap<u32, Vec<[u8; 4]>>,
    group: Option<u32>,
    left_out: u64,
    ended: bool,
}

/// An object placed.
struct Placed {
    object: u32,
    at: Matrix4<f64>,
}

#[derive(Default)]
struct Draft {
    name: String,
    colour: Option<(u32, usize)>,
    is_support: bool,
    points: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
    components: Vec<Placed>,
}

struct Object {
    name: String,
    colour: Option<[u8; 4]>,
    is_support: bool,
    mesh: Mesh,
    components: Vec<Placed>,
    /// What it stands for, components of components counted.
    bodies: u64,
    triangles: u64,
    depth: usize,
}

impl Model {
    fn element(&mut self, element: &Element<'_>, depth: usize) -> Result<(), MeshFault> {
        let element = match element {
            Element::Begin(element) => element,
            Element::End(name) => return self.end(name),
        };
        if depth == 1 {
            return self.model(element);
        }
        let name = element.name().0;
        let local = element.local_name();
        match name.strip_prefix(self.prefix.as_slice()).filter(|n| !n.contains(&b':')) {
            Some(b"vertex") => self.vertex(element),
            Some(b"triangle") => self.triangle(element),
            Some(b"object") => self.object(element),
            Some(b"component") => {
                let placed = placed(element, "a component")?;
                let Some((id, draft)) = &mut self.now else {
                    return Err(MeshFault::whole("a component outside an object", AGAIN));
                };
                if !self.objects.contains_key(&placed.object) {
                    let what =
                        format!("it names object {}, which does not come before it", placed.object);
                    return Err(MeshFault::at(format_args!("object {id}"), what, AGAIN));
                }
                draft.components.push(placed);
                Ok(())
            }
            Some(b"item") => {
                let placed = placed(element, "an item of the build")?;
                if !self.objects.contains_key(&placed.object) {
                    let what =
                        format!("the build names object {}, which is not there", placed.object);
                    return Err(MeshFault::whole(what, AGAIN));
                }
                self.items.push(placed);
                Ok(())
            }
            Some(b"basematerials") => self.group(element),
            Some(b"base") => self.colour(element, b"displaycolor"),
            _ => match local.as_ref() {
                b"colorgroup" => self.group(element),
                b"color" => self.colour(element, b"color"),
                b"beamlattice" => {
                    let remedy = "it is not read: export the body as triangles alone";
                    Err(MeshFault::whole("an object holds a beam lattice", remedy))
                }
                _ => Ok(()),
            },
        }
    }

    fn model(&mut self, element: &BytesStart<'_>) -> Result<(), MeshFault> {
        let mut spaces: HashMap<Vec<u8>, String> = HashMap::new();
        let mut core = None;
        for attribute in element.attributes().with_checks(false) {
            let attribute = attribute.map_err(|e| broken_element(element, &e))?;
            let key = attribute.key.0;
            let prefix = match key.strip_prefix(b"xmlns") {
                Some(b"") => Vec::new(),
                Some(prefix) if prefix.starts_with(b":") => prefix.get(1..).unwrap_or(b"").to_vec(),
                _ => continue,
            };
            let value = attribute.normalized_value(XmlVersion::Implicit1_0);
            let value = value.map_err(|e| broken_element(element, &e))?.into_owned();
            if value == CORE && core.is_none() {
                core = Some(prefix.clone());
            }
            spaces.insert(prefix, value);
        }
        let Some(mut core) = core.filter(|_| element.local_name().as_ref() == b"model") else {
            let what = "the model is not of 3MF's core namespace";
            return Err(MeshFault::whole(what, "check that it is a 3MF file, or export it again"));
        };
        if !core.is_empty() {
            core.push(b':');
        }
        self.prefix = core;
        let unit = text_of(element, b"unit")?;
        self.unit = Some(match unit.as_deref() {
            None | Some("millimeter") => MeshUnit::Millimetre,
            Some("micron") => MeshUnit::Micrometre,
            Some("centimeter") => MeshUnit::Centimetre,
            Some("meter") => MeshUnit::Metre,
            Some("inch") => MeshUnit::Inch,
            Some("foot") => MeshUnit::Foot,
            Some(other) => {
                let what = format!("the unit \"{}\" is not one of 3MF's", shown(other.as_bytes()));
                return Err(MeshFault::whole(what, AGAIN));
            }
        });
        let required = text_of(element, b"requiredextensions")?.unwrap_or_default();
        for prefix in required.split_ascii_whitespace() {
            let space = spaces.get(prefix.as_bytes()).map_or(prefix, String::as_str);
            if !IDLE.contains(&space) {
                let kind =
                    if space == PRODUCTION { "the production extension" } else { "the extension" };
                let what = format!("the file requires {kind} \"{}\"", name(space.as_bytes()));
                return Err(MeshFault::whole(what, "it is not read: export the model without it"));
            }
        }
        Ok(())
    }

    fn vertex(&mut self, element: &BytesStart<'_>) -> Result<(), MeshFault> {
        let Some((id, draft)) = &mut self.now else {
            return Err(MeshFault::whole("a vertex outside an object", AGAIN));
        };
        let count = draft.points.len();
        let told =
            |what: String| MeshFault::at(format_args!("object {id}, vertex {count}"), what, AGAIN);
        let mut point = [f64::NAN; 3];
        for attribute in element.attributes().with_checks(false) {
            let attribute = attribute.map_err(|e| broken_element(element, &e))?;
            let at = match attribute.key.0 {
                b"x" => 0,
                b"y" => 1,
                b"z" => 2,
                _ => continue,
            };
            let value = number(Some(attribute.value.trim_ascii())).map_err(told)?;
            if let Some(slot) = point.get_mut(at) {
                *slot = value;
            }
        }
        if point.iter().any(|c| c.is_nan()) {
            return Err(told("a coordinate is missing".to_owned()));
        }
        if count as u64 > 3 * MOST_TRIANGLES {
            return Err(told("more vertices than are read".to_owned()));
        }
        draft.points.push(Point3::from(point));
        Ok(())
    }

    fn triangle(&mut self, element: &BytesStart<'_>) -> Result<(), MeshFault> {
        let Some((id, draft)) = &mut self.now else {
            return Err(MeshFault::whole("a triangle outside an object", AGAIN));
        };
        let count = draft.triangles.len();
        let told = |what: String| {
            MeshFault::at(format_args!("object {id}, triangle {count}"), what, AGAIN)
        };
        let mut corners = [u32::MAX; 3];
        for attribute in element.attributes().with_checks(false) {
            let attribute = attribute.map_err(|e| broken_element(element, &e))?;
            let at = match attribute.key.0 {
                b"v1" => 0,
                b"v2" => 1,
                b"v3" => 2,
                _ => continue,
            };
            let value = id_of(&attribute.value).ok_or_else(|| {
                told(format!(
                    "a number of a vertex expected, found \"{}\"",
                    shown(&attribute.value)
                ))
            })?;
            if let Some(slot) = corners.get_mut(at) {
                *slot = value;
            }
        }
        if let Some(far) = corners.iter().find(|c| **c as usize >= draft.points.len()) {
            let what = if *far == u32::MAX {
                "a corner is missing".to_owned()
            } else {
                format!("vertex {far} is not there, {} are, from 0", draft.points.len())
            };
            return Err(told(what));
        }
        if count as u64 > MOST_TRIANGLES {
            return Err(told("more triangles than are read".to_owned()));
        }
        draft.triangles.push(corners);
        Ok(())
    }

    fn object(&mut self, element: &BytesStart<'_>) -> Result<(), MeshFault> {
        let Some(id) = text_of(element, b"id")?.and_then(|id| id_of(id.as_bytes())) else {
            return Err(MeshFault::whole("an object without a number", AGAIN));
        };
        let told = |what: &str| MeshFault::at(format_args!("object {id}"), what, AGAIN);
        if self.now.is_some() {
            return Err(told("an object within an object"));
        }
        if self.objects.contains_key(&id) {
            return Err(told("the number is given twice"));
        }
        let colour = match (text_of(element, b"pid")?, text_of(element, b"pindex")?) {
            (Some(group), at) => id_of(group.as_bytes())
                .zip(id_of(at.as_deref().unwrap_or("0").as_bytes()))
                .map(|(group, at)| (group, at as usize)),
            _ => None,
        };
        let kind = text_of(element, b"type")?;
        let draft = Draft {
            name: name(text_of(element, b"name")?.unwrap_or_default().as_bytes()),
            colour,
            is_support: matches!(kind.as_deref(), Some("support" | "solidsupport")),
            ..Draft::default()
        };
        self.now = Some((id, draft));
        Ok(())
    }

    fn group(&mut self, element: &BytesStart<'_>) -> Result<(), MeshFault> {
        self.group = text_of(element, b"id")?.and_then(|id| id_of(id.as_bytes()));
        Ok(())
    }

    fn colour(&mut self, element: &BytesStart<'_>, key: &[u8]) -> Result<(), MeshFault> {
        if let Some(group) = self.group {
            let colour = text_of(element, key)?.and_then(|text| colour_of(&text));
            // One that is not understood is white, so that those after it keep their numbers.
            self.colours.entry(group).or_default().push(colour.unwrap_or([255; 4]));
        }
        Ok(())
    }

    fn end(&mut self, name: &[u8]) -> Result<(), MeshFault> {
        match name.strip_prefix(self.prefix.as_slice()) {
            Some(b"model") => self.ended = true,
            Some(b"basematerials") => self.group = None,
            Some(b"object") => {
                if let Some((id, draft)) = self.now.take() {
                    let object = self.made(id, draft)?;
                    self.objects.insert(id, object);
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn made(&self, id: u32, draft: Draft) -> Result<Object, MeshFault> {
        let told = |what: String, remedy| MeshFault::at(format_args!("object {id}"), what, remedy);
        let mesh = Pool::new(&draft.points)
            .mesh(&draft.triangles)
            .ok_or_else(|| told("more vertices than can be numbered".to_owned(), COARSER))?;
        let held = draft.components.iter().filter_map(|c| self.objects.get(&c.object));
        let (mut bodies, mut triangles, mut depth) =
            (u64::from(!mesh.triangles.is_empty()), mesh.triangles.len() as u64, 1);
        for part in held {
            bodies = bodies.saturating_add(part.bodies);
            triangles = triangles.saturating_add(part.triangles);
            depth = depth.max(part.depth + 1);
        }
        if depth > DEEPEST {
            return Err(told(format!("components are nested deeper than {DEEPEST}"), AGAIN));
        }
        let colour =
            draft.colour.and_then(|(group, at)| self.colours.get(&group)?.get(at).copied());
        let Draft { name, is_support, components, .. } = draft;
        Ok(Object { name, colour, is_support, mesh, components, bodies, triangles, depth })
    }

    fn finish(mut self) -> Result<(Read, MeshUnit), MeshFault> {
        let Some(unit) = self.unit.filter(|_| self.ended) else {
            return Err(MeshFault::whole("the model is empty", DAMAGED));
        };
        let (mut bodies, mut triangles) = (0_u64, 0_u64);
        for object in self.items.iter().filter_map(|item| self.objects.get(&item.object)) {
            bodies = bodies.saturating_add(object.bodies);
            triangles = triangles.saturating_add(object.triangles);
        }
        if bodies > MOST_BODIES as u64 || triangles > MOST_TRIANGLES {
            let what = format!(
                "the build, placed, has {bodies} bodies with {triangles} triangles; \
                 {MOST_BODIES} with {MOST_TRIANGLES} are read"
            );
            return Err(MeshFault::whole(what, "export only what the rig meets"));
        }
        let mut out = Read::default();
        for item in std::mem::take(&mut self.items) {
            self.place(&item, unit, &mut out)?;
        }
        if self.left_out > 0 {
            out.notes.push(format!("{} supports of the build are left out", self.left_out));
        }
        if out.bodies.is_empty() {
            let remedy =
                "export the model again and check that the exporter had something selected";
            return Err(MeshFault::whole("the build holds no triangle", remedy));
        }
        Ok((out, unit))
    }

    /// Adds the bodies that an item stands for.
    fn place(&mut self, item: &Placed, unit: MeshUnit, out: &mut Read) -> Result<(), MeshFault> {
        let mut todo = vec![(item.object, item.at, Vec::<String>::new())];
        while let Some((id, at, within)) = todo.pop() {
            let Some(object) = self.objects.get(&id) else { continue };
            if object.is_support {
                self.left_out += 1;
                continue;
            }
            let mut held_by = within.clone();
            if !object.name.is_empty() {
                held_by.push(object.name.clone());
            }
            for part in object.components.iter().rev() {
                todo.push((part.object, at * part.at, held_by.clone()));
            }
            if object.mesh.triangles.is_empty() {
                continue;
            }
            let placed = place(&object.mesh, &at, unit.mm()).ok_or_else(|| {
                let what = "its placement flattens it, or moves it beyond all bounds";
                MeshFault::at(format_args!("object {id}"), what, AGAIN)
            })?;
            let named = Some(object.name.clone()).filter(|n| !n.is_empty());
            let mut body =
                ModelBody::new(named.unwrap_or_else(|| numbered(out.bodies.len() + 1)), placed);
            body.colour = object.colour;
            body.within = within;
            out.bodies.push(body);
        }
        Ok(())
    }
}

/// What a component or an item places where.
fn placed(element: &BytesStart<'_>, what: &str) -> Result<Placed, MeshFault> {
    let told = |fault: String| MeshFault::whole(format_args!("{what}: {fault}"), AGAIN);
    for attribute in element.attributes().with_checks(false) {
        let attribute = attribute.map_err(|e| broken_element(element, &e))?;
        if attribute.key.local_name().as_ref() == b"path" {
            let what = format!("{what} lies in another part, by the production extension");
            return Err(MeshFault::whole(what, "it is not read: export the model without it"));
        }
    }
    let id = text_of(element, b"objectid")?.and_then(|id| id_of(id.as_bytes()));
    let object = id.ok_or_else(|| told("it names no object".to_owned()))?;
    let mut at = Matrix4::identity();
    if let Some(text) = text_of(element, b"transform")? {
        let mut words = super::lines::words(text.as_bytes());
        // Rows of a matrix that stands behind a row: columns of the one that stands before a column.
        for column in 0..4 {
            for row in 0..3 {
                at[(row, column)] = number(words.next()).map_err(told)?;
            }
        }
        if words.next().is_some() {
            return Err(told("a placement of more than twelve numbers".to_owned()));
        }
    }
    Ok(Placed { object, at })
}

fn id_of(text: &[u8]) -> Option<u32> {
    std::str::from_utf8(text.trim_ascii()).ok()?.parse().ok().filter(|id| *id < u32::MAX)
}

/// `#RRGGBB` or `#RRGGBBAA`.
fn colour_of(text: &str) -> Option<[u8; 4]> {
    let digits = text.strip_prefix('#').filter(|d| d.bytes().all(|b| b.is_ascii_hexdigit()))?;
    let whole = match digits.len() {
        6 => u32::from_str_radix(digits, 16).ok()? << 8 | 0xff,
        8 => u32::from_str_radix(digits, 16).ok()?,
        _ => return None,
    };
    Some(whole.to_be_bytes())
}
