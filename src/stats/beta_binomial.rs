//! Shares of many groups that differ from each other by a beta distribution: shrunk shares, and whether groups differ at all.
//!
//! The twin of [`super::gamma_poisson`] for successes among trials: with true shares spread as a beta distribution of
//! parameters `a` and `b`, the successes of a group have a beta-binomial distribution, and its share given its own `y` of `n`
//! is beta with `a + y` and `b + n - y` (Skellam 1948, J R Stat Soc B 10:257; Griffiths 1973, Biometrics 29:637).

use super::bracketed_root::bracketed_root;
use super::dispersion_profile::{Point, highest};
use super::error::Error;
use super::interval::{Interval, tail};
use super::proportion::clopper_pearson;
use super::rising_factorial::{digamma_difference, ln_rising_over_power};
use super::special::{beta_i_inverse, beta_q_inverse, chi2_sf, ln_choose};

/// What the maximum of the marginal likelihood says about the spread of shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// First parameter of the beta distribution of shares; infinite on the boundary (0 where no success was seen at all,
    /// with `b` infinite, and the other way round).
    pub a: f64,
    /// Second parameter.
    pub b: f64,
    /// Mean `a / (a + b)`; on the boundary the pooled share.
    pub mean: f64,
    /// Intra-group correlation `1 / (a + b + 1)`; 0 on the boundary.
    pub correlation: f64,
    /// True if the maximum is at "no spread": groups vary no more than binomial counts of one common share do.
    pub boundary: bool,
    /// Maximum of the marginal log-likelihood, binomial coefficients included.
    pub log_likelihood: f64,
    /// Maximum of the log-likelihood with one common share.
    pub log_likelihood_binomial: f64,
    /// Likelihood ratio statistic against one common share, 0 on the boundary.
    pub likelihood_ratio: f64,
    /// Its p-value, half a chi-square(1) tail (Self & Liang 1987, J Am Stat Assoc 82:605); 1 on the boundary.
    pub p: f64,
    /// Sum of successes.
    pub successes: u64,
    /// Sum of trials.
    pub trials: u64,
}

/// A group's share after borrowing from all groups.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShrunkShare {
    /// Posterior mean, `(a + y) / (a + b + n)`.
    pub mean: f64,
    /// Lower and upper posterior limits.
    pub interval: Interval,
    /// Weight of the group's own share in the mean, `n / (a + b + n)`.
    pub own_weight: f64,
}

/// Fits the beta distribution of shares to `(successes, trials)` groups by marginal maximum likelihood.
///
/// Groups without trials tell nothing and are passed over. A single group, groups of one trial each, or groups that vary less
/// than binomial counts give the boundary.
///
/// # Errors
/// More successes than trials, no trial at all, a search without end.
pub fn fit(groups: &[(u64, u64)]) -> Result<Fit, Error> {
    if let Some(&(successes, trials)) = groups.iter().find(|(y, n)| y > n) {
        return Err(Error::Proportion { successes, trials });
    }
    let groups: Vec<_> = groups.iter().copied().filter(|&(_, n)| n > 0).collect();
    let (successes, trials) = groups
        .iter()
        .fold((0, 0), |(y, n), group| (y + group.0, n + group.1));
    if trials == 0 {
        return Err(Error::Proportion { successes, trials });
    }
    let pooled = successes as f64 / trials as f64;
    let binomial = groups.iter().map(|&(y, n)| ln_binomial(y, n, pooled)).sum();
    let end = |count: u64| if count == 0 { 0.0 } else { f64::INFINITY };
    let mut fit = Fit {
        a: end(successes),
        b: end(trials - successes),
        mean: pooled,
        correlation: 0.0,
        boundary: true,
        log_likelihood: binomial,
        log_likelihood_binomial: binomial,
        likelihood_ratio: 0.0,
        p: 1.0,
        successes,
        trials,
    };
    if successes == 0 || successes == trials || groups.len() == 1 {
        return Ok(fit);
    }
    let low = -(trials as f64).ln() - 16.0;
    let profile = |ln_theta: f64| {
        let total = 1.0 / ln_theta.exp();
        let mean = mean_given_spread(&groups, total, pooled)?;
        let gain = groups
            .iter()
            .map(|&(y, n)| ln_mixed(y, n, total, mean))
            .sum::<f64>()
            - binomial;
        Ok(Point {
            ln_theta,
            gain,
            slope: -total * score_of_total(&groups, total, mean),
        })
    };
    let Some(ln_theta) = highest("the spread of shares", low, 16.0, profile)? else {
        return Ok(fit);
    };
    let total = 1.0 / ln_theta.exp();
    fit.boundary = false;
    fit.mean = mean_given_spread(&groups, total, pooled)?;
    (fit.a, fit.b) = (fit.mean * total, (1.0 - fit.mean) * total);
    fit.correlation = 1.0 / (total + 1.0);
    fit.log_likelihood = groups
        .iter()
        .map(|&(y, n)| ln_mixed(y, n, total, fit.mean))
        .sum();
    fit.likelihood_ratio = (2.0 * (fit.log_likelihood - binomial)).max(0.0);
    fit.p = 0.5 * chi2_sf(fit.likelihood_ratio, 1.0);
    Ok(fit)
}

impl Fit {
    /// The share of a group with `successes` of `trials`, shrunk towards all groups, with posterior limits at `level`.
    ///
    /// The limits are quantiles of the beta posterior with the fitted `a` and `b` plugged in; they leave out how well these
    /// two are known and so are somewhat narrow. On the boundary every group has the pooled share, and the limits are
    /// Clopper and Pearson's for it. No trial gives the share of all.
    ///
    /// # Errors
    /// A level outside (0, 1), more successes than trials.
    pub fn shrunk(&self, successes: u64, trials: u64, level: f64) -> Result<ShrunkShare, Error> {
        let tail = tail(level)?;
        if successes > trials {
            return Err(Error::Proportion { successes, trials });
        }
        if self.boundary {
            let interval = clopper_pearson(self.successes, self.trials, level)?;
            return Ok(ShrunkShare {
                mean: self.mean,
                interval,
                own_weight: 0.0,
            });
        }
        let (a, b) = (
            self.a + successes as f64,
            self.b + (trials - successes) as f64,
        );
        let interval = Interval {
            lower: beta_i_inverse(a, b, tail).x,
            upper: beta_q_inverse(a, b, tail).x,
        };
        let weight = trials as f64 / (self.a + self.b + trials as f64);
        Ok(ShrunkShare {
            mean: a / (a + b),
            interval,
            own_weight: weight,
        })
    }
}

/// The mean share that maximises the likelihood for a given `total = a + b`. The score falls in the mean.
fn mean_given_spread(groups: &[(u64, u64)], total: f64, pooled: f64) -> Result<f64, Error> {
    let share = |log_odds: f64| 1.0 / (1.0 + (-log_odds).exp());
    let score = |log_odds: f64| {
        let (mean, rest) = (share(log_odds), share(-log_odds));
        // Scaled by the mean and the rest, which keeps it finite at both ends and changes no sign.
        let pull = |(y, n): &(u64, u64)| {
            rest * (mean * total * digamma_difference(mean * total, *y))
                - mean * (rest * total * digamma_difference(rest * total, n - y))
        };
        groups.iter().map(pull).sum::<f64>()
    };
    let start = (pooled / (1.0 - pooled)).ln();
    let outwards = if score(start) > 0.0 { 1.0 } else { -1.0 };
    let mut reach = 0.5;
    while reach < 600.0 && score(start + outwards * reach) * outwards > 0.0 {
        reach *= 2.0;
    }
    let ends = if outwards > 0.0 {
        (start, start + reach)
    } else {
        (start - reach, start)
    };
    Ok(share(bracketed_root(
        "the mean share",
        ends.0,
        ends.1,
        score,
    )?))
}

/// `ln` of the binomial probability of `y` among `n` at share `p`.
fn ln_binomial(y: u64, n: u64, p: f64) -> f64 {
    let part = |count: u64, share: f64| {
        if count == 0 {
            0.0
        } else {
            count as f64 * share.ln()
        }
    };
    ln_choose(n, y) + part(y, p) + part(n - y, 1.0 - p)
}

/// `ln` of the beta-binomial probability: the binomial one times three rising factorials over their powers.
fn ln_mixed(y: u64, n: u64, total: f64, mean: f64) -> f64 {
    ln_binomial(y, n, mean)
        + ln_rising_over_power(mean * total, y)
        + ln_rising_over_power((1.0 - mean) * total, n - y)
        - ln_rising_over_power(total, n)
}

/// Derivative of the log-likelihood by `total = a + b` at a fixed mean.
fn score_of_total(groups: &[(u64, u64)], total: f64, mean: f64) -> f64 {
    let rest = 1.0 - mean;
    groups
        .iter()
        .map(|&(y, n)| {
            mean * digamma_difference(mean * total, y)
                + rest * digamma_difference(rest * total, n - y)
                - digamma_difference(total, n)
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::ln_beta;
    use approx::assert_relative_eq;

    #[test]
    fn no_neighbour_is_more_likely() {
        let groups = [(0_u64, 8_u64), (5, 9), (3, 30), (22, 25), (1, 1)];
        let plain = |a: f64, b: f64| -> f64 {
            groups
                .iter()
                .map(|&(y, n)| {
                    ln_choose(n, y) + ln_beta(a + y as f64, b + (n - y) as f64) - ln_beta(a, b)
                })
                .sum()
        };
        let fit = fit(&groups).unwrap();
        assert_relative_eq!(
            fit.log_likelihood,
            plain(fit.a, fit.b),
            max_relative = 1e-12
        );
        for (da, db) in [
            (1e-3, 0.0),
            (-1e-3, 0.0),
            (0.0, 1e-3),
            (0.0, -1e-3),
            (1e-3, 1e-3),
            (-1e-3, -1e-3),
        ] {
            assert!(plain(fit.a * (1.0 + da), fit.b * (1.0 + db)) < fit.log_likelihood);
        }
        let turned = super::fit(&groups.map(|(y, n)| (n - y, n))).unwrap();
        assert_relative_eq!(turned.a, fit.b, max_relative = 1e-9);
        assert_relative_eq!(turned.b, fit.a, max_relative = 1e-9);
    }

    #[test]
    fn shrinks_towards_all() {
        let groups = [(0, 8), (5, 9), (3, 30), (22, 25), (0, 0)];
        let fit = fit(&groups).unwrap();
        for (y, n) in groups {
            let shrunk = fit.shrunk(y, n, 0.95).unwrap();
            let own = if n == 0 { 0.0 } else { y as f64 / n as f64 };
            assert_relative_eq!(
                shrunk.mean,
                own * shrunk.own_weight + fit.mean * (1.0 - shrunk.own_weight),
                max_relative = 1e-12
            );
            assert!(shrunk.interval.lower < shrunk.mean && shrunk.mean < shrunk.interval.upper);
        }
    }

    #[test]
    fn edges_and_bad_input() {
        for groups in [
            &[(0, 8), (0, 3)][..],
            &[(8, 8), (3, 3)],
            &[(4, 9)],
            &[(1, 1), (0, 1), (0, 1)],
            &[(2, 5), (0, 0)],
        ] {
            let fit = fit(groups).unwrap();
            assert!(
                fit.boundary && fit.p == 1.0 && fit.correlation == 0.0,
                "{groups:?}"
            );
            assert_eq!(fit.shrunk(1, 2, 0.95).unwrap().mean, fit.mean);
        }
        // All or nothing in every group: the spread is as large as the scan goes, yet settles or is said not to.
        assert!(
            fit(&[(0, 1000), (1000, 1000), (0, 1000)]).map_or(true, |fit| fit.correlation > 0.9)
        );
        let huge = fit(&[
            (500_000_000, 1_000_000_000),
            (510_000_000, 1_000_000_000),
            (490_000_000, 1_000_000_000),
        ])
        .unwrap();
        assert_relative_eq!(huge.mean, 0.5, max_relative = 1e-9);
        assert_relative_eq!(
            1.0 / huge.correlation,
            0.25 / (2.0 * 0.01 * 0.01 / 3.0),
            max_relative = 1e-2
        );
        for groups in [&[][..], &[(0, 0)], &[(3, 2)]] {
            assert!(fit(groups).is_err(), "{groups:?}");
        }
    }
}
