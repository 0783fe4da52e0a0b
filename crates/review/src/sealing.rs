//! The written form of the sealing mechanics. Figures are estimates for a licensed engineer to
//! confirm; the verdict on whether a fitting fits never hangs on them.

use crate::Record;
use crate::hold::{Beside, Holding, Pressed};
use crate::record::Bounds;
use crate::words::sealing as words;
use assembly::CarTop;
use measure::Quantity;
use sealing::hold::{Hold, Mode as LibraryMode};
use sealing::{End, Fault, MOST_SHEAR_SHARE};
use serde::{Deserialize, Serialize};

/// Whether a rig holds a pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Verdict {
    /// Every way in which it may fail keeps its factor.
    #[serde(rename = "holds")]
    Holds,
    /// The data do not tell.
    #[serde(rename = "cannot tell")]
    CannotTell,
    /// One does not.
    #[serde(rename = "does not hold")]
    DoesNotHold,
}

impl From<sealing::hold::Verdict> for Verdict {
    fn from(verdict: sealing::hold::Verdict) -> Self {
        match verdict {
            sealing::hold::Verdict::Holds => Self::Holds,
            sealing::hold::Verdict::CannotTell => Self::CannotTell,
            sealing::hold::Verdict::DoesNotHold => Self::DoesNotHold,
        }
    }
}

/// What the sealing mechanics came to at a fitting's placement. Pressures are gauge pressures; the
/// figures are those at the upper end of the pressure, as a rig that holds a pressure holds every
/// lower one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sealing {
    /// Whether the rig holds the lading's pressure.
    pub verdict: Verdict,
    /// The pressure on which the verdict rests; `null` where none is given.
    pub pressure: Option<Pressure>,
    /// Other pressures that the tank may come to.
    pub beside: Vec<PressureBeside>,
    /// Safety factor that the owner asks for; `null` where it is not given.
    pub required_factor: Option<f64>,
    /// How far off the cup's axis the screw may press: within the kit's tolerances of placing, and as
    /// the bar bends and leans it.
    pub offset_mm: Option<Bounds>,
    /// Radius at which the screw's tip rubs: as the kit states it, else anything from the pole to the
    /// mouth of its seat; `null` where that has no bound.
    pub pivot_mm: Option<Bounds>,
    /// What the pressure pushes off.
    pub end_load_n: Option<Bounds>,
    /// Contact stress that the gasket's whole face is asked for under pressure; `null` without its
    /// supplier's.
    pub contact_asked_mpa: Option<Bounds>,
    /// The code's factor: what that is at least, as a multiple of the pressure, where it is above 1;
    /// below, and where it is not given (`null`), the pressure itself is asked for.
    pub code_m: Option<Bounds>,
    /// Screw load below which the joint is not tight.
    pub needed_load_n: Option<Bounds>,
    /// Torque that gives the needed load, from the least friction to the greatest.
    pub torque_n_mm: Option<Bounds>,
    /// The torque to set, which suffices however far the torque is off; `null` where the rig is not told
    /// to hold, since none is to be set then.
    pub set_torque_n_mm: Option<f64>,
    /// By how much the torque may be off, either way, as a share of the one set.
    pub torque_error: Option<f64>,
    /// Screw load as that torque sets it.
    pub load_as_set_n: Option<Bounds>,
    /// Screw load that arises once the pressure is on, with up to the whole end load on top.
    pub screw_load_n: Option<Bounds>,
    /// Least and greatest contact stress on the gasket's own face at the needed load's upper end.
    pub contact_mpa: Option<[Bounds; 2]>,
    /// How far the bar bends up at the screw.
    pub deflection_mm: Option<Bounds>,
    /// Every way in which the rig may fail, in the order in which the load runs.
    pub modes: Vec<Mode>,
    /// Index into `modes` of the one that governs: the one that fails by most where the rig does not
    /// hold, else the one that is told with the least factor over the one that it must keep.
    pub governing: Option<usize>,
    /// The highest pressure that the rig holds for certain, rounded down; `null` where none is.
    pub highest_surely_mpa: Option<f64>,
    /// The torque that would be set to hold that; `null` where none is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub highest_torque_n_mm: Option<f64>,
    /// The pressure above which it does not hold for certain, rounded up; `null` where nothing that
    /// is given limits it.
    pub highest_at_most_mpa: Option<f64>,
    /// What raises the highest pressure when it is a tenth better, most first.
    pub raises: Vec<Raise>,
    /// What the car is asked to bear, for a licensed engineer to check.
    pub car: Option<CarLoads>,
    /// Shear value of the housing's bolts over that of the cover's.
    pub shear_share: Option<ShearShare>,
    /// What the documents' figures rest on.
    pub bases: Vec<Basis>,
    /// Everything that is not given or wrong, each once.
    pub lacking: Vec<Lacking>,
}

/// What a figure of the documents rests on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Basis {
    /// Of what: a part, whose strengths they are, the gasket, the bolts.
    pub of: String,
    /// The document's words.
    pub basis: String,
}

/// A pressure in the cup.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pressure {
    /// Gauge pressure.
    pub gauge_mpa: Bounds,
    /// Where it is from, in a phrase.
    pub from: String,
}

/// A pressure that the tank may come to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PressureBeside {
    /// The pressure.
    pub pressure: Pressure,
    /// Whether the rig holds it, with the torque set for it.
    pub verdict: Verdict,
    /// The torque that would have to be set for it; `null` where `set_torque_n_mm` does as well, or none
    /// holds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub torque_n_mm: Option<f64>,
}

/// One way in which the rig may fail.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mode {
    /// What happens.
    pub mode: String,
    /// At which port, where each end has its own.
    pub port: Option<String>,
    /// Capacity over demand; `null` where too little is given for any bound.
    pub factor: Option<Bounds>,
    /// The factor that it must keep; `null` where the owner's is not given.
    pub required: Option<f64>,
    /// Whether it keeps that.
    pub verdict: Verdict,
    /// What may not exceed what.
    pub formula: String,
    /// Where the formula stands.
    pub source: String,
    /// What is not given or wrong.
    pub lacking: Vec<Lacking>,
}

/// Something that is not given or wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lacking {
    /// What, and where it is wrong its value.
    pub what: String,
    /// What to do about it: where it is merely not given, the key and its table.
    pub remedy: String,
}

/// What a tenth of one figure gains.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Raise {
    /// The figure, in a phrase.
    pub what: String,
    /// The highest pressure held for certain with it.
    pub surely_mpa: f64,
    /// What that is more than before.
    pub gain_mpa: f64,
}

/// Loads on the car.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CarLoads {
    /// Pull up on the upper edges of the two ports.
    pub ports: [PortPull; 2],
    /// Pull up on the housing as a whole, which its studs bear.
    pub uplift_n: Bounds,
    /// Moment of the two pulls about the line midway between them.
    pub tilt_n_mm: Bounds,
    /// Pull in the most loaded bolt of the housing, as if none were tightened beforehand; `null`
    /// where their circle is not given.
    pub bolt_n: Option<Bounds>,
    /// Push down on the plate through the gasket.
    pub gasket_n: Bounds,
    /// Push down on the plate of the pressure in the cup.
    pub end_load_n: Bounds,
}

/// The pull at one port.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PortPull {
    /// The port.
    pub port: String,
    /// The pull.
    pub pull_n: Bounds,
}

/// The rule of 49 CFR 179.100-12(c).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShearShare {
    /// Shear value of the housing's bolts over that of the cover's.
    pub share: Bounds,
    /// The most that the rule allows.
    pub most: f64,
}

impl Record {
    /// Adds what the sealing mechanics came to, and what is to be heeded of it.
    pub fn hold(&mut self, all: &[Holding], review: &crate::Review, car: &CarTop) {
        self.cautions.insert(0, words::ESTIMATES.into());
        for found in all {
            let Some(name) = car.fittings.get(found.fitting).map(|f| &f.name) else { continue };
            let choice = review.fittings.iter().find(|f| f.fitting == found.fitting);
            let choice = choice.and_then(|f| f.chosen()?.study.choice.as_ref());
            let port = |i: usize| {
                let at = choice.and_then(|c| c.ports.get(i))?;
                car.ports.get(*at).map(|p| p.name.clone())
            };
            let ports = [0, 1].map(|i| port(i).unwrap_or_default());
            if let Some(fitting) = self.fittings.iter_mut().find(|f| f.name == *name) {
                fitting.sealing = Some(Sealing::of(found, &ports));
            }
        }
    }
}

fn bounds<Q: Quantity>(bounds: measure::Bounds<Q>) -> Bounds {
    bounds.interval().into()
}

/// A load that comes of the torque told to be set, which gives what is needed at the most or more; where
/// none is told, of any torque that may do.
fn as_set(hold: &Hold, holds: bool, load: measure::Bounds<measure::Force>) -> Bounds {
    let needed = hold.needed_load.as_ref().ok().filter(|_| holds);
    let least = needed.map(|needed| measure::Bounds::exactly(needed.high()));
    bounds(least.map_or(load, |least| load.max(least)))
}

/// The mode that fails by most, else the library's.
fn governing(hold: &Hold, required: f64) -> Option<usize> {
    let fails = |m: &&LibraryMode| m.verdict(required) == sealing::hold::Verdict::DoesNotHold;
    let over =
        |m: &LibraryMode| m.factor.map_or(f64::INFINITY, |f| f.high() / m.kind.required(required));
    let failing = hold.modes.iter().filter(fails).min_by(|a, b| over(a).total_cmp(&over(b)));
    let governing = failing.or_else(|| hold.governing(required))?;
    hold.modes.iter().position(|m| m == governing)
}

impl Sealing {
    fn of(found: &Holding, ports: &[String; 2]) -> Self {
        let (hold, modes) = (found.hold.as_ref(), &found.modes);
        let governing = hold.and_then(|h| governing(h, found.required.unwrap_or(1.0)));
        let mut lacking: Vec<Lacking> = Vec::new();
        if found.required.is_none() {
            let missing = Fault::missing("safety factor", "give it in the kit");
            lacking.push(Lacking::of(&missing));
        }
        for one in modes.iter().flat_map(|m| &m.lacking).map(Lacking::of) {
            if !lacking.contains(&one) {
                lacking.push(one);
            }
        }
        let gasket = found.rig.as_ref().ok().map(|rig| &rig.gasket);
        let holds = found.verdict() == sealing::hold::Verdict::Holds;
        Self {
            verdict: found.verdict().into(),
            pressure: found.pressure.as_ref().ok().map(Pressure::of),
            beside: found.beside.iter().map(PressureBeside::of).collect(),
            required_factor: found.required,
            offset_mm: hold.and_then(|h| h.offset.map(bounds)),
            pivot_mm: found.rig.as_ref().ok().and_then(|r| r.screw.pivot_radius).map(bounds),
            end_load_n: hold.map(|h| bounds(h.end_load)),
            contact_asked_mpa: hold
                .and_then(|h| gasket.and_then(|g| g.asked(h.pressure)))
                .map(bounds),
            code_m: gasket.and_then(|g| g.code).map(|code| bounds(code.m)),
            needed_load_n: hold.and_then(|h| h.needed_load.as_ref().ok().map(|w| bounds(*w))),
            torque_n_mm: hold.and_then(|h| h.torque.as_ref().ok().map(|t| bounds(*t))),
            set_torque_n_mm: hold
                .filter(|_| holds)
                .and_then(|h| h.set_torque.as_ref().ok().map(|t| t.newton_mm())),
            torque_error: found.rig.as_ref().ok().and_then(|r| r.screw.torque_error),
            load_as_set_n: hold.and_then(|h| Some(as_set(h, holds, h.load_as_set?))),
            screw_load_n: hold.and_then(|h| Some(as_set(h, holds, h.screw_load?))),
            contact_mpa: hold.and_then(|h| h.contact.map(|c| c.map(bounds))),
            deflection_mm: hold.and_then(|h| h.deflection.map(bounds)),
            modes: modes.iter().map(|m| Mode::of(m, found.required, ports)).collect(),
            governing,
            highest_surely_mpa: found.highest.and_then(|h| h.surely).map(measure::Pressure::mpa),
            highest_torque_n_mm: found.highest_torque.map(measure::Torque::newton_mm),
            highest_at_most_mpa: found.highest.and_then(|h| h.at_most).map(measure::Pressure::mpa),
            raises: found.raises.iter().map(Raise::of).collect(),
            car: hold.and_then(|h| h.car.as_ref()).map(|car| CarLoads::of(car, found, ports)),
            shear_share: found
                .shear_share
                .map(|share| ShearShare { share: bounds(share), most: MOST_SHEAR_SHARE }),
            bases: found
                .bases
                .iter()
                .map(|(of, basis)| Basis { of: of.clone(), basis: basis.clone() })
                .collect(),
            lacking,
        }
    }

    /// The mode that governs.
    pub fn governing_mode(&self) -> Option<&Mode> {
        self.modes.get(self.governing?)
    }
}

impl Pressure {
    fn of(pressed: &Pressed) -> Self {
        Self { gauge_mpa: bounds(pressed.gauge), from: words::source(&pressed.source) }
    }
}

impl PressureBeside {
    fn of(beside: &Beside) -> Self {
        Self {
            pressure: Pressure::of(&beside.pressed),
            verdict: beside.verdict.into(),
            torque_n_mm: beside.torque.map(measure::Torque::newton_mm),
        }
    }
}

impl Mode {
    fn of(mode: &LibraryMode, required: Option<f64>, ports: &[String; 2]) -> Self {
        let verdict = match required {
            Some(required) => mode.verdict(required),
            // Where the owner's factor does not enter, 1 is asked for.
            None if mode.kind.required(2.0) < 2.0 => mode.verdict(1.0),
            None => mode.verdict(1.0).max(sealing::hold::Verdict::CannotTell),
        };
        let [a, b] = ports;
        Self {
            mode: mode.kind.word().into(),
            port: mode.end.map(|end| if end == End::A { a.clone() } else { b.clone() }),
            factor: mode.factor.map(bounds),
            required: required.map(|r| mode.kind.required(r)),
            verdict: verdict.into(),
            formula: mode.kind.formula().into(),
            source: mode.kind.source().into(),
            lacking: mode.lacking.iter().map(Lacking::of).collect(),
        }
    }
}

impl Lacking {
    fn of(fault: &Fault) -> Self {
        match fault {
            Fault::Missing { quantity, remedy } => Self {
                what: quantity.to_string(),
                remedy: words::where_to_give(quantity).unwrap_or_else(|| remedy.to_string()),
            },
            Fault::OutOfRange { quantity, value, remedy } => {
                Self { what: format!("{quantity} is {value}"), remedy: remedy.to_string() }
            }
        }
    }
}

impl Raise {
    fn of(raise: &sealing::hold::Raise) -> Self {
        Self {
            what: raise.lever.to_string(),
            surely_mpa: raise.surely.mpa(),
            gain_mpa: raise.gain.mpa(),
        }
    }
}

impl CarLoads {
    fn of(car: &sealing::CarLoads, found: &Holding, ports: &[String; 2]) -> Self {
        let pull = |i: usize| PortPull { port: ports[i].clone(), pull_n: bounds(car.ports[i]) };
        Self {
            ports: [pull(0), pull(1)],
            uplift_n: bounds(car.uplift),
            tilt_n_mm: bounds(car.tilt),
            bolt_n: found.bolt_pull.map(bounds),
            gasket_n: bounds(car.gasket),
            end_load_n: bounds(car.end_load),
        }
    }
}
