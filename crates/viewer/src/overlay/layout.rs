//! Where notes are put on a picture: near what they are about, beside the scene rather than on it, none on
//! another, none over the edge. Plain arithmetic: from the left and the top, in one unit.

use crate::eye::whole;

/// A note that is to be put somewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Wanted {
    /// What it is about.
    pub(crate) about: [f64; 2],
    /// Its width and height.
    pub(crate) size: [f64; 2],
}

/// Where it is put.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Placed {
    /// Its upper left corner.
    pub(crate) corner: [f64; 2],
    /// From where a line leads to what it is about.
    pub(crate) from: [f64; 2],
}

/// What notes may cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Area {
    /// Its left and its top.
    pub(crate) low: [f64; 2],
    /// Its right and its bottom.
    pub(crate) high: [f64; 2],
}

/// Where the scene is, in square cells.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Busy {
    cell: f64,
    across: usize,
    down: usize,
    /// How many cells are busy above and to the left of each corner between them.
    sums: Vec<u32>,
}

impl Busy {
    /// Of a picture of this size, cut into cells of this width, those with a point in them.
    pub(crate) fn of(points: impl Iterator<Item = [f64; 2]>, size: [f64; 2], cell: f64) -> Self {
        let [across, down] = size.map(|long| whole(long / cell) + 1);
        let mut is_busy = vec![false; across * down];
        for [x, y] in points {
            if x >= 0.0 && y >= 0.0 {
                let (column, row) = (whole(x / cell), whole(y / cell));
                if let Some(busy) =
                    is_busy.get_mut(row * across + column).filter(|_| column < across)
                {
                    *busy = true;
                }
            }
        }
        let wide = across + 1;
        let mut sums = vec![0; wide * (down + 1)];
        for row in 0..down {
            for column in 0..across {
                let at = (row + 1) * wide + column + 1;
                sums[at] = sums[at - 1] + sums[at - wide] - sums[at - wide - 1]
                    + u32::from(is_busy[row * across + column]);
            }
        }
        Self { cell, across, down, sums }
    }

    /// The share of a rectangle that is busy, from 0 to 1.
    pub(crate) fn share(&self, corner: [f64; 2], size: [f64; 2]) -> f64 {
        if self.sums.is_empty() {
            return 0.0;
        }
        let cells = [self.across, self.down];
        let low = [0, 1].map(|i: usize| whole(corner[i].max(0.0) / self.cell).min(cells[i]));
        let high = [0, 1].map(|i: usize| {
            let end = (corner[i] + size[i]).max(0.0) / self.cell;
            whole(end.ceil()).clamp(low[i], cells[i])
        });
        let sum = |x: usize, y: usize| {
            self.sums.get(y * (self.across + 1) + x).copied().unwrap_or_default()
        };
        let busy = f64::from(sum(high[0], high[1])) + f64::from(sum(low[0], low[1]))
            - f64::from(sum(low[0], high[1]))
            - f64::from(sum(high[0], low[1]));
        let all = (high[0] - low[0]) * (high[1] - low[1]);
        if all == 0 { 0.0 } else { busy / all as f64 }
    }
}

/// What covering the scene altogether costs, a line that crosses another, one that runs through another
/// note, hiding what a note is about; all in heights of the area, by which distance counts as one. Our
/// choice.
const COVERED: f64 = 1.5;
const CROSSED: f64 = 0.25;
const THROUGH: f64 = 0.5;
const HIDDEN: f64 = 3.0;

/// Puts every note, the first ones where they like best; `None` for those that find no room. `apart` is
/// left between two, and is how finely places are tried.
pub(crate) fn place(
    wanted: &[Wanted],
    area: &Area,
    apart: f64,
    busy: &Busy,
) -> Vec<Option<Placed>> {
    let mut there: Vec<(Wanted, Placed)> = Vec::new();
    let mut all = Vec::with_capacity(wanted.len());
    for note in wanted {
        let best = spots(note, area, apart)
            .filter(|spot| !there.iter().any(|(other, at)| meet(note, *spot, other, at, apart)))
            .map(|spot| (cost(note, spot, wanted, &there, (area, busy)), spot))
            .min_by(|(a, _), (b, _)| a.total_cmp(b));
        let placed = best.map(|(_, corner)| Placed { corner, from: nearest(note, corner) });
        there.extend(placed.map(|placed| (*note, placed)));
        all.push(placed);
    }
    all
}

/// Corners that are tried.
fn spots(note: &Wanted, area: &Area, step: f64) -> impl Iterator<Item = [f64; 2]> {
    let free = [0, 1].map(|i: usize| area.high[i] - area.low[i] - note.size[i]);
    let steps = free.map(|free| if free < 0.0 { 0 } else { whole(free / step) + 1 });
    let low = area.low;
    (0..steps[1]).flat_map(move |row| {
        // The last stands against the edge.
        let at = move |i: usize, n: usize| {
            low[i] + if n + 1 == steps[i] { free[i] } else { step * n as f64 }
        };
        (0..steps[0]).map(move |column| [at(0, column), at(1, row)])
    })
}

fn cost(
    note: &Wanted,
    corner: [f64; 2],
    all: &[Wanted],
    there: &[(Wanted, Placed)],
    (area, busy): (&Area, &Busy),
) -> f64 {
    let height = (area.high[1] - area.low[1]).max(1.0);
    let from = nearest(note, corner);
    let away = (from[0] - note.about[0]).hypot(from[1] - note.about[1]) / height;
    let hides = all.iter().filter(|other| holds(corner, note.size, other.about)).count();
    let mut cost = away + COVERED * busy.share(corner, note.size) + HIDDEN * hides as f64;
    for (other, at) in there {
        if cross([from, note.about], [at.from, other.about]) {
            cost += CROSSED;
        }
        if runs_through([from, note.about], at.corner, other.size)
            || runs_through([at.from, other.about], corner, note.size)
        {
            cost += THROUGH;
        }
    }
    cost
}

/// Whether two notes would meet or be nearer than so.
fn meet(note: &Wanted, corner: [f64; 2], other: &Wanted, at: &Placed, apart: f64) -> bool {
    [0, 1].into_iter().all(|i: usize| {
        corner[i] < at.corner[i] + other.size[i] + apart
            && at.corner[i] < corner[i] + note.size[i] + apart
    })
}

fn holds(corner: [f64; 2], size: [f64; 2], point: [f64; 2]) -> bool {
    [0, 1].into_iter().all(|i: usize| corner[i] <= point[i] && point[i] <= corner[i] + size[i])
}

/// The point of a note's edge from which a line to what it is about is shortest.
fn nearest(note: &Wanted, corner: [f64; 2]) -> [f64; 2] {
    [0, 1].map(|i: usize| note.about[i].clamp(corner[i], corner[i] + note.size[i]))
}

/// Whether two lines cross.
fn cross([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]) -> bool {
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

fn runs_through(line: [[f64; 2]; 2], corner: [f64; 2], size: [f64; 2]) -> bool {
    let far = [corner[0] + size[0], corner[1] + size[1]];
    holds(corner, size, line[0])
        || cross(line, [corner, far])
        || cross(line, [[corner[0], far[1]], [far[0], corner[1]]])
}

#[cfg(test)]
mod tests {
    use super::*;

    const AREA: Area = Area { low: [10.0, 40.0], high: [470.0, 280.0] };
    const APART: f64 = 4.0;

    fn check(wanted: &[Wanted], busy: &Busy) -> Vec<Option<Placed>> {
        let placed = place(wanted, &AREA, APART, busy);
        let there: Vec<(&Wanted, &Placed)> =
            wanted.iter().zip(&placed).filter_map(|(w, p)| Some((w, p.as_ref()?))).collect();
        for (i, (note, at)) in there.iter().enumerate() {
            for k in [0, 1] {
                assert!(at.corner[k] >= AREA.low[k] - 1e-9, "{at:?}");
                assert!(at.corner[k] + note.size[k] <= AREA.high[k] + 1e-9, "{at:?}");
            }
            for (other, beside) in there.iter().skip(i + 1) {
                let is_apart = [0, 1].into_iter().any(|k: usize| {
                    at.corner[k] >= beside.corner[k] + other.size[k] - 1e-9
                        || beside.corner[k] >= at.corner[k] + note.size[k] - 1e-9
                });
                assert!(is_apart, "{at:?} {beside:?}");
            }
        }
        placed
    }

    #[test]
    fn a_note_alone_stands_near_and_does_not_hide_what_it_is_about() {
        let note = Wanted { about: [100.0, 150.0], size: [90.0, 30.0] };
        let placed = check(&[note], &Busy::default())[0].unwrap();
        assert!(!holds(placed.corner, note.size, note.about));
        let away = (placed.from[0] - 100.0).hypot(placed.from[1] - 150.0);
        assert!(away <= 2.0 * APART, "{placed:?}");
    }

    #[test]
    fn notes_stand_beside_the_scene() {
        // The scene fills the middle, a third of the width.
        let points = (160..320).flat_map(|x| (40..280).map(move |y| [f64::from(x), f64::from(y)]));
        let busy = Busy::of(points, [480.0, 300.0], 8.0);
        assert!((busy.share([160.0, 40.0], [160.0, 240.0]) - 1.0).abs() < 1e-9);
        assert!(busy.share([0.0, 0.0], [150.0, 300.0]) < 1e-9);
        let note = |x: f64| Wanted { about: [x, 150.0], size: [120.0, 40.0] };
        let placed = check(&[note(200.0), note(290.0)], &busy);
        assert!(placed[0].unwrap().corner[0] + 120.0 <= 164.0, "{placed:?}");
        assert!(placed[1].unwrap().corner[0] >= 316.0, "{placed:?}");
    }

    #[test]
    fn notes_about_one_point_are_put_apart_and_stay_inside() {
        for about in [[30.0, 41.0], [30.0, 279.0], [400.0, 160.0], [-50.0, 1000.0]] {
            let notes = [Wanted { about, size: [120.0, 35.0] }; 6];
            assert!(check(&notes, &Busy::default()).iter().all(Option::is_some));
        }
    }

    #[test]
    fn what_finds_no_room_is_left_out_and_nothing_else() {
        // 460 by 240 holds three of 230 by 70 on each side, and no more.
        let notes = [Wanted { about: [240.0, 160.0], size: [220.0, 70.0] }; 9];
        let placed = check(&notes, &Busy::default());
        assert!(placed[0].is_some() && placed[8].is_none());
        let wide = Wanted { about: [30.0, 100.0], size: [500.0, 10.0] };
        assert_eq!(check(&[wide], &Busy::default()), [None]);
    }

    #[test]
    fn lines_of_notes_do_not_cross_where_there_is_room() {
        let at = |x: f64, y: f64| Wanted { about: [x, y], size: [80.0, 20.0] };
        let points = (140..340).flat_map(|x| (40..280).map(move |y| [f64::from(x), f64::from(y)]));
        let busy = Busy::of(points, [480.0, 300.0], 8.0);
        let wanted = [at(200.0, 200.0), at(220.0, 60.0), at(180.0, 130.0), at(210.0, 128.0)];
        let placed = check(&wanted, &busy);
        let lines: Vec<[[f64; 2]; 2]> =
            wanted.iter().zip(&placed).map(|(w, p)| [p.unwrap().from, w.about]).collect();
        for (i, line) in lines.iter().enumerate() {
            assert!(lines.iter().skip(i + 1).all(|other| !cross(*line, *other)), "{lines:?}");
        }
    }
}
