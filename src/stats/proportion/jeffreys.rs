//! Bayesian intervals under Jeffreys' prior.

use super::Sample;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, tail};
use crate::stats::special::{beta_i_inverse, beta_q_inverse};

/// Equal-tailed interval of the posterior Beta(x + 1/2, n - x + 1/2).
///
/// At x = 0 the lower limit is small but above 0, at x = n the upper below 1, so the observed share lies outside;
/// [`jeffreys_modified`] closes that gap. Brown, Cai and DasGupta 2001 (Statistical Science 16, 101), section 3.1.2.
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn jeffreys(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let t = tail(level)?;
    let (a, b) = (sample.successes() + 0.5, sample.failures() + 0.5);
    Ok(Interval {
        lower: beta_i_inverse(a, b, t).x,
        upper: beta_q_inverse(a, b, t).x,
    })
}

/// [`jeffreys`] with lower limit 0 at x = 0 and upper limit 1 at x = n (Brown, Cai and DasGupta 2001, section 3.1.2).
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn jeffreys_modified(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let plain = jeffreys(x, n, level)?;
    Ok(Interval {
        lower: if x == 0 { 0.0 } else { plain.lower },
        upper: if x == n { 1.0 } else { plain.upper },
    })
}
