//! Limits where the profile log-likelihood has fallen by half a chi-square quantile.
//!
//! With few failures a limit may not exist: the likelihood then never falls that far, and the limit is none. How they are found stands
//! in `profile`.

use super::constraint::Constraint;
use super::fit::{Fit, check_stretch};
use super::observed::Observed;
use super::profile::Profile;
use crate::stats::Error;
use crate::stats::interval::normal_deviate;

/// Likelihood-ratio limits; a limit that does not exist is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LikelihoodInterval {
    /// Lower limit; none when the likelihood does not fall far enough towards 0.
    pub lower: Option<f64>,
    /// Upper limit; none when it does not fall far enough towards infinity.
    pub upper: Option<f64>,
}

impl LikelihoodInterval {
    fn map(self, change: impl Fn(f64) -> f64) -> Self {
        Self {
            lower: self.lower.map(&change),
            upper: self.upper.map(&change),
        }
    }
}

/// Limits for exp(mu): eta of a Weibull, else the median.
///
/// # Errors
/// [`Error::Level`].
pub fn scale(fit: &Fit, observed: &Observed, level: f64) -> Result<LikelihoodInterval, Error> {
    let constraint = Constraint::Quantile { standard: 0.0 };
    Ok(limits(fit, observed, constraint, level)?.map(f64::exp))
}

/// Limits for 1 / sigma: beta of a Weibull.
///
/// # Errors
/// [`Error::Level`].
pub fn shape(fit: &Fit, observed: &Observed, level: f64) -> Result<LikelihoodInterval, Error> {
    let log_sigma = limits(fit, observed, Constraint::Scale, level)?;
    Ok(LikelihoodInterval {
        lower: log_sigma.upper.map(|limit| (-limit).exp()),
        upper: log_sigma.lower.map(|limit| (-limit).exp()),
    })
}

/// Limits for the distance by which a share has failed.
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] unless 0 < share < 1.
pub fn quantile(
    fit: &Fit,
    observed: &Observed,
    share: f64,
    level: f64,
) -> Result<LikelihoodInterval, Error> {
    let standard = fit.standard_quantile(share)?;
    Ok(limits(fit, observed, Constraint::Quantile { standard }, level)?.map(f64::exp))
}

/// The lower limit alone of [`quantile`], where the upper is of no use; none when it does not exist.
///
/// # Errors
/// As [`quantile`].
pub fn quantile_at_least(
    fit: &Fit,
    observed: &Observed,
    share: f64,
    level: f64,
) -> Result<Option<f64>, Error> {
    let standard = fit.standard_quantile(share)?;
    let deviate = normal_deviate(level)?;
    let profile = Profile {
        fit,
        observed,
        constraint: Constraint::Quantile { standard },
    };
    Ok(profile.limit(-1.0, deviate).map(f64::exp))
}

/// Limits for the probability that a life that has reached `from` fails before `to` (from 0: for F(to)).
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] unless 0 <= from < to.
pub fn failure_probability(
    fit: &Fit,
    observed: &Observed,
    from: f64,
    to: f64,
    level: f64,
) -> Result<LikelihoodInterval, Error> {
    check_stretch(from, to)?;
    let constraint = Constraint::Hazard {
        from: from.ln(),
        to: to.ln(),
    };
    let log_hazard = limits(fit, observed, constraint, level)?;
    Ok(log_hazard.map(|limit| -(-limit.exp()).exp_m1()))
}

/// Limits of the constraint's own value.
fn limits(
    fit: &Fit,
    observed: &Observed,
    constraint: Constraint,
    level: f64,
) -> Result<LikelihoodInterval, Error> {
    let deviate = normal_deviate(level)?;
    let profile = Profile {
        fit,
        observed,
        constraint,
    };
    Ok(LikelihoodInterval {
        lower: profile.limit(-1.0, deviate),
        upper: profile.limit(1.0, deviate),
    })
}
