//! Cover: the cup's inside clears the fitting with the chosen removables off, crown included.
//!
//! The cavity of a cup is a cylinder: it holds the fitting when every vertex of the fitting's
//! bodies lies within the cavity's radius of the cup's axis and below the crown. That is measured
//! beside the gaps between the fitting and the cup and gasket, because a body that stands wholly
//! beside or above the cup has a gap to it as well.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule};
use assembly::kit::PartKind;
use assembly::rig::{RigPart, gasket_of, rim_height};
use measure::Interval;
use nalgebra::{Point3, Vector2};

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    cavity(ledger);
    ledger.pairs(Check::Cover);
}

fn cavity(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let cup = &s.scene.kit.cups[s.choice.cup];
    let need = s.scene.kit.rules.need(PartKind::Cup, PartKind::Fitting);
    let radius = 0.5 * cup.inside_diameter.nominal;
    let Some(gasket) = gasket_of(s.scene.kit, cup) else { return };
    let crown = rim_height(gasket) + cup.inside_height.nominal;
    let axis = s.pose.plate_from_cup.translation.vector.xy();
    let bodies: Vec<_> = s.present().filter(|&id| s.is_covered(id)).collect();
    for id in bodies {
        let extent = s.scene.extent(id);
        let Some(top) = extent.top else { continue };
        let Some(widest) =
            extent.outline.iter().copied().max_by(|a, b| {
                (a.xy().coords - axis).norm().total_cmp(&(b.xy().coords - axis).norm())
            })
        else {
            continue;
        };
        let out: Vector2<f64> = widest.xy().coords - axis;
        let side =
            s.stack(Part::Car(id)) + cup.inside_diameter.off("cup inside-diameter").scale(0.5);
        let on_wall = if out.norm() > 0.0 { out * (radius / out.norm()) } else { out };
        let parts = (Part::Rig(RigPart::Cup), Part::Car(id));
        ledger.push(Margin::at_least(
            (Check::Cover, Rule::Cavity),
            parts,
            need,
            (Interval::exactly(radius - out.norm()), side),
            Some([Point3::new(axis.x + on_wall.x, axis.y + on_wall.y, widest.z), widest]),
        ));
        let under = s.stack(Part::Car(id))
            + s.stack(Part::Car(s.scene.car.plate))
            + cup.inside_height.off("cup inside-height")
            + gasket.thickness.off("gasket thickness")
            + gasket.groove_depth.off("gasket groove-depth");
        ledger.push(Margin::at_least(
            (Check::Cover, Rule::Cavity),
            parts,
            need,
            (Interval::exactly(crown - top.z), under),
            Some([Point3::new(top.x, top.y, crown), top]),
        ));
    }
}
