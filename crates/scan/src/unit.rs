//! In which unit a scan is that does not say so.

use crate::Confidence;
use nalgebra::Point3;

/// A unit in which scans come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScanUnit {
    /// Millimetres.
    Millimetre,
    /// Centimetres.
    Centimetre,
    /// Metres.
    Metre,
    /// Inches.
    Inch,
    /// Feet.
    Foot,
}

impl ScanUnit {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::Millimetre, Self::Centimetre, Self::Metre, Self::Inch, Self::Foot];

    /// Its length, mm.
    pub const fn mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
            Self::Inch => 25.4,
            Self::Foot => 304.8,
        }
    }

    /// As it is written: `mm`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Metre => "m",
            Self::Inch => "in",
            Self::Foot => "ft",
        }
    }
}

/// Which unit a scan seems to be in.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitRead {
    /// The likeliest; `None` where the scan has the size of a car top in no unit.
    pub unit: Option<ScanUnit>,
    /// Units in which it could be as well, likelier ones first.
    pub others: Vec<ScanUnit>,
    /// Never [`Confidence::Sure`]: a size alone proves no unit.
    pub confidence: Confidence,
    /// Why, in one sentence without its full stop.
    pub because: String,
}

/// A car top, housing and plate, is about this wide, mm; common practice, no source.
const CAR_TOP: [f64; 2] = [500.0, 1500.0];
/// A scan of a part of one, or of one with the walkway and the tank around it, mm.
const PLAUSIBLE: [f64; 2] = [400.0, 4000.0];
/// The share of the points that may lie astray at either end.
const ASTRAY: f64 = 0.005;

/// The extent of all but a few of the points along the axis along which it is greatest.
fn width(points: &[Point3<f64>]) -> Option<f64> {
    // A hundred thousand tell it as well as ten million.
    let step = points.len().div_ceil(100_000).max(1);
    let few: Vec<&Point3<f64>> =
        points.iter().filter(|p| p.iter().all(|c| c.is_finite())).step_by(step).collect();
    let along = |axis: usize| {
        let mut all: Vec<f64> = few.iter().map(|p| p[axis]).collect();
        all.sort_by(f64::total_cmp);
        let cut = crate::cells::whole(ASTRAY * all.len() as f64);
        Some(all.get(all.len().checked_sub(1 + cut)?)? - all.get(cut)?)
    };
    (0..3).filter_map(along).reduce(f64::max)
}

/// Tells in which unit a scan of a car top seems to be, from how wide it is.
pub fn unit_of(points: &[Point3<f64>]) -> UnitRead {
    let nothing = |because: String| UnitRead {
        unit: None,
        others: Vec::new(),
        confidence: Confidence::Doubtful,
        because,
    };
    let Some(width) = width(points) else {
        return nothing("there is no point from which to tell its size".to_owned());
    };
    let within = |unit: &ScanUnit, [low, high]: [f64; 2]| {
        let mm = width * unit.mm();
        low <= mm && mm <= high
    };
    let middle = (CAR_TOP[0] * CAR_TOP[1]).sqrt();
    let off = |unit: &ScanUnit| (width * unit.mm() / middle).ln().abs();
    let mut plausible: Vec<ScanUnit> =
        ScanUnit::ALL.into_iter().filter(|u| within(u, PLAUSIBLE)).collect();
    plausible.sort_by(|a, b| off(a).total_cmp(&off(b)));
    let said = |unit: ScanUnit| {
        format!("in {} it would be {:.2} m wide", unit.word(), width * unit.mm() / 1000.0)
    };
    let Some((unit, others)) = plausible.split_first() else {
        return nothing(format!(
            "it is {width:.4} wide, which is no car top's width in mm, cm, m, in or ft"
        ));
    };
    // Plainly a car top's width in one unit, and far from it in any other.
    let alone = within(unit, CAR_TOP) && others.iter().all(|u| !within(u, CAR_TOP));
    let far = others.iter().all(|u| off(u) > off(unit) + 0.7);
    let mut because = format!("{}, and a car top is about 0.5 to 1.5 m", said(*unit));
    for other in others {
        because = format!("{because}; {}", said(*other));
    }
    let confidence =
        if alone && (others.is_empty() || far) { Confidence::Likely } else { Confidence::Doubtful };
    UnitRead { unit: Some(*unit), others: others.to_vec(), confidence, because }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Chance;

    fn cloud(wide: f64, mm: f64) -> Vec<Point3<f64>> {
        let mut chance = Chance::new(3);
        let mut all: Vec<Point3<f64>> = (0..20_000)
            .map(|_| {
                let [x, y, z] = [(); 3].map(|()| 0.5 * chance.either_way());
                Point3::new(wide * x, 0.9 * wide * y, 0.4 * wide * z) / mm
            })
            .collect();
        // A few astray, and some that are no numbers.
        all.extend((0..20).map(|i| Point3::new(1e4 * f64::from(i), -1e6, 0.0) / mm));
        all.push(Point3::new(f64::NAN, 0.0, 0.0));
        all
    }

    #[test]
    fn the_unit_is_found_or_asked_for_and_never_another_without_a_doubt() {
        for unit in ScanUnit::ALL {
            for wide in [500.0, 650.0, 800.0, 1000.0, 1250.0, 1490.0] {
                let read = unit_of(&cloud(wide, unit.mm()));
                let right = read.unit == Some(unit);
                assert!(
                    right || read.confidence == Confidence::Doubtful,
                    "{unit:?} {wide} {read:?}"
                );
                assert!(right || read.others.contains(&unit), "{unit:?} {wide} {read:?}");
            }
        }
    }

    #[test]
    fn a_usual_car_top_is_told_in_millimetres_and_metres() {
        for unit in [ScanUnit::Millimetre, ScanUnit::Metre] {
            for wide in [700.0, 900.0, 1200.0] {
                let read = unit_of(&cloud(wide, unit.mm()));
                assert_eq!(
                    (read.unit, read.confidence),
                    (Some(unit), Confidence::Likely),
                    "{read:?}"
                );
            }
        }
    }

    #[test]
    fn two_readings_are_a_doubt() {
        // 55 is a car top in centimetres (0.55 m) and one in inches (1.40 m).
        let read = unit_of(&cloud(550.0, 10.0));
        assert_eq!(read.confidence, Confidence::Doubtful);
        let mut all = read.others.clone();
        all.extend(read.unit);
        assert!(all.contains(&ScanUnit::Inch) && all.contains(&ScanUnit::Centimetre), "{read:?}");
    }

    #[test]
    fn nothing_and_nonsense_have_no_unit() {
        for points in [vec![], vec![Point3::new(f64::NAN, 1.0, 2.0)], vec![Point3::origin(); 9]] {
            let read = unit_of(&points);
            assert_eq!((read.unit, read.confidence), (None, Confidence::Doubtful));
        }
        assert_eq!(unit_of(&cloud(1e8, 1.0)).unit, None);
    }
}
