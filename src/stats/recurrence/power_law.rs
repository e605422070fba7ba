//! A repair rate that follows a power of distance: maximum likelihood over many vehicles and stretches.

use super::history::History;
use super::trend::Truncation;
use crate::stats::bracketed_root::bracketed_root;
use crate::stats::interval::tail;
use crate::stats::lifetime::Unfitted;
use crate::stats::special::{chi2_isf, chi2_quantile};
use crate::stats::{Error, Interval};

/// Smallest and largest ln beta looked at.
const RANGE: (f64, f64) = (-6.0, 6.0);

/// The power-law process, rate (beta / eta) (t / eta)^(beta - 1): beta above 1 means repairs come ever faster.
///
/// Not a Weibull distribution of lives: it describes the repairs of one vehicle that is put back as it was before the failure
/// (Crow 1974; Meeker & Escobar 1998, section 16.6).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerLaw {
    /// beta, by maximum likelihood: too high with few events.
    pub shape: f64,
    /// eta, the distance with one expected event from 0 on.
    pub scale: f64,
    /// ln L.
    pub log_likelihood: f64,
    /// Standard error of beta from the profile's curvature.
    pub standard_error: f64,
    /// Events.
    pub events: u64,
    /// ln L of a constant rate, for the likelihood-ratio test on one degree of freedom.
    pub constant_log_likelihood: f64,
}

/// Fits the power law to vehicles watched over stretches of distance.
///
/// # Errors
/// [`Unfitted`] with fewer than two events, events at one distance that all observation ends with, or no maximum in range.
pub fn power_law(histories: &[History]) -> Result<PowerLaw, Unfitted> {
    let events = || {
        histories
            .iter()
            .flat_map(History::events)
            .map(|&(distance, _)| distance)
    };
    let windows = || histories.iter().flat_map(History::windows).copied();
    let n = events().count();
    let end = windows().fold(0.0f64, |end, (_, to)| end.max(to));
    if n < 2 {
        return Err(Unfitted::TooFewFailures {
            failures: n as u64,
            distances: n,
        });
    }
    let (count, logs) = (
        n as f64,
        events().map(|event| (event / end).ln()).sum::<f64>(),
    );
    // Distances over the last one, so that no power overflows.
    let powers = |beta: f64| {
        windows().fold(Powers::default(), |sums, (from, to)| {
            sums.plus(to / end, beta, 1.0).plus(from / end, beta, -1.0)
        })
    };
    let score = |log_beta: f64| {
        let beta = log_beta.exp();
        let q = powers(beta);
        count / beta + logs - count * q.first / q.zeroth
    };
    let log_beta = bracketed_root("power-law shape", RANGE.0, RANGE.1, score)
        .map_err(|_| Unfitted::NoMaximum)?;
    let shape = log_beta.exp();
    let q = powers(shape);
    let log_q = q.zeroth.ln() + shape * end.ln();
    let log_events = logs + count * end.ln();
    let curvature =
        count / (shape * shape) + count * (q.second / q.zeroth - (q.first / q.zeroth).powi(2));
    let exposure: f64 = histories.iter().map(History::exposure).sum();
    Ok(PowerLaw {
        shape,
        scale: ((log_q - count.ln()) / shape).exp(),
        log_likelihood: count * (log_beta + count.ln() - log_q) + (shape - 1.0) * log_events
            - count,
        standard_error: 1.0 / curvature.sqrt(),
        events: n as u64,
        constant_log_likelihood: count * (count / exposure).ln() - count,
    })
}

impl PowerLaw {
    /// beta without its bias, for one vehicle watched from 0: (n - 2) / n beta when observation ended with an event, else
    /// (n - 1) / n beta.
    pub fn unbiased_shape(&self, truncation: Truncation) -> f64 {
        let (n, lost) = (self.events as f64, 1.0 + dropped(truncation));
        self.shape * (n - lost) / n
    }

    /// Exact limits of beta for one vehicle watched from 0, by the chi-square distribution of 2 n beta / beta-hat (Bain &
    /// Engelhardt 1991; MIL-HDBK-189).
    ///
    /// # Errors
    /// [`Error::Level`].
    pub fn exact_shape_limits(
        &self,
        truncation: Truncation,
        level: f64,
    ) -> Result<Interval, Error> {
        let (n, alpha) = (self.events as f64, tail(level)?);
        let degrees = 2.0 * (n - dropped(truncation));
        Ok(Interval {
            lower: self.shape * chi2_quantile(alpha, degrees) / (2.0 * n),
            upper: self.shape * chi2_isf(alpha, degrees) / (2.0 * n),
        })
    }
}

fn dropped(truncation: Truncation) -> f64 {
    match truncation {
        Truncation::Failure => 1.0,
        Truncation::Distance => 0.0,
    }
}

/// Sums over the ends of stretches of u^beta and its derivatives by beta.
#[derive(Default)]
struct Powers {
    zeroth: f64,
    first: f64,
    second: f64,
}

impl Powers {
    fn plus(self, u: f64, beta: f64, sign: f64) -> Self {
        if u <= 0.0 {
            return self;
        }
        let (power, log) = (sign * u.powf(beta), u.ln());
        Self {
            zeroth: self.zeroth + power,
            first: self.first + power * log,
            second: self.second + power * log * log,
        }
    }
}
