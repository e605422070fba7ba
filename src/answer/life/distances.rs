//! The distances by which 1, 5, 10 and 50 % have failed, by the curve and by each distribution.

use super::curve::{Curve, SCALE};
use super::fits::{self, Fits};
use super::model::{Model, Setting, metres};
use super::reason;
use super::types::{GroupLife, ShareFailed};
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::lifetime::{Exponential, Fit, LikelihoodInterval, likelihood_interval};
use crate::stats::survival::quantile;

/// The shares asked for.
pub const SHARES: [f64; 4] = [0.01, 0.05, 0.1, 0.5];

/// The share whose distance is the headline.
pub const TENTH: f64 = 0.1;

/// Id of the estimate without a distribution.
pub const KAPLAN_MEIER: &str = "kaplan-meier";

/// The distance by which 10 % have failed, by the curve.
pub fn tenth(group: &GroupLife) -> Option<&Estimate> {
    let headline = |row: &&ShareFailed| row.share == TENTH && row.method == KAPLAN_MEIER;
    let row = group.shares.iter().find(headline);
    row.and_then(|row| row.distance.as_ref())
}

/// By the curve.
///
/// # Errors
/// A level outside (0, 1).
pub fn by_curve(curve: &Curve, share: f64, setting: Setting) -> Result<ShareFailed> {
    let level = setting.level;
    let found = told(quantile(&curve.kaplan_meier, share, SCALE, level))?;
    Ok(match found.distance {
        Ok(value) => ShareFailed {
            share,
            method: KAPLAN_MEIER.to_string(),
            given_m: metres(curve.from),
            distance: Some(Estimate {
                value,
                // The lower limit of the curve is at or below the curve, so it falls as far no later.
                lower: found.lower.unwrap_or(value),
                upper: found.upper,
                level,
                method: "log-log".to_string(),
            }),
            at_least_m: None,
            why: None,
        },
        Err(why) => ShareFailed {
            share,
            method: KAPLAN_MEIER.to_string(),
            given_m: metres(curve.from),
            distance: None,
            at_least_m: found.lower,
            why: Some(reason::words(&why, setting.unit)),
        },
    })
}

/// By a fitted family, as far as the data are well filled.
///
/// # Errors
/// A level outside (0, 1).
pub fn by_fit(
    fit: &Fit,
    model: &Model,
    filled: Option<f64>,
    share: f64,
    level: f64,
) -> Result<ShareFailed> {
    let value = told(fit.quantile(share, level))?.value;
    let observed = &model.observed;
    // Beyond the well-filled distance nothing but the lower limit is told.
    let limits = if value <= filled.unwrap_or(0.0) {
        told(likelihood_interval::quantile(fit, observed, share, level))?
    } else {
        LikelihoodInterval {
            lower: told(likelihood_interval::quantile_at_least(
                fit, observed, share, level,
            ))?,
            upper: None,
        }
    };
    let estimate = fits::profiled(value, limits, level);
    Ok(within(share, fits::id(fit.family), estimate, filled))
}

/// By the constant rate.
pub fn by_constant(
    constant: &Exponential,
    filled: Option<f64>,
    share: f64,
    level: f64,
) -> ShareFailed {
    let driven = -(-share).ln_1p();
    let estimate = Estimate {
        value: driven / constant.rate,
        lower: driven / constant.limits.upper,
        upper: (constant.limits.lower > 0.0).then(|| driven / constant.limits.lower),
        level,
        method: "garwood".to_string(),
    };
    within(share, "exponential", estimate, filled)
}

/// By a family whose shape is shared with other groups; limits by the normal approximation.
///
/// # Errors
/// A level outside (0, 1).
pub fn by_shared_shape(
    fit: &Fit,
    filled: Option<f64>,
    share: f64,
    level: f64,
) -> Result<ShareFailed> {
    let fitted = told(fit.quantile(share, level))?;
    let estimate = Estimate {
        value: fitted.value,
        lower: fitted.wald.lower,
        upper: Some(fitted.wald.upper),
        level,
        method: "wald".to_string(),
    };
    Ok(within(share, "weibull-shared-shape", estimate, filled))
}

/// Nothing is read off a distribution beyond the well-filled distance.
fn within(share: f64, method: &str, estimate: Estimate, filled: Option<f64>) -> ShareFailed {
    let end = filled.unwrap_or(0.0);
    if estimate.value <= end {
        return ShareFailed {
            share,
            method: method.to_string(),
            given_m: 0,
            distance: Some(estimate),
            at_least_m: None,
            why: None,
        };
    }
    ShareFailed {
        share,
        method: method.to_string(),
        given_m: 0,
        distance: None,
        at_least_m: (end > 0.0).then(|| estimate.lower.min(end)),
        why: Some("it lies beyond the last well-filled distance".to_string()),
    }
}

/// All shares by the curve and by every fit.
///
/// # Errors
/// A level outside (0, 1).
pub fn all(
    curve: &Curve,
    model: &Model,
    fits: &Fits,
    setting: Setting,
) -> Result<Vec<ShareFailed>> {
    let level = setting.level;
    let filled = model.well_filled_to();
    let mut out = Vec::new();
    for share in SHARES {
        out.push(by_curve(curve, share, setting)?);
        for fit in &fits.families {
            out.push(by_fit(fit, model, filled, share, level)?);
        }
        if let Some(constant) = fits.exponential.as_ref().filter(|e| e.failures > 0) {
            out.push(by_constant(constant, filled, share, level));
        }
    }
    Ok(out)
}
