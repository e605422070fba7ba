//! A share as the ratio of two sums over clusters, with the intra-cluster correlation.

use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate, tail};
use crate::stats::overdispersion::{Heterogeneity, of_proportions};
use crate::stats::special::{beta_i_inverse, beta_q_inverse, student_t_quantile};

/// A pooled share with the variance that clusters give it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProportionEstimate {
    /// Clusters with trials.
    pub clusters: u64,
    /// Sum of successes.
    pub successes: u64,
    /// Sum of trials.
    pub trials: u64,
    /// Successes over trials.
    pub share: f64,
    /// Cluster-robust variance of the share, `m / (m - 1) sum (y - p n)^2 / N^2`; `None` for a single cluster.
    pub variance: Option<f64>,
    /// Variance if trials were independent, `p (1 - p) / N`.
    pub variance_binomial: f64,
    /// Design effect, the first variance over the second; `None` where either is missing or 0.
    pub design_effect: Option<f64>,
    /// Intra-cluster correlation by analysis of variance (Donner 1986, Int Stat Rev 54:67); may be negative. `None` where
    /// clusters leave it open: one cluster, one trial each, one outcome only.
    pub intracluster_correlation: Option<f64>,
    /// Heterogeneity of the clusters, with Pearson's dispersion phi.
    pub heterogeneity: Heterogeneity,
}

/// The share over `(successes, trials)` clusters with its cluster-robust variance.
///
/// # Errors
/// More successes than trials, no trial at all.
pub fn proportion_ratio_estimator(clusters: &[(u64, u64)]) -> Result<ProportionEstimate, Error> {
    let heterogeneity = of_proportions(clusters)?;
    let kept: Vec<(u64, u64)> = clusters.iter().copied().filter(|c| c.1 > 0).collect();
    let (successes, trials) = kept.iter().fold((0, 0), |(y, n), c| (y + c.0, n + c.1));
    let (m, total) = (kept.len() as f64, trials as f64);
    let share = successes as f64 / total;
    let squares: f64 = kept
        .iter()
        .map(|&(y, n)| (y as f64 - share * n as f64).powi(2))
        .sum();
    let variance = (kept.len() > 1).then(|| m / (m - 1.0) * squares / (total * total));
    let variance_binomial = share * (1.0 - share) / total;
    Ok(ProportionEstimate {
        clusters: kept.len() as u64,
        successes,
        trials,
        share,
        variance,
        variance_binomial,
        design_effect: variance
            .filter(|_| variance_binomial > 0.0)
            .map(|v| v / variance_binomial),
        intracluster_correlation: intracluster_correlation(&kept, share, total),
        heterogeneity,
    })
}

/// `(MSB - MSW) / (MSB + (n0 - 1) MSW)` with `n0 = (N - sum n^2 / N) / (m - 1)`.
fn intracluster_correlation(clusters: &[(u64, u64)], share: f64, total: f64) -> Option<f64> {
    let m = clusters.len() as f64;
    if m < 2.0 || total <= m || share <= 0.0 || share >= 1.0 {
        return None;
    }
    let (mut between, mut within, mut squares) = (0.0, 0.0, 0.0);
    for &(y, n) in clusters {
        let n = n as f64;
        let own = y as f64 / n;
        between += n * (own - share).powi(2);
        within += n * own * (1.0 - own);
        squares += n * n;
    }
    let (between, within) = (between / (m - 1.0), within / (total - m));
    let size = (total - squares / total) / (m - 1.0);
    Some((between - within) / (between + (size - 1.0) * within))
}

impl ProportionEstimate {
    /// Trials that would tell as much if they were independent, `N / design effect`.
    pub fn effective_trials(&self) -> Option<f64> {
        self.design_effect
            .filter(|&d| d > 0.0)
            .map(|d| self.trials as f64 / d)
    }

    /// Limits on the logit scale with Student's t, `m - 1` degrees of freedom; `None` for a single cluster or where every
    /// trial had one outcome.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_logit_t(&self, level: f64) -> Result<Option<Interval>, Error> {
        let t = self.t_deviate(level)?;
        let (p, q) = (self.share, 1.0 - self.share);
        Ok(self.spread().map(|s| {
            let (reach, odds) = (t * s / (p * q), p / q);
            let limit = |factor: f64| odds * factor / (1.0 + odds * factor);
            Interval {
                lower: limit((-reach).exp()),
                upper: limit(reach.exp()),
            }
        }))
    }

    /// Limits on the scale of the share itself with Student's t; may pass 0 or 1.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_plain_t(&self, level: f64) -> Result<Option<Interval>, Error> {
        let t = self.t_deviate(level)?;
        Ok(self.spread().map(|s| Interval {
            lower: self.share - t * s,
            upper: self.share + t * s,
        }))
    }

    /// Limits on the arcsine scale with Student's t.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_arcsine_t(&self, level: f64) -> Result<Option<Interval>, Error> {
        let t = self.t_deviate(level)?;
        let centre = self.share.sqrt().asin();
        Ok(self.spread().map(|s| {
            let reach = t * s / (2.0 * (self.share * (1.0 - self.share)).sqrt());
            let limit = |angle: f64| angle.clamp(0.0, std::f64::consts::FRAC_PI_2).sin().powi(2);
            Interval {
                lower: limit(centre - reach),
                upper: limit(centre + reach),
            }
        }))
    }

    /// Clopper-Pearson limits for the effective number of trials, shrunk by the ratio of t deviates with `N - 1` and `m - 1`
    /// degrees of freedom (Korn & Graubard 1998, Survey Methodology 24:193).
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_korn_graubard(&self, level: f64) -> Result<Option<Interval>, Error> {
        let (alpha, t) = (tail(level)?, self.t_deviate(level)?);
        let t_trials = student_t_quantile(alpha, self.trials as f64 - 1.0);
        Ok(self.spread().map(|s| {
            let n = self.share * (1.0 - self.share) / (s * s) * (t_trials / t).powi(2);
            let (y, rest) = (n * self.share, n * (1.0 - self.share));
            Interval {
                lower: beta_i_inverse(y, rest + 1.0, alpha).x,
                upper: beta_q_inverse(y + 1.0, rest, alpha).x,
            }
        }))
    }

    /// Wilson limits for the effective number of trials.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_wilson_effective(&self, level: f64) -> Result<Option<Interval>, Error> {
        let z2 = normal_deviate(level)?.powi(2);
        let p = self.share;
        Ok(self.effective_trials().map(|n| {
            let centre = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
            let reach = (z2 * (p * (1.0 - p) / n + z2 / (4.0 * n * n))).sqrt() / (1.0 + z2 / n);
            Interval {
                lower: centre - reach,
                upper: centre + reach,
            }
        }))
    }

    fn t_deviate(&self, level: f64) -> Result<f64, Error> {
        Ok(-student_t_quantile(
            tail(level)?,
            self.clusters as f64 - 1.0,
        ))
    }

    /// Standard error, where there is one above 0 and the share is inside (0, 1).
    fn spread(&self) -> Option<f64> {
        self.variance
            .filter(|&v| v > 0.0 && self.variance_binomial > 0.0)
            .map(f64::sqrt)
    }
}
