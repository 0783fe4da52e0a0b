//! The ways that are tried, by kind.

use assembly::car_top::{BodyId, LidState};
use assembly::change::{fitting_ranges, housing_ranges};
use assembly::{CarTop, Way};
use fitup::{Scene, studs_of_housing};
use measure::Angle;
use nalgebra::Point2;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// A kind of change to one part of the car top, of which the smallest is told.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Topic {
    LidStop,
    TurnFitting(usize),
    StretchFitting(usize, [f64; 2]),
    MoveFitting(usize),
    SpreadStuds(BodyId),
    TurnHousing(Vec<BodyId>),
    StretchHousing([f64; 2]),
}

/// A way with the sign of its size.
pub(super) type Signed = (Way, f64);

/// The place of a way's kind in the order of the effort that it costs a designer. Our order: a
/// stop, a bolt pattern, a stem, a place on the plate, a circle of studs, the housing.
pub(super) const fn effort(way: &Way) -> usize {
    match way {
        Way::LidStop => 0,
        Way::TurnFitting { .. } => 1,
        Way::StretchFitting { .. } => 2,
        Way::MoveFitting { .. } => 3,
        Way::SpreadStuds { .. } => 4,
        Way::TurnHousing { .. } => 5,
        Way::StretchHousing { .. } => 6,
    }
}

impl Topic {
    /// Everything that can be changed about a car top, together what is about the same bodies.
    pub(super) fn all(scene: &Scene<'_>) -> Vec<Vec<Self>> {
        /// Straight ranges of one fitting, the longest.
        const RANGES: usize = 2;
        let car = scene.car;
        let mut all = Vec::new();
        if matches!(car.lid, LidState::Hinged(_)) {
            all.push(vec![Self::LidStop]);
        }
        for fitting in 0..car.fittings.len() {
            let mut topics = vec![Self::TurnFitting(fitting)];
            let ranges = fitting_ranges(car, fitting).into_iter().take(RANGES);
            topics.extend(ranges.map(|range| Self::StretchFitting(fitting, range)));
            topics.push(Self::MoveFitting(fitting));
            all.push(topics);
        }
        all.extend(car.studs.iter().flatten().map(|studs| vec![Self::SpreadStuds(*studs)]));
        if !car.housing.is_empty() && !car.ports.is_empty() {
            let mut topics = vec![Self::TurnHousing(studs_of_housing(scene))];
            topics.extend(housing_ranges(car).into_iter().map(Self::StretchHousing));
            all.push(topics);
        }
        all
    }

    /// Whether it changes only bodies beside which the rig stands: neither the fitting that is to be
    /// covered nor what carries the clamp.
    pub(super) const fn is_beside(&self, covered: usize) -> bool {
        match self {
            Self::TurnFitting(f) | Self::StretchFitting(f, _) | Self::MoveFitting(f) => {
                *f != covered
            }
            Self::LidStop | Self::SpreadStuds(_) => true,
            Self::TurnHousing(_) | Self::StretchHousing(_) => false,
        }
    }

    /// Its ways, those that a designer would take first ahead. A stem is only made shorter.
    pub(super) fn ways(&self, car: &CarTop) -> Vec<Signed> {
        let both = |way: Way| vec![(way.clone(), 1.0), (way, -1.0)];
        match self {
            Self::LidStop => both(Way::LidStop),
            Self::TurnFitting(fitting) => both(Way::TurnFitting { fitting: *fitting }),
            Self::StretchFitting(fitting, range) => {
                vec![(Way::StretchFitting { fitting: *fitting, range: *range }, -1.0)]
            }
            Self::MoveFitting(fitting) => directions(car, *fitting)
                .map(|toward| (Way::MoveFitting { fitting: *fitting, toward }, 1.0))
                .collect(),
            Self::SpreadStuds(studs) => both(Way::SpreadStuds { studs: *studs }),
            Self::TurnHousing(with) => both(Way::TurnHousing { with: with.clone() }),
            Self::StretchHousing(range) => both(Way::StretchHousing { range: *range }),
        }
    }
}

/// The bearings toward which a fitting is moved: outward and inward from the housing's axis (for a
/// fitting on the axis toward the hinge and away), then the eighths between.
fn directions(car: &CarTop, fitting: usize) -> impl Iterator<Item = Angle> {
    const TURNS: [f64; 8] =
        [0.0, PI, FRAC_PI_2, -FRAC_PI_2, FRAC_PI_4, -FRAC_PI_4, PI - FRAC_PI_4, FRAC_PI_4 - PI];
    let outward = car.fittings.get(fitting).and_then(|f| outward(f.centre)).unwrap_or(0.0);
    TURNS.into_iter().map(move |turn| Angle::from_radians(outward + turn))
}

/// The bearing outward from the housing's axis, radians; `None` for a fitting on the axis.
pub(crate) fn outward(centre: Point2<f64>) -> Option<f64> {
    /// Nearer to the axis there is no way outward, mm.
    const ON_AXIS: f64 = 1.0;
    (centre.coords.norm() >= ON_AXIS).then(|| centre.y.atan2(centre.x))
}
