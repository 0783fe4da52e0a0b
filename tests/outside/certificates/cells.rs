//! The cells of a certificate.

use assembly::Kit;
use review::proof::{Certificate, Node, Space};

/// A leaf: its part of the space, and the witnesses that bound it.
pub(crate) struct Cell {
    pub(crate) space: Space,
    pub(crate) witnesses: Vec<usize>,
}

/// How many options each discrete variable has.
pub(crate) fn options(kit: &Kit) -> [usize; 7] {
    let (holes, thick) = (kit.link.holes.len(), kit.link.thicknesses.len());
    [kit.outlet.elbow_turns.len(), holes, holes, thick, thick, thick, thick]
}

/// Every leaf. Options are left out: each witness tells those for which it holds.
pub(crate) fn cells(certificate: &Certificate, kit: &Kit) -> Vec<Cell> {
    let (mut open, mut found) = (vec![certificate.space.clone()], Vec::new());
    for node in &certificate.nodes {
        let space = open.pop().unwrap();
        match node {
            Node::Halve(k) => {
                let middle = 0.5 * (space.low[*k] + space.high[*k]);
                let (mut lower, mut upper) = (space.clone(), space);
                lower.high[*k] = middle;
                upper.low[*k] = middle;
                open.extend([upper, lower]);
            }
            Node::Choose(d) => open.extend(vec![space; options(kit)[*d]]),
            Node::Leaf(weights) => {
                let used = weights.iter().filter(|(_, weight)| *weight > 0.0);
                found.push(Cell { space, witnesses: used.map(|(w, _)| *w).collect() });
            }
        }
    }
    found
}
