//! Tests for repairs that come faster or slower with distance, against a constant rate.

use crate::stats::Error;
use crate::stats::special::{chi2_cdf, chi2_sf, norm_cdf, norm_sf};

/// How observation of a process ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truncation {
    /// At a distance fixed without regard to the events.
    Distance,
    /// With the last event: it is no event at random, and is left out.
    Failure,
}

/// The outcome of a trend test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrendTest {
    /// The statistic: a standard normal for Laplace, a chi-square for MIL-HDBK-189.
    pub statistic: f64,
    /// Degrees of freedom of the chi-square; 0 for the normal.
    pub degrees_of_freedom: u64,
    /// Probability of a statistic as far towards events that come ever faster.
    pub p_increasing: f64,
    /// Probability of a statistic as far towards events that come ever slower.
    pub p_decreasing: f64,
}

impl TrendTest {
    /// Twice the smaller tail, at most 1.
    pub fn p_two_sided(&self) -> f64 {
        (2.0 * self.p_increasing.min(self.p_decreasing)).min(1.0)
    }
}

/// Laplace's test, pooled over processes (from, to, events): the mean place of the events against the middle, best against a
/// log-linear trend (Cox & Lewis 1966; Ascher & Feingold 1984).
///
/// # Errors
/// [`Error::Input`] for a process without length, an event outside it, or no event left to test.
pub fn laplace(
    processes: &[(f64, f64, &[f64])],
    truncation: Truncation,
) -> Result<TrendTest, Error> {
    let (mut excess, mut variance) = (0.0, 0.0);
    for &(from, to, events) in processes {
        let events = at_random(from, to, events, truncation)?;
        let n = events.len() as f64;
        excess += events
            .iter()
            .map(|event| event - 0.5 * (from + to))
            .sum::<f64>();
        variance += n * (to - from).powi(2) / 12.0;
    }
    if variance <= 0.0 {
        return Err(nothing_to_test());
    }
    let statistic = excess / variance.sqrt();
    Ok(TrendTest {
        statistic,
        degrees_of_freedom: 0,
        p_increasing: norm_sf(statistic),
        p_decreasing: norm_cdf(statistic),
    })
}

/// The test of MIL-HDBK-189, pooled over processes (to, events) that start at 0: 2 sum ln(T / t) is chi-square with twice the
/// number of events, small when events come ever faster; best against a power law (US Department of Defense 1981; Crow 1974).
///
/// # Errors
/// [`Error::Input`] for an event at 0 or outside its process, or no event left to test.
pub fn mil_hdbk_189(
    processes: &[(f64, &[f64])],
    truncation: Truncation,
) -> Result<TrendTest, Error> {
    let (mut statistic, mut degrees_of_freedom) = (0.0, 0);
    for &(to, events) in processes {
        let events = at_random(0.0, to, events, truncation)?;
        statistic += events
            .iter()
            .map(|event| 2.0 * (to / event).ln())
            .sum::<f64>();
        degrees_of_freedom += 2 * events.len() as u64;
    }
    if degrees_of_freedom == 0 {
        return Err(nothing_to_test());
    }
    Ok(TrendTest {
        statistic,
        degrees_of_freedom,
        p_increasing: chi2_cdf(statistic, degrees_of_freedom as f64),
        p_decreasing: chi2_sf(statistic, degrees_of_freedom as f64),
    })
}

/// The events of one process in order, without the one that ended it.
fn at_random(
    from: f64,
    to: f64,
    events: &[f64],
    truncation: Truncation,
) -> Result<Vec<f64>, Error> {
    let inside = |event: &f64| from < *event && *event <= to;
    let usable = from < to && to.is_finite() && events.iter().all(inside);
    if !usable {
        return Err(Error::Input {
            name: "processes",
            requirement: "events must lie in (from, to] of their process",
        });
    }
    let mut events = events.to_vec();
    events.sort_by(f64::total_cmp);
    if truncation == Truncation::Failure {
        events.pop();
    }
    Ok(events)
}

fn nothing_to_test() -> Error {
    Error::Input {
        name: "processes",
        requirement: "a trend test needs events besides those that end observation",
    }
}
