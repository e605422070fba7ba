//! The picture of a fit: failures on axes where the family's distribution is a straight line.

use super::family::Family;
use crate::stats::survival::KaplanMeier;

/// One point of the plot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlotPoint {
    /// Distance; its logarithm is the horizontal axis.
    pub distance: f64,
    /// Share failed by the middle of the step.
    pub failed: f64,
    /// The standard quantile of that share, the vertical axis: the fitted line is (ln t - mu) / sigma.
    pub standard: f64,
}

/// The points of a probability plot: each failure distance at the middle of its step of the survival curve, 1 - (S(t-) + S(t))
/// / 2 (Meeker & Escobar 1998, section 6.4). With late entry the curve is conditional on its start; `survival_at_start` is the
/// fitted survival there (1 when lives are watched from 0), which puts points and line on one footing. Distances of 0 and
/// what the curve does not identify are left out.
pub fn probability_plot(
    curve: &KaplanMeier,
    family: Family,
    survival_at_start: f64,
) -> Vec<PlotPoint> {
    let mut before = 1.0;
    let points = curve.known_steps().iter().map(|step| {
        let failed = 1.0 - survival_at_start * 0.5 * (before + step.survival);
        before = step.survival;
        PlotPoint {
            distance: step.distance,
            failed,
            standard: family.standard_quantile(failed),
        }
    });
    points
        .filter(|point| point.distance > 0.0 && point.standard.is_finite())
        .collect()
}
