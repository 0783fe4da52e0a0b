//! Upper bounds of single margins that hold all over the placement space.
//!
//! A gap between two parts is never more than the distance between any point of the one and any
//! point of the other, wherever the parts stand. So two nearest points found at one placement bound
//! that gap at every other placement by a function of the placement that is cheap to work out and
//! whose bend is known. A point that lies in both of two parts, `depth` from the surface of one of
//! them, bounds their margin in the same way: moved apart by `d` the overlap is still at least
//! `depth - d` deep there, or the gap at most `d - depth`. A placing rule bounds itself.

use super::flat;
use super::motion::{Curvature, Frame, Lines, Mechanism, Place};
use super::space::{CHOICES, Options, VARIABLES, Values, hole, thickness, var};
use crate::checks::{beside, lean_stack, rise_stack, travel_stack};
use crate::margin::{Part, Rule};
use crate::scene::{Scene, Shape};
use crate::stack;
use assembly::Choice;
use assembly::car_top::{BodyId, Port};
use assembly::kit::PartKind;
use assembly::placement::{End, Side};
use assembly::rig::{RigPart, gasket_of, rim_height};
use nalgebra::{Point3, Vector2, Vector3};
use std::cell::OnceCell;
use std::collections::HashMap;

/// The two ends of a margin's interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// In the worst case of the deviations.
    Low,
    /// In the best case.
    High,
}

/// What a witness rests on.
#[derive(Debug, Clone, PartialEq)]
pub enum Ground {
    /// A point of each of two parts.
    Points(Points),
    /// A placing rule.
    Rule(Law),
}

/// A point of each of two parts, each in its part's frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Points {
    /// The parts.
    pub parts: [Part; 2],
    frames: [Frame; 2],
    /// The points.
    pub on: [Vector3<f64>; 2],
    /// How far one of the points lies from its part's surface; zero for points on the surfaces of
    /// parts that are apart.
    pub depth: f64,
    /// The triangles that the points lie on, for parts that are apart.
    pub triangles: Option<[u32; 2]>,
    /// Instead of the second point a rectangle around it that lies in the second part: its half
    /// sides (see [`Frame::may_hold_rectangle`]). Then the depth is of the first point.
    pub across: Option<[Vector3<f64>; 2]>,
}

/// Where two parts are near each other or overlap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// The parts.
    pub parts: [Part; 2],
    /// As in [`Points`].
    pub on: [Vector3<f64>; 2],
    /// As in [`Points`].
    pub depth: f64,
    /// As in [`Points`].
    pub triangles: Option<[u32; 2]>,
    /// As in [`Points`].
    pub across: Option<[Vector3<f64>; 2]>,
}

/// A placing rule and which piece of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// A point of the fitting in the cup's cavity, measured along a unit vector seen from above.
    CavitySide(BodyId, Point3<f64>, Vector2<f64>),
    /// The highest point of the fitting under the crown.
    CavityTop(BodyId, Point3<f64>),
    /// A foot's side from its port's: which side, and which way the foot is out of square.
    FootBeside(End, f64, f64),
    /// A foot's height in its port.
    FootHeight(End),
    /// A foot out of square, to this side.
    Skew(End, f64),
    /// Difference of overhangs, to this side.
    OverhangDifference(f64),
    /// Slot beyond the outside link.
    Slot(End),
    /// Bar out of level.
    Level,
    /// Links out of upright.
    Lean(End),
    /// Screw off the cup's axis, to this side.
    ScrewOffset(f64),
    /// Screw travel left, at the retracted (1) or the extended end (-1).
    Travel(f64),
    /// Width of the gasket.
    SealWidth,
}

impl Law {
    /// Whether it is about one point of the fitting among many.
    pub const fn is_of_a_point(self) -> bool {
        matches!(self, Self::CavitySide(..) | Self::CavityTop(..))
    }

    /// The continuous variables that it depends on.
    const fn moved_by(self) -> &'static [usize] {
        match self {
            Self::CavitySide(..) => &[var::X, var::Y],
            Self::FootBeside(..) | Self::Skew(..) | Self::Lean(_) => &[var::SHIFT, var::SHIFT + 1],
            Self::OverhangDifference(_) => &[var::SLIDE],
            Self::Slot(_) => &[var::SHIFT, var::SHIFT + 1, var::SLIDE],
            Self::ScrewOffset(_) | Self::Travel(_) => &[var::X, var::Y, var::SHIFT, var::SHIFT + 1],
            Self::CavityTop(..) | Self::FootHeight(_) | Self::Level | Self::SealWidth => &[],
        }
    }

    /// The discrete variables that it depends on.
    fn chosen_by(self) -> Vec<usize> {
        match self {
            Self::Slot(end) => vec![thickness(end, Side::Outside)],
            Self::Level | Self::Lean(_) | Self::Travel(_) => End::BOTH.map(hole).to_vec(),
            _ => Vec::new(),
        }
    }

    /// The rule.
    pub const fn rule(self) -> Rule {
        match self {
            Self::CavitySide(..) | Self::CavityTop(..) => Rule::Cavity,
            Self::FootBeside(..) | Self::FootHeight(_) => Rule::FootInPort,
            Self::Skew(..) => Rule::Skew,
            Self::OverhangDifference(_) => Rule::OverhangDifference,
            Self::Slot(_) => Rule::Overhang,
            Self::Level => Rule::Level,
            Self::Lean(_) => Rule::Lean,
            Self::ScrewOffset(_) => Rule::ScrewOffset,
            Self::Travel(_) => Rule::Travel,
            Self::SealWidth => Rule::SealWidth,
        }
    }
}

/// An upper bound of one margin.
#[derive(Debug, Clone, PartialEq)]
pub struct Witness {
    /// What it rests on.
    pub ground: Ground,
    /// The options for which it holds; `None` where it does not depend on the variable.
    pub given: [Option<usize>; CHOICES],
    /// The continuous variables that it depends on.
    pub moved_by: [bool; VARIABLES],
    /// Whether it bounds a tolerance rule, which must hold but is no room to spare.
    pub is_rule: bool,
    low: f64,
    /// Infinite for what may not be there: it bounds nothing in the best case.
    high: f64,
}

impl Witness {
    /// The bound's constant part at an end of the margin's interval, mm.
    pub const fn constant(&self, sense: Sense) -> f64 {
        match sense {
            Sense::Low => self.low,
            Sense::High => self.high,
        }
    }

    /// How far a value is below what is asked for, mm: a limit for margins, zero for rules.
    pub fn amiss(&self, value: f64, limit: f64) -> f64 {
        if self.is_rule { -value } else { limit - value }
    }

    /// Whether it holds for all of a cell with these options chosen.
    pub fn holds_for(&self, chosen: &[Option<usize>; CHOICES]) -> bool {
        self.given.iter().zip(chosen).all(|(given, chosen)| given.is_none() || given == chosen)
    }

    /// Whether it can hold for a part of a cell with these options chosen.
    pub fn may_hold_for(&self, chosen: &[Option<usize>; CHOICES]) -> bool {
        let pairs = self.given.iter().zip(chosen);
        pairs
            .into_iter()
            .all(|(given, chosen)| given.is_none() || chosen.is_none() || given == chosen)
    }
}

/// The frames at one placement, worked out as they are asked for.
pub struct At<'m> {
    mechanism: &'m Mechanism,
    values: Values,
    options: Options,
    lines: Lines,
    places: [OnceCell<Place>; FRAMES],
}

const FRAMES: usize = 16;

const fn number(frame: Frame) -> usize {
    match frame {
        Frame::Plate => 0,
        Frame::Lid => 1,
        Frame::Still => 2,
        Frame::SidePort => 3,
        Frame::Outlet => 4,
        Frame::Foot(end) => 5 + end.index(),
        Frame::Link(end, side) => 7 + 2 * end.index() + side.index(),
        Frame::Saddle(end) => 11 + end.index(),
        Frame::Bar => 13,
        Frame::Block => 14,
        Frame::Screw => 15,
    }
}

impl<'m> At<'m> {
    /// A placement by its numbers.
    pub fn new(mechanism: &'m Mechanism, values: Values, options: Options) -> Self {
        let lines = mechanism.lines(&values, &options);
        Self { mechanism, values, options, lines, places: Default::default() }
    }

    /// The place of a frame.
    pub fn place(&self, frame: Frame) -> &Place {
        self.places[number(frame)]
            .get_or_init(|| self.mechanism.place(frame, &self.values, &self.options, &self.lines))
    }

    /// The clamp's main lines.
    pub const fn lines(&self) -> &Lines {
        &self.lines
    }

    /// The continuous variables' values.
    pub const fn values(&self) -> &Values {
        &self.values
    }
}

/// Makes witnesses and works them out.
pub struct Bench<'s> {
    /// Car top and kit.
    pub scene: &'s Scene<'s>,
    /// Fitting, cup, ports, what is off.
    pub choice: &'s Choice,
    /// How the parts move.
    pub mechanism: Mechanism,
    ports: [&'s Port; 2],
    clamp: f64,
    /// How far each rig part may be from where it is posed, by its link's thickness, mm.
    deviations: HashMap<RigPart, Vec<f64>>,
}

impl<'s> Bench<'s> {
    /// `None` for a choice that does not exist.
    pub fn new(scene: &'s Scene<'s>, choice: &'s Choice) -> Option<Self> {
        let mechanism = Mechanism::new(scene, choice)?;
        let ports = [scene.car.ports.get(choice.ports[0])?, scene.car.ports.get(choice.ports[1])?];
        let clamp = scene.clamp_deviation(choice);
        let thicknesses = 0..scene.kit.link.thicknesses.len();
        let deviations = |part: RigPart| {
            let by = |t: usize| stack::of_part(scene, choice, [[t; 2]; 2], part).worst();
            (part, thicknesses.clone().map(by).collect())
        };
        let deviations = RigPart::all(scene.kit).into_iter().map(deviations).collect();
        Some(Self { scene, choice, mechanism, ports, clamp, deviations })
    }

    /// The bound on how far a rig part's true surface may be from where it is posed, mm.
    pub fn deviation(&self, part: RigPart, options: &Options) -> f64 {
        use RigPart as P;
        let by = match part {
            P::Link(end, side) => options[thickness(end, side)],
            P::LowerPin(end) | P::LowerPinPath(end) | P::UpperPin(end) | P::UpperPinPath(end) => {
                options[thickness(end, Side::Outside)]
            }
            _ => 0,
        };
        let of_part = self.deviations.get(&part).and_then(|all| all.get(by));
        of_part.copied().unwrap_or(f64::INFINITY)
    }

    /// A witness by two points. `deviation` is the parts' together.
    pub fn by_points(
        &self,
        Meeting { parts, on, depth, triangles, across }: Meeting,
        (need, deviation): (f64, f64),
        options: &Options,
    ) -> Witness {
        let frames = parts.map(|part| self.frame(part));
        let mut given = [None; CHOICES];
        let mut moved_by = [false; VARIABLES];
        for (frame, part) in frames.into_iter().zip(parts) {
            let depends = self.depends(part);
            for (d, depends) in depends.into_iter().enumerate() {
                if depends {
                    given[d] = Some(options[d]);
                }
            }
            for (k, moves) in frame.moved_by().into_iter().enumerate() {
                moved_by[k] |= moves;
            }
        }
        Witness {
            ground: Ground::Points(Points { parts, frames, on, depth, triangles, across }),
            given,
            moved_by,
            is_rule: false,
            low: -need - deviation,
            high: if parts.iter().any(|part| self.may_be_empty(*part)) {
                f64::INFINITY
            } else {
                -need + deviation
            },
        }
    }

    /// Whether a part may be smaller than it is meshed, or not there: no margin to it has an upper end.
    pub fn may_be_empty(&self, part: Part) -> bool {
        part.is_unseen(self.scene.car)
    }

    /// The frame of a part.
    pub fn frame(&self, part: Part) -> Frame {
        match part {
            Part::Rig(part) => Frame::of(part),
            Part::Car(id) => match &self.scene.car.lid {
                assembly::car_top::LidState::Hinged(lid) if lid.body == id => Frame::Lid,
                _ => Frame::Plate,
            },
        }
    }

    /// The discrete variables that a part's shape or place depends on.
    pub fn depends(&self, part: Part) -> [bool; CHOICES] {
        let mut depends = self.frame(part).chosen_by();
        if let Part::Rig(part) = part {
            use assembly::rig::RigPart as P;
            match part {
                P::LowerPin(e) | P::LowerPinPath(e) | P::UpperPin(e) | P::UpperPinPath(e) => {
                    depends[thickness(e, Side::Outside)] = true;
                }
                _ => {}
            }
        }
        depends
    }

    /// Every placing rule that does not depend on a point of the fitting, in every option.
    pub fn laws(&self) -> Vec<Witness> {
        let kit = self.scene.kit;
        let mut laws = Vec::new();
        let free: Options = [0; CHOICES];
        for sign in [1.0, -1.0] {
            laws.push(self.by_law(Law::ScrewOffset(sign), &free));
            laws.push(self.by_law(Law::OverhangDifference(sign), &free));
            for end in End::BOTH {
                laws.push(self.by_law(Law::Skew(end, sign), &free));
                for skew in [1.0, -1.0] {
                    laws.push(self.by_law(Law::FootBeside(end, sign, skew), &free));
                }
            }
        }
        for end in End::BOTH {
            laws.push(self.by_law(Law::FootHeight(end), &free));
            for option in 0..kit.link.thicknesses.len() {
                let mut options = free;
                options[thickness(end, Side::Outside)] = option;
                laws.push(self.by_law(Law::Slot(end), &options));
            }
        }
        laws.push(self.by_law(Law::SealWidth, &free));
        let count = kit.link.holes.len();
        for a in 0..count {
            for b in 0..count {
                let mut options = free;
                options[hole(End::A)] = a;
                options[hole(End::B)] = b;
                laws.push(self.by_law(Law::Level, &options));
                for end in End::BOTH {
                    laws.push(self.by_law(Law::Lean(end), &options));
                }
                for sign in [1.0, -1.0] {
                    laws.push(self.by_law(Law::Travel(sign), &options));
                }
            }
        }
        laws
    }

    /// The witness of a placing rule.
    pub fn by_law(&self, law: Law, options: &Options) -> Witness {
        let mut given = [None; CHOICES];
        for d in law.chosen_by() {
            given[d] = Some(options[d]);
        }
        let mut moved_by = [false; VARIABLES];
        for &k in law.moved_by() {
            moved_by[k] = true;
        }
        let (nominal, below, mut above) = self.figure(law, options);
        if let Law::CavitySide(id, ..) | Law::CavityTop(id, _) = law
            && self.may_be_empty(Part::Car(id))
        {
            above = f64::INFINITY;
        }
        Witness {
            ground: Ground::Rule(law),
            given,
            moved_by,
            is_rule: law.rule().is_tolerance(),
            low: nominal - below,
            high: nominal + above,
        }
    }

    /// The constant part of a placing rule's margin at the nominal figures, and how far below and
    /// above that the margin's ends are, mm.
    fn figure(&self, law: Law, options: &Options) -> (f64, f64, f64) {
        let kit = self.scene.kit;
        let rules = &kit.rules;
        let cup = &kit.cups[self.choice.cup];
        let gasket = gasket_of(kit, cup);
        let clamp = self.clamp;
        let body = |id: BodyId| self.scene.car.body(id).body.deviation.bound;
        let plate = body(self.scene.car.plate);
        let port = |end: End| self.ports[end.index()];
        let holes = End::BOTH.map(|end| options[hole(end)]);
        match law {
            Law::CavitySide(id, ..) => {
                let need = rules.need(PartKind::Cup, PartKind::Fitting);
                let off = body(id) + 0.5 * cup.inside_diameter.tolerance;
                (0.5 * cup.inside_diameter.nominal - need, off, off)
            }
            Law::CavityTop(id, top) => {
                let need = rules.need(PartKind::Cup, PartKind::Fitting);
                let (crown, stack) = gasket.map_or((f64::INFINITY, 0.0), |g| {
                    (
                        rim_height(g) + cup.inside_height.nominal,
                        g.thickness.tolerance + g.groove_depth.tolerance,
                    )
                });
                let off = body(id) + plate + cup.inside_height.tolerance + stack;
                (crown - top.z - need, off, off)
            }
            Law::FootBeside(end, ..) => {
                let need = rules.need(PartKind::Foot, PartKind::Housing);
                let beside = beside(&kit.foot, &stack::turns(self.scene, self.choice).flat);
                let off = port(end).deviation + beside.worst();
                (0.5 * port(end).width - need, off, off)
            }
            Law::FootHeight(end) => {
                let need = rules.need(PartKind::Foot, PartKind::Housing);
                let off = port(end).deviation + kit.foot.height.tolerance;
                (port(end).height - kit.foot.height.nominal - need, off, off)
            }
            Law::Skew(..) => {
                let half = 0.5 * kit.foot.width.nominal;
                let limit = half * rules.foot_skew.radians().sin();
                let off = stack::turns(self.scene, self.choice).flat.worst() * half;
                (limit, off, off)
            }
            Law::OverhangDifference(_) => (rules.overhang_difference, clamp, clamp),
            Law::Slot(end) => {
                let outside = kit.link.thicknesses[options[thickness(end, Side::Outside)]];
                let off = clamp
                    + 0.5 * (kit.bar.length.tolerance + kit.foot.depth.tolerance)
                    + outside.tolerance
                    + kit.bar.end.tolerance;
                let left = 0.5 * kit.bar.length.nominal
                    - 0.5 * kit.foot.depth.nominal
                    - outside.nominal
                    - kit.bar.end.nominal;
                (left, off, off)
            }
            Law::Level => {
                let rise = self.rise(options);
                let off = rise_stack(self.scene, self.choice, holes).worst();
                (rules.bar_level - rise, off, off)
            }
            Law::Lean(end) => {
                let rise = self.rise(options);
                let off = lean_stack(self.scene, self.choice, holes, end, rise).worst();
                (rules.link_lean, off, off)
            }
            Law::ScrewOffset(_) => (rules.screw_offset, clamp, clamp),
            Law::Travel(sign) => {
                let off = travel_stack(self.scene, self.choice);
                let off = off.map_or(f64::INFINITY, |stack| stack.worst());
                let retracted = kit.screw.retracted.nominal;
                let nominal =
                    if sign > 0.0 { -retracted } else { retracted + kit.screw.travel.nominal };
                (nominal, off, off)
            }
            Law::SealWidth => {
                let (width, off) = gasket.map_or((f64::INFINITY, 0.0), |g| {
                    let of = |d: fn(&assembly::kit::Dim) -> f64| {
                        (d(&g.outside_diameter), d(&g.inside_diameter))
                    };
                    let (outside, inside) = of(|d| d.nominal);
                    let (t1, t2) = of(|d| d.tolerance);
                    (0.5 * (outside - inside), 0.5 * (t1 + t2))
                });
                (width - rules.land_seal_width, off, off)
            }
        }
    }

    /// How much the bar's ends differ in height.
    fn rise(&self, options: &Options) -> f64 {
        self.mechanism.lines(&[0.0; VARIABLES], options).rise.abs()
    }

    /// The moving part of a witness's bound: with its constant, the bound.
    pub fn value(&self, witness: &Witness, at: &At<'_>) -> f64 {
        let kit = self.scene.kit;
        match &witness.ground {
            Ground::Points(p) => {
                let a = at.place(p.frames[0]).point(&p.on[0]);
                let b = at.place(p.frames[1]);
                let apart = match &p.across {
                    None => (a - b.point(&p.on[1])).norm(),
                    Some(half) => flat::distance(&(b.seen(&a) - p.on[1]), half),
                };
                apart - p.depth
            }
            Ground::Rule(law) => match *law {
                Law::CavitySide(_, point, toward) => {
                    -toward.dot(&(point.xy() - self.mechanism.axis(&at.values)))
                }
                Law::FootBeside(end, side, skew) => {
                    let (sin, cos) = self.skew(end, &at.lines);
                    let (width, depth) = (kit.foot.width.nominal, kit.foot.depth.nominal);
                    -side * at.values[var::SHIFT + end.index()]
                        - 0.5 * (width * cos + skew * depth * sin)
                }
                Law::Skew(end, sign) => {
                    -sign * 0.5 * kit.foot.width.nominal * self.skew(end, &at.lines).0
                }
                Law::OverhangDifference(sign) => {
                    let walls = 0.5 * (self.ports[0].wall - self.ports[1].wall);
                    -sign * (2.0 * at.values[var::SLIDE] - walls)
                }
                Law::Slot(end) => {
                    let sign = if end == End::A { 1.0 } else { -1.0 };
                    sign * at.values[var::SLIDE] - 0.5 * at.lines.span
                }
                Law::Lean(end) => {
                    let reach = kit.link.holes[at.options[hole(end)]].nominal;
                    -at.lines.rise.abs() * reach / at.lines.span
                }
                Law::ScrewOffset(sign) => -sign * at.lines.off_line(),
                Law::Travel(sign) => sign * at.lines.extension(),
                Law::CavityTop(..) | Law::FootHeight(_) | Law::Level | Law::SealWidth => 0.0,
            },
        }
    }

    /// Sine and cosine of the turn from a port's facing to the bar's way out of it.
    fn skew(&self, end: End, lines: &Lines) -> (f64, f64) {
        let facing = self.mechanism.facing[end.index()];
        let out = if end == End::A { lines.level.xy() } else { -lines.level.xy() };
        (facing.perp(&out), facing.dot(&out))
    }

    /// For each variable, a bound on how far the second derivative of the witness's bound is below
    /// zero.
    pub fn bend(&self, witness: &Witness, options: &Options, cell: &Curvature) -> Values {
        let kit = self.scene.kit;
        let mut bend = [0.0; VARIABLES];
        let d = cell.span;
        let flat = 2.0 / (d * d);
        let mut shifts = |by: f64| {
            bend[var::SHIFT] = by;
            bend[var::SHIFT + 1] = by;
        };
        match &witness.ground {
            Ground::Points(p) => {
                let of = |i: usize, at: &Vector3<f64>| {
                    self.mechanism.bend(p.frames[i], at, options, cell)
                };
                let second = match p.across {
                    None => of(1, &p.on[1]),
                    Some([u, v]) => {
                        let corners = [u + v, u - v, v - u, -u - v].map(|c| of(1, &(p.on[1] + c)));
                        let turned = self.mechanism.rectangle_bend(p.frames[1], &p.on[0], cell);
                        std::array::from_fn(|k| {
                            turned[k] + corners.iter().map(|c| c[k]).fold(0.0, f64::max)
                        })
                    }
                };
                let first = of(0, &p.on[0]);
                bend = std::array::from_fn(|k| first[k] + second[k]);
            }
            Ground::Rule(law) => match *law {
                Law::FootBeside(..) => {
                    shifts(flat * 0.5 * kit.foot.width.nominal.hypot(kit.foot.depth.nominal));
                }
                Law::Skew(..) => shifts(flat * 0.5 * kit.foot.width.nominal),
                Law::Slot(_) => shifts(0.5 / d),
                Law::Lean(end) => {
                    let reach = kit.link.holes[options[hole(end)]].nominal;
                    shifts(2.0 * cell.tilt * reach / (d * d));
                }
                // The axis is within `reach` of the line's middle, half the span from foot B.
                Law::ScrewOffset(_) => shifts(flat * (cell.reach + cell.half_span) + 2.0 / d),
                Law::Travel(_) => {
                    let turn = (1.0 + cell.tilt) / d;
                    let tilted = (2.0 + 6.0 * cell.tilt) / (d * d);
                    shifts(
                        tilted * cell.reach
                            + 2.0 * turn * (0.5 + cell.drop * turn)
                            + cell.drop * tilted,
                    );
                }
                Law::CavitySide(..)
                | Law::CavityTop(..)
                | Law::FootHeight(_)
                | Law::OverhangDifference(_)
                | Law::Level
                | Law::SealWidth => {}
            },
        }
        bend
    }
}

/// The shape of a part at these options.
pub fn shape_of(part: assembly::rig::RigPart, choice: &Choice, options: &Options) -> Shape {
    Scene::shape_of(part, choice, &super::space::placement(&[0.0; VARIABLES], options))
}
