//! Sentences and marks that every output shares, from the record.
//!
//! Lengths that tell how much there is to spare are rounded so that they never promise more than
//! was found: lower bounds down, upper bounds up.

mod bearings;
mod figures;
mod measuring;
pub mod sealing;
mod units;

pub use bearings::{bearings, free_bearings, undecided_bearings};
pub use figures::{between, deviations, limit, sentence};
pub use measuring::{apart, spacing};

use crate::land::Land;
use crate::record::{
    Basis, Bounds, Doubt, Fitting, Margin, Removed, Share, Variations, Verdict, Way,
};
use measure::{Angle, Length, LengthUnit};

/// The words of a verdict.
pub const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fits => fitup::Verdict::Fits.words(),
        Verdict::FitsAfterRemoval => fitup::Verdict::FitsAfterRemoval.words(),
        Verdict::CannotTell => fitup::Verdict::CannotTell.words(),
        Verdict::DoesNotFit => fitup::Verdict::DoesNotFit.words(),
    }
}

/// The shape that stands beside a verdict's words.
pub const fn mark(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fits => "\u{25cf}",
        Verdict::FitsAfterRemoval => "\u{25d0}",
        Verdict::CannotTell => "?",
        Verdict::DoesNotFit => "\u{2715}",
    }
}

/// What the verdict rests on, in a phrase.
pub fn basis(fitting: &Fitting) -> &'static str {
    match (fitting.verdict, fitting.basis) {
        (Verdict::Fits | Verdict::FitsAfterRemoval, _) => "measured at the placement below",
        (Verdict::DoesNotFit, Basis::Proven) => "proven for every placement",
        (Verdict::DoesNotFit, _) => "no placement found; the search is no proof",
        (Verdict::CannotTell, _) if fitting.doubts == [Doubt::Effort] => {
            "the search ended before it could tell"
        }
        (Verdict::CannotTell, _) => "the data do not support a verdict",
    }
}

/// What a reason is about, in a few words.
pub const fn doubt(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::DataMissing => "data missing",
        Doubt::Deviations => "deviations too wide",
        Doubt::Installation => "not found",
        Doubt::Effort => "search ended",
    }
}

/// Decimals of margins and gaps.
const fn places(unit: LengthUnit) -> usize {
    match unit {
        LengthUnit::Inch => 3,
        LengthUnit::Millimetre => 2,
    }
}

/// What margins and gaps are rounded to, mm.
pub(crate) const fn margin_step(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Inch => 0.0254,
        LengthUnit::Millimetre => 0.01,
    }
}

fn rounded(mm: f64, unit: LengthUnit, round: fn(f64) -> f64) -> Length {
    let step = margin_step(unit);
    // A hair of a step forgives the rounding of the division.
    let steps = mm / step;
    let near = steps.round();
    let whole = if (steps - near).abs() < 1e-6 { near } else { round(steps) };
    Length::from_mm(whole * step)
}

/// A length rounded down.
pub fn down(mm: f64, unit: LengthUnit) -> String {
    rounded(mm, unit, f64::floor).show_to(unit, places(unit))
}

/// A length rounded up.
pub fn up(mm: f64, unit: LengthUnit) -> String {
    rounded(mm, unit, f64::ceil).show_to(unit, places(unit))
}

/// A length to the nearest.
pub fn near(mm: f64, unit: LengthUnit) -> String {
    Length::from_mm(mm).show_to(unit, places(unit))
}

/// An interval, rounded outward: `0.010 in to 0.020 in`; one figure where both ends print alike.
pub fn interval(bounds: Bounds, unit: LengthUnit) -> String {
    match (bounds.low, bounds.high) {
        (Some(low), Some(high)) if high - low < 1e-6 => near(0.5 * (low + high), unit),
        (Some(low), Some(high)) => {
            let low = down(low, unit);
            let low = low.strip_suffix(unit.word()).unwrap_or(&low).trim_end();
            format!("{low} to {}", up(high, unit))
        }
        (Some(low), None) => format!("{} or more", down(low, unit)),
        (None, Some(high)) => format!("{} or less", up(high, unit)),
        (None, None) => "not known".into(),
    }
}

/// The bound of a least margin that supports the verdict: what there is at least where the fitting
/// fits, what is left at most where it does not, both where it cannot be told.
pub fn least_margin(fitting: &Fitting, unit: LengthUnit) -> String {
    let Some(bounds) = fitting.least_margin_mm else { return "-".into() };
    match fitting.verdict {
        Verdict::Fits | Verdict::FitsAfterRemoval => {
            bounds.low.map_or_else(|| "-".into(), |low| down(low, unit))
        }
        Verdict::DoesNotFit => bounds.high.map_or_else(|| "-".into(), |high| up(high, unit)),
        Verdict::CannotTell => interval(bounds, unit),
    }
}

/// What is taken off, in order: `handwheel, outlet plug`; another fitting's pieces with its name.
pub fn removals(removed: &[Removed], of: &str) -> String {
    let one = |r: &Removed| {
        if r.fitting == of { r.piece.clone() } else { format!("{} {}", r.fitting, r.piece) }
    };
    removed.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// What taking a piece off gains, in a phrase: the lower end of the fitting's least margin beside the
/// same with the piece on. `None` where that is not known.
pub fn gain(fitting: &Fitting, piece: usize, unit: LengthUnit) -> Option<String> {
    let on = (*fitting.least_margin_with_it_on_mm.get(piece)?)?.low?;
    let off = fitting.least_margin_mm?.low?;
    let found = down(on, unit);
    Some(if on > 0.0 {
        format!("with it on {found} to spare in place, but it is in the way of a part or a hand")
    } else {
        format!("gains {} ({found} at best found with it on)", near(off - on, unit))
    })
}

/// The land under the gasket, in a phrase: `narrowest seal width 12.30 mm at 4:30 o'clock; flat
/// within 0.20 mm; highest at 2 o'clock, lowest at 8 o'clock`. Clock positions from the cup's axis.
pub fn land(land: &Land, unit: LengthUnit) -> String {
    let width = interval(land.seal_width_mm, unit);
    let mut parts = vec![match &land.narrowest {
        Some(at) => format!("narrowest seal width {width} at {}", at.clock),
        None => format!("seal width {width} all round"),
    }];
    match land.departure_mm.and_then(|d| d.high) {
        Some(high) => parts.push(format!("flat within {}", up(high, unit))),
        None => parts.push("no plate is seen".into()),
    }
    // Where it may be flat within the deviations, which places are high is chance.
    if let (Some(highest), Some(lowest)) = (&land.highest, &land.lowest)
        && land.departure_mm.and_then(|d| d.low).is_some_and(|low| low > 0.0)
    {
        parts.push(format!("highest at {}, lowest at {}", highest.at.clock, lowest.at.clock));
    }
    if let Some(toward) = &land.unseen {
        parts.push(format!("not seen all the way toward {}", toward.clock));
    }
    for beside in land.standing.iter().filter(|b| !b.over_deg.is_empty()) {
        // Bearings run counter-clockwise, the clock the other way.
        let arc = |arc: &[f64; 2]| {
            let [from, to] = arc.map(|deg| Angle::from_degrees(deg).show_clock());
            format!("from {to} to {from}")
        };
        let arcs: Vec<String> = beside.over_deg.iter().map(arc).collect();
        parts.push(format!("{} on it or over it {}", beside.body, arcs.join(" and ")));
    }
    parts.join("; ")
}

/// A share in per cent with its interval, rounded so that it never promises more: `97.3 % (96.1 to
/// 98.3 %)`.
pub fn share(share: &Share) -> String {
    // A hair forgives the rounding of the product.
    let down = |part: f64| (1000.0 * part + 1e-9).floor() / 10.0;
    let up = |part: f64| (1000.0 * part - 1e-9).ceil() / 10.0;
    let (shown, low, high) = (down(share.share), down(share.low), up(share.high));
    format!("{shown:.1} % ({low:.1} to {high:.1} %)")
}

/// What limits most of the variations that cannot be capped: `in 31 of 40 gap, outlet to lid`.
pub fn variations_limit(variations: &Variations) -> Option<String> {
    let first = variations.limits.first()?;
    let all: usize = variations.limits.iter().map(|l| l.count).sum();
    Some(format!("{}, {} to {} ({} of {all})", first.rule, first.a, first.b, first.count))
}

/// How a part reaches its place: `gasket: straight down, proven clear by 0.036 in or more`.
pub fn way(way: &Way, unit: LengthUnit) -> String {
    let lead = way.parts.first().map_or("part", String::as_str);
    let with = if way.parts.len() > 1 { " and what goes with it" } else { "" };
    let found = match (&way.manner, way.clearance_mm) {
        (Some(manner), Some(left)) => {
            format!("{manner}, proven clear by {} or more", down(left, unit))
        }
        _ if way.searched => "no way found, not by a search either".into(),
        _ => "no way found".into(),
    };
    format!("{lead}{with}: {found}")
}

/// The plan check beside the verdict, in one line.
pub fn plan_compared(fitting: &Fitting, unit: LengthUnit) -> String {
    let plan = &fitting.plan;
    let (Some(passes), Some(least), Some(to)) = (plan.passes, plan.least_mm, &plan.to) else {
        return "plan check has nothing to measure: nothing else stands on the plate".into();
    };
    let found = if passes {
        format!("plan check passes ({} to {to})", near(least, unit))
    } else {
        format!(
            "plan check fails ({} to {to}, {} asked for)",
            near(least, unit),
            near(plan.asked_mm, unit)
        )
    };
    let in_3d = fitting.limit.as_ref().map(|m| sentence(m, unit));
    let rest = match (passes, fitting.verdict) {
        (true, Verdict::Fits | Verdict::FitsAfterRemoval) | (false, Verdict::DoesNotFit) => {
            "the 3D result agrees".into()
        }
        (false, Verdict::Fits | Verdict::FitsAfterRemoval) => {
            "it is stricter than the 3D result, by which the fitting can be covered".into()
        }
        (true, Verdict::DoesNotFit) => match (&fitting.limit, in_3d) {
            (Some(limit), Some(sentence)) => {
                format!("it does not see {}: {sentence}", unseen(limit))
            }
            _ => "it does not see why the fitting cannot be covered".into(),
        },
        (_, Verdict::CannotTell) => match fitting.reasons.first() {
            Some(reason) => format!("in 3D it cannot be told: {reason}"),
            None => "in 3D it cannot be told".into(),
        },
    };
    format!("{found}; {rest}")
}

/// What a flat spacing rule has no eye for, by the figure that fails.
fn unseen(margin: &Margin) -> &'static str {
    use fitup::Check;
    let is = |check: Check| margin.check == check.word();
    if is(Check::Cover) {
        "whether the fitting goes into the cup"
    } else if is(Check::Land) {
        "the plate under the gasket"
    } else if is(Check::Bar) {
        "the clamp bar's way over the housing"
    } else if is(Check::Links) {
        "the links beside the sidewall"
    } else if is(Check::Feet) {
        "the feet and pins at the ports"
    } else if is(Check::Screw) {
        "where the clamp comes"
    } else if margin.a.starts_with("outlet") {
        "the outlet"
    } else {
        "how wide and how high the cup is"
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Plan;

    const IN: LengthUnit = LengthUnit::Inch;

    pub(super) fn margin(rule: fitup::Rule, low: f64, high: f64) -> Margin {
        Margin {
            check: "links".into(),
            rule: rule.word().into(),
            a: "inside link at P270".into(),
            b: "cup".into(),
            need_mm: 2.0,
            need_is_most: rule.is_tolerance(),
            measured_mm: Bounds { low: Some(low), high: Some(high) },
            margin_mm: Bounds { low: Some(low - 2.0), high: Some(high - 2.0) },
            margin_rss_mm: None,
            causes: vec![],
            witness_mm: None,
            place: None,
        }
    }

    fn fitting(verdict: Verdict, passes: bool) -> Fitting {
        Fitting {
            name: "LV1".into(),
            kind: "liquid valve".into(),
            size: "2 in".into(),
            verdict,
            basis: Basis::Searched,
            cup: Some("B".into()),
            removed: vec![],
            least_margin_with_it_on_mm: vec![],
            doubts: vec![],
            reasons: vec!["housing: nothing is known of the lid; give [lid]".into()],
            least_margin_mm: Some(Bounds { low: Some(-10.9), high: Some(-10.7) }),
            limit: Some(margin(fitup::Rule::Gap, -10.9, -10.668)),
            upper_bound_mm: None,
            placement: None,
            free_bearings_deg: vec![],
            free_bearings_limits: vec![],
            bearings_overall: None,
            land: None,
            ways: vec![],
            checks: vec![],
            plan: Plan {
                passes: Some(passes),
                asked_mm: 19.05,
                least_mm: Some(33.274),
                to: Some("VV1 flange".into()),
            },
            plan_compared: String::new(),
            cups: vec![],
            variations: None,
            guidance: None,
            sealing: None,
        }
    }

    #[test]
    fn rounding_never_promises_more() {
        assert_eq!(down(0.254 - 0.001, IN), "0.009 in");
        assert_eq!(down(0.254, IN), "0.010 in");
        assert_eq!(down(-0.001, IN), "-0.001 in");
        assert_eq!(up(-0.001, IN), "0.000 in");
        assert_eq!(up(1.2301, LengthUnit::Millimetre), "1.24 mm");
        let bounds = Bounds { low: Some(-0.001), high: Some(1.27) };
        assert_eq!(interval(bounds, IN), "-0.001 to 0.050 in");
        assert_eq!(interval(Bounds { low: Some(1.0), high: None }, IN), "0.039 in or more");
    }

    #[test]
    fn the_bound_shown_is_the_one_that_supports_the_verdict() {
        let shown = |verdict| least_margin(&fitting(verdict, true), IN);
        assert_eq!(shown(Verdict::DoesNotFit), "-0.421 in");
        assert_eq!(shown(Verdict::CannotTell), "-0.430 to -0.421 in");
        assert_eq!(shown(Verdict::Fits), "-0.430 in");
    }

    #[test]
    fn only_where_the_search_ended_it_is_not_the_data() {
        let told = |doubts: &[Doubt]| {
            let doubts = doubts.to_vec();
            basis(&Fitting { doubts, ..fitting(Verdict::CannotTell, true) })
        };
        assert_eq!(told(&[Doubt::Effort]), "the search ended before it could tell");
        assert_eq!(told(&[Doubt::Deviations, Doubt::Effort]), "the data do not support a verdict");
        assert_eq!(told(&[]), "the data do not support a verdict");
    }

    #[test]
    fn tells_what_the_plan_check_missed() {
        assert_eq!(
            plan_compared(&fitting(Verdict::DoesNotFit, true), IN),
            "plan check passes (1.310 in to VV1 flange); it does not see the links beside the \
             sidewall: the inside link at P270 runs 0.420 in or more into the cup, where a gap of \
             0.079 in is asked for"
        );
        assert!(plan_compared(&fitting(Verdict::Fits, true), IN).ends_with("agrees"));
        assert!(plan_compared(&fitting(Verdict::Fits, false), IN).contains("stricter"));
        assert!(plan_compared(&fitting(Verdict::DoesNotFit, false), IN).ends_with("agrees"));
        assert!(plan_compared(&fitting(Verdict::CannotTell, true), IN).contains("of the lid"));
    }

    #[test]
    fn the_land_in_a_phrase() {
        use crate::land::{Bearing, Beside, Height};
        let mm = LengthUnit::Millimetre;
        let at = |deg: f64| Bearing { deg, clock: Angle::from_degrees(deg).show_clock() };
        let bounds = |low, high| Bounds { low: Some(low), high: Some(high) };
        let mut found = Land {
            radii_mm: [84.0, 116.0],
            departure_mm: Some(bounds(0.1, 0.2)),
            highest: Some(Height { height_mm: 0.15, at: at(-60.0) }),
            lowest: Some(Height { height_mm: -0.15, at: at(120.0) }),
            seal_width_mm: bounds(12.3, 12.3),
            narrowest: Some(at(-135.0)),
            unseen: None,
            heights_mm: vec![],
            standing: vec![],
        };
        assert_eq!(
            land(&found, mm),
            "narrowest seal width 12.30 mm at 4:30 o'clock; flat within 0.20 mm; highest at 2 \
             o'clock, lowest at 8 o'clock"
        );
        found.narrowest = None;
        found.highest = None;
        found.unseen = Some(at(90.0));
        found.standing = vec![Beside {
            body: "stud".into(),
            distance_mm: bounds(0.0, 0.0),
            nearest: at(0.0),
            over_deg: vec![[330.0, 390.0]],
        }];
        assert_eq!(
            land(&found, mm),
            "seal width 12.30 mm all round; flat within 0.20 mm; not seen all the way toward 9 \
             o'clock; stud on it or over it from 11 o'clock to 1 o'clock"
        );
    }

    #[test]
    fn shares_are_rounded_so_that_they_never_promise_more() {
        let of = |share, low, high| {
            let count = 0;
            super::share(&Share { count, share, low, high, confidence: 0.95 })
        };
        assert_eq!(of(0.03, 0.0062, 0.0853), "3.0 % (0.6 to 8.6 %)");
        assert_eq!(of(0.9999, 0.99, 1.0), "99.9 % (99.0 to 100.0 %)");
        assert_eq!(of(1.0, 0.9631, 1.0), "100.0 % (96.3 to 100.0 %)");
        assert_eq!(of(0.0, 0.0, 0.0369), "0.0 % (0.0 to 3.7 %)");
    }

    #[test]
    fn marks_differ_from_each_other() {
        let all =
            [Verdict::Fits, Verdict::FitsAfterRemoval, Verdict::CannotTell, Verdict::DoesNotFit];
        for (i, a) in all.iter().enumerate() {
            for b in &all[i + 1..] {
                assert_ne!(mark(*a), mark(*b));
            }
        }
    }

    #[test]
    fn another_fittings_pieces_carry_its_name() {
        let removed =
            |fitting: &str, piece: &str| Removed { fitting: fitting.into(), piece: piece.into() };
        let all = [removed("LV1", "handwheel"), removed("VV1", "outlet plug")];
        assert_eq!(removals(&all, "LV1"), "handwheel, VV1 outlet plug");
    }
}
