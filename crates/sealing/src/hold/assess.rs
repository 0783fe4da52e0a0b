//! A whole rig against a pressure: what the gasket asks for, what the torque gives, and every way
//! in which the rig may fail.

use super::{Mode, ModeKind, Part, Rig, Verdict};
use crate::{CarLoads, contact, metal_poisson};
use crate::{Column, End, Fault, Friction, PinPlate, handle, safety_factor};
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

type Told<T> = Result<T, Vec<Fault>>;
/// What a pinned plate bears at a strength.
type Capacity = fn(&PinPlate, Bounds<Stress>) -> Bounds<Force>;

/// A friction, or that it is missing.
fn given(friction: Option<Friction>, name: &'static str) -> Told<Friction> {
    friction.ok_or_else(|| {
        vec![Fault::missing(name, "give its range; no usual value stands in for it")]
    })
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
    let mut modes = Modes {
        rig,
        pressure,
        load: screw_load.ok_or_else(|| needed_load.clone().err().into_iter().collect()),
        torque: torque.clone(),
        unsure: arm.err().unwrap_or_default(),
        gathered: Vec::new(),
    };
    modes.gasket_and_cup();
    modes.screw();
    modes.bar();
    for end in End::BOTH {
        modes.end(end);
    }
    let modes = modes.gathered;
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

/// Both, or everything that either lacks.
fn both<A, B>(a: Told<A>, b: Told<B>) -> Told<(A, B)> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (a, b) => Err(a.err().into_iter().chain(b.err()).flatten().collect()),
    }
}

/// The modes as they are gathered.
struct Modes<'a> {
    rig: &'a Rig,
    pressure: Bounds<Pressure>,
    load: Told<Bounds<Force>>,
    torque: Told<Bounds<Torque>>,
    /// What leaves the load without an upper bound.
    unsure: Vec<Fault>,
    gathered: Vec<Mode>,
}

impl Modes<'_> {
    fn push(&mut self, kind: ModeKind, end: Option<End>, told: Told<Bounds<f64>>, unsure: bool) {
        let (factor, mut lacking) = match told {
            Ok(factor) => (Some(factor), Vec::new()),
            Err(faults) => (None, faults),
        };
        if unsure {
            lacking.extend(
                self.unsure.iter().filter(|f| !lacking.contains(f)).cloned().collect::<Vec<_>>(),
            );
        }
        self.gathered.push(Mode { kind, end, factor, lacking });
    }

    /// A stress at the screw's load against a strength.
    fn stress(
        &mut self,
        kind: ModeKind,
        end: Option<End>,
        strength: Told<Bounds<Stress>>,
        stress: impl Fn(Bounds<Force>) -> Bounds<Stress>,
    ) {
        let told = both(strength, self.load.clone())
            .map(|(strength, load)| safety_factor(strength, stress(load)));
        self.push(kind, end, told, true);
    }

    fn yields(&self, part: Part) -> Told<Bounds<Stress>> {
        self.rig.yield_strength(part).map_err(|f| vec![f])
    }

    /// Yield strength in shear, half of that in tension (Tresca).
    fn shears(&self, part: Part) -> Told<Bounds<Stress>> {
        self.yields(part).map(|s| s / 2.0)
    }

    fn weaker(&self, a: Part, b: Part) -> Told<Bounds<Stress>> {
        both(self.yields(a), self.yields(b)).map(|(a, b)| a.min(b))
    }

    fn gasket_and_cup(&mut self) {
        let rig = self.rig;
        let face = rig.gasket.face.whole();
        let kern = Ok(safety_factor(face.kern(), rig.aim.offset));
        self.push(ModeKind::Lift, None, kern, false);
        let most = rig.gasket.supplier.as_ref().and_then(|s| s.most).ok_or_else(|| {
            vec![Fault::missing(
                "gasket maximum contact stress",
                "ask its supplier, and say where the figure stands",
            )]
        });
        // Before the pressure takes its share off.
        let none = Bounds::exactly(Force::from_newtons(0.0));
        self.stress(ModeKind::Crushing, None, most, |w| contact(&face, w, none, &rig.aim)[1]);
        let pressure = self.pressure;
        let wall = self.yields(Part::Cup);
        self.stress(ModeKind::CupWall, None, wall, |w| rig.cup.wall_stress(pressure, w));
        let told = both(self.yields(Part::Cup), self.load.clone()).and_then(|(strength, load)| {
            let stress = rig.cup.crown_stress(load, metal_poisson()).map_err(|f| vec![f])?;
            Ok(safety_factor(strength, stress))
        });
        self.push(ModeKind::CupCrown, None, told, true);
        if let Some(port) = rig.side_port {
            let told = self.yields(Part::Cup);
            let told = told.map(|s| safety_factor(s, port.stress(&rig.cup, pressure)));
            self.push(ModeKind::CupPort, None, told, false);
        }
        let tip = Bounds::PI * (rig.screw.tip * rig.screw.tip) / 4.0;
        let seat = self.weaker(Part::Cup, Part::Screw);
        self.stress(ModeKind::Seat, None, seat, |w| w / tip);
    }

    fn screw(&mut self) {
        let rig = self.rig;
        let screw = &rig.screw;
        let hand = screw.hand.ok_or_else(|| {
            vec![Fault::missing("hand force", "give what one hand gives at the handle")]
        });
        let told = both(hand, self.torque.clone())
            .map(|(hand, torque)| safety_factor(hand, handle::hand_force(torque, screw.lever)));
        self.push(ModeKind::Hand, None, told, false);
        let told = both(self.yields(Part::Handle), self.torque.clone())
            .map(|(s, torque)| safety_factor(s, handle::bending_stress(torque, screw.rod)));
        self.push(ModeKind::HandleRod, None, told, false);
        let told = given(screw.thread_friction, "thread friction")
            .map(|friction| screw.thread.self_locking(friction));
        self.push(ModeKind::TurnsBack, None, told, false);

        let thread = screw.thread;
        let engaged = rig.block.height;
        let bearing = self.weaker(Part::Screw, Part::Block);
        self.stress(ModeKind::ThreadBearing, None, bearing, |w| w / thread.bearing_area(engaged));
        let told =
            both(both(self.shears(Part::Screw), self.shears(Part::Block)), self.load.clone()).map(
                |((screw, block), w)| {
                    let of_screw = safety_factor(screw, w / thread.strip_area(engaged));
                    of_screw.min(safety_factor(block, w / thread.nut_strip_area(engaged)))
                },
            );
        self.push(ModeKind::ThreadStrip, None, told, true);
        let told = both(both(self.yields(Part::Screw), self.torque.clone()), self.load.clone())
            .map(|((strength, torque), w)| {
                let pressed = w / thread.root_area();
                let twisted = torque / thread.root_torsion() * 2.0;
                let squared = |s: Bounds<Stress>| s / unit() * (s / unit());
                let both = (squared(pressed) + squared(twisted)).sqrt();
                safety_factor(strength, both * unit())
            });
        self.push(ModeKind::ScrewBody, None, told, true);
        let held = screw.held.ok_or_else(|| {
            vec![Fault::missing(
                "how the screw's ends are held",
                "say whether block and cup hold it straight, in place, or not at all",
            )]
        });
        let figures = both(self.yields(Part::Screw), rig.modulus(Part::Screw).map_err(|f| vec![f]));
        let told = both(both(held, figures), self.load.clone()).map(|((held, (sy, e)), w)| {
            let length = screw.extension * held.factor();
            safety_factor(Column::round(length, thread.root_diameter()).critical_load(e, sy), w)
        });
        self.push(ModeKind::ScrewColumn, None, told, true);
    }

    fn bar(&mut self) {
        let (rig, bar) = (self.rig, self.rig.bar);
        let screw = rig.screw.thread.diameter;
        let strength = self.yields(Part::Block);
        self.stress(ModeKind::BlockBending, None, strength, |w| {
            rig.block.bending_stress(w, &bar, screw)
        });
        let strength = self.weaker(Part::Block, Part::Bar);
        self.stress(ModeKind::BlockBearing, None, strength, |w| rig.block.bearing_stress(w, &bar));
        let strength = self.yields(Part::Bar);
        self.stress(ModeKind::RailBending, None, strength, |w| bar.bending_stress(w));
        let strength = self.shears(Part::Bar);
        self.stress(ModeKind::RailShear, None, strength, |w| bar.shear_stress(w));
        let strip = rig.block.strip(&bar).min(rig.saddle.strip(&bar));
        let strength = self.shears(Part::Bar);
        self.stress(ModeKind::RailTwist, None, strength, |w| bar.twist_stress(w, strip));
    }

    /// A flat part with a pin's hole, which takes `share` of the screw's load.
    fn plate(
        &mut self,
        kinds: [ModeKind; 4],
        end: End,
        part: Part,
        plates: &[(PinPlate, Bounds<f64>)],
    ) {
        let rig = self.rig;
        let (sy, su) = (self.yields(part), rig.tensile_strength(part).map_err(|f| vec![f]));
        let capacities: [(Told<Bounds<Stress>>, Capacity); 4] = [
            (sy.clone(), PinPlate::yielding),
            (su.clone(), PinPlate::rupture),
            (su, PinPlate::tear_out),
            (sy, PinPlate::bearing),
        ];
        for (kind, (strength, capacity)) in kinds.into_iter().zip(capacities) {
            let told = both(strength, self.load.clone()).map(|(strength, load)| {
                plates
                    .iter()
                    .map(|(plate, share)| safety_factor(capacity(plate, strength), load * *share))
                    .reduce(Bounds::min)
                    .unwrap_or(Bounds::exactly(0.0))
            });
            self.push(kind, Some(end), told, true);
        }
    }

    fn end(&mut self, end: End) {
        use ModeKind as K;
        let (rig, bar, saddle, foot) = (self.rig, self.rig.bar, self.rig.saddle, self.rig.foot);
        let (at, share, links) = (Some(end), bar.end_share(end), rig.end(end).links);
        let wall = rig.end(end).wall;
        let strength = self.weaker(Part::Saddle, Part::Bar);
        self.stress(K::SaddleBearing, at, strength, |w| saddle.bearing_stress(w * share, &bar));
        let strength = self.yields(Part::Saddle);
        self.stress(K::SaddleTopBending, at, strength, |w| saddle.top_bending(w * share, &bar));
        let strength = self.shears(Part::Saddle);
        self.stress(K::SaddleTopShear, at, strength, |w| saddle.top_shear(w * share, &bar));
        let stem = [K::StemYield, K::StemRupture, K::StemTearOut, K::StemBearing];
        self.plate(stem, end, Part::Saddle, &[(saddle.stem(rig.upper_pin), share)]);

        let upper = (rig.upper_pin, saddle.length);
        let lower = (rig.lower_pin, foot.depth);
        self.pin([K::UpperPinShear, K::UpperPinBending], end, Part::UpperPin, upper);
        let pairs = [(links.inside, links.inside_share()), (links.outside, links.outside_share())];
        let mut plates = Vec::new();
        for (link, part) in pairs {
            for pin in [rig.upper_pin, rig.lower_pin] {
                plates.push((rig.link_plate(link.thickness, pin), share * part));
            }
        }
        let link = [K::LinkYield, K::LinkRupture, K::LinkTearOut, K::LinkBearing];
        self.plate(link, end, Part::Link, &plates);
        self.pin([K::LowerPinShear, K::LowerPinBending], end, Part::LowerPin, lower);

        let strength = self.weaker(Part::Foot, Part::LowerPin);
        self.stress(K::FootBearing, at, strength, |w| foot.pin_stress(w * share, rig.lower_pin));
        let strength = self.yields(Part::Foot);
        self.stress(K::FootBending, at, strength, |w| foot.bending_stress(w * share, wall));
        let strength = self.weaker(Part::Foot, Part::Sidewall);
        self.stress(K::PortEdge, at, strength, |w| foot.edge_stress(w * share, wall));
    }

    /// A pin of a diameter, through a middle part of a length.
    fn pin(
        &mut self,
        [shear, bending]: [ModeKind; 2],
        end: End,
        part: Part,
        (diameter, middle): (Bounds<Length>, Bounds<Length>),
    ) {
        let (links, share) = (self.rig.end(end).links, self.rig.bar.end_share(end));
        let strength = self.shears(part);
        self.stress(shear, Some(end), strength, |w| links.pin_shear(w * share, diameter));
        let strength = self.yields(part);
        self.stress(bending, Some(end), strength, |w| {
            links.pin_bending(w * share, middle, diameter)
        });
    }
}

/// One newton per square millimetre, to take a root of squared stresses as numbers.
fn unit() -> Bounds<Stress> {
    Bounds::exactly(Stress::from_mpa(1.0))
}
