//! Laws of the sealing of an example, whatever the documents say for it: knowing less never helps,
//! and nothing that they may say makes it lose its way.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

#[path = "../support/sealed_example.rs"]
mod sealed_example;

use assembly::hold::{KitFigures, LadingPressure};
use measure::{Bounds, Interval, Pressure, Quantity};
use proptest::prelude::*;
use review::hold::Holding;
use review::sealing::{Sealing, Verdict as Written};
use sealed_example::EXAMPLE;
use sealing::hold::Verdict;

/// The example held against a stated pressure in megapascals.
fn holding(figures: &KitFigures, pressure: f64) -> Holding {
    let (_, mut service) = EXAMPLE.given();
    service.lading.as_mut().unwrap().pressure = Some(LadingPressure::Stated {
        gauge: Bounds::exactly(Pressure::from_mpa(pressure)),
        basis: "made for the test".into(),
    });
    EXAMPLE.holding(figures.clone(), &service)
}

/// Every range that a kit gives for the sealing, one after the other, as `by` makes it.
fn turn(figures: &mut KitFigures, mut by: impl FnMut(Interval) -> Option<Interval>) {
    fn one<Q: Quantity>(
        range: &mut Option<Bounds<Q>>,
        by: &mut impl FnMut(Interval) -> Option<Interval>,
    ) {
        *range = range.and_then(|r| by(r.interval())).map(Bounds::from_interval);
    }
    let screw = &mut figures.screw;
    one(&mut screw.pitch, &mut by);
    one(&mut screw.thread_friction, &mut by);
    one(&mut screw.tip_friction, &mut by);
    one(&mut screw.tip_radius, &mut by);
    one(&mut figures.hand, &mut by);
    one(&mut figures.side_moment, &mut by);
    one(&mut figures.pin_play, &mut by);
    one(&mut figures.pin_friction, &mut by);
    for gasket in &mut figures.gaskets {
        one(&mut gasket.least, &mut by);
        one(&mut gasket.most, &mut by);
    }
    for material in &mut figures.materials {
        let strength = &mut material.strength;
        one(&mut strength.yielding, &mut by);
        one(&mut strength.tensile, &mut by);
        one(&mut strength.modulus, &mut by);
    }
    let error = |e: f64| by(Interval::exactly(e)).map(|r| r.high);
    figures.torque_error = figures.torque_error.and_then(error);
}

/// More than [`turn`] ever meets.
const RANGES: usize = 64;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Ranges that hold the others: what they still tell, the others tell too.
    #[test]
    fn wider_ranges_never_tell_more(
        pressure in 0.0..1.2_f64,
        by in prop::collection::vec((0.0..0.15_f64, 0.0..0.15_f64), RANGES),
    ) {
        let narrow = EXAMPLE.kit.kit.hold.clone();
        let mut wide = narrow.clone();
        let mut by = by.into_iter();
        turn(&mut wide, |range| {
            let (less, more) = by.next().unwrap();
            Some(Interval { low: range.low * (1.0 - less), high: range.high * (1.0 + more) })
        });
        let [narrow, wide] = [narrow, wide].map(|f| holding(&f, pressure));
        let (told, still) = (narrow.verdict(), wide.verdict());
        prop_assert!(still == told || still == Verdict::CannotTell, "{told:?}, {still:?}");
        for (n, w) in narrow.modes.iter().zip(&wide.modes) {
            let (Some(n), Some(of_w)) = (n.factor, w.factor) else { continue };
            prop_assert!(of_w.low() <= n.low() * (1.0 + 1e-9), "{w}: {of_w} and {n}");
            prop_assert!(of_w.high() >= n.high() * (1.0 - 1e-9), "{w}: {of_w} and {n}");
        }
    }

    /// Figures left out: nothing holds any more that needs them, and all that is told is told as
    /// before.
    #[test]
    fn figures_left_out_never_tell_more(
        pressure in 0.0..1.2_f64,
        kept in prop::collection::vec(prop::bool::weighted(0.9), RANGES),
    ) {
        let whole = EXAMPLE.kit.kit.hold.clone();
        let mut less = whole.clone();
        let mut each = kept.into_iter();
        let mut left_out = false;
        turn(&mut less, |range| {
            let kept = each.next().unwrap();
            left_out |= !kept;
            kept.then_some(range)
        });
        let (whole, less) = (holding(&whole, pressure), holding(&less, pressure));
        let (told, still) = (whole.verdict(), less.verdict());
        prop_assert!(still == told || still == Verdict::CannotTell, "{told:?}, {still:?}");
        prop_assert!(left_out || still == told);
        for (n, w) in whole.modes.iter().zip(&less.modes) {
            let holds = |m: &sealing::hold::Mode| m.verdict(1.5) == Verdict::Holds;
            prop_assert!(!holds(w) || holds(n), "{w}");
        }
    }

    /// Any figures that a kit may give: it is assessed or refused, what is written is read again as
    /// it was, and nothing holds of which something is lacking.
    #[test]
    fn no_figures_make_it_lose_its_way(
        pressure in 0.0..20.0_f64,
        by in prop::collection::vec((-3.0..3.0_f64, 0.0..2.0_f64, any::<u8>()), RANGES),
    ) {
        let mut figures = EXAMPLE.kit.kit.hold.clone();
        let mut by = by.into_iter();
        turn(&mut figures, |range| {
            let (tens, spread, odd) = by.next().unwrap();
            let low = range.low * 10.0_f64.powf(tens);
            let any = Interval { low, high: low * 10.0_f64.powf(spread) };
            match odd {
                0..16 => None,
                16..24 => Some(Interval::exactly(range.high * 0.0)),
                24..32 => Some(Interval { low: 0.0, high: 1e8 }),
                32..128 => Some(range),
                _ => Some(any),
            }
        });
        // As intake has them: shares of 1, no error as great as the torque.
        let share = |f: Bounds<f64>| Bounds::between(f.low().min(1.0), f.high().min(1.0));
        figures.screw.thread_friction = figures.screw.thread_friction.map(share);
        figures.screw.tip_friction = figures.screw.tip_friction.map(share);
        figures.torque_error = figures.torque_error.map(|e| e.min(0.9));
        let sealing = EXAMPLE.written(holding(&figures, pressure));
        let text = serde_json::to_string(&sealing).unwrap();
        prop_assert_eq!(&serde_json::from_str::<Sealing>(&text).unwrap(), &sealing);
        for mode in &sealing.modes {
            prop_assert!(mode.factor.is_some() || !mode.lacking.is_empty(), "{mode:?}");
        }
        if sealing.verdict == Written::Holds {
            prop_assert!(sealing.lacking.is_empty());
            prop_assert!(sealing.modes.iter().all(|m| m.verdict == Written::Holds));
            prop_assert!(sealing.highest_surely_mpa.unwrap() >= pressure * (1.0 - 1e-6));
        }
        let units = [measure::LengthUnit::Inch, measure::LengthUnit::Millimetre];
        for unit in units {
            review::words::sealing::governing(&sealing, unit);
            review::words::sealing::torques(&sealing, unit);
            review::words::sealing::highest_sentence(&sealing, unit);
        }
    }
}
