//! Whether a fitted distribution describes the lives: failures by band against those it expects.

use super::fit::{Fit, hazard_gradient};
use crate::stats::Error;
use crate::stats::quadratic_form::quadratic_form;
use crate::stats::special::chi2_sf;
use crate::stats::survival::RiskTable;

/// One band [from, to).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandOfFit {
    /// Start of the band.
    pub from: f64,
    /// Its end; infinite for the last.
    pub to: f64,
    /// Failures in the band.
    pub observed: u64,
    /// Failures the fit expects of the lives at risk there.
    pub expected: f64,
}

/// The comparison of a fit with the failures it was fitted to.
#[derive(Debug, Clone, PartialEq)]
pub struct GoodnessOfFit {
    /// The bands.
    pub bands: Vec<BandOfFit>,
    /// The statistic.
    pub chi_square: f64,
    /// Bands less the two fitted parameters' share.
    pub degrees_of_freedom: usize,
    /// Probability of a larger statistic if the family is right; none when no degree of freedom is left. Rough when bands
    /// expect fewer than about 5 failures.
    pub p_value: Option<f64>,
}

/// Hjort's chi-square test (1990, Ann Stat 18:1221) with late entry and censoring: observed less expected failures by band,
/// expected = the fitted hazard summed over the lives at risk, against the covariance diag(E) - C V C', with C the
/// derivatives of E by the parameters and V their covariance.
///
/// # Errors
/// [`Error::Input`] unless the edges are finite and increase.
pub fn goodness_of_fit(
    fit: &Fit,
    table: &RiskTable,
    edges: &[f64],
) -> Result<GoodnessOfFit, Error> {
    let increasing = edges.windows(2).all(|pair| matches!(pair, [a, b] if a < b));
    if edges.is_empty() || !increasing || edges.iter().any(|edge| !edge.is_finite()) {
        return Err(Error::Input {
            name: "edges",
            requirement: "band edges must be finite and increase",
        });
    }
    let ends = edges.iter().skip(1).copied().chain([f64::INFINITY]);
    let (mut bands, mut gradients) = (Vec::new(), Vec::new());
    for (from, to) in edges.iter().copied().zip(ends) {
        let (expected, gradient) = expected_failures(fit, table, from, to);
        bands.push(BandOfFit {
            from,
            to,
            observed: table.failures_between(from, to),
            expected,
        });
        gradients.push(gradient);
    }
    let difference: Vec<f64> = bands
        .iter()
        .map(|band| band.observed as f64 - band.expected)
        .collect();
    let [[a, b], [_, c]] = fit.covariance;
    let covariance: Vec<Vec<f64>> = gradients
        .iter()
        .enumerate()
        .map(|(i, [x, y])| {
            let row = gradients.iter().enumerate().map(|(j, [u, v])| {
                let same = if i == j {
                    bands.get(i).map_or(0.0, |band| band.expected)
                } else {
                    0.0
                };
                same - (x * u * a + (x * v + y * u) * b + y * v * c)
            });
            row.collect()
        })
        .collect();
    let form = quadratic_form(&difference, &covariance);
    Ok(GoodnessOfFit {
        bands,
        chi_square: form.value,
        degrees_of_freedom: form.rank,
        p_value: (form.rank > 0).then(|| chi2_sf(form.value, form.rank as f64)),
    })
}

/// Edges that cut the lives into `bands` bands of about equal expected failures.
pub fn equal_expectation_edges(fit: &Fit, table: &RiskTable, bands: usize) -> Vec<f64> {
    let (total, _) = expected_failures(fit, table, 0.0, f64::INFINITY);
    let mut edges = vec![0.0];
    let mut sum = 0.0;
    for (from, to, at_risk) in table.stretches() {
        let hazard = fit
            .family
            .hazard_between(fit.standardised(from), fit.standardised(to));
        sum += at_risk as f64 * hazard;
        let next = edges.len();
        let reached = sum >= total * next as f64 / bands.max(1) as f64;
        if reached && next < bands && edges.last().is_some_and(|&last| last < to) {
            edges.push(to);
        }
    }
    edges
}

/// Expected failures between two distances, with derivatives by mu and ln sigma.
fn expected_failures(fit: &Fit, table: &RiskTable, from: f64, to: f64) -> (f64, [f64; 2]) {
    let (mut expected, mut gradient) = (0.0, [0.0, 0.0]);
    for (start, end, at_risk) in table.stretches() {
        let (start, end) = (start.max(from), end.min(to));
        if start >= end || at_risk == 0 {
            continue;
        }
        let (z1, z2) = (fit.standardised(start), fit.standardised(end));
        let weight = at_risk as f64;
        let [by_mu, by_scale] = hazard_gradient(fit.family, z1, z2, fit.sigma());
        expected += weight * fit.family.hazard_between(z1, z2);
        gradient = [
            gradient[0] + weight * by_mu,
            gradient[1] + weight * by_scale,
        ];
    }
    (expected, gradient)
}
