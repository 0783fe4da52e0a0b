//! A whole rig against a pressure: what the gasket asks for, what the torque gives, and every way
//! in which the rig may fail.

use super::gather::{Given, Told, both, gather, given};
use super::{Mode, Part, Rig, Verdict};
use crate::{CarLoads, Fault, contact, metal_poisson};
use measure::{Bounds, Force, Length, Pressure, Stress, Torque};

/// How a rig stands to a pressure.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// Gauge pressure in the cup.
    pub pressure: Bounds<Pressure>,
    /// What the pressure pushes off.
    pub end_load: Bounds<Force>,
    /// Screw load below which the joint is not tight; a fault where that cannot be told.
    pub needed_load: Result<Bounds<Force>, Fault>,
    /// Torque that gives the needed load, from the least friction to the greatest. The upper end is
    /// the torque to set: it suffices whatever the friction is.
    pub torque: Result<Bounds<Torque>, Vec<Fault>>,
    /// Screw load that arises: from the needed one to what the set torque gives where friction is
    /// least. Without bound above where friction is not given.
    pub screw_load: Option<Bounds<Force>>,
    /// Least and greatest contact stress on the gasket's face at the needed load under pressure.
    pub contact: Option<[Bounds<Stress>; 2]>,
    /// What the car is asked to bear at that load; for a licensed engineer to check.
    pub car: Option<CarLoads>,
    /// How far the bar bends up at the screw, by bending and shear; `None` without load or modulus.
    pub deflection: Option<Bounds<Length>>,
    /// Every way in which it may fail, in the order in which the load runs.
    pub modes: Vec<Mode>,
}

impl Hold {
    /// The verdict over all modes: holds if each does, does not hold if one does not.
    pub fn verdict(&self, required: f64) -> Verdict {
        let verdicts = self.modes.iter().map(|m| m.verdict(required));
        verdicts.max().unwrap_or(Verdict::CannotTell)
    }

    /// The mode that is told for certain with the least factor over the one that it must keep, by
    /// its lower end; `None` where none is told.
    pub fn governing(&self, required: f64) -> Option<&Mode> {
        self.modes
            .iter()
            .filter(|m| m.lacking.is_empty())
            .filter_map(|m| m.factor.map(|f| (m, f.low() / m.kind.required(required))))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(mode, _)| mode)
    }

    /// Everything that is missing, each once.
    pub fn lacking(&self) -> Vec<&Fault> {
        let mut all: Vec<&Fault> = Vec::new();
        for fault in self.modes.iter().flat_map(|m| &m.lacking) {
            if !all.contains(&fault) {
                all.push(fault);
            }
        }
        all
    }
}

/// Torque for each unit of load, thread and tip together.
pub fn torque_arm(rig: &Rig) -> Told<Bounds<Length>> {
    let thread = given(rig.screw.thread_friction, "thread friction");
    let pivot = given(rig.screw.pivot_friction, "friction at the screw's tip");
    let (thread, pivot) = both(thread, pivot)?;
    let arm = rig.screw.thread.raising_arm(thread).map_err(|f| vec![f])?;
    Ok(arm + rig.screw.pivot_radius * pivot.range())
}

/// Assesses a rig against a gauge pressure.
///
/// The screw's load is known by the torque that is set, and friction only within its range: the
/// torque that suffices at the greatest friction gives more load at the least, and every part must
/// bear that. `Err`: what is wrong with the rig or the pressure; what is merely not given is told
/// mode by mode.
pub fn assess(rig: &Rig, pressure: Bounds<Pressure>) -> Told<Hold> {
    let mut faults = rig.faults();
    if !pressure.is_finite() || pressure.low() < Pressure::from_mpa(0.0) {
        let remedy = "give a finite gauge pressure of zero or more";
        faults.push(Fault::out_of_range("pressure in the cup", pressure, remedy));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let end_load = rig.gasket.end_load(pressure);
    let needed_load = rig.gasket.needed_load(pressure, &rig.aim);
    let arm = torque_arm(rig);
    let unbounded = Bounds::between(1.0, f64::INFINITY);
    // What the set torque may give over what is needed.
    let excess = arm.as_ref().map_or(unbounded, |a| {
        Bounds::between(1.0, a.interval().high / a.interval().low.max(0.0))
            * Bounds::within(1.0, 1e-15)
    });
    let screw_load = needed_load.as_ref().ok().map(|&w| {
        let most = Bounds::exactly(w.high()) * Bounds::exactly(excess.high());
        Bounds::between(w.low(), most.high())
    });
    let torque = match (&needed_load, &arm) {
        (Ok(load), Ok(arm)) => Ok(*load * *arm),
        (Err(fault), Ok(_)) => Err(vec![fault.clone()]),
        (Ok(_), Err(faults)) => Err(faults.clone()),
        (Err(fault), Err(faults)) => Err(std::iter::once(fault).chain(faults).cloned().collect()),
    };
    let modes = gather(Given {
        rig,
        pressure,
        load: screw_load.ok_or_else(|| needed_load.clone().err().into_iter().collect()),
        torque: torque.clone(),
        unsure: arm.err().unwrap_or_default(),
    });
    let face = rig.gasket.face.whole();
    let contact = needed_load.as_ref().ok().map(|&w| contact(&face, w, end_load, &rig.aim));
    let car = screw_load.map(|load| CarLoads::of(load, end_load, &rig.bar));
    let deflection = screw_load.zip(rig.modulus(Part::Bar).ok()).map(|(load, modulus)| {
        // The shear modulus of a metal that is alike in all directions.
        let shear = modulus / ((Bounds::exactly(1.0) + metal_poisson()) * 2.0);
        rig.bar.deflection_at_screw(load, modulus) + rig.bar.shear_deflection(load, shear)
    });
    let hold = Hold {
        pressure,
        end_load,
        needed_load,
        torque,
        screw_load,
        contact,
        car,
        deflection,
        modes,
    };
    Ok(hold)
}
