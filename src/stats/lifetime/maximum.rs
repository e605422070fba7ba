//! The maximum of a log-likelihood in mu and ln sigma by Newton's method with safeguards.

use super::family::Family;
use super::likelihood::{Likelihood, Parameters, likelihood};
use super::observed::Observed;
use super::unfitted::Unfitted;

/// Bound on Newton steps; ten are usual.
const MOST_STEPS: usize = 200;
/// ln sigma beyond which the spread has vanished or grown past all meaning: the likelihood has no maximum inside.
const WIDEST: f64 = 7.0;
/// A squared step, in standard errors, below which the maximum is reached.
const REACHED: f64 = 1e-13;
/// Standard error of mu, in units of sigma, beyond which the data do not place mu at all. Where late entry lets mu run off to minus
/// infinity, gradient and curvature vanish together, so the step in standard errors shrinks although there is no maximum; the
/// standard error itself tells. Free of the unit of distance, since a change of unit only shifts mu.
const LOOSEST: f64 = 1e4;

/// The maximum, with the likelihood there.
pub(super) fn maximum(
    family: Family,
    observed: &Observed,
) -> Result<(Parameters, Likelihood), Unfitted> {
    let (mut at, mut surface) = start(family, observed).ok_or(Unfitted::NoMaximum)?;
    let mut smallest = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        let step = uphill(&surface);
        let decrement = step[0] * surface.gradient[0] + step[1] * surface.gradient[1];
        // Close to the top the value no longer shows an improvement; the step's size does.
        if decrement < 1e-9 {
            if decrement >= smallest || decrement <= 1e-26 {
                break;
            }
            smallest = decrement;
            at = moved(at, step, 1.0);
            surface = likelihood(family, observed, at);
            continue;
        }
        let better = climb(family, observed, at, &surface, step, decrement);
        let Some(found) = better else {
            break;
        };
        (at, surface) = found;
        if at.log_scale.abs() > WIDEST {
            return Err(Unfitted::NoMaximum);
        }
    }
    let step = uphill(&surface);
    let decrement = step[0] * surface.gradient[0] + step[1] * surface.gradient[1];
    let h = surface.hessian;
    let is_top = h[0][0] < 0.0 && h[0][0] * h[1][1] - h[0][1] * h[1][0] > 0.0;
    if decrement.is_nan() || decrement > REACHED {
        return Err(Unfitted::NotConverged);
    }
    if !is_top || !places_location(&surface, at.log_scale.exp()) {
        return Err(Unfitted::NoMaximum);
    }
    Ok((at, surface))
}

/// Whether the curvature at a top places mu within `LOOSEST` sigma.
fn places_location(surface: &Likelihood, sigma: f64) -> bool {
    let [[a, b], [_, c]] = surface.hessian;
    let variance = -c / (a * c - b * b);
    variance.sqrt() <= LOOSEST * sigma
}

/// The best of a few spreads, each with the scale a Weibull of that shape would have.
fn start(family: Family, observed: &Observed) -> Option<(Parameters, Likelihood)> {
    let failures = (observed.failures() as f64).ln();
    let spreads = [0.05f64, 0.1, 0.2, 0.4, 0.7, 1.0, 2.0, 4.0];
    let points = spreads.iter().map(|&sigma| {
        let at = Parameters {
            location: sigma * (observed.log_exposure(1.0 / sigma) - failures),
            log_scale: sigma.ln(),
        };
        (at, likelihood(family, observed, at))
    });
    points
        .filter(|(at, surface)| at.location.is_finite() && surface.value.is_finite())
        .max_by(|a, b| a.1.value.total_cmp(&b.1.value))
}

/// Newton's step where the surface is a hill, else along the same axes with the curvature's sign turned.
fn uphill(surface: &Likelihood) -> [f64; 2] {
    let [[a, b], [_, c]] = surface.hessian;
    let [g0, g1] = surface.gradient;
    let determinant = a * c - b * b;
    if a < 0.0 && determinant > 0.0 {
        return [
            (b * g1 - c * g0) / determinant,
            (b * g0 - a * g1) / determinant,
        ];
    }
    let (mean, half) = (0.5 * (a + c), (0.25 * (a - c).powi(2) + b * b).sqrt());
    let angle = 0.5 * (2.0 * b).atan2(a - c);
    let (sin, cos) = angle.sin_cos();
    let floor = 1e-8 * (mean.abs() + half) + f64::MIN_POSITIVE;
    let along = (cos * g0 + sin * g1) / (mean + half).abs().max(floor);
    let across = (cos * g1 - sin * g0) / (mean - half).abs().max(floor);
    [cos * along - sin * across, sin * along + cos * across]
}

fn moved(at: Parameters, step: [f64; 2], share: f64) -> Parameters {
    Parameters {
        location: at.location + share * step[0],
        log_scale: at.log_scale + share * step[1],
    }
}

/// The step shortened until the likelihood rises.
fn climb(
    family: Family,
    observed: &Observed,
    at: Parameters,
    surface: &Likelihood,
    step: [f64; 2],
    decrement: f64,
) -> Option<(Parameters, Likelihood)> {
    let longest = (step[0].abs() / 3.0).max(step[1].abs());
    let mut share = if longest > 1.0 { 1.0 / longest } else { 1.0 };
    for _ in 0..60 {
        let next = moved(at, step, share);
        let there = likelihood(family, observed, next);
        if there.value >= surface.value + 1e-4 * share * decrement {
            return Some((next, there));
        }
        share *= 0.5;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::{Life, RiskTable};

    /// Found by a property test. As mu falls, the loglogistic conditional on entry tends to a Pareto law and the likelihood to a
    /// ridge: the supremum is not reached, so any mu printed would depend on where the steps happened to stop.
    #[test]
    fn a_location_that_runs_away_is_no_maximum_in_any_unit() {
        for factor in [0.001, 0.5, 1.0, 1000.0] {
            let life = |entry: f64, exit: f64, failed| Life {
                entry: entry * factor,
                exit: exit * factor,
                failed,
            };
            let lives = [
                life(1.0, 2.0, true),
                life(3.0, 4.0, true),
                life(2.0, 10.0, false),
            ];
            let observed = Observed::from_table(&RiskTable::from_lives(&lives).unwrap().table);
            let found = maximum(Family::Loglogistic, &observed);
            assert!(matches!(found, Err(Unfitted::NoMaximum)), "factor {factor}");
        }
    }
}
