//! Figures in sentences that come from the mechanics, in the reader's units.

use super::sealing::pound_force;
use measure::{LengthUnit, Pressure};

/// Unit as the mechanics write it, its size in the reader's, the reader's unit, decimals.
type Unit = (&'static str, f64, &'static str, usize);

/// A sentence with its lengths, pressures, forces and torques in inches, psi, lbf and lb ft where the
/// reader reads inches; ranges are rounded outward.
pub(super) fn in_units(sentence: &str, unit: LengthUnit) -> String {
    if unit == LengthUnit::Millimetre {
        return sentence.to_owned();
    }
    let pound = 1.0 / pound_force();
    let units: [Unit; 4] = [
        ("mm", 1.0 / 25.4, "in", 3),
        ("MPa", 1.0 / Pressure::from_psi(1.0).mpa(), "psi", 1),
        ("N", pound, "lbf", 1),
        ("N mm", pound / 304.8, "lb ft", 2),
    ];
    let words: Vec<&str> = sentence.split(' ').collect();
    let number = |i: usize| words.get(i).and_then(|w| w.parse::<f64>().ok());
    let mut told: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
    for at in 1..words.len() {
        let Some(high) = number(at - 1) else { continue };
        let (first, end) = ending(words[at]);
        let (second, end_of_second) = words.get(at + 1).map_or(("", ""), |w| ending(w));
        let torque = first == "N" && end.is_empty() && second == "mm";
        let name = if torque { "N mm" } else { first };
        let Some((_, size, word, places)) = units.iter().find(|u| u.0 == name) else { continue };
        let shown = |value: f64, round: fn(f64) -> f64| {
            let steps = 10_f64.powi(i32::try_from(*places).unwrap_or(0));
            format!("{:.places$}", round(value * size * steps) / steps + 0.0)
        };
        let low = if at >= 3 && words[at - 2] == "to" { number(at - 3) } else { None };
        told[at - 1] = shown(high, if low.is_some() { f64::ceil } else { f64::round });
        if let Some(low) = low {
            told[at - 3] = shown(low, f64::floor);
        }
        told[at] = format!("{word}{}", if torque { end_of_second } else { end });
        if torque {
            told[at + 1] = String::new();
        }
    }
    told.retain(|word| !word.is_empty());
    told.join(" ")
}

/// A word and the mark that ends it.
fn ending(word: &str) -> (&str, &str) {
    word.split_at(word.trim_end_matches([',', ':', ';', '.']).len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_is_told_in_the_readers_units() {
        // 25.4 mm an inch; 6.894 757 kPa a psi; 4.448 222 N a pound-force; 0.304 8 m a foot.
        for (of_mechanics, in_inches) in [
            (
                "0 to 99.231 mm, where 25.4 mm is the limit",
                "0.000 to 3.907 in, where 1.000 in is the limit",
            ),
            ("screw load is 4448.3 N: give more", "screw load is 1000.0 lbf: give more"),
            ("moment is 13558.2 N mm: check", "moment is 10.00 lb ft: check"),
            ("6.8948 MPa", "1000.0 psi"),
            (
                "the class of 49 CFR 179.101-1 at 304.13 K",
                "the class of 49 CFR 179.101-1 at 304.13 K",
            ),
            ("", ""),
        ] {
            assert_eq!(in_units(of_mechanics, LengthUnit::Inch), in_inches);
            assert_eq!(in_units(of_mechanics, LengthUnit::Millimetre), of_mechanics);
        }
    }
}
