//! Pieces that are carried together, what stands around them, and the proof of a route.

use super::route::{Leg, Route};
use gap::{Block, Bounds, Course, Proximity, Solid};
use nalgebra::{Isometry3, Point3, Translation3, Vector3};
use std::cell::Cell;

/// How finely a first contact is wanted, mm. A gap that keeps a sixteenth of it more than is asked
/// for is told to be clear.
const TOLERANCE: f64 = 0.02;

/// A part that is carried.
#[derive(Debug, Clone)]
pub struct Piece<'s> {
    /// Its triangles.
    pub solid: &'s Solid,
    /// Where it stands at its place.
    pub plate_from_piece: Isometry3<f64>,
    /// How far and which way it stands off from there before it settles, mm.
    pub retreat: Vector3<f64>,
    /// How far its true surface may be from the mesh at its place, mm.
    pub deviation: f64,
}

/// A part that stands still.
#[derive(Debug, Clone)]
pub struct Obstacle<'s> {
    /// Its triangles.
    pub solid: &'s Solid,
    /// Where it stands.
    pub plate_from_obstacle: Isometry3<f64>,
    /// How far its true surface may be from the mesh, mm.
    pub deviation: f64,
}

/// A piece and an obstacle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pair {
    /// Index of the piece.
    pub piece: usize,
    /// Index of the obstacle.
    pub obstacle: usize,
    /// Whether the two touch by design at the piece's place.
    pub touches: bool,
}

/// A route that is proven clear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proven {
    /// Nowhere on the way is less than this between the true surfaces of parts that do not touch by
    /// design, mm; no more than what was asked for.
    pub clearance: f64,
    /// The piece and the obstacle between which least is proven; `None` where nothing is near.
    pub narrowest: Option<(usize, usize)>,
}

/// What ends a route.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// Index of the piece that does not get on.
    pub piece: usize,
    /// Index of the obstacle.
    pub obstacle: usize,
    /// How far from its place the piece's farthest point gets, mm.
    pub progress: f64,
    /// Where the obstacle stands in the way, plate frame.
    pub at: Option<Point3<f64>>,
    /// How.
    pub why: Hindrance,
}

/// How an obstacle ends a route.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Hindrance {
    /// It stands in the way, or so near that it may.
    InTheWay,
    /// The two are too near at the piece's place for the deviations of their meshes.
    AtThePlace,
    /// Its surface has holes, and something unseen may stand in the way.
    Holes,
    /// The meshes do not let it be told, for this reason.
    Undecided(String),
}

/// What is asked for between a pair.
#[derive(Debug, Clone, Copy)]
struct Ask {
    /// Of the meshes, mm.
    need: f64,
    /// What of it the deviations take.
    deviation: f64,
    /// Whether the two touch at the place, so that it holds from the retreat on.
    settles: bool,
}

/// Parts of each leg after which a pose is looked at before a proof is tried.
const LOOKED_AT: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 1.0];

/// Parts that may touch by design are looked at as others are where more than this is left between
/// them at the place, deviations and all, mm.
const REAL: f64 = 0.1;

/// Pieces carried together past obstacles.
pub struct Passage<'s> {
    pieces: Vec<Piece<'s>>,
    obstacles: Vec<Obstacle<'s>>,
    /// The pair that ended the last route first.
    pairs: Vec<(Pair, Result<Ask, Hindrance>)>,
    /// Boxes around the obstacles where they stand.
    boxes: Vec<Option<Bounds>>,
    clearance: f64,
    /// Poses looked at so far.
    looked_at: Cell<usize>,
}

impl<'s> Passage<'s> {
    /// Pieces at their place with what stands around them; `pairs` are those looked at, `clearance`
    /// what is asked for along the way, mm.
    pub fn new(
        pieces: Vec<Piece<'s>>,
        obstacles: Vec<Obstacle<'s>>,
        pairs: &[Pair],
        clearance: f64,
    ) -> Self {
        let boxes = obstacles.iter().map(|o| box_at(o.solid, &o.plate_from_obstacle)).collect();
        let looked_at = Cell::new(0);
        let mut passage =
            Self { pieces, obstacles, pairs: Vec::new(), boxes, clearance, looked_at };
        passage.pairs = pairs.iter().map(|pair| (*pair, passage.ask(*pair))).collect();
        passage
    }

    /// How far a piece stands off from its place before it settles, mm; `None` without such a piece.
    pub fn retreat(&self, piece: usize) -> Option<Vector3<f64>> {
        self.pieces.get(piece).map(|p| p.retreat)
    }

    /// How many poses of pairs have been looked at so far: what was spent.
    pub fn looked_at(&self) -> usize {
        self.looked_at.get()
    }

    /// The box around all pieces at their place; `None` without any.
    pub fn bounds(&self) -> Option<Bounds> {
        let boxes = self.pieces.iter().filter_map(|p| box_at(p.solid, &p.plate_from_piece));
        boxes.reduce(union)
    }

    /// The box around the obstacles of which `counts` holds, by index.
    pub fn bounds_of_obstacles(&self, counts: impl Fn(usize) -> bool) -> Option<Bounds> {
        let boxes = self.boxes.iter().enumerate().filter(|(i, _)| counts(*i));
        boxes.filter_map(|(_, bounds)| *bounds).reduce(union)
    }

    /// What is left between a pair where the piece is displaced so, less what the deviations take,
    /// as far as twice the clearance.
    fn left(
        &self,
        pair: Pair,
        displaced: &Isometry3<f64>,
        deviation: f64,
    ) -> Result<f64, Hindrance> {
        let (Some(piece), Some(obstacle)) =
            (self.pieces.get(pair.piece), self.obstacles.get(pair.obstacle))
        else {
            return Err(Hindrance::Undecided("there is no such part".into()));
        };
        let at = displaced * piece.plate_from_piece;
        let pose = obstacle.plate_from_obstacle.inv_mul(&at);
        let most = 2.0 * self.clearance.max(REAL);
        match gap::gap(obstacle.solid, piece.solid, &pose, deviation + most) {
            Proximity::AtLeast(_) => Ok(most),
            Proximity::Apart(found) => Ok(found.distance - deviation),
            Proximity::Overlapping => Ok(f64::NEG_INFINITY),
            Proximity::CannotDecide(why) => Err(Hindrance::Undecided(why.to_string())),
        }
    }

    fn deviation(&self, pair: Pair) -> f64 {
        let piece = self.pieces.get(pair.piece).map_or(f64::INFINITY, |p| p.deviation);
        let obstacle = self.obstacles.get(pair.obstacle).map_or(f64::INFINITY, |o| o.deviation);
        piece + obstacle
    }

    /// What is asked for between a pair: with the deviations where the two are apart at the place,
    /// on the nominal model where they touch there by design.
    fn ask(&self, pair: Pair) -> Result<Ask, Hindrance> {
        let apart = self.ask_at(pair, &Isometry3::identity(), self.deviation(pair), false)?;
        let wanted = if pair.touches { REAL } else { 0.0 };
        match apart {
            Some(ask) if ask.need - ask.deviation > 0.5 * wanted => Ok(ask),
            Some(ask) if !pair.touches && self.clearance <= 0.0 => Ok(ask),
            _ if pair.touches => {
                let off = self.pieces.get(pair.piece).map_or_else(Vector3::zeros, |p| p.retreat);
                let off = Translation3::from(off).into();
                self.ask_at(pair, &off, 0.0, true)?.ok_or(Hindrance::AtThePlace)
            }
            _ => Err(Hindrance::AtThePlace),
        }
    }

    /// What can be asked for from a displacement on; `None` where nothing is left there.
    fn ask_at(
        &self,
        pair: Pair,
        displaced: &Isometry3<f64>,
        deviation: f64,
        settles: bool,
    ) -> Result<Option<Ask>, Hindrance> {
        let left = self.left(pair, displaced, deviation)?;
        let need = deviation + self.clearance.min(0.5 * left);
        let some = left > 0.0 || (left >= 0.0 && self.clearance <= 0.0);
        Ok(some.then_some(Ask { need, deviation, settles }))
    }

    /// The least gap before they settle between pieces and obstacles that touch by design, mm;
    /// nothing below zero where one of them does not come free.
    pub fn freed(&self) -> f64 {
        let of = |(_, ask): &(Pair, Result<Ask, Hindrance>)| match ask {
            Ok(ask) if ask.settles => 2.0 * ask.need,
            Ok(_) => f64::INFINITY,
            Err(_) => 0.0,
        };
        self.pairs.iter().filter(|(pair, _)| pair.touches).map(of).fold(f64::INFINITY, f64::min)
    }

    /// Proves that the pieces can be carried along a route, from their place out and so back in.
    ///
    /// # Errors
    /// What ends the route: the first pair found, no farther from the place than it must be.
    pub fn prove(&mut self, route: &Route) -> Result<Proven, Stop> {
        self.prove_from(None, route)
    }

    /// Whether some pose on a route is seen to be blocked, of a few that are looked at: far quicker
    /// than a proof that fails.
    pub(crate) fn is_seen_blocked(&mut self, route: &Route) -> bool {
        let place = Isometry3::identity();
        self.is_blocked_at(&place, route, &LOOKED_AT)
    }

    /// Whether a pose after these parts of each leg is blocked, from where the pieces are displaced.
    fn is_blocked_at(&mut self, from: &Isometry3<f64>, route: &Route, parts: &[f64]) -> bool {
        let blocked = |i: &usize| self.is_pair_blocked_at(*i, from, route, parts);
        let Some(index) = (0..self.pairs.len()).find(blocked) else { return false };
        let first = self.pairs.remove(index);
        self.pairs.insert(0, first);
        true
    }

    fn is_pair_blocked_at(
        &self,
        index: usize,
        from: &Isometry3<f64>,
        route: &Route,
        parts: &[f64],
    ) -> bool {
        let Some((pair, ask)) = self.pairs.get(index) else { return false };
        let (Some(piece), Some(obstacle)) =
            (self.pieces.get(pair.piece), self.obstacles.get(pair.obstacle))
        else {
            return false;
        };
        let Ok(ask) = ask else { return true };
        let settling = Isometry3::from(Translation3::from(piece.retreat));
        let mut pose = from * settling * piece.plate_from_piece;
        for leg in &route.0 {
            for part in parts {
                let here = leg.part(*part) * pose;
                let pose = obstacle.plate_from_obstacle.inv_mul(&here);
                if gap::clears(obstacle.solid, piece.solid, &pose, ask.need) == Some(false) {
                    return true;
                }
            }
            pose = leg.displacement() * pose;
        }
        false
    }

    /// What ends a route first, nearest to the place; `None` where nothing does.
    pub fn first_stop(&self, route: &Route) -> Option<Stop> {
        let stops = (0..self.pairs.len()).filter_map(|i| self.pair(i, None, route).err());
        stops.min_by(|a, b| a.progress.total_cmp(&b.progress))
    }

    /// As [`Passage::prove`] for a stretch on the way, which begins where the pieces are displaced from their
    /// places before settling; `None` begins at their places.
    pub(crate) fn prove_from(
        &mut self,
        from: Option<&Isometry3<f64>>,
        route: &Route,
    ) -> Result<Proven, Stop> {
        let mut proven = Proven { clearance: self.clearance, narrowest: None };
        for index in 0..self.pairs.len() {
            match self.pair(index, from, route) {
                Ok(Some(left)) if left < proven.clearance => {
                    let narrowest = self.pairs.get(index).map(|(p, _)| (p.piece, p.obstacle));
                    proven = Proven { clearance: left, narrowest };
                }
                Ok(_) => {}
                Err(stop) => {
                    let first = self.pairs.remove(index);
                    self.pairs.insert(0, first);
                    return Err(stop);
                }
            }
        }
        Ok(proven)
    }

    /// Whether the pieces can be carried on along a stretch from where they are displaced.
    pub(crate) fn can_go_on(&mut self, from: &Isometry3<f64>, route: &Route) -> bool {
        // A look at the ends of the legs spares most of the proofs that fail.
        !self.is_blocked_at(from, route, &[1.0]) && self.prove_from(Some(from), route).is_ok()
    }

    /// What is left between a pair along a route; `None` where the two touch by design.
    fn pair(
        &self,
        index: usize,
        from: Option<&Isometry3<f64>>,
        route: &Route,
    ) -> Result<Option<f64>, Stop> {
        let Some((pair, ask)) = self.pairs.get(index) else { return Ok(None) };
        let Some(piece) = self.pieces.get(pair.piece) else { return Ok(None) };
        let ask = match ask {
            Ok(ask) => *ask,
            Err(why) => return Err(stop(*pair, 0.0, None, why.clone())),
        };
        let settling = Isometry3::from(Translation3::from(piece.retreat));
        if let Some(from) = from {
            self.stretch(*pair, ask, &(from * settling), &route.0)?;
        } else if ask.settles {
            self.stretch(*pair, ask, &settling, &route.0)?;
            self.once_free(*pair, &settling, &route.0)?;
        } else {
            let mut legs = Vec::with_capacity(route.0.len() + 1);
            if piece.retreat != Vector3::zeros() {
                legs.push(Leg::Straight(piece.retreat));
            }
            legs.extend(&route.0);
            self.stretch(*pair, ask, &Isometry3::identity(), &legs)?;
        }
        Ok((!ask.settles).then_some(ask.need - ask.deviation))
    }

    /// Parts that touched are looked at as others are once the first leg has freed them.
    fn once_free(&self, pair: Pair, settling: &Isometry3<f64>, legs: &[Leg]) -> Result<(), Stop> {
        let [first, rest @ ..] = legs else { return Ok(()) };
        if rest.is_empty() {
            return Ok(());
        }
        let here = first.displacement() * settling;
        match self.ask_at(pair, &here, self.deviation(pair), false) {
            Ok(Some(ask)) if ask.need - ask.deviation > 0.5 * REAL => {
                self.stretch(pair, ask, &here, rest)
            }
            Ok(_) => Ok(()),
            Err(why) => Err(stop(pair, 0.0, None, why)),
        }
    }

    /// Proves one stretch for a pair: from where the piece is displaced so, along some legs.
    fn stretch(
        &self,
        pair: Pair,
        ask: Ask,
        displaced: &Isometry3<f64>,
        legs: &[Leg],
    ) -> Result<(), Stop> {
        let (Some(piece), Some(obstacle)) =
            (self.pieces.get(pair.piece), self.obstacles.get(pair.obstacle))
        else {
            return Ok(());
        };
        // Without a leg the piece stands where the ask was found.
        if legs.is_empty() {
            return Ok(());
        }
        let start = displaced * piece.plate_from_piece;
        if let Some(still) = self.boxes.get(pair.obstacle).copied().flatten()
            && passes_beside(&still, piece.solid, &start, legs, ask.need)
        {
            return Ok(());
        }
        if !obstacle.solid.is_closed() {
            return Err(stop(pair, 0.0, None, Hindrance::Holes));
        }
        let Some(motion) = Route::motion_of(legs, &obstacle.plate_from_obstacle) else {
            let why = "the route has numbers that are not finite".into();
            return Err(stop(pair, 0.0, None, Hindrance::Undecided(why)));
        };
        let pose = obstacle.plate_from_obstacle.inv_mul(&start);
        let found = gap::sweep(obstacle.solid, piece.solid, &pose, &motion, ask.need, TOLERANCE);
        self.looked_at.set(self.looked_at.get().saturating_add(found.queries));
        let on_plate = |gap: &gap::Gap| obstacle.plate_from_obstacle * gap.on_a;
        let (until, at, why) = match found.course {
            Course::Clear { .. } => return Ok(()),
            Course::BlockedAtStart(Block::TooNear(gap)) => {
                (0.0, Some(on_plate(&gap)), Hindrance::InTheWay)
            }
            Course::BlockedAtStart(Block::Overlapping) => (0.0, None, Hindrance::InTheWay),
            Course::Blocked { clear_until, contact, .. } => {
                (clear_until, contact.as_ref().map(on_plate), Hindrance::InTheWay)
            }
            Course::Grazing { clear_until, .. } => {
                let nearest = found.nearest.map(|(_, gap)| on_plate(&gap));
                (clear_until, nearest, Hindrance::InTheWay)
            }
            Course::CannotDecide { clear_until, why, .. } => {
                (clear_until, None, Hindrance::Undecided(why.to_string()))
            }
        };
        let travel = motion.travel(piece.solid, &pose);
        let progress = travel.map_or(0.0, |travel| travel.between(0.0, until));
        Err(stop(pair, progress, at, why))
    }
}

const fn stop(pair: Pair, progress: f64, at: Option<Point3<f64>>, why: Hindrance) -> Stop {
    Stop { piece: pair.piece, obstacle: pair.obstacle, progress, at, why }
}

/// Whether the box around a solid on every leg of a route stays apart from another box by more than
/// `need`: then so do the bodies in them.
fn passes_beside(
    still: &Bounds,
    solid: &Solid,
    start: &Isometry3<f64>,
    legs: &[Leg],
    need: f64,
) -> bool {
    let apart = |moving: &Bounds| {
        (0..3).any(|i| moving.low[i] - still.high[i] > need || still.low[i] - moving.high[i] > need)
    };
    let mut pose = *start;
    let Some(mut here) = box_at(solid, &pose) else { return false };
    if !apart(&here) {
        return false;
    }
    for leg in legs {
        pose = leg.displacement() * pose;
        let Some(there) = box_at(solid, &pose) else { return false };
        let swept = match leg {
            Leg::Straight(_) => union(here, there),
            Leg::Turn { through, advance, .. } => {
                // No point leaves the ball that it is in about a point of the axis, but for the
                // advance.
                let reach = corners(&here).iter().map(|c| (c - through).norm()).fold(0.0, f64::max);
                let reach = Vector3::repeat(reach + advance.abs());
                Bounds { low: through - reach, high: through + reach }
            }
        };
        if !apart(&swept) {
            return false;
        }
        here = there;
    }
    true
}

fn corners(bounds: &Bounds) -> [Point3<f64>; 8] {
    std::array::from_fn(|corner| {
        let pick = |axis: usize| {
            if corner >> axis & 1 == 0 { bounds.low[axis] } else { bounds.high[axis] }
        };
        Point3::new(pick(0), pick(1), pick(2))
    })
}

/// A box that holds a solid at a pose, a hair wider than rounding can make wrong.
fn box_at(solid: &Solid, pose: &Isometry3<f64>) -> Option<Bounds> {
    let own = solid.bounds()?;
    let mut low = Point3::from(Vector3::repeat(f64::INFINITY));
    let mut high = Point3::from(Vector3::repeat(f64::NEG_INFINITY));
    for corner in corners(&own) {
        let corner = pose * corner;
        low = low.inf(&corner);
        high = high.sup(&corner);
    }
    let hair = Vector3::repeat(1e-6);
    Some(Bounds { low: low - hair, high: high + hair })
}

fn union(a: Bounds, b: Bounds) -> Bounds {
    Bounds { low: a.low.inf(&b.low), high: a.high.sup(&b.high) }
}
