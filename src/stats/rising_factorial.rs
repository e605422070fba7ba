//! Rising factorials `a (a + 1) ... (a + n - 1)` and their derivatives, the building blocks of mixed counts.
//!
//! As differences of `ln Gamma`, digamma and trigamma they lose all digits where `a` is large, which is just where data
//! show little overdispersion. Here short products are taken term by term and long ones from Stirling's series for the
//! difference itself.

use super::special::deviance::unit_deviance;
use super::special::stirling::stirling_error;

/// Up to this many factors are multiplied one by one.
const SHORT: u64 = 64;
/// From here on Stirling's series is used to its last digit.
const LARGE: f64 = 16.0;

/// `sum over j < n of ln(1 + j / a)`, that is `ln Gamma(a + n) - ln Gamma(a) - n ln a`, for `a > 0`.
pub fn ln_rising_over_power(a: f64, n: u64) -> f64 {
    let (head, first) = head_length(a, n);
    let mut sum: f64 = (0..head).map(|j| (j as f64 / a).ln_1p()).sum();
    if head < n {
        // The rest from b = a + head: its own ratio, and the factors of b against those of a.
        let rest = (n - head) as f64;
        sum += unit_deviance(first + rest, first, -rest) - 0.5 * (rest / first).ln_1p()
            + stirling_error(first + rest)
            - stirling_error(first);
        sum += rest * (head as f64 / a).ln_1p();
    }
    sum
}

/// `sum over j < n of 1 / (a + j)`, that is `psi(a + n) - psi(a)`.
pub fn digamma_difference(a: f64, n: u64) -> f64 {
    let (head, first) = head_length(a, n);
    let mut sum: f64 = (0..head).map(|j| 1.0 / (a + j as f64)).sum();
    if head < n {
        let last = first + (n - head) as f64;
        sum +=
            ((last - first) / first).ln_1p() + digamma_remainder(last) - digamma_remainder(first);
    }
    sum
}

/// `sum over j < n of 1 / (a + j)^2`, that is `psi'(a) - psi'(a + n)`.
pub fn trigamma_difference(a: f64, n: u64) -> f64 {
    let (head, first) = head_length(a, n);
    let mut sum: f64 = (0..head).map(|j| (a + j as f64).powi(-2)).sum();
    if head < n {
        let last = first + (n - head) as f64;
        sum +=
            (last - first) / (first * last) + trigamma_remainder(first) - trigamma_remainder(last);
    }
    sum
}

/// Digamma function for `x > 0`: recurrence up to 16, then the asymptotic series (DLMF 5.5.2, 5.11.2).
pub fn digamma(x: f64) -> f64 {
    let shift = (LARGE - x).ceil().max(0.0);
    let down: f64 = (0..shift as u64).map(|j| 1.0 / (x + j as f64)).sum();
    let large = x + shift;
    large.ln() + digamma_remainder(large) - down
}

/// How many factors to take one by one, and where the others begin.
fn head_length(a: f64, n: u64) -> (u64, f64) {
    if n <= SHORT {
        return (n, a + n as f64);
    }
    let head = (LARGE - a).ceil().clamp(0.0, LARGE) as u64;
    (head, a + head as f64)
}

/// `psi(x) - ln x`.
fn digamma_remainder(x: f64) -> f64 {
    let s = 1.0 / (x * x);
    -0.5 / x
        - s * (1.0 / 12.0
            - s * (1.0 / 120.0 - s * (1.0 / 252.0 - s * (1.0 / 240.0 - s * (1.0 / 132.0)))))
}

/// `psi'(x) - 1 / x`.
fn trigamma_remainder(x: f64) -> f64 {
    let s = 1.0 / (x * x);
    s * (0.5
        + (1.0 / 6.0 - s * (1.0 / 30.0 - s * (1.0 / 42.0 - s * (1.0 / 30.0 - s * (5.0 / 66.0)))))
            / x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// The slow, obvious twins: plain sums from the smallest term on.
    #[test]
    fn agree_with_plain_sums() {
        for a in [1e-3, 0.4, 1.0, 3.7, 15.9, 16.0, 250.0, 1e6] {
            for n in [0, 1, 5, 64, 65, 100, 5000] {
                let sum = |f: &dyn Fn(f64) -> f64| (0..n).rev().map(|j| f(j as f64)).sum::<f64>();
                let close = |x: f64, y: f64| {
                    assert_relative_eq!(x, y, max_relative = 3e-13, epsilon = 1e-300)
                };
                close(ln_rising_over_power(a, n), sum(&|j| (j / a).ln_1p()));
                close(digamma_difference(a, n), sum(&|j| 1.0 / (a + j)));
                close(trigamma_difference(a, n), sum(&|j| (a + j).powi(-2)));
            }
        }
    }

    /// Closed forms: psi(1) = -Euler's constant, psi(1/2) = -Euler - 2 ln 2.
    #[test]
    fn digamma_at_known_points() {
        const EULER: f64 = 0.577_215_664_901_532_9;
        assert_relative_eq!(digamma(1.0), -EULER, max_relative = 1e-14);
        assert_relative_eq!(
            digamma(0.5),
            -EULER - 2.0 * 2.0_f64.ln(),
            max_relative = 1e-14
        );
        assert_relative_eq!(digamma(1e9), 1e9_f64.ln() - 0.5e-9, max_relative = 1e-15);
    }
}
