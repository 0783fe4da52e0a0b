//! Power screws: published examples, to their printed digits.
//!
//! "Bhandari" is the folder 764 of FOSSEE's Scilab textbook companion (data, solution and result
//! files read); the folder does not name the book, the title Design of Machine Elements is
//! inferred. Shigley's example is from memory, Mott's was read in a public copy.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

#[path = "../support/quantities.rs"]
mod quantities;

use measure::{Bounds, Force, Length, Stress, Torque};
use quantities::{assert_printed, mm, newtons};
use sealing::{Cut, Friction, Profile, Thread, hand_force, round_bending, worn_collar};

fn friction(value: f64) -> Friction {
    Friction::new(Bounds::exactly(value)).unwrap()
}

fn thread(profile: Profile, diameter: f64, pitch: f64, starts: u8) -> Thread {
    let (diameter, pitch) = (mm(diameter), mm(pitch));
    let thread = Thread { profile, diameter, pitch, starts, cut: Cut::Basic };
    assert_eq!(thread.faults(), []);
    thread
}

/// Shigley's square screw: d 32, p 4, two starts, friction 0.08 in thread and collar, collar 40,
/// 6.4 kN. Printed: 26.18 N m to raise, 9.77 N m to lower, efficiency 0.311. The thread's own
/// lowering torque is negative and must be added as it is.
#[test]
fn a_square_screw_with_two_starts_raises_and_lowers_as_printed() {
    let thread = thread(Profile::Square, 32.0, 4.0, 2);
    let load = newtons(6400.0);
    let collar = mm(20.0) * friction(0.08).range();
    let arm = thread.raising_arm(friction(0.08)).unwrap() + collar;
    let lowering = thread.lowering_arm(friction(0.08));
    let newton_m = |arm: Bounds<Length>| (load * arm).middle().newton_mm() / 1000.0;
    assert_printed(newton_m(arm), 26.18, 0.01);
    assert_printed(newton_m(lowering), -0.466, 0.001);
    assert_printed(newton_m(collar), 10.24, 0.01);
    assert_printed(newton_m(lowering + collar), 9.77, 0.01);
    assert_printed(thread.efficiency(arm).middle(), 0.311, 0.001);
    // The thread alone does not hold its load.
    assert!(thread.self_locking(friction(0.08)).high() < 1.0);
}

/// The same example goes on to the thread's stresses (Shigley 8-1, parts d to h; data, formulas and the
/// 0.38 of the load on the first ridge read in a public copy, these answers from memory): torsion 6.07,
/// body 10.39, bearing 12.9, bending at the root 41.5, greatest shear there 27.3 N/mm2, of which Tresca's
/// difference of principal stresses is twice.
#[test]
fn the_first_ridge_is_pressed_and_bent_as_printed() {
    let thread = thread(Profile::Square, 32.0, 4.0, 2);
    let (load, torque) = (newtons(6400.0), Bounds::exactly(Torque::from_newton_mm(26.18e3)));
    assert_printed((torque / thread.root_torsion()).middle().mpa(), 6.07, 0.01);
    assert_printed((load / thread.root_area()).middle().mpa(), 10.39, 0.01);
    // Ten ridges: the first carries 3.8 times its even share.
    let nut = mm(40.0);
    let first = load * thread.crowding(nut);
    assert_printed((first / thread.bearing_area(nut)).middle().mpa(), 12.9, 0.1);
    let bending = thread.ridge_bending(first, nut);
    assert_printed(bending.middle().mpa(), 41.5, 0.1);
    let greatest = thread.root_stress(bending, load, torque).middle().mpa();
    assert_printed(greatest / 2.0, 27.3, 0.1);
    // The principal stresses one by one: bending; body and torsion in their own plane.
    let (half, shear) = (-10.39_f64 / 2.0, 6.07);
    let least = half - half.hypot(shear);
    assert!((greatest - (41.5 - least)).abs() < 0.1, "{greatest}");
    // Two ridges at most carry half each, more than 0.38.
    assert!((thread.crowding(mm(8.0)).middle() - 1.0).abs() < 1e-12);
    assert!((thread.crowding(mm(2.0)).middle() - 1.0).abs() < 1e-12);
}

/// Bhandari 6.9, a C-clamp: d 22, p 5, friction 0.15 in thread and collar of mean radius 15, 750 N.
/// Printed: 3402.198556 N mm; handle 170.109928 mm at 20 N; its rod 4.424864 mm at 400 N/mm2.
#[test]
fn a_clamp_screw_asks_for_the_printed_torque_handle_and_rod() {
    let thread = thread(Profile::Square, 22.0, 5.0, 1);
    let f = friction(0.15);
    let torque = newtons(750.0) * (thread.raising_arm(f).unwrap() + mm(15.0) * f.range());
    assert_printed(torque.middle().newton_mm(), 3_402.198_556, 1e-6);
    let hand = hand_force(torque, mm(170.109_928));
    assert_printed(hand.middle().newtons(), 20.0, 1e-6);
    let stress = round_bending(torque, mm(4.424_864));
    // The printed diameter has seven digits; the stress goes with its third power.
    assert!((stress.middle().mpa() / 400.0 - 1.0).abs() < 3.5e-7);
}

/// Bhandari 6.6: trapezoidal 52 x 8, friction 0.15, collar 100/60 with 0.12 worn in, 2 kN. Printed:
/// efficiency 12.937099 %; the torque 19 683.5 N mm follows from it.
#[test]
fn a_trapezoidal_lead_screw_has_the_printed_efficiency() {
    let thread = thread(Profile::Trapezoidal, 52.0, 8.0, 1);
    let collar = worn_collar(mm(100.0), mm(60.0)) * friction(0.12).range();
    let arm = thread.raising_arm(friction(0.15)).unwrap() + collar;
    assert_printed(100.0 * thread.efficiency(arm).middle(), 12.937_099, 1e-6);
    assert_printed((newtons(2000.0) * arm).middle().newton_mm(), 19_683.5, 0.1);
}

/// Bhandari 6.4: a gate's screw 40 x 7, friction 0.15, thrust washer 80/40 with 0.12, 7 kN up and 3
/// kN down, two arms of 500 mm. Printed: 52.410253 N and 15.626055 N an arm, efficiency 14.879898
/// %, and a nut of 28 mm for 5 N/mm2 on the flanks.
#[test]
fn a_gate_is_raised_and_lowered_with_the_printed_force() {
    let thread = thread(Profile::Square, 40.0, 7.0, 1);
    let washer = worn_collar(mm(80.0), mm(40.0)) * friction(0.12).range();
    let up = thread.raising_arm(friction(0.15)).unwrap() + washer;
    let down = thread.lowering_arm(friction(0.15)) + washer;
    let each = |load: f64, arm: Bounds<Length>| hand_force(newtons(load) * arm, mm(1000.0));
    assert_printed(each(7000.0, up).middle().newtons(), 52.410_253, 1e-6);
    assert_printed(each(3000.0, down).middle().newtons(), 15.626_055, 1e-6);
    assert_printed(100.0 * thread.efficiency(up).middle(), 14.879_898, 1e-6);
    // Four ridges are enough and three are not.
    let stress = |engaged: f64| newtons(7000.0) / thread.bearing_area(mm(engaged));
    let limit = Stress::from_mpa(5.0);
    assert!(stress(28.0).high() < limit && limit < stress(21.0).low());
}

/// Bhandari 6.7: d 48, p 8, friction 0.15 in thread and collar of mean radius 40. Printed:
/// efficiency 11.996655 %.
#[test]
fn a_tool_holders_screw_has_the_printed_efficiency() {
    let thread = thread(Profile::Square, 48.0, 8.0, 1);
    let f = friction(0.15);
    let arm = thread.raising_arm(f).unwrap() + mm(40.0) * f.range();
    assert_printed(100.0 * thread.efficiency(arm).middle(), 11.996_655, 1e-6);
}

/// A public statics course (adaptivebooks.org, 5.6.1, problem 2): square thread, two threads an
/// inch, mean diameter 2 in, friction 0.2, 10 000 lb. Printed: 2840 in lb.
#[test]
fn a_screw_jack_asks_for_the_printed_torque() {
    let thread = thread(Profile::Square, 2.25 * 25.4, 0.5 * 25.4, 1);
    let load = Bounds::exactly("10000 lbf".parse::<Force>().unwrap());
    let pound_inch = Force::from_newtons(4.448_221_615_260_5) * Length::from_mm(25.4);
    let torque = load * thread.raising_arm(friction(0.2)).unwrap();
    assert_printed(torque.middle() / pound_inch, 2840.0, 10.0);
}

/// Mott 17-1, Acme 1 1/2-4 with the least pitch diameter 1.3429 in, 12 500 lb, friction 0.15.
/// Printed: 1809 lb in, as the lead angle is rounded to 3.39 degrees there; exact 1814.4, lowering
/// 795.7, efficiency 0.274.
#[test]
fn an_acme_screw_comes_within_half_a_percent_of_the_printed_torque() {
    let inch = 25.4;
    // The thread that has this pitch diameter in its middle.
    let thread = thread(Profile::Acme, (1.3429 + 0.125) * inch, 0.25 * inch, 1);
    let load = Bounds::exactly("12500 lbf".parse::<Force>().unwrap());
    let pound_inch = Force::from_newtons(4.448_221_615_260_5) * Length::from_mm(inch);
    let of = |arm: Bounds<Length>| (load * arm).middle() / pound_inch;
    let up = thread.raising_arm(friction(0.15)).unwrap();
    assert!((of(up) / 1809.0 - 1.0).abs() < 0.005);
    assert_printed(of(up), 1814.4, 0.1);
    assert_printed(of(thread.lowering_arm(friction(0.15))), 795.7, 0.1);
    assert_printed(thread.efficiency(up).middle(), 0.274, 0.001);
}

/// Mott's own form for Acme threads: `F D / 2 (cos a tan l + f) / (cos a - f tan l)` with half
/// angle `a` and lead angle `l`. Shigley's correction of the friction is the same thing.
#[test]
fn slanted_flanks_by_two_books_forms_are_the_same() {
    let thread = thread(Profile::Acme, 30.0, 6.0, 1);
    let (cos, slope) = (14.5_f64.to_radians().cos(), 6.0 / (std::f64::consts::PI * 27.0));
    for f in [0.0, 0.05, 0.15, 0.3] {
        let mott = 27.0 / 2.0 * (cos * slope + f) / (cos - f * slope);
        let ours = thread.raising_arm(friction(f)).unwrap();
        assert!((ours.middle().mm() / mott - 1.0).abs() < 1e-12);
    }
}

#[test]
fn a_range_of_friction_gives_the_torques_of_its_ends_and_no_more() {
    let thread = thread(Profile::Acme, 30.0, 6.0, 1);
    let range = Friction::new(Bounds::between(0.1, 0.2)).unwrap();
    for arm in [
        |t: &Thread, f: Friction| t.raising_arm(f).unwrap(),
        |t: &Thread, f: Friction| t.lowering_arm(f),
    ] {
        let (all, low, high) = (
            arm(&thread, range).interval(),
            arm(&thread, friction(0.1)).interval(),
            arm(&thread, friction(0.2)).interval(),
        );
        assert!(all.low <= low.low && high.high <= all.high);
        assert!((all.low - low.low).abs() < 1e-9 && (all.high - high.high).abs() < 1e-9);
    }
}

#[test]
fn friction_that_no_screw_has_is_a_fault_with_name_value_and_remedy() {
    for (range, value) in [
        (Bounds::between(-0.1, 0.2), "-0.1"),
        (Bounds::between(0.1, 15.0), "15"),
        (Bounds::exactly(f64::NAN), "NaN"),
    ] {
        let fault = Friction::new(range).unwrap_err().to_string();
        assert!(fault.starts_with("coefficient of friction is"), "{fault}");
        assert!(fault.contains(value) && fault.contains(": "), "{fault}");
    }
    // A thread so steep that it jams.
    let steep = thread(Profile::Square, 20.0, 5.0, 20);
    let fault = steep.raising_arm(friction(0.9)).unwrap_err().to_string();
    assert!(fault.contains("jams"), "{fault}");
    let perhaps = Friction::new(Bounds::between(0.1, 0.9)).unwrap();
    assert!(steep.raising_arm(perhaps).is_err() && steep.raising_arm(friction(0.1)).is_ok());
    let rootless = Thread { diameter: mm(5.0), pitch: mm(6.0), starts: 0, ..steep };
    assert_eq!(rootless.faults().len(), 2);
}

/// ASME B1.5, general purpose 1 1/4-5 Acme thread of class 2G: mean diameter 1.1210 to 1.1410 in, root 0.9998 to
/// 1.0300 in. ISO 2904 and 2903, Tr 32 x 6: mean diameter 29 mm less 0.118 and, in class 8, 0.355 mm; root 25 mm
/// less 0.118 and 1.25 times 0.355 mm. All from memory.
#[test]
fn a_thread_as_it_is_made_is_smaller_than_its_basic_form() {
    let made = |thread: Thread| Thread { cut: Cut::Made, ..thread };
    let inch = 25.4;
    let acme = made(thread(Profile::Acme, 1.25 * inch, 0.2 * inch, 1));
    assert!((acme.mean_diameter().low().mm() / inch - 1.1210).abs() < 1e-4);
    assert!((acme.root_diameter().low().mm() / inch - 0.9998).abs() < 1e-4);
    assert!(acme.mean_diameter().high().mm() >= 1.1410 * inch);
    assert!(acme.root_diameter().high().mm() >= 1.0300 * inch);
    let metric = made(thread(Profile::Trapezoidal, 32.0, 6.0, 1));
    assert!(metric.mean_diameter().low().mm() <= 29.0 - 0.118 - 0.355);
    assert!(metric.root_diameter().low().mm() <= 25.0 - 0.118 - 1.25 * 0.355);
    assert!(metric.root_diameter().low().mm() > 23.0);
    // Torque and load of every thread within, and no more than that.
    let arm = |t: Thread| t.raising_arm(friction(0.12)).unwrap().interval();
    let (bounded, basic) = (arm(acme), arm(thread(Profile::Acme, 1.25 * inch, 0.2 * inch, 1)));
    assert!(bounded.encloses(basic) && bounded.low > 0.98 * basic.low);
    assert!(bounded.high < 1.001 * basic.high);
    // So small a screw has no root left.
    let faults = Thread { diameter: mm(6.0), pitch: mm(5.0), ..acme }.faults();
    assert!(faults[0].to_string().starts_with("root diameter of the thread"), "{faults:?}");
}
