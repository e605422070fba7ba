//! Whether a fitted distribution describes the lives: failures by band against those it expects.

use super::fit::Fit;
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
    let (expected, gradients): (Vec<f64>, Vec<[f64; 2]>) =
        expected_failures(fit, table, edges).into_iter().unzip();
    let bands = edges.iter().copied().zip(ends).zip(expected);
    let bands: Vec<BandOfFit> = bands
        .map(|((from, to), expected)| BandOfFit {
            from,
            to,
            observed: table.failures_between(from, to),
            expected,
        })
        .collect();
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

/// Places at which the hazard is looked at to choose edges; more would move them by less than a thousandth of the failures.
const PLACES: usize = 1000;

/// Edges that cut the lives into `bands` bands of about equal expected failures.
pub fn equal_expectation_edges(fit: &Fit, table: &RiskTable, bands: usize) -> Vec<f64> {
    let together = table.stretches().count().div_ceil(PLACES).max(1);
    let mut stretches = table.stretches().peekable();
    let mut hazard = 0.0;
    let mut before: Option<f64> = None;
    let mut sums = Vec::with_capacity(PLACES + 1);
    while let Some(&(from, mut to, _)) = stretches.peek() {
        let some = stretches.by_ref().take(together);
        let driven: f64 = some
            .map(|(a, b, n)| {
                to = b;
                (b - a) * n as f64
            })
            .sum();
        let at_risk = driven / (to - from);
        let start = before.unwrap_or_else(|| cumulative(fit, from).0);
        let end = cumulative(fit, to).0;
        before = Some(end);
        hazard += at_risk * (end - start);
        sums.push((to, hazard));
    }
    let mut edges = vec![0.0];
    for (to, sum) in sums {
        let next = edges.len();
        let reached = sum >= hazard * next as f64 / bands.max(1) as f64;
        if reached && next < bands && edges.last().is_some_and(|&last| last < to) {
            edges.push(to);
        }
    }
    edges
}

/// The cumulative hazard at a distance with its derivatives by mu and ln sigma.
fn cumulative(fit: &Fit, distance: f64) -> (f64, [f64; 2]) {
    if distance <= 0.0 {
        return (0.0, [0.0; 2]);
    }
    let z = fit.standardised(distance);
    let jet = fit.family.log_survival(z);
    (-jet.value, [jet.slope / fit.sigma(), z * jet.slope])
}

/// Expected failures from each edge to the next, with derivatives by mu and ln sigma: the hazard gathered over each stretch between
/// rows times the lives at risk there. Stretches in order share their ends, so that each is looked at once.
fn expected_failures(fit: &Fit, table: &RiskTable, edges: &[f64]) -> Vec<(f64, [f64; 2])> {
    let mut out = vec![(0.0, [0.0; 2]); edges.len()];
    let mut band = 0;
    let next = |band: usize| edges.get(band + 1).copied().unwrap_or(f64::INFINITY);
    let first = edges.first().copied().unwrap_or(0.0);
    let mut reached: Option<(f64, (f64, [f64; 2]))> = None;
    for (start, end, at_risk) in table.stretches() {
        let mut from = start.max(first);
        while from < end {
            while next(band) <= from {
                band += 1;
            }
            let to = end.min(next(band));
            let (h0, g0) = match reached {
                Some((at, value)) if at == from => value,
                _ => cumulative(fit, from),
            };
            let (h1, g1) = cumulative(fit, to);
            reached = Some((to, (h1, g1)));
            if let Some((expected, gradient)) = out.get_mut(band) {
                let weight = at_risk as f64;
                *expected += weight * (h1 - h0);
                for ((sum, a), b) in gradient.iter_mut().zip(g0).zip(g1) {
                    *sum += weight * (b - a);
                }
            }
            from = to;
        }
    }
    out
}
