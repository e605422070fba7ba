//! The distance by which a share of the lives has failed, with limits by inverting those of the curve.

use super::confidence::Transformation;
use super::kaplan_meier::{KaplanMeier, Step};
use super::unidentified::Unidentified;
use crate::stats::Error;
use crate::stats::interval::normal_deviate;

/// Relative slack when survival is compared with its target: products such as 0.5 are not exact in binary.
const SLACK: f64 = 1e-12;

/// A quantile of the distance to failure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantile {
    /// The first distance with S(t) <= 1 - share, or why there is none.
    pub distance: Result<f64, Unidentified>,
    /// When S(t) equals 1 - share on a flat stretch, where that stretch ends. Some programs print its middle.
    pub flat_until: Option<f64>,
    /// The first distance at which the lower limit of S(t) is at or below 1 - share; none when it stays above.
    pub lower: Option<f64>,
    /// The first distance at which the upper limit of S(t) is at or below 1 - share; none when it stays above, as it often
    /// does with heavy censoring.
    pub upper: Option<f64>,
}

/// The quantile of the distance to failure for `share` (0.1 for the distance by which 10 % have failed), with limits at
/// confidence `level` by inverting the pointwise limits (Brookmeyer & Crowley 1982).
///
/// # Errors
/// [`Error::Level`]; [`Error::Parameter`] unless 0 < share < 1.
pub fn quantile(
    curve: &KaplanMeier,
    share: f64,
    transformation: Transformation,
    level: f64,
) -> Result<Quantile, Error> {
    let deviate = normal_deviate(level)?;
    if !(share > 0.0 && share < 1.0) {
        return Err(Error::Parameter {
            name: "share",
            value: share,
            requirement: "a quantile's share must lie strictly between 0 and 1",
        });
    }
    let target = 1.0 - share;
    let steps = curve.known_steps();
    let first = |value: &dyn Fn(&Step) -> Option<f64>| {
        let reached =
            |step: &&Step| value(step).is_some_and(|value| value <= target * (1.0 + SLACK));
        steps.iter().find(reached).map(|step| step.distance)
    };
    let limits = |step: &Step| step.limits(transformation, deviate).ok();
    let reached = first(&|step| Some(step.survival));
    Ok(Quantile {
        distance: reached.ok_or_else(|| not_reached(curve, steps, share)),
        flat_until: reached.and_then(|distance| flat_until(curve, steps, distance, target)),
        lower: first(&|step| limits(step).map(|limits| limits.lower)),
        upper: first(&|step| limits(step).map(|limits| limits.upper)),
    })
}

fn not_reached(curve: &KaplanMeier, steps: &[Step], share: f64) -> Unidentified {
    curve.caveat().unwrap_or(Unidentified::NotReached {
        share,
        survival: steps.last().map_or(1.0, |step| step.survival),
        last_exit: curve.last_exit(),
    })
}

/// The end of the flat stretch that starts at `distance` when survival there equals the target.
fn flat_until(curve: &KaplanMeier, steps: &[Step], distance: f64, target: f64) -> Option<f64> {
    let position = steps.iter().position(|step| step.distance == distance)?;
    let step = steps.get(position)?;
    let equal = (step.survival / target - 1.0).abs() <= SLACK;
    let next = steps.get(position + 1).map(|step| step.distance);
    equal.then(|| next.unwrap_or(curve.last_exit()))
}
