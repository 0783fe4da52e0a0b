//! Ways of pieces past obstacles against closed forms, and laws that every way found must keep. The
//! dimensions are invented.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

#[path = "../verdicts/support/chance.rs"]
#[expect(dead_code, reason = "other tests draw in more ways")]
mod chance;

use chance::Chance;
use fitup::path::simple::{Manner, Room};
use fitup::path::{Leg, NoWay, Obstacle, Pair, Passage, Piece, Proven, Route, let_down};
use gap::{Proximity, Solid};
use nalgebra::{Isometry3, Point2, Point3, Translation3, Vector3};
use solids::Mesh;
use solids::build::{ChordError, block, circle, cylinder, extrude};

/// Clearance asked for along the way.
const CLEARANCE: f64 = 1.0;
/// Deviation of each body.
const DEVIATION: f64 = 0.1;
/// What two bodies must be apart on their way.
const APART: f64 = CLEARANCE + 2.0 * DEVIATION;

fn slab(low: [f64; 3], high: [f64; 3]) -> Solid {
    Solid::new(&block(low.into(), high.into()).unwrap())
}

fn solid(mesh: &Mesh) -> Solid {
    Solid::new(mesh)
}

fn passage<'s>(piece: &'s Solid, at: Vector3<f64>, obstacles: &'s [Solid]) -> Passage<'s> {
    let piece = Piece {
        solid: piece,
        plate_from_piece: Translation3::from(at).into(),
        retreat: Vector3::zeros(),
        deviation: DEVIATION,
    };
    let pairs: Vec<Pair> =
        (0..obstacles.len()).map(|obstacle| Pair { piece: 0, obstacle, touches: false }).collect();
    let obstacles = obstacles
        .iter()
        .map(|solid| Obstacle {
            solid,
            plate_from_obstacle: Isometry3::identity(),
            deviation: DEVIATION,
        })
        .collect();
    Passage::new(vec![piece], obstacles, &pairs, CLEARANCE)
}

fn find(
    piece: &Solid,
    at: Vector3<f64>,
    obstacles: &[Solid],
) -> Result<(Manner, Route, Proven), NoWay> {
    let mut passage = passage(piece, at, obstacles);
    let bounds = passage.bounds().unwrap();
    let all = passage.bounds_of_obstacles(|_| true).unwrap();
    let top = (all.high.z - bounds.low.z).max(0.0) + 10.0;
    let room = Room { top, over: top, away: vec![], far: 0.0 };
    let forward = Vector3::x_axis();
    let found = let_down(&mut passage, vec![], &room, &bounds, Some(&forward), true);
    if let Ok((_, route, proven)) = &found {
        assert!(proven.clearance <= CLEARANCE);
        keeps_clear(piece, at, obstacles, route, proven.clearance + 2.0 * DEVIATION);
    }
    found
}

/// By brute force: at many poses of a way, out and back in, the piece is as far from every obstacle
/// as was proven.
fn keeps_clear(piece: &Solid, at: Vector3<f64>, obstacles: &[Solid], route: &Route, apart: f64) {
    let inward = route.inward();
    let far = route.displacement_at(1.0);
    for step in 0..=400 {
        let s = f64::from(step) / 400.0;
        let out = route.displacement_at(s);
        let back = inward.displacement_at(1.0 - s) * far;
        let off = out.inverse() * back;
        assert!(off.translation.vector.norm() < 1e-9 && off.rotation.angle() < 1e-9);
        for obstacle in obstacles {
            let pose = back * Translation3::from(at);
            match gap::gap(obstacle, piece, &pose, apart + 1.0) {
                Proximity::AtLeast(_) => {}
                Proximity::Apart(gap) => {
                    assert!(gap.distance >= apart - 1e-9, "{s}: {} {apart}", gap.distance);
                }
                other => panic!("{s}: {other:?}"),
            }
        }
    }
}

/// The value between two from which on `holds`, to a twentieth.
fn least(mut no: f64, mut yes: f64, holds: impl Fn(f64) -> bool) -> f64 {
    assert!(holds(yes) && !holds(no), "{no} to {yes} is no place to look");
    while (yes - no).abs() > 0.05 {
        let middle = 0.5 * (no + yes);
        if holds(middle) { yes = middle } else { no = middle }
    }
    0.5 * (no + yes)
}

/// A round body goes through a round hole in line with it when the radii differ by the clearance.
#[test]
fn a_cup_goes_through_a_round_opening_when_the_radii_differ_by_the_clearance() {
    let chord = ChordError::from_mm(0.005).unwrap();
    let hole = circle(Point2::origin(), 100.0, chord);
    let outline = [[-300.0, -300.0], [300.0, -300.0], [300.0, 300.0], [-300.0, 300.0]];
    let roof = extrude(&outline.map(Point2::from), &[hole], 0.0, 60.0).unwrap();
    let obstacles = [solid(&roof)];
    let down = Route(vec![Leg::Straight(Vector3::new(0.0, 0.0, 200.0))]);
    let goes = |radius: f64| {
        let (low, high) = (Point3::new(0.0, 0.0, -90.0), Point3::new(0.0, 0.0, -30.0));
        let cup = solid(&cylinder(low, high, radius, chord).unwrap());
        passage(&cup, Vector3::zeros(), &obstacles).prove(&down).is_ok()
    };
    let greatest = least(101.0, 95.0, goes);
    assert!((greatest - (100.0 - APART)).abs() < 0.05, "{greatest}");
}

/// A rod of length l and thickness t, tilted by q, is l cos q + t sin q long seen from above: so wide
/// must the opening be, with the clearance on both sides. 45 degrees is the most that is tried; the
/// roof is so thick that a steeper way by search does not help.
#[test]
fn a_rod_longer_than_the_opening_goes_through_tilted() {
    let (length, thick) = (200.0, 8.0);
    let rod = slab([-100.0, -10.0, -4.0], [100.0, 10.0, 4.0]);
    let tilt = 45.0_f64.to_radians();
    let exact = length * tilt.cos() + thick * tilt.sin() + 2.0 * APART;
    let manner = |wide: f64| {
        let half = 0.5 * wide;
        let roof = [
            slab([-500.0, -400.0, 0.0], [-half, 400.0, 20.0]),
            slab([half, -400.0, 0.0], [500.0, 400.0, 20.0]),
        ];
        find(&rod, Vector3::new(0.0, 0.0, -150.0), &roof).map(|(manner, ..)| manner)
    };
    let narrowest = least(140.0, 190.0, |wide| manner(wide) == Ok(Manner::Tilted));
    assert!((narrowest - exact).abs() < 0.05, "{narrowest} {exact}");
    assert_eq!(manner(length + 2.0 * APART + 0.1), Ok(Manner::Down));
    assert_eq!(manner(length + 2.0 * APART - 0.1), Ok(Manner::Tilted));
}

/// A shelf over the place; beside it is free.
#[test]
fn a_box_under_a_shelf_goes_across_first() {
    let piece = slab([-15.0, -15.0, 0.0], [15.0, 15.0, 30.0]);
    let shelf = |gap: f64| {
        vec![
            slab([-500.0, -400.0, 80.0], [40.0, 400.0, 90.0]),
            slab([40.0 + gap, -400.0, 80.0], [500.0, 400.0, 90.0]),
        ]
    };
    // Sixty to the side it takes up 45 to 75.
    let found = find(&piece, Vector3::zeros(), &shelf(75.0 + APART - 40.0 + 0.1)).unwrap();
    assert_eq!(found.0, Manner::Across);
    // Narrower than the box: none, and what is in the way is told.
    let none = find(&piece, Vector3::zeros(), &shelf(25.0)).unwrap_err();
    assert!(none.searched && none.manner == Manner::Down);
    let stop = none.stop.unwrap();
    assert_eq!((stop.piece, stop.obstacle), (0, 0));
    // From 30 up to 80, less what is asked for.
    assert!((stop.progress - (50.0 - APART)).abs() < 0.05, "{}", stop.progress);
    assert!((stop.at.unwrap().z - 80.0).abs() < 1e-9);
}

/// The longest ladder that is carried round a corner between corridors of widths a and b is
/// (a^(2/3) + b^(2/3))^(3/2) long (a problem of any calculus course; from memory). Here the corridors
/// are a gallery in which a rod lies and a shaft up from its end: a shorter rod gets out, which no
/// simple way does, and a longer one never does.
#[test]
fn a_ladder_in_a_gallery_is_found_a_way_round_the_corner_by_search() {
    let (gallery, shaft) = (100.0_f64, 100.0_f64);
    let power = 2.0 / 3.0;
    let longest = (gallery.powf(power) + shaft.powf(power)).powf(1.5);
    let walls = [
        slab([-700.0, -700.0, -20.0], [700.0, 700.0, 0.0]),
        slab([-700.0, -700.0, gallery], [0.0, 700.0, gallery + 150.0]),
        slab([shaft, -700.0, 0.0], [700.0, 700.0, gallery + 150.0]),
    ];
    let carried = |length: f64| {
        let rod = slab([-0.5 * length, -4.0, -2.0], [0.5 * length, 4.0, 2.0]);
        let at = Vector3::new(shaft - 10.0 - 0.5 * length, 0.0, 0.5 * gallery);
        find(&rod, at, &walls)
    };
    let (manner, route, _) = carried(0.75 * longest).unwrap();
    assert_eq!(manner, Manner::Searched);
    assert!(route.0.len() >= 3);
    assert_eq!(carried(0.75 * longest).unwrap().1, route, "not the same twice");
    assert!(carried(1.02 * longest).unwrap_err().searched);
}

/// In a closed room there is none; with the roof off there is, and again not with it on.
#[test]
fn a_closed_room_has_no_way_out_and_one_without_a_roof_has() {
    let piece = slab([-20.0, -20.0, -20.0], [20.0, 20.0, 20.0]);
    let mut walls = vec![
        slab([-100.0, -100.0, -110.0], [100.0, 100.0, -100.0]),
        slab([-110.0, -110.0, -110.0], [-100.0, 110.0, 110.0]),
        slab([100.0, -110.0, -110.0], [110.0, 110.0, 110.0]),
        slab([-110.0, -110.0, -110.0], [110.0, -100.0, 110.0]),
        slab([-110.0, 100.0, -110.0], [110.0, 110.0, 110.0]),
    ];
    let way = |walls: &[Solid]| find(&piece, Vector3::zeros(), walls).map(|(manner, ..)| manner);
    assert_eq!(way(&walls), Ok(Manner::Down));
    walls.push(slab([-110.0, -110.0, 100.0], [110.0, 110.0, 110.0]));
    assert!(way(&walls).is_err());
    walls.pop();
    assert_eq!(way(&walls), Ok(Manner::Down));
}

/// A piece that stands nearer at its place than is asked for on the way keeps half of what it has
/// there; one that is nearer than the deviations has no way.
#[test]
fn beside_a_wall_half_of_what_is_left_at_the_place_is_proven() {
    let piece = slab([0.0, -20.0, 0.0], [20.0, 20.0, 20.0]);
    let wall = |gap: f64| [slab([-50.0, -100.0, -50.0], [-gap, 100.0, 200.0])];
    let left = |gap: f64| find(&piece, Vector3::zeros(), &wall(gap)).map(|found| found.2.clearance);
    let half = |gap: f64| 0.5 * (gap - 2.0 * DEVIATION);
    for gap in [0.3, 0.8, 1.5] {
        assert!((left(gap).unwrap() - half(gap)).abs() < 1e-6, "{gap}");
    }
    assert!((left(3.0).unwrap() - CLEARANCE).abs() < 1e-9);
    assert!(left(0.19).is_err());
}

/// Pieces among blocks at random: whatever way is found is clear by brute force (see `find`), a way
/// stays one where an obstacle goes, and what was in the way was there.
#[test]
fn ways_among_random_blocks_are_clear() {
    let mut chance = Chance::new(7);
    let mut found = 0;
    for case in 0..40 {
        let mut blocks = Vec::new();
        for _ in 0..chance.below(12) + 3 {
            let low = [
                chance.between(-120.0, 80.0),
                chance.between(-120.0, 80.0),
                chance.between(-40.0, 150.0),
            ];
            let size =
                [chance.between(5.0, 90.0), chance.between(5.0, 90.0), chance.between(5.0, 40.0)];
            let high = [low[0] + size[0], low[1] + size[1], low[2] + size[2]];
            // Not where the piece belongs.
            let clear = |i: usize, half: f64| low[i] > half + 3.0 || high[i] < -half - 3.0;
            if clear(0, 30.0) || clear(1, 8.0) || clear(2, 8.0) {
                blocks.push(slab(low, high));
            }
        }
        if blocks.is_empty() {
            continue;
        }
        let piece = slab([-30.0, -8.0, -8.0], [30.0, 8.0, 8.0]);
        match find(&piece, Vector3::zeros(), &blocks) {
            Ok((_, route, _)) => {
                found += 1;
                blocks.pop();
                assert!(passage(&piece, Vector3::zeros(), &blocks).prove(&route).is_ok(), "{case}");
            }
            Err(none) => {
                let stop = none.stop.unwrap();
                let at = stop.at.unwrap();
                let near = gap::nearest_point(&blocks[stop.obstacle], &at, 1.0);
                assert!(near.unwrap().is_some_and(|near| near.distance < 1e-6), "{case}");
            }
        }
    }
    assert!(found >= 20, "{found}");
}
