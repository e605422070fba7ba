//! A band that holds the whole survival curve at once, not point by point.
//!
//! Reading a curve's pointwise limits together overstates what is known: somewhere the truth leaves them more often than
//! stated. The equal-precision band (Nair 1984, Technometrics 26:265) is the pointwise limits with a larger deviate. The
//! deviate is computed, not looked up, so any level and any range can be asked for.

use super::confidence::Transformation;
use super::kaplan_meier::{KaplanMeier, Step};
use super::ornstein_uhlenbeck::probability_inside;
use crate::stats::bracketed_root::bracketed_root;
use crate::stats::interval::{normal_deviate, outside};
use crate::stats::{Error, Interval};

/// A simultaneous band.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Standard errors on each side; at one point it would be the normal deviate.
    pub deviate: f64,
    /// First distance of the band.
    pub from: f64,
    /// Where the band ends: beyond it the curve is not covered.
    pub to: f64,
    /// Limits from each distance with failures on.
    pub limits: Vec<(f64, Interval)>,
}

/// The equal-precision band over the failures from `from` to `to`, at confidence `level`: none when they hold no failure, or
/// only one at which all fail.
///
/// (S-hat / S - 1) / sigma is in the limit an Ornstein-Uhlenbeck process in the time ln(sigma^2) / 2, with sigma^2
/// Greenwood's sum, so the deviate depends on the ratio of that sum at the two ends only and holds with late entry
/// as well. Failures at which S reaches 0 end the band before them. Choose a range with adequate risk sets at both ends: the
/// band is a large-sample result.
///
/// # Errors
/// [`Error::Level`]; [`Error::NotConverged`].
pub fn equal_precision(
    curve: &KaplanMeier,
    from: f64,
    to: f64,
    transformation: Transformation,
    level: f64,
) -> Result<Option<Band>, Error> {
    let inside = |step: &&Step| from <= step.distance && step.distance <= to;
    let known = |step: &&Step| step.survival > 0.0 && curve.step_at(step.distance).is_ok();
    let steps: Vec<&Step> = curve
        .steps()
        .iter()
        .take_while(known)
        .filter(inside)
        .collect();
    let (Some(first), Some(last)) = (steps.first(), steps.last()) else {
        outside(level)?;
        return Ok(None);
    };
    let deviate = critical_value(0.5 * (last.log_variance / first.log_variance).ln(), level)?;
    let limits = steps.iter().map(|step| {
        let limits = transformation.limits(step.survival, step.log_variance.sqrt(), deviate);
        (step.distance, limits)
    });
    Ok(Some(Band {
        deviate,
        from: first.distance,
        to: last.distance,
        limits: limits.collect(),
    }))
}

/// The deviate that a stationary Ornstein-Uhlenbeck process of unit variance stays below, in size, over `duration` with
/// probability `level`.
///
/// # Errors
/// [`Error::Level`]; [`Error::NotConverged`].
pub fn critical_value(duration: f64, level: f64) -> Result<f64, Error> {
    let pointwise = normal_deviate(level)?;
    if duration <= 0.0 {
        return Ok(pointwise);
    }
    let missed = outside(level)?;
    // Never less than at one point; and e^(2 duration) failures would make a deviate of 40 wide enough for any level held in
    // double precision.
    bracketed_root("simultaneous band", pointwise, pointwise + 8.0, |deviate| {
        // On the scale of logarithms, where it is nearly a parabola.
        let outside = 1.0 - probability_inside(deviate, duration);
        (outside.max(f64::MIN_POSITIVE) / missed).ln()
    })
}

#[cfg(test)]
mod tests {
    use super::super::risk_table::{Life, RiskTable};
    use super::*;

    #[test]
    fn critical_values_agree_with_an_independent_computation() {
        // mpmath, zeros of Kummer functions at 30 digits; the third is the range 0.1 to 0.9 of the tables.
        for (duration, wanted) in [
            (0.5, 2.61474063482),
            (1.0, 2.8076378303),
            (2.1972245773362196, 3.05204418997),
            (4.0, 3.24419975927),
        ] {
            let got = critical_value(duration, 0.95).unwrap();
            assert!(
                (got / wanted - 1.0).abs() < 1e-6,
                "{duration}: {got} {wanted}"
            );
        }
        assert!((critical_value(0.0, 0.95).unwrap() - 1.959963984540054).abs() < 1e-12);
    }

    #[test]
    fn band_is_wider_than_the_pointwise_limits_and_ends_before_zero() {
        let lives: Vec<Life> = (1..=30)
            .map(|i| Life {
                entry: 0.0,
                exit: f64::from(i),
                failed: i % 3 != 0 || i == 30,
            })
            .collect();
        let curve = KaplanMeier::new(&RiskTable::from_lives(&lives).unwrap().table).unwrap();
        let band = equal_precision(&curve, 2.0, 99.0, Transformation::LogLog, 0.95)
            .unwrap()
            .unwrap();
        assert_eq!((band.from, band.to), (2.0, 29.0));
        for (distance, wide) in &band.limits {
            let narrow = curve
                .limits(*distance, Transformation::LogLog, 0.95)
                .unwrap()
                .unwrap();
            assert!(wide.lower < narrow.lower && narrow.upper < wide.upper);
        }
        let none = equal_precision(&curve, 50.0, 99.0, Transformation::LogLog, 0.95).unwrap();
        assert_eq!(none, None);
    }
}
