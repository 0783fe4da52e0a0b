//! Laws of tolerances: whatever the kit and the car top are within what their documents state, every
//! margin lies in its interval; and no tolerance is stated in vain.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use assembly::as_built::{as_built, dims};
use assembly::kit::PartKind;
use assembly::placement::{End, Side};
use assembly::{CarTop, Choice, Kit, Placement, rig};
use fitup::{Check, Effort, Margin, Part, Rule, Scene, Situation, assess, broken, study_cup};
use measure::Interval;
use rayon::prelude::*;
use review::{Request, Review, Variations, Vary};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Rounding, mm.
const SAME: f64 = 1e-6;

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

/// Sets every deviation and tolerance to zero.
fn make_certain(car: &mut CarTop, kit: &mut Kit) {
    for body in &mut car.bodies {
        body.body.deviation.bound = 0.0;
    }
    for port in &mut car.ports {
        port.deviation = 0.0;
    }
    for d in dims(kit) {
        d.tolerance = 0.0;
    }
}

/// A car top with a kit and a fitting placed on it.
struct Placed {
    car: CarTop,
    kit: Kit,
    choice: Choice,
    placement: Placement,
}

impl Placed {
    fn new(case: &str, fitting: &str, cup: &str) -> Self {
        let car = intake::read_case(&examples().join(case).join("case.toml")).unwrap().car;
        let mut kit = intake::read_kit(&examples().join("kit.toml")).unwrap().kit;
        let f = car.fittings.iter().position(|f| f.name == fitting).unwrap();
        let c = kit.cups.iter().position(|c| c.name == cup).unwrap();
        let effort = Effort { tolerance: 0.5, most_cells: 200, searches_ways: true };
        let study = study_cup(&Scene::new(&car, &kit).unwrap(), &effort, f, c);
        let (mut choice, placement) = (study.choice.unwrap(), study.placement.unwrap());
        // With no cup and no gasket but those used.
        kit.cups = vec![kit.cups[choice.cup].clone()];
        kit.gaskets.retain(|g| g.name == kit.cups[0].gasket);
        choice.cup = 0;
        Self { car, kit, choice, placement }
    }

    /// The margins at the placement, the ball seated anew.
    fn margins(&self, scene: &Scene<'_>) -> Vec<Margin> {
        let pose = rig::pose(scene.kit, scene.car, &self.choice, &self.placement).unwrap();
        let mut placement = self.placement.clone();
        placement.screw_extension = pose.extension_to_seat;
        let situation = Situation::new(scene, &self.choice, &placement).unwrap();
        let mut margins: Vec<Margin> = assess(&situation)
            .outcomes
            .into_iter()
            .flat_map(|o| o.margins)
            .filter(|m| m.rule != Rule::Contact)
            .collect();
        // An angle, put as a distance at the foot's corner: at the corner of the stated foot.
        let scale = self.kit.foot.width.nominal / scene.kit.foot.width.nominal;
        for m in margins.iter_mut().filter(|m| m.rule == Rule::Skew) {
            m.margin = m.margin.scale(scale);
        }
        margins
    }
}

type Names = (Check, &'static str, Part, Part);

/// Margins by their names; those that share theirs in order.
fn by_names(margins: &[Margin]) -> BTreeMap<Names, Vec<Interval>> {
    let mut all: BTreeMap<Names, Vec<Interval>> = BTreeMap::new();
    for m in margins {
        all.entry((m.check, m.rule.word(), m.a, m.b)).or_default().push(m.margin);
    }
    all
}

/// The ends of intervals, each sorted: what lies in the intervals lies between them when sorted.
fn sorted(intervals: &[Interval], end: fn(&Interval) -> f64) -> Vec<f64> {
    let mut ends: Vec<f64> = intervals.iter().map(end).collect();
    ends.sort_by(f64::total_cmp);
    ends
}

/// Margins that do not lie where the stated ones say.
fn escaped(stated: &[Margin], drawn: &[Margin]) -> Vec<String> {
    let (stated, drawn) = (by_names(stated), by_names(drawn));
    let mut out = Vec::new();
    for (names, stated) in &stated {
        let lows = sorted(stated, |i| i.low);
        let highs = sorted(stated, |i| i.high);
        let Some(found) = drawn.get(names).filter(|found| found.len() == stated.len()) else {
            // Beyond what is followed up.
            if highs[highs.len() - 1] < 38.0 {
                out.push(format!("{names:?} of {stated:?} is gone"));
            }
            continue;
        };
        let (least, most) = (sorted(found, |i| i.low), sorted(found, |i| i.high));
        for k in 0..lows.len() {
            if least[k] > highs[k] + SAME || most[k] < lows[k] - SAME {
                let (low, high) = (lows[k], highs[k]);
                out.push(format!("{names:?}: {} to {} not in {low} to {high}", least[k], most[k]));
            }
        }
    }
    out
}

/// Splitmix, as in the tests of verdicts.
fn chance(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed;
    move || {
        state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        2.0 * ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64 - 1.0
    }
}

const PLACED: [(&str, &str, &str); 4] = [
    ("pressure-car", "LV1", "C"),
    ("pressure-car", "PRD", "C"),
    ("pressure-car-vv2-moved", "VV2", "C"),
    ("odd-housing", "RD", "C"),
];

#[test]
fn every_margin_of_what_may_have_been_built_lies_in_its_interval() {
    PLACED.par_iter().for_each(|(case, fitting, cup)| {
        let placed = Placed::new(case, fitting, cup);
        let scene = Scene::new(&placed.car, &placed.kit).unwrap();
        let stated = placed.margins(&scene);
        assert!(stated.len() > 30, "{case}: {} margins", stated.len());
        for m in &stated {
            assert!(m.margin.encloses(m.root_sum_square), "{m:?}");
        }
        for draw in 0..12 {
            let mut number = chance(draw);
            // Every third draw at the ends of the tolerances.
            let mut numbers = move || {
                let number = number();
                if draw % 3 == 0 { number.signum() } else { number }
            };
            let built = as_built(&placed.car, &placed.kit, &mut numbers);
            let drawn = placed.margins(&scene.built(&built).unwrap());
            let out = escaped(&stated, &drawn);
            assert!(out.is_empty(), "{case} {fitting}, draw {draw}: {out:#?}");
        }
    });
}

/// Dimensions that no margin here depends on: the bore is filled, the seat's boss and the holes are
/// met by contacts alone, the links' edges are far from anything, the travel ends far above; of links
/// only one thickness and one hole are used.
fn matters(placed: &Placed, index: usize) -> bool {
    let mut kit = placed.kit.clone();
    let p = &placed.placement;
    let at = |d: &assembly::kit::Dim| std::ptr::from_ref(d) as usize;
    let (cup, gasket) =
        (&kit.cups[placed.choice.cup], placed.kit.cups[placed.choice.cup].gasket.clone());
    let gasket = kit.gaskets.iter().find(|g| g.name == gasket).unwrap();
    let used = |i: usize, side: Side| p.link_thickness[i][side.index()];
    let mut yes: Vec<usize> = vec![
        at(&cup.inside_diameter),
        at(&cup.wall),
        at(&cup.inside_height),
        at(&cup.crown),
        at(&cup.port_height),
        at(&cup.port_diameter),
        at(&cup.port_face),
        at(&gasket.inside_diameter),
        at(&gasket.outside_diameter),
        at(&gasket.thickness),
        at(&gasket.groove_depth),
        at(&kit.bar.length),
        at(&kit.bar.end),
        at(&kit.saddle.pin_drop),
        at(&kit.foot.depth),
        at(&kit.foot.width),
        at(&kit.foot.height),
        at(&kit.foot.seat),
        at(&kit.screw.retracted),
    ];
    for end in End::BOTH {
        let i = end.index();
        yes.extend(Side::BOTH.map(|side| at(&kit.link.thicknesses[used(i, side)])));
        yes.push(at(&kit.link.holes[p.link_hole[i]]));
    }
    let all: Vec<usize> = dims(&mut kit).into_iter().map(|d| at(d)).collect();
    yes.contains(&all[index])
}

/// One dimension at a time, by a whole millimetre: where it is stated every margin keeps to its
/// interval, and where it is not some margin leaves it, in one place or the other: of what is wide only
/// the least is told.
#[test]
fn no_tolerance_is_missing_and_none_is_in_vain() {
    let all = [("odd-housing", "RD"), ("pressure-car-vv2-moved", "VV2")]
        .map(|(case, fitting)| in_vain(&mut Placed::new(case, fitting, "C")));
    let [first, second] = &all;
    let both: Vec<usize> = first.iter().filter(|i| second.contains(i)).copied().collect();
    assert!(both.is_empty(), "these dimensions change nothing: {both:?} ({all:?})");
}

/// The dimensions that should change a margin and do not.
fn in_vain(placed: &mut Placed) -> Vec<usize> {
    make_certain(&mut placed.car, &mut placed.kit);
    let placed = &*placed;
    let unstated = placed.margins(&Scene::new(&placed.car, &placed.kit).unwrap());
    let count = dims(&mut placed.kit.clone()).len();
    let try_one = |index: usize| {
        let mut kit = placed.kit.clone();
        dims(&mut kit)[index].tolerance = 1.0;
        let scene = Scene::new(&placed.car, &kit).unwrap();
        let stated = placed.margins(&scene);
        let mut escapes = false;
        for sign in [-1.0, 1.0] {
            let built = as_built(&placed.car, &kit, &mut || sign);
            let Ok(built) = scene.built(&built) else { continue };
            let drawn = placed.margins(&built);
            let mut out = escaped(&stated, &drawn);
            // A ring of another size lies on other places of the scanned plate.
            out.retain(|out| !out.contains(Rule::Flatness.word()));
            assert!(out.is_empty(), "dimension {index} by {sign}: {out:#?}");
            escapes |= !escaped(&unstated, &drawn).is_empty();
        }
        (matters(placed, index) && !escapes).then_some(index)
    };
    (0..count).into_par_iter().filter_map(try_one).collect()
}

/// The same for the car top's bodies and the figures of its ports.
#[test]
fn no_deviation_is_missing() {
    let mut placed = Placed::new("odd-housing", "RD", "C");
    make_certain(&mut placed.car, &mut placed.kit);
    let unstated = placed.margins(&Scene::new(&placed.car, &placed.kit).unwrap());
    let bodies = placed.car.bodies.len();
    let mut escapes = [0; 2];
    for index in 0..bodies + placed.car.ports.len() {
        let mut car = placed.car.clone();
        if index < bodies {
            car.bodies[index].body.deviation.bound = 1.0;
        } else {
            car.ports[index - bodies].deviation = 1.0;
        }
        let scene = Scene::new(&car, &placed.kit).unwrap();
        let stated = placed.margins(&scene);
        for draw in 0..4 {
            let mut number = chance(draw);
            let mut numbers = || number().signum();
            let built = as_built(&car, &placed.kit, &mut numbers);
            let drawn = placed.margins(&scene.built(&built).unwrap());
            let out = escaped(&stated, &drawn);
            assert!(out.is_empty(), "{index}, draw {draw}: {out:#?}");
            escapes[usize::from(index >= bodies)] +=
                usize::from(!escaped(&unstated, &drawn).is_empty());
        }
    }
    assert!(escapes[0] >= 10 && escapes[1] >= 6, "{escapes:?}");
}

/// What fits in the worst case fits however it was built.
#[test]
fn what_fits_in_the_worst_case_fits_however_it_was_built() {
    let placed = Placed::new("pressure-car", "LV1", "C");
    let nominal = Scene::new(&placed.car, &placed.kit).unwrap();
    for draw in 100..120 {
        let mut number = chance(draw);
        let mut numbers = || number().signum();
        let built = as_built(&placed.car, &placed.kit, &mut numbers);
        let scene = nominal.built(&built).unwrap();
        let pose = rig::pose(scene.kit, scene.car, &placed.choice, &placed.placement).unwrap();
        let mut placement = placed.placement.clone();
        placement.screw_extension = pose.extension_to_seat;
        let situation = Situation::new(&scene, &placed.choice, &placement).unwrap();
        let (broken, undecided) = broken(&situation);
        assert!(broken.is_empty() && undecided.is_empty(), "draw {draw}: {broken:#?}");
    }
}

/// A car top of which nothing is uncertain but the height of the kit's feet, with `left` mm above what
/// the rule asks for between a foot and its port.
fn feet_alone(left: f64, tolerance: f64) -> (CarTop, Kit, Review) {
    let read = intake::read_case(&examples().join("pressure-car/case.toml")).unwrap();
    let (mut car, mut kit) = (read.car, Placed::new("pressure-car", "LV1", "C").kit);
    make_certain(&mut car, &mut kit);
    let request = Request::named(&car, &kit, &["LV1".into()], &[]).unwrap();
    let review = review::review(&car, &kit, &request, &|_| ()).unwrap();
    kit.foot.height.tolerance = tolerance;
    let need = kit.rules.need(PartKind::Foot, PartKind::Housing);
    for port in &mut car.ports {
        // Its upper edge, from which the clamp hangs, stays.
        let upper = port.sill + port.height;
        port.height = kit.foot.height.nominal + need + left;
        port.sill = upper - port.height;
    }
    (car, kit, review)
}

fn drawn((car, kit, review): &(CarTop, Kit, Review), draws: usize) -> Variations {
    let mut all = review::vary(car, kit, review, Vary { draws, seed: 7 }, &|_| ()).unwrap();
    assert_eq!(all.len(), 1);
    all.remove(0)
}

/// A height within `t` of its nominal is below `nominal + left` in `(t + left) / 2t` of all cases, and
/// no placement helps.
#[test]
fn the_share_of_one_even_deviation_is_a_ratio_of_lengths() {
    let feet = feet_alone(0.03, 0.1);
    let found = drawn(&feet, 400);
    let share = (0.1 + 0.03) / 0.2;
    assert!(found.as_planned.low < share && share < found.as_planned.high, "{found:?}");
    assert_eq!(found.placed_anew.count, found.as_planned.count);
    assert_eq!(found.undecided, 0);
    let [(limit, count)] = found.limits.as_slice() else { panic!("{found:?}") };
    assert_eq!((limit.rule, *count), (Rule::FootInPort, 400 - found.as_planned.count));
    // However many threads draw.
    for threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        assert_eq!(pool.install(|| drawn(&feet, 60)), drawn(&feet, 60));
    }
}

#[test]
fn without_tolerances_all_or_none_can_be_capped() {
    for (left, count) in [(0.03, 5), (-0.03, 0)] {
        let found = drawn(&feet_alone(left, 0.0), 5);
        assert_eq!((found.as_planned.count, found.placed_anew.count), (count, count));
    }
}
