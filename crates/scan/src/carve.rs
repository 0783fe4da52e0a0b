//! What was seen through: a line of sight is empty from the eye to just before its point.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "cell numbers stay far below 2^31"
)]

use crate::Shot;
use crate::bins::{Bins, Dot};
use crate::grid::{At, Grid, bit};
use nalgebra::{Matrix3, Point3, Vector3};
use rayon::prelude::*;
use std::sync::atomic::{AtomicU8, Ordering};

/// The field of a cell that is near no surface.
pub(crate) const NOTHING: i8 = i8::MIN;
/// Steps of the field in a cell's side.
const FINE: f64 = 48.0;
/// Fewer points than this tell no plane.
const LEAST: usize = 5;
/// A point that was left out is of a surface within so many times the scatter.
const ASTRAY: f64 = 4.0;
/// So near in front of a seen surface, in steps of the field, nothing is that was not seen: rays to the
/// points of that surface pass by the side of it, if not through this very cell.
const FRONT: i8 = FINE as i8;
/// The shell that is surely there is this many cells thick.
const THICK: f64 = 1.5;

/// What is known of every cell.
#[derive(Debug)]
pub(crate) struct Space {
    pub(crate) grid: Grid,
    /// Bits of `grid::bit`.
    pub(crate) state: Vec<u8>,
    /// The distance from the seen surface nearby, behind it negative, in `step / FINE`.
    pub(crate) field: Vec<i8>,
}

impl Space {
    pub(crate) fn has(&self, at: At, bits: u8) -> bool {
        self.grid.number(at).is_some_and(|n| self.state[n] & bits != 0)
    }

    /// Where between two cells, the first full and the second not, the seen surface passes, as a
    /// share of the way; `None` where no seen surface tells.
    pub(crate) fn crossing(&self, a: At, b: At) -> Option<f64> {
        let (a, b) = (self.grid.number(a)?, self.grid.number(b)?);
        let (fa, fb) = (self.field[a], self.field[b]);
        if fa == NOTHING || fb == NOTHING || fa > 0 || fb <= 0 {
            return None;
        }
        let (fa, fb) = (f64::from(fa), f64::from(fb));
        Some(fa / (fa - fb))
    }
}

/// What the carving rests on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Look {
    /// Scatter of points about the surface, one sigma, mm.
    pub(crate) noise: f64,
    /// Points so near to a cell tell the surface there, mm.
    pub(crate) reach: f64,
    /// All above this height is free by rule, mm; infinite where the rule does not hold.
    pub(crate) clear_above: f64,
}

/// Divides the grid's space by what the shots saw.
pub(crate) fn carve(grid: Grid, shots: &[Shot], bins: &Bins, look: Look) -> Space {
    let cells: Vec<AtomicU8> = (0..grid.len()).into_par_iter().map(|_| AtomicU8::new(0)).collect();
    let mark = |n: usize, bits: u8| {
        // Most cells are passed by many rays: looking is cheaper than writing.
        if cells[n].load(Ordering::Relaxed) & bits != bits {
            cells[n].fetch_or(bits, Ordering::Relaxed);
        }
    };
    let margin = 4.0 * look.noise + grid.step;
    for shot in shots {
        let Some(eye) = shot.seen_from.filter(|e| e.iter().all(|x| x.is_finite())) else {
            continue;
        };
        shot.points.par_iter().for_each(|p| {
            let long = (p - eye).norm();
            if !long.is_finite() || long <= margin {
                return;
            }
            let share = 1.0 - margin / long;
            walk(&grid, &eye, p, 0.0, share, |n| mark(n, bit::FREE));
            walk(&grid, &eye, p, share, 1.0, |n| mark(n, bit::TAIL));
        });
    }
    // Where a point was left out, another ray's passing frees nothing, unless it lies on a surface that
    // others saw as well.
    let eyes = eyes(&grid, shots);
    let mut beside = Vec::new();
    for p in shots.iter().flat_map(|shot| &shot.astray) {
        let seen = distance(&(p - grid.low), &eyes, bins, look, &mut beside);
        if seen.is_some_and(|off| off.abs() <= ASTRAY * look.noise) {
            continue;
        }
        let at = grid.at(p);
        for beside in around(at) {
            if let Some(n) = grid.number(beside) {
                cells[n].fetch_and(!(bit::FREE | bit::TAIL), Ordering::Relaxed);
            }
        }
    }
    bins.dots.par_iter().for_each(|dot| {
        let at = place(&grid, dot);
        if let Some(n) = grid.number(at) {
            mark(n, bit::POINT);
        }
    });
    // Around cells, not points, of which a cell has several; a point just below the plate has none.
    let low: Vec<At> = bins.dots.iter().map(|d| place(&grid, d)).filter(|at| at[2] < 0).collect();
    let spread = |at: At| {
        for dk in -2..=2_i32 {
            for dj in -2..=2_i32 {
                for di in -2..=2_i32 {
                    let near = di.abs().max(dj.abs()).max(dk.abs()) <= 1;
                    if let Some(n) = grid.number([at[0] + di, at[1] + dj, at[2] + dk]) {
                        mark(n, if near { bit::SEEN | bit::BAND } else { bit::BAND });
                    }
                }
            }
        }
    };
    (0..grid.len()).into_par_iter().for_each(|n| {
        if cells[n].load(Ordering::Relaxed) & bit::POINT != 0 {
            spread(grid.place(n));
        }
    });
    low.par_iter().for_each(|at| spread(*at));
    let state: Vec<u8> = cells.into_iter().map(AtomicU8::into_inner).collect();
    let field = field(&grid, &state, shots, bins, look);
    let mut space = Space { grid, state, field };
    drop_explained(&mut space, &eyes, bins, look);
    decide(&mut space, look);
    space
}

fn place(grid: &Grid, dot: &Dot) -> At {
    let p = dot.place() / grid.step;
    [p.x.floor() as i32, p.y.floor() as i32, p.z.floor() as i32]
}

/// Every cell on the straight way from `a` to `b`, between two shares of it.
fn walk(
    grid: &Grid,
    a: &Point3<f64>,
    b: &Point3<f64>,
    from: f64,
    to: f64,
    mut f: impl FnMut(usize),
) {
    let way = (b - a) / grid.step;
    let start = (a - grid.low) / grid.step;
    let (mut t0, mut t1) = (from, to);
    for axis in 0..3 {
        let end = grid.size[axis] as f64;
        if way[axis] == 0.0 {
            if start[axis] < 0.0 || start[axis] >= end {
                return;
            }
            continue;
        }
        let (u, v) = ((0.0 - start[axis]) / way[axis], (end - start[axis]) / way[axis]);
        t0 = t0.max(u.min(v));
        t1 = t1.min(u.max(v));
    }
    if t0 >= t1 {
        return;
    }
    let first = start + way * t0;
    let mut at = [0_i32; 3];
    let mut next = [f64::INFINITY; 3];
    let mut each = [f64::INFINITY; 3];
    let mut turn = [0_i32; 3];
    for axis in 0..3 {
        at[axis] = (first[axis].floor() as i32).clamp(0, grid.size[axis] as i32 - 1);
        if way[axis] != 0.0 {
            turn[axis] = if way[axis] > 0.0 { 1 } else { -1 };
            each[axis] = (1.0 / way[axis]).abs();
            let wall = f64::from(at[axis] + i32::from(turn[axis] > 0));
            next[axis] = (wall - start[axis]) / way[axis];
        }
    }
    // A bound on the steps keeps rounding from ever going on for ever.
    for _ in 0..=grid.size.iter().sum::<usize>() + 3 {
        let Some(n) = grid.number(at) else { return };
        f(n);
        let axis = if next[0] <= next[1] && next[0] <= next[2] {
            0
        } else if next[1] <= next[2] {
            1
        } else {
            2
        };
        if next[axis] >= t1 {
            return;
        }
        at[axis] += turn[axis];
        next[axis] += each[axis];
    }
}

/// Where the shots were seen from, from the grid's lowest corner.
fn eyes(grid: &Grid, shots: &[Shot]) -> Vec<Option<Vector3<f64>>> {
    shots.iter().map(|s| s.seen_from.map(|e| e - grid.low)).collect()
}

/// How far each cell near points is from the surface through them.
fn field(grid: &Grid, state: &[u8], shots: &[Shot], bins: &Bins, look: Look) -> Vec<i8> {
    let eyes = eyes(grid, shots);
    let mut field = vec![NOTHING; grid.len()];
    // Rows, not layers, so that what is near the plate is shared as well.
    field.par_chunks_mut(grid.size[0]).enumerate().for_each(|(row, cells)| {
        let mut beside = Vec::new();
        for (i, cell) in cells.iter_mut().enumerate() {
            let n = row * grid.size[0] + i;
            if state[n] & bit::BAND == 0 {
                continue;
            }
            let x = grid.middle(grid.place(n)) - grid.low;
            if let Some(distance) = distance(&x, &eyes, bins, look, &mut beside) {
                let steps = (distance / grid.step * FINE).round().clamp(-127.0, 127.0);
                // Nothing lies on the surface itself: a zero counts as behind it.
                *cell = steps as i8;
            }
        }
    });
    field
}

/// A point near a place.
#[derive(Debug, Clone, Copy)]
struct Beside {
    /// From the place to it, mm.
    off: Vector3<f64>,
    /// The way from it to where it was seen from, of length 1; zero where nobody said.
    to_eye: Vector3<f64>,
    /// The shot that saw it.
    shot: u32,
}

/// The distance of a place from the plane through the points about it, toward the eyes positive.
fn distance(
    x: &Vector3<f64>,
    eyes: &[Option<Vector3<f64>>],
    bins: &Bins,
    look: Look,
    beside: &mut Vec<Beside>,
) -> Option<f64> {
    gather(x, eyes, bins, (look.reach, 1), beside);
    if let Some((off, rough)) = plane(beside, look.reach) {
        // About an edge the points nearest tell better, if there are enough of them.
        if rough > 1.5 * look.noise
            && let Some((closer, _)) = plane(beside, 0.62 * look.reach)
        {
            return Some(closer);
        }
        return Some(off);
    }
    // Where points are few, as on a face seen at a slant, those farther off tell, if they agree.
    let wide = 2.0 * look.reach;
    gather(x, eyes, bins, (wide, 2), beside);
    plane(beside, wide).filter(|(_, rough)| *rough <= 2.0 * look.noise + 0.1).map(|(off, _)| off)
}

/// The points within a distance of a place that spans at most some boxes.
fn gather(
    x: &Vector3<f64>,
    eyes: &[Option<Vector3<f64>>],
    bins: &Bins,
    (reach, boxes): (f64, u32),
    beside: &mut Vec<Beside>,
) {
    beside.clear();
    bins.around(x, boxes, |dot| {
        let d = dot.place() - x;
        if d.norm_squared() < reach * reach {
            let toward = eyes[dot.shot as usize].map(|eye| eye - dot.place());
            let to_eye = toward.and_then(|t| t.try_normalize(0.0)).unwrap_or_default();
            beside.push(Beside { off: d, to_eye, shot: dot.shot });
        }
    });
}

/// A plane through points, the nearer ones weighing more.
struct Plane {
    weight: f64,
    mean: Vector3<f64>,
    normal: Vector3<f64>,
    /// How far the points are off it, root mean square, mm.
    rough: f64,
    /// The sum of the ways to the eyes.
    toward: Vector3<f64>,
}

impl Plane {
    fn through<'a>(points: impl Iterator<Item = &'a Beside>, reach: f64) -> Option<Self> {
        let (mut count, mut weight) = (0, 0.0);
        let (mut sum, mut toward) = (Vector3::zeros(), Vector3::zeros());
        let mut products = Matrix3::zeros();
        for Beside { off, to_eye, .. } in points {
            let near = 1.0 - off.norm_squared() / (reach * reach);
            if near <= 0.0 {
                continue;
            }
            let w = near * near;
            count += 1;
            weight += w;
            sum += off * w;
            products += off * off.transpose() * w;
            toward += to_eye * w;
        }
        if count < LEAST || weight <= 0.0 {
            return None;
        }
        let mean = sum / weight;
        let spread = products / weight - mean * mean.transpose();
        let eigen = spread.symmetric_eigen();
        let mut order = [0, 1, 2];
        order.sort_by(|a, b| eigen.eigenvalues[*a].total_cmp(&eigen.eigenvalues[*b]));
        let [least, middle, most] = order.map(|a| eigen.eigenvalues[a].max(0.0));
        // Points in a row, or in a lump, have no plane.
        if middle < 0.05 * most || least > 0.5 * middle {
            return None;
        }
        let normal = eigen.eigenvectors.column(order[0]).into_owned();
        Some(Self { weight, mean, normal, rough: least.sqrt(), toward })
    }

    /// Turns the normal toward where the points were seen from; false where that does not tell.
    fn face(&mut self, toward: &Vector3<f64>, least: f64) -> bool {
        let faces = self.normal.dot(toward);
        if faces < 0.0 {
            self.normal = -self.normal;
        }
        faces != 0.0 && faces.abs() >= least
    }

    /// Does the same where the points may be of two faces that meet in an edge. If each was seen from another
    /// eye, both eyes may be behind the plane through the points of both: what each of them saw has a plane
    /// of its own.
    fn face_by_shots(&mut self, points: &[Beside], reach: f64) -> bool {
        let (mut sum, mut weight) = (Vector3::zeros(), 0.0);
        let mut rest = points;
        let mut told: Vec<u32> = Vec::new();
        while let Some((first, more)) = rest.split_first() {
            rest = more;
            if told.contains(&first.shot) {
                continue;
            }
            told.push(first.shot);
            let of_shot = points.iter().filter(|p| p.shot == first.shot);
            let Some(mut own) = Self::through(of_shot, reach) else { continue };
            let toward = own.toward;
            if own.face(&toward, BARELY * toward.norm()) {
                sum += own.normal * own.weight;
                weight += own.weight;
            }
        }
        weight > 0.0 && self.face(&sum, CLEARLY * weight)
    }
}

/// An eye sees a face from in front if the way to it rises over the face by this much.
const BARELY: f64 = 0.02;
/// Planes of single shots tell which way the plane of all faces if their mean does so by this much.
const CLEARLY: f64 = 0.3;

/// The distance of the origin from the plane through points within `reach`, and how far they are off
/// it, root mean square.
fn plane(points: &[Beside], reach: f64) -> Option<(f64, f64)> {
    let mut plane = Plane::through(points.iter(), reach)?;
    let toward = plane.toward;
    let faces = if toward.norm() < ALIKE * plane.weight {
        plane.face_by_shots(points, reach)
    } else {
        plane.face(&toward, BARELY * toward.norm())
    };
    if !faces {
        return None;
    }
    let off = -plane.normal.dot(&plane.mean);
    let aside = (plane.mean + plane.normal * off).norm();
    (aside <= 0.45 * reach).then_some((off, plane.rough))
}

/// Eyes are on one side if the mean of the ways to them is at least so long.
const ALIKE: f64 = 0.9;

/// A cell through which a line of sight passed, and at which no surface is told, stays free though points
/// lie beside it: they have cells of their own. If points lie in it, it does so if each of them is of a
/// surface that is told.
fn drop_explained(space: &mut Space, eyes: &[Option<Vector3<f64>>], bins: &Bins, look: Look) {
    let Space { grid, state, field } = space;
    let free: Vec<usize> = (0..grid.len())
        .into_par_iter()
        .filter(|n| {
            let both = bit::SEEN | bit::FREE;
            field[*n] == NOTHING && state[*n] & both == both
        })
        .collect();
    let explained = |n: &&usize| {
        let at = grid.place(**n);
        let mut own = Vec::new();
        bins.around(&(grid.middle(at) - grid.low), 1, |dot| {
            if place(grid, dot) == at {
                own.push(dot.place());
            }
        });
        let mut beside = Vec::new();
        own.iter().all(|p| {
            let off = distance(p, eyes, bins, look, &mut beside);
            off.is_some_and(|off| off.abs() <= ASTRAY * look.noise)
        })
    };
    let explained: Vec<usize> = free.par_iter().filter(explained).copied().collect();
    for n in explained {
        state[n] &= !bit::SEEN;
    }
}

/// Sets what is full and what is shell.
fn decide(space: &mut Space, look: Look) {
    let Space { grid, state, field } = space;
    let steps = -(THICK * FINE) as i8;
    let row = grid.size[0];
    let clear_from = ((look.clear_above - grid.low.z) / grid.step).ceil();
    state.par_chunks_mut(row).zip(field.par_chunks(row)).enumerate().for_each(|(r, (cells, f))| {
        let clear = (r / grid.size[1]) as f64 >= clear_from;
        for (s, f) in cells.iter_mut().zip(f) {
            let passed = *s & (bit::FREE | bit::TAIL) != 0;
            let full = if *f != NOTHING {
                *f <= 0 || !(passed || clear || *f <= FRONT)
            } else if *s & bit::SEEN != 0 {
                true
            } else {
                *s & bit::FREE == 0 && !clear
            };
            if full {
                *s |= bit::FULL;
                if *f != NOTHING && *f <= 0 && *f >= steps {
                    *s |= bit::SHELL;
                }
            }
        }
    });
    // Where faces meet, the plane through the points of both may lie where a line of sight passed: a
    // crumb there is none. Should a point in it be at no other face, it comes back as a lone one.
    for n in scraps(space, &|_| 0) {
        space.state[n] &= !bit::SHELL;
        if space.state[n] & bit::FREE != 0 {
            space.state[n] &= !bit::FULL;
        }
    }
    free_edges(space);
    fill_sheets(space);
    open(space);
    mark_lone(space);
}

/// Frees the cells along edges that hold points of no plane, where a line of sight went through them and
/// the shell is beside them: their points are measured from the shell's face like all others.
fn free_edges(space: &mut Space) {
    let Space { grid, state, field } = space;
    let is_shell = |at: At| grid.number(at).is_some_and(|n| state[n] & bit::SHELL != 0);
    let freed: Vec<usize> = (0..grid.len())
        .into_par_iter()
        .filter(|n| {
            let s = state[*n];
            field[*n] == NOTHING
                && s & (bit::FULL | bit::SHELL) == bit::FULL
                && s & bit::SEEN != 0
                && s & (bit::FREE | bit::TAIL) != 0
                && sides(grid.place(*n)).any(is_shell)
        })
        .collect();
    for n in freed {
        state[n] &= !bit::FULL;
    }
}

/// What lies between two faces seen from opposite sides that are no farther apart than this is what has
/// those faces, mm: the thickness of a sidewall, a flange, a handwheel. Our choice.
const SHEET: f64 = 20.0;
/// The shell behind a face is no thicker than so many cells where a row of them crosses it.
const CROSSED: usize = 4;
/// So many cells of it may be missed right behind points.
const MISSED: usize = 2;

/// Takes what lies inside a sheet for surely there, where its faces were seen from both sides: no line of
/// sight passed between them, and what nobody saw there is not open to anything.
fn fill_sheets(space: &mut Space) {
    let Space { grid, state, .. } = space;
    let longest = (SHEET / grid.step) as usize;
    let [nx, ny, nz] = grid.size;
    let mut filled: Vec<usize> = Vec::new();
    for (long, stride, rows) in [(nx, 1, ny * nz), (ny, nx, nx * nz), (nz, nx * ny, nx * ny)] {
        let of_row = |row: usize| {
            let first = match stride {
                1 => row * nx,
                s if s == nx => row / nx * nx * ny + row % nx,
                _ => row,
            };
            let mut found = Vec::new();
            let mut before = None;
            for end in 0..long {
                let s = state[first + end * stride];
                if s & bit::SHELL != 0 || s & (bit::FREE | bit::TAIL) == 0 {
                    continue;
                }
                // No line of sight passed the cells between this one and the last one like it.
                if let Some(before) = before.replace(end)
                    && s & bit::FULL == 0
                    && end - before <= longest + 1
                {
                    let cells: Vec<u8> =
                        (before..=end).map(|n| state[first + n * stride]).collect();
                    if is_sheet(&cells) {
                        found.extend((before + 1..end).map(|n| first + n * stride));
                    }
                }
            }
            found
        };
        filled.par_extend((0..rows).into_par_iter().flat_map_iter(of_row));
    }
    for n in filled {
        state[n] |= bit::FULL | bit::SHELL;
    }
}

/// Whether a row of cells crosses a sheet, from the free cell before it to the one behind it.
fn is_sheet(cells: &[u8]) -> bool {
    let back: Vec<u8> = cells.iter().rev().copied().collect();
    begins_with_a_face(cells) && begins_with_a_face(&back)
}

/// Whether a free cell and those after it are a face and no more than its shell.
fn begins_with_a_face(cells: &[u8]) -> bool {
    let is_shell = |s: &u8| s & bit::SHELL != 0;
    let Some((free, rest)) = cells.split_first().filter(|(s, _)| **s & bit::FULL == 0) else {
        return false;
    };
    let may_be_missed = if free & bit::POINT == 0 { 0 } else { MISSED };
    let missed = rest.iter().take_while(|s| !is_shell(s)).count();
    let thick = rest.iter().skip(missed).take_while(|s| is_shell(s)).count();
    missed <= may_be_missed && (1..=CROSSED).contains(&thick)
}

/// Takes away what is thinner than two cells and was not seen: between two rays that pass side by
/// side a cell may be missed, and nothing so thin that no point lies on it is looked for.
fn open(space: &mut Space) {
    let Space { grid, state, .. } = space;
    let [nx, ny, nz] = grid.size;
    let full = |i: usize, j: usize, k: usize| state[(k * ny + j) * nx + i] & bit::FULL != 0;
    // Whether the block of eight cells from here on is full.
    let blocks: Vec<bool> = (0..grid.len())
        .into_par_iter()
        .map(|n| {
            let (i, j, k) = (n % nx, n / nx % ny, n / (nx * ny));
            i + 1 < nx
                && j + 1 < ny
                && k + 1 < nz
                && state[n] & bit::FULL != 0
                && (0..8).all(|c| full(i + (c & 1), j + (c >> 1 & 1), k + (c >> 2)))
        })
        .collect();
    // On the plate a layer of one cell may hide something flat, if it is three cells wide.
    let flat: Vec<bool> = (0..grid.layer())
        .into_par_iter()
        .map(|n| {
            let (i, j) = (n % nx, n / nx);
            i + 2 < nx && j + 2 < ny && (0..9).all(|c| full(i + c % 3, j + c / 3, 0))
        })
        .collect();
    let kept: Vec<bool> = (0..grid.len())
        .into_par_iter()
        .map(|n| {
            if state[n] & bit::FULL == 0 {
                return false;
            }
            let (i, j, k) = (n % nx, n / nx % ny, n / (nx * ny));
            state[n] & bit::SHELL != 0
                || (0..8).any(|c| {
                    let (a, b, d) = (c & 1, c >> 1 & 1, c >> 2);
                    i >= a && j >= b && k >= d && blocks[((k - d) * ny + j - b) * nx + i - a]
                })
                || (k == 0
                    && (0..9).any(|c| {
                        let (a, b) = (c % 3, c / 3);
                        i >= a && j >= b && flat[(j - b) * nx + i - a]
                    }))
        })
        .collect();
    state.par_iter_mut().zip(kept).for_each(|(s, kept)| {
        if !kept {
            *s &= !(bit::FULL | bit::SHELL);
        }
    });
}

/// So many cells deep what is unseen and beside what is free may matter to what is free.
const DEEP: usize = 1;

/// The unseen cells at what is free, and those behind them. What else is unseen lies behind seen
/// surfaces.
pub(crate) fn at_the_open(space: &Space) -> Vec<bool> {
    let Space { grid, state, .. } = space;
    let unseen = |n: usize| state[n] & (bit::FULL | bit::SHELL) == bit::FULL;
    let mut open: Vec<bool> = (0..grid.len())
        .into_par_iter()
        .map(|n| {
            unseen(n)
                && sides(grid.place(n))
                    .filter_map(|at| grid.number(at))
                    .any(|side| state[side] & bit::FULL == 0)
        })
        .collect();
    let [nx, ny, nz] = grid.size;
    for (stride, long) in [(1, nx), (nx, ny), (nx * ny, nz)] {
        open = (0..grid.len())
            .into_par_iter()
            .map(|n| {
                let at = n / stride % long;
                let from = n - at.min(DEEP) * stride;
                let to = n + (long - 1 - at).min(DEEP) * stride;
                (from..=to).step_by(stride).any(|m| open[m])
            })
            .collect();
    }
    open.par_iter_mut().enumerate().for_each(|(n, open)| *open &= unseen(n));
    open
}

/// What is smaller than so many cells is no body that is surely there: all that is known is that
/// something may be.
const SCRAP: usize = 27;

/// Takes pieces of the shell that are too small for a body for unseen, so that no point in them is
/// measured from a body without them. Pieces of different owners are apart.
pub(crate) fn scraps_are_unseen(space: &mut Space, owner: &impl Fn(At) -> u16) {
    for n in scraps(space, owner) {
        space.state[n] &= !(bit::SHELL | bit::LONE);
    }
}

/// The cells of pieces of the shell that are too small for a body.
fn scraps(space: &Space, owner: &impl Fn(At) -> u16) -> Vec<usize> {
    let Space { grid, state, .. } = space;
    let mut known = vec![false; grid.len()];
    let mut found = Vec::new();
    let mut piece: Vec<usize> = Vec::new();
    for start in 0..grid.len() {
        if state[start] & bit::SHELL == 0 || known[start] {
            continue;
        }
        known[start] = true;
        piece.clear();
        piece.push(start);
        let whose = owner(grid.place(start));
        let mut next = 0;
        while next < piece.len() {
            for side in sides(grid.place(piece[next])) {
                if let Some(n) = grid.number(side)
                    && state[n] & bit::SHELL != 0
                    && !known[n]
                    && owner(side) == whose
                {
                    known[n] = true;
                    piece.push(n);
                }
            }
            next += 1;
        }
        if piece.len() < SCRAP {
            found.extend_from_slice(&piece);
        }
    }
    found
}

/// A cell and the 26 about it.
pub(crate) fn around([i, j, k]: At) -> impl Iterator<Item = At> {
    (0..27).map(move |n| [i + n % 3 - 1, j + n / 3 % 3 - 1, k + n / 9 - 1])
}

/// The six cells beside a cell.
fn sides(at: At) -> impl Iterator<Item = At> {
    (0..6).map(move |n| {
        let mut side = at;
        side[n / 2] += if n % 2 == 0 { 1 } else { -1 };
        side
    })
}

/// A point that is at no face of the shell nor beside one has its own cell for it, so that every point is
/// near a body's face. The plate's own points need none: it has a body of its own.
fn mark_lone(space: &mut Space) {
    let grid = &space.grid;
    let at_face = |at: At| {
        space.has(at, bit::SHELL)
            && sides(at).any(|b| !space.has(b, bit::FULL) || space.crossing(at, b).is_some())
    };
    let lone: Vec<usize> = (grid.layer()..grid.len())
        .into_par_iter()
        .filter(|n| {
            let at = grid.place(*n);
            let is_told = space.field[*n] != NOTHING && space.field[*n].abs() <= FRONT;
            space.state[*n] & bit::POINT != 0 && !is_told && !around(at).any(at_face)
        })
        .collect();
    for n in lone {
        space.state[n] |= bit::FULL | bit::SHELL | bit::LONE;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The underside of an edge seen from low outside, and its inner face from high inside: both eyes are
    /// behind the plane through the points of both faces.
    #[test]
    fn what_is_before_an_edge_is_not_taken_for_behind_it() {
        let steps = (0..5).map(|n| 0.6 * f64::from(n));
        let under = steps.clone().map(|y| (Vector3::new(0.0, y, 0.0), 0));
        let inner = steps.map(|z| (Vector3::new(0.0, 0.0, z), 1));
        let eyes = [Vector3::new(0.0, 300.0, -100.0), Vector3::new(0.0, -100.0, 300.0)];
        let before = Vector3::new(0.0, -1.2, -1.2);
        let mut beside = Vec::new();
        for (p, shot) in under.chain(inner) {
            for x in [-1.0, 0.0, 1.0] {
                let p = p + Vector3::new(x, 0.0, 0.0);
                let to_eye = (eyes[shot as usize] - p).normalize();
                beside.push(Beside { off: p - before, to_eye, shot });
            }
        }
        let (off, _) = plane(&beside, 5.0).expect("the points lie on a plane nearly");
        assert!(off > 1.0, "{off}");
    }

    #[test]
    fn a_sheet_was_seen_from_both_sides() {
        let (free, point) = (bit::FREE, bit::FREE | bit::POINT);
        let (shell, dark) = (bit::FULL | bit::SHELL, bit::FULL);
        assert!(is_sheet(&[free, shell, shell, dark, shell, free]));
        assert!(is_sheet(&[free, shell, 0, shell, free]));
        // A cell missed behind points.
        assert!(is_sheet(&[point, dark, shell, dark, shell, free]));
        // Nobody saw where it ends.
        assert!(!is_sheet(&[free, shell, dark, dark, dark, free]));
        assert!(!is_sheet(&[free, dark, shell, dark, shell, free]));
        // A slot between two tops: the row runs along their shells.
        let top = [shell; 5];
        let slot = [&[free], &top[..], &[dark, dark], &top[..], &[free]].concat();
        assert!(!is_sheet(&slot));
    }
}
