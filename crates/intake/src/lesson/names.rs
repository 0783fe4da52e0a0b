//! What a lesson names of the case and the kit.

use super::unknown;
use crate::fault::Pen;
use crate::table::Text;
use assembly::placement::Removed;
use assembly::rig::RigPart;
use assembly::{CarTop, Kit};
use std::collections::BTreeSet;

/// The names of a case and a kit. Of one that could not be read no name is known, and none is doubted:
/// its own faults come first.
pub(super) struct Names<'a> {
    pub(super) car: Option<&'a CarTop>,
    pub(super) kit: Option<&'a Kit>,
    /// The parts of the rig and the bodies of the car top, as the record names them.
    parts: Vec<String>,
}

impl<'a> Names<'a> {
    pub(super) fn new(car: Option<&'a CarTop>, kit: Option<&'a Kit>) -> Self {
        let mut parts: BTreeSet<String> = BTreeSet::new();
        if let (Some(car), Some(kit)) = (car, kit) {
            parts.extend(car.bodies.iter().map(|b| b.body.name.clone()));
            for part in RigPart::all(kit) {
                parts.extend(car.ports.iter().map(|port| part.name([&port.name, &port.name])));
            }
        }
        Self { car, kit, parts: parts.into_iter().collect() }
    }

    /// The index of one of some things; `None` when it is not among them. Of things that are not known
    /// the first.
    fn index(pen: &mut Pen, what: &str, name: &Text, known: Option<Vec<String>>) -> Option<usize> {
        let Some(known) = known else { return Some(0) };
        let found = known.iter().position(|k| *k == name.text);
        if found.is_none() {
            unknown(pen, what, name, &known);
        }
        found
    }

    pub(super) fn fitting(&self, pen: &mut Pen, name: &Text) -> Option<usize> {
        let known = self.car.map(|car| car.fittings.iter().map(|f| f.name.clone()).collect());
        Self::index(pen, "fitting", name, known)
    }

    pub(super) fn port(&self, pen: &mut Pen, name: &Text) -> Option<usize> {
        let known = self.car.map(|car| car.ports.iter().map(|p| p.name.clone()).collect());
        Self::index(pen, "port", name, known)
    }

    pub(super) fn cup(&self, pen: &mut Pen, name: &Text) -> Option<usize> {
        let known = self.kit.map(|kit| kit.cups.iter().map(|c| c.name.clone()).collect());
        Self::index(pen, "cup", name, known)
    }

    /// A piece to take off: of the lesson's fitting by its name alone, of another with the fitting's
    /// name before it.
    pub(super) fn piece(&self, pen: &mut Pen, name: &Text, fitting: usize) -> Option<Removed> {
        let Some(car) = self.car else { return Some(Removed { fitting, removable: 0 }) };
        let mut known = Vec::new();
        for (i, of) in car.fittings.iter().enumerate() {
            for (removable, piece) in of.removables.iter().enumerate() {
                let named = if i == fitting {
                    piece.name.clone()
                } else {
                    format!("{} {}", of.name, piece.name)
                };
                known.push((named, Removed { fitting: i, removable }));
            }
        }
        let found = known.iter().find(|(known, _)| *known == name.text).map(|(_, piece)| *piece);
        if found.is_none() {
            let names: Vec<String> = known.into_iter().map(|(name, _)| name).collect();
            unknown(pen, "piece to take off", name, &names);
        }
        found
    }

    /// Two parts by their names.
    pub(super) fn pair(&self, pen: &mut Pen, pair: &[Text; 2]) -> Option<[String; 2]> {
        let mut is_known = true;
        for name in pair {
            if !self.parts.is_empty() && !self.parts.contains(&name.text) {
                unknown(pen, "part", name, &self.parts);
                is_known = false;
            }
        }
        is_known.then(|| pair.clone().map(|name| name.text))
    }
}
