//! Findings: what is notable about what was read, without being wrong enough to refuse it.

use nalgebra::Point3;

/// Something a reader of the results must know about what was read. It carries no judgement of how
/// grave it is: that depends on what is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The mesh or part it is about, by its name in the document.
    pub about: String,
    /// The file, as written in the document; `None` for the document itself.
    pub file: Option<String>,
    /// What was found, in a short phrase.
    pub what: String,
    /// How many, where it can be counted.
    pub count: Option<usize>,
    /// One place where it is so, plate frame, mm.
    pub at: Option<Point3<f64>>,
    /// What to do about it.
    pub remedy: String,
}
