//! What a kit document says for the sealing. All of it may be left out.

use crate::fault::Pen;
use crate::range::{STRENGTH, STRONGEST, Sense, Wanted, strength};
use crate::table::{Bound, Table, choice_of};
use assembly::hold::{
    GasketCode, GasketFigures, KitFigures, LoadedPart, Material, ScrewEnds, ScrewFigures,
    ThreadForm,
};
use measure::Force;

/// A coefficient of friction lies within these.
const FRICTION: [f64; 2] = [0.0, 1.0];

/// Whoever sets a torque comes within these shares of it: the best wrenches are held to a hundredth or
/// more (ISO 6789 allows 4 to 6 in a hundred, from memory).
const TORQUE_ERROR: [f64; 2] = [0.01, 0.9];

/// Two people who throw their weight on a handle give less (common practice, no source).
const HAND: Sense<Force> = Sense {
    least: Force::from_newtons(0.0),
    most: Force::from_newtons(2e3),
    remedy: "nobody gives more than \"450 lbf\" or \"2000 N\" at a handle: check the number and its unit",
};

/// The code's factor `m` lies within these: in its table only gaskets that the pressure itself presses
/// have less than soft rubber's 0.5, and the kit's are none.
const CODE_M: [f64; 2] = [0.5, 100.0];

/// Reads `[sealing]` and every `[[material]]`.
pub(super) fn figures(root: &mut Table<'_>, pen: &mut Pen) -> KitFigures {
    let mut figures = KitFigures { materials: materials(root, pen), ..KitFigures::default() };
    if let Some(mut table) = root.maybe_table(pen, "sealing", "[sealing]") {
        let force = Wanted { noun: "a force", example: "\"100 lbf\"", bound: Bound::Positive };
        figures.hand = table.maybe_range(pen, "hand-force", force);
        table.sensible(pen, "hand-force", &HAND, figures.hand);
        figures.hand_basis = table.basis(pen, "hand-basis", figures.hand.is_some());
        figures.torque_error = table.maybe_number(pen, "torque-error", "0.06", TORQUE_ERROR);
        figures.torque_basis = table.basis(pen, "torque-basis", figures.torque_error.is_some());
        let factors = [1.0, 100.0];
        figures.safety_factor = table.maybe_number(pen, "safety-factor", "1.5", factors);
        figures.factor_basis = table.basis(pen, "factor-basis", figures.safety_factor.is_some());
        let length = Wanted { noun: "a length", example: "\"1 mm\"", bound: Bound::NotNegative };
        figures.pin_play = table.maybe_range(pen, "pin-play", length);
        figures.pin_friction = table.maybe_numbers(pen, "pin-friction", "0.15", FRICTION);
        table.spread(pen, "pin-friction", "[0.1, 0.15]", figures.pin_friction);
        let rubs = figures.pin_friction.is_some();
        figures.pin_friction_basis = table.basis(pen, "pin-basis", rubs);
        let held = table.maybe_text(pen, "links-in-saddles", "\"held\"");
        let held =
            held.and_then(|text| choice_of(pen, &text, "links-in-saddles", &["held", "free"]));
        figures.links_held = held.map(|at| at == 0);
        figures.links_held_basis = table.basis(pen, "links-basis", held.is_some());
        let moment = Wanted { noun: "a torque", example: "\"10 N m\"", bound: Bound::NotNegative };
        figures.side_moment = table.maybe_range(pen, "side-moment", moment);
        table.finish(pen);
    }
    figures
}

/// The keys of `[screw]` that only the sealing asks for.
pub(super) fn screw(table: &mut Table<'_>, pen: &mut Pen) -> ScrewFigures {
    let length = Wanted { noun: "a length", example: "\"1/4 in\"", bound: Bound::Positive };
    let forms = ThreadForm::ALL.map(ThreadForm::word);
    let form = table.maybe_text(pen, "thread-form", "\"acme\"");
    let form = form.and_then(|text| choice_of(pen, &text, "thread-form", &forms));
    let ends_words = ScrewEnds::ALL.map(ScrewEnds::word);
    let ends = table.maybe_text(pen, "ends", "\"fixed-free\"");
    let ends = ends.and_then(|text| choice_of(pen, &text, "ends", &ends_words));
    let radius = Wanted { example: "\"15 mm\"", bound: Bound::NotNegative, ..length };
    let tip_radius = table.maybe_range(pen, "tip-radius", radius);
    let [thread_friction, tip_friction] = ["thread-friction", "tip-friction"].map(|key| {
        let range = table.maybe_numbers(pen, key, "0.15", FRICTION);
        table.spread(pen, key, "[0.1, 0.15]", range);
        range
    });
    table.spread(pen, "tip-radius", "[\"14 mm\", \"18 mm\"]", tip_radius);
    let tip_basis = table.basis(pen, "tip-radius-basis", tip_radius.is_some());
    let rubs = thread_friction.is_some() || tip_friction.is_some();
    let friction_basis = table.basis(pen, "friction-basis", rubs);
    let starts = table.maybe_count(pen, "thread-starts", u16::from(u8::MAX));
    ScrewFigures {
        form: form.and_then(|at| ThreadForm::ALL.get(at)).copied(),
        pitch: table.maybe_range(pen, "thread-pitch", length),
        starts: starts.and_then(|n| u8::try_from(n).ok()),
        thread_friction,
        tip_friction,
        tip_radius,
        tip_basis,
        friction_basis,
        ends: ends.and_then(|at| ScrewEnds::ALL.get(at)).copied(),
    }
}

/// The keys of a `[[gasket]]` that only the sealing asks for.
pub(super) fn gasket(table: &mut Table<'_>, pen: &mut Pen, name: &str) -> GasketFigures {
    let stress = Wanted { example: "\"300 psi\"", ..STRENGTH };
    let least = table.maybe_range(pen, "least-stress", stress);
    let most = table.maybe_range(pen, "most-stress", stress);
    table.sensible(pen, "most-stress", &STRONGEST, most);
    let basis = table.basis(pen, "stress-basis", least.is_some() || most.is_some());
    if let (Some(low), Some(high)) = (least, most)
        && high.low() <= low.high()
    {
        pen.at(
            &table.place("most-stress"),
            format!("{}: the most stress is no more than the least", table.title),
            "no greater than \"least-stress\"",
            "the gasket needs the least and bears the most: check both",
        );
    }
    GasketFigures { gasket: name.to_owned(), code: code(table, pen), least, most, basis }
}

/// The boiler code's factors: by the material's name, or `m` and `y` themselves.
fn code(table: &mut Table<'_>, pen: &mut Pen) -> Option<GasketCode> {
    let words = GasketCode::NAMED.map(|(word, _)| word);
    let named = table.maybe_text(pen, "code-material", "\"soft rubber\"");
    let (m_key, y_key) = ("code-m", "code-y");
    let m = table.maybe_numbers(pen, m_key, "2.0", CODE_M);
    let seating = Wanted { example: "\"1600 psi\"", bound: Bound::NotNegative, ..STRENGTH };
    let y = table.maybe_range(pen, y_key, seating);
    if let Some(named) = &named
        && (m.is_some() || y.is_some())
    {
        pen.at(
            &named.span,
            format!("{} gives the code's factors twice", table.title),
            "a material and factors",
            "keep \"code-material\", or \"code-m\" and \"code-y\"",
        );
    }
    if m.is_some() != y.is_some() {
        pen.at(
            &table.place(if m.is_some() { m_key } else { y_key }),
            format!("{} gives one of the code's factors", table.title),
            "the other is missing",
            "give both \"code-m\" and \"code-y\", or none",
        );
    }
    match named {
        Some(named) => choice_of(pen, &named, "code-material", &words)
            .and_then(|at| GasketCode::NAMED.get(at))
            .map(|(_, code)| *code),
        None => m.zip(y).map(|(m, y)| GasketCode::Factors { m, y }),
    }
}

fn materials(root: &mut Table<'_>, pen: &mut Pen) -> Vec<Material> {
    let mut materials: Vec<Material> = Vec::new();
    for mut table in root.tables(pen, "material", "material") {
        let name = table.text(pen, "part", "\"link\"");
        let words = LoadedPart::ALL.map(LoadedPart::word);
        let part = choice_of(pen, &name, "part", &words).and_then(|at| LoadedPart::ALL.get(at));
        if let Some(part) = part {
            table.title = format!("the material of the {}", part.word());
        }
        let strength = strength(&mut table, pen);
        table.finish(pen);
        let Some(&part) = part else { continue };
        if materials.iter().any(|m| m.part == part) {
            pen.at(
                &name.span,
                format!("the material of the {} is given twice", part.word()),
                "given before",
                "keep one of the two",
            );
        }
        materials.push(Material { part, strength });
    }
    materials
}
