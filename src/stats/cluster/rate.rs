//! A rate as the ratio of two sums over clusters.

use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate, tail};
use crate::stats::overdispersion::{Heterogeneity, of_rates, with_exposure};
use crate::stats::special::student_t_quantile;

/// A pooled rate with the variance that clusters give it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateEstimate {
    /// Clusters with exposure.
    pub clusters: u64,
    /// Sum of events.
    pub events: u64,
    /// Sum of exposures.
    pub exposure: f64,
    /// Events over exposure.
    pub rate: f64,
    /// Cluster-robust variance of the rate, `m / (m - 1) sum (y - r t)^2 / T^2`; `None` for a single cluster.
    pub variance: Option<f64>,
    /// Variance if events were independent, `r / T`.
    pub variance_poisson: f64,
    /// Design effect, the first variance over the second; `None` where either is missing or 0.
    pub design_effect: Option<f64>,
    /// Heterogeneity of the clusters, with Pearson's dispersion phi.
    pub heterogeneity: Heterogeneity,
}

/// The rate of `(events, exposure)` clusters with its cluster-robust variance (Cochran 1977, eq. 6.12 with `m / (m - 1)`).
///
/// # Errors
/// An exposure that is negative or not finite, events without exposure, no exposure at all.
pub fn rate_ratio_estimator(clusters: &[(u64, f64)]) -> Result<RateEstimate, Error> {
    let kept = with_exposure(clusters)?;
    let heterogeneity = of_rates(&kept)?;
    let events: u64 = kept.iter().map(|c| c.0).sum();
    let exposure: f64 = kept.iter().map(|c| c.1).sum();
    let (m, rate) = (kept.len() as f64, events as f64 / exposure);
    let squares: f64 = kept
        .iter()
        .map(|&(y, t)| (y as f64 - rate * t).powi(2))
        .sum();
    let variance = (kept.len() > 1).then(|| m / (m - 1.0) * squares / exposure.powi(2));
    let variance_poisson = rate / exposure;
    Ok(RateEstimate {
        clusters: kept.len() as u64,
        events,
        exposure,
        rate,
        variance,
        variance_poisson,
        design_effect: variance
            .filter(|_| events > 0)
            .map(|v| v / variance_poisson),
        heterogeneity,
    })
}

impl RateEstimate {
    /// Quasi-Poisson standard error, `sqrt(phi r / T)` (McCullagh & Nelder 1989, section 6.2.3).
    pub fn standard_error_quasi(&self) -> Option<f64> {
        self.heterogeneity
            .phi
            .map(|phi| (phi * self.variance_poisson).sqrt())
    }

    /// Cluster-robust limits on the log scale with Student's t, `m - 1` degrees of freedom; `None` for a single cluster or
    /// without events.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_log_t(&self, level: f64) -> Result<Option<Interval>, Error> {
        let t = -student_t_quantile(tail(level)?, self.clusters as f64 - 1.0);
        Ok(self.on_log_scale(self.variance.map(f64::sqrt), t))
    }

    /// Cluster-robust limits on the log scale with the normal deviate; too narrow for few clusters.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_log_z(&self, level: f64) -> Result<Option<Interval>, Error> {
        Ok(self.on_log_scale(self.variance.map(f64::sqrt), normal_deviate(level)?))
    }

    /// Quasi-Poisson limits on the log scale with the normal deviate.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn interval_quasi_log_z(&self, level: f64) -> Result<Option<Interval>, Error> {
        Ok(self.on_log_scale(self.standard_error_quasi(), normal_deviate(level)?))
    }

    fn on_log_scale(&self, standard_error: Option<f64>, deviate: f64) -> Option<Interval> {
        let reach = standard_error.filter(|_| self.events > 0)? * deviate / self.rate;
        Some(Interval {
            lower: self.rate * (-reach).exp(),
            upper: self.rate * reach.exp(),
        })
    }
}
