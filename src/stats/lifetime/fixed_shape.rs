//! A Weibull scale with the shape given from outside: what few failures, or none, can say once a shape is stated.
//!
//! With the shape known, t^beta is exponential, so that the exact limits of a constant rate carry over. The shape is an
//! assumption and is to be printed beside every figure; try two or three, since far from the data all depends on it (Nelson
//! 1985, J Qual Technol 17:140; Meeker & Escobar 1998, section 8.5).

use super::observed::Observed;
use crate::stats::interval::outside;
use crate::stats::poisson_rate::garwood;
use crate::stats::special::gamma_q_inverse;
use crate::stats::{Error, Interval};

/// A Weibull life with a stated shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixedShape {
    /// The stated shape beta.
    pub shape: f64,
    /// Failures behind the scale.
    pub failures: u64,
    /// ln of the sum of exit^beta - entry^beta.
    log_exposure: f64,
    /// Two-sided limits of the expected count.
    count_limits: Interval,
    /// One-sided upper bound of the expected count.
    count_bound: f64,
}

/// The scale of a Weibull of given shape, with exact limits (conservative when observation ends at given distances).
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] unless the shape is positive and finite; [`Error::Input`] for lives inspected
/// once or without distance under observation.
pub fn fixed_shape(observed: &Observed, shape: f64, level: f64) -> Result<FixedShape, Error> {
    if !(shape > 0.0 && shape.is_finite()) {
        return Err(Error::Parameter {
            name: "shape",
            value: shape,
            requirement: "a shape must be positive and finite",
        });
    }
    let log_exposure = observed.log_exposure(shape);
    let inspected = observed.terms().iter().any(|term| term.failed_before > 0.0);
    if inspected || !log_exposure.is_finite() {
        return Err(Error::Input {
            name: "observed",
            requirement: "a stated shape needs lives watched over a distance, not looked at once",
        });
    }
    Ok(FixedShape {
        shape,
        failures: observed.failures(),
        log_exposure,
        count_limits: garwood(observed.failures(), 1.0, level)?,
        count_bound: gamma_q_inverse(observed.failures() as f64 + 1.0, outside(level)?),
    })
}

impl FixedShape {
    /// eta; none without failures, when only a bound exists.
    pub fn scale(&self) -> Option<f64> {
        self.scale_for(self.failures as f64)
    }

    /// Two-sided limits of eta; no upper limit without failures.
    pub fn scale_limits(&self) -> (f64, Option<f64>) {
        let lower = self.scale_for(self.count_limits.upper);
        (
            lower.unwrap_or(0.0),
            self.scale_for(self.count_limits.lower),
        )
    }

    /// The distance that at most the share has failed by, with one-sided confidence: the bound for 0 or 1 failure.
    ///
    /// # Errors
    /// [`Error::Parameter`] unless 0 < share < 1.
    pub fn quantile_bound(&self, share: f64) -> Result<f64, Error> {
        if !(share > 0.0 && share < 1.0) {
            return Err(Error::Parameter {
                name: "share",
                value: share,
                requirement: "a quantile's share must lie strictly between 0 and 1",
            });
        }
        let eta = self.scale_for(self.count_bound).unwrap_or(0.0);
        Ok(eta * (-(-share).ln_1p()).powf(1.0 / self.shape))
    }

    /// The scale at which the lives would be expected to fail `count` times.
    fn scale_for(&self, count: f64) -> Option<f64> {
        (count > 0.0).then(|| ((self.log_exposure - count.ln()) / self.shape).exp())
    }
}

#[cfg(test)]
mod tests {
    use super::super::family::Family;
    use super::super::fit::fit;
    use super::*;
    use crate::stats::survival::{Life, RiskTable};

    fn observed(lives: &[(f64, f64, bool)]) -> Observed {
        let lives: Vec<Life> = lives
            .iter()
            .map(|&(entry, exit, failed)| Life {
                entry,
                exit,
                failed,
            })
            .collect();
        Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table)
    }

    #[test]
    fn none_failed_gives_a_bound_in_closed_form() {
        // Ten lives to 100 with shape 2: exp(-10 (100 / eta)^2) = 0.05.
        let lives = observed(&[(0.0, 100.0, false); 10]);
        let stated = fixed_shape(&lives, 2.0, 0.95).unwrap();
        assert_eq!(stated.scale(), None);
        let eta = 100.0 * (10.0 / 20f64.ln()).sqrt();
        let bound = stated.quantile_bound(0.1).unwrap();
        assert!((bound / (eta * (-(0.9f64.ln())).sqrt()) - 1.0).abs() < 1e-12);
        assert_eq!(stated.scale_limits().1, None);
    }

    #[test]
    fn the_fitted_shape_gives_the_fitted_scale() {
        let lives = observed(&[
            (0.0, 30.0, true),
            (5.0, 50.0, true),
            (20.0, 70.0, false),
            (0.0, 44.0, true),
        ]);
        let free = fit(Family::Weibull, &lives).unwrap();
        let stated = fixed_shape(&lives, 1.0 / free.sigma(), 0.95).unwrap();
        assert!((stated.scale().unwrap().ln() - free.parameters.location).abs() < 1e-10);
    }

    #[test]
    fn one_failure_has_a_scale_but_no_fit() {
        let lives = observed(&[(0.0, 30.0, true), (0.0, 50.0, false)]);
        assert!(fit(Family::Weibull, &lives).is_err());
        let (lower, upper) = fixed_shape(&lives, 2.0, 0.95).unwrap().scale_limits();
        assert!(lower > 0.0 && upper.is_some_and(|upper| upper > lower));
    }
}
