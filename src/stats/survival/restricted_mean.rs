//! The mean distance lived up to a limit: the area under the survival curve.

use super::kaplan_meier::KaplanMeier;
use super::unidentified::Unidentified;

/// A mean distance restricted to a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestrictedMean {
    /// The area under S(t) from the curve's start to the limit, in the unit of the distances.
    pub mean: f64,
    /// Its standard error.
    pub standard_error: f64,
}

/// The area under S(t) between the curve's start and `limit`: the mean distance driven without failure before the limit, for
/// lives that reach the start.
///
/// Variance: the sum over failures of A(t)^2 d / (n (n - d)), with A(t) the area from t to the limit (Klein & Moeschberger
/// 2003, section 4.5).
///
/// # Errors
/// [`Unidentified`] when the curve is not known up to the limit.
pub fn restricted_mean(curve: &KaplanMeier, limit: f64) -> Result<RestrictedMean, Unidentified> {
    curve.step_at(limit)?;
    let (mut area, mut survival, mut at) = (0.0, 1.0, curve.first_entry());
    let steps = curve.steps().iter().filter(|step| step.distance < limit);
    let mut reached = Vec::new();
    for step in steps {
        area += survival * (step.distance - at);
        (survival, at) = (step.survival, step.distance);
        reached.push((step, area));
    }
    let mean = area + survival * (limit - at);
    let variance: f64 = reached
        .iter()
        .filter(|(step, _)| step.survival > 0.0)
        .map(|(step, before)| {
            let (n, d) = (step.at_risk as f64, step.failed as f64);
            (mean - before).powi(2) * d / (n * (n - d))
        })
        .sum();
    Ok(RestrictedMean {
        mean,
        standard_error: variance.sqrt(),
    })
}
