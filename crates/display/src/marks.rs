//! What limits, as it is drawn: lines between the points where figures were measured.

use measure::LengthUnit;
use nalgebra::Point3;
use review::record::{Fitting, Margin};
use review::words;

/// A figure of a check that has a place: a line between two points, with what it measures.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// The check.
    pub check: String,
    /// The names of the two parts, the same where the figure is about one.
    pub parts: [String; 2],
    /// The two points, plate frame, mm.
    pub ends: [Point3<f64>; 2],
    /// What was measured there in a sentence, in the unit asked for.
    pub sentence: String,
    /// Whether the rule is broken, or may be within the deviations, or it is the figure that limits.
    pub is_strong: bool,
}

/// The marks of a fitting in the order of its checks: of each check the figure with the least margin.
pub fn marks(fitting: &Fitting, unit: LengthUnit) -> Vec<Mark> {
    let limit = fitting.limit.as_ref();
    let least = fitting.checks.iter().filter_map(|check| check.least.as_ref());
    least.filter_map(|margin| Mark::of(margin, unit, limit == Some(margin))).collect()
}

impl Mark {
    fn of(margin: &Margin, unit: LengthUnit, limits: bool) -> Option<Self> {
        let is_short = margin.margin_mm.low.is_none_or(|low| low <= 0.0);
        Some(Self {
            check: margin.check.clone(),
            parts: [margin.a.clone(), margin.b.clone()],
            ends: margin.witness_mm?.map(Point3::from),
            sentence: words::sentence(margin, unit),
            is_strong: is_short || limits,
        })
    }
}
