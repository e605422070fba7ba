//! A table of counts beside the shares it is tested against, checked once.

use crate::stats::error::Error;

/// Largest distance of the sum of given shares from 1; they are divided by their sum.
const SUM_SLACK: f64 = 1e-6;

/// Equal shares for `cells` cells: `1 / cells` each.
pub fn equal(cells: usize) -> Vec<f64> {
    vec![1.0 / cells as f64; cells]
}

/// Counts and the shares they are tested against; the shares are positive and sum to 1.
#[derive(Debug, Clone)]
pub(super) struct Table {
    pub counts: Vec<u64>,
    pub shares: Vec<f64>,
    pub total: u64,
}

impl Table {
    pub fn new(counts: &[u64], shares: &[f64]) -> Result<Self, Error> {
        let bad = |name, requirement| Err(Error::Input { name, requirement });
        if counts.is_empty() {
            return bad("counts", "must hold at least one cell");
        }
        if counts.len() != shares.len() {
            return bad("shares", "must be as many as the counts");
        }
        if let Some(&value) = shares.iter().find(|v| !(v.is_finite() && **v > 0.0)) {
            return Err(Error::Parameter {
                name: "shares",
                value,
                requirement: "each must be above 0",
            });
        }
        let sum: f64 = shares.iter().sum();
        if (sum - 1.0).abs() > SUM_SLACK {
            return Err(Error::Parameter {
                name: "sum of shares",
                value: sum,
                requirement: "must be 1",
            });
        }
        let Some(total) = counts.iter().try_fold(0_u64, |sum, &x| sum.checked_add(x)) else {
            return bad("counts", "their sum must fit 64 bits");
        };
        Ok(Self {
            counts: counts.to_vec(),
            shares: shares.iter().map(|v| v / sum).collect(),
            total,
        })
    }

    pub fn cells(&self) -> usize {
        self.counts.len()
    }

    /// Expected count of each cell.
    pub fn expected(&self) -> Vec<f64> {
        self.shares.iter().map(|p| p * self.total as f64).collect()
    }
}
