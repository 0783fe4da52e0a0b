//! Guidance on layouts whose answer is plain trigonometry: how far a neighbour must go, how far a
//! lid must open, how far an arm must turn until a round cup or a straight bar clears. Blocks and
//! cylinders; the dimensions are invented.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

#[path = "../support/between_walls.rs"]
mod between_walls;
#[path = "../support/sample_kit.rs"]
mod sample_kit;

use assembly::car_top::{BodyId, CarTop, Fitting, FittingKind, Lid, LidState};
use assembly::kit::{Kit, PartKind};
use assembly::rig::RigPart;
use assembly::{Change, Choice, Placement, Way};
use between_walls::{CHORD, post, slab};
use fitup::{Effort, Part, Scene, Situation, study_cup};
use measure::{Angle, LengthUnit};
use nalgebra::{Point2, Point3, Vector2, Vector3};
use review::advise::Help;
use review::{Advice, Request, advise, review};
use solids::Mesh;

struct Layout {
    car: CarTop,
    kit: Kit,
}

impl Layout {
    /// A plate between two end walls.
    fn new() -> Self {
        let mut kit = sample_kit::sample_kit();
        kit.bar.length.nominal = 840.0;
        Self { car: between_walls::car(), kit }
    }

    fn add(&mut self, kind: PartKind, name: &str, mesh: Mesh) -> BodyId {
        between_walls::add(&mut self.car, kind, name, mesh)
    }

    fn fitting(&mut self, name: &str, (x, y): (f64, f64), radius: f64, mesh: Mesh) {
        let body = self.add(PartKind::Fitting, name, mesh);
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

    fn round(&mut self, name: &str, (x, y): (f64, f64), radius: f64, height: f64) {
        self.fitting(name, (x, y), radius, post(x, y, radius, height));
    }

    /// The advice for the first fitting, which must not fit.
    fn advice(&self) -> Advice {
        let everything = Request::everything(&self.car, &self.kit);
        let request = Request { fittings: vec![0], cups: vec![0], ..everything };
        let found = review(&self.car, &self.kit, &request, &|_| {}).unwrap();
        assert!(!found.all_fit());
        let unit = LengthUnit::Millimetre;
        let advice = advise(&self.car, &self.kit, (&request, &found), unit, &|_| {}).unwrap();
        assert_eq!(advice.len(), 1);
        advice[0].clone()
    }

    /// Whether the first fitting fits after a change.
    fn fits_after(&self, change: &Change) -> bool {
        let car = change.way.made(&self.car, change.by).unwrap();
        let scene = Scene::new(&car, &self.kit).unwrap();
        study_cup(&scene, &Effort::default(), 0, 0).verdict.is_fit()
    }

    /// The bound on how far a part of the kit may be from where it is drawn, mm.
    fn off(&self, part: RigPart) -> f64 {
        let scene = Scene::new(&self.car, &self.kit).unwrap();
        let choice = Choice { fitting: 0, cup: 0, ports: [0, 1], removed: Vec::new() };
        let placement = Placement {
            cup_offset: Vector2::zeros(),
            outlet_bearing: Angle::ZERO,
            elbow_turn: Angle::ZERO,
            foot_shift: [0.0; 2],
            link_thickness: [[0; 2]; 2],
            link_hole: [0; 2],
            bar_slide: 0.0,
            screw_extension: 0.0,
            lid_opening: Angle::ZERO,
        };
        Situation::new(&scene, &choice, &placement).unwrap().deviation(Part::Rig(part))
    }

    /// How far from the first fitting's axis the cup's can be, when that fitting is a post of radius
    /// 70: the gasket's bore leaves 84 - 70 less the 1 mm asked for and what it may be off.
    fn play(&self) -> f64 {
        84.0 - 70.0 - 1.0 - self.off(RigPart::Gasket)
    }
}

/// How much more than the least may be told, mm: the search may give up where less than its tolerance
/// is to spare, of which a move between two gaps yields half; and one step.
const MORE: f64 = 2.0 * 0.1 + 0.1 + 1e-6;

/// What is told is in whole steps and holds, and a size that is surely too small does not.
#[track_caller]
fn is_the_least(layout: &Layout, help: &Help, too_small: f64) {
    let step = if help.change.way.is_turn() { 0.1_f64.to_radians() } else { 0.1 };
    let steps = help.change.by.abs() / step;
    assert!((steps - steps.round()).abs() < 1e-6, "{steps} steps are not told as they are");
    assert!(help.study.least().unwrap().low > 0.0);
    assert!(layout.fits_after(&help.change));
    let by = too_small * help.change.by.signum();
    assert!(!layout.fits_after(&Change { by, way: help.change.way.clone() }));
}

#[track_caller]
fn the(advice: &Advice, is: impl Fn(&Way) -> bool) -> Help {
    let found = advice.helps.iter().find(|h| is(&h.change.way));
    found.unwrap_or_else(|| panic!("not found among {:?}", advice.helps)).clone()
}

#[test]
fn a_post_goes_as_far_as_the_circles_say() {
    let mut layout = Layout::new();
    let apart = 138.0;
    layout.round("V1", (0.0, 0.0), 70.0, 220.0);
    layout.round("V2", (0.0, -apart), 40.0, 200.0);
    // The gasket's rim at 116, the post's at 40, 1 mm asked for between them.
    let off = layout.off(RigPart::Gasket);
    let needed = 116.0 + 40.0 + 1.0 + off - layout.play() - apart;
    assert!(needed > 5.0);
    let advice = layout.advice();
    // Meshed thin by the chord errors of gasket and posts, the circles need as much less.
    let thin = 2.0 * (layout.kit.chord_error + CHORD);
    for fitting in [0, 1] {
        let help =
            the(&advice, |way| matches!(way, Way::MoveFitting { fitting: f, .. } if *f == fitting));
        let told = help.change.by;
        assert!(told > needed - thin && told < needed + MORE, "{fitting}: {told} for {needed}");
        is_the_least(&layout, &help, needed - thin);
    }
}

#[test]
fn a_lid_opens_until_its_plane_clears_the_bars_end() {
    let mut layout = Layout::new();
    layout.round("V1", (0.0, 0.0), 70.0, 220.0);
    // Its underside lies through the hinge's axis, so that open it is a plane through it.
    let axis = Point3::new(450.0, 0.0, 322.0);
    let body = layout.add(PartKind::Lid, "lid", slab([250.0, -20.0, 322.0], [450.0, 20.0, 330.0]));
    let stop = 70.0_f64;
    layout.car.lid = LidState::Hinged(Lid {
        body,
        axis_point: axis,
        axis: Vector3::y_axis(),
        drawn_at: Angle::ZERO,
        stop: Angle::from_degrees(stop),
    });
    // A rail behind the bar's other end lets it slide half a millimetre away from the lid.
    let asked = 1.0 + layout.off(RigPart::Bar);
    let slide = 0.5;
    let rail = layout.add(
        PartKind::Housing,
        "rail",
        slab([-440.0, -60.0, 370.0], [-420.0 - asked - slide, 60.0, 470.0]),
    );
    layout.car.housing.push(rail);
    // The bar's upper edge: lower pin 110, lowest hole 240, saddle 25, rail 76.2 up.
    let x = 420.0 - slide - axis.x;
    let z = 110.0 + 240.0 + 25.0 + 76.2 - axis.z;
    let distance = |deg: f64| {
        let (sin, cos) = deg.to_radians().sin_cos();
        -x * sin - z * cos
    };
    let (mut low, mut high) = (stop, 89.0);
    assert!(distance(low) < asked && distance(high) > asked);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if distance(middle) < asked { low = middle } else { high = middle }
    }
    let needed = high - stop;
    let help = the(&layout.advice(), |way| *way == Way::LidStop);
    let told = help.change.by.to_degrees();
    assert!(told > needed - 1e-6 && told < needed + 0.15, "{told} for {needed}");
    is_the_least(&layout, &help, needed.to_radians());
}

#[test]
fn an_arm_turns_until_its_corner_clears_the_cup() {
    let mut layout = Layout::new();
    layout.round("V1", (0.0, 0.0), 70.0, 220.0);
    let (apart, reach, half) = (200.0, 120.0, 10.0);
    let mut mesh = post(0.0, -apart, 40.0, 200.0);
    mesh.append(&slab([-half, -apart, 120.0], [half, reach - apart, 140.0]));
    layout.fitting("V2", (0.0, -apart), 40.0, mesh);
    // The cup's outside at 105, the gasket's, which has to pass the arm on its way down, at 116. 1 mm
    // is asked for, in place and on the way. In place the cup can stand aside by all of its play; the
    // way is looked for from a place as near to the centreline as costs nothing in place.
    let corner = |deg: f64| {
        let (sin, cos) = deg.to_radians().sin_cos();
        (half * cos - reach * sin).hypot(-apart + reach * cos + half * sin)
    };
    let clear = |radius: f64, part: RigPart, aside: f64| {
        let asked = radius + 1.0 + layout.off(part) - aside;
        let (mut low, mut high) = (0.0_f64, 45.0_f64);
        assert!(corner(low) < asked && corner(high) > asked);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if corner(middle) < asked { low = middle } else { high = middle }
        }
        high
    };
    let in_place = clear(105.0, RigPart::Cup, layout.play());
    let passed = clear(116.0, RigPart::Gasket, 0.0);
    assert!(clear(116.0, RigPart::Gasket, layout.play()) > in_place + 5.0);
    let turns = |way: &Way| *way == Way::TurnFitting { fitting: 1 };
    let help = the(&layout.advice(), turns);
    let told = help.change.by.abs().to_degrees();
    // A chord's error on the cup is worth less than a quarter of a degree here.
    assert!(told > in_place - 0.25 && told < passed + 0.1, "{told} for {in_place} to {passed}");
    is_the_least(&layout, &help, (in_place - 0.25).to_radians());
}

#[test]
fn a_fitting_as_wide_as_the_cup_is_helped_by_nothing() {
    let mut layout = Layout::new();
    layout.round("V1", (0.0, 0.0), 96.0, 220.0);
    layout.round("V2", (0.0, -250.0), 40.0, 200.0);
    let advice = layout.advice();
    assert!(advice.helps.is_empty() && advice.spoiling.is_empty());
    // Only turning the fitting itself is tried: the proof asks where it reaches. Of all else it is
    // known untried.
    assert_eq!(advice.ways - advice.ruled_out, 2);
}

#[test]
fn a_fitting_too_tall_for_the_cup_is_made_shorter_by_what_it_lacks() {
    let mut layout = Layout::new();
    // Rim at 6.5 over the plate, 260 below the crown, 1 mm asked for.
    layout.round("V1", (0.0, 0.0), 70.0, 200.0);
    let stem = post(0.0, 0.0, 15.0, 275.0);
    layout.car.bodies[2].body.mesh.append(&stem);
    let kit = &layout.kit;
    let off = kit.cups[0].inside_height.tolerance
        + kit.gaskets[0].thickness.tolerance
        + kit.gaskets[0].groove_depth.tolerance;
    let needed = 275.0 - (6.5 + 260.0 - 1.0 - off);
    let help = the(&layout.advice(), |way| matches!(way, Way::StretchFitting { .. }));
    let told = -help.change.by;
    // The cup's own solid stands in the way as well, meshed within its deviation.
    assert!(told > needed - 1e-6 && told < needed + 0.6, "{told} for {needed}");
    is_the_least(&layout, &help, needed - 0.1);
}

#[test]
fn a_change_that_spoils_a_neighbour_is_not_advised() {
    let mut layout = Layout::new();
    layout.round("V1", (-113.0, 0.0), 70.0, 220.0);
    layout.round("V2", (0.0, -84.33), 40.0, 200.0);
    layout.round("V3", (118.0, 0.0), 70.0, 220.0);
    // Behind V2 there is no room: it can only go toward V3, which it then stands too near to.
    let rail = layout.add(
        PartKind::Housing,
        "rail",
        slab([-80.0, -140.0, 0.0], [80.0, -84.33 - 40.0 - 1.05, 100.0]),
    );
    layout.car.housing.push(rail);
    let scene = Scene::new(&layout.car, &layout.kit).unwrap();
    assert!(study_cup(&scene, &Effort::default(), 2, 0).verdict.is_fit());
    let advice = layout.advice();
    let of_second = |way: &Way| matches!(way, Way::MoveFitting { fitting, .. } if *fitting == 1);
    assert!(advice.helps.iter().all(|h| !of_second(&h.change.way)), "{:?}", advice.helps);
    let spoiling = advice.spoiling.iter().find(|s| of_second(&s.change.way)).unwrap();
    assert_eq!(spoiling.spoils, [2]);
    assert!(layout.fits_after(&spoiling.change));
    // What is advised names it as still fitting.
    assert!(!advice.helps.is_empty());
    assert!(advice.helps.iter().all(|h| h.others == [2]));
}
