//! What no failure, or one, can say: an exact bound on the rate, and distances under a stated or shared shape.

use super::hazard;
use super::model::{Reach, Setting};
use super::types::{Bound, StatedShape};
use crate::answer::rates::compute::PER;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::lifetime::{Observed, exponential, fixed_shape};

/// The share a bound on the distance is given for.
const SHARE: f64 = 0.1;

/// Shapes tried when none is named: no wear, and the span that worn parts usually show (common practice, no source).
pub const STATED: [f64; 3] = [1.0, 2.0, 3.0];

/// The bound of a group; none without distance.
///
/// # Errors
/// A level outside (0, 1).
pub fn bound(
    reach: &Reach,
    observed: &Observed,
    stated: &[f64],
    shared: Option<f64>,
    setting: Setting,
) -> Result<Option<Bound>> {
    let (exposure, failures) = (reach.exposure, reach.failures);
    let Some(rate) = hazard::rate(failures, exposure, setting)? else {
        return Ok(None);
    };
    let constant = told(exponential(failures, exposure, setting.level))?;
    let filled = reach.filled.unwrap_or(0.0);
    let mut shapes = Vec::new();
    let all = stated.iter().map(|shape| (*shape, "stated"));
    for (shape, source) in shared.map(|shape| (shape, "shared")).into_iter().chain(all) {
        let fixed = told(fixed_shape(observed, shape, setting.level))?;
        let at_least_m = told(fixed.quantile_bound(SHARE))?;
        shapes.push(StatedShape {
            shape,
            source,
            share: SHARE,
            at_least_m,
            beyond: at_least_m > filled,
        });
    }
    Ok(Some(Bound {
        rate,
        rate_at_most: constant.upper_bound * setting.unit.metres_per_unit() * PER,
        shapes,
    }))
}
