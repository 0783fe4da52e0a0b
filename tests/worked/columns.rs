//! Columns: published answers and the place where the two formulas meet.

#[path = "../support/quantities.rs"]
mod quantities;

use measure::{Area, Bounds, Stress};
use quantities::{assert_near, assert_printed, mm, mpa};
use sealing::{Column, EndHold};

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
