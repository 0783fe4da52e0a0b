//! From a placement to a better one beside it.

use super::probe::View;
use super::space::{self, Cell, Options, VARIABLES, Values, var};
use super::weigh::{Linear, Weighed, weigh};
use super::witness::{At, Sense, Witness};
use super::{DEEPEST, FAR, SHALLOWEST, Search, Spot, TURN};
use assembly::placement::End;
use std::f64::consts::{PI, TAU};

/// Steps of the climb to a better placement, at most.
const MOST_STEPS: usize = 14;
/// Margins this much above the least are kept in mind during the climb, mm.
const WINDOW: f64 = 6.0;
/// Bearings of the outlet from which a climb may begin.
const BEARINGS: usize = 24;
/// A climb to where nothing is short gives up what is worth less than a tenth of this, mm.
const FINE: f64 = 0.1;
/// Left to the rules in the climb, mm.
const RESERVE: f64 = 0.02;

impl Search<'_> {
    /// Climbs from the most promising of some placements: cup and clamp as high as they go without
    /// the outlet, then the outlet at bearings all round.
    pub(super) fn start(&mut self, root: &Cell) {
        /// Climbs from the first cup and clamp, and from each of the others.
        const CLIMBS: [usize; 2] = [6, 2];
        let mut most = CLIMBS[0];
        let mut short: Option<Spot> = None;
        for from in self.cups_and_clamps(root) {
            let (base, _) = self.uphill_from(from, View::CupAndClamp);
            if base.least <= 0.0 {
                if short.is_none_or(|s| base.least > s.least) {
                    short = Some(base);
                }
                continue;
            }
            self.climb_from_all_round(&base, most);
            if self.best.is_some() {
                return;
            }
            most = CLIMBS[1];
        }
        if let Some(base) = short {
            self.climb_from_all_round(&base, most);
        }
    }

    /// Climbs from the most promising bearings of the outlet for a cup and a clamp. Only what fits is
    /// worth keeping.
    fn climb_from_all_round(&mut self, base: &Spot, most: usize) {
        let mut spots: Vec<Spot> = Vec::new();
        let lines = self.bench.mechanism.lines(&base.values, &base.options);
        let square = lines.level.x.atan2(-lines.level.y);
        for elbow in 0..self.space.options[space::ELBOW] {
            let mut options = base.options;
            options[space::ELBOW] = elbow;
            for bearing in 0..BEARINGS {
                let turn = TAU * bearing as f64 / BEARINGS as f64;
                let mut values = base.values;
                values[var::BEARING] = (square + turn + PI).rem_euclid(TAU) - PI;
                let at = At::new(&self.bench.mechanism, values, options);
                let whole = (Sense::Low, View::All);
                let found = self.probe.look((&at, &options), whole, (0.0, 3), SHALLOWEST);
                spots.push(Spot { values, options, least: found.least });
            }
        }
        spots.sort_by(|a, b| b.least.total_cmp(&a.least));
        for spot in spots.into_iter().take(most) {
            self.climb(spot.values, spot.options);
        }
        self.best = self.best.filter(|best| best.least > 0.0);
    }

    /// Placements of cup and clamp to begin with: as narrow views found them free, each by itself or
    /// both, in the middle, and then at other holes of the links.
    fn cups_and_clamps(&self, root: &Cell) -> Vec<(Values, Options)> {
        let middle = (root.middle(), self.options(root));
        let passed = |view: View| self.passed[view as usize];
        let cup = passed(View::Outlet).or_else(|| passed(View::Cup)).unwrap_or(middle);
        let mut both = passed(View::Clamp).unwrap_or(middle);
        both.0[..var::SHIFT].copy_from_slice(&cup.0[..var::SHIFT]);
        both.1[space::ELBOW] = cup.1[space::ELBOW];
        let mut all: Vec<(Values, Options)> = passed(View::CupAndClamp).into_iter().collect();
        all.extend([both, middle]);
        let ends = End::BOTH.map(space::hole);
        let holes = |options: &Options| ends.map(|d| options[d]);
        for holds in self.holes_with_travel(&both) {
            if all.iter().all(|(_, options)| holes(options) != holds) {
                let (values, mut options) = both;
                (options[ends[0]], options[ends[1]]) = (holds[0], holds[1]);
                all.push((values, options));
            }
        }
        all
    }

    /// The holes of the two links' ends that leave the bar level and the screw within its travel,
    /// nearly.
    fn holes_with_travel(&self, (values, options): &(Values, Options)) -> Vec<[usize; 2]> {
        /// Moves from the given placement may gain this much, mm.
        const NEARLY: f64 = 10.0;
        let kit = self.bench.scene.kit;
        let ends = End::BOTH.map(space::hole);
        let mut all = Vec::new();
        for a in 0..self.space.options[ends[0]] {
            for b in 0..self.space.options[ends[1]] {
                let mut options = *options;
                (options[ends[0]], options[ends[1]]) = (a, b);
                let lines = self.bench.mechanism.lines(values, &options);
                let used = lines.extension() - kit.screw.retracted.nominal;
                let travel = kit.screw.travel.nominal;
                let level = lines.rise.abs() <= kit.rules.bar_level + NEARLY;
                if level && used >= -NEARLY && used <= travel + NEARLY {
                    all.push([a, b]);
                }
            }
        }
        all
    }

    /// From a placement uphill; what is near at the end is kept in mind.
    pub(super) fn climb(&mut self, from: Values, options: Options) {
        let (here, near) = self.uphill_from((from, options), View::All);
        if here.least > 0.0 {
            self.climbed.push(here);
        }
        if self.best.is_none_or(|b| here.least > b.least) {
            self.best = Some(here);
        }
        self.pool.extend(near);
    }

    /// From a placement uphill as far as a view sees: the margins near the least, as linear functions
    /// of the variables, give the best move within a box around the placement, which shrinks when it
    /// leads down. With the place where it ends the witnesses of what is nearest there.
    fn uphill_from(
        &mut self,
        (from, options): (Values, Options),
        view: View,
    ) -> (Spot, Vec<Witness>) {
        let chosen = options.map(Some);
        let mut near: Vec<Witness> =
            self.pool.iter().filter(|w| w.is_rule && w.holds_for(&chosen)).cloned().collect();
        let mut here = self.measured((from, options), view, &mut near);
        let mut size = 4.0;
        for _ in 0..MOST_STEPS {
            let half = self.box_around(&here.values, size);
            let Some((moves, promised)) = self.uphill(&near, &here, &half) else { break };
            // Up to nothing short the climb goes on whatever the tolerance.
            let tolerance = self.effort.tolerance;
            let worth = if here.least > 0.0 { tolerance } else { tolerance.min(FINE) };
            if promised - here.least < 0.1 * worth {
                break;
            }
            let values = std::array::from_fn(|k| {
                (here.values[k] + moves[k]).clamp(self.space.low[k], self.space.high[k])
            });
            let there = self.measured((values, options), view, &mut near);
            if there.least > here.least {
                if there.least - here.least > 0.5 * (promised - here.least) {
                    size *= 2.0;
                }
                here = there;
            } else {
                size *= 0.3;
            }
            if size < 0.01 {
                break;
            }
        }
        let at = At::new(&self.bench.mechanism, here.values, options);
        let sense = Sense::Low;
        near.retain(|w| {
            !w.is_rule && self.bench.value(w, &at) + w.constant(sense) < here.least + 1.0
        });
        (here, near)
    }

    /// The least margin at a placement; witnesses of what is near it are added to `near`.
    fn measured(
        &mut self,
        (values, options): (Values, Options),
        view: View,
        near: &mut Vec<Witness>,
    ) -> Spot {
        let at = At::new(&self.bench.mechanism, values, options);
        let sense = Sense::Low;
        let known = near
            .iter()
            .filter(|w| !w.is_rule)
            .map(|w| self.bench.value(w, &at) + w.constant(sense))
            .fold(f64::INFINITY, f64::min);
        // Wide gaps cost more to measure than narrow ones.
        let mut limit = if known == f64::INFINITY { WINDOW } else { known.max(0.0) + WINDOW };
        let whole = (sense, view);
        let mut found = self.probe.look((&at, &options), whole, (limit, usize::MAX), DEEPEST);
        while found.short.is_empty() && limit < FAR {
            limit *= 4.0;
            found = self.probe.look((&at, &options), whole, (limit, usize::MAX), DEEPEST);
        }
        let least = found.least.min(FAR);
        near.extend(found.short.into_iter().map(|(w, _)| w).filter(|w| !w.is_rule));
        Spot { values, options, least }
    }

    /// Brings the best placement nearer to plain numbers where that costs nothing: the thickest links,
    /// the bar even, the feet in the middle of their ports, the cup on the centreline, the outlet
    /// square to the bar. Nothing is what keeps it within the tolerance of `bound`.
    pub(super) fn settle(&mut self, bound: f64) {
        let Some(mut best) = self.best else { return };
        let whole = (Sense::Low, View::All);
        let floor = best.least.min(bound - self.effort.tolerance).max(f64::MIN_POSITIVE);
        for d in 3..space::CHOICES {
            for option in 0..best.options[d] {
                let mut options = best.options;
                options[d] = option;
                let at = At::new(&self.bench.mechanism, best.values, options);
                let found = self.probe.look((&at, &options), whole, (floor, 1), SHALLOWEST);
                if found.short.is_empty() {
                    best.options = options;
                    break;
                }
            }
        }
        let lines = self.bench.mechanism.lines(&best.values, &best.options);
        let square = lines.level.x.atan2(-lines.level.y);
        let turn = (best.values[var::BEARING] - square) / PI;
        let even = 0.5 * (self.space.low[var::SLIDE] + self.space.high[var::SLIDE]);
        let plain = [
            (var::SLIDE, even),
            (var::SHIFT, 0.0),
            (var::SHIFT + 1, 0.0),
            (var::X, 0.0),
            (var::Y, 0.0),
            (var::BEARING, square + PI * turn.round()),
        ];
        for (k, plain) in plain {
            for part in [0.0, 0.25, 0.5, 0.75] {
                let mut values = best.values;
                values[k] = plain + part * (best.values[k] - plain);
                let at = At::new(&self.bench.mechanism, values, best.options);
                let short = (floor, 1);
                let found = self.probe.look((&at, &best.options), whole, short, SHALLOWEST);
                if found.short.is_empty() {
                    best.values = values;
                    break;
                }
            }
        }
        best.least = floor;
        self.best = Some(best);
    }

    /// Half widths of a box around a placement within the space, for steps of `size` mm.
    fn box_around(&self, values: &Values, size: f64) -> Values {
        std::array::from_fn(|k| {
            let step = if k == var::BEARING || k == var::LID { size * TURN } else { size };
            // A whole turn has no ends.
            if k == var::BEARING && self.space.high[k] - self.space.low[k] >= TAU {
                step
            } else {
                step.min(self.space.high[k] - self.space.low[k]).min(
                    (self.space.high[k] - values[k]).max(values[k] - self.space.low[k]).max(0.0),
                )
            }
        })
    }

    /// The best move within a box by the linear model, and the least margin that it promises.
    fn uphill(&self, near: &[Witness], here: &Spot, half: &Values) -> Option<(Values, f64)> {
        let sense = Sense::Low;
        let at = At::new(&self.bench.mechanism, here.values, here.options);
        let mut linear: Vec<Linear> = near
            .iter()
            .map(|w| Linear {
                value: self.bench.value(w, &at) + w.constant(sense)
                    - if w.is_rule { RESERVE } else { 0.0 },
                slope: [0.0; VARIABLES],
                is_rule: w.is_rule,
            })
            .collect();
        for k in 0..VARIABLES {
            let step = 1e-3 * half[k];
            if step <= 0.0 {
                continue;
            }
            let [below, above] = [-step, step].map(|by| {
                let mut values = here.values;
                values[k] += by;
                At::new(&self.bench.mechanism, values, here.options)
            });
            for (f, w) in linear.iter_mut().zip(near) {
                if w.moved_by[k] {
                    let rise = self.bench.value(w, &above) - self.bench.value(w, &below);
                    f.slope[k] = rise / (2.0 * step);
                }
            }
        }
        let mut weighed = weigh(&linear, half)?;
        if matches!(weighed, Weighed::Broken(_)) {
            // No move keeps the rules: as little amiss with them as with the margins.
            for f in &mut linear {
                f.is_rule = false;
            }
            weighed = weigh(&linear, half)?;
        }
        match weighed {
            Weighed::Broken(_) => None,
            Weighed::Bounded(_, moves) => {
                let promised = linear
                    .iter()
                    .filter(|f| !f.is_rule)
                    .map(|f| f.value + f.slope.iter().zip(&moves).map(|(g, d)| g * d).sum::<f64>())
                    .fold(f64::INFINITY, f64::min);
                Some((moves, promised))
            }
        }
    }
}
