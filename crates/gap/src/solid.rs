//! A body ready for queries.

use std::collections::HashMap;
use std::sync::OnceLock;

use nalgebra::Point3;
use rayon::prelude::*;
use solids::Mesh;
use thiserror::Error;

use crate::inscribed::Ball;
use crate::soup::Soup;
use crate::tree::{Tree, WORTH_A_THREAD};
use crate::triangle::Triangle;

/// Greatest coordinate, millimetres, that the engine takes: ten kilometres. Beyond it rounding
/// would no longer be far below what a measurement can see.
pub(crate) const LARGEST: f64 = 1e7;

/// Why a query could not be decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum Undecided {
    /// A body has no triangles.
    #[error("a body has no triangles")]
    Empty,
    /// A triangle names a vertex that is not there, or a coordinate is not a number, not finite
    /// or farther out than ten kilometres.
    #[error("a body has a corner that is missing, not finite or farther out than 10 km")]
    BadCorner,
    /// The pose is not a finite rotation and translation within ten kilometres.
    #[error("the pose is not a finite rotation and translation within 10 km")]
    BadPose,
    /// A point or direction is not finite, or a direction has no length.
    #[error("a point or direction is not finite, or a direction has no length")]
    BadPoint,
    /// One body may lie inside the other, but its surface is open there and the winding number is
    /// too far from a whole number to tell.
    #[error("a surface is open, so inside and outside cannot be told apart there")]
    Open,
    /// One body may lie inside the other, but its triangles face both ways, so that the winding
    /// number means nothing.
    #[error(
        "a surface has triangles that face both ways, so inside and outside cannot be told apart"
    )]
    FacesBothWays,
}

/// An axis-aligned box, millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Least coordinates.
    pub low: Point3<f64>,
    /// Greatest coordinates.
    pub high: Point3<f64>,
}

impl Bounds {
    /// Whether the point is in the box or on its border.
    pub fn hold(&self, point: &Point3<f64>) -> bool {
        (0..3).all(|axis| self.low[axis] <= point[axis] && point[axis] <= self.high[axis])
    }

    fn around(points: impl IntoIterator<Item = Point3<f64>>) -> Option<Self> {
        points.into_iter().fold(None, |sofar: Option<Self>, p| {
            Some(sofar.map_or(Self { low: p, high: p }, |b| Self {
                low: b.low.inf(&p),
                high: b.high.sup(&p),
            }))
        })
    }
}

/// A triangle body with its hierarchy and what the inside test needs, built once and then only
/// read, from as many threads as wanted.
#[derive(Debug, Clone)]
pub struct Solid {
    mesh: Mesh,
    state: Result<Ready, Undecided>,
    /// Made when they are first asked for.
    pub(crate) balls: OnceLock<Vec<Ball>>,
}

/// What a usable body has.
#[derive(Debug, Clone)]
pub(crate) struct Ready {
    pub(crate) tree: Tree,
    /// The triangle in each slot of the tree.
    pub(crate) soup: Soup,
    /// Triangle index of each slot.
    pub(crate) slots: Vec<u32>,
    pub(crate) bounds: Bounds,
    /// Greatest absolute coordinate.
    pub(crate) reach: f64,
    /// One corner of every connected shell.
    pub(crate) shells: Vec<Point3<f64>>,
    /// Closes every open shell: from each unmatched edge to a point in the middle of its shell's
    /// border. Empty on a closed body.
    pub(crate) caps: Vec<Triangle>,
    /// Boxes of the shells whose triangles face both ways.
    pub(crate) two_faced: Vec<Bounds>,
}

impl Solid {
    /// Prepares a body. Never fails: a mesh that cannot be used answers every query with
    /// "cannot decide" and the reason, also told by [`Solid::usable`].
    pub fn new(mesh: &Mesh) -> Self {
        Self { mesh: mesh.clone(), state: Ready::new(mesh), balls: OnceLock::new() }
    }

    /// The mesh it was built from.
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// The box around the triangles, or `None` for a mesh that cannot be used.
    pub fn bounds(&self) -> Option<Bounds> {
        self.ready().ok().map(|ready| ready.bounds)
    }

    /// Whether queries can be answered, and if not why.
    pub fn usable(&self) -> Result<(), Undecided> {
        self.ready().map(|_| ())
    }

    /// Whether every edge is matched by the same edge run the other way, so that the surface
    /// bounds a volume. Corners at the same place count as one.
    pub fn is_closed(&self) -> bool {
        self.ready().is_ok_and(|ready| ready.caps.is_empty())
    }

    /// Number of connected shells; corners at the same place join triangles.
    pub fn shell_count(&self) -> usize {
        self.ready().map_or(0, |ready| ready.shells.len())
    }

    pub(crate) fn ready(&self) -> Result<&Ready, Undecided> {
        self.state.as_ref().map_err(|why| *why)
    }

    /// The vertices of the triangles; none on a mesh that cannot be used.
    pub(crate) fn vertices(&self) -> &[Point3<f64>] {
        self.ready().map_or(&[], |ready| ready.soup.vertices())
    }

    /// Bytes held in memory, the mesh included.
    pub fn bytes(&self) -> usize {
        let mesh = self.mesh.vertices.capacity() * size_of::<Point3<f64>>()
            + self.mesh.triangles.capacity() * size_of::<[u32; 3]>();
        size_of::<Self>() + mesh + self.ready().map_or(0, Ready::bytes)
    }
}

impl Ready {
    fn new(mesh: &Mesh) -> Result<Self, Undecided> {
        let corners = |t: &[u32; 3]| corners_of(mesh, *t).ok_or(Undecided::BadCorner);
        let large = mesh.triangles.len() >= WORTH_A_THREAD;
        let triangles: Vec<Triangle> = if large {
            mesh.triangles.par_iter().map(corners).collect::<Result<_, _>>()?
        } else {
            mesh.triangles.iter().map(corners).collect::<Result<_, _>>()?
        };
        let bounds = Bounds::around(triangles.iter().flatten().copied()).ok_or(Undecided::Empty)?;
        let shells = || Shells::of(mesh, &triangles);
        let tree = || Tree::build(&mesh.vertices, &mesh.triangles);
        let (shells, (tree, soup, slots)) =
            if large { rayon::join(shells, tree) } else { (shells(), tree()) };
        let Shells { corners: shells, caps, two_faced } = shells;
        let reach =
            bounds.low.iter().chain(bounds.high.iter()).fold(0.0_f64, |m, c| m.max(c.abs()));
        Ok(Self { tree, soup, slots, bounds, reach, shells, caps, two_faced })
    }

    /// Whether inside and outside can be told apart everywhere.
    pub(crate) fn is_whole(&self) -> bool {
        self.caps.is_empty() && self.two_faced.is_empty()
    }

    fn bytes(&self) -> usize {
        self.tree.bytes()
            + self.soup.bytes()
            + self.slots.capacity() * size_of::<u32>()
            + self.shells.capacity() * size_of::<Point3<f64>>()
            + self.caps.capacity() * size_of::<Triangle>()
            + self.two_faced.capacity() * size_of::<Bounds>()
    }
}

fn corners_of(mesh: &Mesh, triangle: [u32; 3]) -> Option<Triangle> {
    let at = |v: u32| {
        let p = mesh.vertices.get(v as usize)?;
        // Not-a-number fails the comparison.
        p.iter().all(|c| c.abs() <= LARGEST).then_some(*p)
    };
    Some([at(triangle[0])?, at(triangle[1])?, at(triangle[2])?])
}

/// The connected shells of a mesh and how closed each is.
struct Shells {
    /// The first corner of each.
    corners: Vec<Point3<f64>>,
    caps: Vec<Triangle>,
    two_faced: Vec<Bounds>,
}

impl Shells {
    fn of(mesh: &Mesh, triangles: &[Triangle]) -> Self {
        let place = weld(mesh);
        let welded: Vec<[u32; 3]> =
            mesh.triangles.iter().map(|t| t.map(|v| place[v as usize])).collect();
        let mut groups = Groups::new(mesh.vertices.len());
        for t in &welded {
            groups.join(t[0], t[1]);
            groups.join(t[1], t[2]);
        }
        // Shells are numbered in the order in which the mesh first names them.
        let mut number: HashMap<u32, usize> = HashMap::new();
        let mut shells = Vec::new();
        let mut members: Vec<usize> = Vec::with_capacity(welded.len());
        for (t, corners) in welded.iter().zip(triangles) {
            let shell = *number.entry(groups.find(t[0])).or_insert_with(|| {
                shells.push(corners[0]);
                shells.len() - 1
            });
            members.push(shell);
        }
        let borders = borders(&welded, &members, shells.len());
        let mut caps = Vec::new();
        for border in borders.iter().filter(|border| !border.open.is_empty()) {
            let at = |v: u32| mesh.vertices[v as usize];
            let sum =
                border.open.iter().fold(nalgebra::Vector3::zeros(), |s, e| s + at(e[0]).coords);
            let middle = Point3::from(sum / border.open.len() as f64);
            caps.extend(border.open.iter().map(|e| [at(e[1]), at(e[0]), middle]));
        }
        let two_faced = borders
            .iter()
            .enumerate()
            .filter(|(_, border)| border.two_faced)
            .filter_map(|(shell, _)| {
                let own = members.iter().zip(triangles).filter(|(s, _)| **s == shell);
                Bounds::around(own.flat_map(|(_, corners)| *corners))
            })
            .collect();
        Self { corners: shells, caps, two_faced }
    }
}

/// For every vertex the first vertex at the same place.
fn weld(mesh: &Mesh) -> Vec<u32> {
    let mut first: HashMap<[u64; 3], u32> = HashMap::with_capacity(mesh.vertices.len());
    mesh.vertices
        .iter()
        .zip(0_u32..)
        .map(|(p, v)| {
            // Adding zero turns minus zero into zero.
            *first.entry([p.x, p.y, p.z].map(|c| (c + 0.0).to_bits())).or_insert(v)
        })
        .collect()
}

/// The unmatched edges of one shell.
#[derive(Default, Clone)]
struct Border {
    /// Edges run once more this way than the other, as often as they are.
    open: Vec<[u32; 2]>,
    /// An edge is shared by triangles of which an even number is left over one way: neighbours
    /// that face opposite ways.
    two_faced: bool,
}

fn borders(welded: &[[u32; 3]], members: &[usize], shells: usize) -> Vec<Border> {
    // One entry per edge of each triangle: ends in order, which way it runs, whose it is.
    let mut edges: Vec<([u32; 2], bool, usize)> = Vec::with_capacity(3 * welded.len());
    for (t, shell) in welded.iter().zip(members) {
        for (from, to) in [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])] {
            if from != to {
                edges.push(([from.min(to), from.max(to)], from < to, *shell));
            }
        }
    }
    if edges.len() >= WORTH_A_THREAD {
        edges.par_sort_unstable();
    } else {
        edges.sort_unstable();
    }
    let mut borders = vec![Border::default(); shells];
    for same in edges.chunk_by(|x, y| x.0 == y.0) {
        let [(ends, _, shell), ..] = same else { continue };
        let up = same.iter().filter(|(_, up, _)| *up).count();
        let down = same.len() - up;
        let left_over = up.abs_diff(down);
        let run = if up > down { *ends } else { [ends[1], ends[0]] };
        borders[*shell].open.extend(std::iter::repeat_n(run, left_over));
        borders[*shell].two_faced |= left_over > 0 && left_over.is_multiple_of(2);
    }
    borders
}

/// Disjoint sets with path halving.
struct Groups(Vec<u32>);

impl Groups {
    fn new(count: usize) -> Self {
        Self((0..u32::try_from(count).unwrap_or(u32::MAX)).collect())
    }

    fn find(&mut self, mut member: u32) -> u32 {
        while self.0[member as usize] != member {
            let above = self.0[self.0[member as usize] as usize];
            self.0[member as usize] = above;
            member = above;
        }
        member
    }

    fn join(&mut self, x: u32, y: u32) {
        let (x, y) = (self.find(x), self.find(y));
        // The lower number leads, so that the outcome does not depend on the order.
        self.0[x.max(y) as usize] = x.min(y);
    }
}
