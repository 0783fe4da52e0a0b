//! The first example changed: each change is made to the truth too, and the draft held against it.

use super::chance::Chance;
use super::truth::{Compared, bodies, compare, drafted, told};
use super::{example, named, nameless, pose};
use assembly::CarTop;
use assembly::car_top::{BodyId, CarBody, LidState};
use assembly::kit::PartKind;
use measure::Angle;
use nalgebra::{Isometry3, Point2, Point3, Rotation3, Vector3};
use solids::build::{ChordError, block, cylinder, extrude};
use solids::{Body, Deviation, Mesh, shells};
use survey::Draft;

/// Drafts a car top, named or not, in any frame.
fn draft_of(car: &CarTop, with_names: bool) -> (Draft, Compared) {
    draft_within(car, with_names, 0.1)
}

fn draft_within(car: &CarTop, with_names: bool, most: f64) -> (Draft, Compared) {
    let pose = pose(&mut Chance::new(77));
    let names: &dyn Fn(usize, &str) -> String = if with_names { &named } else { &nameless };
    let draft = drafted(&bodies(car, &pose, names), &pose).unwrap();
    let compared = compare(car, &draft, &pose, most);
    (draft, compared)
}

fn right(what: &str, (draft, compared): &(Draft, Compared)) {
    assert!(compared.wrong.is_empty(), "{what}: {:#?}\n{}", compared.wrong, told(draft));
}

fn asks(draft: &Draft, about: &str) -> bool {
    draft.questions.iter().any(|q| q.about.starts_with(about))
}

fn find(car: &CarTop, name: &str) -> BodyId {
    BodyId(car.bodies.iter().position(|b| b.body.name == name).unwrap())
}

fn add(car: &mut CarTop, kind: PartKind, name: &str, mesh: Mesh) -> BodyId {
    let deviation = Deviation { bound: 0.05, basis: "made for the test".into() };
    car.bodies.push(CarBody {
        kind,
        body: Body { name: name.into(), mesh, deviation },
        unseen: false,
    });
    BodyId(car.bodies.len() - 1)
}

/// Takes a body out of the truth; ids beyond it move down.
fn without(car: &CarTop, gone: BodyId) -> CarTop {
    let mut car = car.clone();
    car.bodies.remove(gone.0);
    let down = |id: &mut BodyId| {
        if id.0 > gone.0 {
            id.0 -= 1;
        }
    };
    let all = |ids: &mut Vec<BodyId>| {
        ids.retain(|id| *id != gone);
        ids.iter_mut().for_each(down);
    };
    down(&mut car.plate);
    all(&mut car.housing);
    for port in &mut car.ports {
        port.cover = port.cover.filter(|c| *c != gone);
        port.cover.iter_mut().for_each(down);
    }
    match &mut car.lid {
        LidState::Hinged(lid) if lid.body == gone => car.lid = LidState::None,
        LidState::Hinged(lid) => down(&mut lid.body),
        _ => {}
    }
    car.hinge.iter_mut().for_each(all);
    car.studs.iter_mut().for_each(all);
    for fitting in &mut car.fittings {
        all(&mut fitting.bodies);
        fitting.removables.retain(|r| r.body != gone);
        fitting.removables.iter_mut().for_each(|r| down(&mut r.body));
    }
    car
}

/// The shells of a mesh as meshes of their own.
fn apart(mesh: &Mesh) -> Vec<Mesh> {
    shells(mesh)
        .into_iter()
        .map(|shell| {
            let at = |v: u32| shell.binary_search(&(v as usize)).ok();
            let number = |v: u32| at(v).map(|i| u32::try_from(i).unwrap());
            let triangles = mesh
                .triangles
                .iter()
                .filter_map(|[a, b, c]| Some([number(*a)?, number(*b)?, number(*c)?]));
            Mesh {
                vertices: shell.iter().map(|v| mesh.vertices[*v]).collect(),
                triangles: triangles.collect(),
            }
        })
        .collect()
}

#[test]
fn a_lid_drawn_open_is_found_with_its_opening() {
    let closed = example("pressure-car");
    for degrees in [1.0, 12.0, 90.0, 115.0] {
        let mut car = closed.clone();
        let LidState::Hinged(lid) = &mut car.lid else { panic!("no lid") };
        lid.drawn_at = Angle::from_degrees(degrees);
        let turn = Rotation3::from_axis_angle(&lid.axis, degrees.to_radians());
        let (point, body) = (lid.axis_point, lid.body);
        for p in &mut car.bodies[body.0].body.mesh.vertices {
            *p = point + turn * (*p - point);
        }
        for with_names in [true, false] {
            let found = draft_of(&car, with_names);
            right(&format!("{degrees} deg"), &found);
            let lid = found.0.lid.as_ref().unwrap();
            assert!((lid.drawn_at.degrees() - degrees).abs() < 0.01, "{:?}", lid.drawn_at);
        }
    }
}

#[test]
fn without_a_lid_or_a_hinge_it_is_asked() {
    let car = example("pressure-car");
    let no_lid = without(&car, find(&car, "lid"));
    for with_names in [true, false] {
        let found = draft_of(&no_lid, with_names);
        right("no lid", &found);
        assert!(found.0.lid.is_none() && asks(&found.0, "lid"));
    }
    let mut bare = without(&no_lid, find(&no_lid, "hinge-pin"));
    bare = without(&bare, find(&bare, "hinge-lugs"));
    let pose = Isometry3::identity();
    let draft = drafted(&bodies(&bare, &pose, &nameless), &pose).unwrap();
    assert!(draft.hinge.is_empty());
    let undirected = survey::survey(&bodies(&bare, &pose, &nameless), &survey::Settings::default());
    assert!(asks(&undirected.unwrap(), "frame, toward-hinge"));
}

#[test]
fn a_pin_that_is_one_body_with_its_lugs_is_found() {
    let mut car = example("pressure-car");
    let (pin, lugs) = (find(&car, "hinge-pin"), find(&car, "hinge-lugs"));
    let mesh = car.bodies[pin.0].body.mesh.clone();
    car.bodies[lugs.0].body.mesh.append(&mesh);
    let car = without(&car, pin);
    right("pin and lugs", &draft_of(&car, false));
}

#[test]
fn studs_that_are_bodies_of_their_own_are_found() {
    let mut car = example("pressure-car");
    for name in ["manway-studs", "housing-studs"] {
        let studs = find(&car, name);
        let all = apart(&car.bodies[studs.0].body.mesh);
        assert_eq!(all.len(), 20);
        for (i, mesh) in all.into_iter().enumerate() {
            let id = add(&mut car, PartKind::Stud, &format!("{name}-{i}"), mesh);
            car.studs.as_mut().unwrap().push(id);
        }
        car = without(&car, studs);
    }
    for with_names in [true, false] {
        right("studs apart", &draft_of(&car, with_names));
    }
}

/// Twelve staves make the wall: none surrounds the middle alone.
#[test]
fn a_wall_in_several_bodies_is_joined() {
    let mut car = example("odd-housing");
    let wall = car.housing[0];
    let whole = car.bodies[wall.0].body.mesh.clone();
    let mut staves = vec![Mesh::default(); 12];
    for t in 0..whole.triangles.len() {
        let [a, b, c] = whole.corners(t);
        let middle = a.coords + b.coords + c.coords;
        let turn = middle.y.atan2(middle.x).rem_euclid(std::f64::consts::TAU);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a twelfth")]
        let at = ((turn / std::f64::consts::TAU * 12.0) as usize).min(11);
        let base = u32::try_from(staves[at].vertices.len()).unwrap();
        staves[at].vertices.extend([a, b, c]);
        staves[at].triangles.push([base, base + 1, base + 2]);
    }
    let mut ids = Vec::new();
    for (i, mesh) in staves.into_iter().enumerate() {
        let id = add(&mut car, PartKind::Housing, &format!("stave {i}"), mesh);
        car.bodies[id.0].body.deviation.bound = 2.5;
        ids.push(id);
    }
    car.housing.extend(ids);
    let car = without(&car, wall);
    right("staves", &draft_within(&car, false, 2.5));
}

#[test]
fn what_is_of_no_known_kind_is_listed_with_the_housing_and_asked_about() {
    let mut car = example("pressure-car");
    let chord = ChordError::from_mm(0.05).unwrap();
    let boxed = |low: [f64; 3], high: [f64; 3]| block(low.into(), high.into()).unwrap();
    // A plate on the wall outside, a bar across the housing that touches no fitting, a tag on the plate.
    let odd = [
        boxed([-60.0, 372.0, 200.0], [60.0, 380.0, 260.0]),
        boxed([-300.0, 90.0, 305.0], [300.0, 100.0, 315.0]),
        cylinder(Point3::new(100.0, 120.0, 0.0), Point3::new(100.0, 120.0, 4.0), 9.0, chord)
            .unwrap(),
    ];
    for (i, mesh) in odd.into_iter().enumerate() {
        let id = add(&mut car, PartKind::Housing, &format!("thing {i}"), mesh);
        car.housing.push(id);
    }
    for with_names in [true, false] {
        let found = draft_of(&car, with_names);
        right("odd things", &found);
        let first = car.bodies.len() - 3;
        for i in first..car.bodies.len() {
            let name =
                if with_names { named(i, &car.bodies[i].body.name) } else { nameless(i, "") };
            assert!(asks(&found.0, &format!("body \"{name}\"")), "{}", told(&found.0));
        }
    }
}

/// The bolts of the fitting in the middle stand on a circle about the housing's axis too.
#[test]
fn bolts_of_the_fitting_in_the_middle_are_no_studs() {
    let mut car = example("pressure-car");
    let chord = ChordError::from_mm(0.05).unwrap();
    let mut mesh = Mesh::default();
    for i in 0..8 {
        let turn = (22.5 + 45.0 * f64::from(i)).to_radians();
        let (x, y) = (74.0 * turn.cos(), 74.0 * turn.sin());
        let bolt = cylinder(Point3::new(x, y, 20.7), Point3::new(x, y, 40.0), 6.0, chord).unwrap();
        mesh.append(&bolt);
    }
    let id = add(&mut car, PartKind::Fitting, "prd-bolts", mesh);
    car.fittings[0].bodies.push(id);
    for with_names in [true, false] {
        let found = draft_of(&car, with_names);
        assert!(!found.0.studs.iter().any(|s| s.body == id.0), "{}", told(&found.0));
        let prd = found
            .0
            .fittings
            .iter()
            .find(|f| f.bodies.iter().any(|b| b.body == car.fittings[0].bodies[0].0));
        let prd = prd.unwrap();
        let holds = prd.bodies.iter().any(|b| b.body == id.0)
            || prd.removables.iter().any(|r| r.found.body == id.0);
        assert!(holds, "{}", told(&found.0));
    }
}

/// A square housing of plain walls, with openings as they come: a port, a round hole, a notch open to
/// the rim, a small hole, and a port whose corners are filled.
#[test]
fn openings_that_are_no_ports_are_asked_about() {
    let mut car = example("odd-housing");
    let wall = car.housing[0];
    let mut mesh = Mesh::default();
    let mut boxed = |low: [f64; 3], high: [f64; 3]| {
        mesh.append(&block(low.into(), high.into()).unwrap());
    };
    let (inner, outer, top) = (340.0, 352.0, 300.0);
    // Toward +x: a port of 100 by 90 over 45. Toward +y: a notch. Toward -x: a hole of 20 by 20.
    boxed([inner, -outer, 0.0], [outer, -50.0, top]);
    boxed([inner, 50.0, 0.0], [outer, outer, top]);
    boxed([inner, -50.0, 0.0], [outer, 50.0, 45.0]);
    boxed([inner, -50.0, 135.0], [outer, 50.0, top]);
    boxed([-inner, inner, 0.0], [-60.0, outer, top]);
    boxed([60.0, inner, 0.0], [inner, outer, top]);
    boxed([-60.0, inner, 0.0], [60.0, outer, 150.0]);
    boxed([-outer, -outer, 0.0], [-inner, 40.0, top]);
    boxed([-outer, 60.0, 0.0], [-inner, outer, top]);
    boxed([-outer, 40.0, 0.0], [-inner, 60.0, 90.0]);
    boxed([-outer, 40.0, 110.0], [-inner, 60.0, top]);
    // Toward -y: a round hole 90 across, the wall around it in wedges.
    boxed([-inner, -outer, 0.0], [-50.0, -inner, top]);
    boxed([50.0, -outer, 0.0], [inner, -inner, top]);
    boxed([-50.0, -outer, 0.0], [50.0, -inner, 50.0]);
    boxed([-50.0, -outer, 150.0], [50.0, -inner, top]);
    let n = 90;
    for i in 0..n {
        let turn = |i: i32| (f64::from(i) * 360.0 / f64::from(n)).to_radians();
        let at = |r: f64, t: f64, y: f64| Point3::new(r * t.cos(), y, 100.0 + r * t.sin());
        let (a, b) = (turn(i), turn(i + 1));
        let corners: Vec<Point3<f64>> = [-outer, -inner]
            .into_iter()
            .flat_map(|y| [at(45.0, a, y), at(75.0, a, y), at(75.0, b, y), at(45.0, b, y)])
            .collect();
        let base = u32::try_from(mesh.vertices.len()).unwrap();
        mesh.vertices.extend(corners);
        let faces =
            [[0, 1, 2, 3], [7, 6, 5, 4], [0, 4, 5, 1], [1, 5, 6, 2], [2, 6, 7, 3], [3, 7, 4, 0]];
        for [p, q, r, s] in faces {
            mesh.triangles.push([base + p, base + q, base + r]);
            mesh.triangles.push([base + p, base + r, base + s]);
        }
    }
    car.bodies[wall.0].body.mesh = mesh;
    car.bodies[wall.0].body.deviation.bound = 0.05;
    let pose = Isometry3::identity();
    let draft = drafted(&bodies(&car, &pose, &nameless), &pose).unwrap();
    let told = told(&draft);
    assert_eq!(draft.ports.len(), 1, "{told}");
    let port = &draft.ports[0];
    for (is, should) in [
        (port.width, 100.0),
        (port.height, 90.0),
        (port.sill, 45.0),
        (port.wall, 12.0),
        (port.at.x, 346.0),
    ] {
        assert!((is - should).abs() < 0.02, "{is} for {should}");
    }
    assert!(asks(&draft, "opening at bearing 90 deg"), "{told}");
    assert!(asks(&draft, "opening at bearing 270 deg"), "{told}");
    assert!(asks(&draft, "small openings at bearing 172 deg"), "{told}");
    assert!(asks(&draft, "ports"), "{told}");
}

/// A round housing with a flattened side, and a port in that side, off its middle.
#[test]
fn a_port_in_the_flattened_side_of_a_round_housing_is_measured() {
    let (inner, thick, top) = (340.0_f64, 12.0, 300.0);
    let (sill, height, left, right) = (45.0, 90.0, -30.0, 70.0);
    for flat in [322.0, 300.0, 270.0] {
        let mut car = example("odd-housing");
        let wall = car.housing[0];
        // Around the other way from one end of the flat to the other.
        let arc = |radius: f64, x: f64| -> Vec<Point2<f64>> {
            let from = (x / radius).acos();
            let way = std::f64::consts::TAU - 2.0 * from;
            let at = |i: u32| from + way * f64::from(i) / 240.0;
            (0..=240).map(|i| Point2::new(radius * at(i).cos(), radius * at(i).sin())).collect()
        };
        let (hole, rim) = (arc(inner, flat), arc(inner + thick, flat + thick));
        let whole = |low, high| extrude(&rim, std::slice::from_ref(&hole), low, high).unwrap();
        // With a gap where the port is: out along the rim, back along the hole.
        let gap = |y: f64| [Point2::new(flat + thick, y), Point2::new(flat, y)];
        let mut open = vec![gap(right)[0]];
        open.extend(&rim);
        open.extend(gap(left));
        open.extend(hole.iter().rev());
        open.push(gap(right)[1]);
        let mut mesh = whole(0.0, sill);
        mesh.append(&extrude(&open, &[], sill, sill + height).unwrap());
        mesh.append(&whole(sill + height, top));
        car.bodies[wall.0].body.mesh = mesh;
        car.bodies[wall.0].body.deviation.bound = 0.05;
        let pose = Isometry3::identity();
        let draft = drafted(&bodies(&car, &pose, &nameless), &pose).unwrap();
        let told = told(&draft);
        assert_eq!(draft.ports.len(), 1, "{flat}: {told}");
        let port = &draft.ports[0];
        for (what, is, should) in [
            ("width", port.width, right - left),
            ("height", port.height, height),
            ("sill", port.sill, sill),
            ("wall", port.wall, thick),
            ("x", port.at.x, flat + 0.5 * thick),
            ("y", port.at.y, 0.5 * (left + right)),
            ("facing", port.facing.degrees(), 0.0),
        ] {
            assert!((is - should).abs() < 0.05, "{flat}: {what} {is} for {should}\n{told}");
        }
        assert!(!asks(&draft, "opening"), "{flat}: {told}");
    }
}

/// Noise as a scanner leaves it, on vertices that neighbours share.
#[test]
fn noise_within_the_deviation_makes_nothing_wrong() {
    for (seed, noise) in [(1, 0.05), (2, 0.2), (3, 0.5)] {
        let mut car = example("pressure-car");
        let mut chance = Chance::new(seed);
        for body in &mut car.bodies {
            for p in &mut body.body.mesh.vertices {
                let mut side = || chance.between(-noise, noise);
                *p += Vector3::new(side(), side(), side());
            }
            body.body.deviation.bound = 0.05 + 1.8 * noise;
        }
        // Each edge of a port may be off by the noise, a width by twice that.
        let found = draft_within(&car, true, 0.1 + 4.0 * noise);
        println!("noise {noise}: {} found, {} asked", found.1.found, found.1.asked);
        right(&format!("noise of {noise} mm"), &found);
    }
}

/// Any bytes as coordinates, any triangles over them: told or drafted, never a panic.
#[test]
fn heaps_of_triangles_are_refused_or_drafted() {
    for seed in 0..60 {
        let mut chance = Chance::new(0xBAD + seed);
        let count = 1 + chance.below(8);
        let heap: Vec<Body> = (0..count)
            .map(|i| {
                let far = [1e-6, 1.0, 400.0, 9e4][chance.below(4)];
                let vertices = 3 + chance.below(60);
                let flat = chance.happens(0.4);
                let mesh = Mesh {
                    vertices: (0..vertices)
                        .map(|_| {
                            let mut side = || chance.between(-far, far);
                            let (x, y, z) = (side(), side(), side());
                            Point3::new(x, y, if flat { 0.0 } else { z })
                        })
                        .collect(),
                    triangles: (0..=chance.below(200))
                        .map(|_| [0, 1, 2].map(|_| u32::try_from(chance.below(vertices)).unwrap()))
                        .collect(),
                };
                let deviation = Deviation { bound: chance.between(0.0, 3.0), basis: "none".into() };
                Body { name: format!("plate {i}"), mesh, deviation }
            })
            .collect();
        if let Ok(draft) = survey::survey(&heap, &survey::Settings::default()) {
            let unit = measure::LengthUnit::Inch;
            let svg = survey::picture::plan(&draft, &heap, "a & b", "careful", unit);
            assert!(svg.ends_with("</svg>\n") && !svg.contains("NaN"));
        }
    }
}

/// A latch opposite the hinge is a level cylinder beside the rim as well: which carries the lid is asked.
#[test]
fn two_pins_are_asked_about_unless_a_name_tells() {
    let mut car = example("pressure-car");
    let chord = ChordError::from_mm(0.05).unwrap();
    let bar =
        cylinder(Point3::new(-400.0, -40.0, 325.0), Point3::new(-400.0, 40.0, 325.0), 9.0, chord);
    let id = add(&mut car, PartKind::Housing, "latch bar", bar.unwrap());
    car.housing.push(id);
    let (draft, compared) = draft_of(&car, false);
    assert!(compared.wrong.is_empty(), "{:#?}\n{}", compared.wrong, told(&draft));
    // The bearing that is given chooses among them.
    let pose = Isometry3::identity();
    let bodies = bodies(&car, &pose, &nameless);
    let draft = survey::survey(&bodies, &survey::Settings::default()).unwrap();
    assert!(asks(&draft, "frame, toward-hinge"), "{}", told(&draft));
    for (bearing, x) in [(0.0, 1.0), (180.0, -1.0)] {
        let hinge_at = Some(Angle::from_degrees(bearing));
        let settings = survey::Settings { hinge_at, ..survey::Settings::default() };
        let draft = survey::survey(&bodies, &settings).unwrap();
        let toward = draft.plate_from_mesh.inverse() * Vector3::x();
        assert!((toward.x - x).abs() < 1e-6 && !asks(&draft, "frame, toward-hinge"), "{toward}");
    }
    let (draft, compared) = draft_of(&car, true);
    assert!(!asks(&draft, "frame, toward-hinge") && asks(&draft, "body \"latch bar\""));
    assert!(compared.wrong.is_empty(), "{:#?}", compared.wrong);
}

/// A valve on a neck has its flange higher up: the neck's circle is no flange.
#[test]
fn a_neck_is_not_taken_for_a_flange() {
    let mut car = example("pressure-car");
    let chord = ChordError::from_mm(0.05).unwrap();
    let at = |z: f64| Point3::new(120.0, 120.0, z);
    let mut mesh = cylinder(at(0.0), at(70.0), 24.0, chord).unwrap();
    mesh.append(&cylinder(at(70.0), at(90.0), 50.0, chord).unwrap());
    add(&mut car, PartKind::Fitting, "nozzle", mesh);
    let (draft, _) = draft_of(&car, false);
    let fitting =
        draft.fittings.iter().find(|f| f.bodies.iter().any(|b| b.body == car.bodies.len() - 1));
    let name = &fitting.unwrap().name;
    assert!(asks(&draft, &format!("fitting \"{name}\", flange")), "{}", told(&draft));
}

/// A pad around a port makes the wall beside it of two thicknesses.
#[test]
fn a_wall_of_two_thicknesses_beside_a_port_is_asked_about() {
    let mut car = example("odd-housing");
    let wall = car.housing[0];
    let mut mesh = Mesh::default();
    let mut boxed = |low: [f64; 3], high: [f64; 3]| {
        mesh.append(&block(low.into(), high.into()).unwrap());
    };
    let (inner, outer, top) = (340.0, 352.0, 300.0);
    for s in [-1.0, 1.0] {
        let (a, b) = if s > 0.0 { (inner, outer) } else { (-outer, -inner) };
        boxed([-inner, a, 0.0], [inner, b, top]);
        boxed([a, -outer, 0.0], [b, -50.0, top]);
        boxed([a, 50.0, 0.0], [b, outer, top]);
        boxed([a, -50.0, 0.0], [b, 50.0, 45.0]);
        boxed([a, -50.0, 135.0], [b, 50.0, top]);
    }
    // The pad of the port toward +x is 9 mm wide and 8 mm thick.
    for y in [-59.0, 50.0] {
        boxed([outer, y, 40.0], [outer + 8.0, y + 9.0, 140.0]);
    }
    car.bodies[wall.0].body.mesh = mesh;
    car.bodies[wall.0].body.deviation.bound = 0.05;
    let pose = Isometry3::identity();
    let draft = drafted(&bodies(&car, &pose, &nameless), &pose).unwrap();
    assert_eq!(draft.ports.len(), 2);
    assert!(
        asks(&draft, "port \"P0\", wall") && !asks(&draft, "port \"P180\", wall"),
        "{}",
        told(&draft)
    );
}
