//! `case.toml`: the car top as it was measured or designed.

mod meshes;
mod plate;
mod question;
mod service;

use crate::document::{self, SourceFile};
use crate::fault::{Faults, Pen};
use crate::finding::Finding;
use crate::frame;
use crate::table::{Bound, ROOT, Table, Text, choice_of};
use assembly::CarTop;
use assembly::car_top::{BodyId, Fitting, FittingKind, Lid, LidState, Measured, Port, Removable};
use assembly::hold::Service;
use assembly::kit::PartKind;
use measure::{Angle, LengthUnit};
use meshes::Meshes;
use nalgebra::{Point2, Point3, Unit, Vector3};
use plate::Outline;
use std::path::Path;

/// What a case document gives.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseFile {
    /// The car top, in the plate frame.
    pub car: CarTop,
    /// What the document says for the sealing.
    pub service: Service,
    /// What is notable about what was read.
    pub findings: Vec<Finding>,
    /// Every file that was read, the document first, then the meshes in its order.
    pub sources: Vec<SourceFile>,
}

/// The version of the document's form that is read here.
pub(crate) const FORMAT: &str = "1";

/// Reads a case document and the meshes it names.
///
/// # Errors
/// Everything that is wrong, each with its place and remedy.
pub fn read_case(path: &Path) -> Result<CaseFile, Faults> {
    let mut pen = Pen::new(path.display().to_string());
    let case = read(&mut pen, path);
    pen.close(case)
}

fn read(pen: &mut Pen, path: &Path) -> Option<CaseFile> {
    let (text, own) = document::text(pen, path, "a case.toml or kit.toml")?;
    let source = pen.opened(text);
    let text = source.inner();
    let parsed = document::parse(pen, text)?;
    let mut root = Table::new(parsed.get_ref(), document::first_line(text), ROOT);
    let mut findings = Vec::new();
    let (title, unit) = heading(&mut root, pen);
    let measured = measured(&mut root, pen);
    let plate_from_mesh = frame::read(&mut root, pen, &mut findings);
    let folder = path.parent().unwrap_or(Path::new(""));
    let mut meshes = Meshes::read(&mut root, pen, &mut findings, folder, plate_from_mesh.as_ref());

    let (plate, outline) = plate::read(&mut root, pen, &mut findings, &mut meshes).unzip();
    let outline = outline.flatten();
    let housing = housing(&mut root, pen, &mut meshes);
    let ports = ports(&mut root, pen, &mut findings, &mut meshes, &housing);
    let lid = lid(&mut root, pen, &mut meshes);
    let hinge = hinge(&mut root, pen, &mut meshes);
    let studs = studs(&mut root, pen, &mut findings, &mut meshes);
    let fittings = fittings(&mut root, pen, &mut meshes, outline.as_ref());
    unseen(&mut root, pen, &mut meshes);
    let service = service::service(&mut root, pen);
    question::read(&mut root, pen, &mut findings);
    root.finish(pen);
    meshes.note_unused(pen);
    meshes.note_far(outline.as_ref(), &mut findings);

    if !pen.is_clean() {
        return None;
    }
    let mut sources = vec![own];
    let (bodies, read) = meshes.into_bodies()?;
    sources.extend(read);
    let unseen = bodies.iter().filter(|body| body.unseen).count();
    if unseen > 0 {
        findings.push(document_finding(
            "unseen space",
            &match unseen {
                1 => "one mesh is space into which nobody saw, filled or empty".to_owned(),
                more => format!("{more} meshes are space into which nobody saw, filled or empty"),
            },
            "where it leaves a verdict open, look or scan into it from another place",
        ));
    }
    let car = CarTop {
        title,
        unit,
        measured,
        bodies,
        plate: plate?,
        housing,
        ports,
        lid,
        hinge,
        studs,
        fittings,
    };
    Some(CaseFile { car, service, findings, sources })
}

/// Format version, title and display unit: the same in case and kit.
pub(crate) fn heading(root: &mut Table<'_>, pen: &mut Pen) -> (String, LengthUnit) {
    form(root, pen);
    let title = root.text(pen, "title", "\"...\"").text;
    let unit = root.choice(pen, "units", &["in", "mm"]);
    (title, if unit == Some(0) { LengthUnit::Inch } else { LengthUnit::Millimetre })
}

/// Format version: the same in every document.
pub(crate) fn form(root: &mut Table<'_>, pen: &mut Pen) {
    let place = root.place("format");
    match root.get("format").map(|v| v.get_ref().as_integer().map(|i| i.as_str().to_owned())) {
        Some(Some(version)) if version == FORMAT => {}
        Some(_) => pen.at(
            &place,
            "this form of the document is not known",
            format!("form {FORMAT} is read here"),
            format!("write: format = {FORMAT}"),
        ),
        None => pen.at(
            &place,
            "the document has no \"format\"",
            "no \"format\" in here",
            format!("begin it with the line: format = {FORMAT}"),
        ),
    }
}

fn measured(root: &mut Table<'_>, pen: &mut Pen) -> Measured {
    let Some(mut table) = root.table(pen, "measured") else { return Measured::default() };
    let by = table.text(pen, "by", "\"...\"").text;
    let on = table.text(pen, "on", "\"2026-10-02\"").text;
    let how = table.text(pen, "how", "\"...\"").text;
    table.finish(pen);
    Measured { by, on, how }
}

/// Notes a name that was used before; remembers it otherwise.
pub(crate) fn unique(pen: &mut Pen, seen: &mut Vec<String>, name: &Text, noun: &str) {
    if name.text.is_empty() {
        return;
    }
    if seen.contains(&name.text) {
        pen.at(
            &name.span,
            format!("the {noun} name \"{}\" is given twice", name.text),
            "this name is taken",
            "give each its own name",
        );
    } else {
        seen.push(name.text.clone());
    }
}

fn housing(root: &mut Table<'_>, pen: &mut Pen, meshes: &mut Meshes) -> Vec<BodyId> {
    let Some(mut table) = root.table(pen, "housing") else { return Vec::new() };
    let ids = meshes.claim_list(&mut table, pen, PartKind::Housing, true);
    if ids.first().is_some_and(|id| meshes.is_unseen(*id)) {
        pen.at(
            &table.place("meshes"),
            "the sidewall cannot be space into which nobody saw",
            "its first mesh is",
            "name the mesh of the sidewall first, which carries the ports",
        );
    }
    table.finish(pen);
    ids
}

/// Space into which nobody saw and that is behind nothing in particular. Whatever may be in it, the rig
/// must stay as clear of it as of a fitting.
fn unseen(root: &mut Table<'_>, pen: &mut Pen, meshes: &mut Meshes) {
    let Some(mut table) = root.maybe_table(pen, "unseen", "[unseen]") else { return };
    let ids = meshes.claim_list(&mut table, pen, PartKind::Fitting, true);
    if ids.iter().any(|id| !meshes.is_unseen(*id)) {
        pen.at(
            &table.place("meshes"),
            "a mesh in [unseen] is of something that was seen",
            "without \"unseen = true\" in its [[mesh]]",
            "name it under the part it is, or write in its [[mesh]]: unseen = true",
        );
    }
    table.finish(pen);
}

fn ports(
    root: &mut Table<'_>,
    pen: &mut Pen,
    findings: &mut Vec<Finding>,
    meshes: &mut Meshes,
    housing: &[BodyId],
) -> Vec<Port> {
    let mut names = Vec::new();
    let mut ports = Vec::new();
    let bounds = meshes.bounds(housing);
    for mut table in root.tables(pen, "port", "port") {
        let name = table.text(pen, "name", "\"P0\"");
        unique(pen, &mut names, &name, "port");
        if !name.text.is_empty() {
            table.title = format!("port \"{}\"", name.text);
        }
        let at = Point2::from(table.lengths::<2>(pen, "at"));
        let facing = table.angle(pen, "facing", str::parse::<Angle>);
        let width = table.length(pen, "width", Bound::Positive).value;
        let height = table.length(pen, "height", Bound::Positive).value;
        let sill = table.length(pen, "sill", Bound::NotNegative).value;
        let wall = table.length(pen, "wall", Bound::Positive).value;
        let deviation = table.length(pen, "deviation", Bound::NotNegative).value;
        let cover = table
            .maybe_text(pen, "cover", "\"cover-0\"")
            .and_then(|mesh| meshes.claim(pen, &mesh, PartKind::PortCover, &table.title));
        let title = &table.title;
        // The plate says nothing here: some housings stand around it rather than on it.
        if bounds.is_some_and(|(low, high)| {
            at.x < low.x - wall
                || at.x > high.x + wall
                || at.y < low.y - wall
                || at.y > high.y + wall
        }) {
            pen.at(
                &table.place("at"),
                format!("{title} stands outside the housing"),
                "beyond the housing's meshes seen from above",
                "\"at\" is the middle of the opening at mid-wall, seen from above",
            );
        }
        let outward = at.x * facing.value.cos() + at.y * facing.value.sin();
        if outward <= 0.0 {
            pen.at(
                &facing.span,
                format!("{title} faces inward"),
                "does not point away from the housing's axis",
                "write the bearing in which the opening looks out",
            );
        }
        if bounds.is_some_and(|(_, high)| sill + height > high.z + deviation) {
            pen.at(
                &table.place("height"),
                format!("{title} reaches above the housing"),
                "\"sill\" and \"height\" together exceed the housing's top",
                "\"sill\" is the opening's lower edge above the sealing face",
            );
        }
        let facing = Angle::from_radians(facing.value);
        ports.push(Port {
            name: name.text,
            at,
            facing,
            width,
            height,
            sill,
            wall,
            deviation,
            cover,
        });
        table.finish(pen);
    }
    if ports.len() < 2 {
        findings.push(document_finding(
            "ports",
            "fewer than two ports: no rig can be placed",
            "describe every closable opening of the sidewall in a [[port]]",
        ));
    }
    ports
}

fn document_finding(about: &str, what: &str, remedy: &str) -> Finding {
    Finding {
        about: about.to_owned(),
        file: None,
        what: what.to_owned(),
        count: None,
        at: None,
        remedy: remedy.to_owned(),
    }
}

/// Whether an angle can be how far a lid is open: from 0 to a full turn.
fn is_opening(angle: f64) -> bool {
    (0.0..std::f64::consts::TAU).contains(&angle)
}

fn lid(root: &mut Table<'_>, pen: &mut Pen, meshes: &mut Meshes) -> LidState {
    let Some(mut table) = root.maybe_table(pen, "lid", "[lid]") else { return LidState::Unknown };
    if table.maybe_flag(pen, "fitted") == Some(false) {
        let keys = ["mesh", "hinge-at", "hinge-axis", "drawn-at", "stop"];
        if let Some(place) = table.any_of(&keys) {
            meshes.forgive_unused();
            pen.at(
                &place,
                "the lid is described, yet it is not fitted",
                "begins its description",
                "take \"fitted = false\" out, or the description of the lid",
            );
        }
        table.finish(pen);
        return LidState::None;
    }
    let name = table.text(pen, "mesh", "\"lid\"");
    let body = meshes.claim(pen, &name, PartKind::Lid, "[lid]");
    let axis_point = Point3::from(table.lengths::<3>(pen, "hinge-at"));
    let axis = match table.get("hinge-axis") {
        Some(_) => table.direction(pen, "hinge-axis").map(Vector3::from),
        None => Some(Vector3::y()),
    };
    let drawn_at = table.angle(pen, "drawn-at", Angle::parse_plain);
    let stop = table.angle(pen, "stop", Angle::parse_plain);
    for (key, angle) in [("drawn-at", &drawn_at), ("stop", &stop)] {
        if !is_opening(angle.value) && !angle.value.is_nan() {
            pen.at(
                &angle.span,
                format!("\"{key}\" of the lid is not an opening"),
                "not between 0 and 360 deg",
                "openings count from the closed lid: 0 deg",
            );
        }
    }
    let openings = is_opening(drawn_at.value) && is_opening(stop.value);
    let beyond = openings && stop.value < drawn_at.value;
    if beyond {
        pen.at(
            &stop.span,
            "the lid is drawn beyond its stop",
            "less than \"drawn-at\"",
            "\"stop\" is the greatest opening, \"drawn-at\" the one at which the mesh is drawn",
        );
    }
    let place = table.place("hinge-axis");
    table.finish(pen);
    let (Some(body), Some(axis)) = (body, axis) else { return LidState::Unknown };
    let axis = Unit::new_normalize(axis);
    let drawn = Angle::from_radians(drawn_at.value);
    if let Some(middle) = meshes.middle(body).filter(|_| openings && !beyond) {
        // Closed again, then opened a little: the lid's middle must rise.
        let closed =
            nalgebra::Rotation3::from_axis_angle(&axis, -drawn.radians()) * (middle - axis_point);
        if axis.cross(&closed).z < 0.0 {
            pen.at(
                &place,
                "a positive turn about the hinge axis would push the lid down",
                "the axis points the wrong way, or \"hinge-at\" is on the wrong side",
                "turn the axis around: a right-hand turn about it opens the lid",
            );
        }
    }
    let stop = Angle::from_radians(stop.value);
    LidState::Hinged(Lid { body, axis_point, axis, drawn_at: drawn, stop })
}

fn hinge(root: &mut Table<'_>, pen: &mut Pen, meshes: &mut Meshes) -> Option<Vec<BodyId>> {
    let mut table = root.maybe_table(pen, "hinge", "[hinge]")?;
    let ids = meshes.claim_list(&mut table, pen, PartKind::Hinge, false);
    table.finish(pen);
    Some(ids)
}

fn studs(
    root: &mut Table<'_>,
    pen: &mut Pen,
    findings: &mut Vec<Finding>,
    meshes: &mut Meshes,
) -> Option<Vec<BodyId>> {
    let given = root.has("studs");
    let mut ids = Vec::new();
    for mut table in root.tables(pen, "studs", "studs") {
        let name = table.text(pen, "mesh", "\"housing-studs\"");
        ids.extend(meshes.claim(pen, &name, PartKind::Stud, "[[studs]]"));
        table.finish(pen);
    }
    if !given {
        findings.push(document_finding(
            "studs",
            "nothing is known of the studs: what is near them cannot be told",
            "describe the studs with their nuts as meshes in [[studs]], or say `studs = []` where \
             there are none",
        ));
    }
    given.then_some(ids)
}

fn fittings(
    root: &mut Table<'_>,
    pen: &mut Pen,
    meshes: &mut Meshes,
    plate: Option<&Outline>,
) -> Vec<Fitting> {
    let tables = root.tables(pen, "fitting", "fitting");
    if tables.is_empty() && root.get("fitting").is_none() {
        pen.at(
            root.span(),
            "the document has no fitting",
            "no [[fitting]] in here",
            "describe each fitting in a table that begins with the line: [[fitting]]",
        );
    }
    let mut names = Vec::new();
    tables.into_iter().map(|table| fitting(table, pen, meshes, plate, &mut names)).collect()
}

fn fitting(
    mut table: Table<'_>,
    pen: &mut Pen,
    meshes: &mut Meshes,
    plate: Option<&Outline>,
    names: &mut Vec<String>,
) -> Fitting {
    let name = table.text(pen, "name", "\"LV1\"");
    unique(pen, names, &name, "fitting");
    if !name.text.is_empty() {
        table.title = format!("fitting \"{}\"", name.text);
    }
    let kind = kind(&mut table, pen);
    let size = table.text(pen, "size", "\"2 in\"").text;
    let centre = Point2::from(table.lengths::<2>(pen, "centre"));
    let flange = table.length(pen, "flange", Bound::Positive);
    if plate.is_some_and(|p| centre.coords.norm() > p.radius) {
        pen.at(
            &table.place("centre"),
            format!("{} stands outside the plate", table.title),
            "farther from the axis than the plate reaches",
            "\"centre\" is where its centreline meets the sealing face, from the housing's axis",
        );
    } else if plate.is_some_and(|p| centre.coords.norm() + 0.5 * flange.value > p.radius) {
        pen.at(
            &flange.span,
            format!("the flange of {} reaches beyond the plate", table.title),
            "too wide for where the fitting stands",
            "\"flange\" is the flange's diameter",
        );
    }
    let bodies = meshes.claim_list(&mut table, pen, PartKind::Fitting, true);
    if !bodies.is_empty() && bodies.iter().all(|id| meshes.is_unseen(*id)) {
        pen.at(
            &table.place("meshes"),
            format!("nothing was seen of {}", table.title),
            "only meshes of space into which nobody saw",
            "name a mesh of the fitting itself as well",
        );
    }
    if let Some((low, high)) = meshes.bounds(&bodies)
        && (centre.x < low.x || centre.x > high.x || centre.y < low.y || centre.y > high.y)
    {
        pen.at(
            &table.place("centre"),
            format!("the centreline of {} misses its meshes", table.title),
            "outside their outline seen from above",
            "check \"centre\", the meshes' unit and [frame]",
        );
    }
    let mut pieces = Vec::new();
    let mut removables = Vec::new();
    for mut piece in table.tables(pen, "removable", "fitting.removable") {
        let name = piece.text(pen, "name", "\"handwheel\"");
        unique(pen, &mut pieces, &name, "removable");
        let mesh = piece.text(pen, "mesh", "\"lv1-handwheel\"");
        let who = format!("removable \"{}\" of {}", name.text, table.title);
        if let Some(body) = meshes.claim(pen, &mesh, PartKind::Fitting, &who) {
            removables.push(Removable { name: name.text, body });
        }
        piece.finish(pen);
    }
    table.finish(pen);
    Fitting { name: name.text, kind, size, centre, flange: flange.value, bodies, removables }
}

fn kind(table: &mut Table<'_>, pen: &mut Pen) -> FittingKind {
    let kind = table.text(pen, "kind", "\"liquid valve\"");
    let words = FittingKind::ALL.map(FittingKind::word);
    choice_of(pen, &kind, "kind", &words)
        .and_then(|at| FittingKind::ALL.get(at))
        .copied()
        .unwrap_or(FittingKind::BlindFlange)
}
