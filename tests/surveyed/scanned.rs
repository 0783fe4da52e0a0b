//! Scans of the examples' exact meshes: rays from three places, what they meet first, with scatter.
//! The truth is the script's that made the examples; the rays are followed by `gap`, which drafts of
//! scans do not use.

use crate::chance::Chance;
use crate::example;
use assembly::CarTop;
use assembly::car_top::LidState;
use gap::{Solid, ray_hits};
use measure::{Angle, LengthUnit};
use nalgebra::{Isometry3, Point2, Point3, Translation3, UnitQuaternion, Vector3};
use scan::{Given, Prepared, ScanUnit, Shot, prepare, rebuild};
use solids::Mesh;
use std::f64::consts::TAU;
use std::fmt::Write as _;
use survey::scanned::{Place, Scanned, ScannedOpening, Thing, survey_scan};
use survey::{Confidence, Draft, Reason, Settings};

/// A thing of the truth: its name, where it is, and what of the joined mesh is its.
struct True {
    name: String,
    place: Place,
}

/// The car top as one mesh, the thing of each triangle, and the things.
fn joined(car: &CarTop) -> (Mesh, Vec<usize>, Vec<True>) {
    let (mut mesh, mut of, mut things) = (Mesh::default(), Vec::new(), Vec::new());
    let add = |bodies: &[usize],
               name: &str,
               place,
               mesh: &mut Mesh,
               of: &mut Vec<usize>,
               things: &mut Vec<True>| {
        for body in bodies {
            mesh.append(&car.bodies[*body].body.mesh);
            of.resize(mesh.triangles.len(), things.len());
        }
        things.push(True { name: name.to_owned(), place });
    };
    add(&[car.plate.0], "plate", Place::Plate, &mut mesh, &mut of, &mut things);
    let mut wall: Vec<usize> = car.housing.iter().map(|id| id.0).collect();
    wall.extend(car.ports.iter().filter_map(|p| p.cover).map(|id| id.0));
    add(&wall, "wall", Place::Wall, &mut mesh, &mut of, &mut things);
    if let LidState::Hinged(lid) = &car.lid {
        // It is scanned open.
        let turn =
            UnitQuaternion::from_axis_angle(&lid.axis, lid.stop.radians() - lid.drawn_at.radians());
        let about = lid.axis_point.coords;
        let open = Translation3::from(about) * turn * Translation3::from(-about);
        mesh.append(&car.bodies[lid.body.0].body.mesh.transformed(&open));
        of.resize(mesh.triangles.len(), things.len());
        things.push(True { name: "above 1".into(), place: Place::Above });
    }
    for (i, id) in car.hinge.iter().flatten().enumerate() {
        add(&[id.0], &format!("above {}", i + 2), Place::Above, &mut mesh, &mut of, &mut things);
    }
    for (i, fitting) in car.fittings.iter().enumerate() {
        let mut bodies: Vec<usize> = fitting.bodies.iter().map(|id| id.0).collect();
        bodies.extend(fitting.removables.iter().map(|r| r.body.0));
        add(&bodies, &format!("standing {i}"), Place::Standing, &mut mesh, &mut of, &mut things);
    }
    for id in car.studs.iter().flatten() {
        let body = &car.bodies[id.0].body.mesh;
        let shells = solids::shells(body);
        let before = mesh.triangles.len();
        mesh.append(body);
        for triangle in &body.triangles {
            let shell = shells.iter().position(|s| s.contains(&(triangle[0] as usize))).unwrap();
            of.push(things.len() + shell);
        }
        assert_eq!(of.len(), before + body.triangles.len());
        things.extend(
            (0..shells.len()).map(|i| True { name: format!("stud {i}"), place: Place::Standing }),
        );
    }
    (mesh, of, things)
}

/// Normal scatter of one standard deviation (Box and Muller 1958).
fn scatter(chance: &mut Chance) -> f64 {
    (-2.0 * chance.between(1e-300, 1.0).ln()).sqrt() * (TAU * chance.between(0.0, 1.0)).cos()
}

const NOISE: f64 = 0.3;

/// Points with the thing of each, one list a place; the things; the places.
type Views = (Vec<Vec<(Point3<f64>, usize)>>, Vec<True>, Vec<Point3<f64>>);

/// What is seen, with the thing of each point: one list a place.
fn seen(car: &CarTop, rays: usize, seed: u64) -> Views {
    let (mesh, of, things) = joined(car);
    let solid = Solid::new(&mesh);
    let mut chance = Chance::new(seed);
    let eyes: Vec<Point3<f64>> = (0..3)
        .map(|i| {
            let turn = chance.between(-0.3, 0.3) + f64::from(i) * TAU / 3.0 + 0.5;
            Point3::new(600.0 * turn.cos(), 600.0 * turn.sin(), 1200.0)
        })
        .collect();
    let all = eyes
        .iter()
        .map(|eye| {
            (0..rays)
                .filter_map(|_| {
                    let [x, y] = [(); 2].map(|()| chance.between(-420.0, 420.0));
                    let way = (Point3::new(x, y, 80.0) - eye).normalize();
                    let hits = ray_hits(&solid, eye, &way).ok()?;
                    let hit = hits.first()?;
                    let noise = NOISE * scatter(&mut chance);
                    Some((eye + way * (hit.distance + noise), of[hit.triangle as usize]))
                })
                .collect()
        })
        .collect();
    (all, things, eyes)
}

/// Views in a frame of their own, made ready; the pose of the truth in what came of it.
fn made_ready(views: &Views, seed: u64) -> (Prepared, Isometry3<f64>) {
    let (seen, _, eyes) = views;
    let mut chance = Chance::new(seed ^ 0xABCD);
    let mut side = |far: f64| Vector3::from([(); 3].map(|()| chance.between(-far, far)));
    let scan_from_truth =
        Isometry3::from_parts(Translation3::from(side(1500.0)), UnitQuaternion::new(side(2.0)));
    let given: Vec<Given> = seen
        .iter()
        .zip(eyes)
        .enumerate()
        .map(|(i, (points, eye))| Given {
            shot: Shot {
                name: format!("place {}", i + 1),
                points: points.iter().map(|(p, _)| scan_from_truth * p).collect(),
                seen_from: Some(scan_from_truth * eye),
                ..Shot::default()
            },
            unit: Some(ScanUnit::Millimetre),
            start: None,
        })
        .collect();
    let ready = prepare(&given, LengthUnit::Millimetre).unwrap();
    let here_from_truth = ready.plate.plate_from_scan * scan_from_truth;
    // What the plate's plane is off at its edge.
    let radius = 250.0;
    for i in 0..36 {
        let turn = f64::from(i) / 36.0 * TAU;
        let p = here_from_truth * Point3::new(radius * turn.cos(), radius * turn.sin(), 0.0);
        assert!(p.z.abs() < 0.1, "seed {seed}: the plane is {:.3} mm off: {:#?}", p.z, ready.plate);
    }
    (ready, here_from_truth)
}

/// A scan of an example whose things are told apart by the truth, with the pose of the truth in it.
fn scanned(car: &CarTop, seed: u64) -> (Scanned, Isometry3<f64>) {
    let views = seen(car, 150_000, seed);
    let (ready, here_from_truth) = made_ready(&views, seed);
    let (seen, things, _) = views;
    let mut chance = Chance::new(seed ^ 0x1234);
    let mut list: Vec<Thing> = things
        .into_iter()
        .map(|t| Thing {
            name: t.name,
            place: t.place,
            points: Vec::new(),
            low: Point3::origin(),
            high: Point3::origin(),
            doubt: None,
        })
        .collect();
    for (p, thing) in seen.iter().flatten() {
        let p = here_from_truth * p;
        // What lies on the plate within the scatter is the plate's.
        if *thing == 0 || p.z > 4.0 * NOISE {
            list[*thing].points.push(p);
        }
    }
    list.retain(|t| t.points.len() >= 10);
    for thing in &mut list {
        let first = thing.points[0];
        (thing.low, thing.high) =
            thing.points.iter().fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
        if thing.place == Place::Standing {
            // A body of it goes down to the plate.
            thing.low.z = 0.0;
        }
    }
    let mut jitter = |far: f64| chance.between(-far, far);
    let openings = car
        .ports
        .iter()
        .map(|port| {
            let out = Vector3::new(port.facing.radians().cos(), port.facing.radians().sin(), 0.0);
            let left = Vector3::new(-out.y, out.x, 0.0);
            let at = Point3::new(port.at.x, port.at.y, 0.0) - out * (0.5 * port.wall)
                + left * jitter(4.0);
            ScannedOpening {
                at: (here_from_truth * at).xy(),
                width: port.width + jitter(8.0),
                height: port.height + jitter(8.0),
                sill: port.sill + jitter(4.0),
                seen_through: port.cover.is_none(),
                closed: true,
                wall: Some(port.wall),
                wander: 0.0,
            }
        })
        .collect();
    let reason = |j: &scan::Judged| Reason {
        confidence: match j.confidence {
            scan::Confidence::Doubtful => Confidence::Doubtful,
            scan::Confidence::Likely => Confidence::Likely,
            scan::Confidence::Sure => Confidence::Sure,
        },
        because: j.because.clone(),
    };
    let scanned = Scanned {
        things: list,
        openings,
        sigma: ready.sigma,
        spacing: ready.spacing,
        deviation: ready.deviation,
        plate: [reason(&ready.plate.plane), reason(&ready.plate.up)],
        area: ready.plate.area,
        doubts: Vec::new(),
    };
    (scanned, here_from_truth)
}

fn told(draft: &Draft) -> String {
    crate::truth::told(draft)
}

/// Drafts, answering where the hinge stands, and holds it against the truth. `mesh` is how far the
/// example's own mesh is from the figures of its document, mm.
fn hold(name: &str, seed: u64, mesh: f64) -> String {
    let car = example(name);
    let (scanned, here_from_truth) = scanned(&car, seed);
    let draft = survey_scan(&scanned, &Settings::default()).unwrap();
    assert!(draft.questions.iter().any(|q| q.about == "frame, toward-hinge"));
    let x = draft.plate_from_mesh * (here_from_truth * Vector3::x());
    let hinge_at = Some(Angle::from_radians(x.y.atan2(x.x)));
    let draft = survey_scan(&scanned, &Settings { hinge_at, ..Settings::default() }).unwrap();
    let asked = |about: &str| draft.questions.iter().any(|q| q.about.starts_with(about));
    assert!(!asked("frame, toward-hinge"));

    let off = draft.plate_from_mesh * here_from_truth;
    let origin = off.translation.vector.xy().norm();
    let mut line = format!("{name}, seed {seed}: axis off {origin:.3} mm");
    assert!(origin < 0.5 && !asked("frame, origin"), "{line}\n{}", told(&draft));
    let body_of = |thing: &str| scanned.things.iter().position(|t| t.name == thing);
    for (i, fitting) in car.fittings.iter().enumerate() {
        let body = body_of(&format!("standing {i}")).unwrap();
        let found = draft.fittings.iter().find(|f| f.bodies.iter().any(|b| b.body == body));
        let found = found.unwrap_or_else(|| panic!("{} is lost\n{}", fitting.name, told(&draft)));
        let centre = (found.centre
            - (off * Point3::new(fitting.centre.x, fitting.centre.y, 0.0)).xy())
        .norm();
        let flange = found.flange - fitting.flange;
        let about = format!("fitting \"{}\", centre and flange", found.name);
        let word = if asked(&about) { " asked" } else { "" };
        write!(line, "; {} {centre:.2} {flange:.2}{word}", fitting.name).unwrap();
        if !asked(&about) {
            assert!(centre < 0.5 + mesh, "{line}\n{}", told(&draft));
            let neck = format!("fitting \"{}\", flange", found.name);
            assert!(flange.abs() < 1.0 + 2.0 * mesh || asked(&neck), "{line}\n{}", told(&draft));
        }
        let size = format!("fitting \"{}\", size", found.name);
        assert!(found.size == fitting.size || asked(&size), "{} {}", fitting.name, found.size);
        for what in ["kind", "removables"] {
            assert!(asked(&format!("fitting \"{}\", {what}", found.name)), "{}", told(&draft));
        }
    }
    assert_eq!(draft.fittings.len(), car.fittings.len(), "{}", told(&draft));
    for port in &car.ports {
        let true_at = (off * Point3::new(port.at.x, port.at.y, 0.0)).xy();
        let near = draft.ports.iter().find(|p| (p.at - true_at).norm() < 20.0);
        if let Some(found) = near {
            let tape = format!("port \"{}\", width, height, sill and wall", found.name);
            assert!(asked(&tape));
            let wrong = [
                (found.at - true_at).norm(),
                (found.width - port.width).abs(),
                (found.height - port.height).abs(),
                (found.sill - port.sill).abs(),
            ];
            let most = wrong.iter().copied().fold(0.0, f64::max);
            write!(line, "; {} {most:.1}", port.name).unwrap();
            assert!(most < found.deviation + 2.0 * mesh, "{line} {wrong:?} {found:?}");
            let turned = (found.facing.radians() - port.facing.radians()).sin().abs();
            assert!(turned * 0.5 * port.width < 1.0, "{line}");
        } else {
            let bearing = true_at.y.atan2(true_at.x).to_degrees().rem_euclid(360.0);
            let of = |q: &survey::Question| {
                q.about.starts_with("opening")
                    && q.at.is_some_and(|p: Point2<f64>| (p - true_at).norm() < 30.0)
            };
            assert!(
                draft.questions.iter().any(of),
                "{} at {bearing:.0}\n{}",
                port.name,
                told(&draft)
            );
            write!(line, "; {} asked", port.name).unwrap();
        }
    }
    // Every stud is one, or asked about; and nothing else is a stud without a question.
    for (i, thing) in scanned.things.iter().enumerate() {
        let taken = draft.studs.iter().find(|f| f.body == i);
        let stud = thing.name.starts_with("stud");
        let doubt = taken.is_some_and(|f| f.reason.confidence == Confidence::Doubtful);
        assert!(stud || taken.is_none() || doubt, "{} is no stud\n{}", thing.name, told(&draft));
        let lost = stud && taken.is_none() && !asked(&format!("body \"{}\"", thing.name));
        assert!(!lost, "{}\n{}", thing.name, told(&draft));
    }
    write!(line, "; {} studs, {} questions", draft.studs.len(), draft.questions.len()).unwrap();
    line
}

/// From points alone to a draft, with nothing told apart beforehand: every fitting and port is found,
/// rightly, or something about its place is asked.
fn rebuilt(name: &str, rays: usize, seed: u64, mesh: f64) -> String {
    let car = example(name);
    let (ready, here_from_truth) = made_ready(&seen(&car, rays, seed), seed);
    let rebuilt =
        rebuild(&ready.shots, ready.sigma, ready.spacing, &scan::Settings::default()).unwrap();
    let scanned = Scanned::of(&ready, &rebuilt);
    assert_eq!(scanned.things.len(), rebuilt.things.len());
    let draft = survey_scan(&scanned, &Settings::default()).unwrap();
    let x = draft.plate_from_mesh * (here_from_truth * Vector3::x());
    let hinge_at = Some(Angle::from_radians(x.y.atan2(x.x)));
    let draft = survey_scan(&scanned, &Settings { hinge_at, ..Settings::default() }).unwrap();
    let off = draft.plate_from_mesh * here_from_truth;
    let origin = off.translation.vector.xy().norm();
    let mut line = format!("{name}, seed {seed}, rebuilt: axis off {origin:.3} mm");
    assert!(origin < 0.5, "{line}\n{}", told(&draft));
    let asked_near = |p: &Point2<f64>, within: f64, about: &str| {
        let near = |q: &survey::Question| q.at.is_some_and(|at| (at - p).norm() < within);
        draft.questions.iter().any(|q| near(q) && q.about.contains(about))
    };
    for fitting in &car.fittings {
        let centre = (off * Point3::new(fitting.centre.x, fitting.centre.y, 0.0)).xy();
        let far = |f: &&survey::Fitting| (f.centre - centre).norm();
        let nearest = draft.fittings.iter().min_by(|a, b| far(a).total_cmp(&far(b)));
        let found = nearest.filter(|f| far(f) < 1.0 + mesh);
        if let Some(found) = found {
            let wrong = found.flange - fitting.flange;
            write!(line, "; {} {:.2} {wrong:.2}", fitting.name, far(&found)).unwrap();
            let about = format!("fitting \"{}\"", found.name);
            assert!(
                wrong.abs() < 1.0 + 2.0 * mesh || asked_near(&centre, 60.0, &about),
                "{line}\n{}",
                told(&draft)
            );
        } else {
            let place = nearest.map(|f| (&f.name, far(&f), f.flange, &f.place_reason));
            write!(line, "; {} asked, {place:?}", fitting.name).unwrap();
            let asked = asked_near(&centre, 100.0, "centre") || asked_near(&centre, 120.0, "body");
            assert!(asked, "{line}\n{}", told(&draft));
        }
    }
    for port in &car.ports {
        let true_at = (off * Point3::new(port.at.x, port.at.y, 0.0)).xy();
        let near = draft.ports.iter().find(|p| (p.at - true_at).norm() < 20.0);
        if let Some(found) = near {
            let wrong =
                [found.width - port.width, found.height - port.height, found.sill - port.sill];
            write!(line, "; {} {:.1} {wrong:.1?}", port.name, (found.at - true_at).norm()).unwrap();
            let tape = format!("port \"{}\", width, height, sill and wall", found.name);
            assert!(draft.questions.iter().any(|q| q.about == tape), "{line}");
        } else {
            let asked = asked_near(&true_at, 40.0, "opening")
                || draft.questions.iter().any(|q| q.about == "ports");
            assert!(asked, "{} at {true_at}: {line}\n{}", port.name, told(&draft));
            write!(line, "; {} asked", port.name).unwrap();
        }
    }
    write!(
        line,
        "; {} things, {} fittings, {} studs, {} questions",
        scanned.things.len(),
        draft.fittings.len(),
        draft.studs.len(),
        draft.questions.len()
    )
    .unwrap();
    line
}

#[test]
fn scans_without_anything_told_apart_are_found_or_asked_about() {
    println!("{}", rebuilt("odd-housing", 200_000, 0, 2.5));
    println!("{}", rebuilt("pressure-car", 200_000, 1, 0.1));
}

#[test]
fn scans_of_the_examples_are_found_or_asked_about() {
    for seed in 0..2 {
        println!("{}", hold("pressure-car", seed, 0.1));
        println!("{}", hold("odd-housing", seed, 2.5));
    }
}
