//! Checks a witness: that the points lie where they are said to, that its margin is one of the
//! rig's, and what is left of it.

use crate::bend::turns_with_feet;
use crate::brute::{point_triangle, reaches};
use crate::fault::{DISCRETE, Fault};
use crate::setting::{Piece, Setting};
use crate::term::{Term, What, corners};
use assembly::car_top::BodyId;
use assembly::kit::PartKind;
use assembly::placement::{End, Side};
use assembly::rig::RigPart;
use nalgebra::{Point3, Vector2, Vector3};
use review::proof::{GapGround, Ground, OverlapGround, RuleGround, Sense, Witness};
use solids::{Body, Mesh, winding_number};
use std::cell::OnceCell;
use std::collections::HashMap;
use std::rc::Rc;

/// A point that is said to lie on a triangle may lie this far off it, mm.
const ON_TRIANGLE: f64 = 1e-6;

/// The rules' words as the record writes them.
pub(crate) mod rule {
    pub(crate) const CAVITY: &str = "room inside the cup";
    pub(crate) const SEAL_WIDTH: &str = "narrowest seal width";
    pub(crate) const OVERHANG_DIFFERENCE: &str = "difference of overhangs";
    pub(crate) const OVERHANG: &str = "slot beyond the outside link";
    pub(crate) const LEVEL: &str = "bar out of level";
    pub(crate) const LEAN: &str = "link out of upright";
    pub(crate) const SKEW: &str = "foot out of square";
    pub(crate) const FOOT_IN_PORT: &str = "foot beside port edge";
    pub(crate) const SCREW_OFFSET: &str = "screw off the cup's axis";
    pub(crate) const TRAVEL: &str = "screw travel left";
}

/// Checks witnesses; keeps the solids that it has built.
pub(crate) struct Examiner<'e, 's> {
    setting: &'e Setting<'s>,
    sense: Sense,
    solids: HashMap<(Piece, [usize; 4]), Rc<Built>>,
}

/// A solid, and whether its surface closes once that was asked.
struct Built {
    body: Body,
    closes: OnceCell<bool>,
}

/// One of two pieces with the point said to lie on or in it.
struct Held {
    name: String,
    piece: Piece,
    built: Rc<Built>,
    point: Point3<f64>,
}

impl Held {
    /// Distance from the point to the surface, by looking at every triangle, mm.
    fn to_surface(&self) -> f64 {
        let mesh = &self.built.body.mesh;
        let each = (0..mesh.triangles.len()).map(|t| point_triangle(&self.point, &mesh.corners(t)));
        each.fold(f64::INFINITY, f64::min)
    }

    /// Whether every edge is run as often one way as the other, with corners at the same place as
    /// one.
    fn closes(&self) -> bool {
        *self.built.closes.get_or_init(|| {
            let mesh = &self.built.body.mesh;
            let mut runs: HashMap<[[u64; 3]; 2], i64> = HashMap::new();
            for t in 0..mesh.triangles.len() {
                // Zero has two signs, but is one place.
                let corners = mesh.corners(t).map(|p| [p.x, p.y, p.z].map(|c| (c + 0.0).to_bits()));
                for i in 0..3 {
                    let (from, to) = (corners[i], corners[(i + 1) % 3]);
                    let (edge, way) = if from < to { ([from, to], 1) } else { ([to, from], -1) };
                    *runs.entry(edge).or_default() += if from == to { 0 } else { way };
                }
            }
            !runs.is_empty() && runs.values().all(|n| *n == 0)
        })
    }

    fn winding(&self) -> f64 {
        winding_number(&self.built.body.mesh, &self.point)
    }
}

/// How many options each discrete variable has.
fn counts(setting: &Setting<'_>) -> [usize; 7] {
    let (link, elbow) = (&setting.kit.link, setting.kit.outlet.elbow_turns.len());
    let (holes, thicknesses) = (link.holes.len(), link.thicknesses.len());
    [elbow, holes, holes, thicknesses, thicknesses, thicknesses, thicknesses]
}

impl Setting<'_> {
    /// How many options a discrete variable has; `None` for an index without a variable.
    pub(crate) fn options(&self, variable: usize) -> Option<usize> {
        counts(self).get(variable).copied()
    }

    /// The piece of this name, if there is exactly one.
    fn named(&self, name: &str) -> Option<Piece> {
        if let Some(body) = name.strip_prefix("car:") {
            return self.body_named(body).map(Piece::Car);
        }
        let of_rig = |part: &RigPart| part.name(["A", "B"]) == name;
        RigPart::all(self.kit).into_iter().find(of_rig).map(Piece::Rig)
    }

    fn body_named(&self, name: &str) -> Option<BodyId> {
        let bodies = self.car.bodies.iter().enumerate();
        let mut of_name = bodies.filter(|(_, b)| b.body.name == name).map(|(i, _)| BodyId(i));
        let first = of_name.next()?;
        of_name.next().is_none().then_some(first)
    }
}

/// The discrete variables on which a piece's solid or place depends.
fn discrete(piece: Piece) -> Vec<usize> {
    let Piece::Rig(part) = piece else { return Vec::new() };
    let thickness = |end: End, side: Side| 3 + 2 * end.index() + side.index();
    match part {
        RigPart::Gasket | RigPart::Cup | RigPart::SidePort | RigPart::Foot(_) => Vec::new(),
        RigPart::Outlet | RigPart::OutletHandle => vec![0],
        RigPart::Link(end, side) => vec![thickness(end, side)],
        RigPart::LowerPin(end) | RigPart::LowerPinPath(end) => vec![thickness(end, Side::Outside)],
        RigPart::UpperPin(end) | RigPart::UpperPinPath(end) => {
            vec![1, 2, thickness(end, Side::Outside)]
        }
        RigPart::Saddle(_)
        | RigPart::Bar
        | RigPart::ScrewBlock
        | RigPart::Screw
        | RigPart::ScrewHandle => vec![1, 2],
    }
}

fn at(point: [f64; 3]) -> Point3<f64> {
    Point3::from(point)
}

impl<'e, 's> Examiner<'e, 's> {
    pub(crate) fn new(setting: &'e Setting<'s>, sense: Sense) -> Self {
        Self { setting, sense, solids: HashMap::new() }
    }

    /// The deviation in the direction of the sense.
    fn off(&self, deviation: f64) -> f64 {
        match self.sense {
            Sense::Low => -deviation,
            Sense::High => deviation,
        }
    }

    /// Checks the witness of this index.
    pub(crate) fn term(&mut self, index: usize, witness: &Witness) -> Result<Term, Fault> {
        let mut options = [0; 7];
        let mut given = [false; 7];
        for &(variable, option) in &witness.given {
            let count = self.setting.options(variable).unwrap_or(0);
            if option >= count || given[variable] {
                return Err(Fault::Given { witness: index, variable, option });
            }
            options[variable] = option;
            given[variable] = true;
        }
        let (needed, mut term) = match &witness.by {
            Ground::Gap(gap) => self.gap(index, gap, &options)?,
            Ground::Overlap(overlap) => self.overlap(index, overlap, &options)?,
            Ground::Rule(rule) => self.rule(index, rule, &options)?,
        };
        if let Some(missing) = needed.into_iter().find(|d| !given[*d]) {
            return Err(Fault::GivenMissing { witness: index, variable: DISCRETE[missing] });
        }
        term.given.clone_from(&witness.given);
        term.options = options;
        Ok(term)
    }

    fn held(
        &mut self,
        index: usize,
        name: &str,
        point: [f64; 3],
        options: &[usize; 7],
    ) -> Result<Held, Fault> {
        let no_part = || Fault::NoPart { witness: index, name: name.into() };
        let piece = self.setting.named(name).ok_or_else(no_part)?;
        if let Piece::Car(id) = piece
            && !self.setting.is_present(id)
        {
            return Err(Fault::Absent { witness: index, name: name.into() });
        }
        if !point.iter().all(|c| c.is_finite()) {
            return Err(Fault::NotFinite { what: format!("witness {index}, point on {name:?}") });
        }
        let [.., a, b, c, d] = *options;
        let key = (piece, [a, b, c, d]);
        let built = if let Some(built) = self.solids.get(&key) {
            Rc::clone(built)
        } else {
            let body = self.setting.body(piece, [[a, b], [c, d]])?;
            let built = Rc::new(Built { body, closes: OnceCell::new() });
            self.solids.insert(key, Rc::clone(&built));
            built
        };
        Ok(Held { name: name.into(), piece, built, point: at(point) })
    }

    /// A body into which nobody saw may not be there: in the best case it shows nothing.
    fn is_there(&self, index: usize, id: BodyId) -> Result<(), Fault> {
        let body = self.setting.car.body(id);
        if body.unseen && self.sense == Sense::High {
            let name = body.body.name.clone();
            return Err(Fault::Unseen { witness: index, name });
        }
        Ok(())
    }

    /// Both pieces, if a gap is asked for between them.
    fn pair(
        &mut self,
        index: usize,
        names: [&str; 2],
        points: [[f64; 3]; 2],
        options: &[usize; 7],
    ) -> Result<[Held; 2], Fault> {
        let a = self.held(index, names[0], points[0], options)?;
        let b = self.held(index, names[1], points[1], options)?;
        for held in [&a, &b] {
            if let Piece::Car(id) = held.piece {
                self.is_there(index, id)?;
            }
        }
        let one_part = a.piece.rig() == b.piece.rig();
        if one_part || self.setting.contact(a.piece, b.piece).is_some() {
            return Err(Fault::NoGap { witness: index, a: a.name, b: b.name });
        }
        Ok([a, b])
    }

    /// The distance of the points, with `add` to it, less the gap asked for, and the deviations.
    fn apart(
        &self,
        [a, b]: &[Held; 2],
        across: Option<[Vector3<f64>; 2]>,
        add: f64,
    ) -> (Vec<usize>, Term) {
        let s = self.setting;
        let deviation = s.deviation(a.piece, &a.built.body) + s.deviation(b.piece, &b.built.body);
        let add = add - s.need(a.piece, b.piece) + self.off(deviation);
        let needed = [discrete(a.piece), discrete(b.piece)].concat();
        let (on_a, on_b) = (a.point, b.point);
        let what = What::Apart { a: a.piece, b: b.piece, on_a, on_b, across };
        (needed, Term { what, tolerance: false, given: Vec::new(), options: [0; 7], add })
    }

    fn gap(
        &mut self,
        index: usize,
        gap: &GapGround,
        options: &[usize; 7],
    ) -> Result<(Vec<usize>, Term), Fault> {
        let pair = self.pair(index, [&gap.a, &gap.b], [gap.on_a, gap.on_b], options)?;
        let mut off = 0.0;
        for (held, triangle) in pair.iter().zip(gap.triangles) {
            off += on_triangle(index, held, triangle)?;
        }
        Ok(self.apart(&pair, None, off))
    }

    fn overlap(
        &mut self,
        index: usize,
        overlap: &OverlapGround,
        options: &[usize; 7],
    ) -> Result<(Vec<usize>, Term), Fault> {
        let claimed = overlap.depth;
        if !(claimed.is_finite() && claimed >= 0.0) {
            return Err(Fault::NotFinite { what: format!("witness {index}, depth {claimed}") });
        }
        let points = [overlap.on_a, overlap.on_b];
        let pair = self.pair(index, [&overlap.a, &overlap.b], points, options)?;
        let mut off = 0.0;
        let mut depths = [0.0; 2];
        for (held, depth) in pair.iter().zip(&mut depths) {
            if !held.closes() {
                return Err(Fault::Open { witness: index, part: held.name.clone() });
            }
            let to_surface = held.to_surface();
            let winding = held.winding();
            if winding > 0.5 {
                *depth = to_surface;
            } else if to_surface <= ON_TRIANGLE {
                off += to_surface;
            } else {
                return Err(Fault::Outside { witness: index, part: held.name.clone(), winding });
            }
        }
        let across = overlap.across.map(|half| half.map(Vector3::from));
        if let Some(half) = &across {
            self.lies_across(index, &pair, half)?;
            // Not every point of the rectangle is as deep as its middle.
            depths[1] = 0.0;
        }
        let found = depths[0].max(depths[1]);
        if claimed > found + ON_TRIANGLE || found.is_infinite() {
            return Err(Fault::Depth { witness: index, claimed, found });
        }
        Ok(self.apart(&pair, across, off - claimed.min(found)))
    }

    /// Checks that a rectangle around the second piece's point lies in that piece and that the piece
    /// moves so that the rectangle may stand for the point.
    fn lies_across(
        &self,
        index: usize,
        [a, b]: &[Held; 2],
        half: &[Vector3<f64>; 2],
    ) -> Result<(), Fault> {
        let s = self.setting;
        let fault = |why| Err(Fault::Across { witness: index, part: b.name.clone(), why });
        let is_lid =
            |piece| matches!(piece, Piece::Car(id) if s.lid().is_some_and(|l| l.body == id));
        let stays = |piece| matches!(piece, Piece::Car(_)) && !is_lid(piece);
        let round = matches!(b.piece, Piece::Rig(RigPart::Gasket | RigPart::Cup));
        let on_feet = turns_with_feet(b.piece).is_some() && stays(a.piece);
        if !(stays(b.piece) || round || on_feet) {
            return fault("the part turns");
        }
        if !half.iter().flatten().all(|c| c.is_finite()) {
            return fault("its sides are not finite");
        }
        // The middle lies inside; the rest does where the surface stays away.
        if b.winding() <= 0.5 {
            return fault("its middle is not inside the part");
        }
        let [p, q, r, t] = corners(&b.point, half);
        let mesh = &b.built.body.mesh;
        // Rounding would hide what a sheet far larger than the part runs through.
        let Some((low, high)) = mesh.bounds() else { return fault("the part is empty") };
        let beyond = |c: &Point3<f64>| (0..3).any(|i| c[i] < low[i] || c[i] > high[i]);
        if [p, q, r, t].iter().any(beyond) {
            return fault("it reaches out of the part");
        }
        let meets = |corners: [Point3<f64>; 3]| {
            [[p, q, r], [r, t, p]].iter().any(|half| reaches(half, &corners, ON_TRIANGLE))
        };
        if (0..mesh.triangles.len()).any(|i| meets(mesh.corners(i))) {
            return fault("it reaches out of the part");
        }
        Ok(())
    }

    fn rule(
        &self,
        index: usize,
        ground: &RuleGround,
        options: &[usize; 7],
    ) -> Result<(Vec<usize>, Term), Fault> {
        let (s, kit) = (self.setting, self.setting.kit);
        let rules = &kit.rules;
        let field = |field| Fault::Field { witness: index, rule: ground.rule.clone(), field };
        let a_sign = |sign: Option<f64>, name| match sign {
            Some(s) if s.to_bits() == 1.0_f64.to_bits() || s.to_bits() == (-1.0_f64).to_bits() => {
                Ok(s)
            }
            _ => Err(field(name)),
        };
        let sign = || a_sign(ground.sign, "sign, 1 or -1");
        let end = || {
            let end = ground.end.and_then(|e| End::BOTH.get(e).copied());
            end.ok_or_else(|| field("end, 0 or 1"))
        };
        let (play, holes) = (s.play(), vec![1, 2]);
        let at = [options[1], options[2]];
        let half_width = 0.5 * kit.foot.width.nominal;
        let rise = || {
            let lines = s.lines(&s.numbers(&[0.0; 7], options));
            lines.map_or(f64::INFINITY, |l| (l.upper[0].z - l.upper[1].z).abs())
        };
        let term = |what, tolerance, add| Term {
            what,
            tolerance,
            given: Vec::new(),
            options: [0; 7],
            add,
        };
        Ok(match ground.rule.as_str() {
            rule::CAVITY => (Vec::new(), self.room(index, ground, &field)?),
            rule::FOOT_IN_PORT => {
                let end = end()?;
                let port = s.ports[end.index()];
                let need = rules.need(PartKind::Foot, PartKind::Housing);
                let (what, room, tolerance) = if ground.sign.is_some() {
                    let skew_sign = a_sign(ground.skew_sign, "skew_sign, 1 or -1")?;
                    let what = What::Beside { end, sign: sign()?, skew_sign };
                    (what, 0.5 * port.width, s.beside())
                } else {
                    let height = port.height - kit.foot.height.nominal;
                    (What::Constant, height, kit.foot.height.tolerance)
                };
                let add = room - need + self.off(port.deviation + tolerance);
                (Vec::new(), term(what, false, add))
            }
            rule::SKEW => {
                let (end, sign) = (end()?, sign()?);
                let add = half_width * rules.foot_skew.radians().sin() + self.off(s.askew());
                (Vec::new(), term(What::Skew { end, sign }, true, add))
            }
            rule::OVERHANG_DIFFERENCE => {
                let sign = sign()?;
                let walls = 0.5 * (s.ports[0].wall - s.ports[1].wall);
                let add = rules.overhang_difference + sign * walls + self.off(play);
                (Vec::new(), term(What::Overhangs { sign }, true, add))
            }
            rule::OVERHANG => self.slot(end()?, options, &field)?,
            rule::LEVEL => {
                let add = rules.bar_level - rise() + self.off(s.rise_off(at));
                (holes, term(What::Constant, true, add))
            }
            rule::LEAN => {
                let end = end()?.index();
                let hole = kit.link.holes.get(at[end]);
                let reach = hole.ok_or_else(|| field("a hole"))?.nominal;
                let per_span = -reach * rise();
                let add = rules.link_lean + self.off(s.lean_off(at, end, rise()));
                (holes, term(What::Lean { per_span }, true, add))
            }
            rule::SCREW_OFFSET => {
                let add = rules.screw_offset + self.off(play);
                (Vec::new(), term(What::Offset { sign: sign()? }, true, add))
            }
            rule::TRAVEL => {
                let sign = sign()?;
                let (retracted, travel) = (kit.screw.retracted.nominal, kit.screw.travel.nominal);
                let end = if sign > 0.0 { -retracted } else { retracted + travel };
                let add = end + self.off(s.travel_stack());
                (holes, term(What::Travel { sign }, false, add))
            }
            rule::SEAL_WIDTH => {
                let (inside, outside) = (s.gasket.inside_diameter, s.gasket.outside_diameter);
                let width = 0.5 * (outside.nominal - inside.nominal);
                let deviation = 0.5 * (outside.tolerance + inside.tolerance);
                let add = width - rules.land_seal_width + self.off(deviation);
                (Vec::new(), term(What::Constant, false, add))
            }
            other => return Err(Fault::NoRule { witness: index, rule: other.into() }),
        })
    }

    /// How far the bar's slot reaches past the outside link.
    fn slot(
        &self,
        end: End,
        options: &[usize; 7],
        field: &dyn Fn(&'static str) -> Fault,
    ) -> Result<(Vec<usize>, Term), Fault> {
        let kit = self.setting.kit;
        let variable = 3 + 2 * end.index() + Side::Outside.index();
        let outside = kit.link.thicknesses.get(options[variable]);
        let outside = outside.ok_or_else(|| field("a thickness"))?;
        // The bar's end beyond the link's outer face; the wall's half counts for neither.
        let beyond = 0.5 * (kit.bar.length.nominal - kit.foot.depth.nominal)
            - outside.nominal
            - kit.bar.end.nominal;
        let deviation = self.setting.play()
            + 0.5 * (kit.bar.length.tolerance + kit.foot.depth.tolerance)
            + outside.tolerance
            + kit.bar.end.tolerance;
        let add = beyond + self.off(deviation);
        let what = What::Slot { end };
        let term = Term { what, tolerance: false, given: Vec::new(), options: [0; 7], add };
        Ok((vec![variable], term))
    }

    /// The room between a corner of the fitting and the cup's wall or crown.
    fn room(
        &self,
        index: usize,
        ground: &RuleGround,
        field: &dyn Fn(&'static str) -> Fault,
    ) -> Result<Term, Fault> {
        let s = self.setting;
        let name = ground.body.as_deref().ok_or_else(|| field("a body"))?;
        let plain = name.strip_prefix("car:").unwrap_or(name);
        let id = s.body_named(name).or_else(|| s.body_named(plain));
        let id = id.ok_or_else(|| Fault::NoPart { witness: index, name: name.into() })?;
        if !s.is_present(id) || !s.is_covered(id) {
            return Err(Fault::Absent { witness: index, name: name.into() });
        }
        self.is_there(index, id)?;
        let body = &s.car.body(id).body;
        let vertex = ground.vertex.and_then(|v| body.mesh.vertices.get(v));
        let vertex = vertex.ok_or_else(|| field("a vertex of the body"))?;
        let need = s.kit.rules.need(PartKind::Cup, PartKind::Fitting);
        let own = body.deviation.bound;
        let (what, room, deviation) = if let Some(toward) = ground.toward {
            let toward = Vector2::from(toward);
            let length = toward.norm();
            if length.is_nan() || (length - 1.0).abs() > 1e-6 {
                return Err(field("toward, a unit vector"));
            }
            let toward = toward / length;
            let diameter = s.cup.inside_diameter;
            let out = toward.dot(&(vertex.xy() - s.fitting.centre));
            let deviation = own + 0.5 * diameter.tolerance;
            (What::Room { toward }, 0.5 * diameter.nominal - out, deviation)
        } else {
            let under_rim = s.gasket.thickness.tolerance + s.gasket.groove_depth.tolerance;
            let height = s.cup.inside_height;
            let deviation = own + s.plate() + height.tolerance + under_rim;
            (What::Constant, s.rim() + height.nominal - vertex.z, deviation)
        };
        let add = room - need + self.off(deviation);
        Ok(Term { what, tolerance: false, given: Vec::new(), options: [0; 7], add })
    }
}

/// How far the point lies off its triangle, if that is no more than allowed, mm.
fn on_triangle(index: usize, held: &Held, triangle: u32) -> Result<f64, Fault> {
    let mesh: &Mesh = &held.built.body.mesh;
    let count = mesh.triangles.len();
    let place = triangle as usize;
    if place >= count {
        let part = held.name.clone();
        return Err(Fault::NoTriangle { witness: index, part, triangle, count });
    }
    let found = point_triangle(&held.point, &mesh.corners(place));
    if found <= ON_TRIANGLE {
        Ok(found)
    } else {
        Err(Fault::OffTriangle { witness: index, part: held.name.clone(), triangle, found })
    }
}
