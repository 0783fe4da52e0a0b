//! One fitting and one cup: the port pairs, the least set of removables, the verdict.

use crate::checks::{Assessment, assess};
use crate::margin::{Margin, Part, Rule};
use crate::scene::Scene;
use crate::search::{Answer, PlacementSearch, Question};
use crate::situation::Situation;
use assembly::placement::Removed;
use assembly::{Choice, Placement};
use measure::Interval;

/// Whether a fitting can be covered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Verdict {
    /// With nothing taken off but the covers of the ports used.
    Fits,
    /// After the named pieces are taken off.
    FitsAfterRemoval,
    /// The data do not support a verdict.
    CannotTell,
    /// No placement keeps every margin.
    DoesNotFit,
}

impl Verdict {
    /// Its words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::FitsAfterRemoval => "fits after removal",
            Self::CannotTell => "cannot tell",
            Self::DoesNotFit => "does not fit",
        }
    }

    /// Whether the fitting can be covered.
    pub const fn is_fit(self) -> bool {
        matches!(self, Self::Fits | Self::FitsAfterRemoval)
    }
}

/// What was found for one fitting and one cup.
#[derive(Debug, Clone, PartialEq)]
pub struct CupStudy {
    /// The verdict.
    pub verdict: Verdict,
    /// Whether "does not fit" is proven for every placement; otherwise the search found none.
    pub proven: bool,
    /// Why it cannot be told, in sentences; empty for the other verdicts.
    pub reasons: Vec<String>,
    /// Fitting, cup, ports and what is off, for the best placement found.
    pub choice: Option<Choice>,
    /// The best placement found.
    pub placement: Option<Placement>,
    /// What the checks measured there.
    pub assessment: Option<Assessment>,
    /// Proven: no placement has a least margin above this, mm; infinite when nothing is proven.
    pub upper_bound: f64,
    /// How many placements were looked at.
    pub looked_at: usize,
}

impl CupStudy {
    /// The least margin at the best placement.
    pub fn least(&self) -> Option<Interval> {
        self.assessment.as_ref()?.least()
    }
}

/// Ports that face each other less than this cannot hold a bar, degrees.
const OPPOSED: f64 = 120.0;

/// Pairs of ports that face away from each other.
pub fn port_pairs(scene: &Scene<'_>) -> Vec<[usize; 2]> {
    let ports = &scene.car.ports;
    let mut pairs = Vec::new();
    for a in 0..ports.len() {
        for b in a + 1..ports.len() {
            let between = ports[a].facing.radians() - ports[b].facing.radians();
            if between.cos() < OPPOSED.to_radians().cos() {
                pairs.push([a, b]);
            }
        }
    }
    pairs
}

/// A searched choice with its assessment.
struct Tried {
    choice: Choice,
    answer: Answer,
    assessment: Option<Assessment>,
}

/// What a trial promises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Prospect {
    /// It does not fit there.
    None,
    /// It may fit there within the deviations, or where data is missing.
    Possible,
    /// It fits there.
    Fits,
}

impl Tried {
    fn new(scene: &Scene<'_>, search: &dyn PlacementSearch, choice: Choice) -> Self {
        let answer = search.search(&Question { scene, choice: &choice });
        let assessment = assessment_at(scene, &choice, answer.placement.as_ref());
        Self { choice, answer, assessment }
    }

    fn low(&self) -> f64 {
        self.assessment
            .as_ref()
            .and_then(Assessment::least)
            .map_or(f64::NEG_INFINITY, |least| least.low)
    }

    fn prospect(&self) -> Prospect {
        let Some(assessment) = &self.assessment else { return Prospect::None };
        match assessment.least() {
            Some(least) if least.low > 0.0 && assessment.undecided().next().is_none() => {
                Prospect::Fits
            }
            Some(least) if least.high > 0.0 => Prospect::Possible,
            _ => Prospect::None,
        }
    }
}

fn assessment_at(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: Option<&Placement>,
) -> Option<Assessment> {
    Some(assess(&Situation::new(scene, choice, placement?)?))
}

/// Studies one fitting with one cup over all port pairs.
///
/// Taking a piece off never hurts, so the search first runs with every removable of the car top
/// off; where that cannot fit, that is what the study reports. Otherwise the least set is
/// looked for: the fitting's own pieces in the order in which they come off, as few as possible;
/// other fittings' pieces only where no pair of ports does without. An index out of range gives a study without a
/// placement.
pub fn study_cup(
    scene: &Scene<'_>,
    search: &dyn PlacementSearch,
    fitting: usize,
    cup: usize,
) -> CupStudy {
    let pairs = port_pairs(scene);
    if pairs.is_empty() {
        return nothing(
            "no two ports that face away from each other are given; give every port of the housing",
        );
    }
    let everything = all_removables(scene);
    let mut looked_at = 0;
    let mut upper_bound = f64::NEG_INFINITY;
    let mut all_off: Vec<Tried> = Vec::new();
    for ports in pairs {
        let choice = Choice { fitting, cup, ports, removed: everything.clone() };
        let tried = Tried::new(scene, search, choice);
        looked_at += tried.answer.looked_at;
        upper_bound = upper_bound.max(tried.answer.upper_bound);
        all_off.push(tried);
    }
    all_off.sort_by(|a, b| b.prospect().cmp(&a.prospect()).then(b.low().total_cmp(&a.low())));
    let promise = all_off[0].prospect();
    if promise == Prospect::None {
        return conclude(scene, all_off.swap_remove(0), upper_bound, looked_at);
    }
    let others =
        |tried: &Tried| tried.choice.removed.iter().filter(|r| r.fitting != fitting).count();
    let mut best: Option<Tried> = None;
    for tried in all_off.iter().filter(|t| t.prospect() == promise) {
        let least = least_set(scene, search, tried);
        looked_at += least.answer.looked_at;
        if best.as_ref().is_none_or(|b| others(&least) < others(b)) {
            best = Some(least);
        }
        // Other ports matter only while pieces of other fittings have to come off.
        if best.as_ref().is_some_and(|b| others(b) == 0) {
            break;
        }
    }
    match best {
        Some(best) => conclude(scene, best, upper_bound, looked_at),
        None => nothing("no placement could be formed"),
    }
}

/// A study that ended before any placement.
fn nothing(reason: &str) -> CupStudy {
    CupStudy {
        verdict: Verdict::CannotTell,
        proven: false,
        reasons: vec![reason.into()],
        choice: None,
        placement: None,
        assessment: None,
        upper_bound: f64::INFINITY,
        looked_at: 0,
    }
}

fn all_removables(scene: &Scene<'_>) -> Vec<Removed> {
    scene
        .car
        .fittings
        .iter()
        .enumerate()
        .flat_map(|(fitting, f)| {
            (0..f.removables.len()).map(move |removable| Removed { fitting, removable })
        })
        .collect()
}

/// The fitting's own first `count` pieces.
fn own(fitting: usize, count: usize) -> Vec<Removed> {
    (0..count).map(|removable| Removed { fitting, removable }).collect()
}

/// The least set of removables that promises as much as everything off, through these ports.
fn least_set(scene: &Scene<'_>, search: &dyn PlacementSearch, all_off: &Tried) -> Tried {
    let fitting = all_off.choice.fitting;
    let count = scene.car.fittings[fitting].removables.len();
    let with = |removed: Vec<Removed>| Choice { removed, ..all_off.choice.clone() };
    let at_same_place = |removed: Vec<Removed>| {
        let choice = with(removed);
        let assessment = assessment_at(scene, &choice, all_off.answer.placement.as_ref());
        Tried { choice, answer: all_off.answer.clone(), assessment }
    };
    let as_good = |tried: &Tried| tried.prospect() >= all_off.prospect();
    for k in 0..=count {
        let same = at_same_place(own(fitting, k));
        // What is best with everything off is best with less off, if it loses nothing.
        if as_good(&same) && same.low() >= all_off.low() {
            return same;
        }
        let tried = Tried::new(scene, search, with(own(fitting, k)));
        if as_good(&tried) {
            return tried;
        }
    }
    // Other fittings' pieces must come off too: put back, one after another, what need not.
    let mut removed = all_off.choice.removed.clone();
    let mut index = removed.len();
    while index > 0 {
        index -= 1;
        let piece = removed[index];
        // What comes off after it must be back before it can be.
        let held =
            removed.iter().any(|r| r.fitting == piece.fitting && r.removable > piece.removable);
        if piece.fitting == fitting || held {
            continue;
        }
        let mut fewer = removed.clone();
        fewer.remove(index);
        if as_good(&at_same_place(fewer.clone())) {
            removed = fewer;
        }
    }
    let tried = Tried::new(scene, search, with(removed.clone()));
    if as_good(&tried) { tried } else { at_same_place(removed) }
}

fn conclude(scene: &Scene<'_>, tried: Tried, upper_bound: f64, looked_at: usize) -> CupStudy {
    let least = tried.assessment.as_ref().and_then(Assessment::least);
    let undecided: Vec<String> = tried
        .assessment
        .iter()
        .flat_map(Assessment::undecided)
        .map(|u| format!("{}: {}; {}", u.check.word(), u.reason, u.remedy))
        .collect();
    let proven = upper_bound < 0.0;
    let resolution = tried.answer.resolution;
    let mut reasons = Vec::new();
    let verdict = match least {
        _ if proven => Verdict::DoesNotFit,
        None => {
            reasons.push("no placement could be formed".into());
            Verdict::CannotTell
        }
        Some(least) if least.high < -resolution => Verdict::DoesNotFit,
        Some(least) if least.low > 0.0 && undecided.is_empty() => {
            if tried.choice.removed.is_empty() { Verdict::Fits } else { Verdict::FitsAfterRemoval }
        }
        Some(least) => {
            reasons = undecided;
            if least.low <= 0.0 && least.high > 0.0 {
                reasons.extend(straddles(scene, &tried));
            } else if least.high <= 0.0 {
                reasons.push(
                    "the best placement found misses by less than the search's resolution".into(),
                );
            }
            Verdict::CannotTell
        }
    };
    CupStudy {
        verdict,
        proven,
        reasons,
        choice: Some(tried.choice),
        placement: tried.answer.placement,
        assessment: tried.assessment,
        upper_bound,
        looked_at,
    }
}

/// Why a trial whose margins reach over zero cannot be told, one sentence per check, with what to
/// measure better.
fn straddles(scene: &Scene<'_>, tried: &Tried) -> Vec<String> {
    let Some(assessment) = &tried.assessment else { return Vec::new() };
    let straddling = |m: &&Margin| m.margin.low <= 0.0 && m.margin.high > 0.0;
    assessment
        .outcomes
        .iter()
        .filter_map(|outcome| outcome.margins.iter().find(straddling))
        .map(|m| {
            let bodies: Vec<&str> = [m.a, m.b]
                .into_iter()
                .filter_map(|part| match part {
                    Part::Car(id) => Some(scene.car.body(id).body.name.as_str()),
                    Part::Rig(_) => None,
                })
                .collect();
            let what = match (m.rule, bodies.as_slice()) {
                (Rule::Gap | Rule::Cavity | Rule::Flatness | Rule::SealWidth, [body, ..]) => {
                    format!("measure {body} more closely")
                }
                _ => "measure the ports more closely".into(),
            };
            format!(
                "{}: {} may be enough or not within the deviations of the data; {what}",
                m.check.word(),
                m.rule.word(),
            )
        })
        .collect()
}
