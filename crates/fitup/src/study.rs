//! One fitting and one cup: the port pairs, the least set of removables, the verdict.

use crate::checks::{Assessment, assess, assess_installation};
use crate::margin::{Check, Margin, Part, Rule, Undecided};
use crate::path::Way;
use crate::scene::Scene;
use crate::search::{Answer, Effort, Proof, Question, nearest_to_fitting, search};
use crate::situation::Situation;
use assembly::car_top::BodyId;
use assembly::placement::Removed;
use assembly::{CarTop, Choice, Placement};
use measure::Interval;
use rayon::prelude::*;
use std::collections::BTreeSet;

mod gains;
mod installable;

pub use gains::{Gain, gains};

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

/// What kept a verdict from being reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Doubt {
    /// Something is not given, or a mesh has holes.
    DataMissing,
    /// The deviations of the data are wider than the room to spare.
    Deviations,
    /// No way in was found for a part, or no room for a hand.
    Installation,
    /// The search ended before it could prove anything.
    Effort,
}

/// Why it cannot be told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// What kind of reason it is.
    pub doubt: Doubt,
    /// The reason, in a sentence.
    pub why: String,
}

impl Reason {
    fn new(doubt: Doubt, why: impl Into<String>) -> Self {
        Self { doubt, why: why.into() }
    }
}

/// What was found for one fitting and one cup.
#[derive(Debug, Clone, PartialEq)]
pub struct CupStudy {
    /// The verdict.
    pub verdict: Verdict,
    /// Whether "does not fit" is proven for every placement.
    pub proven: bool,
    /// Why it cannot be told; empty for the other verdicts.
    pub reasons: Vec<Reason>,
    /// Fitting, cup, ports and what is off, for the best placement found.
    pub choice: Option<Choice>,
    /// The best placement found.
    pub placement: Option<Placement>,
    /// What the checks measured there. Lowering and access are among them where the checks of the
    /// rig in its place are all kept.
    pub assessment: Option<Assessment>,
    /// How each part reaches its place, in the kit's order; empty where that was not looked at.
    pub ways: Vec<Way>,
    /// Proven: no placement has a least margin above this, mm; infinite when nothing is proven.
    pub upper_bound: f64,
    /// Other least sets of removables with which it fits as well in its place.
    pub alternatives: Vec<Alternative>,
    /// What proves the upper bound, or that nothing fits: one proof for each pair of ports.
    pub proofs: Vec<(Choice, Proof)>,
    /// How many placements were looked at.
    pub looked_at: usize,
}

/// Another least set of removables.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternative {
    /// What is taken off.
    pub removed: Vec<Removed>,
    /// The lower end of the least margin with it, mm.
    pub least: f64,
}

impl CupStudy {
    /// One in which nothing was found, with a verdict that is known from elsewhere.
    pub const fn without_findings(verdict: Verdict) -> Self {
        Self {
            verdict,
            proven: false,
            reasons: Vec::new(),
            choice: None,
            placement: None,
            assessment: None,
            ways: Vec::new(),
            upper_bound: f64::INFINITY,
            alternatives: Vec::new(),
            proofs: Vec::new(),
            looked_at: 0,
        }
    }

    /// The least margin at the best placement.
    pub fn least(&self) -> Option<Interval> {
        self.assessment.as_ref()?.least()
    }
}

/// Ports that face each other less than this cannot hold a bar, degrees.
const OPPOSED: f64 = 120.0;

/// Pairs of ports that face away from each other.
pub fn port_pairs(car: &CarTop) -> Vec<[usize; 2]> {
    let ports = &car.ports;
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

/// What the checks measure, and the ways of the parts.
type Measured = (Assessment, Vec<Way>);

/// A searched choice.
struct Tried {
    choice: Choice,
    answer: Answer,
}

/// What a trial promises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Prospect {
    /// It is proven not to fit.
    None,
    /// It may fit within the deviations, or the search gave up.
    Possible,
    /// It fits.
    Fits,
}

impl Tried {
    fn new(scene: &Scene<'_>, effort: &Effort, choice: Choice, eased: Option<&Answer>) -> Self {
        let answer = search(&Question { scene, choice: &choice }, effort, eased);
        Self { choice, answer }
    }

    fn prospect(&self) -> Prospect {
        if self.answer.least > 0.0 {
            Prospect::Fits
        } else if self.answer.is_proven_not_to_fit() {
            Prospect::None
        } else {
            Prospect::Possible
        }
    }
}

/// Studies one fitting with one cup over all port pairs.
///
/// Taking a piece off never hurts, so the search first runs with every removable of the car top
/// off; where that cannot fit, nothing can, and that is what the study reports. Otherwise the least
/// sets are looked for that promise as much: from nothing off, what a proof that nothing fits rests
/// on names the pieces of which one more must come off. Where the rig then fits but a part does not
/// get to its place for a piece that can be taken off, that comes off as well. An index out of range
/// gives a study without a placement.
pub fn study_cup(scene: &Scene<'_>, effort: &Effort, fitting: usize, cup: usize) -> CupStudy {
    let pairs = port_pairs(scene.car);
    if pairs.is_empty() {
        return nothing(
            "no two ports that face away from each other are given; give every port of the housing",
        );
    }
    let everything = all_removables(scene);
    let mut all_off: Vec<Tried> = pairs
        .into_par_iter()
        .map(|ports| {
            let choice = Choice { fitting, cup, ports, removed: everything.clone() };
            Tried::new(scene, effort, choice, None)
        })
        .collect();
    let mut looked_at = all_off.iter().map(|tried| tried.answer.looked_at).sum();
    all_off.sort_by(|a, b| {
        b.prospect().cmp(&a.prospect()).then(b.answer.least.total_cmp(&a.answer.least))
    });
    let promise = all_off[0].prospect();
    all_off.retain(|t| t.prospect() == promise);
    // Where nothing fits nothing less fits; where the search gave up, fewer pieces off can only be
    // harder.
    let gave_up = all_off.iter().any(|t| t.answer.proof.is_none());
    if promise == Prospect::None || (promise == Prospect::Possible && gave_up) {
        let bounds = all_off.iter().map(|t| t.answer.upper_bound);
        let upper_bound = bounds.fold(f64::NEG_INFINITY, f64::max);
        return conclude(scene, effort, all_off, None, upper_bound, looked_at);
    }
    let sets: Vec<(Vec<Tried>, usize)> =
        all_off.par_iter().map(|all_off| least_sets(scene, effort, all_off)).collect();
    let mut found = Vec::new();
    for (sets, looked) in sets {
        looked_at += looked;
        found.extend(sets);
    }
    found.sort_by(|a, b| {
        let others = |t: &Tried| t.choice.removed.iter().filter(|r| r.fitting != fitting).count();
        others(a)
            .cmp(&others(b))
            .then(a.choice.removed.len().cmp(&b.choice.removed.len()))
            .then(b.answer.least.total_cmp(&a.answer.least))
    });
    let mut assessed = installable::prefer(scene, effort, &mut found);
    if let Some(front) = &assessed
        && let Some((more, measured, looked)) =
            installable::with_more_off(scene, effort, &found[0], front)
    {
        looked_at += looked;
        found = vec![more];
        assessed = Some(measured);
    }
    let upper_bound = found[0].answer.upper_bound;
    conclude(scene, effort, found, assessed, upper_bound, looked_at)
}

/// Whether some placement surely fits with all removables of the car top off.
#[derive(Debug, Clone, PartialEq)]
pub enum Outlook {
    /// One does.
    Fits,
    /// None was found. For the pairs of ports for which it is proven that none surely fits, or that
    /// none fits at all, the proofs.
    DoesNot(Vec<(Choice, Proof)>),
}

/// What [`study_cup`] asks first, without looking for the best: the search stops at the first
/// placement that surely fits. Choices that are `known` not to fit are passed over.
pub fn outlook(
    scene: &Scene<'_>,
    (fitting, cup): (usize, usize),
    known: &dyn Fn(&Choice) -> bool,
) -> Outlook {
    // Any placement is as good as the best.
    let effort = Effort { tolerance: f64::MAX, ..Effort::default() };
    let removed = all_removables(scene);
    let mut proofs = Vec::new();
    for ports in port_pairs(scene.car) {
        let choice = Choice { fitting, cup, ports, removed: removed.clone() };
        if known(&choice) {
            continue;
        }
        let tried = Tried::new(scene, &effort, choice, None);
        if tried.prospect() == Prospect::Fits {
            return Outlook::Fits;
        }
        // Without a placement that surely fits, a proof is about there being none.
        proofs.extend(tried.answer.proof.map(|proof| (tried.choice, proof)));
    }
    Outlook::DoesNot(proofs)
}

/// Whether with all removables of the car top off some placement surely fits to which every part gets
/// by a simple motion, with room for hands; of each pair of ports only the placements at hand are
/// looked at.
pub fn can_be_installed(
    scene: &Scene<'_>,
    effort: &Effort,
    (fitting, cup): (usize, usize),
) -> bool {
    let effort = Effort { tolerance: f64::MAX, searches_ways: false, ..*effort };
    let removed = all_removables(scene);
    port_pairs(scene.car).into_iter().any(|ports| {
        let choice = Choice { fitting, cup, ports, removed: removed.clone() };
        let mut tried = vec![Tried::new(scene, &effort, choice, None)];
        let measured = installable::prefer(scene, &effort, &mut tried);
        measured.is_some_and(|(assessment, _)| assessment.is_kept())
    })
}

/// The removable pieces among some bodies.
fn named(scene: &Scene<'_>, bodies: &BTreeSet<BodyId>) -> Vec<Removed> {
    all_removables(scene)
        .into_iter()
        .filter(|r| bodies.contains(&scene.car.fittings[r.fitting].removables[r.removable].body))
        .collect()
}

/// A set of pieces with what must come off before the last of them, in the car top's order.
fn with_before(removed: &[Removed], piece: Removed) -> Vec<Removed> {
    let mut set: BTreeSet<Removed> = removed.iter().copied().collect();
    set.extend((0..=piece.removable).map(|removable| Removed { removable, ..piece }));
    set.into_iter().collect()
}

/// The least sets of removables that promise as much as everything off, through the same ports, and
/// how many placements were looked at.
fn least_sets(scene: &Scene<'_>, effort: &Effort, all_off: &Tried) -> (Vec<Tried>, usize) {
    /// Sets tried at most.
    const MOST: usize = 40;
    /// Of the effort what each but the first is worth, and cells that each may have all the same.
    const SHARE: (usize, usize) = (10, 300);
    let few = (effort.most_cells / SHARE.0).max(SHARE.1).min(effort.most_cells);
    let quick = Effort { most_cells: few, ..*effort };
    let promise = all_off.prospect();
    let mut looked_at = 0;
    let mut found: Vec<Tried> = Vec::new();
    let mut tried_sets: BTreeSet<Vec<Removed>> = BTreeSet::new();
    let mut next: BTreeSet<(usize, Vec<Removed>)> = BTreeSet::from([(0, Vec::new())]);
    while let Some((_, removed)) = next.pop_first() {
        let holds = |found: &Tried| found.choice.removed.iter().all(|r| removed.contains(r));
        if found.iter().any(holds) || !tried_sets.insert(removed.clone()) {
            continue;
        }
        if tried_sets.len() > MOST {
            break;
        }
        let choice = Choice { removed: removed.clone(), ..all_off.choice.clone() };
        let first = if removed.is_empty() { effort } else { &quick };
        let mut tried = Tried::new(scene, first, choice, Some(&all_off.answer));
        looked_at += tried.answer.looked_at;
        if tried.prospect() >= promise {
            if first != effort {
                looked_at += in_earnest(scene, effort, &mut tried);
            }
            found.push(tried);
            continue;
        }
        // One of the pieces on which the proof rests must come off; without a proof, one that was
        // met is as likely to be in the way.
        let bodies = tried.answer.proof.as_ref().map(Proof::bodies);
        let pieces = named(scene, &bodies.unwrap_or(tried.answer.met));
        for piece in pieces.into_iter().filter(|p| !removed.contains(p)) {
            let more = with_before(&removed, piece);
            next.insert((more.len(), more));
        }
    }
    if found.is_empty() {
        let (mut tried, looked) = put_back(scene, &quick, all_off);
        looked_at += looked + in_earnest(scene, effort, &mut tried);
        found.push(tried);
    }
    (found, looked_at)
}

/// Where a search of less effort found what it looked for but gave up on the bound beside it: searches
/// again, with the whole effort. How many placements were looked at for that.
fn in_earnest(scene: &Scene<'_>, effort: &Effort, tried: &mut Tried) -> usize {
    if !tried.answer.gave_up {
        return 0;
    }
    *tried = Tried::new(scene, effort, tried.choice.clone(), Some(&tried.answer));
    tried.answer.looked_at
}

/// From everything off, puts back one piece after the other that is not missed, the last taken off of
/// its fitting first: a set of which no last piece can be put back, and how many placements were
/// looked at.
fn put_back(scene: &Scene<'_>, quick: &Effort, all_off: &Tried) -> (Tried, usize) {
    let mut least = Tried { choice: all_off.choice.clone(), answer: all_off.answer.clone() };
    let mut looked_at = 0;
    for piece in all_removables(scene).into_iter().rev() {
        let comes_after = |r: &Removed| r.fitting == piece.fitting && r.removable > piece.removable;
        if least.choice.removed.iter().any(comes_after) {
            continue;
        }
        let mut choice = least.choice.clone();
        choice.removed.retain(|r| *r != piece);
        let tried = Tried::new(scene, quick, choice, Some(&all_off.answer));
        looked_at += tried.answer.looked_at;
        if tried.prospect() >= all_off.prospect() {
            least = tried;
        }
    }
    (least, looked_at)
}

fn nothing(reason: &str) -> CupStudy {
    CupStudy {
        reasons: vec![Reason::new(Doubt::DataMissing, reason)],
        ..CupStudy::without_findings(Verdict::CannotTell)
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

/// The verdict on the first of some trials, of which it may be known what was measured; what the
/// others are is kept beside it.
fn conclude(
    scene: &Scene<'_>,
    effort: &Effort,
    mut tried: Vec<Tried>,
    known: Option<Measured>,
    upper_bound: f64,
    looked_at: usize,
) -> CupStudy {
    let others = tried.split_off(1);
    let Some(mut tried) = tried.pop() else { return nothing("no placement could be formed") };
    if tried.answer.least <= 0.0
        && let Some(placement) = &tried.answer.placement
    {
        let question = Question { scene, choice: &tried.choice };
        let shown = nearest_to_fitting(&question, effort, placement);
        tried.answer.placement = shown.or(tried.answer.placement);
    }
    let shown = tried.answer.placement.as_ref();
    let measured = || assessed(scene, &tried.choice, shown?, effort.searches_ways);
    let (assessment, ways) = known.or_else(measured).unzip();
    let ways = ways.unwrap_or_default();
    let least = assessment.as_ref().and_then(Assessment::least);
    let is_kept = assessment.as_ref().is_some_and(Assessment::is_kept);
    let undecided: Vec<Reason> =
        assessment.iter().flat_map(Assessment::undecided).map(unsure).collect();
    let proven = tried.prospect() == Prospect::None;
    let mut reasons = Vec::new();
    let verdict = match least {
        _ if proven => Verdict::DoesNotFit,
        None => {
            reasons.push(Reason::new(Doubt::DataMissing, "no placement could be formed"));
            Verdict::CannotTell
        }
        Some(_) if is_kept => {
            if tried.choice.removed.is_empty() {
                Verdict::Fits
            } else {
                Verdict::FitsAfterRemoval
            }
        }
        Some(least) => {
            reasons = undecided;
            let gave_up = tried.answer.gave_up || others.iter().any(|t| t.answer.gave_up);
            // Where the search gave up and the placement shown surely falls short, what is close there
            // says nothing.
            if let Some(assessment) = assessment.as_ref().filter(|_| !gave_up || least.high > 0.0) {
                reasons.extend(straddles(scene, assessment));
            }
            if least.low <= 0.0 && gave_up {
                let pieces = match effort.most_cells {
                    1 => "1 piece".to_owned(),
                    more => format!("{more} pieces"),
                };
                let why = format!("not decided within {pieces} of the placement space");
                reasons.push(Reason::new(Doubt::Effort, why));
            } else if least.high <= 0.0 {
                let why = "some placement may fit within the deviations of the data, but none surely \
                           does; measure the fitting, its neighbours and the ports more closely";
                reasons.push(Reason::new(Doubt::Deviations, why));
            }
            Verdict::CannotTell
        }
    };
    let alternatives = if proven {
        Vec::new()
    } else {
        let mut sets = vec![&tried.choice.removed];
        let mut alternatives = Vec::new();
        for t in others.iter().filter(|t| t.prospect() == tried.prospect()) {
            // Through other ports a set may hold one that is enough.
            let removed = &t.choice.removed;
            if !sets.iter().any(|set| set.iter().all(|piece| removed.contains(piece))) {
                sets.push(removed);
                alternatives.push(Alternative { removed: removed.clone(), least: t.answer.least });
            }
        }
        alternatives
    };
    let proofs = std::iter::once(&tried)
        .chain(others.iter().filter(|_| proven))
        .filter_map(|t| Some((t.choice.clone(), t.answer.proof.clone()?)))
        .collect();
    CupStudy {
        verdict,
        proven,
        reasons,
        choice: Some(tried.choice),
        placement: tried.answer.placement,
        assessment,
        ways,
        upper_bound,
        alternatives,
        proofs,
        looked_at,
    }
}

/// What the checks measure at a placement. Where all is kept there, also whether the parts get there
/// and hands find room: looking at that is dear, and would change nothing elsewhere.
fn assessed(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    may_search: bool,
) -> Option<Measured> {
    let situation = Situation::new(scene, choice, placement)?;
    let mut assessment = assess(&situation);
    let ways = if assessment.is_kept() {
        assess_installation(&situation, &mut assessment, may_search)
    } else {
        Vec::new()
    };
    Some((assessment, ways))
}

/// Why a check cannot tell, with what to do about it.
fn unsure(undecided: &Undecided) -> Reason {
    let doubt = match undecided.check {
        Check::Lowering | Check::Access => Doubt::Installation,
        _ => Doubt::DataMissing,
    };
    let Undecided { check, reason, remedy } = undecided;
    Reason::new(doubt, format!("{}: {reason}; {remedy}", check.word()))
}

/// Why a trial whose margins reach over zero cannot be told, one sentence for all that is to be
/// measured better together.
fn straddles(scene: &Scene<'_>, assessment: &Assessment) -> Vec<Reason> {
    // Of hands the check says itself what is to be done.
    let straddling =
        |m: &&Margin| m.rule != Rule::HandRoom && m.may_be_broken() && m.margin.high > 0.0;
    let is_unseen = |m: &Margin| [m.a, m.b].iter().any(|part| part.is_unseen(scene.car));
    let mut by_remedy: Vec<(String, Vec<&Margin>)> = Vec::new();
    for m in assessment.outcomes.iter().filter_map(|o| o.margins.iter().find(straddling)) {
        let bodies: Vec<&str> = [m.a, m.b]
            .into_iter()
            .filter_map(|part| match part {
                Part::Car(id) => Some(scene.car.body(id).body.name.as_str()),
                Part::Rig(_) => None,
            })
            .collect();
        let remedy = match (m.rule, bodies.as_slice()) {
            (Rule::Gap | Rule::Cavity, [body, ..]) if is_unseen(m) => {
                format!("look into {body}, where nobody has seen what is there")
            }
            (Rule::Gap | Rule::Cavity | Rule::Flatness | Rule::SealWidth, [body, ..]) => {
                format!("measure {body} more closely")
            }
            _ => "measure the ports more closely".into(),
        };
        match by_remedy.iter_mut().find(|(known, _)| *known == remedy) {
            Some((_, margins)) => margins.push(m),
            None => by_remedy.push((remedy, vec![m])),
        }
    }
    let sentence = |(remedy, margins): (String, Vec<&Margin>)| {
        let checks: Vec<&str> = margins.iter().map(|m| m.check.word()).collect();
        let rules: Vec<String> = margins.iter().map(|m| figure(scene, m)).collect();
        let why = format!(
            "{}: {} may be as asked for or not within the deviations of the data; {remedy}",
            checks.join(", "),
            listed(&rules),
        );
        Reason::new(Doubt::Deviations, why)
    };
    by_remedy.into_iter().map(sentence).collect()
}

/// What a margin is about: `gap to v1-body`, `bar out of level`.
fn figure(scene: &Scene<'_>, margin: &Margin) -> String {
    match (margin.rule, margin.b) {
        (Rule::Gap, Part::Car(id)) => format!("gap to {}", scene.car.body(id).body.name),
        (rule, _) => rule.word().to_owned(),
    }
}

/// `bar out of level, link out of upright and foot beside port edge`.
fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
