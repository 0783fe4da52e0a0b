//! The run over fittings and cups, and the choice among cups.

use crate::plan::PlanReview;
use crate::request::{PIECES, Request};
use assembly::parts::PartError;
use assembly::{CarTop, Kit};
use fitup::search::{FreeArc, free_arcs};
use fitup::{
    CupStudy, Effort, Gain, LandStrip, Scene, Situation, Verdict, gains, land_strip, study_cup,
};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// How far a run has come: pairs of fitting and cup, or variations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Those that are done.
    pub done: usize,
    /// Those in all.
    pub total: usize,
}

/// What was found for one fitting and one cup.
#[derive(Debug, Clone, PartialEq)]
pub struct CupResult {
    /// Index into [`Kit::cups`].
    pub cup: usize,
    /// The study.
    pub study: CupStudy,
}

/// What was found for one fitting.
#[derive(Debug, Clone, PartialEq)]
pub struct FittingReview {
    /// Index into [`CarTop::fittings`].
    pub fitting: usize,
    /// One result for each cup asked for, in the kit's order.
    pub cups: Vec<CupResult>,
    /// Index into `cups` of the best; `None` when no cup was asked for.
    pub best: Option<usize>,
    /// The outlet bearings that stay free at the best cup's placement. Empty unless that cup fits.
    pub free_bearings: Vec<FreeArc>,
    /// What each piece that is taken off gains there. Empty unless that cup fits.
    pub gains: Vec<Gain>,
    /// The land under the gasket at the best cup's placement.
    pub land: Option<LandStrip>,
    /// The plan check beside the result.
    pub plan: PlanReview,
}

impl FittingReview {
    /// The best cup's result.
    pub fn chosen(&self) -> Option<&CupResult> {
        self.cups.get(self.best?)
    }

    /// The verdict: the best cup's. "Cannot tell" when no cup was asked for.
    pub fn verdict(&self) -> Verdict {
        self.chosen().map_or(Verdict::CannotTell, |c| c.study.verdict)
    }

    /// Whether "does not fit" is proven for every cup asked for.
    pub fn is_proven_not_to_fit(&self) -> bool {
        !self.cups.is_empty()
            && self.cups.iter().all(|c| c.study.verdict == Verdict::DoesNotFit && c.study.proven)
    }
}

/// What was found for every fitting asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    /// In the order of the car top.
    pub fittings: Vec<FittingReview>,
}

impl Review {
    /// Whether every fitting asked for can be covered. False when none was asked for.
    pub fn all_fit(&self) -> bool {
        !self.fittings.is_empty() && self.fittings.iter().all(|f| f.verdict().is_fit())
    }
}

/// Reviews the fittings asked for with the cups asked for, on all threads of the current rayon
/// pool. The result does not depend on how many there are. Indices beyond the car top or the kit
/// are left out.
///
/// Fails when a part of the kit has dimensions from which no solid can be made.
///
/// `progress` is called after each pair of fitting and cup, from any thread.
pub fn review(
    car: &CarTop,
    kit: &Kit,
    request: &Request,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Review, PartError> {
    let scene = Scene::new(car, kit)?;
    let fittings: Vec<usize> =
        request.fittings.iter().copied().filter(|&f| f < car.fittings.len()).collect();
    let cups: Vec<usize> = request.cups.iter().copied().filter(|&c| c < kit.cups.len()).collect();
    let pairs: Vec<(usize, usize)> =
        fittings.iter().flat_map(|&f| cups.iter().map(move |&c| (f, c))).collect();
    let most_cells = request.pieces.clamp(*PIECES.start(), *PIECES.end());
    let effort = Effort { most_cells, ..Effort::default() };
    let done = AtomicUsize::new(0);
    let total = pairs.len();
    let studies: Vec<CupResult> = pairs
        .par_iter()
        .map(|&(fitting, cup)| {
            let study = study_cup(&scene, &effort, fitting, cup);
            progress(Progress { done: done.fetch_add(1, Relaxed) + 1, total });
            CupResult { cup, study }
        })
        .collect();
    let of_fitting: Vec<(usize, Vec<CupResult>)> = fittings
        .iter()
        .enumerate()
        .map(|(i, &fitting)| {
            let from = i * cups.len();
            (fitting, studies.get(from..from + cups.len()).unwrap_or_default().to_vec())
        })
        .collect();
    let fittings =
        of_fitting.into_par_iter().map(|(fitting, cups)| conclude(&scene, fitting, cups)).collect();
    Ok(Review { fittings })
}

fn conclude(scene: &Scene<'_>, fitting: usize, cups: Vec<CupResult>) -> FittingReview {
    let best = best_cup(&cups);
    let study = best.and_then(|b| cups.get(b)).map(|c| &c.study);
    let (free_bearings, gains) = match study.map(|s| (s.verdict.is_fit(), &s.choice, &s.placement))
    {
        Some((true, Some(choice), Some(placement))) => {
            (free_arcs(scene, choice, placement), gains(scene, choice, placement))
        }
        _ => (Vec::new(), Vec::new()),
    };
    let land = study.and_then(|s| {
        land_strip(&Situation::new(scene, s.choice.as_ref()?, s.placement.as_ref()?)?)
    });
    let plan = PlanReview::of(scene.car, scene.kit, fitting);
    FittingReview { fitting, cups, best, free_bearings, gains, land, plan }
}

/// The cup to take: by verdict, then by the greatest lower bound of the least margin, then the
/// earlier in the kit.
pub(crate) fn best_cup(cups: &[CupResult]) -> Option<usize> {
    let low = |c: &CupResult| c.study.least().map_or(f64::NEG_INFINITY, |least| least.low);
    let order = |a: &CupResult, b: &CupResult| -> Ordering {
        a.study.verdict.cmp(&b.study.verdict).then_with(|| low(b).total_cmp(&low(a)))
    };
    (0..cups.len()).min_by(|&a, &b| order(&cups[a], &cups[b]).then(a.cmp(&b)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use assembly::placement::Placement;
    use fitup::{Assessment, Check, CheckOutcome, Margin, Part, Rule};
    use measure::{Angle, Interval, Stack};
    use nalgebra::Vector2;

    fn result(cup: usize, verdict: Verdict, low: f64) -> CupResult {
        let part = Part::Rig(assembly::rig::RigPart::Cup);
        let margin = Margin {
            check: Check::Housing,
            rule: Rule::Gap,
            a: part,
            b: part,
            need: 1.0,
            measured: Interval::between(low + 1.0, low + 2.0),
            margin: Interval::between(low, low + 1.0),
            root_sum_square: Interval::between(low, low + 1.0),
            stack: Stack::none(),
            witness: None,
        };
        let placement = Placement {
            cup_offset: Vector2::zeros(),
            outlet_bearing: Angle::ZERO,
            elbow_turn: Angle::ZERO,
            foot_shift: [0.0; 2],
            link_thickness: [[0; 2]; 2],
            link_hole: [0; 2],
            bar_slide: 0.0,
            screw_extension: 0.0,
            lid_opening: Angle::ZERO,
        };
        let outcome =
            CheckOutcome { check: Check::Housing, margins: vec![margin], undecided: vec![] };
        let study = CupStudy {
            verdict,
            proven: false,
            reasons: vec![],
            choice: None,
            placement: Some(placement),
            assessment: Some(Assessment { outcomes: vec![outcome] }),
            ways: vec![],
            upper_bound: f64::INFINITY,
            alternatives: vec![],
            proofs: vec![],
            looked_at: 1,
        };
        CupResult { cup, study }
    }

    #[test]
    fn the_verdict_counts_before_the_margin() {
        let cups = [
            result(0, Verdict::FitsAfterRemoval, 9.0),
            result(1, Verdict::Fits, 0.5),
            result(2, Verdict::CannotTell, 20.0),
        ];
        assert_eq!(best_cup(&cups), Some(1));
        assert_eq!(best_cup(&cups[2..]), Some(0));
        assert_eq!(best_cup(&[]), None);
    }

    #[test]
    fn among_equals_the_greatest_margin_then_the_smaller_cup() {
        let cups = [
            result(0, Verdict::DoesNotFit, -8.0),
            result(1, Verdict::DoesNotFit, -3.0),
            result(2, Verdict::DoesNotFit, -3.0),
        ];
        assert_eq!(best_cup(&cups), Some(1));
    }

    #[test]
    fn proven_for_a_fitting_means_proven_for_every_cup() {
        let mut cups = vec![result(0, Verdict::DoesNotFit, -8.0); 2];
        cups[0].study.proven = true;
        let plan = PlanReview { asked: 1.0, spacings: vec![] };
        let mut fitting = FittingReview {
            fitting: 0,
            best: Some(0),
            cups,
            free_bearings: vec![],
            gains: vec![],
            land: None,
            plan,
        };
        assert!(!fitting.is_proven_not_to_fit());
        fitting.cups[1].study.proven = true;
        assert!(fitting.is_proven_not_to_fit());
    }
}
