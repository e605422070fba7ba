//! The mean number (or cost) of repairs a vehicle has had by a distance.

use super::recurrence_table::RecurrenceTable;

/// The mean from one distance with events on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanStep {
    /// Distance of the events.
    pub distance: f64,
    /// Vehicles at risk there.
    pub at_risk: u64,
    /// Events there.
    pub events: u64,
    /// Their amount a vehicle at risk.
    pub increment: f64,
    /// M(t), the mean cumulative number or cost.
    pub mean: f64,
    /// The variance if events came as a Poisson process, alike for all vehicles: the sum of squared amounts / n^2. Too small when
    /// some vehicles are prone to repairs: use [`super::RobustVariance`].
    pub poisson_variance: f64,
}

/// M(t) = sum over event distances u <= t of amount(u) / n(u) (Nelson 1988; with gaps and late starts Zuo, Meeker & Wu 2008),
/// without any assumption about how one vehicle's events hang together.
#[derive(Debug, Clone, PartialEq)]
pub struct MeanCumulativeFunction {
    /// One step a distance with events.
    pub steps: Vec<MeanStep>,
}

impl MeanCumulativeFunction {
    /// Estimates the mean; without events there are no steps.
    pub fn new(table: &RecurrenceTable) -> Self {
        let (mut mean, mut poisson_variance) = (0.0, 0.0);
        let events = table.with_risk_sets().filter(|(row, _)| row.events > 0);
        let steps = events.map(|(row, at_risk)| {
            let n = at_risk as f64;
            let increment = row.amount / n;
            mean += increment;
            poisson_variance += row.amount_squares / (n * n);
            MeanStep {
                distance: row.distance,
                at_risk,
                events: row.events,
                increment,
                mean,
                poisson_variance,
            }
        });
        Self {
            steps: steps.collect(),
        }
    }

    /// M(t) at any distance, 0 before the first event.
    pub fn at(&self, distance: f64) -> f64 {
        let passed = self.steps.partition_point(|step| step.distance <= distance);
        passed
            .checked_sub(1)
            .and_then(|last| self.steps.get(last))
            .map_or(0.0, |step| step.mean)
    }
}
