//! The land strip: the gasket's annulus unrolled, with heights and what stands near it.

use super::desk::Desk;
use super::dial::of;
use crate::eye::whole;
use bevy_egui::egui::{Align2, Color32, FontId, Rect, Sense, Stroke, StrokeKind, Ui, pos2, vec2};
use display::{INK, STRONG};
use fitup::LandStrip;
use measure::{Angle, Length};
use std::f64::consts::TAU;
use tryout::words;

/// Heights of so much and more have the fullest shade, mm. Our choice.
const FULL: f64 = 1.0;

/// Draws the strip: clock positions from 12 over 3, 6 and 9 to 12 again from left to right, the gasket's
/// inside below.
pub(crate) fn show(ui: &mut Ui, desk: &Desk) {
    let Some(land) = desk.around.as_ref().and_then(|around| around.land.as_ref()) else {
        ui.label("Land strip: the land under the gasket is shown once it is measured.");
        return;
    };
    let letters = 12.0 * desk.prefs.letters;
    let unit = desk.unit();
    let length = |mm: f64| Length::from_mm(mm).show(unit);
    let width = format!("at the narrowest {} wide", length(land.seal_width.low));
    let uneven = land
        .departure
        .map_or(String::new(), |d| format!(", uneven by {} at the most", length(d.high)));
    let is_current = desk.around.as_ref().map(|around| &around.setup)
        == desk.session().map(tryout::Session::setup);
    let when = if is_current { "" } else { " (of a moment ago)" };
    ui.label(format!("Land under the gasket, unrolled{when}: {width}{uneven}"));
    let size = vec2(ui.available_width(), 6.2 * letters);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    let painter = ui.painter_at(rect);
    let strip = Rect::from_min_max(rect.min + vec2(4.0, 4.0), rect.max - vec2(4.0, 1.5 * letters));
    // From left to right clockwise, as a clock is read; bearings run the other way.
    let across = |bearing: f64| {
        let share = (-bearing / TAU).rem_euclid(1.0);
        #[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
        let share = share as f32;
        strip.min.x + share * strip.width()
    };
    let rings = land.heights.first().map_or(1, Vec::len).max(1);
    let sectors = land.heights.len();
    painter.rect_filled(strip, 0.0, Color32::from_gray(236));
    for (sector, row) in land.heights.iter().enumerate() {
        let to_left = across(TAU * (sector + 1) as f64 / sectors as f64);
        let each = strip.width() / sectors as f32;
        for (ring, cell) in row.iter().enumerate() {
            let high = strip.max.y - strip.height() * (ring + 1) as f32 / rings as f32;
            let place = Rect::from_min_size(
                pos2(to_left, high),
                vec2(each + 0.5, strip.height() / rings as f32 + 0.5),
            );
            painter.rect_filled(place, 0.0, shade(*cell));
            if cell.is_none() {
                let stroke = Stroke::new(1.0, of(INK));
                painter.line_segment([place.left_bottom(), place.right_top()], stroke);
            }
        }
    }
    let mut names: Vec<Rect> = Vec::new();
    for standing in &land.standing {
        for [from, to] in &standing.over {
            let (from, to) = (from.radians(), to.radians());
            let mut at = from;
            while at <= to {
                let x = across(at);
                let stroke = Stroke::new(2.0, of(STRONG));
                painter
                    .line_segment([pos2(x - 3.0, strip.max.y), pos2(x + 3.0, strip.min.y)], stroke);
                at += 0.05;
            }
        }
        let x = across(standing.nearest.radians());
        let name = desk.ground.car.body(standing.body).body.name.clone();
        painter
            .line_segment([pos2(x, strip.min.y), pos2(x, strip.max.y)], Stroke::new(1.0, of(INK)));
        let font = FontId::proportional(0.85 * letters);
        let galley = painter.layout_no_wrap(name, font, of(INK));
        // All of the name within the strip.
        let half = 0.5 * galley.size().x + 2.0;
        let middle = x.min(strip.max.x - half).max(strip.min.x + half);
        let at = pos2(middle, strip.min.y + 0.6 * letters);
        let mut plate = Rect::from_center_size(at, galley.size());
        // Below those that it would cover.
        while names.iter().any(|name| name.intersects(plate)) {
            plate = plate.translate(vec2(0.0, galley.size().y + 2.0));
        }
        names.push(plate);
        painter.rect_filled(plate.expand(1.0), 1.0, Color32::from_white_alpha(210));
        painter.galley(plate.min, galley, of(INK));
    }
    let x = across(land.narrowest.radians());
    painter.line_segment([pos2(x, strip.min.y), pos2(x, strip.max.y)], Stroke::new(2.5, of(INK)));
    painter.rect_stroke(strip, 0.0, Stroke::new(1.0, of(INK)), StrokeKind::Outside);
    for hour in [12_u8, 3, 6, 9] {
        let share = f32::from(hour % 12) / 12.0;
        let at = pos2(strip.min.x + share * strip.width(), strip.max.y + 2.0);
        let align = if hour == 12 { Align2::LEFT_TOP } else { Align2::CENTER_TOP };
        painter.text(at, align, hour, FontId::proportional(letters), of(INK));
    }
    let full = Length::from_mm(FULL).show(unit);
    ui.small(format!(
        "Blue: above the best-fit plane; dark: below it, fullest at {full}; struck: a body stands there, or \
         nothing is seen. Point at it for heights."
    ));
    if let Some(at) = response.hover_pos().filter(|at| strip.contains(*at)) {
        let share = f64::from((at.x - strip.min.x) / strip.width());
        response.on_hover_text_at_pointer(told(desk, land, Angle::from_radians(-TAU * share)));
    }
}

/// What is known of the land at a bearing.
fn told(desk: &Desk, land: &LandStrip, bearing: Angle) -> String {
    let unit = desk.unit();
    let sectors = land.heights.len();
    let share = (bearing.radians() / TAU).rem_euclid(1.0);
    let sector = whole(share * sectors as f64);
    let cells = land.heights.get(sector).into_iter().flatten().flatten();
    let ends = cells.fold(None, |ends: Option<[f64; 2]>, [low, high]| {
        Some(ends.map_or([*low, *high], |[l, h]| [l.min(*low), h.max(*high)]))
    });
    let heights = match ends {
        Some([low, high]) => {
            let show = |mm: f64| Length::from_mm(mm).show(unit);
            format!("{} to {} over the best-fit plane", show(low), show(high))
        }
        None => "no plate is seen here".into(),
    };
    format!("{}: {heights}", words::bearing(bearing))
}

/// Bluer above the plane, darker below it; white, and struck out, where no plate is seen.
fn shade(cell: Option<[f64; 2]>) -> Color32 {
    let Some([low, high]) = cell else { return Color32::WHITE };
    let most = if high.abs() > low.abs() { high } else { low };
    #[expect(clippy::cast_possible_truncation, reason = "for the eye only")]
    let share = (most / FULL).clamp(-1.0, 1.0) as f32;
    let mixed = |to: [f32; 3]| {
        let from = [200.0, 204.0, 208.0];
        let [r, g, b] = [0, 1, 2].map(|i: usize| from[i] + share.abs() * (to[i] - from[i]));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 255")]
        Color32::from_rgb(r as u8, g as u8, b as u8)
    };
    if share >= 0.0 { mixed([86.0, 180.0, 233.0]) } else { mixed([60.0, 64.0, 70.0]) }
}
