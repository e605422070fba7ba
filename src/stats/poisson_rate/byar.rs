//! Byar's approximation, a closed form close to Garwood's interval.

use super::Observed;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate};

/// x (1 - 1/(9x) - z/(3 sqrt x))^3 and (x+1) (1 - 1/(9(x+1)) + z/(3 sqrt(x+1)))^3, x the count, by exposure.
///
/// The Wilson-Hilferty cube root in Garwood's quantiles; 0 at a count of 0 and where the bracket falls below 0.
/// Breslow and Day 1987, Statistical Methods in Cancer Research II (IARC 82), eq. 2.12.
///
/// # Errors
/// [`Error::Parameter`] for the exposure, [`Error::Level`].
pub fn byar(count: u64, exposure: f64, level: f64) -> Result<Interval, Error> {
    let x = Observed::new(count, exposure)?.count();
    let z = normal_deviate(level)?;
    let limit = |x: f64, z: f64| {
        x * (1.0 - 1.0 / (9.0 * x) + z / (3.0 * x.sqrt()))
            .max(0.0)
            .powi(3)
    };
    let lower = if count == 0 { 0.0 } else { limit(x, -z) };
    Ok(Interval {
        lower,
        upper: limit(x + 1.0, z),
    }
    .divided_by(exposure))
}
