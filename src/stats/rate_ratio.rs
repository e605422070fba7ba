//! The ratio of two Poisson rates, exact given the total count.
//!
//! Given m = x1 + x2 events, x1 is binomial with odds R t1 / t2, where R is the rate ratio and t1, t2 the exposures. Limits
//! and tests for R are thus those of a proportion, carried over by R = p / (1 - p) t2 / t1 (Przyborowski and Wilenski 1940,
//! Biometrika 31, 313; Rothman and Greenland 1998, Modern Epidemiology, ch. 14).

use super::error::Error;
use super::interval::{normal_deviate, tail};
use super::poisson_rate::Observed;
use super::proportion::Sample;
use super::proportion::mid_p::mid_p_points;
use super::special::{
    UnitPoint, beta_i_inverse, beta_q_inverse, binomial_cdf, binomial_pmf, binomial_sf,
};

/// Ties in a minimum-likelihood test: probabilities within this relative distance count as equal, as R's tests have it.
const TIE: f64 = 1e-7;

/// A rate ratio, rate 1 over rate 2, with limits and two-sided p-values of the hypothesis that it is 1.
///
/// The p-values can disagree: an interval of [`exact`] leaves out 1 exactly when `p_central` is below 1 - level, an interval
/// of [`mid_p`] when `p_mid` is; `p_minimum_likelihood` belongs to neither.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateRatio {
    /// (x1 / t1) / (x2 / t2); `None` where x2 = 0 (infinite, or undefined if x1 = 0 as well).
    pub ratio: Option<f64>,
    /// Lower limit; 0 where x1 = 0.
    pub lower: f64,
    /// Upper limit; `None` where x2 = 0, since the data then set none.
    pub upper: Option<f64>,
    /// Twice the smaller exact tail, at most 1.
    pub p_central: f64,
    /// Probability of all splits no more likely than the observed one.
    pub p_minimum_likelihood: f64,
    /// Twice the smaller tail with the observed split counted half, at most 1.
    pub p_mid: f64,
}

/// Central exact interval (Clopper-Pearson for the split of the events).
///
/// # Errors
/// [`Error::Parameter`] for an exposure that is not positive and finite, [`Error::Level`].
pub fn exact(x1: u64, t1: f64, x2: u64, t2: f64, level: f64) -> Result<RateRatio, Error> {
    let t = tail(level)?;
    let (a, b) = (x1 as f64, x2 as f64);
    let lower = if x1 == 0 {
        UnitPoint::from_x(0.0)
    } else {
        beta_i_inverse(a, b + 1.0, t)
    };
    let upper = if x2 == 0 {
        UnitPoint::from_x(1.0)
    } else {
        beta_q_inverse(a + 1.0, b, t)
    };
    assemble((x1, t1), (x2, t2), lower, upper)
}

/// Mid-P interval: the observed split's own probability counted half; shorter than [`exact`], right on average.
///
/// With no events at all nothing is known: limits 0 and none.
///
/// # Errors
/// As [`exact`].
pub fn mid_p(x1: u64, t1: f64, x2: u64, t2: f64, level: f64) -> Result<RateRatio, Error> {
    let t = tail(level)?;
    let (lower, upper) = if x1 + x2 == 0 {
        (UnitPoint::from_x(0.0), UnitPoint::from_x(1.0))
    } else {
        mid_p_points(Sample::new(x1, x1 + x2)?, t)
    };
    assemble((x1, t1), (x2, t2), lower, upper)
}

/// ratio * exp(+-z sqrt(1/x1 + 1/x2)): the large-sample interval on the log scale.
///
/// # Errors
/// As [`exact`]; [`Error::Parameter`] if either count is 0, where the formula has no value.
pub fn log_wald(x1: u64, t1: f64, x2: u64, t2: f64, level: f64) -> Result<RateRatio, Error> {
    for (name, count) in [("x1", x1), ("x2", x2)] {
        if count == 0 {
            let requirement =
                "the log-Wald interval needs at least one event on either side; take the exact one";
            return Err(Error::Parameter {
                name,
                value: 0.0,
                requirement,
            });
        }
    }
    let spread = (normal_deviate(level)? * (1.0 / x1 as f64 + 1.0 / x2 as f64).sqrt()).exp();
    let whole = UnitPoint::from_x(0.5);
    let mut result = assemble((x1, t1), (x2, t2), whole, whole)?;
    if let Some(ratio) = result.ratio {
        result.lower = ratio / spread;
        result.upper = Some(ratio * spread);
    }
    Ok(result)
}

fn assemble(
    (x1, t1): (u64, f64),
    (x2, t2): (u64, f64),
    lower: UnitPoint,
    upper: UnitPoint,
) -> Result<RateRatio, Error> {
    let (first, second) = (Observed::new(x1, t1)?, Observed::new(x2, t2)?);
    let ratio_at = |at: UnitPoint| at.x / at.y * (t2 / t1);
    let p_values = PValues::of(x1, x1 + x2, t1 / (t1 + t2));
    Ok(RateRatio {
        ratio: (x2 > 0).then(|| first.rate() / second.rate()),
        lower: ratio_at(lower),
        upper: (x2 > 0).then(|| ratio_at(upper)),
        p_central: p_values.central,
        p_minimum_likelihood: p_values.minimum_likelihood,
        p_mid: p_values.mid,
    })
}

/// Two-sided p-values of a binomial count against a given share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PValues {
    /// Twice the smaller tail.
    pub central: f64,
    /// Probability of all counts no more likely than the observed one.
    pub minimum_likelihood: f64,
    /// Twice the smaller tail with the observed count's probability halved.
    pub mid: f64,
}

impl PValues {
    /// For `x` successes in `m` trials against share `p` strictly between 0 and 1; all 1 if m = 0.
    pub fn of(x: u64, m: u64, p: f64) -> Self {
        let point = binomial_pmf(x, m, p);
        let below = if x == 0 {
            0.0
        } else {
            binomial_cdf(x - 1, m, p)
        };
        let above = binomial_sf(x, m, p);
        let smaller = below.min(above);
        Self {
            central: (2.0 * (smaller + point)).min(1.0),
            minimum_likelihood: minimum_likelihood(x, m, p, point),
            mid: (2.0 * (smaller + 0.5 * point)).min(1.0),
        }
    }
}

/// The far tail's start is found by bisection on the probabilities, which fall away from the mode on either side.
fn minimum_likelihood(x: u64, m: u64, p: f64, point: f64) -> f64 {
    let limit = point * (1.0 + TIE);
    let mode = ((m as f64 + 1.0) * p).floor().min(m as f64) as u64;
    let unlikely = |k: u64| binomial_pmf(k, m, p) <= limit;
    if unlikely(mode) {
        return 1.0;
    }
    if x < mode {
        // First k above the mode that is as unlikely, or m + 1 if none is.
        let (mut low, mut high) = (mode, m + 1);
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if unlikely(middle) {
                high = middle
            } else {
                low = middle
            }
        }
        (binomial_cdf(x, m, p) + binomial_sf(high - 1, m, p)).min(1.0)
    } else {
        // Last k below the mode that is as unlikely, if any.
        if !unlikely(0) {
            return binomial_sf(x - 1, m, p);
        }
        let (mut low, mut high) = (0, mode);
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if unlikely(middle) {
                low = middle
            } else {
                high = middle
            }
        }
        (binomial_cdf(low, m, p) + binomial_sf(x - 1, m, p)).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All splits listed: slow and obvious.
    fn by_listing(x: u64, m: u64, p: f64) -> PValues {
        let pmf: Vec<f64> = (0..=m).map(|k| binomial_pmf(k, m, p)).collect();
        let own = pmf[x as usize];
        let below: f64 = pmf[..x as usize].iter().sum();
        let above: f64 = pmf[x as usize + 1..].iter().sum();
        PValues {
            central: (2.0 * (below.min(above) + own)).min(1.0),
            minimum_likelihood: pmf.iter().filter(|&&v| v <= own * (1.0 + TIE)).sum(),
            mid: (2.0 * (below.min(above) + own / 2.0)).min(1.0),
        }
    }

    #[test]
    fn p_values_equal_those_from_listing_every_split() {
        for m in [1, 2, 7, 40] {
            for p in [0.02, 0.3, 0.5, 0.77] {
                for x in 0..=m {
                    let (fast, slow) = (PValues::of(x, m, p), by_listing(x, m, p));
                    for (got, expected) in [
                        (fast.central, slow.central),
                        (fast.minimum_likelihood, slow.minimum_likelihood),
                        (fast.mid, slow.mid),
                    ] {
                        assert!(
                            (got / expected - 1.0).abs() < 1e-12,
                            "{x} of {m} at {p}: {fast:?} {slow:?}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn exchanging_the_groups_inverts_the_ratio() {
        let (there, back) = (
            exact(7, 3.0, 2, 5.0, 0.9).unwrap(),
            exact(2, 5.0, 7, 3.0, 0.9).unwrap(),
        );
        assert!((there.lower * back.upper.unwrap() - 1.0).abs() < 1e-14);
        assert!((there.p_minimum_likelihood - back.p_minimum_likelihood).abs() < 1e-14);
    }

    #[test]
    fn no_events_on_a_side_leaves_that_side_open() {
        let none = exact(0, 1.0, 0, 1.0, 0.95).unwrap();
        assert_eq!(
            (none.ratio, none.lower, none.upper, none.p_central),
            (None, 0.0, None, 1.0)
        );
        let open = mid_p(3, 1.0, 0, 1.0, 0.95).unwrap();
        assert_eq!((open.ratio, open.upper), (None, None));
        assert!(open.lower > 0.0);
        assert!(matches!(
            log_wald(0, 1.0, 3, 1.0, 0.95),
            Err(Error::Parameter { name: "x1", .. })
        ));
    }

    #[test]
    fn interval_and_its_own_p_value_agree() {
        for (x1, x2) in [
            (3, 11),
            (4, 11),
            (5, 11),
            (6, 11),
            (7, 11),
            (20, 11),
            (30, 11),
        ] {
            let central = exact(x1, 1.0, x2, 1.0, 0.95).unwrap();
            let covered = central.lower <= 1.0 && central.upper.unwrap() >= 1.0;
            assert_eq!(covered, central.p_central >= 0.05, "{x1} {x2}");
            let middle = mid_p(x1, 1.0, x2, 1.0, 0.95).unwrap();
            let covered = middle.lower <= 1.0 && middle.upper.unwrap() >= 1.0;
            assert_eq!(covered, middle.p_mid >= 0.05, "{x1} {x2}");
        }
    }

    #[test]
    fn large_counts_return_at_once() {
        let large = exact(500_000_000, 1.0, 500_100_000, 1.0, 0.95).unwrap();
        assert!(large.lower < 1.0 && large.p_central < 0.05 && large.p_minimum_likelihood > 0.0);
        assert!(
            exact(1, 0.0, 1, 1.0, 0.95).is_err() && exact(1, 1.0, 1, f64::INFINITY, 0.95).is_err()
        );
    }
}
