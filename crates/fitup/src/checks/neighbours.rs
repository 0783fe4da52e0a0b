//! Neighbours: cup and outlet against everything else that stands on the plate.

use super::Ledger;
use crate::margin::Check;

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    ledger.studs(Check::Neighbours);
    ledger.pairs(Check::Neighbours);
}
