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
    let mut table = Table::new(functions, half)?;
    for exchange in 0..MOST_EXCHANGES {
        let Some(entering) = table.gains(exchange < MOST_EXCHANGES / 2) else { break };
        let Some(leaving) = table.gives_way(entering) else {
            // The bound falls without end: the rules in this direction cannot all hold.
            let broken = table.direction(entering);
            let only_rules = broken.iter().all(|(i, _)| functions[*i].is_rule);
            return (only_rules && !broken.is_empty()).then_some(Weighed::Broken(broken));
        };
        table.exchange(entering, leaving);
    }
    let mut weights = table.weights();
    let margins = weights.iter().filter(|(i, _)| !functions[*i].is_rule);
    let sum: f64 = margins.map(|(_, w)| w).sum();
    if sum.is_nan() || sum <= SMALL {
        return None;
    }
    for (_, weight) in &mut weights {
        *weight /= sum;
    }
    Some(Weighed::Bounded(weights, table.moves(half)))
}

/// The simplex table. Columns: the functions' weights, then for each variable the two signs of its
/// slope; row 0 is the sum of the margins' weights, the others are the variables' slopes.
struct Table {
    /// Weighed functions.
    count: usize,
    columns: usize,
    /// By rows, the right-hand side last.
    cells: Vec<f64>,
    basis: [usize; ROWS],
    /// What one unit of each column adds to the bound.
    reduced: Vec<f64>,
}

impl Table {
    /// The table with the margin of least reach alone, and the sign of its slope in each variable.
    fn new(functions: &[Linear], half: &[f64; ROWS - 1]) -> Option<Self> {
        let reach =
            |f: &Linear| f.value + f.slope.iter().zip(half).map(|(g, h)| g.abs() * h).sum::<f64>();
        let margins = functions.iter().enumerate().filter(|(_, f)| !f.is_rule);
        let (first, _) = margins.min_by(|a, b| reach(a.1).total_cmp(&reach(b.1)))?;
        let count = functions.len();
        let columns = count + 2 * (ROWS - 1);
        let mut basis = [first; ROWS];
        let cells = vec![0.0; ROWS * (columns + 1)];
        let mut cost = vec![0.0; columns];
        let mut table = Self { count, columns, cells, basis, reduced: Vec::new() };
        for (i, f) in functions.iter().enumerate() {
            *table.at_mut(0, i) = if f.is_rule { 0.0 } else { 1.0 };
            cost[i] = f.value;
            for k in 0..ROWS - 1 {
                *table.at_mut(k + 1, i) = f.slope[k];
            }
        }
        *table.at_mut(0, columns) = 1.0;
        for k in 0..ROWS - 1 {
            let [plus, minus] = [count + 2 * k, count + 2 * k + 1];
            *table.at_mut(k + 1, plus) = 1.0;
            *table.at_mut(k + 1, minus) = -1.0;
            (cost[plus], cost[minus]) = (half[k], half[k]);
            let slope = functions[first].slope[k];
            basis[k + 1] = if slope > 0.0 { minus } else { plus };
            let sign = if slope > 0.0 { -1.0 } else { 1.0 };
            for column in 0..=columns {
                let less = slope * table.at(0, column);
                *table.at_mut(k + 1, column) = sign * (table.at(k + 1, column) - less);
            }
        }
        table.basis = basis;
        table.reduced.clone_from(&cost);
        for (row, &b) in basis.iter().enumerate() {
            for column in 0..columns {
                table.reduced[column] -= cost[b] * table.at(row, column);
            }
        }
        Some(table)
    }

    fn at(&self, row: usize, column: usize) -> f64 {
        self.cells[row * (self.columns + 1) + column]
    }

    fn at_mut(&mut self, row: usize, column: usize) -> &mut f64 {
        &mut self.cells[row * (self.columns + 1) + column]
    }

    /// A column that lowers the bound: the one that does so most, or the first, which cannot go
    /// round in a circle.
    fn gains(&self, most: bool) -> Option<usize> {
        let mut gains = self.reduced.iter().enumerate().filter(|(_, r)| **r < -SMALL);
        let gain = if most { gains.min_by(|a, b| a.1.total_cmp(b.1)) } else { gains.next() };
        gain.map(|(column, _)| column)
    }

    /// The row whose column leaves the basis.
    fn gives_way(&self, entering: usize) -> Option<usize> {
        let ratio = |row: usize| self.at(row, self.columns) / self.at(row, entering);
        let rows = (0..ROWS).filter(|&row| self.at(row, entering) > SMALL);
        rows.min_by(|&a, &b| ratio(a).total_cmp(&ratio(b)).then(self.basis[a].cmp(&self.basis[b])))
    }

    fn exchange(&mut self, entering: usize, leaving: usize) {
        let pivot = self.at(leaving, entering);
        for column in 0..=self.columns {
            *self.at_mut(leaving, column) /= pivot;
        }
        for row in (0..ROWS).filter(|row| *row != leaving) {
            let by = self.at(row, entering);
            if by != 0.0 {
                for column in 0..=self.columns {
                    let less = by * self.at(leaving, column);
                    *self.at_mut(row, column) -= less;
                }
            }
        }
        let by = self.reduced[entering];
        for column in 0..self.columns {
            self.reduced[column] -= by * self.at(leaving, column);
        }
        self.basis[leaving] = entering;
    }

    /// The weights that grow together when a column grows without end.
    fn direction(&self, entering: usize) -> Vec<(usize, f64)> {
        let own = (entering < self.count).then_some((entering, 1.0));
        let others = (0..ROWS).map(|row| (self.basis[row], -self.at(row, entering)));
        own.into_iter().chain(others.filter(|(i, w)| *i < self.count && *w > SMALL)).collect()
    }

    fn weights(&self) -> Vec<(usize, f64)> {
        let all = (0..ROWS).map(|row| (self.basis[row], self.at(row, self.columns)));
        all.filter(|(i, w)| *i < self.count && *w > 1e-9).collect()
    }

    /// The move at which the linear problem is greatest: the prices of the variables' rows.
    fn moves(&self, half: &[f64; ROWS - 1]) -> [f64; ROWS - 1] {
        std::array::from_fn(|k| {
            (self.reduced[self.count + 2 * k] - half[k]).clamp(-half[k], half[k])
        })
    }
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
            for (sum, by) in slope.iter_mut().zip(functions[*i].slope) {
                *sum += w * by;
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
