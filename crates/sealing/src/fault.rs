//! Why something cannot be computed.

use measure::{Bounds, Quantity};
use std::borrow::Cow;
use std::fmt;

/// Why something cannot be computed: the quantity, its value, and what to do about it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Fault {
    /// A quantity is needed and not given. No default stands in for it.
    #[error("{quantity} is not given: {remedy}")]
    Missing {
        /// Which.
        quantity: Cow<'static, str>,
        /// What to give.
        remedy: Cow<'static, str>,
    },
    /// A quantity has a value for which the formulas do not hold.
    #[error("{quantity} is {value}: {remedy}")]
    OutOfRange {
        /// Which.
        quantity: Cow<'static, str>,
        /// Its value with its unit.
        value: String,
        /// What to do about it.
        remedy: Cow<'static, str>,
    },
}

impl Fault {
    /// A quantity that is not given.
    pub fn missing(
        quantity: impl Into<Cow<'static, str>>,
        remedy: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self::Missing { quantity: quantity.into(), remedy: remedy.into() }
    }

    /// A quantity whose value does not do.
    pub fn out_of_range(
        quantity: impl Into<Cow<'static, str>>,
        value: impl fmt::Display,
        remedy: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self::OutOfRange {
            quantity: quantity.into(),
            value: short(&value.to_string()),
            remedy: remedy.into(),
        }
    }

    /// The quantity at fault.
    pub fn quantity(&self) -> &str {
        match self {
            Self::Missing { quantity, .. } | Self::OutOfRange { quantity, .. } => quantity,
        }
    }
}

/// A value's text with its numbers at no more digits than tell something: five, a range's ends rounded
/// outward, and what only rounding left over zero as zero.
fn short(value: &str) -> String {
    let words: Vec<&str> = value.split(' ').collect();
    let before = |i: usize| i.checked_sub(1).and_then(|i| words.get(i)).copied();
    let told = words.iter().enumerate().map(|(i, word)| match word.parse::<f64>() {
        Ok(number) if number.is_finite() => {
            let round: fn(f64) -> f64 = if words.get(i + 1) == Some(&"to") {
                f64::floor
            } else if before(i) == Some("to") {
                f64::ceil
            } else {
                f64::round
            };
            digits(number, round).unwrap_or_else(|| (*word).to_owned())
        }
        _ => (*word).to_owned(),
    });
    told.collect::<Vec<_>>().join(" ")
}

/// A number at five digits; `None` where it has no more than that, or is too large for it.
fn digits(number: f64, round: fn(f64) -> f64) -> Option<String> {
    const DIGITS: i32 = 5;
    if number.abs() < 1e-12 {
        return Some("0".into());
    }
    let exponent = format!("{number:e}").split_once('e')?.1.parse::<i32>().ok()?;
    let places = DIGITS - 1 - exponent;
    if places <= 0 {
        return None;
    }
    let steps = 10_f64.powi(places);
    let near = (number * steps).round();
    // What is whole at five digits but for the rounding of its own making stays so.
    let whole = if (number * steps - near).abs() < 1e-6 { near } else { round(number * steps) };
    Some(format!("{}", whole / steps))
}

/// Faults of some quantities, gathered.
#[derive(Debug, Default)]
pub(crate) struct Faults(Vec<Fault>);

impl Faults {
    /// Asks for finite bounds whose lower end is above zero.
    pub(crate) fn positive<Q: Quantity + fmt::Display>(
        &mut self,
        quantity: &'static str,
        value: Bounds<Q>,
    ) {
        if !self.not_finite(quantity, value) && value.interval().low <= 0.0 {
            self.push(Fault::out_of_range(
                quantity,
                value,
                "give a value above zero, tolerance taken off",
            ));
        }
    }

    /// Asks for finite bounds whose lower end is not below zero.
    pub(crate) fn not_negative<Q: Quantity + fmt::Display>(
        &mut self,
        quantity: &'static str,
        value: Bounds<Q>,
    ) {
        if !self.not_finite(quantity, value) && value.interval().low < 0.0 {
            self.push(Fault::out_of_range(quantity, value, "give zero or more"));
        }
    }

    /// Asks for finite bounds.
    pub(crate) fn finite<Q: Quantity + fmt::Display>(
        &mut self,
        quantity: &'static str,
        value: Bounds<Q>,
    ) {
        self.not_finite(quantity, value);
    }

    /// Asks that `less` lies below `more`, both with their bounds.
    pub(crate) fn below<Q: Quantity + fmt::Display>(
        &mut self,
        quantity: &'static str,
        less: Bounds<Q>,
        more: Bounds<Q>,
        remedy: &'static str,
    ) {
        if less.is_finite() && more.is_finite() && less.interval().high >= more.interval().low {
            let value = format!("{less}, where {more} is the limit");
            self.push(Fault::out_of_range(quantity, value, remedy));
        }
    }

    /// Adds a fault.
    pub(crate) fn push(&mut self, fault: Fault) {
        self.0.push(fault);
    }

    /// What was gathered.
    pub(crate) fn gathered(self) -> Vec<Fault> {
        self.0
    }

    fn not_finite<Q: Quantity + fmt::Display>(
        &mut self,
        quantity: &'static str,
        value: Bounds<Q>,
    ) -> bool {
        let bad = !value.is_finite();
        if bad {
            self.push(Fault::out_of_range(quantity, value, "give a finite number"));
        }
        bad
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_told_with_five_digits_rounded_outward() {
        for (value, told) in [
            ("0 to 99.2300954817404 mm", "0 to 99.231 mm"),
            (
                "-0.0000000000000000000000000000000000000000000000000005 to 0.006849315068493153",
                "0 to 0.0068494",
            ),
            ("0.26001234567890123", "0.26001"),
            ("169.52499999999998 to 169.72500000000002 mm", "169.52 to 169.73 mm"),
            ("293.15 to 308.15 K", "293.15 to 308.15 K"),
            ("2.3 mm, where 1.9999999999999 mm is the limit", "2.3 mm, where 2 mm is the limit"),
            ("100000000 MPa", "100000000 MPa"),
            ("NaN mm", "NaN mm"),
            ("inf N", "inf N"),
            ("\"105J301W\"", "\"105J301W\""),
            ("-7.2", "-7.2"),
        ] {
            let fault = Fault::out_of_range("x", value, "y");
            assert_eq!(fault.to_string(), format!("x is {told}: y"));
        }
    }
}
