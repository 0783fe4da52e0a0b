//! The bearing ring around the cup: where its outlet may point, drawn over the scene and turned by hand.

use super::desk::{Desk, Order};
use super::gaze::ray;
use crate::eye::{Eye, single};
use assembly::Edit;
use bevy_egui::egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Response, Stroke, Vec2, pos2};
use display::{Colour, INK, STRONG};
use measure::Angle;
use nalgebra::{Point2, Point3, Vector2};
use std::f64::consts::TAU;
use tryout::{Act, ArcState, Ring, words};

/// How far outside of the cup the ring lies, mm. Our choice.
const OUTSIDE: f64 = 55.0;
/// The pointer is caught from so near, points.
const CAUGHT: f32 = 22.0;

/// What is held by hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Held {
    /// The ring's pointer.
    Pointer,
    /// The cup, by this far from its axis, mm.
    Cup([f64; 2]),
}

impl Held {
    /// What is told of it.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Pointer => "ring's pointer",
            Self::Cup(_) => "cup",
        }
    }
}

/// The ring where it is drawn.
pub(crate) struct Dial {
    axis: Point2<f64>,
    radius: f64,
    /// Of the ring and of the cup's handle over the plate, mm.
    heights: [f64; 2],
    pointer: Angle,
}

impl Dial {
    /// Of what is set up; `None` where nothing is.
    pub(crate) fn of(desk: &Desk) -> Option<Self> {
        let setup = desk.session()?.setup();
        let fitting = desk.ground.car.fittings.get(setup.choice.fitting)?;
        let cup = desk.ground.kit.cups.get(setup.choice.cup)?;
        let off = setup.placement.cup_offset;
        Some(Self {
            axis: fitting.centre + Vector2::new(off.x, off.y),
            radius: 0.5 * cup.inside_diameter.nominal + cup.wall.nominal + OUTSIDE,
            heights: [cup.port_height.nominal, cup.inside_height.nominal + cup.crown.nominal],
            pointer: setup.placement.outlet_bearing,
        })
    }

    fn at(&self, bearing: f64, radius: f64) -> Point3<f64> {
        let along = Vector2::new(bearing.cos(), bearing.sin()) * radius;
        Point3::new(self.axis.x + along.x, self.axis.y + along.y, self.heights[0])
    }

    /// Where the pointer is caught, and the cup.
    pub(crate) fn handles(&self, eye: &Eye, area: Rect) -> [Option<Pos2>; 2] {
        let pointer = self.at(self.pointer.radians(), self.radius);
        let cup = Point3::new(self.axis.x, self.axis.y, self.heights[1]);
        [pointer, cup].map(|point| onto(eye, area, &point))
    }

    /// What the hand takes hold of at a place.
    pub(crate) fn held(&self, eye: &Eye, area: Rect, at: Pos2) -> Option<Held> {
        let [pointer, cup] = self.handles(eye, area);
        let is_near = |handle: Option<Pos2>| handle.is_some_and(|h| h.distance(at) < CAUGHT);
        if is_near(pointer) {
            return Some(Held::Pointer);
        }
        let met = is_near(cup).then(|| self.met(eye, area, at, 1)).flatten()?;
        Some(Held::Cup([met.x - self.axis.x, met.y - self.axis.y]))
    }

    fn met(&self, eye: &Eye, area: Rect, at: Pos2, height: usize) -> Option<Point3<f64>> {
        let size = [area.width(), area.height()].map(f64::from);
        let at = [at.x - area.min.x, at.y - area.min.y].map(f64::from);
        ray(eye, size, at).at_height(self.heights[height])
    }

    /// What moving the hand to a place asks for.
    pub(crate) fn drawn(
        &self,
        desk: &Desk,
        held: Held,
        (eye, area): (&Eye, Rect),
        at: Pos2,
    ) -> Option<Order> {
        let setup = desk.session()?.setup();
        let edit = match held {
            Held::Pointer => {
                let met = self.met(eye, area, at, 0)?;
                let off = met.xy() - self.axis;
                (off.norm() > 1.0)
                    .then(|| Edit::OutletBearing(Angle::from_radians(off.y.atan2(off.x))))?
            }
            Held::Cup([x, y]) => {
                let met = self.met(eye, area, at, 1)?;
                let fitting = desk.ground.car.fittings.get(setup.choice.fitting)?;
                let off = met.xy() - Vector2::new(x, y) - fitting.centre;
                Edit::CupOffset(off)
            }
        };
        Some(Order::Act(Act::Drag(edit)))
    }

    /// Paints it. The ring that is known may be of what was set up a moment ago, and is then faint.
    pub(crate) fn paint(
        &self,
        desk: &Desk,
        painter: &Painter,
        (eye, area): (&Eye, Rect),
        response: &Response,
    ) {
        let setup = desk.session().map(tryout::Session::setup);
        let around = desk.around.as_ref();
        let is_current = around.is_some_and(|around| Some(&around.setup) == setup);
        let letters = 13.0 * desk.prefs.letters;
        if let Some(around) = around {
            self.arcs(painter, (eye, area), &around.ring, is_current);
        } else {
            self.polyline(painter, (eye, area), [0.0, TAU], self.radius, Stroke::new(1.0, ink()));
        }
        for hour in 1..=12_u8 {
            let bearing = -TAU * f64::from(hour) / 12.0;
            let far = self.at(bearing, self.radius + 16.0);
            if let Some(at) = onto(eye, area, &far) {
                let font = FontId::proportional(letters);
                painter.circle_filled(at, 0.72 * letters, paper());
                painter.text(at, Align2::CENTER_CENTER, hour, font, ink());
            }
        }
        self.handle(painter, (eye, area));
        let hovered = response.hover_pos().filter(|_| is_current);
        if let (Some(at), Some(around)) = (hovered, around)
            && let Some(met) = self.met(eye, area, at, 0)
            && (nalgebra::distance(&met.xy(), &self.axis) - self.radius).abs() < 12.0
        {
            let off = met.xy() - self.axis;
            let bearing = Angle::from_radians(off.y.atan2(off.x));
            if let Some(arc) = around.ring.at(bearing) {
                response.clone().on_hover_text_at_pointer(words::arc(arc));
            }
        }
    }

    fn arcs(&self, painter: &Painter, seen: (&Eye, Rect), ring: &Ring, is_current: bool) {
        let dim = |colour: Color32| if is_current { colour } else { colour.gamma_multiply(0.45) };
        for arc in &ring.arcs {
            let ends = arc.ends.map(Angle::radians);
            match arc.state {
                ArcState::Free => {
                    let colour = dim(Color32::from_rgb(0, 114, 178));
                    self.polyline(painter, seen, ends, self.radius, Stroke::new(7.0, colour));
                }
                ArcState::Tight => {
                    let colour = dim(Color32::from_rgb(0, 114, 178));
                    for off in [-2.5, 2.5] {
                        let stroke = Stroke::new(2.0, colour);
                        self.polyline(painter, seen, ends, self.radius + off, stroke);
                    }
                }
                ArcState::Blocked => {
                    let colour = dim(strong());
                    self.polyline(painter, seen, ends, self.radius, Stroke::new(1.5, colour));
                    // Strokes across it: what is blocked is told without its colour too.
                    self.ticks(painter, seen, ends, Stroke::new(2.0, colour));
                }
                ArcState::NotKnown => {
                    let stroke = Stroke::new(2.0, dim(ink()));
                    let step = 0.035;
                    let mut from = ends[0];
                    while from < ends[1] {
                        let to = (from + 0.4 * step).min(ends[1]);
                        self.polyline(painter, seen, [from, to], self.radius, stroke);
                        from += step;
                    }
                }
            }
        }
    }

    fn ticks(&self, painter: &Painter, (eye, area): (&Eye, Rect), ends: [f64; 2], stroke: Stroke) {
        const STEP: f64 = 0.06;
        let mut at = (ends[0] / STEP).ceil() * STEP;
        while at <= ends[1] {
            let lean = 0.02;
            let line = [(at - lean, -6.0), (at + lean, 6.0)]
                .map(|(bearing, off)| onto(eye, area, &self.at(bearing, self.radius + off)));
            if let [Some(a), Some(b)] = line {
                painter.line_segment([a, b], stroke);
            }
            at += STEP;
        }
    }

    fn handle(&self, painter: &Painter, (eye, area): (&Eye, Rect)) {
        let bearing = self.pointer.radians();
        let axis = Point3::new(self.axis.x, self.axis.y, self.heights[0]);
        let points = [axis, self.at(bearing, self.radius)].map(|p| onto(eye, area, &p));
        if let [Some(from), Some(to)] = points {
            painter.line_segment([from, to], Stroke::new(4.0, paper()));
            painter.line_segment([from, to], Stroke::new(2.0, ink()));
            painter.circle(to, 9.0, paper(), Stroke::new(2.5, ink()));
            painter.circle_filled(to, 4.0, ink());
        }
        let [_, cup] = self.handles(eye, area);
        if let Some(at) = cup {
            let square = Rect::from_center_size(at, Vec2::splat(14.0));
            painter.rect_filled(square, 2.0, paper());
            for [a, b] in [[pos2(-5.0, 0.0), pos2(5.0, 0.0)], [pos2(0.0, -5.0), pos2(0.0, 5.0)]] {
                painter.line_segment([at + a.to_vec2(), at + b.to_vec2()], Stroke::new(2.0, ink()));
            }
        }
    }

    fn polyline(
        &self,
        painter: &Painter,
        (eye, area): (&Eye, Rect),
        [from, to]: [f64; 2],
        radius: f64,
        stroke: Stroke,
    ) {
        let steps = (((to - from) / 0.04).ceil()).clamp(1.0, 400.0);
        let mut points: Vec<Pos2> = Vec::new();
        let mut step = 0.0;
        while step <= steps {
            let bearing = from + (to - from) * step / steps;
            points.extend(onto(eye, area, &self.at(bearing, radius)));
            step += 1.0;
        }
        painter.line(points.clone(), Stroke::new(stroke.width + 2.0, paper()));
        painter.line(points, stroke);
    }
}

/// Where a point is on the screen.
pub(crate) fn onto(eye: &Eye, area: Rect, point: &Point3<f64>) -> Option<Pos2> {
    let size = [area.width(), area.height()].map(f64::from);
    let [x, y] = eye.onto(size, point)?;
    Some(area.min + Vec2::new(single(x), single(y)))
}

fn ink() -> Color32 {
    of(INK)
}

fn strong() -> Color32 {
    of(STRONG)
}

fn paper() -> Color32 {
    of(crate::scene::PAPER)
}

pub(crate) fn of(colour: Colour) -> Color32 {
    let [r, g, b] = colour.rgb;
    Color32::from_rgb(r, g, b)
}
