//! The search for the placement with the greatest least margin, with its proof.
//!
//! Branch and bound over the placement space of a choice ([`space`]). What is known of it is a pool
//! of [`witness`]es: upper bounds of single margins, each found at some placement and true at every
//! other. The bound of a cell is a weighted mean of witnesses ([`bound`]). The cell with the
//! greatest bound is looked at where that mean is greatest ([`probe`]): either some margins are
//! short there, which gives new witnesses, or it is a better placement than the best so far. A cell
//! that its witnesses do not close is split, along the variable whose width adds most to its bound,
//! or by the options of a discrete variable on which what is short depends.
//!
//! What is left at the end is a tree of cells, each closed by weights of witnesses: a proof that
//! anyone can check who can measure the distance of two points ([`Proof`]).

mod bearings;
pub mod bound;
mod climb;
mod flat;
pub mod motion;
mod overall;
pub mod probe;
pub mod space;
pub mod weigh;
pub mod witness;

pub use bearings::{FINEST_TURN, FreeArc, TURNING, free_arcs, free_arcs_as_placed, free_bearings};
pub use overall::{Bearings, TurnEffort, bearings_overall};

use crate::margin::Part;
use crate::scene::Scene;
use assembly::car_top::BodyId;
use assembly::{Choice, Placement};
use bound::{Bounded, bound, nearest, some_options};
use probe::{Found, Probe, View};
use space::{CHOICES, Cell, Options, Space, VARIABLES, Values, hole, var};
use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};
use witness::{At, Bench, Ground, Law, Sense, Witness};

/// A question to the search.
pub struct Question<'q> {
    /// Car top and kit.
    pub scene: &'q Scene<'q>,
    /// Fitting, cup, ports, what is off.
    pub choice: &'q Choice,
}

/// How hard to search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Stop when no placement can be better than the best found by more than this, mm.
    pub tolerance: f64,
    /// Cells looked at, at most, for one question.
    pub most_cells: usize,
    /// Whether a way for a part that no simple motion brings to its place is looked for by a search,
    /// which is dear where there is none.
    pub searches_ways: bool,
}

impl Default for Effort {
    fn default() -> Self {
        Self { tolerance: 0.1, most_cells: 3_000, searches_ways: true }
    }
}

/// What a search found.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The best placement found; `None` when the choice does not define one.
    pub placement: Option<Placement>,
    /// The lower end of its least margin, mm, contacts and the sampling of the land apart.
    pub least: f64,
    /// Others that fit, the best first: where parts do not get to the best, they may to one of these.
    pub others: Vec<Placement>,
    /// No placement that keeps the rules has a least margin whose lower end is above this, mm.
    pub upper_bound: f64,
    /// What proves that nothing fits, or else the upper bound; `None` where the search gave up.
    pub proof: Option<Proof>,
    /// Whether the search ended before it could prove anything, its cells all used.
    pub gave_up: bool,
    /// The car top's bodies that were short of room somewhere: without any other the search would
    /// have gone the same way.
    pub met: BTreeSet<BodyId>,
    /// How many placements were looked at.
    pub looked_at: usize,
}

impl Answer {
    fn nothing() -> Self {
        Self {
            placement: None,
            least: f64::NEG_INFINITY,
            others: Vec::new(),
            upper_bound: f64::INFINITY,
            proof: None,
            gave_up: false,
            met: BTreeSet::new(),
            looked_at: 0,
        }
    }

    /// Whether it is proven that no placement fits, whatever the deviations.
    pub fn is_proven_not_to_fit(&self) -> bool {
        self.proof.as_ref().is_some_and(|p| p.sense == Sense::High && p.bound < 0.0)
    }
}

/// A proof that no placement has a least margin above a bound.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// The end of the margins that it is about.
    pub sense: Sense,
    /// The bound, mm.
    pub bound: f64,
    /// The space.
    pub space: Space,
    /// The witnesses that the leaves use.
    pub witnesses: Vec<Witness>,
    /// The cells, in pre-order.
    pub nodes: Vec<Node>,
}

impl Proof {
    /// What it claims: no least margin is above this, mm. A proof that nothing fits may rest on
    /// broken rules alone.
    pub fn claim(&self) -> f64 {
        if self.bound == f64::NEG_INFINITY { NOTHING_FITS } else { self.bound }
    }

    /// The car top's bodies on which it rests.
    pub fn bodies(&self) -> BTreeSet<BodyId> {
        bodies_of(&self.witnesses)
    }
}

/// The car top's bodies that witnesses are about.
fn bodies_of(witnesses: &[Witness]) -> BTreeSet<BodyId> {
    let of = |witness: &Witness| match &witness.ground {
        Ground::Points(points) => points.parts.map(|part| match part {
            Part::Car(id) => Some(id),
            Part::Rig(_) => None,
        }),
        Ground::Rule(Law::CavitySide(id, ..) | Law::CavityTop(id, _)) => [Some(*id), None],
        Ground::Rule(_) => [None, None],
    };
    witnesses.iter().flat_map(of).flatten().collect()
}

/// A node of a proof's tree.
#[derive(Debug, Clone, PartialEq)]
pub enum Node {
    /// Two halves along a continuous variable.
    Halve(usize),
    /// One cell for each option of a discrete variable.
    Choose(usize),
    /// Closed by these witnesses with these weights.
    Leaf(Vec<(usize, f64)>),
}

/// Searches one choice. What was found with more pieces off and the same fitting, cup and ports may
/// be given as `eased`: its witnesses hold here as well, and its placement is a good one to begin
/// with.
pub fn search(question: &Question<'_>, effort: &Effort, eased: Option<&Answer>) -> Answer {
    begun(question, effort, |mut search| {
        if let Some(eased) = eased {
            search.recall(question, eased);
        }
        search.run()
    })
    .unwrap_or_else(Answer::nothing)
}

/// Sets a search up. `None` for a choice that does not exist.
fn begun<R>(
    question: &Question<'_>,
    effort: &Effort,
    work: impl FnOnce(Search<'_>) -> R,
) -> Option<R> {
    let space = Space::of(question.scene, question.choice)?;
    let bench = Bench::new(question.scene, question.choice)?;
    let probe = Probe::new(&bench, &[0; CHOICES])?;
    Some(work(Search {
        bench: &bench,
        probe,
        effort: *effort,
        pool: bench.laws(),
        nodes: Vec::new(),
        open: BinaryHeap::new(),
        best: None,
        climbed: Vec::new(),
        nearest: None,
        passed: [None; View::ALL.len()],
        cells: 0,
        begun_with: 0.0,
        space,
    }))
}

/// A placement to show where nothing fits: uphill from one that the search came upon.
pub fn nearest_to_fitting(
    question: &Question<'_>,
    effort: &Effort,
    placement: &Placement,
) -> Option<Placement> {
    begun(question, effort, |mut search| {
        let turns = &question.scene.kit.outlet.elbow_turns;
        let (values, options) = space::numbers(placement, turns);
        search.climb(values, options);
        search.best.map(|best| search.placement(&best))
    })?
}

/// A node of the search's tree, with the number of its first child where it has any.
#[derive(Debug, Clone)]
enum Branch {
    Halve(usize, usize),
    Choose(usize, usize),
    Closed(Bounded),
}

/// How work on the open cells ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ended {
    /// All are closed.
    Closed,
    /// A placement turned up with nothing short that was looked at.
    Passed,
    /// A much better placement turned up: to be begun again.
    Better,
    /// Too many cells.
    GaveUp,
}

/// A part of a cell with its bound and the witnesses that are likely to bound it.
struct PartOfCell {
    cell: Cell,
    bounded: Bounded,
    near: Vec<usize>,
}

/// A cell that may still hold something better.
#[derive(Debug)]
struct Open {
    bound: f64,
    node: usize,
    cell: Cell,
    /// Witnesses that are likely to bound it.
    near: Vec<usize>,
}

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Open {}
impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        self.bound.total_cmp(&other.bound).then(other.node.cmp(&self.node))
    }
}

/// A placement by its numbers, with the lower end of its least margin.
#[derive(Debug, Clone, Copy)]
struct Spot {
    values: Values,
    options: Options,
    least: f64,
}

struct Search<'s> {
    bench: &'s Bench<'s>,
    probe: Probe<'s, 's>,
    effort: Effort,
    pool: Vec<Witness>,
    nodes: Vec<Branch>,
    open: BinaryHeap<Open>,
    /// The best placement whose every margin is known.
    best: Option<Spot>,
    /// Where climbs ended that found something that fits.
    climbed: Vec<Spot>,
    /// Where the search last looked with the least amiss.
    nearest: Option<Spot>,
    /// Where each view last found nothing short.
    passed: [Option<(Values, Options)>; View::ALL.len()],
    cells: usize,
    /// The least margin known when the tree was begun.
    begun_with: f64,
    space: Space,
}

/// Looks at one cell at most, while each look brings its bound down by a good part.
const LOOKS: usize = 6;
/// Margins asked for at one look.
const MOST_SHORT: usize = 3;
/// Depths of overlaps are looked for as far as this, mm, or as the cell is wide.
const DEEPEST: f64 = 20.0;
const SHALLOWEST: f64 = 1.0;
/// An outlet's turn that counts as a move by one millimetre, radians.
const TURN: f64 = 1.0 / 150.0;

impl Search<'_> {
    fn recall(&mut self, question: &Question<'_>, eased: &Answer) {
        let known = eased.proof.iter().flat_map(|proof| &proof.witnesses);
        // The rules are here already.
        let is_new = |w: &&Witness| !matches!(&w.ground, Ground::Rule(law) if !law.is_of_a_point());
        self.pool.extend(known.filter(is_new).cloned());
        if let Some(placement) = eased.placement.as_ref().filter(|_| eased.least > 0.0) {
            let turns = &question.scene.kit.outlet.elbow_turns;
            let (values, options) = space::numbers(placement, turns);
            let within = |k: usize| values[k].clamp(self.space.low[k], self.space.high[k]);
            self.climb(std::array::from_fn(within), options);
            self.best = self.best.filter(|best| best.least > 0.0);
        }
    }

    fn run(mut self) -> Answer {
        let root = self.space.whole();
        let mut ended = self.close_whole(&root, Sense::Low);
        while ended == Ended::Better {
            ended = self.close_whole(&root, Sense::Low);
        }
        let fits = self.best.is_some_and(|b| b.least > 0.0);
        let mut proof = None;
        let mut gave_up = ended == Ended::GaveUp;
        let mut upper_bound = self.upper_bound();
        let mut may_fit = None;
        if ended == Ended::Closed {
            proof = Some(self.proof(Sense::Low));
            // Nothing surely fits. Does anything possibly?
            if !fits {
                match self.close_whole(&root, Sense::High) {
                    Ended::Closed => {
                        proof = Some(self.proof(Sense::High));
                        // A placement that breaks a rule may break it by less than the bound.
                        upper_bound = 0.0;
                    }
                    Ended::Passed => may_fit = self.passed[View::All as usize],
                    Ended::GaveUp => gave_up = true,
                    Ended::Better => {}
                }
            }
        }
        if fits {
            self.settle(upper_bound);
        }
        let may_fit =
            may_fit.map(|(values, options)| Spot { values, options, least: f64::NEG_INFINITY });
        let spot = self.best.or(may_fit).or(self.nearest).or_else(|| {
            let options = self.options(&root);
            Some(Spot { values: root.middle(), options, least: f64::NEG_INFINITY })
        });
        let placement = spot.map(|s| self.placement(&s));
        Answer {
            placement,
            least: spot.map_or(f64::NEG_INFINITY, |s| s.least),
            others: self.others(),
            upper_bound,
            proof,
            gave_up,
            met: bodies_of(&self.pool),
            looked_at: self.probe.count,
        }
    }

    /// Begins with the whole space, with what is known by now.
    fn begin(&mut self, root: &Cell, sense: Sense) {
        self.begin_with(root, (0..self.pool.len()).collect(), sense);
    }

    /// The same with the witnesses that are likely to bound it.
    fn begin_with(&mut self, root: &Cell, near: Vec<usize>, sense: Sense) {
        self.nodes.clear();
        self.open.clear();
        let bounded = self.bounded(root, &near, sense);
        self.nodes.push(Branch::Closed(bounded.clone()));
        self.open.push(Open { bound: bounded.value, node: 0, cell: root.clone(), near });
        self.begun_with = self.best.map_or(0.0, |b| b.least.max(0.0));
    }

    /// Whether the best placement has become so much better that a new beginning pays: a cell that
    /// was split by what was short of less may be closed as a whole now.
    fn is_worth_beginning_again(&self) -> bool {
        let best = self.best.map_or(0.0, |b| b.least);
        self.nodes.len() > 8 && best > self.begun_with + self.effort.tolerance
    }

    fn bounded(&self, cell: &Cell, near: &[usize], sense: Sense) -> Bounded {
        bound(self.bench, &self.pool, near, cell, sense)
    }

    /// Whether to climb from a cell though something is short there: now and then, ever more rarely,
    /// while nothing is known that fits. What fits may be so narrow that no look falls upon it.
    const fn is_climb_due(&self) -> bool {
        const FIRST: usize = 8;
        self.best.is_none() && self.cells >= FIRST && self.cells.is_power_of_two()
    }

    /// Bounds below this close a cell.
    fn limit(&self, sense: Sense) -> f64 {
        match (sense, self.best) {
            (Sense::Low, Some(best)) if best.least > 0.0 => best.least + self.effort.tolerance,
            _ => 0.0,
        }
    }

    /// Closes the whole space if it can, by few variables if it can.
    fn close_whole(&mut self, root: &Cell, sense: Sense) -> Ended {
        /// Cells for a narrow view, at most.
        const GLANCE: usize = 400;
        for view in View::PROVING {
            let most = if view == View::All { self.effort.most_cells } else { GLANCE };
            if view == View::All && sense == Sense::Low && self.best.is_none() {
                self.start(root);
                if self.best.is_some() {
                    return Ended::Better;
                }
            }
            self.begin(root, sense);
            self.cells = 0;
            let ended = self.close((sense, view), most);
            if ended == Ended::Closed || view == View::All {
                return ended;
            }
        }
        Ended::GaveUp
    }

    /// Works on the open cells until all are closed, or so many cells in all have been looked at.
    fn close(&mut self, (sense, view): (Sense, View), most_cells: usize) -> Ended {
        while let Some(open) = self.open.pop() {
            if open.bound < self.limit(sense) {
                // The node holds its weights already.
                if sense == Sense::Low {
                    self.open.clear();
                    break;
                }
                continue;
            }
            self.cells += 1;
            if self.cells > most_cells {
                self.open.push(open);
                return Ended::GaveUp;
            }
            if self.work_on(open, (sense, view)) {
                return Ended::Passed;
            }
            if sense == Sense::Low && self.is_worth_beginning_again() {
                return Ended::Better;
            }
        }
        Ended::Closed
    }

    /// Looks at a cell and closes or splits it. True when a placement turned up with nothing short,
    /// as far as a narrow view can see, or in the best case of the deviations.
    fn work_on(&mut self, open: Open, (sense, view): (Sense, View)) -> bool {
        let Open { node, cell, mut near, .. } = open;
        let options = self.options(&cell);
        let mut bounded = self.bounded(&cell, &near, sense);
        if sense == Sense::Low && view == View::All && self.is_climb_due() {
            self.climb(bounded.at, options);
            self.best = self.best.filter(|best| best.least > 0.0);
        }
        let mut choose = None;
        // The variables on which what was short last depends.
        let mut amiss = [false; VARIABLES];
        for _ in 0..LOOKS {
            let limit = self.limit(sense);
            if bounded.value < limit {
                break;
            }
            let at = At::new(&self.bench.mechanism, bounded.at, options);
            let deep = Self::width(&cell).clamp(SHALLOWEST, DEEPEST);
            let found = self.probe.look((&at, &options), (sense, view), (limit, MOST_SHORT), deep);
            if !found.short.is_empty() {
                self.remember(&bounded.at, &options, &found);
            }
            if found.short.is_empty() {
                if sense == Sense::High || view != View::All {
                    self.passed[view as usize] = Some((bounded.at, options));
                    return true;
                }
                let known = self.pool.len();
                self.climb(bounded.at, options);
                near.extend(known..self.pool.len());
                bounded = self.bounded(&cell, &near, sense);
                continue;
            }
            // By what holds all over the cell, if that is amiss by much; else some option must be
            // chosen.
            let worst = found.worst(limit, |_| true);
            let applies = found.worst(limit, |w| w.holds_for(&cell.chosen));
            let amount = |(w, value): &(Witness, f64)| w.amiss(*value, limit);
            let much = |short: &&(Witness, f64)| amount(short) > 0.25 * worst.map_or(0.0, amount);
            let applies = applies.filter(much);
            match (applies, worst) {
                (Some((shortest, _)), _) => amiss = shortest.moved_by,
                (None, Some((shortest, _))) => choose = undecided(&cell, shortest),
                (None, None) => {}
            }
            let applies = applies.is_some();
            for (witness, _) in found.short {
                if near.iter().all(|&i| self.pool[i] != witness) {
                    near.push(self.pool.len());
                    self.pool.push(witness);
                }
            }
            if !applies {
                break;
            }
            let tighter = self.bounded(&cell, &near, sense);
            let gained = bounded.value - tighter.value;
            bounded = tighter;
            if gained < 0.2 * (bounded.value - limit) {
                break;
            }
        }
        if bounded.value < self.limit(sense) {
            self.nodes[node] = Branch::Closed(bounded);
            return false;
        }
        self.split((node, &cell), (&bounded, &near), choose, amiss, sense);
        false
    }

    fn split(
        &mut self,
        (node, cell): (usize, &Cell),
        (bounded, near): (&Bounded, &[usize]),
        choose: Option<usize>,
        amiss: [bool; VARIABLES],
        sense: Sense,
    ) {
        let first = self.nodes.len();
        let limit = self.limit(sense);
        let parts = if let Some(d) = choose {
            self.nodes[node] = Branch::Choose(d, first);
            let cells = (0..self.space.options[d]).map(|option| cell.with(d, option));
            cells.map(|cell| self.part(cell, (bounded, near), sense)).collect()
        } else {
            let (k, parts) = self.halves(cell, (bounded, near), amiss, (sense, limit));
            self.nodes[node] = Branch::Halve(k, first);
            parts
        };
        for (i, PartOfCell { cell, bounded, near }) in parts.into_iter().enumerate() {
            if bounded.value >= limit {
                self.open.push(Open { bound: bounded.value, node: first + i, cell, near });
            }
            self.nodes.push(Branch::Closed(bounded));
        }
    }

    fn part(&self, cell: Cell, whole: (&Bounded, &[usize]), sense: Sense) -> PartOfCell {
        let near = nearest(self.bench, &self.pool, whole, &cell);
        let bounded = self.bounded(&cell, &near, sense);
        PartOfCell { cell, bounded, near }
    }

    /// The halves of a cell along the variable that brings their bounds down most; where none does by
    /// much, along the widest of those on which what is amiss depends.
    fn halves(
        &self,
        cell: &Cell,
        (bounded, near): (&Bounded, &[usize]),
        amiss: [bool; VARIABLES],
        (sense, limit): (Sense, f64),
    ) -> (usize, Vec<PartOfCell>) {
        /// What an unbounded half counts as, mm above the limit.
        const UNBOUNDED: f64 = 100.0;
        /// How much wider a cell may be in one variable than in another that is still split.
        const SLIVER: f64 = 0.1;
        /// The part of what is left that a split must gain.
        const WORTH: f64 = 0.1;
        let half = cell.half();
        let size = |k: usize| {
            if k == var::BEARING || k == var::LID { half[k] / TURN } else { half[k] }
        };
        let weighs = |k: usize| bounded.weights.iter().any(|(i, _)| self.pool[*i].moved_by[k]);
        let parts = |k: usize| -> Vec<_> {
            let halves = cell.halves(k).into_iter();
            halves.map(|half| self.part(half, (bounded, near), sense)).collect()
        };
        let left = |bound: f64| (bound - limit).clamp(0.0, UNBOUNDED);
        let whole = 2.0 * left(bounded.value);
        let mut best: Option<(f64, usize, Vec<PartOfCell>)> = None;
        let relevant: Vec<usize> =
            (0..VARIABLES).filter(|&k| half[k] > 0.0 && (amiss[k] || weighs(k))).collect();
        // A sliver gains as little from the next cut as from the last.
        let widest = relevant.iter().map(|&k| size(k)).fold(0.0, f64::max);
        for k in relevant.into_iter().filter(|&k| size(k) >= SLIVER * widest) {
            let parts = parts(k);
            let score: f64 = parts.iter().map(|p| left(p.bounded.value)).sum();
            if best.as_ref().is_none_or(|b| score < b.0) {
                best = Some((score, k, parts));
            }
        }
        match best {
            Some((score, k, parts)) if whole - score >= WORTH * whole => (k, parts),
            _ => {
                let any = amiss.iter().zip(&half).any(|(a, h)| *a && *h > 0.0);
                let k = (0..VARIABLES)
                    .filter(|&k| half[k] > 0.0 && (!any || amiss[k]))
                    .max_by(|&a, &b| size(a).total_cmp(&size(b)))
                    .unwrap_or(var::X);
                (k, parts(k))
            }
        }
    }

    /// Options for a cell: those chosen, and for the others what the best placement has, or the
    /// holes that leave the most travel.
    fn options(&self, cell: &Cell) -> Options {
        let mut options = some_options(cell);
        if let Some(best) = self.best {
            return std::array::from_fn(|d| cell.chosen[d].unwrap_or(best.options[d]));
        }
        let [a, b] = assembly::placement::End::BOTH.map(hole);
        let mut most = f64::NEG_INFINITY;
        let range = |d: usize| match cell.chosen[d] {
            Some(option) => option..option + 1,
            None => 0..self.space.options[d],
        };
        let screw = &self.bench.scene.kit.screw;
        let level = self.bench.scene.kit.rules.bar_level;
        for i in range(a) {
            for j in range(b) {
                let mut tried = options;
                (tried[a], tried[b]) = (i, j);
                let lines = self.bench.mechanism.lines(&cell.middle(), &tried);
                let used = lines.extension() - screw.retracted.nominal;
                let left = used.min(screw.travel.nominal - used);
                let value = left - 1e3 * (lines.rise.abs() - level).max(0.0);
                if value > most {
                    most = value;
                    options = tried;
                }
            }
        }
        options
    }

    /// How far the parts can move within a cell, mm, roughly.
    fn width(cell: &Cell) -> f64 {
        let half = cell.half();
        half[var::X].hypot(half[var::Y]).max(half[var::SHIFT]).max(half[var::SHIFT + 1])
    }

    fn remember(&mut self, values: &Values, options: &Options, found: &Found) {
        if self.nearest.is_none_or(|n| found.least > n.least) {
            self.nearest = Some(Spot { values: *values, options: *options, least: found.least });
        }
    }

    /// What fits besides the best: of spots that are nearly the same only one.
    fn others(&self) -> Vec<Placement> {
        /// Spots at the most.
        const MOST: usize = 6;
        /// Spots nearer to each other in all variables are nearly the same, mm.
        const NEAR: f64 = 10.0;
        let alike = |a: &Spot, b: &Spot| {
            let near = |k: usize| {
                let size = if k == var::BEARING || k == var::LID { TURN } else { 1.0 };
                (a.values[k] - b.values[k]).abs() < NEAR * size
            };
            a.options == b.options && (0..VARIABLES).all(near)
        };
        let mut spots = self.climbed.clone();
        spots.sort_by(|a, b| b.least.total_cmp(&a.least));
        let mut others: Vec<Spot> = Vec::new();
        for spot in spots {
            if !others.iter().chain(&self.best).any(|other| alike(&spot, other)) {
                others.push(spot);
            }
        }
        others.iter().take(MOST).map(|spot| self.placement(spot)).collect()
    }

    fn placement(&self, spot: &Spot) -> Placement {
        let lines = self.bench.mechanism.lines(&spot.values, &spot.options);
        let mut placement = space::placement(&spot.values, &spot.options);
        let turns = &self.bench.scene.kit.outlet.elbow_turns;
        if let Some(turn) = turns.get(spot.options[space::ELBOW]) {
            placement.elbow_turn = *turn;
        }
        placement.screw_extension = lines.extension();
        placement
    }

    /// The greatest bound of the leaves.
    fn upper_bound(&self) -> f64 {
        self.nodes
            .iter()
            .filter_map(|n| match n {
                Branch::Closed(b) => Some(b.value),
                _ => None,
            })
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn proof(&self, sense: Sense) -> Proof {
        let mut renamed: Vec<Option<usize>> = vec![None; self.pool.len()];
        let mut witnesses = Vec::new();
        let mut nodes = Vec::new();
        let mut bound = f64::NEG_INFINITY;
        let mut below = vec![0];
        while let Some(node) = below.pop() {
            match &self.nodes[node] {
                Branch::Halve(k, first) => {
                    nodes.push(Node::Halve(*k));
                    below.extend([first + 1, *first]);
                }
                Branch::Choose(d, first) => {
                    nodes.push(Node::Choose(*d));
                    below.extend((0..self.space.options[*d]).rev().map(|i| first + i));
                }
                Branch::Closed(bounded) => {
                    bound = bound.max(bounded.value);
                    let weights = bounded.weights.iter().map(|&(i, weight)| {
                        let name = *renamed[i].get_or_insert_with(|| {
                            witnesses.push(self.pool[i].clone());
                            witnesses.len() - 1
                        });
                        (name, weight)
                    });
                    nodes.push(Node::Leaf(weights.collect()));
                }
            }
        }
        let space = self.space.clone();
        Proof { sense, bound, space, witnesses, nodes }
    }
}

/// A discrete variable that is open in the cell and on which a witness depends.
fn undecided(cell: &Cell, witness: &Witness) -> Option<usize> {
    (0..CHOICES).find(|&d| cell.chosen[d].is_none() && witness.given[d].is_some())
}

/// The bound that stands for a rule broken everywhere, mm.
const NOTHING_FITS: f64 = -1.0;

/// Margins wider than this are not followed up, mm.
const FAR: f64 = 500.0;
