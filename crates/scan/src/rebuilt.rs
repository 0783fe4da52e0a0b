//! Bodies out of shots: the parts of this room put together.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "cells and points stay far below 2^31 by the limits on their number"
)]

use crate::Shot;
use crate::bins::{self, Bins};
use crate::carve::{self, Look, Space};
use crate::grid::{At, Grid, bit};
use crate::off::Near;
use crate::skin::{Flat, skin};
use crate::things::{self, FIRST, NONE, Owners, PLATE, WALL};
use crate::wall::{self, Inner, WallSeen};
use nalgebra::{Point2, Point3};
use rayon::prelude::*;
use solids::build::{BuildError, extrude};
use solids::{Body, Deviation};
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::TAU;

/// What a rebuilding may be told; the default suits a car top.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// How far beyond the plate's outline the space is looked at, mm.
    pub beyond: f64,
    /// What is higher above the plate is left out, mm.
    pub height: f64,
    /// How far the space reaches above the highest point where no eye was above it, mm.
    pub headroom: f64,
    /// Side of a cell, mm; `None` for one that suits spacing and noise.
    pub voxel: Option<f64>,
    /// No more cells than this; they get larger instead.
    pub cells: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { beyond: 200.0, height: 1500.0, headroom: 500.0, voxel: None, cells: 150_000_000 }
    }
}

/// What a thing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The plate.
    Plate,
    /// The housing's sidewall, with what is on it and around it.
    Wall,
    /// Above the wall's rim and mostly not inside it: a lid, a hinge.
    Above,
    /// Inside of the wall: what stands on the plate.
    Inside,
}

/// Which point of which shot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PointAt {
    /// The shot's index.
    pub shot: u32,
    /// The point's index in it.
    pub point: u32,
}

/// A connected piece of what was seen, with the space behind it. All coordinates as the points', mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Thing {
    /// `plate`, `wall`, `above-1`, `thing-1`, numbered by bearing.
    pub name: String,
    /// What it is.
    pub kind: Kind,
    /// Its points.
    pub points: Vec<PointAt>,
    /// The least corner of the box about its points.
    pub low: Point3<f64>,
    /// The greatest.
    pub high: Point3<f64>,
    /// What is surely there: a closed shell just behind the seen surface. Its deviation is the
    /// greatest distance of any of its points from the shell's outer face, noise included, and what an
    /// edge between two points may be farther; points in or beside a cell of `unseen` are within that
    /// body's deviation and not counted here.
    pub seen: Body,
    /// What may be there: its shadow down to the plate, and what lies behind its seen surfaces (named
    /// `behind`), each closed; empty where there is none. Their deviations bound how far what is not
    /// free may reach beyond `seen` and `unseen` together.
    pub unseen: Vec<Body>,
}

/// What was made of shots.
#[derive(Debug, Clone, PartialEq)]
pub struct Rebuilt {
    /// The plate first, then the wall if there is one, then what is above and what is inside.
    pub things: Vec<Thing>,
    /// The sidewall's form and openings; `None` where nothing surrounds the middle.
    pub wall: Option<WallSeen>,
    /// Side of a cell, mm.
    pub voxel: f64,
    /// The space that was looked at, its least and greatest corner, mm. Outside of it nothing is
    /// known, except that above its top nothing was seen.
    pub region: [Point3<f64>; 2],
    /// Shares of the region's cells, 0 to 1: free, surely there, unseen.
    pub shares: [f64; 3],
    /// What somebody should know, as sentences.
    pub notes: Vec<String>,
}

/// Why nothing could be rebuilt.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RebuildFault {
    /// No point with finite coordinates.
    #[error(
        "the shots hold no points with numbers for coordinates: export the scan again as points in mm"
    )]
    NoPoints,
    /// Noise or spacing that is no length.
    #[error(
        "the {0} of the points is {1} mm, which is no length above zero: state it, or let it be measured on the plate"
    )]
    NotALength(&'static str, f64),
    /// More points than can be numbered.
    #[error("{0} points are more than can be handled: thin the scan to at most 100 million")]
    TooMany(usize),
    /// Hardly any points at the plate's height.
    #[error(
        "only {0} points lie within {1} mm of the plane z = 0, where the plate should be: give the shots in a frame whose z = 0 is the plate's face, z up"
    )]
    NoPlate(usize, f64),
    /// Space that would need too many cells, however large.
    #[error(
        "the space about the plate is {0:.0} mm wide: no car top is; check the points' unit (mm) and take out points far away"
    )]
    TooWide(f64),
    /// The plate's body could not be built.
    #[error(
        "what lies at the plate's height makes no face ({0}): scan the plate itself, with the lid open, and give the shots in a frame whose z = 0 is its face"
    )]
    Plate(#[from] BuildError),
}

/// The fewest points that make a plate.
const PLATE_POINTS: usize = 200;
/// The most points.
const POINTS: usize = 100_000_000;
/// A cell's side in spacings of points, in sigmas, and at least, mm.
const BY_SPACING: f64 = 1.25;
const BY_NOISE: f64 = 3.0;
const LEAST: f64 = 1.0;
/// A point so many cells from a body's face is none of that face's.
const ASTRAY: f64 = 1.25;
/// So many spacings farther than any point may a square edge between two of them be from a face that cuts it
/// off: half a spacing from the nearest, at 45 degrees.
const EDGE: f64 = 0.36;
/// A plate wider than this is none, mm.
const WIDEST: f64 = 5000.0;
/// Side of a tile of the plate when looking for its extent, and when averaging, mm.
const TILE: f64 = 20.0;
const AVERAGED: f64 = 15.0;

/// Rebuilds the bodies that `shots` saw. The shots lie in one frame in mm with z up and the plate's
/// face at z = 0; `noise` is the scatter of points about the surface (one sigma, mm), `spacing` the
/// usual distance from a point to the next (mm).
///
/// Nothing depends on the number of threads.
///
/// # Errors
/// When there are no points, none on the plate, or the numbers are no lengths.
pub fn rebuild(
    shots: &[Shot],
    noise: f64,
    spacing: f64,
    settings: &Settings,
) -> Result<Rebuilt, RebuildFault> {
    let mut notes = checked(shots, noise, spacing)?;
    let voxel = settings.voxel.filter(|v| v.is_finite() && *v > 0.0);
    let wanted = voxel.unwrap_or_else(|| (BY_SPACING * spacing).max(BY_NOISE * noise).max(LEAST));
    let on_plate = (4.0 * noise).max(wanted);
    let (grid, clear_above) = region(shots, on_plate, wanted, settings, &mut notes)?;
    let voxel = grid.step;
    let region = [grid.low, grid.high()];

    let reach = (2.0 * spacing).max(1.5 * voxel).max(4.0 * noise);
    let dots = bins::dots(&grid, shots, reach + 2.0 * voxel);
    let bins = Bins::new(&grid, &dots, reach);
    let mut space = carve::carve(grid, shots, &bins, Look { noise, reach, clear_above });

    let low = space.grid.low;
    let tall: Vec<Point3<f64>> =
        bins.dots.par_iter().map(|d| low + d.place()).filter(|p| p.z > on_plate).collect();
    let middle = nalgebra::center(&region[0], &region[1]).xy();
    let inner = wall::inner(&tall, &middle);
    if inner.is_none() {
        notes.push("nothing that surrounds the middle and is tall was seen: no wall".into());
    }
    drop(tall);
    let owners = things::owners(&space, &bins, inner.as_ref(), on_plate, &mut notes);
    carve::scraps_are_unseen(&mut space, &|at| owners.of(at));

    let points = by_owner(&space, &bins, &owners, inner.as_ref(), on_plate);
    let wall = inner.as_ref().map(|inner| {
        let of: Vec<Point3<f64>> =
            points[WALL as usize].iter().map(|n| low + bins.dots[*n as usize].place()).collect();
        wall::seen(inner, &of, &space, spacing, &mut notes)
    });
    let open = carve::at_the_open(&space);
    let of = Of { space: &space, bins: &bins, owners: &owners, open: &open, noise, spacing };
    let mut things = vec![plate(&of, &points[PLATE as usize], &mut notes)?];
    let boxes = owners.boxes();
    let mut rest: Vec<Thing> = (WALL as usize..points.len())
        .into_par_iter()
        .filter(|n| !points[*n].is_empty())
        .filter_map(|n| Some(thing(&of, n as u16, &points[n], boxes[n]?)))
        .collect();
    named(&mut rest, &wall.as_ref().map_or(middle, |w| w.axis));
    things.extend(rest);
    let share = |bits: u8, of: u8| {
        space.state.par_iter().filter(|s| **s & bits == of).count() as f64
            / space.state.len() as f64
    };
    let shares = [
        share(bit::FULL, 0),
        share(bit::FULL | bit::SHELL, bit::FULL | bit::SHELL),
        share(bit::FULL | bit::SHELL, bit::FULL),
    ];
    Ok(Rebuilt { things, wall, voxel, region, shares, notes })
}

/// Looks whether there is something to work with; what is only worth a note is one.
fn checked(shots: &[Shot], noise: f64, spacing: f64) -> Result<Vec<String>, RebuildFault> {
    if !(noise.is_finite() && noise >= 0.0) {
        return Err(RebuildFault::NotALength("noise", noise));
    }
    if !(spacing.is_finite() && spacing > 0.0) {
        return Err(RebuildFault::NotALength("spacing", spacing));
    }
    let count: usize = shots.iter().map(|s| s.points.len()).sum();
    if count > POINTS {
        return Err(RebuildFault::TooMany(count));
    }
    let mut notes = Vec::new();
    let spoilt = shots.iter().flat_map(|s| &s.points).filter(|p| !finite(p)).count();
    if spoilt == count {
        return Err(RebuildFault::NoPoints);
    }
    if spoilt > 0 {
        notes.push(format!("{spoilt} points without numbers for coordinates were left out"));
    }
    for shot in shots.iter().filter(|s| s.seen_from.is_none()) {
        notes.push(format!(
            "nobody said from where \"{}\" was seen: it shows what is there, but frees no space",
            shot.name
        ));
    }
    Ok(notes)
}

/// The points of every owner.
fn by_owner(
    space: &Space,
    bins: &Bins,
    owners: &Owners,
    inner: Option<&Inner>,
    on_plate: f64,
) -> Vec<Vec<u32>> {
    let mut points: Vec<Vec<u32>> = vec![Vec::new(); owners.above.len() + FIRST as usize];
    for (n, dot) in bins.dots.iter().enumerate() {
        let p = space.grid.low + dot.place();
        let owner = if p.z > on_plate {
            owners.of_point(&p)
        } else if p.z >= -on_plate
            && inner.is_none_or(|w| w.inside_by(&p.xy()) > things::BY_THE_WALL)
        {
            PLATE
        } else {
            NONE
        };
        if owner != NONE {
            points[owner as usize].push(n as u32);
        }
    }
    points
}

/// Puts things in order, by bearing about the axis, and names them.
fn named(rest: &mut [Thing], axis: &Point2<f64>) {
    let bearing = |t: &Thing| {
        let d = nalgebra::center(&t.low, &t.high).xy() - axis;
        d.y.atan2(d.x).rem_euclid(TAU)
    };
    let order = |k: Kind| match k {
        Kind::Plate => 0,
        Kind::Wall => 1,
        Kind::Above => 2,
        Kind::Inside => 3,
    };
    rest.sort_by(|a, b| order(a.kind).cmp(&order(b.kind)).then(bearing(a).total_cmp(&bearing(b))));
    let mut counts = BTreeMap::new();
    for thing in rest {
        let word = match thing.kind {
            Kind::Wall => continue,
            Kind::Above => "above",
            _ => "thing",
        };
        let n = counts.entry(word).or_insert(0);
        *n += 1;
        thing.name = format!("{word}-{n}");
        thing.seen.name.clone_from(&thing.name);
        for unseen in &mut thing.unseen {
            let word = unseen.name.rsplit(' ').next().unwrap_or_default();
            unseen.name = format!("{} {word}", thing.name);
        }
    }
}

fn finite(p: &Point3<f64>) -> bool {
    p.iter().all(|x| x.is_finite())
}

/// The space about the plate and what stands on it, and the height above which all is free by rule.
fn region(
    shots: &[Shot],
    on_plate: f64,
    wanted: f64,
    settings: &Settings,
    notes: &mut Vec<String>,
) -> Result<(Grid, f64), RebuildFault> {
    let all = || shots.par_iter().flat_map(|s| s.points.par_iter()).filter(|p| finite(p));
    // Of the points at the plate's height, those that lie together.
    let mut tiles: Vec<(i32, i32)> = all()
        .filter(|p| p.z.abs() <= on_plate)
        .map(|p| ((p.x / TILE).floor() as i32, (p.y / TILE).floor() as i32))
        .collect();
    tiles.par_sort_unstable();
    let on = tiles.len();
    if on < PLATE_POINTS {
        return Err(RebuildFault::NoPlate(on, on_plate));
    }
    let mut counts: BTreeMap<(i32, i32), usize> = BTreeMap::new();
    for same in tiles.chunk_by(|a, b| a == b) {
        if same.len() >= 3 {
            counts.insert(same[0], same.len());
        }
    }
    let patch = largest_patch(counts);
    let Some(first) = patch.first() else { return Err(RebuildFault::NoPlate(on, on_plate)) };
    let (mut low, mut high) = (*first, *first);
    for (x, y) in &patch {
        (low.0, low.1) = (low.0.min(*x), low.1.min(*y));
        (high.0, high.1) = (high.0.max(*x), high.1.max(*y));
    }
    let beyond = if settings.beyond.is_finite() { settings.beyond.max(0.0) } else { 0.0 };
    let low = Point2::new(f64::from(low.0) * TILE - beyond, f64::from(low.1) * TILE - beyond);
    let high = Point2::new(
        (f64::from(high.0) + 1.0) * TILE + beyond,
        (f64::from(high.1) + 1.0) * TILE + beyond,
    );
    let wide = (high - low).max();
    if wide > WIDEST {
        return Err(RebuildFault::TooWide(wide));
    }
    // The highest of what stands there; a few points alone in the air make nothing taller.
    let most =
        if settings.height.is_finite() { settings.height.clamp(10.0, WIDEST) } else { 1500.0 };
    let within = |p: &&Point3<f64>| {
        p.x >= low.x && p.x < high.x && p.y >= low.y && p.y < high.y && p.z >= 0.0
    };
    let mut heights: Vec<f64> = all().filter(within).map(|p| p.z).collect();
    heights.par_sort_unstable_by(f64::total_cmp);
    let kept = heights.partition_point(|z| *z <= most);
    let lonely = (0..kept).rev().find(|n| *n < 9 || heights[*n] - heights[*n - 9] < 20.0);
    let top = lonely.map_or(on_plate, |n| heights[n]).max(on_plate);
    let left_out = heights.len() - heights.partition_point(|z| *z <= top);
    if left_out > 0 {
        notes.push(format!(
            "{left_out} points more than {top:.0} mm above the plate were left out: hardly any there, or \
             too high"
        ));
    }
    let eye_above = shots.iter().filter_map(|s| s.seen_from).any(|e| e.z > top + 2.0 * wanted);
    let (clear_above, reach) = if eye_above {
        notes.push(format!(
            "no thing is taken to be higher than {top:.0} mm above the plate: the scan saw none there, \
             and from an eye above nothing that was seen stands in the way"
        ));
        (top + 2.0 * wanted, top + 4.0 * wanted)
    } else {
        (f64::INFINITY, top + settings.headroom.clamp(0.0, WIDEST))
    };
    let size = |step: f64| {
        [high.x - low.x, high.y - low.y, reach].map(|x| ((x / step).ceil().max(1.0)) as usize)
    };
    let mut step = wanted;
    let most = settings.cells.clamp(1000, 1_000_000_000);
    while size(step).iter().product::<usize>() > most {
        step *= 1.05;
    }
    if step > wanted {
        notes.push(format!(
            "the space is large: its cells are {step:.1} mm wide instead of {wanted:.1} mm"
        ));
    }
    Ok((Grid { low: Point3::new(low.x, low.y, 0.0), step, size: size(step) }, clear_above))
}

/// The patch of tiles, side by side or over a corner, that holds most points.
fn largest_patch(mut left: BTreeMap<(i32, i32), usize>) -> Vec<(i32, i32)> {
    let mut best = (0, Vec::new());
    while let Some((start, count)) = left.pop_first() {
        let (mut patch, mut points, mut next) = (vec![start], count, 0);
        while next < patch.len() {
            let (x, y) = patch[next];
            next += 1;
            for (dx, dy) in (0..9).map(|n| (n % 3 - 1, n / 3 - 1)) {
                let side = (x.saturating_add(dx), y.saturating_add(dy));
                if let Some(count) = left.remove(&side) {
                    points += count;
                    patch.push(side);
                }
            }
        }
        if points > best.0 {
            best = (points, patch);
        }
    }
    best.1
}

/// What a body is made of.
struct Of<'a> {
    space: &'a Space,
    bins: &'a Bins,
    owners: &'a Owners,
    /// Which unseen cells are at what is free.
    open: &'a [bool],
    noise: f64,
    spacing: f64,
}

impl Of<'_> {
    fn place(&self, n: u32) -> Point3<f64> {
        self.space.grid.low + self.bins.dots[n as usize].place()
    }

    fn points(&self, of: &[u32]) -> Vec<PointAt> {
        let dots = of.iter().map(|n| self.bins.dots[*n as usize]);
        let mut points: Vec<(u32, u32)> = dots.map(|d| (d.shot, d.index)).collect();
        points.sort_unstable();
        points.into_iter().map(|(shot, point)| PointAt { shot, point }).collect()
    }

    fn bounds(&self, of: &[u32]) -> (Point3<f64>, Point3<f64>) {
        let first = of.first().map_or(Point3::origin(), |n| self.place(*n));
        of.iter().map(|n| self.place(*n)).fold((first, first), |(l, h), p| (l.inf(&p), h.sup(&p)))
    }

    fn flat(&self) -> Flat {
        let voxel = self.space.grid.step;
        Flat { seen: (0.6 * self.noise).max(0.1 * voxel), other: 0.35 * voxel }
    }

    fn is_open(&self, at: At) -> bool {
        self.space.grid.number(at).is_some_and(|n| self.open[n])
    }

    /// Points farther than this from the face through the others are of something that it does not show, mm.
    fn astray(&self) -> f64 {
        (ASTRAY * self.space.grid.step).max(5.0 * self.noise)
    }

    /// The bodies of what is full and not shell: what is beside free space or holds points `astray`, and what
    /// lies behind seen surfaces.
    fn unseen(&self, owner: u16, between: [At; 2], name: &str, astray: &BTreeSet<At>) -> Vec<Body> {
        let grid = &self.space.grid;
        let taken = |at: At| self.space.has(at, bit::FULL);
        let grow: Option<&(dyn Fn(At) -> bool + Sync)> = Some(&taken);
        let body = |open: bool| {
            let inside = |at: At| {
                let unseen = self.space.has(at, bit::FULL)
                    && !self.space.has(at, bit::SHELL)
                    && self.owners.of(at) == owner
                    && self.is_open(at) == open;
                unseen || (open && astray.contains(&at))
            };
            skin(grid, between, &inside, &|_, _| None, &|_, _| false, grow, self.flat())
        };
        let (open, behind) = rayon::join(|| body(true), || body(false));
        // A ray that clips a cell frees all of it: what is there may reach in by its diagonal. A point
        // is off the surface by its scatter.
        let clipped = 3.0_f64.sqrt() * grid.step + 3.0 * self.noise;
        let bodies = [
            (
                open,
                "unseen",
                clipped,
                "a cell's diagonal, how far the body's corners were moved, and the points' scatter",
            ),
            (
                behind,
                "behind",
                0.0,
                "how far the body's corners were moved; seen surfaces enclose it",
            ),
        ];
        bodies
            .into_iter()
            .filter(|(found, ..)| !found.mesh.triangles.is_empty())
            .map(|(found, word, besides, basis)| Body {
                name: format!("{name} {word}"),
                deviation: Deviation { bound: found.moved() + besides, basis: basis.into() },
                mesh: found.mesh,
            })
            .collect()
    }
}

/// The fine cells of a box of coarse cells.
fn fine(grid: &Grid, [low, high]: [At; 2]) -> [At; 2] {
    let last = grid.last();
    [low.map(|n| 2 * n), [0, 1, 2].map(|a| (2 * high[a] + 1).min(last[a]))]
}

fn thing(of: &Of, owner: u16, points: &[u32], between: [At; 2]) -> Thing {
    let (space, owners) = (of.space, of.owners);
    let between = fine(&space.grid, between);
    let crossing = |a: At, b: At| space.crossing(a, b);
    // Where no plane tells, the faces of a cell with a point stand for it.
    let outer = |a: At, b: At| {
        space.crossing(a, b).is_some() || !space.has(b, bit::FULL) || space.has(a, bit::LONE)
    };
    let shell = |at: At| space.has(at, bit::SHELL) && owners.of(at) == owner;
    let seen = skin(&space.grid, between, &shell, &crossing, &outer, None, of.flat());
    let near = Near::new(&seen.mesh, Some(&seen.outer));
    // What is beside an unseen cell is within that body's own deviation.
    let by_unseen = |p: &Point3<f64>| {
        carve::around(space.grid.at(p)).any(|at| owners.of(at) == owner && of.is_open(at))
    };
    let places = || points.par_iter().map(|n| of.place(*n)).filter(|p| !by_unseen(p));
    let astray: BTreeSet<At> =
        near.farther(places(), of.astray()).iter().map(|p| space.grid.at(p)).collect();
    let farthest = near.farthest(places().filter(|p| !astray.contains(&space.grid.at(p))));
    let bound = farthest + EDGE * of.spacing;
    let (low, high) = of.bounds(points);
    let (kind, name) = if owner == WALL {
        (Kind::Wall, "wall")
    } else if owners.above.get((owner - FIRST) as usize).is_some_and(|a| *a) {
        (Kind::Above, "above")
    } else {
        (Kind::Inside, "thing")
    };
    Thing {
        name: name.into(),
        kind,
        points: of.points(points),
        low,
        high,
        unseen: of.unseen(owner, between, name, &astray),
        seen: Body {
            name: name.into(),
            mesh: seen.mesh,
            deviation: Deviation {
                bound,
                basis: format!(
                    "the farthest of {} points from the face through them, noise of {:.2} mm included, and \
                     {:.2} mm for an edge between two of them",
                    points.len(),
                    of.noise,
                    EDGE * of.spacing
                ),
            },
        },
    }
}

/// The plate: a disc below z = 0, and what was not seen of it as a body that stands on it.
fn plate(of: &Of, points: &[u32], notes: &mut Vec<String>) -> Result<Thing, RebuildFault> {
    let points = &dense(of, points)[..];
    let places: Vec<Point3<f64>> = points.iter().map(|n| of.place(*n)).collect();
    let outline = hull(&places);
    let mesh = extrude(&outline, &[], -10.0, 0.0)?;
    let bound = flatness(of, &places, notes);
    let (low, high) = of.bounds(points);
    let grid = &of.space.grid;
    Ok(Thing {
        name: "plate".into(),
        kind: Kind::Plate,
        points: of.points(points),
        low,
        high,
        unseen: of.unseen(PLATE, [[0; 3], grid.last()], "plate", &BTreeSet::new()),
        seen: Body {
            name: "plate".into(),
            mesh,
            deviation: Deviation {
                bound,
                basis: format!(
                    "means of the points over {AVERAGED} mm squares, and four standard errors; a step \
                     lower than that over less is not seen"
                ),
            },
        },
    })
}

/// The points that lie close together, as on a face and not along an edge.
fn dense(of: &Of, points: &[u32]) -> Vec<u32> {
    let tile = |p: Point3<f64>| ((p.x / AVERAGED).floor() as i32, (p.y / AVERAGED).floor() as i32);
    let places = points.iter().map(|n| of.place(*n));
    let mut counts: BTreeMap<(i32, i32), usize> = BTreeMap::new();
    for p in places.filter(|p| p.z.abs() <= 4.0 * of.noise.max(0.1)) {
        *counts.entry(tile(p)).or_default() += 1;
    }
    let mut sorted: Vec<usize> = counts.values().copied().collect();
    sorted.sort_unstable();
    let enough = sorted.get(sorted.len() / 2).map_or(0, |n| n / 4);
    counts.retain(|_, n| *n >= enough);
    let patch: BTreeSet<(i32, i32)> = largest_patch(counts).into_iter().collect();
    points.iter().filter(|n| patch.contains(&tile(of.place(**n)))).copied().collect()
}

/// The convex outline seen from above, counter-clockwise.
fn hull(points: &[Point3<f64>]) -> Vec<Point2<f64>> {
    let mut sorted: Vec<Point2<f64>> = points.iter().map(Point3::xy).collect();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    sorted.dedup();
    let turns = |a: &Point2<f64>, b: &Point2<f64>, c: &Point2<f64>| (b - a).perp(&(c - b)) > 1e-6;
    let half = |points: &mut dyn Iterator<Item = &Point2<f64>>| {
        let mut side: Vec<Point2<f64>> = Vec::new();
        for p in points {
            while side.len() > 1 && !turns(&side[side.len() - 2], &side[side.len() - 1], p) {
                side.pop();
            }
            side.push(*p);
        }
        side.pop();
        side
    };
    let mut outline = half(&mut sorted.iter());
    outline.extend(half(&mut sorted.iter().rev()));
    outline
}

/// How far the plate is from z = 0, averaged over squares, mm.
fn flatness(of: &Of, places: &[Point3<f64>], notes: &mut Vec<String>) -> f64 {
    // Beside what stands on the plate a point may be of its foot.
    let coarse = &of.owners.coarse;
    let bare = |p: &Point3<f64>| {
        let at = coarse.at(p);
        (0..9).all(|n| {
            let side = [at[0] + n % 3 - 1, at[1] + n / 3 - 1];
            (0..2).all(|k| {
                let here = coarse.number([side[0], side[1], k]);
                here.is_none_or(|n| of.owners.seen[n] == NONE)
            })
        })
    };
    let tile = |p: &Point3<f64>| ((p.x / AVERAGED).floor() as i32, (p.y / AVERAGED).floor() as i32);
    let mut keyed: Vec<((i32, i32), f64)> =
        places.par_iter().filter(|p| bare(p)).map(|p| (tile(p), p.z)).collect();
    keyed.par_sort_unstable_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let tiles: Vec<&[((i32, i32), f64)]> = keyed.chunk_by(|a, b| a.0 == b.0).collect();
    let mut counts: Vec<usize> = tiles.iter().map(|t| t.len()).collect();
    counts.sort_unstable();
    // A square that the plate fills only in part says little, and its edge is not its face.
    let usual = counts.get(counts.len() / 2).copied().unwrap_or(0);
    let enough = (usual / 3).max(10);
    let mut worst = 0.0_f64;
    let mut looked = 0;
    let known: BTreeSet<(i32, i32)> = tiles.iter().filter_map(|t| Some(t.first()?.0)).collect();
    for tile in tiles.iter().filter(|t| t.len() >= enough) {
        let n = tile.len() as f64;
        let mean = tile.iter().map(|p| p.1).sum::<f64>() / n;
        let square = tile.iter().map(|p| (p.1 - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let (x, y) = tile[0].0;
        let amid = (0..9).all(|n| known.contains(&(x + n % 3 - 1, y + n / 3 - 1)));
        // At an edge some points are of the edge's side: the middle one is of the face, if the face
        // fills most of the square. It scatters by a quarter more than the mean.
        if !amid && 4 * tile.len() < 3 * usual {
            continue;
        }
        let (at, error) = if amid { (mean, 1.0) } else { (tile[tile.len() / 2].1, 1.26) };
        worst = worst.max(at.abs() + 4.0 * error * (square / n).sqrt());
        looked += 1;
    }
    if looked == 0 {
        notes.push("too few points on bare plate to say how flat it is: taken as its noise".into());
        worst = 4.0 * of.noise + of.spacing;
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hull_of_a_square_has_four_corners() {
        let points: Vec<Point3<f64>> =
            (0..100).map(|n| Point3::new(f64::from(n % 10), f64::from(n / 10), 0.0)).collect();
        let outline = hull(&points);
        assert_eq!(outline.len(), 4);
        let area: f64 = (0..4).map(|n| outline[n].coords.perp(&outline[(n + 1) % 4].coords)).sum();
        assert!((area / 2.0 - 81.0).abs() < 1e-9);
    }
}
