//! The bound on the least margin over a cell.
//!
//! Each witness's bound `F` is known at any placement, and along each variable by itself its second
//! derivative is nowhere in the cell below `-K`. So with `c` the middle of the cell,
//! `F + 1/2 sum_k K_k (v_k - c_k)²` is convex along each variable and greatest at a corner:
//!
//! ```text
//! max over the cell of F  <=  max over its corners of F  +  1/2 sum_k K_k h_k²
//! ```
//!
//! and the same holds for a weighted sum. The least of several margins is at most any mean of them
//! with weights that add up to one, to which any positive multiple of a rule that must not be
//! broken can be added. [`super::weigh`] finds the weights on a linear model; the corners then make
//! the bound sound whatever that model missed.

use super::space::{Cell, Options, VARIABLES, Values, var};
use super::weigh::{Linear, Weighed, weigh};
use super::witness::{At, Bench, Ground, Sense, Witness};

/// Room for rounding, mm: far more than the sums of a few products of numbers below a metre need.
const ROUNDING: f64 = 1e-8;
/// Margins handed on to the parts of a cell at most, the least first.
const MOST_NEAR: usize = 80;

/// A bound over a cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Bounded {
    /// No placement of the cell that keeps the rules has a least margin above this, mm. Below any
    /// number where some rule is broken all over the cell.
    pub value: f64,
    /// Witnesses by their numbers, with their weights.
    pub weights: Vec<(usize, f64)>,
    /// Where the linear model is greatest.
    pub at: Values,
}

impl Bounded {
    /// Nothing is known.
    pub fn unknown(cell: &Cell) -> Self {
        Self { value: f64::INFINITY, weights: Vec::new(), at: cell.middle() }
    }
}

/// Options of a cell, with the first where none is chosen.
pub fn some_options(cell: &Cell) -> Options {
    cell.chosen.map(|chosen| chosen.unwrap_or(0))
}

/// The least bound over a cell that weights of some witnesses of a pool give.
pub fn bound(
    bench: &Bench<'_>,
    pool: &[Witness],
    near: &[usize],
    cell: &Cell,
    sense: Sense,
) -> Bounded {
    let options = some_options(cell);
    let (middle, half) = (cell.middle(), cell.half());
    let at = At::new(&bench.mechanism, middle, options);
    let value = |i: usize, at: &At<'_>| bench.value(&pool[i], at) + pool[i].constant(sense);
    let mut margins: Vec<(usize, f64)> = Vec::new();
    let mut rules: Vec<(usize, f64)> = Vec::new();
    for &i in near {
        let witness = &pool[i];
        if witness.holds_for(&cell.chosen) && witness.constant(sense) < f64::INFINITY {
            let list = if witness.is_rule { &mut rules } else { &mut margins };
            list.push((i, value(i, &at)));
        }
    }
    if margins.is_empty() {
        return Bounded::unknown(cell);
    }
    let chosen: Vec<(usize, f64)> = margins.into_iter().chain(rules).collect();
    let moved: Vec<usize> = (0..VARIABLES)
        .filter(|&k| half[k] > 0.0 && chosen.iter().any(|(i, _)| pool[*i].moved_by[k]))
        .collect();
    let mut linear: Vec<Linear> = chosen
        .iter()
        .map(|&(i, value)| Linear { value, slope: [0.0; VARIABLES], is_rule: pool[i].is_rule })
        .collect();
    for &k in &moved {
        let [below, above] = [-half[k], half[k]].map(|by| {
            let mut values = middle;
            values[k] += by;
            At::new(&bench.mechanism, values, options)
        });
        // A function that bends upward is taken as high as it is at the cell's sides.
        for (f, &(i, here)) in linear.iter_mut().zip(&chosen) {
            if pool[i].moved_by[k] {
                let (low, high) = (value(i, &below), value(i, &above));
                f.slope[k] = (high - low) / (2.0 * half[k]);
                f.value += (0.5 * (high + low) - here).max(0.0);
            }
        }
    }
    let ceiling = |weights: &[(usize, f64)]| {
        let named: Vec<(usize, f64)> = weights.iter().map(|&(n, w)| (chosen[n].0, w)).collect();
        (ceiling(bench, pool, cell, sense, &named), named)
    };
    let mut weighed = weigh(&linear, &half);
    if let Some(Weighed::Broken(weights)) = &weighed {
        let (most, named) = ceiling(weights);
        if most < 0.0 {
            let value = f64::NEG_INFINITY;
            return Bounded { value, weights: named, at: middle };
        }
        // Broken in the linear model but not surely in the cell: by the margins alone.
        let margins: Vec<Linear> = linear.iter().copied().filter(|f| !f.is_rule).collect();
        weighed = weigh(&margins, &half);
    }
    match weighed {
        None | Some(Weighed::Broken(_)) => Bounded::unknown(cell),
        Some(Weighed::Bounded(weights, moves)) => {
            let (mut most, mut named) = ceiling(&weights);
            // Far from the middle one margin alone may do better than the linear model says.
            let reach = |f: &Linear| {
                f.value + f.slope.iter().zip(&half).map(|(g, h)| g.abs() * h).sum::<f64>()
            };
            let single = (0..linear.len())
                .filter(|n| !linear[*n].is_rule)
                .min_by(|a, b| reach(&linear[*a]).total_cmp(&reach(&linear[*b])));
            if let Some(n) = single
                && weights.as_slice() != [(n, 1.0)]
            {
                let (alone, of_one) = ceiling(&[(n, 1.0)]);
                if alone < most {
                    (most, named) = (alone, of_one);
                }
            }
            let at = std::array::from_fn(|k| middle[k] + moves[k]);
            Bounded { value: most, weights: named, at }
        }
    }
}

/// The witnesses that are likely to bound a part of a cell: those that can hold there, all of the
/// rules, those that bound the whole cell, and of the other margins the least.
pub fn nearest(
    bench: &Bench<'_>,
    pool: &[Witness],
    (whole, near): (&Bounded, &[usize]),
    cell: &Cell,
) -> Vec<usize> {
    let at = At::new(&bench.mechanism, cell.middle(), some_options(cell));
    let mut margins: Vec<(usize, f64)> = Vec::new();
    let mut kept = Vec::new();
    for &i in near {
        let witness = &pool[i];
        if !witness.may_hold_for(&cell.chosen) {
            continue;
        }
        let bounds = whole.weights.iter().any(|w| w.0 == i);
        if bounds || matches!(witness.ground, Ground::Rule(law) if !law.is_of_a_point()) {
            kept.push(i);
        } else {
            margins.push((i, bench.value(witness, &at) + witness.constant(Sense::Low)));
        }
    }
    let half = cell.half();
    least(&mut margins, MOST_NEAR, |i| spread(&pool[i], &half));
    kept.extend(margins.into_iter().map(|m| m.0));
    kept.sort_unstable();
    kept.dedup();
    kept
}

/// Keeps the margins that are least in the middle of a cell, and those that are least when all that
/// they can vary over the cell is added.
fn least(margins: &mut Vec<(usize, f64)>, most: usize, spread: impl Fn(usize) -> f64) {
    if margins.len() <= most {
        return;
    }
    let by_value = |a: &(usize, f64), b: &(usize, f64)| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0));
    let mut high: Vec<(usize, f64)> = margins.iter().map(|&(i, v)| (i, v + spread(i))).collect();
    high.select_nth_unstable_by(most / 2, by_value);
    high.truncate(most / 2);
    margins.select_nth_unstable_by(most / 2, by_value);
    let rest = margins.split_off(most / 2);
    margins.extend(rest.into_iter().filter(|m| high.iter().any(|h| h.0 == m.0)));
}

/// How much a witness's bound varies over a cell of these half widths, mm, roughly.
fn spread(witness: &Witness, half: &Values) -> f64 {
    /// An outlet's turn moves it by about this much a radian, mm.
    const REACH: f64 = 150.0;
    (0..VARIABLES)
        .filter(|&k| witness.moved_by[k])
        .map(|k| if k == var::BEARING || k == var::LID { REACH * half[k] } else { half[k] })
        .sum()
}

/// The greatest that a weighted sum of witnesses can be in a cell, mm.
pub fn ceiling(
    bench: &Bench<'_>,
    pool: &[Witness],
    cell: &Cell,
    sense: Sense,
    weights: &[(usize, f64)],
) -> f64 {
    let options = some_options(cell);
    let (middle, half) = (cell.middle(), cell.half());
    let curvature = bench.mechanism.curvature(&cell.low, &cell.high, &options);
    let mut bent = 0.0;
    let mut constant = 0.0;
    let mut size = 0.0;
    for &(i, weight) in weights {
        let bend = bench.bend(&pool[i], &options, &curvature);
        let own: f64 = bend.iter().zip(&half).map(|(k, h)| 0.5 * k * h * h).sum();
        bent += weight * own;
        constant += weight * pool[i].constant(sense);
        size += weight;
    }
    let moved: Vec<usize> = (0..VARIABLES)
        .filter(|&k| half[k] > 0.0 && weights.iter().any(|(i, _)| pool[*i].moved_by[k]))
        .collect();
    let mut most = f64::NEG_INFINITY;
    for corner in 0..1_usize << moved.len() {
        let mut values = middle;
        for (bit, &k) in moved.iter().enumerate() {
            values[k] = if corner >> bit & 1 == 0 { cell.low[k] } else { cell.high[k] };
        }
        let at = At::new(&bench.mechanism, values, options);
        let sum: f64 = weights.iter().map(|&(i, w)| w * bench.value(&pool[i], &at)).sum();
        most = most.max(sum);
    }
    most + constant + bent + ROUNDING * (1.0 + size)
}
