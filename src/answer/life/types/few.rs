//! What few failures can say, and the shape they borrow.

use serde::Serialize;

use crate::answer::label::RowKey;
use crate::answer::parts::Estimate;

/// What so few failures can say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bound {
    /// Rate of failures per 100 000 km (or miles), exact limits; the value is failures over distance.
    pub rate: Estimate,
    /// One-sided upper bound of the rate at the same level.
    pub rate_at_most: f64,
    /// Distances before which a share does not fail, if the shape is right.
    pub shapes: Vec<StatedShape>,
}

/// A bound under a stated Weibull shape.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StatedShape {
    /// The shape.
    pub shape: f64,
    /// `stated` or `shared`: where it comes from.
    pub source: &'static str,
    /// The share.
    pub share: f64,
    /// At the level asked for, the share has not failed before this distance.
    pub at_least_m: f64,
    /// Whether that is beyond the well-filled distance, and so a matter of the shape alone.
    pub beyond: bool,
}

/// A Weibull shape that all groups share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PooledShape {
    /// What fails, where causes or cylinders are told apart.
    pub what: RowKey,
    /// Groups with failures that it is learnt from.
    pub groups: u64,
    /// Their failures.
    pub failures: u64,
    /// The shape, with limits by the normal approximation to its logarithm.
    pub shape: Estimate,
    /// p-value of one shape for all; none when fewer than two groups can be fitted alone.
    pub p_equal: Option<f64>,
}
