//! Figures that are given as one value or as a range of two, and may be left out.

use crate::fault::Pen;
use crate::table::{Bound, Table, quantity_of};
use assembly::hold::Strength;
use measure::{Bounds, ParseError, Pressure, Quantity};
use std::str::FromStr;
use toml::Spanned;
use toml::de::DeValue;

/// What a figure is, for messages.
#[derive(Clone, Copy)]
pub(crate) struct Wanted {
    /// With its article: `a pressure`.
    pub(crate) noun: &'static str,
    /// As it is written.
    pub(crate) example: &'static str,
    /// What it may be.
    pub(crate) bound: Bound,
}

/// The strongest steel wire breaks at 3000 N/mm2 (handbooks, from memory).
pub(crate) const STRONGEST: Sense<Pressure> = Sense {
    least: Pressure::from_mpa(0.0),
    most: Pressure::from_mpa(3e3),
    remedy: "no metal in parts is stronger than \"435 ksi\" or \"3000 MPa\": check the number and its unit",
};

/// Rubber and most plastics lie below 1000 N/mm2, tungsten at 410 000, hard metal at 700 000 (handbooks,
/// from memory).
const STIFFNESS: Sense<Pressure> = Sense {
    least: Pressure::from_mpa(1e3),
    most: Pressure::from_mpa(700e3),
    remedy: "metals have from \"1000 MPa\" to \"700000 MPa\", steel about \"29000 ksi\": check the number and \
             its unit",
};

/// No metal yields beyond this share of its modulus: steel wire comes to a sixtieth, the ideal crystal to
/// about a tenth (handbooks, from memory).
const MOST_STRAIN: f64 = 0.05;

/// A stress or strength.
pub(crate) const STRENGTH: Wanted =
    Wanted { noun: "a pressure", example: "\"36 ksi\"", bound: Bound::Positive };

/// Between which values a figure makes sense, and what to do about one outside.
pub(crate) struct Sense<Q> {
    /// No less.
    pub(crate) least: Q,
    /// No more.
    pub(crate) most: Q,
    /// What to do about another.
    pub(crate) remedy: &'static str,
}

/// Beyond this no figure makes sense, in the unit in which it is held: a modulus is a few hundred
/// thousand newtons on a square millimetre.
const GREATEST: f64 = 1e8;

impl Table<'_> {
    /// A quantity or a list of its least and its greatest value, if there.
    pub(crate) fn maybe_range<Q>(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        wanted: Wanted,
    ) -> Option<Bounds<Q>>
    where
        Q: Quantity + FromStr<Err = ParseError>,
    {
        let Wanted { noun, example, bound } = wanted;
        self.maybe_ends(pen, key, example, |pen, value| {
            let read = |text: &str| text.parse::<Q>().map(Quantity::inside);
            let number = quantity_of(pen, value, key, noun, example, read).value;
            let wrong = match bound {
                Bound::Positive if number <= 0.0 => Some("is not greater than zero"),
                Bound::NotNegative if number < 0.0 => Some("is negative"),
                _ if number > GREATEST => Some("is beyond all measure"),
                _ => None,
            };
            if let Some(wrong) = wrong {
                let remedy = match bound {
                    _ if number > GREATEST => "check the number and its unit".into(),
                    Bound::Positive => format!("write {noun} greater than zero"),
                    _ => format!("write {noun} of zero or more"),
                };
                pen.at(&value.span(), format!("\"{key}\" {wrong}"), "not possible", remedy);
                return f64::NAN;
            }
            number
        })
    }

    /// A plain number or a list of the least and the greatest, if there, within `within`.
    pub(crate) fn maybe_numbers(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
        [least, most]: [f64; 2],
    ) -> Option<Bounds<f64>> {
        let asked = format!("from {least} to {most}");
        self.maybe_ends(pen, key, example, |pen, value| {
            let number = match value.get_ref() {
                DeValue::Integer(n) if n.radix() == 10 => n.as_str().parse().ok(),
                DeValue::Float(n) => n.as_str().parse().ok(),
                _ => None,
            };
            let number: f64 = number.unwrap_or(f64::NAN);
            if number >= least && number <= most && number.is_finite() {
                return number;
            }
            pen.at(
                &value.span(),
                format!("\"{key}\" is out of range"),
                format!("no plain number {asked}"),
                format!("write a plain number {asked}, as in: {key} = {example}"),
            );
            f64::NAN
        })
    }

    /// One plain number within bounds, if there.
    pub(crate) fn maybe_number(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
        within: [f64; 2],
    ) -> Option<f64> {
        if let Some(value) = self.get(key).filter(|v| v.get_ref().is_array()) {
            pen.at(
                &value.span(),
                format!("\"{key}\" is a list, not a number"),
                "one number is wanted here",
                format!("write it as in: {key} = {example}"),
            );
            return None;
        }
        self.maybe_numbers(pen, key, example, within).map(Bounds::high)
    }

    /// A whole number from 1 to `most`, if there.
    pub(crate) fn maybe_count(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        most: u16,
    ) -> Option<u16> {
        let value = self.get(key)?;
        let count = match value.get_ref() {
            DeValue::Integer(n) if n.radix() == 10 => n.as_str().parse::<u16>().ok(),
            _ => None,
        };
        let count = count.filter(|n| (1..=most).contains(n));
        if count.is_none() {
            pen.at(
                &value.span(),
                format!("\"{key}\" is no number of things"),
                format!("not a whole number from 1 to {most}"),
                format!("write it as in: {key} = 1"),
            );
        }
        count
    }

    /// Notes a figure that is written well and cannot be.
    pub(crate) fn sensible<Q: Quantity>(
        &self,
        pen: &mut Pen,
        key: &'static str,
        sense: &Sense<Q>,
        range: Option<Bounds<Q>>,
    ) {
        // An end that could not be read has its own fault.
        let Some(range) = range.filter(|r| r.is_finite()).map(Bounds::interval) else { return };
        if range.low < sense.least.inside() || range.high > sense.most.inside() {
            pen.at(
                &self.place(key),
                format!("\"{key}\" is beyond what there is"),
                "no such figure",
                sense.remedy,
            );
        }
    }

    /// Notes a figure that is given as one value, or as two that are alike, where it is only ever
    /// known within a range.
    pub(crate) fn spread<Q: Quantity>(
        &self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
        range: Option<Bounds<Q>>,
    ) {
        if range.is_some_and(|r| r.interval().low >= r.interval().high) {
            pen.at(
                &self.place(key),
                format!("\"{key}\" is given as known exactly"),
                "one value for what is only known within a range",
                format!("give its least and its greatest value, as in: {key} = {example}"),
            );
        }
    }

    /// What a figure rests on: must be told where there is one.
    pub(crate) fn basis(&mut self, pen: &mut Pen, key: &'static str, needed: bool) -> String {
        let example = "\"supplier's data sheet\"";
        if needed {
            return self.text(pen, key, example).text;
        }
        self.maybe_text(pen, key, example).map(|t| t.text).unwrap_or_default()
    }

    /// Both ends of a range as `read` gives them; NaN where it told a fault.
    fn maybe_ends<Q: Quantity>(
        &mut self,
        pen: &mut Pen,
        key: &'static str,
        example: &str,
        mut read: impl FnMut(&mut Pen, &Spanned<DeValue<'_>>) -> f64,
    ) -> Option<Bounds<Q>> {
        let value = self.get(key)?;
        let (low, high) = match value.get_ref().as_array().map(|items| &**items) {
            None => {
                let one = read(pen, value);
                (one, one)
            }
            Some([low, high]) => (read(pen, low), read(pen, high)),
            Some(items) => {
                pen.at(
                    &value.span(),
                    format!("\"{key}\" has {} values where 2 are wanted", items.len()),
                    "the least and the greatest are wanted here",
                    format!("write it as in: {key} = {example} or {key} = [{example}, {example}]"),
                );
                (f64::NAN, f64::NAN)
            }
        };
        if low > high {
            pen.at(
                &value.span(),
                format!("the range of \"{key}\" is upside down"),
                "the first is greater than the second",
                "write the least first, then the greatest",
            );
        }
        Some(Bounds::between(Q::from_inside(low), Q::from_inside(high)))
    }
}

/// Strengths of a material with their basis, from its table.
pub(crate) fn strength(table: &mut Table<'_>, pen: &mut Pen) -> Strength {
    let yielding = table.maybe_range(pen, "yield-strength", STRENGTH);
    let tensile = table.maybe_range(pen, "tensile-strength", STRENGTH);
    let modulus_wanted = Wanted { example: "\"29000 ksi\"", ..STRENGTH };
    let modulus = table.maybe_range(pen, "modulus", modulus_wanted);
    let basis = table.text(pen, "basis", "\"mill certificate\"").text;
    if yielding.is_none() && tensile.is_none() && modulus.is_none() {
        pen.at(
            table.span(),
            format!("{} gives no figure", table.title),
            "no strength in here",
            "give yield-strength, tensile-strength or modulus, or leave it out where none is known",
        );
    }
    let strength: Strength = Strength { yielding, tensile, modulus, basis };
    table.sensible(pen, "yield-strength", &STRONGEST, strength.yielding);
    table.sensible(pen, "tensile-strength", &STRONGEST, strength.tensile);
    table.sensible(pen, "modulus", &STIFFNESS, strength.modulus);
    if let (Some(strong), Some(stiff)) = (strength.yielding.or(strength.tensile), strength.modulus)
        && strong.high() <= STRONGEST.most
        && stiff.low() >= STIFFNESS.least
        && strong.high() > stiff.low() * MOST_STRAIN
    {
        pen.at(
            &table.place("modulus"),
            format!("{} is strong and not stiff", table.title),
            "less than 20 times the strength",
            "no metal is so: check both figures and their units",
        );
    }
    if let (Some(low), Some(high)) = (strength.yielding, strength.tensile)
        && high.high() < low.low()
    {
        pen.at(
            &table.place("tensile-strength"),
            "the tensile strength lies below the yield strength",
            "less than \"yield-strength\"",
            "no metal breaks before it yields: check both",
        );
    }
    strength
}
