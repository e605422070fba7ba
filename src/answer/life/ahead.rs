//! The probability that a life which has come so far fails within a further distance.

use super::curve::{Curve, SCALE};
use super::fits::{self, Fits};
use super::model::{Model, Setting};
use super::reason;
use super::types::{Ahead, AheadByFit};
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::lifetime::likelihood_interval;

/// From one distance over the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Metres reached.
    pub from_m: i64,
    /// Further metres.
    pub over_m: i64,
}

/// By the curve given the distance reached, and by each distribution as far as the data are well filled.
///
/// # Errors
/// A level outside (0, 1).
pub fn ahead(model: &Model, fits: &Fits, stretch: Stretch, setting: Setting) -> Result<Ahead> {
    let (from, to) = (
        stretch.from_m as f64,
        (stretch.from_m + stretch.over_m) as f64,
    );
    let (observed, why) = by_curve(model, from, to, setting)?;
    let filled = model.well_filled_to().is_some_and(|end| to <= end);
    let mut by_fit = Vec::new();
    for fit in fits.families.iter().filter(|_| filled) {
        let limits = told(likelihood_interval::failure_probability(
            fit,
            &model.observed,
            from,
            to,
            setting.level,
        ))?;
        by_fit.push(AheadByFit {
            distribution: fits::id(fit.family),
            probability: fits::profiled(fit.failure_probability(from, to), limits, setting.level),
        });
    }
    if let Some(constant) = fits.exponential.filter(|e| filled && e.failures > 0) {
        let share = |rate: f64| -(-rate * (to - from)).exp_m1();
        by_fit.push(AheadByFit {
            distribution: "exponential",
            probability: Estimate {
                value: share(constant.rate),
                lower: share(constant.limits.lower),
                upper: Some(share(constant.limits.upper)),
                level: setting.level,
                method: "garwood".to_string(),
            },
        });
    }
    Ok(Ahead {
        from_m: stretch.from_m,
        over_m: stretch.over_m,
        observed,
        why,
        fits: by_fit,
    })
}

/// 1 - S(to) / S(from) among the lives that reach `from`.
fn by_curve(
    model: &Model,
    from: f64,
    to: f64,
    setting: Setting,
) -> Result<(Option<Estimate>, Option<String>)> {
    let Some(curve) = Curve::new(&model.table, Some(from))? else {
        return Ok((None, Some("nobody was watched there".to_string())));
    };
    if curve.from > from {
        let why = format!(
            "nobody was watched before {}",
            crate::answer::words::distance(curve.from, setting.unit)
        );
        return Ok((None, Some(why)));
    }
    let limits = told(curve.kaplan_meier.limits(to, SCALE, setting.level))?;
    let survival = curve.kaplan_meier.survival(to);
    Ok(match (survival, limits) {
        (Ok(value), Ok(limits)) => {
            let estimate = Estimate {
                value: 1.0 - value,
                lower: 1.0 - limits.upper,
                upper: Some(1.0 - limits.lower),
                level: setting.level,
                method: SCALE.id().to_string(),
            };
            (Some(estimate), None)
        }
        (Err(why), _) | (_, Err(why)) => (None, Some(reason::words(&why, setting.unit))),
    })
}

/// A stretch in words: `20 000 km from 100 000 km on`.
pub fn words(ahead: &Ahead, setting: Setting) -> String {
    let far = |m: i64| crate::answer::words::distance(m as f64, setting.unit);
    if ahead.from_m == 0 {
        format!("the first {}", far(ahead.over_m))
    } else {
        format!("the {} after {}", far(ahead.over_m), far(ahead.from_m))
    }
}
