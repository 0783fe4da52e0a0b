//! Leaves out what a scanner saw where nothing is.
//!
//! At the edge of a part a scanner sees half of it and half of what is behind, and puts a point
//! between the two; dust, glare and bad matches give others. Such points are left out where they lie
//! away from their neighbours, singly or as small islands. Leaving a point out says that nobody knows
//! what is there, never that nothing is: see [`Shot::astray`].

use crate::Shot;
use crate::cells::{Cells, Map, median, quantile};
use crate::near::{Near, Nearest};
use measure::{Length, LengthUnit};
use nalgebra::Point3;
use std::f64::consts::PI;

/// Neighbours that are looked at.
const NEIGHBOURS: usize = 8;
/// A point whose neighbours are this many times farther than theirs are is alone.
const ALONE: f64 = 3.0;
/// Those that are asked for it, more than the nearest: where what is seen sparsely begins beside what
/// is seen densely, a few of them are as sparse, and those are its fellows.
const WIDER: usize = 24;
const FELLOWS: f64 = 0.9;
/// Points fewer than this, farther than that many spacings from any other, are an island.
const FEW: usize = 30;
const AWAY: f64 = 8.0;
/// The share of points than which more are as sparse as [`Cleaned::sparse`] tells.
const SPARSE: f64 = 0.95;

/// What was left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Dropped {
    /// Points that were given.
    pub given: usize,
    /// Points that are no numbers. Nothing is known of their rays.
    pub not_numbers: usize,
    /// Points in the very place of another, which stays.
    pub twins: usize,
    /// Points away from their neighbours.
    pub lone: usize,
    /// Points of small islands.
    pub in_islands: usize,
    /// Small islands.
    pub islands: usize,
}

impl Dropped {
    /// What was left out and why, a sentence each without its full stop.
    pub fn told(&self) -> Vec<String> {
        let mut told = Vec::new();
        let given = self.given;
        if self.not_numbers > 0 {
            told.push(format!(
                "{} of {given} points are no numbers and were left out",
                self.not_numbers
            ));
        }
        if self.twins > 0 {
            told.push(format!(
                "{} of {given} points lie in the very place of another and were left out",
                self.twins
            ));
        }
        if self.lone > 0 {
            told.push(format!(
                "{} of {given} points lie at least {ALONE:.0} times as far from their neighbours as those \
                 from theirs, and were left out; their places count as unseen",
                self.lone
            ));
        }
        if self.in_islands > 0 {
            told.push(format!(
                "{} of {given} points lie in {} islands of fewer than {FEW}, away from anything else, and \
                 were left out; their places count as unseen",
                self.in_islands, self.islands
            ));
        }
        told
    }
}

/// A shot without what was left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Cleaned {
    /// What stays: points in the order given, triangles of which every corner stays.
    pub shot: Shot,
    /// What does not.
    pub dropped: Dropped,
    /// The distance between neighbours on a grid as dense as the points usually lie, mm; 0 where there
    /// are too few to tell.
    pub spacing: f64,
    /// The same where they lie sparsely: one in twenty lies more so.
    pub sparse: f64,
}

impl Cleaned {
    /// How dense it is, for people.
    pub fn told(&self, unit: LengthUnit) -> String {
        let show = |mm: f64| Length::from_mm(mm).show_to(unit, unit.usual_places() + 1);
        format!(
            "its points lie {} apart, {} where they are sparse",
            show(self.spacing),
            show(self.sparse)
        )
    }
}

/// Leaves out points that are no numbers, twins, lone points and small islands.
pub fn clean(shot: &Shot) -> Cleaned {
    let mut dropped = Dropped { given: shot.points.len(), ..Dropped::default() };
    // Where each point given is among those that stay.
    let mut place: Vec<u32> = vec![u32::MAX; shot.points.len()];
    let points = once(&shot.points, &mut place, &mut dropped);
    let near = Near::new(&points);
    let apart = near.of_each(NEIGHBOURS + 1, |_, nearest| {
        let others = nearest.found.get(1..).unwrap_or_default();
        let mean = others.iter().map(|f| f.0.sqrt()).sum::<f64>() / others.len().max(1) as f64;
        let last = nearest.found.last().map_or(0.0, |f| f.0.sqrt());
        single([mean, last])
    });
    let (spacing, sparse) = spacings(&apart);
    let mut stays = vec![true; points.len()];
    dropped.lone = leave_lone(&points, &near, &apart, &mut stays);
    drop(near);
    leave_islands(&points, spacing, &mut stays, &mut dropped);

    let mut kept = Vec::with_capacity(points.len());
    let mut astray = shot.astray.clone();
    let mut renumbered = vec![u32::MAX; points.len()];
    for ((p, stays), new) in points.iter().zip(&stays).zip(&mut renumbered) {
        if *stays {
            *new = u32::try_from(kept.len()).unwrap_or(u32::MAX);
            kept.push(*p);
        } else {
            astray.push(*p);
        }
    }
    let corner = |v: u32| {
        let at = *place.get(v as usize)?;
        renumbered.get(at as usize).copied().filter(|v| *v != u32::MAX)
    };
    let triangles = shot.triangles.iter().filter_map(|[a, b, c]| {
        let all = [corner(*a)?, corner(*b)?, corner(*c)?];
        (all[0] != all[1] && all[1] != all[2] && all[2] != all[0]).then_some(all)
    });
    let shot = Shot {
        name: shot.name.clone(),
        triangles: triangles.collect(),
        points: kept,
        astray,
        seen_from: shot.seen_from,
    };
    Cleaned { shot, dropped, spacing, sparse }
}

/// Half the memory for ten million points; distances need no more places.
#[expect(clippy::cast_possible_truncation, reason = "places that are not needed")]
fn single(of: [f64; 2]) -> [f32; 2] {
    of.map(|v| v as f32)
}

/// The points that are numbers, each place once; `place` gets where each went.
fn once(given: &[Point3<f64>], place: &mut [u32], dropped: &mut Dropped) -> Vec<Point3<f64>> {
    let size = (2 * given.len()).next_power_of_two().max(16);
    let mask = (size - 1) as u64;
    let mut table = vec![u32::MAX; size];
    let mut points: Vec<Point3<f64>> = Vec::with_capacity(given.len());
    for (p, place) in given.iter().zip(place) {
        if !p.iter().all(|c| c.is_finite()) {
            dropped.not_numbers += 1;
            continue;
        }
        // Adding zero makes one of the two zeros.
        let bits = [0, 1, 2].map(|i| (p[i] + 0.0).to_bits());
        let mixed = bits.iter().fold(0_u64, |h, b| {
            let h = (h.rotate_left(23) ^ b).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            h ^ (h >> 29)
        });
        let mut slot = usize::try_from(mixed & mask).unwrap_or(0);
        loop {
            let held = table[slot];
            if held == u32::MAX {
                let new = u32::try_from(points.len()).unwrap_or(u32::MAX);
                (table[slot], *place) = (new, new);
                points.push(*p);
                break;
            }
            if points[held as usize] == *p {
                *place = held;
                dropped.twins += 1;
                break;
            }
            slot = (slot + 1) & (size - 1);
        }
    }
    points
}

/// How far apart points lie, usually and where they are sparse: on a surface with a point on each
/// square of edge s, a circle about a point holds k others where pi r^2 = k s^2.
fn spacings(apart: &[[f32; 2]]) -> (f64, f64) {
    let step = apart.len().div_ceil(200_000).max(1);
    let mut far: Vec<f64> = apart.iter().step_by(step).map(|a| f64::from(a[1])).collect();
    let per = (PI / NEIGHBOURS as f64).sqrt();
    (median(&mut far) * per, quantile(&mut far, SPARSE) * per)
}

/// Marks points that lie much farther from their neighbours than these from theirs; how many.
fn leave_lone(
    points: &[Point3<f64>],
    near: &Near,
    apart: &[[f32; 2]],
    stays: &mut [bool],
) -> usize {
    let step = apart.len().div_ceil(200_000).max(1);
    let mut means: Vec<f64> = apart.iter().step_by(step).map(|a| f64::from(a[0])).collect();
    let usual = median(&mut means);
    let mut nearest = Nearest::new(WIDER + 1, f64::INFINITY);
    let mut count = 0;
    for (index, own) in apart.iter().enumerate() {
        let own = f64::from(own[0]);
        if own <= ALONE * usual {
            continue;
        }
        near.nearest(&points[index], &mut nearest);
        let others = nearest.found.iter().filter(|(_, other)| *other as usize != index);
        let mut theirs: Vec<f64> =
            others.map(|(_, other)| f64::from(apart[*other as usize][0])).collect();
        if own > ALONE * quantile(&mut theirs, FELLOWS) {
            stays[index] = false;
            count += 1;
        }
    }
    count
}

/// Marks small islands away from anything else.
fn leave_islands(points: &[Point3<f64>], spacing: f64, stays: &mut [bool], dropped: &mut Dropped) {
    if spacing <= 0.0 || !spacing.is_finite() {
        return;
    }
    let cells = Cells { middle: crate::cells::middle(points), edge: AWAY * spacing };
    let mut number: Map<u32> = Map::default();
    let mut all: Vec<([i32; 3], usize)> = Vec::new();
    let mut cell_of = vec![u32::MAX; points.len()];
    let mut last = (u64::MAX, 0);
    for (index, p) in points.iter().enumerate().filter(|(i, _)| stays[*i]) {
        let at = cells.at(p);
        let key = Cells::number(at);
        if key != last.0 {
            let next = u32::try_from(all.len()).unwrap_or(u32::MAX);
            let cell = *number.entry(key).or_insert(next);
            if cell == next {
                all.push((at, 0));
            }
            last = (key, cell);
        }
        cell_of[index] = last.1;
        all[last.1 as usize].1 += 1;
    }
    // Cells that touch, if only at a corner, hang together.
    let mut of: Vec<u32> = vec![u32::MAX; all.len()];
    let mut sizes: Vec<usize> = Vec::new();
    for start in 0..all.len() {
        if of[start] != u32::MAX {
            continue;
        }
        let island = u32::try_from(sizes.len()).unwrap_or(u32::MAX);
        of[start] = island;
        let mut waiting = vec![start];
        let mut size = 0;
        while let Some(cell) = waiting.pop() {
            let (at, count) = all[cell];
            size += count;
            for side in 0..27 {
                let [x, y, z] = [side % 3 - 1, side / 3 % 3 - 1, side / 9 - 1];
                let beside = Cells::number([at[0] + x, at[1] + y, at[2] + z]);
                if let Some(other) = number.get(&beside)
                    && of[*other as usize] == u32::MAX
                {
                    of[*other as usize] = island;
                    waiting.push(*other as usize);
                }
            }
        }
        sizes.push(size);
    }
    // In a small cloud nothing is small beside the rest.
    let few = FEW.min(points.len() / 20);
    dropped.islands = sizes.iter().filter(|size| **size < few).count();
    for (cell, stays) in cell_of.iter().zip(stays) {
        if let Some(cell) = of.get(*cell as usize)
            && sizes[*cell as usize] < few
        {
            *stays = false;
            dropped.in_islands += 1;
        }
    }
}

#[cfg(test)]
mod tests;
