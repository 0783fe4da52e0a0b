//! A whole rig: what is told when everything is given, when something is missing, and when
//! something is wrong.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

#[path = "../support/sample_rig.rs"]
mod sample_rig;

use measure::{Bounds, Force, Length, Pressure, Stress};
use sample_rig::{friction, sample_rig};
use sealing::hold::{
    Lever, MOST_ROUNDED, Mode, ModeKind, Part, Rig, Verdict, assess, highest_pressure, torque_arm,
    what_raises_it,
};
use sealing::{CodeFactors, Fault, Friction};

fn mm(value: f64) -> Bounds<Length> {
    Bounds::exactly(Length::from_mm(value))
}

fn newtons(value: f64) -> Bounds<Force> {
    Bounds::exactly(Force::from_newtons(value))
}

/// Something done to a rig.
type Change = fn(&mut Rig);

fn mpa(value: f64) -> Bounds<Pressure> {
    Bounds::exactly(Pressure::from_mpa(value))
}

fn factor(rig: &Rig, pressure: f64, kind: ModeKind) -> Option<Bounds<f64>> {
    let hold = assess(rig, mpa(pressure)).unwrap();
    hold.modes.iter().find(|m| m.kind == kind).unwrap().factor
}

#[test]
fn the_sample_rig_holds_a_moderate_pressure_and_not_a_high_one() {
    let rig = sample_rig();
    let low = assess(&rig, mpa(0.3)).unwrap();
    assert_eq!(low.verdict(rig.required_factor), Verdict::Holds, "{:#?}", low.modes);
    assert!(low.lacking().is_empty() && low.governing(1.5).is_some());
    let high = assess(&rig, mpa(10.0)).unwrap();
    assert_eq!(high.verdict(rig.required_factor), Verdict::DoesNotHold);
    for mode in &high.modes {
        assert!(!mode.kind.word().is_empty() && !mode.kind.source().is_empty());
        assert!(mode.kind.formula().contains("<="), "{}", mode.kind.formula());
    }
}

/// Loads and torques of a rig with exact sizes, by plain arithmetic beside the library's.
#[test]
fn load_torque_and_excess_come_out_as_by_hand() {
    let mut rig = sample_rig();
    (rig.gasket.face.inside, rig.gasket.face.outside) = (mm(169.0), mm(191.0));
    (rig.gasket.rim.inside, rig.gasket.rim.outside) = (mm(170.0), mm(190.0));
    rig.offset = mm(2.0);
    rig.side_moment = Some(Bounds::exactly("10 N m".parse().unwrap()));
    rig.screw.diameter = mm(38.1);
    rig.screw.pivot_radius = Some(mm(15.0));
    rig.bar.along = mm(0.0);
    let hold = assess(&rig, mpa(0.5)).unwrap();
    // The supplier's 2 N/mm2 over its own face, wider than the rim, governs over the code's m p = 0.25 N/mm2.
    let pi = std::f64::consts::PI;
    let end = pi / 4.0 * 180.0 * 180.0 * 0.5;
    let kern = (95.5_f64.powi(2) + 84.5_f64.powi(2)) / (4.0 * 95.5);
    let load = (end + 2.0 * pi * 180.0 * 11.0 + 10_000.0 / kern) / (1.0 - 2.0 / kern);
    let needed = hold.needed_load.unwrap();
    assert!((needed.middle().newtons() / load - 1.0).abs() < 1e-12);
    // As a class 2G thread is made its mean diameter is up to 0.030 sqrt(p) + 0.014 sqrt(d) inches smaller:
    // the smaller it is the steeper the thread, and the less radius friction has.
    let basic = 38.1 - 3.175;
    let made = basic - 25.4 * 0.014_f64.mul_add(1.5_f64.sqrt(), 0.030 * 0.5);
    let arm = |thread: f64, pivot: f64, [rubs, rises]: [f64; 2]| {
        let f = thread / 14.5_f64.to_radians().cos();
        0.5 * (6.35 / pi + rubs * f) / (1.0 - 6.35 / (pi * rises) * f) + 15.0 * pivot
    };
    let (least, most) = (arm(0.1, 0.08, [made, basic]), arm(0.15, 0.15, [basic, made]));
    let torque = hold.torque.unwrap();
    assert!((torque.low().newton_mm() / (load * least) - 1.0).abs() < 1e-12);
    assert!((torque.high().newton_mm() / (load * most) - 1.0).abs() < 1e-12);
    let arises = hold.screw_load.unwrap();
    // The torque is set 4 % give or take: 1 / 0.96 greater, to come out 1.04 / 0.96 as great.
    let set = hold.set_torque.unwrap();
    assert!((set.newton_mm() / (load * most / 0.96) - 1.0).abs() < 1e-12);
    let excess = most / least * 1.04 / 0.96;
    let as_set = hold.load_as_set.unwrap();
    // Told in pound-feet it may be rounded up by a tenth, 135.6 N mm, of which 4 % more may come out.
    let rounded = MOST_ROUNDED.newton_mm() * 1.04;
    assert!(MOST_ROUNDED.newton_mm() >= 135.582 && MOST_ROUNDED.newton_mm() >= 100.0);
    let most = load * excess + rounded / least;
    assert!((as_set.high().newtons() / most - 1.0).abs() < 1e-12);
    let hand = hold.modes.iter().find(|m| m.kind == ModeKind::Hand).unwrap().factor.unwrap();
    let by_hand = 600.0 * rig.screw.lever.low().mm() / (1.04 * set.newton_mm() + rounded);
    assert!((hand.low() / by_hand - 1.0).abs() < 1e-12);
    // When the outlet is closed, up to the whole end load comes on top.
    assert!((arises.high().newtons() / (most + end) - 1.0).abs() < 1e-12);
    assert!((arises.low().newtons() / load - 1.0).abs() < 1e-12);
    // The contact at the needed load: the supplier's figure where it is least.
    let [contact, _] = hold.contact.unwrap();
    assert!((contact.middle().mpa() - 2.0).abs() < 1e-9);
    // What the car bears adds up.
    let car = hold.car.unwrap();
    let sum = (car.ports[0] + car.ports[1]).interval();
    assert!(sum.encloses(car.uplift.interval()));
    let down = car.gasket + car.end_load;
    assert!((down.middle() / car.uplift.middle() - 1.0).abs() < 1e-12);
}

#[test]
fn without_a_strength_its_modes_cannot_be_told_and_the_others_are() {
    let mut rig = sample_rig();
    rig.materials.retain(|m| m.part != Part::Link);
    let hold = assess(&rig, mpa(0.3)).unwrap();
    assert_eq!(hold.verdict(1.5), Verdict::CannotTell);
    for mode in &hold.modes {
        let of_link = matches!(
            mode.kind,
            ModeKind::LinkYield
                | ModeKind::LinkRupture
                | ModeKind::LinkTearOut
                | ModeKind::LinkBearing
                | ModeKind::LinkBending
        );
        assert_eq!(mode.factor.is_none(), of_link, "{mode}");
        assert_eq!(mode.verdict(1.5) == Verdict::CannotTell, of_link, "{mode}");
    }
    let lacking: Vec<String> = hold.lacking().iter().map(ToString::to_string).collect();
    let expected = "yield strength of the link is not given: give it with what it rests on; no default \
                    material stands in for it";
    assert_eq!(lacking.len(), 2);
    assert_eq!(lacking[0], expected);
    // A pressure so high that other modes fail is still told.
    assert_eq!(assess(&rig, mpa(10.0)).unwrap().verdict(1.5), Verdict::DoesNotHold);
    let highest = highest_pressure(&rig).unwrap();
    assert!(highest.surely.is_none() && highest.at_most.is_some());
    assert!(what_raises_it(&rig).unwrap().is_empty());
}

#[test]
fn without_friction_the_torque_is_not_told_and_no_load_is_sure() {
    let mut rig = sample_rig();
    rig.screw.thread_friction = None;
    let hold = assess(&rig, mpa(0.3)).unwrap();
    assert!(hold.torque.is_err() && hold.needed_load.is_ok());
    assert_eq!(hold.verdict(1.5), Verdict::CannotTell);
    let crown = hold.modes.iter().find(|m| m.kind == ModeKind::CupCrown).unwrap();
    // It is known how much the crown bears at most, not at least.
    assert!(crown.factor.unwrap().high().is_finite() && crown.factor.unwrap().low() <= 0.0);
    assert!(crown.lacking.iter().any(|f| f.quantity() == "thread friction"));
    assert_eq!(hold.lacking().len(), 1, "told once: {:?}", hold.lacking());
    // What does not hang on the load is told all the same.
    let told: Vec<ModeKind> =
        hold.modes.iter().filter(|m| m.lacking.is_empty()).map(|m| m.kind).collect();
    assert_eq!(told, [ModeKind::CupPort]);
    // Enough pressure breaks it whatever the friction is.
    assert_eq!(assess(&rig, mpa(10.0)).unwrap().verdict(1.5), Verdict::DoesNotHold);
}

/// Bar and screw stand on the ball, and links that turn about both of their pins only hold them down: while
/// the screw is turned the ball's friction is spent on that, and the bar may roll aside. Nothing holds unless
/// the saddles are said to hold the links. Source: statics.
#[test]
fn a_bar_that_may_roll_over_the_ball_is_never_told_to_hold() {
    let with = |links_held: Option<bool>| {
        let hold = assess(&Rig { links_held, ..sample_rig() }, mpa(0.3)).unwrap();
        let roll = hold.modes.iter().find(|m| m.kind == ModeKind::Roll).cloned();
        (hold.verdict(1.5), roll)
    };
    assert_eq!(with(Some(true)), (Verdict::Holds, None));
    for (free, told) in [(Some(false), "is none: the bar may roll"), (None, "is not given")] {
        let (verdict, roll) = with(free);
        let roll = roll.unwrap();
        assert_eq!((verdict, roll.factor), (Verdict::CannotTell, None));
        assert!(roll.lacking[0].to_string().contains(told), "{:?}", roll.lacking);
    }
    // Neither is anything told of the load without the pins' friction.
    let hold = assess(&Rig { pin_friction: None, ..sample_rig() }, mpa(0.3)).unwrap();
    assert_eq!(hold.needed_load.unwrap_err()[0].quantity(), "friction of the pins");
}

/// However carefully it is read, a torque that may be off by an unknown share may come to anything.
#[test]
fn without_the_torques_error_neither_torque_to_set_nor_greatest_load_is_told() {
    let mut rig = sample_rig();
    rig.screw.torque_error = None;
    let hold = assess(&rig, mpa(0.3)).unwrap();
    assert!(hold.torque.is_ok() && hold.set_torque.is_err());
    assert_eq!(hold.verdict(1.5), Verdict::CannotTell);
    assert_eq!(hold.lacking().len(), 1, "told once: {:?}", hold.lacking());
    for kind in [ModeKind::Hand, ModeKind::HandleRod, ModeKind::ScrewBody, ModeKind::LinkYield] {
        let mode = hold.modes.iter().find(|m| m.kind == kind).unwrap();
        assert!(mode.factor.unwrap().low() <= 0.0 && mode.factor.unwrap().high().is_finite());
        assert_eq!(mode.lacking[0].quantity(), "error of the set torque");
    }
    for wrong in [-0.1, 1.0, f64::NAN] {
        rig.screw.torque_error = Some(wrong);
        let faults = assess(&rig, mpa(0.3)).unwrap_err();
        assert!(faults[0].to_string().starts_with("error of the set torque is"), "{faults:?}");
    }
}

/// The code's table gives soft rubber no seating stress: alone it would accept a gasket that
/// nothing presses.
#[test]
fn a_soft_gasket_without_its_suppliers_stress_cannot_be_told() {
    let mut rig = sample_rig();
    // What it bears at most says nothing of what it needs.
    rig.gasket.supplier.as_mut().unwrap().least = None;
    let told = |rig: &Rig| {
        let hold = assess(rig, mpa(0.3)).unwrap();
        let faults = hold.needed_load.clone().unwrap_err();
        assert_eq!(faults[0].quantity(), "gasket minimum contact stress");
        assert_eq!(hold.verdict(1.5), Verdict::CannotTell);
    };
    told(&rig);
    rig.gasket.supplier = None;
    told(&rig);
    rig.gasket.code = Some(CodeFactors::hard_rubber());
    let hold = assess(&rig, mpa(0.3)).unwrap();
    assert!(hold.needed_load.is_ok(), "hard rubber has a seating stress");
    // A seating stress that may be none is none.
    let doubtful = Bounds::between(Stress::from_mpa(0.0), Stress::from_mpa(2.0));
    rig.gasket.code = Some(CodeFactors { y: doubtful, ..CodeFactors::hard_rubber() });
    assert!(assess(&rig, mpa(0.3)).unwrap().needed_load.is_err());
    rig.gasket.code = None;
    assert!(assess(&rig, mpa(0.3)).unwrap().needed_load.is_err());
}

#[test]
fn what_is_not_given_is_named_for_every_figure_that_may_lack() {
    for (change, quantity) in [
        ((|r| r.screw.hand = None) as Change, "hand force"),
        (|r| r.screw.torque_error = None, "error of the set torque"),
        (|r| r.screw.held = None, "how the screw's ends are held"),
        (|r| r.screw.pivot_friction = None, "friction at the screw's tip"),
        (|r| r.screw.pivot_radius = None, "radius at which the screw's tip rubs"),
        (|r| r.screw.profile = None, "form of the screw's thread"),
        (|r| r.screw.pitch = None, "pitch of the screw's thread"),
        (|r| r.screw.starts = None, "number of the screw's thread starts"),
        (|r| r.side_moment = None, "side moment of the outlet"),
        (|r| r.gasket.supplier.as_mut().unwrap().most = None, "gasket maximum contact stress"),
        (|r| r.materials.iter_mut().for_each(|m| m.modulus = None), "modulus of the screw"),
        (|r| r.materials.clear(), "yield strength of the sidewall"),
    ] {
        let mut rig = sample_rig();
        change(&mut rig);
        let hold = assess(&rig, mpa(0.3)).unwrap();
        assert_eq!(hold.verdict(1.5), Verdict::CannotTell, "{quantity}");
        let lacking = hold.lacking();
        let found = lacking.iter().find(|f| f.quantity() == quantity);
        assert!(matches!(found, Some(Fault::Missing { .. })), "{quantity} in {lacking:?}");
    }
}

#[test]
fn what_is_wrong_is_a_fault_with_name_value_and_remedy() {
    let cases: [(Change, &str, &str); 19] = [
        (|r| r.bar.along = mm(400.0), "screw's place along the bar", "400 mm"),
        (|r| r.bar.across = mm(-40.0), "screw's place across the bar", "40 mm"),
        (|r| r.offset = mm(f64::NAN), "distance of the screw", "NaN"),
        (|r| r.required_factor = 0.5, "required safety factor", "0.5"),
        (|r| r.cup.wall = mm(0.0), "cup wall", "0 mm"),
        (|r| r.link.hole = mm(50.0), "pin hole", "50 mm"),
        (|r| r.upper_pin = mm(24.0), "pin diameter", "24 mm"),
        (|r| r.gasket.face.inside = mm(200.0), "gasket inside", "200 mm"),
        (|r| r.gasket.rim.inside = mm(200.0), "inside diameter of the rim", "200 mm"),
        (
            |r| r.materials[0].yield_strength = Some(Bounds::exactly(Stress::from_mpa(-1.0))),
            "yield strength of the cup",
            "-1 MPa",
        ),
        (
            |r| r.materials[1].tensile_strength = Some(Bounds::exactly(Stress::from_mpa(0.0))),
            "tensile strength of the screw",
            "0 MPa",
        ),
        (
            |r| {
                let doubtful = Bounds::between(Stress::from_mpa(-1.0), Stress::from_mpa(200.0));
                r.materials[2].yield_strength = Some(doubtful);
            },
            "yield strength of the screw handle",
            "-1 to 200 MPa",
        ),
        (|r| r.link.edge = mm(11.5), "half the pin hole", "11.5 mm is the limit"),
        (|r| r.saddle.edge = mm(11.0), "half the pin hole", "11 mm is the limit"),
        (|r| r.foot.hole = mm(-1.0), "foot's hole", "-1 mm"),
        (|r| r.foot.seat = mm(f64::NAN), "foot seat above the pin", "NaN"),
        (|r| r.foot.seat = mm(11.0), "half the foot's hole", "11 mm is the limit"),
        (|r| r.screw.hand = Some(newtons(0.0)), "hand force", "0 N"),
        (|r| r.saddle.stem_width = mm(42.0), "saddle stem width", "42 mm"),
    ];
    for (change, quantity, value) in cases {
        let mut rig = sample_rig();
        change(&mut rig);
        let faults = assess(&rig, mpa(0.3)).unwrap_err();
        let told: Vec<String> = faults.iter().map(ToString::to_string).collect();
        let found = told.iter().find(|t| t.starts_with(quantity));
        assert!(
            found.is_some_and(|t| t.contains(value) && t.contains(": ")),
            "{quantity}: {told:?}"
        );
        assert!(highest_pressure(&rig).is_err());
    }
    // Just within what the parts allow nothing is wrong.
    let mut rig = sample_rig();
    (rig.bar.across, rig.bar.along) = (mm(-28.0), mm(370.0));
    assert_eq!(rig.faults(), []);
    // The block, 100 mm wide, bears on 29 mm of each rail, less what it stands off with the screw.
    rig.bar.across = mm(-29.2);
    assert_eq!(rig.faults().len(), 1, "{:?}", rig.faults());
    rig.block.width = mm(120.0);
    assert_eq!(rig.faults(), []);
    // The saddle's top, 95 mm wide over a slot of 42 mm, bears 34.25 mm beside the middle.
    rig.bar.across = mm(-34.5);
    assert_eq!(rig.faults().len(), 1, "{:?}", rig.faults());
    // A link clears the longer of saddle and foot, or it is in the way.
    let mut rig = sample_rig();
    rig.ends[0].upper.apart = mm(29.8);
    assert_eq!(rig.faults().len(), 1);
    let mut rig = sample_rig();
    (rig.cup.seat, rig.block.width) = (mm(180.0), mm(30.0));
    assert!(assess(&rig, mpa(0.3)).unwrap_err().len() >= 2, "all faults at once");
    for pressure in [-0.1, f64::NAN, f64::INFINITY] {
        let faults = assess(&sample_rig(), mpa(pressure)).unwrap_err();
        assert!(faults[0].to_string().starts_with("pressure in the cup is"), "{faults:?}");
    }
    let doubtful = Bounds::between(Pressure::from_mpa(-0.1), Pressure::from_mpa(0.3));
    assert_eq!(assess(&sample_rig(), doubtful).unwrap_err().len(), 1);
}

/// Each lever by itself, a tenth better, and the order of what they gain.
#[test]
fn what_raises_the_pressure_most_is_what_governs() {
    let rig = sample_rig();
    let before = highest_pressure(&rig).unwrap().surely.unwrap();
    let raises = what_raises_it(&rig).unwrap();
    assert!(!raises.is_empty());
    assert!(raises.windows(2).all(|w| w[0].gain >= w[1].gain));
    for raise in &raises {
        assert!(raise.surely > before && raise.gain > Pressure::from_mpa(0.0), "{}", raise.lever);
    }
    // A lever's gain is that of the rig with the figure changed by hand.
    let by_hand: [(Lever, Change); 6] = [
        (Lever::FrictionKnown, |r| {
            r.screw.thread_friction = friction(0.1025, 0.1475);
            r.screw.pivot_friction = friction(0.0835, 0.1465);
        }),
        (Lever::PivotFriction, |r| r.screw.pivot_friction = friction(0.08 * 0.9, 0.15 * 0.9)),
        (Lever::ThreadFriction, |r| r.screw.thread_friction = friction(0.1 * 0.9, 0.15 * 0.9)),
        (Lever::Hand, |r| {
            let (low, high) = (Force::from_newtons(660.0), Force::from_newtons(770.0));
            r.screw.hand = Some(Bounds::between(low, high));
        }),
        (Lever::CupOffset, |r| {
            r.offset = Bounds::between(Length::from_mm(0.0), Length::from_mm(2.7));
        }),
        (Lever::Strength(Part::UpperPin), |r| {
            let pin = r.materials.iter_mut().find(|m| m.part == Part::UpperPin).unwrap();
            pin.yield_strength = Some(Bounds::exactly(Stress::from_mpa(715.0)));
        }),
    ];
    for (lever, change) in by_hand {
        let mut changed = rig.clone();
        change(&mut changed);
        // Less friction in the thread alone leaves the tip's wider range to count for more: here it
        // loses.
        let gain = highest_pressure(&changed).unwrap().surely.unwrap() - before;
        let told = raises.iter().find(|r| r.lever == lever).map_or(0.0, |r| r.gain.mpa());
        assert!(
            (told - gain.mpa().max(0.0)).abs() < 2e-6 * before.mpa(),
            "{lever}: {told}, {gain}"
        );
    }
    // Where the hand governs, its force and the handle gain and no strength does.
    let mut weak = rig.clone();
    weak.screw.hand = Some(newtons(250.0));
    let held = highest_pressure(&weak).unwrap().surely.unwrap();
    let hold = assess(&weak, Bounds::exactly(held)).unwrap();
    assert_eq!(hold.governing(1.5).unwrap().kind, ModeKind::Hand);
    let levers: Vec<Lever> = what_raises_it(&weak).unwrap().iter().map(|r| r.lever).collect();
    assert!(levers.contains(&Lever::Hand) && levers.contains(&Lever::Handle));
    assert!(levers.contains(&Lever::ThreadFriction));
    assert!(!levers.iter().any(|l| matches!(l, Lever::Strength(_))), "{levers:?}");
}

/// The load leans the screw over the bent bar, which asks for more load: where both agree, by a square
/// (see `tests/worked/modes.rs`), and with a bar too soft nowhere. What may arise counts, not what is
/// needed.
#[test]
fn a_bar_that_bends_leans_the_screw_off_the_axis() {
    let mut rig = sample_rig();
    rig.offset = mm(2.0);
    let hold = assess(&rig, mpa(0.3)).unwrap();
    let (needed, arises) = (hold.needed_load.unwrap().high(), hold.screw_load.unwrap().high());
    let modulus = rig.modulus(Part::Bar).unwrap();
    let lean = rig.bar.slope_at_screw(Bounds::exactly(arises), modulus).high();
    let most = 2.0 + rig.seat_height.high().mm() * lean;
    assert!((hold.offset.unwrap().high().mm() / most - 1.0).abs() < 1e-9);
    assert!(hold.offset.unwrap().low().mm() <= 0.0, "it may lean back");
    let straight = Rig { offset: mm(most), bar: sealing::Bar { along: mm(0.0), ..rig.bar }, ..rig };
    let as_far = assess(&straight, mpa(0.3)).unwrap().needed_load.unwrap().high();
    assert!((needed.newtons() / as_far.newtons() - 1.0).abs() < 1e-9);
    // In the middle of the bar the modulus does not enter; off it, it must be given.
    let mut unknown = sample_rig();
    unknown.materials.iter_mut().filter(|m| m.part == Part::Bar).for_each(|m| m.modulus = None);
    let hold = assess(&unknown, mpa(0.3)).unwrap();
    let lacking: Vec<&str> = hold.lacking().iter().map(|f| f.quantity()).collect();
    assert_eq!((hold.verdict(1.5), lacking), (Verdict::CannotTell, vec!["modulus of the bar"]));
    unknown.bar.along = mm(0.0);
    assert!(assess(&unknown, mpa(0.3)).unwrap().needed_load.is_ok());
    let mut soft = sample_rig();
    let of_wood = Bounds::exactly(Stress::from_mpa(2e3));
    let bar = soft.materials.iter_mut().find(|m| m.part == Part::Bar).unwrap();
    bar.modulus = Some(of_wood);
    let hold = assess(&soft, mpa(0.3)).unwrap();
    assert_eq!(hold.verdict(1.5), Verdict::CannotTell);
    let fault = hold.needed_load.unwrap_err().remove(0).to_string();
    assert!(fault.starts_with("distance of the screw from the cup's axis is"), "{fault}");
    assert!(hold.screw_load.is_none() && hold.offset.is_none());
}

#[test]
fn a_thread_that_slips_back_is_told_by_its_least_friction() {
    let mut rig = sample_rig();
    rig.screw.thread_friction = friction(0.02, 0.15);
    assert!(factor(&rig, 0.3, ModeKind::TurnsBack).unwrap().low() < 1.0);
    rig.screw.thread_friction = Friction::new(Bounds::exactly(0.01)).ok();
    let hold = assess(&rig, mpa(0.3)).unwrap();
    let back = hold.modes.iter().find(|m| m.kind == ModeKind::TurnsBack).unwrap();
    assert_eq!(back.verdict(1.5), Verdict::DoesNotHold);
    assert!(torque_arm(&rig).unwrap().low() > Length::from_mm(0.0));
}

#[test]
fn modes_that_are_not_told_are_those_that_are() {
    let told = assess(&sample_rig(), mpa(0.3)).unwrap().modes;
    let lacking = [Fault::missing("thread form", "give it")];
    let untold = Mode::untold(&lacking);
    let names = |modes: &[Mode]| modes.iter().map(|m| (m.kind, m.end)).collect::<Vec<_>>();
    assert_eq!(names(&untold), names(&told));
    assert!(untold.iter().all(|m| m.verdict(1.5) == Verdict::CannotTell && m.lacking == lacking));
}
