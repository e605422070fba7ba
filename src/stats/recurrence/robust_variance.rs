//! The variance of the mean cumulative function that respects vehicles, gathered one vehicle at a time.

use super::history::History;
use super::mean_cumulative_function::MeanCumulativeFunction;

/// Gathers the robust variance of M(t) at chosen distances: the sum over vehicles of (sum over their events and stretches of
/// (amount - increment) / n)^2, with the divisor n (Lawless & Nadeau 1995, Technometrics 37:158, eq. 2.7).
///
/// The mean comes first, from counts; then each vehicle passes once and only its sums are kept, so that a million vehicles
/// need no more memory than the distances asked for. The order of vehicles changes the last digits only.
#[derive(Debug, Clone, PartialEq)]
pub struct RobustVariance {
    /// Event distances of the mean.
    distances: Vec<f64>,
    /// Vehicles at risk at each.
    at_risk: Vec<f64>,
    /// Running sum of increment / n through each.
    expected: Vec<f64>,
    at: Vec<f64>,
    sums: Vec<f64>,
}

impl RobustVariance {
    /// Prepares for the distances `at`, in increasing order.
    pub fn new(mean: &MeanCumulativeFunction, at: Vec<f64>) -> Self {
        let mut sum = 0.0;
        let expected = mean.steps.iter().map(|step| {
            sum += step.increment / step.at_risk as f64;
            sum
        });
        Self {
            expected: expected.collect(),
            distances: mean.steps.iter().map(|step| step.distance).collect(),
            at_risk: mean.steps.iter().map(|step| step.at_risk as f64).collect(),
            sums: vec![0.0; at.len()],
            at,
        }
    }

    /// Adds one vehicle, whose events must be among those of the mean.
    pub fn add(&mut self, history: &History) {
        let events: Vec<(f64, f64)> = history
            .events()
            .iter()
            .filter_map(|&(distance, amount)| {
                let step = self.distances.partition_point(|&step| step < distance);
                Some((distance, amount / self.at_risk.get(step)?))
            })
            .collect();
        let windows: Vec<(f64, f64, f64)> = history
            .windows()
            .iter()
            .map(|&(from, to)| (from, to, self.expected_by(from)))
            .collect();
        let deviations: Vec<f64> = self
            .at
            .iter()
            .map(|&at| {
                let seen = events.iter().take_while(|(distance, _)| *distance <= at);
                let open = windows.iter().take_while(|(from, ..)| *from < at);
                let expected: f64 = open
                    .map(|&(_, to, start)| self.expected_by(to.min(at)) - start)
                    .sum();
                seen.map(|(_, share)| share).sum::<f64>() - expected
            })
            .collect();
        for (sum, deviation) in self.sums.iter_mut().zip(deviations) {
            *sum += deviation * deviation;
        }
    }

    /// The distances with the variance at each.
    pub fn variances(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.at.iter().copied().zip(self.sums.iter().copied())
    }

    fn expected_by(&self, distance: f64) -> f64 {
        let passed = self.distances.partition_point(|&step| step <= distance);
        passed
            .checked_sub(1)
            .and_then(|last| self.expected.get(last))
            .copied()
            .unwrap_or(0.0)
    }
}
