//! What there is to say of a body by itself.

use super::ModelBody;
use crate::soundness::{self, Wrong};

/// What there is to say of a body by itself. Lengths are those of its coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Its triangles.
    pub triangles: usize,
    /// Its vertices, equal ones counted once.
    pub vertices: usize,
    /// Sets of triangles that edges connect.
    pub shells: usize,
    /// The corners of the box around it; none without vertices.
    pub bounds: Option<[[f64; 3]; 2]>,
    /// Its surface.
    pub area: f64,
    /// What it encloses; none where it is not closed.
    pub volume: Option<f64>,
    /// What is wrong with its surface.
    pub wrong: Vec<Wrong>,
    /// Pieces of its surface that could not be meshed, named for people.
    pub missing: Vec<String>,
}

impl Judged {
    /// Looks at a body.
    pub fn of(body: &ModelBody) -> Self {
        let (found, mut wrong) = soundness::wrong(&body.mesh);
        let pieces = (found.components > 1).then(|| soundness::contradiction(body)).flatten();
        wrong.extend(pieces.as_ref().map(soundness::contradictory));
        Self {
            triangles: body.mesh.triangles.len(),
            vertices: body.mesh.vertices.len(),
            shells: found.components,
            bounds: body.mesh.bounds().map(|(low, high)| [low.into(), high.into()]),
            area: solids::area(&body.mesh),
            volume: found.is_closed().then(|| solids::volume(&body.mesh)),
            wrong,
            missing: body.missing.clone(),
        }
    }

    /// Whether it bounds a body: closed, facing outward, its pieces in agreement, none missing. Triangles that are there twice
    /// or have no area do not change that.
    pub fn is_sound(&self) -> bool {
        self.missing.is_empty() && !self.wrong.iter().any(|w| w.opens)
    }
}
