//! Placements that the program found, gone over pair by pair.

use crate::sample_car::sample;
use crate::sample_kit;
use fitup::{Effort, Rule, Scene, study_cup};
use measure::Interval;
use recheck::Fault;

#[test]
fn a_claimed_least_margin_is_confirmed_or_refused() {
    let mut confirmed = 0;
    for number in 0..10 {
        let sample = sample(number);
        let kit = sample_kit::kit(sample.across + 130.0, false);
        let scene = Scene::new(&sample.car, &kit).unwrap();
        let study = study_cup(&scene, &Effort::default(), sample.fitting, 1);
        let (Some(choice), Some(placement), Some(assessment)) =
            (&study.choice, &study.placement, &study.assessment)
        else {
            continue;
        };
        let in_place = assessment.outcomes.iter().filter(|o| o.check.is_in_place());
        let gaps = in_place.flat_map(|o| &o.margins);
        let looked_at = |m: &&fitup::Margin| !m.rule.is_tolerance() && m.rule != Rule::SealWidth;
        let least = gaps.filter(looked_at).map(|m| m.margin).reduce(Interval::min).unwrap();
        if least.low < 0.0 {
            continue;
        }
        let claim = |by: f64| {
            let least = Interval { low: least.low + by, high: least.high + by };
            recheck::placement(&sample.car, &kit, choice, placement, least)
        };
        let found = claim(0.0).unwrap();
        let least_gap = found.least_low.unwrap_or(f64::INFINITY);
        assert!(least_gap > least.low - 1e-6 && found.rules > 15, "{found:?} {least:?}");
        assert!(found.pairs > 200);
        let fault = claim(1e-3).unwrap_err();
        assert!(matches!(fault, Fault::Nearer { .. }), "{fault}");
        let worse = claim(-5.0).unwrap();
        assert_eq!(worse.pairs, found.pairs);
        let none =
            recheck::placement(&sample.car, &kit, choice, placement, Interval::exactly(f64::NAN));
        assert!(none.is_err());
        confirmed += 1;
    }
    assert!(confirmed >= 2, "only {confirmed} fit");
}
