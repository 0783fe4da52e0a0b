//! That no term is above what its bends say anywhere in a cell, and that terms are the program's
//! margins.

#[path = "../../../tests/verdicts/support/chance.rs"]
mod chance;
#[path = "../../../tests/verdicts/support/sample_car.rs"]
#[expect(dead_code, reason = "the tests of the verdicts use more of it")]
mod sample_car;
#[path = "../../../tests/verdicts/support/sample_kit.rs"]
mod sample_kit;

use crate::bend::{Swing, turns_with_feet};
use crate::brute::point_triangle;
use crate::fault::Fault;
use crate::setting::{Piece, Setting};
use crate::term::{Term, What};
use crate::tree::{Cell, Sum};
use crate::witness::{Examiner, rule};
use assembly::placement::End;
use assembly::rig::{self, RigPart};
use assembly::{CarTop, Choice, Kit};
use chance::Chance;
use fitup::{Margin, Part, Rule, Scene, Situation, assess};
use measure::Angle;
use nalgebra::{Point3, Vector2, Vector3};
use review::proof::{GapGround, Ground, OverlapGround, RuleGround, Sense, Witness};
use sample_car::sample;

/// Rounding, mm: at distances of a kilometre.
const SAME: f64 = 1e-8;
/// A point this far away sees a piece's points move as they bend, mm.
const FAR: f64 = 1e6;

fn kit_of(chance: &mut Chance, across: f64) -> Kit {
    let cups = sample_kit::CUPS;
    assert!(cups > 1);
    sample_kit::kit(across + chance.between(100.0, 160.0), true)
}

fn choice(removed: bool, car: &CarTop, fitting: usize) -> Choice {
    let all = 0..car.fittings[fitting].removables.len();
    let removed = all
        .filter(|_| removed)
        .map(|removable| assembly::placement::Removed { fitting, removable })
        .collect();
    Choice { fitting, cup: 1, ports: [0, 1], removed }
}

fn numbers(chance: &mut Chance, setting: &Setting<'_>) -> [f64; 7] {
    let shift = |chance: &mut Chance| chance.between(-30.0, 30.0);
    [
        chance.between(-40.0, 40.0),
        chance.between(-40.0, 40.0),
        chance.between(-3.0, 3.0),
        shift(chance),
        shift(chance),
        chance.between(-20.0, 20.0),
        setting.lid().map_or(0.0, |lid| lid.stop.radians()) - chance.between(0.0, 0.5),
    ]
}

fn options(chance: &mut Chance, setting: &Setting<'_>) -> [usize; 7] {
    [0, 1, 2, 3, 4, 5, 6].map(|d| chance.below(setting.options(d).unwrap()))
}

fn pieces(setting: &Setting<'_>) -> Vec<Piece> {
    let rig = RigPart::all(setting.kit).into_iter().map(Piece::Rig);
    rig.chain(setting.present().map(Piece::Car)).collect()
}

/// A point of a piece, and of what it would be twice as large.
fn point(chance: &mut Chance, setting: &Setting<'_>, piece: Piece) -> Point3<f64> {
    let mesh = setting.body(piece, [[0; 2]; 2]).unwrap().mesh;
    mesh.vertices[chance.below(mesh.vertices.len())] * chance.between(0.5, 2.0)
}

fn far_away(chance: &mut Chance) -> Point3<f64> {
    let mut side = || chance.between(-1.0, 1.0);
    Point3::from(Vector3::new(side(), side(), side()).normalize() * FAR)
}

fn term(what: What, options: [usize; 7]) -> Term {
    Term { what, tolerance: false, given: Vec::new(), options, add: 0.0 }
}

fn a_rule(chance: &mut Chance, kind: usize, options: [usize; 7]) -> Term {
    let sign = if chance.happens(0.5) { 1.0 } else { -1.0 };
    let skew_sign = if chance.happens(0.5) { 1.0 } else { -1.0 };
    let end = End::BOTH[chance.below(2)];
    let what = match kind {
        0 => What::Constant,
        1 => What::Room { toward: Vector2::new(0.6, -0.8) },
        2 => What::Beside { end, sign, skew_sign },
        3 => What::Skew { end, sign },
        4 => What::Overhangs { sign },
        5 => What::Slot { end },
        6 => What::Lean { per_span: chance.between(-1e4, 1e4) },
        7 => What::Offset { sign },
        _ => What::Travel { sign },
    };
    term(what, options)
}

#[derive(Default)]
struct Tally {
    cells: usize,
    /// Greatest part of a bend's allowance that was used.
    used: f64,
}

/// Draws cells and points in them.
fn try_cells(chance: &mut Chance, setting: &Setting<'_>, sum: &Sum<'_>, tally: &mut Tally) {
    for _ in 0..6 {
        let middle = numbers(chance, setting);
        let single = chance.happens(0.6).then(|| chance.below(7));
        let wide = 10.0_f64.powf(chance.between(-2.0, 1.0));
        let half = [0, 1, 2, 3, 4, 5, 6].map(|k| {
            let scale = if k == 2 || k == 6 { 0.3 } else { 10.0 };
            if single.is_none_or(|s| s == k) {
                wide * scale * chance.between(0.1, 1.0)
            } else {
                0.0
            }
        });
        let cell = Cell {
            low: [0, 1, 2, 3, 4, 5, 6].map(|k| middle[k] - half[k]),
            high: [0, 1, 2, 3, 4, 5, 6].map(|k| middle[k] + half[k]),
            chosen: [None; 7],
            depth: 0,
        };
        let (corners, shares) = sum.over(setting, &cell);
        let bend: f64 = shares.iter().sum();
        tally.cells += 1;
        for i in 0..12 {
            let v = if i == 0 {
                middle
            } else {
                [0, 1, 2, 3, 4, 5, 6].map(|k| chance.between(cell.low[k], cell.high[k]))
            };
            let found: f64 = sum.terms.iter().map(|(t, w)| w * setting.value(t, &v)).sum();
            assert!(
                found <= corners + bend + SAME,
                "{:?}: {found} at {v:?}, corners {corners}, bends {shares:?}",
                sum.terms
            );
        }
        if single.is_some() {
            // Along one variable, what is straight does not hide the bend.
            let of = |v: &[f64; 7]| -> f64 {
                sum.terms.iter().map(|(t, w)| w * setting.value(t, v)).sum()
            };
            let found = of(&middle) - 0.5 * (of(&cell.low) + of(&cell.high));
            assert!(found <= bend + SAME, "{:?}: bends by {found}, {shares:?}", sum.terms);
            if bend > 1e-6 {
                tally.used = tally.used.max(found / bend);
            }
        }
    }
}

#[test]
fn no_term_is_above_its_bends_in_a_cell() {
    for number in 0..12 {
        let mut chance = Chance::new(0xBE2D + number);
        let mut sample = sample(number);
        // Short spans and steep bars bend most.
        let nearer = chance.between(0.25, 1.0);
        for port in &mut sample.car.ports {
            port.at *= nearer;
            // Most of all when the foot moves aslant to the bar.
            let aslant = chance.between(-1.5, 1.5);
            port.facing = Angle::from_radians(port.facing.radians() + aslant);
        }
        sample.car.ports[0].sill += chance.between(-60.0, 60.0);
        let kit = kit_of(&mut chance, sample.across);
        let choice = choice(false, &sample.car, sample.fitting);
        let setting = Setting::new(&sample.car, &kit, &choice).unwrap();
        for a in pieces(&setting) {
            let all = pieces(&setting);
            for _ in 0..40 {
                let far = chance.happens(0.5);
                let plate = Piece::Car(sample.car.plate);
                let b = if far { plate } else { all[chance.below(all.len())] };
                let options = options(&mut chance, &setting);
                let [on_a, mut on_b] = [a, b].map(|p| point(&mut chance, &setting, p));
                if far {
                    on_b = far_away(&mut chance);
                }
                let mut tally = Tally::default();
                let what = What::Apart { a, b, on_a, on_b, across: None };
                let terms = [term(what, options), a_rule(&mut chance, 8, options)];
                let one = Sum { terms: vec![(&terms[0], 1.0)], limit: 0.0 };
                try_cells(&mut chance, &setting, &one, &mut tally);
                let both = Sum { terms: vec![(&terms[0], 0.7), (&terms[1], 0.3)], limit: 0.0 };
                try_cells(&mut chance, &setting, &both, &mut tally);
            }
        }
        for kind in 0..9 {
            for _ in 0..200 {
                let options = options(&mut chance, &setting);
                let a = a_rule(&mut chance, kind, options);
                let mut tally = Tally::default();
                let sum = Sum { terms: vec![(&a, 1.0)], limit: 0.0 };
                try_cells(&mut chance, &setting, &sum, &mut tally);
            }
        }
    }
}

/// A rectangle that turns with the feet is long and the point still, so that the nearest point of
/// it goes far; the others do not turn.
#[test]
fn no_rectangle_is_above_its_bends_in_a_cell() {
    let mut used = 0.0_f64;
    for number in 0..12 {
        let mut chance = Chance::new(0xF1A7 + number);
        let mut sample = sample(number);
        let nearer = chance.between(0.25, 1.0);
        for port in &mut sample.car.ports {
            port.at *= nearer;
            let aslant = chance.between(-1.5, 1.5);
            port.facing = Angle::from_radians(port.facing.radians() + aslant);
        }
        let kit = kit_of(&mut chance, sample.across);
        let choice = choice(false, &sample.car, sample.fitting);
        let setting = Setting::new(&sample.car, &kit, &choice).unwrap();
        let plate = Piece::Car(sample.car.plate);
        let all = pieces(&setting);
        let still =
            |p: &Piece| matches!(p, Piece::Rig(RigPart::Gasket | RigPart::Cup)) || *p == plate;
        let turning = all.iter().filter(|p| turns_with_feet(**p).is_some());
        for &b in turning.chain(all.iter().filter(|p| still(p))) {
            for _ in 0..60 {
                let a = if still(&b) { all[chance.below(all.len())] } else { plate };
                let options = options(&mut chance, &setting);
                let (on_a, on_b) =
                    (point(&mut chance, &setting, a), point(&mut chance, &setting, b));
                let mut side = |long: f64| {
                    let mut c = || chance.between(-1.0, 1.0);
                    Vector3::new(c(), c(), c()).normalize() * long
                };
                let u = side(200.0);
                let v = side(1.0).cross(&u);
                let what = What::Apart { a, b, on_a, on_b, across: Some([u, v]) };
                let term = term(what, options);
                let sum = Sum { terms: vec![(&term, 1.0)], limit: 0.0 };
                let mut tally = Tally::default();
                try_cells(&mut chance, &setting, &sum, &mut tally);
                used = used.max(tally.used);
            }
        }
    }
    // Not without a use: on what turns the bound comes near.
    assert!(used > 0.3, "{used}");
}

/// The tilt's own derivatives, by differences: in a cell they are hidden behind the turn's.
#[test]
fn the_bar_tilts_no_more_than_said() {
    let mut chance = Chance::new(77);
    let mut used = [0.0_f64; 3];
    for number in 0..200 {
        let mut sample = sample(number % 10);
        for port in &mut sample.car.ports {
            port.at *= 0.3;
            let aslant = chance.between(-1.6, 1.6);
            port.facing = Angle::from_radians(port.facing.radians() + aslant);
        }
        sample.car.ports[0].sill += chance.between(-60.0, 60.0);
        let kit = kit_of(&mut chance, sample.across);
        let choice = choice(false, &sample.car, sample.fitting);
        let setting = Setting::new(&sample.car, &kit, &choice).unwrap();
        let (v, options) = (numbers(&mut chance, &setting), options(&mut chance, &setting));
        let lines = setting.lines(&setting.numbers(&v, &options)).unwrap();
        let Some(swing) = Swing::over(&lines, &[0.0; 7]) else { continue };
        for k in [3, 4] {
            let tilt = |by: f64| {
                let mut v = v;
                v[k] += by;
                setting.lines(&setting.numbers(&v, &options)).unwrap().along.z.asin()
            };
            let step = 1e-2;
            let first = (tilt(step) - tilt(-step)) / (2.0 * step);
            let second = (tilt(step) - 2.0 * tilt(0.0) + tilt(-step)) / (step * step);
            let found = [first.abs(), second.abs() + first * first, tilt(0.0).sin().abs()];
            let bounds = [swing.tilt1, swing.tilt2, swing.slope];
            for i in 0..3 {
                assert!(found[i] <= bounds[i] * 1.001 + 1e-9, "{i}: {found:?} {bounds:?}");
                if bounds[i] > 1e-7 {
                    used[i] = used[i].max(found[i] / bounds[i]);
                }
            }
        }
    }
    println!("{used:?}");
    assert!(used.iter().all(|u| *u > 0.7), "{used:?}");
}

/// A bound that is never nearly used would be of no use.
#[test]
fn bends_are_no_wider_than_needed() {
    let mut chance = Chance::new(5);
    let mut sample = sample(3);
    for port in &mut sample.car.ports {
        port.facing = Angle::from_radians(port.facing.radians() + 0.7);
    }
    let kit = kit_of(&mut chance, sample.across);
    let choice = choice(false, &sample.car, sample.fitting);
    let setting = Setting::new(&sample.car, &kit, &choice).unwrap();
    for part in RigPart::all(&kit) {
        let mut tally = Tally::default();
        for _ in 0..400 {
            let (a, b) = (Piece::Rig(part), Piece::Car(sample.car.plate));
            let on_a = point(&mut chance, &setting, a);
            let on_b = far_away(&mut chance);
            let what = What::Apart { a, b, on_a, on_b, across: None };
            let one = term(what, options(&mut chance, &setting));
            let sum = Sum { terms: vec![(&one, 1.0)], limit: 0.0 };
            try_cells(&mut chance, &setting, &sum, &mut tally);
        }
        println!("{part:?}: {:.3} of {} cells", tally.used, tally.cells);
        if matches!(part, RigPart::Gasket | RigPart::Cup) {
            assert!(tally.used <= 0.0, "{part:?} only moves straight");
            continue;
        }
        assert!(tally.used > 0.2, "{part:?} uses {} of its bound", tally.used);
    }
}

const ALL_GIVEN: [usize; 7] = [0, 1, 2, 3, 4, 5, 6];

fn name(car: &CarTop, part: Part) -> String {
    match part {
        Part::Rig(part) => part.name(["A", "B"]),
        Part::Car(id) => format!("car:{}", car.body(id).body.name),
    }
}

fn piece(part: Part) -> Piece {
    match part {
        Part::Rig(part) => Piece::Rig(part),
        Part::Car(id) => Piece::Car(id),
    }
}

/// The triangle of a piece that is nearest to a point in its frame.
fn nearest(setting: &Setting<'_>, piece: Piece, thickness: [[usize; 2]; 2], at: [f64; 3]) -> u32 {
    let mesh = setting.body(piece, thickness).unwrap().mesh;
    let away = |t: &usize| point_triangle(&Point3::from(at), &mesh.corners(*t));
    let all = 0..mesh.triangles.len();
    let nearest = all.min_by(|s, t| away(s).total_cmp(&away(t))).unwrap();
    u32::try_from(nearest).unwrap()
}

/// What the program measured at a placement, and one end of its margins.
struct Bench<'b> {
    situation: &'b Situation<'b>,
    setting: &'b Setting<'b>,
    margins: &'b [Margin],
    sense: Sense,
    v: [f64; 7],
    given: Vec<(usize, usize)>,
}

impl Bench<'_> {
    fn end(&self, margin: &Margin) -> f64 {
        match self.sense {
            Sense::Low => margin.margin.low,
            Sense::High => margin.margin.high,
        }
    }

    fn value(&self, by: Ground) -> Result<f64, Fault> {
        let witness = Witness { given: self.given.clone(), by };
        let term = Examiner::new(self.setting, self.sense).term(0, &witness)?;
        Ok(self.setting.value(&term, &self.v))
    }

    /// Every gap with its own points; how many.
    fn gaps(&self) -> usize {
        let mut gaps = 0;
        let car = self.setting.car;
        for m in self.margins.iter().filter(|m| m.rule == Rule::Gap) {
            let Some([on_a, on_b]) = m.witness else { continue };
            let frame = |part: Part| match part {
                Part::Rig(part) => *self.situation.pose.plate_from(part),
                Part::Car(id) => self.situation.plate_from_car(id),
            };
            let on_a = frame(m.a).inverse_transform_point(&on_a).coords.into();
            let on_b = frame(m.b).inverse_transform_point(&on_b).coords.into();
            let (a, b) = (name(car, m.a), name(car, m.b));
            let apart = m.measured.middle() > 0.0;
            let found = self.value(if apart {
                // Any triangle that holds the point.
                let thickness = self.situation.placement.link_thickness;
                let triangles = [(m.a, on_a), (m.b, on_b)]
                    .map(|(part, at)| nearest(self.setting, piece(part), thickness, at));
                Ground::Gap(GapGround { a, b, on_a, on_b, triangles })
            } else {
                Ground::Overlap(OverlapGround { a, b, on_a, on_b, depth: 0.0, across: None })
            });
            let Ok(found) = found else {
                // A point of touch without depth lies on neither side for sure.
                assert!(!apart, "{found:?} {m:?}");
                continue;
            };
            gaps += 1;
            let end = self.end(m);
            assert!(found > end - 1e-5, "{found} {m:?}");
            assert!(!apart || found < end + 1e-5, "{found} {m:?}");
        }
        gaps
    }

    /// The least of a rule's terms over all signs.
    fn least(&self, rule: &str, with: &dyn Fn(&mut RuleGround, f64, f64)) -> f64 {
        let mut least = f64::INFINITY;
        for sign in [-1.0, 1.0] {
            for skew_sign in [-1.0, 1.0] {
                let mut ground = RuleGround::bare(rule);
                with(&mut ground, sign, skew_sign);
                least = least.min(self.value(Ground::Rule(ground)).unwrap());
            }
        }
        least
    }

    /// That a margin of the rule is what was found.
    fn same(&self, rule: Rule, found: f64) {
        let kit = self.setting.kit;
        // Upper ends of tolerances stop at a departure of zero.
        let limit = match rule {
            Rule::OverhangDifference => kit.rules.overhang_difference,
            Rule::Level => kit.rules.bar_level,
            Rule::Lean => kit.rules.link_lean,
            Rule::Skew => 0.5 * kit.foot.width.nominal * kit.rules.foot_skew.radians().sin(),
            Rule::ScrewOffset => kit.rules.screw_offset,
            _ => f64::INFINITY,
        };
        let all: Vec<f64> =
            self.margins.iter().filter(|m| m.rule == rule).map(|m| self.end(m)).collect();
        let near = |end: &f64| (end - found.min(limit)).abs() < 1e-8;
        assert!(all.iter().any(near), "{rule:?} {:?}: {found}, {all:?}", self.sense);
    }

    fn rules(&self) {
        for end in 0..2 {
            let beside = self.least(rule::FOOT_IN_PORT, &|g, s, k| {
                (g.end, g.sign, g.skew_sign) = (Some(end), Some(s), Some(k));
            });
            self.same(Rule::FootInPort, beside);
            let at_end = |g: &mut RuleGround, _, _| g.end = Some(end);
            let both = |g: &mut RuleGround, s, _| (g.end, g.sign) = (Some(end), Some(s));
            self.same(Rule::FootInPort, self.least(rule::FOOT_IN_PORT, &at_end));
            self.same(Rule::Skew, self.least(rule::SKEW, &both));
            self.same(Rule::Overhang, self.least(rule::OVERHANG, &at_end));
            self.same(Rule::Lean, self.least(rule::LEAN, &at_end));
        }
        let signed = |g: &mut RuleGround, s, _| g.sign = Some(s);
        self.same(Rule::OverhangDifference, self.least(rule::OVERHANG_DIFFERENCE, &signed));
        self.same(Rule::Level, self.least(rule::LEVEL, &|_, _, _| {}));
        self.same(Rule::ScrewOffset, self.least(rule::SCREW_OFFSET, &signed));
        self.same(Rule::Travel, self.least(rule::TRAVEL, &signed));
        let width = self.least(rule::SEAL_WIDTH, &|_, _, _| {});
        let widths = self.margins.iter().filter(|m| m.rule == Rule::SealWidth);
        assert!(widths.map(|m| self.end(m)).all(|end| width >= end - SAME));
        let setting = self.setting;
        for id in setting.present().filter(|id| setting.is_covered(*id)) {
            let body = &setting.car.body(id).body;
            let axis = setting.fitting.centre + Vector2::new(self.v[0], self.v[1]);
            let (mut side, mut top) = (f64::INFINITY, f64::INFINITY);
            for (i, p) in body.mesh.vertices.iter().enumerate() {
                let toward = (p.xy() - axis).normalize();
                let of = |toward: Option<[f64; 2]>| {
                    self.least(rule::CAVITY, &|g, _, _| {
                        g.body = Some(body.name.clone());
                        (g.vertex, g.toward) = (Some(i), toward);
                    })
                };
                side = side.min(of(Some([toward.x, toward.y])));
                top = top.min(of(None));
            }
            self.same(Rule::Cavity, side);
            self.same(Rule::Cavity, top);
        }
    }
}

/// Everything that the program measures at random placements, against the terms there.
#[test]
fn terms_are_the_margins_of_the_checks() {
    let mut gaps = 0;
    for number in 0..10 {
        let mut chance = Chance::new(0x7E12 + number);
        let sample = sample(number);
        let kit = kit_of(&mut chance, sample.across);
        let scene = Scene::new(&sample.car, &kit).unwrap();
        for removed in [false, true] {
            let choice = choice(removed, &sample.car, sample.fitting);
            let setting = Setting::new(&sample.car, &kit, &choice).unwrap();
            let mut v = numbers(&mut chance, &setting);
            v[0] *= 0.1;
            v[1] *= 0.1;
            let options = options(&mut chance, &setting);
            let mut placement = setting.numbers(&v, &options);
            placement.screw_extension = 0.0;
            let pose = rig::pose(&kit, &sample.car, &choice, &placement).unwrap();
            placement.screw_extension = pose.extension_to_seat;
            let situation = Situation::new(&scene, &choice, &placement).unwrap();
            let margins: Vec<Margin> =
                assess(&situation).outcomes.into_iter().flat_map(|o| o.margins).collect();
            for sense in [Sense::Low, Sense::High] {
                let given = ALL_GIVEN.map(|d| (d, options[d])).to_vec();
                let (situation, setting, margins) = (&situation, &setting, &margins);
                let bench = Bench { situation, setting, margins, sense, v, given };
                gaps += bench.gaps();
                bench.rules();
            }
        }
    }
    println!("{gaps} gaps");
    assert!(gaps > 1000);
}

#[test]
fn the_rules_words_are_the_programs() {
    let words = [
        (rule::CAVITY, Rule::Cavity),
        (rule::SEAL_WIDTH, Rule::SealWidth),
        (rule::OVERHANG_DIFFERENCE, Rule::OverhangDifference),
        (rule::OVERHANG, Rule::Overhang),
        (rule::LEVEL, Rule::Level),
        (rule::LEAN, Rule::Lean),
        (rule::SKEW, Rule::Skew),
        (rule::FOOT_IN_PORT, Rule::FootInPort),
        (rule::SCREW_OFFSET, Rule::ScrewOffset),
        (rule::TRAVEL, Rule::Travel),
    ];
    for (word, rule) in words {
        assert_eq!(word, rule.word());
    }
}
