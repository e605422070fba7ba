//! The likelihood-ratio (profile likelihood) interval.

use super::Sample;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, normal_deviate};
use crate::stats::special::UnitPoint;
use crate::stats::special::deviance::unit_deviance;
use crate::stats::special::root::bracketed_newton;

/// The p whose log-likelihood is z^2 / 2 below the maximum: 2 (x ln(p^ / p) + (n - x) ln(q^ / q)) = z^2.
///
/// Closed forms at x = 0 and x = n. Wilks 1938 (Annals of Mathematical Statistics 9, 60); Newcombe 1998 (Stat Med 17, 857).
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`], [`Error::NotConverged`].
pub fn likelihood_ratio(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let z = normal_deviate(level)?;
    let (x, failures) = (sample.successes(), sample.failures());
    let end = -z * z / (2.0 * sample.trials());
    let lower = if sample.none() {
        0.0
    } else if sample.all() {
        end.exp()
    } else {
        below(x, failures, z)?.x
    };
    let upper = if sample.all() {
        1.0
    } else if sample.none() {
        -end.exp_m1()
    } else {
        below(failures, x, z)?.y
    };
    Ok(Interval { lower, upper })
}

/// The limit below x / (x + failures), solved on the signed root of the deviance, which is nearly linear in the log-odds.
fn below(x: f64, failures: f64, z: f64) -> Result<UnitPoint, Error> {
    let n = x + failures;
    let centre = (x / failures).ln();
    let root = |v: f64| {
        let at = UnitPoint::from_log_odds(v);
        let excess = if at.x <= at.y {
            (-n).mul_add(at.x, x)
        } else {
            n.mul_add(at.y, -failures)
        };
        let deviance =
            unit_deviance(x, n * at.x, -excess) + unit_deviance(failures, n * at.y, excess);
        let distance = (2.0 * deviance).sqrt();
        (
            z - distance,
            if distance > 0.0 {
                excess / distance
            } else {
                (x * failures / n).sqrt()
            },
        )
    };
    let start = centre - z * (n / x / failures).sqrt();
    let v = bracketed_newton(root, (-745.0, centre), start).ok_or(Error::NotConverged {
        what: "likelihood-ratio limit",
        iterations: 200,
    })?;
    Ok(UnitPoint::from_log_odds(v))
}
