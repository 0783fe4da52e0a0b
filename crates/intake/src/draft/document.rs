//! A draft as a case document: every guess with its reason beside it, every doubt as a question.

use super::{DraftRequest, Part};
use measure::{Length, LengthUnit};
use nalgebra::{Point2, Vector3};
use std::fmt::Write as _;
use survey::{Confidence, Draft, Fitting, Found, Lid, Port, Reason};

/// The caution in one line, as documents carry it.
const CAUTION: &str = "a planning aid, not a procedure: check every value against the car";

struct Page {
    text: String,
    unit: LengthUnit,
}

/// The document.
pub(super) fn text(request: &DraftRequest, parts: &[Part], draft: &Draft) -> String {
    let mut page = Page { text: String::new(), unit: request.units };
    page.head(request, draft);
    page.questions(draft);
    page.frame(draft);
    for part in parts {
        page.mesh(part);
    }
    let name = |found: &Found| {
        parts.get(found.body).map_or_else(String::new, |part| quoted(&part.body.name))
    };
    // Where a list is asked for, what lies unseen behind a body goes with it.
    let names = |found: &Found| {
        let behind = parts.get(found.body).into_iter().flat_map(|part| &part.behind);
        let behind = behind.map(|(_, body)| quoted(&body.name));
        [name(found)].into_iter().chain(behind).collect::<Vec<_>>().join(", ")
    };
    page.parts(draft, &name, &names);
    for port in &draft.ports {
        page.port(port, draft, &name);
    }
    page.lid(draft.lid.as_ref(), &name);
    page.hinge(&draft.hinge, &names);
    page.studs(&draft.studs, &name);
    for fitting in &draft.fittings {
        page.fitting(fitting, &name, &names);
    }
    page.unseen(parts, draft);
    page.text
}

impl Page {
    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn key(&mut self, key: &str, value: &str) {
        self.line(&format!("{key} = {value}"));
    }

    /// What is guessed: in doubt it is left empty, so that nothing goes on with it, whatever becomes of
    /// the question.
    fn guess(&mut self, key: &str, value: &str, reason: &Reason) {
        self.guess_if(key, value, reason.confidence == Confidence::Doubtful);
    }

    fn guess_if(&mut self, key: &str, value: &str, in_doubt: bool) {
        if in_doubt {
            let empty = if value.starts_with('[') { "[]" } else { "\"\"" };
            self.line(&format!("{key} = {empty} # guess: {}", plain(value)));
        } else {
            self.key(key, value);
        }
    }

    /// A reason as a comment.
    fn why(&mut self, indent: &str, what: &str, reason: &Reason) {
        let word = reason.confidence.word();
        self.line(&format!("{indent}# {word}: {what}{}", plain(&reason.because)));
    }

    fn length(&self, mm: f64) -> String {
        quoted(&length(mm, self.unit))
    }

    fn place(&self, p: &Point2<f64>) -> String {
        format!("[{}, {}]", self.length(p.x), self.length(p.y))
    }

    fn head(&mut self, request: &DraftRequest, draft: &Draft) {
        let count = draft.questions.len();
        let asked = match count {
            0 => "No question stands open.".to_owned(),
            1 => {
                "One question stands open; the document is refused until it is answered.".to_owned()
            }
            _ => format!(
                "{count} questions stand open; the document is refused until each is answered."
            ),
        };
        self.line("# Drafted by overcup intake from the meshes below.");
        self.line(&format!("# {asked}"));
        self.line(
            "# Beside each guess stands how far it can be relied on, and why: sure where name and",
        );
        self.line(
            "# shape say the same, likely where one says so and the other nothing against it,",
        );
        self.line("# doubtful where they disagree or neither tells: then there is a question, and what is");
        self.line("# guessed is not used: its key is empty until it is written there.");
        self.line(&format!("# {CAUTION}."));
        self.key("format", "1");
        let from = request.files.first().map(|f| f.display().to_string()).unwrap_or_default();
        let title = request.title.clone().unwrap_or_else(|| format!("drafted from {from}"));
        self.key("title", &quoted(&title));
        self.key("units", &quoted(self.unit.word()));
        self.line("");
        self.line("[measured]");
        self.line("# Not in any mesh: who measured or designed this, on which day, and how.");
        self.key("by", "\"\"");
        self.key("on", "\"\"");
        self.key("how", "\"\"");
    }

    fn questions(&mut self, draft: &Draft) {
        for (number, question) in (1..).zip(&draft.questions) {
            self.line("");
            self.line(&format!("# Question {number}."));
            self.line("[[question]]");
            self.key("about", &quoted(&question.about));
            self.key("guess", &quoted(&question.guess));
            self.key("why", &quoted(&question.why));
            self.key("answer", "\"\"");
        }
    }

    fn frame(&mut self, draft: &Draft) {
        let mesh_from_plate = draft.plate_from_mesh.inverse();
        let [origin, toward] = &draft.frame;
        self.line("");
        self.line("[frame]");
        self.why("", "the origin: ", origin);
        let p = mesh_from_plate.translation.vector;
        let at = [p.x, p.y, p.z].map(|v| self.length(v));
        self.key("origin", &format!("[{}]", at.join(", ")));
        let face = &draft.sealing_face;
        let told = |mm: f64| Length::from_mm(mm).show_to(self.unit, 4);
        let flat = format!(
            "# the sealing face is flat within {} for the most part, within {} everywhere",
            told(face.rms),
            told(face.most)
        );
        self.line(&flat);
        self.key("up", &direction(&(mesh_from_plate * Vector3::z())));
        self.why("", "", toward);
        self.key("toward-hinge", &direction(&(mesh_from_plate * Vector3::x())));
    }

    fn mesh(&mut self, part: &Part) {
        self.line("");
        self.line("[[mesh]]");
        self.key("name", &quoted(&part.body.name));
        // Its outside would be taken for solid: what is exported again is named again.
        self.guess_if("file", &quoted(&part.file), solids::is_inside_out(&part.body.mesh));
        if let Some(inside) = &part.inside {
            self.key("body", &quoted(inside));
        }
        if let Some(unit) = part.unit {
            self.key("unit", &quoted(unit.word()));
        }
        self.key("deviation", &quoted(&bound(part.stated, self.unit)));
        self.key("basis", &quoted(&part.body.deviation.basis));
        for (file, behind) in &part.behind {
            self.line("");
            self.line("[[mesh]]");
            self.key("name", &quoted(&behind.name));
            self.key("file", &quoted(file));
            if let Some(unit) = part.unit {
                self.key("unit", &quoted(unit.word()));
            }
            self.key("deviation", &quoted(&bound(behind.deviation.bound, self.unit)));
            self.key("basis", &quoted(&behind.deviation.basis));
            self.key("unseen", "true");
        }
    }

    fn list(&mut self, founds: &[Found], name: &dyn Fn(&Found) -> String) {
        for found in founds {
            self.why("", &format!("{}: ", plain(&name(found))), &found.reason);
        }
        let doubtful = |found: &&Found| found.reason.confidence == Confidence::Doubtful;
        let names = |all: Vec<&Found>| all.into_iter().map(name).collect::<Vec<_>>().join(", ");
        let (open, told): (Vec<&Found>, Vec<&Found>) = founds.iter().partition(doubtful);
        if !open.is_empty() {
            self.line(&format!(
                "# guess: {}, too; list each here, or where else it belongs",
                plain(&names(open))
            ));
        }
        self.key("meshes", &format!("[{}]", names(told)));
    }

    fn parts(
        &mut self,
        draft: &Draft,
        name: &dyn Fn(&Found) -> String,
        names: &dyn Fn(&Found) -> String,
    ) {
        self.line("");
        self.line("[plate]");
        self.why("", "", &draft.plate.reason);
        self.guess("mesh", &name(&draft.plate), &draft.plate.reason);
        self.line("");
        self.line("[housing]");
        self.list(&draft.housing, names);
    }

    fn port(&mut self, port: &Port, draft: &Draft, name: &dyn Fn(&Found) -> String) {
        let asked = |what: &str| {
            let about = format!("port \"{}\", {what}", port.name);
            draft.questions.iter().any(|q| q.about == about)
        };
        let tape = asked("width, height, sill and wall");
        self.line("");
        self.line("[[port]]");
        self.why("", "", &port.reason);
        self.guess("name", &quoted(&port.name), &port.reason);
        let at = self.place(&port.at);
        self.key("at", &at);
        self.key("facing", &degrees(port.facing.degrees().rem_euclid(360.0)));
        let sizes = [
            ("width", port.width),
            ("height", port.height),
            ("sill", port.sill),
            ("wall", port.wall),
        ];
        for (key, mm) in sizes {
            let mm = self.length(mm.max(0.0));
            self.guess_if(key, &mm, tape || (key == "wall" && asked("wall")));
        }
        self.key("deviation", &quoted(&bound(port.deviation, self.unit)));
        if let Some(cover) = &port.cover {
            self.why("", "the cover: ", &cover.reason);
            self.guess("cover", &name(cover), &cover.reason);
        }
    }

    fn lid(&mut self, lid: Option<&Lid>, name: &dyn Fn(&Found) -> String) {
        self.line("");
        let Some(lid) = lid else {
            self.line("# No lid was found. Where there is none or it is taken off:");
            self.line("# [lid]");
            self.line("# fitted = false");
            return;
        };
        self.line("[lid]");
        self.why("", "", &lid.found.reason);
        self.guess("mesh", &name(&lid.found), &lid.found.reason);
        self.why("", "", &lid.axis_reason);
        let at = lid.axis_point;
        let at = [at.x, at.y, at.z].map(|v| self.length(v));
        self.guess("hinge-at", &format!("[{}]", at.join(", ")), &lid.axis_reason);
        self.guess("hinge-axis", &direction(&lid.axis), &lid.axis_reason);
        self.why("", "", &lid.drawn_reason);
        let drawn = lid.drawn_at.degrees();
        self.guess("drawn-at", &degrees(drawn), &lid.drawn_reason);
        self.line("# doubtful: how far the lid opens is in no mesh");
        self.guess_if("stop", &degrees(if drawn > 0.0 { drawn } else { 90.0 }), true);
    }

    fn hinge(&mut self, hinge: &[Found], name: &dyn Fn(&Found) -> String) {
        self.line("");
        if hinge.is_empty() {
            self.line("# No hinge was found. Where there is none:");
            self.line("# [hinge]");
            self.line("# meshes = []");
        } else {
            self.line("[hinge]");
            self.list(hinge, name);
        }
    }

    fn studs(&mut self, studs: &[Found], name: &dyn Fn(&Found) -> String) {
        if studs.is_empty() {
            self.line("");
            self.line("# No studs were found. Where there are none, write before the first table:");
            self.line("# studs = []");
        }
        for found in studs {
            self.line("");
            self.line("[[studs]]");
            self.why("", "", &found.reason);
            self.guess("mesh", &name(found), &found.reason);
        }
    }

    /// What lies unseen behind bodies that are not listed with others.
    fn unseen(&mut self, parts: &[Part], draft: &Draft) {
        let listed: Vec<usize> = draft
            .housing
            .iter()
            .chain(&draft.hinge)
            .chain(draft.fittings.iter().flat_map(|fitting| &fitting.bodies))
            .map(|found| found.body)
            .collect();
        let rest: Vec<String> = (0..)
            .zip(parts)
            .filter(|(at, _)| !listed.contains(at))
            .flat_map(|(_, part)| &part.behind)
            .map(|(_, body)| quoted(&body.name))
            .collect();
        if !rest.is_empty() {
            self.line("");
            self.line("# Space into which nobody saw, behind none of the housing's, hinge's or fittings' bodies.");
            self.line("[unseen]");
            self.key("meshes", &format!("[{}]", rest.join(", ")));
        }
    }

    fn fitting(
        &mut self,
        fitting: &Fitting,
        name: &dyn Fn(&Found) -> String,
        names: &dyn Fn(&Found) -> String,
    ) {
        self.line("");
        self.line("[[fitting]]");
        self.key("name", &quoted(&fitting.name));
        self.why("", "", &fitting.kind_reason);
        self.guess("kind", &quoted(fitting.kind.word()), &fitting.kind_reason);
        self.why("", "", &fitting.size_reason);
        self.guess("size", &quoted(&fitting.size), &fitting.size_reason);
        self.why("", "", &fitting.place_reason);
        let centre = self.place(&fitting.centre);
        self.guess("centre", &centre, &fitting.place_reason);
        let flange = self.length(fitting.flange);
        self.guess("flange", &flange, &fitting.place_reason);
        self.list(&fitting.bodies, names);
        for piece in &fitting.removables {
            self.line("  [[fitting.removable]]");
            self.why("  ", "", &piece.found.reason);
            if piece.found.reason.confidence == Confidence::Doubtful {
                self.line("  # Where it stays, take this table out and list its mesh above.");
            }
            self.guess("  name", &quoted(&piece.name), &piece.found.reason);
            self.line(&format!("  mesh = {}", name(&piece.found)));
        }
    }
}

/// A length as a document writes it: a fraction of an inch where it is one, decimals otherwise, fine
/// enough that nothing measured is lost.
fn length(mm: f64, unit: LengthUnit) -> String {
    let length = Length::from_mm(mm);
    match unit {
        LengthUnit::Millimetre => trimmed(&length.show_to(unit, 4)),
        LengthUnit::Inch => {
            let fraction = length.show_fraction(16);
            // With a rest the fraction is not what was measured.
            if fraction.contains("mm") || off_by(&fraction, mm) > 1e-4 {
                trimmed(&length.show_to(unit, 5))
            } else {
                fraction
            }
        }
    }
}

/// How far a written length is from a number, mm.
fn off_by(text: &str, mm: f64) -> f64 {
    text.parse::<Length>().map_or(f64::INFINITY, |read| (read.mm() - mm).abs())
}

/// A bound: in the unit in which it was stated, as far as that can be seen, and never rounded down.
fn bound(mm: f64, unit: LengthUnit) -> String {
    let stated = [unit, LengthUnit::Millimetre, LengthUnit::Inch]
        .map(|unit| trimmed(&Length::from_mm(mm).show_to(unit, 4)))
        .into_iter()
        .find(|text| off_by(text, mm) < 1e-9);
    let step = match unit {
        LengthUnit::Millimetre => 1e-4,
        LengthUnit::Inch => 25.4e-4,
    };
    let above = (mm / step).ceil() * step;
    stated.unwrap_or_else(|| trimmed(&Length::from_mm(above).show_to(unit, 4)))
}

/// Without the zeros after the last decimal that counts.
fn trimmed(shown: &str) -> String {
    let Some((number, unit)) = shown.split_once(' ') else { return shown.to_owned() };
    format!("{} {unit}", short(number))
}

fn short(number: &str) -> &str {
    if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number }
}

fn degrees(degrees: f64) -> String {
    let text = format!("{degrees:.5}");
    let number = short(&text);
    // A hair below a full turn is none.
    quoted(&format!("{} deg", if matches!(number, "360" | "-0") { "0" } else { number }))
}

fn direction(way: &Vector3<f64>) -> String {
    let parts = [way.x, way.y, way.z].map(|c| {
        let text = format!("{c:.10}");
        let number = short(&text);
        if number == "-0" { "0".to_owned() } else { number.to_owned() }
    });
    format!("[{}]", parts.join(", "))
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => {
                // Writing into a string does not fail.
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A text that stays within its comment.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
