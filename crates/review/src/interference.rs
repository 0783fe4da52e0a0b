//! Where two parts run into each other, as something to be drawn.

use crate::record::{Names, least_of};
use assembly::{Choice, Placement};
use fitup::{CupStudy, Margin, Meeting, Part, Rule, Scene, Situation};
use solids::{Mesh, Polyline};

/// Where two parts run into each other. By their meshes alone: whether they do within the deviations,
/// the figure tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Interference {
    /// The check whose figure it is, by its word.
    pub check: &'static str,
    /// The names of the two parts, as in the record.
    pub parts: [String; 2],
    /// The lines along which their surfaces cross, plate frame, mm; none where one part is inside the
    /// other.
    pub lines: Vec<Polyline>,
    /// What both fill, plate frame, mm; `None` where a surface is open, or it could not be made.
    pub volume: Option<Mesh>,
}

/// Where two parts run into each other at a placement; `None` where they do not, or where neither a
/// line nor a body can be told.
pub fn interference(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    [a, b]: [Part; 2],
) -> Option<Meeting> {
    Situation::new(scene, choice, placement)?.meeting(a, b)
}

/// The interferences behind a study's figures, in the order of its checks: of each check the gap with
/// the least margin, which is the one that the record and the marks show, where the parts overlap.
pub fn interferences(scene: &Scene<'_>, study: &CupStudy) -> Vec<Interference> {
    let (Some(choice), Some(placement)) = (&study.choice, &study.placement) else {
        return Vec::new();
    };
    let Some(situation) = Situation::new(scene, choice, placement) else { return Vec::new() };
    let names = Names { car: scene.car, choice: Some(choice) };
    let overlaps = |m: &&Margin| m.rule == Rule::Gap && m.measured.low < 0.0;
    let outcomes = study.assessment.iter().flat_map(|assessment| &assessment.outcomes);
    let least = outcomes.filter_map(|outcome| least_of(&outcome.margins)).filter(overlaps);
    let one = |margin: &Margin| {
        let Meeting { lines, shared } = situation.meeting(margin.a, margin.b)?;
        let parts = [margin.a, margin.b].map(|part| names.part(part));
        Some(Interference { check: margin.check.word(), parts, lines, volume: shared })
    };
    least.filter_map(one).collect()
}
