//! The closed surface about a set of cells, with few triangles where it is flat.
//!
//! Between eight cells of which some are in the set and some not lies one vertex; between two
//! neighbours of which one is in the set lies one quadrilateral. Every edge is then used as often in
//! one direction as in the other, wherever the vertices lie, and stays so when vertices are put
//! together: a triangle that loses its area thereby is left out with nothing missing.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "cell numbers and vertices stay far below 2^31"
)]

use crate::grid::{At, Grid};
use crate::off::Near;
use crate::split::split;
use nalgebra::{Matrix3, Point3, Vector3};
use rayon::prelude::*;
use solids::{ContradictionKind, Mesh, contradiction, shells};

/// A closed surface.
#[derive(Debug, Clone, Default)]
pub(crate) struct Skin {
    pub(crate) mesh: Mesh,
    /// Which triangles belong to what was seen from outside.
    pub(crate) outer: Vec<bool>,
    /// The corners of the cells' own surface that no seen surface moved, mm.
    corners: Vec<Point3<f64>>,
}

/// A closed piece of less than so many cells is no body, and a void of less than so many is filled: one
/// that is hardly wider than the shell around it may reach out of it where vertices were put together.
const SLIVER: f64 = 1.0;
const POCKET: usize = 500;
/// Cells beyond the box in which a set lies: one to grow into, and one of which nothing is in it.
const PAD: usize = 2;

impl Skin {
    /// Leaves out closed pieces that hold next to nothing: sheets whose faces were put together, hairs
    /// between two that touch. What they were is then as far from the mesh as is measured.
    fn drop_slivers(&mut self, step: f64) {
        let pieces = shells(&self.mesh);
        if pieces.len() < 2 {
            return;
        }
        let mut piece_of = vec![0_usize; self.mesh.vertices.len()];
        for (number, piece) in pieces.iter().enumerate() {
            for vertex in piece {
                piece_of[*vertex] = number;
            }
        }
        // Each about a corner of its own, so that no digits are lost.
        let about: Vec<Option<Point3<f64>>> =
            pieces.iter().map(|p| p.first().map(|v| self.mesh.vertices[*v])).collect();
        let mut volumes = vec![0.0; pieces.len()];
        for t in &self.mesh.triangles {
            let piece = piece_of[t[0] as usize];
            let Some(about) = about[piece] else { continue };
            let [a, b, c] = t.map(|v| self.mesh.vertices[v as usize] - about);
            volumes[piece] += a.dot(&b.cross(&c)) / 6.0;
        }
        let is_body = |t: &[u32; 3]| {
            let cells = volumes[piece_of[t[0] as usize]] / step.powi(3);
            cells >= SLIVER || cells <= -(POCKET as f64)
        };
        let faces: Vec<Face> = self
            .mesh
            .triangles
            .iter()
            .zip(&self.outer)
            .filter(|(t, _)| is_body(t))
            .map(|(t, outer)| (*t, *outer))
            .collect();
        let corners = std::mem::take(&mut self.corners);
        *self = Self { corners, ..pack(&faces, &self.mesh.vertices) };
    }

    /// How far the corners of the cells' own surface are from the mesh at most, mm, where no seen
    /// surface says better.
    pub(crate) fn moved(&self) -> f64 {
        if self.mesh.triangles.is_empty() {
            return 0.0;
        }
        let near = Near::new(&self.mesh, None);
        near.farthest(self.corners.par_iter().copied())
    }
}

/// How flat a place must be for its vertices to be put together: root mean square, mm.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flat {
    /// On seen surfaces.
    pub(crate) seen: f64,
    /// Elsewhere.
    pub(crate) other: f64,
}

/// A triangle by its vertices, and whether it is of a seen surface.
type Face = ([u32; 3], bool);

/// A vertex between eight cells.
#[derive(Debug, Clone, Copy)]
struct Spot {
    /// `j * nx + i` in its layer.
    at: u32,
    /// Which of the eight cells are in the set.
    cells: u8,
    seen: bool,
    place: Point3<f64>,
}

/// Vertices are put together in cubes of at most this many cells' side, as a power of two.
const LEVELS: u32 = 4;
/// A vertex may be this many times farther from the plane than they are on the whole.
const AWAY: f64 = 3.0;
/// How far the surface at a vertex may be turned from the whole, rad: the edge of a block is turned by
/// 45 degrees, the steps of a slant by less.
const TURNED: f64 = 0.75;

/// How far vertices are put together, as shares of what is asked, until the pieces of a surface agree.
const TRIED: [f64; 3] = [1.0, 0.25, 0.0];
/// Pieces nearer than this share of the surface's size only touch.
const TOUCHING: f64 = 1e-6;

/// As [`surface`]. Where vertices that were put together fold one piece over another, so that what is solid
/// would be taken for free there, fewer are put together.
pub(crate) fn skin(
    grid: &Grid,
    between: [At; 2],
    inside: &(impl Fn(At) -> bool + Sync),
    crossing: &(impl Fn(At, At) -> Option<f64> + Sync),
    outer: &(impl Fn(At, At) -> bool + Sync),
    grow: Option<&(dyn Fn(At) -> bool + Sync)>,
    flat: Flat,
) -> Skin {
    let mut skin = Skin::default();
    for share in TRIED {
        let flat = Flat { seen: share * flat.seen, other: share * flat.other };
        skin = surface(grid, between, inside, crossing, outer, grow, flat);
        if !cancels(&skin.mesh) {
            break;
        }
    }
    skin
}

/// Whether pieces contradict each other in a way that no verdict may rest on.
fn cancels(mesh: &Mesh) -> bool {
    let Some((low, high)) = mesh.bounds() else { return false };
    contradiction(mesh, TOUCHING * (high - low).norm()).is_some_and(|found| {
        matches!(found.kind, ContradictionKind::Cancelled | ContradictionKind::TooMany)
    })
}

/// The surface about the cells between `low` and `high` (both included) that are `inside`. Of two
/// neighbours, the first inside and the other not, `crossing` tells where between them a seen surface
/// lies, and `outer` whether the face between them stands for what was seen from outside. With `grow`
/// the set is made wider where it is thinner than two cells, at best by cells of which it tells that
/// something is there anyway: what may be there may then be beside it as well, and nothing of it is lost
/// for having no volume. Small voids are filled.
fn surface(
    grid: &Grid,
    [low, high]: [At; 2],
    inside: &(impl Fn(At) -> bool + Sync),
    crossing: &(impl Fn(At, At) -> Option<f64> + Sync),
    outer: &(impl Fn(At, At) -> bool + Sync),
    grow: Option<&(dyn Fn(At) -> bool + Sync)>,
    flat: Flat,
) -> Skin {
    if (0..3).any(|a| high[a] < low[a]) {
        return Skin::default();
    }
    let base = low.map(|n| n - PAD as i32);
    let size @ [nx, ny, nz] = [0, 1, 2].map(|a| (high[a] - low[a] + 1) as usize + 2 * PAD);
    let full = set(base, size, inside, grow);
    let layers: Vec<Vec<Spot>> = (0..nz - 1)
        .into_par_iter()
        .map(|k| spots(grid, base, [nx, ny], k, &full, crossing))
        .collect();
    let mut starts = vec![0_usize];
    for layer in &layers {
        starts.push(starts[starts.len() - 1] + layer.len());
    }
    let mut together = put_together(&layers, nx, flat);
    together.at_one_place();

    // Where the vertices of a layer are, for the quadrilaterals between it and the one below.
    let faces: Vec<Vec<Face>> = (0..nz - 1)
        .into_par_iter()
        .map(|k| {
            let find = |layer: usize, at: usize| -> u32 {
                let spots = &layers[layer];
                let found = spots.partition_point(|s| (s.at as usize) < at);
                (starts[layer] + found) as u32
            };
            let mut faces = Vec::new();
            for s in &layers[k] {
                let at = s.at as usize;
                let first = s.cells & 1 != 0;
                // The neighbours of the first cell along x, y and z.
                for axis in 0..3 {
                    if first == (s.cells >> (1 << axis) & 1 != 0) {
                        continue;
                    }
                    let back = |axis: usize, k: usize, at: usize| match axis {
                        0 => (k, at - 1),
                        1 => (k, at - nx),
                        _ => (k - 1, at),
                    };
                    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
                    let a = (k, at);
                    let b = back(u, k, at);
                    let c = back(v, b.0, b.1);
                    let d = back(v, k, at);
                    let mut quad = [a, b, c, d].map(|(k, at)| find(k, at));
                    if !first {
                        quad.swap(1, 3);
                    }
                    let here = [at % nx, at / nx, k];
                    let mut ends = [[0, 1, 2].map(|a| base[a] + here[a] as i32); 2];
                    ends[usize::from(first)][axis] += 1;
                    let seen = outer(ends[0], ends[1]);
                    let quad = quad.map(|v| together.now[v as usize]);
                    let [p, q, r, t] = quad.map(|v| together.place[v as usize]);
                    let halves = if (p - r).norm_squared() <= (q - t).norm_squared() {
                        [[0, 1, 2], [0, 2, 3]]
                    } else {
                        [[0, 1, 3], [1, 2, 3]]
                    };
                    for half in halves {
                        let [a, b, c] = half.map(|n: usize| quad[n]);
                        if a != b && b != c && a != c {
                            // One small face may stand for much after vertices were put together.
                            let of_seen =
                                [a, b, c].iter().filter(|v| together.seen[**v as usize]).count();
                            faces.push(([a, b, c], seen || of_seen >= 2));
                        }
                    }
                }
            }
            faces
        })
        .collect();
    let faces = without_opposites(faces.concat());
    let mut skin = pack(&faces, &together.place);
    split(&mut skin.mesh);
    skin.drop_slivers(grid.step);
    let half = Vector3::repeat(0.5 * grid.step);
    skin.corners = layers
        .par_iter()
        .enumerate()
        .flat_map_iter(|(k, layer)| {
            layer.iter().filter(|s| !s.seen).map(move |s| {
                let at = [s.at as usize % nx, s.at as usize / nx, k];
                grid.middle([0, 1, 2].map(|a| base[a] + at[a] as i32)) + half
            })
        })
        .collect();
    skin
}

/// Which cells of a box from `base` on are in the set, grown if that is asked for, small voids filled. The
/// outermost are not.
fn set(
    base: At,
    [nx, ny, nz]: [usize; 3],
    inside: &(impl Fn(At) -> bool + Sync),
    grow: Option<&(dyn Fn(At) -> bool + Sync)>,
) -> Vec<bool> {
    let mut full = vec![false; nx * ny * nz];
    full.par_chunks_mut(nx).enumerate().for_each(|(row, cells)| {
        let (j, k) = (row % ny, row / ny);
        if j < PAD || k < PAD || j + PAD >= ny || k + PAD >= nz {
            return;
        }
        for (i, cell) in cells.iter_mut().enumerate().take(nx - PAD).skip(PAD) {
            *cell = inside([base[0] + i as i32, base[1] + j as i32, base[2] + k as i32]);
        }
    });
    if let Some(taken) = grow {
        let at = |n: usize| [n % nx, n / nx % ny, n / (nx * ny)];
        let place = |n: usize| [0, 1, 2].map(|a| base[a] + at(n)[a] as i32);
        fatten(&mut full, [nx, ny], |n| taken(place(n)));
    }
    fill_pockets(&mut full, [nx, ny]);
    full
}

/// Makes a block of eight cells of every cell that is in none, so that no part of the set is thinner
/// than two cells; of the eight blocks the one that adds the fewest cells not `taken` by others. The
/// outermost cells must be empty.
fn fatten(full: &mut [bool], [nx, ny]: [usize; 2], taken: impl Fn(usize) -> bool + Sync) {
    let block = [0, 1, nx, nx + 1].map(|n| [n, n + nx * ny]).concat();
    let last = full.len() - block[block.len() - 1];
    let is_block: Vec<bool> =
        (0..last).into_par_iter().map(|n| block.iter().all(|b| full[n + b])).collect();
    let thin: Vec<usize> = (0..last)
        .into_par_iter()
        .filter(|n| full[*n] && !block.iter().any(|b| *n >= *b && is_block[*n - b]))
        .filter_map(|n| {
            let adds = |first: usize| {
                block.iter().filter(|b| !full[first + **b] && !taken(first + **b)).count()
            };
            block.iter().filter(|b| n >= **b).map(|b| n - b).min_by_key(|first| adds(*first))
        })
        .collect();
    for n in thin {
        for b in &block {
            full[n + b] = true;
        }
    }
}

/// Puts into the set what it surrounds and is smaller than a pocket. The outermost cells must be empty.
fn fill_pockets(full: &mut [bool], [nx, ny]: [usize; 2]) {
    let layer = nx * ny;
    let inner = layer + nx + 1..full.len().saturating_sub(layer + nx + 1);
    let beside: Vec<usize> =
        (0..27).filter(|n| *n != 13).map(|n| n % 3 + n / 3 % 3 * nx + n / 9 * layer).collect();
    // One of the cells of any void lies in front of a cell of the set.
    let starts: Vec<usize> =
        inner.clone().into_par_iter().filter(|n| !full[*n] && full[n - 1]).collect();
    let mut open = vec![false; full.len()];
    let mut void = Vec::new();
    for start in starts {
        if open[start] || full[start] {
            continue;
        }
        void.clear();
        void.push(start);
        open[start] = true;
        let (mut next, mut closed) = (0, true);
        while closed && next < void.len() {
            for b in &beside {
                // Offsets count from the cell's lowest neighbour.
                let n = void[next] + b - (layer + nx + 1);
                if full[n] {
                    continue;
                }
                if !inner.contains(&n) {
                    closed = false;
                } else if !open[n] {
                    open[n] = true;
                    void.push(n);
                } else if !void.contains(&n) {
                    closed = false;
                }
            }
            closed &= void.len() < POCKET;
            next += 1;
        }
        if closed {
            for n in &void {
                full[*n] = true;
            }
        }
    }
}

/// The vertices between layer `k` of cells and the next.
fn spots(
    grid: &Grid,
    base: At,
    [nx, ny]: [usize; 2],
    k: usize,
    full: &[bool],
    crossing: &impl Fn(At, At) -> Option<f64>,
) -> Vec<Spot> {
    let mut found = Vec::new();
    for j in 0..ny - 1 {
        for i in 0..nx - 1 {
            let at = (k * ny + j) * nx + i;
            let mut cells = 0_u8;
            for c in 0..8 {
                let there = at + (c & 1) + (c >> 1 & 1) * nx + (c >> 2) * nx * ny;
                cells |= u8::from(full[there]) << c;
            }
            if cells == 0 || cells == u8::MAX {
                continue;
            }
            let cell = |c: usize| -> At {
                [
                    base[0] + (i + (c & 1)) as i32,
                    base[1] + (j + (c >> 1 & 1)) as i32,
                    base[2] + (k + (c >> 2)) as i32,
                ]
            };
            let (mut seen, mut other) = ((Vector3::zeros(), 0), (Vector3::zeros(), 0));
            for c in 0..8_usize {
                for axis in 0..3 {
                    let d = c | 1 << axis;
                    let (a, b) = (cells >> c & 1 != 0, cells >> d & 1 != 0);
                    if d == c || a == b {
                        continue;
                    }
                    let (inner, outer) = if a { (cell(c), cell(d)) } else { (cell(d), cell(c)) };
                    let (from, to) = (grid.middle(inner).coords, grid.middle(outer).coords);
                    let (sum, share) = match crossing(inner, outer) {
                        Some(share) => (&mut seen, share),
                        None => (&mut other, 0.5),
                    };
                    sum.0 += from + (to - from) * share;
                    sum.1 += 1;
                }
            }
            let (sum, count) = if seen.1 > 0 { seen } else { other };
            found.push(Spot {
                at: (j * nx + i) as u32,
                cells,
                seen: seen.1 > 0,
                place: Point3::from(sum / f64::from(count)),
            });
        }
    }
    found
}

/// What became of every vertex.
struct Together {
    now: Vec<u32>,
    place: Vec<Point3<f64>>,
    seen: Vec<bool>,
}

impl Together {
    /// Vertices at one place are one.
    fn at_one_place(&mut self) {
        let place = |v: u32| self.place[v as usize].coords.map(f64::to_bits);
        let mut order: Vec<u32> = self.now.clone();
        order.par_sort_unstable_by_key(|v| (<[u64; 3]>::from(place(*v)), *v));
        order.dedup();
        let mut one: Vec<u32> = (0..self.place.len() as u32).collect();
        for same in order.chunk_by(|a, b| place(*a) == place(*b)) {
            for v in same {
                one[*v as usize] = same[0];
            }
        }
        self.now.par_iter_mut().for_each(|now| *now = one[*now as usize]);
    }
}

/// Vertices that were put together, or one.
#[derive(Clone, Copy)]
struct Heap {
    key: u64,
    /// Its first vertex; the others point at it.
    first: u32,
    /// Whether all vertices of its cube are in it.
    whole: bool,
    /// How far one of its vertices may be from its plane, mm.
    off: f64,
    /// How far the surface at one of them may be turned from the whole, rad.
    turned: f64,
    count: f64,
    sum: Vector3<f64>,
    products: Matrix3<f64>,
    normal: Vector3<f64>,
}

/// Puts vertices together in ever larger cubes as long as all of a cube's lie in one plane, those of
/// seen surfaces apart from the others.
fn put_together(layers: &[Vec<Spot>], nx: usize, flat: Flat) -> Together {
    let all: usize = layers.iter().map(Vec::len).sum();
    let mut together = Together {
        now: (0..all as u32).collect(),
        place: layers.iter().flatten().map(|s| s.place).collect(),
        seen: layers.iter().flatten().map(|s| s.seen).collect(),
    };
    let key = |at: [u64; 3], seen: bool| at[2] << 42 | at[1] << 22 | at[0] << 2 | u64::from(seen);
    let halved = |key_: u64| {
        let part = |shift: u32| key_ >> shift & 0xf_ffff;
        key([part(2) / 2, part(22) / 2, part(42) / 2], key_ & 1 != 0)
    };
    // Sums about a point nearby keep their digits.
    let origin = together.place.first().map_or(Vector3::zeros(), |p| p.coords);
    let mut heaps: Vec<Heap> = Vec::with_capacity(all);
    for (k, layer) in layers.iter().enumerate() {
        for s in layer {
            let p = s.place.coords - origin;
            let out = (0..8).fold(Vector3::zeros(), |sum, c| {
                let way = Vector3::new(
                    f64::from(c & 1) - 0.5,
                    f64::from(c >> 1 & 1) - 0.5,
                    f64::from(c >> 2) - 0.5,
                );
                if s.cells >> c & 1 == 0 { sum + way } else { sum - way }
            });
            let at = [s.at as usize % nx, s.at as usize / nx, k].map(|n| n as u64);
            heaps.push(Heap {
                key: key(at, s.seen),
                first: heaps.len() as u32,
                whole: true,
                off: 0.0,
                turned: 0.0,
                count: 1.0,
                sum: p,
                products: p * p.transpose(),
                normal: out.try_normalize(0.0).unwrap_or_default(),
            });
        }
    }
    for _ in 0..LEVELS {
        for heap in &mut heaps {
            heap.key = halved(heap.key);
        }
        heaps.par_sort_unstable_by_key(|h| (h.key, h.first));
        let groups: Vec<&[Heap]> = heaps.chunk_by(|a, b| a.key == b.key).collect();
        let next: Vec<(Heap, &[Heap])> = groups
            .into_par_iter()
            .map(|group| {
                let mut sum = group[0];
                for heap in &group[1..] {
                    sum.whole &= heap.whole;
                    sum.count += heap.count;
                    sum.sum += heap.sum;
                    sum.products += heap.products;
                }
                let within = if sum.key & 1 != 0 { flat.seen } else { flat.other };
                if group.len() > 1 {
                    let flat = if sum.whole { plane(&sum, group, within) } else { None };
                    sum.whole = flat.is_some();
                    (sum.normal, sum.off, sum.turned) = flat.unwrap_or_default();
                }
                (sum, group)
            })
            .collect();
        for (sum, group) in &next {
            if sum.whole && group.len() > 1 {
                for heap in *group {
                    together.now[heap.first as usize] = sum.first;
                }
                together.place[sum.first as usize] = Point3::from(sum.sum / sum.count + origin);
            }
        }
        // A cube that is not flat goes on, so that no larger one takes it for flat.
        heaps = next.into_iter().map(|(sum, _)| sum).collect();
    }
    // A first vertex was put together with an earlier one in a later round.
    for v in 0..all {
        let mut now = together.now[v];
        while together.now[now as usize] != now {
            now = together.now[now as usize];
        }
        together.now[v] = now;
    }
    together
}

/// The plane of a heap, how far its vertices are from it and turned from it, if it is flat.
fn plane(heap: &Heap, of: &[Heap], within: f64) -> Option<(Vector3<f64>, f64, f64)> {
    let mean = heap.sum / heap.count;
    let spread = heap.products / heap.count - mean * mean.transpose();
    let eigen = spread.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| eigen.eigenvalues[*a].total_cmp(&eigen.eigenvalues[*b]));
    let [least, middle, most] = order.map(|n| eigen.eigenvalues[n]);
    if least > within * within {
        return None;
    }
    let all = of.iter().fold(Vector3::zeros(), |sum, h| sum + h.normal * h.count);
    let mut normal = eigen.eigenvectors.column(order[0]).into_owned();
    let mut most_turned = TURNED;
    if middle < 1e-3 * most {
        // In a row, as along an edge: any plane through it is as good, and the corners at its ends
        // stay.
        normal = all.try_normalize(0.0)?;
        most_turned = 0.5 * TURNED;
    }
    if normal.dot(&all) < 0.0 {
        normal = -normal;
    }
    // What lies along an edge is in the plane of one side, and must not be drawn into its middle.
    let turned = of.iter().map(|h| h.normal.angle(&normal) + h.turned).fold(0.0, f64::max);
    // The mean square alone would let a thin spike go.
    let off = of.iter().map(|h| (h.sum / h.count - mean).dot(&normal).abs() + h.off);
    let off = off.fold(0.0, f64::max);
    (turned <= most_turned && off <= AWAY * within).then_some((normal, off, turned))
}

/// Leaves out pairs of triangles over the same vertices that look in opposite directions.
fn without_opposites(mut faces: Vec<Face>) -> Vec<Face> {
    // Each with its least vertex first; then its two turns differ in the other two alone.
    for (t, _) in &mut faces {
        while t[0] > t[1] || t[0] > t[2] {
            t.rotate_left(1);
        }
    }
    let sorted = |t: &[u32; 3]| [t[0], t[1].min(t[2]), t[1].max(t[2])];
    faces.par_sort_unstable_by_key(|(t, seen)| (sorted(t), *t, *seen));
    let mut kept = Vec::with_capacity(faces.len());
    for same in faces.chunk_by(|a, b| sorted(&a.0) == sorted(&b.0)) {
        let (one, other): (Vec<Face>, Vec<Face>) =
            same.iter().copied().partition(|(t, _)| t[1] < t[2]);
        let both = one.len().min(other.len());
        kept.extend_from_slice(&one[both..]);
        kept.extend_from_slice(&other[both..]);
    }
    kept
}

/// The mesh of the triangles that are left, over the vertices that they use.
fn pack(faces: &[Face], place: &[Point3<f64>]) -> Skin {
    let mut new = vec![u32::MAX; place.len()];
    let mut skin = Skin::default();
    for (t, seen) in faces {
        let corners = t.map(|v| {
            if new[v as usize] == u32::MAX {
                new[v as usize] = skin.mesh.vertices.len() as u32;
                skin.mesh.vertices.push(place[v as usize]);
            }
            new[v as usize]
        });
        skin.mesh.triangles.push(corners);
        skin.outer.push(*seen);
    }
    skin
}
