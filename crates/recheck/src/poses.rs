//! Where every part of a rig lies, worked out from the placement's numbers by the words of the kit
//! types' documents, without the program's poses.

use crate::brute::Place;
use crate::setting::{Piece, Setting};
use assembly::car_top::{Lid, LidState, Port};
use assembly::placement::{End, Side};
use assembly::rig::RigPart;
use assembly::{CarTop, Kit, Placement};
use nalgebra::{Matrix3, Point2, Vector2, Vector3};

type V = Vector3<f64>;

/// A placed rig's main lines, plate frame, mm.
pub struct Lines {
    /// The cup's axis seen from above.
    pub axis: Point2<f64>,
    /// Lower pins.
    pub lower: [V; 2],
    /// Upper pins.
    pub upper: [V; 2],
    /// Unit vector from foot B to foot A, level.
    pub level: V,
    /// Distance between the feet seen from above.
    pub span: f64,
    /// Unit vector along the bar toward A.
    pub along: V,
    /// Unit vector square to it, upward.
    pub up: V,
    /// The bar's middle on its underside.
    pub bar: V,
    /// The place on the bar's centre line, underside, where the screw stands.
    pub at_screw: V,
    /// Where the ball's centre should be.
    pub seat: V,
}

impl Lines {
    /// From the bar's underside down to the ball's centre when it sits in the seat.
    pub fn to_seat(&self) -> f64 {
        (self.at_screw - self.seat).dot(&self.up)
    }
}

/// A foot's lower pin: `shift` along the sidewall, counter-clockwise, from the port's middle.
pub fn lower_pin(kit: &Kit, port: &Port, shift: f64) -> V {
    let (sin, cos) = port.facing.radians().sin_cos();
    V::new(
        port.at.x - shift * sin,
        port.at.y + shift * cos,
        port.sill + port.height - kit.foot.seat.nominal,
    )
}

fn columns(x: V, z: V) -> Matrix3<f64> {
    Matrix3::from_columns(&[x, z.cross(&x), z])
}

fn about_z(angle: f64) -> Matrix3<f64> {
    let (s, c) = angle.sin_cos();
    Matrix3::new(c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0)
}

fn about_x(angle: f64) -> Matrix3<f64> {
    let (s, c) = angle.sin_cos();
    Matrix3::new(1.0, 0.0, 0.0, 0.0, c, -s, 0.0, s, c)
}

impl Setting<'_> {
    /// Height of the rim's lower edge, mm.
    pub fn rim(&self) -> f64 {
        self.gasket.thickness.nominal - self.gasket.groove_depth.nominal
    }

    /// Height of the ball's centre in the seat, mm.
    pub fn seat_height(&self) -> f64 {
        let cup = self.cup;
        self.rim() + (cup.inside_height.nominal + cup.crown.nominal + cup.seat_height.nominal)
            - cup.seat_depth.nominal
            + self.kit.screw.ball_diameter.nominal / 2.0
    }

    fn axis(&self, placement: &Placement) -> Point2<f64> {
        self.fitting.centre + placement.cup_offset
    }

    /// The main lines; `None` for a hole that the link has not.
    pub fn lines(&self, placement: &Placement) -> Option<Lines> {
        let kit = self.kit;
        let axis = self.axis(placement);
        let lower = [0, 1].map(|i| lower_pin(kit, self.ports[i], placement.foot_shift[i]));
        let reach = |i: usize| kit.link.holes.get(placement.link_hole[i]).map(|h| h.nominal);
        let upper = [lower[0] + V::z() * reach(0)?, lower[1] + V::z() * reach(1)?];
        let flat = V::new(lower[0].x - lower[1].x, lower[0].y - lower[1].y, 0.0);
        let span = flat.norm();
        let level = flat / span;
        let along = (upper[0] - upper[1]).normalize();
        let up = along.cross(&V::new(-level.y, level.x, 0.0)).normalize();
        let bar = (upper[0] + upper[1]) / 2.0
            + up * kit.saddle.pin_drop.nominal
            + along * placement.bar_slide;
        let seat = V::new(axis.x, axis.y, self.seat_height());
        let at_screw = bar + along * (seat - bar).dot(&along);
        Some(Lines { axis, lower, upper, level, span, along, up, bar, at_screw, seat })
    }

    /// The place of a piece; `None` for a hole or a thickness that the link has not.
    pub fn place(&self, placement: &Placement, piece: Piece) -> Option<Place> {
        let axis = self.axis(placement);
        let at_cup = V::new(axis.x, axis.y, 0.0);
        let part = match piece {
            Piece::Rig(part) => part,
            Piece::Car(id) => {
                let lid = self.lid().filter(|lid| lid.body == id);
                let opening = placement.lid_opening.radians();
                return Some(lid.map_or_else(Place::as_drawn, |lid| of_lid(lid, opening)));
            }
        };
        let turn = about_z(placement.outlet_bearing.radians());
        match part {
            // Round, and not turned.
            RigPart::Gasket | RigPart::Cup => {
                return Some(Place::new(Matrix3::identity(), at_cup));
            }
            RigPart::SidePort => return Some(Place::new(turn, at_cup)),
            RigPart::Outlet | RigPart::OutletHandle => {
                let height = self.rim() + self.cup.port_height.nominal;
                let face = turn * V::new(self.cup.port_face.nominal, 0.0, height);
                // Clockwise seen from outside, looking at the cup: from up (+z) toward +y.
                let turn = turn * about_x(-placement.elbow_turn.radians());
                return Some(Place::new(turn, at_cup + face));
            }
            _ => {}
        }
        let l = self.lines(placement)?;
        let outward = |end: End| if end == End::A { 1.0 } else { -1.0 };
        let bar = columns(l.along, l.up);
        Some(match part {
            RigPart::Gasket
            | RigPart::Cup
            | RigPart::SidePort
            | RigPart::Outlet
            | RigPart::OutletHandle => return None,
            RigPart::Bar => Place::new(bar, l.bar),
            RigPart::ScrewBlock => Place::new(bar, l.at_screw),
            RigPart::Screw | RigPart::ScrewHandle => {
                Place::new(bar, l.at_screw - l.up * placement.screw_extension)
            }
            RigPart::Saddle(e) | RigPart::UpperPin(e) | RigPart::UpperPinPath(e) => {
                Place::new(columns(l.along * outward(e), l.up), l.upper[e.index()])
            }
            RigPart::Foot(e) | RigPart::LowerPin(e) | RigPart::LowerPinPath(e) => {
                Place::new(columns(l.level * outward(e), V::z()), l.lower[e.index()])
            }
            RigPart::Link(e, side) => {
                let index = placement.link_thickness[e.index()][side.index()];
                let x = l.level * outward(e);
                let from_middle = self.link_from_middle(index, side)?;
                Place::new(columns(x, V::z()), l.lower[e.index()] + x * from_middle)
            }
        })
    }

    /// From the foot's middle to the link's, outward, mm.
    pub(crate) fn link_from_middle(&self, thickness: usize, side: Side) -> Option<f64> {
        let thickness = self.kit.link.thicknesses.get(thickness)?.nominal;
        let sign = if side == Side::Outside { 1.0 } else { -1.0 };
        Some(0.5 * (self.kit.foot.depth.nominal + thickness) * sign)
    }
}

/// The place of the lid at an opening, radians.
pub fn lid_place(car: &CarTop, opening: f64) -> Place {
    match &car.lid {
        LidState::Hinged(lid) => of_lid(lid, opening),
        LidState::Unknown | LidState::None => Place::as_drawn(),
    }
}

/// Turned about the hinge by Rodrigues' formula.
fn of_lid(lid: &Lid, opening: f64) -> Place {
    let (s, c) = (opening - lid.drawn_at.radians()).sin_cos();
    let k = lid.axis.into_inner();
    let cross = k.cross_matrix();
    let turn = Matrix3::identity() + cross * s + cross * cross * (1.0 - c);
    Place::new(turn, lid.axis_point.coords - turn * lid.axis_point.coords)
}

/// Signed distance of a point from the line through two feet, seen from above, mm; positive to the
/// left of B to A.
pub fn off_line(feet: [V; 2], point: Point2<f64>) -> f64 {
    let along = Vector2::new(feet[0].x - feet[1].x, feet[0].y - feet[1].y).normalize();
    let from = Vector2::new(point.x - feet[1].x, point.y - feet[1].y);
    along.perp(&from)
}
