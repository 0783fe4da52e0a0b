//! Random car tops, each studied by the program and then gone over by brute force: every triangle
//! of every part against every triangle of every other, with none of the program's queries or
//! poses. A verdict must hold there, and no pair may be nearer than reported.
//!
//! The parts' triangles are the program's own; they are checked against other libraries where they
//! are made.

#![expect(clippy::unwrap_used, reason = "a test stops where its own set-up fails")]

mod support;
mod unseen;

use assembly::placement::Choice;
use assembly::rig::RigPart;
use assembly::{Kit, Placement};
use fitup::checks::{owner_in_rig, owner_on_car};
use fitup::search::space::Space;
use fitup::search::witness::Sense;
use fitup::search::{TurnEffort, bearings_overall};
use fitup::{
    Assessment, Check, CupStudy, Effort, Margin, Part, Proof, Rule, Scene, Situation, Verdict,
    assess, plan_spacing, study_cup,
};
use measure::Angle;
use nalgebra::{Point3, Rotation2};
use rayon::prelude::*;
use review::proof::Certificate;
use std::collections::HashMap;
use std::sync::OnceLock;
use support::chance::Chance;
use support::confirm::{Claim, SAME};
use support::sample_car::{Sample, sample, side_port_blocked, turned};
use support::{draw, falsify, outside, sample_kit};

/// How many car tops.
const SAMPLES: u64 = 300;
/// Each of these verdicts must turn up at least this often.
const OFTEN: usize = 15;

/// Less than the program's own, for the time of three hundred car tops; what is claimed must hold all
/// the same.
const EFFORT: Effort = Effort { tolerance: 0.1, most_cells: 600, searches_ways: true };

/// How far apart the least margins of two searches of the same question may be, mm: each is within
/// this of the best there is.
const SEARCH: f64 = 0.1;

/// A car top and kit with one study.
struct Studied {
    number: u64,
    sample: Sample,
    kit: Kit,
    cup: usize,
    study: CupStudy,
}

impl Studied {
    fn placed(&self) -> Option<(&Choice, &Placement, &Assessment)> {
        let s = &self.study;
        Some((s.choice.as_ref()?, s.placement.as_ref()?, s.assessment.as_ref()?))
    }

    fn claim(&self) -> Option<Claim<'_>> {
        let (choice, placement, assessment) = self.placed()?;
        Some(Claim { sample: &self.sample, kit: &self.kit, choice, placement, assessment })
    }

    fn scene(&self) -> Scene<'_> {
        Scene::new(&self.sample.car, &self.kit).unwrap()
    }

    fn name(&self) -> String {
        format!("sample {} cup {} ({})", self.number, self.cup, self.study.verdict.words())
    }
}

fn studies_of(number: u64) -> Vec<Studied> {
    let mut chance = Chance::new(0xC0 + number);
    let first = sample(number);
    let kit = sample_kit::kit(first.across + chance.between(100.0, 160.0), chance.happens(0.3));
    let usual = 1;
    let mut cups = vec![if chance.happens(0.7) { usual } else { chance.below(sample_kit::CUPS) }];
    if chance.happens(0.1) {
        cups.push((cups[0] + 1) % sample_kit::CUPS);
    }
    cups.into_iter()
        .map(|cup| {
            let sample = sample(number);
            let kit = kit.clone();
            let study = {
                let scene = Scene::new(&sample.car, &kit).unwrap();
                study_cup(&scene, &EFFORT, sample.fitting, cup)
            };
            Studied { number, sample, kit, cup, study }
        })
        .collect()
}

/// Every study, made once for all tests.
fn studied() -> &'static [Studied] {
    static STUDIED: OnceLock<Vec<Studied>> = OnceLock::new();
    STUDIED.get_or_init(|| (0..SAMPLES).into_par_iter().flat_map_iter(studies_of).collect())
}

fn fail_with(faults: &[String]) {
    let shown: Vec<&String> = faults.iter().take(20).collect();
    assert!(faults.is_empty(), "{} faults, among them {shown:#?}", faults.len());
}

#[test]
fn every_verdict_holds_by_brute_force() {
    let all = studied();
    let mut counts: HashMap<(Verdict, bool), usize> = HashMap::new();
    for s in all {
        *counts.entry((s.study.verdict, s.study.proven)).or_default() += 1;
    }
    let examined: Vec<(usize, Vec<String>)> = all
        .par_iter()
        .map(|s| {
            let name = s.name();
            let mut wrong = Vec::new();
            let study = &s.study;
            let Some(claim) = s.claim() else {
                if study.verdict != Verdict::CannotTell {
                    wrong.push(format!("{name}: a verdict without a placement"));
                }
                return (0, wrong);
            };
            let faults = claim.examine(None);
            wrong.extend(faults.report.iter().map(|f| format!("{name}: {f}")));
            let least = study.least().unwrap();
            if least.low > study.upper_bound + SAME {
                wrong.push(format!("{name}: better than the proven bound"));
            }
            let known = s.sample.car.hinge.is_some();
            match study.verdict {
                Verdict::Fits | Verdict::FitsAfterRemoval => {
                    wrong.extend(faults.fit.iter().map(|f| format!("{name}: {f}")));
                    let removes = !claim.choice.removed.is_empty();
                    if removes != (study.verdict == Verdict::FitsAfterRemoval) {
                        wrong.push(format!("{name}: removal"));
                    }
                    if !known {
                        wrong.push(format!("{name}: nothing is known of lid and hinge"));
                    }
                }
                Verdict::DoesNotFit => {
                    if !study.proven && faults.fit.is_empty() {
                        wrong.push(format!("{name}: everything is clear"));
                    }
                }
                Verdict::CannotTell => {
                    if study.reasons.is_empty() {
                        wrong.push(format!("{name}: no reason given"));
                    }
                }
            }
            (faults.pairs, wrong)
        })
        .collect();
    let pairs: usize = examined.iter().map(|e| e.0).sum();
    println!("{} studies, {pairs} pairs compared", all.len());
    for ((verdict, proven), count) in &counts {
        println!("{count:4} {}{}", verdict.words(), if *proven { ", proven" } else { "" });
    }
    show_plan_check(all);
    let faults: Vec<String> = examined.into_iter().flat_map(|e| e.1).collect();
    fail_with(&faults);
    let count = |wanted: &dyn Fn(Verdict) -> bool| {
        counts.iter().filter(|((v, _), _)| wanted(*v)).map(|(_, n)| n).sum::<usize>()
    };
    assert!(all.len() >= 200);
    assert!(count(&|v| v.is_fit()) >= OFTEN, "hardly anything fits: the test shows nothing");
    assert!(count(&|v| v == Verdict::DoesNotFit) >= OFTEN, "hardly anything does not fit");
    assert!(counts.keys().any(|(v, p)| *v == Verdict::DoesNotFit && *p), "nothing proven");
}

/// How often the flat spacing rule agrees with the verdict: the table of the README.
#[expect(clippy::print_stdout, reason = "a figure to be read, not asserted")]
fn show_plan_check(all: &[Studied]) {
    let mut counts: HashMap<(Verdict, bool), usize> = HashMap::new();
    for s in all {
        let asked = s.kit.rules.plan_spacing;
        let spacings = plan_spacing(&s.sample.car, s.sample.fitting).unwrap();
        let passes = spacings.iter().all(|p| p.spacing >= asked);
        *counts.entry((s.study.verdict, passes)).or_default() += 1;
    }
    let mut rows: Vec<_> = counts.into_iter().collect();
    rows.sort_unstable();
    for ((verdict, passes), count) in rows {
        let plan = if passes { "passes" } else { "fails" };
        println!("{count:4} {}: the plan check {plan}", verdict.words());
    }
}

#[test]
fn no_way_out_of_a_proven_does_not_fit() {
    let proven: Vec<&Studied> = studied().iter().filter(|s| s.study.proven).collect();
    let faults: Vec<String> = proven
        .par_iter()
        .filter_map(|s| {
            let near = s.study.placement.as_ref().map_or_else(Default::default, |p| p.cup_offset);
            let of = (s.sample.fitting, s.cup);
            let mut chance = Chance::new(s.number);
            let free = outside::way_out(&s.sample, &s.kit, of, near, 2000, &mut chance)?;
            let bound = s.study.upper_bound;
            Some(format!("{}: bound {bound}, {}", s.name(), outside::describe(&free)))
        })
        .collect();
    println!("{} proven", proven.len());
    fail_with(&faults);
    assert!(proven.len() >= OFTEN);
}

/// Placements drawn by chance, half of them near the best found, all with the cup under the bar: none
/// has a least margin above the proven bound, and none fits where that is proven impossible.
#[test]
fn no_placement_drawn_by_chance_beats_the_bound() {
    /// Drawn for each car top.
    const DRAWN: usize = 20_000;
    let drawn: Vec<(usize, Vec<String>)> = studied()
        .par_iter()
        .map(|s| {
            let mut faults = Vec::new();
            let mut counted = 0;
            for (choice, proof) in &s.study.proofs {
                let scene = s.scene();
                let mut draw = draw::Draw::new(&s.sample.car, &s.kit, &scene, choice, proof);
                let each = DRAWN.div_ceil(s.study.proofs.len());
                let near = (s.study.choice.as_ref() == Some(choice))
                    .then_some(s.study.placement.as_ref())
                    .flatten();
                let mut chance = Chance::new(0xD0 + s.number);
                counted += each;
                if let Some(better) = draw.better(near, each, &mut chance) {
                    faults.push(format!("{}: bound {}, {better}", s.name(), proof.claim()));
                }
            }
            (counted, faults)
        })
        .collect();
    let counted: usize = drawn.iter().map(|d| d.0).sum();
    println!("{counted} placements drawn");
    let faults: Vec<String> = drawn.into_iter().flat_map(|d| d.1).collect();
    fail_with(&faults);
    assert!(counted >= DRAWN * 100);
}

/// Placements drawn by chance at bearings that are proven blocked: none fits. Those drawn near the
/// found one at bearings that are free do turn up fits.
#[test]
fn no_placement_drawn_by_chance_fits_at_a_blocked_bearing() {
    /// Car tops looked at.
    const TOPS: u64 = 24;
    const DRAWN: usize = 10_000;
    let effort = TurnEffort { most_cells: 2_000, ..TurnEffort::default() };
    let drawn: Vec<(f64, f64, usize, Vec<String>)> = (0..TOPS)
        .into_par_iter()
        .flat_map_iter(studies_of)
        .filter(|s| s.study.verdict.is_fit())
        .map(|s| {
            let (choice, placement, _) = s.placed().unwrap();
            let scene = s.scene();
            let found = bearings_overall(&scene, choice, placement, &effort);
            let space = Space::of(&scene, choice).unwrap();
            let width = |arcs: &[[Angle; 2]]| -> f64 {
                arcs.iter().map(|[from, to]| to.degrees() - from.degrees()).sum()
            };
            let [free, blocked] = [&found.free, &found.blocked].map(|arcs| width(arcs));
            let mut faults = Vec::new();
            if (free + blocked + width(&found.undecided) - 360.0).abs() > 1e-6 {
                faults.push(format!("{}: not all round, {found:?}", s.name()));
            }
            // The claim over a blocked arc: no least margin is above zero.
            let (witnesses, nodes) = (Vec::new(), Vec::new());
            let claim = Proof { sense: Sense::Low, bound: 0.0, space, witnesses, nodes };
            let mut draw = draw::Draw::new(&s.sample.car, &s.kit, &scene, choice, &claim);
            let mut chance = Chance::new(0xB0 + s.number);
            let mut each = |arcs: &[[Angle; 2]], drawn: usize| -> Vec<String> {
                let count = drawn.div_ceil(arcs.len().max(1));
                let mut one = |arc: &[Angle; 2]| {
                    draw.better_between(arc.map(Angle::radians), placement, count, &mut chance)
                };
                arcs.iter().filter_map(&mut one).collect()
            };
            let fits = each(&found.free, DRAWN / 20).len();
            let at_blocked = each(&found.blocked, DRAWN);
            faults.extend(at_blocked.iter().map(|p| format!("{}: {p} fits", s.name())));
            (free, blocked, fits, faults)
        })
        .collect();
    let free: f64 = drawn.iter().map(|d| d.0).sum();
    let blocked: f64 = drawn.iter().map(|d| d.1).sum();
    let all = 360.0 * drawn.len() as f64;
    let fits: usize = drawn.iter().map(|d| d.2).sum();
    println!(
        "{} car tops: {:.1} % free, {:.1} % blocked; {fits} free arcs with a fit drawn",
        drawn.len(),
        100.0 * free / all,
        100.0 * blocked / all
    );
    fail_with(&drawn.into_iter().flat_map(|d| d.3).collect::<Vec<_>>());
    assert!(fits >= OFTEN, "hardly anything drawn fits: the test shows nothing");
    assert!(blocked > 0.05 * all, "hardly anything is blocked");
}

/// Code that shares nothing with the search goes over each proof, and refuses it once it is
/// falsified.
#[test]
fn every_proof_is_rechecked_and_no_falsified_one_is() {
    let checked: Vec<(usize, usize, Vec<String>)> = studied()
        .par_iter()
        .map(|s| {
            let (mut good, mut bad, mut faults) = (0, 0, Vec::new());
            for (choice, proof) in &s.study.proofs {
                let car = &s.sample.car;
                let recheck = |c: &Certificate| {
                    recheck::certificate(car, &s.kit, choice.fitting, choice.cup, c)
                };
                let certificate = Certificate::of(proof, choice, car).unwrap();
                match recheck(&certificate) {
                    Ok(_) => good += 1,
                    Err(fault) => faults.push(format!("{}: {fault}", s.name())),
                }
                for (what, falsified) in falsify::each(&certificate) {
                    match recheck(&falsified) {
                        Ok(_) => faults.push(format!("{}: {what} is accepted", s.name())),
                        Err(_) => bad += 1,
                    }
                }
            }
            (good, bad, faults)
        })
        .collect();
    let (good, bad) = checked.iter().fold((0, 0), |sum, c| (sum.0 + c.0, sum.1 + c.1));
    println!("{good} proofs accepted, {bad} falsified ones refused");
    let faults: Vec<String> = checked.into_iter().flat_map(|c| c.2).collect();
    fail_with(&faults);
    assert!(good >= 100 && bad >= 1000);
}

/// A tall neighbour stands where the side port points when the outlet is square to the bar on one
/// side, and nowhere else in the way: turned round, the rig fits.
#[test]
fn a_side_port_blocked_at_one_bearing_proves_nothing() {
    for side in [1.0, -1.0] {
        let sample = side_port_blocked(side);
        let kit = sample_kit::kit(sample.across + 120.0, false);
        let scene = Scene::new(&sample.car, &kit).unwrap();
        let study = study_cup(&scene, &EFFORT, sample.fitting, 1);
        assert!(!study.proven, "bound {}", study.upper_bound);
        assert_eq!(study.verdict, Verdict::Fits, "{:?}", study.assessment.unwrap().limit());
    }
}

/// The narrowest gap and where it is.
fn narrowest(assessment: &Assessment) -> Option<(&Margin, [Point3<f64>; 2])> {
    let all = assessment.outcomes.iter().flat_map(|o| &o.margins);
    let gaps = all.filter(|m| m.rule == Rule::Gap);
    let least = gaps.min_by(|a, b| a.margin.low.total_cmp(&b.margin.low))?;
    Some((least, least.witness?))
}

/// The brute force is no rubber stamp: 6 mm toward the limit and it objects.
#[test]
fn a_part_moved_toward_the_limit_is_noticed() {
    let mut moved = 0;
    for s in studied().iter().filter(|s| s.study.verdict.is_fit()) {
        let claim = s.claim().unwrap();
        let Some((limit, [on_a, on_b])) = narrowest(claim.assessment) else { continue };
        if limit.margin.high > 5.0 {
            continue;
        }
        let toward = (on_a - on_b).normalize() * 6.0;
        let faults = claim.examine(Some((limit.b, toward)));
        assert!(!faults.fit.is_empty(), "{}: still fits, {limit:?}", s.name());
        assert!(!faults.report.is_empty(), "{}: still as reported, {limit:?}", s.name());
        let mut placement = claim.placement.clone();
        let across = Rotation2::new(0.5 * std::f64::consts::PI);
        let ports = claim.choice.ports.map(|p| s.sample.car.ports[p].at);
        placement.cup_offset += across * (ports[0] - ports[1]).normalize() * 6.5;
        let off_line = Claim { placement: &placement, ..claim }.examine(None);
        assert!(!off_line.fit.is_empty(), "{}: cup off the line still fits", s.name());
        moved += 1;
    }
    assert!(moved >= OFTEN, "only {moved} moved");
}

/// A report that is a tenth of a millimetre too good is noticed.
#[test]
fn a_better_report_is_noticed() {
    let mut told = 0;
    for s in studied().iter().filter(|s| s.study.verdict.is_fit()).take(OFTEN) {
        let claim = s.claim().unwrap();
        let mut better = claim.assessment.clone();
        let first = better
            .outcomes
            .iter_mut()
            .flat_map(|o| &mut o.margins)
            .find(|m| m.rule == Rule::Gap)
            .unwrap();
        first.measured = first.measured + measure::Interval::exactly(0.1);
        first.margin = first.margin + measure::Interval::exactly(0.1);
        let faults = Claim { assessment: &better, ..claim }.examine(None);
        assert!(!faults.report.is_empty(), "{}", s.name());
        told += 1;
    }
    assert_eq!(told, OFTEN);
}

#[test]
fn every_pair_has_one_owner() {
    for s in studied().iter().step_by(10) {
        let Some((choice, placement, assessment)) = s.placed() else { continue };
        let scene = s.scene();
        let situation = Situation::new(&scene, choice, placement).unwrap();
        let mut owners: HashMap<(Part, Part), Vec<Check>> = HashMap::new();
        for outcome in &assessment.outcomes {
            for m in outcome.margins.iter().filter(|m| matches!(m.rule, Rule::Gap | Rule::Contact))
            {
                assert_eq!(m.check, outcome.check);
                owners.entry((m.a, m.b)).or_default().push(m.check);
            }
        }
        let parts = RigPart::all(&s.kit);
        let mut reported = 0;
        for (i, &a) in parts.iter().enumerate() {
            let on_car =
                situation.present().map(|id| (Part::Car(id), owner_on_car(&situation, a, id)));
            let in_rig = parts[i + 1..].iter().map(|&b| {
                assert_eq!(owner_in_rig(a, b), owner_in_rig(b, a));
                (Part::Rig(b), owner_in_rig(a, b))
            });
            for (b, owner) in on_car.chain(in_rig) {
                let either = [(Part::Rig(a), b), (b, Part::Rig(a))];
                let found: Vec<Check> =
                    either.iter().filter_map(|pair| owners.get(pair)).flatten().copied().collect();
                assert!(found.is_empty() || found == [owner], "{a:?} {b:?}: {found:?}, {owner:?}");
                reported += found.len();
            }
        }
        // Nothing but these pairs is reported.
        assert_eq!(reported, owners.values().map(Vec::len).sum::<usize>());
        assert!(reported > parts.len(), "{}: {reported}", s.name());
    }
}

/// Turning the whole car top about the plate's axis changes no verdict and no margin.
#[test]
fn turning_the_car_top_changes_nothing() {
    let mut chance = Chance::new(99);
    let some: Vec<(&Studied, f64)> = studied()
        .iter()
        .filter(|s| s.placed().is_some())
        .step_by(10)
        .map(|s| (s, chance.between(0.2, 6.0)))
        .collect();
    let faults: Vec<String> = some
        .par_iter()
        .flat_map_iter(|(s, by)| {
            let (choice, placement, before) = s.placed().unwrap();
            let car = turned(&s.sample.car, *by);
            let scene = Scene::new(&car, &s.kit).unwrap();
            let mut faults = Vec::new();
            let mut placement = placement.clone();
            placement.cup_offset = Rotation2::new(*by) * placement.cup_offset;
            placement.outlet_bearing = Angle::from_radians(placement.outlet_bearing.radians() + by);
            let after = assess(&Situation::new(&scene, choice, &placement).unwrap());
            compare(&mut faults, (&s.name(), s.kit.chord_error), before, &after);

            let again = study_cup(&scene, &EFFORT, s.sample.fitting, s.cup);
            let (was, is) = (s.study.least().unwrap(), again.least().unwrap());
            // A search that gives up may do so one way round only.
            let told = |v: Verdict| v != Verdict::CannotTell;
            if told(again.verdict)
                && told(s.study.verdict)
                && again.verdict.is_fit() != s.study.verdict.is_fit()
            {
                faults.push(format!("{}: {was:?} {:?} {is:?}", s.name(), again.verdict));
            }
            // Both within the tolerance of the best, where both are proven to be.
            let closed = |study: &CupStudy, least: measure::Interval| {
                study.upper_bound - least.low <= EFFORT.tolerance + 1e-9
            };
            let same = |a: &Option<Choice>, b: &Option<Choice>| match (a, b) {
                (Some(a), Some(b)) => a == b,
                _ => false,
            };
            if s.study.verdict.is_fit()
                && same(&s.study.choice, &again.choice)
                && closed(&s.study, was)
                && closed(&again, is)
                && (was.low - is.low).abs() > SEARCH + s.kit.chord_error
            {
                faults.push(format!("{}: least {was:?} {is:?}", s.name()));
            }
            faults
        })
        .collect();
    println!("{} car tops turned", some.len());
    fail_with(&faults);
    assert!(some.len() >= 20);
}

/// The same margins, but for the depth of overlaps, of which the upper bound is only the best way
/// out found.
fn compare(
    faults: &mut Vec<String>,
    (name, chord): (&str, f64),
    before: &Assessment,
    after: &Assessment,
) {
    let margins = |a: &Assessment| -> HashMap<(Rule, Part, Part, u32), Margin> {
        let mut count: HashMap<(Rule, Part, Part), u32> = HashMap::new();
        let mut all = HashMap::new();
        // How the parts get there is looked at for what a study shows alone.
        let in_place = a.outcomes.iter().filter(|o| o.check.is_in_place());
        for m in in_place.flat_map(|o| &o.margins) {
            let n = count.entry((m.rule, m.a, m.b)).or_default();
            all.insert((m.rule, m.a, m.b, *n), m.clone());
            *n += 1;
        }
        all
    };
    let (before, after) = (margins(before), margins(after));
    for (key, was) in &before {
        let Some(is) = after.get(key) else {
            // At the edge of what is reported.
            if was.margin.low < 39.999 {
                faults.push(format!("{name}: {was:?} is gone"));
            }
            continue;
        };
        // Cup and gasket are round and do not turn with the car top: their chords do against it.
        // How deep an overlap goes is then looked for from other points.
        let round = |part| matches!(part, Part::Rig(RigPart::Cup | RigPart::Gasket));
        let round = round(was.a) || round(was.b);
        let overlaps = |m: &Margin| m.rule == Rule::Gap && m.measured.middle() < 0.0;
        if overlaps(was) && overlaps(is) && (round || was.measured.high > 0.0) {
            continue;
        }
        let same = if round { chord + 1e-6 } else { 1e-6 };
        let same = (was.margin.high - is.margin.high).abs() < same
            && (was.measured.high < 0.0 || (was.margin.low - is.margin.low).abs() < same);
        if !same {
            faults.push(format!("{name}: {was:?} {is:?}"));
        }
    }
    if before.len() > after.len() + 2 || after.len() > before.len() + 2 {
        faults.push(format!("{name}: {} margins, then {}", before.len(), after.len()));
    }
}
