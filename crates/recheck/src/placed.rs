//! A record's placement, confirmed by comparing every part with every part.

use crate::brute::{Heap, compare, sunk};
use crate::fault::Fault;
use crate::poses::Lines;
use crate::setting::{Piece, Setting};
use crate::witness::{Examiner, rule};
use assembly::car_top::BodyId;
use assembly::placement::End;
use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Kit, Placement};
use measure::Interval;
use review::proof::{Ground, RuleGround, Sense, Witness};

/// Distances found here and those claimed may differ by this much, mm.
const SAME: f64 = 1e-6;
/// Pairs that have this much more left than the claim are measured as well, mm.
const BESIDES: f64 = 1.0;

/// What comparing every pair found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Confirmed {
    /// Pairs compared.
    pub pairs: usize,
    /// Placing rules worked out.
    pub rules: usize,
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

/// Confirms that at this placement no pair between which a gap is asked for and no placing rule has
/// less left, in the worst case of the deviations, than the low end of `least`; of a tolerance only
/// that it is kept, where that low end is above zero. Contacts and the land's surface are not looked
/// at.
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
    let rules = kept(&setting, placement, claimed)?;
    let mut confirmed = Confirmed { pairs: 0, rules, least_low: None };
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

/// What a placing rule leaves at a placement.
#[derive(Debug, Clone, PartialEq)]
pub struct Left {
    /// The rule's words, and the body that it is about.
    pub rule: [String; 2],
    /// Whether it is a tolerance, which is kept and no room to spare.
    pub tolerance: bool,
    /// The end of its margin, mm.
    pub end_mm: f64,
}

/// What every placing rule and the gasket's width leave at a placement, at one end of their margins.
pub fn rules(
    setting: &Setting<'_>,
    placement: &Placement,
    sense: Sense,
) -> Result<Vec<Left>, Fault> {
    let mut grounds = grounds(setting, placement, sense);
    grounds.push(RuleGround::bare(rule::SEAL_WIDTH));
    left(setting, placement, sense, &grounds)
}

/// Compares every placing rule with the claim; how many there are.
fn kept(setting: &Setting<'_>, placement: &Placement, claimed: f64) -> Result<usize, Fault> {
    let all = left(setting, placement, Sense::Low, &grounds(setting, placement, Sense::Low))?;
    for one in &all {
        let (least, found) = (if one.tolerance { claimed.min(0.0) } else { claimed }, one.end_mm);
        if found.is_nan() || found < least - SAME {
            let [a, b] = one.rule.clone();
            return Err(Fault::Nearer { a, b, claimed: least, found });
        }
    }
    Ok(all.len())
}

fn left(
    setting: &Setting<'_>,
    placement: &Placement,
    sense: Sense,
    grounds: &[RuleGround],
) -> Result<Vec<Left>, Fault> {
    let kit = setting.kit;
    let options = [
        kit.outlet.elbow_turns.iter().position(|t| *t == placement.elbow_turn).unwrap_or(0),
        placement.link_hole[0],
        placement.link_hole[1],
        placement.link_thickness[0][0],
        placement.link_thickness[0][1],
        placement.link_thickness[1][0],
        placement.link_thickness[1][1],
    ];
    let given: Vec<(usize, usize)> = options.into_iter().enumerate().collect();
    let values = [
        placement.cup_offset.x,
        placement.cup_offset.y,
        placement.outlet_bearing.radians(),
        placement.foot_shift[0],
        placement.foot_shift[1],
        placement.bar_slide,
        placement.lid_opening.radians(),
    ];
    let mut examiner = Examiner::new(setting, sense);
    let mut all = Vec::new();
    for (index, ground) in grounds.iter().enumerate() {
        let witness = Witness { given: given.clone(), by: Ground::Rule(ground.clone()) };
        let term = examiner.term(index, &witness)?;
        let rule = [ground.rule.clone(), ground.body.clone().unwrap_or_default()];
        let end_mm = setting.value(&term, &values);
        all.push(Left { rule, tolerance: term.tolerance, end_mm });
    }
    Ok(all)
}

/// Every placing rule, in every piece. In the best case none is about what nobody saw.
fn grounds(setting: &Setting<'_>, placement: &Placement, sense: Sense) -> Vec<RuleGround> {
    let bare = RuleGround::bare;
    let mut all = vec![bare(rule::LEVEL)];
    for sign in [1.0, -1.0] {
        for words in [rule::SCREW_OFFSET, rule::OVERHANG_DIFFERENCE, rule::TRAVEL] {
            all.push(RuleGround { sign: Some(sign), ..bare(words) });
        }
    }
    let lines = setting.lines(placement);
    for end in 0..2 {
        let at = |words: &str| RuleGround { end: Some(end), ..bare(words) };
        all.extend([at(rule::OVERHANG), at(rule::LEAN), at(rule::FOOT_IN_PORT)]);
        for sign in [1.0, -1.0] {
            all.push(RuleGround { sign: Some(sign), ..at(rule::SKEW) });
        }
        // The least of the four is the one whose signs are those of the shift and of the turn.
        let turned = |l: &Lines| setting.turn_in_port(l, End::BOTH[end]).1;
        let turned = lines.as_ref().map_or(0.0, turned);
        all.push(RuleGround {
            sign: Some(if placement.foot_shift[end] < 0.0 { -1.0 } else { 1.0 }),
            skew_sign: Some(if turned < 0.0 { -1.0 } else { 1.0 }),
            ..at(rule::FOOT_IN_PORT)
        });
    }
    let axis = setting.fitting.centre + placement.cup_offset;
    let counts = |id: &BodyId| sense == Sense::Low || !setting.car.is_unseen(*id);
    for id in setting.present().filter(|id| setting.is_covered(*id) && counts(id)) {
        let body = &setting.car.body(id).body;
        let of = |vertex: usize, toward: Option<[f64; 2]>| RuleGround {
            body: Some(format!("car:{}", body.name)),
            vertex: Some(vertex),
            toward,
            ..bare(rule::CAVITY)
        };
        let vertices = || body.mesh.vertices.iter().enumerate();
        let out = |v: &nalgebra::Point3<f64>| v.xy() - axis;
        let widest = vertices().max_by(|a, b| out(a.1).norm().total_cmp(&out(b.1).norm()));
        if let Some((i, v)) = widest {
            let toward = out(v).try_normalize(0.0).unwrap_or_else(nalgebra::Vector2::x);
            all.push(of(i, Some([toward.x, toward.y])));
        }
        if let Some((i, _)) = vertices().max_by(|a, b| a.1.z.total_cmp(&b.1.z)) {
            all.push(of(i, None));
        }
    }
    all
}
