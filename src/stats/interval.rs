//! A confidence interval, and what a confidence level leaves outside it.

use super::error::Error;
use super::special::norm_isf;

/// Two limits at a confidence level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
}

impl Interval {
    /// Both limits times `factor` (a positive change of unit).
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            lower: self.lower * factor,
            upper: self.upper * factor,
        }
    }

    /// Both limits divided by `divisor` (counts into rates).
    pub fn divided_by(self, divisor: f64) -> Self {
        Self {
            lower: self.lower / divisor,
            upper: self.upper / divisor,
        }
    }

    /// Whether `value` lies between the limits, ends included.
    pub fn contains(&self, value: f64) -> bool {
        self.lower <= value && value <= self.upper
    }

    /// Upper minus lower limit.
    pub fn width(&self) -> f64 {
        self.upper - self.lower
    }
}

/// The probability left outside an interval of confidence `level`, 1 - level.
///
/// A level is meant in decimals. Binary subtraction turns 1 - 0.999999 into 1.00000000002876e-6, which alone would cost
/// a limit its eleventh digit, so a level of up to fifteen decimals is taken as written.
///
/// # Errors
/// [`Error::Level`] unless 0 < level < 1.
pub fn outside(level: f64) -> Result<f64, Error> {
    if !(level > 0.0 && level < 1.0) {
        return Err(Error::Level(level));
    }
    let binary = 1.0 - level;
    let decimal = (binary * 1e15).round() / 1e15;
    let meant = (decimal - binary).abs() <= f64::EPSILON / 2.0 && decimal > 1e-14;
    Ok(if meant { decimal } else { binary })
}

/// The probability in each tail of a two-sided interval, (1 - level) / 2.
///
/// # Errors
/// [`Error::Level`] unless 0 < level < 1.
pub fn tail(level: f64) -> Result<f64, Error> {
    Ok(outside(level)? / 2.0)
}

/// The standard normal deviate that leaves half of 1 - level above it: 1.959964 at 0.95.
///
/// # Errors
/// [`Error::Level`] unless 0 < level < 1.
pub fn normal_deviate(level: f64) -> Result<f64, Error> {
    Ok(norm_isf(tail(level)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn level_is_taken_as_written_in_decimals() {
        assert_eq!(outside(0.999999), Ok(1e-6));
        assert_eq!(outside(0.95), Ok(0.05));
        assert_eq!(outside(0.9999999999), Ok(1e-10));
    }

    #[test]
    fn level_with_no_short_decimal_form_is_left_alone() {
        let level = 1.0 - 2f64.powi(-53);
        assert_eq!(outside(level), Ok(2f64.powi(-53)));
        let third = 1.0 / 3.0;
        assert!((outside(third).unwrap() - 2.0 / 3.0).abs() < 2e-16);
    }

    #[test]
    fn level_outside_the_open_unit_interval_is_refused() {
        for level in [0.0, 1.0, -0.1, 95.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(outside(level), Err(Error::Level(_))), "{level}");
        }
    }
}
