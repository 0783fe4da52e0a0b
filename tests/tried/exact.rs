//! The first example from its STEP file beside the same from its meshes. Open CASCADE made both of one
//! shape; the meshes are its own.

use crate::{Example, example, examples};
use fitup::{Assessment, Margin, Scene, Situation, assess};
use measure::Interval;
use std::fs;

/// The case with every body from the assembly, to be read.
fn from_step() -> Example {
    let folder = tempfile::tempdir().unwrap();
    let car = examples().join("pressure-car");
    fs::copy(car.join("pressure-car.step"), folder.path().join("pressure-car.step")).unwrap();
    let mut case = fs::read_to_string(car.join("case.toml")).unwrap();
    // An assembly of pieces is named by its pieces.
    let assemblies = ["hinge-lugs", "housing-studs", "manway-studs"];
    let mut changed = 0;
    for mesh in fs::read_dir(car.join("mesh")).unwrap() {
        let name = mesh.unwrap().file_name().into_string().unwrap();
        let name = name.trim_end_matches(".stl");
        let was = format!("file = \"mesh/{name}.stl\"\nunit = \"mm\"\n");
        let body = if assemblies.contains(&name) { format!("*/{name}/*") } else { name.to_owned() };
        changed += case.matches(&was).count();
        case = case.replace(&was, &format!("file = \"pressure-car.step\"\nbody = \"{body}\"\n"));
    }
    assert_eq!(changed, 31);
    fs::write(folder.path().join("case.toml"), case).unwrap();
    let read = intake::read_case(&folder.path().join("case.toml")).unwrap();
    assert_eq!(read.findings, []);
    Example::of(read.car, intake::read_kit(&examples().join("kit.toml")).unwrap().kit)
}

fn margins(assessment: &Assessment) -> impl Iterator<Item = &Margin> {
    assessment.outcomes.iter().flat_map(|o| &o.margins)
}

fn of<'m>(all: &'m Assessment, one: &Margin) -> Vec<&'m Margin> {
    let same = |m: &&Margin| (m.check, m.rule, m.a, m.b) == (one.check, one.rule, one.a, one.b);
    margins(all).filter(same).collect()
}

#[test]
fn the_first_example_from_step_has_the_verdicts_and_margins_of_its_meshes() {
    let (meshes, exact) = (example(), from_step());
    for (one, other) in meshes.record.fittings.iter().zip(&exact.record.fittings) {
        let name = &one.name;
        assert_eq!((name, one.verdict), (&other.name, other.verdict), "{name}");
        assert_eq!((one.basis, &one.cup), (other.basis, &other.cup), "{name}");
        assert_eq!(one.cups.len(), other.cups.len(), "{name}");
        for (one, other) in one.cups.iter().zip(&other.cups) {
            assert_eq!((&one.cup, one.verdict), (&other.cup, other.verdict), "{name}");
        }
        if one.verdict.is_fit() {
            assert_eq!(one.removed, other.removed, "{name}");
        }
    }
    // At one placement both hold the true margin of the one true shape, each within what its bodies state.
    let scenes = [meshes.scene(), exact.scene()];
    let stated =
        |e: &Example| e.car.bodies.iter().map(|b| b.body.deviation.bound).fold(0.0, f64::max);
    let apart = stated(meshes) + stated(&exact);
    assert!(apart < 0.3, "{apart}");
    let mut compared = 0;
    for fitting in &meshes.found.fittings {
        let best = meshes.bests.find(fitting.fitting, None).unwrap();
        let found = scenes.each_ref().map(|scene: &Scene<'_>| {
            assess(&Situation::new(scene, &best.choice, &best.placement).unwrap())
        });
        for (one, other) in found[0].outcomes.iter().zip(&found[1].outcomes) {
            assert_eq!((one.check, &one.undecided), (other.check, &other.undecided));
        }
        assert_eq!(found[0].stand(), found[1].stand());
        for one in margins(&found[0]) {
            let (same, theirs) = (of(&found[0], one), of(&found[1], one));
            assert_eq!(same.len(), theirs.len(), "{one:?}");
            // Several of the same parts, as contacts at two links, come least first.
            let at = same.iter().position(|m| std::ptr::eq(*m, one)).unwrap();
            let both = [one.margin, theirs[at].margin];
            let [a, b] = both;
            let what = format!("{:?} {:?} {:?}: {a:?} {b:?}", one.rule, one.a, one.b);
            // What a contact may be off by design grows with what is stated.
            assert!(one.rule.is_tolerance() || a.low <= b.high && b.low <= a.high, "{what}");
            // How deep parts run into each other is only bounded.
            let narrow = |i: &Interval| i.width() < 2.0;
            if both.iter().all(narrow) {
                assert!((a.low - b.low).abs() <= 2.0 * apart, "{what}");
                assert!((a.high - b.high).abs() <= 2.0 * apart, "{what}");
            }
            compared += 1;
        }
    }
    assert!(compared > 500, "{compared}");
    // What is told of another placement is not the same: the comparison can fail.
    let best = |name: &str| meshes.bests.find(meshes.fitting(name), None).unwrap();
    let (one, other) = (best("LV1"), best("VV1"));
    let moved = assess(&Situation::new(&scenes[1], &other.choice, &other.placement).unwrap());
    let still = assess(&Situation::new(&scenes[0], &one.choice, &one.placement).unwrap());
    let differs = |m: &Margin| {
        of(&moved, m).first().is_none_or(|o| (o.margin.low - m.margin.low).abs() > 2.0 * apart)
    };
    assert!(margins(&still).any(differs));
}
