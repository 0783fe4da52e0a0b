//! Studs among the things of a scan: equal small things on a circle, or in rows along the plate's edge.

use crate::draft::{Confidence, Found};
use crate::fit;
use crate::scanned::{Place, Survey, doubtful, likely};
use std::f64::consts::TAU;

/// There are at least this many.
const FEW: usize = 4;
/// A stud with its nut is at most this far from its middle seen from above, and this high, mm.
const SMALL: f64 = 45.0;
const HIGH: f64 = 250.0;
/// Seen from some sides only, equal things differ by up to this share, and this, mm.
const ALIKE: f64 = 0.3;
const APART: f64 = 6.0;
/// Between neighbours on an even circle the way differs by less than this share.
const EVEN: f64 = 0.25;

/// Things that are studs.
pub(super) fn studs(survey: &mut Survey<'_>) -> Vec<Found> {
    let small: Vec<usize> = survey
        .free(Place::Standing)
        .into_iter()
        .filter(|i| {
            let thing = &survey.things[*i];
            thing.half() <= SMALL && thing.high.z <= HIGH && thing.low.z <= 40.0
        })
        .collect();
    let size = |i: usize| (survey.things[i].half(), survey.things[i].high.z);
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for thing in small {
        let alike = |g: &&mut Vec<usize>| {
            let near = |a: f64, b: f64| (a - b).abs() <= APART.min(ALIKE * a.max(b)).max(2.0);
            let usual = |of: &dyn Fn(usize) -> f64| fit::median(g.iter().map(|i| of(*i)));
            near(usual(&|i| size(i).0), size(thing).0) && near(usual(&|i| size(i).1), size(thing).1)
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.push(thing),
            None => groups.push(vec![thing]),
        }
    }
    let mut found = Vec::new();
    for group in groups.into_iter().filter(|g| g.len() >= FEW) {
        found.extend(take(survey, &group));
    }
    found
}

fn take(survey: &mut Survey<'_>, group: &[usize]) -> Vec<Found> {
    let middle = |i: &usize| survey.things[*i].middle();
    let radius = fit::median(group.iter().map(|i| middle(i).coords.norm()));
    let within = APART + 2.0 * survey.sigma;
    let on_circle = group.iter().all(|i| (middle(i).coords.norm() - radius).abs() <= within);
    let inside = group.iter().any(|i| survey.ring.wall.holds(&middle(i)));
    let mut turns: Vec<f64> = group.iter().map(|i| middle(i).y.atan2(middle(i).x)).collect();
    turns.sort_by(f64::total_cmp);
    let even = TAU / group.len().max(1) as f64;
    let next = turns.iter().skip(1).copied().chain(turns.first().map(|t| t + TAU));
    let uneven = turns.iter().zip(next).any(|(a, b)| ((b - a) / even - 1.0).abs() > EVEN);
    let mut shape = if on_circle {
        format!(
            "it is one of {} small things of about one size on a circle {} across around the \
             housing's middle",
            group.len(),
            survey.told(2.0 * radius)
        )
    } else {
        format!(
            "it is one of {} small things of about one size, on no circle around the housing's middle",
            group.len()
        )
    };
    let mut doubts: Vec<&str> = Vec::new();
    if inside {
        doubts.push("they stand inside the wall, where they may be small fittings as well");
    }
    if !on_circle {
        doubts.push("are they studs along an edge?");
    } else if uneven {
        doubts.push(
            "they are not even around their circle: is one missing, or is one something else?",
        );
    }
    let mut confidence = Confidence::Likely;
    if !doubts.is_empty() {
        shape = format!("{shape}; {}", doubts.join("; "));
        confidence = Confidence::Doubtful;
        let about =
            format!("body \"{}\" and {} like it", survey.things[group[0]].name, group.len() - 1);
        let at = middle(&group[0]);
        survey.ask(&about, "studs", &shape, Some(at));
    }
    let reason = if confidence == Confidence::Likely { likely(shape) } else { doubtful(shape) };
    for i in group {
        survey.taken[*i] = true;
    }
    group.iter().map(|i| Found { body: *i, reason: reason.clone() }).collect()
}
