//! Who owns what: the cells with points cut into connected things, and the cells of their shadows.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "cell numbers stay far below 2^31"
)]

use crate::bins::Bins;
use crate::carve::{Space, around};
use crate::grid::{At, Grid, bit};
use crate::wall::Inner;
use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Nobody's.
pub(crate) const NONE: u16 = 0;
/// The plate's.
pub(crate) const PLATE: u16 = 1;
/// The wall's.
pub(crate) const WALL: u16 = 2;
/// The first thing's.
pub(crate) const FIRST: u16 = 3;

/// Places this near to the wall's inner face are the wall's, mm, as are those so much above its rim.
pub(crate) const BY_THE_WALL: f64 = 8.0;
/// A piece that begins higher than this above the plate does not stand on it, mm.
const STANDS: f64 = 15.0;
/// A piece of so few points, and no larger than this, mm, goes with what is beside it.
const FEW: usize = 40;
const SMALL: f64 = 15.0;
/// What meets the wall over this share of its own height, and is this share of the wall's height, is of
/// the wall: a corner that is cut off, a stiffener.
const MEETS: f64 = 0.7;
const AS_TALL: f64 = 0.6;
/// A shadow farther than this from everything that was seen to stand belongs to the plate, mm.
const FAR: f64 = 100.0;

/// Who owns which cell, by cells of twice the size.
#[derive(Debug)]
pub(crate) struct Owners {
    pub(crate) coarse: Grid,
    /// Whose points a cell holds.
    pub(crate) seen: Vec<u16>,
    /// Whose it is, shadow included.
    pub(crate) all: Vec<u16>,
    /// What is above the wall's rim, of the owners from `FIRST` on.
    pub(crate) above: Vec<bool>,
}

impl Owners {
    /// Whose a cell of the fine grid is.
    pub(crate) fn of(&self, at: At) -> u16 {
        self.coarse.number(at.map(|n| n.div_euclid(2))).map_or(NONE, |n| self.all[n])
    }

    /// Whose a point above the plate is.
    pub(crate) fn of_point(&self, p: &Point3<f64>) -> u16 {
        self.coarse.number(self.coarse.at(p)).map_or(NONE, |n| self.seen[n])
    }

    /// The first and last coarse cell of every owner.
    pub(crate) fn boxes(&self) -> Vec<Option<[At; 2]>> {
        let mut boxes = vec![None; self.above.len() + FIRST as usize];
        for (n, owner) in self.all.iter().enumerate() {
            if *owner == NONE {
                continue;
            }
            let at = self.coarse.place(n);
            let [low, high] = boxes[*owner as usize].get_or_insert([at, at]);
            for a in 0..3 {
                low[a] = low[a].min(at[a]);
                high[a] = high[a].max(at[a]);
            }
        }
        boxes
    }
}

/// A connected piece before it is known whose it is.
#[derive(Debug, Clone)]
struct Piece {
    points: usize,
    low: Point3<f64>,
    high: Point3<f64>,
    above: bool,
}

/// Cuts what was seen into things and gives every full cell to one of them.
pub(crate) fn owners(
    space: &Space,
    bins: &Bins,
    wall: Option<&Inner>,
    on_plate: f64,
    notes: &mut Vec<String>,
) -> Owners {
    let coarse = space.grid.coarser();
    let mut counts = vec![0_u32; coarse.len()];
    for dot in &bins.dots {
        let p = space.grid.low + dot.place();
        if p.z > on_plate
            && let Some(n) = coarse.number(coarse.at(&p))
        {
            counts[n] += 1;
        }
    }
    let (mut seen, mut pieces) = cut(&coarse, &counts, wall, notes);
    grown_pieces(&space.grid, &coarse, bins, &seen, on_plate, &mut pieces);

    let full: Vec<bool> = (0..coarse.len())
        .into_par_iter()
        .map(|n| {
            let at = coarse.place(n).map(|c| 2 * c);
            (0..8).any(|c| {
                space.has([at[0] + (c & 1), at[1] + (c >> 1 & 1), at[2] + (c >> 2)], bit::FULL)
            })
        })
        .collect();
    let steps = (FAR / coarse.step) as u32;
    let shared = spread(&coarse, &full, &seen, steps);
    let joins = joined(&coarse, &shared, &pieces, notes);
    let mut all = shared;
    let now = |owner: u16| joins.get(&owner).copied().unwrap_or(owner);
    seen.par_iter_mut().for_each(|o| *o = now(*o));
    all.par_iter_mut().for_each(|o| *o = now(*o));
    // The rest is the plate's inside of the wall, else the wall's.
    all.par_iter_mut().enumerate().for_each(|(n, owner)| {
        if *owner == NONE && full[n] {
            let p = coarse.middle(coarse.place(n));
            let within = wall.is_none_or(|w| w.inside_by(&p.xy()) > 0.0);
            *owner = if within { PLATE } else { WALL };
        }
    });
    let above = pieces.iter().map(|p| p.above).collect();
    Owners { coarse, seen, all, above }
}

/// The 26 cells about a cell.
fn beside(at: At) -> impl Iterator<Item = At> {
    around(at).filter(move |other| *other != at)
}

/// Where a cell with points lies.
const INSIDE: u8 = 1;
const BY_WALL: u8 = 2;
const ABOVE: u8 = 3;

/// The connected cells of one class.
struct Flood {
    cells: Vec<usize>,
    /// Whose cells inside it touches, and how often.
    touched: BTreeMap<u16, usize>,
    /// At how many levels it is, and at how many of them beside the wall.
    levels: usize,
    by_wall: usize,
}

fn flood(coarse: &Grid, class: &[u8], seen: &mut [u16], start: usize, owner: u16) -> Flood {
    let of = class[start];
    seen[start] = owner;
    let mut cells = vec![start];
    let mut next = 0;
    let mut touched: BTreeMap<u16, usize> = BTreeMap::new();
    let (mut by_wall, mut levels) = (BTreeSet::new(), BTreeSet::new());
    while next < cells.len() {
        let here = coarse.place(cells[next]);
        levels.insert(here[2]);
        let mut is_at_wall = false;
        for at in beside(here) {
            let Some(n) = coarse.number(at) else { continue };
            if class[n] == BY_WALL {
                is_at_wall = true;
            } else if class[n] == of && seen[n] == NONE {
                seen[n] = owner;
                cells.push(n);
            } else if class[n] == INSIDE && of == ABOVE {
                *touched.entry(seen[n]).or_default() += 1;
            }
        }
        if is_at_wall {
            by_wall.insert(here[2]);
        }
        next += 1;
    }
    Flood { cells, touched, levels: levels.len(), by_wall: by_wall.len() }
}

/// Connected pieces of the cells that hold points: the wall, then what is inside, and what is above.
fn cut(
    coarse: &Grid,
    counts: &[u32],
    wall: Option<&Inner>,
    notes: &mut Vec<String>,
) -> (Vec<u16>, Vec<Piece>) {
    let class: Vec<u8> = counts
        .par_iter()
        .enumerate()
        .map(|(n, count)| {
            if *count == 0 {
                return 0;
            }
            let p = coarse.middle(coarse.place(n));
            let Some(wall) = wall else { return INSIDE };
            if p.z > wall.rim + BY_THE_WALL {
                ABOVE
            } else if wall.inside_by(&p.xy()) < BY_THE_WALL {
                BY_WALL
            } else {
                INSIDE
            }
        })
        .collect();
    let mut seen: Vec<u16> =
        class.par_iter().map(|c| if *c == BY_WALL { WALL } else { NONE }).collect();
    let mut pieces = Vec::new();
    let mut left_over = 0_usize;
    for of in [INSIDE, ABOVE] {
        for start in 0..class.len() {
            if class[start] != of || seen[start] != NONE {
                continue;
            }
            let Some(owner) = u16::try_from(pieces.len())
                .ok()
                .and_then(|n| n.checked_add(FIRST))
                .filter(|n| *n < 4000)
            else {
                // Far more pieces than a car top has: the rest is one.
                left_over += 1;
                seen[start] = FIRST;
                continue;
            };
            let Flood { cells, touched, levels, by_wall } =
                flood(coarse, &class, &mut seen, start, owner);
            let within = |n: &&usize| {
                let p = coarse.middle(coarse.place(**n));
                wall.is_none_or(|w| w.inside_by(&p.xy()) > BY_THE_WALL)
            };
            let inside = 2 * cells.iter().filter(within).count() > cells.len();
            // What sticks out of the housing above its rim is still what stands in it.
            let most = touched.iter().max_by_key(|(owner, n)| (**n, u16::MAX - **owner));
            if let (ABOVE, true, Some((with, _))) = (of, inside, most) {
                let with = *with;
                if touched.len() > 1 {
                    notes.push(format!(
                        "{} things meet above the wall's rim; what is above it went to one of them",
                        touched.len()
                    ));
                }
                for n in cells {
                    seen[n] = with;
                }
                continue;
            }
            let meets = by_wall as f64 >= MEETS * levels as f64
                && wall.is_some_and(|w| levels as f64 * coarse.step >= AS_TALL * w.rim);
            if of == INSIDE && meets {
                let p = coarse.middle(coarse.place(start));
                notes.push(format!(
                    "what stands at x {:.0} mm, y {:.0} mm runs along the wall: taken for the wall's",
                    p.x, p.y
                ));
                for n in cells {
                    seen[n] = WALL;
                }
                continue;
            }
            pieces.push(Piece {
                points: 0,
                low: Point3::from([f64::INFINITY; 3]),
                high: Point3::from([f64::NEG_INFINITY; 3]),
                above: of == ABOVE && !inside,
            });
        }
    }
    if left_over > 0 {
        notes.push(format!("{left_over} more pieces than can be told apart: they are one thing"));
    }
    (seen, pieces)
}

/// Counts and boxes of the pieces, from their points.
fn grown_pieces(
    grid: &Grid,
    coarse: &Grid,
    bins: &Bins,
    seen: &[u16],
    on_plate: f64,
    pieces: &mut [Piece],
) {
    for dot in &bins.dots {
        let p = grid.low + dot.place();
        if p.z <= on_plate {
            continue;
        }
        let Some(n) = coarse.number(coarse.at(&p)) else { continue };
        let Some(of) = seen[n].checked_sub(FIRST) else { continue };
        if let Some(piece) = pieces.get_mut(of as usize) {
            piece.points += 1;
            piece.low = piece.low.inf(&p);
            piece.high = piece.high.sup(&p);
        }
    }
}

/// Gives full cells to the owner that is nearest through full cells, up to a number of steps.
fn spread(coarse: &Grid, full: &[bool], seen: &[u16], steps: u32) -> Vec<u16> {
    let mut all = seen.to_vec();
    let mut queue: VecDeque<(usize, u32)> =
        seen.iter().enumerate().filter(|(_, o)| **o != NONE).map(|(n, _)| (n, 0)).collect();
    let [nx, ny, nz] = coarse.size;
    while let Some((n, far)) = queue.pop_front() {
        if far >= steps {
            continue;
        }
        let owner = all[n];
        let (i, j, k) = (n % nx, n / nx % ny, n / (nx * ny));
        let sides = [
            (i + 1 < nx).then_some(n + 1),
            (i > 0).then(|| n - 1),
            (j + 1 < ny).then_some(n + nx),
            (j > 0).then(|| n - nx),
            (k + 1 < nz).then_some(n + nx * ny),
            (k > 0).then(|| n - nx * ny),
        ];
        for side in sides.into_iter().flatten() {
            if full[side] && all[side] == NONE {
                all[side] = owner;
                queue.push_back((side, far + 1));
            }
        }
    }
    all
}

/// Which pieces are one thing though only unseen space is between them: a handwheel above its stem,
/// and crumbs beside what they broke off.
fn joined(
    coarse: &Grid,
    shared: &[u16],
    pieces: &[Piece],
    notes: &mut Vec<String>,
) -> BTreeMap<u16, u16> {
    // How many cells of one owner lie directly above, or beside, another's.
    let mut above: BTreeMap<(u16, u16), usize> = BTreeMap::new();
    let mut touching: BTreeMap<(u16, u16), usize> = BTreeMap::new();
    let [nx, ny, _] = coarse.size;
    for (n, a) in shared.iter().enumerate() {
        if *a == NONE {
            continue;
        }
        for (axis, next) in [1, nx, nx * ny].into_iter().enumerate() {
            let inside = axis != 0 || (n + 1) % nx != 0;
            let inside = inside && (axis != 1 || (n / nx + 1) % ny != 0);
            let Some(b) = shared.get(n + next).filter(|b| inside && **b != NONE && *b != a) else {
                continue;
            };
            *touching.entry((*a, *b)).or_default() += 1;
            *touching.entry((*b, *a)).or_default() += 1;
            if axis == 2 {
                *above.entry((*b, *a)).or_default() += 1;
            }
        }
    }
    let piece = |owner: u16| owner.checked_sub(FIRST).and_then(|n| pieces.get(n as usize));
    let mut with: BTreeMap<u16, u16> = BTreeMap::new();
    for (number, p) in pieces.iter().enumerate() {
        let owner = number as u16 + FIRST;
        let size = p.high - p.low;
        if p.points < FEW && size.max() < SMALL {
            let most = touching
                .range((owner, 0)..=(owner, u16::MAX))
                .filter(|((_, b), _)| *b >= WALL)
                .max_by_key(|((_, b), n)| (**n, u16::MAX - *b));
            if let Some(((_, b), _)) = most {
                with.insert(owner, *b);
            }
            continue;
        }
        if p.low.z <= STANDS || p.above {
            continue;
        }
        let middle = nalgebra::center(&p.low, &p.high);
        let mut under: Vec<(usize, u16)> = above
            .range((owner, 0)..=(owner, u16::MAX))
            .filter_map(|((_, b), n)| {
                let below = piece(*b)?;
                let over = (0..2)
                    .all(|a| middle[a] > below.low[a] - 20.0 && middle[a] < below.high[a] + 20.0);
                (over && !below.above).then_some((*n, *b))
            })
            .collect();
        under.sort_unstable_by(|a, b| b.cmp(a));
        match under[..] {
            [(n, b), ref rest @ ..] if rest.first().is_none_or(|(m, _)| 2 * m <= n) => {
                with.insert(owner, b);
            }
            [_, _, ..] => notes.push(format!(
                "what was seen about x {:.0} mm, y {:.0} mm, {:.0} mm above the plate may belong to \
                 either of two things below it: it is kept apart",
                middle.x, middle.y, p.low.z
            )),
            _ => {}
        }
    }
    // To the end of each chain; of a ring of crumbs the lowest stands for all.
    let end = |from: u16| {
        let mut way = vec![from];
        while let Some(next) = with.get(&way[way.len() - 1]) {
            if let Some(begins) = way.iter().position(|w| w == next) {
                return way[begins..].iter().copied().min().unwrap_or(from);
            }
            way.push(*next);
        }
        way[way.len() - 1]
    };
    with.keys().map(|from| (*from, end(*from))).collect()
}
