//! Whether the root box holds every placement that may keep every rule.

use crate::fault::{CONTINUOUS, Fault};
use crate::setting::Setting;
use assembly::kit::PartKind;
use nalgebra::{Point2, Vector2};
use review::proof::Space;
use std::f64::consts::TAU;

/// Rounding of the box's sides, mm or radians.
const ROUNDING: f64 = 1e-9;
/// Offsets nearer than this to the box count as in it, and no rectangle is cut finer, mm.
const EDGE: f64 = 1e-6;
/// No more rectangles than this are looked at.
const ENOUGH: usize = 1_000_000;

/// A cup's axis within `radius` of `middle`, both as offsets: else a vertex of the fitting stands
/// out of the cavity.
struct Disc {
    middle: Vector2<f64>,
    radius: f64,
}

/// Checks the root box.
pub(crate) fn check(setting: &Setting<'_>, space: &Space) -> Result<(), Fault> {
    for (k, name) in CONTINUOUS.iter().enumerate() {
        let (low, high) = (space.low[k], space.high[k]);
        if !(low.is_finite() && high.is_finite() && low <= high) {
            return Err(Fault::NotFinite { what: format!("space of {name}") });
        }
    }
    let holds = |k: usize, at: f64| {
        let (low, high) = (space.low[k], space.high[k]);
        if low - ROUNDING <= at && at <= high + ROUNDING {
            Ok(())
        } else {
            Err(Fault::Space { variable: CONTINUOUS[k], low, high, at })
        }
    };
    let width = space.high[2] - space.low[2];
    if width < TAU - ROUNDING {
        return Err(Fault::Turn { width });
    }
    for (end, reach) in shifts(setting).into_iter().enumerate() {
        holds(3 + end, -reach)?;
        holds(3 + end, reach)?;
    }
    let walls = 0.5 * (setting.ports[0].wall - setting.ports[1].wall);
    let difference = setting.kit.rules.overhang_difference + setting.play();
    holds(5, 0.5 * (walls - difference))?;
    holds(5, 0.5 * (walls + difference))?;
    if let Some(lid) = setting.lid() {
        holds(6, lid.stop.radians())?;
    }
    offsets(setting, space)
}

/// How far a foot can stand from the middle of its port at the most, mm, by end. A foot that is out
/// of square by no more than it may be, deviations included, takes up at least its width times the
/// cosine of that.
fn shifts(setting: &Setting<'_>) -> [f64; 2] {
    let kit = setting.kit;
    let wide = setting.ports.map(|port| 0.5 * port.width + port.deviation + setting.beside());
    let half = 0.5 * kit.foot.width.nominal;
    let aslant = kit.rules.foot_skew.radians().sin() + setting.askew() / half;
    let narrowest = half * (1.0 - aslant.clamp(0.0, 1.0).powi(2)).sqrt();
    let need = kit.rules.need(PartKind::Foot, PartKind::Housing);
    wide.map(|wide| (wide - need - narrowest).max(0.0))
}

/// Cuts the least rectangle around all discs into pieces until each lies in the box or wholly out
/// of some disc.
fn offsets(setting: &Setting<'_>, space: &Space) -> Result<(), Fault> {
    let cavity = setting.cup.inside_diameter;
    let radius = 0.5 * (cavity.nominal + cavity.tolerance);
    let discs: Vec<Disc> = setting
        .present()
        .filter(|id| setting.is_covered(*id) && !setting.car.is_unseen(*id))
        .flat_map(|id| {
            let body = &setting.car.body(id).body;
            let radius = radius + body.deviation.bound;
            body.mesh.vertices.iter().map(move |v| (v.xy(), radius))
        })
        .map(|(at, radius): (Point2<f64>, f64)| Disc {
            middle: at - setting.fitting.centre,
            radius,
        })
        .collect();
    if discs.is_empty() || discs.iter().any(|d| !d.radius.is_finite()) {
        return Err(Fault::Unusable { what: "nothing stands under the cup".into() });
    }
    let end = |k: usize, sign: f64| {
        let ends = discs.iter().map(|d| sign * (sign * d.middle[k] + d.radius));
        ends.fold(
            sign * f64::INFINITY,
            |least, e| if sign > 0.0 { least.min(e) } else { least.max(e) },
        )
    };
    let whole = [[end(0, -1.0), end(0, 1.0)], [end(1, -1.0), end(1, 1.0)]];
    let mut open = vec![whole];
    let mut looked_at = 0;
    while let Some(rectangle) = open.pop() {
        let [x, y] = rectangle;
        let is_empty = x[0] > x[1] || y[0] > y[1];
        let inside = [x, y]
            .iter()
            .enumerate()
            .all(|(k, e)| space.low[k] - EDGE <= e[0] && e[1] <= space.high[k] + EDGE);
        let misses = |d: &Disc| {
            let aside = [0, 1].map(|k| {
                let m = d.middle[k];
                (rectangle[k][0] - m).max(m - rectangle[k][1]).max(0.0)
            });
            aside[0].hypot(aside[1]) > d.radius
        };
        if is_empty || inside || discs.iter().any(misses) {
            continue;
        }
        looked_at += 1;
        let k = usize::from(y[1] - y[0] > x[1] - x[0]);
        let [low, high] = rectangle[k];
        if high - low < EDGE || looked_at > ENOUGH {
            // The side on which it stands out.
            let k = usize::from(space.low[0] <= x[0] && x[1] <= space.high[0]);
            let at = if rectangle[k][0] < space.low[k] { rectangle[k][0] } else { rectangle[k][1] };
            let (low, high) = (space.low[k], space.high[k]);
            return Err(Fault::Space { variable: CONTINUOUS[k], low, high, at });
        }
        let middle = 0.5 * (low + high);
        let (mut lower, mut upper) = (rectangle, rectangle);
        lower[k][1] = middle;
        upper[k][0] = middle;
        open.extend([lower, upper]);
    }
    Ok(())
}
