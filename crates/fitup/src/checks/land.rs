//! Land: the gasket's annulus lies on bare, flat plate all the way round.
//!
//! The plate's own surface is measured by [`crate::land`]. What else stands on the land is found by
//! the gaps between the gasket and the other bodies.

use super::Ledger;
use crate::land::Asking;
use crate::margin::{Check, Margin, Part, Rule};
use assembly::rig::{RigPart, gasket_of};
use measure::Stack;
use nalgebra::{Point3, Vector3};

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    surface(ledger);
    ledger.studs(Check::Land);
    ledger.pairs(Check::Land);
}

fn surface(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let kit = s.scene.kit;
    let gasket = kit.cups.get(s.choice.cup).and_then(|cup| gasket_of(kit, cup));
    let (Some(gasket), Some(asking)) = (gasket, Asking::of(s)) else { return };
    let plate = s.scene.car.plate;
    let land = s.land(&asking);
    let parts = (Part::Rig(RigPart::Gasket), Part::Car(plate));
    let axis = Vector3::new(asking.axis.x, asking.axis.y, 0.0);
    if let Some(flatness) = &land.flatness {
        ledger.push(Margin::at_most(
            (Check::Land, Rule::Flatness),
            parts,
            kit.rules.land_flatness,
            (flatness.departure, Stack::none()),
            Some(flatness.farthest().map(|at| at + axis)),
        ));
    }
    let (sin, cos) = land.narrowest.radians().sin_cos();
    let at = |r: f64| Point3::new(r * cos, r * sin, 0.0) + axis;
    ledger.push(Margin::at_least(
        (Check::Land, Rule::SealWidth),
        parts,
        kit.rules.land_seal_width,
        (
            land.seal_width,
            gasket.inside_diameter.off("gasket inside-diameter").scale(0.5)
                + gasket.outside_diameter.off("gasket outside-diameter").scale(0.5),
        ),
        Some(asking.radii.map(at)),
    ));
    if let Some(toward) = land.unseen {
        ledger.undecided(
            Check::Land,
            format!(
                "{} is not seen everywhere under the gasket, toward {} from the cup's axis",
                s.scene.car.body(plate).body.name,
                toward.show_clock()
            ),
            "measure the plate there, or close the hole in the mesh",
        );
    }
}
