//! What is drawn around the cup, and takes longer than its margins.

use crate::ring::{Ring, ring};
use crate::tried::Setup;
use fitup::{LandStrip, Scene, Situation, land_strip};

/// What is drawn around the cup.
#[derive(Debug, Clone, PartialEq)]
pub struct Around {
    /// What was set up.
    pub setup: Setup,
    /// Where the outlet may point.
    pub ring: Ring,
    /// The land under the gasket, unrolled; `None` where the kit's gasket is not known.
    pub land: Option<LandStrip>,
}

/// Looks around the cup. `None` where nothing can be placed so, or where `is_stale` says meanwhile that
/// nobody waits for it any more.
pub fn around(scene: &Scene<'_>, setup: &Setup, is_stale: &dyn Fn() -> bool) -> Option<Around> {
    let land = land_strip(&Situation::new(scene, &setup.choice, &setup.placement)?);
    if is_stale() {
        return None;
    }
    let ring = ring(scene, setup, is_stale)?;
    Some(Around { setup: setup.clone(), ring, land })
}
