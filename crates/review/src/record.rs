//! The record: what goes to disk.
//!
//! These types stand beside the domain types so that the written form changes only on purpose.
//! Lengths are millimetres and angles degrees, as the ends of the names say; bearings are
//! counter-clockwise from the hinge seen from above, clock positions have the hinge at 12. A bound
//! that does not exist (nothing is known on that side) is `null`. The same input gives the same
//! record, to the byte.

use crate::CAUTION;
use crate::guidance::Guidance;
use crate::land::Land;
use crate::proof::Certificate;
use crate::request::Request;
use crate::run::{CupResult, FittingReview, Review};
use crate::sealing::Sealing;
use crate::vary::Vary;
use crate::words;
use assembly::placement::{End, Side};
use assembly::rig::{self, RigPart};
use assembly::{CarTop, Choice, Kit, Placement};
use fitup::path::simple::Manner;
use fitup::{Assessment, Check, CupStudy, Part};
use measure::{Angle, Interval, LengthUnit};
use nalgebra::{Isometry3, Point3};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// The record's format. It grows by one whenever a field changes its meaning or goes away.
pub const FORMAT: u32 = 2;

/// What a review found, with what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// [`FORMAT`].
    pub format: u32,
    /// Version of the program that wrote it.
    pub program: String,
    /// The case.
    pub case: Case,
    /// The kit.
    pub kit: KitUsed,
    /// The kit's rules.
    pub rules: Rules,
    /// Pieces of the placement space looked at, at most, for one cup, one pair of ports and one set of
    /// pieces off; 0 in records of before it was written.
    #[serde(default)]
    pub pieces: usize,
    /// What is notable about the input.
    pub findings: Vec<Finding>,
    /// One entry for each fitting asked for.
    pub fittings: Vec<Fitting>,
    /// What to heed.
    pub cautions: Vec<String>,
}

/// What the caller knows of the input and the record states.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Inputs {
    /// Version of the program.
    pub program: String,
    /// The case document and every mesh file.
    pub case_files: Vec<InputFile>,
    /// The kit document.
    pub kit_files: Vec<InputFile>,
    /// What is notable about them.
    pub findings: Vec<Finding>,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InputFile {
    /// Path as given.
    pub path: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// The car top as its document names it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Case {
    /// Title.
    pub title: String,
    /// Unit in which its reader reads lengths.
    pub unit: Unit,
    /// Who measured.
    pub measured_by: String,
    /// When.
    pub measured_on: String,
    /// How.
    pub measured_how: String,
    /// What was read.
    pub files: Vec<InputFile>,
}

/// A unit of length for reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Unit {
    /// Inch.
    #[serde(rename = "in")]
    Inch,
    /// Millimetre.
    #[serde(rename = "mm")]
    Millimetre,
}

impl From<LengthUnit> for Unit {
    fn from(unit: LengthUnit) -> Self {
        match unit {
            LengthUnit::Inch => Self::Inch,
            LengthUnit::Millimetre => Self::Millimetre,
        }
    }
}

impl From<Unit> for LengthUnit {
    fn from(unit: Unit) -> Self {
        match unit {
            Unit::Inch => Self::Inch,
            Unit::Millimetre => Self::Millimetre,
        }
    }
}

/// The kit as its document names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KitUsed {
    /// Title.
    pub title: String,
    /// The cups that were asked for.
    pub cups: Vec<String>,
    /// What was read.
    pub files: Vec<InputFile>,
}

/// The kit's rules.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rules {
    /// Gap asked for where no line of `needs` says otherwise.
    pub need_otherwise_mm: f64,
    /// Gaps asked for between two kinds of parts.
    pub needs: Vec<Need>,
    /// Spacing asked for by the plan check.
    pub plan_spacing_mm: f64,
    /// Greatest departure from flat under the gasket.
    pub land_flatness_mm: f64,
    /// Least continuous width of bare flat plate under the gasket.
    pub land_seal_width_mm: f64,
    /// Greatest distance of the cup's axis from the bar's line.
    pub screw_offset_mm: f64,
    /// Greatest rise of the bar over its span.
    pub bar_level_mm: f64,
    /// Greatest difference of the overhangs.
    pub overhang_difference_mm: f64,
    /// Greatest lean of a link.
    pub link_lean_mm: f64,
    /// Greatest angle between a port's facing and the bar's line.
    pub foot_skew_deg: f64,
    /// Room asked for beyond a pin's head.
    pub pin_hand_room_mm: f64,
    /// How far parts that touch by design may overlap or stand apart.
    pub contact_mm: f64,
    /// Clearance asked for on the way of a part to its place.
    pub path_clearance_mm: f64,
    /// Room that a gloved hand takes: across the fingers, through the palm, along the fingers.
    pub hand_room_mm: [f64; 3],
}

/// A gap asked for between two kinds of parts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Need {
    /// The two kinds.
    pub between: [String; 2],
    /// The gap.
    pub gap_mm: f64,
}

/// Something notable about the input.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// The mesh or part it is about.
    pub about: String,
    /// The file, where it is one file.
    pub file: Option<String>,
    /// What was found.
    pub what: String,
    /// How many, where it can be counted.
    pub count: Option<usize>,
    /// One place where it is so, plate frame.
    pub at_mm: Option<[f64; 3]>,
    /// What to do about it.
    pub remedy: String,
}

/// Whether a fitting can be covered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Verdict {
    /// With nothing taken off but the covers of the ports used.
    #[serde(rename = "fits")]
    Fits,
    /// After the named pieces are taken off.
    #[serde(rename = "fits after removal")]
    FitsAfterRemoval,
    /// The data do not support a verdict.
    #[serde(rename = "cannot tell")]
    CannotTell,
    /// No placement keeps every margin.
    #[serde(rename = "does not fit")]
    DoesNotFit,
}

impl From<fitup::Verdict> for Verdict {
    fn from(verdict: fitup::Verdict) -> Self {
        match verdict {
            fitup::Verdict::Fits => Self::Fits,
            fitup::Verdict::FitsAfterRemoval => Self::FitsAfterRemoval,
            fitup::Verdict::CannotTell => Self::CannotTell,
            fitup::Verdict::DoesNotFit => Self::DoesNotFit,
        }
    }
}

impl Verdict {
    /// Whether the fitting can be covered.
    pub const fn is_fit(self) -> bool {
        matches!(self, Self::Fits | Self::FitsAfterRemoval)
    }
}

/// What a verdict rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// It holds for every placement.
    Proven,
    /// It holds for the placement shown: that one was measured.
    Measured,
    /// A search found nothing better; it is no proof.
    Searched,
}

/// What kept a verdict from being reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Doubt {
    /// Something is not given, or a mesh has holes.
    #[serde(rename = "data missing")]
    DataMissing,
    /// The deviations of the data are wider than the room to spare.
    #[serde(rename = "deviations too wide")]
    Deviations,
    /// No way in was found for a part, or no room for a hand.
    #[serde(rename = "not found")]
    Installation,
    /// The search looked at as many pieces of the placement space as it may; a longer one may decide.
    #[serde(rename = "search ended")]
    Effort,
}

impl From<fitup::Doubt> for Doubt {
    fn from(doubt: fitup::Doubt) -> Self {
        match doubt {
            fitup::Doubt::DataMissing => Self::DataMissing,
            fitup::Doubt::Deviations => Self::Deviations,
            fitup::Doubt::Installation => Self::Installation,
            fitup::Doubt::Effort => Self::Effort,
        }
    }
}

/// What was found for one fitting.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fitting {
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: String,
    /// Its nominal size.
    pub size: String,
    /// Whether it can be covered, with the best cup.
    pub verdict: Verdict,
    /// What that rests on.
    pub basis: Basis,
    /// The best cup.
    pub cup: Option<String>,
    /// What is taken off first, in order.
    pub removed: Vec<Removed>,
    /// The least margin with each of these on, and with it what comes off its fitting after it, at the
    /// best placement found near the one below; `null` where it could not be measured. Above zero where
    /// the piece is only in the way of a part that is brought in, or of a hand.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub least_margin_with_it_on_mm: Vec<Option<Bounds>>,
    /// Why it cannot be told.
    pub reasons: Vec<String>,
    /// What kind each of these reasons is of.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<Doubt>,
    /// The least margin at the placement.
    pub least_margin_mm: Option<Bounds>,
    /// The figure that limits: the one with the least lower bound; for "does not fit" the one that
    /// fails most surely.
    pub limit: Option<Margin>,
    /// No placement has a least margin above this; `null` when nothing is proven.
    pub upper_bound_mm: Option<f64>,
    /// The best placement found.
    pub placement: Option<Placed>,
    /// The outlet bearings that stay free there: from, to, counter-clockwise.
    pub free_bearings_deg: Vec<[f64; 2]>,
    /// For each of these arcs the figure that has run out just beyond either end; `null` where it has
    /// no ends.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub free_bearings_limits: Vec<[Option<Margin>; 2]>,
    /// Where the outlet may point when everything else is placed to suit, where it was looked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearings_overall: Option<BearingsOverall>,
    /// The land under the gasket there; `null` without a placement.
    #[serde(default)]
    pub land: Option<Land>,
    /// How each part reaches its place there, in the kit's order; empty where the rig does not keep
    /// every margin in its place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ways: Vec<Way>,
    /// Each check with its least margin.
    pub checks: Vec<CheckResult>,
    /// The plan check.
    pub plan: Plan,
    /// The plan check beside the verdict, in a sentence in the case's unit.
    pub plan_compared: String,
    /// Every cup asked for.
    pub cups: Vec<CupSummary>,
    /// Changes of the car top after which it would fit, where they were looked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guidance: Option<Guidance>,
    /// What the sealing mechanics came to, where they were asked for and a placement fits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sealing: Option<Sealing>,
    /// What as-built variations came to, where they were asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub variations: Option<Variations>,
}

/// The outlet bearings all round with the cup, the ports and the pieces off as chosen: arcs from, to,
/// counter-clockwise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BearingsOverall {
    /// At each of these some placement was found that fits in its place. Ways and hands were not
    /// looked at.
    pub free_deg: Vec<[f64; 2]>,
    /// It is proven that no placement surely fits at any of these.
    pub blocked_deg: Vec<[f64; 2]>,
    /// Neither was found within the effort.
    pub undecided_deg: Vec<[f64; 2]>,
}

/// As-built variations of a fitting's best choice, drawn evenly within tolerances and deviations.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Variations {
    /// Where the drawn numbers began.
    pub seed: u64,
    /// How many were drawn.
    pub draws: usize,
    /// Those that can be capped at the placement as planned.
    pub as_planned: Share,
    /// Those that can be capped there or at one near it.
    pub placed_anew: Share,
    /// How many cannot be told; they count as not capped.
    pub undecided: usize,
    /// What limits those that cannot be capped, the commonest first.
    pub limits: Vec<VariationLimit>,
}

/// A share of the draws, with the interval that holds the true share.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// How many.
    pub count: usize,
    /// Their share of all, from 0 to 1.
    pub share: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// The interval's level of confidence.
    pub confidence: f64,
}

/// A figure that drawn variations fall short of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VariationLimit {
    /// What was measured.
    pub rule: String,
    /// The first part.
    pub a: String,
    /// What it is measured against.
    pub b: String,
    /// How many fall short of it most.
    pub count: usize,
}

/// A piece that is taken off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Removed {
    /// The fitting it belongs to.
    pub fitting: String,
    /// Its name.
    pub piece: String,
}

/// An interval; a bound that does not exist is `null`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bounds {
    /// Lower bound.
    pub low: Option<f64>,
    /// Upper bound.
    pub high: Option<f64>,
}

impl From<Interval> for Bounds {
    fn from(interval: Interval) -> Self {
        Self { low: finite(interval.low), high: finite(interval.high) }
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// One figure of one check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Margin {
    /// The check it belongs to.
    pub check: String,
    /// What was measured.
    pub rule: String,
    /// The first part.
    pub a: String,
    /// What it is measured against.
    pub b: String,
    /// What the rule asks for.
    pub need_mm: f64,
    /// Whether `need_mm` is the most that is allowed, not the least.
    pub need_is_most: bool,
    /// What was measured; below zero for parts that run into each other.
    pub measured_mm: Bounds,
    /// What is left in the worst case; the verdict rests on it.
    pub margin_mm: Bounds,
    /// What is left when the causes of deviation are independent, by the root of the sum of squares.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margin_rss_mm: Option<Bounds>,
    /// The causes of deviation, the greatest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub causes: Vec<Cause>,
    /// Where: a point on `a` and one on `b`, plate frame.
    pub witness_mm: Option<[[f64; 3]; 2]>,
    /// Where, for people.
    pub place: Option<Place>,
}

/// What makes a figure uncertain.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cause {
    /// Its name: a dimension of the kit, a body of the car top, the ports' figures, a meshing.
    pub name: String,
    /// The most by which it can move the figure.
    pub bound_mm: f64,
}

/// A place seen from the housing's axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Clock position seen from above, hinge at 12.
    pub clock: String,
    /// Distance from the housing's axis.
    pub radius_mm: f64,
    /// Height above the sealing face.
    pub height_mm: f64,
}

/// One check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckResult {
    /// Its name.
    pub check: String,
    /// Its figure with the least lower bound; `null` when it measured nothing.
    pub least: Option<Margin>,
    /// What it could not tell.
    pub undecided: Vec<Undecided>,
}

/// Something that could not be told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Undecided {
    /// Why.
    pub reason: String,
    /// What to measure or state.
    pub remedy: String,
}

/// A placement as numbers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Placed {
    /// From the fitting's centreline to the cup's axis, plate frame: toward the hinge, and to the
    /// left of that seen from above.
    pub cup_offset_mm: [f64; 2],
    /// The way the side port points.
    pub outlet_bearing_deg: f64,
    /// The same as a clock position.
    pub outlet_clock: String,
    /// Turn of the elbow, clockwise seen from outside.
    pub elbow_turn_deg: f64,
    /// The same as a clock position.
    pub elbow_clock: String,
    /// The way the bar's end A points.
    pub bar_bearing_deg: f64,
    /// From midway between the feet to the bar's middle, toward A.
    pub bar_slide_mm: f64,
    /// From the bar's underside down to the ball's centre.
    pub screw_extension_mm: f64,
    /// The part of it beyond fully retracted.
    pub screw_travel_used_mm: f64,
    /// The screw's whole travel.
    pub screw_travel_mm: f64,
    /// Opening of the lid; `null` where no hinged lid is given.
    pub lid_opening_deg: Option<f64>,
    /// The two ends of the bar, A first.
    pub ends: [PlacedEnd; 2],
}

/// One end of the bar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlacedEnd {
    /// The port.
    pub port: String,
    /// Where the port lies, as a clock position.
    pub port_clock: String,
    /// The cover that is opened or taken off.
    pub cover: Option<String>,
    /// How far the foot stands from the port's middle; positive is counter-clockwise seen from
    /// above.
    pub foot_shift_mm: f64,
    /// Thickness of the link inside the sidewall.
    pub inside_link_mm: f64,
    /// Thickness of the link outside.
    pub outside_link_mm: f64,
    /// Upper hole used, from 1, the lowest.
    pub hole: usize,
    /// Distance of that hole from the lower one.
    pub hole_distance_mm: f64,
    /// Bar's overhang beyond the sidewall.
    pub overhang_mm: f64,
}

/// How a part, and what is carried with it, reaches its place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Way {
    /// The kit's step, from 1.
    pub step: usize,
    /// What is carried, the part that leads first.
    pub parts: Vec<String>,
    /// How it is carried, in a few words: `straight down`; `null` where no way was found.
    pub manner: Option<String>,
    /// Whether it took a search to find the way; where none was found, whether one was made.
    pub searched: bool,
    /// What is proven to be left everywhere on the way between the true surfaces of parts that do not
    /// touch by design: no further than the kit asks for.
    pub clearance_mm: Option<f64>,
    /// How far each part stands off from its place before it settles, plate frame; all along the way
    /// it stands off as much.
    pub settling_mm: Vec<[f64; 3]>,
    /// Where the parts are at the ends of the way's stretches, the far end first. After the last, which
    /// is no displacement, they settle.
    pub waypoints: Vec<Waypoint>,
}

/// A displacement of parts from where they settle, plate frame: `plate_from_part` there is this, times
/// the settling, times `plate_from_part` at the place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Waypoint {
    /// The shift of the plate frame's origin.
    pub shift_mm: [f64; 3],
    /// The turn as a unit quaternion: x, y, z, w.
    pub turn: [f64; 4],
}

/// The plan check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// Whether it passes; `null` when nothing else stands on the plate.
    pub passes: Option<bool>,
    /// The spacing asked for.
    pub asked_mm: f64,
    /// The least spacing, below zero where they overlap in plan.
    pub least_mm: Option<f64>,
    /// What it is to.
    pub to: Option<String>,
}

/// One cup in short.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CupSummary {
    /// The cup.
    pub cup: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// What that rests on.
    pub basis: Basis,
    /// What kept it from being told, each kind once.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<Doubt>,
    /// What is taken off first.
    pub removed: Vec<Removed>,
    /// The least margin at its best placement found.
    pub least_margin_mm: Option<Bounds>,
    /// No placement has a least margin above this; `null` when nothing is proven.
    pub upper_bound_mm: Option<f64>,
    /// What limits it.
    pub limit: Option<Margin>,
    /// Other least sets of pieces with which it fits as well.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instead: Vec<Instead>,
    /// How many placements were looked at.
    pub looked_at: usize,
    /// What proves the verdict or the upper bound, one for each pair of ports.
    pub certificates: Vec<Certificate>,
}

/// Another least set of pieces to take off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Instead {
    /// What is taken off.
    pub removed: Vec<Removed>,
    /// The lower end of the least margin with it.
    pub least_low_mm: f64,
}

impl Record {
    /// Writes down a review of a car top with a kit.
    pub fn of(review: &Review, car: &CarTop, kit: &Kit, request: &Request, inputs: Inputs) -> Self {
        let cups = request.cups.iter().filter_map(|&c| kit.cups.get(c));
        let asked = cups.map(|c| c.name.clone()).collect();
        Self {
            format: FORMAT,
            program: inputs.program,
            case: Case {
                title: car.title.clone(),
                unit: car.unit.into(),
                measured_by: car.measured.by.clone(),
                measured_on: car.measured.on.clone(),
                measured_how: car.measured.how.clone(),
                files: inputs.case_files,
            },
            kit: KitUsed { title: kit.title.clone(), cups: asked, files: inputs.kit_files },
            rules: Rules::of(&kit.rules),
            pieces: request.pieces,
            findings: inputs.findings,
            fittings: review.fittings.iter().filter_map(|f| Fitting::of(f, car, kit)).collect(),
            cautions: vec![CAUTION.into()],
        }
    }
}

impl Record {
    /// Adds what as-built variations came to.
    pub fn vary(&mut self, asked: Vary, all: &[crate::Variations], review: &Review, car: &CarTop) {
        for found in all {
            let Some(name) = car.fittings.get(found.fitting).map(|f| &f.name) else { continue };
            let choice = review.fittings.iter().find(|f| f.fitting == found.fitting);
            let choice = choice.and_then(|f| f.chosen()?.study.choice.as_ref());
            let names = Names { car, choice };
            let limit = |(limit, count): &(crate::Limit, usize)| VariationLimit {
                rule: limit.rule.word().into(),
                a: names.part(limit.a),
                b: names.part(limit.b),
                count: *count,
            };
            let variations = Variations {
                seed: asked.seed,
                draws: found.as_planned.of,
                as_planned: found.as_planned.into(),
                placed_anew: found.placed_anew.into(),
                undecided: found.undecided,
                limits: found.limits.iter().map(limit).collect(),
            };
            if let Some(fitting) = self.fittings.iter_mut().find(|f| f.name == *name) {
                fitting.variations = Some(variations);
            }
        }
    }
}

impl Record {
    /// Adds where the outlet may point overall, by the fittings' indices.
    pub fn turn(&mut self, all: &[(usize, fitup::search::Bearings)], car: &CarTop) {
        for (fitting, bearings) in all {
            let Some(name) = car.fittings.get(*fitting).map(|f| &f.name) else { continue };
            if let Some(fitting) = self.fittings.iter_mut().find(|f| f.name == *name) {
                fitting.bearings_overall = Some(BearingsOverall::of(bearings));
            }
        }
    }
}

impl BearingsOverall {
    fn of(bearings: &fitup::search::Bearings) -> Self {
        let degrees =
            |arcs: &[[Angle; 2]]| arcs.iter().map(|arc| arc.map(Angle::degrees)).collect();
        Self {
            free_deg: degrees(&bearings.free),
            blocked_deg: degrees(&bearings.blocked),
            undecided_deg: degrees(&bearings.undecided),
        }
    }
}

impl From<crate::Share> for Share {
    fn from(share: crate::Share) -> Self {
        let (count, of) = (share.count, share.of);
        let (low, high) = (share.low, share.high);
        Self { count, share: count as f64 / of as f64, low, high, confidence: crate::CONFIDENCE }
    }
}

impl Rules {
    fn of(rules: &assembly::kit::Rules) -> Self {
        let needs = rules.needs.iter().map(|need| Need {
            between: [need.between.0.word().into(), need.between.1.word().into()],
            gap_mm: need.gap,
        });
        Self {
            need_otherwise_mm: rules.need_otherwise,
            needs: needs.collect(),
            plan_spacing_mm: rules.plan_spacing,
            land_flatness_mm: rules.land_flatness,
            land_seal_width_mm: rules.land_seal_width,
            screw_offset_mm: rules.screw_offset,
            bar_level_mm: rules.bar_level,
            overhang_difference_mm: rules.overhang_difference,
            link_lean_mm: rules.link_lean,
            foot_skew_deg: rules.foot_skew.degrees(),
            pin_hand_room_mm: rules.pin_hand_room,
            contact_mm: rules.contact,
            path_clearance_mm: rules.path_clearance,
            hand_room_mm: rules.hand_room,
        }
    }
}

impl Fitting {
    fn of(found: &FittingReview, car: &CarTop, kit: &Kit) -> Option<Self> {
        let fitting = car.fittings.get(found.fitting)?;
        let study = found.chosen().map(|c| &c.study);
        let names = Names { car, choice: study.and_then(|s| s.choice.as_ref()) };
        let least_plan = found.plan.least();
        let verdict = found.verdict();
        let basis = match verdict {
            fitup::Verdict::DoesNotFit if found.is_proven_not_to_fit() => Basis::Proven,
            fitup::Verdict::DoesNotFit => Basis::Searched,
            _ => study.map_or(Basis::Searched, basis_of),
        };
        let mut record = Self {
            name: fitting.name.clone(),
            kind: fitting.kind.word().into(),
            size: fitting.size.clone(),
            verdict: verdict.into(),
            basis,
            cup: found.chosen().and_then(|c| cup_name(kit, c)),
            removed: names.removed(),
            least_margin_with_it_on_mm: found
                .gains
                .iter()
                .map(|gain| gain.with_it_on.map(Bounds::from))
                .collect(),
            reasons: study.iter().flat_map(|s| &s.reasons).map(|r| r.why.clone()).collect(),
            doubts: study.iter().flat_map(|s| &s.reasons).map(|r| r.doubt.into()).collect(),
            least_margin_mm: study.and_then(CupStudy::least).map(Bounds::from),
            limit: study.and_then(limit_of).map(|m| names.margin(m)),
            upper_bound_mm: study.and_then(|s| finite(s.upper_bound)),
            placement: study
                .and_then(|s| Placed::of(car, kit, s.choice.as_ref()?, s.placement.as_ref()?)),
            free_bearings_deg: found
                .free_bearings
                .iter()
                .map(|arc| arc.ends.map(Angle::degrees))
                .collect(),
            free_bearings_limits: found
                .free_bearings
                .iter()
                .map(|arc| arc.limits.each_ref().map(|m| m.as_ref().map(|m| names.margin(m))))
                .collect(),
            bearings_overall: None,
            land: found.land.as_ref().map(|l| Land::of(l, &names)),
            ways: study.map(|s| s.ways.iter().map(|w| names.way(w)).collect()).unwrap_or_default(),
            checks: study
                .and_then(|s| s.assessment.as_ref())
                .map(|a| names.checks(a))
                .unwrap_or_default(),
            plan: Plan {
                passes: least_plan.map(|p| p.spacing >= found.plan.asked),
                asked_mm: found.plan.asked,
                least_mm: least_plan.map(|p| p.spacing),
                to: least_plan.map(|p| p.name.clone()),
            },
            plan_compared: String::new(),
            cups: found.cups.iter().filter_map(|c| CupSummary::of(c, car, kit)).collect(),
            variations: None,
            guidance: None,
            sealing: None,
        };
        record.plan_compared = words::plan_compared(&record, car.unit);
        Some(record)
    }
}

impl CupSummary {
    fn of(result: &CupResult, car: &CarTop, kit: &Kit) -> Option<Self> {
        let study = &result.study;
        let names = Names { car, choice: study.choice.as_ref() };
        let doubts: BTreeSet<fitup::Doubt> = study.reasons.iter().map(|r| r.doubt).collect();
        Some(Self {
            cup: cup_name(kit, result)?,
            verdict: study.verdict.into(),
            basis: basis_of(study),
            doubts: doubts.into_iter().map(Doubt::from).collect(),
            removed: names.removed(),
            least_margin_mm: study.least().map(Bounds::from),
            upper_bound_mm: finite(study.upper_bound),
            limit: limit_of(study).map(|m| names.margin(m)),
            instead: study
                .alternatives
                .iter()
                .map(|a| Instead { removed: removed_names(car, &a.removed), least_low_mm: a.least })
                .collect(),
            looked_at: study.looked_at,
            certificates: study
                .proofs
                .iter()
                .filter_map(|(choice, proof)| Certificate::of(proof, choice, car))
                .collect(),
        })
    }
}

/// Removable pieces by their names.
pub(crate) fn removed_names(
    car: &CarTop,
    removed: &[assembly::placement::Removed],
) -> Vec<Removed> {
    let name = |r: &assembly::placement::Removed| {
        let fitting = car.fittings.get(r.fitting)?;
        let piece = fitting.removables.get(r.removable)?.name.clone();
        Some(Removed { fitting: fitting.name.clone(), piece })
    };
    removed.iter().filter_map(name).collect()
}

fn cup_name(kit: &Kit, result: &CupResult) -> Option<String> {
    kit.cups.get(result.cup).map(|c| c.name.clone())
}

fn basis_of(study: &CupStudy) -> Basis {
    match study.verdict {
        fitup::Verdict::Fits | fitup::Verdict::FitsAfterRemoval => Basis::Measured,
        fitup::Verdict::DoesNotFit if study.proven => Basis::Proven,
        fitup::Verdict::DoesNotFit | fitup::Verdict::CannotTell => Basis::Searched,
    }
}

fn limit_of(study: &CupStudy) -> Option<&fitup::Margin> {
    let assessment = study.assessment.as_ref()?;
    let failure = match study.verdict {
        fitup::Verdict::DoesNotFit => assessment.surest_failure(),
        _ => None,
    };
    failure.or_else(|| assessment.limit())
}

/// The least figure of a check. A tolerance that is kept counts only where there is nothing else: it
/// is no room to spare.
pub(crate) fn least_of(margins: &[fitup::Margin]) -> Option<&fitup::Margin> {
    let counts = |m: &&fitup::Margin| !m.rule.is_tolerance() || m.may_be_broken();
    margins.iter().find(counts).or_else(|| margins.first())
}

/// Names for people.
pub(crate) struct Names<'a> {
    pub(crate) car: &'a CarTop,
    pub(crate) choice: Option<&'a Choice>,
}

impl Names<'_> {
    /// The name of a part.
    pub(crate) fn part(&self, part: Part) -> String {
        match part {
            Part::Car(id) => self.car.body(id).body.name.clone(),
            Part::Rig(part) => self.rig_part(part),
        }
    }

    /// The name of a part of the rig, with the names of the ports that its ends stand in.
    pub(crate) fn rig_part(&self, part: RigPart) -> String {
        let port = |end: End| {
            self.choice
                .and_then(|c| self.car.ports.get(c.ports[end.index()]))
                .map_or("its port", |p| p.name.as_str())
        };
        part.name([port(End::A), port(End::B)])
    }

    fn removed(&self) -> Vec<Removed> {
        removed_names(self.car, self.choice.map(|c| c.removed.as_slice()).unwrap_or_default())
    }

    pub(crate) fn margin(&self, margin: &fitup::Margin) -> Margin {
        Margin {
            check: margin.check.word().into(),
            rule: margin.rule.word().into(),
            a: self.part(margin.a),
            b: self.part(margin.b),
            need_mm: margin.need,
            need_is_most: margin.rule.is_tolerance(),
            measured_mm: margin.measured.into(),
            margin_mm: margin.margin.into(),
            margin_rss_mm: Some(margin.root_sum_square.into()),
            causes: margin.stack.causes().into_iter().map(Cause::of).collect(),
            witness_mm: margin.witness.map(|w| w.map(coordinates)),
            place: margin.witness.map(|w| Place::of(&w[0])),
        }
    }

    fn way(&self, way: &fitup::path::Way) -> Way {
        let parts = way.lift.parts.iter().map(|part| self.rig_part(*part)).collect();
        let clear = way.found.as_ref().ok();
        Way {
            step: way.lift.step + 1,
            parts,
            manner: clear.map(|c| c.manner.words().into()),
            searched: match &way.found {
                Ok(clear) => clear.manner == Manner::Searched,
                Err(blocked) => blocked.searched,
            },
            clearance_mm: clear.and_then(|c| finite(c.clearance)),
            settling_mm: clear.iter().flat_map(|c| &c.retreats).map(|r| (*r).into()).collect(),
            waypoints: clear
                .map(|c| c.route.waypoints().iter().map(Waypoint::of).collect())
                .unwrap_or_default(),
        }
    }

    fn checks(&self, assessment: &Assessment) -> Vec<CheckResult> {
        let one = |check: &Check| {
            let outcome = assessment.outcomes.iter().find(|o| o.check == *check)?;
            let undecided = outcome
                .undecided
                .iter()
                .map(|u| Undecided { reason: u.reason.clone(), remedy: u.remedy.clone() });
            Some(CheckResult {
                check: check.word().into(),
                least: least_of(&outcome.margins).map(|m| self.margin(m)),
                undecided: undecided.collect(),
            })
        };
        Check::ALL.iter().filter_map(one).collect()
    }
}

impl Margin {
    /// The written form of a figure measured under a choice.
    pub fn of(margin: &fitup::Margin, car: &CarTop, choice: &Choice) -> Self {
        Names { car, choice: Some(choice) }.margin(margin)
    }
}

impl Cause {
    fn of((name, bound): (&str, f64)) -> Self {
        Self { name: name.into(), bound_mm: bound }
    }
}

fn coordinates(point: Point3<f64>) -> [f64; 3] {
    [point.x, point.y, point.z]
}

impl Waypoint {
    fn of(displacement: &Isometry3<f64>) -> Self {
        let shift = displacement.translation.vector;
        let turn = displacement.rotation.coords;
        Self { shift_mm: shift.into(), turn: turn.into() }
    }
}

impl Place {
    fn of(point: &Point3<f64>) -> Self {
        let bearing = Angle::from_radians(point.y.atan2(point.x));
        Self {
            clock: bearing.show_clock(),
            radius_mm: point.xy().coords.norm(),
            height_mm: point.z,
        }
    }
}

impl Placed {
    fn of(car: &CarTop, kit: &Kit, choice: &Choice, placement: &Placement) -> Option<Self> {
        let pose = rig::pose(kit, car, choice, placement)?;
        let end = |end: End| -> Option<PlacedEnd> {
            let i = end.index();
            let port = car.ports.get(choice.ports[i])?;
            let link = |side: Side| {
                let index = placement.link_thickness[i][side.index()];
                kit.link.thicknesses.get(index).map(|t| t.nominal)
            };
            let hole = placement.link_hole[i];
            Some(PlacedEnd {
                port: port.name.clone(),
                port_clock: Angle::from_radians(port.at.y.atan2(port.at.x)).show_clock(),
                cover: port.cover.map(|id| car.body(id).body.name.clone()),
                foot_shift_mm: placement.foot_shift[i],
                inside_link_mm: link(Side::Inside)?,
                outside_link_mm: link(Side::Outside)?,
                hole: hole + 1,
                hole_distance_mm: kit.link.holes.get(hole)?.nominal,
                overhang_mm: pose.overhang[i],
            })
        };
        let along = pose.line.along;
        let hinged = matches!(car.lid, assembly::car_top::LidState::Hinged(_));
        Some(Self {
            cup_offset_mm: [placement.cup_offset.x, placement.cup_offset.y],
            outlet_bearing_deg: turn(placement.outlet_bearing),
            outlet_clock: placement.outlet_bearing.show_clock(),
            elbow_turn_deg: placement.elbow_turn.degrees(),
            // Clockwise from 12 seen from outside: a bearing the other way round.
            elbow_clock: Angle::from_radians(-placement.elbow_turn.radians()).show_clock(),
            bar_bearing_deg: turn(Angle::from_radians(along.y.atan2(along.x))),
            bar_slide_mm: placement.bar_slide,
            screw_extension_mm: placement.screw_extension,
            screw_travel_used_mm: placement.screw_extension - kit.screw.retracted.nominal,
            screw_travel_mm: kit.screw.travel.nominal,
            lid_opening_deg: hinged.then(|| placement.lid_opening.degrees()),
            ends: [end(End::A)?, end(End::B)?],
        })
    }
}

/// A bearing in degrees from 0 up to 360.
pub(crate) fn turn(bearing: Angle) -> f64 {
    let degrees = bearing.degrees().rem_euclid(360.0);
    if degrees < 360.0 { degrees } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bound_that_does_not_exist_is_null_and_reads_back() {
        let bounds = Bounds::from(Interval { low: 0.1, high: f64::INFINITY });
        let text = serde_json::to_string(&bounds).unwrap();
        assert_eq!(text, r#"{"low":0.1,"high":null}"#);
        assert_eq!(serde_json::from_str::<Bounds>(&text).unwrap(), bounds);
    }

    #[test]
    fn verdicts_are_written_as_their_words() {
        for verdict in [
            fitup::Verdict::Fits,
            fitup::Verdict::FitsAfterRemoval,
            fitup::Verdict::CannotTell,
            fitup::Verdict::DoesNotFit,
        ] {
            let written = serde_json::to_value(Verdict::from(verdict)).unwrap();
            assert_eq!(written, verdict.words());
        }
    }

    #[test]
    fn places_are_told_from_the_hinge() {
        let place = Place::of(&Point3::new(0.0, -30.0, 5.0));
        assert_eq!(place.clock, "3 o'clock");
        assert!((place.radius_mm - 30.0).abs() < 1e-12 && (place.height_mm - 5.0).abs() < 1e-12);
    }

    #[test]
    fn bearings_are_written_within_one_turn() {
        assert!((turn(Angle::from_degrees(-90.0)) - 270.0).abs() < 1e-9);
        assert!(turn(Angle::from_radians(-1e-18)).abs() < 1e-9);
    }
}
