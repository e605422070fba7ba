//! Score intervals, each at its part of the level.

use super::total::{Total, total};
use crate::stats::error::Error;
use crate::stats::interval::{Interval, outside};
use crate::stats::special::chi2_isf;

/// Goodman's simultaneous score intervals.
///
/// The roots in `pi` of `n (p - pi)^2 = A pi (1 - pi)`, `p` the observed share of the cell, `n` the sum of all counts
/// and `A` the upper `(1 - level) / k` point of chi-square with 1 degree of freedom, `k` the number of cells
/// (Goodman 1965, Technometrics 7:247, the Bonferroni form of his section 2). Approximate: for few counts use
/// [`bonferroni_clopper_pearson`].
///
/// # Errors
/// No cell, or a level outside (0, 1).
pub fn goodman(counts: &[u64], level: f64) -> Result<Vec<Interval>, Error> {
    let n = match total(counts, level)? {
        Total::Known(n) => n as f64,
        Total::Trivial(intervals) => return Ok(intervals),
    };
    let a = chi2_isf(outside(level)? / counts.len() as f64, 1.0);
    Ok(counts
        .iter()
        .map(|&x| score_interval(x as f64, n, a))
        .collect())
}

/// The smaller root as product over the larger one, so that it is exactly 0 at `x = 0` and loses no digits near it.
fn score_interval(x: f64, n: f64, a: f64) -> Interval {
    let root = (a * (a + 4.0 * x * ((n - x) / n))).sqrt();
    let upper = ((a + 2.0 * x + root) / (2.0 * (n + a))).min(1.0);
    Interval {
        lower: x * (x / n) / ((n + a) * upper),
        upper,
    }
}
