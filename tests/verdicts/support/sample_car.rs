//! Sample car tops drawn by chance: a round housing with ports opposite each other, fittings with
//! pieces that come off, studs, perhaps a lid and its hinge.

use super::chance::Chance;
use assembly::CarTop;
use assembly::car_top::{
    BodyId, CarBody, Fitting, FittingKind, Lid, LidState, Measured, Port, Removable,
};
use assembly::kit::PartKind;
use measure::{Angle, LengthUnit};
use nalgebra::{Isometry3, Point2, Point3, Rotation2, Vector2, Vector3};
use solids::build::{ChordError, arc, block, cylinder, extrude, hexagonal_prism, revolve};
use solids::{Body, Deviation, Mesh};
use std::f64::consts::{PI, TAU};

/// A sample with the figures that tests ask for.
pub(crate) struct Sample {
    pub(crate) car: CarTop,
    /// The fitting to be covered.
    pub(crate) fitting: usize,
    /// From one sidewall's outer face to the other, mm.
    pub(crate) across: f64,
    /// Radius of the circle that fits in the plate's outline, mm.
    pub(crate) plate_radius: f64,
}

struct Maker<'c> {
    chance: &'c mut Chance,
    chord: ChordError,
    bodies: Vec<CarBody>,
}

impl Maker<'_> {
    fn add(&mut self, kind: PartKind, name: &str, mesh: Mesh) -> BodyId {
        let deviation = Deviation { bound: self.chance.between(0.0, 0.5), basis: "drawn".into() };
        self.bodies.push(CarBody {
            kind,
            body: Body { name: name.into(), mesh, deviation },
            unseen: false,
        });
        BodyId(self.bodies.len() - 1)
    }

    fn turned(&self, profile: &[[f64; 2]]) -> Mesh {
        let profile: Vec<_> = profile.iter().map(|p| Point2::new(p[0], p[1])).collect();
        revolve(&profile, self.chord).unwrap()
    }
}

fn turn(angle: f64) -> Isometry3<f64> {
    Isometry3::rotation(Vector3::z() * angle)
}

fn shift(x: f64, y: f64, z: f64) -> Isometry3<f64> {
    Isometry3::translation(x, y, z)
}

struct Housing {
    inside: f64,
    wall: f64,
    height: f64,
}

impl Housing {
    fn outside(&self) -> f64 {
        self.inside + self.wall
    }
}

fn ports(chance: &mut Chance, housing: &Housing) -> Vec<Port> {
    let first = chance.between(0.0, TAU);
    let mut bearings = vec![first, first + PI + chance.between(-0.01, 0.01)];
    let second = first + chance.between(0.8, 2.3);
    if chance.happens(0.4) {
        bearings.push(second);
        if chance.happens(0.7) {
            bearings.push(second + PI + chance.between(-0.01, 0.01));
        }
    }
    let (width, height) = (chance.between(94.0, 112.0), chance.between(80.0, 100.0));
    let sill = chance.between(35.0, 55.0);
    let middle = housing.inside + 0.5 * housing.wall;
    bearings
        .into_iter()
        .enumerate()
        .map(|(i, bearing)| Port {
            name: format!("P{i}"),
            at: Point2::new(middle * bearing.cos(), middle * bearing.sin()),
            facing: Angle::from_radians(bearing),
            width,
            height,
            sill,
            wall: housing.wall,
            deviation: chance.between(0.0, 0.3),
            cover: None,
        })
        .collect()
}

/// The sidewall: a ring below the sills, a ring above the ports, and what stands between the
/// ports, whose sides are parallel. One closed shell each.
fn sidewall(housing: &Housing, ports: &[Port], chord: ChordError) -> Mesh {
    let (inside, outside) = (housing.inside, housing.outside());
    let (sill, top) = (ports[0].sill, ports[0].sill + ports[0].height);
    let ring = |low: f64, high: f64| {
        let profile = [[inside, low], [outside, low], [outside, high], [inside, high]];
        revolve(&profile.map(|p| Point2::new(p[0], p[1])), chord).unwrap()
    };
    let mut mesh = ring(0.0, sill);
    mesh.append(&ring(top, housing.height));
    let mut sorted: Vec<&Port> = ports.iter().collect();
    let bearing = |p: &Port| p.facing.radians().rem_euclid(TAU);
    sorted.sort_by(|a, b| bearing(a).total_cmp(&bearing(b)));
    for (i, port) in sorted.iter().enumerate() {
        let from = bearing(port);
        let to =
            if i + 1 < sorted.len() { bearing(sorted[i + 1]) } else { bearing(sorted[0]) + TAU };
        let edge = |radius: f64| (0.5 * port.width / radius).asin();
        let mut outline =
            arc(Point2::origin(), outside, from + edge(outside), to - edge(outside), chord);
        outline.extend(arc(
            Point2::origin(),
            inside,
            to - edge(inside),
            from + edge(inside),
            chord,
        ));
        mesh.append(&extrude(&outline, &[], sill, top).unwrap());
    }
    mesh
}

fn studs(make: &mut Maker<'_>, radius: f64, name: &str) -> BodyId {
    let count = 6 + make.chance.below(7);
    let (flats, height) = (make.chance.between(22.0, 34.0), make.chance.between(15.0, 30.0));
    let start = make.chance.between(0.0, TAU);
    let nut = hexagonal_prism(flats, height).unwrap();
    let mut mesh = Mesh::default();
    for i in 0..count {
        let at = turn(start + TAU * i as f64 / count as f64) * shift(radius, 0.0, 0.0);
        mesh.append(&nut.transformed(&at));
    }
    make.add(PartKind::Stud, name, mesh)
}

/// Sizes of a fitting.
struct Sizes {
    flange: f64,
    height: f64,
}

fn fitting(make: &mut Maker<'_>, number: usize, centre: Point2<f64>, sizes: &Sizes) -> Fitting {
    let to_place = shift(centre.x, centre.y, 0.0) * turn(make.chance.between(0.0, TAU));
    let flange = sizes.flange;
    let thick = make.chance.between(18.0, 28.0);
    let body = flange * make.chance.between(0.45, 0.75);
    let bonnet = body * make.chance.between(0.4, 0.9);
    let shoulder = thick + (sizes.height - thick) * make.chance.between(0.4, 0.8);
    let profile = [
        [0.0, 0.0],
        [flange, 0.0],
        [flange, thick],
        [body, thick],
        [body, shoulder],
        [bonnet, shoulder],
        [bonnet, sizes.height],
        [0.0, sizes.height],
    ];
    let mesh = make.turned(&profile).transformed(&to_place);
    let bodies = vec![make.add(PartKind::Fitting, &format!("f{number} body"), mesh)];
    let mut removables = Vec::new();
    if make.chance.happens(0.6) {
        let wheel = flange * make.chance.between(0.5, 1.3);
        let low = sizes.height + 2.0;
        let (hub, rim) = (0.3 * wheel, 0.75 * wheel);
        // A spoked wheel by its envelope: hub, thin web, rim.
        let mesh = make.turned(&[
            [0.0, low],
            [hub, low],
            [hub, low + 4.0],
            [rim, low + 4.0],
            [rim, low],
            [wheel, low],
            [wheel, low + 14.0],
            [0.0, low + 14.0],
        ]);
        let id =
            make.add(PartKind::Fitting, &format!("f{number} wheel"), mesh.transformed(&to_place));
        removables.push(Removable { name: "wheel".into(), body: id });
    }
    if make.chance.happens(0.6) {
        let reach = flange * make.chance.between(0.8, 1.5);
        let z = thick + 0.5 * (shoulder - thick);
        let radius = make.chance.between(12.0, 22.0);
        let mesh = cylinder(
            Point3::new(body + 1.0, 0.0, z),
            Point3::new(body + 1.0 + 0.5 * reach, 0.0, z),
            radius,
            make.chord,
        )
        .unwrap();
        let id =
            make.add(PartKind::Fitting, &format!("f{number} plug"), mesh.transformed(&to_place));
        removables.push(Removable { name: "plug".into(), body: id });
    }
    Fitting {
        name: format!("f{number}"),
        kind: FittingKind::ALL[number % FittingKind::ALL.len()],
        size: "drawn".into(),
        centre,
        flange: 2.0 * flange,
        bodies,
        removables,
    }
}

/// Fittings: the one to be covered near the line between the first two ports, the others where
/// there is room for their flanges.
fn fittings(make: &mut Maker<'_>, housing: &Housing, along: f64) -> Vec<Fitting> {
    let chance = &mut *make.chance;
    let roomy = chance.happens(0.75);
    let sizes = Sizes {
        flange: chance.between(42.0, if roomy { 72.0 } else { 100.0 }),
        height: chance.between(90.0, if roomy { 250.0 } else { 285.0 }),
    };
    let far = 0.45 * housing.inside;
    let across = if roomy { 12.0 } else { 40.0 };
    let place = Vector2::new(chance.between(-far, far), chance.between(-across, across));
    let first = Point2::from(Rotation2::new(along) * place);
    let apart = chance.between(0.0, 80.0);
    let mut placed = vec![(first, sizes)];
    let count = 2 + chance.below(4);
    for _ in 0..200 {
        if placed.len() == count {
            break;
        }
        let flange = chance.between(35.0, 65.0);
        let (radius, bearing) =
            (chance.between(0.0, housing.inside - flange - 15.0), chance.between(0.0, TAU));
        let at = Point2::new(radius * bearing.cos(), radius * bearing.sin());
        let clear = placed.iter().enumerate().all(|(i, (other, size))| {
            let room = if i == 0 { apart + 5.0 } else { 5.0 };
            (at - other).norm() > flange + size.flange + room
        });
        if clear {
            placed.push((at, Sizes { flange, height: chance.between(60.0, 230.0) }));
        }
    }
    placed.iter().enumerate().map(|(i, (at, sizes))| fitting(make, i, *at, sizes)).collect()
}

/// The lid, drawn closed, and its hinge.
fn lid(make: &mut Maker<'_>, housing: &Housing) -> (LidState, Option<Vec<BodyId>>) {
    let draw = make.chance.between(0.0, 1.0);
    if draw < 0.05 {
        return (LidState::Unknown, None);
    }
    if draw < 0.5 {
        return (LidState::None, Some(Vec::new()));
    }
    let bearing = make.chance.between(0.0, TAU);
    let (reach, height) = (housing.outside() + 22.0, housing.height);
    let rim = housing.outside() + 6.0;
    let mesh = make.turned(&[
        [0.0, height + 4.0],
        [rim, height + 4.0],
        [rim, height + 14.0],
        [0.0, height + 14.0],
    ]);
    let body = make.add(PartKind::Lid, "lid", mesh);
    let pin = cylinder(
        Point3::new(reach, -60.0, height + 9.0),
        Point3::new(reach, 60.0, height + 9.0),
        8.0,
        make.chord,
    )
    .unwrap();
    let pin = make.add(PartKind::Hinge, "hinge pin", pin.transformed(&turn(bearing)));
    let lugs = block(
        Point3::new(housing.outside() - 2.0, -70.0, height - 40.0),
        Point3::new(reach + 10.0, -62.0, height + 18.0),
    )
    .unwrap();
    let mut both = lugs.clone();
    both.append(&lugs.transformed(&shift(0.0, 132.0, 0.0)));
    let lugs = make.add(PartKind::Hinge, "hinge lugs", both.transformed(&turn(bearing)));
    let state = LidState::Hinged(Lid {
        body,
        axis_point: Point3::new(reach * bearing.cos(), reach * bearing.sin(), height + 9.0),
        axis: nalgebra::Unit::new_normalize(Vector3::new(-bearing.sin(), bearing.cos(), 0.0)),
        drawn_at: Angle::ZERO,
        stop: Angle::from_degrees(make.chance.between(95.0, 140.0)),
    });
    (state, Some(vec![pin, lugs]))
}

/// The sample with this number.
pub(crate) fn sample(number: u64) -> Sample {
    let mut chance = Chance::new(0x000F_1770 + number);
    let housing = Housing {
        inside: chance.between(215.0, 340.0),
        wall: chance.between(9.0, 15.0),
        height: chance.between(200.0, 330.0),
    };
    let mut ports = ports(&mut chance, &housing);
    let chord = ChordError::from_mm(chance.between(0.5, 1.0)).unwrap();
    let mut make = Maker { chance: &mut chance, chord, bodies: Vec::new() };

    let plate_radius = housing.outside() + 45.0;
    let mesh = make.turned(&[[0.0, -30.0], [plate_radius, -30.0], [plate_radius, 0.0], [0.0, 0.0]]);
    let plate = make.add(PartKind::Plate, "plate", mesh);
    let chords = chord.chords_in_circle(plate_radius);

    let wall = sidewall(&housing, &ports, chord);
    let sidewall = make.add(PartKind::Housing, "sidewall", wall);
    for port in &mut ports {
        if !make.chance.happens(0.4) {
            continue;
        }
        let (half, top) = (0.5 * port.width + 8.0, port.sill + port.height + 8.0);
        let cover = block(
            Point3::new(housing.outside() + 1.0, -half, port.sill - 8.0),
            Point3::new(housing.outside() + 9.0, half, top),
        )
        .unwrap()
        .transformed(&turn(port.facing.radians()));
        port.cover = Some(make.add(PartKind::PortCover, &format!("cover {}", port.name), cover));
    }
    let mut stud_bodies = vec![studs(&mut make, housing.outside() + 24.0, "outer studs")];
    if make.chance.happens(0.5) {
        stud_bodies.push(studs(&mut make, housing.inside - 22.0, "inner studs"));
    }
    let (lid, hinge) = lid(&mut make, &housing);
    let along = ports[0].facing.radians();
    let fittings = fittings(&mut make, &housing, along);
    let car = CarTop {
        title: format!("sample {number}"),
        unit: LengthUnit::Inch,
        measured: Measured::default(),
        bodies: make.bodies,
        plate,
        housing: vec![sidewall],
        ports,
        lid,
        hinge,
        studs: Some(stud_bodies),
        fittings,
    };
    Sample {
        car,
        fitting: 0,
        across: 2.0 * housing.outside(),
        plate_radius: plate_radius * (PI / chords as f64).cos(),
    }
}

/// A fitting that leaves the usual cup little room to move, and beside it, to the left (`side` 1)
/// or right (-1) of the bar's line, a tall one that clears the cup's wall but not its side port.
pub(crate) fn side_port_blocked(side: f64) -> Sample {
    let mut chance = Chance::new(1);
    let housing = Housing { inside: 300.0, wall: 10.0, height: 300.0 };
    let middle = housing.inside + 0.5 * housing.wall;
    let ports: Vec<Port> = [0.0, PI]
        .into_iter()
        .map(|bearing: f64| Port {
            name: format!("P{bearing}"),
            at: Point2::new(middle * bearing.cos(), middle * bearing.sin()),
            facing: Angle::from_radians(bearing),
            width: 100.0,
            height: 90.0,
            sill: 45.0,
            wall: housing.wall,
            deviation: 0.05,
            cover: None,
        })
        .collect();
    let chord = ChordError::from_mm(0.5).unwrap();
    let mut make = Maker { chance: &mut chance, chord, bodies: Vec::new() };
    let mesh = make.turned(&[[0.0, -30.0], [350.0, -30.0], [350.0, 0.0], [0.0, 0.0]]);
    let plate = make.add(PartKind::Plate, "plate", mesh);
    let wall = sidewall(&housing, &ports, chord);
    let sidewall = make.add(PartKind::Housing, "sidewall", wall);
    let mut upright = |name: &str, radius: f64, height: f64, at: Point2<f64>| {
        let mesh = make
            .turned(&[[0.0, 0.0], [radius, 0.0], [radius, height], [0.0, height]])
            .transformed(&shift(at.x, at.y, 0.0));
        Fitting {
            name: name.into(),
            kind: FittingKind::BlindFlange,
            size: "drawn".into(),
            centre: at,
            flange: 2.0 * radius,
            bodies: vec![make.add(PartKind::Fitting, name, mesh)],
            removables: Vec::new(),
        }
    };
    let fittings = vec![
        upright("low", 80.0, 100.0, Point2::origin()),
        upright("tall", 30.0, 230.0, Point2::new(0.0, side * 131.0)),
    ];
    for body in &mut make.bodies {
        body.body.deviation.bound = 0.05;
    }
    let car = CarTop {
        title: "side port blocked".into(),
        unit: LengthUnit::Inch,
        measured: Measured::default(),
        bodies: make.bodies,
        plate,
        housing: vec![sidewall],
        ports,
        lid: LidState::None,
        hinge: Some(Vec::new()),
        studs: Some(Vec::new()),
        fittings,
    };
    Sample { car, fitting: 0, across: 2.0 * housing.outside(), plate_radius: 340.0 }
}

/// The same car top turned about the plate's axis.
pub(crate) fn turned(car: &CarTop, by: f64) -> CarTop {
    let pose = turn(by);
    let flat = Rotation2::new(by);
    let mut car = car.clone();
    for body in &mut car.bodies {
        body.body.mesh = body.body.mesh.transformed(&pose);
    }
    for port in &mut car.ports {
        port.at = flat * port.at;
        port.facing = Angle::from_radians(port.facing.radians() + by);
    }
    if let LidState::Hinged(lid) = &mut car.lid {
        lid.axis_point = pose * lid.axis_point;
        lid.axis = nalgebra::Unit::new_normalize(pose * lid.axis.into_inner());
    }
    for fitting in &mut car.fittings {
        fitting.centre = flat * fitting.centre;
    }
    car
}
