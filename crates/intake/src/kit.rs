//! `kit.toml`: the kit as its maker or owner measured it.

mod hold;
mod shape;
mod steps;

use crate::case::{heading, unique};
use crate::document::{self, SourceFile};
use crate::fault::{Faults, Pen};
use crate::finding::Finding;
use crate::near::meant;
use crate::table::{Bound, ROOT, Table, Text, angle_of, choice_of, length_of};
use assembly::Kit;
use assembly::hold::KitFigures;
use assembly::kit::{
    Bar, Cup, Dim, Foot, Gasket, Link, Need, Outlet, PartKind, Pin, Rules, Saddle, Screw,
};
use measure::Angle;
use std::path::Path;
use toml::Spanned;
use toml::de::DeValue;

/// What a kit document gives.
#[derive(Debug, Clone, PartialEq)]
pub struct KitFile {
    /// The kit.
    pub kit: Kit,
    /// What is notable about what was read.
    pub findings: Vec<Finding>,
    /// The document.
    pub source: SourceFile,
}

/// Reads a kit document.
///
/// # Errors
/// Everything that is wrong, each with its place and remedy.
pub fn read_kit(path: &Path) -> Result<KitFile, Faults> {
    let mut pen = Pen::new(path.display().to_string());
    let kit = read(&mut pen, path);
    pen.close(kit)
}

/// A part's table with what its dimensions inherit. After reading, the table is kept for the
/// places of its values.
struct Part<'a> {
    table: Table<'a>,
    tolerance: f64,
}

impl Part<'_> {
    /// A dimension greater than zero.
    fn dim(&mut self, pen: &mut Pen, key: &'static str) -> Dim {
        self.dim_within(pen, key, Bound::Positive)
    }

    fn dim_within(&mut self, pen: &mut Pen, key: &'static str, bound: Bound) -> Dim {
        if self.table.get(key).is_none() {
            // Notes that the key is missing.
            let nominal = self.table.length(pen, key, bound).value;
            return Dim { nominal, tolerance: f64::NAN };
        }
        match self.table.get(key) {
            Some(value) => dim_of(pen, value, key, bound, self.tolerance),
            None => Dim { nominal: f64::NAN, tolerance: f64::NAN },
        }
    }

    /// A list of dimensions, at least one, each greater (or each smaller) than the one before.
    fn dims(&mut self, pen: &mut Pen, key: &'static str, order: Order) -> Vec<Dim> {
        let list = self.table.list(pen, key, "[\"1 in\", \"3/4 in\"]");
        let mut dims: Vec<Dim> = Vec::with_capacity(list.len());
        for value in list {
            let dim = dim_of(pen, value, key, Bound::Positive, self.tolerance);
            let before = dims.last().map_or(f64::NAN, |d| d.nominal);
            let (wrong, wanted) = match order {
                Order::Descending => (dim.nominal >= before, "the greatest"),
                Order::Ascending => (dim.nominal <= before, "the smallest"),
            };
            if wrong {
                pen.at(
                    &value.span(),
                    format!("\"{key}\" is out of order"),
                    "not in order after the one before it",
                    format!("list each once, {wanted} first"),
                );
            }
            dims.push(dim);
        }
        dims
    }
}

#[derive(Clone, Copy)]
enum Order {
    Ascending,
    Descending,
}

/// `"3/4 in"` or `{ value = "3/4 in", tolerance = "0.1 mm" }`.
fn dim_of(
    pen: &mut Pen,
    value: &Spanned<DeValue<'_>>,
    key: &str,
    bound: Bound,
    tolerance: f64,
) -> Dim {
    let (nominal, tolerance) = match value.get_ref().as_table() {
        None => (length_of(pen, value, key, bound), tolerance),
        Some(table) => {
            let mut table = Table::new(table, value.span(), format!("\"{key}\""));
            let nominal = table.length(pen, "value", bound);
            let tolerance = match table.get("tolerance") {
                None => tolerance,
                Some(value) => length_of(pen, value, "tolerance", Bound::NotNegative).value,
            };
            table.finish(pen);
            (nominal, tolerance)
        }
    };
    if nominal.value > 0.0 && tolerance >= nominal.value {
        pen.at(
            &value.span(),
            format!("the tolerance of \"{key}\" is as large as the dimension"),
            "nothing would be left of it",
            "write { value = \"...\", tolerance = \"...\" } with a smaller tolerance",
        );
    }
    Dim { nominal: nominal.value, tolerance }
}

fn read(pen: &mut Pen, path: &Path) -> Option<KitFile> {
    let (text, source) = document::text(pen, path, "a case.toml or kit.toml")?;
    let opened = pen.opened(text);
    let text = opened.inner();
    let parsed = document::parse(pen, text)?;
    let mut root = Table::new(parsed.get_ref(), document::first_line(text), ROOT);
    let (title, unit) = heading(&mut root, pen);
    let (tolerance, chord_error) = tolerance(&mut root, pen);
    let rules = rules(&mut root, pen);
    let mut figures = hold::figures(&mut root, pen);
    let gaskets = gaskets(&mut root, pen, tolerance, &mut figures);
    let cups = cups(&mut root, pen, tolerance, &gaskets);
    let mut one = |pen: &mut Pen, key: &'static str| {
        root.table(pen, key).map(|table| Part { table, tolerance })
    };
    let outlet = one(pen, "outlet").map(|p| outlet(p, pen));
    let bar = one(pen, "bar").map(|p| bar(p, pen));
    let saddle = one(pen, "saddle").map(|p| saddle(p, pen));
    let link = one(pen, "link").map(|p| link(p, pen));
    let foot = one(pen, "foot").map(|p| foot(p, pen));
    let screw = one(pen, "screw").map(|p| screw(p, pen, &mut figures));
    let pins = root.table(pen, "pin").map(|mut table| {
        let mut pin = |key: &'static str, title: &str| {
            if table.get(key).is_none() {
                pen.at(
                    table.span(),
                    format!("the document has no {title}"),
                    format!("no {title} in here"),
                    format!("add a table that begins with the line: {title}"),
                );
            }
            table.maybe_table(pen, key, title).map(|t| pin(Part { table: t, tolerance }, pen))
        };
        let pins = (pin("lower", "[pin.lower]"), pin("upper", "[pin.upper]"));
        table.finish(pen);
        pins
    });
    let steps = steps::steps(&mut root, pen);
    root.finish(pen);
    let (lower_pin, upper_pin) = pins?;
    let parts = shape::Read {
        gaskets,
        cups,
        outlet: outlet?,
        bar: bar?,
        saddle: saddle?,
        link: link?,
        foot: foot?,
        lower_pin: lower_pin?,
        upper_pin: upper_pin?,
        screw: screw?,
    };
    parts.check(pen);
    if !pen.is_clean() {
        return None;
    }
    let kit = Kit {
        title,
        unit,
        chord_error,
        rules: rules?,
        cups: parts.cups.into_iter().map(|(c, _)| c).collect(),
        gaskets: parts.gaskets.into_iter().map(|(g, _)| g).collect(),
        outlet: parts.outlet.0,
        bar: parts.bar.0,
        saddle: parts.saddle.0,
        link: parts.link.0,
        foot: parts.foot.0,
        lower_pin: parts.lower_pin.0,
        upper_pin: parts.upper_pin.0,
        screw: parts.screw.0,
        hold: figures,
        steps,
    };
    Some(KitFile { kit, findings: Vec::new(), source })
}

/// Default tolerance and chord error, mm.
fn tolerance(root: &mut Table<'_>, pen: &mut Pen) -> (f64, f64) {
    let Some(mut table) = root.table(pen, "tolerance") else { return (f64::NAN, f64::NAN) };
    let default = table.length(pen, "default", Bound::NotNegative).value;
    let chord = table.length(pen, "chord-error", Bound::Positive);
    // Triangles grow with the inverse root of the chord error; a micrometre is finer than any part
    // is made.
    if chord.value < 0.001 || chord.value > 1.0 {
        pen.at(
            &chord.span,
            "\"chord-error\" is out of range",
            "not between 0.001 and 1 mm",
            "write \"0.05 mm\" unless there is a reason for another",
        );
    }
    table.finish(pen);
    (default, chord.value)
}

fn rules(root: &mut Table<'_>, pen: &mut Pen) -> Option<Rules> {
    let needs = needs(root, pen);
    let mut table = root.table(pen, "rules")?;
    let mut length = |key: &'static str| table.length(pen, key, Bound::NotNegative).value;
    let mut rules = Rules {
        need_otherwise: length("need-otherwise"),
        needs,
        plan_spacing: length("plan-spacing"),
        land_flatness: length("land-flatness"),
        land_seal_width: length("land-seal-width"),
        screw_offset: length("screw-offset"),
        bar_level: length("bar-level"),
        overhang_difference: length("overhang-difference"),
        link_lean: length("link-lean"),
        foot_skew: Angle::ZERO,
        pin_hand_room: length("pin-hand-room"),
        contact: length("contact"),
        path_clearance: Rules::PATH_CLEARANCE,
        hand_room: Rules::HAND_ROOM,
    };
    let mut maybe = |key: &'static str, bound: Bound, value: &mut f64| {
        if table.has(key) {
            *value = table.length(pen, key, bound).value;
        }
    };
    maybe("path-clearance", Bound::NotNegative, &mut rules.path_clearance);
    let [width, height, depth] = &mut rules.hand_room;
    maybe("hand-room-width", Bound::Positive, width);
    maybe("hand-room-height", Bound::Positive, height);
    maybe("hand-room-depth", Bound::Positive, depth);
    let skew = table.angle(pen, "foot-skew", Angle::parse_plain);
    if skew.value < 0.0 || skew.value >= std::f64::consts::FRAC_PI_2 {
        pen.at(
            &skew.span,
            "\"foot-skew\" is out of range",
            "not between 0 and 90 deg",
            "write the greatest angle between a port's facing and the bar, such as \"3 deg\"",
        );
    }
    rules.foot_skew = Angle::from_radians(skew.value);
    table.finish(pen);
    Some(rules)
}

fn needs(root: &mut Table<'_>, pen: &mut Pen) -> Vec<Need> {
    let mut needs: Vec<Need> = Vec::new();
    for mut table in root.tables(pen, "need", "need") {
        let names = table.texts(pen, "between", "[\"cup\", \"fitting\"]");
        let place = table.place("between");
        let gap = table.length(pen, "gap", Bound::NotNegative).value;
        let kinds: Vec<_> =
            names.iter().filter_map(|name| part_kind(pen, name, "between")).collect();
        if names.len() == 2 {
            if let [a, b] = kinds[..] {
                if needs.iter().any(|n| n.between == (a, b) || n.between == (b, a)) {
                    pen.at(
                        &place,
                        format!("the need between {} and {} is given twice", a.word(), b.word()),
                        "given before",
                        "keep one of the two",
                    );
                }
                needs.push(Need { between: (a, b), gap });
            }
        } else if table.get("between").is_some() {
            pen.at(
                &place,
                "\"between\" must name two kinds of parts",
                "two are wanted here",
                "write it as in: between = [\"cup\", \"fitting\"]",
            );
        }
        table.finish(pen);
    }
    needs
}

fn part_kind(pen: &mut Pen, name: &Text, key: &str) -> Option<PartKind> {
    let words = PartKind::ALL.map(PartKind::word);
    choice_of(pen, name, key, &words).and_then(|at| PartKind::ALL.get(at)).copied()
}

/// A part with its table, for the places of what is wrong with its shape.
type Placed<'a, T> = (T, Table<'a>);

/// The name of one of several parts; titles its table.
fn name(part: &mut Part<'_>, pen: &mut Pen, noun: &str, names: &mut Vec<String>) -> String {
    let name = part.table.text(pen, "name", "\"A\"");
    unique(pen, names, &name, noun);
    if !name.text.is_empty() {
        part.table.title = format!("{noun} \"{}\"", name.text);
    }
    name.text
}

fn gaskets<'a>(
    root: &mut Table<'a>,
    pen: &mut Pen,
    tolerance: f64,
    figures: &mut KitFigures,
) -> Vec<Placed<'a, Gasket>> {
    let mut names = Vec::new();
    let mut gaskets = Vec::new();
    for table in root.tables(pen, "gasket", "gasket") {
        let mut p = Part { table, tolerance };
        let gasket = Gasket {
            name: name(&mut p, pen, "gasket", &mut names),
            inside_diameter: p.dim(pen, "inside-diameter"),
            outside_diameter: p.dim(pen, "outside-diameter"),
            thickness: p.dim(pen, "thickness"),
            groove_depth: p.dim_within(pen, "groove-depth", Bound::NotNegative),
        };
        figures.gaskets.push(hold::gasket(&mut p.table, pen, &gasket.name));
        gaskets.push((gasket, p.table.finished(pen)));
    }
    gaskets
}

fn cups<'a>(
    root: &mut Table<'a>,
    pen: &mut Pen,
    tolerance: f64,
    gaskets: &[Placed<'_, Gasket>],
) -> Vec<Placed<'a, Cup>> {
    let tables = root.tables(pen, "cup", "cup");
    if tables.is_empty() && root.get("cup").is_none_or(|v| v.get_ref().is_array()) {
        pen.at(
            root.span(),
            "the document has no cup",
            "no [[cup]] in here",
            "describe each cup in a table that begins with the line: [[cup]]",
        );
    }
    let mut names = Vec::new();
    let mut cups = Vec::new();
    for table in tables {
        let mut p = Part { table, tolerance };
        let cup = Cup {
            name: name(&mut p, pen, "cup", &mut names),
            inside_diameter: p.dim(pen, "inside-diameter"),
            wall: p.dim(pen, "wall"),
            inside_height: p.dim(pen, "inside-height"),
            crown: p.dim(pen, "crown"),
            seat_diameter: p.dim(pen, "seat-diameter"),
            seat_height: p.dim(pen, "seat-height"),
            seat_depth: p.dim(pen, "seat-depth"),
            port_height: p.dim(pen, "port-height"),
            port_diameter: p.dim(pen, "port-diameter"),
            port_bore: p.dim(pen, "port-bore"),
            port_face: p.dim(pen, "port-face"),
            gasket: gasket_of(&mut p.table, pen, gaskets),
        };
        cups.push((cup, p.table.finished(pen)));
    }
    cups
}

/// The gasket that a cup names.
fn gasket_of(table: &mut Table<'_>, pen: &mut Pen, gaskets: &[Placed<'_, Gasket>]) -> String {
    let name = table.text(pen, "gasket", "\"GA\"");
    let names = || gaskets.iter().map(|(g, _)| g.name.as_str());
    if !name.text.is_empty() && names().all(|n| n != name.text) {
        let remedy = meant(&name.text, names(), || {
            "add a [[gasket]] of this name, or write the name of one that is there".to_owned()
        });
        pen.at(
            &name.span,
            format!("there is no gasket \"{}\"", name.text),
            "no [[gasket]] has this name",
            remedy,
        );
    }
    name.text
}

fn outlet<'a>(mut p: Part<'a>, pen: &mut Pen) -> Placed<'a, Outlet> {
    let outlet = Outlet {
        pipe_diameter: p.dim(pen, "pipe-diameter"),
        port_nipple: p.dim_within(pen, "port-nipple", Bound::NotNegative),
        elbow_centre_to_end: p.dim(pen, "elbow-centre-to-end"),
        elbow_band: p.dim(pen, "elbow-band"),
        riser_nipple: p.dim_within(pen, "riser-nipple", Bound::NotNegative),
        valve_length: p.dim(pen, "valve-length"),
        valve_diameter: p.dim(pen, "valve-diameter"),
        stem_height: p.dim(pen, "stem-height"),
        handle_length: p.dim(pen, "handle-length"),
        handle_width: p.dim(pen, "handle-width"),
        handle_thickness: p.dim(pen, "handle-thickness"),
        handle_swing: swing(&mut p.table, pen),
        elbow_turns: elbow_turns(&mut p.table, pen),
    };
    (outlet, p.table.finished(pen))
}

fn swing(table: &mut Table<'_>, pen: &mut Pen) -> Angle {
    let swing = table.angle(pen, "handle-swing", Angle::parse_plain);
    // A little more than a full turn's worth of rounding is allowed.
    if swing.value < 0.0 || swing.value > std::f64::consts::TAU + 1e-9 {
        pen.at(
            &swing.span,
            "\"handle-swing\" is out of range",
            "not between 0 and 360 deg",
            "write how far the handle swings from open, such as \"90 deg\"",
        );
    }
    Angle::from_radians(swing.value)
}

/// The elbow's turns: degrees, or clock positions seen from outside along the port's axis.
fn elbow_turns(table: &mut Table<'_>, pen: &mut Pen) -> Vec<Angle> {
    let mut turns: Vec<Angle> = Vec::new();
    for value in table.list(pen, "elbow-turns", "[\"-30 deg\", \"30 deg\"]") {
        let turn = angle_of(pen, value, "elbow-turns", Angle::parse_clockwise);
        if turns.iter().any(|t| (t.radians() - turn.value).abs() < 1e-9) {
            pen.at(&turn.span, "this elbow turn is listed twice", "listed before", "take it out");
        }
        turns.push(Angle::from_radians(turn.value));
    }
    turns
}

fn bar<'a>(mut p: Part<'a>, pen: &mut Pen) -> Placed<'a, Bar> {
    let bar = Bar {
        length: p.dim(pen, "length"),
        rail_width: p.dim(pen, "rail-width"),
        rail_height: p.dim(pen, "rail-height"),
        slot: p.dim(pen, "slot"),
        end: p.dim(pen, "end"),
    };
    (bar, p.table.finished(pen))
}

fn saddle<'a>(mut p: Part<'a>, pen: &mut Pen) -> Placed<'a, Saddle> {
    let saddle = Saddle {
        length: p.dim(pen, "length"),
        stem_width: p.dim(pen, "stem-width"),
        top_width: p.dim(pen, "top-width"),
        top_height: p.dim(pen, "top-height"),
        pin_drop: p.dim(pen, "pin-drop"),
        edge: p.dim(pen, "edge"),
        hole: p.dim(pen, "hole"),
    };
    (saddle, p.table.finished(pen))
}

fn link<'a>(mut p: Part<'a>, pen: &mut Pen) -> Placed<'a, Link> {
    let link = Link {
        width: p.dim(pen, "width"),
        thicknesses: p.dims(pen, "thicknesses", Order::Descending),
        hole: p.dim(pen, "hole"),
        holes: p.dims(pen, "holes", Order::Ascending),
        edge: p.dim(pen, "edge"),
    };
    (link, p.table.finished(pen))
}

fn foot<'a>(mut p: Part<'a>, pen: &mut Pen) -> Placed<'a, Foot> {
    let foot = Foot {
        depth: p.dim(pen, "depth"),
        width: p.dim(pen, "width"),
        height: p.dim(pen, "height"),
        seat: p.dim(pen, "seat"),
        hole: p.dim(pen, "hole"),
    };
    (foot, p.table.finished(pen))
}

fn pin<'a>(mut p: Part<'a>, pen: &mut Pen) -> Placed<'a, Pin> {
    let pin = Pin {
        diameter: p.dim(pen, "diameter"),
        length: p.dim(pen, "length"),
        head_diameter: p.dim(pen, "head-diameter"),
        head_thickness: p.dim(pen, "head-thickness"),
        fitted_on_car: p.table.flag(pen, "fitted-on-car"),
    };
    (pin, p.table.finished(pen))
}

fn screw<'a>(mut p: Part<'a>, pen: &mut Pen, figures: &mut KitFigures) -> Placed<'a, Screw> {
    figures.screw = hold::screw(&mut p.table, pen);
    let screw = Screw {
        diameter: p.dim(pen, "diameter"),
        ball_diameter: p.dim(pen, "ball-diameter"),
        length: p.dim(pen, "length"),
        retracted: p.dim_within(pen, "retracted", Bound::NotNegative),
        travel: p.dim(pen, "travel"),
        handle_length: p.dim(pen, "handle-length"),
        handle_diameter: p.dim(pen, "handle-diameter"),
        handle_drop: p.dim(pen, "handle-drop"),
        block_length: p.dim(pen, "block-length"),
        block_width: p.dim(pen, "block-width"),
        block_height: p.dim(pen, "block-height"),
    };
    (screw, p.table.finished(pen))
}
