//! The bearings at which the outlet is free with everything else placed as suits it best.
//!
//! A placement found at a bearing frees the whole arc that [`super::free_bearings`] gives there. An arc
//! over which the bound of the least margin is not above zero is blocked: the bearing is a variable of
//! the placement space like any other, and an arc of it a cell. What is neither is halved down to a
//! finest width, and said to be undecided.

use super::bearings::{FINEST_TURN, is_same, joined, round};
use super::bound::{Bounded, nearest};
use super::probe::View;
use super::space::{self, Cell, ELBOW, var};
use super::witness::Sense;
use super::{Branch, Effort, Ended, Open, Question, Search, Spot, begun};
use crate::checks::assess;
use crate::scene::Scene;
use crate::situation::Situation;
use assembly::{Choice, Placement};
use measure::Angle;
use std::collections::HashSet;
use std::f64::consts::{PI, TAU};

/// The outlet's bearings all round, each in one of three lists of arcs from first to last bearing,
/// counter-clockwise.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bearings {
    /// For each bearing some placement was found that fits in its place. How its parts get there and
    /// whether hands find room is not looked at.
    pub free: Vec<[Angle; 2]>,
    /// It is proven that no placement surely fits.
    pub blocked: Vec<[Angle; 2]>,
    /// Neither was found within the effort.
    pub undecided: Vec<[Angle; 2]>,
    /// How many cells were looked at; a climb counts as some.
    pub cells: usize,
}

/// How hard to look for free and blocked bearings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnEffort {
    /// Arcs narrower than this are not halved.
    pub finest: Angle,
    /// Cells looked at, at most, for one arc before it is halved.
    pub cells_an_arc: usize,
    /// Cells looked at, at most, for all arcs together.
    pub most_cells: usize,
}

impl Default for TurnEffort {
    fn default() -> Self {
        Self { finest: Angle::from_degrees(0.1), cells_an_arc: 150, most_cells: 6_000 }
    }
}

/// The bearings at which some placement of a choice fits, from one that does: every variable may
/// move, and every option may be another. For a choice that does not exist all are undecided.
pub fn bearings_overall(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    effort: &TurnEffort,
) -> Bearings {
    let question = Question { scene, choice };
    let found = begun(&question, &Effort::default(), |search| {
        let turns = &scene.kit.outlet.elbow_turns;
        let (values, options) = space::numbers(placement, turns);
        let spot = Spot { values, options, least: f64::INFINITY };
        let (free, spots, spent) = (Vec::new(), Vec::new(), HashSet::new());
        Round { search, effort, free, spots, spent, cells: 0 }.run(spot)
    });
    found.unwrap_or_else(|| Bearings {
        undecided: vec![[Angle::ZERO, Angle::from_radians(TAU)]],
        ..Bearings::default()
    })
}

/// The work all round. Arcs lie between `-PI` and `PI`.
struct Round<'r, 's> {
    search: Search<'s>,
    effort: &'r TurnEffort,
    /// The free arcs, in order.
    free: Vec<[f64; 2]>,
    /// Placements that free some, with what they free.
    spots: Vec<(Spot, Vec<[f64; 2]>)>,
    /// Ends beyond which no climb leads, by their bits.
    spent: HashSet<u64>,
    cells: usize,
}

/// What came of looking at one arc.
enum Outcome {
    /// Over all of it but these arcs no placement fits.
    BlockedBut(Vec<[f64; 2]>),
    /// A placement that fits.
    Fits(Spot),
}

/// Wider arcs are not looked at as a whole, radians: few could be proven blocked.
const WIDEST: f64 = 0.2;
/// The arcs that a placement frees are no finer than this, radians.
const FINEST: f64 = 0.2 * FINEST_TURN;
/// The first climb beyond the end of a free arc is so far away, radians; each next one, twice as far.
const STRIDE: f64 = 8.0 * FINEST_TURN;
/// A climb ends where it gains no more than a tenth of this, mm.
const CLOSE: f64 = 0.02;
/// A climb takes about as long as so many cells.
const CELLS_A_CLIMB: usize = 10;
/// Climbs one after the other at one bearing, at most.
const AGAIN: usize = 4;
/// Climbs beyond one end, at most.
const CLIMBS: usize = 16;

impl Round<'_, '_> {
    fn run(mut self, spot: Spot) -> Bearings {
        const WHOLE: [f64; 2] = [-PI, PI];
        self.add(WHOLE, spot);
        let mut open = without(WHOLE, &self.free);
        let (mut blocked, mut undecided) = (Vec::new(), Vec::new());
        while let Some(gap) = open.pop() {
            let left = self.widened(gap);
            if left != [gap] {
                open.extend(left);
                continue;
            }
            if width(gap) < 2.0 * self.effort.finest.radians()
                || self.cells >= self.effort.most_cells
            {
                undecided.push(gap);
                continue;
            }
            // At a free arc's end the bound is zero: nothing can be proven next to it.
            let quarter = 0.25 * width(gap);
            let off = |end: f64| if self.spot_ending(end).is_some() { quarter } else { 0.0 };
            let arc = [gap[0] + off(gap[0]), gap[1] - off(gap[1])];
            let beside = [[gap[0], arc[0]], [arc[1], gap[1]]];
            if width(arc) > WIDEST {
                open.extend(beside.into_iter().filter(|arc| width(*arc) > 0.0));
                open.extend(parts(arc, WIDEST));
                continue;
            }
            match self.look(arc) {
                Outcome::Fits(spot) => {
                    self.climb(arc, arc, spot);
                    let left = without(gap, &self.free);
                    if left == [gap] { open.extend(halves(gap)) } else { open.extend(left) }
                }
                Outcome::BlockedBut(left) => {
                    blocked.extend(without(arc, &left));
                    open.extend(beside.into_iter().filter(|arc| width(*arc) > 0.0));
                    for part in left {
                        if width(part) < 0.75 * width(arc) {
                            open.push(part);
                        } else {
                            open.extend(halves(part));
                        }
                    }
                }
            }
            // The widest first.
            open.sort_by(|a, b| width(*a).total_cmp(&width(*b)));
        }
        let told = |arcs: Vec<[f64; 2]>| {
            round(joined(arcs)).into_iter().map(|arc| arc.map(Angle::from_radians)).collect()
        };
        Bearings {
            free: told(self.free),
            blocked: told(blocked),
            undecided: told(undecided),
            cells: self.cells,
        }
    }

    /// Adds what a placement frees of an arc, the elbow turned as suits best.
    fn add(&mut self, arc: [f64; 2], spot: Spot) {
        for elbow in 0..self.search.space.options[ELBOW] {
            let mut spot = spot;
            spot.options[ELBOW] = elbow;
            let arcs = self.search.free_arcs((arc, FINEST), &spot.values, &spot.options);
            self.free.extend(arcs.iter().copied());
            self.spots.push((spot, arcs));
        }
        self.free = joined(std::mem::take(&mut self.free));
    }

    /// What is left of a gap once climbs have brought the ends of the free arcs beside it as far as
    /// they go.
    fn widened(&mut self, gap: [f64; 2]) -> Vec<[f64; 2]> {
        for side in [0, 1] {
            let way = if side == 0 { 1.0 } else { -1.0 };
            // How far the free arc reaches into the gap, and how far away a climb failed.
            let (mut reached, mut failed) = (0.0, None);
            let mut stride = STRIDE;
            for _ in 0..CLIMBS {
                let end = gap[side] + way * reached;
                if self.spent.contains(&end.to_bits()) {
                    break;
                }
                let Some(spot) = self.spot_ending(end) else { break };
                let ahead = match failed {
                    None => (reached + stride).min(width(gap)),
                    Some(failed) => 0.5 * (reached + failed),
                };
                let near = [reached, ahead + stride].map(|far| gap[side] + way * far);
                let near = [near[side].max(gap[0]), near[1 - side].min(gap[1])];
                let at = gap[side] + way * ahead;
                if self.climb([at, at], near, spot) {
                    let left = without(gap, &self.free);
                    let next = if side == 0 { left.first() } else { left.last() };
                    let Some(next) = next else { return left };
                    let before = reached;
                    reached = way * (next[side] - gap[side]);
                    stride *= 2.0;
                    if reached - before < FINEST {
                        break;
                    }
                } else {
                    failed = Some(ahead);
                }
                if failed.is_some_and(|failed| failed - reached < 2.0 * FINEST) {
                    break;
                }
            }
            self.spent.insert((gap[side] + way * reached).to_bits());
        }
        without(gap, &self.free)
    }

    /// The placement whose free arc ends at a bearing.
    fn spot_ending(&self, end: f64) -> Option<Spot> {
        let ends = |arcs: &[[f64; 2]]| arcs.iter().flatten().any(|other| is_same(*other, end));
        self.spots.iter().rev().find(|(_, arcs)| ends(arcs)).map(|(spot, _)| *spot)
    }

    /// Climbs from a placement to the best with a bearing within an arc; adds all that it frees of a gap
    /// where it fits. Whether it does.
    fn climb(&mut self, arc: [f64; 2], gap: [f64; 2], spot: Spot) -> bool {
        self.restrict(arc, CLOSE);
        self.cells += CELLS_A_CLIMB;
        let mut from = spot.values;
        from[var::BEARING] = from[var::BEARING].clamp(arc[0], arc[1]);
        let mut reached = f64::NEG_INFINITY;
        let known = self.search.pool.len();
        // A climb that came to the end of its steps may go on.
        for _ in 0..AGAIN {
            self.search.climb(from, spot.options);
            let Some(best) = self.search.best else { break };
            if best.least > 0.0 || best.least < reached + CLOSE {
                break;
            }
            (from, reached) = (best.values, best.least);
        }
        // What is short at the ends of arcs is much alike, and would crowd out what is short elsewhere.
        self.search.pool.truncate(known);
        match self.search.best.filter(|best| best.least > 0.0) {
            Some(best) if self.is_kept(&best) => {
                self.add(gap, best);
                true
            }
            _ => false,
        }
    }

    /// Whether every check of the rig in its place is surely kept.
    fn is_kept(&self, spot: &Spot) -> bool {
        let bench = self.search.bench;
        let placement = self.search.placement(spot);
        let situation = Situation::new(bench.scene, bench.choice, &placement);
        situation.is_some_and(|situation| assess(&situation).is_kept())
    }

    /// Forgets what was found elsewhere, but for the witnesses.
    fn restrict(&mut self, arc: [f64; 2], tolerance: f64) {
        let search = &mut self.search;
        (search.space.low[var::BEARING], search.space.high[var::BEARING]) = (arc[0], arc[1]);
        search.effort.tolerance = tolerance;
        (search.best, search.nearest) = (None, None);
        search.passed = [None; View::ALL.len()];
        search.climbed.clear();
    }

    /// Looks for a placement that fits within an arc, or a proof that none does.
    fn look(&mut self, arc: [f64; 2]) -> Outcome {
        // Any placement that fits ends it.
        self.restrict(arc, f64::MAX);
        let known = self.search.pool.len();
        let root = self.search.space.whole();
        let most = self.effort.cells_an_arc;
        let mut left = vec![arc];
        for (view, most) in [(View::Outlet, most / 4), (View::All, most)] {
            let ended = self.close(&root, view, most);
            let search = &self.search;
            if let Some(best) = search.best.filter(|best| best.least > 0.0) {
                self.search.pool.truncate(known);
                return Outcome::Fits(best);
            }
            match ended {
                Ended::Closed => {
                    left.clear();
                    break;
                }
                Ended::Passed | Ended::Better => {}
                Ended::GaveUp => {
                    let bearings =
                        |open: &Open| [open.cell.low[var::BEARING], open.cell.high[var::BEARING]];
                    left = joined(search.open.iter().map(bearings).collect());
                }
            }
        }
        self.keep_used(known);
        Outcome::BlockedBut(left)
    }

    /// Works on one cell in a view, with so many cells at most.
    fn close(&mut self, root: &Cell, view: View, most: usize) -> Ended {
        let search = &mut self.search;
        let all: Vec<usize> = (0..search.pool.len()).collect();
        let near = nearest(search.bench, &search.pool, (&Bounded::unknown(root), &all), root);
        search.begin_with(root, near, Sense::Low);
        search.cells = 0;
        let ended = search.close((Sense::Low, view), most);
        self.cells += search.cells;
        ended
    }

    /// Forgets the witnesses beyond those known that close no cell: the others are likely to close some
    /// for the next arc too.
    fn keep_used(&mut self, known: usize) {
        let search = &mut self.search;
        let mut used = vec![false; search.pool.len()];
        for node in &search.nodes {
            if let Branch::Closed(bounded) = node
                && bounded.value < 0.0
            {
                for (witness, _) in &bounded.weights {
                    used[*witness] = true;
                }
            }
        }
        let mut kept = (0..).zip(used).map(|(i, used)| i < known || used);
        search.pool.retain(|_| kept.next().unwrap_or(true));
    }
}

/// The parts of an arc that are in none of some arcs in order.
fn without([from, to]: [f64; 2], arcs: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut left = Vec::new();
    let mut at = from;
    for &[first, last] in arcs {
        if first.min(to) > at {
            left.push([at, first.min(to)]);
        }
        at = at.max(last);
    }
    if to > at {
        left.push([at, to]);
    }
    left
}

fn width([from, to]: [f64; 2]) -> f64 {
    to - from
}

fn halves([from, to]: [f64; 2]) -> [[f64; 2]; 2] {
    let middle = 0.5 * (from + to);
    [[from, middle], [middle, to]]
}

/// An arc in equal parts that are no wider than asked.
fn parts([from, to]: [f64; 2], widest: f64) -> impl Iterator<Item = [f64; 2]> {
    let count = ((to - from) / widest).ceil().max(1.0);
    let at = move |i: f64| if i < count { from + (to - from) * i / count } else { to };
    (0..).map(f64::from).take_while(move |i| *i < count).map(move |i| [at(i), at(i + 1.0)])
}
