//! What is written and drawn over the scene: what is shown, figures with their lines, the caution.
//!
//! The window and the pictures paint it by the same code, on egui's layer behind every panel.

mod layout;

use crate::eye::{Eye, single};
use bevy::asset::AssetEventSystems;
use bevy::prelude::*;
use bevy_egui::egui::epaint::{Mesh, PathShape, StrokeKind};
use bevy_egui::egui::{
    Color32, CornerRadius, FontId, Galley, LayerId, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2,
};
use bevy_egui::{EguiContexts, EguiPostUpdateSet, EguiPrimaryContextPass};
use display::{Colour, INK, Mark, STRONG};
pub(crate) use layout::Busy;
use layout::{Area, Placed, Wanted};
use nalgebra::Point3;
use review::Verdict;
use std::f32::consts::{FRAC_PI_2, PI};
use std::sync::Arc;

/// Everything that is written over the scene.
#[derive(Resource, Debug, Clone, PartialEq, Default)]
pub(crate) struct Overlay {
    /// From where the scene is looked at; without it nothing has a place on the picture.
    pub(crate) eye: Option<Eye>,
    /// What is shown: the first line is larger.
    pub(crate) heading: Vec<String>,
    /// Its shape stands before the heading.
    pub(crate) verdict: Option<Verdict>,
    /// Figures.
    pub(crate) notes: Vec<Note>,
    /// Lines in space that belong to no body: where two bodies run into each other.
    pub(crate) lines: Vec<Vec<Point3<f64>>>,
    /// Where the scene is, so that notes stand beside it.
    pub(crate) busy: Busy,
    /// Stands at the foot.
    pub(crate) foot: String,
    /// How large letters are, points.
    pub(crate) letters: f32,
}

/// Something that is said about a place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Note {
    /// What is said.
    pub(crate) text: String,
    /// What stands for it where saying it would cover too much of the scene, and it is said elsewhere.
    pub(crate) short: Option<String>,
    /// The two points between which it was measured; one point twice for a place alone.
    pub(crate) ends: [Point3<f64>; 2],
    /// Whether it limits or is broken.
    pub(crate) is_strong: bool,
}

impl Note {
    /// A figure of a check.
    pub(crate) fn of(mark: &Mark) -> Self {
        let text = format!("{}: {}", mark.check, mark.sentence);
        Self { text, short: None, ends: mark.ends, is_strong: mark.is_strong }
    }
}

/// Paints [`Overlay`] over the first camera.
pub(crate) struct OverlayPlugin;

/// Hands over what egui has drawn letters into before the frame is drawn: otherwise what was never written
/// before is missing in its first frame, and everything where the letters find no room and are laid out
/// anew.
pub(crate) fn write_at_once(app: &mut App) {
    let egui = EguiPostUpdateSet::PostProcessOutput;
    app.configure_sets(PostUpdate, AssetEventSystems.after(egui));
}

impl Plugin for OverlayPlugin {
    fn build(&self, app: &mut App) {
        write_at_once(app);
        app.init_resource::<Overlay>().add_systems(EguiPrimaryContextPass, draw);
    }
}

#[expect(clippy::needless_pass_by_value, reason = "Bevy hands resources over so")]
fn draw(overlay: Res<Overlay>, mut contexts: EguiContexts) -> Result {
    let ctx = contexts.ctx_mut()?;
    paint(&ctx.layer_painter(LayerId::background()), ctx.content_rect(), &overlay);
    Ok(())
}

/// How high the strips at the top and at the bottom are in which nothing of the scene should lie, in
/// letters' heights: a heading of three lines, a foot of one.
pub(crate) const HEAD: f32 = 5.0;
pub(crate) const FOOT: f32 = 2.2;
/// A note that covers more of the scene than this share of itself is only named. Our choice.
const MOST_COVERED: f64 = 0.25;
/// A note of lines shorter than so many letters' heights is not read but spelt. Our choice.
const SHORTEST: f32 = 9.0;
/// Around everything that is written, in letters' heights.
const AROUND: f32 = 0.5;

/// Paints over a scene that fills `area`.
pub(crate) fn paint(painter: &Painter, area: Rect, overlay: &Overlay) {
    if overlay.letters <= 0.0 {
        return;
    }
    let pen = Writer { painter, area, letters: overlay.letters };
    pen.lines(overlay);
    // Notes keep clear of both; their lines may run under them.
    let under = pen.heading(overlay);
    let over = pen.foot(overlay);
    pen.notes(overlay, under, over);
}

struct Writer<'p> {
    painter: &'p Painter,
    area: Rect,
    letters: f32,
}

impl Writer<'_> {
    /// Writes it; where it ends.
    fn heading(&self, overlay: &Overlay) -> f32 {
        let mut at = self.area.min + vec2(self.letters, AROUND * self.letters);
        let mut written = Vec::new();
        for (number, line) in overlay.heading.iter().enumerate() {
            let letters = if number == 0 { 1.2 * self.letters } else { self.letters };
            let mut left = at.x;
            if let Some(verdict) = overlay.verdict.filter(|_| number == 0) {
                let radius = 0.42 * letters;
                let middle = pos2(left + radius, at.y + 0.62 * letters);
                written.push((middle, Err((verdict, radius))));
                left += 2.0 * radius + 0.4 * letters;
            }
            let width = self.area.max.x - left - self.letters;
            let galley = self.written(line, letters, width, colour(INK));
            let size = galley.size();
            // Every plate first, so that none covers letters.
            self.plate(Rect::from_min_max(at, pos2(left, at.y) + size));
            written.push((pos2(left, at.y), Ok(galley)));
            at.y += size.y + 0.1 * letters;
        }
        for (at, what) in written {
            match what {
                Ok(galley) => self.painter.galley(at, galley, colour(INK)),
                Err((verdict, radius)) => shape(self.painter, verdict, at, radius),
            }
        }
        at.y
    }

    /// Writes it; where it begins.
    fn foot(&self, overlay: &Overlay) -> f32 {
        if overlay.foot.is_empty() {
            return self.area.max.y;
        }
        let width = self.area.width() - 2.0 * self.letters;
        let galley = self.written(&overlay.foot, 0.9 * self.letters, width, colour(INK));
        let size = galley.size();
        let at =
            pos2(self.area.min.x + self.letters, self.area.max.y - AROUND * self.letters - size.y);
        self.plate(Rect::from_min_size(at, size));
        self.painter.galley(at, galley, colour(INK));
        at.y
    }

    /// Lines in space, over everything.
    fn lines(&self, overlay: &Overlay) {
        let Some(eye) = &overlay.eye else { return };
        let width = self.letters / 7.0;
        for line in &overlay.lines {
            let seen: Vec<Pos2> = line.iter().filter_map(|p| self.onto(eye, p)).collect();
            self.painter.line(seen.clone(), Stroke::new(width + 2.0, paper()));
            self.painter.line(seen, Stroke::new(width, colour(STRONG)));
        }
    }

    fn notes(&self, overlay: &Overlay, under: f32, over: f32) {
        let Some(eye) = &overlay.eye else { return };
        let widest = (0.215 * self.area.width()).min(19.0 * self.letters);
        let around = AROUND * self.letters;
        let written = |note: &Note, text: &str, widest: f32| {
            let ends = [self.onto(eye, &note.ends[0])?, self.onto(eye, &note.ends[1])?];
            let galley = self.written(text, self.letters, widest, colour(INK));
            // Within the scene's area, as what is busy is.
            let middle = ends[0].lerp(ends[1], 0.5) - self.area.min;
            let size = galley.size() + 2.0 * vec2(around, around);
            let about = [middle.x, middle.y].map(f64::from);
            Some((ends, galley, Wanted { about, size: [size.x, size.y].map(f64::from) }))
        };
        let [under, over] = [under, over].map(|y| y - self.area.min.y);
        let room = Area {
            low: [around, under + around].map(f64::from),
            high: [self.area.width() - around, over - around].map(f64::from),
        };
        let place = |wanted: &[Wanted]| {
            layout::place(wanted, &room, f64::from(0.5 * self.letters), &overlay.busy)
        };
        let in_full = overlay.notes.iter().filter_map(|note| {
            let (ends, galley, wanted) = written(note, &note.text, widest)?;
            Some((note, ends, galley, wanted))
        });
        let mut seen: Vec<(&Note, [Pos2; 2], Arc<Galley>, Wanted)> = in_full.collect();
        let mut wanted: Vec<Wanted> = seen.iter().map(|(.., wanted)| *wanted).collect();
        let mut placed = place(&wanted);
        // Each that covers too much gives way to its short form, and all find their places anew.
        let mut has_shortened = false;
        for ((note, ends, galley, wanted), place) in seen.iter_mut().zip(&placed) {
            let Some(short) = &note.short else { continue };
            let covered = place.map_or(1.0, |p| overlay.busy.share(p.corner, wanted.size));
            if (covered > MOST_COVERED || widest < SHORTEST * self.letters)
                && let Some(shortened) = written(note, short, 0.5 * self.area.width())
            {
                (*ends, *galley, *wanted) = shortened;
                has_shortened = true;
            }
        }
        if has_shortened {
            wanted = seen.iter().map(|(.., wanted)| *wanted).collect();
            placed = place(&wanted);
        }
        // Every line first, so that none runs over a note.
        for ((note, ends, ..), place) in seen.iter().zip(&placed) {
            self.witness(note, *ends, place.as_ref());
        }
        let mut left_out = 0;
        for ((note, _, galley, _), place) in seen.into_iter().zip(&placed) {
            match place {
                Some(place) => self.note(note, galley, place),
                None => left_out += 1,
            }
        }
        if left_out > 0 {
            let text = format!("{left_out} more find no room");
            let galley = self.written(&text, 0.9 * self.letters, widest, colour(INK));
            let at = self.area.max - galley.size() - vec2(self.letters, around);
            self.plate(Rect::from_min_size(at, galley.size()));
            self.painter.galley(at, galley, colour(INK));
        }
    }

    /// What was measured: the line between its ends in a ring, since most are short, and the line that
    /// leads to what is said.
    fn witness(&self, note: &Note, ends: [Pos2; 2], place: Option<&Placed>) {
        let ink = if note.is_strong { colour(STRONG) } else { colour(INK) };
        let (fine, thick) = (self.letters / 11.0, self.letters / 6.0);
        let middle = ends[0].lerp(ends[1], 0.5);
        let radius = (0.5 * ends[0].distance(ends[1]) + 3.0 * fine).max(0.55 * self.letters);
        let is_place = ends[0].distance(ends[1]) < 0.01;
        let is_long = radius > 2.5 * self.letters;
        if let Some(place) = place {
            let from = self.placed(place.from);
            // Up to the ring, not into it.
            let way = middle - from;
            let stop = if is_long || is_place { 0.0 } else { radius };
            let to = middle - way.normalized() * stop.min(way.length());
            self.painter.line_segment([from, to], Stroke::new(fine + 2.5, paper()));
            self.painter.line_segment([from, to], Stroke::new(fine, ink));
        }
        if is_place {
            self.painter.circle_filled(middle, 2.5 * fine + 1.5, paper());
            self.painter.circle_filled(middle, 2.5 * fine, ink);
            return;
        }
        self.painter.line_segment(ends, Stroke::new(thick + 2.5, paper()));
        self.painter.line_segment(ends, Stroke::new(thick, ink));
        if is_long {
            for end in ends {
                self.painter.circle_filled(end, 1.5 * thick, ink);
            }
        } else {
            self.painter.circle_stroke(middle, radius, Stroke::new(fine + 2.5, paper()));
            self.painter.circle_stroke(middle, radius, Stroke::new(1.4 * fine, ink));
        }
    }

    fn note(&self, note: &Note, galley: Arc<Galley>, place: &Placed) {
        let around = vec2(AROUND * self.letters, AROUND * self.letters);
        let at = self.placed(place.corner);
        let rect = Rect::from_min_size(at, galley.size() + 2.0 * around);
        let ink = if note.is_strong { colour(STRONG) } else { colour(INK) };
        // A figure that limits is told by a thick frame too, not by its colour alone.
        let stroke = Stroke::new(if note.is_strong { 2.0 } else { 1.0 }, ink);
        let round = CornerRadius::same(3);
        self.painter.rect(rect, round, paper(), stroke, StrokeKind::Inside);
        self.painter.galley(at + around, galley, colour(INK));
    }

    /// Paper behind letters. A mesh, since egui softens the edges of its rectangles, and what is soft is
    /// seen on paper.
    fn plate(&self, rect: Rect) {
        let mut plate = Mesh::default();
        plate.add_colored_rect(rect.expand(0.2 * self.letters), paper());
        self.painter.add(Shape::mesh(plate));
    }

    fn written(&self, text: &str, letters: f32, width: f32, ink: Color32) -> Arc<Galley> {
        self.painter.layout(text.to_owned(), FontId::proportional(letters), ink, width)
    }

    /// A place within the scene's area.
    fn placed(&self, [x, y]: [f64; 2]) -> Pos2 {
        self.area.min + vec2(single(x), single(y))
    }

    fn onto(&self, eye: &Eye, point: &Point3<f64>) -> Option<Pos2> {
        let size = [self.area.width(), self.area.height()].map(f64::from);
        let [x, y] = eye.onto(size, point)?;
        Some(self.area.min + vec2(single(x), single(y)))
    }
}

/// The shape that stands for a verdict, as the terminal's answer has it.
pub(crate) fn shape(painter: &Painter, verdict: Verdict, middle: Pos2, radius: f32) {
    let ink = colour(INK);
    let thick = Stroke::new(0.22 * radius.max(4.0), ink);
    match verdict {
        Verdict::Fits => {
            painter.circle_filled(middle, radius, ink);
        }
        Verdict::FitsAfterRemoval => {
            const STEPS: u8 = 24;
            let half = (0..=STEPS).map(|i| {
                let angle = FRAC_PI_2 + PI * f32::from(i) / f32::from(STEPS);
                middle + radius * vec2(angle.cos(), angle.sin())
            });
            let half = PathShape::convex_polygon(half.collect(), ink, Stroke::NONE);
            painter.add(half);
            painter.circle_stroke(middle, radius - 0.5 * thick.width, thick);
        }
        Verdict::CannotTell => {
            let font = FontId::proportional(2.2 * radius);
            let galley = painter.layout_no_wrap("?".into(), font, ink);
            painter.galley(middle - 0.5 * galley.size(), galley, ink);
        }
        Verdict::DoesNotFit => {
            let arm = 0.8 * radius;
            for [x, y] in [[1.0, 1.0], [1.0, -1.0]] {
                let off = arm * vec2(x, y);
                painter.line_segment([middle - off, middle + off], thick);
            }
        }
    }
}

fn paper() -> Color32 {
    colour(crate::scene::PAPER)
}

fn colour(colour: Colour) -> Color32 {
    let [r, g, b] = colour.rgb;
    Color32::from_rgb(r, g, b)
}
