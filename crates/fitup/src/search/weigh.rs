//! The weights with which bounds of single margins bound their least over a box.
//!
//! Over a box of moves `|d_k| <= h_k`, with margins `f_i + g_i . d` and rules `r_j + p_j . d` that
//! must not be below zero, the greatest least margin is
//!
//! ```text
//! max t  over d:  t <= f_i + g_i . d,  0 <= r_j + p_j . d,  |d_k| <= h_k
//! ```
//!
//! and by the duality of linear programming equal to
//!
//! ```text
//! min over w >= 0, sum of the margins' w = 1:
//!     sum w_i f_i + sum w_j r_j + sum_k h_k |sum w_i g_ik + sum w_j p_jk|
//! ```
//!
//! which is solved here by the simplex method with one row per variable and one for the sum. Any
//! weights give a valid bound; these give the least one of the linear problem. (Dantzig, Linear
//! Programming and Extensions, 1963, chapters 5 and 6; from memory.)

/// Variables of the linear problem at most.
const ROWS: usize = super::space::VARIABLES + 1;
/// Exchanges at most; weights are valid whenever it stops.
const MOST_EXCHANGES: usize = 80;
const SMALL: f64 = 1e-10;

/// A function of the moves, linear.
#[derive(Debug, Clone, Copy)]
pub struct Linear {
    /// Value at no move.
    pub value: f64,
    /// Slope in each variable.
    pub slope: [f64; ROWS - 1],
    /// A rule that must hold, not a margin.
    pub is_rule: bool,
}

/// What the weights show.
#[derive(Debug, Clone, PartialEq)]
pub enum Weighed {
    /// The least margin is bounded by these functions with these weights, and greatest at the move.
    Bounded(Vec<(usize, f64)>, [f64; ROWS - 1]),
    /// These rules with these weights cannot all hold.
    Broken(Vec<(usize, f64)>),
}

/// Weighs functions over a box of half widths. `None` without any margin among them.
pub fn weigh(functions: &[Linear], half: &[f64; ROWS - 1]) -> Option<Weighed> {
    let reach =
        |f: &Linear| f.value + f.slope.iter().zip(half).map(|(g, h)| g.abs() * h).sum::<f64>();
    let (first, _) = functions
        .iter()
        .enumerate()
        .filter(|(_, f)| !f.is_rule)
        .min_by(|a, b| reach(a.1).total_cmp(&reach(b.1)))?;
    let count = functions.len();
    let width = count + 2 * (ROWS - 1);
    // Columns: functions, then for each variable the two signs. Row 0 is the sum of weights.
    let mut table = vec![0.0; ROWS * (width + 1)];
    let mut cost = vec![0.0; width];
    let at = |row: usize, column: usize| row * (width + 1) + column;
    for (i, f) in functions.iter().enumerate() {
        table[at(0, i)] = if f.is_rule { 0.0 } else { 1.0 };
        cost[i] = f.value;
        for k in 0..ROWS - 1 {
            table[at(k + 1, i)] = f.slope[k];
        }
    }
    for k in 0..ROWS - 1 {
        table[at(k + 1, count + 2 * k)] = 1.0;
        table[at(k + 1, count + 2 * k + 1)] = -1.0;
        cost[count + 2 * k] = half[k];
        cost[count + 2 * k + 1] = half[k];
    }
    table[at(0, width)] = 1.0;
    // The first basis: the margin of least reach alone, and the sign of its slope in each variable.
    let mut basis = [0; ROWS];
    basis[0] = first;
    for k in 0..ROWS - 1 {
        let slope = functions[first].slope[k];
        basis[k + 1] = count + 2 * k + usize::from(slope > 0.0);
        for column in 0..=width {
            table[at(k + 1, column)] -= slope * table[at(0, column)];
        }
        if slope > 0.0 {
            for column in 0..=width {
                table[at(k + 1, column)] = -table[at(k + 1, column)];
            }
        }
    }
    let mut reduced = cost.clone();
    for (row, &b) in basis.iter().enumerate() {
        let by = cost[b];
        if by != 0.0 {
            for column in 0..width {
                reduced[column] -= by * table[at(row, column)];
            }
        }
    }
    for exchange in 0..MOST_EXCHANGES {
        // Greatest gain first, then the first that gains, which cannot go round in a circle.
        let gains = reduced.iter().enumerate().filter(|(_, r)| **r < -SMALL);
        let entering = if exchange < MOST_EXCHANGES / 2 {
            gains.min_by(|a, b| a.1.total_cmp(b.1)).map(|g| g.0)
        } else {
            gains.map(|g| g.0).next()
        };
        let Some(entering) = entering else { break };
        let leaving = (0..ROWS).filter(|&row| table[at(row, entering)] > SMALL).min_by(|&a, &b| {
            let ratio = |row: usize| table[at(row, width)] / table[at(row, entering)];
            ratio(a).total_cmp(&ratio(b)).then(basis[a].cmp(&basis[b]))
        });
        let Some(leaving) = leaving else {
            // The bound falls without end: the rules in this direction cannot all hold.
            let mut broken = Vec::new();
            if entering < count {
                broken.push((entering, 1.0));
            }
            for row in 0..ROWS {
                let share = -table[at(row, entering)];
                if basis[row] < count && share > SMALL {
                    broken.push((basis[row], share));
                }
            }
            let only_rules = broken.iter().all(|(i, _)| functions[*i].is_rule);
            return (only_rules && !broken.is_empty()).then_some(Weighed::Broken(broken));
        };
        let pivot = table[at(leaving, entering)];
        for column in 0..=width {
            table[at(leaving, column)] /= pivot;
        }
        for row in 0..ROWS {
            let by = table[at(row, entering)];
            if row != leaving && by != 0.0 {
                for column in 0..=width {
                    table[at(row, column)] -= by * table[at(leaving, column)];
                }
            }
        }
        let by = reduced[entering];
        for column in 0..width {
            reduced[column] -= by * table[at(leaving, column)];
        }
        basis[leaving] = entering;
    }
    let mut weights = Vec::new();
    for row in 0..ROWS {
        let weight = table[at(row, width)];
        if basis[row] < count && weight > 1e-9 {
            weights.push((basis[row], weight));
        }
    }
    let sum: f64 = weights.iter().filter(|(i, _)| !functions[*i].is_rule).map(|(_, w)| w).sum();
    if sum.is_nan() || sum <= SMALL {
        return None;
    }
    for (_, weight) in &mut weights {
        *weight /= sum;
    }
    let moves =
        std::array::from_fn(|k| (reduced[count + 2 * k] - half[k]).clamp(-half[k], half[k]));
    Some(Weighed::Bounded(weights, moves))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn linear(value: f64, x: f64, y: f64, is_rule: bool) -> Linear {
        let mut slope = [0.0; ROWS - 1];
        (slope[0], slope[1]) = (x, y);
        Linear { value, slope, is_rule }
    }

    fn half(x: f64, y: f64) -> [f64; ROWS - 1] {
        let mut half = [0.0; ROWS - 1];
        (half[0], half[1]) = (x, y);
        half
    }

    fn bound(functions: &[Linear], half: &[f64; ROWS - 1], weights: &[(usize, f64)]) -> f64 {
        let mut value = 0.0;
        let mut slope = [0.0; ROWS - 1];
        for (i, w) in weights {
            value += w * functions[*i].value;
            for k in 0..ROWS - 1 {
                slope[k] += w * functions[*i].slope[k];
            }
        }
        value + slope.iter().zip(half).map(|(g, h)| g.abs() * h).sum::<f64>()
    }

    #[test]
    fn two_opposed_margins_meet_in_the_middle() {
        let functions = [
            linear(1.0, 1.0, 0.0, false),
            linear(2.0, -1.0, 0.0, false),
            linear(9.0, 0.0, 1.0, false),
        ];
        let half = half(5.0, 5.0);
        let Some(Weighed::Bounded(weights, moves)) = weigh(&functions, &half) else { panic!() };
        assert!((bound(&functions, &half, &weights) - 1.5).abs() < 1e-9);
        assert!((moves[0] - 0.5).abs() < 1e-9, "{moves:?}");
    }

    #[test]
    fn a_rule_holds_the_move_back() {
        // The margin grows with x, but x may not pass 2.
        let functions = [linear(1.0, 1.0, 0.0, false), linear(2.0, -1.0, 0.0, true)];
        let half = half(5.0, 5.0);
        let Some(Weighed::Bounded(weights, moves)) = weigh(&functions, &half) else { panic!() };
        assert!((bound(&functions, &half, &weights) - 3.0).abs() < 1e-9, "{weights:?}");
        assert!((moves[0] - 2.0).abs() < 1e-9);
    }

    #[test]
    fn rules_that_contradict_each_other_are_found() {
        let functions = [
            linear(1.0, 1.0, 0.0, false),
            linear(-3.0, 1.0, 0.0, true),
            linear(-3.0, -1.0, 0.0, true),
        ];
        let Some(Weighed::Broken(weights)) = weigh(&functions, &half(5.0, 5.0)) else { panic!() };
        assert!(bound(&functions, &half(5.0, 5.0), &weights) < 0.0, "{weights:?}");
    }

    #[test]
    fn weights_are_as_good_as_any_move() {
        // By duality no move does better than the bound, and the one found does as well.
        let mut seed = 7_u64;
        let mut next = || {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / (1_u64 << 53) as f64 * 2.0 - 1.0
        };
        for round in 0..500 {
            let count = 1 + round % 17;
            let functions: Vec<Linear> = (0..count)
                .map(|_| Linear {
                    value: 3.0 * next(),
                    slope: std::array::from_fn(|_| next()),
                    is_rule: false,
                })
                .collect();
            let half: [f64; ROWS - 1] = std::array::from_fn(|_| 2.0 * next().abs());
            let Some(Weighed::Bounded(weights, moves)) = weigh(&functions, &half) else { panic!() };
            let least = functions
                .iter()
                .map(|f| f.value + f.slope.iter().zip(&moves).map(|(g, d)| g * d).sum::<f64>())
                .fold(f64::INFINITY, f64::min);
            let bound = bound(&functions, &half, &weights);
            assert!((bound - least).abs() < 1e-7, "{bound} {least}");
        }
    }
}
