//! Every check on a layout whose gaps are plain arithmetic: one case in order, one that breaks the
//! rule, and the data missing. Blocks and cylinders, so the expected values are closed forms; the
//! dimensions are invented.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

#[path = "../support/between_walls.rs"]
mod between_walls;
mod installation;
#[path = "../support/sample_kit.rs"]
mod sample_kit;

use assembly::car_top::{BodyId, CarTop, Fitting, FittingKind, LidState, Removable};
use assembly::kit::{Kit, PartKind};
use assembly::placement::Removed;
use assembly::rig::{RigPart, seat_height};
use assembly::{Choice, Placement};
use between_walls::{post, slab};
use fitup::search::{TurnEffort, bearings_overall};
use fitup::{
    Assessment, Check, Effort, Margin, Part, Rule, Scene, Situation, Verdict, assess, plan_spacing,
    study_cup,
};
use measure::Angle;
use nalgebra::{Point2, Point3, Vector2};
use solids::build::{ChordError, cylinder};
use solids::{Mesh, volume};

struct Layout {
    car: CarTop,
    kit: Kit,
    placement: Placement,
}

impl Layout {
    /// One fitting of radius 70 and height 220 in the middle of a plate, between two end walls.
    fn new() -> Self {
        let mut kit = sample_kit::sample_kit();
        kit.bar.length.nominal = 840.0;
        let mut layout = Self {
            car: between_walls::car(),
            placement: Placement {
                cup_offset: Vector2::zeros(),
                outlet_bearing: Angle::from_degrees(90.0),
                elbow_turn: Angle::from_degrees(30.0),
                foot_shift: [0.0, 0.0],
                link_thickness: [[0, 0], [0, 0]],
                link_hole: [0, 0],
                bar_slide: 0.0,
                // Lower pin 110, hole 240, saddle 25 up.
                screw_extension: 375.0 - seat_height(&kit, &kit.cups[0], &kit.gaskets[0]),
                lid_opening: Angle::ZERO,
            },
            kit,
        };
        layout.fitting("V1", 0.0, 0.0, 70.0, 220.0);
        layout
    }

    fn add(&mut self, kind: PartKind, name: &str, mesh: Mesh) -> BodyId {
        between_walls::add(&mut self.car, kind, name, mesh)
    }

    fn fitting(&mut self, name: &str, x: f64, y: f64, radius: f64, height: f64) {
        let body = self.add(PartKind::Fitting, name, post(x, y, radius, height));
        self.car.fittings.push(Fitting {
            name: name.into(),
            kind: FittingKind::BlindFlange,
            size: "2 in".into(),
            centre: Point2::new(x, y),
            flange: 2.0 * radius,
            bodies: vec![body],
            removables: vec![],
        });
    }

    fn assess(&self) -> Assessment {
        let scene = Scene::new(&self.car, &self.kit).unwrap();
        let choice = Choice { fitting: 0, cup: 0, ports: [0, 1], removed: vec![] };
        assess(&Situation::new(&scene, &choice, &self.placement).unwrap())
    }

    /// The least margin of one rule in one check, against one body if named.
    fn margin(&self, check: Check, rule: Rule, against: Option<&str>) -> Margin {
        let assessment = self.assess();
        let found = assessment.outcomes.iter().find(|o| o.check == check).unwrap();
        let named = |part: Part| match part {
            Part::Car(id) => Some(self.car.body(id).body.name.as_str()),
            Part::Rig(_) => None,
        };
        found
            .margins
            .iter()
            .find(|m| m.rule == rule && against.is_none_or(|name| named(m.b) == Some(name)))
            .unwrap_or_else(|| panic!("no {rule:?} in {found:?}"))
            .clone()
    }
}

#[track_caller]
fn holds(margin: &Margin, expected: f64) {
    let m = margin.measured;
    assert!(m.low - 1e-9 <= expected && expected <= m.high + 1e-9, "{expected} is not in {m:?}");
    assert!(m.high - m.low < 3.0, "{m:?} is too wide to say anything");
}

#[test]
fn the_layout_fits_with_the_gaps_of_arithmetic() {
    let layout = Layout::new();
    let assessment = layout.assess();
    assert_eq!(assessment.undecided().count(), 0);
    let least = assessment.least().unwrap();
    assert!(least.low > 0.0, "{:?}", assessment.limit());
    let margin = |check, rule, against| layout.margin(check, rule, against);
    // Gasket's inside 168 about 140; cup's inside 190; crown 6.5 + 260 above 220.
    holds(&margin(Check::Cover, Rule::Gap, Some("V1")), 14.0);
    holds(&margin(Check::Cover, Rule::Cavity, Some("V1")), 25.0);
    holds(&margin(Check::Land, Rule::SealWidth, Some("plate")), 32.0);
    holds(&margin(Check::Land, Rule::Flatness, Some("plate")), 0.0);
    // Foot 38 deep in a wall of 20.
    holds(&margin(Check::Links, Rule::Gap, Some("walls")), 9.0);
    holds(&margin(Check::Feet, Rule::FootInPort, None), 20.0);
    // Bar 840 over walls 680 apart outside; 9 + 25.4 to the outside link's face, 40 of solid end.
    holds(&margin(Check::Bar, Rule::Overhang, None), 80.0 - 9.0 - 25.4 - 40.0);
    holds(&margin(Check::Bar, Rule::OverhangDifference, None), 0.0);
    holds(&margin(Check::Screw, Rule::Travel, None), 375.0 - 300.5 - 60.0);
    holds(&margin(Check::Screw, Rule::ScrewOffset, None), 0.0);
}

#[test]
fn cover_breaks_on_a_fitting_too_wide_or_too_tall() {
    for (radius, height, measured) in [(96.0, 220.0, -1.0), (70.0, 270.0, -3.5)] {
        let mut layout = Layout::new();
        layout.car.bodies[2].body.mesh = post(0.0, 0.0, radius, height);
        let broken = layout.margin(Check::Cover, Rule::Cavity, Some("V1"));
        holds(&broken, measured);
        assert!(broken.margin.high < 0.0);
    }
}

#[test]
fn cover_breaks_on_a_piece_that_floats_above_the_crown() {
    // It has a gap to the cup, but it is not under it.
    let mut layout = Layout::new();
    let floating = slab([-10.0, -10.0, 330.0], [10.0, 10.0, 335.0]);
    layout.car.bodies[2].body.mesh.append(&floating);
    assert!(layout.margin(Check::Cover, Rule::Cavity, Some("V1")).margin.high < 0.0);
}

#[test]
fn land_breaks_on_a_stud_a_step_and_the_plates_edge() {
    let mut layout = Layout::new();
    let stud = layout.add(PartKind::Stud, "stud", post(0.0, -122.0, 4.0, 20.0));
    layout.car.studs = Some(vec![stud]);
    let near = layout.margin(Check::Land, Rule::Gap, Some("stud"));
    holds(&near, 2.0);
    layout.car.bodies[stud.0].body.mesh = post(0.0, -110.0, 4.0, 20.0);
    assert!(layout.margin(Check::Land, Rule::Gap, Some("stud")).margin.high < 0.0);

    let mut layout = Layout::new();
    let mut stepped = slab([-420.0, -420.0, -50.0], [0.0, 420.0, 0.0]);
    stepped.append(&slab([0.0, -420.0, -50.0], [420.0, 420.0, -6.0]));
    layout.car.bodies[0].body.mesh = stepped;
    assert!(layout.margin(Check::Land, Rule::Flatness, None).margin.high < 0.0);

    let mut layout = Layout::new();
    layout.car.bodies[0].body.mesh = slab([-420.0, -420.0, -50.0], [420.0, 88.0, 0.0]);
    // Toward +y the gasket (84 to 116) has 4 mm of plate.
    let edge = layout.margin(Check::Land, Rule::SealWidth, None);
    holds(&edge, 4.0);
    assert!(edge.margin.high < 0.0, "{edge:?}");
}

#[test]
fn a_dropped_plate_edge_is_seen_all_the_way_to_its_width() {
    let mut layout = Layout::new();
    layout.car.bodies[0].body.mesh = slab([-420.0, -420.0, -50.0], [420.0, 100.0, 0.0]);
    let edge = layout.margin(Check::Land, Rule::SealWidth, None);
    holds(&edge, 16.0);
    assert!(edge.margin.low > 0.0);
}

#[test]
fn land_is_told_of_an_open_plate_where_it_is_seen_under_the_gasket() {
    let of_land = |layout: &Layout| {
        let outcomes = layout.assess().outcomes;
        outcomes.into_iter().find(|o| o.check == Check::Land).unwrap().undecided
    };
    // Without one triangle of its underside.
    let mut layout = Layout::new();
    let plate = &mut layout.car.bodies[0].body.mesh;
    let under =
        |plate: &Mesh, t: &[u32; 3]| t.iter().all(|v| plate.vertices[*v as usize].z < -49.0);
    let open = plate.triangles.iter().position(|t| under(plate, t)).unwrap();
    plate.triangles.remove(open);
    assert_eq!(of_land(&layout), []);
    holds(&layout.margin(Check::Land, Rule::SealWidth, Some("plate")), 32.0);
    // Without one of its upper face, which has two.
    let plate = &mut layout.car.bodies[0].body.mesh;
    let upper = |t: &[u32; 3]| t.iter().all(|v| plate.vertices[*v as usize].z > -1.0);
    let open = plate.triangles.iter().position(upper).unwrap();
    plate.triangles.remove(open);
    let told = of_land(&layout);
    assert!(told.iter().any(|u| u.reason.contains("not seen everywhere")), "{told:?}");
    let width = layout.margin(Check::Land, Rule::SealWidth, Some("plate")).margin;
    assert!(width.low < 0.0 && width.high > 0.0, "{width:?}");
}

#[test]
fn land_sees_a_groove_narrower_than_any_step_of_a_search() {
    // 0.4 mm wide, 5 mm deep, from the fitting to the plate's edge.
    let mut layout = Layout::new();
    let mut grooved = slab([-420.0, -420.0, -50.0], [420.0, -0.2, 0.0]);
    grooved.append(&slab([-420.0, 0.2, -50.0], [420.0, 420.0, 0.0]));
    grooved.append(&slab([-420.0, -0.2, -50.0], [80.0, 0.2, 0.0]));
    grooved.append(&slab([80.0, -0.2, -50.0], [420.0, 0.2, -5.0]));
    layout.car.bodies[0].body.mesh = grooved;
    assert!(layout.margin(Check::Land, Rule::SealWidth, None).margin.high < 0.0);
    assert!(layout.margin(Check::Land, Rule::Flatness, None).margin.high < 0.0);
}

#[test]
fn neighbours_in_order_and_broken() {
    let mut layout = Layout::new();
    layout.fitting("V2", 0.0, -160.0, 40.0, 200.0);
    // Gasket's outside 116.
    holds(&layout.margin(Check::Neighbours, Rule::Gap, Some("V2")), 4.0);
    layout.car.bodies[3].body.mesh = post(0.0, -145.0, 40.0, 200.0);
    assert!(layout.margin(Check::Neighbours, Rule::Gap, Some("V2")).margin.high < 0.0);
}

#[test]
fn housing_in_order_and_broken() {
    let mut layout = Layout::new();
    // A rib beside the cup, whose outside is 105 in radius, above the gasket.
    let rib = layout.add(PartKind::Housing, "rib", slab([-5.0, -125.0, 50.0], [5.0, -110.0, 80.0]));
    layout.car.housing.push(rib);
    holds(&layout.margin(Check::Housing, Rule::Gap, Some("rib")), 5.0);
    layout.car.bodies[rib.0].body.mesh = slab([-5.0, -125.0, 50.0], [5.0, -100.0, 80.0]);
    let broken = layout.margin(Check::Housing, Rule::Gap, Some("rib"));
    assert!(broken.margin.high < 0.0 && broken.measured.low <= -5.0 + 1.5);
}

#[test]
fn bar_broken_by_what_is_under_it_and_by_uneven_overhang() {
    let mut layout = Layout::new();
    // Bar's underside 375.
    let rib =
        layout.add(PartKind::Housing, "rib", slab([200.0, -60.0, 330.0], [210.0, 60.0, 370.0]));
    layout.car.housing.push(rib);
    holds(&layout.margin(Check::Bar, Rule::Gap, Some("rib")), 5.0);
    layout.car.bodies[rib.0].body.mesh = slab([200.0, -60.0, 330.0], [210.0, 60.0, 380.0]);
    assert!(layout.margin(Check::Bar, Rule::Gap, Some("rib")).margin.high < 0.0);

    let mut layout = Layout::new();
    layout.placement.bar_slide = 4.0;
    let uneven = layout.margin(Check::Bar, Rule::OverhangDifference, None);
    holds(&uneven, 8.0);
    assert!(uneven.margin.high < 0.0);
}

/// Two rails of 25.4 run 5 deep over a rib of 10: 2 * 25.4 * 5 * 10 mm3.
#[test]
fn what_bar_and_rib_share_is_drawn_where_both_are_closed() {
    let mut layout = Layout::new();
    let slab = slab([200.0, -60.0, 330.0], [210.0, 60.0, 380.0]);
    let rib = layout.add(PartKind::Housing, "rib", slab);
    let meeting = |layout: &Layout| {
        let scene = Scene::new(&layout.car, &layout.kit).unwrap();
        let choice = Choice { fitting: 0, cup: 0, ports: [0, 1], removed: vec![] };
        let situation = Situation::new(&scene, &choice, &layout.placement).unwrap();
        let bar = Part::Rig(RigPart::Bar);
        assert_eq!(situation.meeting(bar, Part::Car(layout.car.plate)), None);
        situation.meeting(bar, Part::Car(rib)).unwrap()
    };
    let found = meeting(&layout);
    let shared = found.shared.unwrap();
    assert!((volume(&shared) - 2540.0).abs() < 1e-6, "{}", volume(&shared));
    let (low, high) = shared.bounds().unwrap();
    assert!((low - Point3::new(200.0, -52.4, 375.0)).norm() < 1e-9, "{low}");
    assert!((high - Point3::new(210.0, 52.4, 380.0)).norm() < 1e-9, "{high}");
    assert_eq!(found.lines.len(), 2);
    assert!(found.lines.iter().all(|line| line.closed));
    // Without a triangle of its underside it is not known what is inside.
    let triangles = &mut layout.car.bodies[rib.0].body.mesh;
    let at = |v: &u32| triangles.vertices[*v as usize].z < 331.0;
    let under = triangles.triangles.iter().position(|t| t.iter().all(at)).unwrap();
    triangles.triangles.remove(under);
    let open = meeting(&layout);
    assert_eq!((open.lines.len(), open.shared), (2, None));
}

#[test]
fn links_at_a_hinge_pin_need_the_thin_one() {
    let mut layout = Layout::new();
    // Outside link at P0: from 349 outward; a pin at 370, 4 in radius, leaves 17.
    let chord = ChordError::from_mm(0.01).unwrap();
    let (from, to) = (Point3::new(370.0, -80.0, 300.0), Point3::new(370.0, 80.0, 300.0));
    let pin = layout.add(PartKind::Hinge, "hinge pin", cylinder(from, to, 4.0, chord).unwrap());
    layout.car.hinge = Some(vec![pin]);
    assert!(layout.margin(Check::Links, Rule::Gap, Some("hinge pin")).margin.high < 0.0);
    layout.placement.link_thickness = [[0, 2], [0, 0]];
    holds(&layout.margin(Check::Links, Rule::Gap, Some("hinge pin")), 17.0 - 12.7);
}

#[test]
fn links_lean_with_a_bar_out_of_level() {
    let mut layout = Layout::new();
    layout.placement.link_hole = [1, 0];
    let lean = layout.margin(Check::Links, Rule::Lean, None);
    holds(&lean, 30.0 * 270.0 / 660.0);
    assert!(lean.margin.high < 0.0);
    let level = layout.margin(Check::Screw, Rule::Level, None);
    holds(&level, 30.0);
    assert!(level.margin.high < 0.0);
}

#[test]
fn feet_shifted_past_the_ports_side_and_out_of_square() {
    let mut layout = Layout::new();
    layout.placement.foot_shift = [21.0, -21.0];
    let side = layout.margin(Check::Feet, Rule::FootInPort, None);
    holds(&side, -1.0);
    assert!(side.margin.high < 0.0);
    // The mesh agrees: the foot runs into the wall beside the port.
    layout.placement.foot_shift = [22.5, -22.5];
    assert!(layout.margin(Check::Feet, Rule::Contact, Some("walls")).margin.high < 0.0);

    let mut layout = Layout::new();
    layout.placement.foot_shift = [18.0, 18.0];
    let skew = layout.margin(Check::Feet, Rule::Skew, None);
    holds(&skew, 30.0 * (36.0_f64 / 660.0).atan().sin());
    assert!(skew.margin.high < 0.0);
}

#[test]
fn a_pin_needs_room_to_be_pushed_in() {
    let mut layout = Layout::new();
    // Head of the lower pin at 330 + 19 + 25.4 + 5.1; its path reaches 173.5 beyond.
    let rail =
        layout.add(PartKind::Housing, "rail", slab([450.0, -50.0, 90.0], [460.0, 50.0, 130.0]));
    layout.car.housing.push(rail);
    let blocked = layout.margin(Check::Feet, Rule::Gap, Some("rail"));
    assert_eq!(blocked.a, Part::Rig(RigPart::LowerPinPath(assembly::placement::End::A)));
    assert!(blocked.margin.high < 0.0);
}

#[test]
fn screw_off_the_axis_and_out_of_travel() {
    let mut layout = Layout::new();
    layout.placement.cup_offset = Vector2::new(0.0, 5.0);
    let offset = layout.margin(Check::Screw, Rule::ScrewOffset, None);
    holds(&offset, 5.0);
    assert!(offset.margin.high < 0.0);

    let mut layout = Layout::new();
    layout.placement.screw_extension = 55.0;
    let travel = layout.margin(Check::Screw, Rule::Travel, None);
    holds(&travel, -5.0);
    assert!(travel.margin.high < 0.0);
    // The ball then floats above the seat it should press on.
    assert!(layout.margin(Check::Screw, Rule::Contact, None).margin.high < 0.0);
}

#[test]
fn missing_lid_hinge_or_surface_is_undecided_and_never_passed() {
    let undecided =
        |layout: &Layout| -> Vec<Check> { layout.assess().undecided().map(|u| u.check).collect() };
    let mut layout = Layout::new();
    layout.car.lid = LidState::Unknown;
    assert_eq!(undecided(&layout), [Check::Housing, Check::Bar, Check::Links, Check::Screw]);

    let mut layout = Layout::new();
    layout.car.hinge = None;
    assert_eq!(undecided(&layout), [Check::Housing, Check::Bar, Check::Links, Check::Screw]);

    let mut layout = Layout::new();
    layout.car.studs = None;
    assert_eq!(undecided(&layout), [Check::Land, Check::Neighbours, Check::Links, Check::Feet]);

    let mut layout = Layout::new();
    layout.car.bodies[2].body.mesh.triangles.truncate(30);
    assert!(undecided(&layout).contains(&Check::Cover));
}

#[test]
fn plan_check_sees_flange_edges_studs_and_walls_from_above() {
    let mut layout = Layout::new();
    layout.fitting("V2", 0.0, -160.0, 40.0, 200.0);
    let stud = layout.add(PartKind::Stud, "stud", post(0.0, 100.0, 4.0, 20.0));
    layout.car.studs = Some(vec![stud]);
    let plan = plan_spacing(&layout.car, 0).unwrap();
    let spacing = |name: &str| plan.iter().find(|p| p.name == name).unwrap().spacing;
    assert!((spacing("V2 flange") - 50.0).abs() < 1e-9);
    assert!((spacing("stud") - 26.0).abs() < 0.02);
    assert!((spacing("walls") - 250.0).abs() < 1e-9);
    assert_eq!(plan[0].name, "stud");
    assert!(plan_spacing(&layout.car, 9).is_none());
}

/// A neighbour with a wheel in the cup's way and a cap that is not, coming off in this order.
fn neighbour_with(order: [&str; 2]) -> Layout {
    let mut layout = Layout::new();
    layout.fitting("V2", 0.0, -175.0, 30.0, 200.0);
    let wheel = slab([-90.0, -260.0, 210.0], [90.0, -90.0, 220.0]);
    let cap = slab([-20.0, -195.0, 225.0], [20.0, -155.0, 235.0]);
    for name in order {
        let mesh = if name == "wheel" { wheel.clone() } else { cap.clone() };
        let body = layout.add(PartKind::Fitting, name, mesh);
        layout.car.fittings[1].removables.push(Removable { name: name.into(), body });
    }
    layout
}

#[test]
fn the_least_set_leaves_on_what_need_not_come_off_and_keeps_the_order() {
    for (order, expected) in [(["wheel", "cap"], 1), (["cap", "wheel"], 2)] {
        let layout = neighbour_with(order);
        let scene = Scene::new(&layout.car, &layout.kit).unwrap();
        let study = study_cup(&scene, &Effort::default(), 0, 0);
        assert_eq!(study.verdict, Verdict::FitsAfterRemoval, "{:?}", study.reasons);
        let removed = study.choice.unwrap().removed;
        let pieces: Vec<_> = (0..expected).map(|i| Removed { fitting: 1, removable: i }).collect();
        assert_eq!(removed, pieces, "{order:?}");
    }
}

#[test]
fn nothing_comes_off_where_nothing_is_in_the_way() {
    let layout = Layout::new();
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let study = study_cup(&scene, &Effort::default(), 0, 0);
    assert_eq!(study.verdict, Verdict::Fits, "{:?}", study.reasons);
}

#[test]
fn a_fitting_with_one_port_or_none_cannot_be_told() {
    let mut layout = Layout::new();
    layout.car.ports.truncate(1);
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    assert_eq!(study_cup(&scene, &Effort::default(), 0, 0).verdict, Verdict::CannotTell);
}

/// The placement found, its least margin and the proven bound, with the middle of the margins of the
/// pair that limits.
fn best(layout: &Layout) -> (Placement, f64, f64, f64) {
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    let study = study_cup(&scene, &Effort::default(), 0, 0);
    let assessment = study.assessment.unwrap();
    let limit = assessment.limit().unwrap().margin;
    let least = assessment.least().unwrap().low;
    (study.placement.unwrap(), least, study.upper_bound, limit.middle())
}

/// The largest circle between three round posts has its centre as far from each: with two at
/// (a, ±b) and one at (c, 0), of one radius, at x = (c² - a² - b²) / 2 (c - a).
#[test]
fn a_round_cup_between_round_neighbours_stands_in_the_largest_circle() {
    for (a, b, c, radius) in [(-170.0, 60.0, 190.0, 65.0), (-150.0, 90.0, 186.0, 59.0)] {
        let mut layout = Layout::new();
        layout.car.bodies[2].body.mesh = post(0.0, 0.0, 20.0, 220.0);
        for (i, (x, y)) in [(a, b), (a, -b), (c, 0.0)].into_iter().enumerate() {
            layout.fitting(&format!("N{i}"), x, y, radius, 60.0);
        }
        let x: f64 = (c * c - a * a - b * b) / (2.0 * (c - a));
        // The gasket's outside is 116 in radius, the need 1.
        let exact = c - x - radius - 116.0 - 1.0;
        assert!(exact > 1.0 && exact < 5.0, "something else would limit: {exact}");
        let (placement, least, bound, middle) = best(&layout);
        assert!((middle - exact).abs() < 0.1, "{middle} {exact}");
        assert!(least <= bound && bound - least <= 0.1 + 1e-9, "{least} {bound}");
        let at = placement.cup_offset;
        assert!((at.x - x).abs() < 0.15 && at.y.abs() < 1.0, "{at} {x}");
    }
}

/// Between two posts square to the ports' line a bar of width w has (distance - w) / 2 on each side
/// when it lies midway.
#[test]
fn a_bar_between_two_posts_lies_midway() {
    let mut layout = Layout::new();
    for (i, y) in [80.0, -76.0].into_iter().enumerate() {
        layout.fitting(&format!("T{i}"), 200.0, y, 20.0, 440.0);
    }
    // Slot 54 and two rails of 25.4; the need 1.
    let exact = 0.5 * (80.0 + 76.0 - 2.0 * 20.0 - (54.0 + 2.0 * 25.4)) - 1.0;
    let (placement, least, bound, middle) = best(&layout);
    assert!((middle - exact).abs() < 0.1, "{middle} {exact}");
    assert!(least <= bound, "{least} {bound}");
    // Midway is 2 toward +y at x = 200; +y is a positive shift at P0, a negative one at P180.
    let [a, b] = placement.foot_shift;
    let at = -b + (a + b) * (200.0 + 330.0) / 660.0;
    assert!((at - 2.0).abs() < 0.15, "{at}");
}

/// A valve that stands upright at a distance from the cup's axis, beside a post.
struct Swing {
    layout: Layout,
    choice: Choice,
    /// Distance of the valve's axis from the cup's, mm.
    reach: f64,
}

/// The bearing of the post beside the valve, degrees.
const POST: f64 = 60.0;

impl Swing {
    /// The post of radius 15 stands so far from the fitting's axis.
    fn past_a_post(distance: f64) -> Self {
        let mut layout = Layout::new();
        let outlet = &mut layout.kit.outlet;
        outlet.elbow_turns = vec![Angle::ZERO];
        outlet.valve_diameter.nominal = 100.0;
        // Stem and handle within the valve.
        outlet.stem_height.nominal = 20.0;
        outlet.handle_length.nominal = 30.0;
        outlet.handle_width.nominal = 20.0;
        layout.placement.elbow_turn = Angle::ZERO;
        let (sin, cos) = POST.to_radians().sin_cos();
        let chord = ChordError::from_mm(0.01).unwrap();
        // The valve stands from 245.5 to 355.5 up.
        let at = |z: f64| Point3::new(distance * cos, distance * sin, z);
        let mesh = cylinder(at(260.0), at(340.0), 15.0, chord).unwrap();
        let body = layout.add(PartKind::Fitting, "post", mesh);
        layout.car.fittings.push(Fitting { bodies: vec![body], ..layout.car.fittings[0].clone() });
        let choice = Choice { fitting: 0, cup: 0, ports: [0, 1], removed: vec![] };
        // Port face 125, nipple 20, elbow 64.
        Self { layout, choice, reach: 125.0 + 20.0 + 64.0 }
    }

    fn deviation(&self, scene: &Scene<'_>, part: RigPart) -> f64 {
        let situation = Situation::new(scene, &self.choice, &self.layout.placement).unwrap();
        situation.deviation(Part::Rig(part))
    }

    /// How near the axes of valve and post may come, mm: radii 50 and 15, the need 1.
    fn nearest(&self, scene: &Scene<'_>) -> f64 {
        50.0 + 15.0 + 1.0 + self.deviation(scene, RigPart::Outlet)
    }
}

/// The same bearing within one turn, degrees.
fn turn(degrees: f64) -> f64 {
    degrees.rem_euclid(360.0)
}

/// A valve turned past a post at the same distance from the cup's axis is as near to it as the chord:
/// 2 e sin(angle / 2) between their axes.
#[test]
fn an_outlet_swings_past_a_post_within_the_chord() {
    let swing = Swing::past_a_post(209.0);
    let scene = Scene::new(&swing.layout.car, &swing.layout.kit).unwrap();
    let free = fitup::search::free_arcs(&scene, &swing.choice, &swing.layout.placement);
    assert_eq!(free.len(), 1, "{free:?}");
    let half = 2.0 * (swing.nearest(&scene) / (2.0 * swing.reach)).asin().to_degrees();
    let [first, last] = free[0].ends.map(|a| turn(a.degrees()));
    assert!((first - turn(POST + half)).abs() < 0.05, "{first} {}", POST + half);
    assert!((last - turn(POST - half)).abs() < 0.05, "{last} {}", POST - half);
    // What ends it on both sides is the post.
    for limit in &free[0].limits {
        let limit = limit.as_ref().unwrap();
        assert_eq!((limit.a, limit.b), (Part::Rig(RigPart::Outlet), Part::Car(BodyId(3))));
        assert!(limit.margin.low.abs() < 0.3, "{limit:?}");
    }
}

/// A cup that can move aside by its play p takes the outlet by as much away from the post: axes that
/// are nearer than R by no more than p stand clear. By the law of cosines the axes are the root of
/// e² + d² - 2 e d cos(angle) apart, with the post at distance d.
#[test]
fn an_outlet_swings_past_a_post_as_far_as_the_cup_moves_aside() {
    for distance in [209.0, 230.0] {
        let swing = Swing::past_a_post(distance);
        let scene = Scene::new(&swing.layout.car, &swing.layout.kit).unwrap();
        let placement = &swing.layout.placement;
        let effort = TurnEffort::default();
        let found = bearings_overall(&scene, &swing.choice, placement, &effort);
        // The gasket's inside 84 about 70, the need 1.
        let play = 84.0 - 70.0 - 1.0 - swing.deviation(&scene, RigPart::Gasket);
        let (near, e, d) = (swing.nearest(&scene) - play, swing.reach, distance);
        let half = ((e * e + d * d - near * near) / (2.0 * e * d)).acos().to_degrees();
        assert_eq!((found.free.len(), found.blocked.len()), (1, 1), "{found:?}");
        let [first, last] = found.free[0].map(|a| turn(a.degrees()));
        // Free no farther than that, but for the meshes' chords.
        let short = [first - (POST + half), POST - half - last];
        assert!(short.iter().all(|short| (-0.005..0.05).contains(short)), "{short:?}");
        // No nearer to the ends than the finest arc can anything be proven.
        let [first, last] = found.blocked[0].map(|a| turn(a.degrees()));
        let off = [first - (POST - half), POST + half - last];
        let finest = 2.0 * effort.finest.degrees() + 0.05;
        assert!(off.iter().all(|off| (0.0..finest).contains(off)), "{off:?}");
    }
}

/// Where a post's surface has a hole nobody knows what is in its box: the outlet keeps clear of it.
#[test]
fn an_outlet_keeps_clear_of_an_open_body() {
    let mut swing = Swing::past_a_post(209.0);
    let mesh = &mut swing.layout.car.bodies[3].body.mesh;
    mesh.triangles.pop();
    let scene = Scene::new(&swing.layout.car, &swing.layout.kit).unwrap();
    let placement = &swing.layout.placement;
    let effort = TurnEffort::default();
    let free = fitup::search::free_bearings(&scene, &swing.choice, placement);
    let overall = bearings_overall(&scene, &swing.choice, placement, &effort).free;
    for arcs in [free, overall] {
        assert!(!arcs.is_empty());
        for arc in arcs {
            // The box around the post, 16 to each side, and the valve's, 50 to each side.
            let [from, to] = arc.map(Angle::radians);
            for i in 0..=1000 {
                let (sin, cos) = (from + (to - from) * f64::from(i) / 1000.0).sin_cos();
                let (post_sin, post_cos) = POST.to_radians().sin_cos();
                let apart = 209.0 * (cos - post_cos).abs().max((sin - post_sin).abs());
                assert!(apart > 50.0 + 15.0 - 14.0, "free {apart} from the open post");
            }
        }
    }
}
