//! Temperatures.

use crate::ParseError;
use crate::parse::Grammar;
use std::fmt;
use std::str::FromStr;

/// A temperature, held in kelvins.
///
/// Reads `"40 deg C"`, `"105 deg F"`, `"313 K"`, also with the degree sign.
/// [`Display`](fmt::Display) writes kelvins that read back to the same number. Temperatures neither
/// add nor multiply: only formulas of their own take them.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Temperature(f64);

/// Absolute zero in degrees Celsius, with the sign changed: exact (SI brochure, 9th edition, 2.3.1,
/// from memory).
const CELSIUS: f64 = 273.15;

/// Kelvins a degree; the scale's zero comes after.
const TEMPERATURES: Grammar = Grammar {
    noun: "a temperature",
    examples: "\"40 deg C\" or \"105 deg F\"",
    units: &[
        ("K", 1.0, 1.0),
        ("deg C", 1.0, 1.0),
        ("\u{b0}C", 1.0, 1.0),
        ("\u{b0} C", 1.0, 1.0),
        ("deg F", 10.0, 18.0),
        ("\u{b0}F", 10.0, 18.0),
        ("\u{b0} F", 10.0, 18.0),
    ],
    compound: None,
};

impl Temperature {
    /// From kelvins.
    pub const fn from_kelvins(kelvins: f64) -> Self {
        Self(kelvins)
    }

    /// In kelvins.
    pub const fn kelvins(self) -> f64 {
        self.0
    }

    /// From degrees Celsius.
    pub const fn from_celsius(degrees: f64) -> Self {
        Self(degrees + CELSIUS)
    }

    /// In degrees Celsius.
    pub const fn celsius(self) -> f64 {
        self.0 - CELSIUS
    }

    /// From degrees Fahrenheit: C = (F - 32) / 1.8 (NIST SP 811, appendix B, from memory).
    pub const fn from_fahrenheit(degrees: f64) -> Self {
        Self::from_celsius((degrees - 32.0) / 1.8)
    }
}

impl FromStr for Temperature {
    type Err = ParseError;
    fn from_str(text: &str) -> Result<Self, ParseError> {
        let degrees = TEMPERATURES.read(text)?;
        let kelvins = match text.trim_end().chars().next_back() {
            Some('C') => degrees + CELSIUS,
            // 32 degrees Fahrenheit are zero degrees Celsius.
            Some('F') => degrees - 32.0 / 1.8 + CELSIUS,
            _ => degrees,
        };
        if kelvins <= 0.0 {
            return Err(ParseError::new(
                0..text.len(),
                "a temperature at or below absolute zero",
                "check the number and the scale",
            ));
        }
        Ok(Self(kelvins))
    }
}

impl fmt::Display for Temperature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} K", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_three_scales_agree_at_ice_steam_and_where_two_meet() {
        // 0 C = 32 F, 100 C = 212 F, -40 C = -40 F: from the definition.
        for (celsius, fahrenheit) in [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0)] {
            let from = Temperature::from_fahrenheit(fahrenheit);
            assert!((from.kelvins() - (celsius + 273.15)).abs() < 1e-12);
            assert!((from.celsius() - celsius).abs() < 1e-12);
            for text in [
                format!("{celsius} deg C"),
                format!("{fahrenheit} deg F"),
                format!(" {fahrenheit} \u{b0}F"),
                format!("{celsius}\u{b0}C "),
                format!("{} K", celsius + 273.15),
            ] {
                let read: Temperature = text.parse().unwrap();
                assert!((read.celsius() - celsius).abs() < 1e-9, "{text}");
            }
        }
    }

    #[test]
    fn what_is_no_temperature_is_refused_with_a_remedy() {
        for (text, message) in [
            ("40", "a number without a unit"),
            ("40 deg", "\"deg\" is not a unit here"),
            ("warm", "no number here"),
            ("-300 deg C", "a temperature at or below absolute zero"),
            ("0 K", "a temperature at or below absolute zero"),
        ] {
            let error = text.parse::<Temperature>().unwrap_err();
            assert_eq!(error.message, message);
            assert!(!error.remedy.is_empty() && text.get(error.span).is_some());
        }
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back_to_the_bit(kelvins in 1e-3..1e4_f64) {
            let read: Temperature = Temperature(kelvins).to_string().parse().unwrap();
            prop_assert_eq!(read.kelvins().to_bits(), kelvins.to_bits());
        }

        #[test]
        fn no_text_panics_and_places_are_in_the_text(text in r"[-+ 0-9/.,degCFK\u{b0}]{0,12}") {
            if let Err(error) = text.parse::<Temperature>() {
                prop_assert!(text.get(error.span).is_some());
            }
        }
    }
}
