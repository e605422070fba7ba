//! Wilson's score interval, without and with continuity correction.

use super::Sample;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate};

/// The p for which the observed share is z standard deviations away: (x/n - p)^2 = z^2 p (1 - p) / n.
///
/// Limits (2x + z^2 +- h) / (2 (n + z^2)) with h = z sqrt(z^2 + 4 x (n - x) / n); the lower one is evaluated as
/// 2 x^2 / (n (2x + z^2 + h)), which cannot cancel. Wilson 1927 (JASA 22, 209); Newcombe 1998 (Stat Med 17, 857), method 3.
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn wilson(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let z = normal_deviate(level)?;
    let (x, n) = (sample.successes(), sample.trials());
    let square = z * z;
    let h = z * (square + 4.0 * x * sample.failures() / n).sqrt();
    let lower = 2.0 * x / n * x / (2.0 * x + square + h);
    let upper = if sample.all() {
        1.0
    } else {
        (2.0 * x + square + h) / (2.0 * (n + square))
    };
    Ok(Interval { lower, upper })
}

/// Wilson's interval with the share moved half a case outwards: (|x/n - p| - 1/(2n))^2 = z^2 p (1 - p) / n.
///
/// Lower limit 0 at x = 0, upper limit 1 at x = n. Newcombe 1998 (Stat Med 17, 857), method 4; the lower limit again in the
/// form that does not cancel.
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn wilson_cc(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let z = normal_deviate(level)?;
    let square = z * z;
    let limit = |x: f64, failures: f64, towards: f64| {
        let n = sample.trials();
        // 4 p (n q -+ 1) and -+ 2: minus signs belong to the upper limit.
        (square - towards * 2.0 - 1.0 / n + 4.0 * x / n * (failures + towards))
            .max(0.0)
            .sqrt()
    };
    let (x, n, failures) = (sample.successes(), sample.trials(), sample.failures());
    let lower = if sample.none() {
        0.0
    } else {
        let half = x - 0.5;
        2.0 * half / n * half / (2.0 * half + square + z * limit(x, failures, 1.0))
    };
    let upper = if sample.all() {
        1.0
    } else {
        ((2.0 * x + 1.0 + square + z * limit(x, failures, -1.0)) / (2.0 * (n + square))).min(1.0)
    };
    Ok(Interval { lower, upper })
}
