//! Logarithms of gamma, beta and factorials, and the error of Stirling's formula that densities are built on.

use std::f64::consts::PI;

/// stirling_error(k / 2) for k = 1..32; computed with mpmath 1.4, 50 digits.
const HALVES: [f64; 32] = [
    0.15342640972002736,
    0.08106146679532726,
    0.05481412105191765,
    0.0413406959554093,
    0.03316287351993629,
    0.02767792568499834,
    0.023746163656297496,
    0.020790672103765093,
    0.018488450532673187,
    0.016644691189821193,
    0.015134973221917378,
    0.013876128823070748,
    0.012810465242920227,
    0.01189670994589177,
    0.011104559758206917,
    0.010411265261972096,
    0.009799416126158804,
    0.009255462182712733,
    0.008768700134139386,
    0.00833056343336287,
    0.00793411456431402,
    0.007573675487951841,
    0.007244554301320383,
    0.00694284010720953,
    0.006665247032707682,
    0.006408994188004207,
    0.006171712263039458,
    0.0059513701127588475,
    0.0057462165130101155,
    0.005554733551962801,
    0.005375599032926835,
    0.0052076559196096404,
];

/// ln Gamma(a + 1) - (1/2 ln(2 pi a) + a ln a - a) for a > 0, the error of Stirling's formula.
///
/// Table for half-integers up to 16; asymptotic series (DLMF 5.11.1) from 16 on; below, Gauss's recurrence
/// e(a) = e(a + 1) + (a + 1/2) ln(1 + 1/a) - 1, each step evaluated without cancellation.
pub fn stirling_error(a: f64) -> f64 {
    if a > 16.0 {
        return series(a);
    }
    let doubled = 2.0 * a;
    if doubled == doubled.trunc() && doubled >= 1.0 {
        return HALVES[doubled as usize - 1];
    }
    let mut sum = 0.0;
    let mut shifted = a;
    while shifted <= 16.0 {
        sum += step(shifted);
        shifted += 1.0;
    }
    sum + series(shifted)
}

fn series(a: f64) -> f64 {
    const S: [f64; 8] = [
        1.0 / 12.0,
        1.0 / 360.0,
        1.0 / 1260.0,
        1.0 / 1680.0,
        1.0 / 1188.0,
        691.0 / 360_360.0,
        1.0 / 156.0,
        3617.0 / 122_400.0,
    ];
    let y = 1.0 / (a * a);
    let terms = if a > 500.0 { 3 } else { S.len() };
    let mut sum = 0.0;
    for &s in S[..terms].iter().rev() {
        sum = s - y * sum;
    }
    sum / a
}

/// (a + 1/2) ln(1 + 1/a) - 1 = w^2/3 + w^4/5 + ... with w = 1 / (2a + 1).
fn step(a: f64) -> f64 {
    if a < 1.0 {
        return (a + 0.5) * (1.0 / a).ln_1p() - 1.0;
    }
    let w = 1.0 / (2.0 * a + 1.0);
    let y = w * w;
    let mut sum = 0.0;
    for k in (0..16).rev() {
        sum = sum * y + 1.0 / (2 * k + 3) as f64;
    }
    sum * y
}

/// ln Gamma(x) for x > 0; NaN elsewhere.
pub fn ln_gamma(x: f64) -> f64 {
    if x > 0.0 { libm::lgamma(x) } else { f64::NAN }
}

/// ln n!.
pub fn ln_factorial(n: u64) -> f64 {
    libm::lgamma(n as f64 + 1.0)
}

/// ln B(a, b) = ln Gamma(a) + ln Gamma(b) - ln Gamma(a + b) for a, b > 0, without the cancellation of the three.
pub fn ln_beta(a: f64, b: f64) -> f64 {
    if !(a > 0.0 && b > 0.0) {
        return f64::NAN;
    }
    let n = a + b;
    let error = stirling_error(a) + stirling_error(b) - stirling_error(n);
    // a ln(n / a) + b ln(n / b), each as ln(1 + small) where it is small.
    let power = a * (b / a).ln_1p() + b * (a / b).ln_1p();
    0.5 * (2.0 * PI * (n / a) / b).ln() + error - power
}

/// ln of the binomial coefficient "n over k"; negative infinity if k > n.
pub fn ln_choose(n: u64, k: u64) -> f64 {
    if k > n {
        return f64::NEG_INFINITY;
    }
    if k == 0 || k == n {
        return 0.0;
    }
    let (n, k) = (n as f64, k as f64);
    -(n + 1.0).ln() - ln_beta(k + 1.0, n - k + 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, expected: f64, tolerance: f64) {
        assert!(
            (got / expected - 1.0).abs() < tolerance,
            "{got} against {expected}"
        );
    }

    #[test]
    fn stirling_error_on_all_branches() {
        // Computed with mpmath 1.4, 50 digits.
        for (a, expected) in [
            (0.001, 2.5422704679670947),
            (0.1, 0.512740081331915),
            (0.25, 0.27251040121343206),
            (0.7, 0.11326370211474025),
            (1.3, 0.06299524571347394),
            (3.3, 0.025177132967245105),
            (7.77, 0.010719116871430132),
            (15.9, 0.005240399880756108),
            (16.1, 0.005175318558359872),
            (40.0, 0.0020832899383024218),
            (499.0, 0.000167000645646607),
            (501.0, 0.0001663339765799327),
            (1000000.0, 8.333333333333056e-08),
            (1000000000.0, 8.333333333333333e-11),
        ] {
            close(stirling_error(a), expected, 2e-14);
        }
    }

    #[test]
    fn table_agrees_with_the_recurrence() {
        for k in 1..=32 {
            let a = k as f64 / 2.0;
            let next = if a + 1.0 > 16.0 {
                series(a + 1.0)
            } else {
                stirling_error(a + 1.0)
            };
            assert!((stirling_error(a) - next - step(a)).abs() < 1e-15, "{a}");
        }
    }

    #[test]
    fn beta_and_binomial_coefficients() {
        // Closed forms: B(1, b) = 1/b, B(1/2, 1/2) = pi; 52 over 5 = 2598960.
        close(ln_beta(1.0, 1e9), -(1e9f64.ln()), 1e-15);
        close(ln_beta(0.5, 0.5), PI.ln(), 1e-15);
        close(ln_choose(52, 5).exp(), 2_598_960.0, 1e-14);
        close(
            ln_choose(1_000_000_000, 2),
            (1e9f64 * (1e9 - 1.0) / 2.0).ln(),
            1e-14,
        );
        assert_eq!(ln_choose(3, 4), f64::NEG_INFINITY);
    }
}
