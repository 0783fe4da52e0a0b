//! Fittings among the things of a scan: what stands on the plate inside the housing.

use crate::draft::{Confidence, Fitting, Found, Reason};
use crate::fitting::LEAST;
use crate::flange;
use crate::scanned::foot::{self, Foot};
use crate::scanned::{Place, Survey, doubtful, likely};
use assembly::car_top::FittingKind;
use nalgebra::Point2;
use std::f64::consts::TAU;

/// What begins higher than this hangs above the plate: a handwheel whose stem was not seen, mm.
const HANGS: f64 = 40.0;
/// A flange is less thick than this, mm; what goes higher is a neck or a body.
const NECK: f64 = 50.0;
/// A circle seen from fewer sides is in doubt.
const SEEN: f64 = 0.5;
/// Half of the points are within this many standard deviations of a surface; with this much beside, mm,
/// a circle is met.
const HALF_OF: f64 = 0.674_5;
const ROUND: f64 = 0.1;
/// So much of a slice outside the circle and the foot is not round.
const OUTSIDE: f64 = 0.08;
/// Farther off than this, mm, what stands on a flange has another middle.
const ECCENTRIC: f64 = 3.0;

/// A fitting being gathered.
struct Cluster {
    thing: usize,
    /// Other things that are pieces of it, it seems, each with why.
    pieces: Vec<(usize, &'static str)>,
    foot: Option<Foot>,
    centre: Point2<f64>,
    half: f64,
}

/// The fittings, each with what is asked about it.
pub(super) fn fittings(survey: &mut Survey<'_>) -> Vec<Fitting> {
    let inside: Vec<usize> = survey
        .free(Place::Standing)
        .into_iter()
        .filter(|i| survey.ring.wall.holds(&survey.things[*i].middle()))
        .collect();
    let (hanging, standing): (Vec<usize>, Vec<usize>) =
        inside.into_iter().partition(|i| survey.things[*i].low.z > HANGS);
    let mut clusters: Vec<Cluster> = standing
        .into_iter()
        .filter(|i| survey.things[*i].half() >= LEAST)
        .map(|thing| {
            let foot = foot::foot(&survey.things[thing].points, survey.sigma);
            let (centre, half) = match &foot {
                Some(f) => (f.round.circle.centre, f.round.circle.radius),
                None => (survey.things[thing].middle(), survey.things[thing].half()),
            };
            Cluster { thing, pieces: Vec::new(), foot, centre, half }
        })
        .collect();
    merge(survey, &mut clusters);
    clusters.sort_by(|a, b| order(&a.centre).total_cmp(&order(&b.centre)));
    hang(survey, &hanging, &mut clusters);
    for (number, cluster) in (1..).zip(&clusters) {
        for (piece, why) in &cluster.pieces {
            survey.taken[*piece] = true;
            survey.ask_of(*piece, &format!("a piece of fitting \"F{number}\""), why);
        }
    }
    let mut found = Vec::new();
    for (number, cluster) in (1..).zip(&clusters) {
        found.push(fitting(survey, cluster, format!("F{number}")));
    }
    found
}

/// The middle first, then around from +x.
fn order(p: &Point2<f64>) -> f64 {
    if p.coords.norm() < 20.0 { -1.0 } else { (p.y.atan2(p.x) + 0.01).rem_euclid(TAU) }
}

/// What stands within another's circle was seen apart from it only because something hid what is
/// between: both together make the circle.
fn merge(survey: &Survey<'_>, clusters: &mut Vec<Cluster>) {
    let worth = |c: &Cluster| c.half * c.foot.as_ref().map_or(0.1, |f| f.round.seen);
    clusters.sort_by(|a, b| worth(b).total_cmp(&worth(a)).then(a.thing.cmp(&b.thing)));
    let mut at = 0;
    while at < clusters.len() {
        let (centre, half) = (clusters[at].centre, clusters[at].half);
        let within = |c: &Cluster| (survey.things[c.thing].middle() - centre).norm() < half;
        let (held, rest): (Vec<Cluster>, Vec<Cluster>) =
            clusters.drain(at + 1..).partition(|c| within(c));
        clusters.extend(rest);
        if !held.is_empty() {
            const WITHIN: &str = "what was seen of it lies within that fitting's foot";
            let cluster = &mut clusters[at];
            for other in held {
                cluster.pieces.push((other.thing, WITHIN));
                cluster.pieces.extend(other.pieces);
            }
            let all = cluster.pieces.iter().map(|p| p.0).chain([cluster.thing]);
            let points: Vec<_> = all.flat_map(|i| &survey.things[i].points).copied().collect();
            if let Some(foot) = foot::foot(&points, survey.sigma) {
                (cluster.centre, cluster.half) =
                    (foot.round.circle.centre, foot.round.circle.radius);
                cluster.foot = Some(foot);
            }
        }
        at += 1;
    }
}

/// What hangs above the plate belongs to the fitting below it, it seems; it is asked.
fn hang(survey: &Survey<'_>, hanging: &[usize], clusters: &mut [Cluster]) {
    for piece in hanging {
        let middle = survey.things[*piece].middle();
        let beside = |c: &Cluster| (c.centre - middle).norm() - c.half;
        let nearest = clusters
            .iter_mut()
            .filter(|c| beside(c) < 0.5 * c.half + 20.0)
            .min_by(|a, b| beside(a).total_cmp(&beside(b)));
        if let Some(cluster) = nearest {
            let why = "it is seen above that fitting, and what holds it was not seen";
            cluster.pieces.push((*piece, why));
        }
    }
}

fn fitting(survey: &mut Survey<'_>, cluster: &Cluster, name: String) -> Fitting {
    survey.taken[cluster.thing] = true;
    let (centre, across, place_reason) = place(survey, cluster, &name);
    let shape = "it stands on the plate inside the housing";
    let mut own = likely(shape);
    let grown = grown(survey, cluster);
    if let Some(why) = grown {
        own = doubtful(format!("{shape}; {why}"));
        survey.ask_of(cluster.thing, &format!("fitting \"{name}\", one fitting"), &own.because);
    }
    let mut bodies = vec![Found { body: cluster.thing, reason: own }];
    bodies.extend(
        cluster.pieces.iter().map(|(body, why)| Found { body: *body, reason: doubtful(*why) }),
    );
    let (kind, why) = kind(survey, cluster, &centre, across);
    let kind_reason = doubtful(why);
    survey.ask(
        &format!("fitting \"{name}\", kind"),
        kind.word(),
        &kind_reason.because,
        Some(centre),
    );
    let (size, size_reason) = size(survey, across, place_reason.confidence);
    if size_reason.confidence == Confidence::Doubtful {
        let about = format!("fitting \"{name}\", size");
        survey.ask(&about, &size, &size_reason.because, Some(centre));
    }
    survey.ask(
        &format!("fitting \"{name}\", removables"),
        "nothing comes off",
        "a scan does not tell what comes off: a handwheel, a cap or a plug is one with the rest. What may \
         be taken off has to be a body of its own, or stays where it is",
        Some(centre),
    );
    Fitting {
        name,
        kind,
        kind_reason,
        size,
        size_reason,
        centre,
        flange: across,
        place_reason,
        bodies,
        removables: Vec::new(),
    }
}

/// Why a thing may be two fittings grown together.
fn grown(survey: &Survey<'_>, cluster: &Cluster) -> Option<String> {
    let thing = &survey.things[cluster.thing];
    if let Some(doubt) = &thing.doubt {
        return Some(doubt.clone());
    }
    let foot = cluster.foot.as_ref()?;
    if let Some(second) = &foot.second {
        return Some(format!(
            "a second circle, {} across, is seen beside its foot: are they two fittings grown together?",
            survey.told(2.0 * second.circle.radius)
        ));
    }
    None
}

/// Centreline and flange.
fn place(survey: &mut Survey<'_>, cluster: &Cluster, name: &str) -> (Point2<f64>, f64, Reason) {
    let Some(foot) = &cluster.foot else {
        let circle = foot::about(&survey.things[cluster.thing].points, survey.sigma);
        let (centre, across) = circle
            .map_or_else(|| (cluster.centre, 2.0 * cluster.half), |c| (c.centre, 2.0 * c.radius));
        let because = "no circle is seen at its foot: the circle about what is low on it is taken";
        let guess = guess(survey, &centre, across);
        let about = format!("fitting \"{name}\", centre and flange");
        survey.ask(&about, &guess, because, Some(centre));
        return (centre, across, doubtful(because));
    };
    let circle = foot.round.circle;
    let (centre, across) = (circle.centre, 2.0 * circle.radius);
    let mut because = format!(
        "its flange is a circle on the plate, seen at {:.0} % of the bearings and met within {:.2} mm by \
         half of its points",
        100.0 * foot.round.seen,
        circle.usual
    );
    let mut doubts: Vec<String> = Vec::new();
    if foot.round.seen < SEEN {
        doubts.push("less than half of it was seen".to_owned());
    }
    if circle.usual > ROUND + HALF_OF * survey.sigma {
        doubts.push(format!(
            "half of what is seen there lies {:.2} mm or more off it: its side was hardly seen, or is \
             not round",
            circle.usual
        ));
    }
    if foot.round.outside > OUTSIDE {
        doubts.push(format!(
            "{:.0} % of what is seen at its foot lies outside that circle",
            100.0 * foot.round.outside
        ));
    }
    if let Some((above, count)) = foot.above {
        let off = (above - centre).norm();
        let within = ECCENTRIC + survey.scanned.deviation;
        if off > within {
            doubts.push(format!(
                "what is round above it in {count} slices lies {off:.1} mm beside it"
            ));
        } else {
            because =
                format!("{because}; what is round above it in {count} slices has the same middle");
        }
    }
    if foot.tall > NECK {
        let why = format!(
            "the circle on the plate goes up to {}, as a neck does: its flange may be above",
            survey.told(foot.tall)
        );
        let about = format!("fitting \"{name}\", flange");
        let guess = format!("{} across", survey.told(across));
        survey.ask(&about, &guess, &why, Some(centre));
        because = format!("{because}; {why}");
        if doubts.is_empty() {
            return (centre, across, doubtful(because));
        }
    }
    if doubts.is_empty() {
        return (centre, across, likely(because));
    }
    because = format!("{because}; {}", doubts.join("; "));
    let guess = guess(survey, &centre, across);
    let about = format!("fitting \"{name}\", centre and flange");
    survey.ask(&about, &guess, &because, Some(centre));
    (centre, across, doubtful(because))
}

fn guess(survey: &Survey<'_>, centre: &Point2<f64>, across: f64) -> String {
    let [x, y] = [centre.x, centre.y].map(|v| survey.told(v));
    format!("at {x}, {y}, {} across", survey.told(across))
}

/// What a fitting may be, from its shape alone, which never tells.
fn kind(
    survey: &Survey<'_>,
    cluster: &Cluster,
    centre: &Point2<f64>,
    across: f64,
) -> (FittingKind, String) {
    let points = || {
        let all = cluster.pieces.iter().map(|p| p.0).chain([cluster.thing]);
        all.flat_map(|i| &survey.things[i].points)
    };
    let top = points().map(|p| p.z).fold(0.0, f64::max);
    let low = cluster.foot.as_ref().map_or(30.0, |f| f.tall);
    // How far it reaches from its centreline at each of eight bearings, above the flange.
    let mut reach = [0.0_f64; 8];
    for p in points().filter(|p| p.z > low + 5.0 && p.z < 0.8 * top) {
        let out = p.xy() - centre;
        let turn = out.y.atan2(out.x).rem_euclid(TAU) / TAU;
        let bearing = &mut reach[crate::fit::whole(8.0 * turn).min(7)];
        *bearing = bearing.max(out.norm());
    }
    let farthest = reach.iter().copied().fold(0.0, f64::max);
    let mut sorted = reach;
    sorted.sort_by(f64::total_cmp);
    let usual = sorted[3];
    // The widest at its top, and the narrowest of what is below that and above the flange.
    let wide = |from: f64, to: f64| {
        let here = points().filter(|p| p.z >= from && p.z < to);
        here.map(|p| (p.xy() - centre).norm()).fold(0.0, f64::max)
    };
    let wide_top = wide(0.8 * top, f64::INFINITY);
    let steps = crate::fit::whole(((0.85 * top - low) / 10.0).max(0.0));
    let neck = (0..steps)
        .map(|i| wide(low + 10.0 * i as f64, low + 10.0 * (i + 1) as f64))
        .filter(|r| *r > 0.0)
        .fold(f64::INFINITY, f64::min);
    let only_name = "only its name or mark tells what it is";
    if wide_top > 1.6 * neck && wide_top > 30.0 {
        let why = format!("its top is wider than what is below, as a handwheel is; {only_name}");
        (FittingKind::LiquidValve, why)
    } else if farthest > 1.3 * usual + 10.0 {
        let why = format!("it reaches out to one side, as a valve's outlet does; {only_name}");
        (FittingKind::LiquidValve, why)
    } else if top > across && wide_top < 0.6 * across {
        let why = format!("it is tall and alike all around, as a relief device is; {only_name}");
        (FittingKind::ReliefDevice, why)
    } else if top < 0.4 * across {
        let why = format!("it is low and flat, as a blind flange is; {only_name}");
        (FittingKind::BlindFlange, why)
    } else {
        let why = format!("it is short and alike all around, as a gauging device is; {only_name}");
        (FittingKind::GaugingDevice, why)
    }
}

fn size(survey: &Survey<'_>, across: f64, place: Confidence) -> (String, Reason) {
    // A diameter is wrong by less than the surface is: many points make it.
    let sizes = flange::sizes(across, 0.5 * survey.scanned.deviation);
    match sizes[..] {
        [(size, class)] => {
            let because = format!("its flange has the diameter of a {size} {class} flange");
            let reason =
                if place == Confidence::Doubtful { doubtful(because) } else { likely(because) };
            (size.to_owned(), reason)
        }
        [(size, _), ..] => {
            let all: Vec<String> = sizes.iter().map(|(s, c)| format!("{s} {c}")).collect();
            (
                size.to_owned(),
                doubtful(format!("its flange may be a {} flange", all.join(" or a "))),
            )
        }
        [] => ("not known".to_owned(), doubtful("no flange of the usual tables has this diameter")),
    }
}
