//! What is to be seen and from where, as plain data.

use display::{Framing, Lens, Mark};
use nalgebra::{Point3, Unit, Vector3};

/// What one picture shows of a display list.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// From where.
    pub framing: Framing,
    /// With what lens.
    pub lens: Lens,
    /// When, seconds of the installation.
    pub at: f64,
    /// What is cut away.
    pub section: Option<Section>,
    /// The figures drawn.
    pub marks: Vec<Mark>,
    /// The line above the picture; empty for none.
    pub title: String,
    /// The line below it; empty for none.
    pub foot: String,
    /// Whether nothing is drawn where there is nothing, instead of a background.
    pub is_transparent: bool,
}

/// A plane; what lies on the side to which its normal points is cut away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// A point on it, plate frame, mm.
    pub through: Point3<f64>,
    /// Its normal.
    pub away: Unit<Vector3<f64>>,
}
