//! Goes through the tree of cells and checks what each leaf claims.

use crate::fault::{CONTINUOUS, DISCRETE, Fault};
use crate::setting::Setting;
use crate::term::Term;
use crate::witness::Examiner;
use review::proof::{Certificate, Node};

/// Weights that add to 1 may miss it by this much.
const ONE: f64 = 1e-9;
/// A figure may be above the claim by this much, mm: rounding of sums of coordinates up to some
/// metres in double precision.
const ROUNDING: f64 = 1e-9;
/// How often a leaf's cell is halved before its claim is refused.
const LEVELS: usize = 12;

/// What going through a tree found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Found {
    pub(crate) cells: usize,
    pub(crate) witnesses: usize,
    pub(crate) deepest: usize,
    pub(crate) bound: f64,
}

/// A cell of the space.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cell {
    pub(crate) low: [f64; 7],
    pub(crate) high: [f64; 7],
    pub(crate) chosen: [Option<usize>; 7],
    pub(crate) depth: usize,
}

impl Cell {
    fn halves(&self, variable: usize) -> [Self; 2] {
        let middle = 0.5 * self.low[variable] + 0.5 * self.high[variable];
        let (mut lower, mut upper) = (*self, *self);
        lower.high[variable] = middle;
        upper.low[variable] = middle;
        (lower.depth, upper.depth) = (self.depth + 1, self.depth + 1);
        [lower, upper]
    }
}

/// A leaf's weighted terms.
pub(crate) struct Sum<'t> {
    pub(crate) terms: Vec<(&'t Term, f64)>,
    /// What the sum must not exceed.
    pub(crate) limit: f64,
}

/// Checks the tree of a certificate of which the root box is known to be whole.
pub(crate) fn walk(setting: &Setting<'_>, certificate: &Certificate) -> Result<Found, Fault> {
    let mut examiner = Examiner::new(setting, certificate.sense);
    let mut terms: Vec<Option<Term>> = vec![None; certificate.witnesses.len()];
    let mut found = Found { cells: 0, witnesses: 0, deepest: 0, bound: f64::NEG_INFINITY };
    let space = &certificate.space;
    let root = Cell { low: space.low, high: space.high, chosen: [None; 7], depth: 0 };
    let mut open = vec![root];
    let mut next = 0;
    while let Some(cell) = open.pop() {
        let node = next;
        next += 1;
        found.deepest = found.deepest.max(cell.depth);
        match certificate.nodes.get(node) {
            None => return Err(Fault::TreeEnds { node, open: open.len() + 1 }),
            Some(&Node::Halve(variable)) => {
                if variable >= CONTINUOUS.len() {
                    return Err(Fault::NoVariable { node, variable });
                }
                let [lower, upper] = cell.halves(variable);
                open.extend([upper, lower]);
            }
            Some(&Node::Choose(variable)) => {
                let Some(count) = setting.options(variable) else {
                    return Err(Fault::NoVariable { node, variable });
                };
                if cell.chosen[variable].is_some() {
                    return Err(Fault::ChosenTwice { node, variable: DISCRETE[variable] });
                }
                for option in (0..count).rev() {
                    let mut chosen = cell.chosen;
                    chosen[variable] = Some(option);
                    open.push(Cell { chosen, depth: cell.depth + 1, ..cell });
                }
            }
            Some(Node::Leaf(weights)) => {
                for &(witness, weight) in weights {
                    let Some(ground) = certificate.witnesses.get(witness) else {
                        let count = certificate.witnesses.len();
                        return Err(Fault::NoWitness { node, witness, count });
                    };
                    if !(weight.is_finite() && weight >= 0.0) {
                        return Err(Fault::Weight { node, witness, weight });
                    }
                    if terms[witness].is_none() {
                        terms[witness] = Some(examiner.term(witness, ground)?);
                        found.witnesses += 1;
                    }
                }
                found.cells += 1;
                let bound = leaf(setting, node, &cell, weights, &terms, certificate.bound_mm)?;
                found.bound = found.bound.max(bound.unwrap_or(f64::NEG_INFINITY));
            }
        }
    }
    if next < certificate.nodes.len() {
        return Err(Fault::NodesLeft { node: next, count: certificate.nodes.len() });
    }
    Ok(found)
}

/// Checks a leaf; the bound on a margin, or `None` where a tolerance is broken.
fn leaf(
    setting: &Setting<'_>,
    node: usize,
    cell: &Cell,
    weights: &[(usize, f64)],
    terms: &[Option<Term>],
    bound: f64,
) -> Result<Option<f64>, Fault> {
    let mut used: Vec<(&Term, f64)> = Vec::new();
    for &(witness, weight) in weights.iter().filter(|(_, weight)| *weight > 0.0) {
        let Some(term) = &terms[witness] else { continue };
        for &(variable, given) in &term.given {
            let chosen = cell.chosen[variable];
            if chosen != Some(given) {
                let variable = DISCRETE[variable];
                return Err(Fault::OptionDiffers { node, witness, variable, given, chosen });
            }
        }
        used.push((term, weight));
    }
    let margins: f64 = used.iter().filter(|(t, _)| !t.tolerance).map(|(_, w)| w).sum();
    let all: f64 = used.iter().map(|(_, w)| w).sum();
    let has_margin = used.iter().any(|(t, _)| !t.tolerance);
    if used.is_empty() || (has_margin && (margins - 1.0).abs() > ONE) || !all.is_finite() {
        return Err(Fault::Weights { node, sum: margins });
    }
    // Weights are taken as shares, so that what misses 1 is made up for.
    let whole = if has_margin { margins } else { all };
    for (_, weight) in &mut used {
        *weight /= whole;
    }
    // A tolerance is broken where its margin is below zero.
    let (claimed, limit) = if has_margin { (bound, bound + ROUNDING) } else { (0.0, -ROUNDING) };
    let sum = Sum { terms: used, limit };
    match sum.holds(setting, cell, LEVELS) {
        Ok(found) => Ok(has_margin.then_some(found)),
        Err(Refused { found, cell }) => {
            Err(Fault::Claim { node, claimed, found, cell: Box::new([cell.low, cell.high]) })
        }
    }
}

/// Where a claim does not hold, or cannot be shown to.
struct Refused {
    found: f64,
    cell: Box<Cell>,
}

impl Sum<'_> {
    /// The greatest value of the sum over the corners of a cell, and by how much it may be greater
    /// inside along each variable, mm.
    pub(crate) fn over(&self, setting: &Setting<'_>, cell: &Cell) -> (f64, [f64; 7]) {
        let centre = [0, 1, 2, 3, 4, 5, 6].map(|k| 0.5 * cell.low[k] + 0.5 * cell.high[k]);
        let half =
            [0, 1, 2, 3, 4, 5, 6].map(|k| (cell.high[k] - centre[k]).max(centre[k] - cell.low[k]));
        let mut varies = [false; 7];
        let mut shares = [0.0; 7];
        for (term, weight) in &self.terms {
            let bend = setting.bend_of(term, &centre, &half);
            let depends = setting.variables(term);
            for k in (0..7).filter(|k| depends[*k] && half[*k] > 0.0) {
                varies[k] = true;
                shares[k] += weight * 0.5 * bend[k] * half[k].powi(2);
            }
        }
        let variables: Vec<usize> = (0..7).filter(|k| varies[*k]).collect();
        let mut greatest = f64::NEG_INFINITY;
        for corner in 0..1_usize << variables.len() {
            let mut v = centre;
            for (bit, &k) in variables.iter().enumerate() {
                v[k] = if corner >> bit & 1 == 1 { cell.high[k] } else { cell.low[k] };
            }
            let sum: f64 = self.terms.iter().map(|(t, w)| w * setting.value(t, &v)).sum();
            greatest = greatest.max(if sum.is_nan() { f64::INFINITY } else { sum });
        }
        (greatest, shares)
    }

    /// The greatest value of the sum over a cell if it can be shown to be within the limit, by
    /// halving the cell as often as `levels`.
    fn holds(&self, setting: &Setting<'_>, cell: &Cell, levels: usize) -> Result<f64, Refused> {
        let (corners, shares) = self.over(setting, cell);
        let found = corners + shares.iter().sum::<f64>();
        if found <= self.limit {
            return Ok(found);
        }
        let refused = Refused { found, cell: Box::new(*cell) };
        let greatest = (0..7).max_by(|a, b| shares[*a].total_cmp(&shares[*b]));
        match greatest.filter(|k| shares[*k] > 0.0 && levels > 0) {
            // The corners alone show that it does not hold.
            _ if corners > self.limit => Err(Refused { found: corners, ..refused }),
            None => Err(refused),
            Some(variable) => {
                let [lower, upper] = cell.halves(variable);
                let lower = self.holds(setting, &lower, levels - 1)?;
                Ok(lower.max(self.holds(setting, &upper, levels - 1)?))
            }
        }
    }
}
