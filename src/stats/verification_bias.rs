//! Accuracy of a test when the true state was looked for more often after one result than after the other.

use super::error::Error;
use super::interval::{Interval, normal_deviate};

/// Those with one result of the test: how many were verified in either state, and how many were not verified.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stratum {
    /// Verified, state present.
    pub present: u64,
    /// Verified, state absent.
    pub absent: u64,
    /// Not verified.
    pub unverified: u64,
}

/// A corrected share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corrected {
    /// The share.
    pub value: f64,
    /// Standard error by the delta method; `None` where a verified cell is empty, since the formula would give a false 0.
    pub standard_error: Option<f64>,
    /// Limits on the logit scale; `None` with the standard error.
    pub interval: Option<Interval>,
}

/// Sensitivity and specificity as they would be if everybody had been verified.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeggGreenes {
    /// Corrected sensitivity.
    pub sensitivity: Corrected,
    /// Corrected specificity.
    pub specificity: Corrected,
    /// Share with the state among all tested.
    pub prevalence: f64,
}

/// Corrects for verification that depended on the result of the test and on nothing else.
///
/// With `f` the share of positives among all tested, `p1`, `p0` the shares with the state among the verified positives and
/// negatives: sensitivity = f p1 / (f p1 + (1 - f) p0), specificity = (1 - f)(1 - p0) / ((1 - f)(1 - p0) + f (1 - p1)).
/// Variance of the logit of sensitivity: `1/(N f (1 - f)) + (1 - p1)/(m1 p1) + (1 - p0)/(m0 p0)`, with m verified; of
/// specificity with p and 1 - p exchanged. Begg & Greenes 1983, Biometrics 39:207.
///
/// `None` where it cannot be known: nobody verified after one of the results, or only one state ever found.
///
/// # Errors
/// A level outside (0, 1).
pub fn begg_greenes(
    positive: Stratum,
    negative: Stratum,
    level: f64,
) -> Result<Option<BeggGreenes>, Error> {
    let z = normal_deviate(level)?;
    let part = |s: Stratum| {
        let verified = (s.present + s.absent) as f64;
        let all = verified + s.unverified as f64;
        (verified, all, s.present as f64 / verified)
    };
    let ((m1, n1, p1), (m0, n0, p0)) = (part(positive), part(negative));
    let total = n1 + n0;
    let f = n1 / total;
    let prevalence = f * p1 + (1.0 - f) * p0;
    // Not a number where nobody was verified.
    if !(prevalence > 0.0 && prevalence < 1.0) {
        return Ok(None);
    }
    let of_positives = 1.0 / (total * f * (1.0 - f));
    let (q1, q0) = (1.0 - p1, 1.0 - p0);
    let whole = [
        positive.present,
        positive.absent,
        negative.present,
        negative.absent,
    ]
    .iter()
    .all(|n| *n > 0);
    let corrected = |value: f64, variance: f64| {
        let spread = whole.then(|| variance.sqrt());
        Corrected {
            value,
            standard_error: spread.map(|s| value * (1.0 - value) * s),
            interval: spread.map(|s| logit_limits(value, z * s)),
        }
    };
    Ok(Some(BeggGreenes {
        sensitivity: corrected(
            f * p1 / prevalence,
            of_positives + q1 / (m1 * p1) + q0 / (m0 * p0),
        ),
        specificity: corrected(
            (1.0 - f) * q0 / (1.0 - prevalence),
            of_positives + p1 / (m1 * q1) + p0 / (m0 * q0),
        ),
        prevalence,
    }))
}

fn logit_limits(value: f64, reach: f64) -> Interval {
    let limit = |reach: f64| 1.0 / (1.0 + (1.0 - value) / value * reach.exp());
    Interval {
        lower: limit(reach),
        upper: limit(-reach),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stratum(present: u64, absent: u64, unverified: u64) -> Stratum {
        Stratum {
            present,
            absent,
            unverified,
        }
    }

    #[test]
    fn with_everybody_verified_it_changes_nothing() {
        let found = begg_greenes(stratum(18, 4, 0), stratum(2, 76, 0), 0.95)
            .unwrap()
            .unwrap();
        assert!((found.sensitivity.value - 18.0 / 20.0).abs() < 1e-15);
        assert!((found.specificity.value - 76.0 / 80.0).abs() < 1e-15);
        assert!((found.prevalence - 0.2).abs() < 1e-15);
    }

    #[test]
    fn what_cannot_be_known_is_said() {
        let none = begg_greenes(stratum(5, 1, 3), stratum(0, 0, 40), 0.95).unwrap();
        assert_eq!(none, None);
        let empty_cell = begg_greenes(stratum(5, 1, 3), stratum(0, 20, 40), 0.95)
            .unwrap()
            .unwrap();
        assert_eq!(empty_cell.sensitivity.value, 1.0);
        assert_eq!(empty_cell.sensitivity.standard_error, None);
    }
}
