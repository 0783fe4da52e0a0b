//! Shapes that cannot be: what no single dimension shows, but two together do.
//!
//! Every line states what must hold between nominal dimensions for the parts to be solids that go
//! together. They follow from the parts' own frames and fields (see `assembly::kit`), not from any
//! standard.

use super::Placed;
use crate::fault::Pen;
use crate::table::Table;
use assembly::kit::{Bar, Cup, Dim, Foot, Gasket, Link, Outlet, Pin, Saddle, Screw};
use measure::{Length, LengthUnit};

/// The parts of a kit with their tables.
pub(super) struct Read<'a> {
    pub(super) gaskets: Vec<Placed<'a, Gasket>>,
    pub(super) cups: Vec<Placed<'a, Cup>>,
    pub(super) outlet: Placed<'a, Outlet>,
    pub(super) bar: Placed<'a, Bar>,
    pub(super) saddle: Placed<'a, Saddle>,
    pub(super) link: Placed<'a, Link>,
    pub(super) foot: Placed<'a, Foot>,
    pub(super) lower_pin: Placed<'a, Pin>,
    pub(super) upper_pin: Placed<'a, Pin>,
    pub(super) screw: Placed<'a, Screw>,
}

/// Notes relations that do not hold, at a key of one table.
struct Shape<'p, 'a, 't> {
    pen: &'p mut Pen,
    table: &'t Table<'a>,
}

impl Shape<'_, '_, '_> {
    /// Notes a fault at `key` if `wrong`.
    fn never(&mut self, wrong: bool, key: &str, message: &str, label: String, remedy: &str) {
        if wrong {
            let message = format!("{}: {message}", self.table.title);
            self.pen.at(&self.table.place(key), message, label, remedy);
        }
    }

    /// `value` must be less than `limit`, mm.
    fn less(&mut self, key: &str, value: f64, limit: f64, message: &str, limit_is: &str) {
        let remedy = format!("it must be less than {limit_is}, {}", mm(limit));
        self.never(value >= limit, key, message, format!("{} here", mm(value)), &remedy);
    }

    /// A hole must leave material between itself and an edge `edge` mm from its centre.
    fn room(&mut self, hole: f64, edge: f64, message: &str, edge_is: &str) {
        let label = format!("half of it is {}", mm(0.5 * hole));
        let remedy = format!("half of it must be less than {edge_is}, {}", mm(edge));
        self.never(0.5 * hole >= edge, "hole", message, label, &remedy);
    }

    /// `value` must be at least `limit`, mm.
    fn at_least(&mut self, key: &str, value: f64, limit: f64, message: &str, limit_is: &str) {
        let remedy = format!("it must be at least {limit_is}, {}", mm(limit));
        self.never(value < limit - 1e-9, key, message, format!("{} here", mm(value)), &remedy);
    }

    /// `value` must be at most `limit`, mm.
    fn at_most(&mut self, key: &str, value: f64, limit: f64, message: &str, limit_is: &str) {
        let remedy = format!("it must be at most {limit_is}, {}", mm(limit));
        self.never(value > limit + 1e-9, key, message, format!("{} here", mm(value)), &remedy);
    }
}

fn mm(value: f64) -> String {
    Length::from_mm(value).show_to(LengthUnit::Millimetre, 2)
}

/// The least of some dimensions; NaN when there is none.
fn least(dims: &[Dim]) -> f64 {
    dims.iter().map(|d| d.nominal).fold(f64::NAN, f64::min)
}

impl Read<'_> {
    /// Notes every relation that does not hold. Where a dimension could not be read it is NaN, and
    /// every comparison with it is false.
    pub(super) fn check(&self, pen: &mut Pen) {
        for (gasket, table) in &self.gaskets {
            check_gasket(gasket, &mut Shape { pen, table });
        }
        let mut before = f64::NAN;
        for (cup, table) in &self.cups {
            let s = &mut Shape { pen, table };
            let inside = cup.inside_diameter.nominal;
            s.never(
                inside < before,
                "inside-diameter",
                "the cups are out of order",
                "smaller than the cup before it".to_owned(),
                "list the cups by inside diameter, the smallest first",
            );
            before = inside;
            self.check_cup(cup, s);
        }
        self.check_outlet(pen);
        self.check_bar(pen);
        self.check_saddle(pen);
        self.check_link(pen);
        self.check_foot(pen);
        self.check_pins(pen);
        self.check_screw(pen);
    }

    fn check_cup(&self, cup: &Cup, s: &mut Shape<'_, '_, '_>) {
        let radius = 0.5 * cup.inside_diameter.nominal;
        let wall = cup.wall.nominal;
        s.less(
            "wall",
            wall,
            radius,
            "the wall is thicker than the cup's radius",
            "the inside radius",
        );
        let top = cup.inside_height.nominal + cup.crown.nominal;
        let ball = 0.5 * self.screw.0.ball_diameter.nominal;
        let depth = cup.seat_depth.nominal;
        s.at_most(
            "seat-depth",
            depth,
            cup.seat_height.nominal,
            "the socket is deeper than its boss",
            "\"seat-height\"",
        );
        s.at_most(
            "seat-depth",
            depth,
            ball,
            "the socket is deeper than the ball's radius, so the ball cannot be set in",
            "half of the screw's \"ball-diameter\"",
        );
        // Half the width of a sphere's cap of radius r and depth d: sqrt(d (2 r - d)).
        let mouth = 2.0 * (depth * (2.0 * ball - depth)).max(0.0).sqrt();
        s.never(
            mouth >= cup.seat_diameter.nominal,
            "seat-diameter",
            "the socket is wider than its boss",
            format!("the ball's socket is {} wide", mm(mouth)),
            "make the boss wider or the socket shallower",
        );
        let outside = 2.0 * (radius + wall);
        s.at_most(
            "seat-diameter",
            cup.seat_diameter.nominal,
            outside,
            "the seat is wider than the cup",
            "the cup's outside diameter",
        );
        let boss = cup.port_diameter.nominal;
        s.less(
            "port-bore",
            cup.port_bore.nominal,
            boss,
            "the port's bore is larger than its boss",
            "\"port-diameter\"",
        );
        s.less(
            "port-diameter",
            boss,
            outside,
            "the port's boss is wider than the cup",
            "the cup's outside diameter",
        );
        let height = cup.port_height.nominal;
        s.at_least(
            "port-height",
            height,
            0.5 * boss,
            "the port's boss reaches below the rim",
            "half of \"port-diameter\"",
        );
        s.at_most(
            "port-height",
            height,
            top - 0.5 * boss,
            "the port's boss reaches above the crown",
            "\"inside-height\" and \"crown\" less half of \"port-diameter\"",
        );
        s.never(
            cup.port_face.nominal <= radius + wall,
            "port-face",
            "the port's face lies within the wall",
            format!("{} from the axis", mm(cup.port_face.nominal)),
            "it must lie beyond half the inside diameter and the wall",
        );
        let Some((gasket, _)) = self.gaskets.iter().find(|(g, _)| g.name == cup.gasket) else {
            return;
        };
        let (inner, outer) = (gasket.inside_diameter.nominal, gasket.outside_diameter.nominal);
        s.never(
            2.0 * radius < inner || outside > outer,
            "gasket",
            "the rim does not stand on its gasket",
            format!(
                "the rim is {} to {} wide, the gasket {} to {}",
                mm(2.0 * radius),
                mm(outside),
                mm(inner),
                mm(outer)
            ),
            "name the gasket that goes under this cup, or check both diameters",
        );
    }

    fn check_outlet(&self, pen: &mut Pen) {
        let (outlet, table) = &self.outlet;
        let s = &mut Shape { pen, table };
        let pipe = outlet.pipe_diameter.nominal;
        s.at_least(
            "elbow-band",
            outlet.elbow_band.nominal,
            pipe,
            "the elbow is thinner than its pipe",
            "\"pipe-diameter\"",
        );
        s.at_least(
            "valve-diameter",
            outlet.valve_diameter.nominal,
            pipe,
            "the valve is thinner than its pipe",
            "\"pipe-diameter\"",
        );
        s.at_least(
            "stem-height",
            outlet.stem_height.nominal,
            0.5 * outlet.valve_diameter.nominal,
            "the handle lies within the valve",
            "half of \"valve-diameter\"",
        );
        for (cup, table) in &self.cups {
            let s = &mut Shape { pen, table };
            s.at_least(
                "port-diameter",
                cup.port_diameter.nominal,
                pipe,
                "the port's boss is thinner than the pipe screwed into it",
                "the outlet's \"pipe-diameter\"",
            );
        }
    }

    fn check_bar(&self, pen: &mut Pen) {
        let (bar, table) = &self.bar;
        let s = &mut Shape { pen, table };
        let slot = bar.slot.nominal;
        let half = 0.5 * bar.length.nominal;
        s.less("end", bar.end.nominal, half, "the two ends leave no slot", "half of \"length\"");
        s.at_least(
            "slot",
            slot,
            self.link.0.width.nominal,
            "the slot is narrower than the links",
            "the links' \"width\"",
        );
        s.at_least(
            "slot",
            slot,
            self.saddle.0.stem_width.nominal,
            "the slot is narrower than the saddle's stem",
            "the saddle's \"stem-width\"",
        );
    }

    fn check_saddle(&self, pen: &mut Pen) {
        let (saddle, table) = &self.saddle;
        let s = &mut Shape { pen, table };
        let hole = saddle.hole.nominal;
        s.never(
            saddle.top_width.nominal <= self.bar.0.slot.nominal,
            "top-width",
            "the saddle falls through the slot",
            format!("{} here", mm(saddle.top_width.nominal)),
            "it must be wider than the bar's \"slot\" to ride on the rails",
        );
        s.less(
            "hole",
            hole,
            saddle.stem_width.nominal,
            "the hole is wider than the stem",
            "\"stem-width\"",
        );
        s.room(hole, saddle.edge.nominal, "the hole breaks out of the stem's end", "\"edge\"");
    }

    fn check_link(&self, pen: &mut Pen) {
        let (link, table) = &self.link;
        let s = &mut Shape { pen, table };
        let hole = link.hole.nominal;
        s.less("hole", hole, link.width.nominal, "the hole is wider than the link", "\"width\"");
        s.room(hole, link.edge.nominal, "the hole breaks out of the link's end", "\"edge\"");
        let between = link.holes.windows(2).map(|w| match w {
            [a, b] => b.nominal - a.nominal,
            _ => f64::INFINITY,
        });
        let closest = between.fold(f64::INFINITY, f64::min).min(least(&link.holes));
        s.never(
            closest > 0.0 && closest <= hole,
            "holes",
            "two holes run into each other",
            format!("centres {} apart", mm(closest)),
            "holes must lie farther apart than \"hole\" is wide",
        );
    }

    fn check_foot(&self, pen: &mut Pen) {
        let (foot, table) = &self.foot;
        let s = &mut Shape { pen, table };
        let (hole, seat) = (foot.hole.nominal, foot.seat.nominal);
        s.less("hole", hole, foot.width.nominal, "the hole is wider than the foot", "\"width\"");
        s.room(hole, seat, "the hole breaks out of the seat", "\"seat\"");
        let below = foot.height.nominal - seat;
        let message = "the hole breaks out of the foot's lower end";
        s.room(hole, below, message, "what \"seat\" leaves of \"height\"");
    }

    fn check_pins(&self, pen: &mut Pen) {
        let most = |dim: &Dim| dim.nominal + dim.tolerance;
        // The links stand upright: alike far apart on both pins.
        let apart = most(&self.foot.0.depth).max(most(&self.saddle.0.length));
        // The search may choose the thickest link on either side, and the pin must then reach
        // through, whatever the parts are within their tolerances.
        let thickest = self.link.0.thicknesses.iter().map(most).fold(f64::NAN, f64::max);
        let across = [
            (&self.lower_pin, self.foot.0.hole.nominal, "foot"),
            (&self.upper_pin, self.saddle.0.hole.nominal, "saddle"),
        ];
        for ((pin, table), hole, through) in across {
            let s = &mut Shape { pen, table };
            let d = pin.diameter.nominal;
            s.at_most(
                "diameter",
                d,
                hole,
                &format!("the pin does not go through the {through}"),
                &format!("the {through}'s \"hole\""),
            );
            s.at_most(
                "diameter",
                d,
                self.link.0.hole.nominal,
                "the pin does not go through the links",
                "the links' \"hole\"",
            );
            s.never(
                pin.head_diameter.nominal <= self.link.0.hole.nominal,
                "head-diameter",
                "the pin's head slips through the link",
                format!("{} here", mm(pin.head_diameter.nominal)),
                "it must be wider than the links' \"hole\"",
            );
            s.at_least(
                "length",
                pin.length.nominal,
                apart + 2.0 * thickest + pin.length.tolerance,
                "the pin is too short for two of the thickest links",
                "the longer of foot and saddle and two links together, tolerances added",
            );
        }
    }

    fn check_screw(&self, pen: &mut Pen) {
        let (screw, table) = &self.screw;
        let s = &mut Shape { pen, table };
        s.less(
            "handle-drop",
            screw.handle_drop.nominal,
            screw.length.nominal,
            "the handle lies below the ball",
            "\"length\"",
        );
        s.less(
            "diameter",
            screw.diameter.nominal,
            screw.block_length.nominal.min(screw.block_width.nominal),
            "the screw is thicker than its block",
            "\"block-length\" and \"block-width\"",
        );
        s.less(
            "diameter",
            screw.diameter.nominal,
            self.bar.0.slot.nominal,
            "the screw does not pass between the rails",
            "the bar's \"slot\"",
        );
        s.at_least(
            "retracted",
            screw.retracted.nominal,
            screw.block_height.nominal,
            "the ball lies inside the block when retracted",
            "\"block-height\"",
        );
        let out = screw.retracted.nominal + screw.travel.nominal - screw.block_height.nominal;
        s.never(
            screw.length.nominal <= out,
            "length",
            "the screw leaves its block before its travel ends",
            format!("{} here", mm(screw.length.nominal)),
            "lengthen it, or shorten \"travel\"",
        );
    }
}

fn check_gasket(gasket: &Gasket, s: &mut Shape<'_, '_, '_>) {
    s.less(
        "inside-diameter",
        gasket.inside_diameter.nominal,
        gasket.outside_diameter.nominal,
        "the gasket is wider inside than outside",
        "\"outside-diameter\"",
    );
    s.less(
        "groove-depth",
        gasket.groove_depth.nominal,
        gasket.thickness.nominal,
        "the groove is deeper than the gasket is thick",
        "\"thickness\"",
    );
}
