//! Nelson's unbiased variance of the mean cumulative function, for vehicles watched from the start without gaps.

use super::history::History;
use super::mean_cumulative_function::MeanCumulativeFunction;
use crate::stats::Error;

/// The variance of M after each step (Nelson 1995, Technometrics 37:147): variances of the increments over n, and covariances
/// of two distances over the vehicles still at risk at the later one, both with the divisor n - 1. None from the first step
/// with a single vehicle at risk on. It can decrease with distance, and even be negative.
///
/// # Errors
/// [`Error::Input`] when a vehicle enters late or has a gap: the covariance then compares vehicles that were not both watched
/// and is meaningless. Use [`super::RobustVariance`].
pub fn unbiased_variance(
    mean: &MeanCumulativeFunction,
    histories: &[History],
) -> Result<Vec<Option<f64>>, Error> {
    let ends: Option<Vec<f64>> = histories
        .iter()
        .map(|history| match history.windows() {
            [(from, to)] if *from == 0.0 => Some(*to),
            _ => None,
        })
        .collect();
    let Some(ends) = ends else {
        return Err(Error::Input {
            name: "histories",
            requirement: "the unbiased variance needs vehicles watched from 0 without a gap",
        });
    };
    // For each vehicle the events so far, each over the number at risk at its distance.
    let mut earlier = vec![0.0; histories.len()];
    let mut variance = Some(0.0);
    let steps = mean.steps.iter().map(|step| {
        let n = step.at_risk as f64;
        let (mut own, mut with_earlier) = (0.0, 0.0);
        for ((history, &end), earlier) in histories.iter().zip(&ends).zip(&mut earlier) {
            if end < step.distance {
                continue;
            }
            let here = history
                .events()
                .iter()
                .filter(|(distance, _)| *distance == step.distance);
            let amount: f64 = here.map(|(_, amount)| amount).sum();
            let deviation = amount - step.increment;
            own += amount * deviation;
            with_earlier += *earlier * deviation;
            *earlier += amount / n;
        }
        variance = variance
            .filter(|_| step.at_risk > 1)
            .map(|sum| sum + (own / n + 2.0 * with_earlier) / (n - 1.0));
        variance
    });
    Ok(steps.collect())
}
