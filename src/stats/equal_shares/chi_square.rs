//! Asymptotic goodness-of-fit tests with residuals.

use super::ordering::Ordering;
use super::table::Table;
use crate::stats::error::Error;
use crate::stats::special::chi2_sf;

/// Result of a goodness-of-fit test.
#[derive(Debug, Clone, PartialEq)]
pub struct GoodnessOfFit {
    /// Test statistic.
    pub statistic: f64,
    /// Degrees of freedom, cells less one.
    pub degrees: u64,
    /// Upper tail of chi-square; 1 where there is nothing to test (one cell, no count).
    pub p: f64,
    /// Expected counts. The p-value is rough where one of them is below 5 (common practice).
    pub expected: Vec<f64>,
    /// Pearson residuals `(x - e) / sqrt(e)`.
    pub pearson_residuals: Vec<f64>,
    /// Standardised residuals `(x - e) / sqrt(e (1 - p))`, about standard normal each if the shares hold.
    pub standardised_residuals: Vec<f64>,
}

/// Pearson's chi-square `sum (x - e)^2 / e` of `counts` against `shares` (Pearson 1900, Phil Mag 50:157).
///
/// # Errors
/// No cell, shares that are not positive or do not sum to 1, unequal lengths.
pub fn chi_square(counts: &[u64], shares: &[f64]) -> Result<GoodnessOfFit, Error> {
    asymptotic(counts, shares, Ordering::ChiSquare)
}

/// The likelihood-ratio statistic `G = 2 sum x ln(x / e)` of `counts` against `shares` (Wilks 1935, Ann Math Stat 6:190).
///
/// With few counts its asymptotic p-value can be half the exact one; see [`super::exact`].
///
/// # Errors
/// As [`chi_square`].
pub fn g_test(counts: &[u64], shares: &[f64]) -> Result<GoodnessOfFit, Error> {
    asymptotic(counts, shares, Ordering::LikelihoodRatio)
}

fn asymptotic(counts: &[u64], shares: &[f64], ordering: Ordering) -> Result<GoodnessOfFit, Error> {
    let table = Table::new(counts, shares)?;
    let expected = table.expected();
    let degrees = table.cells() as u64 - 1;
    let mut statistic = 0.0;
    let (mut pearson, mut standardised) = (Vec::new(), Vec::new());
    for ((&x, &e), &share) in counts.iter().zip(&expected).zip(&table.shares) {
        let off = x as f64 - e;
        if e > 0.0 {
            statistic += ordering.part(x as f64, e);
        }
        pearson.push(if off == 0.0 { 0.0 } else { off / e.sqrt() });
        standardised.push(if off == 0.0 || share >= 1.0 {
            0.0
        } else {
            off / (e * (1.0 - share)).sqrt()
        });
    }
    let p = if degrees == 0 || table.total == 0 {
        1.0
    } else {
        chi2_sf(statistic, degrees as f64)
    };
    Ok(GoodnessOfFit {
        statistic,
        degrees,
        p,
        expected,
        pearson_residuals: pearson,
        standardised_residuals: standardised,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::equal_shares::equal;
    use approx::assert_relative_eq;

    #[test]
    fn edges() {
        for function in [chi_square, g_test] {
            for (counts, shares) in [(&[4_u64][..], vec![1.0]), (&[0, 0, 0], equal(3))] {
                let fit = function(counts, &shares).unwrap();
                assert_eq!((fit.statistic, fit.p), (0.0, 1.0));
                assert!(
                    fit.pearson_residuals
                        .iter()
                        .chain(&fit.standardised_residuals)
                        .all(|r| *r == 0.0)
                );
            }
            // Closed form: x = n (1 +- d) / 2 has chi-square n d^2 and, for small d, the same G.
            let huge = function(&[500_010_000, 499_990_000], &equal(2)).unwrap();
            assert_relative_eq!(huge.statistic, 0.4, max_relative = 1e-8);
            assert!(function(&[1], &equal(2)).is_err() && function(&[], &[]).is_err());
        }
    }

    /// Two cells: both standardised residuals are the square root of chi-square (closed form).
    #[test]
    fn standardised_residual_of_two_cells() {
        let fit = chi_square(&[13, 4], &[0.3, 0.7]).unwrap();
        assert_relative_eq!(
            fit.standardised_residuals[0],
            fit.statistic.sqrt(),
            max_relative = 1e-14
        );
        assert_relative_eq!(
            fit.standardised_residuals[1],
            -fit.statistic.sqrt(),
            max_relative = 1e-14
        );
    }
}
