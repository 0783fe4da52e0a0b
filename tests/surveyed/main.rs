//! Drafts of car tops whose truth is known: the examples, by the script that makes them, and car tops
//! drawn by chance, in any frame and under any names.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod scanned;
mod traps;
mod truth;
mod variants;

#[path = "../verdicts/support/chance.rs"]
mod chance;
#[path = "../verdicts/support/sample_car.rs"]
#[allow(dead_code, reason = "shared with the tests of verdicts")]
mod sample_car;

use assembly::CarTop;
use assembly::car_top::LidState;
use chance::Chance;
use nalgebra::{Isometry3, UnitQuaternion, Vector3};
use sample_car::{sample, turned};
use std::fmt::Write as _;
use std::path::Path;
use truth::{Compared, bodies, compare, drafted, told};

fn example(name: &str) -> CarTop {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    intake::read_case(&path.join("case.toml")).unwrap_or_else(|f| panic!("{}", f.render())).car
}

fn nameless(i: usize, _: &str) -> String {
    format!("body-{:02}", i + 1)
}

fn named(_: usize, name: &str) -> String {
    name.to_owned()
}

/// Any turn and a shift of some metres.
fn pose(chance: &mut Chance) -> Isometry3<f64> {
    let mut side = |far: f64| chance.between(-far, far);
    let shift = Vector3::new(side(2e3), side(2e3), side(2e3));
    let turn = Vector3::new(side(3.0), side(3.0), side(3.0));
    Isometry3::from_parts(shift.into(), UnitQuaternion::from_scaled_axis(turn))
}

/// The count, and the worst of each figure.
fn shown(name: &str, compared: &Compared) -> String {
    let mut text = format!(
        "{name}: {} found, {} asked, {} wrong, off by {:.4} mm at most\n",
        compared.found,
        compared.asked,
        compared.wrong.len(),
        compared.off
    );
    for (what, off) in &compared.worst {
        writeln!(text, "    {what}: {off:.4} mm").unwrap();
    }
    text
}

#[test]
fn the_examples_are_recovered() {
    // The second is a survey with noise of 0.9 mm, stated as 2.5 mm.
    for (name, most) in
        [("pressure-car", 0.1), ("pressure-car-vv2-moved", 0.1), ("odd-housing", 2.5)]
    {
        let car = example(name);
        for turned in [false, true] {
            let pose = if turned { pose(&mut Chance::new(5)) } else { Isometry3::identity() };
            for (kind, names) in
                [("named", &named as &dyn Fn(usize, &str) -> String), ("nameless", &nameless)]
            {
                let draft = drafted(&bodies(&car, &pose, names), &pose).unwrap();
                let compared = compare(&car, &draft, &pose, most);
                println!("{}", shown(&format!("{name}, {kind}, turned {turned}"), &compared));
                println!("{}", told(&draft));
                assert!(compared.wrong.is_empty(), "{name} {kind} {turned}: {:#?}", compared.wrong);
            }
        }
    }
}

/// The same car top turned so that its hinge, where it has one, stands in +x, as a plate frame has it.
fn hinge_in_front(car: CarTop) -> CarTop {
    match &car.lid {
        LidState::Hinged(lid) => {
            let toward = lid.axis.cross(&Vector3::z());
            turned(&car, -toward.y.atan2(toward.x))
        }
        _ => car,
    }
}

#[test]
fn car_tops_drawn_by_chance_are_recovered_or_asked_about() {
    let mut all = Compared::default();
    let mut drafts = 0;
    for number in 0..120 {
        let car = hinge_in_front(sample(number).car);
        let mut chance = Chance::new(0x5EEC + number);
        let pose = pose(&mut chance);
        let names: &dyn Fn(usize, &str) -> String =
            if number % 2 == 0 { &nameless } else { &named };
        let most = 0.1;
        match drafted(&bodies(&car, &pose, names), &pose) {
            Ok(draft) => {
                drafts += 1;
                all.add(compare(&car, &draft, &pose, most), &format!("sample {number}"));
            }
            Err(unfound) => all.wrong.push(format!("sample {number}: {unfound}")),
        }
    }
    println!("{}", shown(&format!("{drafts} car tops"), &all));
    assert!(
        all.wrong.is_empty(),
        "{} wrong: {:#?}",
        all.wrong.len(),
        &all.wrong[..all.wrong.len().min(40)]
    );
    assert!(all.found > 20 * drafts, "{} found of {drafts}", all.found);
}

/// Every thing whose name says that it is another: each must be asked about, and nothing stated may be
/// wrong for it.
#[test]
fn names_that_lie_are_asked_about() {
    let car = example("pressure-car");
    let lies = [
        ("plate", "lid"),
        ("lid", "plate"),
        ("housing", "hinge pin"),
        ("hinge-pin", "port cover"),
        ("cover-90", "stud"),
        ("manway-studs", "housing"),
        ("lv1-body", "handwheel"),
        ("vv1-handwheel", "plate"),
    ];
    for (name, lie) in lies {
        let lying = |_: usize, own: &str| if own == name { lie } else { own }.to_owned();
        let pose = pose(&mut Chance::new(9));
        let draft = drafted(&bodies(&car, &pose, &lying), &pose).unwrap();
        let compared = compare(&car, &draft, &pose, 0.1);
        let about = format!("body \"{lie}\"");
        assert!(draft.questions.iter().any(|q| q.about == about), "{name}: {}", told(&draft));
        assert!(compared.wrong.is_empty(), "{name} as {lie}: {:#?}", compared.wrong);
    }
}

/// Names in any order: whatever is stated without a question must still be so, but for kinds, which
/// only names tell.
#[test]
fn shuffled_names_make_nothing_wrong() {
    let car = example("pressure-car");
    // "body" says that a piece stays, and where nothing in its shape speaks against it, so be it.
    let names: Vec<String> = car.bodies.iter().map(|b| b.body.name.replace("-body", "")).collect();
    for seed in 0..12 {
        let mut chance = Chance::new(seed);
        let mut mixed = names.clone();
        for i in (1..mixed.len()).rev() {
            mixed.swap(i, chance.below(i + 1));
        }
        let pose = Isometry3::identity();
        let draft = drafted(&bodies(&car, &pose, &|i, _| mixed[i].clone()), &pose).unwrap();
        let compared = compare(&car, &draft, &pose, 0.1);
        let wrong: Vec<&String> =
            compared.wrong.iter().filter(|w| !w.contains(" is no ")).collect();
        assert!(wrong.is_empty(), "{seed}: {wrong:#?}\n{}", told(&draft));
        assert!(draft.questions.len() > 20, "{seed}: {}", told(&draft));
    }
}
