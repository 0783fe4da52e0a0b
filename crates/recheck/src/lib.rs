//! Re-checks what a search wrote down, by simple code of its own: no index, no hierarchy, none of
//! the search's poses, queries or checks. Parts' triangles, names and allowed contacts are the
//! program's.
//!
//! [`certificate`] goes through the proof that no placement does better than a bound, [`placement`]
//! through every pair of parts at one placement.

mod bend;
#[cfg(test)]
mod bounds;
pub mod brute;
mod fault;
mod placed;
pub mod poses;
mod setting;
mod space;
mod term;
mod tree;
mod whole;
mod witness;

pub use fault::{CONTINUOUS, DISCRETE, Fault};
pub use placed::{Confirmed, Left, placement, rules};
pub use setting::{Piece, Setting};
pub use whole::{Found, placement_of, record};

use assembly::placement::Removed;
use assembly::{CarTop, Choice, Kit};
use review::proof::Certificate;

/// What re-checking a certificate found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rechecked {
    /// Leaves of the tree.
    pub cells: usize,
    /// Witnesses that the leaves use.
    pub witnesses: usize,
    /// The most nodes above a leaf.
    pub deepest: usize,
    /// The bound as worked out here, mm, not above the certificate's but for 1e-9 mm: of the
    /// placements in the root box that keep the tolerance rules none has a least margin above it.
    /// Outside the box a margin's high end is below zero. Minus infinity when a tolerance is broken
    /// everywhere.
    pub bound_mm: f64,
}

/// Re-checks a certificate for a fitting and a cup, by their indices.
pub fn certificate(
    car: &CarTop,
    kit: &Kit,
    fitting: usize,
    cup: usize,
    certificate: &Certificate,
) -> Result<Rechecked, Fault> {
    let choice = choice(car, fitting, cup, certificate)?;
    let setting = Setting::new(car, kit, &choice)?;
    if !certificate.bound_mm.is_finite() {
        return Err(Fault::NotFinite { what: "bound".into() });
    }
    space::check(&setting, &certificate.space)?;
    let found = tree::walk(&setting, certificate)?;
    Ok(Rechecked {
        cells: found.cells,
        witnesses: found.witnesses,
        deepest: found.deepest,
        bound_mm: found.bound,
    })
}

/// The choice that a certificate for a fitting and a cup, by their indices, names.
pub fn choice(
    car: &CarTop,
    fitting: usize,
    cup: usize,
    certificate: &Certificate,
) -> Result<Choice, Fault> {
    let [a, b] = &certificate.ports;
    let ports = [port(car, a)?, port(car, b)?];
    Ok(Choice { fitting, cup, ports, removed: removed(car, &certificate.removed)? })
}

fn port(car: &CarTop, name: &str) -> Result<usize, Fault> {
    only("port", name, car.ports.iter().map(|p| p.name.as_str()))
}

fn removed(car: &CarTop, names: &[review::record::Removed]) -> Result<Vec<Removed>, Fault> {
    let one = |removed: &review::record::Removed| {
        let names = car.fittings.iter().map(|f| f.name.as_str());
        let of = only("fitting", &removed.fitting, names)?;
        let names = car.fittings[of].removables.iter().map(|r| r.name.as_str());
        Ok(Removed { fitting: of, removable: only("removable piece", &removed.piece, names)? })
    };
    names.iter().map(one).collect()
}

/// The index of the only one of this name.
fn only<'n>(
    what: &'static str,
    name: &str,
    all: impl Iterator<Item = &'n str>,
) -> Result<usize, Fault> {
    let found: Vec<usize> = all.enumerate().filter(|(_, n)| *n == name).map(|(i, _)| i).collect();
    match found[..] {
        [index] => Ok(index),
        _ => Err(Fault::Name { what, name: name.into(), count: found.len() }),
    }
}
