//! Shares of draws with their confidence intervals.

use statrs::function::beta::beta_reg;

/// How many of a number of draws came out well, with the interval that holds the true share at a
/// level of confidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Draws that came out well.
    pub count: usize,
    /// Draws in all.
    pub of: usize,
    /// Lower end of the interval, from 0 to 1.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The level of confidence of every interval.
pub const CONFIDENCE: f64 = 0.95;

impl Share {
    /// With the interval of Clopper and Pearson ("The use of confidence or fiducial limits
    /// illustrated in the case of the binomial", Biometrika 26, 1934; from memory), which holds the
    /// true share at least as often as it says, however many draws there are.
    pub fn of(count: usize, of: usize) -> Self {
        let [low, high] = exact(count.min(of), of, CONFIDENCE);
        Self { count, of, low, high }
    }
}

/// The share below which so many draws come out well with less than half of what the confidence
/// leaves, and the share above which no more do.
fn exact(count: usize, of: usize, confidence: f64) -> [f64; 2] {
    let tail = 0.5 * (1.0 - confidence);
    let (k, rest) = (count as f64, (of - count) as f64);
    let low = if count == 0 { 0.0 } else { quantile(tail, k, rest + 1.0) };
    let high = if count == of { 1.0 } else { quantile(1.0 - tail, k + 1.0, rest) };
    [low, high]
}

/// Where the beta distribution has this much below it, by halving.
fn quantile(part: f64, a: f64, b: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if beta_reg(a, b, middle) < part {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn is(found: [f64; 2], low: f64, high: f64) {
        let near = |a: f64, b: f64| (a - b).abs() < 2e-6;
        assert!(near(found[0], low) && near(found[1], high), "{found:?}");
    }

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1, and the examples of R's
    /// `binom.test` (from memory).
    #[test]
    fn intervals_are_the_published_ones() {
        is(exact(4, 20, 0.90), 0.071_354, 0.401_029);
        let [low, high] = exact(682, 925, 0.95);
        assert!((low - 0.707_668_3).abs() < 1e-6 && (high - 0.765_406_6).abs() < 1e-6);
    }

    /// With none or all well, the interval's open end has a closed form: `1 - (tail)^(1/n)`.
    #[test]
    fn none_and_all_have_a_closed_form() {
        for of in [1, 7, 300, 100_000] {
            let root = 0.025_f64.powf(1.0 / of as f64);
            is(exact(0, of, 0.95), 0.0, 1.0 - root);
            is(exact(of, of, 0.95), root, 1.0);
        }
    }

    /// The tails of the binomial distribution at the ends of the interval, summed term by term.
    #[test]
    fn tails_at_the_ends_are_half_of_what_the_confidence_leaves() {
        for (count, of) in [(1, 10), (7, 20), (33, 40), (150, 200)] {
            let [low, high] = exact(count, of, 0.95);
            let tail = |share: f64, from: usize, to: usize| -> f64 {
                let mut term = (1.0 - share).powi(i32::try_from(of).unwrap());
                let mut sum = 0.0;
                for k in 0..=of {
                    if (from..=to).contains(&k) {
                        sum += term;
                    }
                    term *= share / (1.0 - share) * (of - k) as f64 / (k + 1) as f64;
                }
                sum
            };
            assert!((tail(low, count, of) - 0.025).abs() < 1e-9);
            assert!((tail(high, 0, count) - 0.025).abs() < 1e-9);
        }
    }
}
