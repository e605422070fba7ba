//! The mid-P interval: Clopper-Pearson with the observed count's own probability halved.

use super::Sample;
use crate::stats::error::Error;
use crate::stats::interval::{Interval, tail};
use crate::stats::special::UnitPoint;
use crate::stats::special::beta::BetaShape;
use crate::stats::special::inversion::{Tails, solve};
use crate::stats::special::saddle::Side;

/// The p at which P(X > x) + P(X = x) / 2 (lower limit), P(X < x) + P(X = x) / 2 (upper limit) is (1 - level) / 2.
///
/// Covers its level on average over p, not for every p. Lancaster 1961 (JASA 56, 223); Newcombe 1998 (Stat Med 17, 857), method 6.
///
/// # Errors
/// [`Error::Proportion`], [`Error::Level`].
pub fn mid_p(x: u64, n: u64, level: f64) -> Result<Interval, Error> {
    let sample = Sample::new(x, n)?;
    let t = tail(level)?;
    let (lower, upper) = mid_p_points(sample, t);
    Ok(Interval {
        lower: lower.x,
        upper: upper.x,
    })
}

/// Both mid-P limits with their complements, for odds as well as for proportions; `t` < 1/2 in each tail.
pub fn mid_p_points(sample: Sample, t: f64) -> (UnitPoint, UnitPoint) {
    let end = (2.0 * t).ln() / sample.trials();
    // At the ends half the count's probability is all there is: p^n / 2 = t, (1 - p)^n / 2 = t.
    let closed = UnitPoint {
        x: end.exp(),
        y: -end.exp_m1(),
    };
    let lower = if sample.none() {
        UnitPoint::from_x(0.0)
    } else if sample.all() {
        closed
    } else {
        inner(sample, Side::Lower, t)
    };
    let upper = if sample.all() {
        UnitPoint::from_x(1.0)
    } else if sample.none() {
        closed.mirrored()
    } else {
        inner(sample, Side::Upper, t)
    };
    (lower, upper)
}

fn inner(sample: Sample, side: Side, t: f64) -> UnitPoint {
    let (x, failures) = (sample.successes(), sample.failures());
    let above = BetaShape::new(x + 1.0, failures);
    // Jeffreys' limit is close by: its shapes lie half way between those of the two tails that are averaged.
    let start = BetaShape::new(x + 0.5, failures + 0.5).start(side, t);
    let evaluate = |v: f64| mid_tails(sample, &above, UnitPoint::from_log_odds(v));
    let (v, correction) = solve(side, t, start, (x / failures).ln(), evaluate);
    UnitPoint::from_log_odds(v).shifted(correction)
}

/// P(X > x) + P(X = x)/2 and its complement at p, with derivatives by the log-odds of p.
fn mid_tails(sample: Sample, above: &BetaShape, at: UnitPoint) -> Tails {
    let (x, failures, n) = (sample.successes(), sample.failures(), sample.trials());
    let tails = above.tails(at);
    // d P(X > x) / d log-odds = P(X = x) p (n - x), d P(X = x) / d log-odds = P(X = x) (x - n p).
    let point = tails.density / (at.x * failures);
    let weight = x * at.y + failures * at.x;
    let excess = x * at.y - failures * at.x;
    let growth = (failures - x) * at.x * at.y / weight;
    Tails {
        lower: tails.lower + 0.5 * point,
        upper: tails.upper - 0.5 * point,
        density: 0.5 * point * weight,
        slope: excess + growth,
        bend: -n * at.x * at.y + growth * (at.y - at.x) - growth * growth,
    }
}
