//! Whether two groups of vehicles differ in their mean cumulative repairs.

use crate::stats::interval::normal_deviate;
use crate::stats::{Error, Interval};

/// A mean with its variance from one distance on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanAt {
    /// The distance.
    pub distance: f64,
    /// M(t).
    pub mean: f64,
    /// Its variance, by the formula the caller chose for both groups.
    pub variance: f64,
}

/// The difference of two means from one distance on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// The distance.
    pub distance: f64,
    /// First minus second mean.
    pub difference: f64,
    /// Its standard error; the groups are independent.
    pub standard_error: f64,
    /// Pointwise limits, difference +- z standard errors (Doganaksoy & Nelson 1998, Lifetime Data Analysis 4:175).
    pub limits: Interval,
}

/// The difference of two mean cumulative functions at every distance at which one of them steps.
///
/// # Errors
/// [`Error::Level`].
pub fn difference(
    first: &[MeanAt],
    second: &[MeanAt],
    level: f64,
) -> Result<Vec<Difference>, Error> {
    let deviate = normal_deviate(level)?;
    let mut distances: Vec<f64> = first
        .iter()
        .chain(second)
        .map(|step| step.distance)
        .collect();
    distances.sort_by(f64::total_cmp);
    distances.dedup();
    let at = |steps: &[MeanAt], distance: f64| {
        let passed = steps.partition_point(|step| step.distance <= distance);
        let last = passed.checked_sub(1).and_then(|last| steps.get(last));
        last.map_or((0.0, 0.0), |step| (step.mean, step.variance))
    };
    let rows = distances.into_iter().map(|distance| {
        let ((m1, v1), (m2, v2)) = (at(first, distance), at(second, distance));
        let (difference, standard_error) = (m1 - m2, (v1 + v2).sqrt());
        Difference {
            distance,
            difference,
            standard_error,
            limits: Interval {
                lower: difference - deviate * standard_error,
                upper: difference + deviate * standard_error,
            },
        }
    });
    Ok(rows.collect())
}
