//! The Poisson distribution, through the incomplete gamma functions.

use std::f64::consts::PI;

use super::deviance::unit_deviance;
use super::gamma::{gamma_p, gamma_q};
use super::stirling::stirling_error;

/// Probability of exactly `k` events at mean `mean` >= 0 (else NaN).
///
/// Loader's saddle-point form: exp(-deviance(k, mean) - stirling_error(k)) / sqrt(2 pi k).
pub fn poisson_pmf(k: u64, mean: f64) -> f64 {
    if !(mean >= 0.0 && mean.is_finite()) {
        return f64::NAN;
    }
    let k = k as f64;
    if mean == 0.0 || k == 0.0 {
        return if k == 0.0 { (-mean).exp() } else { 0.0 };
    }
    (-unit_deviance(k, mean, mean - k) - stirling_error(k)).exp() / (2.0 * PI * k).sqrt()
}

/// Probability of at most `k` events.
pub fn poisson_cdf(k: u64, mean: f64) -> f64 {
    gamma_q(k as f64 + 1.0, mean)
}

/// Probability of more than `k` events.
pub fn poisson_sf(k: u64, mean: f64) -> f64 {
    gamma_p(k as f64 + 1.0, mean)
}
