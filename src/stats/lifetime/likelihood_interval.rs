//! Limits where the profile log-likelihood has fallen by half a chi-square quantile.
//!
//! Every quantity is a one-parameter family of curves in the plane of (mu, ln sigma): along each curve the quantity is fixed
//! and the likelihood is maximised; then the quantity moves until the maximum has fallen by z^2 / 2. The signed root of that
//! fall is nearly a straight line in the quantity, so that Newton's method on it needs few steps (Meeker & Escobar 1998,
//! section 8.3). With few failures a limit may not exist: the likelihood then never falls that far, and the limit is none.

use super::constraint::{Constraint, Free};
use super::fit::{Fit, check_stretch};
use super::likelihood::likelihood;
use super::observed::Observed;
use crate::stats::Error;
use crate::stats::interval::normal_deviate;

/// How far, in natural logarithms, a limit is sought from the estimate.
const FARTHEST: f64 = 40.0;

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

struct Profile<'a> {
    fit: &'a Fit,
    observed: &'a Observed,
    constraint: Constraint,
}

/// The profile at one value: its likelihood, where on the curve, its slope by the value, and how the place moves with it.
struct Top {
    value: f64,
    free: f64,
    slope: f64,
}

impl Profile<'_> {
    /// The limit on one side.
    fn limit(&self, side: f64, deviate: f64) -> Option<f64> {
        let (estimate, error) = self.constraint.estimate(self.fit);
        let mut free = self.constraint.free_at(self.fit);
        let (mut inside, mut outside) = (0.0, f64::INFINITY);
        let mut distance = deviate * error;
        for _ in 0..200 {
            let top = self.top(estimate + side * distance, free)?;
            free = top.free;
            let root = (2.0 * (self.fit.log_likelihood - top.value))
                .max(0.0)
                .sqrt();
            let miss = deviate - root;
            if miss > 0.0 {
                inside = distance;
            } else {
                outside = distance;
            }
            let growth = -side * top.slope / root;
            let newton = distance + miss / growth;
            // A step of Newton's leaves about its own square as error.
            if (newton - distance).abs() <= 1e-6 * error {
                return Some(estimate + side * newton);
            }
            if outside - inside <= 1e-14 * (1.0 + estimate.abs()) {
                return Some(estimate + side * distance);
            }
            distance = if outside.is_finite() {
                if newton > inside && newton < outside {
                    newton
                } else {
                    0.5 * (inside + outside)
                }
            } else if newton > inside {
                newton.min(2.5 * distance)
            } else {
                2.0 * distance
            };
            if inside >= FARTHEST {
                return None;
            }
        }
        None
    }

    /// The maximum along the curve of one value, from a place near it.
    fn top(&self, value: f64, start: f64) -> Option<Top> {
        let look = |free: f64| {
            let point = self.constraint.point(self.fit, free, value)?;
            let surface = likelihood(self.fit.family, self.observed, point.parameters);
            surface.value.is_finite().then_some((point, surface))
        };
        let (low, high) = self.constraint.range(self.fit);
        let mut free = start;
        let (mut point, mut surface) = look(free)?;
        for _ in 0..100 {
            let ([g0, g1], [t0, t1], [c0, c1]) = (surface.gradient, point.tangent, point.curvature);
            let [[a, b], [_, c]] = surface.hessian;
            let first = g0 * t0 + g1 * t1;
            let second = t0 * t0 * a + 2.0 * t0 * t1 * b + t1 * t1 * c + g0 * c0 + g1 * c1;
            let unit = self.constraint.free_unit(self.fit);
            let mut step = if second < 0.0 {
                -first / second
            } else {
                first.signum() * 0.5 * unit
            };
            step = step.clamp(-1.5 * unit, 1.5 * unit);
            step = (free + step).clamp(low, high) - free;
            if first * step <= 1e-17 || step == 0.0 {
                break;
            }
            let small = first * step < 1e-9;
            let mut next = look(free + step);
            while !small
                && next
                    .as_ref()
                    .is_none_or(|(_, there)| there.value < surface.value)
            {
                step *= 0.5;
                if step.abs() < 1e-14 * unit {
                    break;
                }
                next = look(free + step);
            }
            (point, surface) = next?;
            free += step;
        }
        let Free {
            by_value: [v0, v1], ..
        } = point;
        Some(Top {
            value: surface.value,
            free,
            slope: surface.gradient[0] * v0 + surface.gradient[1] * v1,
        })
    }
}
