//! Confidence interval for the difference of two independent proportions.

use super::error::Error;
use super::interval::Interval;
use super::proportion::wilson;

/// x1/n1 - x2/n2 and its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// The observed difference.
    pub difference: f64,
    /// Its limits, within [-1, 1].
    pub interval: Interval,
}

/// Newcombe's hybrid interval: the difference d of the shares p1, p2, with Wilson limits (l1, u1), (l2, u2) of each,
///
/// d - sqrt((p1 - l1)^2 + (u2 - p2)^2) and d + sqrt((u1 - p1)^2 + (p2 - l2)^2).
///
/// Newcombe 1998 (Stat Med 17, 873), method 10.
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn newcombe(x1: u64, n1: u64, x2: u64, n2: u64, level: f64) -> Result<Difference, Error> {
    let (first, second) = (wilson(x1, n1, level)?, wilson(x2, n2, level)?);
    let (p1, p2) = (x1 as f64 / n1 as f64, x2 as f64 / n2 as f64);
    let difference = p1 - p2;
    let interval = Interval {
        lower: difference - (p1 - first.lower).hypot(second.upper - p2),
        upper: difference + (first.upper - p1).hypot(p2 - second.lower),
    };
    Ok(Difference {
        difference,
        interval,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exchanging_the_samples_changes_the_sign() {
        let there = newcombe(9, 10, 3, 10, 0.95).unwrap();
        let back = newcombe(3, 10, 9, 10, 0.95).unwrap();
        assert!((there.interval.lower + back.interval.upper).abs() < 1e-15);
        assert!((there.interval.upper + back.interval.lower).abs() < 1e-15);
    }

    #[test]
    fn limits_stay_between_minus_one_and_one() {
        let extreme = newcombe(1, 1, 0, 1, 0.999).unwrap();
        assert_eq!(extreme.interval.upper, 1.0);
        assert!(extreme.interval.lower >= -1.0);
        assert!(newcombe(0, 0, 0, 1, 0.95).is_err());
    }
}
