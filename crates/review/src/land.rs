//! The written form of the land under a gasket.

use crate::record::{Bounds, Names};
use fitup::Part;
use fitup::land::{LandStrip, Standing};
use measure::Angle;
use serde::{Deserialize, Serialize};

/// The land under the gasket at a placement. Bearings are from the cup's axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Land {
    /// The gasket's inner and outer radius.
    pub radii_mm: [f64; 2],
    /// The plate's greatest departure from its best-fit plane, measured along the cup's axis;
    /// `null` where no plate is seen.
    pub departure_mm: Option<Bounds>,
    /// The highest place over the best-fit plane; `null` where no plate is seen.
    pub highest: Option<Height>,
    /// The lowest place, likewise.
    pub lowest: Option<Height>,
    /// The narrowest radial run of bare flat plate over all bearings, the gasket's tolerances left
    /// out.
    pub seal_width_mm: Bounds,
    /// Where that is; `null` where the land is good all over.
    pub narrowest: Option<Bearing>,
    /// Toward where the plate is not seen all the way; `null` where all of it is.
    pub unseen: Option<Bearing>,
    /// Least and greatest height over the best-fit plane, rounded outward to 0.001 mm: one row for
    /// each sector of 5 degrees, counter-clockwise from the hinge's bearing, in it five rings of
    /// equal width from the inside out; `null` where no plate is seen. Empty where all of it is seen
    /// and lies within 0.001 mm of the plane.
    pub heights_mm: Vec<Vec<Option<[f64; 2]>>>,
    /// Other bodies within 25 mm of the gasket, nearest first.
    pub standing: Vec<Beside>,
}

/// A bearing from the cup's axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bearing {
    /// Counter-clockwise from the hinge's bearing, from 0 up to 360.
    pub deg: f64,
    /// The same as a clock position.
    pub clock: String,
}

/// A place's height over the best-fit plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Height {
    /// The height; below zero under the plane.
    pub height_mm: f64,
    /// Where it is.
    pub at: Bearing,
}

/// A body near the gasket.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Beside {
    /// Its name.
    pub body: String,
    /// Its distance from the gasket; below zero for an overlap.
    pub distance_mm: Bounds,
    /// Toward its nearest place.
    pub nearest: Bearing,
    /// Bearings over which it stands on the land or up to 40 mm above it, from and to, in whole
    /// degrees rounded outward.
    pub over_deg: Vec<[f64; 2]>,
}

impl Land {
    pub(crate) fn of(strip: &LandStrip, names: &Names<'_>) -> Self {
        let height = |i: usize| {
            let (bearing, height_mm) = *strip.extremes.as_ref()?.get(i)?;
            Some(Height { height_mm, at: Bearing::of(bearing) })
        };
        let whole = strip.seal_width.low >= strip.radii[1] - strip.radii[0];
        let outward = |[low, high]: [f64; 2]| {
            let thousandths = |mm: f64, round: fn(f64) -> f64| round(mm * 1e3) / 1e3 + 0.0;
            [thousandths(low, f64::floor), thousandths(high, f64::ceil)]
        };
        let row = |row: &Vec<Option<[f64; 2]>>| -> Vec<Option<[f64; 2]>> {
            row.iter().map(|c| c.map(outward)).collect()
        };
        let mut heights_mm: Vec<_> = strip.heights.iter().map(row).collect();
        let level = |c: &Option<[f64; 2]>| c.is_some_and(|c| c.iter().all(|h| h.abs() <= 1e-3));
        if heights_mm.iter().flatten().all(level) {
            heights_mm.clear();
        }
        Self {
            radii_mm: strip.radii,
            departure_mm: strip.departure.map(Bounds::from),
            highest: height(0),
            lowest: height(1),
            seal_width_mm: strip.seal_width.into(),
            narrowest: (!whole).then(|| Bearing::of(strip.narrowest)),
            unseen: strip.unseen.map(Bearing::of),
            heights_mm,
            standing: strip.standing.iter().map(|s| Beside::of(s, names)).collect(),
        }
    }
}

impl Beside {
    fn of(standing: &Standing, names: &Names<'_>) -> Self {
        Self {
            body: names.part(Part::Car(standing.body)),
            distance_mm: standing.distance.into(),
            nearest: Bearing::of(standing.nearest),
            over_deg: standing.over.iter().map(|arc| arc.map(|a| a.degrees().round())).collect(),
        }
    }
}

impl Bearing {
    fn of(bearing: Angle) -> Self {
        Self { deg: crate::record::turn(bearing), clock: bearing.show_clock() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::Interval;

    #[test]
    fn heights_are_rounded_outward_and_left_out_where_all_is_level() {
        let car = no_car();
        let names = Names { car: &car, choice: None };
        let mut strip = LandStrip {
            radii: [84.0, 116.0],
            departure: Some(Interval::between(0.0, 0.1)),
            seal_width: Interval::between(32.0, 32.0),
            narrowest: Angle::ZERO,
            unseen: None,
            extremes: None,
            heights: vec![vec![Some([-0.0004, 0.0002])]; 2],
            standing: vec![],
        };
        let land = Land::of(&strip, &names);
        assert!(land.heights_mm.is_empty() && land.narrowest.is_none());
        strip.heights[1][0] = Some([-0.0104, 0.0002]);
        strip.seal_width.low = 31.0;
        let land = Land::of(&strip, &names);
        assert_eq!(land.heights_mm[1], [Some([-0.011, 0.001])]);
        assert!(land.narrowest.is_some());
        strip.heights[0][0] = None;
        assert_eq!(Land::of(&strip, &names).heights_mm[0], [None]);
    }

    fn no_car() -> assembly::CarTop {
        assembly::CarTop {
            title: String::new(),
            unit: measure::LengthUnit::Millimetre,
            measured: assembly::car_top::Measured::default(),
            bodies: vec![],
            plate: assembly::car_top::BodyId(0),
            housing: vec![],
            ports: vec![],
            lid: assembly::car_top::LidState::Unknown,
            hinge: None,
            studs: None,
            fittings: vec![],
        }
    }
}
