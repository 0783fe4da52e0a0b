//! Where every part of a rig lies, worked out from the placement's numbers by the words of the kit
//! types' documents, without the program's poses.

use super::brute::Place;
use assembly::car_top::LidState;
use assembly::kit::{Cup, Gasket};
use assembly::placement::{End, Side};
use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Kit, Placement};
use nalgebra::{Matrix3, Point2, Vector2, Vector3};

type V = Vector3<f64>;

/// A placed rig's main lines, plate frame.
pub(crate) struct Lines {
    /// The cup's axis seen from above.
    pub(crate) axis: Point2<f64>,
    /// Lower pins.
    pub(crate) lower: [V; 2],
    /// Upper pins.
    pub(crate) upper: [V; 2],
    /// Unit vector from foot B to foot A, level.
    pub(crate) level: V,
    /// Distance between the feet seen from above.
    pub(crate) span: f64,
    /// Unit vector along the bar toward A.
    pub(crate) along: V,
    /// Unit vector square to it, upward.
    pub(crate) up: V,
    /// The bar's middle on its underside.
    pub(crate) bar: V,
    /// The place on the bar's centre line, underside, where the screw stands.
    pub(crate) at_screw: V,
    /// Where the ball's centre should be.
    pub(crate) seat: V,
}

pub(crate) fn gasket_under<'k>(kit: &'k Kit, cup: &Cup) -> &'k Gasket {
    kit.gaskets.iter().find(|g| g.name == cup.gasket).unwrap()
}

/// Height of the rim's lower edge.
pub(crate) fn rim(gasket: &Gasket) -> f64 {
    gasket.thickness.nominal - gasket.groove_depth.nominal
}

/// Height of the ball's centre in the seat.
pub(crate) fn seat_height(kit: &Kit, cup: &Cup) -> f64 {
    rim(gasket_under(kit, cup))
        + (cup.inside_height.nominal + cup.crown.nominal + cup.seat_height.nominal)
        - cup.seat_depth.nominal
        + kit.screw.ball_diameter.nominal / 2.0
}

/// A foot's lower pin: `shift` along the sidewall, counter-clockwise, from the port's middle.
pub(crate) fn lower_pin(kit: &Kit, car: &CarTop, port: usize, shift: f64) -> V {
    let port = &car.ports[port];
    let facing = port.facing.radians();
    V::new(
        port.at.x - shift * facing.sin(),
        port.at.y + shift * facing.cos(),
        port.sill + port.height - kit.foot.seat.nominal,
    )
}

pub(crate) fn lines(kit: &Kit, car: &CarTop, choice: &Choice, placement: &Placement) -> Lines {
    let cup = &kit.cups[choice.cup];
    let axis = car.fittings[choice.fitting].centre + placement.cup_offset;
    let lower = [0, 1].map(|i| lower_pin(kit, car, choice.ports[i], placement.foot_shift[i]));
    let upper = [0, 1].map(|i| lower[i] + V::z() * kit.link.holes[placement.link_hole[i]].nominal);
    let flat = V::new(lower[0].x - lower[1].x, lower[0].y - lower[1].y, 0.0);
    let span = flat.norm();
    let level = flat / span;
    let along = (upper[0] - upper[1]).normalize();
    let up = along.cross(&V::new(-level.y, level.x, 0.0)).normalize();
    let bar = (upper[0] + upper[1]) / 2.0
        + up * kit.saddle.pin_drop.nominal
        + along * placement.bar_slide;
    let seat = V::new(axis.x, axis.y, seat_height(kit, cup));
    let at_screw = bar + along * (seat - bar).dot(&along);
    Lines { axis, lower, upper, level, span, along, up, bar, at_screw, seat }
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

/// The place of one part.
pub(crate) fn place(
    kit: &Kit,
    car: &CarTop,
    choice: &Choice,
    placement: &Placement,
    part: RigPart,
) -> Place {
    let l = lines(kit, car, choice, placement);
    let outward = |end: End| if end == End::A { 1.0 } else { -1.0 };
    let bar = columns(l.along, l.up);
    let at_cup = V::new(l.axis.x, l.axis.y, 0.0);
    match part {
        RigPart::Gasket | RigPart::Cup => Place::new(Matrix3::identity(), at_cup),
        RigPart::SidePort => Place::new(about_z(placement.outlet_bearing.radians()), at_cup),
        RigPart::Outlet | RigPart::OutletHandle => {
            let cup = &kit.cups[choice.cup];
            let turn = about_z(placement.outlet_bearing.radians());
            let height = rim(gasket_under(kit, cup)) + cup.port_height.nominal;
            let face = turn * V::new(cup.port_face.nominal, 0.0, height);
            // Clockwise seen from outside, looking at the cup: from up (+z) toward +y.
            Place::new(turn * about_x(-placement.elbow_turn.radians()), at_cup + face)
        }
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
            let thickness =
                kit.link.thicknesses[placement.link_thickness[e.index()][side.index()]].nominal;
            let from_middle = 0.5
                * (kit.foot.depth.nominal + thickness)
                * if side == Side::Outside { 1.0 } else { -1.0 };
            let x = l.level * outward(e);
            Place::new(columns(x, V::z()), l.lower[e.index()] + x * from_middle)
        }
    }
}

/// The place of the lid at an opening: turned about its hinge by Rodrigues' formula.
pub(crate) fn lid_place(car: &CarTop, opening: f64) -> Place {
    let LidState::Hinged(lid) = &car.lid else { return Place::as_drawn() };
    let (s, c) = (opening - lid.drawn_at.radians()).sin_cos();
    let k = lid.axis.into_inner();
    let cross = k.cross_matrix();
    let turn = Matrix3::identity() + cross * s + cross * cross * (1.0 - c);
    Place::new(turn, lid.axis_point.coords - turn * lid.axis_point.coords)
}

/// Signed distance of a point from the line through two feet, seen from above.
pub(crate) fn off_line(feet: [V; 2], point: Point2<f64>) -> f64 {
    let along = Vector2::new(feet[0].x - feet[1].x, feet[0].y - feet[1].y).normalize();
    let from = Vector2::new(point.x - feet[1].x, point.y - feet[1].y);
    along.perp(&from)
}
