//! A constant failure rate: the one figure that even no failures support, with exact limits.

use crate::stats::interval::{normal_deviate, outside};
use crate::stats::poisson_rate::garwood;
use crate::stats::special::gamma_q_inverse;
use crate::stats::{Error, Interval};

/// A constant rate from failures over an exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exponential {
    /// Failures.
    pub failures: u64,
    /// Distance under observation by all lives, late entries counted from their entry.
    pub exposure: f64,
    /// Failures a unit of distance, failures / exposure.
    pub rate: f64,
    /// Exact two-sided limits of the rate (conservative when observation ends at given distances); the lower is 0 without
    /// failures.
    pub limits: Interval,
    /// Exact one-sided upper bound of the rate at the same level: what no failures, or one, can say.
    pub upper_bound: f64,
    /// ln L at the rate, density of t: d ln(rate) - d.
    pub log_likelihood: f64,
}

/// The constant rate and its exact limits, chi-square(alpha / 2; 2 d) / (2 T) and chi-square(1 - alpha / 2; 2 d + 2) / (2 T)
/// (Meeker & Escobar 1998, section 7.7; the limits are Garwood's for the count).
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] unless the exposure is positive and finite.
pub fn exponential(failures: u64, exposure: f64, level: f64) -> Result<Exponential, Error> {
    let limits = garwood(failures, exposure, level)?;
    let d = failures as f64;
    let rate = d / exposure;
    Ok(Exponential {
        failures,
        exposure,
        rate,
        limits,
        upper_bound: gamma_q_inverse(d + 1.0, outside(level)?) / exposure,
        log_likelihood: if failures == 0 {
            0.0
        } else {
            d * rate.ln() - d
        },
    })
}

impl Exponential {
    /// Limits of the mean distance 1 / rate by the normal approximation to its logarithm; none without failures.
    ///
    /// # Errors
    /// [`Error::Level`].
    pub fn wald_mean(&self, level: f64) -> Result<Option<Interval>, Error> {
        let half = normal_deviate(level)? / (self.failures as f64).sqrt();
        Ok((self.failures > 0).then(|| Interval {
            lower: (-half).exp() / self.rate,
            upper: half.exp() / self.rate,
        }))
    }

    /// Akaike's criterion, 2 - 2 ln L.
    pub fn aic(&self) -> f64 {
        2.0 - 2.0 * self.log_likelihood
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_failures_bound_the_rate_and_claim_nothing_below() {
        let none = exponential(0, 1000.0, 0.95).unwrap();
        assert_eq!((none.rate, none.limits.lower), (0.0, 0.0));
        // Closed form: exp(-bound T) = 0.05.
        assert!((none.upper_bound * 1000.0 + 0.05f64.ln()).abs() < 1e-12);
        assert_eq!(none.wald_mean(0.95).unwrap(), None);
    }

    #[test]
    fn no_exposure_is_refused() {
        assert!(exponential(0, 0.0, 0.95).is_err());
    }
}
