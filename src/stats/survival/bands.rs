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
use crate::stats::special::norm_pdf;
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
    let steps: Vec<&Step> = curve
        .known_steps()
        .iter()
        .take_while(|step| step.survival > 0.0)
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
    // On the scale of logarithms, where it is nearly a parabola.
    let excess = |deviate: f64| {
        let outside = 1.0 - probability_inside(deviate, duration);
        (outside.max(f64::MIN_POSITIVE) / missed).ln()
    };
    // Never less than at one point; and e^(2 duration) failures would make a deviate of 40 wide enough for any level held in
    // double precision.
    let (low, high) = (pointwise, pointwise + 8.0);
    let guess = bracketed_root("simultaneous band", low, high, |deviate| {
        (tail(deviate, duration) / missed).ln()
    });
    let near = guess.ok().and_then(|guess| root_near(guess, &excess));
    match near.filter(|root| (low..high).contains(root)) {
        Some(root) => Ok(root),
        None => bracketed_root("simultaneous band", low, high, excess),
    }
}

/// The probability to leave the bounds, for high ones (Miller & Siegmund 1982, Biometrics 38:1011): right to some percent.
fn tail(deviate: f64, duration: f64) -> f64 {
    norm_pdf(deviate) * (4.0 / deviate + 2.0 * duration * (deviate - 1.0 / deviate))
}

/// The zero beside a guess that is nearly right, by secants; none where they do not lead there at once.
fn root_near(guess: f64, f: &impl Fn(f64) -> f64) -> Option<f64> {
    let (mut before, mut at) = (guess, guess + 0.01);
    let (mut f_before, mut f_at) = (f(before), f(at));
    for _ in 0..6 {
        let step = -f_at * (at - before) / (f_at - f_before);
        let next = at + step;
        if step.is_nan() || step.abs() >= 0.5 {
            return None;
        }
        // The error shrinks by the product of the last two each time.
        if step.abs() <= 1e-8 {
            return Some(next);
        }
        (before, f_before) = (at, f_at);
        (at, f_at) = (next, f(next));
    }
    None
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
    fn the_way_from_a_guess_ends_where_the_bracket_does() {
        for duration in [1e-6, 0.05, 0.7, 3.0, 6.0, 12.0] {
            for level in [0.3, 0.5, 0.8, 0.9, 0.95, 0.9999] {
                let missed = outside(level).unwrap();
                let low = normal_deviate(level).unwrap();
                let slow = bracketed_root("test", low, low + 8.0, |deviate| {
                    let outside = 1.0 - probability_inside(deviate, duration);
                    (outside.max(f64::MIN_POSITIVE) / missed).ln()
                });
                let got = critical_value(duration, level).unwrap();
                assert!(
                    (got / slow.unwrap() - 1.0).abs() < 1e-9,
                    "{duration} {level}"
                );
            }
        }
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
