//! The plan check beside the result in 3D.

use assembly::{CarTop, Kit};
use fitup::{PlanSpacing, Verdict, plan_spacing};

/// The plan check of one fitting.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanReview {
    /// The spacing asked for, mm.
    pub asked: f64,
    /// What was measured, least first.
    pub spacings: Vec<PlanSpacing>,
}

/// How the plan check stands to the verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlanAnswer {
    /// Nothing else stands on the plate.
    NothingToMeasure,
    /// It passes and the fitting can be covered.
    BothPass,
    /// It fails and the fitting cannot be covered.
    BothFail,
    /// It passes but the fitting cannot be covered: it misses something.
    Misses,
    /// It passes but the verdict cannot be told.
    PassesUndecided,
    /// It fails but the fitting can be covered.
    Stricter,
    /// It fails but the verdict cannot be told.
    FailsUndecided,
}

impl PlanReview {
    /// The plan check of a fitting, by index in the car top.
    pub(crate) fn of(car: &CarTop, kit: &Kit, fitting: usize) -> Self {
        let spacings = plan_spacing(car, fitting).unwrap_or_default();
        Self { asked: kit.rules.plan_spacing, spacings }
    }

    /// The least spacing.
    pub fn least(&self) -> Option<&PlanSpacing> {
        self.spacings.first()
    }

    /// How it stands to a verdict.
    pub fn against(&self, verdict: Verdict) -> PlanAnswer {
        let Some(least) = self.least() else { return PlanAnswer::NothingToMeasure };
        match (least.spacing >= self.asked, verdict) {
            (true, Verdict::Fits | Verdict::FitsAfterRemoval) => PlanAnswer::BothPass,
            (true, Verdict::DoesNotFit) => PlanAnswer::Misses,
            (true, Verdict::CannotTell) => PlanAnswer::PassesUndecided,
            (false, Verdict::Fits | Verdict::FitsAfterRemoval) => PlanAnswer::Stricter,
            (false, Verdict::DoesNotFit) => PlanAnswer::BothFail,
            (false, Verdict::CannotTell) => PlanAnswer::FailsUndecided,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use assembly::car_top::BodyId;
    use fitup::Part;

    #[test]
    fn stands_to_the_verdict() {
        let plan = |spacing: f64| PlanReview {
            asked: 19.05,
            spacings: vec![PlanSpacing {
                to: Part::Car(BodyId(0)),
                name: "VV1 flange".into(),
                spacing,
            }],
        };
        assert_eq!(plan(19.05).against(Verdict::Fits), PlanAnswer::BothPass);
        assert_eq!(plan(30.0).against(Verdict::DoesNotFit), PlanAnswer::Misses);
        assert_eq!(plan(19.0).against(Verdict::FitsAfterRemoval), PlanAnswer::Stricter);
        assert_eq!(plan(-1.0).against(Verdict::DoesNotFit), PlanAnswer::BothFail);
        assert_eq!(plan(-1.0).against(Verdict::CannotTell), PlanAnswer::FailsUndecided);
        let nothing = PlanReview { asked: 19.05, spacings: vec![] };
        assert_eq!(nothing.against(Verdict::Fits), PlanAnswer::NothingToMeasure);
    }
}
