//! How much the mean of a group's shares weighs against its own counts: the concentration of a Dirichlet, by marginal likelihood.
//!
//! Shares of group `g` are Dirichlet with parameters `k w_g m_gj`: known means `m_gj`, known relative weights `w_g`, one unknown `k`.
//! Its counts are then Dirichlet-multinomial (Mosimann 1962, Biometrika 49:65; with two outcomes beta-binomial, Skellam 1948):
//! `P(n) = prod_j (k w m_j)^(rising n_j) / (k w)^(rising N)` up to the multinomial coefficient. Groups that differ from their means no
//! more than chance would have it drive `k` up; groups that differ a lot drive it down. Maximising over `k` is type-II maximum likelihood
//! (Good 1965, The Estimation of Probabilities).

use super::error::Error;
use super::rising_factorial::ln_rising_over_power;

/// One group.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Counts by outcome.
    pub counts: Vec<u64>,
    /// Mean share of each outcome; above 0 wherever something was counted.
    pub means: Vec<f64>,
    /// What the mean weighs at `k = 1`, in counts; above 0.
    pub weight: f64,
}

/// Points of the first look over the whole range.
const POINTS: usize = 60;

/// Halvings of the bracket around the best of them: to about nine digits.
const HALVINGS: usize = 45;

/// A maximum this near to an end of the range, in logarithms, is the end.
const END: f64 = 1e-6;

/// Logarithm of the probability of all counts at concentration `k`, less what does not depend on `k`.
pub fn ln_likelihood(groups: &[Group], k: f64) -> f64 {
    let of = |g: &Group| {
        let total = k * g.weight;
        let each = g.counts.iter().zip(&g.means).filter(|(n, _)| **n > 0);
        let up: f64 = each.map(|(n, m)| ln_rising_over_power(total * m, *n)).sum();
        up - ln_rising_over_power(total, g.counts.iter().sum())
    };
    groups.iter().map(of).sum()
}

/// What is known of a concentration: its posterior over a range, log-uniform beforehand.
///
/// Few groups say little of it, and its most probable value then follows noise; all values by their probability do not.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior(Vec<(f64, f64)>);

/// The posterior of the concentration within `least..=most`.
///
/// # Errors
/// As [`concentration`].
pub fn posterior(groups: &[Group], least: f64, most: f64) -> Result<Posterior, Error> {
    check(groups, least, most)?;
    let step = (most / least).ln() / POINTS as f64;
    let at = |i: usize| least * (step * i as f64).exp();
    let heights: Vec<f64> = (0..=POINTS).map(|i| ln_likelihood(groups, at(i))).collect();
    let top = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // The trapezoidal rule: the ends of the range count half.
    let part = |(i, h): (usize, &f64)| {
        let own = if i == 0 || i == POINTS { 0.5 } else { 1.0 };
        own * (h - top).exp()
    };
    let parts: Vec<f64> = heights.iter().enumerate().map(part).collect();
    let sum: f64 = parts.iter().sum();
    let each = parts.iter().enumerate();
    Ok(Posterior(each.map(|(i, p)| (at(i), p / sum)).collect()))
}

impl Posterior {
    /// What the mean weighs against the counts of a group of `n`, in counts.
    ///
    /// The expectation of `(k q + x) / (k + n)` over `k` is `(w q + x) / (w + n)` with `w = 1 / E[1 / (k + n)] - n`.
    pub fn weight(&self, n: u64) -> f64 {
        let n = n as f64;
        let inverse: f64 = self.0.iter().map(|(k, p)| p / (k + n)).sum();
        1.0 / inverse - n
    }
}

/// The concentration within `least..=most` that makes the counts most probable.
///
/// `most` where groups differ from their means less than chance would have it, or where nothing was counted.
///
/// # Errors
/// Bounds that are not `0 < least <= most < infinity`, lists of unequal length, a mean or weight that is not above 0.
pub fn concentration(groups: &[Group], least: f64, most: f64) -> Result<f64, Error> {
    check(groups, least, most)?;
    let (from, to) = (least.ln(), most.ln());
    let step = (to - from) / POINTS as f64;
    let at = |x: f64| ln_likelihood(groups, x.exp());
    let mut best = (at(to), to);
    for i in 0..POINTS {
        let x = from + step * i as f64;
        let value = at(x);
        if value > best.0 {
            best = (value, x);
        }
    }
    // Golden section around the best point; the ends of the range stay ends.
    let ratio = 0.5 * (5f64.sqrt() - 1.0);
    let (mut a, mut b) = ((best.1 - step).max(from), (best.1 + step).min(to));
    let (mut c, mut d) = (b - ratio * (b - a), a + ratio * (b - a));
    let (mut at_c, mut at_d) = (at(c), at(d));
    for _ in 0..HALVINGS {
        if at_c > at_d {
            (b, d, at_d) = (d, c, at_c);
            c = b - ratio * (b - a);
            at_c = at(c);
        } else {
            (a, c, at_c) = (c, d, at_d);
            d = a + ratio * (b - a);
            at_d = at(d);
        }
    }
    let inner = 0.5 * (a + b);
    let top = if at(inner) > best.0 { inner } else { best.1 };
    // At an end of the range it is the end itself, not a rounding away from it.
    Ok(match (top - from < END, to - top < END) {
        (true, _) => least,
        (_, true) => most,
        _ => top.exp(),
    })
}

fn check(groups: &[Group], least: f64, most: f64) -> Result<(), Error> {
    if !(least > 0.0 && least <= most && most.is_finite()) {
        return Err(Error::Input {
            name: "least, most",
            requirement: "bounds above 0, in this order",
        });
    }
    let good = |g: &Group| {
        let means = g
            .means
            .iter()
            .zip(&g.counts)
            .all(|(m, n)| *n == 0 || *m > 0.0);
        g.counts.len() == g.means.len() && means && g.weight > 0.0
    };
    if !groups.iter().all(good) {
        return Err(Error::Input {
            name: "groups",
            requirement: "a mean for each count, above 0 where something was counted, and a weight above 0",
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::ln_beta;
    use approx::assert_relative_eq;

    fn group(counts: &[u64], means: &[f64]) -> Group {
        Group {
            counts: counts.to_vec(),
            means: means.to_vec(),
            weight: 1.0,
        }
    }

    #[test]
    fn two_outcomes_are_beta_binomial() {
        let g = group(&[3, 9], &[0.4, 0.6]);
        let plain = |k: f64| ln_beta(0.4 * k + 3.0, 0.6 * k + 9.0) - ln_beta(0.4 * k, 0.6 * k);
        let shift = 3.0 * 0.4f64.ln() + 9.0 * 0.6f64.ln();
        for k in [0.5, 10.0, 3000.0] {
            assert_relative_eq!(
                ln_likelihood(std::slice::from_ref(&g), k) + shift,
                plain(k),
                max_relative = 1e-9
            );
        }
    }

    #[test]
    fn groups_like_their_means_weigh_nothing_and_unlike_ones_much() {
        let means = [0.5, 0.3, 0.2];
        let alike = [group(&[50, 30, 20], &means), group(&[25, 15, 10], &means)];
        assert_eq!(concentration(&alike, 1.0, 1e4), Ok(1e4));
        let unlike = [group(&[100, 0, 0], &means), group(&[0, 0, 90], &means)];
        assert_eq!(concentration(&unlike, 1.0, 1e4), Ok(1.0));
        assert_eq!(concentration(&[], 1.0, 50.0), Ok(50.0));
    }

    #[test]
    fn no_neighbour_is_more_likely() {
        let means = [0.5, 0.3, 0.2];
        let groups = [
            group(&[40, 5, 5], &means),
            group(&[10, 25, 10], &means),
            group(&[20, 10, 22], &means),
        ];
        let k = concentration(&groups, 0.1, 1e5).expect("a maximum");
        assert!((1.0..50.0).contains(&k), "{k}");
        for other in [0.99 * k, 1.01 * k] {
            assert!(ln_likelihood(&groups, other) < ln_likelihood(&groups, k));
        }
    }

    /// By hand: nothing counted leaves the posterior as it was, so 1 / E[1 / k] of a log-uniform k in 1..=e^2 is
    /// 2 / (1 - e^-2); the sum over points comes within the step.
    #[test]
    fn all_values_by_their_probability() {
        let blank = posterior(&[], 1.0, 2f64.exp()).expect("a posterior");
        let exact = 2.0 / (1.0 - (-2f64).exp());
        assert_relative_eq!(blank.weight(0), exact, max_relative = 1e-2);
        let means = [0.5, 0.3, 0.2];
        let unlike = [group(&[1000, 0, 0], &means), group(&[0, 0, 900], &means)];
        let sure = posterior(&unlike, 10.0, 1e4).expect("a posterior");
        assert_relative_eq!(sure.weight(50), 10.0, max_relative = 0.2);
        let expected: f64 = sure
            .0
            .iter()
            .map(|(k, p)| p * (k * 0.3 + 7.0) / (k + 50.0))
            .sum();
        let w = sure.weight(50);
        assert_relative_eq!((w * 0.3 + 7.0) / (w + 50.0), expected, max_relative = 1e-12);
    }

    #[test]
    fn refuses_what_has_no_likelihood() {
        for g in [
            group(&[1, 2], &[1.0]),
            group(&[1, 2], &[0.0, 1.0]),
            Group {
                weight: 0.0,
                ..group(&[1], &[1.0])
            },
        ] {
            assert!(concentration(&[g], 1.0, 2.0).is_err());
        }
        assert!(concentration(&[], 2.0, 1.0).is_err());
    }
}
