//! Sentences about the sealing. What the rig holds is rounded down, what it needs is rounded up.
//!
//! Whoever reads lengths in inches reads pounds-force here, and newtons beside millimetres.

use super::units::in_units;
use crate::hold::Source;
use crate::record::Bounds;
use crate::sealing::{Basis, CarLoads, Lacking, Mode, PressureBeside, Raise, Sealing, Verdict};
use assembly::hold::{Jacket, LoadedPart};
use measure::{Interval, LengthUnit, Pressure, Temperature};
use sealing::hold::Part;

/// What every output about the sealing says of its figures.
pub const ESTIMATES: &str = "\
Sealing figures are estimates from the formulas named, at the placement shown; a licensed engineer \
must confirm them before anyone relies on them. Not in them are the housing's wall above the ports, \
the ball's punching of the crown and what it yields in its seat, the pipe thread in the side port, the \
cup wall's bending next to crown and rim, the handle's hole through the screw, a rail's bending \
together with its twisting, feet that bear unevenly, hands that pull unevenly, the jet from the open \
outlet while the screw is tightened, what the saddles that hold the links bear, an uneven plate under the gasket, creep of the gasket, its warming and cooling, wear, \
corrosion and welds. Where the kit does not state at what \
radius the screw's tip rubs, it may be anywhere from the pole to the mouth of its seat; whatever \
the code's factor, contact as high as the pressure is asked for. A vapour \
pressure is the pure lading's alone, and padding gas presses more.";

/// What the tip's radius is called among the figures that rest on something.
pub(crate) const TIP_BASIS: &str = "radius of the screw's tip";

/// What the answer about the fit says of the sealing.
pub const NOT_LOOKED_AT: &str = "sealing: not looked at here, see `overcup hold`";

/// The words of a verdict.
pub const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "holds",
        Verdict::CannotTell => "cannot tell",
        Verdict::DoesNotHold => "does not hold",
    }
}

/// The shape that stands beside a verdict's words.
pub const fn mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "\u{25cf}",
        Verdict::CannotTell => "?",
        Verdict::DoesNotHold => "\u{2715}",
    }
}

/// Where a pressure is from, in a phrase.
pub(crate) fn source(source: &Source) -> String {
    match source {
        Source::Stated(basis) => format!("stated: {basis}"),
        Source::Vapour(fluid, at) => {
            let [low, high] = [at.low(), at.high()].map(Temperature::celsius);
            // Kelvins and back leave a hair.
            let at = |t: f64| format!("{}", (t * 100.0).round() / 100.0 + 0.0);
            let at =
                if high - low < 0.005 { at(low) } else { format!("{} to {}", at(low), at(high)) };
            format!("vapour pressure of {} at {at} deg C, VDI Heat Atlas", fluid.word())
        }
        Source::Reference(fluid, jacket) => reference(fluid.word(), *jacket),
        Source::NoReference(fluid, jacket) => {
            format!("{}: there it is no liquid under its vapour", reference(fluid.word(), *jacket))
        }
        Source::Stamped => {
            "relief device starts to discharge, as stamped and within the tolerance of 49 CFR \
             179.15(b)(5)"
                .into()
        }
        Source::MostSetting(class) => format!(
            "most at which a relief device of {class} may start, within its tolerance, 49 CFR \
             179.15(b)(2) and (5)"
        ),
        Source::Test(class, section) => format!("test pressure of {class}, 49 CFR {section}"),
        Source::NoClass(class) => format!(
            "test pressure of {class}: that class is not in the tables of 49 CFR 179.101-1 and \
             179.201-1 as they are known here"
        ),
    }
}

const TIP_RADIUS: &str = "give tip-radius in [screw] of the kit";

/// At which radius the screw's tip rubs, and what that rests on: `0 to 2 in from its axis, ...`.
pub fn pivot(sealing: &Sealing, unit: LengthUnit) -> Option<String> {
    let radius = crate::words::interval(sealing.pivot_mm?, unit);
    let stated = sealing.bases.iter().any(|b| b.of == TIP_BASIS);
    Some(if stated {
        format!("{radius} from its axis, as the kit states")
    } else {
        format!("{radius} from its axis, anywhere from pole to mouth of its seat: {TIP_RADIUS}")
    })
}

fn reference(fluid: &str, jacket: Jacket) -> String {
    let cover = match jacket {
        Jacket::Bare => "no cover",
        Jacket::ThermallyProtected | Jacket::Insulated => jacket.word(),
    };
    format!(
        "vapour pressure of {fluid} alone, without static head and padding, at the temperature by \
         which the relief device of a tank with {cover} is set, 49 CFR 179.15(b)(1)"
    )
}

/// Where the documents take a quantity that is not given; `None` for one that they do not take.
pub(crate) fn where_to_give(quantity: &str) -> Option<String> {
    let place = match quantity {
        "lading" => "give [lading] in the case, with gauge-pressure or temperature",
        "pressure of the lading" => "give gauge-pressure or temperature in [lading] of the case",
        "pressure of the air" => "give air-pressure in [lading] of the case",
        "form of the screw's thread" => "give thread-form in [screw] of the kit",
        "pitch of the screw's thread" => "give thread-pitch in [screw] of the kit",
        "number of the screw's thread starts" => "give thread-starts in [screw] of the kit",
        "thread friction" => "give thread-friction in [screw] of the kit",
        "friction at the screw's tip" => "give tip-friction in [screw] of the kit",
        "radius at which the screw's tip rubs" => TIP_RADIUS,
        "how the screw's ends are held" => "give ends in [screw] of the kit",
        "hand force" => "give hand-force in [sealing] of the kit",
        "error of the set torque" => "give torque-error in [sealing] of the kit",
        "safety factor" => "give safety-factor in [sealing] of the kit",
        "friction of the pins" => "give pin-friction in [sealing] of the kit",
        "hold of the links in the saddles" => "give links-in-saddles in [sealing] of the kit",
        "side moment of the outlet" => "give side-moment in [sealing] of the kit",
        "gasket minimum contact stress" => "give least-stress in the cup's [[gasket]] of the kit",
        "gasket maximum contact stress" => "give most-stress in the cup's [[gasket]] of the kit",
        _ => return of_material(quantity),
    };
    Some(place.into())
}

/// `yield strength of the link` and its like.
fn of_material(quantity: &str) -> Option<String> {
    let (figure, part) = quantity.split_once(" of the ")?;
    let key = match figure {
        "yield strength" => "yield-strength",
        "tensile strength" => "tensile-strength",
        "modulus" => "modulus",
        _ => return None,
    };
    let part = Part::ALL.into_iter().find(|p| p.word() == part)?;
    let named = |part: LoadedPart| {
        format!("give {key} in the [[material]] with part = \"{}\" of the kit", part.word())
    };
    Some(match part {
        Part::Sidewall => format!("give {key} in [sidewall] of the case"),
        Part::Cup => named(LoadedPart::Cup),
        Part::Screw => named(LoadedPart::Screw),
        Part::Handle => named(LoadedPart::ScrewHandle),
        Part::Block => named(LoadedPart::ScrewBlock),
        Part::Bar => named(LoadedPart::Bar),
        Part::Saddle => named(LoadedPart::Saddle),
        Part::UpperPin => named(LoadedPart::UpperPin),
        Part::Link => named(LoadedPart::Link),
        Part::LowerPin => named(LoadedPart::LowerPin),
        Part::Foot => named(LoadedPart::Foot),
    })
}

/// A figure's unit for reading: its size in the record's unit, decimals, word.
type Shown = (f64, usize, &'static str);

fn of_pressure(unit: LengthUnit) -> Shown {
    match unit {
        LengthUnit::Inch => (Pressure::from_psi(1.0).mpa(), 0, "psi"),
        LengthUnit::Millimetre => (1.0, 2, "MPa"),
    }
}

fn of_force(unit: LengthUnit) -> Shown {
    match unit {
        LengthUnit::Inch => (pound_force(), 0, "lbf"),
        LengthUnit::Millimetre => (1000.0, 2, "kN"),
    }
}

fn of_torque(unit: LengthUnit) -> Shown {
    match unit {
        LengthUnit::Inch => (pound_force() * 304.8, 1, "lb ft"),
        LengthUnit::Millimetre => (1000.0, 1, "N m"),
    }
}

/// One pound-force in newtons: a pound's mass, 0.453 592 37 kg, under 9.806 65 m/s2, both exact.
pub(super) fn pound_force() -> f64 {
    0.453_592_37 * 9.806_65
}

/// A number of steps, rounded, with a hair of a step that forgives the rounding of the division.
fn steps(value: f64, places: usize, round: fn(f64) -> f64) -> String {
    let scale = 10_f64.powi(i32::try_from(places).unwrap_or(0));
    let steps = value * scale;
    let near = steps.round();
    let whole = if (steps - near).abs() < 1e-6 { near } else { round(steps) };
    format!("{:.places$}", whole / scale + 0.0)
}

fn least((size, places, word): Shown, value: f64) -> String {
    format!("{} {word}", steps(value / size, places, f64::floor))
}

fn most((size, places, word): Shown, value: f64) -> String {
    format!("{} {word}", steps(value / size, places, f64::ceil))
}

fn range(shown: Shown, bounds: Bounds) -> String {
    match (bounds.low, bounds.high) {
        (Some(low), Some(high)) => {
            let (size, places, word) = shown;
            let low = steps(low / size, places, f64::floor);
            let high = steps(high / size, places, f64::ceil);
            if low == high { format!("{low} {word}") } else { format!("{low} to {high} {word}") }
        }
        (Some(low), None) => format!("{} or more", least(shown, low)),
        (None, Some(high)) => format!("{} or less", most(shown, high)),
        (None, None) => "not known".into(),
    }
}

/// A pressure, rounded outward.
pub fn pressure(bounds: Bounds, unit: LengthUnit) -> String {
    range(of_pressure(unit), bounds)
}

/// A force, rounded outward.
pub fn force(bounds: Bounds, unit: LengthUnit) -> String {
    range(of_force(unit), bounds)
}

/// A torque or moment, rounded outward.
pub fn torque(bounds: Bounds, unit: LengthUnit) -> String {
    range(of_torque(unit), bounds)
}

/// The torque to set, rounded up; `-` where the rig is not told to hold, since none is to be set then.
pub fn torque_to_set(sealing: &Sealing, unit: LengthUnit) -> String {
    let set = sealing.set_torque_n_mm.filter(|_| sealing.verdict == Verdict::Holds);
    set.map_or_else(|| "-".into(), |t| most(of_torque(unit), t))
}

/// The torque to set, what may be needed of it by friction, and how far it may be off; `None` where
/// not even friction is given. No torque is told where none is to be set.
pub fn torques(sealing: &Sealing, unit: LengthUnit) -> Option<String> {
    let needed = torque(sealing.torque_n_mm?, unit);
    let set = torque_to_set(sealing, unit);
    Some(match (sealing.verdict, sealing.torque_error) {
        (Verdict::Holds, Some(error)) => {
            let off = steps(error * 100.0, 1, f64::ceil);
            format!("set {set}, give or take {off} %; by friction {needed} are needed")
        }
        (Verdict::Holds, None) => format!("by friction {needed} are needed"),
        (Verdict::DoesNotHold, _) => {
            format!("by friction {needed} would be needed; do not set it: the rig does not hold")
        }
        (Verdict::CannotTell, _) => format!(
            "by friction {needed} would be needed; do not set it: whether the rig holds cannot be told"
        ),
    })
}

/// What the gasket is asked for, and by whom: `174 psi under pressure, the greater of ...`.
pub fn contact_asked(sealing: &Sealing, unit: LengthUnit) -> Option<String> {
    let asked = pressure(sealing.contact_asked_mpa?, unit);
    let by = match sealing.code_m.and_then(|m| m.high) {
        Some(m) if m > 1.0 => format!("{} times the pressure by the code", steps(m, 2, f64::ceil)),
        Some(_) => "the pressure itself, since the code's factor asks for no more".into(),
        None => "the pressure itself, since no factor of the code is given: assumed".into(),
    };
    Some(format!("{asked} under pressure, the greater of its supplier's figure and {by}"))
}

/// The factor that supports a mode's verdict: what it keeps at least where it holds, at most where it
/// does not, both where that cannot be told.
pub fn factor(mode: &Mode) -> String {
    let Some(Bounds { low, high }) = mode.factor else { return "-".into() };
    let down = low.map(|low| steps(low, 2, f64::floor));
    let up = high.map(|high| steps(high, 2, f64::ceil));
    match (mode.verdict, down, up) {
        (Verdict::Holds, Some(down), _) => down,
        (Verdict::DoesNotHold, _, Some(up)) => up,
        (_, Some(down), Some(up)) => format!("{down} to {up}"),
        (_, Some(down), None) => format!("{down} or more"),
        (_, None, Some(up)) => format!("{up} or less"),
        (_, None, None) => "-".into(),
    }
}

/// A mode and where it is: `link yields at P0`.
pub fn mode(mode: &Mode) -> String {
    match &mode.port {
        Some(port) => format!("{} at {port}", mode.mode),
        None => mode.mode.clone(),
    }
}

/// The factor that a mode must keep, rounded up; `-` where it is not given.
pub fn asked(mode: &Mode) -> String {
    mode.required.map_or_else(|| "-".into(), |required| steps(required, 2, f64::ceil))
}

/// What the letters of the formulas stand for.
pub const LETTERS: &str = "\
W is the screw's load with all of the end load H on top, which comes when the outlet is closed, T its \
torque, R the pull of one end of the bar, p the pressure, Sy and Su the yield and the tensile strength \
of the part. Of the gasket and the screw e is how far off the axis the load acts, A the area pressed, k \
its kern, M the outlet's moment; of a thread p is the pitch, n the ridges in mesh, dm and dr the mean \
and the root diameter; of block, bar and saddles L is the span, e and y how far the screw stands off \
the middle along and across, s the distance of the strips that bear; of pins and links s is the share \
of the pull, a the distance of the links, or of hole and end, e how far off midway the pull acts, be \
the code's width. The other letters are lengths of the parts named, c of what bears; v is Poisson's \
ratio.";

/// What may not exceed what, with its source.
pub fn formula(mode: &Mode) -> String {
    format!("{} ({})", mode.formula, mode.source)
}

/// What governs, in short: `lower pin yields in bending at P0, at least 1.62 where 1.50 is asked for`;
/// where it cannot be told for what is not given, that: `not given or wrong: thread friction and 2 more`.
pub fn governing(sealing: &Sealing, unit: LengthUnit) -> String {
    if let (Verdict::CannotTell, [first, more @ ..]) = (sealing.verdict, &sealing.lacking[..]) {
        let more = match more.len() {
            0 => String::new(),
            count => format!(" and {count} more"),
        };
        return format!("not given or wrong: {}{more}", in_units(&first.what, unit));
    }
    let Some(governing) = sealing.governing_mode() else { return "-".into() };
    let end = match governing.verdict {
        Verdict::Holds => "at least ",
        Verdict::DoesNotHold => "at most ",
        Verdict::CannotTell => "",
    };
    let asked = match governing.required {
        Some(_) => format!(" where {} is asked for", asked(governing)),
        None => String::new(),
    };
    format!("{}, {end}{}{asked}", mode(governing), factor(governing))
}

/// The pressure of the verdict, rounded up: `110 psi`; `-` where none is given.
pub fn pressure_used(sealing: &Sealing, unit: LengthUnit) -> String {
    let high = sealing.pressure.as_ref().and_then(|p| p.gauge_mpa.high);
    high.map_or_else(|| "-".into(), |p| most(of_pressure(unit), p))
}

/// The highest pressure held for certain, rounded down; `-` where there is none.
pub fn highest(sealing: &Sealing, unit: LengthUnit) -> String {
    sealing.highest_surely_mpa.map_or_else(|| "-".into(), |p| least(of_pressure(unit), p))
}

/// The highest pressure in a sentence.
pub fn highest_sentence(sealing: &Sealing, unit: LengthUnit) -> String {
    let surely = match (sealing.highest_surely_mpa, sealing.highest_torque_n_mm) {
        (Some(p), Some(torque)) => format!(
            "could be set to hold up to {} for certain, at {}",
            least(of_pressure(unit), p),
            most(of_torque(unit), torque)
        ),
        (Some(p), None) => format!("holds up to {} for certain", least(of_pressure(unit), p)),
        (None, _) => "no pressure is held for certain".into(),
    };
    match sealing.highest_at_most_mpa {
        Some(p) => format!("{surely}; does not hold above {}", most(of_pressure(unit), p)),
        None => surely,
    }
}

/// What raises the highest pressure, in a phrase; `None` where that is nothing when it is printed.
pub fn raise(raise: &Raise, unit: LengthUnit) -> Option<String> {
    let (gain, to) = (raise.gain_mpa, raise.surely_mpa);
    let shown = |mpa: f64| least(of_pressure(unit), mpa);
    let shows = shown(gain) != shown(0.0);
    shows.then(|| format!("{}: {} more, {} in all", raise.what, shown(gain), shown(to)))
}

/// A pressure that the tank may come to, with how the rig stands to it.
pub fn beside(beside: &PressureBeside, unit: LengthUnit) -> String {
    let gauge = beside.pressure.gauge_mpa;
    let shown = if gauge.high.is_some() { pressure(gauge, unit) } else { "not known".into() };
    let verdict = match (beside.verdict, beside.torque_n_mm) {
        (Verdict::Holds, Some(torque)) => {
            format!("would hold if set to {}", most(of_torque(unit), torque))
        }
        _ => verdict(beside.verdict).to_owned(),
    };
    format!("{verdict}: {shown}: {}", beside.pressure.from)
}

/// Something that is not given or wrong: `hand force: give hand-force in [sealing] of the kit`.
pub fn lacking(lacking: &Lacking, unit: LengthUnit) -> String {
    in_units(&format!("{}: {}", lacking.what, lacking.remedy), unit)
}

/// What the figures rest on, those that rest on the same together: `mill certificate: link, bar`.
pub fn bases(bases: &[Basis]) -> Vec<String> {
    let mut groups: Vec<(&str, Vec<&str>)> = Vec::new();
    for Basis { of, basis } in bases {
        match groups.iter_mut().find(|(known, _)| known == basis) {
            Some((_, all)) => all.push(of),
            None => groups.push((basis, vec![of])),
        }
    }
    groups.into_iter().map(|(basis, all)| format!("{basis}: {}", all.join(", "))).collect()
}

/// What the car is asked to bear, one phrase for each load.
pub fn car(car: &CarLoads, unit: LengthUnit) -> Vec<String> {
    let mut all: Vec<String> = car
        .ports
        .iter()
        .map(|p| format!("pull up on the upper edge of {}: {}", p.port, force(p.pull_n, unit)))
        .collect();
    all.push(format!(
        "pull up on the housing and its studs: {}, with a moment of {} along the bar",
        force(car.uplift_n, unit),
        torque(size(car.tilt_n_mm), unit)
    ));
    if let Some(bolt) = car.bolt_n {
        let bolt = force(bolt, unit);
        all.push(format!(
            "pull in the housing's most loaded stud: {bolt}, as if none were tightened beforehand"
        ));
    }
    all.push(format!(
        "push down on the plate: {} through the gasket, {} of pressure within it",
        force(car.gasket_n, unit),
        force(car.end_load_n, unit)
    ));
    all
}

/// How far from zero.
fn size(bounds: Bounds) -> Bounds {
    match (bounds.low, bounds.high) {
        (Some(low), Some(high)) => Interval::between(low, high).abs().into(),
        _ => bounds,
    }
}

/// The rule about the bolts' shear, in a sentence.
pub fn shear(sealing: &Sealing) -> Option<String> {
    let shear = sealing.shear_share.as_ref()?;
    let up = |share: f64| steps(100.0 * share, 1, f64::ceil);
    let down = |share: f64| steps(100.0 * share, 1, f64::floor);
    let (share, stands) = match (shear.share.low, shear.share.high) {
        (_, Some(high)) if high <= shear.most => (up(high), "kept"),
        (Some(low), _) if low > shear.most => (down(low), "not kept"),
        (Some(low), Some(high)) => (format!("{} to {}", down(low), up(high)), "cannot tell"),
        _ => return None,
    };
    Some(format!(
        "shear value of the housing's bolts over that of the cover's: {share} % where at most {} % is \
         allowed, 49 CFR 179.100-12(c): {stands}",
        up(shear.most)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sealing::Pressure;

    const IN: LengthUnit = LengthUnit::Inch;
    const MM: LengthUnit = LengthUnit::Millimetre;

    fn bounds(low: f64, high: f64) -> Bounds {
        Bounds { low: Some(low), high: Some(high) }
    }

    fn a_mode(verdict: Verdict, low: f64, high: f64) -> Mode {
        Mode {
            mode: "link yields".into(),
            port: Some("P0".into()),
            factor: Some(bounds(low, high)),
            required: Some(1.5),
            verdict,
            formula: "a <= b".into(),
            source: "any handbook".into(),
            lacking: vec![],
        }
    }

    #[test]
    fn what_is_held_is_rounded_down_and_what_is_needed_up() {
        assert_eq!(factor(&a_mode(Verdict::Holds, 1.5099, 1.9)), "1.50");
        assert_eq!(factor(&a_mode(Verdict::DoesNotHold, 0.2, 0.8301)), "0.84");
        assert_eq!(factor(&a_mode(Verdict::CannotTell, 1.2399, 1.6001)), "1.23 to 1.61");
        let mut open = a_mode(Verdict::CannotTell, 1.0, 1.0);
        open.factor = Some(Bounds { low: None, high: Some(2.001) });
        assert_eq!(
            (factor(&open), mode(&open)),
            ("2.01 or less".into(), "link yields at P0".into())
        );
        // 1 psi is 0.006 894 757 N/mm2, 1 lbf 4.448 222 N, 1 lb ft 1355.818 N mm: from memory.
        assert_eq!(pressure(bounds(1.0, 1.0), IN), "145 to 146 psi");
        assert_eq!(pressure(bounds(0.123_456, 0.2), MM), "0.12 to 0.20 MPa");
        assert_eq!(force(bounds(4448.2, 4448.3), IN), "999 to 1001 lbf");
        assert_eq!(force(bounds(12_341.0, 12_341.0), MM), "12.34 to 12.35 kN");
        assert_eq!(torque(bounds(135_581.7, 135_581.9), IN), "99.9 to 100.1 lb ft");
        let p250 = measure::Pressure::from_psi(250.0).mpa();
        assert_eq!(pressure(bounds(p250, p250), IN), "250 psi");
    }

    #[test]
    fn the_highest_pressure_never_promises_more() {
        let mut sealing: Sealing = serde_json::from_value(serde_json::json!({
            "verdict": "holds", "beside": [], "modes": [], "raises": [], "lacking": [], "bases": [],
            "highest_surely_mpa": 0.5199, "highest_at_most_mpa": 0.9201,
        }))
        .unwrap();
        assert_eq!(
            (highest(&sealing, IN), highest(&sealing, MM)),
            ("75 psi".into(), "0.51 MPa".into())
        );
        let told = "holds up to 0.51 MPa for certain; does not hold above 0.93 MPa";
        assert_eq!(highest_sentence(&sealing, MM), told);
        sealing.highest_torque_n_mm = Some(139_501.0);
        let told = "could be set to hold up to 0.51 MPa for certain, at 139.6 N m; does not hold above \
                    0.93 MPa";
        assert_eq!(highest_sentence(&sealing, MM), told);
        sealing.set_torque_n_mm = Some(110_001.0);
        assert_eq!(torque_to_set(&sealing, MM), "110.1 N m");
        // Where the rig does not hold, or that cannot be told, no torque is to be set.
        (sealing.torque_n_mm, sealing.torque_error) = (Some(bounds(80e3, 99e3)), Some(0.1));
        assert!(torques(&sealing, MM).unwrap().starts_with("set 110.1 N m, give or take 10.0 %"));
        for verdict in [super::Verdict::DoesNotHold, super::Verdict::CannotTell] {
            sealing.verdict = verdict;
            assert_eq!(torque_to_set(&sealing, MM), "-");
            let told = torques(&sealing, MM).unwrap();
            assert!(told.contains("would be needed; do not set it") && !told.contains("110"));
        }
        let gauge_mpa = bounds(0.1, 0.5201);
        sealing.pressure = Some(Pressure { gauge_mpa, from: "stated: gauge".into() });
        assert_eq!(pressure_used(&sealing, MM), "0.53 MPa");
        sealing.highest_surely_mpa = None;
        assert!(highest_sentence(&sealing, MM).starts_with("no pressure is held for certain"));
    }

    #[test]
    fn the_shear_rule_is_told_by_the_end_that_supports_it() {
        let mut sealing: Sealing = serde_json::from_value(serde_json::json!({
            "verdict": "holds", "beside": [], "modes": [], "raises": [], "lacking": [], "bases": [],
        }))
        .unwrap();
        for (low, high, shown, stands) in [
            (0.5, 0.7, "70.0 %", "kept"),
            (0.6, 0.701, "60.0 to 70.1 %", "cannot tell"),
            (0.701, 0.71, "70.1 %", "not kept"),
        ] {
            sealing.shear_share =
                Some(crate::sealing::ShearShare { share: bounds(low, high), most: 0.7 });
            let told = shear(&sealing).unwrap();
            assert!(told.contains(&format!("cover's: {shown} where at most 70.0 %")), "{told}");
            assert!(told.ends_with(&format!("179.100-12(c): {stands}")));
        }
    }

    #[test]
    fn what_rests_on_the_same_is_told_together() {
        let basis = |of: &str, basis: &str| Basis { of: of.into(), basis: basis.into() };
        let all = [basis("cup", "drawing"), basis("link", "mill"), basis("bar", "drawing")];
        assert_eq!(bases(&all), ["drawing: cup, bar", "mill: link"]);
    }

    #[test]
    fn marks_differ_from_each_other() {
        let all = [Verdict::Holds, Verdict::CannotTell, Verdict::DoesNotHold].map(mark);
        assert!(all[0] != all[1] && all[1] != all[2] && all[0] != all[2]);
    }
}
