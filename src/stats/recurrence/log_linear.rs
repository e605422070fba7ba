//! A repair rate that grows by a constant factor a unit of distance: maximum likelihood over vehicles and stretches.

use super::history::History;
use crate::stats::bracketed_root::bracketed_root;
use crate::stats::lifetime::Unfitted;

/// Steepest trend looked at, in natural logarithms over the whole observed distance.
const STEEPEST: f64 = 300.0;

/// The log-linear process, rate exp(gamma_0 + gamma_1 t) (Cox & Lewis 1966; Meeker & Escobar 1998, section 16.6).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogLinear {
    /// gamma_0, ln of the rate at distance 0.
    pub intercept: f64,
    /// gamma_1, the relative growth of the rate a unit of distance.
    pub slope: f64,
    /// ln L.
    pub log_likelihood: f64,
}

/// Fits the log-linear process to vehicles watched over stretches of distance.
///
/// # Errors
/// [`Unfitted`] with fewer than two events, or when all events lie at one end of observation.
pub fn log_linear(histories: &[History]) -> Result<LogLinear, Unfitted> {
    let events = || {
        histories
            .iter()
            .flat_map(History::events)
            .map(|&(distance, _)| distance)
    };
    let windows = || histories.iter().flat_map(History::windows).copied();
    let n = events().count();
    if n < 2 {
        return Err(Unfitted::TooFewFailures {
            failures: n as u64,
            distances: n,
        });
    }
    let end = windows().fold(0.0f64, |end, (_, to)| end.max(to));
    let (count, sum) = (n as f64, events().map(|event| event / end).sum::<f64>());
    let integrals = |g: f64| {
        windows().fold((0.0, 0.0), |(zeroth, first), (from, to)| {
            let (start, width) = (from / end, (to - from) / end);
            let (mean, place) = weights(g * width);
            let mass = (g * start).exp() * width * mean;
            (
                zeroth + mass,
                first + start * mass + (g * start).exp() * width * width * place,
            )
        })
    };
    let score = |g: f64| {
        let (zeroth, first) = integrals(g);
        sum - count * first / zeroth
    };
    let g = bracketed_root("log-linear slope", -STEEPEST, STEEPEST, score)
        .map_err(|_| Unfitted::NoMaximum)?;
    let intercept = (count / (end * integrals(g).0)).ln();
    Ok(LogLinear {
        intercept,
        slope: g / end,
        log_likelihood: count * intercept + g * sum - count,
    })
}

/// The integrals over s from 0 to 1 of e^(x s) and of s e^(x s).
fn weights(x: f64) -> (f64, f64) {
    if x.abs() < 0.5 {
        // Sums of x^k / (k + 1)! and x^k / (k! (k + 2)); the closed forms cancel here.
        let (mut power, mut mean, mut place) = (1.0, 0.0, 0.0);
        for k in 0..20 {
            let k = f64::from(k);
            mean += power / (k + 1.0);
            place += power / (k + 2.0);
            power *= x / (k + 1.0);
        }
        return (mean, place);
    }
    (x.exp_m1() / x, (x.exp() * (x - 1.0) + 1.0) / (x * x))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_and_closed_form_meet() {
        for x in [0.5f64, -0.5] {
            let (near, far) = (weights(x * (1.0 - 1e-12)), weights(x));
            assert!((near.0 / far.0 - 1.0).abs() < 1e-11 && (near.1 / far.1 - 1.0).abs() < 1e-11);
        }
    }

    #[test]
    fn constant_rate_has_no_slope() {
        let events = (0..10).map(|i| (f64::from(i) * 10.0 + 5.0, 1.0)).collect();
        let process = log_linear(&[History::new(vec![(0.0, 100.0)], events).unwrap()]).unwrap();
        assert!(process.slope.abs() < 1e-12, "{process:?}");
        assert!((process.intercept - 0.1f64.ln()).abs() < 1e-12);
    }

    #[test]
    fn events_at_the_end_only_have_no_estimate() {
        let history = History::new(vec![(0.0, 100.0)], vec![(100.0, 1.0), (100.0, 1.0)]).unwrap();
        assert_eq!(log_linear(&[history]), Err(Unfitted::NoMaximum));
    }
}
