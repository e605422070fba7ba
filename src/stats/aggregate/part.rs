//! Independent parts of a number of events, each known by its generating function.

use super::complex::Complex;
use super::moments::Moments;
use super::recurring::Recurring;

/// One part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Part<'a> {
    /// Units that fail at most once with the same probability; several such parts make a Poisson-binomial count.
    Once {
        /// How many.
        units: u64,
        /// Probability of each, 0 to 1.
        probability: f64,
    },
    /// A Poisson count.
    Poisson {
        /// Its mean, >= 0.
        mean: f64,
    },
    /// A Poisson count whose mean has a gamma distribution: negative binomial, the predictive count of a rate learnt from a
    /// gamma posterior with shape a and rate b over a further exposure t (mean a t / b, variance mean + mean^2 / a).
    GammaPoisson {
        /// Shape a > 0 of the gamma distribution.
        shape: f64,
        /// Mean of the count.
        mean: f64,
    },
    /// Units that may fail again.
    Recurring(&'a Recurring),
}

impl Part<'_> {
    /// ln E[s^N] for |s| <= 1.
    pub fn ln_generating(&self, s: Complex) -> Complex {
        let away = s - Complex::ONE;
        match *self {
            Self::Once { units: 0, .. } => Complex::default(),
            Self::Once { units, probability } => {
                away.scaled(probability).ln_1p().scaled(units as f64)
            }
            Self::Poisson { mean } => away.scaled(mean),
            Self::GammaPoisson { shape, mean } => away.scaled(-mean / shape).ln_1p().scaled(-shape),
            Self::Recurring(units) => units.ln_generating(s),
        }
    }

    /// Mean, variance and third central moment. The third one of units that may fail again is that of a negative binomial
    /// count of the same mean and variance; it only serves to say how far the count may reach.
    pub fn moments(&self) -> Moments {
        let of = |mean: f64, variance: f64, third: f64| Moments {
            mean,
            variance,
            third,
        };
        match *self {
            Self::Once { units, probability } => {
                let mean = units as f64 * probability;
                let variance = mean * (1.0 - probability);
                of(mean, variance, variance * (1.0 - 2.0 * probability))
            }
            Self::Poisson { mean } => of(mean, mean, mean),
            Self::GammaPoisson { shape, mean } => {
                let spread = mean * mean / shape;
                let third = mean + spread * (3.0 + 2.0 * mean / shape);
                of(mean, mean + spread, third)
            }
            Self::Recurring(units) => {
                let (mean, variance) = units.mean_and_variance();
                let third = variance * (2.0 * variance / mean.max(f64::MIN_POSITIVE) - 1.0);
                of(mean, variance, third.max(variance))
            }
        }
    }
}
