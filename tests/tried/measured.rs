//! What is measured at a placement.

use crate::example;
use assembly::Edit;
use assembly::placement::Removed;
use assembly::rig::RigPart;
use fitup::{Check, Measured, Memory, Part, Rule, Situation, Stand, assess};
use measure::{Angle, LengthUnit};
use nalgebra::Vector2;
use review::record::Bounds;
use tryout::{ArcState, RowState, edited, recheck, recheck_again, ring, words};

#[test]
fn the_best_placement_has_the_margin_of_the_record() {
    let example = example();
    let scene = example.scene();
    let mut compared = 0;
    for (fitting, written) in example.found.fittings.iter().zip(&example.record.fittings) {
        let Some(best) = example.bests.find(fitting.fitting, None) else { continue };
        let tried = recheck(&scene, best).unwrap();
        assert_eq!(tried.least.map(Bounds::from), written.least_margin_mm, "{}", written.name);
        let limit = tried.limit.unwrap();
        if written.verdict.is_fit() {
            assert_eq!(tried.stand, Stand::NothingShort);
            assert_eq!(Some(&limit.told), written.limit.as_ref(), "{}", written.name);
        } else {
            assert_eq!(tried.stand, Stand::Short);
        }
        compared += 1;
    }
    assert!(compared >= 8, "only {compared} fittings have a placement");
}

#[test]
fn the_list_holds_every_margin_of_the_assessment() {
    let example = example();
    let scene = example.scene();
    let best = example.bests.find(example.fitting("LV2"), None).unwrap();
    let tried = recheck(&scene, best).unwrap();
    let situation = Situation::new(&scene, &best.choice, &best.placement).unwrap();
    let assessment = assess(&situation);
    let count: usize = assessment.outcomes.iter().map(|o| o.margins.len()).sum();
    assert_eq!(tried.rows.len(), count);
    assert!(tried.rows.windows(2).all(|w| w[0].margin.low <= w[1].margin.low));
    assert!(tried.rows.iter().all(|row| row.state == RowState::Kept));
    assert!(tried.rows.iter().any(|row| row.witness.is_some()));
}

/// Memory changes nothing, to the bit, whatever is done one after the other.
#[test]
fn what_is_remembered_is_what_is_measured() {
    let example = example();
    let scene = example.scene();
    for name in ["LV1", "SV"] {
        let memory = Memory::new(&scene);
        let mut setup = example.bests.find(example.fitting(name), None).unwrap().clone();
        let piece = Removed { fitting: setup.choice.fitting, removable: 0 };
        let port = setup.choice.ports[0];
        let bearing = |deg| Edit::OutletBearing(Angle::from_degrees(deg));
        let edits = [
            bearing(-60.0),
            bearing(-61.0),
            Edit::CupOffset(Vector2::new(1.5, -0.5)),
            Edit::LidOpening(Angle::from_degrees(95.0)),
            Edit::FootShift { port, shift: 4.0 },
            bearing(-60.0),
            Edit::PutBack(piece),
            Edit::Cup(3),
            Edit::BarSlide(2.0),
            Edit::ElbowTurn(1),
            Edit::TakeOff(Removed { removable: 1, ..piece }),
            Edit::Cup(2),
        ];
        for edit in &edits {
            setup = edited(&example.car, &example.kit, &setup, edit).unwrap();
            let remembered = recheck_again(&memory, &setup).unwrap();
            assert_eq!(remembered, recheck(&scene, &setup).unwrap(), "{name} {edit:?}");
            assert_eq!(remembered, recheck_again(&memory, &setup).unwrap(), "{name} {edit:?}");
        }
    }
}

/// Where a check has nothing near, it tells its least gap and no other; with memory it is the same, whatever
/// was the least one before. All pairs are measured here to compare.
#[test]
fn a_check_with_nothing_near_tells_its_least_gap() {
    const NEAR: f64 = 40.0;
    let example = example();
    let scene = example.scene();
    let mut compared = [0, 0];
    for name in ["PRD", "GD"] {
        let best = example.bests.find(example.fitting(name), None).unwrap();
        let memory = Memory::new(&scene);
        for step in [0, 9, -9, 4, 5, -5, 7, -2] {
            let shift = Vector2::new(1.0, 0.6) * f64::from(step);
            let edit = Edit::CupOffset(best.placement.cup_offset + shift);
            let setup = edited(&example.car, &example.kit, best, &edit).unwrap();
            assert_eq!(recheck_again(&memory, &setup), recheck(&scene, &setup), "{name} {step}");
            let situation = Situation::new(&scene, &setup.choice, &setup.placement).unwrap();
            let low = |part, id| {
                let need = example.kit.rules.need(RigPart::kind(part), situation.kind(id));
                let (a, b) = (Part::Rig(part), Part::Car(id));
                match situation.between(a, b, 600.0) {
                    Measured::Between(found, _) => {
                        found.low - situation.deviation(a) - situation.deviation(b) - need
                    }
                    Measured::Beyond(_) => f64::INFINITY,
                    Measured::Undecided(why) => panic!("{name} {step}: {why}"),
                }
            };
            for outcome in assess(&situation).outcomes {
                if !matches!(outcome.check, Check::Neighbours | Check::Housing) {
                    continue;
                }
                let told: Vec<f64> = outcome
                    .margins
                    .iter()
                    .filter(|margin| margin.rule == Rule::Gap)
                    .map(|margin| margin.margin.low)
                    .collect();
                let mut least = f64::INFINITY;
                for part in situation.rig_parts() {
                    for id in situation.present() {
                        if fitup::checks::owner_on_car(&situation, part, id) == outcome.check {
                            least = least.min(low(part, id));
                        }
                    }
                }
                let is_far = least > NEAR;
                assert!((told[0] - least).abs() < 1e-9, "{name} {step}: {} {least}", told[0]);
                assert!(!is_far || told.len() == 1, "{name} {step}: {told:?}");
                compared[usize::from(is_far)] += 1;
            }
        }
    }
    assert!(compared.iter().all(|count| *count > 5), "{compared:?}");
}

#[test]
fn a_hand_placement_is_told_in_words_that_are_no_verdict() {
    let example = example();
    let scene = example.scene();
    let best = example.bests.find(example.fitting("LV2"), None).unwrap();
    let told = |edit: &Edit, unit| {
        let setup = edited(&example.car, &example.kit, best, edit).unwrap();
        words::headline(&recheck(&scene, &setup).unwrap(), unit)
    };
    let at = |clock: &str| Edit::OutletBearing(clock.parse().unwrap());
    let link = Edit::LinkThickness {
        port: example.port("P0"),
        side: assembly::placement::Side::Outside,
        thickness: 2,
    };
    let lv1 = example.bests.find(example.fitting("LV1"), None).unwrap();
    let lv1 = edited(&example.car, &example.kit, lv1, &link).unwrap();
    let lines = [
        told(&at("9 o'clock"), LengthUnit::Inch),
        told(&at("9 o'clock"), LengthUnit::Millimetre),
        told(&at("8 o'clock"), LengthUnit::Inch),
        told(&at("12 o'clock"), LengthUnit::Inch),
        told(&at("11 o'clock"), LengthUnit::Inch),
        words::headline(&recheck(&scene, &lv1).unwrap(), LengthUnit::Inch),
    ];
    // As `overcup check --fitting LV2` has the limit and the least margin.
    assert_eq!(
        lines,
        [
            "at this placement nothing is short: least 0.034 in, gap, gasket to lv2-body",
            "at this placement nothing is short: least 0.87 mm, gap, gasket to lv2-body",
            "short at this placement: the outlet runs 0.868 in or more into the housing, where a gap \
             of 0.197 in is asked for",
            "short at this placement: the outlet runs 1.649 in or more into the prd-body, where a gap \
             of 0.197 in is asked for; one more is short",
            "short at this placement: the outlet handle's swing runs 0.414 in or more into the clamp \
             bar, where a gap of 0.197 in is asked for; 2 more are short",
            "cannot tell at this placement: the cup stands 0.043 to 0.155 in from the lower pin at \
             P0, where a gap of 0.118 in is asked for",
        ]
    );
    for word in ["fits", "does not fit", "verdict"] {
        assert!(lines.iter().all(|line| !line.contains(word)), "{word}");
    }
}

/// The ring says of a bearing what a check of that very placement says of the outlet there.
#[test]
fn the_ring_agrees_with_the_checks_all_round() {
    let example = example();
    let scene = example.scene();
    for name in ["LV1", "LV2", "PRD"] {
        let best = example.bests.find(example.fitting(name), None).unwrap();
        let ring = ring(&scene, best, &|| false).unwrap();
        let there = ring.pointed_at().map(|arc| arc.state);
        assert!(matches!(there, Some(ArcState::Free | ArcState::Tight)), "{name}: {there:?}");
        // It goes once round without a hole.
        let turn: f64 = ring.arcs.iter().map(|a| a.ends[1].degrees() - a.ends[0].degrees()).sum();
        assert!((turn - 360.0).abs() < 1e-6, "{name}: {turn}");
        for pair in ring.arcs.windows(2) {
            assert!((pair[0].ends[1].degrees() - pair[1].ends[0].degrees()).abs() < 1e-9);
        }
        let mut seen = [0; 4];
        for step in 0..72 {
            let bearing = Angle::from_degrees(5.0 * f64::from(step) + 0.25);
            let edit = Edit::OutletBearing(bearing);
            let setup = edited(&example.car, &example.kit, best, &edit).unwrap();
            let situation = Situation::new(&scene, &setup.choice, &setup.placement).unwrap();
            let least = fitup::checks::least_of(&situation, &fitup::search::TURNING, 40.0);
            let least = least.map_or(f64::INFINITY, |m| m.margin.low);
            let state = ring.at(bearing).unwrap().state;
            seen[state as usize] += 1;
            match state {
                ArcState::Free | ArcState::Tight => assert!(least > 0.0, "{name} {bearing:?}"),
                ArcState::Blocked => assert!(least <= 0.0, "{name} {bearing:?}: {least}"),
                ArcState::NotKnown => {}
            }
        }
        // Next to nothing is left open, and there is something of either kind.
        assert!(seen[ArcState::NotKnown as usize] <= 4 && seen[0] + seen[1] > 0 && seen[2] > 0);
    }
}

#[test]
fn a_ring_that_nobody_waits_for_is_given_up() {
    let example = example();
    let scene = example.scene();
    let best = example.bests.find(example.fitting("LV2"), None).unwrap();
    assert!(ring(&scene, best, &|| true).is_none());
    assert!(tryout::around(&scene, best, &|| true).is_none());
    let around = tryout::around(&scene, best, &|| false).unwrap();
    assert_eq!(around.setup, *best);
    // The land under LV2's gasket is flat and bare: half an inch and more of it all round.
    let land = around.land.unwrap();
    assert!(land.seal_width.low > 12.7 && land.unseen.is_none());
}

/// With the elbow as it is, no more is free than with the elbow turned as suits best, which the record
/// has.
#[test]
fn what_the_ring_calls_free_is_free_in_the_record() {
    let example = example();
    let scene = example.scene();
    let mut compared = 0;
    for (fitting, written) in example.found.fittings.iter().zip(&example.record.fittings) {
        if !written.verdict.is_fit() {
            continue;
        }
        let best = example.bests.find(fitting.fitting, None).unwrap();
        let ring = ring(&scene, best, &|| false).unwrap();
        let is_free =
            |arc: &&tryout::RingArc| matches!(arc.state, ArcState::Free | ArcState::Tight);
        for arc in ring.arcs.iter().filter(is_free) {
            let middle = 0.5 * (arc.ends[0].degrees() + arc.ends[1].degrees());
            for at in [arc.ends[0].degrees(), middle, arc.ends[1].degrees()] {
                let holds = |[from, to]: &[f64; 2]| {
                    (at - from + 1e-6).rem_euclid(360.0) <= to - from + 2e-6
                };
                assert!(written.free_bearings_deg.iter().any(holds), "{} {at}", written.name);
                compared += 1;
            }
        }
    }
    assert!(compared > 20, "only {compared} bearings were compared");
}

#[test]
fn what_is_set_up_is_told_in_the_users_unit() {
    let example = example();
    let best = example.bests.find(example.fitting("LV2"), None).unwrap();
    let told = |setup, unit| -> Vec<String> {
        let all = words::settings(&example.car, &example.kit, setup, unit);
        all.into_iter().map(|[what, value]| format!("{what}: {value}")).collect()
    };
    // As `overcup check --fitting LV2` has the placement.
    assert_eq!(
        told(best, LengthUnit::Inch),
        [
            "fitting: LV2, 2 in liquid valve",
            "cup: C",
            "taken off: handwheel, outlet plug",
            "cup's axis: on the fitting's centreline",
            "outlet: 9:01 o'clock (89.4 deg)",
            "elbow: 11 o'clock",
            "foot at P0: in the port's middle",
            "links at P0: 1.00 in inside, 0.75 in outside, hole 3 (11.50 in)",
            "foot at P180: in the port's middle",
            "links at P180: 1.00 in inside, 1.00 in outside, hole 3 (11.50 in)",
            "bar: its middle midway",
            "screw below the bar: 4.39 in",
            "lid open: 115.0 deg",
        ]
    );
    let mut setup = best.clone();
    for edit in [
        Edit::CupOffset(Vector2::new(-12.7, 2.54)),
        Edit::FootShift { port: example.port("P180"), shift: -5.08 },
        Edit::BarSlide(-2.54),
        Edit::PutBack(Removed { fitting: setup.choice.fitting, removable: 1 }),
    ] {
        setup = edited(&example.car, &example.kit, &setup, &edit).unwrap();
    }
    let lines = told(&setup, LengthUnit::Inch);
    for line in [
        "taken off: handwheel",
        "cup's axis: 0.50 in away from the hinge, 0.10 in left of it",
        "foot at P180: 0.20 in clockwise of the port's middle",
        "bar: 0.10 in toward P180",
    ] {
        assert!(lines.iter().any(|l| l == line), "{line:?} is not in {lines:#?}");
    }
    assert!(told(&setup, LengthUnit::Millimetre).iter().any(|l| l.contains("12.7 mm")));
}
