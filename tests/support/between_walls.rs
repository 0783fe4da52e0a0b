//! A plate between two end walls with a port each; its dimensions are invented.

use assembly::CarTop;
use assembly::car_top::{BodyId, CarBody, LidState, Measured, Port};
use assembly::kit::PartKind;
use measure::{Angle, LengthUnit};
use nalgebra::{Point2, Point3};
use solids::build::{ChordError, block, cylinder};
use solids::{Body, Deviation, Mesh};

/// The chord error of posts, mm.
pub(crate) const CHORD: f64 = 0.01;

pub(crate) fn slab(low: [f64; 3], high: [f64; 3]) -> Mesh {
    block(low.into(), high.into()).unwrap()
}

pub(crate) fn post(x: f64, y: f64, radius: f64, height: f64) -> Mesh {
    let chord = ChordError::from_mm(CHORD).unwrap();
    cylinder(Point3::new(x, y, 0.0), Point3::new(x, y, height), radius, chord).unwrap()
}

/// An end wall, 20 mm thick about x = 330 or -330, with a port 100 by 90 mm.
fn end_wall(sign: f64) -> Mesh {
    let (near, far) = if sign > 0.0 { (320.0, 340.0) } else { (-340.0, -320.0) };
    let mut wall = slab([near, -200.0, 0.0], [far, 200.0, 45.0]);
    for piece in [
        slab([near, -200.0, 135.0], [far, 200.0, 320.0]),
        slab([near, -200.0, 45.0], [far, -50.0, 135.0]),
        slab([near, 50.0, 45.0], [far, 200.0, 135.0]),
    ] {
        wall.append(&piece);
    }
    wall
}

/// The car top without fittings: plate, then the walls.
pub(crate) fn car() -> CarTop {
    let port = |name: &str, x: f64, facing: f64| Port {
        name: name.into(),
        at: Point2::new(x, 0.0),
        facing: Angle::from_degrees(facing),
        width: 100.0,
        height: 90.0,
        sill: 45.0,
        wall: 20.0,
        deviation: 0.0,
        cover: None,
    };
    let mut car = CarTop {
        title: "layout".into(),
        unit: LengthUnit::Millimetre,
        measured: Measured::default(),
        bodies: vec![],
        plate: BodyId(0),
        housing: vec![BodyId(1)],
        ports: vec![port("P0", 330.0, 0.0), port("P180", -330.0, 180.0)],
        lid: LidState::None,
        hinge: Some(vec![]),
        studs: Some(vec![]),
        fittings: vec![],
    };
    let mut walls = end_wall(1.0);
    walls.append(&end_wall(-1.0));
    add(&mut car, PartKind::Plate, "plate", slab([-420.0, -420.0, -50.0], [420.0, 420.0, 0.0]));
    add(&mut car, PartKind::Housing, "walls", walls);
    car
}

/// Adds a body that is just as drawn.
pub(crate) fn add(car: &mut CarTop, kind: PartKind, name: &str, mesh: Mesh) -> BodyId {
    let deviation = Deviation { bound: 0.0, basis: "exact".into() };
    car.bodies.push(CarBody {
        kind,
        body: Body { name: name.into(), mesh, deviation },
        unseen: false,
    });
    BodyId(car.bodies.len() - 1)
}
