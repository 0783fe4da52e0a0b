//! Figures in sentences.

use super::{down, interval, near, up};
use crate::record::{Bounds, Margin};
use fitup::Rule;
use measure::LengthUnit;

/// The two parts of a figure: `outlet to lid`; only the first for figures about one part.
pub fn between(margin: &Margin) -> String {
    if margin.a == margin.b { margin.a.clone() } else { format!("{} to {}", margin.a, margin.b) }
}

/// What limits, in short: `gap, outlet to lid`; only the parts that the figure does not name itself.
pub fn limit(margin: &Margin) -> String {
    let is = |rules: &[Rule]| rules.iter().any(|rule| margin.rule == rule.word());
    if is(&[
        Rule::Flatness,
        Rule::SealWidth,
        Rule::OverhangDifference,
        Rule::Level,
        Rule::ScrewOffset,
        Rule::Travel,
    ]) {
        margin.rule.clone()
    } else if is(&[Rule::Lean, Rule::Skew, Rule::FootInPort]) {
        format!("{}, {}", margin.rule, margin.a)
    } else if is(&[Rule::Cavity]) {
        format!("{}, {}", margin.rule, margin.b)
    } else {
        format!("{}, {}", margin.rule, between(margin))
    }
}

/// A figure in a sentence without its full stop: `the inside link at P270 runs 0.420 in or more into
/// the cup, where a gap of 0.079 in is asked for`.
pub fn sentence(margin: &Margin, unit: LengthUnit) -> String {
    let rules = [
        Rule::Gap,
        Rule::Contact,
        Rule::Cavity,
        Rule::Flatness,
        Rule::SealWidth,
        Rule::OverhangDifference,
        Rule::Overhang,
        Rule::Level,
        Rule::Lean,
        Rule::Skew,
        Rule::FootInPort,
        Rule::ScrewOffset,
        Rule::Travel,
    ];
    let rule = rules.into_iter().find(|rule| margin.rule == rule.word());
    let (a, b) = (with_article(&margin.a), with_article(&margin.b));
    let bounds = margin.measured_mm;
    let found = interval(bounds, unit);
    let need = near(margin.need_mm, unit);
    let asked_for = |what: &str, words: [String; 3]| {
        format!("{}, where {what} is asked for", either_way(bounds, words, unit))
    };
    match rule {
        Some(Rule::Gap) => {
            let into = format!("{a} runs # into {b}");
            let apart = format!("{a} stands # from {b}");
            let either = format!("{a} may run # into {b} or stand @ from it");
            // What nobody saw may be filled or empty.
            if let Bounds { low: Some(low), high: None } = bounds
                && low < 0.0
            {
                let deep = up(-low, unit);
                return format!(
                    "{a} runs up to {deep} into {b}, if anything is there, where a gap of {need} is \
                     asked for"
                );
            }
            asked_for(&format!("a gap of {need}"), [into, apart, either])
        }
        Some(Rule::Cavity) => {
            let into = format!("{b} is # too large for the inside of {a}");
            let apart = format!("{a} leaves # around {b}");
            let either =
                format!("{b} may be # too large for the inside of {a} or have @ around it");
            asked_for(&need, [into, apart, either])
        }
        Some(Rule::FootInPort) => {
            let into = format!("{a} reaches # past the edge of its port");
            let apart = format!("{a} stands # from the edge of its port");
            let either = format!("{a} may reach # past the edge of its port or stand @ from it");
            asked_for(&need, [into, apart, either])
        }
        Some(Rule::Overhang) => {
            let into = format!("the slot of {a} ends # short of the outer face of {b}");
            let apart = format!("the slot of {a} reaches # beyond {b}");
            let either = format!("the slot of {a} may end # short of {b} or reach @ beyond it");
            either_way(bounds, [into, apart, either], unit)
        }
        Some(Rule::Travel) => {
            let into = "the screw's travel is # too short".to_owned();
            let apart = "# of the screw's travel is left".to_owned();
            let either = "the screw's travel may be # too short or have @ left".to_owned();
            either_way(bounds, [into, apart, either], unit)
        }
        Some(Rule::Flatness) => format!(
            "the plate under the gasket departs by {found} from flat, where {need} is allowed"
        ),
        Some(Rule::SealWidth) => {
            format!("the narrowest seal width is {found}, where {need} is asked for")
        }
        Some(Rule::OverhangDifference) => {
            format!("the clamp bar's overhangs differ by {found}, where {need} is allowed")
        }
        Some(Rule::Level) => {
            format!("the clamp bar is out of level by {found}, where {need} is allowed")
        }
        Some(Rule::Lean) => format!("{a} is out of upright by {found}, where {need} is allowed"),
        Some(Rule::Skew) => format!("{a} is out of square by {found}, where {need} is allowed"),
        Some(Rule::ScrewOffset) => {
            format!("the screw stands off the cup's axis by {found}, where {need} is allowed")
        }
        Some(Rule::Contact) => format!(
            "{a} and {b}, which touch by design, overlap or stand apart by {found}, where {need} is \
             allowed"
        ),
        _ => {
            let asked = if margin.need_is_most { "allowed" } else { "asked for" };
            format!("{}: {} is {found}, where {need} is {asked}", between(margin), margin.rule)
        }
    }
}

/// The sentence for a figure below zero, for one above, or for one of which that is not known: `#` and
/// `@` stand for how far below and above zero it is.
pub(super) fn either_way(
    bounds: Bounds,
    [below, above, either]: [String; 3],
    unit: LengthUnit,
) -> String {
    match (bounds.low, bounds.high) {
        (_, Some(high)) if high < 0.0 => {
            below.replace('#', &format!("{} or more", down(-high, unit)))
        }
        (Some(low), Some(high)) if low < 0.0 => either
            .replace('#', &format!("up to {}", up(-low, unit)))
            .replace('@', &format!("up to {}", up(high, unit))),
        _ => above.replace('#', &interval(bounds, unit)),
    }
}

/// A figure's margin by both ways of adding deviations up, and what adds most: `the margin is 0.030 to
/// 0.050 in at worst, 0.036 to 0.044 in by root-sum-square; most from gasket thickness (0.004 in)`.
/// `None` without deviations.
pub fn deviations(margin: &Margin, unit: LengthUnit) -> Option<String> {
    let by_squares = margin.margin_rss_mm?;
    let most: Vec<String> = margin
        .causes
        .iter()
        .take(3)
        .map(|cause| format!("{} ({})", cause.name, up(cause.bound_mm, unit)))
        .collect();
    (!most.is_empty()).then(|| {
        format!(
            "the margin is {} at worst, {} by root-sum-square; most from {}",
            interval(margin.margin_mm, unit),
            interval(by_squares, unit),
            most.join(", ")
        )
    })
}

pub(super) fn with_article(name: &str) -> String {
    if name.starts_with(|c: char| c.is_uppercase()) || name.starts_with("the ") {
        name.to_owned()
    } else {
        format!("the {name}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::tests::margin;

    const MM: LengthUnit = LengthUnit::Millimetre;

    #[test]
    fn gaps_and_overlaps_in_sentences() {
        let told = |low, high| sentence(&margin(Rule::Gap, low, high), MM);
        assert_eq!(
            told(1.0, 1.5),
            "the inside link at P270 stands 1.00 to 1.50 mm from the cup, where a gap of 2.00 mm is \
             asked for"
        );
        assert_eq!(
            told(-1.5, -1.004),
            "the inside link at P270 runs 1.00 mm or more into the cup, where a gap of 2.00 mm is \
             asked for"
        );
        // Which of the two is not known.
        assert_eq!(
            told(-1.5, 0.751),
            "the inside link at P270 may run up to 1.50 mm into the cup or stand up to 0.76 mm from \
             it, where a gap of 2.00 mm is asked for"
        );
    }

    #[test]
    fn every_rule_has_a_sentence_of_its_own() {
        let told = |rule, low, high| sentence(&margin(rule, low, high), MM);
        assert_eq!(
            told(Rule::ScrewOffset, 107.7, 108.0),
            "the screw stands off the cup's axis by 107.70 to 108.00 mm, where 2.00 mm is allowed"
        );
        assert_eq!(
            told(Rule::Lean, 3.0, 3.0),
            "the inside link at P270 is out of upright by 3.00 mm, where 2.00 mm is allowed"
        );
        assert_eq!(
            told(Rule::Cavity, -5.0, -4.0),
            "the cup is 4.00 mm or more too large for the inside of the inside link at P270, where \
             2.00 mm is asked for"
        );
        assert_eq!(
            told(Rule::Travel, -5.0, -4.0),
            "the screw's travel is 4.00 mm or more too short"
        );
        assert_eq!(
            told(Rule::Contact, 3.0, 3.0),
            "the inside link at P270 and the cup, which touch by design, overlap or stand apart by \
             3.00 mm, where 2.00 mm is allowed"
        );
    }

    #[test]
    fn a_limit_names_the_parts_that_its_figure_does_not() {
        let told = |rule| limit(&margin(rule, 1.0, 1.0));
        assert_eq!(told(Rule::Gap), "gap, inside link at P270 to cup");
        assert_eq!(told(Rule::ScrewOffset), "screw off the cup's axis");
        assert_eq!(told(Rule::Lean), "link out of upright, inside link at P270");
        assert_eq!(told(Rule::Cavity), "room inside the cup, cup");
    }
}
