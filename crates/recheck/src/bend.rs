//! Bounds on how much a part's points bend along each variable.
//!
//! Along one variable with the others held, a point of a part moves on a curve `P`. For any two
//! points `P`, `Q` the distance bends downward by no more than `|P''| + |Q''|`: `|P - Q|` is the
//! greatest of `u . (P - Q)` over unit vectors `u`, and each of those bends by no more than that,
//! where they coincide as well.
//!
//! Straight moves have no second derivative. A turn about a fixed axis has the radius. What a foot
//! shift does to the clamp: with `d` the level vector from foot B to foot A, `D` a lower bound of
//! its length over the cell, and `phi` the angle between `d` and the shift,
//! - the bar's bearing `t` has `t' = sin phi / |d|`, `t'' = -sin 2 phi / |d|^2`; a level vector of
//!   length `r` that turns with it bends by `r sqrt(t''^2 + t'^4) <= r sqrt(4/3) / D^2`;
//! - the span has `|d|' = cos phi`, `|d|'' = sin^2 phi / |d|`;
//! - the tilt `e = atan(rise / |d|)` has `|e'| <= rise / D^2` and `|e''| <= 2 rise / D^3`; a vector
//!   of length `r` in the upright plane along the bar bends by it by `r (|e''| + e'^2)`;
//! - a vector with upright part of length `r` and level part of length `h` bends by both by
//!   `r tilt2 + 2 r tilt1 turn1 + h turn2` with the bounds named as in [`Swing`].

use crate::poses::Lines;
use crate::setting::{Piece, Setting};
use assembly::Placement;
use assembly::placement::{End, Side};
use assembly::rig::RigPart;
use nalgebra::{Point3, Vector3};

/// Half widths of a cell, by variable.
pub(crate) type Half = [f64; 7];

/// What a shift of a foot by 1 mm does at most over a cell, 1/mm and 1/mm^2.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Swing {
    /// Least span over the cell, mm.
    pub(crate) span: f64,
    /// The bar's bearing: first derivative, and by how much a level unit vector bends.
    pub(crate) turn1: f64,
    pub(crate) turn2: f64,
    /// The same for its tilt.
    pub(crate) tilt1: f64,
    pub(crate) tilt2: f64,
    /// Greatest sine of the tilt.
    pub(crate) slope: f64,
    /// Greatest distance seen from above, and in height, from midway between the upper pins to the
    /// seat, mm.
    level: f64,
    height: f64,
}

impl Swing {
    /// Over the cell of these half widths around a placement; `None` where the feet may come so
    /// near each other that there is no bound.
    pub(crate) fn over(lines: &Lines, half: &Half) -> Option<Self> {
        // The span changes by no more than the shifts do.
        let span = lines.span - half[3] - half[4];
        if span.is_nan() || span <= 1.0 {
            return None;
        }
        let middle = (lines.upper[0] + lines.upper[1]) / 2.0;
        let away = lines.seat - middle;
        let rise = (lines.upper[0].z - lines.upper[1].z).abs();
        let tilt1 = rise / span.powi(2);
        Some(Self {
            span,
            turn1: span.recip(),
            turn2: (4.0_f64 / 3.0).sqrt() / span.powi(2),
            tilt1,
            tilt2: 2.0 * rise / span.powi(3) + tilt1.powi(2),
            slope: rise / span,
            level: away.xy().norm() + half[0].hypot(half[1]) + f64::midpoint(half[3], half[4]),
            height: away.z.abs(),
        })
    }

    /// A vector given along the bar, across it and square to both.
    fn frame(&self, v: Vector3<f64>) -> f64 {
        let upright = v.x.hypot(v.z);
        let along = upright.min(v.x.abs() + v.z.abs() * self.slope);
        upright * (self.tilt2 + 2.0 * self.tilt1 * self.turn1) + along.hypot(v.y) * self.turn2
    }

    /// The place on the bar's line nearest to the seat, from midway between the upper pins: `a g`
    /// with `a` the line's unit vector and `g = a . w`, `w` from that middle to the seat, which a
    /// shift moves by half as much.
    fn station(&self) -> f64 {
        let unit1 = self.turn1 + self.tilt1;
        let unit2 = self.frame(Vector3::x());
        let g = self.level + self.slope * self.height;
        let g1 = unit1 * self.level + self.tilt1 * self.height + 0.5;
        let g2 = unit2 * self.level + self.tilt2 * self.height + unit1;
        unit2 * g + 2.0 * unit1 * g1 + g2
    }

    /// The distance of the cup's axis from the bar's line: `n . w` with `n` square to the line.
    pub(crate) fn offset(&self) -> f64 {
        self.turn2 * self.level + self.turn1
    }

    /// The screw's foot in the seat: the seat less `n (n . w)`.
    fn beside_seat(&self) -> f64 {
        let offset1 = self.turn1 * self.level + 0.5;
        self.turn2 * self.level + 2.0 * self.turn1 * offset1 + self.offset()
    }

    /// The screw's extension: `drop - up . w`.
    pub(crate) fn extension(&self) -> f64 {
        let level1 = self.tilt1 + self.slope * self.turn1;
        let level2 = self.tilt2 + 2.0 * self.tilt1 * self.turn1 + self.slope * self.turn2;
        let upright2 = self.slope * self.tilt2 + self.tilt1.powi(2);
        level2 * self.level + upright2 * self.height + level1
    }
}

/// The end at which a piece stands upright on its foot and turns with the line of the feet.
pub(crate) fn turns_with_feet(piece: Piece) -> Option<End> {
    match piece {
        Piece::Rig(
            RigPart::Link(end, _)
            | RigPart::Foot(end)
            | RigPart::LowerPin(end)
            | RigPart::LowerPinPath(end),
        ) => Some(end),
        _ => None,
    }
}

impl Setting<'_> {
    /// The variables on which a piece's place depends.
    pub(crate) fn depends(&self, piece: Piece) -> [bool; 7] {
        let [cup, bearing, feet, slide, lid] = match piece {
            Piece::Car(id) => {
                [false, false, false, false, self.lid().is_some_and(|lid| lid.body == id)]
            }
            Piece::Rig(part) => match part {
                RigPart::Gasket | RigPart::Cup => [true, false, false, false, false],
                RigPart::SidePort | RigPart::Outlet | RigPart::OutletHandle => {
                    [true, true, false, false, false]
                }
                RigPart::Bar => [false, false, true, true, false],
                RigPart::ScrewBlock | RigPart::Screw | RigPart::ScrewHandle => {
                    [true, false, true, false, false]
                }
                _ => [false, false, true, false, false],
            },
        };
        [cup, cup, bearing, feet, feet, slide, lid]
    }

    /// What the distance of a point that stands still from a rectangle of a piece bends more than
    /// that from one of its points.
    ///
    /// Between two values of a variable take the rectangle's point that goes evenly from the nearest
    /// at the one to the nearest at the other. Its distance is no less than that from the
    /// rectangle, and it bends more than a point held fast by `2 |turn| |its own way|`. The nearest
    /// point of a rectangle goes no faster than what it is nearest to, seen from the piece: here by 1
    /// with the foot, and by the turn times the distance from the foot.
    pub(crate) fn slid(
        &self,
        piece: Piece,
        still: &Point3<f64>,
        centre: &Placement,
        half: &Half,
    ) -> [f64; 7] {
        let mut bends = [0.0; 7];
        let Some(end) = turns_with_feet(piece) else { return bends };
        let shift = self.lines(centre).and_then(|lines| {
            let turn = Swing::over(&lines, half)?.turn1;
            let i = end.index();
            let away = (still.coords - lines.lower[i]).xy().norm() + half[3 + i];
            Some(2.0 * turn * (1.0 + turn * away))
        });
        bends[3] = shift.unwrap_or(f64::INFINITY);
        bends[4] = bends[3];
        bends
    }

    /// Bounds on how much a point of a piece, in the piece's frame, bends along each variable over
    /// a cell, mm per square of the variable's unit. `centre` is the cell's middle.
    pub(crate) fn bends(
        &self,
        piece: Piece,
        point: &Point3<f64>,
        centre: &Placement,
        half: &Half,
    ) -> [f64; 7] {
        let mut bends = [0.0; 7];
        let part = match piece {
            Piece::Car(id) => {
                if let Some(lid) = self.lid().filter(|lid| lid.body == id) {
                    bends[6] = lid.axis.cross(&(point - lid.axis_point)).norm();
                }
                return bends;
            }
            Piece::Rig(part) => part,
        };
        match part {
            RigPart::Gasket | RigPart::Cup => return bends,
            RigPart::SidePort => {
                bends[2] = point.x.hypot(point.y);
                return bends;
            }
            RigPart::Outlet | RigPart::OutletHandle => {
                let (sin, cos) = centre.elbow_turn.radians().sin_cos();
                let sideways = cos * point.y + sin * point.z;
                bends[2] = (self.cup.port_face.nominal + point.x).hypot(sideways);
                return bends;
            }
            _ => {}
        }
        let shift = self.lines(centre).and_then(|lines| {
            let swing = Swing::over(&lines, half)?;
            let (p, drop) = (point.coords, self.kit.saddle.pin_drop.nominal);
            Some(match part {
                RigPart::Link(end, side) => {
                    let index = centre.link_thickness[end.index()][Side::index(side)];
                    let from_middle = self.link_from_middle(index, side)?;
                    (p.x + from_middle).hypot(p.y) * swing.turn2
                }
                RigPart::Foot(_) | RigPart::LowerPin(_) | RigPart::LowerPinPath(_) => {
                    p.x.hypot(p.y) * swing.turn2
                }
                RigPart::Bar => {
                    let along = (p.x + centre.bar_slide).abs() + half[5];
                    swing.frame(Vector3::new(along, p.y, p.z + drop))
                }
                RigPart::ScrewBlock => {
                    swing.frame(Vector3::new(p.x, p.y, p.z + drop)) + swing.station()
                }
                RigPart::Screw | RigPart::ScrewHandle => swing.frame(p) + swing.beside_seat(),
                _ => swing.frame(p),
            })
        });
        bends[3] = shift.unwrap_or(f64::INFINITY);
        bends[4] = bends[3];
        bends
    }
}
