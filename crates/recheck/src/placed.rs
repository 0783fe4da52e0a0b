//! A record's placement, confirmed by comparing every part with every part.

use crate::brute::{Heap, compare, sunk};
use crate::fault::Fault;
use crate::setting::{Piece, Setting};
use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Kit, Placement};
use measure::Interval;

/// Distances found here and those claimed may differ by this much, mm.
const SAME: f64 = 1e-6;
/// Pairs that have this much more left than the claim are measured as well, mm.
const BESIDES: f64 = 1.0;

/// What comparing every pair found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Confirmed {
    /// Pairs compared.
    pub pairs: usize,
    /// The least low end of a gap's margin found, mm; `None` when every pair has more left than
    /// the claim by over 1 mm.
    pub least_low: Option<f64>,
}

struct Posed {
    piece: Piece,
    name: String,
    heap: Heap,
    deviation: f64,
}

/// Confirms that at this placement no pair between which a gap is asked for has less left, in the
/// worst case of the deviations, than the low end of `least`. Contacts and placing rules are not
/// looked at.
pub fn placement(
    car: &CarTop,
    kit: &Kit,
    choice: &Choice,
    placement: &Placement,
    least: Interval,
) -> Result<Confirmed, Fault> {
    let setting = Setting::new(car, kit, choice)?;
    let claimed = least.low;
    if claimed.is_nan() {
        return Err(Fault::NotFinite { what: "claimed least margin".into() });
    }
    let posed = |piece: Piece, name: String| {
        let body = setting.body(piece, placement.link_thickness)?;
        let place = setting.place(placement, piece).ok_or_else(|| Fault::Unusable {
            what: "the placement has a hole or a thickness that the link has not".into(),
        })?;
        if !place.turn.iter().chain(place.shift.iter()).all(|c| c.is_finite()) {
            return Err(Fault::NotFinite { what: format!("place of {name}") });
        }
        let deviation = setting.deviation(piece, &body);
        Ok(Posed { piece, name, heap: Heap::new(&body.mesh, &place), deviation })
    };
    let ports = [setting.ports[0].name.as_str(), setting.ports[1].name.as_str()];
    let rig = RigPart::all(kit)
        .into_iter()
        .map(|part| posed(Piece::Rig(part), part.name(ports)))
        .collect::<Result<Vec<_>, Fault>>()?;
    let on_car = setting
        .present()
        .map(|id| posed(Piece::Car(id), car.body(id).body.name.clone()))
        .collect::<Result<Vec<_>, Fault>>()?;
    let mut confirmed = Confirmed { pairs: 0, least_low: None };
    for (i, a) in rig.iter().enumerate() {
        for b in rig[i + 1..].iter().chain(&on_car) {
            if setting.contact(a.piece, b.piece).is_some() {
                continue;
            }
            confirmed.pairs += 1;
            let off = setting.need(a.piece, b.piece) + a.deviation + b.deviation;
            let apart = compare(&a.heap, &b.heap, claimed + off + BESIDES).distance();
            let deep = if apart > 0.0 { 0.0 } else { sunk(&a.heap, &b.heap) };
            let found = apart - deep - off;
            if found.is_nan() || found < claimed - SAME {
                let (a, b) = (a.name.clone(), b.name.clone());
                return Err(Fault::Nearer { a, b, claimed, found });
            }
            if found.is_finite() {
                let least = confirmed.least_low.unwrap_or(f64::INFINITY);
                confirmed.least_low = Some(least.min(found));
            }
        }
    }
    Ok(confirmed)
}
