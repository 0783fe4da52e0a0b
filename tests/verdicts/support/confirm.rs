//! Confirms a study by comparing every part with every part.

use super::brute::{Found, Heap, Place, compare, sunk};
use super::chance::Chance;
use super::figures::figures;
use super::poses;
use super::sample_car::Sample;
use assembly::car_top::{BodyId, LidState};
use assembly::kit::PartKind;
use assembly::rig::{Contact, RigPart};
use assembly::{CarTop, Choice, Kit, Placement};
use fitup::{Assessment, Check, Margin, Part, Rule};
use nalgebra::Vector3;
use recheck::Setting;

/// Reported distances and those found here may differ by this much, mm: both are exact over the
/// triangles, at coordinates up to a metre in double precision.
pub(crate) const SAME: f64 = 1e-6;
/// Every gap margin narrower than this is reported, mm.
const REPORTED: f64 = 40.0;

/// One part in its place.
pub(crate) struct Piece {
    pub(crate) part: Part,
    pub(crate) kind: PartKind,
    pub(crate) heap: Heap,
    /// Bound on how far its surface may be from where it is placed, mm.
    pub(crate) deviation: f64,
    /// The part of it that is due to the tolerances of what the piece stands on, mm.
    pub(crate) stack: f64,
}

/// Whether a body belongs to the fitting to be covered.
pub(crate) fn covered(car: &CarTop, choice: &Choice, id: BodyId) -> bool {
    let fitting = &car.fittings[choice.fitting];
    fitting.bodies.contains(&id) || fitting.removables.iter().any(|r| r.body == id)
}

/// The pieces of the car top.
pub(crate) fn car_pieces(car: &CarTop, bodies: &[BodyId], opening: f64) -> Vec<Piece> {
    let lid = match &car.lid {
        LidState::Hinged(lid) => Some(lid.body),
        _ => None,
    };
    bodies
        .iter()
        .map(|&id| {
            let body = car.body(id);
            let place =
                if lid == Some(id) { poses::lid_place(car, opening) } else { Place::as_drawn() };
            Piece {
                part: Part::Car(id),
                kind: body.kind,
                heap: Heap::new(&body.body.mesh, &place),
                deviation: body.body.deviation.bound,
                stack: 0.0,
            }
        })
        .collect()
}

/// The pieces of the rig.
pub(crate) fn rig_pieces(setting: &Setting<'_>, placement: &Placement) -> Vec<Piece> {
    let posed = |part| {
        let piece = recheck::Piece::Rig(part);
        let body = setting.body(piece, placement.link_thickness).unwrap();
        Piece {
            part: Part::Rig(part),
            kind: part.kind(),
            heap: Heap::new(&body.mesh, &setting.place(placement, piece).unwrap()),
            deviation: setting.deviation(piece, &body),
            stack: setting.stack(piece, &body),
        }
    };
    RigPart::all(setting.kit).into_iter().map(posed).collect()
}

fn piece(part: Part) -> recheck::Piece {
    match part {
        Part::Rig(part) => recheck::Piece::Rig(part),
        Part::Car(id) => recheck::Piece::Car(id),
    }
}

/// What does not agree.
#[derive(Debug, Default)]
pub(crate) struct Faults {
    /// The report says something else than what was found.
    pub(crate) report: Vec<String>,
    /// Whether it says so or not: the rig does not fit.
    pub(crate) fit: Vec<String>,
    /// Pairs compared.
    pub(crate) pairs: usize,
}

/// A study at its placement.
pub(crate) struct Claim<'c> {
    pub(crate) sample: &'c Sample,
    pub(crate) kit: &'c Kit,
    pub(crate) choice: &'c Choice,
    pub(crate) placement: &'c Placement,
    pub(crate) assessment: &'c Assessment,
}

impl Claim<'_> {
    /// Compares everything with everything; `shifted` moves one part away from where the
    /// placement puts it.
    pub(crate) fn examine(&self, shifted: Option<(Part, Vector3<f64>)>) -> Faults {
        let car = &self.sample.car;
        let setting = Setting::new(car, self.kit, self.choice).unwrap();
        let bodies: Vec<BodyId> = setting.present().collect();
        let mut rig = rig_pieces(&setting, self.placement);
        let mut on_car = car_pieces(car, &bodies, self.placement.lid_opening.radians());
        if let Some((part, by)) = shifted {
            for piece in rig.iter_mut().chain(&mut on_car).filter(|p| p.part == part) {
                piece.heap = piece.heap.moved(&by);
            }
        }
        let mut faults = Faults::default();
        for (i, a) in rig.iter().enumerate() {
            for b in rig[i + 1..].iter().chain(&on_car) {
                faults.pairs += 1;
                match setting.contact(piece(a.part), piece(b.part)) {
                    Some(Contact::Own) => {}
                    Some(kind) => self.touch(&mut faults, a, b, kind),
                    None => self.gap(&mut faults, a, b),
                }
            }
        }
        self.figures(&mut faults, &bodies);
        faults
    }

    fn margins(&self, rule: Rule, a: Part, b: Part) -> Vec<&Margin> {
        self.assessment
            .outcomes
            .iter()
            .flat_map(|o| &o.margins)
            .filter(|m| m.rule == rule && ((m.a, m.b) == (a, b) || (m.a, m.b) == (b, a)))
            .collect()
    }

    fn gap(&self, faults: &mut Faults, a: &Piece, b: &Piece) {
        let name = format!("{:?} and {:?}", a.part, b.part);
        let need = self.kit.rules.need(a.kind, b.kind);
        let deviation = a.deviation + b.deviation;
        let reported = self.margins(Rule::Gap, a.part, b.part);
        let found = match reported[..] {
            [] => {
                let found = compare(&a.heap, &b.heap, REPORTED + need + deviation - SAME);
                if found != Found::Beyond {
                    faults.report.push(format!("{name}: not reported, but {found:?}"));
                }
                found
            }
            [margin] => {
                let middle = 0.5 * (margin.measured.low + margin.measured.high);
                let found = compare(&a.heap, &b.heap, middle.max(0.0) + 1e-3);
                self.against_report(faults, a, b, margin, found);
                found
            }
            _ => {
                faults.report.push(format!("{name}: reported {} times", reported.len()));
                compare(&a.heap, &b.heap, need + deviation)
            }
        };
        let left = found.distance() - deviation - need;
        if left <= 0.0 {
            faults.fit.push(format!("{name}: {found:?}, {left:.4} mm left"));
        }
        let overall = self.assessment.least().map_or(f64::INFINITY, |least| least.low);
        if left < overall - SAME {
            faults.report.push(format!("{name}: {left:.6} mm left, less than the least reported"));
        }
    }

    fn against_report(&self, faults: &mut Faults, a: &Piece, b: &Piece, m: &Margin, found: Found) {
        let name = format!("{:?} and {:?}", a.part, b.part);
        let need = self.kit.rules.need(a.kind, b.kind);
        let deviation = a.deviation + b.deviation;
        let (low, high) = (m.measured.low, m.measured.high);
        let mut check = |holds: bool, what: &str| {
            if !holds {
                faults.report.push(format!("{name}: {what}: {found:?}, {m:?}, ±{deviation}"));
            }
        };
        check((m.need - need).abs() < 1e-12, "need");
        check((m.margin.low - (low - need)).abs() < SAME, "margin");
        check((m.margin.high - (high - need)).abs() < SAME, "margin");
        if low + high > 2.0 * SAME {
            let d = found.distance();
            check(matches!(found, Found::Apart(_)), "reported apart");
            check(low - SAME <= d - deviation && d + deviation <= high + SAME, "interval");
            check((0.5 * (low + high) - d).abs() <= SAME, "distance");
        } else {
            check(found.distance() <= SAME, "reported overlapping");
            // No way shorter than the certified depth frees the parts.
            let certain = -high + deviation;
            check(low <= high && certain >= -SAME, "order");
            if certain > 0.01 {
                let mut chance = Chance::new(seed_of(&name));
                for _ in 0..4 {
                    let mut side = || chance.between(-1.0, 1.0);
                    let way = Vector3::new(side(), side(), side()).normalize() * (0.999 * certain);
                    let still = compare(&a.heap, &b.heap.moved(&way), 0.0) == Found::Overlap;
                    if !still {
                        faults.report.push(format!("{name}: free after {certain} mm along {way}"));
                    }
                }
            }
        }
    }

    /// Parts that touch by design neither run into each other nor, where they must touch, stand
    /// apart.
    fn touch(&self, faults: &mut Faults, a: &Piece, b: &Piece, kind: Contact) {
        let name = format!("{:?} and {:?}", a.part, b.part);
        // Parts that stand on each other move together.
        let deviation = a.deviation - a.stack + b.deviation - b.stack;
        // The ball finds its seat, from as far to the side as its own rule allows.
        let drawn_in = match (a.part, b.part) {
            (Part::Rig(RigPart::Cup), Part::Rig(RigPart::Screw)) => {
                let lines = poses::lines(self.kit, &self.sample.car, self.choice, self.placement);
                poses::off_line(lines.lower, lines.axis).abs()
            }
            _ => 0.0,
        };
        let tolerance = self.kit.rules.contact + deviation + drawn_in;
        let found = compare(&a.heap, &b.heap, 10.0 + 2.0 * tolerance);
        let deep = if found.distance() < SAME { sunk(&a.heap, &b.heap) } else { 0.0 };
        let apart = if kind == Contact::Seated { found.distance() } else { 0.0 };
        let departure = deep.max(apart);
        if departure > tolerance {
            faults.fit.push(format!("{name}: {departure} mm out of contact"));
        }
        match self.margins(Rule::Contact, a.part, b.part)[..] {
            [margin] => {
                let said = margin.measured.high;
                if said < departure - SAME && departure.is_finite() {
                    faults.report.push(format!("{name}: contact {said}, found {departure}"));
                }
                if (margin.need - tolerance).abs() > 1e-9 {
                    faults.report.push(format!("{name}: contact within {}", margin.need));
                }
            }
            [] if kind == Contact::Loose && found == Found::Beyond => {}
            ref other => {
                faults.report.push(format!("{name}: contact reported {} times", other.len()));
            }
        }
    }

    fn figures(&self, faults: &mut Faults, bodies: &[BodyId]) {
        let own = figures(self.sample, self.kit, self.choice, self.placement, bodies);
        for figure in own.iter().filter(|f| f.left <= 0.0) {
            faults.fit.push(format!("{figure:?}"));
        }
        let reported: Vec<&Margin> = self
            .assessment
            .outcomes
            .iter()
            .flat_map(|o| &o.margins)
            .filter(|m| !matches!(m.rule, Rule::Gap | Rule::Contact | Rule::Flatness))
            // Ways and hands are no part of what is measured in place.
            .filter(|m| !matches!(m.check, Check::Lowering | Check::Access))
            .collect();
        let same = |m: &Margin, f: &super::figures::Figure| {
            m.rule == f.rule
                && (m.a, m.b) == f.between
                && m.measured.low - SAME <= f.nominal
                && f.nominal <= m.measured.high + SAME
        };
        for margin in &reported {
            if !own.iter().any(|f| same(margin, f)) {
                faults.report.push(format!("no such figure: {margin:?}"));
            }
        }
        for figure in &own {
            match reported.iter().filter(|m| same(m, figure)).map(|m| m.margin.low).reduce(f64::min)
            {
                None => faults.report.push(format!("not reported: {figure:?}")),
                Some(low) if low > figure.left + 2.0 * SAME && figure.rule != Rule::SealWidth => {
                    faults.report.push(format!("more left than {figure:?}: {low}"));
                }
                Some(_) => {}
            }
        }
    }
}

/// A number from a name, to draw ways by.
fn seed_of(name: &str) -> u64 {
    name.bytes().fold(7, |n: u64, b| n.wrapping_mul(31).wrapping_add(u64::from(b)))
}
