//! What someone measures in a scene, in sentences.

use super::figures::{either_way, with_article};
use super::near;
use crate::measuring::{Apart, Spacing};
use measure::LengthUnit;

/// How far two parts are apart, in a sentence without its full stop: `the cup stands 0.220 to 0.280 in
/// from the plate`.
pub fn spacing(spacing: &Spacing, unit: LengthUnit) -> String {
    let [a, b] = spacing.parts.each_ref().map(|name| with_article(name));
    match &spacing.distance {
        Ok(bounds) => {
            let into = format!("{a} runs # into {b}");
            let apart = format!("{a} stands # from {b}");
            let either = format!("{a} may run # into {b} or stand @ from it");
            either_way(*bounds, [into, apart, either], unit)
        }
        Err(why) => format!("it cannot be told how far {a} is from {b}: {why}"),
    }
}

/// How far two points are apart, in a phrase: `13.00 mm apart: 3.00 mm toward the hinge, 4.00 mm toward
/// 9 o'clock, 12.00 mm up`. Between points of the meshes, rounded to the nearest.
pub fn apart(apart: &Apart, unit: LengthUnit) -> String {
    let told = |along: f64, [onward, back]: [&str; 2]| {
        let way = if along < 0.0 { back } else { onward };
        format!("{} {way}", near(along.abs(), unit))
    };
    let [x, y, z] = apart.along.into();
    format!(
        "{} apart: {}, {}, {}",
        near(apart.distance, unit),
        told(x, ["toward the hinge", "away from the hinge"]),
        told(y, ["toward 9 o'clock", "toward 3 o'clock"]),
        told(z, ["up", "down"]),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measuring;
    use crate::record::Bounds;
    use nalgebra::Point3;

    const MM: LengthUnit = LengthUnit::Millimetre;

    #[test]
    fn a_spacing_is_a_gap_an_overlap_or_not_known() {
        let told = |low, high| {
            let distance = Ok(Bounds { low: Some(low), high: Some(high) });
            let parts = ["cup".into(), "VV1 bonnet".into()];
            spacing(&Spacing { parts, distance, ends: None }, MM)
        };
        assert_eq!(told(1.0, 1.5), "the cup stands 1.00 to 1.50 mm from VV1 bonnet");
        assert_eq!(told(-2.0, -1.004), "the cup runs 1.00 mm or more into VV1 bonnet");
        assert_eq!(
            told(-2.0, 0.751),
            "the cup may run up to 2.00 mm into VV1 bonnet or stand up to 0.76 mm from it"
        );
        let parts = ["cup".into(), "lid".into()];
        let open = Spacing { parts, distance: Err("a surface is open".into()), ends: None };
        assert_eq!(
            spacing(&open, MM),
            "it cannot be told how far the cup is from the lid: a surface is open"
        );
    }

    /// 3, 4, 12, 13 is a Pythagorean quadruple.
    #[test]
    fn points_are_told_by_their_distance_and_its_parts() {
        let found = measuring::apart([Point3::new(1.0, 2.0, 3.0), Point3::new(4.0, -2.0, 15.0)]);
        assert_eq!(
            apart(&found, MM),
            "13.00 mm apart: 3.00 mm toward the hinge, 4.00 mm toward 3 o'clock, 12.00 mm up"
        );
    }
}
