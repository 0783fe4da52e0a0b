//! What a mesh file holds, as text.

use super::Page;
use intake::meshes::{Judged, MeshUnit, Model, ModelBody, Points, UnitBy, Wrong};
use measure::{Length, LengthUnit};

/// The file, a line for each body, and what is wrong with those that are not sound.
pub(crate) fn table(file: &str, model: &Model, judged: &[Judged], units: LengthUnit) -> String {
    let mut page = Page::default();
    let lengths = Lengths { known: model.unit.unit().is_some(), units };
    page.heading(&format!("{file}: {}", kind(model)));
    if let Some(points) = &model.points {
        let coloured = if points.colours.is_empty() { "" } else { " with colours" };
        let size = lengths.size(points.bounds());
        page.line(&format!(
            "{} points{coloured} and no face, {size}",
            grouped(points.places.len())
        ));
        page.line("");
        page.prose("", "Points are a scan: a case needs bodies, which must be made of it first.");
    }
    if !judged.is_empty() {
        page.bodies(model, judged, &lengths);
    }
    for missing in &model.missing {
        page.line("");
        page.prose("not read: ", missing);
    }
    for note in &model.notes {
        page.line("");
        page.prose("note: ", note);
    }
    if !lengths.known {
        page.line("");
        page.prose("", &asked(model, judged));
    }
    if model.bodies.iter().any(|b| b.deviation.is_none()) {
        page.line("");
        page.prose(
            "",
            "How far its triangles may be from the true surface the file does not say: state it as \
             \"deviation\" in the case, with what it rests on.",
        );
    }
    page.line("");
    page.prose("", "A planning aid, not a procedure.");
    page.text
}

impl Page {
    fn bodies(&mut self, model: &Model, judged: &[Judged], lengths: &Lengths) {
        let deviates = model.bodies.iter().any(|b| b.deviation.is_some());
        let mut head = vec!["", "body", "triangles", "size"];
        if deviates {
            head.push("deviation");
        }
        head.push("surface");
        let mut rows = vec![head.into_iter().map(str::to_owned).collect()];
        for (body, judged) in model.bodies.iter().zip(judged) {
            let mark = if judged.is_sound() { "●" } else { "?" };
            let mut row = vec![
                mark.to_owned(),
                shown(body),
                grouped(judged.triangles),
                lengths.size(judged.bounds),
            ];
            if deviates {
                let bound = body.deviation.as_ref().map(|d| lengths.bound(d.bound));
                row.push(bound.unwrap_or_default());
            }
            row.push(surface(judged));
            rows.push(row);
        }
        self.columns(0, &rows);
        self.wrong(model.bodies.iter().zip(judged), lengths);
        let sum: usize = judged.iter().map(|j| j.triangles).sum();
        let sound = judged.iter().filter(|j| j.is_sound()).count();
        let noun = if judged.len() == 1 { "body" } else { "bodies" };
        self.line("");
        self.line(&format!(
            "{} {noun}, {sound} closed and facing outward; {} triangles",
            grouped(judged.len()),
            grouped(sum)
        ));
    }

    fn wrong<'a>(
        &mut self,
        bodies: impl Iterator<Item = (&'a ModelBody, &'a Judged)>,
        lengths: &Lengths,
    ) {
        for (body, judged) in bodies {
            if judged.wrong.is_empty() && judged.missing.is_empty() {
                continue;
            }
            self.line("");
            self.heading(&shown(body));
            for Wrong { count, what, at, remedy, .. } in &judged.wrong {
                let place = at.map_or_else(String::new, |p| {
                    format!("; one at {}", lengths.three([p.x, p.y, p.z], ", "))
                });
                self.prose("  ", &format!("{} {what}{place}: {remedy}", grouped(*count)));
            }
            for piece in &judged.missing {
                self.prose(
                    "  ",
                    &format!("{piece} could not be meshed: mend it where it was made"),
                );
            }
        }
    }
}

/// A body's name with those of what holds it, and what this use of it is called.
fn shown(body: &ModelBody) -> String {
    match &body.called {
        Some(called) => format!("{} ({called})", body.path()),
        None => body.path(),
    }
}

/// The format and the unit.
fn kind(model: &Model) -> String {
    let format = model.format.word();
    match model.unit {
        UnitBy::File(unit) => format!("{format}, {} by the file", unit.name()),
        UnitBy::Given(unit) => format!("{format}, {} as given", unit.name()),
        UnitBy::Nobody => format!("{format}, its unit unknown"),
    }
}

/// How to tell the unit, with what each would make of it.
fn asked(model: &Model, judged: &[Judged]) -> String {
    let boxes = judged.iter().filter_map(|j| j.bounds);
    let boxes = boxes.chain(model.points.iter().filter_map(Points::bounds));
    let mut ends: Option<[[f64; 3]; 2]> = None;
    for [low, high] in boxes {
        let [l, h] = ends.get_or_insert([low, high]);
        for (end, other) in l.iter_mut().zip(low) {
            *end = end.min(other);
        }
        for (end, other) in h.iter_mut().zip(high) {
            *end = end.max(other);
        }
    }
    let [low, high] = ends.unwrap_or_default();
    let wide = low.iter().zip(high).map(|(low, high)| high - low).fold(0.0, f64::max);
    let as_unit = |unit: MeshUnit| {
        let size = Length::from_mm(wide * unit.mm()).show(LengthUnit::Millimetre);
        format!("{} ({size})", unit.word())
    };
    let each: Vec<String> = MeshUnit::STATED.into_iter().map(as_unit).collect();
    format!(
        "The file does not say its unit, and lengths above are its own numbers. Give it with --unit; the \
         whole would be as wide as told here in: {}.",
        each.join(", ")
    )
}

fn surface(judged: &Judged) -> String {
    let shells =
        if judged.shells == 1 { String::new() } else { format!(", {} shells", judged.shells) };
    if !judged.missing.is_empty() {
        format!("{} pieces missing{shells}", judged.missing.len())
    } else if judged.is_sound() && judged.wrong.is_empty() {
        format!("closed{shells}")
    } else if judged.is_sound() {
        format!("closed, see below{shells}")
    } else {
        format!("not sound, see below{shells}")
    }
}

/// How lengths are shown.
struct Lengths {
    /// Whether they are millimetres, not the file's own numbers.
    known: bool,
    units: LengthUnit,
}

impl Lengths {
    fn one(&self, length: f64) -> String {
        if self.known {
            Length::from_mm(length).show(self.units)
        } else {
            // Adding zero takes the minus sign from a zero.
            format!("{:.3}", (length * 1e3).round() / 1e3 + 0.0)
        }
    }

    /// A bound, never told less than it is.
    fn bound(&self, length: f64) -> String {
        if self.known {
            Length::from_mm(length).show_bound(self.units)
        } else {
            measure::bound_above(length, 3)
        }
    }

    fn size(&self, bounds: Option<[[f64; 3]; 2]>) -> String {
        let Some([low, high]) = bounds else { return String::new() };
        let [x, y, z]: [f64; 3] = std::array::from_fn(|at| {
            let end = |of: &[f64; 3]| of.get(at).copied().unwrap_or(0.0);
            end(&high) - end(&low)
        });
        self.three([x, y, z], " x ")
    }

    /// Three lengths with their unit once.
    fn three(&self, lengths: [f64; 3], between: &str) -> String {
        let [x, y, z] = lengths.map(|c| self.one(c));
        let plain = |text: &str| text.split(' ').next().unwrap_or("").to_owned();
        format!("{}{between}{}{between}{z}", plain(&x), plain(&y))
    }
}

/// A count with a comma between thousands.
fn grouped(count: usize) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}
