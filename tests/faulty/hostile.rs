//! Documents and meshes cut off or changed anywhere: never a panic, never a file written.

use crate::bench::{Bench, CASE, KIT};
use crate::meshes::{ascii, bench as meshes_of_the_bench, binary};
use intake::Faults;
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
    assert_eq!(bench.files().len(), 8, "a file was left behind");
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
    assert_eq!(bench.files().len(), 8, "a file was left behind");
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

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn documents_with_bytes_changed(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let bench = Bench::new();
        for (name, document) in [("case.toml", CASE), ("kit.toml", KIT)] {
            let mut bytes = document.as_bytes().to_vec();
            for (at, to) in &changes {
                let at = at.index(bytes.len());
                bytes[at] = *to;
            }
            bench.write(name, &bytes);
            let faults = if name == "case.toml" { bench.case().err() } else { bench.kit().err() };
            if let Some(faults) = faults {
                sound(&faults, &bytes);
            }
        }
        prop_assert_eq!(bench.files().len(), 8);
    }

    #[test]
    fn documents_with_lines_lost_or_swapped(
        cuts in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>()), 1..5),
    ) {
        let bench = Bench::new();
        for (name, document) in [("case.toml", CASE), ("kit.toml", KIT)] {
            let mut lines: Vec<&str> = document.lines().collect();
            for (from, to) in &cuts {
                let line = lines.remove(from.index(lines.len()));
                if to.index(2) == 0 {
                    lines.insert(to.index(lines.len()), line);
                }
            }
            let text = lines.join("\n");
            bench.write(name, text.as_bytes());
            let faults = if name == "case.toml" { bench.case().err() } else { bench.kit().err() };
            if let Some(faults) = faults {
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
