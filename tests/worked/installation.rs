//! Lowering and access on the layout whose gaps are plain arithmetic: its parts go in, and what is
//! put in the way of them, taken away or left out of the kit's steps is told.

use crate::{Layout, post, slab};
use assembly::Choice;
use assembly::car_top::Removable;
use assembly::kit::{Motion, PartKind, Step};
use assembly::placement::Removed;
use assembly::rig::RigPart;
use fitup::path::order::put_parts;
use fitup::path::simple::Manner;
use fitup::path::{Way, ways};
use fitup::{
    Assessment, Check, CheckOutcome, Effort, Part, Rule, Scene, Situation, Verdict, assess,
    assess_installation, gains, study_cup,
};
use gap::Proximity;
use nalgebra::{Translation3, Vector3};
use std::f64::consts::TAU;

fn choice() -> Choice {
    Choice { fitting: 0, cup: 0, ports: [0, 1], removed: vec![] }
}

/// The installation checks with the ways, at the layout's placement.
fn installed(layout: &Layout) -> (Assessment, Vec<Way>) {
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let choice = choice();
    let situation = Situation::new(&scene, &choice, &layout.placement).unwrap();
    let mut assessment = assess(&situation);
    let ways = assess_installation(&situation, &mut assessment, true);
    (assessment, ways)
}

fn outcome(assessment: &Assessment, check: Check) -> &CheckOutcome {
    assessment.outcomes.iter().find(|o| o.check == check).unwrap()
}

/// What lowering could not tell.
fn untold(layout: &Layout) -> Vec<String> {
    let (assessment, _) = installed(layout);
    outcome(&assessment, Check::Lowering).undecided.iter().map(|u| u.reason.clone()).collect()
}

fn manner_of(ways: &[Way], part: RigPart) -> Option<Manner> {
    let way = ways.iter().find(|w| w.lift.lead() == Some(part))?;
    way.found.as_ref().ok().map(|clear| clear.manner)
}

#[test]
fn every_part_of_the_layout_has_its_way_and_hands_have_room() {
    let layout = Layout::new();
    let (assessment, found) = installed(&layout);
    for check in [Check::Lowering, Check::Access] {
        let outcome = outcome(&assessment, check);
        assert!(outcome.undecided.is_empty(), "{:?}", outcome.undecided);
        assert!(outcome.margins.iter().all(|m| m.margin.low > 0.0), "{:?}", outcome.margins);
    }
    assert_eq!(manner_of(&found, RigPart::Cup), Some(Manner::Down));
    assert_eq!(manner_of(&found, RigPart::Bar), Some(Manner::Down));
    assert_eq!(manner_of(&found, RigPart::Screw), Some(Manner::Turned));
    // Every part is carried once, the screw twice: drawn up, and turned down.
    let mut carried: Vec<RigPart> = found.iter().flat_map(|w| w.lift.parts.clone()).collect();
    carried.sort_unstable();
    let mut expected = put_parts(&layout.kit);
    expected.push(RigPart::Screw);
    expected.sort_unstable();
    assert_eq!(carried, expected);
    // Ways end at the placement, and begin above everything or outside.
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let choice = choice();
    let situation = Situation::new(&scene, &choice, &layout.placement).unwrap();
    for way in &found {
        for &part in way.lift.parts.iter().filter(|p| **p != RigPart::Screw) {
            let points = way.waypoints(part);
            let (first, last) = (points.first().unwrap(), points.last().unwrap());
            assert_eq!(last, situation.pose.plate_from(part));
            let moved: Vector3<f64> = first.translation.vector - last.translation.vector;
            assert!(moved.norm() > 100.0, "{part:?} {moved}");
        }
    }
}

/// By brute force: at many poses of every way no part runs into a body of the car top, and parts that
/// are not to touch it keep what was proven.
#[test]
fn the_ways_of_the_layout_are_clear_by_brute_force() {
    let layout = Layout::new();
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let choice = choice();
    let situation = Situation::new(&scene, &choice, &layout.placement).unwrap();
    let mut looked_at = 0;
    for way in ways(&situation, true) {
        let clear = way.found.as_ref().unwrap();
        let parts = way.lift.parts.iter().zip(&way.places).zip(&clear.retreats);
        for ((&part, place), retreat) in parts {
            let solid = &situation.shaped(part).unwrap().solid;
            for id in situation.present() {
                let seat = matches!(
                    (part, situation.kind(id)),
                    (RigPart::Gasket, PartKind::Plate) | (RigPart::Foot(_), PartKind::Housing)
                );
                // The solid that is measured in place is filled where the fitting stands.
                if part == RigPart::Cup && situation.is_covered(id) {
                    continue;
                }
                for step in 0..=60 {
                    let out = clear.route.displacement_at(f64::from(step) / 60.0);
                    let pose = out * Translation3::from(*retreat) * place;
                    let still = scene.car_solid(id);
                    match gap::gap(still, solid, &pose, 10.0) {
                        Proximity::AtLeast(_) => {}
                        Proximity::Apart(gap) => {
                            let left = gap.distance - situation.deviation(Part::Rig(part));
                            let kept = seat || left >= clear.clearance - 1e-9;
                            assert!(kept, "{part:?} {step} {left}");
                        }
                        other => panic!("{part:?} {step}: {other:?}"),
                    }
                    looked_at += 1;
                }
            }
        }
    }
    assert!(looked_at > 2000, "{looked_at}");
}

#[test]
fn a_roof_over_the_fitting_is_named_and_without_it_there_is_a_way() {
    let mut layout = Layout::new();
    assert!(untold(&layout).is_empty());
    // Over everything, and wider than the search looks.
    let roof = slab([-3000.0, -3000.0, 1500.0], [3000.0, 3000.0, 1510.0]);
    layout.add(PartKind::Fitting, "roof", roof);
    let untold = untold(&layout);
    assert!(untold.iter().any(|why| why.contains("cup") && why.contains("roof")), "{untold:?}");
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let study = study_cup(&scene, &Effort::default(), 0, 0);
    assert_eq!(study.verdict, Verdict::CannotTell);
    assert!(study.reasons.iter().any(|r| r.why.contains("roof")), "{:?}", study.reasons);
    assert!(!study.proven);
}

#[test]
fn a_roof_that_can_be_taken_off_comes_off_though_the_rig_fits_under_it() {
    let mut layout = Layout::new();
    layout.fitting("V2", 0.0, -300.0, 30.0, 100.0);
    let roof = slab([-3000.0, -3000.0, 1500.0], [3000.0, 3000.0, 1510.0]);
    let cap = slab([-20.0, -320.0, 110.0], [20.0, -280.0, 120.0]);
    for (name, mesh) in [("roof", roof), ("cap", cap)] {
        let body = layout.add(PartKind::Fitting, name, mesh);
        layout.car.fittings[1].removables.push(Removable { name: name.into(), body });
    }
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let study = study_cup(&scene, &Effort::default(), 0, 0);
    assert_eq!(study.verdict, Verdict::FitsAfterRemoval, "{:?}", study.reasons);
    // The roof alone: the cap, which comes off after it, stays on.
    let choice = study.choice.unwrap();
    assert_eq!(choice.removed, [Removed { fitting: 1, removable: 0 }]);
    let found = gains(&scene, &choice, &study.placement.unwrap());
    assert!(found[0].with_it_on.unwrap().low > 0.0, "{found:?}");
    assert!(study.ways.iter().all(|way| way.found.is_ok()));
    assert!(study.alternatives.is_empty());
}

#[test]
fn pieces_that_must_all_come_off_do_and_what_is_not_in_the_way_stays_on() {
    // Posts on the gasket's land all round, which no shift of the cup within 14 of the fitting leaves
    // free, and one beside them: more sets than are tried.
    let mut layout = Layout::new();
    let mut add = |x: f64, y: f64| {
        layout.fitting("post", x, y, 8.0, 30.0);
        let post = layout.car.fittings.last_mut().unwrap();
        let body = post.bodies.remove(0);
        post.removables.push(Removable { name: "post".into(), body });
    };
    for turn in 0..8 {
        let (sin, cos) = (f64::from(turn) * TAU / 8.0).sin_cos();
        add(100.0 * cos, 100.0 * sin);
    }
    add(0.0, -300.0);
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let study = study_cup(&scene, &Effort { most_cells: 400, ..Effort::default() }, 0, 0);
    assert_eq!(study.verdict, Verdict::FitsAfterRemoval, "{:?}", study.reasons);
    let off: Vec<usize> = study.choice.unwrap().removed.iter().map(|r| r.fitting).collect();
    assert_eq!(off, (1..=8).collect::<Vec<_>>());
}

#[test]
fn what_each_piece_gains_is_told_by_itself() {
    // The cup has room for 266.5 of height.
    let mut layout = Layout::new();
    for (name, height) in [("nut", 290.0), ("cap", 270.0)] {
        let body = layout.add(PartKind::Fitting, name, post(0.0, 0.0, 30.0, height));
        layout.car.fittings[0].removables.push(Removable { name: name.into(), body });
    }
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let study = study_cup(&scene, &Effort::default(), 0, 0);
    let least = study.least().unwrap();
    let choice = study.choice.unwrap();
    let pieces = [0, 1].map(|removable| Removed { fitting: 0, removable });
    assert_eq!(choice.removed, pieces);
    let found = gains(&scene, &choice, &study.placement.unwrap());
    assert_eq!(found.iter().map(|gain| gain.piece).collect::<Vec<_>>(), pieces);
    let need = layout.margin(Check::Cover, Rule::Cavity, Some("V1")).need;
    for (gain, measured) in found.iter().zip([-23.5, -3.5]) {
        let (on, expected) = (gain.with_it_on.unwrap(), measured - need);
        assert!(on.low <= expected && expected <= on.high, "{on:?} without {expected}");
        assert!(on.high - on.low < 3.0 && least.low > 0.0, "{on:?}, {least:?}");
    }
}

#[test]
fn a_beam_over_the_cup_is_gone_round() {
    let mut layout = Layout::new();
    layout.add(PartKind::Fitting, "beam", slab([-20.0, -20.0, 1400.0], [20.0, 20.0, 1420.0]));
    let (_, ways) = installed(&layout);
    // The gasket goes round it; the cup is wider than any step to the side that is tried, and its
    // outlet in the way, so that it takes a tilt, a step or a search.
    assert_eq!(manner_of(&ways, RigPart::Gasket), Some(Manner::Down));
    assert!(manner_of(&ways, RigPart::Cup).is_some_and(|m| m != Manner::Down), "{ways:?}");
}

#[test]
fn steps_that_miss_a_part_or_stand_in_the_wrong_order_are_told() {
    let told = |steps: &dyn Fn(&mut Vec<Step>)| {
        let mut layout = Layout::new();
        steps(&mut layout.kit.steps);
        untold(&layout)
    };
    let has = |told: &[String], what: &str| told.iter().any(|why| why.contains(what));
    let none = told(&|steps| steps.clear());
    assert!(has(&none, "no step of the kit puts the gasket in its place"), "{none:?}");
    assert!(has(&none, "puts the pin in its place"));
    let no_pin = told(&|steps| steps.retain(|s| s.part != PartKind::Pin));
    assert_eq!(no_pin, ["no step of the kit puts the pin in its place"]);
    let cup_first = told(&|steps| steps.swap(0, 1));
    assert!(has(&cup_first, "step 1 moves the cup before the gasket is there"), "{cup_first:?}");
    let pin_first = told(&|steps| steps.swap(2, 4));
    assert!(has(&pin_first, "of which none is left"), "{pin_first:?}");
}

/// Screwed in where the cup stands, the elbow and riser sweep a disc that the plate stands in.
#[test]
fn an_outlet_screwed_into_the_standing_cup_meets_the_plate() {
    let mut layout = Layout::new();
    layout.kit.steps[1].with.clear();
    let turn = Step {
        part: PartKind::Outlet,
        with: vec![],
        motion: Motion::Turn,
        text: "made for the test".into(),
    };
    layout.kit.steps.insert(2, turn);
    let untold = untold(&layout);
    assert_eq!(untold.len(), 1, "{untold:?}");
    assert!(untold[0].contains("outlet") && untold[0].contains("plate"), "{untold:?}");
}

/// Links one by one onto pins that are there already do not come straight down. Swung about them they
/// do, for the wall is flat; else an inside link is put over the pin's end, and an outside link does not
/// pass the pin's head.
#[test]
fn links_are_swung_about_their_pins_or_put_over_their_ends() {
    use PartKind as K;
    let with = |motion: Motion| {
        let mut layout = Layout::new();
        let step = |part, with: &[PartKind], motion| Step {
            part,
            with: with.to_vec(),
            motion,
            text: "made for the test".into(),
        };
        layout.kit.steps.truncate(3);
        layout.kit.steps.extend([
            step(K::Pin, &[], Motion::Push),
            step(K::Link, &[], motion),
            step(K::Bar, &[K::Saddle, K::Pin, K::ScrewBlock, K::Screw], Motion::Lower),
            step(K::Screw, &[], Motion::Turn),
        ]);
        let scene = Scene::new(&layout.car, &layout.kit).unwrap();
        let choice = choice();
        let situation = Situation::new(&scene, &choice, &layout.placement).unwrap();
        let found = ways(&situation, true);
        let links = found.into_iter().filter(|w| matches!(w.lift.lead(), Some(RigPart::Link(..))));
        links.map(|w| w.found.ok().map(|clear| clear.manner)).collect::<Vec<_>>()
    };
    assert_eq!(with(Motion::Swing), [Some(Manner::Swung); 4]);
    let across = Some(Manner::Across);
    assert_eq!(with(Motion::Lower), [across, None, across, None]);
}

/// Two shelves above and below a pin's head leave a hand between them the half of their distance less
/// half of its height.
#[test]
fn a_hand_between_two_shelves_has_what_plain_arithmetic_leaves() {
    let mut layout = Layout::new();
    // The pin's axis is 110 up; the wall's outer face at 340.
    let from_axis = 54.0;
    for (name, z) in [("upper", 110.0 + from_axis), ("lower", 110.0 - from_axis - 10.0)] {
        let shelf = slab([395.0, -300.0, z], [700.0, 300.0, z + 10.0]);
        layout.add(PartKind::Fitting, name, shelf);
    }
    let measure = |layout: &Layout| {
        let (assessment, _) = installed(layout);
        let access = outcome(&assessment, Check::Access);
        let pin = RigPart::LowerPin(assembly::placement::End::A);
        let found = access.margins.iter().find(|m| m.a == Part::Rig(pin)).unwrap();
        assert_eq!(found.rule, Rule::HandRoom);
        (found.measured, access.undecided.len(), assessment.least().unwrap().low)
    };
    let (measured, undecided, _) = measure(&layout);
    let exact = from_axis - 0.5 * layout.kit.rules.hand_room[1];
    assert!((measured.middle() - exact).abs() < 1e-6, "{measured:?} {exact}");
    assert!(measured.low > 0.0 && undecided == 0);
    // A hand as high as the shelves are apart has no room, and that is no fit.
    layout.kit.rules.hand_room = [2.0 * from_axis; 3];
    let (measured, undecided, least) = measure(&layout);
    assert!(measured.low < 0.0 && undecided > 0 && least > 0.0);
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let study = study_cup(&scene, &Effort::default(), 0, 0);
    assert_eq!(study.verdict, Verdict::CannotTell, "{:?}", study.reasons);
    assert!(study.reasons.iter().any(|r| r.why.contains("gloved hand")), "{:?}", study.reasons);
}
