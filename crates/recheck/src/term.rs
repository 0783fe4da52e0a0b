//! A witness that was checked: an upper bound of one margin as a function of the placement.

use crate::bend::{Half, Swing};
use crate::brute::point_triangle;
use crate::poses::Lines;
use crate::setting::{Piece, Setting};
use assembly::Placement;
use assembly::placement::End;
use assembly::rig::RigPart;
use measure::Angle;
use nalgebra::{Point3, Vector2, Vector3};

/// What the bound is, but for a constant.
#[derive(Debug, Clone)]
pub(crate) enum What {
    /// The distance of two points, each in its piece's frame; with `across`, of the first from the
    /// rectangle around the second with these half sides.
    Apart {
        a: Piece,
        b: Piece,
        on_a: Point3<f64>,
        on_b: Point3<f64>,
        across: Option<[Vector3<f64>; 2]>,
    },
    /// Nothing but the constant.
    Constant,
    /// `toward . cup offset`.
    Room { toward: Vector2<f64> },
    /// `-sign shift - (half width cos + skew_sign half depth sin)` of the foot's turn.
    Beside { end: End, sign: f64, skew_sign: f64 },
    /// `-sign half width sin` of the foot's turn.
    Skew { end: End, sign: f64 },
    /// `-2 sign slide`.
    Overhangs { sign: f64 },
    /// `slide` toward the end, less half the span.
    Slot { end: End },
    /// `per_span / span`.
    Lean { per_span: f64 },
    /// `-sign` times the distance of the cup's axis from the bar's line.
    Offset { sign: f64 },
    /// `sign` times the screw's extension.
    Travel { sign: f64 },
}

/// A witness that was checked.
#[derive(Debug, Clone)]
pub(crate) struct Term {
    pub(crate) what: What,
    /// Whether its rule is a tolerance.
    pub(crate) tolerance: bool,
    /// The options for which it holds.
    pub(crate) given: Vec<(usize, usize)>,
    /// The same by variable; those on which it does not depend are the first.
    pub(crate) options: [usize; 7],
    /// The constant, mm.
    pub(crate) add: f64,
}

/// The corners of a rectangle, in order round it.
pub(crate) fn corners(middle: &Point3<f64>, [u, v]: &[Vector3<f64>; 2]) -> [Point3<f64>; 4] {
    [middle + u + v, middle + u - v, middle - u - v, middle - u + v]
}

impl Setting<'_> {
    /// The placement of these numbers and options. The screw's extension is left open.
    pub(crate) fn numbers(&self, v: &[f64; 7], options: &[usize; 7]) -> Placement {
        let elbow = self.kit.outlet.elbow_turns.get(options[0]).copied();
        Placement {
            cup_offset: Vector2::new(v[0], v[1]),
            outlet_bearing: Angle::from_radians(v[2]),
            elbow_turn: elbow.unwrap_or(Angle::ZERO),
            foot_shift: [v[3], v[4]],
            link_thickness: [[options[3], options[4]], [options[5], options[6]]],
            link_hole: [options[1], options[2]],
            bar_slide: v[5],
            screw_extension: f64::NAN,
            lid_opening: Angle::from_radians(v[6]),
        }
    }

    /// Cosine and sine of the signed angle from the port's facing to the bar's outward direction.
    pub(crate) fn turn_in_port(&self, lines: &Lines, end: End) -> (f64, f64) {
        let (sin, cos) = self.ports[end.index()].facing.radians().sin_cos();
        let facing = Vector3::new(cos, sin, 0.0);
        let outward = if end == End::A { lines.level } else { -lines.level };
        (facing.dot(&outward), facing.cross(&outward).z)
    }

    fn apart(
        &self,
        placement: &Placement,
        pieces: [(Piece, &Point3<f64>); 2],
        across: Option<&[Vector3<f64>; 2]>,
    ) -> Option<f64> {
        let mut placement = placement.clone();
        let is_screw = |p: Piece| matches!(p, Piece::Rig(RigPart::Screw | RigPart::ScrewHandle));
        if pieces.iter().any(|(piece, _)| is_screw(*piece)) {
            placement.screw_extension = self.lines(&placement)?.to_seat();
        }
        let [(a, on_a), (b, on_b)] = pieces;
        let (a, place) = (self.place(&placement, a)?.apply(on_a), self.place(&placement, b)?);
        let Some(across) = across else { return Some((a - place.apply(on_b)).norm()) };
        let [p, q, r, s] = corners(on_b, across).map(|corner| place.apply(&corner));
        Some(point_triangle(&a, &[p, q, r]).min(point_triangle(&a, &[r, s, p])))
    }

    /// The part of the term that depends on the placement, mm.
    fn varying(&self, term: &Term, placement: &Placement) -> Option<f64> {
        let half_width = 0.5 * self.kit.foot.width.nominal;
        Some(match &term.what {
            What::Apart { a, b, on_a, on_b, across } => {
                self.apart(placement, [(*a, on_a), (*b, on_b)], across.as_ref())?
            }
            What::Constant => 0.0,
            What::Room { toward } => toward.dot(&placement.cup_offset),
            What::Beside { end, sign, skew_sign } => {
                let (cos, sin) = self.turn_in_port(&self.lines(placement)?, *end);
                let half_depth = 0.5 * self.kit.foot.depth.nominal;
                let reach = half_width * cos + skew_sign * half_depth * sin;
                -sign * placement.foot_shift[end.index()] - reach
            }
            What::Skew { end, sign } => {
                let lines = self.lines(placement)?;
                let (_, sin) = self.turn_in_port(&lines, *end);
                -sign * half_width * sin
            }
            What::Overhangs { sign } => -2.0 * sign * placement.bar_slide,
            What::Slot { end } => {
                let toward = if *end == End::A { 1.0 } else { -1.0 };
                toward * placement.bar_slide - 0.5 * self.lines(placement)?.span
            }
            What::Lean { per_span } => per_span / self.lines(placement)?.span,
            What::Offset { sign } => {
                let lines = self.lines(placement)?;
                -sign * crate::poses::off_line(lines.lower, lines.axis)
            }
            What::Travel { sign } => sign * self.lines(placement)?.to_seat(),
        })
    }

    /// The term at a placement, mm; plus infinity where there is none.
    pub(crate) fn value(&self, term: &Term, v: &[f64; 7]) -> f64 {
        let placement = self.numbers(v, &term.options);
        let value = self.varying(term, &placement).map_or(f64::INFINITY, |f| f + term.add);
        if value.is_nan() { f64::INFINITY } else { value }
    }

    /// The variables on which a term depends.
    pub(crate) fn variables(&self, term: &Term) -> [bool; 7] {
        let feet = [false, false, false, true, true, false, false];
        match &term.what {
            What::Apart { a, b, .. } => {
                let (a, b) = (self.depends(*a), self.depends(*b));
                [0, 1, 2, 3, 4, 5, 6].map(|k| a[k] || b[k])
            }
            What::Constant => [false; 7],
            What::Room { .. } => [true, true, false, false, false, false, false],
            What::Beside { .. } | What::Skew { .. } | What::Lean { .. } => feet,
            What::Overhangs { .. } => [false, false, false, false, false, true, false],
            What::Slot { .. } => [false, false, false, true, true, true, false],
            What::Offset { .. } | What::Travel { .. } => {
                [true, true, false, true, true, false, false]
            }
        }
    }

    /// How much the term bends downward at most along each variable over the cell around `centre`,
    /// mm per square of the variable's unit.
    pub(crate) fn bend_of(&self, term: &Term, centre: &[f64; 7], half: &Half) -> [f64; 7] {
        let centre = self.numbers(centre, &term.options);
        let swing = || Swing::over(&self.lines(&centre)?, half);
        let foot = &self.kit.foot;
        let half_width = 0.5 * foot.width.nominal;
        // 1 / span bends by no more than 2 / span^3.
        let shift = match &term.what {
            What::Apart { a, b, on_a, on_b, across } => {
                let a = self.bends(*a, on_a, &centre, half);
                let b = match across {
                    None => self.bends(*b, on_b, &centre, half),
                    Some(across) => {
                        let of = |at: &Point3<f64>| self.bends(*b, at, &centre, half);
                        let all = corners(on_b, across).map(|corner| of(&corner));
                        let slid = self.slid(*b, on_a, &centre, half);
                        let most = |k: usize| all.iter().map(|bend| bend[k]).fold(0.0, f64::max);
                        [0, 1, 2, 3, 4, 5, 6].map(|k| most(k) + slid[k])
                    }
                };
                return [0, 1, 2, 3, 4, 5, 6].map(|k| a[k] + b[k]);
            }
            What::Constant | What::Room { .. } | What::Overhangs { .. } => return [0.0; 7],
            What::Beside { .. } => {
                let corner = half_width.hypot(0.5 * foot.depth.nominal);
                swing().map(|s| corner * s.turn2)
            }
            What::Skew { .. } => swing().map(|s| half_width * s.turn2),
            What::Slot { .. } => swing().map(|s| 0.5 / s.span),
            What::Lean { per_span } => swing().map(|s| 2.0 * per_span.abs() / s.span.powi(3)),
            What::Offset { .. } => swing().map(|s| s.offset()),
            What::Travel { .. } => swing().map(|s| s.extension()),
        };
        let shift = shift.unwrap_or(f64::INFINITY);
        [0.0, 0.0, 0.0, shift, shift, 0.0, 0.0]
    }
}
