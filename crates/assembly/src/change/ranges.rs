//! The heights at which a fitting or the housing can be made longer or shorter.

use crate::car_top::{BodyId, CarTop, LidState};
use crate::change::PortStretch;
use solids::straight_ranges;

/// Ranges shorter than this are not looked at, mm. Our choice.
const SHORTEST: f64 = 3.0;

/// The heights `[low, high]` between which a fitting with all its pieces is straight, mm, in the
/// upper half of what stays when its pieces are off, where stems are: longest first.
pub fn fitting_ranges(car: &CarTop, fitting: usize) -> Vec<[f64; 2]> {
    let Some(found) = car.fittings.get(fitting) else { return Vec::new() };
    let tops =
        found.bodies.iter().filter_map(|id| Some(car.bodies.get(id.0)?.body.mesh.bounds()?.1));
    let half = 0.5 * tops.map(|top| top.z).fold(0.0, f64::max);
    let mut ranges = common(car, &car.bodies_of(fitting));
    ranges.retain(|r| r[0] >= half);
    ranges
}

/// The heights between which the sidewall with all that is fixed to it is straight, mm, longest
/// first. None where the lid's hinge axis lies in them, or a port's figures do not agree.
pub fn housing_ranges(car: &CarTop) -> Vec<[f64; 2]> {
    let (lid, axis) = match &car.lid {
        LidState::Hinged(lid) => (Some(lid.body), Some(lid.axis_point.z)),
        LidState::Unknown | LidState::None => (None, None),
    };
    let bodies: Vec<BodyId> =
        car.bodies_of_housing().into_iter().filter(|id| Some(*id) != lid).collect();
    let mut ranges = common(car, &bodies);
    ranges.retain(|r| {
        axis.is_none_or(|z| z <= r[0] || z >= r[1])
            && car.ports.iter().all(|port| PortStretch::of(port, *r).is_some())
    });
    ranges
}

/// The ranges in which each of some bodies is straight or is not at all, and one at least is.
fn common(car: &CarTop, bodies: &[BodyId]) -> Vec<[f64; 2]> {
    let mut ranges = vec![([f64::NEG_INFINITY, f64::INFINITY], false)];
    for id in bodies {
        let Some(body) = car.bodies.get(id.0) else { continue };
        let Some((low, high)) = body.body.mesh.bounds() else { continue };
        let beside = [([f64::NEG_INFINITY, low.z], false), ([high.z, f64::INFINITY], false)];
        let own: Vec<_> = straight_ranges(&body.body)
            .into_iter()
            .map(|range| (range, true))
            .chain(beside)
            .collect();
        let mut both = Vec::new();
        for ([a, b], some) in &ranges {
            for ([c, d], straight) in &own {
                let range = [a.max(*c), b.min(*d)];
                if range[1] - range[0] >= SHORTEST {
                    both.push((range, *some || *straight));
                }
            }
        }
        ranges = both;
    }
    ranges.retain(|(_, some)| *some);
    let mut ranges: Vec<[f64; 2]> = ranges.into_iter().map(|(range, _)| range).collect();
    ranges.sort_by(|a, b| (b[1] - b[0]).total_cmp(&(a[1] - a[0])).then(a[0].total_cmp(&b[0])));
    ranges
}
