//! Wald's interval, kept for comparison: the textbook formula, and the one that misleads most.

use super::Sample;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate};

/// p +- z sqrt(p q / n) with p = x / n, q = 1 - p; not cut at 0 and 1, and of zero width at x = 0 and x = n.
///
/// Covers far less than its level for small counts (Brown, Cai and DasGupta 2001, Statistical Science 16, 101).
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn wald(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let z = normal_deviate(level)?;
    let (x, n, share) = (sample.successes(), sample.trials(), sample.share());
    let half = z * (share * sample.failures()).sqrt() / n;
    // p - h as (p^2 - h^2) / (p + h): exact also where the two nearly cancel.
    let lower = if share > 0.0 {
        share * (x - z * z * sample.failures() / n) / (n * (share + half))
    } else {
        0.0
    };
    Ok(Interval {
        lower,
        upper: share + half,
    })
}
