//! The checks, one file each, and the ledger in which they enter what they measure.
//!
//! Every pair of a rig part and a car body, and every pair of rig parts, belongs to exactly one
//! check ([`owner_on_car`], [`owner_in_rig`]); parts that touch by design are measured as contacts.
//!
//! [`assess`] runs the checks of the rig in its place, which the placement search knows. Whether the
//! parts get there and hands find room is looked at for a placement that keeps all of those
//! ([`assess_installation`]): the search does not look for a placement where they do.

mod access;
mod bar;
mod cover;
mod feet;
mod housing;
mod land;
mod links;
mod lowering;
mod neighbours;
mod screw;

pub(crate) use feet::beside;
pub(crate) use links::{lean_stack, rise_stack};
pub(crate) use screw::travel_stack;

use crate::contacts::Contacts;
use crate::land::Asking;
use crate::margin::{Check, Margin, Part, Rule, Undecided};
use crate::path::{self, Way};
use crate::situation::{Measured, Situation};
use assembly::car_top::{BodyId, LidState};
use assembly::kit::PartKind;
use assembly::rig::{Contact, PORTS, RigPart, allowed_contact};
use measure::{Interval, Stack};
use rayon::prelude::*;

/// What one check found.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckOutcome {
    /// The check.
    pub check: Check,
    /// Its margins, least first.
    pub margins: Vec<Margin>,
    /// What it could not tell.
    pub undecided: Vec<Undecided>,
}

/// What all checks found for one situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// One entry per check that was run, in the order of [`Check::ALL`].
    pub outcomes: Vec<CheckOutcome>,
}

/// How a placement stands with the checks that were run there. It is about this placement alone, and no
/// verdict on a fitting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Stand {
    /// Every margin is surely above zero, and nothing is left that cannot be told.
    NothingShort,
    /// Some margin is surely below zero.
    Short,
    /// Neither: something is not given, or the deviations are wider than the room to spare.
    CannotTell,
}

impl Assessment {
    /// How the placement stands. The one rule by which whatever rests on an assessment concludes.
    pub fn stand(&self) -> Stand {
        match self.least() {
            _ if self.surest_failure().is_some() => Stand::Short,
            Some(least) if least.low > 0.0 && self.undecided().next().is_none() => {
                Stand::NothingShort
            }
            _ => Stand::CannotTell,
        }
    }

    /// Whether every margin is surely above zero and nothing is left that cannot be told.
    pub fn is_kept(&self) -> bool {
        self.stand() == Stand::NothingShort
    }

    /// The margins that count toward the least: all but tolerances that are kept, clearances on the
    /// way and room for hands, which are no room to spare between the parts in their places.
    fn counting(&self) -> impl Iterator<Item = &Margin> {
        self.outcomes
            .iter()
            .flat_map(|o| &o.margins)
            .filter(|m| !matches!(m.rule, Rule::OnTheWay | Rule::HandRoom))
            .filter(|m| !m.rule.is_tolerance() || m.may_be_broken())
    }

    /// The margin that limits: the one with the least lower bound.
    pub fn limit(&self) -> Option<&Margin> {
        self.counting().min_by(|a, b| a.margin.low.total_cmp(&b.margin.low))
    }

    /// The least margin as an interval: the least of all lower bounds and the least of all upper
    /// bounds, which may come from different pairs.
    pub fn least(&self) -> Option<Interval> {
        self.counting().map(|m| m.margin).reduce(Interval::min)
    }

    /// The margin that proves failure most strongly: the one with the least upper bound, if that
    /// is below zero.
    pub fn surest_failure(&self) -> Option<&Margin> {
        self.counting()
            .min_by(|a, b| a.margin.high.total_cmp(&b.margin.high))
            .filter(|m| m.margin.high < 0.0)
    }

    /// Everything that could not be told.
    pub fn undecided(&self) -> impl Iterator<Item = &Undecided> {
        self.outcomes.iter().flat_map(|o| &o.undecided)
    }
}

/// Where checks enter what they measure.
pub(crate) struct Ledger<'l, 's> {
    pub(crate) situation: &'l Situation<'s>,
    /// Margins are measured as far as this, mm.
    ceiling: f64,
    /// Whether contacts by design are not looked at.
    leaves_contacts_out: bool,
    /// Whether overlaps are found and not measured.
    leaves_depths_out: bool,
    margins: Vec<Margin>,
    undecided: Vec<Undecided>,
}

/// Margins wider than this are only followed up where a check has no narrower one, mm.
const NEAR: f64 = 40.0;
/// Of those only the least is, and none that is wider than this, mm.
const FAR: f64 = 500.0;

impl<'l, 's> Ledger<'l, 's> {
    fn new(situation: &'l Situation<'s>, ceiling: f64) -> Self {
        let (margins, undecided) = (Vec::new(), Vec::new());
        let (leaves_contacts_out, leaves_depths_out) = (false, false);
        Self { situation, ceiling, leaves_contacts_out, leaves_depths_out, margins, undecided }
    }

    /// The ports' figures, for placing rules.
    fn ports(&self) -> Stack {
        let s = self.situation;
        Stack::of(PORTS, s.scene.clamp_deviation(s.choice))
    }

    fn outcome(self, check: Check) -> CheckOutcome {
        let mut margins = self.margins;
        margins.sort_by(|a, b| a.margin.low.total_cmp(&b.margin.low));
        CheckOutcome { check, margins, undecided: self.undecided }
    }

    pub(crate) fn push(&mut self, margin: Margin) {
        let car = self.situation.scene.car;
        // There may be nothing at all where nobody saw.
        let may_be_empty = margin.a.is_unseen(car) || margin.b.is_unseen(car);
        self.margins.push(if may_be_empty { margin.or_more() } else { margin });
    }

    pub(crate) fn undecided(&mut self, check: Check, reason: String, remedy: &str) {
        if !self.undecided.iter().any(|u| u.check == check && u.reason == reason) {
            self.undecided.push(Undecided { check, reason, remedy: remedy.into() });
        }
    }

    /// Measures the gap between two parts against the need for their kinds.
    fn gap(&mut self, check: Check, a: RigPart, b: Part, (need, cap): (f64, f64)) {
        let measured = if self.leaves_depths_out {
            self.situation.between_or_in(Part::Rig(a), b, cap)
        } else {
            self.situation.between(Part::Rig(a), b, cap)
        };
        self.enter_gap(check, a, b, need, measured);
    }

    /// Marks a check undecided where a body's missing surface may be in a part's way.
    fn hole(&mut self, check: Check, part: RigPart, id: BodyId) {
        let s = self.situation;
        if s.scene.car_solid(id).is_closed() {
            return;
        }
        let reach = s.scene.kit.rules.need(part.kind(), s.kind(id))
            + s.deviation(Part::Rig(part))
            + s.deviation(Part::Car(id));
        if s.may_meet_hole(part, id, reach) {
            self.undecided(
                check,
                format!("{} has holes in its surface", self.name(Part::Car(id))),
                "export the part as a closed body, or close the holes in the mesh",
            );
        }
    }

    fn enter_gap(&mut self, check: Check, a: RigPart, b: Part, need: f64, measured: Measured) {
        match measured {
            Measured::Beyond(_) => {}
            Measured::Between(nominal, witness) => {
                let s = self.situation;
                let stack = s.stack(Part::Rig(a)) + s.stack(b);
                self.push(Margin::at_least(
                    (check, Rule::Gap),
                    (Part::Rig(a), b),
                    need,
                    (nominal, stack),
                    witness,
                ));
            }
            Measured::Undecided(why) => {
                let reason = format!("{} and {}: {why}", self.name(Part::Rig(a)), self.name(b));
                self.undecided(
                    check,
                    reason,
                    "export the part as a closed body, or close the hole in the mesh",
                );
            }
        }
    }

    /// Measures a contact by design on the nominal model.
    fn contact(&mut self, check: Check, a: RigPart, b: Part, contact: Contact) {
        let s = self.situation;
        let (tolerance, far) = slack(s, a, b);
        // Surfaces that lie on each other have no short way out to be found; the certified depth
        // is what counts.
        let (departure, witness) = match s.contact(Part::Rig(a), b, far) {
            Measured::Beyond(_) if contact == Contact::Loose => return,
            Measured::Beyond(least) => (least, None),
            // The deviations stand in the tolerance.
            Measured::Between(interval, witness) => match contact {
                Contact::Loose => ((-interval.middle()).max(0.0), witness),
                Contact::Seated | Contact::Own => (interval.middle().abs(), witness),
            },
            undecided @ Measured::Undecided(_) => {
                self.enter_gap(check, a, b, 0.0, undecided);
                return;
            }
        };
        self.push(Margin::at_most(
            (check, Rule::Contact),
            (Part::Rig(a), b),
            tolerance,
            (Interval::exactly(departure).widened(Contacts::ROUNDING), Stack::none()),
            witness,
        ));
    }

    fn name(&self, part: Part) -> String {
        match part {
            Part::Car(id) => self.situation.scene.car.body(id).body.name.clone(),
            Part::Rig(part) => part.name(["A", "B"]),
        }
    }

    /// Enters every pair that a check owns.
    fn pairs(&mut self, check: Check) {
        let s = self.situation;
        let owned = || s.facings().iter().filter(|facing| facing.owner == check);
        for facing in owned() {
            if let Part::Car(id) = facing.b {
                // The land looks for holes under the gasket itself.
                if !(facing.a == RigPart::Gasket && s.kind(id) == PartKind::Plate) {
                    self.hole(check, facing.a, id);
                }
                self.facing(facing);
            }
        }
        for facing in owned().filter(|facing| matches!(facing.b, Part::Rig(_))) {
            self.facing(facing);
        }
    }

    fn facing(&mut self, facing: &Facing) {
        let cap = facing.cap(self.ceiling);
        // Most parts are far from most others.
        if facing.contact.is_some() || facing.apart <= cap {
            self.measure(facing.owner, (facing.a, facing.b), facing.contact, (facing.need, cap));
        }
    }

    /// Enters of the pairs that a check owns the one with the least margin, contacts by design apart and as
    /// far as [`FAR`]. The same whatever is looked at first.
    fn least_pair(&mut self, check: Check) {
        /// Margins that differ by less are compared as they are measured, mm.
        const CLOSE: f64 = 1e-9;
        let s = self.situation;
        let owned = s.facings().iter().filter(|f| f.owner == check && f.contact.is_none());
        let mut pairs: Vec<_> =
            owned.map(|f| (f.apart - f.cap(FAR), f.a, f.b, f.need, f.cap(FAR))).collect();
        let before = s.memory().and_then(|memory| memory.least_far(check));
        let comes_first = |pair: &(f64, RigPart, Part, f64, f64)| Some((pair.1, pair.2)) == before;
        pairs.sort_by(|x, y| comes_first(y).cmp(&comes_first(x)).then(x.0.total_cmp(&y.0)));
        let mut least: Option<(f64, RigPart, Part, f64, Measured)> = None;
        for (_, a, b, need, cap) in pairs {
            // Beyond a gap of this its margin is not the least one.
            let within = least.as_ref().map(|least| least.0 + CLOSE + cap);
            if within.is_some_and(|within| s.is_clear(Part::Rig(a), b, within)) {
                continue;
            }
            let measured = s.between(Part::Rig(a), b, cap);
            let Measured::Between(nominal, _) = &measured else { continue };
            let low = nominal.low - cap;
            let is_less = least.as_ref().is_none_or(|(least, c, d, ..)| {
                low < *least || (low <= *least && (a, b) < (*c, *d))
            });
            if is_less {
                least = Some((low, a, b, need, measured));
            }
        }
        let Some((_, a, b, need, measured)) = least else { return };
        if let Some(memory) = s.memory() {
            memory.keep_least_far(check, (a, b));
        }
        self.enter_gap(check, a, b, need, measured);
    }

    fn pair(&mut self, check: Check, a: RigPart, b: Part, contact: Option<Contact>) {
        self.measure(check, (a, b), contact, reach(self.situation, a, b, self.ceiling));
    }

    /// Enters two parts, with the gap asked for and how far is looked.
    fn measure(
        &mut self,
        check: Check,
        (a, b): (RigPart, Part),
        contact: Option<Contact>,
        reach: (f64, f64),
    ) {
        match contact {
            Some(Contact::Own) => {}
            Some(_) if self.leaves_contacts_out => {}
            Some(contact) => self.contact(check, a, b, contact),
            None => self.gap(check, a, b, reach),
        }
    }

    /// Marks a check undecided when it meets studs of which nothing is known.
    fn studs(&mut self, check: Check) {
        if self.situation.scene.car.studs.is_none() {
            self.undecided(
                check,
                "nothing is known of the studs".into(),
                "give each group of studs with their nuts in [[studs]], or `studs = []` where \
                 there are none",
            );
        }
    }

    /// Marks a check undecided when it meets a lid or hinge of which nothing is known.
    fn lid_and_hinge(&mut self, check: Check) {
        let car = self.situation.scene.car;
        if car.lid == LidState::Unknown {
            self.undecided(
                check,
                "nothing is known of the lid".into(),
                "give [lid] with its mesh, hinge axis and stop, or `fitted = false`",
            );
        }
        if car.hinge.is_none() {
            self.undecided(
                check,
                "nothing is known of the hinge".into(),
                "give [hinge] with its meshes, or `meshes = []` where there is none",
            );
        }
    }
}

/// The check that a pair of a rig part and a car body belongs to.
pub fn owner_on_car(s: &Situation<'_>, part: RigPart, id: BodyId) -> Check {
    let kind = s.kind(id);
    match part {
        RigPart::Gasket | RigPart::Cup | RigPart::SidePort if s.is_covered(id) => Check::Cover,
        RigPart::Gasket if matches!(kind, PartKind::Plate | PartKind::Stud) => Check::Land,
        RigPart::Gasket
        | RigPart::Cup
        | RigPart::SidePort
        | RigPart::Outlet
        | RigPart::OutletHandle => match kind {
            PartKind::Housing | PartKind::Lid | PartKind::Hinge | PartKind::PortCover => {
                Check::Housing
            }
            _ => Check::Neighbours,
        },
        _ => owner_of_clamp(part),
    }
}

/// The check that a pair of rig parts belongs to: that of the part which comes later.
pub fn owner_in_rig(a: RigPart, b: RigPart) -> Check {
    match (a.is_clamp(), b.is_clamp()) {
        (true, true) => owner_of_clamp(a).max(owner_of_clamp(b)),
        (true, false) => owner_of_clamp(a),
        (false, true) => owner_of_clamp(b),
        (false, false) => Check::Cover,
    }
}

fn owner_of_clamp(part: RigPart) -> Check {
    match part {
        RigPart::Link(..) => Check::Links,
        RigPart::Foot(_) | RigPart::LowerPin(_) | RigPart::LowerPinPath(_) => Check::Feet,
        RigPart::Screw | RigPart::ScrewHandle => Check::Screw,
        _ => Check::Bar,
    }
}

/// The contact allowed by design between a rig part and a car body.
pub(crate) fn contact_on_car(s: &Situation<'_>, part: RigPart, id: BodyId) -> Option<Contact> {
    match (part, s.kind(id)) {
        (RigPart::Gasket, PartKind::Plate) => Some(Contact::Seated),
        // The fitting stands in the cavity, which its own rule measures.
        (RigPart::Cup, _) if s.is_covered(id) => Some(Contact::Own),
        (RigPart::Foot(_), PartKind::Housing) if s.sidewall() == Some(id) => Some(Contact::Seated),
        _ => None,
    }
}

fn run(ledger: &mut Ledger<'_, '_>, check: Check) {
    match check {
        Check::Cover => cover::run(ledger),
        Check::Land => land::run(ledger),
        Check::Neighbours => neighbours::run(ledger),
        Check::Housing => housing::run(ledger),
        Check::Bar => bar::run(ledger),
        Check::Links => links::run(ledger),
        Check::Feet => feet::run(ledger),
        Check::Screw => screw::run(ledger),
        // They need the ways, and are run by themselves.
        Check::Lowering | Check::Access => {}
    }
}

/// Runs every check on a situation as far as what is broken: the margins whose low end is not above
/// zero, contacts by design apart, least first, and what could not be told. Far quicker than
/// [`assess`].
pub fn broken(situation: &Situation<'_>) -> (Vec<Margin>, Vec<Undecided>) {
    let (mut margins, mut undecided) = (Vec::new(), Vec::new());
    for check in Check::ALL.into_iter().filter(|check| check.is_in_place()) {
        let mut ledger = Ledger::new(situation, 0.0);
        ledger.leaves_contacts_out = true;
        run(&mut ledger, check);
        margins.extend(ledger.margins.into_iter().filter(Margin::may_be_broken));
        undecided.extend(ledger.undecided);
    }
    margins.sort_by(|a, b| a.margin.low.total_cmp(&b.margin.low));
    (margins, undecided)
}

/// The least margin between some parts of the rig and everything else, contacts by design apart, if its
/// low end is below a ceiling, mm.
pub fn least_of(situation: &Situation<'_>, parts: &[RigPart], ceiling: f64) -> Option<Margin> {
    least(Ledger::new(situation, ceiling), parts)
}

/// The same where overlaps are found and not measured, which is far quicker: of parts that run into each
/// other the margin has no low end, and no place.
pub fn least_or_in(situation: &Situation<'_>, parts: &[RigPart], ceiling: f64) -> Option<Margin> {
    let mut ledger = Ledger::new(situation, ceiling);
    ledger.leaves_depths_out = true;
    least(ledger, parts)
}

fn least(mut ledger: Ledger<'_, '_>, parts: &[RigPart]) -> Option<Margin> {
    let situation = ledger.situation;
    ledger.leaves_contacts_out = true;
    for &part in parts {
        for id in situation.present() {
            let check = owner_on_car(situation, part, id);
            ledger.pair(check, part, Part::Car(id), contact_on_car(situation, part, id));
        }
        for other in situation.rig_parts().into_iter().filter(|other| !parts.contains(other)) {
            let check = owner_in_rig(part, other);
            ledger.pair(check, part, Part::Rig(other), allowed_contact(part, other));
        }
    }
    ledger.margins.into_iter().min_by(|a, b| a.margin.low.total_cmp(&b.margin.low))
}

/// Adds to an assessment whether every part reaches its place in the kit's order, and whether hands
/// find room there; gives the ways.
/// `may_search` allows a search for a way where no simple one is clear, which is dear.
pub fn assess_installation(
    situation: &Situation<'_>,
    assessment: &mut Assessment,
    may_search: bool,
) -> Vec<Way> {
    let ways = path::ways(situation, may_search);
    let mut lowering = Ledger::new(situation, FAR);
    lowering::run(&mut lowering, &ways);
    assessment.outcomes.push(lowering.outcome(Check::Lowering));
    let mut access = Ledger::new(situation, FAR);
    access::run(&mut access);
    assessment.outcomes.push(access.outcome(Check::Access));
    ways
}

/// Runs every check of the rig in its place and keeps every margin that is not wide; of a check that has
/// none but wide ones, the least.
pub fn assess(situation: &Situation<'_>) -> Assessment {
    let checks: Vec<Check> = Check::ALL.into_iter().filter(|check| check.is_in_place()).collect();
    let run = |check: Check, ceiling: f64| {
        let mut ledger = Ledger::new(situation, ceiling);
        run(&mut ledger, check);
        ledger
    };
    measure_ahead(situation, NEAR);
    let mut ledgers: Vec<Ledger<'_, '_>> = checks.iter().map(|check| run(*check, NEAR)).collect();
    let is_far = |ledger: &Ledger<'_, '_>| ledger.margins.iter().all(|m| m.rule.is_tolerance());
    let far = checks.iter().zip(&mut ledgers).filter(|(_, ledger)| is_far(ledger));
    if situation.memory().is_some() {
        far.par_bridge().for_each(|(check, ledger)| ledger.least_pair(*check));
    } else {
        far.for_each(|(check, ledger)| ledger.least_pair(*check));
    }
    let outcome = |(check, ledger): (&Check, Ledger<'_, '_>)| ledger.outcome(*check);
    Assessment { outcomes: checks.iter().zip(ledgers).map(outcome).collect() }
}

/// Two parts that some check owns, with all that is asked of them again and again.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Facing {
    owner: Check,
    a: RigPart,
    b: Part,
    /// The contact that they may have.
    contact: Option<Contact>,
    /// The gap asked for, mm.
    need: f64,
    /// The bound on how far both true surfaces may be from where they are posed, mm.
    deviation: f64,
    /// How far they are apart at the least, by the boxes around them, mm.
    apart: f64,
}

impl Facing {
    /// See [`reach`].
    fn cap(&self, ceiling: f64) -> f64 {
        cap(ceiling, (self.need, self.deviation))
    }
}

/// Every pair of parts that some check owns: each part of the rig with all car bodies that are there and
/// with the parts of the rig after it.
pub(crate) fn facings(s: &Situation<'_>) -> Vec<Facing> {
    let parts = s.rig_parts();
    let others: Vec<Part> =
        s.present().map(Part::Car).chain(parts.iter().copied().map(Part::Rig)).collect();
    let boxes: Vec<_> = others.iter().map(|part| s.plate_box(*part)).collect();
    let on_car = others.len() - parts.len();
    let mut facings = Vec::with_capacity(parts.len() * others.len());
    for (i, &a) in parts.iter().enumerate() {
        let own = &boxes[on_car + i];
        let is_other = |j: &usize| *j < on_car || *j > on_car + i;
        for j in (0..others.len()).filter(is_other) {
            let b = others[j];
            let (owner, contact) = match b {
                Part::Car(id) => (owner_on_car(s, a, id), contact_on_car(s, a, id)),
                Part::Rig(other) => (owner_in_rig(a, other), allowed_contact(a, other)),
            };
            let (need, deviation) = need_and_deviation(s, a, b);
            let apart =
                own.as_ref().zip(boxes[j].as_ref()).map_or(f64::NEG_INFINITY, |(a, b)| a.apart(b));
            let mut facing = Facing { owner, a, b, contact, need, deviation, apart };
            if facing.apart <= facing.cap(NEAR) {
                facing.apart = facing.apart.max(s.apart_at_least(Part::Rig(a), b));
            }
            facings.push(facing);
        }
    }
    facings
}

/// What is measured by itself, whichever thread it is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Task {
    /// The plate under the gasket.
    Land,
    /// Two parts, and the contact that they may have.
    Pair(RigPart, Part, Option<Contact>),
}

impl Task {
    fn run(self, s: &Situation<'_>, ceiling: f64) {
        match self {
            Self::Land => {
                let _ = Asking::of(s).map(|asking| s.land(&asking));
            }
            Self::Pair(a, b, Some(_)) => drop(s.contact(Part::Rig(a), b, slack(s, a, b).1)),
            Self::Pair(a, b, None) => {
                drop(s.between(Part::Rig(a), b, reach(s, a, b, ceiling).1));
            }
        }
    }
}

/// Where what is measured is remembered, measures what the checks ask for on all threads, to be entered one
/// after the other. What took longest the last time comes first: one overlap may take as long as a hundred
/// gaps, and whichever is begun last keeps all the others waiting.
fn measure_ahead(s: &Situation<'_>, ceiling: f64) {
    let Some(memory) = s.memory() else { return };
    let mut tasks = vec![Task::Land];
    let is_asked = |facing: &&Facing| match facing.contact {
        Some(contact) => contact != Contact::Own,
        None => facing.apart <= facing.cap(ceiling),
    };
    let asked = s.facings().iter().filter(is_asked);
    tasks.extend(asked.map(|facing| Task::Pair(facing.a, facing.b, facing.contact)));
    memory.longest_first(tasks, |task| task.run(s, ceiling));
}

/// The gap that is asked for between two parts, and the distance beyond which the lower bound of their
/// margin is above a ceiling; overlaps are always found. All mm.
fn reach(s: &Situation<'_>, a: RigPart, b: Part, ceiling: f64) -> (f64, f64) {
    let asked = need_and_deviation(s, a, b);
    (asked.0, cap(ceiling, asked))
}

fn cap(ceiling: f64, (need, deviation): (f64, f64)) -> f64 {
    (ceiling + need + deviation).max(0.0)
}

/// The gap that is asked for between two parts, and how far both may be from where they are posed, mm.
fn need_and_deviation(s: &Situation<'_>, a: RigPart, b: Part) -> (f64, f64) {
    let kind = match b {
        Part::Rig(part) => part.kind(),
        Part::Car(id) => s.kind(id),
    };
    let need = s.scene.kit.rules.need(a.kind(), kind);
    (need, s.deviation(Part::Rig(a)) + s.deviation(b))
}

/// How far a part may overlap the bodies of the car that it touches by design, mm; zero of one that touches
/// none.
pub(crate) fn contact_slack(s: &Situation<'_>, part: RigPart) -> f64 {
    let touched = s
        .present()
        .filter(|id| contact_on_car(s, part, *id).is_some_and(|contact| contact != Contact::Own));
    touched.map(|id| slack(s, part, Part::Car(id)).0).fold(0.0, f64::max)
}

/// How far two parts that touch by design may overlap or stand apart, and how far apart they are looked
/// at, mm.
fn slack(s: &Situation<'_>, a: RigPart, b: Part) -> (f64, f64) {
    let deviation = s.deviation_in_contact(Part::Rig(a)) + s.deviation_in_contact(b);
    // The ball finds its seat, from as far to the side as its own rule allows.
    let drawn_in = match (a, b) {
        (RigPart::Cup, Part::Rig(RigPart::Screw)) => {
            let axis = nalgebra::Point2::from(s.pose.seat.xy().coords);
            s.pose.line.offset_of(axis).abs()
        }
        _ => 0.0,
    };
    let tolerance = s.scene.kit.rules.contact + deviation + drawn_in;
    (tolerance, 10.0 + 2.0 * tolerance)
}
