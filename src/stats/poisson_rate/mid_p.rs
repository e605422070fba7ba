//! The mid-P interval: Garwood with the observed count's own probability halved.

use super::Observed;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, tail};
use crate::stats::special::gamma::GammaShape;
use crate::stats::special::inversion::{Tails, solve};
use crate::stats::special::saddle::Side;

/// The mean at which P(X > x) + P(X = x)/2 (lower), P(X < x) + P(X = x)/2 (upper) is (1 - level) / 2, by exposure.
///
/// Closed form at a count of 0: exp(-m) / 2 = (1 - level) / 2. Covers its level on average over rates, not for every rate.
/// Lancaster 1961 (JASA 56, 223); Cohen and Yang 1994 (Stat Med 13, 2189).
///
/// # Errors
/// [`Error::Parameter`] for the exposure, [`Error::Level`].
pub fn mid_p(count: u64, exposure: f64, level: f64) -> Result<Interval, Error> {
    let x = Observed::new(count, exposure)?.count();
    let t = tail(level)?;
    let limits = if count == 0 {
        Interval {
            lower: 0.0,
            upper: -(2.0 * t).ln(),
        }
    } else {
        Interval {
            lower: limit(x, Side::Lower, t),
            upper: limit(x, Side::Upper, t),
        }
    };
    Ok(limits.divided_by(exposure))
}

fn limit(x: f64, side: Side, t: f64) -> f64 {
    let above = GammaShape::new(x + 1.0);
    let start = GammaShape::new(x + 0.5).start(side, t);
    let (v, correction) = solve(side, t, start, x.ln(), |v| mid_tails(x, &above, v.exp()));
    v.exp() * correction.exp()
}

/// P(X > x) + P(X = x)/2 and its complement at `mean`, with derivatives by ln(mean).
fn mid_tails(x: f64, above: &GammaShape, mean: f64) -> Tails {
    let tails = above.tails(mean);
    // d P(X > x) / d ln(mean) = P(X = x) mean, d P(X = x) / d ln(mean) = P(X = x) (x - mean).
    let point = tails.density / mean;
    let growth = mean / (mean + x);
    Tails {
        lower: tails.lower + 0.5 * point,
        upper: tails.upper - 0.5 * point,
        density: 0.5 * point * (x + mean),
        slope: x - mean + growth,
        bend: -mean + growth * (1.0 - growth),
    }
}
