//! The score interval.

use super::Observed;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate};

/// The mean m from which the count x is z standard deviations away, (x - m)^2 = z^2 m, by exposure.
///
/// x + z^2/2 +- z sqrt(x + z^2/4); the lower limit as x^2 over the upper one, which does not cancel.
/// Rao's score for a Poisson mean; Barker 2002 (The American Statistician 56, 85).
///
/// # Errors
/// [`Error::Parameter`] for the exposure, [`Error::Level`].
pub fn score(count: u64, exposure: f64, level: f64) -> Result<Interval, Error> {
    let x = Observed::new(count, exposure)?.count();
    let z = normal_deviate(level)?;
    let upper = x + z * z / 2.0 + z * (x + z * z / 4.0).sqrt();
    Ok(Interval {
        lower: x / upper * x,
        upper,
    }
    .divided_by(exposure))
}
