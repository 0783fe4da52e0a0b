//! What is asked for.

use assembly::{CarTop, Kit};
use fitup::Effort;
use std::ops::RangeInclusive;

/// Pieces of the placement space that may be asked for.
pub const PIECES: RangeInclusive<usize> = 1..=1_000_000;

/// The fittings and cups to review, as indices into the car top and the kit, each once and in their
/// order there, and how hard to search.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// Indices into [`CarTop::fittings`].
    pub fittings: Vec<usize>,
    /// Indices into [`Kit::cups`].
    pub cups: Vec<usize>,
    /// Pieces of the placement space looked at, at most, for one cup, one pair of ports and one set of
    /// pieces off, within [`PIECES`].
    pub pieces: usize,
}

/// A name that the documents do not know.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("there is no {what} \"{name}\"")]
pub struct UnknownName {
    /// What was asked for: fitting or cup.
    pub what: &'static str,
    /// The name as asked.
    pub name: String,
    /// The names that there are.
    pub known: Vec<String>,
}

impl Request {
    /// Every fitting with every cup.
    pub fn everything(car: &CarTop, kit: &Kit) -> Self {
        let (fittings, cups) = (0..car.fittings.len(), 0..kit.cups.len());
        let pieces = Effort::default().most_cells;
        Self { fittings: fittings.collect(), cups: cups.collect(), pieces }
    }

    /// The named fittings with the named cups; no name at all asks for every one. Every unknown
    /// name is returned, not only the first.
    pub fn named(
        car: &CarTop,
        kit: &Kit,
        fittings: &[String],
        cups: &[String],
    ) -> Result<Self, Vec<UnknownName>> {
        let known_fittings: Vec<&str> = car.fittings.iter().map(|f| f.name.as_str()).collect();
        let known_cups: Vec<&str> = kit.cups.iter().map(|c| c.name.as_str()).collect();
        let mut unknown = Vec::new();
        let found = Self {
            fittings: indices("fitting", fittings, &known_fittings, &mut unknown),
            cups: indices("cup", cups, &known_cups, &mut unknown),
            pieces: Effort::default().most_cells,
        };
        if unknown.is_empty() { Ok(found) } else { Err(unknown) }
    }
}

fn indices(
    what: &'static str,
    names: &[String],
    known: &[&str],
    unknown: &mut Vec<UnknownName>,
) -> Vec<usize> {
    for name in names {
        if !known.contains(&name.as_str()) {
            unknown.push(UnknownName {
                what,
                name: name.clone(),
                known: known.iter().map(|&k| k.to_owned()).collect(),
            });
        }
    }
    let asked = |name: &str| names.is_empty() || names.iter().any(|n| n == name);
    known.iter().enumerate().filter(|(_, name)| asked(name)).map(|(i, _)| i).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(names: &[&str]) -> (Vec<usize>, Vec<UnknownName>) {
        let names: Vec<String> = names.iter().map(|&n| n.to_owned()).collect();
        let mut unknown = Vec::new();
        let found = indices("cup", &names, &["A", "B", "C"], &mut unknown);
        (found, unknown)
    }

    #[test]
    fn names_are_found_in_the_documents_order_and_each_once() {
        assert_eq!(ask(&[]).0, [0, 1, 2]);
        assert_eq!(ask(&["C", "A", "C"]), (vec![0, 2], vec![]));
    }

    #[test]
    fn every_unknown_name_is_told_with_the_known_ones() {
        let (_, unknown) = ask(&["X", "A", "b"]);
        assert_eq!(unknown.iter().map(|u| u.name.as_str()).collect::<Vec<_>>(), ["X", "b"]);
        assert!(unknown.iter().all(|u| u.known == ["A", "B", "C"]));
    }
}
