//! Housing: cup and outlet against sidewall, port covers, lid at its opening, hinge.

use super::Ledger;
use crate::margin::Check;

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    ledger.lid_and_hinge(Check::Housing);
    ledger.pairs(Check::Housing);
}
