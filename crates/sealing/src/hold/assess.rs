//! A whole rig against a pressure: what the gasket asks for, what the torque gives, and every way
//! in which the rig may fail.

use super::gather::{Given, Told, both, gather, given};
use super::needed::needed;
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
    /// Screw load below which the joint is not tight; faults where that cannot be told.
    pub needed_load: Result<Bounds<Force>, Vec<Fault>>,
    /// How far off the cup's axis the screw presses at the load that arises, bar bent; `None` where
    /// that cannot be told.
    pub offset: Option<Bounds<Length>>,
    /// Torque that gives the needed load, from the least friction to the greatest.
    pub torque: Result<Bounds<Torque>, Vec<Fault>>,
    /// The torque to set: it suffices whatever the friction is and however far the torque is off. Up to
    /// [`MOST_ROUNDED`] more may be set, where it is rounded up to be told.
    pub set_torque: Result<Torque, Vec<Fault>>,
    /// Screw load as it is set: from the needed one to what the set torque gives where friction is
    /// least and the torque too great. Without bound above where either is not given.
    pub load_as_set: Option<Bounds<Force>>,
    /// Screw load that arises: as it is set, and with up to the whole end load on top, which comes
    /// after ([`risen`]).
    pub screw_load: Option<Bounds<Force>>,
    /// Least and greatest contact stress on the gasket's own face under pressure at the needed load's
    /// upper end, which suffices, none of the end load on top.
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
    let radius = rig.screw.pivot_radius.ok_or_else(|| {
        let remedy = "measure it: in so deep a seat a ball may wedge";
        vec![Fault::missing("radius at which the screw's tip rubs", remedy)]
    });
    let tip = both(pivot, radius);
    let (thread, (friction, (pivot, radius))) = both(rig.screw.thread(), both(thread, tip))?;
    let arm = thread.raising_arm(friction).map_err(|f| vec![f])?;
    Ok(arm + radius * pivot.range())
}

/// By how much the torque to set may be rounded up where it is told: a tenth of a pound-foot, or of a
/// newton-metre. Every load holds that too.
pub const MOST_ROUNDED: Torque = Torque::from_newton_mm(136.0);

/// A screw load once the pressure is on: what was set, and what of the end load comes on top.
///
/// The screw is tightened with the outlet open, and the pressure comes when that is closed. It takes
/// load off the gasket and lays it on the screw, shared by their stiffness: `W + C H` with `C = kr /
/// (kr + kg)`, of the rig that holds and the gasket that is held, from 0 to 1 (the theory of
/// preloaded bolted joints: Shigley chapter 8, VDI 2230, from memory). A soft gasket under a stiff
/// rig has `C` near 1. Neither stiffness is given, so both ends count.
pub fn risen(set: Bounds<Force>, end_load: Bounds<Force>) -> Bounds<Force> {
    set + end_load * Bounds::between(0.0, 1.0)
}

/// Assesses a rig against a gauge pressure.
///
/// The screw's load is known by the torque that is set, which may be off by its error `x`, and
/// friction only within its range: the torque that suffices at the greatest friction is set
/// `1 / (1 - x)` greater, may come out `1 + x` times as great, and gives more load at the least
/// friction. When the pressure comes that load has [`risen`], and every part must bear that;
/// hand and handle turn the screw before. `Err`: what is wrong with the rig or the pressure; what is
/// merely not given is told mode by mode.
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
    let arm = torque_arm(rig);
    let error = given(rig.screw.torque_error, "error of the set torque");
    let one = Bounds::exactly(1.0);
    let error_of = |e: f64| (one - Bounds::exactly(e), one + Bounds::exactly(e));
    let over = error.clone().map(error_of).map(|(least, most)| most / least);
    let unbounded = Bounds::between(1.0, f64::INFINITY);
    // What the set torque may give over what is needed.
    let excess = both(arm.clone(), over.clone()).map_or(unbounded, |(a, over)| {
        let by_friction = a.interval().high / a.interval().low.max(0.0);
        Bounds::between(1.0, by_friction * over.high()) * Bounds::within(1.0, 1e-15)
    });
    // Where either is not given no load is bounded anyway.
    let rounded = both(arm.clone(), error.clone())
        .map_or(Bounds::exactly(Torque::from_newton_mm(0.0)), |(_, e)| {
            Bounds::exactly(MOST_ROUNDED) * error_of(e).1
        });
    let by_rounding = arm.as_ref().map_or(Force::from_newtons(0.0), |arm| {
        let load = rounded / Bounds::exactly(arm.low());
        if load.is_finite() { load.high() } else { Force::from_newtons(f64::INFINITY) }
    });
    let by_rounding = Bounds::exactly(by_rounding);
    let needed = needed(rig, pressure, excess.high(), (end_load + by_rounding).high());
    let set = needed.clone().map(|n| {
        let most = Bounds::exactly(n.load.high()) * Bounds::exactly(excess.high()) + by_rounding;
        Bounds::between(n.load.low(), most.high())
    });
    let load = set.clone().map(|set| risen(set, end_load));
    let turned = both(needed.clone(), arm.clone()).map(|(n, arm)| n.load * arm);
    // What the torque may come to where the needed one is set.
    let arises = turned.clone().map(|torque| {
        let over = over.clone().map_or(f64::INFINITY, Bounds::high);
        let most = Bounds::exactly(torque.high()) * over + rounded;
        Bounds::between(torque.low(), most.high())
    });
    let beyond: Vec<Fault> = needed.iter().filter_map(|n| n.beyond.clone()).collect();
    let pins = rig.pin_friction().map_err(|fault| vec![fault]);
    let unsure = [arm.err(), error.clone().err(), pins.err()].into_iter().flatten().flatten();
    let modes = gather(Given {
        rig,
        pressure,
        end_load,
        set: set.clone(),
        load: load.clone(),
        torque: arises,
        aim: needed.clone().map(|n| n.aim),
        unsure: beyond.iter().cloned().chain(unsure).collect(),
    });
    let bounded = needed.and_then(|n| if beyond.is_empty() { Ok(n) } else { Err(beyond.clone()) });
    let needed_load = bounded.clone().map(|n| n.load);
    let [load_as_set, screw_load] = [set, load].map(|load| load.ok().filter(|_| beyond.is_empty()));
    let torque = if beyond.is_empty() { turned } else { Err(beyond) };
    let set_torque = both(torque.clone(), error)
        .map(|(torque, e)| (Bounds::exactly(torque.high()) / error_of(e).0).high());
    let face = rig.gasket.face.whole();
    let suffices = needed_load.as_ref().ok().map(|w| Bounds::exactly(w.high()));
    let aim = bounded.ok().map(|n| n.aim);
    let offset = aim.map(|aim| aim.offset);
    let contact = suffices.zip(aim).map(|(w, aim)| {
        let [least, most] = contact(&face, w, end_load, &aim);
        // Whatever the sizes are, the load gives no less than what is asked for.
        let asked = rig.gasket.asked(pressure).map(|asked| Bounds::exactly(asked.low()));
        [asked.map_or(least, |asked| least.max(asked)), most]
    });
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
        offset,
        torque,
        set_torque,
        load_as_set,
        screw_load,
        contact,
        car,
        deflection,
        modes,
    };
    Ok(hold)
}
