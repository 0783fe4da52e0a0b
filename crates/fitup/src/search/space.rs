//! The placement space of one choice: its variables, and cells of it.

use crate::checks::beside;
use crate::scene::Scene;
use assembly::car_top::{LidState, Port};
use assembly::kit::{Kit, PartKind};
use assembly::placement::{End, Side};
use assembly::rig::turns;
use assembly::{Choice, Placement};
use measure::Angle;
use nalgebra::{Point2, Vector2};
use std::f64::consts::PI;

/// Continuous variables: cup offset x and y, mm; outlet bearing, radians; foot shifts A and B and
/// bar slide, mm; lid opening, radians.
pub const VARIABLES: usize = 7;
/// Discrete variables: elbow turn; link holes A and B; link thicknesses A inside, A outside, B
/// inside, B outside.
pub const CHOICES: usize = 7;

/// Indices of the continuous variables.
pub mod var {
    /// Cup offset, x, mm.
    pub const X: usize = 0;
    /// Cup offset, y, mm.
    pub const Y: usize = 1;
    /// Outlet bearing, radians.
    pub const BEARING: usize = 2;
    /// Foot shift at A, mm; at B it is the next.
    pub const SHIFT: usize = 3;
    /// Bar slide, mm.
    pub const SLIDE: usize = 5;
    /// Lid opening, radians.
    pub const LID: usize = 6;
}

/// Index of the discrete variable of the elbow's turn.
pub const ELBOW: usize = 0;

/// Index of the discrete variable of the hole at an end.
pub const fn hole(end: End) -> usize {
    1 + end.index()
}

/// Index of the discrete variable of the thickness of a link.
pub const fn thickness(end: End, side: Side) -> usize {
    3 + 2 * end.index() + side.index()
}

/// Values of the continuous variables.
pub type Values = [f64; VARIABLES];
/// One option of each discrete variable.
pub type Options = [usize; CHOICES];

/// The whole space of one choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Space {
    /// Lower corner.
    pub low: Values,
    /// Upper corner.
    pub high: Values,
    /// How many options each discrete variable has.
    pub options: [usize; CHOICES],
}

impl Space {
    /// The space that holds every placement of a choice with no rule broken beyond the deviations:
    /// outside of it the fitting does not lie in the cup, a foot is beyond its port or the bar's
    /// overhangs differ too much. `None` for a choice that does not exist.
    pub fn of(scene: &Scene<'_>, choice: &Choice) -> Option<Self> {
        let (car, kit) = (scene.car, scene.kit);
        let fitting = car.fittings.get(choice.fitting)?;
        let cup = kit.cups.get(choice.cup)?;
        let ports = [car.ports.get(choice.ports[0])?, car.ports.get(choice.ports[1])?];
        // Each point of the fitting lies within the cavity's radius of the axis.
        let radius = 0.5 * (cup.inside_diameter.nominal + cup.inside_diameter.tolerance);
        let reach = reach(&kit_reach(scene, choice, fitting.centre), radius)?;
        let ClampReach { shift, slide } = ClampReach::of(kit, ports);
        let lid = match &car.lid {
            LidState::Hinged(lid) => lid.stop.radians(),
            LidState::Unknown | LidState::None => 0.0,
        };
        let (low, high) = reach;
        let thicknesses = kit.link.thicknesses.len();
        let holes = kit.link.holes.len();
        let turns = kit.outlet.elbow_turns.len();
        Some(Self {
            low: [low.x, low.y, -PI, -shift[0], -shift[1], slide[0], lid],
            high: [high.x, high.y, PI, shift[0], shift[1], slide[1], lid],
            options: [turns, holes, holes, thicknesses, thicknesses, thicknesses, thicknesses],
        })
    }

    /// The cell that is the whole space.
    pub fn whole(&self) -> Cell {
        Cell { low: self.low, high: self.high, chosen: [None; CHOICES] }
    }
}

/// How far the clamp can be moved in two ports at the most with no rule broken beyond the deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClampReach {
    /// How far the feet at ends A and B stand from the middles of their ports, either way, mm.
    pub shift: [f64; 2],
    /// Least and greatest slide of the bar, mm.
    pub slide: [f64; 2],
}

impl ClampReach {
    /// With the feet at ends A and B in these ports.
    pub fn of(kit: &Kit, ports: [&Port; 2]) -> Self {
        let clamp = ports[0].deviation.max(ports[1].deviation);
        let even = 0.25 * (ports[0].wall - ports[1].wall);
        let slide = 0.5 * (kit.rules.overhang_difference + clamp);
        Self { shift: shift_reach(kit, ports, clamp), slide: [even - slide, even + slide] }
    }
}

/// How far each foot can shift at the most: beyond, it has no room beside it in its port, or it is
/// more out of square than it may be. A foot out of square by `s` reaches at least `cos s` times
/// half its width to the side.
fn shift_reach(kit: &Kit, ports: [&Port; 2], clamp: f64) -> [f64; 2] {
    let half = 0.5 * kit.foot.width.nominal;
    let turns = turns(kit, ports, clamp);
    let beside = beside(&kit.foot, &turns.flat).worst();
    let off = ports.map(|p| p.deviation + beside);
    let wide = [0, 1].map(|i| 0.5 * ports[i].width + off[i]);
    let need = kit.rules.need(PartKind::Foot, PartKind::Housing);
    let sine = kit.rules.foot_skew.radians().sin() + turns.flat.worst();
    let reach = half * (1.0 - sine.min(1.0).powi(2)).sqrt();
    [0, 1].map(|i| (wide[i] - need - reach).max(0.0))
}

/// Points of the covered fitting that bound where the cup can stand, from its centreline, each with
/// how far it may be off.
fn kit_reach(scene: &Scene<'_>, choice: &Choice, centre: Point2<f64>) -> Vec<(Vector2<f64>, f64)> {
    let mut points = Vec::new();
    // What nobody saw of it may not be there.
    for id in covered(scene, choice).filter(|id| !scene.car.is_unseen(*id)) {
        let bound = scene.car.body(id).body.deviation.bound;
        points.extend(scene.extent(id).outline.iter().map(|p| (p.xy() - centre, bound)));
    }
    points
}

/// The covered fitting's bodies that are there.
pub fn covered(
    scene: &Scene<'_>,
    choice: &Choice,
) -> impl Iterator<Item = assembly::car_top::BodyId> {
    let fitting = &scene.car.fittings[choice.fitting];
    let gone = |index: usize| {
        choice.removed.iter().any(|r| (r.fitting, r.removable) == (choice.fitting, index))
    };
    let left: Vec<_> = fitting
        .removables
        .iter()
        .enumerate()
        .filter(|(i, _)| !gone(*i))
        .map(|(_, r)| r.body)
        .collect();
    fitting.bodies.iter().copied().chain(left)
}

/// The box of all offsets within `radius` of every point. Where no offset is, a box without width
/// between the points, which every rule of the cavity bars.
fn reach(points: &[(Vector2<f64>, f64)], radius: f64) -> Option<(Vector2<f64>, Vector2<f64>)> {
    let (mut low, mut high) = (Vector2::repeat(f64::NEG_INFINITY), Vector2::repeat(f64::INFINITY));
    for (p, off) in points {
        low = low.sup(&(p.add_scalar(-radius - off)));
        high = high.inf(&(p.add_scalar(radius + off)));
    }
    if points.is_empty() {
        return Some((Vector2::repeat(-radius), Vector2::repeat(radius)));
    }
    let middle = 0.5 * (low + high);
    let (low, high) = (low.inf(&middle), high.sup(&middle));
    (low.iter().chain(high.iter()).all(|c| c.is_finite())).then_some((low, high))
}

/// A part of the space.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Lower corner.
    pub low: Values,
    /// Upper corner.
    pub high: Values,
    /// The options chosen; `None` stands for all.
    pub chosen: [Option<usize>; CHOICES],
}

impl Cell {
    /// The middle.
    pub fn middle(&self) -> Values {
        std::array::from_fn(|k| 0.5 * (self.low[k] + self.high[k]))
    }

    /// Half the width in each variable.
    pub fn half(&self) -> Values {
        std::array::from_fn(|k| 0.5 * (self.high[k] - self.low[k]))
    }

    /// The two halves in one variable, lower first.
    pub fn halves(&self, k: usize) -> [Self; 2] {
        let middle = 0.5 * (self.low[k] + self.high[k]);
        let (mut lower, mut upper) = (self.clone(), self.clone());
        lower.high[k] = middle;
        upper.low[k] = middle;
        [lower, upper]
    }

    /// The cell with one option chosen.
    #[must_use]
    pub fn with(&self, choice: usize, option: usize) -> Self {
        let mut cell = self.clone();
        cell.chosen[choice] = Some(option);
        cell
    }
}

/// The placement with these values; the screw's extension is left at zero.
pub fn placement(values: &Values, options: &Options) -> Placement {
    let thick = |end, side| options[thickness(end, side)];
    Placement {
        cup_offset: Vector2::new(values[var::X], values[var::Y]),
        outlet_bearing: Angle::from_radians(values[var::BEARING]),
        elbow_turn: Angle::ZERO,
        foot_shift: [values[var::SHIFT], values[var::SHIFT + 1]],
        link_thickness: End::BOTH.map(|end| Side::BOTH.map(|side| thick(end, side))),
        link_hole: End::BOTH.map(|end| options[hole(end)]),
        bar_slide: values[var::SLIDE],
        screw_extension: 0.0,
        lid_opening: Angle::from_radians(values[var::LID]),
    }
}

/// The numbers of a placement, given the turns of the elbow that there are.
pub fn numbers(placement: &Placement, elbow_turns: &[Angle]) -> (Values, Options) {
    let mut options = [0; CHOICES];
    options[ELBOW] = elbow_turns.iter().position(|t| *t == placement.elbow_turn).unwrap_or(0);
    for end in End::BOTH {
        options[hole(end)] = placement.link_hole[end.index()];
        for side in Side::BOTH {
            options[thickness(end, side)] = placement.link_thickness[end.index()][side.index()];
        }
    }
    let values = [
        placement.cup_offset.x,
        placement.cup_offset.y,
        placement.outlet_bearing.radians(),
        placement.foot_shift[0],
        placement.foot_shift[1],
        placement.bar_slide,
        placement.lid_opening.radians(),
    ];
    (values, options)
}
