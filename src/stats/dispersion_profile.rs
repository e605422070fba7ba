//! The search for the overdispersion of mixed counts, shared by gamma-Poisson and beta-binomial models.
//!
//! Both models are written by their mean and a dispersion theta >= 0, with theta = 0 the unmixed model, so that data without
//! overdispersion have their maximum at a regular point instead of at infinity. With unequal exposures the profile
//! likelihood may have several maxima and may rise from theta = 0 only after falling: the whole range is scanned first.

use super::bracketed_root::bracketed_root;
use super::error::Error;

/// Smallest gain in log-likelihood over theta = 0 that counts as a maximum off the boundary; below it the two cannot be told
/// apart in double precision.
const LEAST_GAIN: f64 = 1e-9;
/// Scan points a factor of e in theta.
const DENSITY: f64 = 2.0;

/// One point of the profile: the mean is at its own maximum for this theta.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    /// `ln theta`.
    pub ln_theta: f64,
    /// Log-likelihood less the one at theta = 0.
    pub gain: f64,
    /// Derivative of the profile log-likelihood by `ln theta`.
    pub slope: f64,
}

/// The `ln theta` at which the profile is highest, between the two ends; `None` if that is theta = 0.
///
/// # Errors
/// The highest point is at the upper end, or the search does not converge.
pub(super) fn highest(
    what: &'static str,
    low: f64,
    high: f64,
    mut profile: impl FnMut(f64) -> Result<Point, Error>,
) -> Result<Option<f64>, Error> {
    let steps = ((high - low) * DENSITY).ceil() as usize;
    let points = (0..=steps)
        .map(|i| profile(low + (high - low) * i as f64 / steps as f64))
        .collect::<Result<Vec<_>, _>>()?;
    let best = (1..points.len()).fold(0, |best, i| {
        if points[i].gain > points[best].gain {
            i
        } else {
            best
        }
    });
    let (left, right) = if points[best].slope > 0.0 {
        (best, best + 1)
    } else {
        (best.saturating_sub(1), best)
    };
    if right >= points.len() {
        return Err(Error::NotConverged {
            what,
            iterations: steps,
        });
    }
    let (a, b) = (points[left], points[right]);
    if !(a.slope > 0.0 && b.slope <= 0.0) {
        // Falling from the lower end on: the maximum is theta = 0. A kink elsewhere would be a defect.
        return if points[best].gain <= LEAST_GAIN {
            Ok(None)
        } else {
            Err(Error::NotConverged {
                what,
                iterations: steps,
            })
        };
    }
    let mut failure = None;
    let root = bracketed_root(what, a.ln_theta, b.ln_theta, |x| match profile(x) {
        Ok(point) => point.slope,
        Err(error) => {
            failure = Some(error);
            f64::NAN
        }
    });
    if let Some(error) = failure {
        return Err(error);
    }
    let root = root?;
    Ok((profile(root)?.gain > LEAST_GAIN).then_some(root))
}
