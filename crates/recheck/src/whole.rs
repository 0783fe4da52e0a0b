//! A whole record: every certificate in it, every placement that it calls a fit, and whether its
//! verdicts are covered by them.

use crate::fault::Fault;
use crate::{Rechecked, certificate, only, placed, port, removed};
use assembly::placement::{End, Removed, Side};
use assembly::{CarTop, Choice, Kit, Placement};
use measure::{Angle, Interval};
use nalgebra::Vector2;
use review::proof::Sense;
use review::record::{CupSummary, Fitting, Placed, Record, Verdict};

/// Ports that face each other less than this hold no bar: the bar would leave one of them aslant by
/// half of what is missing to a half turn, degrees.
const OPPOSED: f64 = 120.0;

/// What re-checking one claim of a record found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The fitting.
    pub fitting: String,
    /// The cup.
    pub cup: String,
    /// What is claimed, in words.
    pub claim: String,
    /// What was looked at, in words, or why the claim is refused.
    pub outcome: Result<String, Fault>,
}

/// Re-checks every claim of a record that rests on a proof or a placement.
pub fn record(car: &CarTop, kit: &Kit, record: &Record) -> Vec<Found> {
    let mut all = Vec::new();
    for fitting in &record.fittings {
        for cup in &fitting.cups {
            of_cup(car, kit, fitting, cup, &mut all);
        }
        let is_fit = matches!(fitting.verdict, Verdict::Fits | Verdict::FitsAfterRemoval);
        if is_fit {
            let mut found = Found {
                fitting: fitting.name.clone(),
                cup: fitting.cup.clone().unwrap_or_default(),
                claim: "fits at the placement written down".into(),
                outcome: Ok(String::new()),
            };
            found.outcome = of_placement(car, kit, fitting);
            all.push(found);
        }
    }
    all
}

/// The fitting's and the cup's indices.
fn indices(car: &CarTop, kit: &Kit, fitting: &str, cup: &str) -> Result<(usize, usize), Fault> {
    let fitting = only("fitting", fitting, car.fittings.iter().map(|f| f.name.as_str()))?;
    let cup = only("cup", cup, kit.cups.iter().map(|c| c.name.as_str()))?;
    Ok((fitting, cup))
}

fn of_cup(car: &CarTop, kit: &Kit, fitting: &Fitting, cup: &CupSummary, all: &mut Vec<Found>) {
    let found = |claim: String, outcome: Result<String, Fault>| Found {
        fitting: fitting.name.clone(),
        cup: cup.cup.clone(),
        claim,
        outcome,
    };
    let checked: Vec<Result<Rechecked, Fault>> = cup
        .certificates
        .iter()
        .map(|c| {
            let (fitting, index) = indices(car, kit, &fitting.name, &cup.cup)?;
            certificate(car, kit, fitting, index, c)
        })
        .collect();
    let words = |r: &Rechecked| format!("{} cells, {} witnesses hold", r.cells, r.witnesses);
    for (c, outcome) in cup.certificates.iter().zip(&checked) {
        let [a, b] = &c.ports;
        let claim = match c.sense {
            Sense::High => format!("does not fit through {a} and {b}"),
            Sense::Low => {
                format!("no margin above {:.3} mm through {a} and {b}", c.bound_mm)
            }
        };
        all.push(found(claim, outcome.clone().map(|r| words(&r))));
    }
    if cup.verdict == Verdict::DoesNotFit {
        all.push(found("does not fit".into(), every_pair(car, cup)));
    } else if let Some(bound) = cup.upper_bound_mm
        && !cup.certificates.is_empty()
    {
        let least = cup.certificates.iter().map(|c| c.bound_mm).fold(f64::INFINITY, f64::min);
        let outcome = if least <= bound + 1e-9 {
            Ok("by its certificate".into())
        } else {
            Err(Fault::Unproven { what: format!("an upper bound of {bound} mm") })
        };
        all.push(found(format!("no margin above {bound:.3} mm"), outcome));
    }
}

/// Whether there is a proof for every pair of ports that can hold a bar, with everything off.
fn every_pair(car: &CarTop, cup: &CupSummary) -> Result<String, Fault> {
    let everything: usize = car.fittings.iter().map(|f| f.removables.len()).sum();
    let mut pairs = 0;
    for (i, a) in car.ports.iter().enumerate() {
        for b in &car.ports[i + 1..] {
            let between = a.facing.radians() - b.facing.radians();
            if between.cos() >= OPPOSED.to_radians().cos() {
                continue;
            }
            pairs += 1;
            let proves = cup.certificates.iter().any(|c| {
                c.sense == Sense::High
                    && c.bound_mm < 0.0
                    && (c.ports == [a.name.clone(), b.name.clone()]
                        || c.ports == [b.name.clone(), a.name.clone()])
                    && removed(car, &c.removed).is_ok_and(|r| distinct(r) == everything)
            });
            if !proves {
                let what = format!("that it does not fit through {} and {}", a.name, b.name);
                return Err(Fault::Unproven { what });
            }
        }
    }
    if pairs == 0 {
        return Err(Fault::Unproven {
            what: "anything: no two ports face away from each other".into(),
        });
    }
    Ok(format!("{pairs} pairs of ports, each by its certificate"))
}

fn distinct(mut removed: Vec<Removed>) -> usize {
    removed.sort();
    removed.dedup();
    removed.len()
}

fn of_placement(car: &CarTop, kit: &Kit, fitting: &Fitting) -> Result<String, Fault> {
    let missing = |what: &str| Fault::Unusable { what: what.into() };
    let cup = fitting.cup.as_deref().ok_or_else(|| missing("no cup is named"))?;
    let placed = fitting.placement.as_ref().ok_or_else(|| missing("no placement is given"))?;
    let bounds = fitting.least_margin_mm.as_ref().ok_or_else(|| missing("no margin is given"))?;
    let (Some(low), Some(high)) = (bounds.low, bounds.high) else {
        return Err(missing("the least margin has no bounds"));
    };
    if low.is_nan() || low <= 0.0 {
        return Err(Fault::Unproven { what: format!("a fit with a least margin from {low} mm") });
    }
    let (index, cup) = indices(car, kit, &fitting.name, cup)?;
    let [a, b] = &placed.ends;
    let choice = Choice {
        fitting: index,
        cup,
        ports: [port(car, &a.port)?, port(car, &b.port)?],
        removed: removed(car, &fitting.removed)?,
    };
    let placement = placement_of(kit, placed).ok_or_else(|| missing("the kit has no such part"))?;
    let least = Interval::between(low, high);
    let confirmed = placed::placement(car, kit, &choice, &placement, least)?;
    Ok(format!("{} pairs and {} rules hold", confirmed.pairs, confirmed.rules))
}

/// The placement of the record's numbers; `None` for a thickness or an elbow's turn that the kit has
/// not.
pub fn placement_of(kit: &Kit, placed: &Placed) -> Option<Placement> {
    let thickness =
        |mm: f64| kit.link.thicknesses.iter().position(|t| (t.nominal - mm).abs() < 1e-6);
    let elbow = kit.outlet.elbow_turns.iter();
    let mut elbow = elbow.filter(|t| (t.degrees() - placed.elbow_turn_deg).abs() < 1e-6);
    let mut link_thickness = [[0; 2]; 2];
    for end in End::BOTH {
        let of = &placed.ends[end.index()];
        link_thickness[end.index()][Side::Inside.index()] = thickness(of.inside_link_mm)?;
        link_thickness[end.index()][Side::Outside.index()] = thickness(of.outside_link_mm)?;
    }
    let [x, y] = placed.cup_offset_mm;
    Some(Placement {
        cup_offset: Vector2::new(x, y),
        outlet_bearing: Angle::from_degrees(placed.outlet_bearing_deg),
        elbow_turn: *elbow.next()?,
        foot_shift: End::BOTH.map(|e| placed.ends[e.index()].foot_shift_mm),
        link_thickness,
        link_hole: [placed.ends[0].hole.checked_sub(1)?, placed.ends[1].hole.checked_sub(1)?],
        bar_slide: placed.bar_slide_mm,
        screw_extension: placed.screw_extension_mm,
        lid_opening: Angle::from_degrees(placed.lid_opening_deg.unwrap_or(0.0)),
    })
}
