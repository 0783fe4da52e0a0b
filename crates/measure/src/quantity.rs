//! Scalars with a unit.
//!
//! Definitions of inch, foot, pound, pound-force and psi are those of NIST SP 811 (2008), appendix
//! B (from memory): 1 in = 25.4 mm, 1 ft = 304.8 mm, 1 lb = 0.453 592 37 kg, standard gravity
//! 9.806 65 m/s2, all exact.

use crate::ParseError;
use crate::parse::{Cursor, Grammar};
use std::f64::consts::PI;
use std::fmt;
use std::str::FromStr;

/// One pound-force in newtons: 0.453 592 37 kg times 9.806 65 m/s2, exact in decimals.
const LBF: f64 = 4.448_221_615_260_5;
/// One pound-force inch in newton millimetres.
const LBF_IN: f64 = LBF * 25.4;
/// One pound-force per square inch in megapascals.
const PSI: f64 = LBF / (25.4 * 25.4);

/// A length, held in millimetres.
///
/// Reads `"19.05 mm"`, `"3/4 in"`, `"1 1/2 in"`, `"1-1/2 in"`, `"2 ft 1 in"`, `"3/4\""`; also cm and
/// m. [`Display`](fmt::Display) writes millimetres that read back to the same number; for people
/// use [`Length::show`].
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Length(f64);

/// The unit in which lengths are written for a reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum LengthUnit {
    /// Decimal inches and fractions of an inch.
    Inch,
    /// Millimetres.
    #[default]
    Millimetre,
}

impl LengthUnit {
    /// As written in documents: `in` or `mm`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Inch => "in",
            Self::Millimetre => "mm",
        }
    }

    /// Decimals shown when nothing else is asked: 2 for inches, 1 for millimetres.
    pub const fn usual_places(self) -> usize {
        match self {
            Self::Inch => 2,
            Self::Millimetre => 1,
        }
    }
}

const LENGTHS: Grammar = Grammar {
    noun: "a length",
    examples: "\"3/4 in\" or \"19.05 mm\"",
    units: &[
        ("mm", 1.0, 1.0),
        ("in", 254.0, 10.0),
        ("\"", 254.0, 10.0),
        ("inch", 254.0, 10.0),
        ("inches", 254.0, 10.0),
        ("ft", 3048.0, 10.0),
        ("'", 3048.0, 10.0),
        ("foot", 3048.0, 10.0),
        ("feet", 3048.0, 10.0),
        ("cm", 10.0, 1.0),
        ("m", 1000.0, 1.0),
    ],
    compound: Some((&["ft", "'", "foot", "feet"], &["in", "\"", "inch", "inches"])),
};

impl Length {
    /// Zero length.
    pub const ZERO: Self = Self(0.0);

    /// A length of `mm` millimetres.
    pub const fn from_mm(mm: f64) -> Self {
        Self(mm)
    }

    /// A length of `inches` international inches (25.4 mm exactly).
    pub const fn from_inches(inches: f64) -> Self {
        Self(inches * 254.0 / 10.0)
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.0
    }

    /// In international inches.
    pub const fn inches(self) -> f64 {
        self.0 / 25.4
    }

    /// For people, with the usual number of decimals: `1.50 in`, `38.1 mm`.
    pub fn show(self, unit: LengthUnit) -> String {
        self.show_to(unit, unit.usual_places())
    }

    /// For people, with `places` decimals. Never writes a minus sign before a zero.
    pub fn show_to(self, unit: LengthUnit, places: usize) -> String {
        let value = match unit {
            LengthUnit::Inch => self.inches(),
            LengthUnit::Millimetre => self.0,
        };
        format!("{} {}", decimal(value, places), unit.word())
    }

    /// For people, a bound that is never written less than it is: rounded up, with the usual number of
    /// decimals or as many more as its first two digits take, six at most. Zero alone is written as zero.
    pub fn show_bound(self, unit: LengthUnit) -> String {
        let value = match unit {
            LengthUnit::Inch => self.inches(),
            LengthUnit::Millimetre => self.0,
        };
        let shown = |value| format!("{} {}", bound_above(value, unit.usual_places()), unit.word());
        let text = shown(value);
        // Dividing may have rounded down.
        let holds = text.parse::<Self>().is_ok_and(|read| read.0 >= self.0);
        if holds { text } else { shown(value.next_up()) }
    }

    /// For people, as whole inches and a fraction to the nearest `1/denominator`, with what that
    /// leaves over where it would show at a hundredth of a millimetre: `1 1/2 in`, and
    /// `1 1/2 in - 0.21 mm`. A denominator of zero is read as one.
    pub fn show_fraction(self, denominator: u32) -> String {
        let parts = f64::from(denominator.max(1));
        let count = (self.inches() * parts).round();
        if !count.is_finite() || count.abs() >= 9e15 {
            return self.show(LengthUnit::Inch);
        }
        let left = self.0 - count * 25.4 / parts;
        let sign = if count < 0.0 { "-" } else { "" };
        let whole = (count.abs() / parts).floor();
        let top = count.abs() - whole * parts;
        let (top, bottom) = reduced(top, parts);
        let number = match (whole > 0.0, top > 0.0) {
            (_, false) => format!("{sign}{whole}"),
            (false, true) => format!("{sign}{top}/{bottom}"),
            (true, true) => format!("{sign}{whole} {top}/{bottom}"),
        };
        match decimal(left.abs(), 2).as_str() {
            "0.00" => format!("{number} in"),
            rest if left < 0.0 => format!("{number} in - {rest} mm"),
            rest => format!("{number} in + {rest} mm"),
        }
    }
}

/// `value` with `places` decimals, without a minus sign before zero.
fn decimal(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

/// A number as a decimal that is not less: with `places` decimals, or as many more as its first two digits
/// take, six at most.
pub fn bound_above(value: f64, places: usize) -> String {
    let shift = |places: usize| 10_f64.powi(i32::try_from(places).unwrap_or(0));
    let wanted = |places: &usize| value.abs() * shift(*places) >= 10.0;
    let places = match (places..6).find(wanted) {
        Some(more) if value != 0.0 => more,
        None if value != 0.0 => places.max(6),
        _ => places,
    };
    let nearest = decimal(value, places);
    if nearest.parse::<f64>().is_ok_and(|read| read >= value) || !value.is_finite() {
        return nearest;
    }
    // One more of the last decimal.
    decimal(value + 0.5 / shift(places), places)
}

/// A fraction of two whole numbers in lowest terms.
fn reduced(top: f64, bottom: f64) -> (f64, f64) {
    let (mut a, mut b) = (bottom, top);
    while b > 0.0 {
        (a, b) = (b, a % b);
    }
    (top / a, bottom / a)
}

/// An angle, held in radians. Bearings are counter-clockwise from +x (toward the hinge), seen from
/// above.
///
/// Reads `"30 deg"`, `"0.5 rad"` and, as a bearing, `"11 o'clock"` or `"11:30 o'clock"`: 12 o'clock
/// is toward the hinge, the clock runs clockwise seen from above, so 3 o'clock is -90 degrees.
/// [`Display`](fmt::Display) writes radians that read back to the same number.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle(f64);

const ANGLES: Grammar = Grammar {
    noun: "an angle",
    examples: "\"30 deg\" or \"0.5 rad\"",
    units: &[
        ("deg", PI, 180.0),
        ("\u{b0}", PI, 180.0),
        ("degree", PI, 180.0),
        ("degrees", PI, 180.0),
        ("rad", 1.0, 1.0),
    ],
    compound: None,
};

/// Turn clockwise from 12 o'clock in degrees, of a text that speaks of o'clock; `None` for others.
fn clock_degrees(text: &str) -> Option<Result<f64, ParseError>> {
    let trimmed = text.trim_end();
    let hours =
        trimmed.strip_suffix("o'clock").or_else(|| trimmed.strip_suffix("o\u{2019}clock"))?;
    let bad = |message: &str| {
        let start = text.len() - text.trim_start().len();
        ParseError::new(
            start.min(trimmed.len())..trimmed.len(),
            message,
            "write a clock position such as \"11 o'clock\" or \"11:30 o'clock\"",
        )
    };
    let mut cursor = Cursor::new(hours);
    cursor.skip_space();
    let hour = cursor.digits().parse::<u8>().ok();
    let minute = if cursor.eat(':') {
        let digits = cursor.digits();
        if digits.len() == 2 { digits.parse::<u8>().ok() } else { None }
    } else {
        Some(0)
    };
    cursor.skip_space();
    let (Some(hour), Some(minute), "") = (hour, minute, cursor.rest()) else {
        return Some(Err(bad("not a clock position")));
    };
    if !(1..=12).contains(&hour) || minute > 59 {
        return Some(Err(bad("no such time on a clock face")));
    }
    Some(Ok(f64::from(hour % 12) * 30.0 + f64::from(minute) * 0.5))
}

impl Angle {
    /// No turn.
    pub const ZERO: Self = Self(0.0);

    /// An angle of `rad` radians.
    pub const fn from_radians(rad: f64) -> Self {
        Self(rad)
    }

    /// An angle of `deg` degrees.
    pub const fn from_degrees(deg: f64) -> Self {
        Self(deg * (PI / 180.0))
    }

    /// In radians.
    pub const fn radians(self) -> f64 {
        self.0
    }

    /// In degrees.
    pub const fn degrees(self) -> f64 {
        self.0 * (180.0 / PI)
    }

    /// Reads an angle where a clock position has no meaning: a lid's opening, a tolerance.
    pub fn parse_plain(text: &str) -> Result<Self, ParseError> {
        ANGLES.read(text).map(Self)
    }

    /// Reads a turn that is positive clockwise seen by whoever reads the clock: 1 o'clock is +30
    /// degrees, 11 o'clock -30 degrees, 6 o'clock 180 degrees. For the elbow's turn.
    pub fn parse_clockwise(text: &str) -> Result<Self, ParseError> {
        match clock_degrees(text) {
            Some(read) => read.map(|d| Self::from_degrees(if d > 180.0 { d - 360.0 } else { d })),
            None => Self::parse_plain(text),
        }
    }

    /// For people: degrees with one decimal, `30.0 deg`.
    pub fn show(self) -> String {
        format!("{} deg", decimal(self.degrees(), 1))
    }

    /// A bearing as a clock position seen from above with the hinge at 12, to the nearest minute of
    /// the clock (half a degree): `11 o'clock`, `11:30 o'clock`. Not finite: `no bearing`.
    pub fn show_clock(self) -> String {
        let degrees = self.degrees();
        if !degrees.is_finite() {
            return "no bearing".to_owned();
        }
        let half_degrees = ((-degrees).rem_euclid(360.0) * 2.0).round() % 720.0;
        let hour = (half_degrees / 60.0).floor();
        let minute = half_degrees - hour * 60.0;
        let hour = if hour == 0.0 { 12.0 } else { hour };
        if minute == 0.0 {
            format!("{hour} o'clock")
        } else {
            format!("{hour}:{minute:02} o'clock")
        }
    }
}

impl FromStr for Angle {
    type Err = ParseError;
    fn from_str(text: &str) -> Result<Self, ParseError> {
        match clock_degrees(text) {
            Some(read) => {
                read.map(|d| Self::from_degrees(if d < 180.0 { 0.0 - d } else { 360.0 - d }))
            }
            None => Self::parse_plain(text),
        }
    }
}

/// Declares a scalar that is held in one unit and read in several.
macro_rules! scalar {
    ($(#[$doc:meta])* $name:ident, $inside:literal, $from:ident, $to:ident, $grammar:ident,
     $noun:literal, $examples:literal, $units:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        const $grammar: Grammar =
            Grammar { noun: $noun, examples: $examples, units: $units, compound: None };

        impl $name {
            #[doc = concat!("From ", $inside, ".")]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("In ", $inside, ".")]
            pub const fn $to(self) -> f64 {
                self.0
            }
        }

        impl FromStr for $name {
            type Err = ParseError;
            fn from_str(text: &str) -> Result<Self, ParseError> {
                $grammar.read(text).map(Self)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!("{} ", $inside), self.0)
            }
        }
    };
}

scalar!(
    /// A pressure, held in megapascals (N/mm2). Reads `psi`, `bar`, `kPa`, `MPa`; whether it is gauge or
    /// absolute is for whoever holds it to say.
    Pressure, "MPa", from_mpa, mpa, PRESSURES,
    "a pressure", "\"250 psi\" or \"1.7 MPa\"",
    &[("MPa", 1.0, 1.0), ("kPa", 1.0, 1000.0), ("bar", 1.0, 10.0), ("psi", PSI, 1.0), ("ksi", PSI * 1000.0, 1.0)]
);

impl Pressure {
    /// From pounds-force per square inch.
    pub const fn from_psi(psi: f64) -> Self {
        Self(psi * PSI)
    }

    /// In pounds-force per square inch.
    pub const fn psi(self) -> f64 {
        self.0 / PSI
    }
}

scalar!(
    /// A force, held in newtons. Reads N, kN, lbf.
    Force, "N", from_newtons, newtons, FORCES,
    "a force", "\"2500 lbf\" or \"11 kN\"",
    &[("N", 1.0, 1.0), ("kN", 1000.0, 1.0), ("lbf", LBF, 1.0)]
);

scalar!(
    /// A torque, held in newton millimetres. Reads N mm, N m, lb in, lb ft (pounds-force).
    Torque, "N mm", from_newton_mm, newton_mm, TORQUES,
    "a torque", "\"60 lb ft\" or \"80 N m\"",
    &[
        ("N mm", 1.0, 1.0),
        ("N m", 1000.0, 1.0),
        ("Nm", 1000.0, 1.0),
        ("lb in", LBF_IN, 1.0),
        ("lbf in", LBF_IN, 1.0),
        ("in lb", LBF_IN, 1.0),
        ("lb ft", LBF_IN * 12.0, 1.0),
        ("lbf ft", LBF_IN * 12.0, 1.0),
        ("ft lb", LBF_IN * 12.0, 1.0),
    ]
);

impl FromStr for Length {
    type Err = ParseError;
    fn from_str(text: &str) -> Result<Self, ParseError> {
        LENGTHS.read(text).map(Self)
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} mm", self.0)
    }
}

impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} rad", self.0)
    }
}

#[cfg(test)]
mod tests;
