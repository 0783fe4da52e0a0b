//! Can the clamp hold: the sealing mechanics for the placement that a review found.
//!
//! It never changes whether a fitting fits. What a document leaves out leaves the modes that need it
//! untold.

mod pressure;
mod rig;

pub use pressure::{Pressed, Source, faults};
pub use rig::rig;

use crate::run::{FittingReview, Review};
use crate::words::sealing::TIP_BASIS;
use assembly::hold::{Bolts, Service};
use assembly::{CarTop, Kit};
use measure::{Bounds, Force, Pressure, Torque};
use rayon::prelude::*;
use sealing::hold::{
    Highest, Hold, Mode, Raise, Rig, Verdict, assess, highest_pressure, what_raises_it,
};
use sealing::{Bolting, Fault, shear_share};

/// What the sealing mechanics came to for one fitting.
#[derive(Debug, Clone, PartialEq)]
pub struct Holding {
    /// Index into [`CarTop::fittings`].
    pub fitting: usize,
    /// The rig at its placement, or what is not given or wrong.
    pub rig: Result<Rig, Vec<Fault>>,
    /// The pressure on which the verdict rests, or why there is none.
    pub pressure: Result<Pressed, Fault>,
    /// The rig against that pressure's upper end: a rig that holds a pressure holds every lower one.
    /// `None` without a pressure, or where something is wrong.
    pub hold: Option<Hold>,
    /// Every way in which the rig may fail, with what is not given or wrong.
    pub modes: Vec<Mode>,
    /// Other pressures that the tank may come to.
    pub beside: Vec<Beside>,
    /// The highest pressure that it holds; `None` where the rig or the owner's safety factor is not
    /// known.
    pub highest: Option<Highest>,
    /// The torque that would be set for it.
    pub highest_torque: Option<Torque>,
    /// What raises that most, most first.
    pub raises: Vec<Raise>,
    /// The safety factor that the owner asks for.
    pub required: Option<f64>,
    /// Pull in the housing's most loaded bolt, before what they were tightened with; `None` where the
    /// load or the bolts' circle is not known.
    pub bolt_pull: Option<Bounds<Force>>,
    /// Shear value of the housing's bolts over that of the cover's (49 CFR 179.100-12(c)); `None`
    /// where not both are given.
    pub shear_share: Option<Bounds<f64>>,
    /// What the documents' figures rest on: of what, and the document's words.
    pub bases: Vec<(String, String)>,
}

/// A pressure that the tank may come to, and how the rig stands to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// The pressure.
    pub pressed: Pressed,
    /// Whether the rig holds it, with the torque set for it.
    pub verdict: Verdict,
    /// The torque that would have to be set for it; `None` where the one set for the lading's pressure
    /// does as well, or none holds it.
    pub torque: Option<Torque>,
}

impl Holding {
    /// Whether the rig holds the lading's pressure.
    pub fn verdict(&self) -> Verdict {
        self.hold.as_ref().map_or(Verdict::CannotTell, |hold| stands(hold, self.required))
    }
}

/// How a rig stands to a pressure. Without the owner's factor it may fail for certain, since no owner
/// asks for less than 1, and never holds for certain.
fn stands(hold: &Hold, required: Option<f64>) -> Verdict {
    required.map_or_else(|| hold.verdict(1.0).max(Verdict::CannotTell), |r| hold.verdict(r))
}

/// Looks at every fitting of a review that fits, on all threads of the current rayon pool.
pub fn hold(car: &CarTop, kit: &Kit, service: &Service, review: &Review) -> Vec<Holding> {
    review.fittings.par_iter().filter_map(|found| one(car, kit, service, found)).collect()
}

fn one(car: &CarTop, kit: &Kit, service: &Service, found: &FittingReview) -> Option<Holding> {
    let study = &found.chosen()?.study;
    if !study.verdict.is_fit() {
        return None;
    }
    let rig = rig(car, kit, service, study);
    let required = kit.hold.safety_factor;
    let pressure = pressure::used(service);
    let against = |pressed: &Pressed| {
        let most = Bounds::exactly(pressed.gauge.high());
        rig.as_ref().map_err(Clone::clone).and_then(|rig| assess(rig, most))
    };
    let (hold, modes) = match &pressure {
        Ok(pressed) => match against(pressed) {
            Ok(hold) => (Some(hold.clone()), hold.modes),
            Err(faults) => (None, Mode::untold(&faults)),
        },
        Err(fault) => (None, without_pressure(rig.as_ref(), fault)),
    };
    let set = hold.as_ref().filter(|h| stands(h, required) == Verdict::Holds);
    let set = set.and_then(|h| h.set_torque.clone().ok()).map(Torque::newton_mm);
    let told = |pressed: Pressed| {
        let found = against(&pressed);
        let verdict = found.as_ref().map_or(Verdict::CannotTell, |h| stands(h, required));
        let asked = found.ok().filter(|_| verdict == Verdict::Holds);
        let asked = asked.and_then(|h| h.set_torque.ok());
        let torque = asked.filter(|torque| set.is_none_or(|set| torque.newton_mm() > set));
        Beside { pressed, verdict, torque }
    };
    let beside = pressure::beside(service).into_iter().map(told).collect();
    let known = rig.as_ref().ok().filter(|_| required.is_some());
    let bolt_pull = service.housing_bolts.as_ref().and_then(|bolts| {
        let load = hold.as_ref()?.screw_load?;
        let tilt = load * rig::from_axis(car, kit, study)?;
        let circle = bolts.circle.filter(|_| bolts.count >= 3)?;
        Some(bolting(bolts).most_pull(load, tilt, circle.into()))
    });
    let highest = known.and_then(|rig| highest_pressure(rig).ok());
    let highest_torque = known
        .zip(highest.and_then(|h| h.surely))
        .and_then(|(rig, surely)| assess(rig, Bounds::exactly(surely)).ok()?.set_torque.ok());
    Some(Holding {
        fitting: found.fitting,
        highest,
        highest_torque,
        raises: known.and_then(|rig| what_raises_it(rig).ok()).unwrap_or_default(),
        pressure,
        hold,
        modes,
        beside,
        bolt_pull,
        required,
        shear_share: service
            .housing_bolts
            .as_ref()
            .zip(service.cover_bolts.as_ref())
            .and_then(|(housing, cover)| shear_share(&bolting(housing), &bolting(cover)).ok()),
        bases: bases(rig.as_ref().ok(), kit, service),
        rig,
    })
}

/// What the figures rest on, in the order in which the load runs; of a rig, or of the car alone.
fn bases(rig: Option<&Rig>, kit: &Kit, service: &Service) -> Vec<(String, String)> {
    let gasket = rig.and_then(|r| r.gasket.supplier.as_ref());
    let gasket = gasket.map(|s| ("gasket contact stress".to_owned(), s.basis.clone()));
    let screw = &kit.hold.screw;
    let tip = screw.tip_radius.map(|_| (TIP_BASIS.to_owned(), screw.tip_basis.clone()));
    let materials = rig.into_iter().flat_map(|r| &r.materials);
    let materials = materials.map(|m| (m.part.word().to_owned(), m.basis.clone()));
    let bolts = [("housing bolts", &service.housing_bolts), ("cover bolts", &service.cover_bolts)];
    let bolts = bolts
        .into_iter()
        .filter_map(|(what, bolts)| Some((what.to_owned(), bolts.as_ref()?.basis.clone())));
    let figures = &kit.hold;
    let rubs = screw.thread_friction.or(screw.tip_friction).is_some();
    let given = [
        (rubs, "friction of the screw", &screw.friction_basis),
        (figures.pin_friction.is_some(), "friction of the pins", &figures.pin_friction_basis),
        (
            figures.links_held.is_some(),
            "hold of the links in the saddles",
            &figures.links_held_basis,
        ),
        (figures.torque_error.is_some(), "error of the torque", &figures.torque_basis),
        (figures.hand.is_some(), "hand force", &figures.hand_basis),
        (figures.safety_factor.is_some(), "safety factor", &figures.factor_basis),
    ];
    let given = given.into_iter().filter(|(given, ..)| *given);
    let given = given.map(|(_, what, basis)| (what.to_owned(), basis.clone()));
    gasket.into_iter().chain(tip).chain(given).chain(materials).chain(bolts).collect()
}

/// The modes of a rig that is pressed nobody knows how hard, with what else they lack.
fn without_pressure(rig: Result<&Rig, &Vec<Fault>>, fault: &Fault) -> Vec<Mode> {
    let none = Bounds::exactly(Pressure::from_mpa(0.0));
    let untold = |faults: &[Fault]| {
        let all: Vec<Fault> = std::iter::once(fault).chain(faults).cloned().collect();
        Mode::untold(&all)
    };
    match rig.map(|rig| assess(rig, none)) {
        Ok(Ok(hold)) => hold
            .modes
            .into_iter()
            .map(|mut mode| {
                if mode.kind.is_of_pressure() {
                    mode.factor = None;
                    mode.lacking.insert(0, fault.clone());
                }
                mode
            })
            .collect(),
        Ok(Err(faults)) => untold(&faults),
        Err(faults) => untold(faults),
    }
}

fn bolting(bolts: &Bolts) -> Bolting {
    Bolting {
        count: bolts.count,
        diameter: bolts.diameter,
        pitch: bolts.pitch,
        shear_strength: bolts.shear_strength,
    }
}
