//! The Bayesian interval under Jeffreys' prior.

use super::Observed;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, tail};
use crate::stats::special::{gamma_p_inverse, gamma_q_inverse};

/// Equal-tailed interval of the posterior Gamma(count + 1/2), by exposure.
///
/// At a count of 0 the lower limit is small but above 0. Brown, Cai and DasGupta 2003 (Statistica Sinica 13, 19).
///
/// # Errors
/// [`Error::Parameter`] for the exposure, [`Error::Level`].
pub fn jeffreys(count: u64, exposure: f64, level: f64) -> Result<Interval, Error> {
    let observed = Observed::new(count, exposure)?;
    let t = tail(level)?;
    let shape = observed.count() + 0.5;
    Ok(Interval {
        lower: gamma_p_inverse(shape, t),
        upper: gamma_q_inverse(shape, t),
    }
    .divided_by(exposure))
}
