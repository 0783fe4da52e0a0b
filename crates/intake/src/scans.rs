//! `scan.toml`: scans of one car top, from where each was taken, and how they lie to each other.

use crate::case::{heading, unique};
use crate::document::{self, SourceFile};
use crate::fault::{Faults, Pen};
use crate::meshes::{self, Format, MeshFault, MeshUnit, UnitBy};
use crate::table::{Bound, ROOT, Table, Text, choice_of};
use measure::LengthUnit;
use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};
use scan::{Shot, Start};
use solids::Mesh;
use solids::build::LARGEST;
use std::path::Path;

/// Scans of one car top as their document gives them.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanFile {
    /// Title for people.
    pub title: String,
    /// Unit in which its reader reads lengths.
    pub unit: LengthUnit,
    /// The scans, in the order of the document.
    pub scans: Vec<ScanRead>,
    /// Every file that was read, the document first.
    pub sources: Vec<SourceFile>,
}

/// One scan.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanRead {
    /// What was seen, mm.
    pub shot: Shot,
    /// In which unit the file is, where nobody said so and its size tells: why.
    pub unit_guessed: Option<String>,
    /// How it lies on the first, roughly; `None` where its coordinates are the first's already.
    pub start: Option<Start>,
}

/// Directions nearer to parallel than this have no use as axes: 10 degrees.
const NEAR_PARALLEL: f64 = 10.0;
/// How far points may be off at the start where the document does not say, mm.
const WITHIN: f64 = 30.0;

/// Reads a scan document and the files it names.
///
/// # Errors
/// Everything that is wrong, each with its place and remedy.
pub fn read_scans(path: &Path) -> Result<ScanFile, Faults> {
    let mut pen = Pen::new(path.display().to_string());
    let read = read(&mut pen, path);
    pen.close(read)
}

fn read(pen: &mut Pen, path: &Path) -> Option<ScanFile> {
    let (text, own) = document::text(pen, path, "a scan.toml")?;
    let opened = pen.opened(text);
    let text = opened.inner();
    let parsed = document::parse(pen, text)?;
    let mut root = Table::new(parsed.get_ref(), document::first_line(text), ROOT);
    let (title, unit) = heading(&mut root, pen);
    let folder = path.parent().unwrap_or(Path::new(""));
    let mut files = Vec::new();
    let mut sources = vec![own];
    let tables = root.tables(pen, "scan", "scan");
    if tables.is_empty() {
        pen.at(
            root.span(),
            "the document has no scan",
            "no [[scan]] in here",
            "name each file in a table that begins with the line: [[scan]]",
        );
    }
    let mut scans = Vec::new();
    for (number, table) in tables.into_iter().enumerate() {
        scans.extend(scan(table, pen, (folder, number), &mut files, &mut sources));
    }
    root.finish(pen);
    pen.is_clean().then_some(ScanFile { title, unit, scans, sources })
}

/// One `[[scan]]` with its file.
fn scan(
    mut table: Table<'_>,
    pen: &mut Pen,
    (folder, number): (&Path, usize),
    files: &mut Vec<String>,
    sources: &mut Vec<SourceFile>,
) -> Option<ScanRead> {
    let file = table.text(pen, "file", "\"north.ply\"");
    unique(pen, files, &file, "scan's file");
    if !file.text.is_empty() {
        table.title = format!("scan \"{}\"", file.text);
    }
    let words = MeshUnit::STATED.map(MeshUnit::word);
    let unit = table.maybe_text(pen, "unit", "\"m\"");
    let unit_place = table.place("unit");
    let stated = unit.and_then(|unit| choice_of(pen, &unit, "unit", &words));
    let stated = stated.and_then(|at| MeshUnit::STATED.get(at)).copied();
    let seen_from = table
        .has("seen-from")
        .then(|| Point3::from(table.lengths::<3>(pen, "seen-from")))
        .filter(|p| p.iter().all(|c| c.is_finite()));
    let start = start(&mut table, pen, number);
    table.finish(pen);
    if file.text.is_empty() {
        return None;
    }
    let (Mesh { vertices: mut points, triangles }, by) = seen(pen, folder, &file, sources)?;
    let mut unit_guessed = None;
    let scale = match (by, stated) {
        (UnitBy::File(unit), Some(stated)) if unit != stated => {
            let format = Format::of_name(Path::new(&file.text)).unwrap_or(Format::Ply);
            let fault = meshes::contradicted(format, unit, stated);
            let message = format!("scan file \"{}\" is in another unit", file.text);
            pen.at(&unit_place, message, fault.what, fault.remedy);
            return None;
        }
        // Its coordinates are in millimetres already.
        (UnitBy::File(_) | UnitBy::Given(_), _) => 1.0,
        (UnitBy::Nobody, Some(stated)) => stated.mm(),
        (UnitBy::Nobody, None) => {
            let read = scan::unit_of(&points);
            let others: Vec<&str> = read.others.iter().map(|u| u.word()).collect();
            match read.unit {
                Some(unit) if others.is_empty() => {
                    unit_guessed = Some(format!("{} by its size: {}", unit.word(), read.because));
                    unit.mm()
                }
                _ => {
                    let remedy = "write the unit in which it was exported, as in: unit = \"m\"";
                    let message = format!("nothing tells in which unit \"{}\" is", file.text);
                    pen.at(&file.span, message, read.because, remedy);
                    return None;
                }
            }
        }
    };
    for point in &mut points {
        *point *= scale;
    }
    if points.iter().flat_map(|p| p.iter()).any(|c| c.is_finite() && c.abs() > LARGEST) {
        pen.at(
            &file.span,
            format!("scan file \"{}\" lies too far from the origin of its coordinates", file.text),
            "no more than 100 m is reckoned with",
            "check the unit, or move the scan nearer to the origin and export it again",
        );
        return None;
    }
    let shot = Shot { name: file.text, points, triangles, seen_from, ..Shot::default() };
    Some(ScanRead { shot, unit_guessed, start })
}

/// What a file holds: points, and triangles between them where there are some.
fn seen(
    pen: &mut Pen,
    folder: &Path,
    file: &Text,
    sources: &mut Vec<SourceFile>,
) -> Option<(Mesh, UnitBy)> {
    let message = || format!("scan file \"{}\" cannot be used", file.text);
    let (model, mut source) = match meshes::read_hashed(&folder.join(&file.text), None) {
        Ok(read) => read,
        Err(MeshFault { opened: false, what, .. }) => {
            pen.at(&file.span, message(), what, "check the path; it counts from the document");
            return None;
        }
        Err(fault) => {
            let (what, remedy) = (fault.to_string(), fault.remedy);
            pen.at(&file.span, message(), what, remedy);
            return None;
        }
    };
    source.path.clone_from(&file.text);
    sources.push(source);
    let unit = model.unit;
    let seen = if let Some(points) = model.points {
        Mesh { vertices: points.places, triangles: Vec::new() }
    } else {
        meshes::joined(&model.bodies.iter().map(|b| &b.mesh).collect::<Vec<_>>())
    };
    if seen.vertices.is_empty() {
        pen.at(&file.span, message(), "it holds no point", "export the scan again");
        return None;
    }
    Some((seen, unit))
}

/// How a scan lies on the first, roughly.
fn start(table: &mut Table<'_>, pen: &mut Pen, number: usize) -> Option<Start> {
    let place = table.place("start");
    let mut start = table.maybe_table(pen, "start", "[scan.start]")?;
    if number == 0 {
        pen.at(
            &place,
            "the first scan has a start",
            "the others are laid on it",
            "take [scan.start] out of the first [[scan]]",
        );
    }
    let origin = Point3::from(start.lengths::<3>(pen, "origin"));
    let x = start.direction(pen, "x");
    let z = start.direction(pen, "z");
    let x_place = start.place("x");
    let within = if start.has("within") {
        start.length(pen, "within", Bound::Positive).value
    } else {
        WITHIN
    };
    start.finish(pen);
    let (x, z) = (Vector3::from(x?).normalize(), Vector3::from(z?).normalize());
    let angle = x.dot(&z).clamp(-1.0, 1.0).acos().to_degrees();
    if !(NEAR_PARALLEL..=180.0 - NEAR_PARALLEL).contains(&angle) {
        pen.at(
            &x_place,
            "\"x\" and \"z\" point along the same line",
            format!("{angle:.1} deg from \"z\""),
            "they are where the scan's own x and z axes point in the first scan's coordinates",
        );
        return None;
    }
    let x = (x - z * z.dot(&x)).normalize();
    let columns = Matrix3::from_columns(&[x, z.cross(&x), z]);
    let turn = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(columns));
    let known = origin.iter().all(|c| c.is_finite()) && within.is_finite();
    known.then(|| Start {
        first_from_second: Isometry3::from_parts(Translation3::from(origin.coords), turn),
        within,
    })
}
