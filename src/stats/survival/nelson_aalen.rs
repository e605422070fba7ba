//! The cumulative hazard with late entry and right censoring, and its variance.

use super::confidence::Transformation;
use super::risk_table::RiskTable;
use crate::stats::Interval;

/// The cumulative hazard from one distance with failures on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HazardStep {
    /// Distance of the failures.
    pub distance: f64,
    /// Lives at risk there.
    pub at_risk: u64,
    /// Failures there.
    pub failed: u64,
    /// H(t), the sum of d / n.
    pub cumulative_hazard: f64,
    /// Aalen's variance of H(t), the sum of d / n^2.
    pub variance: f64,
}

impl HazardStep {
    /// exp(-H(t)), the survival of Fleming & Harrington (1984): not the Kaplan-Meier estimate.
    pub fn survival(&self) -> f64 {
        (-self.cumulative_hazard).exp()
    }

    /// Limits of the cumulative hazard on the log scale, H exp(+- deviate se / H); they stay above 0.
    pub fn limits(&self, deviate: f64) -> Interval {
        let relative = self.variance.sqrt() / self.cumulative_hazard;
        Transformation::Log.limits(self.cumulative_hazard, relative, deviate)
    }
}

/// H(t) = sum over failure distances u <= t of d(u) / n(u) (Nelson 1969, Aalen 1978), with variance sum d / n^2.
///
/// Where the failures at one distance are a large share of the risk set this version is smaller than its tie-corrected form.
#[derive(Debug, Clone, PartialEq)]
pub struct NelsonAalen {
    /// One step a distance with failures.
    pub steps: Vec<HazardStep>,
}

impl NelsonAalen {
    /// Estimates the cumulative hazard; without failures there are no steps.
    pub fn new(table: &RiskTable) -> Self {
        let (mut cumulative_hazard, mut variance) = (0.0, 0.0);
        let failures = table.with_risk_sets().filter(|(row, _)| row.failed > 0);
        let steps = failures.map(|(row, at_risk)| {
            let (n, d) = (at_risk as f64, row.failed as f64);
            cumulative_hazard += d / n;
            variance += d / (n * n);
            HazardStep {
                distance: row.distance,
                at_risk,
                failed: row.failed,
                cumulative_hazard,
                variance,
            }
        });
        Self {
            steps: steps.collect(),
        }
    }
}
