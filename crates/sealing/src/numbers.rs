//! Functions of plain numbers with bounds.

use measure::{Bounds, Interval, Quantity, Stress};

/// How far a function of the platform's mathematics library may be off, as a share of its value:
/// four units in the last place, where each of them is within one.
const LIBRARY: f64 = 4.0 * f64::EPSILON;

fn widened(value: f64) -> Bounds<f64> {
    Bounds::from_interval(Interval::exactly(value).widened(LIBRARY * value.abs()))
}

/// The bounds of a function that rises, or falls, all the way: from its values at both ends.
pub(crate) fn monotone<P: Quantity, Q: Quantity>(
    x: Bounds<P>,
    f: impl Fn(Bounds<P>) -> Bounds<Q>,
) -> Bounds<Q> {
    let [low, high] = x.ends();
    f(low).hull(f(high))
}

/// The natural logarithm of a positive number.
pub(crate) fn ln(x: Bounds<f64>) -> Bounds<f64> {
    monotone(x, |x| widened(x.low().ln()))
}

/// The cosine of an angle that is known, radians.
pub(crate) fn cos(radians: f64) -> Bounds<f64> {
    widened(radians.cos())
}

/// The root of two squared stresses' sum.
pub(crate) fn hypot(a: Bounds<Stress>, b: Bounds<Stress>) -> Bounds<Stress> {
    // Taken as numbers: no unit has a stress squared.
    let unit = Bounds::exactly(Stress::from_mpa(1.0));
    let squared = |s: Bounds<Stress>| s / unit * (s / unit);
    (squared(a) + squared(b)).sqrt() * unit
}

/// A capacity over the demand on it: the safety factor. Neither may be negative; without demand
/// there is no upper bound, and where either is no number there is none at all: from 0 on.
pub fn safety_factor<Q: Quantity>(capacity: Bounds<Q>, demand: Bounds<Q>) -> Bounds<f64> {
    let (capacity, demand) = (capacity.interval(), demand.interval());
    if [capacity, demand].iter().any(|i| i.low.is_nan() || i.high.is_nan()) {
        return Bounds::between(0.0, f64::INFINITY);
    }
    let at = |capacity: f64, demand: f64| {
        if demand > 0.0 {
            Interval::exactly(capacity) * (Interval::exactly(1.0) / Interval::exactly(demand))
        } else {
            Interval::exactly(f64::INFINITY)
        }
    };
    let low = at(capacity.low, demand.high).low.max(0.0);
    let high = at(capacity.high, demand.low).high;
    Bounds::from_interval(Interval { low, high })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_safety_factor_holds_every_ratio_and_none_is_without_bound() {
        let f = safety_factor(Bounds::between(10.0, 12.0), Bounds::between(2.0, 4.0));
        assert!((f.low() - 2.5).abs() < 1e-12 && (f.high() - 6.0).abs() < 1e-12);
        let idle = safety_factor(Bounds::exactly(1.0), Bounds::between(0.0, 2.0));
        assert!(idle.high().is_infinite() && (idle.low() - 0.5).abs() < 1e-12);
        // What is no number supports nothing, wherever it stands.
        for (capacity, low, high) in [
            (1.0, f64::NAN, 2.0),
            (1.0, 1.0, f64::NAN),
            (1.0, f64::NAN, f64::NAN),
            (f64::NAN, 1.0, 2.0),
        ] {
            let demand = Bounds::<f64>::from_interval(Interval { low, high });
            let none = safety_factor(Bounds::from_interval(Interval::exactly(capacity)), demand);
            assert!(none.low() <= 0.0 && none.high().is_infinite(), "{none}");
        }
        let any = safety_factor(Bounds::exactly(1.0), Bounds::between(1.0, f64::INFINITY));
        assert!(any.low() <= 0.0 && any.high() >= 1.0);
    }

    #[test]
    fn a_rising_or_falling_function_is_bounded_by_both_its_ends() {
        let x = Bounds::between(2.0, 4.0);
        let falling = monotone(x, |x| Bounds::exactly(1.0) / x).interval();
        assert!(falling.contains(0.25) && falling.contains(0.5) && falling.width() < 0.251);
    }

    #[test]
    fn logarithm_and_cosine_hold_known_values() {
        // ln 2 as the standard library's constant, cos 60 deg = 0.5.
        assert!(ln(Bounds::exactly(2.0)).interval().contains(std::f64::consts::LN_2));
        assert!(cos(std::f64::consts::FRAC_PI_3).interval().contains(0.5));
    }
}
