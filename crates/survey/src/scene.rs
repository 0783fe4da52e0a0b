//! The bodies in the plate frame, and who is taken for what.

use crate::draft::{Confidence, Found, Question, Reason};
use crate::face::{Face, faces};
use crate::wall::Wall;
use crate::words::{Meaning, Said};
use gap::{Solid, surface_gap};
use measure::{Length, LengthUnit};
use nalgebra::{Isometry3, Point2, Point3};
use solids::Body;

/// The bodies where they stand, with what their names say.
pub(crate) struct Scene {
    pub(crate) names: Vec<String>,
    pub(crate) said: Vec<Said>,
    pub(crate) faces: Vec<Vec<Face>>,
    pub(crate) solids: Vec<Solid>,
    pub(crate) bounds: Vec<(Point3<f64>, Point3<f64>)>,
    pub(crate) deviations: Vec<f64>,
    /// Whether a body is taken for something already.
    pub(crate) taken: Vec<bool>,
    pub(crate) wall: Wall,
    /// Whether a body stands on the sealing face.
    pub(crate) standing: Vec<bool>,
    pub(crate) questions: Vec<Question>,
    /// In which reasons are told.
    pub(crate) unit: LengthUnit,
}

impl Scene {
    /// A length as a reason tells it.
    pub(crate) fn told(&self, mm: f64) -> String {
        Length::from_mm(mm).show(self.unit)
    }

    /// How far something is off, as a reason tells it: to a hundredth of a millimetre or so.
    pub(crate) fn fine(&self, mm: f64) -> String {
        let places = self.unit.usual_places() + 1;
        let least = match self.unit {
            LengthUnit::Inch => 0.025_4,
            LengthUnit::Millimetre => 0.01,
        };
        Length::from_mm(mm.max(least)).show_to(self.unit, places)
    }

    pub(crate) fn new(
        bodies: &[Body],
        said: Vec<Said>,
        plate_from_mesh: &Isometry3<f64>,
        wall: Wall,
        standing: &[usize],
        unit: LengthUnit,
    ) -> Self {
        let placed: Vec<_> = bodies.iter().map(|b| b.mesh.transformed(plate_from_mesh)).collect();
        let none = (Point3::origin(), Point3::origin());
        Self {
            names: bodies.iter().map(|b| b.name.clone()).collect(),
            said,
            faces: placed.iter().map(faces).collect(),
            bounds: placed.iter().map(|m| m.bounds().unwrap_or(none)).collect(),
            solids: placed.iter().map(Solid::new).collect(),
            deviations: bodies.iter().map(|b| b.deviation.bound).collect(),
            taken: vec![false; bodies.len()],
            wall,
            standing: (0..bodies.len()).map(|i| standing.contains(&i)).collect(),
            questions: Vec::new(),
            unit,
        }
    }

    /// The bodies that are taken for nothing yet.
    pub(crate) fn free(&self) -> Vec<usize> {
        (0..self.taken.len()).filter(|i| !self.taken[*i]).collect()
    }

    /// The middle of a body's box, seen from above.
    pub(crate) fn middle(&self, body: usize) -> Point2<f64> {
        let (low, high) = self.bounds[body];
        nalgebra::center(&low.xy(), &high.xy())
    }

    /// Half of a body's greater extent seen from above, mm.
    pub(crate) fn half(&self, body: usize) -> f64 {
        let (low, high) = self.bounds[body];
        0.5 * (high.x - low.x).max(high.y - low.y)
    }

    /// The distance of two bodies' surfaces, if it is less than `cap` mm.
    pub(crate) fn distance(&self, a: usize, b: usize, cap: f64) -> Option<f64> {
        let ((la, ha), (lb, hb)) = (self.bounds[a], self.bounds[b]);
        let apart = (0..3).map(|i| (la[i] - hb[i]).max(lb[i] - ha[i]));
        if apart.fold(f64::NEG_INFINITY, f64::max) > cap {
            return None;
        }
        let gap = surface_gap(&self.solids[a], &self.solids[b], &Isometry3::identity(), cap);
        gap.ok().flatten().map(|gap| gap.distance)
    }

    /// Takes a body for something for the reason that its shape gives; what its name says is weighed
    /// with it, and where the two disagree there is a question about `what` it is.
    pub(crate) fn take(
        &mut self,
        body: usize,
        meanings: &[Meaning],
        what: &str,
        shape: String,
    ) -> Found {
        let reason = self.weigh(body, meanings, shape);
        if reason.confidence == Confidence::Doubtful {
            self.ask_of(body, what, &reason.because);
        }
        self.taken[body] = true;
        Found { body, reason }
    }

    /// The reason for taking a body for one of some meanings.
    pub(crate) fn weigh(&self, body: usize, meanings: &[Meaning], shape: String) -> Reason {
        let said = &self.said[body];
        let (confidence, because) = if said.says(meanings) {
            (Confidence::Sure, format!("its name says so, and {shape}"))
        } else if said.denies(meanings) {
            (Confidence::Doubtful, format!("its name says {}, but {shape}", said.words()))
        } else {
            (Confidence::Likely, shape)
        };
        Reason { confidence, because }
    }

    /// Asks what a body is.
    pub(crate) fn ask_of(&mut self, body: usize, what: &str, why: &str) {
        let about = format!("body \"{}\"", self.names[body]);
        let at = Some(self.middle(body));
        self.ask(about, what.to_owned(), why.to_owned(), at);
    }

    pub(crate) fn ask(
        &mut self,
        about: String,
        guess: String,
        why: String,
        at: Option<Point2<f64>>,
    ) {
        self.questions.push(Question { about, guess, why, at });
    }
}
