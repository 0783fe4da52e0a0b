//! Where the outlet may point, in words.
//!
//! Bearings run counter-clockwise, the clock the other way: an arc is read clockwise, from its last
//! bearing to its first. Its ends are rounded inward, so that no bearing is promised that was not found.

use super::between;
use crate::record::{BearingsOverall, Margin};
use measure::Angle;

/// Free arcs in the order of the clock, each with what ends it: `3:46 o'clock (247.2 deg; outlet to
/// clamp bar) to 4:04 o'clock (238.1 deg; outlet to vv2-handwheel)`.
pub fn free_bearings(arcs: &[[f64; 2]], limits: &[[Option<Margin>; 2]]) -> Vec<String> {
    let limits = limits.iter().chain(std::iter::repeat(&[None, None]));
    let mut arcs: Vec<_> = arcs.iter().zip(limits).collect();
    arcs.sort_by(|a, b| from_noon(a.0).total_cmp(&from_noon(b.0)));
    arcs.iter().map(|(arc, [first, last])| clockwise(**arc, [first, last])).collect()
}

/// Arcs without what ends them.
pub fn bearings(arcs: &[[f64; 2]]) -> String {
    free_bearings(arcs, &[]).join(", or ")
}

/// What was neither found free nor proven blocked: `3 arcs, 1.2 deg together, the widest 0.9 deg`.
/// `None` where there is nothing.
pub fn undecided_bearings(overall: &BearingsOverall) -> Option<String> {
    let widths = overall.undecided_deg.iter().map(|[from, to]| to - from);
    let (count, widest) = (widths.clone().count(), widths.clone().fold(0.0, f64::max));
    let [all, widest] = [widths.sum(), widest].map(|deg: f64| (10.0 * deg - SLACK).ceil() / 10.0);
    match count {
        0 => None,
        1 => Some(format!("1 arc of {all:.1} deg")),
        _ => Some(format!("{count} arcs, {all:.1} deg together, the widest {widest:.1} deg")),
    }
}

/// A hair that forgives the rounding of the angle's conversion.
const SLACK: f64 = 1e-6;

/// How far round the clock from 12 an arc begins, degrees.
fn from_noon([_, to]: &[f64; 2]) -> f64 {
    (-to).rem_euclid(360.0)
}

/// An arc read clockwise, with what ends it where it begins and where it ends counter-clockwise.
fn clockwise([from, to]: [f64; 2], [first, last]: [&Option<Margin>; 2]) -> String {
    if to - from >= 360.0 - SLACK {
        return "anywhere".into();
    }
    let ends = |steps: f64| {
        let (low, high) =
            ((steps * from - SLACK).ceil() / steps, (steps * to + SLACK).floor() / steps);
        // Narrower than a step.
        if low > high { [0.5 * (from + to); 2] } else { [low, high] }
    };
    let ([from, to], clock) = (ends(10.0), ends(2.0));
    let end = |deg: f64, clock: f64, limit: &Option<Margin>| {
        let clock = Angle::from_degrees(clock).show_clock();
        let turn = Angle::from_degrees(deg.rem_euclid(360.0)).show();
        let limit = limit.as_ref().map_or_else(String::new, |m| format!("; {}", between(m)));
        format!("{clock} ({turn}{limit})")
    };
    if (first, last) == (&None, &None) && to - from < SLACK {
        return end(from, clock[0], first);
    }
    format!("{} to {}", end(to, clock[1], last), end(from, clock[0], first))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Bounds;

    fn limit(b: &str) -> Margin {
        Margin {
            check: "neighbours".into(),
            rule: "gap".into(),
            a: "outlet".into(),
            b: b.into(),
            need_mm: 5.0,
            need_is_most: false,
            measured_mm: Bounds { low: Some(4.9), high: Some(5.1) },
            margin_mm: Bounds { low: Some(-0.1), high: Some(0.1) },
            margin_rss_mm: None,
            causes: vec![],
            witness_mm: None,
            place: None,
        }
    }

    #[test]
    fn arcs_are_read_clockwise() {
        // From 3 o'clock counter-clockwise to 12 is, on the clock, from 12 to 3.
        assert_eq!(bearings(&[[270.0, 360.0]]), "12 o'clock (0.0 deg) to 3 o'clock (270.0 deg)");
        assert_eq!(bearings(&[[0.0, 360.0]]), "anywhere");
        assert_eq!(
            bearings(&[[30.0, 30.0], [-90.0, -60.0]]),
            "2 o'clock (300.0 deg) to 3 o'clock (270.0 deg), or 11 o'clock (30.0 deg)"
        );
    }

    #[test]
    fn each_end_tells_what_ends_it() {
        let limits = [[Some(limit("clamp bar")), Some(limit("vv2-handwheel"))], [None, None]];
        assert_eq!(
            free_bearings(&[[238.04, 246.96], [10.0, 11.0]], &limits),
            [
                "3:47 o'clock (246.9 deg; outlet to vv2-handwheel) to 4:03 o'clock (238.1 deg; \
                 outlet to clamp bar)",
                "11:38 o'clock (11.0 deg) to 11:40 o'clock (10.0 deg)"
            ]
        );
    }

    #[test]
    fn ends_never_promise_more() {
        assert_eq!(
            bearings(&[[10.01, 20.49]]),
            "11:20 o'clock (20.4 deg) to 11:39 o'clock (10.1 deg)"
        );
        // Narrower than the clock's minute.
        assert_eq!(
            bearings(&[[10.11, 10.35]]),
            "11:40 o'clock (10.3 deg) to 11:40 o'clock (10.2 deg)"
        );
        let arcs = |undecided_deg| {
            undecided_bearings(&BearingsOverall {
                free_deg: vec![],
                blocked_deg: vec![],
                undecided_deg,
            })
        };
        assert_eq!(arcs(vec![]), None);
        assert_eq!(arcs(vec![[1.0, 1.31]]).unwrap(), "1 arc of 0.4 deg");
        assert_eq!(
            arcs(vec![[1.0, 1.31], [170.0, 181.02]]).unwrap(),
            "2 arcs, 11.4 deg together, the widest 11.1 deg"
        );
    }
}
