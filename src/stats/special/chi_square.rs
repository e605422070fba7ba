//! The chi-square distribution: a gamma distribution with shape df / 2 and mean df.

use super::gamma::{gamma_p, gamma_p_inverse, gamma_q, gamma_q_inverse};

/// Probability below x; df > 0 need not be whole. Negative x gives 0.
pub fn chi2_cdf(x: f64, df: f64) -> f64 {
    gamma_p(df / 2.0, x.max(0.0) / 2.0)
}

/// Probability above x, with its own relative accuracy.
pub fn chi2_sf(x: f64, df: f64) -> f64 {
    gamma_q(df / 2.0, x.max(0.0) / 2.0)
}

/// The x with probability `p` below it.
pub fn chi2_quantile(p: f64, df: f64) -> f64 {
    2.0 * gamma_p_inverse(df / 2.0, p)
}

/// The x with probability `q` above it.
pub fn chi2_isf(q: f64, df: f64) -> f64 {
    2.0 * gamma_q_inverse(df / 2.0, q)
}
