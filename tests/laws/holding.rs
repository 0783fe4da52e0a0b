//! Laws of the sealing mechanics: what always holds, whatever the rig and the pressure.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

#[path = "../support/sample_rig.rs"]
mod sample_rig;

use measure::{Bounds, Force, Length, Pressure, Quantity};
use proptest::prelude::*;
use sample_rig::sample_rig;
use sealing::hold::{Hold, ModeKind, Part, Rig, Verdict, assess, free_bodies, highest_pressure};
use sealing::{Aim, End, Friction, Hang, LinkPair, ball_of_any_fit, contact, safety_factor};
use std::ops::Mul;

fn mm(value: f64) -> Bounds<Length> {
    Bounds::exactly(Length::from_mm(value))
}

fn mpa(value: f64) -> Bounds<Pressure> {
    Bounds::exactly(Pressure::from_mpa(value))
}

fn scale<Q: Quantity + Mul<f64, Output = Q>>(value: &mut Bounds<Q>, by: f64) {
    *value = Bounds::between(value.low() * by, value.high() * by);
}

/// Rigs around the sample: the sizes that carry load scaled each by its own factor, the screw
/// anywhere between the links and near the cup's axis, friction anywhere.
fn rigs() -> impl Strategy<Value = Rig> {
    let factors = prop::collection::vec(0.9..1.1_f64, 24);
    let place = (-300.0..300.0_f64, -8.0..8.0_f64, 0.0..12.0_f64);
    let friction = (0.05..0.2_f64, 0.0..0.1_f64, 0.05..0.2_f64, 0.0..0.1_f64);
    let links = (33.1..40.0_f64, -2.0..2.0_f64, 33.1..40.0_f64, -2.0..2.0_f64);
    (factors, place, friction, links).prop_map(|(factors, place, friction, links)| {
        let mut rig = sample_rig();
        let mut factors = factors.into_iter();
        for size in [
            &mut rig.cup.wall,
            &mut rig.cup.crown,
            &mut rig.cup.seat,
            &mut rig.screw.diameter,
            &mut rig.screw.extension,
            &mut rig.screw.lever,
            &mut rig.screw.rod,
            &mut rig.block.length,
            &mut rig.block.height,
            &mut rig.bar.span,
            &mut rig.bar.rail_width,
            &mut rig.bar.rail_height,
            &mut rig.saddle.length,
            &mut rig.saddle.top_height,
            &mut rig.saddle.edge,
            &mut rig.link.width,
            &mut rig.link.edge,
            &mut rig.foot.width,
            &mut rig.foot.seat,
        ] {
            scale(size, factors.next().unwrap());
        }
        (rig.bar.along, rig.bar.across) = (mm(place.0), mm(place.1));
        rig.offset = mm(place.2);
        let range = |low: f64, more: f64| Friction::new(Bounds::between(low, low + more)).ok();
        rig.screw.thread_friction = range(friction.0, friction.1);
        rig.screw.pivot_friction = range(friction.2, friction.3);
        let [a, b] = &mut rig.ends;
        for (end, apart, off) in [(a, links.0, links.1), (b, links.2, links.3)] {
            for pair in [&mut end.upper, &mut end.lower] {
                (pair.apart, pair.off) = (mm(apart), mm(off));
            }
            // The two pins need not have the same play.
            end.upper.apart = mm(0.5 * (33.1 + apart));
        }
        rig
    })
}

/// Every size of a rig that carries load or leads it.
fn sizes(rig: &mut Rig) -> Vec<&mut Bounds<Length>> {
    let Rig {
        gasket,
        offset,
        seat_height,
        cup,
        side_port,
        screw,
        block,
        bar,
        saddle,
        upper_pin,
        link,
        lower_pin,
        foot,
        ends,
        ..
    } = rig;
    let mut sizes = vec![
        &mut gasket.face.inside,
        &mut gasket.face.outside,
        &mut gasket.rim.inside,
        &mut gasket.rim.outside,
        offset,
        seat_height,
        &mut cup.inside,
        &mut cup.wall,
        &mut cup.crown,
        &mut cup.seat,
        &mut screw.diameter,
        screw.pitch.as_mut().unwrap(),
        screw.pivot_radius.as_mut().unwrap(),
        &mut screw.tip,
        &mut screw.ball,
        &mut screw.extension,
        &mut screw.lever,
        &mut screw.rod,
        &mut block.length,
        &mut block.width,
        &mut block.height,
        &mut bar.span,
        &mut bar.rail_width,
        &mut bar.rail_height,
        &mut bar.slot,
        &mut bar.along,
        &mut bar.across,
        &mut saddle.length,
        &mut saddle.stem_width,
        &mut saddle.top_width,
        &mut saddle.top_height,
        &mut saddle.edge,
        &mut saddle.hole,
        upper_pin,
        &mut link.width,
        &mut link.hole,
        &mut link.edge,
        &mut link.spacing,
        lower_pin,
        &mut foot.depth,
        &mut foot.width,
        &mut foot.seat,
        &mut foot.hole,
    ];
    if let Some(port) = side_port {
        sizes.extend([&mut port.bore, &mut port.boss, &mut port.reach, &mut port.clear]);
    }
    for end in ends {
        sizes.push(&mut end.wall);
        for LinkPair { inside, outside, apart, off } in [&mut end.upper, &mut end.lower] {
            sizes.extend([inside, outside, apart, off]);
        }
    }
    sizes
}

fn held(rig: &Rig, pressure: f64) -> Hold {
    assess(rig, mpa(pressure)).unwrap()
}

/// No mode of `worse` has a higher factor than in `better`, at either end.
fn assert_no_better(worse: &Hold, better: &Hold) -> Result<(), TestCaseError> {
    prop_assert_eq!(worse.modes.len(), better.modes.len());
    for (w, b) in worse.modes.iter().zip(&better.modes) {
        let (Some(of_w), Some(of_b)) = (w.factor, b.factor) else { continue };
        let slack = 1.0 + 1e-11;
        prop_assert!(of_w.low() <= of_b.low() * slack, "{w}: {of_w} and {of_b}");
        prop_assert!(of_w.high() <= of_b.high() * slack, "{w}: {of_w} and {of_b}");
    }
    prop_assert!(worse.verdict(1.5) >= better.verdict(1.5));
    Ok(())
}

proptest! {
    /// On every part, and on the car, forces and moments add up to nothing within 1e-9 of the
    /// greatest; what a part feels, its neighbour feels the other way.
    #[test]
    fn every_part_of_the_rig_is_in_equilibrium(
        rig in rigs(),
        pressure in 0.0..3.0_f64,
        more in 1.05..3.0_f64,
    ) {
        prop_assert_eq!(rig.faults(), []);
        let end = rig.gasket.end_load(mpa(pressure)).middle();
        let load = end * more + Force::from_newtons(1000.0);
        let bodies = free_bodies(&rig, load, Pressure::from_mpa(pressure)).unwrap();
        prop_assert_eq!(bodies.len(), 7);
        let (mut sum, mut turn) = (0.0, 0.0);
        for body in &bodies {
            let force: f64 = body.forces.iter().map(|f| f.up.newtons()).sum();
            let moment: f64 = body.forces.iter().map(|f| (f.up * f.at).newton_mm()).sum();
            let moment = moment + body.moment.newton_mm();
            let greatest = load.newtons();
            prop_assert!(force.abs() <= 1e-9 * greatest, "{}: {force}", body.part);
            prop_assert!(moment.abs() <= 1e-9 * greatest * 400.0, "{}: {moment}", body.part);
            // The pressure acts on cup and car alike, the links on saddles and feet.
            sum += force;
            turn += moment;
        }
        prop_assert!(sum.abs() <= 1e-9 * load.newtons());
        prop_assert!(turn.abs() <= 1e-9 * load.newtons() * 400.0);
        let of = |part: &str, from: &str| {
            let body = bodies.iter().find(|b| b.part == part).unwrap();
            body.forces.iter().find(|f| f.from == from).unwrap().up.newtons()
        };
        prop_assert!((of("cup", "screw") + of("bar with screw and block", "cup")).abs() < 1e-9);
        prop_assert!((of("cup", "pressure") + of("car", "pressure")).abs() < 1e-6);
        prop_assert!((of("cup", "gasket") + of("car", "gasket")).abs() < 1e-6);
        let slack = free_bodies(&rig, end, Pressure::from_mpa(pressure)).unwrap_err();
        prop_assert_eq!(slack.quantity(), "screw load");
    }

    #[test]
    fn more_pressure_never_helps(rig in rigs(), low in 0.0..2.0_f64, more in 0.0..2.0_f64) {
        assert_no_better(&held(&rig, low + more), &held(&rig, low))?;
    }

    /// Whatever share of the end load the closed outlet lays on the screw (VDI 2230's load factor, from
    /// memory), no mode is told better than under that load.
    #[test]
    fn the_pressure_lays_up_to_the_whole_end_load_on_the_screw(
        rig in rigs(),
        pressure in 0.0..2.0_f64,
        share in 0.0..=1.0_f64,
    ) {
        let hold = held(&rig, pressure);
        let Some(set) = hold.load_as_set else { return Ok(()) };
        let load = set.high() + hold.end_load.high() * share;
        let arises = hold.screw_load.unwrap().interval();
        prop_assert!(arises.high >= load.newtons() && arises.low <= set.low().newtons());
        let load = Bounds::exactly(load);
        let told = |kind, end| {
            let mode = hold.modes.iter().find(|m| m.kind == kind && m.end == end).unwrap();
            mode.factor.unwrap().low()
        };
        let strength = |part| rig.yield_strength(part).unwrap();
        let reach = rig.block.reach(&rig.bar).min(rig.saddle.reach(&rig.bar));
        let rail = safety_factor(strength(Part::Bar), rig.bar.bending_stress(load, reach));
        prop_assert!(told(ModeKind::RailBending, None) <= rail.high());
        for end in End::BOTH {
            let pull = load * rig.bar.end_share(end);
            let of_end = rig.end(end);
            let bearing = rig.foot.bearing(of_end.wall, of_end.lower.apart);
            let pin = of_end.lower.pin_bending(pull, bearing, rig.lower_pin);
            let pin = safety_factor(strength(Part::LowerPin), pin);
            prop_assert!(told(ModeKind::LowerPinBending, Some(end)) <= pin.high());
            let port = safety_factor(strength(Part::Sidewall), rig.foot.edge_stress(pull, bearing));
            prop_assert!(told(ModeKind::PortEdge, Some(end)) <= port.high());
        }
    }

    /// With the code's factor or without: everywhere on its own face and under the rim the gasket is pressed
    /// by at least what is asked, and by no less than the pressure, with the sizes as they are and whatever
    /// share of the end load comes on top.
    #[test]
    fn the_needed_load_presses_the_gasket_as_much_as_is_asked(
        rig in rigs(),
        pressure in 0.0..8.0_f64,
        code in any::<bool>(),
        share in 0.0..=1.0_f64,
    ) {
        let mut rig = rig;
        if !code {
            rig.gasket.code = None;
        }
        let gasket = &mut rig.gasket;
        for face in [&mut gasket.face, &mut gasket.rim] {
            for size in [&mut face.inside, &mut face.outside] {
                *size = mm(size.middle().mm());
            }
        }
        let hold = held(&rig, pressure);
        // Leaning ever farther over the bent bar it may find no load that does.
        let (Ok(needed), Some(offset)) = (&hold.needed_load, hold.offset) else {
            prop_assert!(hold.needed_load.is_err() && hold.contact.is_none());
            return Ok(());
        };
        let aim = Aim { offset, side_moment: rig.side_moment.unwrap() };
        let load = Bounds::exactly(needed.high()) + hold.end_load * share;
        let asked = rig.gasket.asked(mpa(pressure)).unwrap().high().mpa();
        for face in [rig.gasket.face, rig.gasket.rim] {
            let [least, _] = contact(&face.whole(), load, hold.end_load, &aim);
            let least = least.low().mpa() * (1.0 + 1e-9) + 1e-9;
            prop_assert!(least >= asked, "{least} for {asked}");
        }
        prop_assert!(asked >= pressure * (1.0 - 1e-12));
    }

    #[test]
    fn a_wider_range_of_friction_never_helps(
        rig in rigs(),
        pressure in 0.0..2.0_f64,
        (thread, pivot) in (0.0..0.05_f64, 0.0..0.05_f64),
    ) {
        let mut worse = rig.clone();
        let wider = |f: Option<Friction>, by: f64| {
            let range = f.unwrap().range();
            let low = (range.low() - by).max(0.0);
            Friction::new(Bounds::between(low, range.high() + by)).ok()
        };
        worse.screw.thread_friction = wider(rig.screw.thread_friction, thread);
        worse.screw.pivot_friction = wider(rig.screw.pivot_friction, pivot);
        let (worse, better) = (held(&worse, pressure), held(&rig, pressure));
        for (w, b) in worse.modes.iter().zip(&better.modes) {
            let (w, b) = (w.factor.unwrap(), b.factor.unwrap());
            prop_assert!(w.low() <= b.low() * (1.0 + 1e-11));
        }
        // So far may it lean the bar that no load suffices.
        if worse.torque.is_err() {
            prop_assert!(worse.needed_load.is_err());
            return Ok(());
        }
        let most = |hold: &Hold| hold.torque.clone().unwrap().high();
        prop_assert!(most(&worse) >= most(&better));
        // More load may arise, which bends the bar more and leans the screw.
        let needed = |hold: &Hold| hold.needed_load.clone().unwrap().high();
        prop_assert!(needed(&worse) >= needed(&better));
    }

    #[test]
    fn a_wider_range_of_the_tips_radius_never_helps(
        rig in rigs(),
        pressure in 0.0..2.0_f64,
        (less, more) in (0.0..15.0_f64, 0.0..40.0_f64),
    ) {
        let mut worse = rig.clone();
        let range = rig.screw.pivot_radius.unwrap();
        let (low, high) = ((range.low().mm() - less).max(0.0), range.high().mm() + more);
        let wider = Bounds::between(Length::from_mm(low), Length::from_mm(high));
        worse.screw.pivot_radius = Some(wider);
        let (worse, better) = (held(&worse, pressure), held(&rig, pressure));
        for (w, b) in worse.modes.iter().zip(&better.modes) {
            let (w, b) = (w.factor.unwrap(), b.factor.unwrap());
            prop_assert!(w.low() <= b.low() * (1.0 + 1e-12));
        }
        // So far off the axis may the load be that one side lifts whatever the load.
        if worse.needed_load.is_err() {
            return Ok(());
        }
        // More load may arise, which bends the bar more and leans the screw.
        let needed = |hold: &Hold| hold.needed_load.clone().unwrap().high();
        prop_assert!(needed(&worse) >= needed(&better));
        let most = |hold: &Hold| hold.torque.clone().unwrap().high();
        prop_assert!(most(&worse) >= most(&better));
    }

    #[test]
    fn a_torque_set_less_closely_never_helps(
        rig in rigs(),
        pressure in 0.0..2.0_f64,
        (error, more) in (0.0..0.3_f64, 0.0..0.3_f64),
    ) {
        let of = |error: f64| {
            let mut rig = rig.clone();
            rig.screw.torque_error = Some(error);
            held(&rig, pressure)
        };
        let (worse, better) = (of(error + more), of(error));
        for (w, b) in worse.modes.iter().zip(&better.modes) {
            let (w, b) = (w.factor.unwrap(), b.factor.unwrap());
            prop_assert!(w.low() <= b.low() * (1.0 + 1e-11));
        }
        // More load may arise, which leans the screw over the bent bar; so far that none suffices.
        let (Ok(needed), Ok(less)) = (&worse.needed_load, &better.needed_load) else {
            prop_assert!(worse.needed_load.is_err() && worse.set_torque.is_err());
            return Ok(());
        };
        prop_assert!(needed.high() >= less.high());
        let set = |hold: &Hold| hold.set_torque.clone().unwrap();
        prop_assert!(set(&worse) >= set(&better));
        // Set so, it comes to no less than the greatest friction asks for.
        let least = set(&worse).newton_mm() * (1.0 - error - more);
        prop_assert!(least >= worse.torque.unwrap().high().newton_mm() * (1.0 - 1e-12));
    }

    #[test]
    fn more_friction_asks_for_more_torque(
        rig in rigs(),
        pressure in 0.0..2.0_f64,
        (thread, pivot) in (0.0..0.1_f64, 0.0..0.1_f64),
    ) {
        let mut worse = rig.clone();
        let more = |f: Option<Friction>, by: f64| {
            let range = f.unwrap().range();
            Friction::new(Bounds::between(range.low() + by, range.high() + by)).ok()
        };
        worse.screw.thread_friction = more(rig.screw.thread_friction, thread);
        worse.screw.pivot_friction = more(rig.screw.pivot_friction, pivot);
        let torque = |rig: &Rig| held(rig, pressure).torque.unwrap();
        let (worse, better) = (torque(&worse), torque(&rig));
        prop_assert!(worse.low() >= better.low() && worse.high() >= better.high());
    }

    #[test]
    fn a_screw_farther_from_the_cups_axis_never_helps(
        rig in rigs(),
        pressure in 0.0..2.0_f64,
        farther in 0.0..20.0_f64,
    ) {
        let mut worse = rig.clone();
        worse.offset = mm(rig.offset.high().mm() + farther);
        assert_no_better(&held(&worse, pressure), &held(&rig, pressure))?;
    }

    /// The farther links may slide along their pins, and the farther off the pull may lie between
    /// them, the less is sure.
    #[test]
    fn more_play_along_the_pins_never_helps(
        rig in rigs(),
        pressure in 0.0..2.0_f64,
        (farther, off) in (0.0..4.0_f64, 0.0..2.0_f64),
    ) {
        let mut worse = rig.clone();
        for end in &mut worse.ends {
            for pair in [&mut end.upper, &mut end.lower] {
                let (apart, at) = (pair.apart.low(), pair.off.low());
                pair.apart = Bounds::between(apart, apart + Length::from_mm(farther));
                pair.off = Bounds::about(at, Length::from_mm(off + farther / 2.0));
            }
        }
        let (worse, better) = (held(&worse, pressure), held(&rig, pressure));
        for (w, b) in worse.modes.iter().zip(&better.modes) {
            let (wide, narrow) = (w.factor.unwrap().interval(), b.factor.unwrap().interval());
            prop_assert!(wide.low <= narrow.low * (1.0 + 1e-12), "{w}: {wide:?} and {narrow:?}");
            prop_assert!(wide.high >= narrow.high * (1.0 - 1e-12), "{w}: {wide:?} and {narrow:?}");
        }
    }

    /// Off the bar's middle the nearer end carries more and the bar bends less.
    #[test]
    fn a_screw_off_the_bars_middle_loads_the_nearer_end(
        rig in rigs(),
        pressure in 0.1..2.0_f64,
    ) {
        let mut centred = rig.clone();
        centred.bar.along = mm(0.0);
        let (off, mid) = (held(&rig, pressure), held(&centred, pressure));
        let near = if rig.bar.along.low() > Length::from_mm(0.0) { End::A } else { End::B };
        for (o, m) in off.modes.iter().zip(&mid.modes).filter(|(o, _)| o.end == Some(near)) {
            prop_assert!(o.factor.unwrap().low() <= m.factor.unwrap().low() * (1.0 + 1e-12));
        }
        // Under the same load; the one off the middle leans the screw, which asks for more.
        let (load, modulus) = (mid.screw_load.unwrap(), rig.modulus(Part::Bar).unwrap());
        let bends = |rig: &Rig| rig.bar.deflection_at_screw(load, modulus).high();
        prop_assert!(bends(&rig) <= bends(&centred));
        let needed = |hold: &Hold| hold.needed_load.clone().unwrap().high();
        prop_assert!(needed(&off) >= needed(&mid));
        let sum = rig.bar.end_share(End::A) + rig.bar.end_share(End::B);
        prop_assert!(sum.interval().contains(1.0) && (sum.middle() - 1.0).abs() < 1e-12);
    }

    /// Tolerances hold what lies within them: with one size in bounds and the others exact, the rig
    /// that has it somewhere within has its factors within the bounded rig's.
    #[test]
    fn a_size_within_its_tolerance_has_the_factors_within_their_bounds(
        pressure in 0.0..2.0_f64,
        which in 0..70_usize,
        tolerance in 0.0..2.0_f64,
        part in 0.0..=1.0_f64,
    ) {
        let mut one = sample_rig();
        for size in sizes(&mut one) {
            *size = Bounds::exactly(size.middle());
        }
        let mut all = one.clone();
        let count = sizes(&mut all).len();
        let size = &mut *sizes(&mut all)[which % count];
        let (low, high) = (size.low().mm() - tolerance, size.high().mm() + tolerance);
        *size = Bounds::between(Length::from_mm(low.max(0.0)), Length::from_mm(high));
        let at = low.max(0.0) + part * (high - low.max(0.0));
        *sizes(&mut one)[which % count] = mm(at.clamp(low.max(0.0), high));
        if !all.faults().is_empty() || !one.faults().is_empty() {
            return Ok(());
        }
        let (all, one) = (held(&all, pressure), held(&one, pressure));
        for (a, o) in all.modes.iter().zip(&one.modes) {
            let (Some(wide), Some(narrow)) = (a.factor, o.factor) else { continue };
            let (wide, narrow) = (wide.interval(), narrow.interval());
            // Both are rounded outward: the one by as much as the other.
            let slack = 1e-12 * narrow.low.abs();
            prop_assert!(wide.low <= narrow.low + slack, "{a}: {wide:?} and {narrow:?}");
            let slack = 1e-12 * narrow.high.abs();
            prop_assert!(narrow.high <= wide.high + slack, "{a}: {wide:?} and {narrow:?}");
        }
        let (all, one) = (all.torque.unwrap().interval(), one.torque.unwrap().interval());
        prop_assert!(all.widened(1e-9 * all.high).encloses(one));
    }
}

proptest! {
    /// Whatever the pressure between ball and socket, friction acts between pole and mouth: the
    /// torque over friction and load is summed over rings, each pressed at random.
    #[test]
    fn no_pressure_between_ball_and_socket_rubs_outside_pole_and_mouth(
        (diameter, part) in (10.0..60.0_f64, 0.01..0.98_f64),
        pressures in prop::collection::vec(0.0..1.0_f64, 1..40),
    ) {
        let radius = diameter / 2.0;
        let any = ball_of_any_fit(mm(diameter), mm(part * radius)).unwrap().unwrap();
        let mouth = (1.0 - part).acos();
        let step = mouth / f64::from(u32::try_from(pressures.len()).unwrap());
        let (mut load, mut torque) = (1e-12, 0.0);
        for (i, pressure) in pressures.iter().enumerate() {
            let angle = step * (f64::from(u32::try_from(i).unwrap()) + 0.5);
            let area = angle.sin() * step;
            load += pressure * area * angle.cos();
            torque += pressure * area * radius * angle.sin();
        }
        prop_assert!(any.interval().contains(torque / load), "{any}: {}", torque / load);
    }
}

proptest! {
    /// Across the bar and along it: clamp and cup as bodies in balance under a load of 1, whichever way the
    /// ball's friction acts and the links lean. The gasket's push stands within the offset that is told,
    /// and the load leans no more than told.
    #[test]
    fn a_clamp_in_balance_presses_no_farther_off_than_told(
        (seat, below) in (150.0..400.0_f64, 20.0..300.0_f64),
        (off, rubs, way) in (0.0..8.0_f64, 0.0..4.0_f64, 0.0..std::f64::consts::TAU),
        (links, level) in (-0.02..0.02_f64, 0.0..0.01_f64),
        (in_pins, pulls) in (0.0..3.0_f64, -1.0..=1.0_f64),
    ) {
        let pins = seat - below;
        let hang = Hang {
            off: mm(off),
            seat_height: mm(seat),
            pin_height: mm(pins),
            links: Bounds::exactly(links.abs()),
            level: Bounds::exactly(level),
            ball: mm(rubs),
            pin: mm(in_pins),
        };
        prop_assert_eq!(hang.faults(), vec![]);
        let [across, along] = [rubs * way.cos(), rubs * way.sin()];
        // The pins pull past their centres, to whichever side.
        let off = off + in_pins * pulls;
        // The clamp: 1 up and this much aside at the ball, the same back at the pins, the ball's friction.
        let aside = (off + across) / below;
        let turn = off - below * aside + across;
        prop_assert!(turn.abs() < 1e-9);
        // The cup: the same against it, and the gasket's push where all that leaves no moment.
        let push = [seat * aside - across, seat * links + along];
        let told = hang.offset().high().mm();
        prop_assert!(push[0].hypot(push[1]) <= told + 1e-9, "{push:?} and {told}");
        prop_assert!(aside.hypot(links) <= hang.lean().high() + 1e-12);
    }
}

/// Any number a document or a wrong computation may bring.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -1e3..1e3_f64,
        Just(0.0),
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::MIN_POSITIVE),
        Just(f64::MAX),
    ]
}

proptest! {
    /// Whatever one or more of its numbers are, a rig is assessed or refused with reasons, and no
    /// factor is told that is no number.
    #[test]
    fn no_number_makes_it_panic_or_lose_its_way(
        which in prop::collection::vec((0..27_usize, any_number(), any_number()), 1..4),
        pressure in any_number(),
    ) {
        let mut rig = sample_rig();
        for (i, low, high) in which {
            let length = Bounds::between(Length::from_mm(low), Length::from_mm(high));
            let exact = Bounds::exactly(Length::from_mm(low));
            let stress = Bounds::between(Pressure::from_mpa(low), Pressure::from_mpa(high));
            match i {
                0 => rig.gasket.face.inside = length,
                1 => rig.gasket.face.outside = length,
                2 => rig.offset = length,
                3 => rig.cup.inside = exact,
                4 => rig.cup.wall = length,
                5 => rig.cup.crown = length,
                6 => rig.cup.seat = exact,
                7 => rig.screw.diameter = length,
                8 => rig.screw.pitch = Some(length),
                9 => rig.screw.extension = length,
                10 => rig.screw.pivot_radius = Some(exact),
                11 => rig.screw.tip = length,
                12 => rig.bar.span = length,
                13 => rig.bar.along = exact,
                14 => rig.bar.across = length,
                15 => rig.bar.rail_width = exact,
                16 => rig.saddle.edge = length,
                17 => rig.upper_pin = exact,
                18 => rig.link.hole = length,
                19 => rig.foot.depth = exact,
                20 => rig.ends[0].upper.apart = length,
                21 => rig.materials[1].yield_strength = Some(stress),
                22 => rig.gasket.supplier.as_mut().unwrap().least = Some(stress),
                23 => rig.ends[1].lower.off = length,
                24 => rig.seat_height = length,
                25 => rig.lean = Bounds::between(low, high),
                _ => rig.required_factor = low,
            }
        }
        match assess(&rig, mpa(pressure)) {
            Err(faults) => prop_assert!(!faults.is_empty()),
            Ok(hold) => {
                for mode in &hold.modes {
                    if let Some(factor) = mode.factor {
                        prop_assert!(factor.low() <= factor.high(), "{mode}: {factor}");
                    }
                }
                hold.verdict(rig.required_factor);
                hold.governing(rig.required_factor);
            }
        }
    }

    /// With the screw on the cup's axis and nothing aside the gasket is pressed evenly; in the
    /// middle of the bar both ends and both rails carry half.
    #[test]
    fn a_centred_screw_presses_and_loads_evenly(rig in rigs(), pressure in 0.0..2.0_f64) {
        let mut rig = rig;
        rig.offset = mm(0.0);
        rig.side_moment = Some(Bounds::exactly(measure::Moment::from_newton_mm(0.0)));
        (rig.bar.along, rig.bar.across) = (mm(0.0), mm(0.0));
        let hold = held(&rig, pressure);
        let [least, greatest] = hold.contact.unwrap();
        prop_assert!((least.middle() / greatest.middle() - 1.0).abs() < 1e-12);
        for end in End::BOTH {
            prop_assert!((rig.bar.end_share(end).middle() - 0.5).abs() < 1e-12);
        }
        prop_assert!((rig.bar.rail_share(rig.bar.rail_distance()).middle() - 0.5).abs() < 1e-12);
        prop_assert!(hold.car.unwrap().tilt.interval().contains(0.0));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Just below the pressure that is told for certain the rig holds, and above it that is no
    /// longer certain; likewise for the pressure above which it does not hold.
    #[test]
    fn the_highest_pressure_is_where_the_verdict_changes(rig in rigs()) {
        let highest = highest_pressure(&rig).unwrap();
        let verdict = |p: f64| held(&rig, p).verdict(rig.required_factor);
        if let Some(surely) = highest.surely {
            prop_assert_eq!(verdict(surely.mpa()), Verdict::Holds);
            prop_assert_ne!(verdict(surely.mpa() * (1.0 + 1e-8) + 1e-12), Verdict::Holds);
        } else {
            prop_assert_ne!(verdict(0.0), Verdict::Holds);
        }
        let at_most = highest.at_most.unwrap();
        prop_assert_eq!(verdict(at_most.mpa()), Verdict::DoesNotHold);
        if at_most.mpa() > 0.0 {
            prop_assert_ne!(verdict(at_most.mpa() * (1.0 - 1e-8)), Verdict::DoesNotHold);
        }
        if let Some(surely) = highest.surely {
            prop_assert!(surely <= at_most);
        }
    }
}
