//! The exact interval of Clopper and Pearson.

use super::Sample;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, tail};
use crate::stats::special::{beta_i_inverse, beta_q_inverse};

/// The p at which x or more (lower limit), x or fewer (upper limit) successes have probability (1 - level) / 2.
///
/// Quantiles of Beta(x, n - x + 1) and Beta(x + 1, n - x); 0 and 1 at the ends. Covers at least its level whatever p is.
/// Clopper and Pearson 1934 (Biometrika 26, 404).
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn clopper_pearson(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let t = tail(level)?;
    let (x, failures) = (sample.successes(), sample.failures());
    let lower = if sample.none() {
        0.0
    } else {
        beta_i_inverse(x, failures + 1.0, t).x
    };
    let upper = if sample.all() {
        1.0
    } else {
        beta_q_inverse(x + 1.0, failures, t).x
    };
    Ok(Interval { lower, upper })
}
