//! Garwood's exact interval.

use super::Observed;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, tail};
use crate::stats::special::{gamma_p_inverse, gamma_q_inverse};

/// The mean at which `count` or more (lower), `count` or fewer (upper) events have probability (1 - level) / 2, by exposure.
///
/// Quantiles of Gamma(count) and Gamma(count + 1), which are half chi-square quantiles with 2 count and 2 count + 2 degrees
/// of freedom. Covers at least its level whatever the rate. Garwood 1936 (Biometrika 28, 437).
///
/// # Errors
/// [`Error::Parameter`] for the exposure, [`Error::Level`].
pub fn garwood(count: u64, exposure: f64, level: f64) -> Result<Interval, Error> {
    let observed = Observed::new(count, exposure)?;
    let t = tail(level)?;
    let lower = if count == 0 {
        0.0
    } else {
        gamma_p_inverse(observed.count(), t)
    };
    let upper = gamma_q_inverse(observed.count() + 1.0, t);
    Ok(Interval { lower, upper }.divided_by(exposure))
}
