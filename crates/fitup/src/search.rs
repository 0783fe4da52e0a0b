//! The search for the placement with the greatest least margin.
//!
//! [`PlacementSearch`] is the interface; [`CoarseToFine`] the first search behind it. It proves
//! failure where a relaxation of the problem already fails everywhere, and otherwise only reports
//! the best that it found: without such a proof its upper bound is infinite, and a caller must not
//! call "does not fit" proven.
//!
//! The relaxation looks at the cup, without its side port, and its gasket alone, over all offsets
//! from the fitting's centreline, and at how near the bar's line can come to the cup's axis. When
//! the cup moves by d, no point of it moves farther than d, so no gap, depth or distance changes by
//! more than d (motion bound of a translation): a cell of offsets with centre value v and half
//! diagonal r holds no margin above v + r. Cells are split, the most promising first, until the
//! bound is as near to the best value found as asked for or below zero. The lid stands at its stop
//! throughout: a proof of failure speaks of no other opening.

use crate::checks::{Least, Scope, least_cavity, least_margin, least_of_part, travel_stack};
use crate::scene::{Scene, Shape};
use crate::situation::Situation;
use assembly::car_top::LidState;
use assembly::kit::PartKind;
use assembly::placement::{End, Side};
use assembly::rig::{self, BarLine, RigPart, RigPose};
use assembly::{Choice, Placement};
use measure::Angle;
use nalgebra::{Point2, Vector2};
use std::cell::Cell;
use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::f64::consts::{FRAC_PI_2, PI, SQRT_2, TAU};

/// A question to a search: this fitting, cup and pair of ports, with these pieces off.
pub struct Question<'q> {
    /// Car top and kit.
    pub scene: &'q Scene<'q>,
    /// Fitting, cup, ports, what is off.
    pub choice: &'q Choice,
}

/// What a search found.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The best placement found; `None` when the choice does not define one.
    pub placement: Option<Placement>,
    /// Lower bound of its least margin as far as the search looked, mm. A complete assessment may
    /// be less: it adds contacts and the sampling of the land.
    pub least: f64,
    /// Proven: no placement has a least margin above this, mm. Infinite where nothing is proven.
    pub upper_bound: f64,
    /// How far the best margin found may be from the best there is, mm: an estimate, no bound.
    pub resolution: f64,
    /// How many placements were looked at.
    pub looked_at: usize,
}

/// Finds the placement with the greatest least margin.
pub trait PlacementSearch: Sync {
    /// Answers one question.
    fn search(&self, question: &Question<'_>) -> Answer;
}

/// A grid over the placement space, refined around the best places.
#[derive(Debug, Clone, Copy, Default)]
pub struct CoarseToFine;

/// Steps of the pattern search, mm (bearings: in units of [`BEARING_PER_MM`]).
const STEPS: [f64; 5] = [2.0, 1.0, 0.5, 0.25, 0.1];
const BEARING_PER_MM: f64 = PI / 90.0;
/// How far the best margin found may be from the best there is, mm, as measured: two searches of one
/// question, turned about the plate's axis, differ by up to 0.32 mm on the random car tops of
/// `tests/verdicts`.
const RESOLUTION: f64 = 0.5;
/// Bearings tried all round: a multiple of four.
const BEARINGS: usize = 72;
/// Margins below this are not followed up: the small steps of the pattern search do not mend them,
/// mm.
const HOPELESS: f64 = -8.0;
/// Cells of offsets looked at per question at most.
const MOST_CELLS: usize = 400;
/// Stop splitting cells when the bound is this near to the best value found, mm.
const CLOSE_ENOUGH: f64 = 0.5;

impl PlacementSearch for CoarseToFine {
    fn search(&self, question: &Question<'_>) -> Answer {
        let run = Run::new(question);
        let resolution = RESOLUTION;
        let Some(run) = run else {
            return Answer {
                placement: None,
                least: f64::NEG_INFINITY,
                upper_bound: f64::INFINITY,
                resolution,
                looked_at: 0,
            };
        };
        let offsets = run.offsets();
        let upper_bound = offsets.upper_bound.min(run.travel_bound());
        let (placement, least) = if upper_bound < 0.0 {
            // Proven already: one representative placement to show what limits.
            run.representative(&offsets)
        } else {
            let candidates = run.candidates(&offsets);
            if candidates.is_empty() {
                run.representative(&offsets)
            } else {
                run.refine(candidates)
            }
        };
        Answer { placement, least, upper_bound, resolution, looked_at: run.looked_at.get() }
    }
}

/// Offsets worth a closer look.
struct Offsets {
    /// Best first, with their values.
    best: Vec<(Vector2<f64>, f64)>,
    /// No offset has a value above this.
    upper_bound: f64,
}

struct Run<'q> {
    question: &'q Question<'q>,
    ports: [&'q assembly::car_top::Port; 2],
    lid_opening: Angle,
    /// How far each foot can shift from the middle of its port.
    shift: [f64; 2],
    looked_at: Cell<usize>,
}

/// A cell of offsets in the queue, ordered by its upper bound.
struct OffsetCell {
    centre: Vector2<f64>,
    half: f64,
    bound: f64,
}

impl PartialEq for OffsetCell {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for OffsetCell {}
impl PartialOrd for OffsetCell {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for OffsetCell {
    fn cmp(&self, other: &Self) -> Ordering {
        self.bound
            .total_cmp(&other.bound)
            .then(other.centre.x.total_cmp(&self.centre.x))
            .then(other.centre.y.total_cmp(&self.centre.y))
    }
}

impl<'q> Run<'q> {
    fn new(question: &'q Question<'q>) -> Option<Self> {
        let (car, kit, choice) = (question.scene.car, question.scene.kit, question.choice);
        car.fittings.get(choice.fitting)?;
        rig::gasket_of(kit, kit.cups.get(choice.cup)?)?;
        let ports = [car.ports.get(choice.ports[0])?, car.ports.get(choice.ports[1])?];
        BarLine::through(kit, ports, [0.0, 0.0])?;
        let lid_opening = match &car.lid {
            LidState::Hinged(lid) => lid.stop,
            LidState::Unknown | LidState::None => Angle::ZERO,
        };
        let beside = kit.rules.need(PartKind::Foot, PartKind::Housing);
        let shift = ports.map(|p| (0.5 * (p.width - kit.foot.width.nominal) - beside).max(0.0));
        Some(Self { question, ports, lid_opening, shift, looked_at: Cell::new(0) })
    }

    fn scene(&self) -> &'q Scene<'q> {
        self.question.scene
    }

    fn centre(&self) -> Point2<f64> {
        self.scene().car.fittings[self.question.choice.fitting].centre
    }

    fn pose(&self, placement: &Placement) -> Option<RigPose> {
        rig::pose(self.scene().kit, self.scene().car, self.question.choice, placement)
    }

    /// A placement whose ball sits in the seat.
    fn seated(&self, mut placement: Placement) -> Option<Placement> {
        placement.screw_extension = self.pose(&placement)?.extension_to_seat;
        Some(placement)
    }

    fn value(&self, placement: &Placement, scope: Scope, floor: f64) -> Least {
        self.looked_at.set(self.looked_at.get() + 1);
        Situation::new(self.scene(), self.question.choice, placement)
            .map_or(Least { low: f64::NEG_INFINITY, high: f64::INFINITY }, |s| {
                least_margin(&s, scope, floor)
            })
    }

    /// The least margin over all scopes, the cheapest first.
    fn full_value(&self, placement: &Placement, floor: f64) -> f64 {
        let Some(placement) = self.seated(placement.clone()) else { return f64::NEG_INFINITY };
        let mut least = f64::INFINITY;
        for scope in [Scope::Cup, Scope::Clamp, Scope::Outlet] {
            least = least.min(self.value(&placement, scope, floor).low);
            if least < floor {
                break;
            }
        }
        least
    }

    /// A plain placement to start from: feet in the middle of their ports, the outlet at a right
    /// angle to the bar.
    fn plain(&self, cup_offset: Vector2<f64>, foot_shift: [f64; 2], hole: [usize; 2]) -> Placement {
        let kit = self.scene().kit;
        let along = BarLine::through(kit, self.ports, foot_shift)
            .map_or(0.0, |line| line.along.y.atan2(line.along.x));
        Placement {
            cup_offset,
            outlet_bearing: Angle::from_radians(along + FRAC_PI_2),
            elbow_turn: kit.outlet.elbow_turns.first().copied().unwrap_or(Angle::ZERO),
            foot_shift,
            link_thickness: [[0; 2]; 2],
            link_hole: hole,
            bar_slide: 0.25 * (self.ports[0].wall - self.ports[1].wall),
            screw_extension: 0.0,
            lid_opening: self.lid_opening,
        }
    }

    /// How far the bar's line stays from a point at the least, over all foot shifts that the ports
    /// may allow within the deviations.
    ///
    /// For a fixed foot at one end the line's offset from the point changes monotonically as the
    /// other foot shifts, so the extremes are at the corners of the shifts' rectangle; when their
    /// signs differ some line goes through the point.
    fn line_offset(&self, point: Point2<f64>) -> f64 {
        let kit = self.scene().kit;
        let mut least = f64::INFINITY;
        let (mut any_left, mut any_right) = (false, false);
        for a in [-1.0, 1.0] {
            for b in [-1.0, 1.0] {
                let reach = |i: usize| {
                    self.shift[i] + self.ports[i].deviation + 0.5 * kit.foot.width.tolerance
                };
                let shift = [a * reach(0), b * reach(1)];
                let Some(line) = BarLine::through(kit, self.ports, shift) else { return 0.0 };
                let offset = line.offset_of(point);
                any_left |= offset >= 0.0;
                any_right |= offset <= 0.0;
                least = least.min(offset.abs());
            }
        }
        if any_left && any_right { 0.0 } else { least }
    }

    /// Value of the relaxation at an offset, or an upper bound of it that is below zero already.
    /// The bearing is open, so the cup has no side port here. Below `-radius` the value only says
    /// so: a cell of that half diagonal is blocked then.
    fn offset_value(&self, offset: Vector2<f64>, radius: f64) -> Least {
        let kit = self.scene().kit;
        let deviation = self.ports[0].deviation.max(self.ports[1].deviation);
        let miss = kit.rules.screw_offset - self.line_offset(self.centre() + offset);
        let least = Least { low: miss - deviation, high: miss + deviation };
        let placement = self.plain(offset, [0.0, 0.0], [0, 0]);
        self.looked_at.set(self.looked_at.get() + 1);
        let Some(situation) = Situation::new(self.scene(), self.question.choice, &placement) else {
            return least;
        };
        let least = least.min(least_cavity(&situation));
        // Depths of overlaps cost far more than these, and are not needed once these fail.
        if least.high < 0.0 {
            return least;
        }
        least.min(least_margin(&situation, Scope::Cup, -radius))
    }

    /// The square outside of which no offset covers the fitting: its centre and half its side.
    ///
    /// A cavity of radius r that holds every point of the fitting has its axis within r of each of
    /// them, and so, along either axis, within r of the middle of the box around them.
    fn offsets_that_cover(&self) -> (Vector2<f64>, f64) {
        /// As far from the stated centreline the middle counts as on it, mm.
        const ON_CENTRE: f64 = 0.5;
        let choice = self.question.choice;
        let cup = &self.scene().kit.cups[choice.cup];
        let fitting = &self.scene().car.fittings[choice.fitting];
        let gone = |index: usize| {
            choice.removed.iter().any(|r| (r.fitting, r.removable) == (choice.fitting, index))
        };
        let left = fitting.removables.iter().enumerate().filter(|(i, _)| !gone(*i));
        let bodies = fitting.bodies.iter().copied().chain(left.map(|(_, r)| r.body));
        let deviation = bodies
            .clone()
            .map(|id| self.scene().car.body(id).body.deviation.bound)
            .fold(0.0, f64::max);
        let reach = 0.5 * (cup.inside_diameter.nominal + cup.inside_diameter.tolerance) + deviation;
        let mut corners: Option<(Point2<f64>, Point2<f64>)> = None;
        for id in bodies {
            for p in self.scene().extent(id).outline.iter().map(nalgebra::Point3::xy) {
                let (low, high) = corners.unwrap_or((p, p));
                corners = Some((low.inf(&p), high.sup(&p)));
            }
        }
        let middle = corners.map_or_else(Vector2::zeros, |(low, high)| {
            nalgebra::center(&low, &high) - fitting.centre
        });
        if middle.norm() < ON_CENTRE {
            (Vector2::zeros(), reach + ON_CENTRE)
        } else {
            (middle, reach)
        }
    }

    fn offsets(&self) -> Offsets {
        let (middle, reach) = self.offsets_that_cover();
        let mut best: Vec<(Vector2<f64>, f64)> = Vec::new();
        let mut queue = BinaryHeap::new();
        let mut blocked_bound = f64::NEG_INFINITY;
        let start = self.offset_value(middle, reach * SQRT_2);
        best.push((middle, start.low));
        queue.push(OffsetCell { centre: middle, half: reach, bound: start.high + reach * SQRT_2 });
        let mut looked = 1;
        let mut upper_bound = f64::INFINITY;
        let mut best_low = start.low;
        while let Some(cell) = queue.pop() {
            upper_bound = cell.bound.max(blocked_bound);
            if cell.bound < 0.0 {
                break;
            }
            if best_low > 0.0 && cell.bound - best_low < CLOSE_ENOUGH {
                break;
            }
            if looked >= MOST_CELLS || cell.half < 0.05 {
                break;
            }
            let half = 0.5 * cell.half;
            for (sx, sy) in [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)] {
                let centre = cell.centre + half * Vector2::new(sx, sy);
                let value = self.offset_value(centre, half * SQRT_2);
                looked += 1;
                best_low = best_low.max(value.low);
                best.push((centre, value.low));
                let bound = (value.high + half * SQRT_2).min(cell.bound);
                if bound < 0.0 {
                    blocked_bound = blocked_bound.max(bound);
                } else {
                    queue.push(OffsetCell { centre, half, bound });
                }
            }
            if queue.is_empty() {
                upper_bound = blocked_bound;
            }
        }
        best.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.norm().total_cmp(&b.0.norm())));
        let mut spread: Vec<(Vector2<f64>, f64)> = Vec::new();
        for candidate in best {
            if spread.len() < 4 && spread.iter().all(|s| (s.0 - candidate.0).norm() > 1.0) {
                spread.push(candidate);
            }
        }
        Offsets { best: spread, upper_bound }
    }

    /// The pairs of link holes with which the bar's ends differ by at most `level` in height, best
    /// travel first, and the travel left.
    fn holes(&self, offset: Vector2<f64>, shift: [f64; 2], level: f64) -> Vec<([usize; 2], f64)> {
        let kit = self.scene().kit;
        let count = kit.link.holes.len();
        let mut holes = Vec::new();
        for a in 0..count {
            for b in 0..count {
                let Some(pose) = self.pose(&self.plain(offset, shift, [a, b])) else { continue };
                if pose.rise.abs() > level {
                    continue;
                }
                let extension = pose.extension_to_seat - kit.screw.retracted.nominal;
                holes.push(([a, b], extension.min(kit.screw.travel.nominal - extension)));
            }
        }
        holes.sort_by(|a, b| b.1.total_cmp(&a.1));
        holes
    }

    /// No placement leaves more screw travel than this, whatever the offset.
    ///
    /// Along the bar the travel changes with the bar's slope only: by less than its ends differ in
    /// height, which the level's tolerance bounds. The ball may stand off its seat by what the
    /// contact between them allows.
    fn travel_bound(&self) -> f64 {
        let scene = self.scene();
        let (rules, choice) = (&scene.kit.rules, self.question.choice);
        let clamp = self.ports[0].deviation.max(self.ports[1].deviation);
        let level = rules.bar_level + 2.0 * clamp;
        let deviation =
            |shape| scene.shape(shape).map_or(f64::INFINITY, |s| s.body.deviation.bound);
        let off_seat = rules.contact
            + deviation(Shape::Cup(choice.cup))
            + deviation(Shape::Screw)
            + scene.car.body(scene.car.plate).body.deviation.bound
            + clamp;
        let Some(stack) = travel_stack(scene, choice) else { return f64::INFINITY };
        self.holes(Vector2::zeros(), [0.0, 0.0], level)
            .first()
            .map_or(f64::INFINITY, |best| best.1 + level + off_seat + stack)
    }

    /// Foot shifts whose line goes through the cup's axis, or near enough.
    fn lines(&self, offset: Vector2<f64>) -> Vec<[f64; 2]> {
        let kit = self.scene().kit;
        let axis = self.centre() + offset;
        let mut lines = Vec::new();
        if let Some(line) = BarLine::through(kit, self.ports, [0.0, 0.0])
            && line.offset_of(axis).abs() <= 0.8 * kit.rules.screw_offset
        {
            lines.push([0.0, 0.0]);
        }
        for part in [0.0, -0.5, 0.5, -0.9, 0.9] {
            let a = part * self.shift[0];
            let offset_at = |b: f64| {
                BarLine::through(kit, self.ports, [a, b]).map_or(f64::NAN, |l| l.offset_of(axis))
            };
            let (mut low, mut high) = (-self.shift[1], self.shift[1]);
            let (at_low, at_high) = (offset_at(low), offset_at(high));
            if at_low * at_high > 0.0 {
                // No line through the axis from this foot: the nearer end, if near enough.
                let nearer = if at_low.abs() < at_high.abs() { low } else { high };
                lines.push([a, nearer]);
                continue;
            }
            for _ in 0..40 {
                let middle = 0.5 * (low + high);
                if offset_at(middle) * at_low > 0.0 { low = middle } else { high = middle }
            }
            lines.push([a, 0.5 * (low + high)]);
        }
        lines
    }

    /// Chooses each link as thick as passes; where none passes, the one that comes nearest.
    fn choose_links(&self, placement: &mut Placement) {
        let count = self.scene().kit.link.thicknesses.len();
        for end in End::BOTH {
            for side in Side::BOTH {
                let (i, j) = (end.index(), side.index());
                let mut best = (f64::NEG_INFINITY, 0);
                for thickness in 0..count {
                    placement.link_thickness[i][j] = thickness;
                    self.looked_at.set(self.looked_at.get() + 1);
                    let Some(s) = Situation::new(self.scene(), self.question.choice, placement)
                    else {
                        break;
                    };
                    let least = least_of_part(&s, RigPart::Link(end, side)).low;
                    if least > best.0 {
                        best = (least, thickness);
                    }
                    if least > 0.0 {
                        break;
                    }
                }
                placement.link_thickness[i][j] = best.1;
            }
        }
    }

    /// Clamp placements worth turning the outlet for, best first.
    fn clamps(&self, offsets: &Offsets) -> Vec<(Placement, f64)> {
        // How deep parts overlap costs more to know than that they do: first only what fits.
        let fitting = self.clamps_above(&offsets.best, 0.0);
        if fitting.is_empty() {
            self.clamps_above(&offsets.best[..offsets.best.len().min(2)], HOPELESS)
        } else {
            fitting
        }
    }

    /// The best clamp placements at these offsets whose value is above `floor`.
    fn clamps_above(&self, offsets: &[(Vector2<f64>, f64)], floor: f64) -> Vec<(Placement, f64)> {
        const KEPT: usize = 3;
        let mut clamps: Vec<(Placement, f64)> = Vec::new();
        for &(offset, cup_value) in offsets {
            if cup_value < floor {
                continue;
            }
            for shift in self.lines(offset) {
                // The links hang on the feet: which thickness passes does not depend on the hole.
                let mut links = self.plain(offset, shift, [0, 0]);
                self.choose_links(&mut links);
                for (hole, _) in
                    self.holes(offset, shift, self.scene().kit.rules.bar_level).into_iter().take(3)
                {
                    let placement = Placement { link_hole: hole, ..links.clone() };
                    let Some(placement) = self.seated(placement) else { continue };
                    let floor = clamps.get(KEPT - 1).map_or(floor, |c| c.1);
                    let clamp = self.value(&placement, Scope::Clamp, floor).low;
                    if clamp < floor {
                        continue;
                    }
                    clamps.push((placement, clamp.min(cup_value)));
                    clamps.sort_by(|a, b| b.1.total_cmp(&a.1));
                    clamps.truncate(KEPT);
                }
            }
        }
        clamps
    }

    /// Turns the outlet all round and keeps the best bearing and elbow turn.
    fn turn_outlet(&self, placement: Placement, others: f64) -> (Placement, f64) {
        self.turn_above(&placement, others, 0.0)
            .or_else(|| self.turn_above(&placement, others, HOPELESS))
            .unwrap_or((placement, f64::NEG_INFINITY))
    }

    /// The best bearing and elbow turn whose value is above `floor`; as good as `others` is good
    /// enough.
    fn turn_above(
        &self,
        placement: &Placement,
        others: f64,
        floor: f64,
    ) -> Option<(Placement, f64)> {
        let mut best: Option<(Placement, f64)> = None;
        for outlet_bearing in square_first(placement.outlet_bearing) {
            for &elbow_turn in &self.scene().kit.outlet.elbow_turns {
                let turned = Placement { outlet_bearing, elbow_turn, ..placement.clone() };
                let floor = best.as_ref().map_or(floor, |b| b.1);
                let value = self.value(&turned, Scope::Outlet, floor).low.min(others);
                if value > floor {
                    best = Some((turned, value));
                    if value >= others {
                        return best;
                    }
                }
            }
        }
        best
    }

    fn candidates(&self, offsets: &Offsets) -> Vec<(Placement, f64)> {
        let mut candidates: Vec<_> = self
            .clamps(offsets)
            .into_iter()
            .map(|(placement, value)| self.turn_outlet(placement, value))
            .collect();
        candidates.sort_by(|a, b| b.1.total_cmp(&a.1));
        candidates
    }

    fn representative(&self, offsets: &Offsets) -> (Option<Placement>, f64) {
        let Some(&(offset, value)) = offsets.best.first() else {
            return (None, f64::NEG_INFINITY);
        };
        let shift = self.lines(offset).first().copied().unwrap_or([0.0, 0.0]);
        let hole = self
            .holes(offset, shift, self.scene().kit.rules.bar_level)
            .first()
            .map_or([0, 0], |h| h.0);
        let placement = self.seated(self.plain(offset, shift, hole)).map(|mut placement| {
            self.choose_links(&mut placement);
            placement
        });
        (placement, value)
    }

    /// Pattern search from the best candidates, with steps along and across the bar's line.
    fn refine(&self, candidates: Vec<(Placement, f64)>) -> (Option<Placement>, f64) {
        let mut best: Option<(Placement, f64)> = None;
        for (placement, _) in candidates.into_iter().take(2) {
            let refined = self.refine_one(placement);
            if best.as_ref().is_none_or(|b| refined.1 > b.1) {
                best = Some(refined);
            }
            if best.as_ref().is_some_and(|b| b.1 > 0.0) {
                break;
            }
        }
        best.map_or((None, f64::NEG_INFINITY), |(placement, value)| (self.seated(placement), value))
    }

    fn refine_one(&self, mut placement: Placement) -> (Placement, f64) {
        let mut best = self.full_value(&placement, HOPELESS);
        if best < HOPELESS {
            return (placement, best);
        }
        for step in STEPS {
            let mut improved = true;
            let mut rounds = 0;
            while improved && rounds < 6 {
                improved = false;
                rounds += 1;
                for direction in 0..DIRECTIONS {
                    for sign in [1.0, -1.0] {
                        let Some(moved) = self.moved(&placement, direction, sign * step) else {
                            continue;
                        };
                        let value = self.full_value(&moved, best);
                        if value > best {
                            best = value;
                            placement = moved;
                            improved = true;
                            break;
                        }
                    }
                }
            }
        }
        (placement, best)
    }

    /// A placement moved by one step in one direction of the pattern.
    fn moved(&self, placement: &Placement, direction: usize, step: f64) -> Option<Placement> {
        let mut moved = placement.clone();
        let line = BarLine::through(self.scene().kit, self.ports, placement.foot_shift)?;
        let along = line.along;
        let across = Vector2::new(-along.y, along.x);
        // Which way a foot's shift moves it across the line: ports face outward at both ends.
        let shift_across = [0, 1].map(|i| {
            let (sin, cos) = self.ports[i].facing.radians().sin_cos();
            Vector2::new(-sin, cos).dot(&across)
        });
        let shift_foot = |moved: &mut Placement, i: usize, by: f64| {
            if shift_across[i].abs() > 0.1 {
                moved.foot_shift[i] += by / shift_across[i];
            }
        };
        match direction {
            0 => moved.cup_offset += along * step,
            1 => moved.cup_offset += across * step,
            2 => {
                moved.cup_offset += across * step;
                shift_foot(&mut moved, 0, step);
                shift_foot(&mut moved, 1, step);
            }
            3 => {
                moved.outlet_bearing =
                    Angle::from_radians(moved.outlet_bearing.radians() + step * BEARING_PER_MM);
            }
            4 => shift_foot(&mut moved, 0, step),
            5 => shift_foot(&mut moved, 1, step),
            _ => moved.bar_slide += step,
        }
        let within = |i: usize| moved.foot_shift[i].abs() <= self.shift[i] + 1e-9;
        (within(0) && within(1)).then_some(moved)
    }
}

const DIRECTIONS: usize = 7;

/// Bearings all round, those nearest to `square` or opposite to it first: the outlet goes at a right
/// angle to the bar where it can.
fn square_first(square: Angle) -> impl Iterator<Item = Angle> {
    (0..=BEARINGS / 4).flat_map(move |step| {
        let off = TAU * step as f64 / BEARINGS as f64;
        [off, PI + off, -off, PI - off]
            .into_iter()
            .take(if step == 0 || step == BEARINGS / 4 { 2 } else { 4 })
            .map(move |by| Angle::from_radians(square.radians() + by))
    })
}

/// The outlet bearings that leave a margin above zero with everything else as placed, in whole
/// steps of 2 degrees: arcs from first to last free bearing, counter-clockwise.
pub fn free_bearings(scene: &Scene<'_>, choice: &Choice, placement: &Placement) -> Vec<[Angle; 2]> {
    const STEPS: usize = 180;
    let step = TAU / STEPS as f64;
    let free: Vec<bool> = (0..STEPS)
        .map(|i| {
            let mut turned = placement.clone();
            turned.outlet_bearing = Angle::from_radians(step * i as f64);
            scene.kit.outlet.elbow_turns.iter().any(|&elbow| {
                turned.elbow_turn = elbow;
                Situation::new(scene, choice, &turned)
                    .is_some_and(|s| least_margin(&s, Scope::Outlet, 0.0).low > 0.0)
            })
        })
        .collect();
    if free.iter().all(|f| *f) {
        return vec![[Angle::ZERO, Angle::from_radians(TAU)]];
    }
    let mut arcs = Vec::new();
    for i in 0..STEPS {
        if free[i] && !free[(i + STEPS - 1) % STEPS] {
            let mut last = i;
            while free[(last + 1) % STEPS] {
                last += 1;
            }
            arcs.push([
                Angle::from_radians(step * i as f64),
                Angle::from_radians(step * last as f64),
            ]);
        }
    }
    arcs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bearings_go_all_round_once_and_begin_square_to_the_bar() {
        let degrees: Vec<f64> = square_first(Angle::from_degrees(90.0))
            .map(|b| b.degrees().rem_euclid(360.0).round())
            .collect();
        assert!(degrees.starts_with(&[90.0, 270.0, 95.0, 275.0, 85.0, 265.0]));
        let mut all = degrees.clone();
        all.sort_by(f64::total_cmp);
        all.dedup();
        assert_eq!(all.len(), degrees.len());
        assert_eq!(all.len(), BEARINGS);
    }
}
