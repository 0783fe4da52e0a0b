//! Edits by hand.

use crate::example;
use assembly::Edit;
use assembly::placement::{Removed, Side};
use assembly::rig;
use measure::Angle;
use nalgebra::Vector2;
use proptest::prelude::*;
use tryout::{Act, Ranges, Refused, Session, Setup, edited};

/// Edits with wild numbers and indices near the ends of what there is.
fn edits() -> impl Strategy<Value = Edit> {
    let number = prop_oneof![
        4 => -60.0..60.0_f64,
        1 => -1e4..1e4_f64,
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(f64::NEG_INFINITY)
    ];
    let piece =
        (0..9_usize, 0..4_usize).prop_map(|(fitting, removable)| Removed { fitting, removable });
    let side = prop_oneof![Just(Side::Inside), Just(Side::Outside)];
    prop_oneof![
        (0..6_usize).prop_map(Edit::Cup),
        [0..5_usize, 0..5_usize].prop_map(Edit::Ports),
        piece.clone().prop_map(Edit::TakeOff),
        piece.prop_map(Edit::PutBack),
        [number.clone(), number.clone()].prop_map(|[x, y]| Edit::CupOffset(Vector2::new(x, y))),
        number.clone().prop_map(|n| Edit::OutletBearing(Angle::from_degrees(20.0 * n))),
        (0..3_usize).prop_map(Edit::ElbowTurn),
        number.clone().prop_map(|n| Edit::LidOpening(Angle::from_degrees(4.0 * n))),
        number.clone().prop_map(Edit::BarSlide),
        number.clone().prop_map(|n| Edit::ScrewExtension(10.0 * n)),
        (0..5_usize, number).prop_map(|(port, shift)| Edit::FootShift { port, shift }),
        (0..5_usize, side, 0..4_usize).prop_map(|(port, side, thickness)| Edit::LinkThickness {
            port,
            side,
            thickness
        }),
        (0..5_usize, 0..5_usize).prop_map(|(port, hole)| Edit::LinkHole { port, hole }),
    ]
}

fn acts() -> impl Strategy<Value = Act> {
    prop_oneof![
        6 => edits().prop_map(Act::Edit),
        4 => edits().prop_map(Act::Drag),
        1 => Just(Act::Drop),
        1 => Just(Act::Best),
        2 => Just(Act::Undo),
        2 => Just(Act::Redo),
    ]
}

/// Whether what is set up is within what the kit allows, and what follows has followed.
fn is_within(session: &Session, screw_is_set: bool) -> Result<(), String> {
    let (setup, example) = (session.setup(), example());
    let ranges = Ranges::of(&example.car, &example.kit, &setup.choice).ok_or("no such choice")?;
    let place = &setup.placement;
    let hair = 1e-9;
    let within = |what: &str, value: f64, [low, high]: [f64; 2]| {
        let is_within = value >= low - hair && value <= high + hair;
        if is_within { Ok(()) } else { Err(format!("{what} is {value}, not {low} to {high}")) }
    };
    within("offset", place.cup_offset.norm(), [0.0, ranges.cup_offset])?;
    within("bearing", place.outlet_bearing.degrees(), [-180.0, 180.0])?;
    within("slide", place.bar_slide, ranges.bar_slide)?;
    let lid = ranges.lid_opening.ok_or("no lid")?;
    within("lid", place.lid_opening.degrees(), lid.map(Angle::degrees))?;
    for (shift, most) in place.foot_shift.iter().zip(ranges.foot_shift) {
        within("foot", *shift, [-most, most])?;
    }
    if !example.kit.outlet.elbow_turns.contains(&place.elbow_turn) {
        return Err("no such turn of the elbow".into());
    }
    if place.link_thickness.as_flattened().iter().any(|t| *t >= ranges.link_thicknesses)
        || place.link_hole.iter().any(|h| *h >= ranges.link_holes)
    {
        return Err("no such link".into());
    }
    // Pieces come off in their order.
    for piece in &setup.choice.removed {
        let before = (0..piece.removable).map(|removable| Removed { removable, ..*piece });
        for before in before {
            if !setup.choice.removed.contains(&before) {
                return Err(format!("{before:?} is on and {piece:?} is off"));
            }
        }
    }
    let pose = rig::pose(&example.kit, &example.car, &setup.choice, place).ok_or("no pose")?;
    let off_seat = place.screw_extension - pose.extension_to_seat;
    if screw_is_set {
        return within("screw", place.screw_extension, [f64::MIN, f64::MAX]);
    }
    within("screw off its seat", off_seat, [-1e-6, 1e-6])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn edits_never_leave_what_the_kit_allows(acts in prop::collection::vec(acts(), 1..24)) {
        let mut session = example().session("LV1");
        let mut screw_is_set = false;
        for act in &acts {
            screw_is_set |= matches!(act, Act::Edit(Edit::ScrewExtension(_)) | Act::Drag(Edit::ScrewExtension(_)));
            let _ = session.act(act);
            if let Err(what) = is_within(&session, screw_is_set) {
                prop_assert!(false, "after {act:?}: {what}");
            }
        }
    }

    #[test]
    fn undoing_everything_is_as_if_nothing_had_been(acts in prop::collection::vec(acts(), 1..24)) {
        let mut session = example().session("LV2");
        let begun = session.setup().clone();
        for act in &acts {
            let _ = session.act(act);
        }
        let ended = session.setup().clone();
        let mut undone = 0;
        while session.act(&Act::Undo).is_ok() {
            undone += 1;
        }
        prop_assert_eq!(session.setup(), &begun);
        while session.can_undo_redo()[1] && undone > 0 {
            session.act(&Act::Redo).unwrap();
            undone -= 1;
        }
        prop_assert_eq!(session.setup(), &ended);
    }

    #[test]
    fn what_is_refused_changes_nothing(edit in edits()) {
        let mut session = example().session("VV1");
        let before = session.setup().clone();
        if session.act(&Act::Edit(edit)).is_err() {
            prop_assert_eq!(session.setup(), &before);
            prop_assert_eq!(session.can_undo_redo(), [false, false]);
        }
    }

    #[test]
    fn one_edit_and_its_undoing_are_nothing(edit in edits()) {
        let mut session = example().session("PRD");
        let before = session.setup().clone();
        if session.act(&Act::Edit(edit)).is_ok() && session.can_undo_redo()[0] {
            session.act(&Act::Undo).unwrap();
        }
        prop_assert_eq!(session.setup(), &before);
    }
}

#[test]
fn the_best_placement_is_the_records() {
    let example = example();
    for fitting in &example.found.fittings {
        for (i, cup) in fitting.cups.iter().enumerate() {
            let study = &cup.study;
            let (Some(choice), Some(placement)) = (&study.choice, &study.placement) else {
                continue;
            };
            let found = Setup { choice: choice.clone(), placement: placement.clone() };
            assert_eq!(example.bests.find(fitting.fitting, Some(cup.cup)), Some(&found));
            if fitting.best == Some(i) {
                assert_eq!(example.bests.find(fitting.fitting, None), Some(&found));
            }
        }
    }
    let mut session = example.session("LV2");
    let best = session.setup().clone();
    assert!(session.is_best());
    session.act(&Act::Edit(Edit::CupOffset(Vector2::new(5.0, 1.0)))).unwrap();
    session.act(&Act::Edit(Edit::LidOpening(Angle::from_degrees(70.0)))).unwrap();
    assert!(!session.is_best());
    session.act(&Act::Best).unwrap();
    assert_eq!(session.setup(), &best);
    // Another fitting comes with its own.
    let lv1 = example.fitting("LV1");
    session.act(&Act::Edit(Edit::Fitting(lv1))).unwrap();
    assert_eq!(Some(session.setup()), example.bests.find(lv1, None));
}

#[test]
fn a_drag_is_undone_as_one() {
    let mut session = example().session("LV2");
    let begun = session.setup().clone();
    let drag = |deg: f64| Act::Drag(Edit::OutletBearing(Angle::from_degrees(deg)));
    for deg in [80.0, 70.0, 60.0] {
        session.act(&drag(deg)).unwrap();
    }
    session.act(&Act::Drop).unwrap();
    session.act(&drag(50.0)).unwrap();
    session.act(&Act::Undo).unwrap();
    assert!((session.setup().placement.outlet_bearing.degrees() - 60.0).abs() < 1e-9);
    session.act(&Act::Undo).unwrap();
    assert_eq!(session.setup(), &begun);
    assert_eq!(session.act(&Act::Undo), Err(Refused::Nothing("undo")));
}

#[test]
fn what_cannot_be_is_refused_with_a_reason() {
    let example = example();
    let session = example.session("LV1");
    let refused = |edit: Edit| session.after(&edit).unwrap_err().to_string();
    let (p0, p90) = (example.port("P0"), example.port("P90"));
    assert_eq!(
        refused(Edit::Ports([p0, p90])),
        "P0 and P90 do not face away from each other, so that no bar can lie between them"
    );
    assert_eq!(refused(Edit::FootShift { port: p90, shift: 0.0 }), "no foot stands in P90");
    assert_eq!(refused(Edit::Cup(99)), "there is no such cup");
    assert_eq!(refused(Edit::BarSlide(f64::NAN)), "the bar's slide is no number");
    let only = review::Request {
        cups: vec![2],
        fittings: vec![],
        ..review::Request::everything(&example.car, &example.kit)
    };
    let nothing = review::review(&example.car, &example.kit, &only, &|_| {}).unwrap();
    assert!(tryout::Bests::of(&nothing).find(0, None).is_none());
}

/// The screw reaches down to the seat: a bar one hole higher needs as much more of it as the holes are
/// apart.
#[test]
fn the_screw_follows_the_bar() {
    let example = example();
    let best = example.bests.find(example.fitting("LV1"), None).unwrap();
    let mut setup = best.clone();
    let hole = best.placement.link_hole[0];
    for port in best.choice.ports {
        let edit = Edit::LinkHole { port, hole: hole + 1 };
        setup = edited(&example.car, &example.kit, &setup, &edit).unwrap();
    }
    let holes = &example.kit.link.holes;
    let higher = holes[hole + 1].nominal - holes[hole].nominal;
    let more = setup.placement.screw_extension - best.placement.screw_extension;
    assert!((more - higher).abs() < 1e-6, "{more} for {higher}");
    // A smaller cup stands lower, and the screw reaches down to it.
    let smaller = edited(&example.car, &example.kit, best, &Edit::Cup(1)).unwrap();
    let pose = |setup: &Setup| {
        rig::pose(&example.kit, &example.car, &setup.choice, &setup.placement).unwrap()
    };
    let lower = pose(best).seat.z - pose(&smaller).seat.z;
    let more = smaller.placement.screw_extension - best.placement.screw_extension;
    assert!(lower > 1.0 && (more - lower).abs() < 1e-6, "{more} for {lower}");
}
