//! What fitted distributions say.

use serde::Serialize;

use crate::answer::parts::Estimate;

/// The distance by which a share has failed, by one method.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShareFailed {
    /// The share, such as 0.1.
    pub share: f64,
    /// `kaplan-meier` or a distribution.
    pub method: String,
    /// Given that this distance is reached: where the curve begins; 0 for a distribution.
    pub given_m: i64,
    /// Metres; none where the data do not reach.
    pub distance: Option<Estimate>,
    /// Where there is no estimate: no sooner than this.
    pub at_least_m: Option<f64>,
    /// Why there is no estimate.
    pub why: Option<String>,
}

/// A fitted distribution.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeFit {
    /// `weibull`, `lognormal`, `loglogistic`, `exponential`.
    pub distribution: &'static str,
    /// Its parameters.
    pub parameters: Vec<FitParameter>,
    /// ln L with the density of metres.
    pub log_likelihood: f64,
    /// Akaike's criterion.
    pub aic: f64,
    /// The Bayesian criterion, with the number of failures.
    pub bic: f64,
    /// How far its AIC is above that of the best.
    pub aic_behind: f64,
    /// Whether it describes the failures; none with too few of them.
    pub goodness: Option<Goodness>,
}

/// A parameter of a fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitParameter {
    /// `scale_m`, `median_m`, `mean_m`, `shape` or `sigma`.
    pub name: &'static str,
    /// Estimate with profile-likelihood limits (exact ones of the exponential).
    pub estimate: Estimate,
    /// Standard error.
    pub standard_error: f64,
    /// Lower limit by the normal approximation to its logarithm.
    pub wald_lower: f64,
    /// Upper limit by the same.
    pub wald_upper: f64,
}

/// Hjort's chi-square test of a fit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Goodness {
    /// Bands of about equal expected failures.
    pub bands: usize,
    /// The statistic.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Probability of a larger one if the distribution is right.
    pub p: Option<f64>,
}

/// A distribution without a fit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unfitted {
    /// Which.
    pub distribution: &'static str,
    /// Why.
    pub why: String,
}

/// The probability to fail within a further distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ahead {
    /// The distance reached so far.
    pub from_m: i64,
    /// The further distance.
    pub over_m: i64,
    /// By the curve; none where it is not known.
    pub observed: Option<Estimate>,
    /// Why not.
    pub why: Option<String>,
    /// By each distribution; none beyond the well-filled distance.
    pub fits: Vec<AheadByFit>,
}

/// The same by one distribution.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AheadByFit {
    /// Which.
    pub distribution: &'static str,
    /// The probability.
    pub probability: Estimate,
}
