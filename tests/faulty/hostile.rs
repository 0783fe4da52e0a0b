//! Documents and meshes cut off or changed anywhere: never a panic, never a file written.

use crate::bench::{Bench, CASE, KIT, LESSON};
use crate::meshes::{ascii, bench as meshes_of_the_bench, binary};
use crate::sealing;
use assembly::hold::{KitFigures, LadingPressure, Service};
use intake::Faults;
use measure::{Bounds, Interval, Quantity};
use miette::Diagnostic;
use proptest::prelude::*;

/// What every refusal promises: a message, a remedy, and a mark that lies in the text.
fn sound(faults: &Faults, text: &[u8]) {
    assert!(faults.count() > 0);
    for fault in faults {
        assert!(!fault.message.is_empty() && !fault.remedy.is_empty());
        assert!(fault.help().is_some());
        if let Some(place) = &fault.place {
            let before = std::str::from_utf8(&text[..place.bytes.start]).unwrap();
            assert!(place.bytes.end <= text.len());
            assert_eq!(place.line, before.matches('\n').count() + 1);
            let column = before.rsplit('\n').next().unwrap().chars().count() + 1;
            assert_eq!(place.column, column);
        }
    }
    assert!(!faults.render().is_empty());
}

#[test]
fn a_case_cut_off_at_any_byte() {
    let bench = Bench::new();
    let mut read = 0;
    for length in 0..=CASE.len() {
        bench.write("case.toml", &CASE.as_bytes()[..length]);
        match bench.case() {
            Ok(_) => read += 1,
            Err(faults) => sound(&faults, &CASE.as_bytes()[..length]),
        }
    }
    // Only what follows the last removable may go: the lading, and with it the line end.
    assert!((2..10).contains(&read), "{read} of the cut documents were read");
    assert_eq!(bench.files().len(), 9, "a file was left behind");
}

#[test]
fn a_kit_cut_off_at_any_byte() {
    let bench = Bench::new();
    for length in 0..=KIT.len() {
        bench.write("kit.toml", &KIT.as_bytes()[..length]);
        if let Err(faults) = bench.kit() {
            sound(&faults, &KIT.as_bytes()[..length]);
        }
    }
    assert_eq!(bench.files().len(), 9, "a file was left behind");
}

#[test]
fn a_lesson_cut_off_at_any_byte() {
    let bench = Bench::new();
    for length in 0..=LESSON.len() {
        bench.write("lesson.toml", &LESSON.as_bytes()[..length]);
        if let Err(faults) = bench.lesson() {
            sound(&faults, &LESSON.as_bytes()[..length]);
        }
    }
    assert_eq!(bench.files().len(), 9, "a file was left behind");
}

#[test]
fn a_mesh_cut_off_at_any_byte_is_never_read_as_less() {
    let triangles = meshes_of_the_bench().remove(0).1;
    let whole = binary("bench", &triangles);
    for length in 0..whole.len() {
        assert!(intake::stl::read_stl(&whole[..length], 1.0).is_err(), "{length} bytes were read");
    }
    let whole = ascii(&triangles).into_bytes();
    for length in 0..whole.len() {
        if let Ok(mesh) = intake::stl::read_stl(&whole[..length], 1.0) {
            assert_eq!(mesh.triangles.len(), triangles.len(), "{length} bytes were read as less");
        }
    }
}

/// The documents, with and without what the sealing asks for. The lesson comes first, while what it names
/// is whole, so that every fault is its own.
fn documents() -> [(&'static str, String); 5] {
    let plain = ["lesson.toml", "case.toml", "kit.toml"].into_iter().zip([LESSON, CASE, KIT]);
    let sealed = [("case.toml", sealing::case()), ("kit.toml", sealing::kit())];
    let mut all = plain.map(|(name, text)| (name, text.to_owned())).chain(sealed);
    std::array::from_fn(|_| all.next().unwrap())
}

/// Reads the bench's document of this name.
fn read(bench: &Bench, name: &str) -> Option<Faults> {
    match name {
        "case.toml" => bench.case().err(),
        "kit.toml" => bench.kit().err(),
        _ => bench.lesson().err(),
    }
}

/// Any value that may stand behind a key.
fn any_value() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        any::<f64>().prop_map(|n| format!("{n:?}")),
        any::<i64>().prop_map(|n| n.to_string()),
        (-2.0..2.0_f64).prop_map(|n| format!("{n:?}")),
        Just("-0.0".to_owned()),
        Just("0x10".to_owned()),
    ];
    let units = ["", " mm", " in", " psi", " MPa", " lbf", " N m", " deg C", " ksi", " K", "%"];
    let quantity = (number.clone(), prop::sample::select(units.to_vec()))
        .prop_map(|(n, unit)| format!("\"{n}{unit}\""));
    let one = prop_oneof![number, quantity, "\"[a-z/ -]{0,12}\"", Just("true".to_owned())];
    let list = prop::collection::vec(one.clone(), 0..4).prop_map(|v| format!("[{}]", v.join(", ")));
    prop_oneof![one, list, Just("{ }".to_owned()), Just("1979-05-27".to_owned())]
}

/// Numbers that may stand where a document has others.
fn any_numbers() -> impl Strategy<Value = Vec<f64>> {
    let number = prop_oneof![-1.5..1.5_f64, -1e3..1e3_f64, any::<f64>(), Just(0.0)];
    prop::collection::vec(number, 2)
}

/// A value with other numbers in it, in turn.
fn with_numbers(value: &str, numbers: &[f64]) -> String {
    let mut text = String::new();
    let (mut next, mut within) = (numbers.iter().cycle(), false);
    for c in value.chars() {
        let figure = c.is_ascii_digit() || (within && c == '.');
        if figure && !within {
            text.extend(next.next().map(|n| format!("{n:?}")));
        }
        if !figure {
            text.push(c);
        }
        within = figure;
    }
    text
}

/// The ends of every range that a kit or a case may give for the sealing.
fn ranges(kit: &KitFigures, service: &Service) -> Vec<Interval> {
    fn of<Q: Quantity>(ranges: &mut Vec<Interval>, range: Option<Bounds<Q>>) {
        ranges.extend(range.map(Bounds::interval));
    }
    let mut all = Vec::new();
    let screw = &kit.screw;
    of(&mut all, screw.pitch);
    of(&mut all, screw.thread_friction);
    of(&mut all, screw.tip_friction);
    of(&mut all, screw.tip_radius);
    of(&mut all, kit.hand);
    of(&mut all, kit.side_moment);
    of(&mut all, kit.pin_play);
    of(&mut all, kit.pin_friction);
    of(&mut all, kit.torque_error.map(Bounds::exactly));
    of(&mut all, kit.safety_factor.map(Bounds::exactly));
    for gasket in &kit.gaskets {
        of(&mut all, gasket.least);
        of(&mut all, gasket.most);
    }
    let strengths = kit.materials.iter().map(|m| &m.strength).chain(&service.sidewall);
    for strength in strengths {
        of(&mut all, strength.yielding);
        of(&mut all, strength.tensile);
        of(&mut all, strength.modulus);
    }
    for bolts in service.housing_bolts.iter().chain(&service.cover_bolts) {
        of(&mut all, Some(bolts.shear_strength));
    }
    match service.lading.as_ref().and_then(|l| l.pressure.as_ref()) {
        Some(LadingPressure::Stated { gauge, .. }) => of(&mut all, Some(*gauge)),
        Some(LadingPressure::Vapour { temperature, air, .. }) => {
            of(&mut all, Some(*temperature));
            of(&mut all, *air);
        }
        None => {}
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// A value behind any key of the sealing replaced by another, or its numbers by others: it is refused
    /// with a remedy, or what is read of it is finite and never negative.
    #[test]
    fn any_value_behind_a_key_of_the_sealing_is_read_right_or_refused(
        at in any::<prop::sample::Index>(),
        (other, value, numbers) in (any::<bool>(), any_value(), any_numbers()),
    ) {
        let bench = Bench::new();
        for (name, document, keys) in [
            ("case.toml", sealing::case(), sealing::CASE_KEYS),
            ("kit.toml", sealing::kit(), sealing::KIT_KEYS),
        ] {
            let is_key = |line: &&str| keys.iter().any(|k| line.starts_with(&format!("{k} =")));
            let lines: Vec<&str> = document.lines().filter(is_key).collect();
            let line = lines[at.index(lines.len())];
            let (key, was) = line.split_once(" = ").unwrap();
            let value = if other { value.clone() } else { with_numbers(was, &numbers) };
            let text = document.replacen(line, &format!("{key} = {value}"), 1);
            bench.write(name, text.as_bytes());
            if let Some(faults) = read(&bench, name) {
                sound(&faults, text.as_bytes());
                continue;
            }
            let (mut kit, mut service) = (KitFigures::default(), Service::default());
            match name {
                "case.toml" => service = bench.case().unwrap().service,
                _ => kit = bench.kit().unwrap().kit.hold,
            }
            for range in ranges(&kit, &service) {
                let right = range.low >= 0.0 && range.low <= range.high && range.high.is_finite();
                prop_assert!(right, "{key} = {value}: {range:?}");
            }
        }
    }

    #[test]
    fn documents_with_bytes_changed(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let bench = Bench::new();
        for (name, document) in documents() {
            let mut bytes = document.as_bytes().to_vec();
            for (at, to) in &changes {
                let at = at.index(bytes.len());
                bytes[at] = *to;
            }
            bench.write(name, &bytes);
            if let Some(faults) = read(&bench, name) {
                sound(&faults, &bytes);
            }
        }
        prop_assert_eq!(bench.files().len(), 9);
    }

    #[test]
    fn documents_with_lines_lost_or_swapped(
        cuts in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>()), 1..5),
    ) {
        let bench = Bench::new();
        for (name, document) in documents() {
            let mut lines: Vec<&str> = document.lines().collect();
            for (from, to) in &cuts {
                let line = lines.remove(from.index(lines.len()));
                if to.index(2) == 0 {
                    lines.insert(to.index(lines.len()), line);
                }
            }
            let text = lines.join("\n");
            bench.write(name, text.as_bytes());
            if let Some(faults) = read(&bench, name) {
                sound(&faults, text.as_bytes());
            }
        }
    }

    #[test]
    fn meshes_with_bytes_changed(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        text in any::<bool>(),
    ) {
        let triangles = meshes_of_the_bench().remove(0).1;
        let mut bytes =
            if text { ascii(&triangles).into_bytes() } else { binary("bench", &triangles) };
        for (at, to) in &changes {
            let at = at.index(bytes.len());
            bytes[at] = *to;
        }
        let bench = Bench::new();
        bench.write("plate.stl", &bytes);
        if let Err(faults) = bench.case() {
            sound(&faults, CASE.as_bytes());
        }
    }
}

#[test]
fn deep_nesting_is_refused() {
    let bench = Bench::new();
    let deep = format!("format = {}1{}\n", "[".repeat(50_000), "]".repeat(50_000));
    bench.write("kit.toml", deep.as_bytes());
    assert!(bench.kit().is_err());
}

#[test]
fn faults_carry_their_source_for_a_renderer() {
    let bench = Bench::new();
    bench.write("kit.toml", KIT.replace("slot = \"40 mm\"", "slot = 40").as_bytes());
    let faults = bench.kit().expect_err("a bare number");
    let mut text = String::new();
    // The narrating handler of miette reads message, label, source and help through Diagnostic.
    let fault = faults.iter().next().unwrap();
    miette::NarratableReportHandler::new().render_report(&mut text, fault).unwrap();
    for part in ["bare number", "slot = 40", "has no unit", "write slot"] {
        assert!(text.contains(part), "{part:?} is not in {text}");
    }
    assert_eq!(faults.related().unwrap().count(), faults.count());
}
