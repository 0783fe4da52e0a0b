//! A plan of what was found, seen from above with the hinge at the top, as SVG.
//!
//! Outlines are those of the meshes' shells, their convex hulls. How far a guess can be relied on is told
//! by the stroke of its outline and by a word; questions carry their numbers.

use crate::draft::{Confidence, Draft, Fitting, Found};
use crate::fitting::hull;
use measure::{Length, LengthUnit};
use nalgebra::{Point2, Point3, Vector2};
use solids::{Body, Mesh};
use std::fmt::Write as _;

/// The plan's side and the list's width, px.
const PLAN: f64 = 900.0;
const LIST: f64 = 560.0;
const MARGIN: f64 = 28.0;
/// Height of a line of the list, px, and letters in it.
const LINE: f64 = 17.0;
const LETTERS: usize = 82;
/// Bodies of more shells are drawn as one outline.
const MANY: usize = 400;

/// Ink, from dark to light.
const INK: &str = "#22262b";
const SOFT: &str = "#6a7077";
const FAINT: &str = "#b4b9be";
const PAPER: &str = "#ffffff";
const PLATE: &str = "#f3f3f1";
const WALL: &str = "#dcdcd8";
const PIECE: &str = "#e9ecef";

/// Draws the plan: `title` above it, `caution` below it.
pub fn plan(
    draft: &Draft,
    bodies: &[Body],
    title: &str,
    caution: &str,
    unit: LengthUnit,
) -> String {
    let placed: Vec<Mesh> =
        bodies.iter().map(|b| b.mesh.transformed(&draft.plate_from_mesh)).collect();
    // An open lid may reach far out; the plan keeps to plate and housing.
    let kept = draft.housing.iter().map(|f| f.body).chain([draft.plate.body]);
    let points = kept.flat_map(|i| placed[i].vertices.iter().map(|p| p.xy().coords.norm()));
    let reach = points.fold(200.0, f64::max);
    let mut page = Page {
        placed,
        names: bodies.iter().map(|b| b.name.clone()).collect(),
        scale: 0.5 * PLAN / (1.16 * reach),
        reach,
        unit,
        shapes: String::new(),
        list: Vec::new(),
    };
    page.dial();
    page.car(draft);
    page.labels(draft);
    page.told(draft);
    page.finish(title, caution)
}

struct Page {
    placed: Vec<Mesh>,
    names: Vec<String>,
    /// px a mm.
    scale: f64,
    /// How far from the axis the plan goes, mm.
    reach: f64,
    unit: LengthUnit,
    shapes: String,
    /// Lines of the list: whether in bold, indentation, text.
    list: Vec<(bool, f64, String)>,
}

/// The stroke that stands for a confidence.
const fn stroke(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::Sure => "stroke-width=\"1.5\"",
        Confidence::Likely => "stroke-width=\"1.3\" stroke-dasharray=\"9 3\"",
        Confidence::Doubtful => "stroke-width=\"2\" stroke-dasharray=\"2 3.5\"",
    }
}

impl Page {
    /// A point of the plate frame on the page: +x up, +y to the left.
    fn at(&self, p: &Point2<f64>) -> (f64, f64) {
        let middle = MARGIN + 0.5 * PLAN;
        (middle - p.y * self.scale, 44.0 + middle - p.x * self.scale)
    }

    fn draw(&mut self, shape: &str) {
        self.shapes.push_str(shape);
        self.shapes.push('\n');
    }

    fn path(&self, points: &[Point2<f64>]) -> String {
        let mut path = String::new();
        for (i, p) in points.iter().enumerate() {
            let (x, y) = self.at(p);
            // Writing into a string does not fail.
            let _ = write!(path, "{}{x:.1} {y:.1}", if i == 0 { "M" } else { "L" });
        }
        path.push('Z');
        path
    }

    fn text(&mut self, at: (f64, f64), size: f64, style: &str, text: &str) {
        let (x, y) = at;
        let text = escaped(text);
        self.draw(&format!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size}\" {style}>{text}</text>"
        ));
    }

    /// A centred text with a rim of paper around its letters, so that it reads over lines.
    fn label(&mut self, at: (f64, f64), size: f64, weight: u32, text: &str) {
        let both = format!("text-anchor=\"middle\" font-weight=\"{weight}\"");
        let rim = format!(
            "{both} fill=\"none\" stroke=\"{PAPER}\" stroke-width=\"4\" stroke-linejoin=\"round\" \
             stroke-opacity=\"0.85\""
        );
        self.text(at, size, &rim, text);
        self.text(at, size, &format!("{both} fill=\"{INK}\""), text);
    }

    /// The outlines of a body's shells.
    fn outlines(&self, body: usize) -> Vec<Vec<Point2<f64>>> {
        let mesh = &self.placed[body];
        let shells = solids::shells(mesh);
        if shells.len() > MANY {
            return vec![hull(mesh.vertices.iter().map(Point3::xy).collect())];
        }
        let shell = |s: &Vec<usize>| hull(s.iter().map(|v| mesh.vertices[*v].xy()).collect());
        shells.iter().map(shell).collect()
    }

    fn body(&mut self, found: &Found, fill: &str, ink: &str) {
        let path: String =
            self.outlines(found.body).iter().map(|outline| self.path(outline)).collect();
        let stroke = stroke(found.reason.confidence);
        let name = escaped(&self.names[found.body]);
        self.draw(&format!(
            "<path d=\"{path}\" fill=\"{fill}\" stroke=\"{ink}\" {stroke}><title>{name}</title></path>"
        ));
    }

    /// Bearings and clock positions around the plan.
    fn dial(&mut self) {
        let far = 1.04 * self.reach;
        for i in 0..72 {
            let degrees = 5.0 * f64::from(i);
            let (s, c) = degrees.to_radians().sin_cos();
            let way = Vector2::new(c, s);
            let long = if i % 6 == 0 { 0.03 } else { 0.014 };
            let (x1, y1) = self.at(&Point2::from(way * far));
            let (x2, y2) = self.at(&Point2::from(way * (far + long * self.reach)));
            self.draw(&format!(
                "<path d=\"M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}\" stroke=\"{FAINT}\" stroke-width=\"1\"/>"
            ));
            if i % 6 == 0 {
                let (x, y) = self.at(&Point2::from(way * (far + 0.075 * self.reach)));
                let clock = measure::Angle::from_degrees(degrees).show_clock();
                let clock = clock.trim_end_matches(" o'clock").to_owned();
                let style = format!("fill=\"{SOFT}\" text-anchor=\"middle\"");
                self.text((x, y), 12.0, &style, &format!("{degrees}\u{b0}"));
                self.text((x, y + 12.0), 10.0, &style, &format!("{clock} h"));
            }
        }
    }

    fn car(&mut self, draft: &Draft) {
        self.body(&draft.plate, PLATE, SOFT);
        for found in &draft.studs {
            self.body(found, PIECE, SOFT);
        }
        // The sidewall as a ring between its outermost outline and its inner face.
        let outer: Vec<Point2<f64>> = draft
            .housing
            .iter()
            .flat_map(|f| self.placed[f.body].vertices.iter().map(Point3::xy))
            .collect();
        let ring = self.path(&hull(outer)) + &self.path(&draft.inner_outline);
        let least = draft.housing.iter().map(|f| f.reason.confidence).min();
        let stroke = stroke(least.unwrap_or(Confidence::Doubtful));
        self.draw(&format!(
            "<path d=\"{ring}\" fill=\"{WALL}\" fill-opacity=\"0.75\" fill-rule=\"evenodd\" \
             stroke=\"{SOFT}\" {stroke}/>"
        ));
        for port in &draft.ports {
            let (s, c) = port.facing.radians().sin_cos();
            let (out, left) = (Vector2::new(c, s), Vector2::new(-s, c));
            let (w, t) = (0.5 * port.width, 0.5 * port.wall);
            let corners = [(-t, -w), (t, -w), (t, w), (-t, w)];
            let corners = corners.map(|(a, b)| port.at + out * a + left * b);
            let path = self.path(&corners);
            let stroke = self::stroke(port.reason.confidence);
            self.draw(&format!("<path d=\"{path}\" fill=\"{PAPER}\" stroke=\"{INK}\" {stroke}/>"));
            if let Some(cover) = &port.cover {
                self.body(cover, "none", SOFT);
            }
        }
        for fitting in &draft.fittings {
            for found in &fitting.bodies {
                self.body(found, PAPER, INK);
            }
            for piece in &fitting.removables {
                self.body(&piece.found, PIECE, SOFT);
            }
            let (x, y) = self.at(&fitting.centre);
            let r = 0.5 * fitting.flange * self.scale;
            let stroke = self::stroke(fitting.place_reason.confidence);
            self.draw(&format!(
                "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{r:.1}\" fill=\"none\" stroke=\"{INK}\" \
                 {stroke}/>"
            ));
            self.cross(&fitting.centre, 9.0);
        }
        for found in &draft.hinge {
            self.body(found, WALL, INK);
        }
        if let Some(lid) = &draft.lid {
            self.body(&lid.found, "none", FAINT);
        }
        self.cross(&Point2::origin(), 16.0);
    }

    fn cross(&mut self, p: &Point2<f64>, long: f64) {
        let (x, y) = self.at(p);
        self.draw(&format!(
            "<path d=\"M{:.1} {y:.1}H{:.1}M{x:.1} {:.1}V{:.1}\" stroke=\"{INK}\" stroke-width=\"0.8\" \
             fill=\"none\"/>",
            x - long,
            x + long,
            y - long,
            y + long
        ));
    }

    fn labels(&mut self, draft: &Draft) {
        for fitting in &draft.fittings {
            let (x, y) = self.at(&fitting.centre);
            self.label((x, y - 8.0), 15.0, 600, &fitting.name);
            self.label((x, y + 18.0), 11.0, 400, fitting.kind.word());
            let word = fitting.kind_reason.confidence.word();
            self.label((x, y + 31.0), 10.5, 400, word);
        }
        for port in &draft.ports {
            // Just inside the wall, farther where the letters stand across it.
            let (s, c) = port.facing.radians().sin_cos();
            let off = 0.5 * port.wall + (16.0 + 10.0 * s.abs()) / self.scale;
            let (x, y) = self.at(&(port.at - Vector2::new(c, s) * off));
            self.label((x, y + 4.5), 13.0, 600, &port.name);
        }
        if let Some(lid) = &draft.lid {
            let along = lid.axis.xy().try_normalize(0.0).unwrap_or_else(Vector2::y);
            let (x, y) = self.at(&(lid.axis_point.xy() + along * (92.0 + 26.0 / self.scale)));
            self.label((x, y + 4.0), 12.0, 600, "hinge");
        }
        self.markers(draft);
    }

    /// The numbers of questions where they belong.
    fn markers(&mut self, draft: &Draft) {
        let mut at_place: Vec<(Point2<f64>, Vec<usize>)> = Vec::new();
        for (number, question) in (1..).zip(&draft.questions) {
            let Some(at) = question.at else { continue };
            match at_place.iter_mut().find(|(p, _)| (*p - at).norm() < 12.0) {
                Some((_, numbers)) => numbers.push(number),
                None => at_place.push((at, vec![number])),
            }
        }
        for (place, numbers) in at_place {
            let (x, y) = self.at(&place);
            let half = 0.5 * 21.0 * (numbers.len() - 1) as f64;
            for (i, number) in numbers.iter().enumerate() {
                self.marker(x - half + 21.0 * i as f64, y - 34.0, *number);
            }
        }
    }

    fn marker(&mut self, x: f64, y: f64, number: usize) {
        self.draw(&format!(
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"9.5\" fill=\"{INK}\" stroke=\"{PAPER}\" \
             stroke-width=\"1.5\"/>"
        ));
        let style = format!("text-anchor=\"middle\" fill=\"{PAPER}\" font-weight=\"600\"");
        self.text((x, y + 4.0), 11.0, &style, &number.to_string());
    }

    fn short(&self, mm: f64) -> String {
        Length::from_mm(mm).show(self.unit)
    }

    /// What was found and what is asked, as the list beside the plan.
    fn told(&mut self, draft: &Draft) {
        self.heading("Taken for");
        self.row("plate", std::slice::from_ref(&draft.plate));
        self.row("housing", &draft.housing);
        let told: Vec<String> = draft
            .ports
            .iter()
            .map(|p| {
                let (w, h) = (self.short(p.width), self.short(p.height));
                format!("{} {w} by {h} ({})", p.name, p.reason.confidence.word())
            })
            .collect();
        let ports = if told.is_empty() { "none found".to_owned() } else { told.join(", ") };
        self.wrap(0.0, &format!("ports: {ports}"));
        let covers: Vec<Found> = draft.ports.iter().filter_map(|p| p.cover.clone()).collect();
        self.row("port covers", &covers);
        let lid: Vec<Found> = draft.lid.iter().map(|l| l.found.clone()).collect();
        self.row("lid", &lid);
        self.row("hinge", &draft.hinge);
        self.row("studs", &draft.studs);
        for fitting in &draft.fittings {
            self.fitting_row(fitting);
        }
        self.list.push((false, 0.0, String::new()));
        let count = draft.questions.len();
        self.heading(&match count {
            0 => "No questions".to_owned(),
            1 => "One question".to_owned(),
            _ => format!("{count} questions"),
        });
        for (number, question) in (1..).zip(&draft.questions) {
            let text = format!("{number}.  {} \u{2013} guess: {}", question.about, question.guess);
            self.wrap(0.0, &text);
        }
    }

    fn heading(&mut self, text: &str) {
        self.list.push((true, 0.0, text.to_owned()));
    }

    fn row(&mut self, what: &str, founds: &[Found]) {
        if founds.is_empty() {
            self.wrap(0.0, &format!("{what}: none found"));
            return;
        }
        let told: Vec<String> = founds
            .iter()
            .map(|f| format!("{} ({})", self.names[f.body], f.reason.confidence.word()))
            .collect();
        self.wrap(0.0, &format!("{what}: {}", told.join(", ")));
    }

    fn fitting_row(&mut self, fitting: &Fitting) {
        let told = |f: &Found| format!("{} ({})", self.names[f.body], f.reason.confidence.word());
        let mut text = format!(
            "{}, {} ({}), flange {}: {}",
            fitting.name,
            fitting.kind.word(),
            fitting.kind_reason.confidence.word(),
            self.short(fitting.flange),
            fitting.bodies.iter().map(told).collect::<Vec<_>>().join(", ")
        );
        if !fitting.removables.is_empty() {
            let off: Vec<String> = fitting
                .removables
                .iter()
                .map(|r| format!("{}: {}", r.name, told(&r.found)))
                .collect();
            let _ = write!(text, "; comes off: {}", off.join(", then "));
        }
        self.wrap(0.0, &text);
    }

    fn wrap(&mut self, indent: f64, text: &str) {
        for (i, line) in broken(text, LETTERS).into_iter().enumerate() {
            self.list.push((false, if i == 0 { indent } else { 16.0 }, line));
        }
    }

    fn legend(&mut self, x: f64, y: f64) {
        let kinds = [
            (Confidence::Sure, "sure: name and shape agree"),
            (Confidence::Likely, "likely: one says so"),
            (Confidence::Doubtful, "doubtful: asked"),
        ];
        let mut x = x;
        for (confidence, words) in kinds {
            let stroke = stroke(confidence);
            self.draw(&format!(
                "<path d=\"M{x:.1} {:.1}h34\" stroke=\"{INK}\" fill=\"none\" {stroke}/>",
                y - 4.0
            ));
            self.text((x + 40.0, y), 12.0, &format!("fill=\"{INK}\""), words);
            x += 64.0 + 6.6 * words.chars().count() as f64;
        }
        self.marker(x + 9.0, y - 4.0, 1);
        self.text((x + 24.0, y), 12.0, &format!("fill=\"{INK}\""), "number of a question");
    }

    fn finish(mut self, title: &str, caution: &str) -> String {
        let list = std::mem::take(&mut self.list);
        let left = PLAN + 3.0 * MARGIN;
        let mut y = 74.0;
        for (bold, indent, text) in &list {
            let (size, style) = if *bold {
                (14.0, format!("fill=\"{INK}\" font-weight=\"600\""))
            } else {
                (12.0, format!("fill=\"{INK}\""))
            };
            self.text((left + indent, y), size, &style, text);
            y += LINE;
        }
        let foot = (44.0 + PLAN + 2.0 * MARGIN).max(y + 10.0);
        self.legend(MARGIN, foot + 8.0);
        let soft = format!("fill=\"{SOFT}\"");
        let mut last = foot + 34.0;
        for line in broken(caution, 200) {
            self.text((MARGIN, last), 12.0, &soft, &line);
            last += LINE;
        }
        let bold = format!("fill=\"{INK}\" font-weight=\"600\"");
        self.text((MARGIN, 34.0), 18.0, &bold, title);
        let note = "seen from above, the hinge at the top; bearings counter-clockwise";
        self.text((MARGIN, 54.0), 12.0, &soft, note);
        let (wide, high) = (left + LIST + MARGIN, last + 8.0);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide:.0} {high:.0}\" \
             width=\"{wide:.0}\" height=\"{high:.0}\" font-family=\"Inter, 'DejaVu Sans', Arial, \
             sans-serif\">\n<rect width=\"100%\" height=\"100%\" fill=\"{PAPER}\"/>\n{}</svg>\n",
            self.shapes
        )
    }
}

/// A text in lines of at most so many letters, but for longer words.
fn broken(text: &str, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let length = lines.last().map_or(0, |line| line.chars().count());
        if length > 0 && length + word.chars().count() >= most {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines
}

/// A text as XML holds it; what XML cannot hold becomes a space.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
