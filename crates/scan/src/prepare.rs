//! From shots as they come to shots in one frame on the plate, cleaned, with what is known of their
//! errors.

use crate::cells::median;
use crate::clean::{Cleaned, Dropped, clean};
use crate::plate::{Judged, NoPlate, Plate, find_plate};
use crate::register::{Registration, Start, Unregistered, register};
use crate::unit::{ScanUnit, unit_of};
use crate::{Confidence, Shot};
use measure::{Length, LengthUnit};
use nalgebra::{Isometry3, Point3};

/// A shot with what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// Points, and from where they were seen, in the shot's own unit and frame.
    pub shot: Shot,
    /// Its unit; `None` where nobody said.
    pub unit: Option<ScanUnit>,
    /// Where it lies about to the first shot, mm; `None` for the first, and for one that is in the
    /// first's frame already and is only held against it.
    pub start: Option<Start>,
}

/// Shots made ready.
#[derive(Debug, Clone, PartialEq)]
pub struct Prepared {
    /// What stays of each shot, in the frame on the plate, mm.
    pub shots: Vec<Shot>,
    /// How much was left out of each, and why.
    pub dropped: Vec<Dropped>,
    /// The plate; its `plate_from_scan` takes the first shot's coordinates, in mm.
    pub plate: Plate,
    /// The unit in which each was taken to be.
    pub units: Vec<ScanUnit>,
    /// How each but the first lies on those before it.
    pub registrations: Vec<Option<Registration>>,
    /// How far points scatter along the ray, mm: one standard deviation, as the plate shows it; of the
    /// shot that scatters most. Across the plate where no eye is known.
    pub sigma: f64,
    /// How far apart points usually lie, mm; of the sparsest shot.
    pub spacing: f64,
    /// How far apart where they are sparse.
    pub sparse: f64,
    /// Bound on how far what was seen may be from the true surface, mm.
    pub deviation: f64,
    /// What that rests on, one sentence without its full stop.
    pub basis: String,
    /// What was found out, in order. What is doubtful must be asked.
    pub findings: Vec<Judged>,
}

/// Why shots cannot be made ready.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unprepared {
    /// No shot at all.
    #[error("there is no scan")]
    Nothing,
    /// No unit.
    #[error("the unit of \"{name}\" cannot be told: {because}")]
    NoUnit {
        /// The shot's name.
        name: String,
        /// Why.
        because: String,
    },
    /// Nothing is left of a shot.
    #[error("nothing is left of \"{0}\": it has no point, or none near another")]
    Empty(String),
    /// A shot cannot be laid on the others.
    #[error("\"{name}\" cannot be laid on what was seen before: {why}")]
    Unregistered {
        /// The shot's name.
        name: String,
        /// Why.
        why: Unregistered,
    },
    /// No plate.
    #[error("{0}")]
    NoPlate(#[from] NoPlate),
}

impl Unprepared {
    /// What to do about it.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::Nothing => "give at least one scan",
            Self::NoUnit { .. } => "say in which unit it was written",
            Self::Empty(_) => "export the scan again",
            Self::Unregistered { why, .. } => why.remedy(),
            Self::NoPlate(why) => why.remedy(),
        }
    }
}

/// So many standard deviations bound the scatter: 997 of 1000 points.
const BOUND: f64 = 3.0;
/// How far a shot that is said to be in the first's frame may be off it, mm.
const IN_FRAME: f64 = 10.0;
/// Beyond this, mm, a shot that is said to be in the first's frame is not.
const OUT_OF_FRAME: f64 = 2.0;
/// A point of the plate within so many times the scatter tells the scatter.
const OF_PLATE: f64 = 5.0;

/// Makes shots ready; `unit` is the one in which findings tell lengths.
pub fn prepare(given: &[Given], unit: LengthUnit) -> Result<Prepared, Unprepared> {
    if given.is_empty() {
        return Err(Unprepared::Nothing);
    }
    let mut findings: Vec<Judged> = Vec::new();
    let mut units = Vec::new();
    let mut cleaned: Vec<Cleaned> = Vec::new();
    for one in given {
        let name = &one.shot.name;
        let own = unit_of_shot(one, &mut findings)?;
        units.push(own);
        let clean = clean(&in_mm(&one.shot, own));
        if clean.shot.points.is_empty() || clean.spacing <= 0.0 {
            return Err(Unprepared::Empty(name.clone()));
        }
        let told = clean.dropped.told().into_iter().chain([clean.told(unit)]);
        findings.extend(told.map(|t| judged(Confidence::Likely, format!("\"{name}\": {t}"))));
        cleaned.push(clean);
    }
    let registrations = laid(given, &mut cleaned, unit, &mut findings)?;

    let spacing = cleaned.iter().map(|c| c.spacing).fold(0.0, f64::max);
    let sparse = cleaned.iter().map(|c| c.sparse).fold(0.0, f64::max);
    let points: Vec<Point3<f64>> = cleaned.iter().flat_map(|c| &c.shot.points).copied().collect();
    let eyes: Vec<Point3<f64>> = cleaned.iter().filter_map(|c| c.shot.seen_from).collect();
    if eyes.len() < cleaned.len() {
        let blind = cleaned.iter().filter(|c| c.shot.seen_from.is_none()).map(|c| &c.shot.name);
        let blind: Vec<String> = blind.map(|n| format!("\"{n}\"")).collect();
        findings.push(judged(
            Confidence::Doubtful,
            format!(
                "nobody said from where {} was seen: nothing shows what is free there",
                blind.join(", ")
            ),
        ));
    }
    let plate = find_plate(&points, &eyes, spacing)?;
    drop(points);
    findings.push(judged(plate.plane.confidence, format!("the plate is {}", plate.plane.because)));
    findings.push(judged(plate.up.confidence, format!("its upper side: {}", plate.up.because)));
    findings.push(judged(Confidence::Likely, plate.told(unit)));

    let mut shots = Vec::new();
    let mut dropped = Vec::new();
    for clean in cleaned {
        let (shot, left) = moved(clean, &plate.plate_from_scan);
        shots.push(shot);
        dropped.push(left);
    }
    let sigma = scatter(&shots, &plate, &mut findings);
    let wrong = registrations.iter().flatten().map(|r| r.worst).fold(0.0, f64::max);
    let deviation = BOUND * sigma + wrong + plate.at_edge;
    let show = |mm: f64| Length::from_mm(mm).show_to(unit, unit.usual_places() + 1);
    let mut basis = format!(
        "{BOUND:.0} times the scatter of {} that the plate shows, and {} for its plane",
        show(sigma),
        show(plate.at_edge)
    );
    if wrong > 0.0 {
        basis = format!("{basis}, and {} by which scans lie off each other", show(wrong));
    }
    findings.push(judged(Confidence::Likely, format!("deviation {}: {basis}", show(deviation))));
    Ok(Prepared {
        shots,
        dropped,
        plate,
        units,
        registrations,
        sigma,
        spacing,
        sparse,
        deviation,
        basis,
        findings,
    })
}

fn judged(confidence: Confidence, because: String) -> Judged {
    Judged { confidence, because }
}

fn unit_of_shot(one: &Given, findings: &mut Vec<Judged>) -> Result<ScanUnit, Unprepared> {
    let name = &one.shot.name;
    if let Some(unit) = one.unit {
        return Ok(unit);
    }
    let read = unit_of(&one.shot.points);
    let Some(unit) = read.unit else {
        return Err(Unprepared::NoUnit { name: name.clone(), because: read.because });
    };
    findings.push(judged(
        read.confidence,
        format!(
            "\"{name}\" states no unit and is taken to be in {}: {}",
            unit.word(),
            read.because
        ),
    ));
    Ok(unit)
}

fn in_mm(shot: &Shot, unit: ScanUnit) -> Shot {
    let scaled = |p: &Point3<f64>| p * unit.mm();
    Shot {
        name: shot.name.clone(),
        points: shot.points.iter().map(scaled).collect(),
        triangles: shot.triangles.clone(),
        astray: shot.astray.iter().map(scaled).collect(),
        seen_from: shot.seen_from.as_ref().map(scaled).filter(|e| e.iter().all(|c| c.is_finite())),
    }
}

fn moved(cleaned: Cleaned, pose: &Isometry3<f64>) -> (Shot, Dropped) {
    let Cleaned { mut shot, dropped, .. } = cleaned;
    for p in shot.points.iter_mut().chain(&mut shot.astray) {
        *p = pose * *p;
    }
    shot.seen_from = shot.seen_from.map(|e| pose * e);
    (shot, dropped)
}

/// Lays each shot on those before it, in the first's frame.
fn laid(
    given: &[Given],
    cleaned: &mut [Cleaned],
    unit: LengthUnit,
    findings: &mut Vec<Judged>,
) -> Result<Vec<Option<Registration>>, Unprepared> {
    let mut registrations = vec![None];
    for at in 1..cleaned.len() {
        let (before, rest) = cleaned.split_at_mut(at);
        let Some(own) = rest.first_mut() else { break };
        let name = own.shot.name.clone();
        let spacing = before.iter().map(|c| c.spacing).fold(0.0, f64::max);
        let shots: Vec<&Shot> = before.iter().map(|c| &c.shot).collect();
        let stated = given.get(at).and_then(|g| g.start);
        let here = Start { first_from_second: Isometry3::identity(), within: IN_FRAME };
        let found = register((&shots, spacing), (&own.shot, own.spacing), &stated.unwrap_or(here));
        let found = match (found, stated) {
            (Ok(found), Some(_)) => {
                let pose = found.first_from_second;
                let taken = std::mem::replace(own, clean_nothing());
                let (spacing, sparse) = (taken.spacing, taken.sparse);
                let (shot, dropped) = moved(taken, &pose);
                *own = Cleaned { shot, dropped, spacing, sparse };
                findings
                    .push(judged(Confidence::Likely, format!("\"{name}\": {}", found.told(unit))));
                Some(found)
            }
            (Ok(found), None) => {
                let confidence = if found.moved > OUT_OF_FRAME {
                    Confidence::Doubtful
                } else {
                    Confidence::Likely
                };
                let show = |mm: f64| Length::from_mm(mm).show_to(unit, unit.usual_places() + 1);
                findings.push(judged(
                    confidence,
                    format!(
                        "\"{name}\" is said to be in the frame of \"{}\", and was left there; laid on it, it \
                         would move by {}: {}",
                        given[0].shot.name,
                        show(found.moved),
                        found.told(unit)
                    ),
                ));
                // It was left where it is, and is wrong by as much as it would have moved.
                Some(Registration {
                    first_from_second: Isometry3::identity(),
                    worst: found.worst + found.moved,
                    ..found
                })
            }
            (Err(why), Some(_)) => return Err(Unprepared::Unregistered { name, why }),
            (Err(why), None) => {
                findings.push(judged(
                    Confidence::Doubtful,
                    format!(
                        "\"{name}\" is said to be in the frame of \"{}\", and nothing tells whether it is: {why}",
                        given[0].shot.name
                    ),
                ));
                None
            }
        };
        registrations.push(found);
    }
    Ok(registrations)
}

fn clean_nothing() -> Cleaned {
    Cleaned { shot: Shot::default(), dropped: Dropped::default(), spacing: 0.0, sparse: 0.0 }
}

/// A ray meets the plate steeply if it comes from so high above it, as a share of its length.
const STEEP: f64 = 0.5;
/// What very flat rays tell is taken for no more than they can tell.
const FLAT: f64 = 0.2;

/// The scatter of points along their rays, of the shot in which it is greatest, and no less than about
/// the plate's plane. A shot that met the plate with flat rays alone tells next to nothing of it: it is
/// asked only if no other tells.
fn scatter(shots: &[Shot], plate: &Plate, findings: &mut Vec<Judged>) -> f64 {
    let steep: Vec<Option<f64>> = shots.iter().map(|s| along_the_ray(s, plate, STEEP)).collect();
    let of_steep = steep.iter().flatten().copied().reduce(f64::max);
    let Some(of_steep) = of_steep else {
        let flat = shots.iter().filter_map(|s| along_the_ray(s, plate, 0.0));
        return flat.fold(plate.sigma, f64::max);
    };
    let untold: Vec<String> = shots
        .iter()
        .zip(&steep)
        .filter(|(shot, told)| told.is_none() && shot.seen_from.is_some())
        .map(|(shot, _)| format!("\"{}\"", shot.name))
        .collect();
    if !untold.is_empty() {
        findings.push(judged(
            Confidence::Doubtful,
            format!(
                "too little of the plate was seen steeply from {} to tell how the points scatter: taken \
                 as in the other scans",
                untold.join(", ")
            ),
        ));
    }
    of_steep.max(plate.sigma)
}

/// How far a shot's points on the plate scatter along their rays, of rays at least so steep; `None` where
/// it knows no eye or shows too little of the plate.
fn along_the_ray(shot: &Shot, plate: &Plate, steep: f64) -> Option<f64> {
    let eye = shot.seen_from?;
    let of_plate = |p: &&Point3<f64>| {
        p.z.abs() < OF_PLATE * plate.sigma && p.xy().coords.norm() < plate.radius
    };
    let mut off: Vec<f64> = shot
        .points
        .iter()
        .filter(of_plate)
        .filter_map(|p| {
            let way = eye - p;
            let rise = way.z / way.norm();
            (rise >= steep).then(|| p.z.abs() / rise.max(FLAT))
        })
        .collect();
    (off.len() >= 100).then(|| 1.4826 * median(&mut off))
}

#[cfg(test)]
mod tests;
