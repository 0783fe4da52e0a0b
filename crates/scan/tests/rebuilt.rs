//! Scans of a made-up car top whose truth is known to the micrometre: what is rebuilt from them must
//! never take for free what is filled.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

#[path = "made/beside.rs"]
mod beside;
mod made;

use beside::Beside;
use made::{Solid, fittings, round_wall, shots, straight_wall, within};
use nalgebra::Point3;
use scan::{Form, Kind, RebuildFault, Rebuilt, Settings, Shot, Thing, rebuild};
use solids::soundness;
use std::sync::OnceLock;

const NOISE: f64 = 0.3;
const SPACING: f64 = 2.0;

fn straight() -> &'static (Vec<Shot>, Rebuilt) {
    static MADE: OnceLock<(Vec<Shot>, Rebuilt)> = OnceLock::new();
    MADE.get_or_init(|| {
        let shots = shots(&[fittings(), straight_wall()].concat(), SPACING, NOISE, 1);
        let rebuilt = rebuild(&shots, NOISE, SPACING, &Settings::default()).unwrap();
        (shots, rebuilt)
    })
}

fn round() -> &'static (Vec<Shot>, Rebuilt) {
    static MADE: OnceLock<(Vec<Shot>, Rebuilt)> = OnceLock::new();
    MADE.get_or_init(|| {
        let shots = shots(&[fittings(), round_wall()].concat(), SPACING, NOISE, 2);
        let rebuilt = rebuild(&shots, NOISE, SPACING, &Settings::default()).unwrap();
        (shots, rebuilt)
    })
}

fn points_of<'a>(shots: &'a [Shot], thing: &'a Thing) -> impl Iterator<Item = Point3<f64>> + 'a {
    thing.points.iter().map(|p| shots[p.shot as usize].points[p.point as usize])
}

#[test]
fn every_body_is_closed() {
    for (_, rebuilt) in [straight(), round()] {
        for thing in &rebuilt.things {
            let unseen = thing.unseen.iter().map(|u| &u.mesh);
            for mesh in std::iter::once(&thing.seen.mesh).chain(unseen) {
                let found = soundness(mesh);
                assert!(found.is_closed(), "{} {found:?}", thing.name);
                assert!(solids::volume(mesh) > 0.0, "{} is inside out", thing.name);
            }
        }
    }
}

#[test]
fn nothing_unseen_reaches_below_the_plate() {
    for (_, rebuilt) in [straight(), round()] {
        for unseen in rebuilt.things.iter().flat_map(|t| &t.unseen) {
            assert!(unseen.mesh.vertices.iter().all(|p| p.z >= 0.0), "{}", unseen.name);
        }
    }
}

/// The law for which all this is there.
#[test]
fn whatever_is_filled_is_seen_or_unseen_and_never_free() {
    let scenes = [
        (straight(), [fittings(), straight_wall()].concat()),
        (round(), [fittings(), round_wall()].concat()),
    ];
    for ((_, rebuilt), solids) in scenes {
        let bodies: Vec<_> = rebuilt
            .things
            .iter()
            .flat_map(|t| std::iter::once(&t.seen).chain(&t.unseen))
            .map(|b| (b, Beside::new(&b.mesh)))
            .collect();
        let mut worst = 0.0_f64;
        let mut outside = 0;
        let samples = within(&solids, 6000, 7);
        for p in &samples {
            if bodies.iter().any(|(_, b)| b.winding(p) != 0) {
                continue;
            }
            outside += 1;
            let within = |(body, beside): &(&solids::Body, Beside)| {
                let bound = body.deviation.bound;
                (bound - beside.distance(p, bound), beside.distance(p, 30.0))
            };
            let (spare, off) = bodies
                .iter()
                .map(within)
                .fold((f64::NEG_INFINITY, f64::INFINITY), |a, b| (a.0.max(b.0), a.1.min(b.1)));
            assert!(spare >= 0.0, "{p} is filled, yet {off} mm from everything seen or unseen");
            worst = worst.max(off);
        }
        // Most of what is filled lies within, and the rest just at a face.
        assert!(outside * 10 < samples.len(), "{outside} of {}", samples.len());
        assert!(worst < 4.0, "{worst}");
    }
}

/// A lone point in the air may be the only one that hit something thin: rays that pass it free nothing there.
#[test]
fn what_a_lone_point_was_on_is_not_free() {
    let (shots, rebuilt) = straight();
    let winds = |rebuilt: &Rebuilt, p: &Point3<f64>| {
        let unseen = rebuilt.things.iter().flat_map(|t| &t.unseen);
        unseen
            .chain(rebuilt.things.iter().map(|t| &t.seen))
            .any(|b| Beside::new(&b.mesh).winding(p) != 0)
    };
    let far = |p: &Point3<f64>| {
        rebuilt
            .things
            .iter()
            .flat_map(|t| std::iter::once(&t.seen).chain(&t.unseen))
            .all(|b| Beside::new(&b.mesh).distance(p, 30.0) >= 30.0)
    };
    let shot = &shots[0];
    let eye = shot.seen_from.unwrap();
    let on_the_way = |p: &Point3<f64>| p + 0.1 * (eye - p);
    let free = shot.points.iter().step_by(997).map(on_the_way).find(|p| {
        let [low, high] = rebuilt.region;
        let inside = (0..3).all(|a| low[a] + 20.0 < p[a] && p[a] < high[a] - 20.0);
        inside && !winds(rebuilt, p) && far(p)
    });
    let free = free.expect("some of what is seen through is far from everything");
    let mut shots = shots.clone();
    shots[0].astray.push(free);
    let again = rebuild(&shots, NOISE, SPACING, &Settings::default()).unwrap();
    assert!(winds(&again, &free), "{free} was seen to be something, and is free");
}

#[test]
fn what_is_in_plain_view_is_free() {
    let (_, rebuilt) = straight();
    let bodies: Vec<_> = rebuilt
        .things
        .iter()
        .flat_map(|t| std::iter::once(&t.seen).chain(&t.unseen))
        .map(|b| (&b.name, Beside::new(&b.mesh)))
        .collect();
    let free = |p: Point3<f64>| bodies.iter().all(|(_, b)| b.winding(&p) == 0);
    // Above it all in the middle, where every ray to the plate passes.
    for n in 0..200 {
        let at = f64::from(n);
        let p = Point3::new(60.0 * (at * 0.7).sin(), 60.0 * (at * 1.3).cos(), 250.0 + 0.3 * at);
        assert!(free(p), "{p}");
    }
    // 4 mm before faces in full view: bare plate, a handwheel, a cap.
    assert!(free(Point3::new(0.1, -120.3, 4.0)));
    assert!(free(Point3::new(140.1, 20.3, 248.0)));
    assert!(free(Point3::new(-120.1, 90.3, 224.0)));
}

#[test]
fn no_point_is_farther_from_its_body_than_the_deviation() {
    for (shots, rebuilt) in [straight(), round()] {
        for thing in rebuilt.things.iter().filter(|t| t.kind != Kind::Plate) {
            let beside = Beside::new(&thing.seen.mesh);
            let bound = thing.seen.deviation.bound;
            let behind: Vec<_> = thing.unseen.iter().map(|u| (u, Beside::new(&u.mesh))).collect();
            for p in points_of(shots, thing).step_by(17) {
                let off = beside.distance(&p, bound + 1.0);
                let of_unseen = || {
                    let within = |(u, beside): &(&solids::Body, Beside)| {
                        let bound = u.deviation.bound;
                        beside.winding(&p) != 0 || beside.distance(&p, bound + 1.0) <= bound
                    };
                    behind.iter().any(within)
                };
                assert!(off <= bound + 1e-3 || of_unseen(), "{} {p} {off} {bound}", thing.name);
            }
            assert!(bound < 5.0, "{} {bound}", thing.name);
        }
        let plate = &rebuilt.things[0];
        assert_eq!((plate.kind, plate.name.as_str()), (Kind::Plate, "plate"));
        // 0.3 mm of noise, averaged, on a plate that is flat.
        assert!(plate.seen.deviation.bound < 0.35, "{}", plate.seen.deviation.bound);
    }
}

/// The surface that was seen is the true one: most points of the true faces in full view are within
/// the noise of the body.
#[test]
fn a_seen_face_is_where_the_true_one_is() {
    let (_, rebuilt) = straight();
    let wheel = rebuilt.things.iter().find(|t| t.high.z > 235.0 && t.kind == Kind::Inside).unwrap();
    let beside = Beside::new(&wheel.seen.mesh);
    let mut offs = Vec::new();
    for n in 0..400 {
        let (r, a) = (10.0 + f64::from(n % 20) * 2.5, f64::from(n) * 0.77);
        let p = Point3::new(130.0 + r * a.cos(), r * a.sin(), 244.0);
        offs.push(beside.distance(&p, 5.0));
    }
    offs.sort_by(f64::total_cmp);
    assert!(offs[380] < 0.3, "{}", offs[380]);
}

#[test]
fn things_are_told_apart_and_a_handwheel_belongs_to_its_stem() {
    for (_, rebuilt) in [straight(), round()] {
        let inside: Vec<&Thing> =
            rebuilt.things.iter().filter(|t| t.kind == Kind::Inside).collect();
        let about = |x: f64, y: f64| {
            inside
                .iter()
                .filter(move |t| t.low.x < x && t.high.x > x && t.low.y < y && t.high.y > y)
        };
        for (x, y, top) in [(130.0, 0.0, 244.0), (-120.0, 90.0, 220.0), (0.0, -240.0, 34.0)] {
            let here: Vec<_> = about(x, y).collect();
            assert_eq!(here.len(), 1, "{x} {y}");
            assert!((here[0].high.z - top).abs() < 1.5, "{}", here[0].high.z);
        }
        assert_eq!(inside.len(), 3, "{:?}", inside.iter().map(|t| &t.name).collect::<Vec<_>>());
        assert!(rebuilt.things.iter().any(|t| t.kind == Kind::Wall && t.name == "wall"));
    }
}

#[test]
fn the_wall_and_its_opening_are_measured() {
    let wall = straight().1.wall.as_ref().unwrap();
    assert!(wall.axis.coords.norm() < 0.2, "{}", wall.axis);
    let Form::Straight { sides } = &wall.form else { panic!("{:?}", wall.form) };
    for (bearing, off) in sides {
        let true_off = if bearing.cos().abs() > 0.7 { 350.0 } else { 320.0 };
        assert!((off - true_off).abs() < 0.2, "{bearing} {off}");
    }
    assert_eq!(wall.openings.len(), 1, "{:?}", wall.openings);
    let opening = &wall.openings[0];
    assert!((opening.width - 100.0).abs() < opening.deviation, "{opening:?}");
    assert!((opening.height - 90.0).abs() < opening.deviation, "{opening:?}");
    assert!((opening.sill - 45.0).abs() < opening.deviation && opening.deviation < 5.0);
    assert!((opening.middle.x).abs() < 1.5 && (opening.middle.y - 320.0).abs() < 0.5);
    assert!((opening.facing.to_degrees() - 90.0).abs() < 0.5);
    assert!(opening.seen_through);
    assert!((opening.thickness.unwrap() - 10.0).abs() < 0.5);

    let wall = round().1.wall.as_ref().unwrap();
    let Form::Round { radius } = wall.form else { panic!("{:?}", wall.form) };
    assert!(wall.axis.coords.norm() < 0.2 && (radius - 330.0).abs() < 0.2);
    let opening = &wall.openings[0];
    assert_eq!(wall.openings.len(), 1, "{:?}", wall.openings);
    assert!((opening.width - 110.0).abs() < opening.deviation, "{opening:?}");
    assert!((opening.height - 80.0).abs() < opening.deviation);
    assert!((opening.facing.to_degrees() - 200.0).abs() < 0.5, "{}", opening.facing.to_degrees());
}

#[test]
fn nothing_depends_on_the_number_of_threads() {
    let solids = [fittings(), round_wall()].concat();
    let shots = shots(&solids, 5.0, NOISE, 3);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| rebuild(&shots, NOISE, 5.0, &Settings::default()).unwrap())
    };
    assert!(with(1) == with(3));
}

#[test]
fn a_shot_from_nowhere_frees_nothing() {
    let mut shots = shots(&[fittings(), round_wall()].concat(), 5.0, NOISE, 4);
    for shot in &mut shots {
        shot.seen_from = None;
    }
    let rebuilt = rebuild(&shots, NOISE, 5.0, &Settings::default()).unwrap();
    assert!(rebuilt.shares[0] < 1e-3, "{:?}", rebuilt.shares);
    assert!(rebuilt.notes.iter().any(|n| n.contains("frees no space")));
}

#[test]
fn bad_input_is_a_fault_with_a_remedy_and_never_a_panic() {
    let settings = Settings::default();
    let of = |points: Vec<Point3<f64>>| {
        vec![Shot {
            name: "s".into(),
            points,
            seen_from: Some(Point3::new(0.0, 0.0, 1000.0)),
            ..Shot::default()
        }]
    };
    let fault = |shots: &[Shot]| rebuild(shots, 0.3, 1.5, &settings).unwrap_err();
    assert_eq!(fault(&[]), RebuildFault::NoPoints);
    assert_eq!(fault(&of(vec![Point3::new(f64::NAN, 0.0, 0.0); 9])), RebuildFault::NoPoints);
    assert!(matches!(
        fault(&of(vec![Point3::new(1e300, -1e300, 5.0); 9])),
        RebuildFault::NoPlate(0, _)
    ));
    let some = of(vec![Point3::origin(); 500]);
    assert!(matches!(rebuild(&some, f64::NAN, 1.0, &settings), Err(RebuildFault::NotALength(..))));
    assert!(matches!(rebuild(&some, 0.3, 0.0, &settings), Err(RebuildFault::NotALength(..))));
    // All in one place, in a row, on a plane without anything, and with an eye in the midst of it.
    let row = (0..3000).map(|n| Point3::new(f64::from(n) * 0.5, 0.0, 0.0)).collect();
    let flat: Vec<_> = (0..40_000)
        .map(|n| Point3::new(f64::from(n % 200) * 1.5, f64::from(n / 200) * 1.5, 0.0))
        .collect();
    let mut far = flat.clone();
    far.extend([Point3::new(1e12, 0.0, 0.0), Point3::new(0.0, f64::INFINITY, 3.0)]);
    for points in [vec![Point3::origin(); 500], row, flat.clone(), far] {
        match rebuild(&of(points), 0.3, 1.5, &settings) {
            Ok(rebuilt) => assert_eq!(rebuilt.things[0].kind, Kind::Plate),
            Err(fault) => assert!(fault.to_string().contains(':'), "{fault}"),
        }
    }
    let mut inside = of(flat);
    for eye in [Point3::new(30.0, 30.0, 0.0), Point3::new(f64::NAN, 0.0, 0.0)] {
        inside[0].seen_from = Some(eye);
        rebuild(&inside, 0.3, 1.5, &settings).unwrap();
    }
    // A grid that would be too large is made of larger cells, and says so.
    let small = Settings { cells: 50_000, ..settings };
    let rebuilt = rebuild(
        &shots(&[Solid::Cylinder { x: 0.0, y: 0.0, r: 50.0, low: 0.0, high: 90.0 }], 6.0, 0.3, 5),
        0.3,
        6.0,
        &small,
    )
    .unwrap();
    assert!(rebuilt.voxel > 9.0 && rebuilt.notes.iter().any(|n| n.contains("cells are")));
}
