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
            value: value.to_string(),
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
