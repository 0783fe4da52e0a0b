//! Whether the closed pieces of a mesh agree about where the body is.

mod tree;

use crate::{Mesh, volume};
use nalgebra::Point3;
use robust::{Coord, Coord3D, orient2d, orient3d};
use std::cell::Cell;
use std::cmp::Ordering;
use std::collections::HashSet;
use tree::Tree;

/// How closed pieces of a mesh contradict each other, the worse the later.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ContradictionKind {
    /// Pieces that face outward run into each other, or one lies within the other: taken together they
    /// are their union.
    Overlap,
    /// A piece faces inward, as a void does, and lies in nothing.
    VoidOfNothing,
    /// A piece that faces inward runs into one that faces outward, or holds it: where both are, what is
    /// solid would be taken for free.
    Cancelled,
    /// The pieces lie among each other in such a number that they were not compared.
    TooMany,
}

impl ContradictionKind {
    /// What pieces of it are, after their number.
    pub const fn what(self) -> &'static str {
        match self {
            Self::Overlap => "closed pieces that run into others or lie within one of them",
            Self::VoidOfNothing => {
                "closed pieces that face inward, as voids do, and lie in nothing"
            }
            Self::Cancelled => {
                "closed pieces that are a void and reach out of what they lie in, or meet one that \
                 does: solid would be taken for free there"
            }
            Self::TooMany => "closed pieces among too many others to be compared with them",
        }
    }
}

/// That closed pieces of a mesh contradict each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contradiction {
    /// The worst that there is.
    pub kind: ContradictionKind,
    /// Pieces of which that is so.
    pub pieces: usize,
    /// A place where it is so, mm.
    pub at: Point3<f64>,
}

/// Looks for closed pieces that contradict each other. Just behind every triangle a mesh is to wind once
/// around, just before it not at all: about a piece that faces outward no other may wind, about one that
/// faces inward the others must, once. None where the pieces agree, and for a mesh that is not closed.
///
/// Pieces are what triangles join by their edges; within a piece nothing is looked for. What lies within
/// `within` millimetres of another piece counts as touching it, so that an overlap less than about twice
/// as thick is not found.
pub fn contradiction(mesh: &Mesh, within: f64) -> Option<Contradiction> {
    let pieces = Pieces::of(mesh, within)?;
    let mut worst: Option<Contradiction> = None;
    let mut up = vec![0; mesh.vertices.len()];
    for number in 0..pieces.all.len() {
        let Some(found) = pieces.look_at(number, &mut up) else { continue };
        match &mut worst {
            Some(worst) if worst.kind > found.kind => {}
            Some(worst) if worst.kind == found.kind => worst.pieces += 1,
            worst => *worst = Some(found),
        }
    }
    worst
}

type P = Point3<f64>;
type Bounds = (P, P);

/// Triangles that are looked at, at most.
const MOST_SIGHTS: u64 = 400_000_000;

/// Triangles that edges join.
struct Piece {
    triangles: Vec<u32>,
    bounds: Bounds,
    outward: bool,
}

struct Pieces<'m> {
    mesh: &'m Mesh,
    within: f64,
    all: Vec<Piece>,
    /// The piece of each triangle.
    piece_of: Vec<usize>,
    tree: Tree,
    /// Triangles that may still be looked at.
    sights: Cell<u64>,
}

/// How often the other pieces wind around places on a piece, beside what they have to.
#[derive(Default)]
struct Told {
    right: bool,
    over: Option<P>,
    under: Option<P>,
}

impl<'m> Pieces<'m> {
    /// The pieces of a closed mesh, where they are several.
    fn of(mesh: &'m Mesh, within: f64) -> Option<Self> {
        let groups = joined_by_edges(mesh)?;
        if groups.len() < 2 {
            return None;
        }
        let (low, high) = mesh.bounds()?;
        let within = within.max(1e-9 * (high - low).norm());
        let mut piece_of = vec![0; mesh.triangles.len()];
        let mut all = Vec::with_capacity(groups.len());
        for (number, triangles) in groups.into_iter().enumerate() {
            let corners = || triangles.iter().flat_map(|t| mesh.corners(*t as usize));
            let alone = Mesh {
                vertices: corners().collect(),
                triangles: (0..u32::try_from(triangles.len()).ok()?)
                    .map(|t| [3 * t, 3 * t + 1, 3 * t + 2])
                    .collect(),
            };
            for t in &triangles {
                piece_of[*t as usize] = number;
            }
            let outward = volume(&alone) >= 0.0;
            all.push(Piece { bounds: alone.bounds()?, outward, triangles });
        }
        let tree = Tree::over(mesh);
        Some(Self { mesh, within, all, piece_of, tree, sights: Cell::new(MOST_SIGHTS) })
    }

    /// What is wrong about one piece. How often the others wind changes along its edges only where one of
    /// them pierces an edge, so that corners from which others are reached without are told by one. `up`
    /// has a place for every vertex.
    fn look_at(&self, number: usize, up: &mut [u32]) -> Option<Contradiction> {
        let piece = self.all.get(number)?;
        let others: Vec<Bounds> = self
            .all
            .iter()
            .enumerate()
            .filter(|(j, other)| *j != number && meet(&other.bounds, &piece.bounds))
            .map(|(_, other)| other.bounds)
            .collect();
        let first = self.mesh.corners(*piece.triangles.first()? as usize)[0];
        if others.is_empty() {
            let kind = ContradictionKind::VoidOfNothing;
            return (!piece.outward).then_some(Contradiction { kind, pieces: 1, at: first });
        }
        let mut told = Told::default();
        let mut corners: Vec<u32> = Vec::new();
        for v in piece.triangles.iter().flat_map(|t| self.mesh.triangles[*t as usize]) {
            up[v as usize] = v;
            corners.push(v);
        }
        corners.sort_unstable();
        corners.dedup();
        for t in &piece.triangles {
            let v = self.mesh.triangles[*t as usize];
            // Every edge is there once each way.
            for (a, b) in
                [(v[0], v[1]), (v[1], v[2]), (v[2], v[0])].into_iter().filter(|(a, b)| a < b)
            {
                let (start, end) = (self.mesh.vertices[a as usize], self.mesh.vertices[b as usize]);
                let places = self.between_cuts(&start, &end, number, &others);
                if places.is_empty() {
                    let (a, b) = (root(up, a), root(up, b));
                    up[a.max(b) as usize] = a.min(b);
                }
                for p in places.iter().filter(|p| self.is_clear(p, number)) {
                    self.tell(p, number, &mut told);
                }
            }
            if self.sights.get() == 0 {
                let kind = ContradictionKind::TooMany;
                return Some(Contradiction { kind, pieces: 1, at: first });
            }
        }
        let mut clear: HashSet<u32> = HashSet::new();
        for v in corners {
            let (of, p) = (root(up, v), self.mesh.vertices[v as usize]);
            if !clear.contains(&of) && self.is_clear(&p, number) {
                clear.insert(of);
                self.tell(&p, number, &mut told);
            }
        }
        // Where corners and edges lie on others, the faces between them still tell.
        for t in &piece.triangles {
            if self.mesh.triangles[*t as usize].iter().all(|v| !clear.contains(&root(up, *v))) {
                self.tell_beside(*t, number, &mut told);
            }
        }
        let (kind, at) = match (piece.outward, told.over, told.under, told.right) {
            (_, None, None, _) => return None,
            (true, _, Some(at), _) | (false, _, Some(at), true) => {
                (ContradictionKind::Cancelled, at)
            }
            (false, _, Some(at), false) => (ContradictionKind::VoidOfNothing, at),
            (_, Some(at), None, _) => (ContradictionKind::Overlap, at),
        };
        Some(Contradiction { kind, pieces: 1, at })
    }

    /// Notes what a place on a piece, or just behind it, tells.
    fn tell(&self, p: &P, number: usize, told: &mut Told) {
        let expected = i32::from(!self.all[number].outward);
        match self.around(p, |piece| piece != number).cmp(&expected) {
            Ordering::Equal => told.right = true,
            Ordering::Greater => told.over = told.over.or(Some(*p)),
            Ordering::Less => told.under = told.under.or(Some(*p)),
        }
    }

    /// The middle of a triangle, or where that is not clear a place a little behind it: before it another
    /// piece may begin.
    fn tell_beside(&self, triangle: u32, number: usize, told: &mut Told) {
        let [a, b, c] = self.mesh.corners(triangle as usize);
        let middle = P::from((a.coords + b.coords + c.coords) / 3.0);
        if self.is_clear(&middle, number) {
            self.tell(&middle, number, told);
            return;
        }
        let Some(normal) = (b - a).cross(&(c - a)).try_normalize(0.0) else { return };
        let p = middle - normal * (1.5 * self.within);
        // Through a wall thinner than that it says nothing; nor does it where a void ends flush.
        let outward = self.all[number].outward;
        let own = self.around(&p, |piece| piece == number);
        if own == i32::from(outward)
            && (outward || self.around(&p, |_| true) != 0)
            && self.is_clear(&p, number)
        {
            self.tell(&p, number, told);
        }
    }

    /// Places on an edge, one between any two at which other pieces pierce it; none where none does.
    fn between_cuts(&self, start: &P, end: &P, number: usize, others: &[Bounds]) -> Vec<P> {
        let bounds = (start.inf(end), start.sup(end));
        let mut cuts = Vec::new();
        if !others.iter().any(|other| meet(other, &bounds)) {
            return Vec::new();
        }
        self.tree.each(&bounds, |t| {
            self.see();
            if self.piece_of[t as usize] == number {
                return;
            }
            let corners = self.mesh.corners(t as usize);
            let (from, to) = (side(&corners, start), side(&corners, end));
            let pierced = (from > 0.0) != (to > 0.0) && {
                let hand = |i: usize| side(&[*start, *end, corners[i]], &corners[(i + 1) % 3]);
                let hands = [hand(0), hand(1), hand(2)];
                hands.iter().all(|h| *h >= 0.0) || hands.iter().all(|h| *h <= 0.0)
            };
            if pierced {
                cuts.push((from / (from - to)).clamp(0.0, 1.0));
            }
        });
        if cuts.is_empty() {
            return Vec::new();
        }
        cuts.extend([0.0, 1.0]);
        cuts.sort_by(f64::total_cmp);
        let middle = |w: &[f64]| start + (end - start) * f64::midpoint(w[0], w[1]);
        cuts.windows(2).map(middle).collect()
    }

    /// How often pieces wind around a point: the signed number of their triangles above it. A point in a
    /// triangle's edge seen from above counts as a step beside it, the same for all triangles there.
    fn around(&self, p: &P, of: impl Fn(usize) -> bool) -> i32 {
        let mut above = 0;
        let up = P::new(p.x, p.y, f64::INFINITY);
        self.tree.each(&(*p, up), |t| {
            self.see();
            if !of(self.piece_of[t as usize]) {
                return;
            }
            let corners = self.mesh.corners(t as usize);
            let turns = turns_about(&corners, p);
            if turns != 0 && side(&corners, p) * f64::from(turns) < 0.0 {
                above += turns;
            }
        });
        above
    }

    /// Whether no other piece is near a point.
    fn is_clear(&self, p: &P, number: usize) -> bool {
        let by = nalgebra::Vector3::repeat(self.within);
        let mut near = false;
        self.tree.each(&(p - by, p + by), |t| {
            self.see();
            near |= self.piece_of[t as usize] != number
                && distance(p, &self.mesh.corners(t as usize)) < self.within;
        });
        !near
    }

    fn see(&self) {
        self.sights.set(self.sights.get().saturating_sub(1));
    }
}

fn meet(a: &Bounds, b: &Bounds) -> bool {
    (0..3).all(|axis| a.0[axis] <= b.1[axis] && a.1[axis] >= b.0[axis])
}

/// Where `p` lies of the plane of `t`: positive on the side from which it is counter-clockwise. The sign is
/// exact.
fn side(t: &[P; 3], p: &P) -> f64 {
    let of = |p: &P| Coord3D { x: p.x, y: p.y, z: p.z };
    -orient3d(of(&t[0]), of(&t[1]), of(&t[2]), of(p))
}

/// How often a triangle's border runs around a point seen from above: 1 counter-clockwise, -1 clockwise.
fn turns_about(t: &[P; 3], p: &P) -> i32 {
    let flat = |p: &P| Coord { x: p.x, y: p.y };
    let mut turns = 0;
    for i in 0..3 {
        let (a, b) = (&t[i], &t[(i + 1) % 3]);
        if (a.y <= p.y) != (b.y <= p.y) {
            let left = orient2d(flat(a), flat(b), flat(p));
            if a.y <= p.y && left > 0.0 {
                turns += 1;
            } else if a.y > p.y && left < 0.0 {
                turns -= 1;
            }
        }
    }
    turns
}

/// Distance of a point from a triangle, never too great by more than rounding.
fn distance(p: &P, t: &[P; 3]) -> f64 {
    let edge = |i: usize| {
        let (start, along) = (t[i], t[(i + 1) % 3] - t[i]);
        let square = along.norm_squared();
        let share =
            if square > 0.0 { ((p - start).dot(&along) / square).clamp(0.0, 1.0) } else { 0.0 };
        (p - start - along * share).norm()
    };
    let border = edge(0).min(edge(1)).min(edge(2));
    let Some(normal) = (t[1] - t[0]).cross(&(t[2] - t[0])).try_normalize(0.0) else {
        return border;
    };
    let within = |i: usize| (t[(i + 1) % 3] - t[i]).cross(&(p - t[i])).dot(&normal) >= 0.0;
    if (0..3).all(within) { (p - t[0]).dot(&normal).abs().min(border) } else { border }
}

/// The triangles of a closed mesh in sets that edges join, by the first of each; None where an edge is not
/// run as often one way as the other, or a triangle has no place.
fn joined_by_edges(mesh: &Mesh) -> Option<Vec<Vec<u32>>> {
    let is_there =
        |v: &u32| mesh.vertices.get(*v as usize).is_some_and(|p| p.iter().all(|x| x.is_finite()));
    if !mesh.triangles.iter().flatten().all(is_there) {
        return None;
    }
    let mut uses: Vec<([u32; 2], bool, u32)> = Vec::with_capacity(3 * mesh.triangles.len());
    for (t, v) in (0_u32..).zip(&mesh.triangles) {
        for (a, b) in [(v[0], v[1]), (v[1], v[2]), (v[2], v[0])] {
            uses.push(([a.min(b), a.max(b)], a > b, t));
        }
    }
    uses.sort_unstable();
    let mut up: Vec<u32> = (0_u32..).take(mesh.triangles.len()).collect();
    for edge in uses.chunk_by(|a, b| a.0 == b.0) {
        // An edge of a corner with itself runs no way.
        let backward = edge.iter().filter(|u| u.1).count();
        if edge[0].0[0] != edge[0].0[1] && 2 * backward != edge.len() {
            return None;
        }
        for pair in edge.windows(2) {
            let (a, b) = (root(&mut up, pair[0].2), root(&mut up, pair[1].2));
            up[a.max(b) as usize] = a.min(b);
        }
    }
    drop(uses);
    let mut number = vec![usize::MAX; up.len()];
    let mut sets: Vec<Vec<u32>> = Vec::new();
    for t in (0_u32..).take(up.len()) {
        let first = root(&mut up, t) as usize;
        if number[first] == usize::MAX {
            number[first] = sets.len();
            sets.push(Vec::new());
        }
        sets[number[first]].push(t);
    }
    Some(sets)
}

fn root(up: &mut [u32], mut i: u32) -> u32 {
    while up[i as usize] != i {
        up[i as usize] = up[up[i as usize] as usize];
        i = up[i as usize];
    }
    i
}

#[cfg(test)]
mod tests;
