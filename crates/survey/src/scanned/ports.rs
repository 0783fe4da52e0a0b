//! Ports among the openings of a scanned wall.

use crate::draft::{Confidence, Port};
use crate::fit;
use crate::port::LEAST;
use crate::scanned::{ScannedOpening, Survey, doubtful, likely};
use crate::wall::Wall;
use measure::Angle;
use nalgebra::{Point2, Vector2};

/// A port is no wider and no higher than this, mm; common practice, no source.
const MOST: f64 = 250.0;
/// Beside an opening the wall is looked at in strips of this height or width, mm.
const STRIP: f64 = 8.0;
/// How far an opening's edges may be from where they were said to be, in spacings and at least, mm.
const ABOUT: f64 = 4.0;
const LEAST_ABOUT: f64 = 15.0;

/// The ports, and what is asked about other openings.
pub(super) fn ports(survey: &mut Survey<'_>) -> Vec<Port> {
    let plate_from_scan = survey.plate_from_scan;
    let mut ports: Vec<Port> = Vec::new();
    for opening in &survey.scanned.openings {
        let at = (plate_from_scan * nalgebra::Point3::new(opening.at.x, opening.at.y, 0.0)).xy();
        let numbers = [at.x, at.y, opening.width, opening.height, opening.sill];
        if !numbers.iter().all(|v| v.is_finite()) {
            continue;
        }
        let bearing = whole_degrees(&at);
        let about = format!("opening at bearing {bearing} deg");
        let size = format!("{} by {}", survey.told(opening.width), survey.told(opening.height));
        let small = opening.width < LEAST || opening.height < LEAST;
        let large = opening.width > MOST || opening.height > MOST;
        let why = if small {
            Some(format!("it is {size}, too small for anything of a foot"))
        } else if !opening.closed {
            Some(format!("it is {size}, and wall was not seen all around it"))
        } else if large {
            Some(format!("it is {size}, larger than ports are"))
        } else if !opening.seen_through {
            Some(format!(
                "it is {size}, and nothing was seen through it: is it a port with its cover, a recess, or \
                 was the wall hidden there?"
            ))
        } else {
            None
        };
        if let Some(why) = why {
            let guess = if small { "no port" } else { "a port that was not seen open" };
            survey.ask(&about, guess, &why, Some(at));
            continue;
        }
        let port = port(survey, opening, &at, &ports);
        ports.push(port);
    }
    if ports.len() < 2 {
        let guess = format!("{} found", ports.len());
        let why = "a rig hangs on two: are they closed by covers, or were they not seen?";
        survey.ask("ports", &guess, why, None);
    }
    ports
}

/// The bearing of a point in whole degrees.
fn whole_degrees(p: &Point2<f64>) -> f64 {
    p.y.atan2(p.x).to_degrees().rem_euclid(360.0).round() % 360.0
}

fn port(
    survey: &mut Survey<'_>,
    opening: &ScannedOpening,
    at: &Point2<f64>,
    before: &[Port],
) -> Port {
    // Outward, square to the wall there.
    let facing = match &survey.ring.wall {
        Wall::Straight { sides, .. } => {
            let over = |l: &fit::Line| l.normal.dot(&at.coords) - l.offset;
            let side = sides.iter().max_by(|a, b| over(a).total_cmp(&over(b)));
            side.map_or_else(|| at.coords.normalize(), |s| s.normal)
        }
        _ => at.coords.try_normalize(1e-9).unwrap_or_else(Vector2::x),
    };
    let left = Vector2::new(-facing.y, facing.x);
    let edges = edges(survey, opening, at, &facing);
    let [from, to, sill, head] = edges.unwrap_or([
        left.dot(&at.coords) - 0.5 * opening.width,
        left.dot(&at.coords) + 0.5 * opening.width,
        opening.sill,
        opening.sill + opening.height,
    ]);
    let inner = match &survey.ring.wall {
        Wall::Straight { sides, .. } => {
            let over = |l: &fit::Line| l.normal.dot(&at.coords) - l.offset;
            let side = sides.iter().max_by(|a, b| over(a).total_cmp(&over(b)));
            side.map_or_else(|| facing.dot(&at.coords), |s| s.offset)
        }
        wall => wall.reach(&facing).unwrap_or_else(|| facing.dot(&at.coords)),
    };
    let thick = opening.wall.filter(|w| w.is_finite() && *w >= 0.0).unwrap_or(0.0);
    let middle = facing * (inner + 0.5 * thick) + left * (0.5 * (from + to));
    let middle = Point2::from(middle);
    let degrees = whole_degrees(&middle);
    let mut name = format!("P{degrees}");
    while before.iter().any(|p| p.name == name) {
        name.push('\'');
    }
    // An edge lies between the last point of the wall and the first place where none is.
    let deviation =
        2.0 * survey.scanned.deviation + survey.scanned.spacing.max(opening.wander).max(0.0);
    let shape =
        "it is an opening in the wall, closed all around, and something was seen through it";
    let mut reason = likely(shape);
    if edges.is_none() {
        reason = doubtful(format!("{shape}, but its edges were hardly seen"));
    }
    let (width, height) = (to - from, head - sill);
    let guess = format!(
        "{} by {}, sill {}, wall {}",
        survey.told(width),
        survey.told(height),
        survey.told(sill),
        if thick > 0.0 { survey.told(thick) } else { "not seen".to_owned() }
    );
    let why = format!("the scan tells them no better than {}; a tape may", survey.told(deviation));
    survey.ask(
        &format!("port \"{name}\", width, height, sill and wall"),
        &guess,
        &why,
        Some(middle),
    );
    if reason.confidence == Confidence::Doubtful {
        survey.ask(&format!("port \"{name}\""), "a port", &reason.because, Some(middle));
    }
    survey.ask(
        &format!("port \"{name}\", cover"),
        "none, or open",
        "something was seen through it; whether a cover belongs to it, and where that is when open, a \
         scan does not tell",
        Some(middle),
    );
    Port {
        name,
        at: middle,
        facing: Angle::from_radians(facing.y.atan2(facing.x)),
        width,
        height,
        sill,
        wall: thick,
        deviation,
        cover: None,
        reason,
    }
}

/// Left, right, lower and upper edge from the wall's points about an opening: in each strip the last
/// point before it, and over the strips the median.
fn edges(
    survey: &Survey<'_>,
    opening: &ScannedOpening,
    at: &Point2<f64>,
    facing: &Vector2<f64>,
) -> Option<[f64; 4]> {
    let left = Vector2::new(-facing.y, facing.x);
    let u = left.dot(&at.coords);
    let z = opening.sill + 0.5 * opening.height;
    let (half_wide, half_high) = (0.5 * opening.width, 0.5 * opening.height);
    let near: Vec<(f64, f64)> = survey
        .walls
        .iter()
        .filter(|p| {
            let along = facing.dot(&p.coords.xy()) - facing.dot(&at.coords);
            // A round wall falls away from its chord.
            along.abs() < 30.0 && (left.dot(&p.coords.xy()) - u).abs() < half_wide + 40.0
        })
        .map(|p| (left.dot(&p.coords.xy()) - u, p.z - z))
        .collect();
    let spacing = survey.scanned.spacing;
    let turned: Vec<(f64, f64)> = near.iter().map(|(t, s)| (*s, *t)).collect();
    let right = edge(&near, 1.0, [half_wide, half_high], spacing)?;
    let before = edge(&near, -1.0, [half_wide, half_high], spacing)?;
    let upper = edge(&turned, 1.0, [half_high, half_wide], spacing)?;
    let lower = edge(&turned, -1.0, [half_high, half_wide], spacing)?;
    Some([u - before, u + right, z - lower, z + upper])
}

/// How far from an opening's middle its edge is, in the direction of the first coordinate times `way`;
/// about half its size that way, which is given with half its size across.
fn edge(near: &[(f64, f64)], way: f64, [half, across]: [f64; 2], spacing: f64) -> Option<f64> {
    let strips = fit::whole(1.4 * across / STRIP);
    let reach = |strip: usize| {
        let low = -0.7 * across + strip as f64 * STRIP;
        let beside =
            near.iter().filter(|(t, s)| way * t > 0.3 * half && *s >= low && *s < low + STRIP);
        beside.map(|(t, _)| way * t).reduce(f64::min)
    };
    let met: Vec<f64> = (0..strips).filter_map(reach).collect();
    if 2 * met.len() < strips.max(2) {
        return None;
    }
    let found = fit::median(met);
    ((found - half).abs() <= (ABOUT * spacing).max(LEAST_ABOUT)).then_some(found)
}
