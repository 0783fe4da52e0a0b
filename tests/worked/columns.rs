//! Columns: published answers and the place where the two formulas meet.

#[path = "../support/quantities.rs"]
mod quantities;

use measure::{Area, Bounds, Length, SectionModulus, Stress, Torque};
use quantities::{assert_near, assert_printed, mm, mpa, newtons};
use sealing::{Column, EndHold, PressedColumn};

const INCH: f64 = 25.4;
const POUND: f64 = 4.448_221_615_260_5;

/// Euler: a round bar of 50 mm and 3 m, pinned, steel: slenderness 240, about 67 kN
/// (rulesofthumb.info); 67.29 kN with E 200 000, computed.
#[test]
fn a_slender_column_bows_out_at_eulers_load() {
    let hold = EndHold::PinnedPinned.factor();
    let column = Column::round(mm(3000.0) * hold, mm(50.0));
    assert_near(column.slenderness_squared().middle().sqrt(), 240.0, 1e-12);
    let load = column.critical_load(mpa(200e3), mpa(250.0)).middle().newtons();
    assert_printed(load / 1000.0, 67.29, 0.01);
    assert_printed(load / 1000.0, 67.0, 1.0);
}

/// Johnson (from memory): `A Sy (1 - Sy L^2 / (4 pi^2 E))`; 80 x 30 x 380, K 0.8, Sy 290, E 207e3:
/// 665.6 kN, computed. It meets Euler's at `A Sy / 2`.
#[test]
fn a_stout_column_bows_out_at_johnsons_load_and_both_meet_at_half_the_strength() {
    let column = Column::rectangular(mm(380.0 * 0.8), mm(80.0), mm(30.0));
    let load = column.critical_load(mpa(207e3), mpa(290.0)).middle().newtons();
    assert_printed(load / 1000.0, 665.6, 0.1);
    // Just beyond where they meet Euler's is the lesser load, just before it Johnson's counts.
    let meeting = (2.0 * std::f64::consts::PI.powi(2) * 207e3 / 290.0_f64).sqrt();
    for side in [0.999_999, 1.000_001] {
        let column = Column::round(mm(meeting * 10.0 / 4.0 * side), mm(10.0));
        let stress = column.critical_load(mpa(207e3), mpa(290.0)) / column.area;
        assert_near(stress.middle().mpa(), 145.0, 3e-6);
    }
    for (side, stress) in [(1.1_f64, 145.0 / 1.21), (0.9, 290.0 * (1.0 - 0.81 / 2.0))] {
        let column = Column::round(mm(meeting * 10.0 / 4.0 * side), mm(10.0));
        let load = column.critical_load(mpa(207e3), mpa(290.0)) / column.area;
        assert_near(load.middle().mpa(), stress, 1e-12);
    }
}

/// Faires, Design of Machine Elements, problem 334 (solution read in a public copy): the least
/// diameter of a round column under 10 kips with factor 3, E 30 000 ksi. C1020, 48 ksi: 1.096 in at
/// 25 in (Johnson), 1.507 in at 50 in (Euler). 8640, 150 ksi: 1.0657 in at 25 in (Euler).
#[test]
fn columns_of_the_printed_diameters_just_bear_their_load() {
    for (strength, length, diameter, digit) in
        [(48.0, 25.0, 1.096, 1e-3), (48.0, 50.0, 1.507, 1e-3), (150.0, 25.0, 1.0657, 1e-4)]
    {
        let kips = |diameter: f64| {
            let column = Column::round(mm(length * INCH), mm(diameter * INCH));
            let psi = |value: f64| Bounds::exactly(Stress::from_psi(value));
            column.critical_load(psi(30e6), psi(strength * 1e3)).middle().newtons() / POUND / 1e3
        };
        assert!(kips(diameter - digit) < 30.0 && 30.0 < kips(diameter + digit), "{diameter}");
    }
}

/// Gere, Mechanics of Materials, problem 11.4-2 (solution read in a public copy): a steel pipe
/// 40/36, 1.2 m, E 210 000: 62.2 kN pinned, 15.6 kN fixed and free, 127 kN fixed and pinned, 249 kN
/// fixed.
#[test]
fn a_pipe_bows_out_at_the_printed_load_however_its_ends_are_held() {
    let (outside, inside) = (40.0_f64.powi(2), 36.0_f64.powi(2));
    let area = Bounds::exactly(Area::from_mm2(std::f64::consts::PI / 4.0 * (outside - inside)));
    let gyration = Bounds::exactly(Area::from_mm2((outside + inside) / 16.0));
    for (hold, printed, digit) in [
        (EndHold::PinnedPinned, 62.2, 0.1),
        (EndHold::FixedFree, 15.6, 0.1),
        (EndHold::FixedPinned, 127.0, 1.0),
        (EndHold::FixedFixed, 249.0, 1.0),
    ] {
        let column = Column { effective_length: mm(1200.0) * hold.factor(), area, gyration };
        assert_eq!(column.faults(), []);
        // Steel strong enough that Euler's holds; the theoretical factor gives the upper end.
        let load = column.critical_load(mpa(210e3), mpa(5000.0));
        assert_printed(load.high().newtons() / 1000.0, printed, digit);
        assert!(load.low() <= load.high());
    }
}

/// Beer and Johnston, sample problem 10.1 (from memory): a square tube, A 3.54 in2, r 1.50 in, c 2.00 in,
/// E 29e6 psi, 8 ft tall, fixed below and free above. Printed: it bows out under 62.1 kips; under 31.1 kips
/// 0.75 in off its axis it is stressed to 22.0 ksi.
#[test]
fn a_column_pressed_off_its_axis_is_stressed_as_printed() {
    let inches2 = |value: f64| Bounds::exactly(Area::from_mm2(value * INCH * INCH));
    let ksi = |value: f64| Bounds::exactly(Stress::from_psi(value * 1000.0));
    let column = Column {
        effective_length: mm(16.0 * 12.0 * INCH),
        area: inches2(3.54),
        gyration: inches2(8.0 / 3.54),
    };
    let euler = column.critical_load(ksi(29_000.0), ksi(36.0)).middle().newtons();
    assert_printed(euler / POUND / 1000.0, 62.1, 0.1);
    let pressed = |off: f64| PressedColumn {
        column,
        fibre: mm(2.0 * INCH),
        torsion: Bounds::exactly(SectionModulus::from_mm3(1e5)),
        off: mm(off * INCH),
    };
    assert_eq!(pressed(0.75).faults(), []);
    let none = Bounds::exactly(Torque::from_newton_mm(0.0));
    let load = newtons(31_100.0 * POUND);
    let factor = |off: f64, sy: f64| {
        pressed(off).yield_factor(load, none, ksi(29_000.0), ksi(sy)).interval()
    };
    // 22.0 is printed of r = 1.50; sqrt(8.00 / 3.54) gives 21.93.
    assert!(factor(0.75, 21.92).high < 1.0 && factor(0.75, 21.94).low > 1.0);
    assert_near(21.93, 22.0, 0.005);
    // On its axis it bows out at Euler's load, however strong it is.
    assert_near(factor(0.0, 1e6).low, 62.1 / 31.1, 2e-3);
    assert_near(factor(0.0, 4.0).low, 4.0 * 3.54 / 31.1, 1e-9);
}

/// A rod that does not bow is stressed as a section under load, moment and torque together (any
/// handbook): 20 mm, 10 kN 3 mm off, 40 N m; whatever is within bounds is within the factor's.
#[test]
fn a_short_rod_pressed_off_its_axis_and_twisted_is_a_section_under_all_three() {
    let pi = std::f64::consts::PI;
    let rod = PressedColumn::round(mm(0.0), mm(20.0), mm(3.0));
    let torque = Bounds::exactly(Torque::from_newton_mm(40e3));
    let factor = rod.yield_factor(newtons(10e3), torque, mpa(200e3), mpa(400.0));
    let pressed = 10e3 / (pi * 100.0) + 30e3 * 32.0 / (pi * 8000.0);
    let stress = pressed.hypot(2.0 * 40e3 * 16.0 / (pi * 8000.0));
    assert_near(factor.low(), 400.0 / stress, 1e-11);
    let long = PressedColumn::round(
        Bounds::between(Length::from_mm(0.0), Length::from_mm(400.0)),
        mm(20.0),
        Bounds::between(Length::from_mm(0.0), Length::from_mm(5.0)),
    );
    let wide = long.yield_factor(newtons(10e3), torque, mpa(200e3), mpa(400.0)).interval();
    assert!(wide.encloses(factor.interval()), "{wide:?}");
    // Nothing that presses or twists yields nothing; a number that is none tells nothing.
    let idle = rod.yield_factor(newtons(0.0), torque * 0.0, mpa(200e3), mpa(400.0));
    assert!(idle.high().is_infinite());
    let none = rod.yield_factor(newtons(f64::NAN), torque, mpa(200e3), mpa(400.0));
    assert!(none.low() <= 0.0 && none.high().is_infinite());
}
