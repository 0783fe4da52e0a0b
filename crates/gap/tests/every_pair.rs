//! Small bodies and sheets against the exact answer over every pair of their triangles. The full
//! run is `tests/outside/pairs/run`.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail")]

mod bodies;
mod common;
mod oracle;

use std::time::Instant;

use common::Numbers;

#[test]
fn every_query_equals_every_pair() {
    let began = Instant::now();
    let tally = bodies::run(2_000);
    let report = bodies::report(&tally, began.elapsed());
    println!("{report}");
    assert!(tally.faults.is_empty() && tally.couples == 2_000, "{report}");
    assert!(tally.meeting > 500 && tally.holding > 20 && tally.undecided > 20, "{report}");
    assert_eq!(tally.kinds.len(), 11);
    for (kind, [couples, meeting]) in &tally.kinds {
        assert!(*meeting > 0 && meeting < couples, "{kind}: {meeting} of {couples} meet");
    }
}

/// A truth that is a little off is found out: the check can fail.
#[test]
fn a_wrong_truth_is_caught() {
    let mut numbers = Numbers::new(9);
    let mut changed = 0;
    for couple in bodies::some(60) {
        let truth = bodies::truth(&couple);
        assert!(bodies::judge(&couple, &truth, &mut numbers).is_ok());
        let farther = bodies::Truth { distance: truth.distance + 1e-8, ..truth };
        assert!(bodies::judge(&couple, &farther, &mut numbers).is_err());
        let meets = bodies::Truth { meets: !truth.meets, ..truth };
        assert!(bodies::judge(&couple, &meets, &mut numbers).is_err());
        let [sure, _] = truth.holds;
        if !truth.meets && !sure.undecided && sure.yes != sure.no {
            let other = if sure.yes { bodies::Verdicts::NO } else { bodies::Verdicts::YES };
            let holds = bodies::Truth { holds: [other; 2], ..truth };
            assert!(bodies::judge(&couple, &holds, &mut numbers).is_err());
            changed += 1;
        }
    }
    assert!(changed > 5);
}
