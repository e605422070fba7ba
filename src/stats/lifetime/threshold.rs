//! The three-parameter form: a distance before which nothing fails, then one of the families from there on.
//!
//! For the Weibull this is the three-parameter Weibull, S(t) = exp(-((t - gamma) / eta)^beta) for t > gamma. It is kept apart from
//! the two-parameter fits because its likelihood misbehaves: towards the first failure it can rise without bound (beta below
//! 1), so only an inner maximum counts, and the usual chi-square for the gain does not hold at gamma = 0 (Cheng & Iles 1987;
//! Meeker & Escobar 1998, section 11.7).

use super::family::Family;
use super::fit::{Fit, fit};
use super::observed::Observed;
use super::unfitted::Unfitted;

/// Steps of the first search over the threshold.
const STEPS: u32 = 100;

/// A fit with a failure-free distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThresholdFit {
    /// gamma, the failure-free distance; 0 when the likelihood is highest without one.
    pub threshold: f64,
    /// The fit to distances less gamma, with gamma taken as known: its standard errors are too small by what is not known of
    /// gamma, and its criteria count two parameters.
    pub fit: Fit,
    /// Twice the gain in ln L over the fit without a threshold.
    pub gain: f64,
}

impl ThresholdFit {
    /// S(t).
    pub fn survival(&self, distance: f64) -> f64 {
        if distance <= self.threshold {
            return 1.0;
        }
        self.fit.survival(distance - self.threshold)
    }

    /// Akaike's criterion with three parameters.
    pub fn aic(&self) -> f64 {
        self.fit.aic() + 2.0
    }
}

/// Fits a family with a failure-free distance by profiling the likelihood over it.
///
/// # Errors
/// [`Unfitted`]: as the fit without a threshold, or [`Unfitted::NoMaximum`] when the likelihood still rises at the first failure.
pub fn fit_with_threshold(family: Family, observed: &Observed) -> Result<ThresholdFit, Unfitted> {
    let plain = fit(family, observed)?;
    let first = observed.first_failure().ok_or(Unfitted::NoMaximum)?;
    let at = |threshold: f64| fit(family, &observed.after(threshold)).ok();
    let height = |threshold: f64| at(threshold).map_or(f64::NEG_INFINITY, |fit| fit.log_likelihood);
    // The grid crowds towards the first failure, where the likelihood changes fastest.
    let place = |i: u32| first * (1.0 - (1.0 - f64::from(i) / f64::from(STEPS)).powi(2));
    let heights: Vec<f64> = (0..STEPS).map(|i| height(place(i))).collect();
    // The highest inner maximum: a rise that goes on to the first failure is the likelihood's spike, not an estimate.
    let rising_at_end = matches!(heights.last_chunk::<2>(), Some([a, b]) if b > a);
    let inner = heights
        .windows(3)
        .zip(1u32..)
        .filter(|(three, _)| matches!(three, [a, b, c] if b >= a && b >= c && b.is_finite()))
        .max_by(|(a, _), (b, _)| {
            let middle = |three: &[f64]| three.get(1).copied().unwrap_or(f64::NEG_INFINITY);
            middle(a).total_cmp(&middle(b))
        });
    let Some((_, top)) = inner else {
        let falls = heights.first_chunk::<2>().is_some_and(|[a, b]| a >= b);
        return if falls || !rising_at_end {
            Ok(ThresholdFit {
                threshold: 0.0,
                fit: plain,
                gain: 0.0,
            })
        } else {
            Err(Unfitted::NoMaximum)
        };
    };
    let threshold = golden(place(top - 1), place(top + 1), height);
    let fit = at(threshold).ok_or(Unfitted::NotConverged)?;
    if fit.log_likelihood <= plain.log_likelihood {
        return Ok(ThresholdFit {
            threshold: 0.0,
            fit: plain,
            gain: 0.0,
        });
    }
    Ok(ThresholdFit {
        threshold,
        fit,
        gain: 2.0 * (fit.log_likelihood - plain.log_likelihood),
    })
}

/// The place of a maximum between two ends, by golden section to the precision a flat top allows.
fn golden(mut low: f64, mut high: f64, height: impl Fn(f64) -> f64) -> f64 {
    let ratio = 0.5 * (5f64.sqrt() - 1.0);
    let (mut a, mut b) = (high - ratio * (high - low), low + ratio * (high - low));
    let (mut at_a, mut at_b) = (height(a), height(b));
    while high - low > 1e-9 * high {
        if at_a > at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - ratio * (high - low);
            at_a = height(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + ratio * (high - low);
            at_b = height(b);
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::{Life, RiskTable};

    /// Evenly spread shares of a Weibull of scale 100, moved by a threshold; the longest leave unfailed, some enter late.
    fn lives(threshold: f64, shape: f64) -> Observed {
        let lives: Vec<Life> = (0..80)
            .map(|i| {
                let share = (f64::from(i) + 0.5) / 80.0;
                let life = threshold + 100.0 * (-(1.0 - share).ln()).powf(1.0 / shape);
                Life {
                    entry: if i % 3 == 0 { 0.5 * life } else { 0.0 },
                    exit: life.min(threshold + 130.0),
                    failed: life <= threshold + 130.0,
                }
            })
            .collect();
        Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table)
    }

    #[test]
    fn a_failure_free_distance_is_found() {
        let found = fit_with_threshold(Family::Weibull, &lives(60.0, 2.0)).unwrap();
        assert!(
            (found.threshold - 60.0).abs() < 12.0 && found.gain > 5.0,
            "{found:?}"
        );
        assert_eq!(found.survival(0.9 * found.threshold), 1.0);
        assert!(found.aic() < fit(Family::Weibull, &lives(60.0, 2.0)).unwrap().aic());
    }

    #[test]
    fn moving_all_lives_moves_the_threshold_only() {
        // Without late entry, a common shift of all distances is a shift of gamma.
        let moved = |shift: f64| {
            let lives: Vec<Life> = (1..=30)
                .map(|i| Life {
                    entry: 0.0,
                    exit: shift + 20.0 + f64::from(i * i % 37),
                    failed: i % 4 != 0,
                })
                .collect();
            fit_with_threshold(
                Family::Weibull,
                &Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table),
            )
        };
        let (near, far) = (moved(0.0).unwrap(), moved(500.0).unwrap());
        assert!(near.threshold > 0.0);
        assert!(
            (far.threshold - near.threshold - 500.0).abs() < 1e-3,
            "{near:?} {far:?}"
        );
        assert!((far.fit.log_likelihood - near.fit.log_likelihood).abs() < 1e-8);
    }

    #[test]
    fn lives_that_fail_from_the_start_have_none() {
        let found = fit_with_threshold(Family::Weibull, &lives(0.0, 0.9));
        assert!(
            found.is_err() || found.is_ok_and(|found| found.threshold < 1.0),
            "{found:?}"
        );
    }
}
