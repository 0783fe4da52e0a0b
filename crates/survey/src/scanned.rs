//! A draft from what a scan shows, which has no names and no whole bodies: things that stand apart.
//!
//! Points tell where a thing is and how wide, hardly ever what it is. So the frame, the wall, circles
//! on the plate and openings are measured, and everything that only a name or a hand could tell is
//! asked: what a fitting is, what comes off it, which piece is lid or hinge.

mod foot;
mod of_scan;
mod ports;
mod small;
mod sort;
mod wall;

use crate::draft::{Confidence, Draft, Found, Question, Reason, SealingFace, Unfound};
use crate::find::Settings;
use measure::{Length, LengthUnit};
use nalgebra::{Isometry3, Point2, Point3, Translation3, UnitQuaternion, Vector3};

/// Where a thing of a scan is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// It is the plate.
    Plate,
    /// It is the housing's sidewall, or a piece of it.
    Wall,
    /// It is seen above the rim only, or beyond it: lid, hinge, walkway.
    Above,
    /// It stands on the plate, or hangs above it inside the wall.
    Standing,
}

/// A thing that stands apart from others in a scan. Coordinates are mm, in a frame with z = 0 on the
/// plate and z up, whose origin and x may be any.
#[derive(Debug, Clone, PartialEq)]
pub struct Thing {
    /// A name that is its own.
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// What was seen of it.
    pub points: Vec<Point3<f64>>,
    /// Lowest corner of the box about it, what was not seen of it included.
    pub low: Point3<f64>,
    /// Highest corner.
    pub high: Point3<f64>,
    /// Why it may be more than one thing grown together, or part of another; `None` where nothing says
    /// so.
    pub doubt: Option<String>,
}

/// An opening in the wall as a scan shows it; frame as for [`Thing`].
#[derive(Debug, Clone, PartialEq)]
pub struct ScannedOpening {
    /// Its middle on the wall's inner face, seen from above.
    pub at: Point2<f64>,
    /// Clear width along the wall, mm.
    pub width: f64,
    /// Clear height, mm.
    pub height: f64,
    /// Its lower edge above the plate, mm.
    pub sill: f64,
    /// Whether something was seen through it: else it may be closed by a cover or a shadow.
    pub seen_through: bool,
    /// Whether wall was seen all around it.
    pub closed: bool,
    /// Thickness of the wall there, mm; `None` where its outside was not seen.
    pub wall: Option<f64>,
    /// How far its edges wander, and how far apart points lie: what its figures may be wrong by beside
    /// the surface's own deviation, mm.
    pub wander: f64,
}

/// What a scan shows of a car top. Frame as for [`Thing`].
#[derive(Debug, Clone, PartialEq)]
pub struct Scanned {
    /// Things, in the order of the draft's body indices.
    pub things: Vec<Thing>,
    /// Openings of the wall.
    pub openings: Vec<ScannedOpening>,
    /// How far points scatter, mm: one standard deviation.
    pub sigma: f64,
    /// How far apart they lie, mm.
    pub spacing: f64,
    /// Bound on how far what was seen may be from the true surface, mm.
    pub deviation: f64,
    /// Why the plate is the plate, and why up is up.
    pub plate: [Reason; 2],
    /// What of the plate was seen, mm2.
    pub area: f64,
    /// What else is uncertain about the scan, each a sentence without its full stop.
    pub doubts: Vec<String>,
}

/// Finds what is what among the things of a scan. The draft's `plate_from_mesh` takes the things'
/// coordinates to the plate frame.
pub fn survey_scan(scanned: &Scanned, settings: &Settings) -> Result<Draft, Unfound> {
    for thing in &scanned.things {
        let numbers = |p: &Point3<f64>| p.iter().all(|c| c.is_finite());
        if !thing.points.iter().chain([&thing.low, &thing.high]).all(numbers) {
            return Err(Unfound::Unusable(thing.name.clone()));
        }
        let far = thing.points.iter().map(|p| p.coords.amax()).fold(0.0, f64::max);
        if far > solids::build::LARGEST {
            return Err(Unfound::TooFar { body: thing.name.clone(), far: far / 1000.0 });
        }
    }
    let plate =
        scanned.things.iter().position(|t| t.place == Place::Plate).ok_or(Unfound::NoPlate)?;
    let sigma = if scanned.sigma.is_finite() { scanned.sigma.max(0.01) } else { 0.01 };
    let walls = || scanned.things.iter().filter(|t| t.place == Place::Wall);
    let seen: Vec<Point3<f64>> = walls().flat_map(|t| &t.points).copied().collect();
    let no_housing = || Unfound::NoHousing(scanned.things[plate].name.clone());
    let first = wall::of(&seen, sigma).ok_or_else(no_housing)?;
    let toward = match settings.hinge_at {
        Some(turn) => first.square_x() + turn.radians(),
        None => first.square_x(),
    };
    let centre = first.wall.centre();
    let turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), -toward);
    let plate_from_scan = Isometry3::from_parts(Translation3::identity(), turn)
        * Translation3::new(-centre.x, -centre.y, 0.0);
    let placed: Vec<Point3<f64>> = seen.iter().map(|p| plate_from_scan * p).collect();
    let ring = wall::of(&placed, sigma).ok_or_else(no_housing)?;
    let mut survey = Survey {
        scanned,
        things: scanned.things.iter().map(|t| moved(t, &plate_from_scan)).collect(),
        plate_from_scan,
        walls: placed,
        ring,
        sigma,
        unit: settings.unit,
        taken: vec![false; scanned.things.len()],
        questions: Vec::new(),
    };
    survey.ask("measured", "not told", "who scanned this, when and with what, is in no scan", None);
    // One question of the scan: each doubt asks the same of whoever took it.
    let numbered = |(n, doubt): (usize, &String)| format!("({}) {doubt}", n + 1);
    match &scanned.doubts[..] {
        [] => {}
        [doubt] => survey.ask("scan", "as it was taken", doubt, None),
        doubts => {
            let all: Vec<String> = doubts.iter().enumerate().map(numbered).collect();
            survey.ask("scan", "as it was taken", &all.join("; "), None);
        }
    }
    let frame = survey.frame(settings);
    let plate = survey.take_plate(plate);
    let mut housing = survey.take_walls();
    let ports = ports::ports(&mut survey);
    let studs = small::studs(&mut survey);
    let fittings = sort::fittings(&mut survey);
    survey.ask_of_lid();
    survey.leftovers(&mut housing);
    if studs.is_empty() {
        let why = "no equal small things stand by themselves on a circle: are there none, were they not seen, \
                   or are they one with the wall?";
        survey.ask("studs", "not known", why, None);
    }
    if fittings.is_empty() {
        survey.ask("fittings", "none", "nothing stands on the plate inside the housing", None);
    }
    let standing = survey.things.iter().filter(|t| t.place == Place::Standing).count();
    Ok(Draft {
        plate_from_mesh: plate_from_scan,
        frame,
        plate,
        sealing_face: SealingFace {
            rms: sigma,
            most: scanned.deviation,
            area: scanned.area,
            standing,
        },
        housing,
        inner_outline: survey.ring.outline.clone(),
        ports,
        lid: None,
        hinge: Vec::new(),
        studs,
        fittings,
        questions: survey.questions,
    })
}

fn moved(thing: &Thing, pose: &Isometry3<f64>) -> Thing {
    let corners = [thing.low.x, thing.high.x]
        .into_iter()
        .flat_map(|x| [thing.low.y, thing.high.y].map(|y| pose * Point3::new(x, y, thing.low.z)));
    let points: Vec<Point3<f64>> = thing.points.iter().map(|p| pose * p).collect();
    // The box of what was seen where there is enough of it: turned, the given one would grow.
    let all: Vec<Point3<f64>> = if points.len() < 20 { corners.collect() } else { points.clone() };
    let (mut low, mut high) = all
        .iter()
        .fold((all[0], all[0]), |(l, h): (Point3<f64>, Point3<f64>), p| (l.inf(p), h.sup(p)));
    (low.z, high.z) = (thing.low.z, thing.high.z);
    Thing { points, low, high, ..thing.clone() }
}

/// What is being found, in the plate frame.
struct Survey<'s> {
    scanned: &'s Scanned,
    things: Vec<Thing>,
    plate_from_scan: Isometry3<f64>,
    /// Points of the wall.
    walls: Vec<Point3<f64>>,
    ring: wall::Ring,
    sigma: f64,
    unit: LengthUnit,
    taken: Vec<bool>,
    questions: Vec<Question>,
}

fn likely(because: impl Into<String>) -> Reason {
    Reason { confidence: Confidence::Likely, because: because.into() }
}

fn doubtful(because: impl Into<String>) -> Reason {
    Reason { confidence: Confidence::Doubtful, because: because.into() }
}

impl Thing {
    /// The middle of its box, seen from above.
    fn middle(&self) -> Point2<f64> {
        nalgebra::center(&self.low.xy(), &self.high.xy())
    }

    /// Half of its greater extent seen from above, mm.
    fn half(&self) -> f64 {
        0.5 * (self.high.x - self.low.x).max(self.high.y - self.low.y)
    }
}

impl Survey<'_> {
    fn told(&self, mm: f64) -> String {
        Length::from_mm(mm).show(self.unit)
    }

    fn ask(&mut self, about: &str, guess: &str, why: &str, at: Option<Point2<f64>>) {
        self.questions.push(Question {
            about: about.to_owned(),
            guess: guess.to_owned(),
            why: why.to_owned(),
            at,
        });
    }

    /// Asks what a thing is.
    fn ask_of(&mut self, thing: usize, guess: &str, why: &str) {
        let about = format!("body \"{}\"", self.things[thing].name);
        let at = self.things[thing].middle();
        self.ask(&about, guess, why, Some(at));
    }

    /// Things of a place that are taken for nothing yet.
    fn free(&self, place: Place) -> Vec<usize> {
        (0..self.things.len())
            .filter(|i| !self.taken[*i] && self.things[*i].place == place)
            .collect()
    }

    fn frame(&mut self, settings: &Settings) -> [Reason; 2] {
        const MEASURED_IN_IT: &str = "Ports and fittings were measured in this frame, so that \
                                      correcting it alone makes all of them wrong";
        let origin = self.ring.origin(&self.told(2.0 * self.ring.across()));
        if origin.confidence == Confidence::Doubtful {
            let why = format!(
                "{}. {MEASURED_IN_IT}: where it is wrong, scan the wall's inner face all around and \
                 draft again",
                origin.because
            );
            self.ask("frame, origin", "the middle of what was seen of the inner face", &why, None);
        }
        if settings.hinge_at.is_some() {
            return [origin, likely("the hinge's bearing was given")];
        }
        let beside = self.beside_the_rim();
        let (guess, because) = match beside {
            Some(thing) => {
                let p = self.things[thing].middle();
                let bearing = p.y.atan2(p.x).to_degrees().rem_euclid(360.0).round();
                (
                    format!("at bearing {bearing:.0} deg in this plan"),
                    format!(
                        "a scan does not name the hinge; \"{}\" reaches farthest over the rim there",
                        self.things[thing].name
                    ),
                )
            }
            None => (
                "toward the top of the plan".to_owned(),
                "nothing is seen above the rim that could be the lid or its hinge".to_owned(),
            ),
        };
        let toward = doubtful(format!(
            "{because}; +x is as near to the scan's own x as the housing's sides allow"
        ));
        let why = format!(
            "{}. {MEASURED_IN_IT}: draft again with the hinge's bearing in this plan, as in \
             --hinge-at \"90 deg\"",
            toward.because
        );
        self.ask("frame, toward-hinge", &guess, &why, None);
        [origin, toward]
    }

    /// The thing above the rim that reaches farthest beyond the wall.
    fn beside_the_rim(&self) -> Option<usize> {
        let over = |i: &usize| {
            let out = self.things[*i].middle();
            let reach = self.ring.wall.reach(&out.coords).unwrap_or(0.0);
            out.coords.norm() - reach
        };
        let above = self.free(Place::Above).into_iter();
        above.filter(|i| over(i) > -100.0).max_by(|a, b| over(a).total_cmp(&over(b)))
    }

    fn take_plate(&mut self, plate: usize) -> Found {
        self.taken[plate] = true;
        let reasons = &self.scanned.plate;
        let confidence = reasons[0].confidence.min(reasons[1].confidence);
        let because = format!("{}; {}", reasons[0].because, reasons[1].because);
        if confidence == Confidence::Doubtful {
            self.ask_of(plate, "plate", &because);
        }
        for other in self.free(Place::Plate) {
            self.taken[other] = true;
            self.ask_of(other, "plate", "it was taken for a piece of the plate: is it one?");
        }
        Found {
            body: plate,
            reason: Reason { confidence: confidence.min(Confidence::Likely), because },
        }
    }

    fn take_walls(&mut self) -> Vec<Found> {
        let mut found = Vec::new();
        for thing in self.free(Place::Wall) {
            self.taken[thing] = true;
            let shape = "it surrounds the middle of the plate and is tall";
            let mut reason = likely(shape);
            if let Some(doubt) = self.things[thing].doubt.clone() {
                reason = doubtful(format!("{shape}; {doubt}"));
                self.ask_of(thing, "housing", &reason.because);
            }
            found.push(Found { body: thing, reason });
        }
        found
    }

    /// Lid and hinge cannot be told from points: what may be either is named.
    fn ask_of_lid(&mut self) {
        let above = self.free(Place::Above);
        let names: Vec<String> =
            above.iter().map(|i| format!("\"{}\"", self.things[*i].name)).collect();
        let why = if names.is_empty() {
            "nothing is seen above the rim: is there no lid, is it taken off, or was it not scanned? \
             Until [lid] and [hinge] say so their checks cannot be told"
                .to_owned()
        } else {
            format!(
                "of what is seen above the rim or beyond it ({}) one may be the lid, another its hinge; a \
                 scan does not tell, nor where the hinge's axis is. Until [lid] and [hinge] say so their \
                 checks cannot be told",
                names.join(", ")
            )
        };
        self.ask("lid", "not known", &why, None);
    }

    /// What is taken for nothing else is listed with the housing, and asked about: left out, it would be
    /// taken for free space.
    fn leftovers(&mut self, housing: &mut Vec<Found>) {
        for thing in 0..self.things.len() {
            if self.taken[thing] {
                continue;
            }
            self.taken[thing] = true;
            let because = match self.things[thing].place {
                Place::Above => {
                    "it is seen above the rim or beyond it: is it the lid, the hinge, or fixed to the \
                     housing?"
                }
                _ => {
                    "it is too small or stands too far out for a fitting: is it fixed to the plate, does \
                     it belong to a fitting, or was it seen wrongly?"
                }
            };
            self.ask_of(thing, "housing: fixed to it", because);
            housing.push(Found { body: thing, reason: doubtful(because) });
        }
    }
}

#[cfg(test)]
mod tests;
