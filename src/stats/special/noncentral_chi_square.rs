//! The noncentral chi-square distribution: what a chi-square test statistic follows when the null hypothesis is false.

use super::gamma::gamma_q;
use super::poisson::poisson_pmf;

/// Bound on the terms on either side of the largest; 40 standard deviations of the Poisson weights suffice.
fn bound(mean: f64) -> usize {
    100 + (40.0 * (mean + 1.0).sqrt()) as usize
}

/// Probability above x for `df` > 0 and noncentrality `lambda` >= 0 (else NaN).
///
/// The Poisson mixture of central tails (Johnson, Kotz and Balakrishnan 1995, eq. 29.3), summed outwards from its middle:
/// sum over j of Poisson(j; lambda/2) Q(df/2 + j, x/2). Absolute error about 1e-14.
pub fn noncentral_chi2_sf(x: f64, df: f64, lambda: f64) -> f64 {
    if !(df > 0.0 && (0.0..1e15).contains(&lambda)) || x.is_nan() {
        return f64::NAN;
    }
    let (half, mean) = (x.max(0.0) / 2.0, lambda / 2.0);
    let middle = mean.floor() as u64;
    let term = |j: u64| poisson_pmf(j, mean) * gamma_q(df / 2.0 + j as f64, half);
    let mut sum = 0.0;
    for step in 0..bound(mean) as u64 {
        let value = term(middle + step);
        sum += value;
        // Tails above are at most 1, so the weights alone bound what is left.
        if step as f64 > mean.sqrt() && poisson_pmf(middle + step, mean) < 1e-18 * sum.max(1e-300) {
            break;
        }
    }
    for step in 1..=(bound(mean) as u64).min(middle) {
        let value = term(middle - step);
        sum += value;
        if value < 1e-18 * sum {
            break;
        }
    }
    sum.min(1.0)
}

/// Probability below x: 1 - [`noncentral_chi2_sf`], to an absolute error of about 1e-14.
pub fn noncentral_chi2_cdf(x: f64, df: f64, lambda: f64) -> f64 {
    1.0 - noncentral_chi2_sf(x, df, lambda)
}
