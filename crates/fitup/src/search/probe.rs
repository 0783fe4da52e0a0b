//! One placement looked at: which margins are short there, with their witnesses.

use super::flat;
use super::space::{CHOICES, ELBOW, Options, VARIABLES, covered, placement, var};
use super::witness::{At, Bench, Law, Meeting, Sense, Witness, shape_of};
use crate::checks::contact_on_car;
use crate::margin::Part;
use crate::scene::Scene;
use crate::situation::Situation;
use assembly::car_top::BodyId;
use assembly::rig::allowed_contact;
use gap::{Proximity, Solid};
use nalgebra::{Isometry3, Point3, Vector2};
use std::collections::BTreeMap;

/// A rule broken by less than this is kept, mm: the bounds put placements on its edge.
const TOUCH: f64 = 1e-7;

/// What is amiss by less than this does not keep the search from what depends on more variables, mm.
const SLIGHT: f64 = 0.2;

/// How far a rectangle reaches to each side, in widths of the cell.
const REACH: f64 = 1.5;

/// A pair of parts between which a gap is asked for.
struct Pair {
    parts: [Part; 2],
    need: f64,
}

/// Pairs that depend on as many variables.
struct Group {
    /// Whether its pairs are in each of the views.
    seen: [bool; View::ALL.len()],
    /// Pairs by their numbers, those that were short last first.
    order: Vec<usize>,
}

/// Some of the pairs, by the variables that they depend on at the most: a proof that rests on few
/// variables is far shorter than one that has to split them all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// The cup's offset.
    Cup,
    /// Everything of the clamp.
    Clamp,
    /// The cup's offset and all of the outlet.
    Outlet,
    /// Everything but the outlet.
    CupAndClamp,
    /// What turns with the outlet's bearing.
    Turning,
    /// Everything.
    All,
}

impl View {
    /// Every view, the narrowest first.
    pub const ALL: [Self; 6] =
        [Self::Cup, Self::Clamp, Self::Outlet, Self::CupAndClamp, Self::Turning, Self::All];

    /// The views from which a proof is tried, the narrowest first.
    pub const PROVING: [Self; 5] =
        [Self::Cup, Self::Clamp, Self::Outlet, Self::CupAndClamp, Self::All];

    fn sees(self, moved: [bool; VARIABLES], chosen: [bool; CHOICES]) -> bool {
        let cup = moved[var::X] || moved[var::Y];
        let outlet = moved[var::BEARING] || chosen[ELBOW];
        let clamp =
            moved[var::SHIFT..].iter().any(|m| *m) || chosen[ELBOW + 1..].iter().any(|c| *c);
        match self {
            Self::Cup => !outlet && !clamp,
            Self::Clamp => !cup && !outlet,
            Self::Outlet => !clamp,
            Self::CupAndClamp => !outlet,
            Self::Turning => moved[var::BEARING],
            Self::All => true,
        }
    }
}

/// Looks at placements of one choice.
pub struct Probe<'b, 's> {
    bench: &'b Bench<'s>,
    pairs: Vec<Pair>,
    /// Pairs in groups, those that depend on the fewest variables first.
    groups: Vec<Group>,
    covered: Vec<BodyId>,
    laws: Vec<Witness>,
    /// Placements looked at.
    pub count: usize,
}

/// What was found at one placement.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// Margins below the limit, as witnesses, with their values there.
    pub short: Vec<(Witness, f64)>,
    /// The least of them; infinity without any.
    pub least: f64,
}

impl<'b, 's> Probe<'b, 's> {
    /// For one choice. `None` where it defines no placement.
    pub fn new(bench: &'b Bench<'s>, options: &Options) -> Option<Self> {
        let some = placement(&[0.0; VARIABLES], options);
        let situation = Situation::new(bench.scene, bench.choice, &some)?;
        let rules = &bench.scene.kit.rules;
        let mut pairs = Vec::new();
        let parts = situation.rig_parts();
        for &part in &parts {
            for id in situation.present() {
                if contact_on_car(&situation, part, id).is_none() {
                    let need = rules.need(part.kind(), situation.kind(id));
                    pairs.push(Pair { parts: [Part::Rig(part), Part::Car(id)], need });
                }
            }
        }
        for (i, &first) in parts.iter().enumerate() {
            for &second in &parts[i + 1..] {
                if allowed_contact(first, second).is_none() {
                    let need = rules.need(first.kind(), second.kind());
                    pairs.push(Pair { parts: [Part::Rig(first), Part::Rig(second)], need });
                }
            }
        }
        let mut groups: BTreeMap<(usize, [bool; View::ALL.len()]), Vec<usize>> = BTreeMap::new();
        for (i, pair) in pairs.iter().enumerate() {
            let (moved, chosen) = depends(bench, pair);
            let count = |set: &[bool]| set.iter().filter(|s| **s).count();
            // A discrete variable counts for two.
            let rank = count(&moved) + 2 * count(&chosen);
            let seen = View::ALL.map(|view| view.sees(moved, chosen));
            groups.entry((rank, seen)).or_default().push(i);
        }
        let groups = groups.into_iter().map(|((_, seen), order)| Group { seen, order }).collect();
        let covered = covered(bench.scene, bench.choice).collect();
        let laws = bench.laws();
        Some(Self { bench, pairs, groups, covered, laws, count: 0 })
    }

    /// The margins at a placement whose end is below `limit`: those of rules, and at most `most`
    /// gaps. The depth of an overlap is looked for as far as `deep`, mm.
    pub fn look(
        &mut self,
        (at, options): (&At<'_>, &Options),
        (sense, view): (Sense, View),
        (limit, most): (f64, usize),
        deep: f64,
    ) -> Found {
        self.count += 1;
        let mut found = Found { short: Vec::new(), least: f64::INFINITY };
        let chosen = options.map(Some);
        for law in self.laws.iter().filter(|law| law.holds_for(&chosen)) {
            let value = self.bench.value(law, at) + law.constant(sense);
            // A rule that is kept is no room to spare.
            let limit = if law.is_rule { limit.min(-TOUCH) } else { limit };
            if value < limit {
                found.note(law.clone(), value);
            }
        }
        for &id in &self.covered {
            for law in cavity(self.bench, at, id) {
                let witness = self.bench.by_law(law, options);
                let value = self.bench.value(&witness, at) + witness.constant(sense);
                if value < limit {
                    found.note(witness, value);
                }
            }
        }
        let poses = Poses { bench: self.bench, at };
        // What depends on few variables is settled by them, before what depends on more.
        for Group { seen, order: group } in &mut self.groups {
            if !seen[view as usize] {
                continue;
            }
            let mut hot = Vec::new();
            for (place, &pair) in group.iter().enumerate() {
                if hot.len() >= most {
                    break;
                }
                let pair = &self.pairs[pair];
                // Where nobody saw there may be room.
                if sense == Sense::High && pair.parts.iter().any(|p| self.bench.may_be_empty(*p)) {
                    continue;
                }
                // A rectangle lies a hair under the face: where one gap tells whether a placement
                // keeps them all, it is measured as it is.
                let reach = (most > 1 && most < usize::MAX).then_some(REACH * deep);
                let known = found.short.len();
                for witness in poses.measure(pair, options, (sense, limit), (deep, reach)) {
                    let value = self.bench.value(&witness, at) + witness.constant(sense);
                    if value < limit {
                        found.note(witness, value);
                    }
                }
                if found.short.len() > known {
                    hot.push(place);
                }
            }
            for place in hot {
                let pair = group.remove(place);
                group.insert(0, pair);
            }
            if most < usize::MAX
                && found.worst(limit, |_| true).is_some_and(|(w, v)| w.amiss(*v, limit) > SLIGHT)
            {
                break;
            }
        }
        found
    }
}

impl Found {
    /// The one that is amiss most among some, with its value.
    pub fn worst(&self, limit: f64, among: impl Fn(&Witness) -> bool) -> Option<&(Witness, f64)> {
        let some = self.short.iter().filter(|(w, _)| among(w));
        some.max_by(|a, b| a.0.amiss(a.1, limit).total_cmp(&b.0.amiss(b.1, limit)))
    }

    fn note(&mut self, witness: Witness, value: f64) {
        self.least = self.least.min(value);
        self.short.push((witness, value));
    }
}

/// The variables that a pair depends on.
fn depends(bench: &Bench<'_>, pair: &Pair) -> ([bool; VARIABLES], [bool; CHOICES]) {
    let mut moved = [false; VARIABLES];
    let mut chosen = [false; CHOICES];
    for part in pair.parts {
        for (sum, by) in moved.iter_mut().zip(bench.frame(part).moved_by()) {
            *sum |= by;
        }
        for (sum, by) in chosen.iter_mut().zip(bench.depends(part)) {
            *sum |= by;
        }
    }
    (moved, chosen)
}

/// The rules of one body in the cup's cavity: its widest point from the axis, and its highest.
fn cavity(bench: &Bench<'_>, at: &At<'_>, id: BodyId) -> Vec<Law> {
    let extent = bench.scene.extent(id);
    let axis = bench.mechanism.axis(at.values());
    let out = |p: &Point3<f64>| p.xy() - axis;
    let widest = extent
        .outline
        .iter()
        .max_by(|a, b| out(a).norm_squared().total_cmp(&out(b).norm_squared()));
    let mut laws = Vec::new();
    if let Some(p) = widest {
        let toward = out(p).try_normalize(0.0).unwrap_or_else(Vector2::x);
        laws.push(Law::CavitySide(id, *p, toward));
    }
    if let Some(top) = extent.top {
        laws.push(Law::CavityTop(id, top));
    }
    laws
}

/// The parts at one placement.
struct Poses<'p, 's> {
    bench: &'p Bench<'s>,
    at: &'p At<'p>,
}

impl<'s> Poses<'_, 's> {
    fn solid(&self, part: Part, options: &Options) -> Option<(&'s Solid, f64)> {
        let scene: &'s Scene<'s> = self.bench.scene;
        match part {
            Part::Car(id) => Some((scene.car_solid(id), scene.car.body(id).body.deviation.bound)),
            Part::Rig(part) => {
                let shaped = scene.shape(shape_of(part, self.bench.choice, options))?;
                Some((&shaped.solid, self.bench.deviation(part, options)))
            }
        }
    }

    /// Where a part's solid lies in its frame.
    fn own(&self, part: Part) -> Isometry3<f64> {
        match part {
            Part::Car(id) => self.bench.scene.plate_from_solid(id),
            Part::Rig(_) => Isometry3::identity(),
        }
    }

    /// The witnesses of a pair whose margin may be below the limit: one by two points, or, with
    /// `reach`, for each part on which one can be, one by a rectangle that reaches so far to each
    /// side. The depth of an overlap is looked for as far as `deep`.
    fn measure(
        &self,
        pair: &Pair,
        options: &Options,
        limit: (Sense, f64),
        (deep, reach): (f64, Option<f64>),
    ) -> Vec<Witness> {
        let Some((meeting, solids, deviation)) = self.meeting(pair, options, limit, deep) else {
            return Vec::new();
        };
        let flat = |side| self.along_flat(&meeting, solids, side, reach?);
        let mut meetings: Vec<Meeting> = [1, 0].into_iter().filter_map(flat).collect();
        if meetings.is_empty() {
            meetings.push(meeting);
        }
        let witness = |meeting| self.bench.by_points(meeting, (pair.need, deviation), options);
        meetings.into_iter().map(witness).collect()
    }

    /// Where a pair's parts are nearest or overlap, if its margin may be below the limit; their
    /// solids and their deviation together.
    fn meeting(
        &self,
        pair: &Pair,
        options: &Options,
        (sense, limit): (Sense, f64),
        deep: f64,
    ) -> Option<(Meeting, [&'s Solid; 2], f64)> {
        let parts = pair.parts;
        let (solid_a, deviation_a) = self.solid(parts[0], options)?;
        let (solid_b, deviation_b) = self.solid(parts[1], options)?;
        let deviation = deviation_a + deviation_b;
        let own = parts.map(|part| self.own(part));
        let poses = [0, 1].map(|i| self.at.place(self.bench.frame(parts[i])).isometry() * own[i]);
        let a_from_b: Isometry3<f64> = poses[0].inv_mul(&poses[1]);
        let off = if sense == Sense::Low { deviation } else { -deviation };
        let cap = limit + pair.need + off;
        // From the frame of the first solid to those of the parts.
        let in_frames = |a: &Point3<f64>, b: &Point3<f64>| {
            [own[0] * a, own[1] * a_from_b.inverse_transform_point(b)].map(|p| p.coords)
        };
        let apart = |gap: &gap::Gap| {
            let on = in_frames(&gap.on_a, &gap.on_b);
            Meeting { parts, on, depth: 0.0, triangles: Some(gap.triangles), across: None }
        };
        // Without a cap above zero only an overlap can be short.
        let meeting = match gap::gap(solid_a, solid_b, &a_from_b, cap.max(0.0)) {
            Proximity::AtLeast(_) | Proximity::CannotDecide(_) => return None,
            Proximity::Apart(gap) => apart(&gap),
            Proximity::Overlapping => {
                // What lies inside an open surface is anyone's guess; that surfaces meet is not.
                if let Some(sunk) = gap::sunk(solid_a, solid_b, &a_from_b, deep) {
                    let on = in_frames(&sunk.on_a, &sunk.on_b);
                    Meeting { parts, on, depth: sunk.depth, triangles: None, across: None }
                } else {
                    apart(&gap::surface_gap(solid_a, solid_b, &a_from_b, f64::INFINITY).ok()??)
                }
            }
        };
        Some((meeting, [solid_a, solid_b], deviation))
    }

    /// The same with a rectangle for the point of one part, if one can be there.
    fn along_flat(
        &self,
        points: &Meeting,
        solids: [&Solid; 2],
        side: usize,
        reach: f64,
    ) -> Option<Meeting> {
        let triangles = points.triangles?;
        let [part, other] = [points.parts[side], points.parts[1 - side]];
        let (frame, others) = (self.bench.frame(part), self.bench.frame(other));
        if frame == others || !frame.may_hold_rectangle(others) {
            return None;
        }
        let own = self.own(part);
        let at = own.inverse_transform_point(&Point3::from(points.on[side]));
        let rectangle = flat::under(solids[side], triangles[side], &at, reach)?;
        Some(Meeting {
            parts: [other, part],
            on: [points.on[1 - side], (own * Point3::from(rectangle.middle)).coords],
            depth: 0.0,
            triangles: None,
            across: Some(rectangle.half.map(|half| own * half)),
        })
    }
}
