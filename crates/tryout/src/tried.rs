//! One placement measured.

use assembly::{Choice, Placement};
use fitup::{Assessment, Check, Memory, Part, Scene, Situation, Stand, Undecided, assess};
use measure::Interval;
use nalgebra::Point3;
use review::record::Margin;

/// A rig set up: what is chosen and how it is placed.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Fitting, cup, ports, what is off.
    pub choice: Choice,
    /// The numbers that pose the rig.
    pub placement: Placement,
}

/// What was measured at a placement.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    /// What was set up.
    pub setup: Setup,
    /// How it stands.
    pub stand: Stand,
    /// The least margin, as [`Assessment::least`] has it, mm; `None` when nothing was measured.
    pub least: Option<Interval>,
    /// What limits: the margin that is surest to be short, or else the one with the least lower end.
    pub limit: Option<Row>,
    /// Every margin, the least first.
    pub rows: Vec<Row>,
    /// What cannot be told.
    pub undecided: Vec<Undecided>,
}

/// How one margin stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum RowState {
    /// Surely short.
    Short,
    /// Short or not, within the deviations.
    MayBeShort,
    /// Surely kept.
    Kept,
}

/// One margin, for a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The check it belongs to.
    pub check: Check,
    /// Between these parts; a figure about one part has it twice.
    pub parts: [Part; 2],
    /// How it stands.
    pub state: RowState,
    /// What is left in the worst case, mm.
    pub margin: Interval,
    /// Where: a point on either part, plate frame, mm.
    pub witness: Option<[Point3<f64>; 2]>,
    /// The figure as the record has it, for [`review::words`].
    pub told: Margin,
}

impl Row {
    pub(crate) fn of(scene: &Scene<'_>, choice: &Choice, margin: &fitup::Margin) -> Self {
        let state = match margin.may_be_broken() {
            true if margin.margin.high < 0.0 => RowState::Short,
            true => RowState::MayBeShort,
            false => RowState::Kept,
        };
        Self {
            check: margin.check,
            parts: [margin.a, margin.b],
            state,
            margin: margin.margin,
            witness: margin.witness,
            told: Margin::of(margin, scene.car, choice),
        }
    }
}

/// Measures a placement by [`assess`], the function on which a review rests. `None` when the choice does
/// not define a bar line, see [`assembly::rig::pose`].
pub fn recheck(scene: &Scene<'_>, setup: &Setup) -> Option<Tried> {
    let situation = Situation::new(scene, &setup.choice, &setup.placement)?;
    Some(Tried::of(scene, setup, &assess(&situation)))
}

/// The same, where what stands to each other as it did in one of the last setups is not measured again.
pub fn recheck_again<'s>(memory: &'s Memory<'s>, setup: &'s Setup) -> Option<Tried> {
    let situation = Situation::with_memory(memory, &setup.choice, &setup.placement)?;
    Some(Tried::of(situation.scene, setup, &assess(&situation)))
}

impl Tried {
    /// What an assessment says of what is set up.
    pub(crate) fn of(scene: &Scene<'_>, setup: &Setup, assessment: &Assessment) -> Self {
        let undecided: Vec<Undecided> = assessment.undecided().cloned().collect();
        let failure = assessment.surest_failure();
        let row = |margin: &fitup::Margin| Row::of(scene, &setup.choice, margin);
        let mut margins: Vec<&fitup::Margin> =
            assessment.outcomes.iter().flat_map(|o| &o.margins).collect();
        margins.sort_by(|a, b| a.margin.low.total_cmp(&b.margin.low));
        Self {
            setup: setup.clone(),
            stand: assessment.stand(),
            least: assessment.least(),
            limit: failure.or_else(|| assessment.limit()).map(row),
            rows: margins.into_iter().map(row).collect(),
            undecided,
        }
    }
}
