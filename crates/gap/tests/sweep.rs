//! Sweeps against closed forms, at glancing contacts and against dense sampling; and the radius
//! about a pose within which nothing changes.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;

use std::f64::consts::{FRAC_PI_2, TAU};

use common::{at, block, cylinder, pipe, solid, sphere, torus};
use gap::motion::{self, Motion};
use gap::{
    Block, Course, Proximity, Solid, Sweep, Undecided, WhyUndecided, certified_blocked,
    certified_clear, clears, gap, overlap, sweep,
};
use nalgebra::{Isometry3, Point3, Vector3};
use proptest::prelude::*;
use solids::Mesh;

const TOLERANCE: f64 = 0.01;

fn straight(x: f64, y: f64, z: f64) -> Motion {
    Motion::straight(Vector3::new(x, y, z)).unwrap()
}

/// About the z axis.
fn screw(angle: f64, advance: f64) -> Motion {
    Motion::screw(Point3::origin(), Vector3::z(), angle, advance).unwrap()
}

/// `b` meets `a` at the parameter `truth`.
#[track_caller]
fn meets_at(a: &Solid, b: &Solid, start: &Isometry3<f64>, m: &Motion, need: f64, truth: f64) {
    meets_within(200, a, b, start, m, need, truth);
}

/// The same with a count of queries that it may take.
#[track_caller]
fn meets_within(
    most: usize,
    a: &Solid,
    b: &Solid,
    start: &Isometry3<f64>,
    m: &Motion,
    need: f64,
    truth: f64,
) {
    let found = sweep(a, b, start, m, need, TOLERANCE);
    let Course::Blocked { clear_until, blocked_at, block, contact } = found.course else {
        panic!("{found:?}")
    };
    assert!(clear_until <= truth + 1e-12 && truth <= blocked_at + 1e-12, "{truth}: {found:?}");
    assert!(m.travel(b, start).unwrap().between(clear_until, blocked_at) <= TOLERANCE);
    let pose = |s: f64| m.pose_at(s) * start;
    match block {
        Block::TooNear(near) => {
            assert!(near.distance < need);
            // Equally near pairs there may be several.
            let told = gap(a, b, &pose(blocked_at), need);
            let Proximity::Apart(told) = told else { panic!("{told:?}, {near:?}") };
            assert!((told.distance - near.distance).abs() < 1e-11, "{told:?}, {near:?}");
        }
        Block::Overlapping => {
            assert_eq!(gap(a, b, &pose(blocked_at), 0.0), Proximity::Overlapping);
        }
    }
    let contact = contact.unwrap();
    assert!(contact.distance >= need && contact.distance <= need + TOLERANCE, "{contact:?}");
    assert!(found.queries < most, "{found:?}");
}

/// Proven, and not beyond what a pose shows.
#[track_caller]
fn is_clear(found: &Sweep, need: f64, seen: f64) {
    let Course::Clear { at_least, at } = found.course else { panic!("{found:?}") };
    assert!(at_least >= need && at_least <= seen + 1e-9, "{seen}: {found:?}");
    assert!((0.0..=1.0).contains(&at));
}

#[test]
fn a_sphere_comes_down_on_a_plate() {
    let (plate, ball) = (solid(&block(50.0, 50.0, 5.0)), solid(&sphere(10.0, 48, 24)));
    let (start, down) = (at(1.0, 2.0, 100.0), straight(0.0, 0.0, -90.0));
    // The lowest corner is at -10, the plate's top at 5.
    meets_at(&plate, &ball, &start, &down, 0.0, 85.0 / 90.0);
    meets_at(&plate, &ball, &start, &down, 2.0, 83.0 / 90.0);
    is_clear(&sweep(&plate, &ball, &start, &straight(0.0, 0.0, -80.0), 2.0, TOLERANCE), 2.0, 5.0);
    // A chain: across first, then down at half the parameter.
    let chain = straight(20.0, 0.0, 0.0).then(&down);
    meets_at(&plate, &ball, &start, &chain, 0.0, 0.5 + 85.0 / 180.0);
}

#[test]
fn a_fast_part_does_not_jump_through_a_thin_sheet() {
    let sheet = solid(&block(500.0, 500.0, 1e-4));
    let bead = solid(&sphere(0.5, 16, 8));
    let down = straight(0.0, 0.0, -8_000.0);
    let truth = (4_000.0 - 0.5 - 1e-4) / 8_000.0;
    meets_at(&sheet, &bead, &at(3.0, 1.0, 4_000.0), &down, 0.0, truth);
}

/// From 0 to 100 along x, 4 wide, 4 high.
fn bar() -> Solid {
    solid(&block(50.0, 2.0, 2.0).transformed(&at(50.0, 0.0, 0.0)))
}

/// From (40, 30) to (45, 35), and the angle at which the bar's long side, 2 off the line that
/// turns about z, meets its first corner.
fn post(height: f64) -> (Solid, f64) {
    let first = 30.0_f64.atan2(45.0) - (2.0 / 45.0_f64.hypot(30.0)).asin();
    (solid(&block(2.5, 2.5, height).transformed(&at(42.5, 32.5, 0.0))), first)
}

#[test]
fn a_turning_bar_meets_a_post() {
    let (post, first) = post(20.0);
    let start = Isometry3::identity();
    meets_at(&post, &bar(), &start, &screw(3.0, 0.0), 0.0, first / 3.0);
    // The other way round, past the whole circle but for the post.
    let last = 35.0_f64.atan2(40.0) + (2.0 / 40.0_f64.hypot(35.0)).asin();
    meets_at(&post, &bar(), &start, &screw(-TAU, 0.0), 0.0, (TAU - last) / TAU);
    // Short of it.
    let short = sweep(&post, &bar(), &start, &screw(first - 0.05, 0.0), 1.0, TOLERANCE);
    is_clear(&short, 1.0, 3.0);
}

#[test]
fn a_screw_reaches_its_stop() {
    let stop = solid(&block(30.0, 30.0, 5.0));
    let start = at(0.0, 0.0, 20.0);
    // The bar's underside starts 13 above the stop and comes down 1.5 a turn, either hand.
    for angle in [12.0 * TAU, -12.0 * TAU] {
        // Its end goes 400 times as far as the screw advances, hence the many queries.
        let down = screw(angle, -18.0);
        meets_within(8_000, &stop, &bar(), &start, &down, 0.0, 13.0 / 18.0);
        meets_within(8_000, &stop, &bar(), &start, &down, 0.7, 12.3 / 18.0);
    }
    is_clear(&sweep(&stop, &bar(), &start, &screw(99.0, -12.9), 0.05, TOLERANCE), 0.05, 0.1);
}

#[test]
fn a_screw_passes_over_a_post_until_it_is_low_enough() {
    // The post's top is at 10; the bar's underside starts at 20 and comes down 4 a turn. It
    // passes over the post twice and would a third time, at 20 - 4 (2 + first / TAU) = 11.6; the
    // fourth time, at 7.6, it runs into the side.
    let (post, first) = post(10.0);
    let turns = 6.0;
    let down = screw(turns * TAU, -4.0 * turns);
    let truth = (3.0 + first / TAU) / turns;
    meets_at(&post, &bar(), &at(0.0, 0.0, 22.0), &down, 0.0, truth);
}

#[test]
fn the_lead_has_the_sign_of_a_right_hand_thread() {
    let half_turn = screw(TAU, 3.0).pose_at(0.25) * Point3::new(10.0, 0.0, 0.0);
    assert!((half_turn - Point3::new(0.0, 10.0, 0.75)).norm() < 1e-12);
    let many = screw(7.0 * TAU, 0.0).pose_at(1.0) * Point3::new(10.0, 0.0, 0.0);
    assert!((many - Point3::new(10.0, 0.0, 0.0)).norm() < 1e-12);
}

#[test]
fn a_peg_goes_down_a_hole() {
    // 0.2 between the corners of both; both are cut alike, so also between the flats, where it is
    // a cosine less.
    let hole = solid(&pipe(10.0, 20.0, 30.0, 64));
    let peg = solid(&cylinder(9.8, 20.0, 64, 6));
    let clearance = 0.2 * (TAU / 128.0).cos();
    let (start, down) = (at(0.0, 0.0, 60.0), straight(0.0, 0.0, -60.0));
    let found = sweep(&hole, &peg, &start, &down, 0.15, TOLERANCE);
    is_clear(&found, 0.15, clearance);
    assert!(found.queries < 20_000, "{found:?}");
    // The lower edge of the peg against the mouth, 10 below.
    let narrow = clearance + 0.001;
    let found = sweep(&hole, &peg, &start, &down, narrow, TOLERANCE).course;
    let Course::Blocked { clear_until, blocked_at, .. } = found else { panic!("{found:?}") };
    let truth = (10.0 - (narrow.powi(2) - clearance.powi(2)).sqrt()) / 60.0;
    assert!(clear_until <= truth && truth <= blocked_at + 1e-12, "{truth} {found:?}");
    // A degree off the axis it sticks.
    let tilted = at(0.0, 0.0, 60.0) * common::pose([0.03, 0.0, 0.0], [0.0; 3]);
    let found = sweep(&hole, &peg, &tilted, &down, 0.0, TOLERANCE).course;
    assert!(matches!(found, Course::Blocked { .. }), "{found:?}");
}

/// A ball whose lowest corner is `height` above a plate with its top at zero, along which it
/// slides for 40 mm.
fn slide(height: f64, need: f64) -> Course {
    let plate = solid(&block(80.0, 80.0, 5.0).transformed(&at(0.0, 0.0, -5.0)));
    let ball = solid(&sphere(10.0, 48, 24));
    let along = straight(40.0, 0.0, 0.0);
    sweep(&plate, &ball, &at(-20.0, 1.0, 10.0 + height), &along, need, TOLERANCE).course
}

#[test]
fn sliding_at_the_need_is_told_as_grazing() {
    for height in [1.0, 1.0 + 1e-6] {
        let found = slide(height, 1.0);
        let Course::Grazing { clear_until, near_at, seen_until, blocked_at } = found else {
            panic!("{height}: {found:?}")
        };
        assert!(clear_until <= near_at && near_at < 1e-3, "{found:?}");
        assert_eq!((seen_until, blocked_at), (1.0, None));
    }
    for height in [1.0 - 1e-6, 0.5] {
        let found = slide(height, 1.0);
        assert!(matches!(found, Course::BlockedAtStart(Block::TooNear(_))), "{found:?}");
    }
    for height in [1.0 + TOLERANCE / 16.0, 1.1] {
        let found = slide(height, 1.0);
        assert!(matches!(found, Course::Clear { at_least, .. } if at_least >= 1.0), "{found:?}");
    }
    // With no need to keep: a touch is a contact.
    assert!(matches!(slide(0.0, 0.0), Course::BlockedAtStart(Block::Overlapping)));
    assert!(matches!(slide(1e-6, 0.0), Course::Grazing { blocked_at: None, .. }));
    assert!(matches!(slide(TOLERANCE / 16.0, 0.0), Course::Clear { .. }));
}

/// A ball on a pendulum of 100 mm to its lowest corner swings past a plate that it misses by
/// `height` at the lowest point, at half the motion.
fn swing(height: f64, need: f64) -> Course {
    let plate = solid(&block(80.0, 80.0, 5.0).transformed(&at(0.0, 0.0, -105.0 - height)));
    let ball = solid(&sphere(10.0, 48, 24));
    let across = Motion::turn(Point3::origin(), Vector3::x(), 2.0).unwrap();
    let start = common::pose([-1.0, 0.0, 0.0], [0.0; 3]) * at(0.0, 0.0, -90.0);
    sweep(&plate, &ball, &start, &across, need, TOLERANCE).course
}

#[test]
fn swinging_past_at_the_need() {
    for height in [1.0 - 0.1, 1.0 - 1e-3, 1.0 - 1e-4, 1.0 - 1e-6] {
        let found = swing(height, 1.0);
        // Where the lowest corner, 100 cos below the pivot, is the need above the plate.
        let truth = 0.5 - ((99.0 + height) / 100.0).acos() / 2.0;
        match found {
            Course::Blocked { clear_until, blocked_at, .. } => {
                assert!(clear_until <= truth && truth <= blocked_at, "{height} {truth} {found:?}");
            }
            Course::Grazing { clear_until, .. } if height > 1.0 - 1e-5 => {
                assert!(clear_until <= truth, "{height} {truth} {found:?}");
            }
            _ => panic!("{height}: {found:?}"),
        }
    }
    let found = swing(1.0 + 1e-6, 1.0);
    let Course::Grazing { clear_until, blocked_at: None, .. } = found else { panic!("{found:?}") };
    assert!(clear_until < 0.5, "{found:?}");
    let found = swing(1.0 + TOLERANCE / 16.0, 1.0);
    assert!(matches!(found, Course::Clear { .. }), "{found:?}");
}

#[test]
fn grazing_ends_where_something_stands_in_the_way() {
    let mut mesh = block(80.0, 80.0, 5.0).transformed(&at(0.0, 0.0, -5.0));
    mesh.append(&block(1.0, 80.0, 20.0).transformed(&at(31.0, 0.0, 0.0)));
    let (plate, ball) = (solid(&mesh), solid(&sphere(10.0, 48, 24)));
    let start = at(-20.0, 1.0, 11.0 + 1e-6);
    let found = sweep(&plate, &ball, &start, &straight(60.0, 0.0, 0.0), 1.0, TOLERANCE).course;
    let Course::Grazing { clear_until, seen_until, blocked_at: Some(blocked), .. } = found else {
        panic!("{found:?}")
    };
    // The wall is at 30, the need 1 and the ball's side, a corner, at -10 + 10.
    let truth = (30.0 - 1.0 - 10.0 + 20.0) / 60.0;
    assert!(clear_until < 0.1 && seen_until < truth && truth <= blocked, "{found:?}");
    assert!((blocked - truth) * 60.0 <= TOLERANCE * 1.000_001, "{found:?}");
}

#[test]
fn a_body_within_another_is_blocked() {
    let (vessel, bead) = (solid(&sphere(50.0, 32, 16)), solid(&sphere(1.0, 16, 8)));
    let still = straight(0.0, 0.0, 0.0);
    let found = sweep(&vessel, &bead, &at(3.0, 0.0, 0.0), &still, 0.0, TOLERANCE).course;
    assert_eq!(found, Course::BlockedAtStart(Block::Overlapping));
    let found = sweep(&vessel, &bead, &at(90.0, 0.0, 0.0), &still, 3.0, TOLERANCE).course;
    assert!(matches!(found, Course::Clear { at_least, .. } if at_least >= 3.0), "{found:?}");
}

#[test]
fn what_cannot_be_told_is_said() {
    let (plate, ball) = (solid(&block(50.0, 50.0, 5.0)), solid(&sphere(10.0, 48, 24)));
    let (start, down) = (at(0.0, 0.0, 100.0), straight(0.0, 0.0, -90.0));
    let why = |a: &Solid, b: &Solid, start: &Isometry3<f64>, need: f64, tolerance: f64| match sweep(
        a, b, start, &down, need, tolerance,
    )
    .course
    {
        Course::CannotDecide { why, clear_until, .. } => {
            assert_eq!(clear_until, 0.0);
            why
        }
        other => panic!("{other:?}"),
    };
    assert_eq!(why(&plate, &ball, &start, f64::NAN, 0.01), WhyUndecided::BadNeed);
    assert_eq!(why(&plate, &ball, &start, f64::INFINITY, 0.01), WhyUndecided::BadNeed);
    for tolerance in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-12] {
        assert_eq!(why(&plate, &ball, &start, 0.0, tolerance), WhyUndecided::BadTolerance);
    }
    let nothing = solid(&Mesh::default());
    assert_eq!(why(&nothing, &ball, &start, 0.0, 0.01), Undecided::Empty.into());
    assert_eq!(why(&plate, &nothing, &start, 0.0, 0.01), Undecided::Empty.into());
    let nowhere = at(f64::NAN, 0.0, 0.0);
    assert_eq!(why(&plate, &ball, &nowhere, 0.0, 0.01), Undecided::BadPose.into());
    // A bowl open above: a bead in it can be neither in nor out, although nothing is met.
    let mut bowl = sphere(40.0, 32, 16);
    bowl.triangles.retain(|t| t.iter().all(|v| bowl.vertices[*v as usize].z < 1e-9));
    let (bowl, bead) = (solid(&bowl), solid(&sphere(1.0, 16, 8)));
    let found = sweep(&bowl, &bead, &at(0.0, 0.0, 60.0), &straight(0.0, 0.0, -70.0), 0.0, 0.01);
    let Course::CannotDecide { clear_until, at, why } = found.course else { panic!("{found:?}") };
    assert_eq!(why, WhyUndecided::Pose(Undecided::Open));
    assert!(!found.closed && clear_until > 0.5 && (at - clear_until) * 70.0 <= 0.010_001);
    assert!(Motion::straight(Vector3::new(f64::NAN, 0.0, 0.0)).is_err());
    assert!(Motion::turn(Point3::origin(), Vector3::zeros(), 1.0).is_err());
    assert!(Motion::screw(Point3::origin(), Vector3::x(), 1.0, f64::INFINITY).is_err());
}

#[test]
fn the_bound_of_a_turn_is_the_chord() {
    let bar = bar();
    let corner = 100.0_f64.hypot(2.0);
    let turn = screw(8.0 * TAU, 0.0).travel(&bar, &Isometry3::identity()).unwrap();
    let near = |x: f64, y: f64| (x - y).abs() < 1e-9 && x >= y;
    assert!(near(turn.between(0.0, 1.0 / 32.0), corner * 2.0_f64.sqrt()));
    assert!(near(turn.between(0.9, 0.2), 2.0 * corner));
    let screw = screw(FRAC_PI_2, 30.0).travel(&bar, &Isometry3::identity()).unwrap();
    assert!(near(screw.between(0.0, 1.0), (2.0 * corner * corner + 900.0).sqrt()));
}

fn closed() -> impl Strategy<Value = Mesh> {
    prop_oneof![
        Just(block(3.0, 2.0, 1.0)),
        Just(torus(4.0, 1.0, 24, 10)),
        Just(cylinder(1.5, 4.0, 16, 4)),
        Just(pipe(2.0, 3.0, 2.0, 20)),
        Just({
            let mut two = block(1.0, 1.0, 4.0);
            two.append(&torus(3.0, 0.8, 20, 8));
            two
        }),
    ]
}

fn any_pose(shift: f64) -> impl Strategy<Value = Isometry3<f64>> {
    (proptest::array::uniform3(-3.0..3.0_f64), proptest::array::uniform3(-shift..shift))
        .prop_map(|(turn, shift)| common::pose(turn, shift))
}

fn any_motion() -> impl Strategy<Value = Motion> {
    let number = || -1.0..1.0_f64;
    let vector = move || proptest::array::uniform3(-1.0..1.0_f64).prop_map(Vector3::from);
    let leg = (0..3, vector(), vector(), number(), number()).prop_map(|(kind, v, w, x, y)| {
        let (through, direction) = (Point3::from(v * 9.0), w + Vector3::new(0.0, 0.0, 1.01));
        match kind {
            0 => Motion::straight(v * 20.0),
            1 => Motion::turn(through, direction, x * 9.0),
            _ => Motion::screw(through, direction, x * 9.0, y * 15.0),
        }
        .unwrap()
    });
    proptest::collection::vec(leg, 1..4).prop_map(|legs| {
        let mut legs = legs.into_iter();
        let first = legs.next().unwrap();
        legs.fold(first, |all, leg| all.then(&leg))
    })
}

/// The least distance at many poses up to `until`, below zero where they overlap.
fn sampled(a: &Solid, b: &Solid, start: &Isometry3<f64>, m: &Motion, until: f64, need: f64) -> f64 {
    let mut least = f64::INFINITY;
    for k in 0..=400 {
        let pose = m.pose_at(until * f64::from(k) / 400.0) * start;
        let distance = match gap(a, b, &pose, need + 5.0) {
            Proximity::Apart(gap) => gap.distance,
            Proximity::AtLeast(cap) => cap,
            Proximity::Overlapping => -1.0,
            Proximity::CannotDecide(why) => panic!("{why}"),
        };
        least = least.min(distance);
    }
    least
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_sample_contradicts_a_sweep(
        a in closed(), b in closed(), start in any_pose(15.0), m in any_motion(),
        need in prop_oneof![Just(0.0), 0.0..1.5],
    ) {
        let (a, b) = (solid(&a), solid(&b));
        let found = sweep(&a, &b, &start, &m, need, TOLERANCE);
        let pose = |s: f64| m.pose_at(s) * start;
        let until = match found.course {
            Course::Clear { .. } => 1.0,
            Course::BlockedAtStart(_) => {
                prop_assert_eq!(clears(&a, &b, &start, need), Some(false));
                return Ok(());
            }
            Course::Blocked { clear_until, blocked_at, .. } => {
                let travel = m.travel(&b, &start).unwrap();
                prop_assert!(travel.between(clear_until, blocked_at) <= TOLERANCE);
                prop_assert_eq!(clears(&a, &b, &pose(blocked_at), need), Some(false));
                clear_until
            }
            Course::Grazing { clear_until, near_at, .. } => {
                prop_assert_eq!(clears(&a, &b, &pose(near_at), need), Some(true));
                let more = need + TOLERANCE / 15.0;
                prop_assert_eq!(clears(&a, &b, &pose(near_at), more), Some(false));
                clear_until
            }
            Course::CannotDecide { .. } => return Err(TestCaseError::fail(format!("{found:?}"))),
        };
        let least = sampled(&a, &b, &start, &m, until, need);
        prop_assert!(least >= need, "{} {:?}", least, found);
        if let Course::Clear { at_least, .. } = found.course {
            prop_assert!(at_least >= need && at_least <= least + 1e-9, "{} {:?}", least, found);
        }
        prop_assert_eq!(found, sweep(&a, &b, &start, &m, need, TOLERANCE));
    }

    #[test]
    fn no_point_outruns_its_bound(
        b in closed(), start in any_pose(15.0), m in any_motion(),
        s0 in 0.0..1.0_f64, s1 in 0.0..1.0_f64, way in 0.0..30.0_f64,
    ) {
        let body = solid(&b);
        let travel = m.travel(&body, &start).unwrap();
        let moved = |p: f64, q: f64| {
            let (p, q) = (m.pose_at(p) * start, m.pose_at(q) * start);
            b.vertices.iter().map(|v| (q * v - p * v).norm()).fold(0.0, f64::max)
        };
        for k in 0..=20 {
            let s = s0 + (s1 - s0) * f64::from(k) / 20.0;
            prop_assert!(moved(s0, s) <= travel.between(s0, s1) + 1e-10);
        }
        let (ahead, behind) = (travel.ahead(s0, way), travel.behind(s0, way));
        prop_assert!(behind <= s0 && s0 <= ahead);
        prop_assert!(travel.between(s0, ahead) <= way && travel.between(behind, s0) <= way);
        // Not wastefully short either.
        prop_assert!(ahead == 1.0 || travel.between(s0, ahead) >= way * 0.999);
        prop_assert!(behind == 0.0 || travel.between(s0, behind) >= way * 0.999);
    }

    #[test]
    fn no_point_outruns_the_bound_between_poses(
        b in closed(), p in any_pose(15.0), q in any_pose(15.0),
    ) {
        let body = solid(&b);
        let end = motion::end_bound(&body, &p, &q).unwrap();
        let way = motion::way_bound(&body, &p, &q).unwrap();
        let moved = |q: &Isometry3<f64>| {
            b.vertices.iter().map(|v| (q * v - p * v).norm()).fold(0.0, f64::max)
        };
        prop_assert!(moved(&q) <= end);
        for k in 0..=20 {
            let there = motion::on_the_way(&body, &p, &q, f64::from(k) / 20.0).unwrap();
            prop_assert!(moved(&there) <= way + 1e-12);
        }
        let there = motion::on_the_way(&body, &p, &q, 1.0).unwrap();
        prop_assert!(motion::end_bound(&body, &q, &there).unwrap() < 1e-9);
        // The end alone is bounded by the way and by the corners of the box.
        prop_assert!(end <= 2.0 * way + 1e-9);
    }

    #[test]
    fn no_pose_within_the_radius_is_blocked(
        a in closed(), b in closed(), pose in any_pose(9.0),
        need in prop_oneof![Just(0.0), 0.0..3.0],
        enough in prop_oneof![Just(f64::INFINITY), 0.0..4.0],
        steps in proptest::collection::vec((any_pose(1.0), 0.0..1.0_f64), 30),
    ) {
        let (a, b) = (solid(&a), solid(&b));
        match certified_clear(&a, &b, &pose, need, enough).unwrap() {
            None => prop_assert_eq!(clears(&a, &b, &pose, need), Some(false)),
            Some(radius) => {
                prop_assert!(radius <= enough);
                prop_assert_eq!(clears(&a, &b, &pose, need), Some(true));
                for (step, part) in steps {
                    let there = nearest_within(&b, &pose, &step, radius, part);
                    prop_assert!(motion::end_bound(&b, &pose, &there).unwrap() <= radius);
                    prop_assert_eq!(clears(&a, &b, &there, need), Some(true));
                }
            }
        }
    }

    #[test]
    fn no_pose_within_the_radius_is_free(
        a in closed(), b in closed(), pose in any_pose(4.0),
        steps in proptest::collection::vec((any_pose(1.0), 0.5..1.0_f64), 30),
    ) {
        let (a, b) = (solid(&a), solid(&b));
        match certified_blocked(&a, &b, &pose, f64::INFINITY).unwrap() {
            None => prop_assert_eq!(clears(&a, &b, &pose, 0.0), Some(true)),
            Some(radius) => {
                for (step, part) in steps {
                    let there = nearest_within(&b, &pose, &step, radius, part);
                    if motion::end_bound(&b, &pose, &there).unwrap() < radius {
                        prop_assert_eq!(clears(&a, &b, &there, 0.0), Some(false));
                    }
                }
                // The shortest way out is where it is tightest.
                let way_out = overlap(&a, &b, &pose).unwrap().way_out * (radius * (1.0 - 1e-9));
                let there = at(way_out.x, way_out.y, way_out.z) * pose;
                if radius > 0.0 {
                    prop_assert_eq!(clears(&a, &b, &there, 0.0), Some(false));
                }
            }
        }
    }
}

/// A pose from `pose` toward `step * pose`, as far as the radius lets it go and of that `part`,
/// found by halving.
fn nearest_within(
    b: &Solid,
    pose: &Isometry3<f64>,
    step: &Isometry3<f64>,
    radius: f64,
    part: f64,
) -> Isometry3<f64> {
    let goal = step * pose;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let there = motion::on_the_way(b, pose, &goal, middle).unwrap();
        if motion::end_bound(b, pose, &there).unwrap() <= radius {
            low = middle;
        } else {
            high = middle;
        }
    }
    // Most of them close to the rim, where it counts.
    let share = low * part.powf(0.1);
    let there = motion::on_the_way(b, pose, &goal, share).unwrap();
    if motion::end_bound(b, pose, &there).unwrap() <= radius { there } else { *pose }
}

#[test]
fn a_radius_is_as_large_as_the_gap_and_the_depth() {
    let (a, b) = (solid(&block(10.0, 10.0, 10.0)), solid(&block(1.0, 1.0, 1.0)));
    let radius = certified_clear(&a, &b, &at(16.0, 0.0, 0.0), 2.0, f64::INFINITY).unwrap().unwrap();
    assert!(radius <= 3.0 && radius > 3.0 - 1e-9);
    assert_eq!(certified_clear(&a, &b, &at(16.0, 0.0, 0.0), 2.0, 0.5), Ok(Some(0.5)));
    assert_eq!(certified_clear(&a, &b, &at(16.0, 0.0, 0.0), 5.5, 0.5), Ok(None));
    assert_eq!(certified_clear(&a, &b, &at(0.0, 0.0, 0.0), 0.0, 0.5), Ok(None));
    let radius = certified_blocked(&a, &b, &at(3.0, 0.0, 0.0), f64::INFINITY).unwrap().unwrap();
    assert!((radius - 8.0).abs() < 1e-9, "{radius}");
    assert_eq!(clears(&a, &b, &at(3.0 + radius, 0.0, 0.0), 0.0), Some(false));
    assert_eq!(clears(&a, &b, &at(3.0 + radius + 1e-6, 0.0, 0.0), 0.0), Some(true));
    assert_eq!(certified_blocked(&a, &b, &at(16.0, 0.0, 0.0), 1.0), Ok(None));
    let mut open = block(10.0, 10.0, 10.0);
    open.triangles.pop();
    let open = solid(&open);
    assert_eq!(certified_blocked(&open, &b, &at(10.0, 0.0, 0.0), 1.0), Err(Undecided::Open));
    let none = solid(&Mesh::default());
    assert_eq!(certified_clear(&none, &b, &at(9.0, 0.0, 0.0), 1.0, 1.0), Err(Undecided::Empty));
    assert_eq!(
        certified_clear(&a, &b, &at(9.0, 0.0, 0.0), f64::NAN, 1.0),
        Err(Undecided::BadPoint)
    );
}
