//! The marginal likelihood of the cells and its derivatives.

use crate::stats::bracketed_root::bracketed_root;
use crate::stats::error::Error;
use crate::stats::rising_factorial::{
    digamma_difference, ln_rising_over_power, trigamma_difference,
};
use crate::stats::special::deviance::{ln_1p_minus, unit_deviance};
use crate::stats::special::stirling::stirling_error;

/// Cells with the same count on the same exposure: they share every term of the likelihood.
pub(super) struct Alike {
    pub(super) count: u64,
    pub(super) exposure: f64,
    /// How many cells.
    pub(super) times: f64,
}

/// Gathers equal cells. A table by cause and cylinder has the exposure of an engine many times over, and mostly few failures,
/// so that tens of thousands of cells are some thousand different ones.
pub(super) fn alike(mut cells: Vec<(u64, f64)>) -> Vec<Alike> {
    cells.sort_unstable_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    cells
        .chunk_by(|a, b| a == b)
        .filter_map(|same| {
            same.first().map(|&(count, exposure)| Alike {
                count,
                exposure,
                times: same.len() as f64,
            })
        })
        .collect()
}

/// The mean rate that maximises the likelihood for a given spread `theta`: the zero of `sum (y - m) / (1 + theta m)`,
/// `m` the expected count, which falls in the mean.
pub(super) fn mean_given_spread(cells: &[Alike], theta: f64, pooled: f64) -> Result<f64, Error> {
    let score = |ln_mean: f64| {
        let mean = ln_mean.exp();
        cells
            .iter()
            .map(|c| {
                let m = mean * c.exposure;
                c.times * (c.count as f64 - m) / (1.0 + theta * m)
            })
            .sum::<f64>()
    };
    let start = pooled.ln();
    let outwards = if score(start) > 0.0 { 1.0 } else { -1.0 };
    let mut reach = 1.0;
    while reach < 1024.0 && score(start + outwards * reach) * outwards > 0.0 {
        reach *= 2.0;
    }
    let ends = if outwards > 0.0 {
        (start, start + reach)
    } else {
        (start - reach, start)
    };
    Ok(bracketed_root("the mean rate", ends.0, ends.1, score)?.exp())
}

/// `ln` of the Poisson probability of `y` under mean `m`.
pub(super) fn ln_poisson(y: f64, m: f64) -> f64 {
    if y == 0.0 {
        return -m;
    }
    -unit_deviance(y, m, m - y) - stirling_error(y) - 0.5 * (std::f64::consts::TAU * y).ln()
}

/// Log-likelihood of all cells.
pub(super) fn ln_likelihood(cells: &[Alike], shape: f64, mean: f64) -> f64 {
    cells
        .iter()
        .map(|c| c.times * ln_mixed(c.count, c.exposure, shape, mean))
        .sum()
}

/// `ln` of the negative binomial probability of `y` on exposure `t`: the Poisson one, the rising factorial of the shape, and
/// the difference of the exponents, which near the boundary nearly cancel.
fn ln_mixed(y: u64, t: f64, shape: f64, mean: f64) -> f64 {
    let m = mean * t;
    let count = y as f64;
    ln_poisson(count, m) + ln_rising_over_power(shape, y)
        - count * (m / shape).ln_1p()
        - shape * ln_1p_minus(m / shape)
}

/// Derivative of the log-likelihood by the shape at a fixed mean.
pub(super) fn score_of_shape(cells: &[Alike], shape: f64, mean: f64) -> f64 {
    cells
        .iter()
        .map(|c| {
            let m = mean * c.exposure;
            let of_one = digamma_difference(shape, c.count) - (m / shape).ln_1p()
                + (m - c.count as f64) / (shape + m);
            c.times * of_one
        })
        .sum()
}

/// Inverse of the observed information in `(ln shape, ln rate)` at the maximum.
pub(super) fn covariance_of_logs(cells: &[Alike], a: f64, b: f64) -> Option<[[f64; 2]; 2]> {
    let (mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0);
    for c in cells {
        let (y, t) = (c.count, c.exposure);
        aa += c.times * trigamma_difference(a, y);
        ab -= c.times * t / (b * (b + t));
        bb += c.times * (a / (b * b) - (a + y as f64) / ((b + t) * (b + t)));
    }
    let (aa, ab, bb) = (aa * a * a, ab * a * b, bb * b * b);
    let determinant = aa * bb - ab * ab;
    let covariance = [
        [bb / determinant, -ab / determinant],
        [-ab / determinant, aa / determinant],
    ];
    (determinant > 0.0 && covariance.iter().flatten().all(|v| v.is_finite())).then_some(covariance)
}
