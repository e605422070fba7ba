//! A fitted lifetime distribution: estimates, covariance, and limits by the normal approximation.
//!
//! With few failures show the likelihood-ratio limits instead ([`super::likelihood_interval`]): they follow the likelihood's
//! own, lopsided shape.

use super::family::Family;
use super::likelihood::{Likelihood, Parameters};
use super::maximum::maximum;
use super::observed::Observed;
use super::unfitted::Unfitted;
use crate::stats::interval::normal_deviate;
use crate::stats::special::ln_gamma;
use crate::stats::{Error, Interval};

/// Maximum-likelihood estimates of one family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// The family.
    pub family: Family,
    /// mu and ln sigma.
    pub parameters: Parameters,
    /// Covariance of (mu, ln sigma): the inverse of minus the second derivatives.
    pub covariance: [[f64; 2]; 2],
    /// ln L with the density of t.
    pub log_likelihood: f64,
    /// Failures behind the fit.
    pub failures: u64,
    /// Lives behind the fit.
    pub lives: u64,
}

/// An estimate with the standard error of its own scale and limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Its standard error (delta method).
    pub standard_error: f64,
    /// Limits by the normal approximation on the scale the function names.
    pub wald: Interval,
}

/// Fits a family by maximum likelihood with late entry, right censoring and failures known only to be past.
///
/// # Errors
/// [`Unfitted`]: too few failures, no finite maximum, or a maximum not reached.
pub fn fit(family: Family, observed: &Observed) -> Result<Fit, Unfitted> {
    if observed.failures() < 2 || observed.failure_distances() < 2 {
        return Err(Unfitted::TooFewFailures {
            failures: observed.failures(),
            distances: observed.failure_distances(),
        });
    }
    let (parameters, surface) = maximum(family, observed)?;
    let [[a, b], [_, c]] = surface.hessian;
    let determinant = a * c - b * b;
    Ok(Fit {
        family,
        parameters,
        covariance: [
            [-c / determinant, b / determinant],
            [b / determinant, -a / determinant],
        ],
        log_likelihood: surface.value,
        failures: observed.failures(),
        lives: observed.lives(),
    })
}

impl Fit {
    /// sigma.
    pub fn sigma(&self) -> f64 {
        self.parameters.log_scale.exp()
    }

    /// exp(mu): eta of a Weibull, the median of a lognormal or loglogistic. Limits on the log scale.
    ///
    /// # Errors
    /// [`Error::Level`].
    pub fn scale(&self, level: f64) -> Result<Estimate, Error> {
        self.on_log_scale(self.parameters.location, [1.0, 0.0], level)
    }

    /// 1 / sigma: beta of a Weibull. Limits on the log scale.
    ///
    /// # Errors
    /// [`Error::Level`].
    pub fn shape(&self, level: f64) -> Result<Estimate, Error> {
        self.on_log_scale(-self.parameters.log_scale, [0.0, -1.0], level)
    }

    /// The distance by which a share has failed. Limits on the log scale.
    ///
    /// # Errors
    /// [`Error::Level`]; [`Error::Parameter`] unless 0 < share < 1.
    pub fn quantile(&self, share: f64, level: f64) -> Result<Estimate, Error> {
        let step = self.sigma() * self.standard_quantile(share)?;
        self.on_log_scale(self.parameters.location + step, [1.0, step], level)
    }

    pub(super) fn standard_quantile(&self, share: f64) -> Result<f64, Error> {
        if !(share > 0.0 && share < 1.0) {
            return Err(Error::Parameter {
                name: "share",
                value: share,
                requirement: "a quantile's share must lie strictly between 0 and 1",
            });
        }
        Ok(self.family.standard_quantile(share))
    }

    /// S(t).
    pub fn survival(&self, distance: f64) -> f64 {
        self.family
            .log_survival(self.standardised(distance))
            .value
            .exp()
    }

    /// The probability that a life that has reached `from` fails before `to`: 1 - S(to) / S(from), without cancellation.
    pub fn failure_probability(&self, from: f64, to: f64) -> f64 {
        let (from, to) = (self.standardised(from), self.standardised(to));
        -(-self.family.hazard_between(from, to)).exp_m1()
    }

    /// [`Self::failure_probability`] with standard error and limits on ln(q / (1 - q)).
    ///
    /// # Errors
    /// [`Error::Level`]; [`Error::Parameter`] unless 0 <= from < to.
    pub fn failure_probability_estimate(
        &self,
        from: f64,
        to: f64,
        level: f64,
    ) -> Result<Estimate, Error> {
        let deviate = normal_deviate(level)?;
        check_stretch(from, to)?;
        let (start, end) = (self.standardised(from), self.standardised(to));
        let hazard = self.family.hazard_between(start, end);
        let gradient = hazard_gradient(self.family, start, end, self.sigma());
        let (q, s) = (-(-hazard).exp_m1(), (-hazard).exp());
        let standard_error = s * self.error_of(gradient);
        let (centre, half) = (q.ln() + hazard, deviate * standard_error / (q * s));
        let share = |log_odds: f64| 1.0 / (1.0 + (-log_odds).exp());
        Ok(Estimate {
            value: q,
            standard_error,
            wald: Interval {
                lower: share(centre - half),
                upper: share(centre + half),
            },
        })
    }

    /// The hazard at a distance, failures a unit of distance among lives that reach it.
    pub fn hazard(&self, distance: f64) -> f64 {
        let z = self.standardised(distance);
        -self.family.log_survival(z).slope / (self.sigma() * distance)
    }

    /// The mean distance to failure; none for a loglogistic with sigma >= 1, whose mean is infinite.
    pub fn mean(&self) -> Option<f64> {
        let (mu, sigma) = (self.parameters.location, self.sigma());
        match self.family {
            Family::Weibull => Some((mu + ln_gamma(1.0 + sigma)).exp()),
            Family::Lognormal => Some((mu + 0.5 * sigma * sigma).exp()),
            Family::Loglogistic => {
                let angle = std::f64::consts::PI * sigma;
                (sigma < 1.0).then(|| mu.exp() * angle / angle.sin())
            }
        }
    }

    /// Akaike's criterion, 4 - 2 ln L: smaller is better, among fits to the same lives.
    pub fn aic(&self) -> f64 {
        4.0 - 2.0 * self.log_likelihood
    }

    /// The Bayesian criterion, 2 ln d - 2 ln L, with the number of failures d, which carry the information when most lives are
    /// censored (Volinsky & Raftery 2000, Biometrics 56:256).
    pub fn bic(&self) -> f64 {
        2.0 * (self.failures as f64).ln() - 2.0 * self.log_likelihood
    }

    pub(super) fn standardised(&self, distance: f64) -> f64 {
        (distance.ln() - self.parameters.location) / self.sigma()
    }

    /// The likelihood at the maximum, from what is kept of it.
    pub(super) fn surface(&self) -> Likelihood {
        let [[a, b], [_, c]] = self.covariance;
        let determinant = a * c - b * b;
        Likelihood {
            value: self.log_likelihood,
            gradient: [0.0; 2],
            hessian: [
                [-c / determinant, b / determinant],
                [b / determinant, -a / determinant],
            ],
        }
    }

    pub(super) fn error_of(&self, gradient: [f64; 2]) -> f64 {
        let [[a, b], [_, c]] = self.covariance;
        let [x, y] = gradient;
        (x * x * a + 2.0 * x * y * b + y * y * c).max(0.0).sqrt()
    }

    fn on_log_scale(&self, log: f64, gradient: [f64; 2], level: f64) -> Result<Estimate, Error> {
        let half = normal_deviate(level)? * self.error_of(gradient);
        Ok(Estimate {
            value: log.exp(),
            standard_error: log.exp() * self.error_of(gradient),
            wald: Interval {
                lower: (log - half).exp(),
                upper: (log + half).exp(),
            },
        })
    }
}

/// Refuses a stretch of distance that is none.
pub(super) fn check_stretch(from: f64, to: f64) -> Result<(), Error> {
    if from >= 0.0 && from < to && to.is_finite() {
        return Ok(());
    }
    Err(Error::Parameter {
        name: "to",
        value: to,
        requirement: "a stretch must start at 0 or later and end at a larger, finite distance",
    })
}

/// Derivatives by mu and ln sigma of the cumulative hazard between two standardised distances.
pub(super) fn hazard_gradient(family: Family, from: f64, to: f64, sigma: f64) -> [f64; 2] {
    let end = family.log_survival(to).slope;
    let (start, start_z) = if from > f64::NEG_INFINITY {
        let slope = family.log_survival(from).slope;
        (slope, from * slope)
    } else {
        (0.0, 0.0)
    };
    [(end - start) / sigma, to * end - start_z]
}
