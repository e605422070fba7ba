//! Which cells differ from which.

use super::table::Table;
use crate::stats::error::Error;
use crate::stats::multiple::holm;
use crate::stats::special::beta_i;

/// Comparison of two cells of a whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Index of the first cell.
    pub first: usize,
    /// Index of the second cell, larger than `first`.
    pub second: usize,
    /// Share of the first cell in the two together; `None` if both are empty.
    pub share_of_first: Option<f64>,
    /// The share of the first in the two that is tested, 1/2 for equal shares.
    pub supposed: f64,
    /// Two-sided exact p-value of this pair alone.
    pub p: f64,
    /// The same after Holm's adjustment over all pairs.
    pub adjusted: f64,
}

/// Every pair of cells by the exact binomial test of the first cell's count in the two, adjusted by Holm over the pairs.
///
/// Given the sum of the two, the first count is binomial with share `p_i / (p_i + p_j)`. The p-value is twice the smaller
/// tail, at most 1; with equal shares that is the usual exact test (Clopper & Pearson 1934, Biometrika 26:404). Pairs come
/// in order of their first, then second cell; one cell has none.
///
/// # Errors
/// As [`super::chi_square`].
pub fn pairwise(counts: &[u64], shares: &[f64]) -> Result<Vec<Pair>, Error> {
    let table = Table::new(counts, shares)?;
    let mut pairs = Vec::new();
    for first in 0..table.cells() {
        for second in first + 1..table.cells() {
            let supposed = table.shares[first] / (table.shares[first] + table.shares[second]);
            let (x, y) = (table.counts[first], table.counts[second]);
            let share_of_first = (x + y > 0).then(|| x as f64 / (x + y) as f64);
            let p = two_sided(x as f64, y as f64, supposed);
            pairs.push(Pair {
                first,
                second,
                share_of_first,
                supposed,
                p,
                adjusted: p,
            });
        }
    }
    let adjusted = holm(&pairs.iter().map(|pair| pair.p).collect::<Vec<_>>())?;
    for (pair, adjusted) in pairs.iter_mut().zip(adjusted) {
        pair.adjusted = adjusted;
    }
    Ok(pairs)
}

/// Twice the smaller binomial tail of `x` among `x + y`, at most 1.
fn two_sided(x: f64, y: f64, share: f64) -> f64 {
    let at_least = if x == 0.0 {
        1.0
    } else {
        beta_i(x, y + 1.0, share)
    };
    let at_most = if y == 0.0 {
        1.0
    } else {
        beta_i(y, x + 1.0, 1.0 - share)
    };
    (2.0 * at_least.min(at_most)).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Closed form: 0 of 6 at 1/2 has p = 2 / 64; 1 of 6 has 2 (1 + 6) / 64.
    #[test]
    fn pairs_match_binomial_sums() {
        let pairs = pairwise(&[0, 6, 1, 5], &[0.25; 4]).unwrap();
        assert_eq!(
            pairs
                .iter()
                .map(|p| (p.first, p.second))
                .collect::<Vec<_>>(),
            [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)]
        );
        assert_relative_eq!(pairs[0].p, 2.0 / 64.0, max_relative = 1e-13);
        assert_relative_eq!(pairs[0].adjusted, 12.0 / 64.0, max_relative = 1e-13);
        assert_relative_eq!(pairs[5].p, 14.0 / 64.0, max_relative = 1e-13);
        assert_eq!(pairs[1].p, 1.0);
        assert_eq!(pairs[4].p, 1.0);
    }

    /// Closed form: at a supposed share of 1/4, 4 of 4 has the tail 4^-4.
    #[test]
    fn unequal_supposed_shares() {
        let pairs = pairwise(&[4, 0, 7], &[0.1, 0.3, 0.6]).unwrap();
        assert_relative_eq!(pairs[0].p, 2.0 / 256.0, max_relative = 1e-12);
        assert_relative_eq!(pairs[0].supposed, 0.25, max_relative = 1e-15);
    }

    #[test]
    fn edges() {
        assert_eq!(pairwise(&[5], &[1.0]).unwrap(), []);
        let empty = pairwise(&[0, 0, 0], &[1.0 / 3.0; 3]).unwrap();
        assert!(
            empty
                .iter()
                .all(|p| p.p == 1.0 && p.adjusted == 1.0 && p.share_of_first.is_none())
        );
        let huge = pairwise(&[500_000_000, 500_100_000], &[0.5; 2]).unwrap();
        // Normal limit of the binomial: z = 99_999 / sqrt(10^9), two-sided 0.0015656 (closed form by the error function).
        assert_relative_eq!(huge[0].p, 0.001_565, max_relative = 5e-3);
    }
}
