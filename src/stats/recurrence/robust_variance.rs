//! The variance of the mean cumulative function that respects vehicles, gathered one vehicle at a time.

use super::history::History;
use super::mean_cumulative_function::MeanCumulativeFunction;

/// Gathers the robust variance of M(t) at chosen distances: the sum over vehicles of (sum over their events and stretches of
/// (amount - increment) / n)^2, with the divisor n (Lawless & Nadeau 1995, Technometrics 37:158, eq. 2.7).
///
/// The mean comes first, from counts; then each vehicle passes once and only its sums are kept, so that a million vehicles
/// need no more memory than the distances asked for. Vehicles alike pass together: a vehicle without an event differs from
/// another only by the events of others that happened while it was watched. The order of vehicles changes the last digits only.
#[derive(Debug, Clone, PartialEq)]
pub struct RobustVariance {
    /// Event distances of the mean.
    distances: Vec<f64>,
    /// Vehicles at risk at each.
    at_risk: Vec<f64>,
    /// Running sum of increment / n through each.
    expected: Vec<f64>,
    at: Vec<f64>,
    /// The running sum in force at each of `at`.
    expected_at: Vec<f64>,
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
        let mut gathered = Self {
            expected: expected.collect(),
            distances: mean.steps.iter().map(|step| step.distance).collect(),
            at_risk: mean.steps.iter().map(|step| step.at_risk as f64).collect(),
            sums: vec![0.0; at.len()],
            expected_at: Vec::new(),
            at,
        };
        gathered.expected_at = gathered
            .at
            .iter()
            .map(|&distance| gathered.expected_by(distance))
            .collect();
        gathered
    }

    /// Adds one vehicle, whose events must be among those of the mean.
    pub fn add(&mut self, history: &History) {
        self.add_alike(history.windows(), history.events(), 1);
    }

    /// Adds `vehicles` that were watched over the same stretches (from, to] and had the same events (distance, amount), sorted
    /// by distance. Stretches of one vehicle may overlap: two engines in turn, each on its own clock.
    pub fn add_alike(&mut self, windows: &[(f64, f64)], events: &[(f64, f64)], vehicles: u64) {
        let events: Vec<(f64, f64)> = events
            .iter()
            .filter_map(|&(distance, amount)| {
                let step = self.distances.partition_point(|&step| step < distance);
                Some((distance, amount / self.at_risk.get(step)?))
            })
            .collect();
        let windows: Vec<(f64, f64, f64, f64)> = windows
            .iter()
            .map(|&(from, to)| (from, to, self.expected_by(from), self.expected_by(to)))
            .collect();
        let sums = self.at.iter().zip(&self.expected_at).zip(&mut self.sums);
        for ((&at, &expected_at), sum) in sums {
            let seen = events.iter().take_while(|(distance, _)| *distance <= at);
            let open = windows.iter().filter(|(from, ..)| *from < at);
            let expected: f64 = open
                .map(|&(_, to, start, end)| {
                    if to <= at {
                        end - start
                    } else {
                        expected_at - start
                    }
                })
                .sum();
            let deviation = seen.map(|(_, share)| share).sum::<f64>() - expected;
            *sum += vehicles as f64 * deviation * deviation;
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
