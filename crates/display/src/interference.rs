//! Where parts run into each other, beside the mark that tells how far.

use crate::marks::Mark;
use solids::{Mesh, Polyline};

/// Where the two parts of a mark run into each other, plate frame, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Interference {
    /// Index into [`crate::DisplayList::marks`].
    pub mark: usize,
    /// The lines along which their surfaces cross; none where one part is inside the other.
    pub lines: Vec<Polyline>,
    /// What both fill; `None` where a surface is open, or it could not be made.
    pub volume: Option<Mesh>,
}

/// The interferences that a review found, each with its mark; without one it is not shown.
pub fn interferences(found: Vec<review::Interference>, marks: &[Mark]) -> Vec<Interference> {
    let with_mark = |found: review::Interference| {
        let is_its = |mark: &Mark| mark.check == found.check && mark.parts == found.parts;
        let mark = marks.iter().position(is_its)?;
        Some(Interference { mark, lines: found.lines, volume: found.volume })
    };
    found.into_iter().filter_map(with_mark).collect()
}
