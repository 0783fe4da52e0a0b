//! Poses of a rig against arithmetic done by hand: the bar, links, screw and outlet of a layout of
//! round numbers, common practice, no source for the layout itself. The sense of the elbow's turn
//! and of the lid's opening follow the conventions in the crate's documentation.

#[path = "../support/sample_kit.rs"]
mod sample_kit;

use assembly::car_top::{
    BodyId, CarBody, CarTop, Fitting, FittingKind, Lid, LidState, Measured, Port,
};
use assembly::kit::PartKind;
use assembly::placement::{Choice, Placement};
use assembly::rig::{self, BarLine};
use measure::{Angle, LengthUnit};
use nalgebra::{Point2, Point3, Unit, Vector2, Vector3};
use solids::{Body, Deviation, Mesh};

fn car() -> CarTop {
    let body = CarBody {
        kind: PartKind::Plate,
        body: Body {
            name: "plate".into(),
            mesh: Mesh::default(),
            deviation: Deviation { bound: 0.0, basis: "none".into() },
        },
        unseen: false,
    };
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
    CarTop {
        title: "layout".into(),
        unit: LengthUnit::Millimetre,
        measured: Measured::default(),
        bodies: vec![body],
        plate: BodyId(0),
        housing: vec![],
        ports: vec![port("P0", 300.0, 0.0), port("P180", -300.0, 180.0)],
        lid: LidState::Hinged(Lid {
            body: BodyId(0),
            axis_point: Point3::new(340.0, 0.0, 325.0),
            axis: Unit::new_normalize(Vector3::y()),
            drawn_at: Angle::ZERO,
            stop: Angle::from_degrees(115.0),
        }),
        hinge: Some(vec![]),
        studs: Some(vec![]),
        fittings: vec![Fitting {
            name: "V1".into(),
            kind: FittingKind::LiquidValve,
            size: "2 in".into(),
            centre: Point2::new(100.0, 0.0),
            flange: 165.0,
            bodies: vec![],
            removables: vec![],
        }],
    }
}

fn choice() -> Choice {
    Choice { fitting: 0, cup: 0, ports: [0, 1], removed: vec![] }
}

fn placement() -> Placement {
    Placement {
        cup_offset: Vector2::zeros(),
        outlet_bearing: Angle::ZERO,
        elbow_turn: Angle::ZERO,
        foot_shift: [0.0, 0.0],
        link_thickness: [[0, 0], [0, 0]],
        link_hole: [0, 0],
        bar_slide: 0.0,
        screw_extension: 50.0,
        lid_opening: Angle::ZERO,
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn links_bar_and_screw_stand_where_arithmetic_puts_them() {
    let (kit, car) = (sample_kit::sample_kit(), car());
    let pose = rig::pose(&kit, &car, &choice(), &placement()).unwrap();
    let lower = 45.0 + 90.0 - kit.foot.seat.nominal;
    assert!((pose.line.feet[0] - Point3::new(300.0, 0.0, lower)).norm() < 1e-9);
    assert!(near(pose.line.span, 600.0) && near(pose.rise, 0.0));
    // A foot's depth apart, half their thickness out.
    let half = 0.5 * (kit.foot.depth.nominal + kit.link.thicknesses[0].nominal);
    let x = |end: usize, side: usize| pose.plate_from_link[end][side].translation.x;
    assert!(near(x(0, 1), 300.0 + half) && near(x(0, 0), 300.0 - half));
    assert!(near(x(1, 1), -300.0 - half) && near(x(1, 0), -300.0 + half));
    let underside = lower + kit.link.holes[0].nominal + kit.saddle.pin_drop.nominal;
    assert!(near(pose.plate_from_bar.translation.z, underside));
    let cup = &kit.cups[0];
    let gasket = rig::gasket_of(&kit, cup).unwrap();
    let seat = gasket.thickness.nominal - gasket.groove_depth.nominal
        + cup.inside_height.nominal
        + cup.crown.nominal
        + cup.seat_height.nominal
        - cup.seat_depth.nominal
        + 0.5 * kit.screw.ball_diameter.nominal;
    assert!((pose.seat - Point3::new(100.0, 0.0, seat)).norm() < 1e-9);
    assert!(near(pose.extension_to_seat, underside - seat));
    assert!(near(pose.plate_from_screw.translation.z, underside - 50.0));
    assert!(near(pose.plate_from_screw.translation.x, 100.0));
    let overhang = 0.5 * kit.bar.length.nominal - 310.0;
    assert!(near(pose.overhang[0], overhang) && near(pose.overhang[1], overhang));
}

#[test]
fn a_bar_slid_toward_a_overhangs_more_there() {
    let (kit, car) = (sample_kit::sample_kit(), car());
    let slid = Placement { bar_slide: 7.0, ..placement() };
    let pose = rig::pose(&kit, &car, &choice(), &slid).unwrap();
    assert!(near(pose.overhang[0] - pose.overhang[1], 14.0));
    assert!(near(pose.plate_from_bar.translation.x, 7.0));
}

#[test]
fn one_o_clock_leans_to_the_right_of_someone_looking_at_the_cup() {
    let (kit, car) = (sample_kit::sample_kit(), car());
    let turned = Placement { elbow_turn: Angle::from_degrees(30.0), ..placement() };
    let pose = rig::pose(&kit, &car, &choice(), &turned).unwrap();
    // The side port points to +x; looking back along it (-x) with z up, the right hand is +y.
    let riser = pose.plate_from_outlet * Vector3::z();
    assert!((riser - Vector3::new(0.0, 0.5, 0.75_f64.sqrt())).norm() < 1e-12);
    // 12 o'clock is straight up whatever the bearing.
    let up = Placement { outlet_bearing: Angle::from_degrees(77.0), ..placement() };
    let pose = rig::pose(&kit, &car, &choice(), &up).unwrap();
    assert!((pose.plate_from_outlet * Vector3::z() - Vector3::z()).norm() < 1e-12);
}

#[test]
fn a_bar_out_of_level_still_meets_the_seat() {
    let (kit, car) = (sample_kit::sample_kit(), car());
    let mut uneven = Placement { link_hole: [1, 0], ..placement() };
    let pose = rig::pose(&kit, &car, &choice(), &uneven).unwrap();
    let rise = kit.link.holes[1].nominal - kit.link.holes[0].nominal;
    assert!(near(pose.rise, rise));
    uneven.screw_extension = pose.extension_to_seat;
    let pose = rig::pose(&kit, &car, &choice(), &uneven).unwrap();
    let ball = Point3::from(pose.plate_from_screw.translation.vector);
    assert!((ball - pose.seat).norm() < 1e-9);
    let slope = (rise / 600.0).atan();
    let bar_up = pose.plate_from_bar * Vector3::z();
    assert!(near(bar_up.x, -slope.sin()) && near(bar_up.z, slope.cos()));
}

#[test]
fn lines_through_shifted_feet_and_their_skew() {
    let kit = sample_kit::sample_kit();
    let car = car();
    let ports = [&car.ports[0], &car.ports[1]];
    // At P0 a positive shift is +y; at P180, which faces the other way, it is -y.
    let parallel = BarLine::through(&kit, ports, [10.0, -10.0]).unwrap();
    assert!(near(parallel.offset_of(Point2::new(55.0, 0.0)), -10.0));
    assert!(near(parallel.skew[0].degrees(), 0.0));
    let turned = BarLine::through(&kit, ports, [10.0, 10.0]).unwrap();
    assert!(near(turned.offset_of(Point2::origin()), 0.0));
    assert!(near(turned.skew[0].radians(), (10.0_f64 / 300.0).atan()));
    assert!(near(turned.skew[1].radians(), (10.0_f64 / 300.0).atan()));
    assert!(BarLine::through(&kit, [ports[0], ports[0]], [0.0, 0.0]).is_none());
}

#[test]
fn opening_the_lid_lifts_its_far_edge() {
    let car = car();
    let opened = rig::plate_from_lid(&car, Angle::from_degrees(90.0)).unwrap();
    let far_edge = opened * Point3::new(-340.0, 0.0, 325.0);
    assert!((far_edge - Point3::new(340.0, 0.0, 325.0 + 680.0)).norm() < 1e-9);
    let pin = opened * Point3::new(340.0, 12.0, 325.0);
    assert!((pin - Point3::new(340.0, 12.0, 325.0)).norm() < 1e-9);
}

#[test]
fn a_choice_out_of_range_has_no_pose() {
    let (kit, car) = (sample_kit::sample_kit(), car());
    for bad in [
        Choice { fitting: 9, ..choice() },
        Choice { cup: 9, ..choice() },
        Choice { ports: [0, 9], ..choice() },
        Choice { ports: [1, 1], ..choice() },
    ] {
        assert!(rig::pose(&kit, &car, &bad, &placement()).is_none());
    }
    let bad = Placement { link_hole: [99, 0], ..placement() };
    assert!(rig::pose(&kit, &car, &choice(), &bad).is_none());
}
