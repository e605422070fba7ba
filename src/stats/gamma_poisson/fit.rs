//! The fit to all cells, and a cell's rate under it.

use super::likelihood::{
    alike, covariance_of_logs, ln_likelihood, ln_poisson, mean_given_spread, score_of_shape,
};
use crate::stats::dispersion_profile::{Point, highest};
use crate::stats::error::Error;
use crate::stats::interval::{Interval, tail};
use crate::stats::overdispersion::with_exposure;
use crate::stats::poisson_rate::garwood;
use crate::stats::special::{chi2_sf, gamma_p_inverse, gamma_q_inverse};

/// What the maximum of the marginal likelihood says about the spread of rates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Shape `a` of the gamma distribution of rates (1 / squared coefficient of variation); infinite on the boundary.
    pub shape: f64,
    /// Rate `b` of the gamma distribution, in units of exposure; infinite on the boundary.
    pub rate: f64,
    /// Mean `a / b` of the gamma distribution; on the boundary the pooled rate.
    pub mean: f64,
    /// True if the maximum is at "no spread": the cells vary no more than Poisson counts of one common rate do.
    pub boundary: bool,
    /// Covariance of `(ln shape, ln rate)` from the observed information; `None` on the boundary.
    pub covariance_of_logs: Option<[[f64; 2]; 2]>,
    /// Maximum of the marginal log-likelihood.
    pub log_likelihood: f64,
    /// Maximum of the log-likelihood with one common rate.
    pub log_likelihood_poisson: f64,
    /// Likelihood ratio statistic against one common rate, 0 on the boundary.
    pub likelihood_ratio: f64,
    /// Its p-value: half a chi-square(1) tail, because under one common rate the statistic is 0 half of the time
    /// (Self & Liang 1987, J Am Stat Assoc 82:605, case 5); 1 on the boundary.
    pub p: f64,
    /// Sum of counts.
    pub events: u64,
    /// Sum of exposures.
    pub exposure: f64,
}

/// A cell's rate after borrowing from all cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShrunkRate {
    /// Posterior mean, `(a + y) / (b + t)`.
    pub mean: f64,
    /// Lower and upper posterior limits.
    pub interval: Interval,
    /// Weight of the cell's own rate in the mean, `t / (b + t)`; the rest is the weight of `a / b`.
    pub own_weight: f64,
}

/// Fits the gamma distribution of rates to `(count, exposure)` cells by marginal maximum likelihood.
///
/// Cells without exposure and count tell nothing and are passed over. A single cell, or cells that vary less than Poisson
/// counts, give the boundary.
///
/// # Errors
/// An exposure that is negative or not finite, counts without exposure, no exposure at all, a search without end.
pub fn fit(cells: &[(u64, f64)]) -> Result<Fit, Error> {
    let cells = with_exposure(cells)?;
    let single = cells.len() == 1;
    let events: u64 = cells.iter().map(|c| c.0).sum();
    let exposure: f64 = cells.iter().map(|c| c.1).sum();
    let pooled = events as f64 / exposure;
    let cells = alike(cells);
    let poisson: f64 = cells
        .iter()
        .map(|c| c.times * ln_poisson(c.count as f64, pooled * c.exposure))
        .sum();
    let mut fit = Fit {
        shape: f64::INFINITY,
        rate: f64::INFINITY,
        mean: pooled,
        boundary: true,
        covariance_of_logs: None,
        log_likelihood: poisson,
        log_likelihood_poisson: poisson,
        likelihood_ratio: 0.0,
        p: 1.0,
        events,
        exposure,
    };
    if events == 0 || single {
        return Ok(fit);
    }
    // From a spread far too small to be seen in these counts to one far larger than any.
    let low = -(events as f64).ln() - 16.0;
    let profile = |ln_theta: f64| {
        let (shape, mean) = (
            1.0 / ln_theta.exp(),
            mean_given_spread(&cells, ln_theta.exp(), pooled)?,
        );
        let gain = ln_likelihood(&cells, shape, mean) - poisson;
        Ok(Point {
            ln_theta,
            gain,
            slope: -shape * score_of_shape(&cells, shape, mean),
        })
    };
    let Some(ln_theta) = highest("the spread of rates", low, 16.0, profile)? else {
        return Ok(fit);
    };
    let theta = ln_theta.exp();
    fit.boundary = false;
    fit.mean = mean_given_spread(&cells, theta, pooled)?;
    fit.shape = 1.0 / theta;
    fit.rate = fit.shape / fit.mean;
    fit.log_likelihood = ln_likelihood(&cells, fit.shape, fit.mean);
    fit.likelihood_ratio = (2.0 * (fit.log_likelihood - poisson)).max(0.0);
    fit.p = 0.5 * chi2_sf(fit.likelihood_ratio, 1.0);
    fit.covariance_of_logs = covariance_of_logs(&cells, fit.shape, fit.rate);
    Ok(fit)
}

impl Fit {
    /// The posterior mean `(a + count) / (b + exposure)`; on the boundary the pooled rate.
    pub fn mean(&self, count: u64, exposure: f64) -> f64 {
        if self.boundary {
            self.mean
        } else {
            (self.shape + count as f64) / (self.rate + exposure)
        }
    }

    /// The rate of a cell with `count` events on `exposure`, shrunk towards all cells, with posterior limits at `level`.
    ///
    /// The limits are quantiles of the gamma posterior with the fitted `a` and `b` plugged in; they leave out how well these
    /// two are known and so are somewhat narrow, the more so the fewer the cells (Morris 1983, J Am Stat Assoc 78:47). On the
    /// boundary every cell has the pooled rate, and the limits are Garwood's for it. Exposure 0 gives the rate of all.
    ///
    /// # Errors
    /// A level outside (0, 1), an exposure that is negative or not finite.
    pub fn shrunk(&self, count: u64, exposure: f64, level: f64) -> Result<ShrunkRate, Error> {
        let tail = tail(level)?;
        if !(exposure >= 0.0 && exposure.is_finite()) {
            return Err(Error::Parameter {
                name: "exposure",
                value: exposure,
                requirement: "at least 0 and finite",
            });
        }
        if self.boundary {
            let interval = garwood(self.events, self.exposure, level)?;
            return Ok(ShrunkRate {
                mean: self.mean,
                interval,
                own_weight: 0.0,
            });
        }
        let (shape, rate) = (self.shape + count as f64, self.rate + exposure);
        let interval = Interval {
            lower: gamma_p_inverse(shape, tail) / rate,
            upper: gamma_q_inverse(shape, tail) / rate,
        };
        Ok(ShrunkRate {
            mean: self.mean(count, exposure),
            interval,
            own_weight: exposure / rate,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// The maximum is a maximum: the log-likelihood written out with `ln Gamma` falls to every side of it.
    #[test]
    fn no_neighbour_is_more_likely() {
        use crate::stats::special::ln_gamma;
        let cells = [
            (0_u32, 3.0_f64),
            (4, 10.0),
            (1, 0.5),
            (30, 12.0),
            (2, 9.0),
            (0, 1.0),
        ];
        let plain = |a: f64, b: f64| -> f64 {
            cells
                .iter()
                .map(|&(y, t)| {
                    let y = f64::from(y);
                    ln_gamma(a + y) - ln_gamma(a) - ln_gamma(y + 1.0)
                        + a * (b / (b + t)).ln()
                        + y * (t / (b + t)).ln()
                })
                .sum()
        };
        let cells: Vec<(u64, f64)> = cells.iter().map(|&(y, t)| (u64::from(y), t)).collect();
        let fit = fit(&cells).unwrap();
        assert_relative_eq!(
            fit.log_likelihood,
            plain(fit.shape, fit.rate),
            max_relative = 1e-13
        );
        for (da, db) in [
            (1e-3, 0.0),
            (-1e-3, 0.0),
            (0.0, 1e-3),
            (0.0, -1e-3),
            (1e-3, 1e-3),
            (-1e-3, -1e-3),
        ] {
            assert!(plain(fit.shape * (1.0 + da), fit.rate * (1.0 + db)) < fit.log_likelihood);
        }
    }

    /// Equal exposures have their boundary where the variance of counts is their mean (closed form).
    #[test]
    fn boundary_is_where_variance_equals_mean() {
        let with =
            |counts: &[u64]| fit(&counts.iter().map(|&y| (y, 2.0)).collect::<Vec<_>>()).unwrap();
        // Mean 10: squares about it sum to 38 and 42 against 4 * 10.
        assert!(with(&[6, 12, 13, 9]).boundary);
        let over = with(&[6, 14, 13, 7]);
        assert!(!over.boundary && over.shape > 10.0 && over.p < 0.5);
        assert_relative_eq!(over.mean, 5.0, max_relative = 1e-12);
    }

    /// Two kinds of cells: the shrunk rates keep the order, move towards the middle, and the weight says by how much.
    #[test]
    fn shrinks_towards_all() {
        let cells = [(0, 10.0), (2, 10.0), (40, 100.0), (500, 1000.0), (30, 20.0)];
        let fit = fit(&cells).unwrap();
        for (y, t) in cells {
            let (own, shrunk) = (y as f64 / t, fit.shrunk(y, t, 0.95).unwrap());
            assert_relative_eq!(
                shrunk.mean,
                own * shrunk.own_weight + fit.mean * (1.0 - shrunk.own_weight),
                max_relative = 1e-12
            );
            assert!(shrunk.interval.lower < shrunk.mean && shrunk.mean < shrunk.interval.upper);
        }
        let unseen = fit.shrunk(0, 0.0, 0.9).unwrap();
        assert_relative_eq!(unseen.mean, fit.mean, max_relative = 1e-14);
    }

    /// Counts of 10^9: spread of 1 % is found although each count's own error is 3e-5 of it.
    #[test]
    fn huge_counts() {
        let cells: Vec<(u64, f64)> = [0.99, 1.01, 1.0, 1.015, 0.985]
            .iter()
            .map(|r| ((r * 1e9) as u64, 1e9))
            .collect();
        let fit = fit(&cells).unwrap();
        let variance = [0.01_f64, 0.01, 0.0, 0.015, 0.015]
            .iter()
            .map(|d| d * d)
            .sum::<f64>()
            / 5.0;
        assert_relative_eq!(fit.shape, 1.0 / variance, max_relative = 1e-3);
        assert_relative_eq!(fit.mean, 1.0, max_relative = 1e-6);
        let same = super::fit(&[
            (1_000_000_000, 1e9),
            (1_000_010_000, 1e9),
            (999_990_000, 1e9),
        ])
        .unwrap();
        assert!(same.boundary);
    }

    #[test]
    fn edges_and_bad_input() {
        for cells in [
            &[(0, 5.0), (0, 7.0)][..],
            &[(9, 2.0)],
            &[(3, 1.0), (0, 0.0)],
            &[(1, 1.0), (0, 1.0), (0, 1.0)],
        ] {
            let fit = fit(cells).unwrap();
            assert!(fit.boundary && fit.p == 1.0, "{cells:?}");
            let shrunk = fit.shrunk(0, 1.0, 0.95).unwrap();
            assert_eq!(shrunk.mean, fit.mean);
            assert!(shrunk.interval.lower <= shrunk.mean && shrunk.mean < shrunk.interval.upper);
        }
        // Extremes of spread and of exposure settle, too.
        for cells in [
            &[(1000, 1e-6), (0, 1e6)][..],
            &[(0, 1.0), (0, 1.0), (0, 1.0), (10_000_000, 1.0)],
            &[(7, 1e-300), (8, 1e-300)],
        ] {
            assert!(fit(cells).unwrap().mean.is_finite(), "{cells:?}");
        }
        for cells in [
            &[][..],
            &[(0, 0.0)],
            &[(1, 0.0)],
            &[(1, -1.0)],
            &[(1, f64::NAN)],
            &[(1, f64::INFINITY)],
        ] {
            assert!(fit(cells).is_err(), "{cells:?}");
        }
        let fit = fit(&[(1, 1.0), (9, 1.0)]).unwrap();
        assert!(fit.shrunk(1, 1.0, 1.0).is_err() && fit.shrunk(1, f64::NAN, 0.9).is_err());
    }
}
