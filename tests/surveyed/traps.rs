//! What looks or is named like something else: each was once taken for it without a word.

use super::truth::{bodies, told};
use super::{example, named, nameless};
use assembly::CarTop;
use assembly::car_top::CarBody;
use assembly::kit::PartKind;
use measure::Angle;
use nalgebra::{Isometry3, Point2, Point3, Vector3};
use solids::build::{ChordError, block, circle, cylinder, extrude};
use solids::{Body, Deviation, Mesh};
use survey::{Confidence, Draft, Settings, Unfound, survey};

fn chord() -> ChordError {
    ChordError::from_mm(0.05).unwrap()
}

fn tube(inner: f64, outer: f64, low: f64, high: f64) -> Mesh {
    let ring = |radius| circle(Point2::origin(), radius, chord());
    extrude(&ring(outer), &[ring(inner)], low, high).unwrap()
}

fn upright(x: f64, y: f64, low: f64, high: f64, radius: f64) -> Mesh {
    cylinder(Point3::new(x, y, low), Point3::new(x, y, high), radius, chord()).unwrap()
}

fn level(from: [f64; 3], to: [f64; 3], radius: f64) -> Mesh {
    cylinder(from.into(), to.into(), radius, chord()).unwrap()
}

fn boxed(low: [f64; 3], high: [f64; 3]) -> Mesh {
    block(low.into(), high.into()).unwrap()
}

/// Takes bodies out by name; what the truth says of parts is of no use after that.
fn without(car: &mut CarTop, names: &[&str]) {
    car.bodies.retain(|b| !names.contains(&b.body.name.as_str()));
}

fn add(car: &mut CarTop, name: &str, mesh: Mesh) {
    let deviation = Deviation { bound: 0.05, basis: "made for the test".into() };
    let body = Body { name: name.into(), mesh, deviation };
    car.bodies.push(CarBody { kind: PartKind::Fitting, body, unseen: false });
}

fn index(car: &CarTop, name: &str) -> usize {
    car.bodies.iter().position(|b| b.body.name == name).unwrap()
}

fn mesh_of<'c>(car: &'c mut CarTop, name: &str) -> &'c mut Mesh {
    let at = index(car, name);
    &mut car.bodies[at].body.mesh
}

fn draft(car: &CarTop, with_names: bool) -> Draft {
    let names: &dyn Fn(usize, &str) -> String = if with_names { &named } else { &nameless };
    survey(&bodies(car, &Isometry3::identity(), names), &Settings::default()).unwrap()
}

fn asks(draft: &Draft, about: &str) -> bool {
    draft.questions.iter().any(|q| q.about.starts_with(about))
}

/// The reason why a question is asked; empty where it is not.
fn why(draft: &Draft, about: &str) -> String {
    let found = draft.questions.iter().find(|q| q.about.starts_with(about));
    found.map(|q| q.why.clone()).unwrap_or_default()
}

fn comes_off(draft: &Draft, body: usize) -> bool {
    draft.fittings.iter().flat_map(|f| &f.removables).any(|r| r.found.body == body)
}

#[test]
fn a_fitting_in_the_middle_with_an_open_bore_is_no_housing() {
    for (high, name) in [(50.0, "nozzle"), (50.0, "prd-body"), (240.0, "prd-body")] {
        for with_names in [true, false] {
            let mut car = example("pressure-car");
            without(&mut car, &["prd-body"]);
            add(&mut car, name, tube(26.0, 82.5, 0.0, high));
            let body = index(&car, name);
            let draft = draft(&car, with_names);
            assert!(draft.housing.iter().all(|f| f.body != body), "{name} {}", told(&draft));
            let holds = |f: &&survey::Fitting| f.bodies.iter().any(|b| b.body == body);
            let fitting = draft.fittings.iter().find(holds).unwrap();
            assert!(fitting.centre.coords.norm() < 0.1, "{}", fitting.centre);
            assert!((fitting.flange - 165.0).abs() < 0.1, "{}", fitting.flange);
        }
    }
}

#[test]
fn a_ring_beside_the_wall_is_asked_about_unless_its_name_tells() {
    for (name, is_told) in [("rail", false), ("housing ring", true), ("body ring", false)] {
        let mut car = example("pressure-car");
        add(&mut car, name, tube(330.0, 340.0, 180.0, 200.0));
        let body = index(&car, name);
        let draft = draft(&car, true);
        let ring = draft.housing.iter().find(|f| f.body == body).unwrap();
        assert_eq!(ring.reason.confidence != Confidence::Doubtful, is_told, "{name}");
        assert_eq!(asks(&draft, &format!("body \"{name}\"")), !is_told, "{}", told(&draft));
    }
}

#[test]
fn what_a_name_only_mentions_does_not_come_off() {
    let ring = |count: i32, x: f64, radius: f64| {
        let mut mesh = Mesh::default();
        for i in 0..count {
            let turn = (360.0 * (f64::from(i) + 0.4) / f64::from(count)).to_radians();
            mesh.append(&upright(x + radius * turn.cos(), radius * turn.sin(), 25.0, 50.0, 8.0));
        }
        mesh
    };
    let bracket = || boxed([60.0, 150.0, 30.0], [90.0, 250.0, 120.0]);
    let cases = [
        ("vv1-handle-bracket", bracket()),
        ("vv1-lever-bracket", bracket()),
        ("lv1-cap-screws", ring(8, 200.0, 68.0)),
        ("lv1-cap-nuts", ring(8, 200.0, 68.0)),
        ("lv1-handle-post", upright(200.0, 0.0, 150.0, 244.0, 30.0)),
        ("lv1-plug-chain", level([200.0, -90.0, 60.0], [200.0, -85.0, 60.0], 4.0)),
    ];
    for (name, mesh) in cases {
        let mut car = example("pressure-car");
        add(&mut car, name, mesh);
        let draft = draft(&car, true);
        assert!(!comes_off(&draft, index(&car, name)), "{name}: {}", told(&draft));
    }
}

/// The word is the last of the name, and the shape speaks against it.
#[test]
fn what_does_not_look_like_its_name_is_asked_about() {
    let cases = [
        ("vv1-handle", "VV1", boxed([60.0, 185.0, 30.0], [90.0, 215.0, 240.0])),
        ("vv1-handwheel-2", "VV1", boxed([60.0, 190.0, 30.0], [80.0, 210.0, 70.0])),
        ("lv1-cap", "LV1", level([250.0, -80.0, 40.0], [250.0, 80.0, 40.0], 6.0)),
        ("prd-cap", "PRD", upright(0.0, 0.0, 235.5, 260.0, 40.0)),
    ];
    for (name, fitting, mesh) in cases {
        let mut car = example("pressure-car");
        add(&mut car, name, mesh);
        let draft = draft(&car, true);
        let about = format!("fitting \"{fitting}\", removables");
        let why = why(&draft, &about);
        assert!(!why.is_empty(), "{name}: {}", told(&draft));
        let pieces = draft.fittings.iter().flat_map(|f| &f.removables);
        let found = pieces.map(|r| &r.found).find(|f| f.body == index(&car, name)).unwrap();
        assert_eq!(found.reason.confidence, Confidence::Doubtful, "{name}");
    }
}

#[test]
fn names_and_shapes_that_agree_are_not_asked_about() {
    let draft = draft(&example("pressure-car"), true);
    let asked = draft.questions.iter().find(|q| q.about.ends_with("removables"));
    assert!(asked.is_none(), "{asked:?}");
    assert!(!asks(&draft, "frame") && !asks(&draft, "body"), "{}", told(&draft));
}

#[test]
fn a_bar_that_nothing_says_is_the_hinge_is_asked_about() {
    let bar = level([-398.0, -60.0, 322.0], [-398.0, 60.0, 322.0], 11.0);
    let rail = level([-398.0, -120.0, 300.0], [-398.0, 120.0, 300.0], 11.0);
    let pair = ["hinge-pin", "hinge-lugs"];
    // A rail alone; a latch's pin while a body is named for the hinge; one beside the true one.
    let mut alone = example("pressure-car");
    without(&mut alone, &pair);
    add(&mut alone, "grab-rail", rail);
    let mut latch = example("pressure-car");
    without(&mut latch, &pair);
    add(&mut latch, "latch-pin", bar.clone());
    add(&mut latch, "hinge", boxed([380.0, -40.0, 300.0], [410.0, 40.0, 340.0]));
    let mut both = example("pressure-car");
    add(&mut both, "latch-pin", bar.clone());
    for (what, car) in [("alone", &alone), ("latch", &latch)] {
        assert!(asks(&draft(car, true), "frame, toward-hinge"), "{what}");
    }
    assert!(asks(&draft(&both, false), "frame, toward-hinge"));
    // By its name it is no hinge's pin, and the true one is named.
    let told_apart = draft(&both, true);
    assert!(!asks(&told_apart, "frame, toward-hinge"), "{}", told(&told_apart));
    assert_eq!(told_apart.hinge[0].body, index(&both, "hinge-pin"));
    // A pin that is larger and of the other rank: still asked.
    without(&mut both, &["hinge-pin"]);
    assert!(asks(&draft(&both, false), "frame, toward-hinge"));
}

#[test]
fn the_bearing_that_is_given_wins_over_a_pin_that_is_found() {
    let car = example("pressure-car");
    for bearing in [0.0, 90.0, 200.0] {
        let hinge_at = Some(Angle::from_degrees(bearing));
        let settings = Settings { hinge_at, ..Settings::default() };
        let draft = survey(&bodies(&car, &Isometry3::identity(), &named), &settings).unwrap();
        let toward = draft.plate_from_mesh.inverse() * Vector3::x();
        let is = toward.y.atan2(toward.x).to_degrees().rem_euclid(360.0);
        assert!((is - bearing).abs() < 1e-6, "{is} for {bearing}");
        // Where the pin is not at that bearing it is not used, and that is asked about.
        assert_eq!(asks(&draft, "lid, hinge-at"), bearing > 0.0, "{}", told(&draft));
    }
}

#[test]
fn a_piece_that_is_named_for_none_of_the_fittings_is_asked_about() {
    let mut car = example("pressure-car");
    add(&mut car, "drain-plug", upright(120.0, 60.0, 0.0, 30.0, 14.0));
    assert!(asks(&draft(&car, true), "body \"drain-plug\""), "{}", told(&draft(&car, true)));
    // The well's plug within the relief device.
    let mut car = example("pressure-car");
    let shift = Vector3::new(166.1701, 166.1701, 0.0);
    for p in &mut mesh_of(&mut car, "tw-plug").vertices {
        *p += shift;
    }
    assert!(asks(&draft(&car, true), "body \"tw-plug\""), "{}", told(&draft(&car, true)));
}

#[test]
fn small_fittings_on_a_circle_are_no_studs_without_a_question() {
    // Wide ones are fittings; narrow ones may be studs, and it is asked.
    for (radius, is_fitting) in [(40.0, true), (12.0, false)] {
        let mut car = example("pressure-car");
        let all: Vec<String> = car.bodies.iter().map(|b| b.body.name.clone()).collect();
        let gone =
            all.iter().filter(|n| ["gd", "sv", "tw"].contains(&n.split('-').next().unwrap()));
        let gone: Vec<&str> = gone.map(String::as_str).collect();
        without(&mut car, &gone);
        let mut vents = Vec::new();
        for (i, degrees) in [45.0_f64, 135.0, 225.0, 315.0].into_iter().enumerate() {
            let (s, c) = degrees.to_radians().sin_cos();
            let mut mesh = upright(240.0 * c, 240.0 * s, 0.0, 15.0, radius);
            mesh.append(&upright(240.0 * c, 240.0 * s, 15.0, 80.0, 0.4 * radius));
            add(&mut car, &format!("vent-{i}"), mesh);
            vents.push(car.bodies.len() - 1);
        }
        for with_names in [true, false] {
            let draft = draft(&car, with_names);
            let of_fittings = draft.fittings.iter().flat_map(|f| &f.bodies);
            let count = of_fittings.filter(|b| vents.contains(&b.body)).count();
            assert_eq!(count, if is_fitting { 4 } else { 0 }, "{}", told(&draft));
            let sure = |f: &&survey::Found| f.reason.confidence != Confidence::Doubtful;
            let studs = draft.studs.iter().filter(sure).filter(|f| vents.contains(&f.body)).count();
            assert_eq!(studs, 0, "{}", told(&draft));
        }
    }
}

#[test]
fn studs_on_an_uneven_circle_are_asked_about() {
    let mut car = example("pressure-car");
    let mut mesh = Mesh::default();
    for i in 0..17 {
        let (s, c) = (18.0 * f64::from(i)).to_radians().sin_cos();
        mesh.append(&upright(392.0 * c, 392.0 * s, 0.0, 40.0, 12.0));
    }
    *mesh_of(&mut car, "housing-studs") = mesh;
    assert!(asks(&draft(&car, true), "body \"housing-studs\""));
}

#[test]
fn a_plate_on_both_sides_or_levels_of_which_bodies_stand_is_asked_about() {
    // Pipes and a nozzle under it.
    let mut car = example("pressure-car");
    let spots = [(0.0, 0.0), (200.0, 0.0), (-200.0, 0.0), (0.0, 200.0), (0.0, -222.0)];
    let more = [(166.0, 166.0), (-166.0, 166.0), (-166.0, -166.0), (120.0, -120.0), (60.0, 60.0)];
    let low = {
        let vertices = &mesh_of(&mut car, "plate").vertices;
        vertices.iter().map(|p| p.z).fold(f64::INFINITY, f64::min)
    };
    for (i, (x, y)) in spots.into_iter().chain(more).enumerate() {
        add(&mut car, &format!("pipe-{i}"), upright(x, y, -900.0, low, 20.0));
    }
    assert!(asks(&draft(&car, true), "body \"plate\""), "{}", told(&draft(&car, true)));
    // A pad under what stands inside the housing.
    let mut car = example("pressure-car");
    let pad = upright(0.0, 0.0, 0.0, 10.0, 330.0);
    mesh_of(&mut car, "plate").append(&pad);
    for body in &mut car.bodies {
        let of_fitting = ["prd", "lv1", "lv2", "vv1", "vv2", "sv", "tw", "gd"];
        if of_fitting.contains(&body.body.name.split('-').next().unwrap()) {
            for p in &mut body.body.mesh.vertices {
                p.z += 10.0;
            }
        }
    }
    assert!(asks(&draft(&car, true), "body \"plate\""), "{}", told(&draft(&car, true)));
}

#[test]
fn coordinates_too_large_are_told_as_such() {
    let mut car = example("pressure-car");
    for body in &mut car.bodies {
        for p in &mut body.body.mesh.vertices {
            p.x += 1e6;
        }
    }
    let bodies = bodies(&car, &Isometry3::identity(), &named);
    let unfound = survey(&bodies, &Settings::default()).unwrap_err();
    assert!(matches!(unfound, Unfound::TooFar { .. }), "{unfound}");
}

#[test]
fn a_rib_beside_a_port_is_asked_about_inside_as_well_as_outside() {
    let rib = |x: f64, way: f64| {
        let (a, b) = if way > 0.0 { (52.0, 75.0) } else { (-75.0, -52.0) };
        boxed([x, a, 30.0], [x + 20.0, b, 150.0])
    };
    let cases = [
        ("inside, on one side", vec![rib(325.0, 1.0)]),
        ("inside, on both", vec![rib(331.0, 1.0), rib(331.0, -1.0)]),
        ("outside, on one", vec![rib(360.0, -1.0)]),
    ];
    for (what, ribs) in cases {
        let mut car = example("pressure-car");
        let housing = mesh_of(&mut car, "housing");
        for rib in &ribs {
            housing.append(rib);
        }
        let draft = draft(&car, true);
        assert!(asks(&draft, "port \"P0\", wall"), "{what}: {}", told(&draft));
        assert!(!asks(&draft, "port \"P90\", wall"), "{what}: {}", told(&draft));
    }
}
