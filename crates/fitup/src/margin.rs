//! What a check measured, and how much it has to spare.

use assembly::CarTop;
use assembly::car_top::BodyId;
use assembly::rig::RigPart;
use measure::{Interval, Stack};
use nalgebra::Point3;

/// The checks, in the order of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Check {
    /// The cup's inside clears the fitting.
    Cover,
    /// The gasket lies on bare flat plate.
    Land,
    /// Cup and outlet clear everything else on the plate.
    Neighbours,
    /// Cup and outlet clear sidewall, lid and hinge.
    Housing,
    /// The clamp bar clears everything and overhangs evenly.
    Bar,
    /// The links clear sidewall, ports and hinge, and stand upright.
    Links,
    /// The feet seat in their ports, the pins go in.
    Feet,
    /// The screw stands over the seat, square and within its travel.
    Screw,
    /// Every part can be carried to its place, in the kit's order.
    Lowering,
    /// Hands find room where something is held, pushed or turned.
    Access,
}

impl Check {
    /// Every check, in order.
    pub const ALL: [Self; 10] = [
        Self::Cover,
        Self::Land,
        Self::Neighbours,
        Self::Housing,
        Self::Bar,
        Self::Links,
        Self::Feet,
        Self::Screw,
        Self::Lowering,
        Self::Access,
    ];

    /// Whether it is of the rig in its place: on those the placement search and its proof rest.
    pub const fn is_in_place(self) -> bool {
        !matches!(self, Self::Lowering | Self::Access)
    }

    /// Its name in output.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cover => "cover",
            Self::Land => "land",
            Self::Neighbours => "neighbours",
            Self::Housing => "housing",
            Self::Bar => "bar",
            Self::Links => "links",
            Self::Feet => "feet and pins",
            Self::Screw => "screw",
            Self::Lowering => "lowering",
            Self::Access => "access",
        }
    }
}

/// One of the two parts that a margin is between.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// A part of the rig, or a space that it sweeps.
    Rig(RigPart),
    /// A body of the car top.
    Car(BodyId),
}

impl Part {
    /// Whether it is space of the car top into which nobody saw: it may be smaller than it is meshed, or
    /// nothing, and no margin to it has an upper end.
    pub fn is_unseen(self, car: &CarTop) -> bool {
        matches!(self, Self::Car(id) if car.is_unseen(id))
    }
}

/// What kind of figure a margin is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Rule {
    /// A gap between two parts.
    Gap,
    /// Parts that touch by design: how far they overlap or stand apart.
    Contact,
    /// A fitting must lie within the cup's cavity: its width or height against the cavity's.
    Cavity,
    /// Departure of the plate from its best-fit plane under the gasket.
    Flatness,
    /// Narrowest continuous width of bare flat plate under the gasket.
    SealWidth,
    /// Difference between the bar's two overhangs.
    OverhangDifference,
    /// How far the bar's slot reaches past an outside link.
    Overhang,
    /// Height difference between the bar's ends.
    Level,
    /// Distance between a link's pins seen from above.
    Lean,
    /// A foot's turn out of its port's facing, as distance at the foot's corner.
    Skew,
    /// Distance of a foot's side from the port's side.
    FootInPort,
    /// Distance between the cup's axis and the bar's centre line.
    ScrewOffset,
    /// Travel left at the nearer end of the screw's travel.
    Travel,
    /// Clearance proven on the way of a part to its place, against none at all. It is proven no
    /// further than the kit asks for, and so is no room to spare.
    OnTheWay,
    /// Gap around the room that a gloved hand takes.
    HandRoom,
}

impl Rule {
    /// What was measured, in a few words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gap => "gap",
            Self::Contact => "contact",
            Self::Cavity => "room inside the cup",
            Self::Flatness => "flatness under the gasket",
            Self::SealWidth => "narrowest seal width",
            Self::OverhangDifference => "difference of overhangs",
            Self::Overhang => "slot beyond the outside link",
            Self::Level => "bar out of level",
            Self::Lean => "link out of upright",
            Self::Skew => "foot out of square",
            Self::FootInPort => "foot beside port edge",
            Self::ScrewOffset => "screw off the cup's axis",
            Self::Travel => "screw travel left",
            Self::OnTheWay => "clearance on the way",
            Self::HandRoom => "gap around a gloved hand",
        }
    }

    /// Whether the need is an upper limit on what is measured (a tolerance) instead of a least
    /// value.
    pub const fn is_tolerance(self) -> bool {
        matches!(
            self,
            Self::Contact
                | Self::Flatness
                | Self::OverhangDifference
                | Self::Level
                | Self::Lean
                | Self::Skew
                | Self::ScrewOffset
        )
    }
}

/// How much one figure of one check has to spare.
#[derive(Debug, Clone, PartialEq)]
pub struct Margin {
    /// The check it belongs to.
    pub check: Check,
    /// What was measured.
    pub rule: Rule,
    /// The part of the rig (or the first part) concerned.
    pub a: Part,
    /// What it is measured against.
    pub b: Part,
    /// What the rule asks for, mm: a least value, or a tolerance (see [`Rule::is_tolerance`]).
    pub need: f64,
    /// What was measured, mm; below zero for parts that run into each other.
    pub measured: Interval,
    /// What is left in the worst case, mm; below zero when the rule is broken. The verdict rests on
    /// it.
    pub margin: Interval,
    /// What is left when the causes of deviation are independent, mm; within `margin`.
    pub root_sum_square: Interval,
    /// The causes of deviation.
    pub stack: Stack,
    /// Where, plate frame: a point on `a` and one on `b`.
    pub witness: Option<[Point3<f64>; 2]>,
}

impl Margin {
    /// Whether it may be broken: no room is surely left, or a tolerance is not surely kept.
    pub fn may_be_broken(&self) -> bool {
        if self.rule.is_tolerance() { self.margin.low < -ROUNDING } else { self.margin.low <= 0.0 }
    }

    /// The same with no upper end: what it is measured against may be smaller than it is meshed.
    pub(crate) const fn or_more(mut self) -> Self {
        self.measured.high = f64::INFINITY;
        self.margin.high = f64::INFINITY;
        self.root_sum_square.high = f64::INFINITY;
        self
    }

    /// A margin with `need` as the least allowed value of what was measured by the nominal figures.
    pub(crate) fn at_least(
        (check, rule): (Check, Rule),
        (a, b): (Part, Part),
        need: f64,
        (nominal, stack): (Interval, Stack),
        witness: Option<[Point3<f64>; 2]>,
    ) -> Self {
        let measured = nominal.widened(stack.worst());
        let margin = measured - Interval::exactly(need);
        let root_sum_square = nominal.widened(stack.root_sum_square()) - Interval::exactly(need);
        Self { check, rule, a, b, need, measured, margin, root_sum_square, stack, witness }
    }

    /// A margin with `tolerance` as the greatest allowed value of a departure, `>= 0`.
    pub(crate) fn at_most(
        (check, rule): (Check, Rule),
        (a, b): (Part, Part),
        tolerance: f64,
        (nominal, stack): (Interval, Stack),
        witness: Option<[Point3<f64>; 2]>,
    ) -> Self {
        let measured = departure(nominal, stack.worst());
        let margin = Interval::exactly(tolerance) - measured;
        let root_sum_square =
            Interval::exactly(tolerance) - departure(nominal, stack.root_sum_square());
        let need = tolerance;
        Self { check, rule, a, b, need, measured, margin, root_sum_square, stack, witness }
    }
}

/// A tolerance that is missed by no more than this is kept, mm: rounding of figures below a metre. The
/// best placement often stands on the edge of one.
const ROUNDING: f64 = 1e-9;

/// A departure that is not negative, mm, known within a bound.
fn departure(nominal: Interval, deviation: f64) -> Interval {
    let bounds = nominal.widened(deviation);
    Interval { low: bounds.low.max(0.0), ..bounds }
}

/// A check, or a part of one, that cannot be told from the data.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Undecided {
    /// The check concerned.
    pub check: Check,
    /// Why.
    pub reason: String,
    /// What to measure or state.
    pub remedy: String,
}
