//! Gasket and cup: a published example, closed forms, and a differential equation.

#[path = "../support/quantities.rs"]
mod quantities;

use measure::{Bounds, Force, Length, Moment, Pressure, Stress};
use quantities::{assert_near, assert_printed, mm, mpa, newtons};
use sealing::{
    Aim, CodeFactors, Cup, Face, Gasket, Ring, SidePort, SupplierStress, boss_moment, contact,
    effective_width, end_load, even_plate_moment, load_for_contact, operating_load, plate_moment,
    seating_load,
};

const INCH: f64 = 25.4;
const POUND: f64 = 4.448_221_615_260_5;

/// ASME PTB-4 example E4.16.1 (inputs read in an SI copy, answers from memory): P 135 psi, gasket
/// 30/29 in, b 0.2031 in, m 3.75, y 7600 psi, 44 bolts of 3/4 in with 0.302 in2, S 25 ksi. Wo 111
/// 329.5 lb, Wg 237 626.3 lb, with pi / 4 instead of the code's 0.785.
#[test]
fn a_flange_gasket_asks_for_the_printed_bolt_loads() {
    let b = 0.2031 * INCH;
    let ring = Ring { mean: mm(29.5 * INCH), width: mm(2.0 * b) };
    let factors =
        CodeFactors { m: Bounds::exactly(3.75), y: Bounds::exactly(Stress::from_psi(7600.0)) };
    let pressure = Bounds::exactly(Pressure::from_psi(135.0));
    let operating = operating_load(&ring, &factors, pressure).middle().newtons() / POUND;
    assert_printed(operating, 111_329.5, 0.1);
    let seating = seating_load(&ring, &factors).middle().newtons() / POUND;
    // The design load for seating is the mean of what is needed and what the bolts have.
    let needed = operating.max(seating) / 25e3;
    let there = 44.0 * 0.302;
    assert_printed(0.5 * (needed + there) * 25e3, 237_626.3, 0.2);
}

/// Table 2-5.1 of the code, the rows for rubber (read in four secondary copies that agree): m and y
/// in psi.
#[test]
fn rubber_has_the_codes_factors() {
    for (factors, m, psi) in [
        (CodeFactors::soft_rubber(), 0.5, 0.0),
        (CodeFactors::hard_rubber(), 1.0, 200.0),
        (CodeFactors::cotton_rubber(), 1.25, 400.0),
    ] {
        assert!((factors.m.middle() - m).abs() < 1e-12);
        assert!((factors.y.middle().psi() - psi).abs() < 1e-9);
    }
}

/// Table 2-5.2 of the code: `b = b0` up to 6 mm, `2.5 sqrt(b0)` above; `G` the mean diameter or
/// `OD - 2 b`.
#[test]
fn the_codes_ring_is_the_whole_face_of_a_narrow_gasket_and_the_edge_of_a_wide_one() {
    let face = |inside: f64, outside: f64| Face { inside: mm(inside), outside: mm(outside) };
    let narrow = face(200.0, 220.0);
    assert_near(narrow.by_code().mean.middle().mm(), 210.0, 1e-12);
    assert_near(narrow.by_code().width.middle().mm(), 10.0, 1e-12);
    assert_near(effective_width(mm(9.0)).middle().mm(), 7.5, 1e-12);
    let wide = face(180.0, 216.0);
    assert_near(wide.by_code().mean.middle().mm(), 216.0 - 15.0, 1e-12);
    assert_near(wide.by_code().width.middle().mm(), 15.0, 1e-12);
    // A gasket that may be just narrow and may be just wide is within what holds both.
    let doubtful =
        Face { inside: Bounds::about(Length::from_mm(176.0), Length::from_mm(0.5)), ..narrow };
    let doubtful = Face { outside: mm(200.0), ..doubtful }.by_code();
    for inside in [175.6, 176.4] {
        let exact = face(inside, 200.0).by_code();
        assert!(doubtful.mean.interval().encloses(exact.mean.interval()));
        assert!(doubtful.width.interval().encloses(exact.width.interval()));
    }
    assert_near(effective_width(mm(6.0)).middle().mm(), 6.0, 1e-12);
    // The end load is taken on the larger of the code's circle and the mean one.
    let gasket = Gasket { face: wide, rim: wide, code: None, supplier: None };
    let end = gasket.end_load(Bounds::exactly(Pressure::from_mpa(1.0))).middle().newtons();
    assert_near(end, std::f64::consts::FRAC_PI_4 * 201.0 * 201.0, 1e-12);
}

/// With the screw on the axis the code's two loads come out as they are, whichever is more; a
/// supplier's figure counts beside them.
#[test]
fn the_needed_load_is_the_greatest_that_code_or_supplier_asks_for() {
    let code = CodeFactors { m: Bounds::exactly(3.0), y: Bounds::exactly(Stress::from_mpa(10.0)) };
    let face = Face { inside: mm(180.0), outside: mm(200.0) };
    let gasket = Gasket { face, rim: face, code: Some(code), supplier: None };
    let aim = Aim { offset: mm(0.0), side_moment: Bounds::exactly(Moment::from_newton_mm(0.0)) };
    for (pressure, seats) in [(0.1, true), (5.0, false)] {
        let pressure = Bounds::exactly(Pressure::from_mpa(pressure));
        let ring = face.by_code();
        let loads = [operating_load(&ring, &code, pressure), seating_load(&ring, &code)];
        let [operating, seating] = loads.map(|l| l.middle().newtons());
        assert_eq!(seating > operating, seats);
        let needed =
            |gasket: &Gasket| gasket.needed_load(pressure, &aim).unwrap().middle().newtons();
        assert_near(needed(&gasket), operating.max(seating), 1e-12);
        let supplier = |least: f64| {
            let least = Some(Bounds::exactly(Stress::from_mpa(least)));
            let supplier = SupplierStress { least, most: None, basis: "invented".into() };
            Gasket { supplier: Some(supplier), ..gasket.clone() }
        };
        let end = gasket.end_load(pressure).middle().newtons();
        let face_area = std::f64::consts::PI * 190.0 * 10.0;
        assert_near(needed(&supplier(40.0)), end + 40.0 * face_area, 1e-12);
        assert_near(needed(&supplier(0.01)), operating.max(seating), 1e-12);
    }
}

/// The supplier's least stress is meant over the gasket's own face, its greatest is reached where the
/// narrower rim presses: each counts where it is the worse.
#[test]
fn a_gasket_wider_than_the_rim_is_asked_for_on_its_own_face_and_crushed_under_the_rim() {
    let face = Face { inside: mm(170.0), outside: mm(200.0) };
    let rim = Face { inside: mm(175.0), outside: mm(191.0) };
    let least = Some(Bounds::exactly(Stress::from_mpa(1.2)));
    let supplier = Some(SupplierStress { least, most: None, basis: "invented".into() });
    let gasket = Gasket { face, rim, code: None, supplier };
    let still = Bounds::exactly(Moment::from_newton_mm(0.0));
    let aim = Aim { offset: mm(0.0), side_moment: still };
    let none = Bounds::exactly(Pressure::from_mpa(0.0));
    let pi = std::f64::consts::PI;
    let (own, under) = (pi * 185.0 * 15.0, pi * 183.0 * 8.0);
    let needed = gasket.needed_load(none, &aim).unwrap().middle().newtons();
    assert_near(needed, 1.2 * own, 1e-12);
    let pressed = gasket.most_pressed(newtons(needed), newtons(0.0), &aim);
    assert_near(pressed.middle().mpa(), 1.2 * own / under, 1e-12);
    // The end load acts on the code's circle of the wider face, 2 b = 5 sqrt(7.5) within its edge.
    let pressure = Bounds::exactly(Pressure::from_mpa(0.5));
    let circle = 200.0 - 5.0 * 7.5_f64.sqrt();
    assert_near(gasket.end_load(pressure).middle().newtons(), pi / 8.0 * circle * circle, 1e-12);
    // The kern of the wider face is the smaller one here: (100^2 + 85^2) / 400.
    assert_near(gasket.kern().middle().mm(), 43.0625, 1e-12);
}

/// A gasket of which only the supplier's least stress is known is asked for no less contact than the
/// pressure that it contains (common practice, no source), whatever the code's factor; where that is
/// greater, for that times the pressure.
#[test]
fn the_contact_asked_for_rises_with_the_pressure() {
    let face = Face { inside: mm(180.0), outside: mm(200.0) };
    let least = Some(Bounds::exactly(Stress::from_mpa(1.2)));
    let supplier = Some(SupplierStress { least, most: None, basis: "invented".into() });
    let aim = Aim { offset: mm(0.0), side_moment: Bounds::exactly(Moment::from_newton_mm(0.0)) };
    let area = std::f64::consts::PI * 190.0 * 10.0;
    for (code, pressure, asked) in [
        (None, 0.5, 1.2),
        (None, 1.2, 1.2),
        (None, 4.8, 4.8),
        (Some(CodeFactors::soft_rubber()), 2.0, 2.0),
        (Some(CodeFactors::soft_rubber()), 4.8, 4.8),
        (Some(CodeFactors::hard_rubber()), 4.8, 4.8),
        (Some(CodeFactors { m: Bounds::exactly(0.0), ..CodeFactors::soft_rubber() }), 4.8, 4.8),
        (Some(CodeFactors { m: Bounds::exactly(2.0), ..CodeFactors::soft_rubber() }), 2.0, 4.0),
    ] {
        let gasket = Gasket { face, rim: face, code, supplier: supplier.clone() };
        let pressure = Bounds::exactly(Pressure::from_mpa(pressure));
        assert_near(gasket.asked(pressure).unwrap().middle().mpa(), asked, 1e-12);
        let end = gasket.end_load(pressure).middle().newtons();
        let needed = gasket.needed_load(pressure, &aim).unwrap().middle().newtons();
        assert_near(needed, end + asked * area, 1e-12);
    }
}

/// Contact on a ring summed over small pieces of its face gives back the load and the moment; at
/// the load for no contact the one side is just free.
#[test]
fn uneven_contact_carries_load_and_moment_and_just_lifts_at_the_kern() {
    let ring = Ring { mean: mm(200.0), width: mm(30.0) };
    let aim = Aim { offset: mm(4.0), side_moment: Bounds::exactly(Moment::from_newton_mm(30e3)) };
    let (load, end) = (newtons(60e3), newtons(35e3));
    let [least, greatest] = contact(&ring, load, end, &aim).map(|s| s.middle().mpa());
    let (mut force, mut moment) = (0.0, 0.0);
    let (rings, pieces) = (400, 400);
    for i in 0..rings {
        let r = 85.0 + 30.0 * (f64::from(i) + 0.5) / f64::from(rings);
        for j in 0..pieces {
            let angle = std::f64::consts::TAU * f64::from(j) / f64::from(pieces);
            let area = r * (30.0 / f64::from(rings)) * std::f64::consts::TAU / f64::from(pieces);
            let x = r * angle.cos();
            let stress = 0.5 * (least + greatest) + 0.5 * (greatest - least) * x / 115.0;
            force += stress * area;
            moment += stress * area * x;
        }
    }
    assert_near(force, 25e3, 1e-6);
    assert_near(moment, 60e3 * 4.0 + 30e3, 1e-5);

    let none = mpa(0.0);
    let just = load_for_contact(&ring, none, end, &aim).unwrap();
    let [least, _] = contact(&ring, just, end, &aim);
    assert!(least.middle().mpa().abs() < 1e-9);
    // The kern of an annulus, (Ro^2 + Ri^2) / (4 Ro).
    let kern = (115.0_f64.powi(2) + 85.0_f64.powi(2)) / (4.0 * 115.0);
    assert_near(ring.kern().middle().mm(), kern, 1e-12);
    let beyond = Aim { offset: mm(kern), ..aim };
    let fault = load_for_contact(&ring, none, end, &beyond).unwrap_err().to_string();
    assert!(fault.contains("distance of the screw") && fault.contains("44.45 mm"), "{fault}");
}

/// Timoshenko and Woinowsky-Krieger: spread over the whole plate the patch load is an even
/// pressure, `(3 + v) p a^2 / 16`, and a thin shell's `p D / (2 t)` is Lame's mean over a thin
/// wall.
#[test]
fn plate_and_shell_meet_their_limits() {
    let poisson = Bounds::exactly(0.3);
    let (edge, pressure) = (mm(100.0), Bounds::exactly(Pressure::from_mpa(2.0)));
    let load = pressure * (Bounds::PI * (edge * edge));
    let patch = plate_moment(load, edge, edge, mm(10.0), poisson).middle();
    let even = even_plate_moment(pressure, edge, poisson).middle();
    assert_near(patch / even, 1.0, 1e-12);
    assert_near(even.newtons(), 3.3 * 2.0 * 100.0 * 100.0 / 16.0, 1e-12);
    let cup = Cup { inside: mm(160.0), wall: mm(2.0), crown: mm(12.0), seat: mm(60.0) };
    assert_eq!(cup.faults(), []);
    let (thin, thick) = (cup.thin_hoop(pressure).unwrap().middle(), cup.hoop(pressure).middle());
    assert_near(thin.mpa(), 2.0 * 162.0 / 4.0, 1e-12);
    // Lame at the bore: p (81^2 + ... ) written out.
    let lame = 2.0 * (82.0_f64.powi(2) + 80.0_f64.powi(2)) / (82.0_f64.powi(2) - 80.0_f64.powi(2));
    assert_near(thick.mpa(), lame, 1e-12);
    assert!(thin < thick && thick < thin * 1.05);
    // The wall: hoop against the pressure where the screw presses little, against the pressing
    // where it presses much, and the pressing alone where there is no pressure.
    let wall = |p: f64, w: f64| {
        let p = Bounds::exactly(Pressure::from_mpa(p));
        cup.wall_stress(p, newtons(w)).middle().mpa()
    };
    let (area, bore) = (std::f64::consts::PI * 162.0 * 2.0, std::f64::consts::PI * 80.0 * 80.0);
    assert_near(wall(2.0, 2.0 * bore), lame + 2.0, 1e-12);
    assert_near(wall(2.0, 2.0 * bore + 5.0 * area), lame + 5.0, 1e-12);
    assert_near(wall(0.0, 7.0 * area), 7.0, 1e-12);
    let stout = Cup { wall: mm(12.0), ..cup };
    assert!(stout.thin_hoop(pressure).unwrap_err().to_string().contains("mean diameter over wall"));
    let doubtful = Cup { wall: Bounds::between(mm(2.0).low(), mm(12.0).high()), ..cup };
    assert!(doubtful.thin_hoop(pressure).is_err());
    let lump = Cup { crown: mm(50.0), ..cup };
    let doubtful = Cup { crown: Bounds::between(mm(39.0).low(), mm(41.0).high()), ..cup };
    assert!(doubtful.crown_stress(load, poisson).is_err());
    let fault = lump.crown_stress(load, poisson).unwrap_err().to_string();
    assert!(fault.contains("crown over inside diameter"), "{fault}");
}

/// Where the opening vanishes, the areas' rule is a shell's `p (Di / (2 t) + 1/2)`; with one it is
/// checked by plain arithmetic on the drawing's areas. An opening never strengthens a thin boss.
#[test]
fn a_side_port_weakens_the_wall_by_its_areas() {
    let cup = Cup { inside: mm(160.0), wall: mm(8.0), crown: mm(20.0), seat: mm(60.0) };
    let pressure = Bounds::exactly(Pressure::from_mpa(2.0));
    let port = |bore: f64, boss: f64| SidePort {
        bore: mm(bore),
        boss: mm(boss),
        reach: mm(30.0),
        clear: mm(100.0),
    };
    let none = port(1e-9, 2e-9).stress(&cup, pressure).middle().mpa();
    assert_near(none, 2.0 * (160.0 / 16.0 + 0.5), 1e-6);
    let with = port(50.0, 80.0);
    assert_eq!(with.faults(&cup), []);
    let along_wall = (168.0_f64 * 8.0).sqrt();
    let along_boss = (65.0_f64 * 15.0).sqrt().min(30.0);
    let loaded = 80.0 * (along_wall + 40.0) + 25.0 * (along_boss + 8.0);
    let metal = 8.0 * along_wall + 15.0 * (along_boss + 8.0);
    assert_near(with.stress(&cup, pressure).middle().mpa(), 2.0 * (loaded / metal + 0.5), 1e-12);
    // A longer boss counts as far as sqrt((d - b) b).
    let long = SidePort { reach: mm(60.0), ..with };
    let along_boss = (65.0_f64 * 15.0).sqrt();
    let loaded = 80.0 * (along_wall + 40.0) + 25.0 * (along_boss + 8.0);
    let metal = 8.0 * along_wall + 15.0 * (along_boss + 8.0);
    assert_near(long.stress(&cup, pressure).middle().mpa(), 2.0 * (loaded / metal + 0.5), 1e-12);
    assert!(port(50.0, 52.0).stress(&cup, pressure).low().mpa() > none);
    assert_eq!(port(90.0, 80.0).faults(&cup).len(), 1);
    // Beside the crown the wall counts no farther than it goes, and below 3 t nothing is said.
    let near = SidePort { clear: mm(25.0), ..with };
    let along_boss = (65.0_f64 * 15.0).sqrt().min(30.0);
    let loaded = 80.0 * (25.0 + 40.0) + 25.0 * (along_boss + 8.0);
    let metal = 8.0 * 25.0 + 15.0 * (along_boss + 8.0);
    assert_near(near.stress(&cup, pressure).middle().mpa(), 2.0 * (loaded / metal + 0.5), 1e-12);
    assert!(near.beside_an_end(&cup).is_ok());
    let nearer = SidePort { clear: mm(23.9), ..with };
    let told = nearer.beside_an_end(&cup).unwrap_err().to_string();
    assert!(told.contains("23.9 mm") && told.contains("24.0"), "{told}");
}

/// The plate's own equation integrated step by step: `d/dr (1/r d(r f)/dr) = Q / D` for the slope
/// `f`, with the shear force `Q` of the load within each circle and no moment at the edge.
#[test]
fn a_patch_load_bends_a_plate_as_its_differential_equation_says() {
    let (edge, load): (f64, f64) = (100.0, 1e4);
    for (patch, poisson) in [(20.0, 0.3), (60.0, 0.27), (95.0, 0.35)] {
        let steps = 200_000;
        let step = edge / f64::from(steps);
        // With D = 1: u = C + q(r), r f = integral of s u.
        let (mut q, mut own) = (0.0, 0.0);
        for i in 0..steps {
            let r = (f64::from(i) + 0.5) * step;
            let within: f64 = if r < patch { (r / patch).powi(2) } else { 1.0 };
            let shear = load * within / (std::f64::consts::TAU * r);
            own += r * (q + 0.5 * shear * step) * step;
            q += shear * step;
        }
        // At the edge u - (1 - v) f / r vanishes: C + q - (1 - v) (C / 2 + own / a^2).
        let c = -(q - (1.0 - poisson) * own / (edge * edge)) / (0.5 + 0.5 * poisson);
        let moment = (1.0 + poisson) * c.abs() / 2.0;
        let ours =
            plate_moment(newtons(load), mm(edge), mm(patch), mm(10.0), Bounds::exactly(poisson));
        assert_near(ours.middle().newtons(), moment, 1e-5);
    }
}

/// The same equation from the edge of a rigid boss out: no slope there, no moment at the plate's edge. A wide
/// boss is stiff beside its thin plate, and its edge is bent more than an even patch's middle.
#[test]
fn a_rigid_boss_bends_a_plate_as_its_differential_equation_says() {
    let (edge, load): (f64, f64) = (100.0, 1e4);
    for (boss, poisson) in [(10.0, 0.3), (33.0, 0.27), (60.0, 0.35), (95.0, 0.3)] {
        let steps = 200_000;
        let step = (edge - boss) / f64::from(steps);
        let (mut q, mut own) = (0.0, 0.0);
        for i in 0..steps {
            let r = (f64::from(i) + 0.5).mul_add(step, boss);
            let shear = load / (std::f64::consts::TAU * r);
            own += r * (q + 0.5 * shear * step) * step;
            q += shear * step;
        }
        // At the edge C + q - (1 - v) (C (a^2 - c^2) / 2 + own) / a^2 vanishes; at the boss u is C.
        let (v, a2) = (1.0 - poisson, edge * edge);
        let moment = (q - v * own / a2) / (1.0 - v * (a2 - boss * boss) / (2.0 * a2));
        let ours = boss_moment(newtons(load), mm(edge), mm(boss), Bounds::exactly(poisson));
        assert_near(ours.middle().newtons(), moment.abs(), 1e-5);
    }
    // The crown takes the greater of both: 6 M / t^2 with the lesser Poisson's ratio for the boss.
    let cup = Cup { inside: mm(192.0), wall: mm(8.0), crown: mm(20.0), seat: mm(60.0) };
    let stress = |seat: f64| {
        let cup = Cup { seat: mm(seat), ..cup };
        let metal = Bounds::between(0.27, 0.35);
        let both = [
            boss_moment(newtons(load), mm(edge), mm(seat / 2.0), metal),
            plate_moment(newtons(load), mm(edge), mm(seat / 2.0), mm(20.0), metal),
        ];
        let told = cup.crown_stress(newtons(load), metal).unwrap().high().mpa();
        (told, both.map(|m| m.high().newtons() * 6.0 / 400.0))
    };
    let (told, [boss, patch]) = stress(60.0);
    assert_near(told, boss, 1e-12);
    assert!(boss > 1.03 * patch);
    let (told, [boss, patch]) = stress(150.0);
    assert_near(told, patch, 1e-12);
    assert!(boss < patch);
}

/// A narrow patch acts as Westergaard's wider one, `sqrt(1.6 c^2 + t^2) - 0.675 t`: a point load
/// does not break a plate.
#[test]
fn a_point_load_on_a_plate_stays_finite() {
    let at = |patch: f64| {
        plate_moment(newtons(1e4), mm(100.0), mm(patch), mm(20.0), Bounds::exactly(0.3)).middle()
    };
    let wide = at((1.6_f64 * 25.0 + 400.0).sqrt() - 13.5);
    // That width lies below half the thickness itself, so compare by hand.
    let acting = (1.6_f64 * 25.0 + 400.0).sqrt() - 13.5;
    let share = acting / 100.0;
    // Between a third and a half of the thickness it is still narrow, and above not.
    let moment = |acting: f64| {
        let share = acting / 100.0;
        1e4 / (4.0 * std::f64::consts::PI)
            * (1.3 * (1.0 / share).ln() + 1.0 - 0.7 * share * share / 4.0)
    };
    assert_near(at(8.0).newtons(), moment((1.6_f64 * 64.0 + 400.0).sqrt() - 13.5), 1e-9);
    assert_near(at(10.5).newtons(), moment(10.5), 1e-9);
    let by_hand = 1e4 / (4.0 * std::f64::consts::PI)
        * (1.3 * (1.0 / share).ln() + 1.0 - 0.7 * share * share / 4.0);
    assert_near(at(5.0).newtons(), by_hand, 1e-9);
    assert!(wide > Force::from_newtons(0.0) && at(1e-9).newtons().is_finite());
    // A patch that may be narrow or wide has a moment between those of both.
    let range = Bounds::between(Length::from_mm(5.0), Length::from_mm(30.0));
    let both = plate_moment(newtons(1e4), mm(100.0), range, mm(20.0), Bounds::exactly(0.3));
    assert!(both.high() >= at(5.0) * (1.0 - 1e-12) && both.low() <= at(30.0) * (1.0 + 1e-12));
}

/// No pressure pushes nothing off: exactly, since the record tells both ends.
#[test]
fn no_pressure_pushes_nothing_off() {
    let zero = Bounds::exactly(Pressure::from_mpa(0.0));
    let pushed = end_load(mm(180.0), zero).interval();
    assert!(pushed.low.to_bits() == 0 && pushed.high.to_bits() == 0, "{pushed:?}");
    let some = Bounds::between(Pressure::from_mpa(0.0), Pressure::from_mpa(1.0));
    assert_eq!(end_load(mm(180.0), some).interval().low.to_bits(), 0);
}
