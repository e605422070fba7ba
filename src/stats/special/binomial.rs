//! The binomial distribution, through the incomplete beta function.

use std::f64::consts::PI;

use super::beta::{BetaShape, UnitPoint};
use super::deviance::unit_deviance;
use super::stirling::stirling_error;

/// Probability of exactly `k` successes in `n` trials at probability `p` in [0, 1] (else NaN).
pub fn binomial_pmf(k: u64, n: u64, p: f64) -> f64 {
    binomial_pmf_at(k, n, UnitPoint::from_x(p))
}

/// [`binomial_pmf`] where 1 - p is known better than subtraction would give it.
///
/// Loader's saddle-point form: no log-gammas are subtracted.
pub fn binomial_pmf_at(k: u64, n: u64, at: UnitPoint) -> f64 {
    if !(at.x >= 0.0 && at.y >= 0.0) {
        return f64::NAN;
    }
    if k > n {
        return 0.0;
    }
    let (successes, failures, trials) = (k as f64, (n - k) as f64, n as f64);
    if k == 0 {
        return power(at.y, at.x, trials);
    }
    if k == n {
        return power(at.x, at.y, trials);
    }
    if at.x == 0.0 || at.y == 0.0 {
        return 0.0;
    }
    let excess = if at.x <= at.y {
        trials.mul_add(at.x, -successes)
    } else {
        (-trials).mul_add(at.y, failures)
    };
    let deviance = unit_deviance(successes, trials * at.x, excess)
        + unit_deviance(failures, trials * at.y, -excess);
    let error = stirling_error(successes) + stirling_error(failures) - stirling_error(trials);
    (-deviance - error).exp() * (trials / (2.0 * PI * successes * failures)).sqrt()
}

/// base^exponent with the base's complement at hand, accurate for bases near 1.
fn power(base: f64, complement: f64, exponent: f64) -> f64 {
    if exponent == 0.0 {
        return 1.0;
    }
    let log = if complement < 0.5 {
        (-complement).ln_1p()
    } else {
        base.ln()
    };
    (exponent * log).exp()
}

/// Probability of at most `k` successes in `n` trials.
pub fn binomial_cdf(k: u64, n: u64, p: f64) -> f64 {
    both_tails(k, n, p).0
}

/// Probability of more than `k` successes in `n` trials.
pub fn binomial_sf(k: u64, n: u64, p: f64) -> f64 {
    both_tails(k, n, p).1
}

/// P(X <= k) and P(X > k); P(X > k) = I_p(k + 1, n - k).
fn both_tails(k: u64, n: u64, p: f64) -> (f64, f64) {
    if !(0.0..=1.0).contains(&p) {
        return (f64::NAN, f64::NAN);
    }
    if k >= n {
        return (1.0, 0.0);
    }
    let tails = BetaShape::new(k as f64 + 1.0, (n - k) as f64).tails(UnitPoint::from_x(p));
    (tails.upper, tails.lower)
}
