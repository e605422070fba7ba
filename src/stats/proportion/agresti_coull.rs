//! The adjusted Wald interval of Agresti and Coull.

use super::Sample;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate};

/// Wald's interval after adding z^2 / 2 successes and z^2 / 2 failures; not cut at 0 and 1.
///
/// Agresti and Coull 1998 (The American Statistician 52, 119), with z itself in place of their rounded 2.
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn agresti_coull(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let z = normal_deviate(level)?;
    let square = z * z;
    let (x, n) = (sample.successes() + square / 2.0, sample.trials() + square);
    let (share, failures) = (x / n, sample.failures() + square / 2.0);
    let half = z * (share * failures).sqrt() / n;
    // p - h as (p^2 - h^2) / (p + h), whose first factor is x - z^2 q with the added z^2 / 2 taken out before rounding.
    let excess = sample.successes() - square / 2.0 + square * share;
    Ok(Interval {
        lower: share * excess / (n * (share + half)),
        upper: share + half,
    })
}
