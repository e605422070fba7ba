//! How well a yes-or-no test tells two states apart: sensitivity, specificity, likelihood ratios, odds ratio.

use super::error::Error;
use super::interval::{Interval, normal_deviate};

/// Results of a test against the true state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TwoByTwo {
    /// Positive, state present.
    pub true_positive: u64,
    /// Positive, state absent.
    pub false_positive: u64,
    /// Negative, state present.
    pub false_negative: u64,
    /// Negative, state absent.
    pub true_negative: u64,
}

/// A ratio above 0 with limits found on its logarithm; limits are missing where a count is 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRatio {
    /// The ratio; may be infinite or 0 where a count is 0.
    pub value: f64,
    /// Limits; `None` where the logarithm has no variance.
    pub interval: Option<Interval>,
}

impl TwoByTwo {
    /// With the state present.
    pub fn present(&self) -> u64 {
        self.true_positive + self.false_negative
    }

    /// With the state absent.
    pub fn absent(&self) -> u64 {
        self.false_positive + self.true_negative
    }

    /// Share of positives among those with the state, TP / (TP + FN).
    ///
    /// # Errors
    /// Nobody has the state.
    pub fn sensitivity(&self) -> Result<f64, Error> {
        share(self.true_positive, self.present())
    }

    /// Share of negatives among those without it, TN / (TN + FP).
    ///
    /// # Errors
    /// Everybody has the state.
    pub fn specificity(&self) -> Result<f64, Error> {
        share(self.true_negative, self.absent())
    }

    /// Youden's index, sensitivity + specificity - 1 (Youden 1950, Cancer 3:32).
    ///
    /// # Errors
    /// As [`Self::sensitivity`] and [`Self::specificity`].
    pub fn youden(&self) -> Result<f64, Error> {
        Ok(self.sensitivity()? + self.specificity()? - 1.0)
    }

    /// Likelihood ratio of a positive result, sensitivity / (1 - specificity), with log limits of variance
    /// `1/TP - 1/(TP + FN) + 1/FP - 1/(FP + TN)` (Simel, Samsa & Matchar 1991, J Clin Epidemiol 44:763).
    ///
    /// # Errors
    /// A state that nobody, or everybody, has; a level outside (0, 1).
    pub fn likelihood_ratio_positive(&self, level: f64) -> Result<LogRatio, Error> {
        ratio_of_shares(
            (self.true_positive, self.present()),
            (self.false_positive, self.absent()),
            level,
        )
    }

    /// Likelihood ratio of a negative result, (1 - sensitivity) / specificity, in the same way.
    ///
    /// # Errors
    /// As [`Self::likelihood_ratio_positive`].
    pub fn likelihood_ratio_negative(&self, level: f64) -> Result<LogRatio, Error> {
        ratio_of_shares(
            (self.false_negative, self.present()),
            (self.true_negative, self.absent()),
            level,
        )
    }

    /// Diagnostic odds ratio TP TN / (FP FN) with Woolf's log limits (Woolf 1955, Ann Hum Genet 19:251).
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn odds_ratio(&self, level: f64) -> Result<LogRatio, Error> {
        let z = normal_deviate(level)?;
        let cells = [
            self.true_positive,
            self.false_positive,
            self.false_negative,
            self.true_negative,
        ]
        .map(|n| n as f64);
        let [tp, fp, fn_, tn] = cells;
        let variance: f64 = cells.iter().map(|n| 1.0 / n).sum();
        Ok(on_log_scale(tp * tn / fp / fn_, variance, z))
    }
}

fn share(x: u64, n: u64) -> Result<f64, Error> {
    if n == 0 {
        return Err(Error::Proportion {
            successes: x,
            trials: n,
        });
    }
    Ok(x as f64 / n as f64)
}

fn ratio_of_shares(a: (u64, u64), b: (u64, u64), level: f64) -> Result<LogRatio, Error> {
    let z = normal_deviate(level)?;
    let value = share(a.0, a.1)? / share(b.0, b.1)?;
    let part = |(x, n): (u64, u64)| 1.0 / x as f64 - 1.0 / n as f64;
    Ok(on_log_scale(value, part(a) + part(b), z))
}

fn on_log_scale(value: f64, variance: f64, z: f64) -> LogRatio {
    let reach = (z * variance.sqrt()).exp();
    let usable = value > 0.0 && value.is_finite() && variance.is_finite();
    LogRatio {
        value,
        interval: usable.then_some(Interval {
            lower: value / reach,
            upper: value * reach,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_test_that_never_errs_has_no_finite_ratio() {
        let perfect = TwoByTwo {
            true_positive: 4,
            false_positive: 0,
            false_negative: 0,
            true_negative: 9,
        };
        assert_eq!(perfect.youden(), Ok(1.0));
        let ratio = perfect.likelihood_ratio_positive(0.95).unwrap();
        assert_eq!((ratio.value, ratio.interval), (f64::INFINITY, None));
        let negative = perfect.likelihood_ratio_negative(0.95).unwrap();
        assert_eq!((negative.value, negative.interval), (0.0, None));
    }

    #[test]
    fn nobody_with_the_state_is_an_error() {
        let none = TwoByTwo {
            true_positive: 0,
            false_positive: 1,
            false_negative: 0,
            true_negative: 1,
        };
        assert!(none.sensitivity().is_err());
    }
}
