//! Every way in which a rig may fail, beside plain arithmetic: that each strength meets its own
//! demand.
//!
//! The formulas and their sources are those that `ModeKind` names.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

#[path = "../support/sample_rig.rs"]
mod sample_rig;

use measure::{Bounds, Force, Length, Moment, Pressure, Stress};
use sample_rig::{friction, sample_rig};
use sealing::hold::{Hold, Mode, ModeKind as K, Part, Rig, Verdict, assess};
use sealing::{End, Fault, LinkPair};
use std::f64::consts::PI;

fn mm(value: f64) -> Bounds<Length> {
    Bounds::exactly(Length::from_mm(value))
}

/// The sample rig with every size exact, each strength another.
fn exact_rig(strength: Strength) -> Rig {
    let mut rig = sample_rig();
    (rig.gasket.face.inside, rig.gasket.face.outside) = (mm(169.0), mm(191.0));
    (rig.gasket.rim.inside, rig.gasket.rim.outside) = (mm(170.0), mm(190.0));
    (rig.offset, rig.seat_height, rig.lean) = (mm(2.0), mm(SEAT), Bounds::exactly(0.002));
    rig.screw.ball = mm(32.0);
    rig.pin_friction = friction(0.2, 0.2);
    rig.side_moment = Some(Bounds::exactly(Moment::from_newton_mm(10e3)));
    rig.cup.inside = mm(175.0);
    (rig.cup.wall, rig.cup.crown, rig.cup.seat) = (mm(8.0), mm(20.0), mm(60.0));
    let port = rig.side_port.as_mut().unwrap();
    (port.bore, port.boss, port.reach) = (mm(50.0), mm(84.0), mm(12.0));
    let screw = &mut rig.screw;
    screw.diameter = mm(38.1);
    screw.thread_friction = friction(0.12, 0.12);
    screw.pivot_friction = friction(0.1, 0.1);
    (screw.pivot_radius, screw.tip) = (Some(mm(16.0)), mm(30.0));
    (screw.extension, screw.lever, screw.rod) = (mm(300.0), mm(500.0), mm(30.0));
    screw.hand = Some(Bounds::exactly(Force::from_newtons(600.0)));
    screw.torque_error = Some(0.05);
    screw.held = Some(sealing::EndHold::PinnedPinned);
    (rig.block.length, rig.block.width, rig.block.height) = (mm(90.0), mm(96.0), mm(45.0));
    (rig.bar.span, rig.bar.rail_width, rig.bar.rail_height) = (mm(750.0), mm(30.0), mm(75.0));
    (rig.bar.slot, rig.bar.along, rig.bar.across) = (mm(42.0), mm(50.0), mm(-1.5));
    let saddle = &mut rig.saddle;
    (saddle.length, saddle.stem_width, saddle.top_width) = (mm(30.0), mm(40.0), mm(94.0));
    (saddle.top_height, saddle.edge, saddle.hole) = (mm(30.0), mm(32.0), mm(23.0));
    (rig.upper_pin, rig.lower_pin) = (mm(22.0), mm(21.0));
    (rig.link.width, rig.link.hole, rig.link.edge) = (mm(45.0), mm(23.0), mm(30.0));
    rig.link.spacing = mm(41.0);
    (rig.foot.depth, rig.foot.width) = (mm(28.0), mm(75.0));
    (rig.foot.seat, rig.foot.hole) = (mm(30.0), mm(23.0));
    let [a, b] = &mut rig.ends;
    (a.upper, a.lower) = (links(LINKS_A[0]), links(LINKS_A[1]));
    (b.upper, b.lower) = (links(LINKS_B[0]), links(LINKS_B[1]));
    (a.wall, b.wall) = (mm(19.0), mm(20.0));
    for material in &mut rig.materials {
        let sy = strength(material.part);
        material.yield_strength = Some(Bounds::exactly(Stress::from_mpa(sy)));
        material.tensile_strength = Some(Bounds::exactly(Stress::from_mpa(1.4 * sy)));
        material.modulus = Some(Bounds::exactly(Stress::from_mpa(205e3)));
    }
    assert_eq!(rig.faults(), []);
    rig
}

/// Distance from the pull and thickness of the inside and the outside link, on the upper and the lower
/// pin.
type Links = [[[f64; 2]; 2]; 2];
const LINKS_A: Links = [[[22.0, 12.0], [26.0, 13.0]], [[23.0, 12.0], [22.0, 13.0]]];
const LINKS_B: Links = [[[24.0, 14.0], [23.0, 12.5]], [[21.0, 14.0], [25.0, 12.5]]];

fn links([[i, thick_in], [o, thick_out]]: [[f64; 2]; 2]) -> LinkPair {
    let apart = i + o - thick_in.midpoint(thick_out);
    LinkPair {
        inside: mm(thick_in),
        outside: mm(thick_out),
        apart: mm(apart),
        off: mm(i - thick_in / 2.0 - apart / 2.0),
    }
}

/// Yield strength of each part, N/mm2.
type Strength = fn(Part) -> f64;

fn place(part: Part) -> f64 {
    let i = Part::ALL.iter().position(|p| *p == part).unwrap();
    f64::from(u8::try_from(i).unwrap())
}

/// Parts that come later in the load's way are stronger.
fn rising(part: Part) -> f64 {
    300.0 + 10.0 * place(part)
}

/// Parts that come later are weaker.
fn falling(part: Part) -> f64 {
    400.0 - 9.0 * place(part)
}

/// The block is much the weakest, so that its own thread strips first.
fn weak_block(part: Part) -> f64 {
    if part == Part::Block { 150.0 } else { rising(part) }
}

/// A mode with a factor, as far as it is known.
fn mode(kind: K, factor: Option<[f64; 2]>, lacking: Vec<Fault>) -> Mode {
    Mode { kind, end: None, factor: factor.map(|[low, high]| Bounds::between(low, high)), lacking }
}

/// Only the lower end tells that it holds, only the upper that it does not; the owner's factor is
/// for strengths, not for what is a range already.
#[test]
fn a_mode_is_told_by_the_end_of_its_factor_that_supports_the_verdict() {
    use Verdict::{CannotTell, DoesNotHold, Holds};
    let missing = || vec![Fault::missing("hand force", "give it")];
    for (kind, factor, lacking, verdict) in [
        (K::LinkYield, Some([1.5, 2.0]), vec![], Holds),
        (K::LinkYield, Some([1.4, 2.0]), vec![], CannotTell),
        (K::LinkYield, Some([1.4, 1.5]), vec![], CannotTell),
        (K::LinkYield, Some([1.0, 1.4]), vec![], DoesNotHold),
        (K::LinkYield, Some([1.5, 2.0]), missing(), CannotTell),
        (K::LinkYield, Some([0.0, 1.4]), missing(), DoesNotHold),
        (K::LinkYield, None, missing(), CannotTell),
        (K::LinkYield, Some([f64::NAN, f64::NAN]), vec![], CannotTell),
        (K::Hand, Some([1.0, 1.2]), vec![], Holds),
        (K::Hand, Some([0.9, 1.2]), vec![], CannotTell),
        (K::Lift, Some([1.0, 1.2]), vec![], Holds),
        (K::TurnsBack, Some([0.8, 0.9]), vec![], DoesNotHold),
    ] {
        let told = mode(kind, factor, lacking.clone()).verdict(1.5);
        assert_eq!(told, verdict, "{kind:?} {factor:?} {lacking:?}");
    }
    // A rig is as good as its worst mode, and without any nothing is told.
    let mut hold = assess(&exact_rig(rising), Bounds::exactly(Pressure::from_mpa(0.1))).unwrap();
    let hold_with = |modes: Vec<Mode>, hold: &mut Hold| {
        hold.modes = modes;
        hold.verdict(1.5)
    };
    let (good, open, bad) = (
        mode(K::LinkYield, Some([2.0, 3.0]), vec![]),
        mode(K::LinkYield, Some([1.0, 3.0]), vec![]),
        mode(K::LinkYield, Some([0.5, 1.0]), vec![]),
    );
    assert_eq!(hold_with(vec![good.clone()], &mut hold), Holds);
    assert_eq!(hold_with(vec![good.clone(), open.clone()], &mut hold), CannotTell);
    assert_eq!(hold_with(vec![good, open, bad], &mut hold), DoesNotHold);
    // The lower end governs, over the factor that the mode must keep, among those that are told.
    let modes = vec![
        mode(K::LinkYield, Some([1.8, 2.0]), vec![]),
        mode(K::LinkRupture, Some([1.7, 9.0]), vec![]),
        mode(K::Hand, Some([1.15, 1.2]), vec![]),
        mode(K::Lift, Some([0.1, 0.2]), missing()),
        mode(K::LinkTearOut, None, missing()),
    ];
    hold_with(modes, &mut hold);
    assert_eq!(hold.governing(1.5).unwrap().kind, K::LinkRupture);
    assert_eq!(hold.governing(2.0).unwrap().kind, K::LinkRupture);
    assert_eq!(hold.governing(1.0).unwrap().kind, K::Hand);
    assert_eq!(hold_with(vec![], &mut hold), CannotTell);
    assert_eq!(hold.governing(1.5), None);
}

/// Of several figures the least.
fn least(figures: &[f64]) -> f64 {
    figures.iter().copied().fold(f64::INFINITY, f64::min)
}

const PRESSURE: f64 = 0.6;

/// Height of the seat, mm.
const SEAT: f64 = 300.0;

/// How much one newton leans the bar at the screw, and the screw with it.
fn lean_of_one() -> f64 {
    let inertia = 2.0 * 30.0 * 75.0_f64.powi(3) / 12.0;
    2.0 * 50.0 * (750.0 * 750.0 / 4.0 - 2500.0) / (3.0 * 205e3 * inertia * 750.0)
}

/// How far off the axis the load presses.
fn off() -> f64 {
    2.0 + SEAT * lean_of_one() * load_and_torque().0
}

/// The kern of an annulus.
fn kern(outside: f64, inside: f64) -> f64 {
    (outside * outside + inside * inside) / (8.0 * outside)
}

/// What the pressure pushes off.
fn end_load() -> f64 {
    PI / 4.0 * 180.0 * 180.0 * PRESSURE
}

/// The 1 1/2-4 Acme thread as it is made, at its smallest below the basic form: mean diameter and root, by
/// class 2G (ASME B1.5, from memory): 0.030 sqrt(p) + 0.006 sqrt(d), of which the root's is 1.5 times, an
/// allowance of 0.008 sqrt(d), and 0.020 in of clearance at the root.
fn made() -> (f64, f64) {
    let tolerance = 0.006_f64.mul_add(1.5_f64.sqrt(), 0.030 * 0.5);
    let mean = 38.1 - 3.175 - 25.4 * 0.008_f64.mul_add(1.5_f64.sqrt(), tolerance);
    (mean, 38.1 - 6.35 - 25.4 * 1.5_f64.mul_add(tolerance, 0.020))
}

/// The greatest load and torque of the screw by plain arithmetic: the torque is set 5 % give or take,
/// and the whole end load comes on top of what it gives.
fn load_and_torque() -> (f64, f64) {
    // The gasket's own face is 11 mm wide, the rim on it 10 mm.
    let kern = kern(191.0, 169.0);
    let end = end_load();
    let asked = end + 2.0 * PI * 180.0 * 11.0 + 10e3 / kern;
    // The load that may arise leans the screw by 2 W e (L^2 / 4 - e^2) / (3 E I L), and that over the
    // seat's height adds to the 2 mm: with x times the needed load W, W (1 - (2 + c (x W + more)) / k) =
    // asked.
    let f = 0.12 / 14.5_f64.to_radians().cos();
    let arm = |[rubs, rises]: [f64; 2]| {
        0.5 * (6.35 / PI + rubs * f) / (1.0 - 6.35 / (PI * rises) * f) + 16.0 * 0.1
    };
    let (basic, (made, _)) = (38.1 - 3.175, made());
    let (slick, rough) = (arm([made, basic]), arm([basic, made]));
    let x = 1.05 / 0.95 * rough / slick;
    let per = SEAT * lean_of_one();
    // A torque rounded up by 136 N mm to be told, and 5 % more, gives that much more.
    let rounded = 136.0 * 1.05;
    let (more, c) = (end + rounded / slick, per * x);
    let left = 1.0 - (2.0 + per * more) / kern;
    let set = (left - (left * left - 4.0 * c / kern * asked).sqrt()) / (2.0 * c / kern) * x;
    (set + more, set * slick + rounded)
}

/// How many times load and torque reach the strength of a rod 300 mm long between pins, pressed so far
/// off its axis: the secant formula with Tresca, by Newton's method.
fn multiple(root: f64, off: f64, [w, t]: [f64; 2], strength: f64) -> f64 {
    let (area, inertia) = (PI * root * root / 4.0, PI * root.powi(4) / 64.0);
    let stress = |n: f64| {
        let secant = 1.0 / (150.0 * (n * w / (205e3 * inertia)).sqrt()).cos();
        let bent = n * w * off * secant * root / 2.0 / inertia;
        (n * w / area + bent).hypot(2.0 * 16.0 * n * t / (PI * root.powi(3)))
    };
    let mut n = strength / stress(1.0);
    for _ in 0..50 {
        let slope = (stress(n * 1.000_001) - stress(n * 0.999_999)) / (2e-6 * n);
        n -= (stress(n) - strength) / slope;
    }
    n
}

/// The modes of gasket, cup and screw.
fn of_cup_and_screw(sy: Strength) -> Vec<(K, Option<End>, f64)> {
    let (w, t) = load_and_torque();
    let face = PI * 180.0 * 10.0;
    let crushing = (w - end_load()) / face + (w * off() + 10e3) / (face * kern(190.0, 170.0));
    let (ro2, ri2) = (95.5_f64.powi(2), 87.5_f64.powi(2));
    let hoop = PRESSURE * (ro2 + ri2) / (ro2 - ri2);
    let pressed = (w - PRESSURE * PI * ri2) / (PI * 183.0 * 8.0);
    let wall = (hoop + PRESSURE.max(pressed)).max(w / (PI * 183.0 * 8.0));
    // The crown with the greater Poisson's ratio that metals have, or about a rigid boss with the lesser;
    // the worse counts.
    let crown = |v: f64| {
        let share = 30.0 / 91.5;
        let moment = (1.0 + v) * f64::ln(1.0 / share) + 1.0 - (1.0 - v) * share * share / 4.0;
        6.0 / 400.0 * w / (4.0 * PI) * moment
    };
    let about_the_boss = |v: f64| {
        let share = 30.0 / 91.5;
        let bends = 2.0 * (1.0 + (1.0 + v) * f64::ln(1.0 / share));
        6.0 / 400.0 * w / (4.0 * PI) * (bends / (1.0 + v + (1.0 - v) * share * share) - 1.0)
    };
    let crown = crown(0.35).max(about_the_boss(0.27));
    let along_wall = (183.0_f64 * 8.0).sqrt();
    let loaded = 87.5 * (along_wall + 42.0) + 25.0 * 20.0;
    let port = PRESSURE * (loaded / (8.0 * along_wall + 17.0 * 20.0) + 0.5);
    let (cup, screw, block) = (sy(Part::Cup), sy(Part::Screw), sy(Part::Block));
    let (mean, root) = made();
    let f = 0.12 / 14.5_f64.to_radians().cos();
    // The first ridge carries 0.38 of all; 45 mm of nut hold 7.1 ridges.
    let first = |diameter: f64| 0.38 * w / (PI * diameter * 6.35 / 2.0);
    let strip = |diameter: f64| 1.5 * first(diameter);
    let half = w / (PI * root * root / 4.0) / 2.0;
    let ridge = 3.0 * first(root) + half + half.hypot(16.0 * t / (PI * root.powi(3)));
    // The screw leans 2 mm on a metre and with the bar, 300 mm long; its ball of 32 mm rubs by 0.1, at 16 mm when turned
    // and so at up to sqrt(16^2 + 16^2 / 2) mm when tilted.
    let lean = 0.002 + lean_of_one() * w;
    let body = multiple(root, 300.0 * lean + (16.0_f64.powi(2) * 1.5).sqrt() * 0.1, [w, t], screw);
    let slenderness2 = 300.0_f64.powi(2) / (root * root / 16.0);
    let johnson = screw * (1.0 - screw * slenderness2 / (4.0 * PI * PI * 205e3));
    assert!(slenderness2 < 2.0 * PI * PI * 205e3 / screw, "a stout column");
    vec![
        (K::Lift, None, kern(191.0, 169.0) / off()),
        (K::Crushing, None, 30.0 / crushing),
        (K::CupWall, None, cup / wall),
        (K::CupCrown, None, cup / crown),
        (K::CupPort, None, cup / port),
        (K::Seat, None, least(&[cup, screw]) / (w / (PI * 900.0 / 4.0))),
        (K::Hand, None, 600.0 / (t / 500.0)),
        (K::HandleRod, None, sy(Part::Handle) / (32.0 * t / (PI * 27_000.0))),
        (K::TurnsBack, None, f / (6.35 / (PI * mean))),
        (K::ThreadBearing, None, least(&[screw, block]) / first(mean)),
        (K::ThreadStrip, None, least(&[screw / 2.0 / strip(root), block / 2.0 / strip(38.1)])),
        (K::ThreadBending, None, least(&[screw / ridge, block / (3.0 * first(38.1))])),
        (K::ScrewBody, None, body),
        (K::ScrewColumn, None, johnson * PI * root * root / 4.0 / w),
    ]
}

/// The modes of block and bar.
fn of_bar(sy: Strength) -> Vec<(K, Option<End>, f64)> {
    let (w, _) = load_and_torque();
    let (block, bar) = (sy(Part::Block), sy(Part::Bar));
    // The block bears on 27 mm of each rail, 1.5 mm less on one where it stands off with the screw, the
    // saddle on 26, 1 mm less where its stem lies against the other rail: their strips' middles are 69 mm and
    // 68 mm apart.
    let (of_block, rail) = (0.5 + 1.5 / 69.0, 0.5 + 1.5 / 68.0);
    let bending = w * (42.0 + 27.0) / 4.0 / ((90.0 - 38.1) * 45.0 * 45.0 / 6.0);
    let near = 0.5 + 50.0 / 750.0;
    let moment = w * 325.0 * 425.0 / 750.0;
    let ratio: f64 = 30.0 / 75.0;
    let series = 1.0 + 0.6095 * ratio + 0.8865 * ratio.powi(2) - 1.8023 * ratio.powi(3)
        + 0.91 * ratio.powi(4);
    let twist =
        w * near * (0.5 + 1.5 / 67.0) * (30.0 - 25.0) / 2.0 * 3.0 * series / (75.0 * 30.0 * 30.0);
    vec![
        (K::BlockBending, None, block / bending),
        (K::BlockBearing, None, least(&[block, bar]) / (w * of_block / (90.0 * 25.5))),
        (K::RailBending, None, bar / (moment * rail / (30.0 * 75.0 * 75.0 / 6.0))),
        (K::RailShear, None, bar / 2.0 / (1.5 * w * near * rail / (30.0 * 75.0))),
        (K::RailTwist, None, bar / 2.0 / twist),
    ]
}

/// Yield, rupture, tear-out and bearing of a pinned plate in newtons: width, thickness, what there is
/// beyond the hole, pin, what a round end cuts off; the hole is 23.
fn plate(sy: f64, [w, t, beyond, pin, cut]: [f64; 5]) -> [f64; 4] {
    let su = 1.4 * sy;
    let width = least(&[(w - 23.0) / 2.0, 2.0 * t + 15.875, beyond / 1.33]);
    [
        sy * w * t,
        su * 2.0 * t * width,
        0.6 * su * 2.0 * t * (beyond + pin / 2.0 - cut),
        1.8 * sy * pin * t,
    ]
}

/// The modes of one end: share of the load, links on both pins, wall.
fn of_end(
    sy: Strength,
    end: End,
    share: f64,
    links: Links,
    wall: f64,
) -> Vec<(K, Option<End>, f64)> {
    let (w, _) = load_and_torque();
    let (r, at) = (w * share, Some(end));
    let rail = 0.5 + 1.5 / 68.0;
    let (saddle, bar, foot) = (sy(Part::Saddle), sy(Part::Bar), sy(Part::Foot));
    let arm = 2.0 + 25.0 / 2.0;
    let top = 30.0 * 30.0 * 30.0 / 6.0;
    let mut modes = vec![
        (K::SaddleBearing, at, least(&[saddle, bar]) / (r * rail / (30.0 * 25.0))),
        (K::SaddleTopBending, at, saddle / (r * rail * arm / top)),
        (K::SaddleTopShear, at, saddle / 2.0 / (r * rail / (30.0 * 30.0))),
    ];
    let stem = [K::StemYield, K::StemRupture, K::StemTearOut, K::StemBearing];
    let strengths = plate(saddle, [40.0, 30.0, 32.0 - 11.5, 22.0, 0.0]);
    modes.extend(stem.into_iter().zip(strengths).map(|(k, s)| (k, at, s / r)));
    // The share of a link whose middle stands at `own`, the other's at `other`: by the middles or by the
    // inner faces, whichever is more, and for the less loaded 0.04 more (`tests/outside/bar_and_pin`), no
    // more than half.
    let part = |[own, t]: [f64; 2], [other, u]: [f64; 2]| {
        let (near, far) = (own - t / 2.0, other - u / 2.0);
        let share = f64::max(other / (own + other), far / (near + far));
        share.max(f64::min(share + 0.04, 0.5))
    };
    let pin = |diameter: f64, spread: f64, of: Part, [i, o]: [[f64; 2]; 2]| {
        let shear = r * part(i, o).max(part(o, i)) / (PI * diameter * diameter / 4.0);
        let apart = i[0] + o[0];
        let moment = r * (i[0] * o[0] / apart) * (1.0 - spread / (2.0 * apart));
        [sy(of) / 2.0 / shear, sy(of) / (32.0 * moment / (PI * diameter.powi(3)))]
    };
    let [shear, bending] = pin(22.0, 30.0, Part::UpperPin, links[0]);
    modes.extend([(K::UpperPinShear, at, shear), (K::UpperPinBending, at, bending)]);
    let link = [K::LinkYield, K::LinkRupture, K::LinkTearOut, K::LinkBearing];
    for (n, kind) in link.into_iter().enumerate() {
        let factors: Vec<f64> = [(links[0], 22.0), (links[1], 21.0)]
            .into_iter()
            .flat_map(|([i, o], p)| [(i, o, p), (o, i, p)])
            .map(|(own, other, p)| {
                // The next hole is nearer than the end.
                let cut = 22.5 - (22.5_f64.powi(2) - p * p / 4.0).sqrt();
                let plate = plate(sy(Part::Link), [45.0, own[1], 41.0 - 23.0, p, cut]);
                plate[n] / (r * part(own, other))
            })
            .collect();
        modes.push((kind, at, least(&factors)));
    }
    let bending: Vec<f64> = links
        .into_iter()
        .flat_map(|[i, o]| [(i, o), (o, i)])
        .map(|(own, other)| sy(Part::Link) / (4.0 * r * part(own, other) / (22.0 * own[1])))
        .collect();
    modes.push((K::LinkBending, at, least(&bending)));
    // Pushed against one link while the wall lies against the other, the foot bears on what is left, and at
    // the worst on a line under the pull, which spreads over the foot's depth.
    let [i, o] = links[1];
    let apart = i[0] + o[0] - i[1].midpoint(o[1]);
    let bears = wall.min(wall + 28.0 - apart);
    let [shear, bending] = pin(21.0, bears, Part::LowerPin, links[1]);
    let height: f64 = 30.0 - 11.5;
    modes.extend([
        (K::LowerPinShear, at, shear),
        (K::LowerPinBending, at, bending),
        (K::FootBearing, at, least(&[foot, sy(Part::LowerPin)]) / (r / (21.0 * bears))),
        (K::FootBending, at, foot / (r * 28.0 / 8.0 / (75.0 * height * height / 6.0))),
        (K::PortEdge, at, least(&[foot, sy(Part::Sidewall)]) / (r / (bears * 75.0))),
    ]);
    modes
}

#[test]
fn every_mode_comes_out_as_by_hand() {
    for strength in [rising as Strength, falling, weak_block] {
        let rig = exact_rig(strength);
        let hold = assess(&rig, Bounds::exactly(Pressure::from_mpa(PRESSURE))).unwrap();
        let mut by_hand = of_cup_and_screw(strength);
        by_hand.extend(of_bar(strength));
        let (a, b) = (0.5 + 50.0 / 750.0, 0.5 - 50.0 / 750.0);
        by_hand.extend(of_end(strength, End::A, a, LINKS_A, 19.0));
        by_hand.extend(of_end(strength, End::B, b, LINKS_B, 20.0));
        assert_eq!(hold.modes.len(), by_hand.len());
        for (mode, (kind, end, factor)) in hold.modes.iter().zip(by_hand) {
            assert_eq!((mode.kind, mode.end), (kind, end));
            assert_eq!(mode.lacking, []);
            // The lower end, which holds; the crown's bounds are those of Poisson's ratio.
            let low = mode.factor.unwrap().low();
            assert!((low / factor - 1.0).abs() < 1e-9, "{mode}: {low} instead of {factor}");
        }
    }
}

#[test]
fn the_bar_bends_and_shears_as_by_hand() {
    let rig = exact_rig(rising);
    let hold = assess(&rig, Bounds::exactly(Pressure::from_mpa(PRESSURE))).unwrap();
    // The shear modulus that is the lesser counts.
    let (w, _) = load_and_torque();
    let (ends, inertia) = (325.0 * 425.0_f64, 2.0 * 30.0 * 75.0_f64.powi(3) / 12.0);
    let shear = 205e3 / (2.0 * 1.35);
    let deflection = w * ends * ends / (3.0 * 205e3 * inertia * 750.0)
        + 1.2 * w * ends / (750.0 * shear * 2.0 * 30.0 * 75.0);
    let high = hold.deflection.unwrap().high().mm();
    assert!((high / deflection - 1.0).abs() < 1e-9, "{high} instead of {deflection}");
}
