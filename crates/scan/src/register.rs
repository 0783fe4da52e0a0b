//! Lays one shot on another from a pose that is known about.
//!
//! Each point of the second is drawn to the plane of its nearest neighbourhood on the first (iterated
//! closest point, point to plane: Chen and Medioni 1992), with the farthest left out, so that only what
//! both have seen counts. Where the surfaces let the second slide or turn, where it does not settle,
//! or where other beginnings end elsewhere as well, there is no pose but a reason.

use crate::Shot;
use crate::cells::{Cells, Map, even, floor, median, quantile, whole};
use crate::near::{Near, Nearest};
use crate::plane::Sums;
use measure::{Length, LengthUnit};
use nalgebra::{
    Isometry3, Matrix6, Point3, SymmetricEigen, Translation3, UnitQuaternion, Vector3, Vector6,
};
use rayon::prelude::*;

/// How a registration is sought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Takes the second shot's coordinates to the first's, as far as it is known.
    pub first_from_second: Isometry3<f64>,
    /// How far a point may be off its place at that pose, mm.
    pub within: f64,
}

/// How a second shot lies on a first.
#[derive(Debug, Clone, PartialEq)]
pub struct Registration {
    /// Takes the second shot's coordinates to the first's.
    pub first_from_second: Isometry3<f64>,
    /// Root of the mean square of the distances from points of the second to the first's surface, mm;
    /// scatter of both is in it.
    pub rms: f64,
    /// The most that a patch of 50 mm of the second lies off the first on the mean, mm: scatter is
    /// averaged out, so that this is how wrong pose and shapes are, and part of the deviation.
    pub worst: f64,
    /// The share of the second that lies on the first.
    pub overlap: f64,
    /// How far the pose moved points from the start, mm, at most.
    pub moved: f64,
    /// Steps until it settled.
    pub steps: usize,
}

/// Why a second shot cannot be laid on a first.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unregistered {
    /// Too few points.
    #[error("there are too few points to lay one on the other")]
    TooFew,
    /// They share too little.
    #[error("only {:.0} % of the second lies near the first", 100.0 * .0)]
    Apart(f64),
    /// The shared surfaces leave a motion open.
    #[error("what both show lets it {0}: the surfaces that they share do not hold it in place")]
    Loose(String),
    /// The steps did not come to rest.
    #[error("it had not come to rest after {0} steps")]
    Restless(usize),
    /// It settled where the surfaces do not match.
    #[error("it came to rest where {:.0} % of what lies near the first does not lie on it", 100.0 * .0)]
    Unlike(f64),
    /// Patches do not match, and nobody said from where it was seen.
    #[error(
        "it came to rest with a patch {0:.1} mm off: without the places from which they were seen, the \
         two faces of a wall may lie on one another"
    )]
    Folded(f64),
    /// Another beginning nearby ends in another place that is as good.
    #[error("beginnings near the given one end {0:.1} mm apart, each as well")]
    Ambiguous(f64),
    /// It went farther than the start may be off.
    #[error("it would move by {moved:.1} mm, and the start was said to be within {within:.1} mm")]
    Far {
        /// How far, mm.
        moved: f64,
        /// How far it may, mm.
        within: f64,
    },
}

impl Unregistered {
    /// What to do about it.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::TooFew | Self::Apart(_) => {
                "scan so that both show much of the same, or check the start"
            }
            Self::Loose(_) => "scan more that both show and that faces other ways: wall, fittings",
            Self::Folded(_) => "say from where each was seen, or give a better start",
            _ => "give a better start: some points that both show",
        }
    }
}

/// Points of the first and of the second that are looked at.
const FIRST: usize = 400_000;
const SECOND: usize = 30_000;
const BALANCED: usize = 16_000;
const BESIDE_BALANCED: usize = 6_000;
const FEW: usize = 300;
const STEPS: usize = 80;
/// The share that must lie on the first.
const LEAST_OVERLAP: f64 = 0.2;
/// A neighbourhood is this many points, and where that is less than so many times the scatter wide, up
/// to so many: a plane through a few points that scatter as far as they lie apart leans any way.
const AROUND: usize = 16;
const AT_MOST: usize = 64;
/// Neighbourhoods of which the square of the thickness is more than this share of that of the width are
/// edges, and left out.
const THIN: f64 = 0.05;
/// At rest a pair is no farther apart across the surface than this many spacings: what lies farther is
/// beyond the edge of what the first shows.
const ACROSS: f64 = 2.0;
/// At rest a pair is a match when it is no farther off than this many times the scatter of both.
const MATCH: f64 = 4.0;
/// Of what lies over the first's surface, this share at most may be no match.
const MISMATCH: f64 = 0.15;
/// Without eyes no patch is farther off than this many times the scatter of both.
const ASTRAY: f64 = 2.5;
/// Steps shorter than this share of the scatter are rest.
const REST: f64 = 0.02;
/// Cosine of the most by which two neighbourhoods may lean to belong together.
const LEAN: f64 = 0.8;
/// The least that holds a motion, as a share of the points; and as a multiple of what scatter alone
/// makes of normals that lean.
const HELD: f64 = 1e-3;
const BEYOND_LEAN: f64 = 4.0;
/// Beginnings beside the given one.
const BESIDE: usize = 4;
/// Edge of a patch, and the points that it needs.
const PATCH: f64 = 50.0;
const IN_PATCH: usize = 40;
/// A patch with less than this share of the pairs that most have is a strip along an edge: what lies beyond the
/// edge is in it, and it does not tell how well the rest lies.
const WHOLE: f64 = 0.75;

/// Points with the way their surface faces.
struct Surface {
    points: Vec<Point3<f64>>,
    normals: Vec<Vector3<f64>>,
    /// Usual thickness of the neighbourhoods, mm: the scatter.
    scatter: f64,
    /// Lean of each normal by scatter, squared, radians2.
    leans: Vec<f64>,
    spacing: f64,
}

impl Surface {
    /// Of the shots' points, or of many of them where there are too many.
    fn of(shots: &[&Shot], spacing: f64) -> Self {
        let all: Vec<Point3<f64>> = shots.iter().flat_map(|s| &s.points).copied().collect();
        let mut ends = Vec::new();
        for shot in shots {
            ends.push(ends.last().unwrap_or(&0) + shot.points.len());
        }
        let eye_of = |index: usize| {
            shots.get(ends.partition_point(|end| *end <= index)).and_then(|s| s.seen_from)
        };
        let kept = even(&all, spacing, FIRST);
        let points: Vec<Point3<f64>> = kept.iter().map(|i| all[*i as usize]).collect();
        let apart = if kept.len() < all.len() {
            spacing * (all.len() as f64 / kept.len() as f64).sqrt()
        } else {
            spacing
        };
        let near = Near::new(&points);
        let tell = |around: usize| -> Vec<Option<(Vector3<f64>, f64, f64)>> {
            near.of_each(around, |index, nearest| {
                let mut sums = Sums::about(points[index as usize]);
                for (_, other) in &nearest.found {
                    sums.add(&points[*other as usize], 1.0);
                }
                let spread = sums.spread()?;
                let [thick, narrow, _] = spread.squares;
                let flat = narrow > 0.0 && thick < THIN * narrow;
                flat.then(|| (spread.axes[0], thick, thick / (narrow * spread.weight)))
            })
        };
        let mut around = AROUND;
        let mut told = tell(around);
        loop {
            let mut thick: Vec<f64> = told.iter().flatten().map(|t| t.1.sqrt()).collect();
            // Half as wide as a disc that holds so many points.
            let half = apart * (around as f64 / std::f64::consts::PI).sqrt();
            let flat = 2 * thick.len() >= points.len();
            if around >= AT_MOST || (flat && half >= 15.0 * median(&mut thick)) {
                break;
            }
            around = (2 * around).min(AT_MOST);
            told = tell(around);
        }
        let mut thick: Vec<f64> = told.iter().flatten().map(|t| t.1.sqrt()).collect();
        let mut surface = Self {
            points: Vec::new(),
            normals: Vec::new(),
            leans: Vec::new(),
            scatter: median(&mut thick),
            spacing: apart,
        };
        for ((at, index), told) in points.iter().zip(&kept).zip(&told) {
            let Some((normal, _, lean)) = told else { continue };
            // Toward the eye, where one is known: an inner face and an outer are then two.
            let turned = match eye_of(*index as usize) {
                Some(eye) if normal.dot(&(eye - at)) < 0.0 => -normal,
                _ => *normal,
            };
            surface.points.push(*at);
            surface.normals.push(turned);
            surface.leans.push(*lean);
        }
        surface
    }
}

impl Surface {
    fn only(&self, kept: &[u32]) -> Self {
        let of = |all: &[Vector3<f64>]| kept.iter().map(|i| all[*i as usize]).collect();
        Self {
            points: kept.iter().map(|i| self.points[*i as usize]).collect(),
            normals: of(&self.normals),
            leans: kept.iter().map(|i| self.leans[*i as usize]).collect(),
            ..*self
        }
    }

    /// About `most` of its points, evenly over the surface.
    fn evenly(&self, most: usize) -> Self {
        self.only(&even(&self.points, self.spacing, most))
    }

    /// About `most` of its points, as many of each way in which they face as there are: little faces
    /// that alone hold a motion then count beside a large plate (normal-space sampling, Rusinkiewicz
    /// and Levoy 2001).
    fn balanced(&self, most: usize) -> Self {
        let way = |n: &Vector3<f64>| {
            let of = |i: usize| floor(2.0 * n[i] + 0.5);
            Cells::number([of(0), of(1), of(2)])
        };
        let mut ways: std::collections::BTreeMap<u64, Vec<u32>> = std::collections::BTreeMap::new();
        for (normal, index) in self.normals.iter().zip(0_u32..) {
            ways.entry(way(normal)).or_default().push(index);
        }
        let mut sizes: Vec<usize> = ways.values().map(Vec::len).collect();
        sizes.sort_unstable();
        let (mut left, mut each) = (most, 0);
        for (size, ways) in sizes.iter().zip((1..=sizes.len()).rev()) {
            each = left / ways;
            left -= each.min(*size);
        }
        let mut kept: Vec<u32> = Vec::new();
        for all in ways.values() {
            let step = all.len() as f64 / each.max(1) as f64;
            if step <= 1.0 {
                kept.extend(all);
            } else {
                kept.extend((0..each).filter_map(|i| all.get(whole(i as f64 * step))));
            }
        }
        self.only(&kept)
    }
}

/// How a second lies at a pose.
struct Met {
    rms: f64,
    overlap: f64,
    /// The share of what lies over the first's surface that is no match.
    mismatch: f64,
}

/// What a second is laid on and by.
#[derive(Clone, Copy)]
struct Laid<'s> {
    first: &'s Surface,
    near: &'s Near,
    second: &'s Surface,
    middle: Point3<f64>,
    /// How far points of the second lie from its middle, mm: turns are told at this arm.
    arm: f64,
    /// Whether both know their eyes.
    sided: bool,
    /// Scatter of both, mm.
    scatter: f64,
}

/// A point of the second on the first.
struct Pair {
    /// On the first, about the pivot.
    arm: Vector3<f64>,
    normal: Vector3<f64>,
    off: f64,
    /// How far apart across the surface, mm.
    across: f64,
    lean: f64,
    at: Point3<f64>,
}

/// Lays `second` on what the shots of `first` show together, all in one frame. Spacings are how far
/// apart the points of either lie, mm, as [`crate::clean`] tells them. Where every shot knows from where
/// it was seen, the two faces of a thin wall are told apart.
pub fn register(
    (first, first_spacing): (&[&Shot], f64),
    (second, second_spacing): (&Shot, f64),
    start: &Start,
) -> Result<Registration, Unregistered> {
    let numbers = |shot: &Shot| shot.points.iter().all(|p| p.iter().all(|c| c.is_finite()));
    if !first.iter().all(|s| numbers(s)) || !numbers(second) {
        return Err(Unregistered::TooFew);
    }
    let sided = second.seen_from.is_some() && first.iter().all(|s| s.seen_from.is_some());
    let first = Surface::of(first, first_spacing);
    let whole = Surface::of(&[second], second_spacing);
    if first.points.len() < FEW || whole.points.len() < FEW {
        return Err(Unregistered::TooFew);
    }
    let near = Near::new(&first.points);
    let second = whole.evenly(SECOND);
    let middle = crate::cells::middle(&second.points);
    let mut far: Vec<f64> = second.points.iter().map(|p| (p - middle).norm()).collect();
    let arm = median(&mut far).max(1.0);
    let scatter = first.scatter.hypot(whole.scatter).max(1e-6);
    let laid = Laid { first: &first, near: &near, second: &second, middle, arm, sided, scatter };
    let balanced = whole.balanced(BALANCED);
    let by_ways = Laid { second: &balanced, ..laid };
    let (pose, steps) = by_ways.settle(&start.first_from_second, start.within)?;
    by_ways.held(&pose)?;
    let met = laid.met(&pose);
    if met.mismatch > MISMATCH {
        return Err(Unregistered::Unlike(met.mismatch));
    }
    if met.overlap < LEAST_OVERLAP {
        return Err(Unregistered::Apart(met.overlap));
    }
    let span = second.points.iter().map(|p| (pose * p - start.first_from_second * p).norm());
    let moved = span.fold(0.0, f64::max);
    if moved > 2.0 * start.within {
        return Err(Unregistered::Far { moved, within: start.within });
    }
    let few = whole.balanced(BESIDE_BALANCED);
    laid.alone(&few, &pose, &met, start)?;
    let patches = laid.patches(&pose);
    // The second face of a wall laid on the first fits well but for what is not thin.
    let folded = worst(&patches, 0.0);
    if !sided && folded > ASTRAY * scatter {
        return Err(Unregistered::Folded(folded));
    }
    let worst = worst(&patches, WHOLE);
    Ok(Registration {
        first_from_second: pose,
        rms: met.rms,
        worst,
        overlap: met.overlap,
        moved,
        steps,
    })
}

impl Laid<'_> {
    /// Pairs at a pose, none farther than `reach`.
    fn pairs(&self, pose: &Isometry3<f64>, reach: f64) -> Vec<Pair> {
        let pivot = pose * self.middle;
        self.second
            .points
            .par_iter()
            .zip(&self.second.normals)
            .with_min_len(512)
            .map_init(
                || Nearest::new(1, reach),
                |nearest, (p, n)| {
                    let (p, n) = (pose * p, pose * n);
                    self.near.nearest(&p, nearest);
                    let index = nearest.found.first()?.1 as usize;
                    let normal = self.first.normals[index];
                    let lean = normal.dot(&n);
                    let lean = if self.sided { lean } else { lean.abs() };
                    if lean < LEAN {
                        return None;
                    }
                    let way = p - self.first.points[index];
                    let off = normal.dot(&way);
                    let across = (way - normal * off).norm();
                    let lean = self.first.leans[index];
                    Some(Pair { arm: p - pivot, normal, off, across, lean, at: p })
                },
            )
            .flatten()
            .collect()
    }

    /// How far pairs go in the end: across the surface as far as points lie apart, and off it.
    fn last_reach(&self) -> f64 {
        (ACROSS * self.first.spacing).hypot(3.0 * MATCH * self.scatter)
    }

    /// Steps from a pose until they come to rest.
    fn settle(
        &self,
        from: &Isometry3<f64>,
        within: f64,
    ) -> Result<(Isometry3<f64>, usize), Unregistered> {
        let mut pose = *from;
        let last = self.last_reach();
        let mut reach = within.max(last);
        let all = self.second.points.len();
        for step in 1..=STEPS {
            let pairs = self.pairs(&pose, reach);
            let near = pairs.len() as f64 / all as f64;
            if pairs.len() < FEW.min(all) || near < 0.5 * LEAST_OVERLAP {
                return Err(Unregistered::Apart(near));
            }
            let at_end = reach <= last;
            let mut off: Vec<f64> = pairs.iter().map(|p| p.off.abs()).collect();
            let usual = (3.0 * 1.4826 * median(&mut off)).max(1e-9);
            let kept: Vec<&Pair> = if at_end {
                pairs.iter().filter(|p| self.matches(p)).collect()
            } else {
                pairs.iter().filter(|p| p.off.abs() <= usual).collect()
            };
            let (change, ..) = self.change(&kept);
            if !change.iter().all(|c| c.is_finite()) {
                return Err(Unregistered::Restless(step));
            }
            if at_end && change.norm() < REST * self.scatter + 1e-6 {
                return Ok((pose, step));
            }
            let pivot = pose * self.middle;
            let turn: Vector3<f64> = change.fixed_rows::<3>(3) / self.arm;
            let shift: Vector3<f64> = change.fixed_rows::<3>(0).into();
            let about = Translation3::from(pivot.coords + shift)
                * UnitQuaternion::new(turn)
                * Translation3::from(-pivot.coords);
            pose = about * pose;
            // Nearer by and by, once the steps are small beside the reach.
            if change.norm() < 0.1 * reach {
                reach = (0.7 * reach).max(last);
            }
        }
        Err(Unregistered::Restless(STEPS))
    }

    fn matches(&self, pair: &Pair) -> bool {
        pair.across <= ACROSS * self.first.spacing && pair.off.abs() <= MATCH * self.scatter
    }

    /// How the second lies at a pose.
    fn met(&self, pose: &Isometry3<f64>) -> Met {
        let pairs = self.pairs(pose, self.last_reach());
        let over = pairs.iter().filter(|p| p.across <= ACROSS * self.first.spacing).count();
        let matched: Vec<f64> = pairs.iter().filter(|p| self.matches(p)).map(|p| p.off).collect();
        let count = matched.len().max(1) as f64;
        Met {
            rms: (matched.iter().map(|d| d * d).sum::<f64>() / count).sqrt(),
            overlap: matched.len() as f64 / self.second.points.len().max(1) as f64,
            mismatch: 1.0 - matched.len() as f64 / over.max(1) as f64,
        }
    }

    /// The step that brings pairs together, how they hold each motion, and how much must hold one.
    fn change(&self, pairs: &[&Pair]) -> (Vector6<f64>, Matrix6<f64>, f64) {
        let mut matrix = Matrix6::zeros();
        let mut right = Vector6::zeros();
        let mut least = 0.0;
        for pair in pairs {
            let row = self.row(pair);
            matrix += row * row.transpose();
            right -= row * pair.off;
            least += HELD.max(BEYOND_LEAN * pair.lean);
        }
        let eigen = SymmetricEigen::new(matrix);
        // Along what hardly anything holds there is no step; whether that may be is asked at the end.
        let mut change = Vector6::zeros();
        for i in 0..6 {
            if eigen.eigenvalues[i] > least {
                let axis = eigen.eigenvectors.column(i);
                change += axis * (axis.dot(&right) / eigen.eigenvalues[i]);
            }
        }
        (change, matrix, least)
    }

    /// How a pair's distance changes with a shift, and with a turn at the arm.
    fn row(&self, pair: &Pair) -> Vector6<f64> {
        let turn = pair.arm.cross(&pair.normal) / self.arm;
        let n = pair.normal;
        Vector6::new(n.x, n.y, n.z, turn.x, turn.y, turn.z)
    }

    /// Whether the pairs hold the second in every direction.
    fn held(&self, pose: &Isometry3<f64>) -> Result<(), Unregistered> {
        let pairs = self.pairs(pose, self.last_reach());
        let kept: Vec<&Pair> = pairs.iter().filter(|p| self.matches(p)).collect();
        let (_, matrix, least) = self.change(&kept);
        let eigen = SymmetricEigen::new(matrix);
        let weakest = eigen.eigenvalues.imin();
        if !kept.is_empty() && eigen.eigenvalues[weakest] > least {
            return Ok(());
        }
        let motion = eigen.eigenvectors.column(weakest);
        let (shift, turn) = (motion.fixed_rows::<3>(0), motion.fixed_rows::<3>(3));
        let toward = |v: Vector3<f64>| {
            let v = v.normalize();
            format!("({:.2}, {:.2}, {:.2})", v.x, v.y, v.z)
        };
        Err(Unregistered::Loose(if shift.norm() >= turn.norm() {
            format!("slide along {}", toward(shift.into()))
        } else {
            format!("turn about {}", toward(turn.into()))
        }))
    }

    /// Whether beginnings beside the given one end in the same place.
    fn alone(
        &self,
        few: &Surface,
        pose: &Isometry3<f64>,
        met: &Met,
        start: &Start,
    ) -> Result<(), Unregistered> {
        let mut chance = crate::chance::Chance::new(11);
        for _ in 0..BESIDE {
            let shift = Vector3::from([(); 3].map(|()| 0.4 * start.within * chance.either_way()));
            let turn = Vector3::from(
                [(); 3].map(|()| 0.3 * start.within / self.arm * chance.either_way()),
            );
            let pivot = start.first_from_second * self.middle;
            let beside = Translation3::from(pivot.coords + shift)
                * UnitQuaternion::new(turn)
                * Translation3::from(-pivot.coords)
                * start.first_from_second;
            let Ok((other, _)) = (Laid { second: few, ..*self }).settle(&beside, start.within)
            else {
                continue;
            };
            let apart = self.second.points.iter().map(|p| (other * p - pose * p).norm());
            let apart = apart.fold(0.0, f64::max);
            if apart <= 4.0 * self.scatter {
                continue;
            }
            let there = self.met(&other);
            if there.overlap > 0.85 * met.overlap && there.mismatch <= MISMATCH {
                return Err(Unregistered::Ambiguous(apart));
            }
        }
        Ok(())
    }

    /// How many pairs each patch has, and by how much it lies off on the mean, mm.
    fn patches(&self, pose: &Isometry3<f64>) -> Vec<(usize, f64)> {
        let pairs = self.pairs(pose, self.last_reach());
        let cells = Cells { middle: pose * self.middle, edge: PATCH };
        let mut patches: Map<Vec<(f64, Vector3<f64>)>> = Map::default();
        for pair in pairs.iter().filter(|p| p.across <= ACROSS * self.first.spacing) {
            patches.entry(cells.key(&pair.at)).or_default().push((pair.off, pair.normal));
        }
        let mut found = Vec::new();
        for patch in patches.values() {
            // A patch may hold surfaces that face three ways; each is looked at alone.
            for axis in 0..3 {
                for way in [-1.0, 1.0] {
                    let facing = patch.iter().filter(|(_, n)| way * n[axis] > 0.7);
                    let mut off: Vec<f64> = facing.map(|(off, _)| *off).collect();
                    if off.len() >= IN_PATCH {
                        found.push((off.len(), quantile(&mut off, 0.5).abs()));
                    }
                }
            }
        }
        found
    }
}

/// The most by which a patch lies off on the mean, mm, of those with a share of the pairs that patches have.
fn worst(patches: &[(usize, f64)], share: f64) -> f64 {
    let mut pairs: Vec<f64> = patches.iter().map(|(pairs, _)| *pairs as f64).collect();
    let enough = share * quantile(&mut pairs, 0.5);
    let whole = patches.iter().filter(|(pairs, _)| *pairs as f64 >= enough);
    whole.map(|(_, off)| *off).fold(0.0, f64::max)
}

impl Registration {
    /// How well it lies, for people.
    pub fn told(&self, unit: LengthUnit) -> String {
        let show = |mm: f64| Length::from_mm(mm).show_to(unit, unit.usual_places() + 1);
        format!(
            "{:.0} % of it lies on what was seen before, off by {} (root of the mean square); no patch of \
             it is off by more than {} on the mean",
            100.0 * self.overlap,
            show(self.rms),
            show(self.worst)
        )
    }
}

#[cfg(test)]
mod tests;
