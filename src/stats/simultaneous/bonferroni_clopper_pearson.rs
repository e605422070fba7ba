//! Exact intervals, each at its part of the level.

use super::total::{Total, total};
use crate::stats::error::Error;
use crate::stats::interval::{Interval, outside};
use crate::stats::proportion::clopper_pearson;

/// Clopper-Pearson intervals at `1 - (1 - level) / k` each: never below the stated level, often above.
///
/// # Errors
/// No cell, or a level outside (0, 1).
pub fn bonferroni_clopper_pearson(counts: &[u64], level: f64) -> Result<Vec<Interval>, Error> {
    let n = match total(counts, level)? {
        Total::Known(n) => n,
        Total::Trivial(intervals) => return Ok(intervals),
    };
    let each = 1.0 - outside(level)? / counts.len() as f64;
    counts
        .iter()
        .map(|&x| clopper_pearson(x, n, each))
        .collect()
}
