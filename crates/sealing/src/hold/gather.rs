//! Every way in which a rig may fail, each with its strength and its demand.

use super::{Mode, ModeKind, Part, Rig};
use crate::{
    Aim, Column, End, Fault, LinkPair, PinPlate, PressedColumn, handle, link_bending,
    metal_poisson, safety_factor,
};
use measure::{Bounds, Force, Length, Moment, Pressure, Stress, Torque};

/// A figure, or everything that is missing for it.
pub(super) type Told<T> = Result<T, Vec<Fault>>;
/// What a pinned plate bears at a strength.
type Capacity = fn(&PinPlate, Bounds<Stress>) -> Bounds<Force>;

/// No moment.
const STILL: Moment = Moment::from_newton_mm(0.0);
/// A moment of which no bound is known.
const BOUNDLESS: Moment = Moment::from_newton_mm(f64::INFINITY);

/// What the modes are gathered from.
pub(super) struct Given<'a> {
    /// The rig, without fault.
    pub(super) rig: &'a Rig,
    /// Gauge pressure in the cup.
    pub(super) pressure: Bounds<Pressure>,
    /// What the pressure pushes off.
    pub(super) end_load: Bounds<Force>,
    /// The screw's load as it is set.
    pub(super) set: Told<Bounds<Force>>,
    /// The screw's load with what of the end load comes on top.
    pub(super) load: Told<Bounds<Force>>,
    /// The torque that the screw is turned with.
    pub(super) torque: Told<Bounds<Torque>>,
    /// How the screw's load falls on the cup.
    pub(super) aim: Told<Aim>,
    /// What leaves the load without an upper bound.
    pub(super) unsure: Vec<Fault>,
}

/// Every mode, in the order in which the load runs.
pub(super) fn gather(given: Given<'_>) -> Vec<Mode> {
    let mut modes = Modes { given, gathered: Vec::new() };
    modes.gasket_and_cup();
    modes.screw();
    modes.bar();
    for end in End::BOTH {
        modes.end(end);
    }
    modes.gathered
}

/// Both, or everything that either lacks.
pub(super) fn both<A, B>(a: Told<A>, b: Told<B>) -> Told<(A, B)> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (a, b) => Err(a.err().into_iter().chain(b.err()).flatten().collect()),
    }
}

/// A friction or an error, or that it is missing.
pub(super) fn given<T>(value: Option<T>, name: &'static str) -> Told<T> {
    value.ok_or_else(|| {
        vec![Fault::missing(name, "give its range; no usual value stands in for it")]
    })
}

/// The modes as they are gathered.
struct Modes<'a> {
    given: Given<'a>,
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
                self.given
                    .unsure
                    .iter()
                    .filter(|f| !lacking.contains(f))
                    .cloned()
                    .collect::<Vec<_>>(),
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
        let told = both(strength, self.given.load.clone())
            .map(|(strength, load)| safety_factor(strength, stress(load)));
        self.push(kind, end, told, true);
    }

    fn yields(&self, part: Part) -> Told<Bounds<Stress>> {
        self.given.rig.yield_strength(part).map_err(|f| vec![f])
    }

    /// Yield strength in shear, half of that in tension (Tresca).
    fn shears(&self, part: Part) -> Told<Bounds<Stress>> {
        self.yields(part).map(|s| s / 2.0)
    }

    fn weaker(&self, a: Part, b: Part) -> Told<Bounds<Stress>> {
        both(self.yields(a), self.yields(b)).map(|(a, b)| a.min(b))
    }

    fn gasket_and_cup(&mut self) {
        let rig = self.given.rig;
        let lift = self.given.aim.clone().map(|aim| safety_factor(rig.gasket.kern(), aim.offset));
        self.push(ModeKind::Lift, None, lift, true);
        let most = rig.gasket.supplier.as_ref().and_then(|s| s.most).ok_or_else(|| {
            vec![Fault::missing(
                "gasket maximum contact stress",
                "ask its supplier, and say where the figure stands",
            )]
        });
        // On the whole the gasket is pressed hardest before the pressure comes; what the end load lays
        // on the screw then presses as far off the axis as the screw does.
        let none = Bounds::exactly(Force::from_newtons(0.0));
        let end_load = self.given.end_load;
        let told = both(most, self.given.aim.clone());
        let told = both(told, self.given.set.clone()).map(|((most, aim), set)| {
            let aside = end_load * aim.offset;
            let aside = if aside.is_finite() { aside.high() } else { BOUNDLESS };
            let side_moment = aim.side_moment + Bounds::between(STILL, aside);
            let pressed = rig.gasket.most_pressed(set, none, &Aim { side_moment, ..aim });
            safety_factor(most, pressed)
        });
        self.push(ModeKind::Crushing, None, told, true);
        let pressure = self.given.pressure;
        let wall = self.yields(Part::Cup);
        self.stress(ModeKind::CupWall, None, wall, |w| rig.cup.wall_stress(pressure, w));
        let told =
            both(self.yields(Part::Cup), self.given.load.clone()).and_then(|(strength, load)| {
                let stress = rig.cup.crown_stress(load, metal_poisson()).map_err(|f| vec![f])?;
                Ok(safety_factor(strength, stress))
            });
        self.push(ModeKind::CupCrown, None, told, true);
        if let Some(port) = rig.side_port {
            let clear = port.beside_an_end(&rig.cup).map_err(|f| vec![f]);
            let told = both(self.yields(Part::Cup), clear)
                .map(|(s, ())| safety_factor(s, port.stress(&rig.cup, pressure)));
            self.push(ModeKind::CupPort, None, told, false);
        }
        let tip = Bounds::PI * (rig.screw.tip * rig.screw.tip) / 4.0;
        let seat = self.weaker(Part::Cup, Part::Screw);
        self.stress(ModeKind::Seat, None, seat, |w| w / tip);
    }

    fn screw(&mut self) {
        let rig = self.given.rig;
        let screw = &rig.screw;
        let hand = screw.hand.ok_or_else(|| {
            vec![Fault::missing("hand force", "give what one hand gives at the handle")]
        });
        let told = both(hand, self.given.torque.clone())
            .map(|(hand, torque)| safety_factor(hand, handle::hand_force(torque, screw.lever)));
        self.push(ModeKind::Hand, None, told, true);
        let told = both(self.yields(Part::Handle), self.given.torque.clone())
            .map(|(s, torque)| safety_factor(s, handle::bending_stress(torque, screw.rod)));
        self.push(ModeKind::HandleRod, None, told, true);
        let thread = screw.thread();
        let told = both(thread.clone(), given(screw.thread_friction, "thread friction"))
            .map(|(thread, friction)| thread.self_locking(friction));
        self.push(ModeKind::TurnsBack, None, told, false);

        let engaged = rig.block.height;
        let loaded = || both(thread.clone(), self.given.load.clone());
        // The first ridge's share as a load on all of them alike.
        let crowded = || loaded().map(|(thread, w)| (thread, w * thread.crowding(engaged)));
        let bearing = both(self.weaker(Part::Screw, Part::Block), crowded())
            .map(|(s, (thread, w))| safety_factor(s, w / thread.bearing_area(engaged)));
        let strip = both(both(self.shears(Part::Screw), self.shears(Part::Block)), crowded()).map(
            |((screw, block), (thread, w))| {
                let greatest = w * 3.0 / 2.0;
                let of_screw = safety_factor(screw, greatest / thread.strip_area(engaged));
                of_screw.min(safety_factor(block, greatest / thread.nut_strip_area(engaged)))
            },
        );
        let figures = both(both(self.yields(Part::Screw), self.yields(Part::Block)), crowded());
        let figures = both(figures, both(self.given.load.clone(), self.given.torque.clone()));
        let ridge = figures.map(|(((screw, block), (thread, first)), (w, torque))| {
            let bending = thread.ridge_bending(first, engaged);
            let of_screw = safety_factor(screw, thread.root_stress(bending, w, torque));
            of_screw.min(safety_factor(block, thread.nut_ridge_bending(first, engaged)))
        });
        let held = screw.held.ok_or_else(|| {
            vec![Fault::missing(
                "how the screw's ends are held",
                "say whether block and cup hold it straight, in place, or not at all",
            )]
        });
        let figures = both(self.yields(Part::Screw), rig.modulus(Part::Screw).map_err(|f| vec![f]));
        let off = self.given.load.clone().and_then(|w| rig.screw_off(w).map_err(|f| vec![f]));
        let turned = both(self.given.torque.clone(), off);
        let body = both(both(held.clone(), figures.clone()), both(turned, loaded())).map(
            |((held, (sy, e)), ((torque, off), (thread, w)))| {
                let length = screw.extension * held.factor();
                // The thinner the weaker, in every term.
                let [thin, thick] = thread.root_diameter().ends().map(|root| {
                    PressedColumn::round(length, root, off).yield_factor(w, torque, e, sy)
                });
                thin.hull(thick)
            },
        );
        let column = both(both(held, figures), loaded()).map(|((held, (sy, e)), (thread, w))| {
            let length = screw.extension * held.factor();
            safety_factor(Column::round(length, thread.root_diameter()).critical_load(e, sy), w)
        });
        self.push(ModeKind::ThreadBearing, None, bearing, true);
        self.push(ModeKind::ThreadStrip, None, strip, true);
        self.push(ModeKind::ThreadBending, None, ridge, true);
        self.push(ModeKind::ScrewBody, None, body, true);
        self.push(ModeKind::ScrewColumn, None, column, true);
    }

    fn bar(&mut self) {
        let (rig, bar) = (self.given.rig, self.given.rig.bar);
        let screw = rig.screw.diameter;
        let strength = self.yields(Part::Block);
        self.stress(ModeKind::BlockBending, None, strength, |w| {
            rig.block.bending_stress(w, &bar, screw)
        });
        let strength = self.weaker(Part::Block, Part::Bar);
        self.stress(ModeKind::BlockBearing, None, strength, |w| rig.block.bearing_stress(w, &bar));
        let reach = rig.block.reach(&bar).min(rig.saddle.reach(&bar));
        let strength = self.yields(Part::Bar);
        self.stress(ModeKind::RailBending, None, strength, |w| bar.bending_stress(w, reach));
        let strength = self.shears(Part::Bar);
        self.stress(ModeKind::RailShear, None, strength, |w| bar.shear_stress(w, reach));
        let strip = rig.block.strip(&bar).min(rig.saddle.strip(&bar));
        let strength = self.shears(Part::Bar);
        self.stress(ModeKind::RailTwist, None, strength, |w| bar.twist_stress(w, strip));
        if let Some(fault) = rig.rolls() {
            self.push(ModeKind::Roll, None, Err(vec![fault]), false);
        }
    }

    /// A flat part with a pin's hole, which takes `share` of the screw's load.
    fn plate(
        &mut self,
        kinds: [ModeKind; 4],
        end: End,
        part: Part,
        plates: &[(PinPlate, Bounds<f64>)],
    ) {
        let rig = self.given.rig;
        let (sy, su) = (self.yields(part), rig.tensile_strength(part).map_err(|f| vec![f]));
        let capacities: [(Told<Bounds<Stress>>, Capacity); 4] = [
            (sy.clone(), PinPlate::yielding),
            (su.clone(), PinPlate::rupture),
            (su, PinPlate::tear_out),
            (sy, PinPlate::bearing),
        ];
        for (kind, (strength, capacity)) in kinds.into_iter().zip(capacities) {
            let told = both(strength, self.given.load.clone()).map(|(strength, load)| {
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
        let (rig, bar, saddle, foot) =
            (self.given.rig, self.given.rig.bar, self.given.rig.saddle, self.given.rig.foot);
        let (at, share, of_end) = (Some(end), bar.end_share(end), *rig.end(end));
        let bearing = foot.bearing(of_end.wall, of_end.lower.apart);
        let strength = self.weaker(Part::Saddle, Part::Bar);
        self.stress(K::SaddleBearing, at, strength, |w| saddle.bearing_stress(w * share, &bar));
        let strength = self.yields(Part::Saddle);
        self.stress(K::SaddleTopBending, at, strength, |w| saddle.top_bending(w * share, &bar));
        let strength = self.shears(Part::Saddle);
        self.stress(K::SaddleTopShear, at, strength, |w| saddle.top_shear(w * share, &bar));
        let stem = [K::StemYield, K::StemRupture, K::StemTearOut, K::StemBearing];
        self.plate(stem, end, Part::Saddle, &[(saddle.stem(rig.upper_pin), share)]);

        // Wherever the foot stands on the wall, the lower pin's pull is centred where it bears, and
        // spread over no less.
        let upper = (of_end.upper, rig.upper_pin, saddle.length);
        let lower = (of_end.lower, rig.lower_pin, bearing);
        self.pin([K::UpperPinShear, K::UpperPinBending], end, Part::UpperPin, upper);
        let mut plates = Vec::new();
        for (links, pin) in [(of_end.upper, rig.upper_pin), (of_end.lower, rig.lower_pin)] {
            let inside = (links.inside, links.inside_share());
            for (thickness, part) in [inside, (links.outside, links.outside_share())] {
                plates.push((rig.link_plate(thickness, pin), share * part));
            }
        }
        let link = [K::LinkYield, K::LinkRupture, K::LinkTearOut, K::LinkBearing];
        self.plate(link, end, Part::Link, &plates);
        let strength = self.yields(Part::Link);
        self.stress(K::LinkBending, at, strength, |w| {
            let stress = |(plate, share): &(PinPlate, Bounds<f64>)| {
                link_bending(w * *share, plate.width, plate.hole, plate.thickness)
            };
            let boundless = Bounds::exactly(Stress::from_mpa(f64::INFINITY));
            plates.iter().map(stress).reduce(Bounds::max).unwrap_or(boundless)
        });
        self.pin([K::LowerPinShear, K::LowerPinBending], end, Part::LowerPin, lower);

        let strength = self.weaker(Part::Foot, Part::LowerPin);
        self.stress(K::FootBearing, at, strength, |w| {
            foot.pin_stress(w * share, rig.lower_pin, bearing)
        });
        let strength = self.yields(Part::Foot);
        self.stress(K::FootBending, at, strength, |w| foot.bending_stress(w * share, bearing));
        let strength = self.weaker(Part::Foot, Part::Sidewall);
        self.stress(K::PortEdge, at, strength, |w| foot.edge_stress(w * share, bearing));
    }

    /// A pin of a diameter on its links, pulled over a stretch of a length.
    fn pin(
        &mut self,
        [shear, bending]: [ModeKind; 2],
        end: End,
        part: Part,
        (links, diameter, spread): (LinkPair, Bounds<Length>, Bounds<Length>),
    ) {
        let share = self.given.rig.bar.end_share(end);
        let strength = self.shears(part);
        self.stress(shear, Some(end), strength, |w| links.pin_shear(w * share, diameter));
        let strength = self.yields(part);
        self.stress(bending, Some(end), strength, |w| {
            links.pin_bending(w * share, spread, diameter)
        });
    }
}
