//! Deviances without cancellation: the exponents of the gamma, beta, Poisson and binomial densities.
//!
//! Written as ln x^a e^-x / Gamma(a+1), a density at a count of 10^9 subtracts numbers of size 10^10 to get one of size 1.
//! Written as a deviance (Loader 2000, "Fast and accurate computation of binomial probabilities") nothing cancels.

/// ln(1 + u) - u for u > -1, with full relative accuracy also where u is small.
///
/// With r = u / (2 + u): ln(1 + u) = 2 artanh(r), and 2r - u = -r u, so that
/// ln(1 + u) - u = r (2 r^2 (1/3 + r^2/5 + r^4/7 + ...) - u).
pub fn ln_1p_minus(u: f64) -> f64 {
    if u <= -0.45 || u >= 0.8 {
        return u.ln_1p() - u;
    }
    let r = u / (2.0 + u);
    let y = r * r;
    let series = if y < 1e-3 {
        artanh_tail::<6>(y)
    } else {
        artanh_tail::<16>(y)
    };
    r * (2.0 * y * series - u)
}

/// 1/3 + y/5 + y^2/7 + ... with `N` terms.
fn artanh_tail<const N: usize>(y: f64) -> f64 {
    let mut sum = 0.0;
    for k in (0..N).rev() {
        sum = sum * y + 1.0 / (2 * k + 3) as f64;
    }
    sum
}

/// The unit deviance observed ln(observed / expected) + expected - observed, never negative.
///
/// `excess` = expected - observed is passed by the caller, who can often form it with less rounding than a subtraction here.
/// observed >= 0, expected > 0 (observed = 0 gives `expected`).
pub fn unit_deviance(observed: f64, expected: f64, excess: f64) -> f64 {
    if observed == 0.0 {
        return expected;
    }
    let u = excess / observed;
    if u > -0.45 && u < 0.8 {
        -observed * ln_1p_minus(u)
    } else {
        // The logarithm of the quotient, not of 1 + u: for tiny expected values 1 + u has lost its digits.
        observed * (observed / expected).ln() + excess
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed with mpmath 1.4, 50 digits: log(1+u)-u.
    const VALUES: &[(f64, f64)] = &[
        (1e-8, -4.999999966666667e-17),
        (-1e-3, -5.003335835335002e-7),
        (0.1, -0.00468982019567514),
        (-0.3, -0.056674943938732375),
        (0.79, -0.20778438014733638),
        (-0.5, -0.19314718055994531),
        (3.0, -1.6137056388801094),
    ];

    #[test]
    fn ln_1p_minus_keeps_relative_accuracy() {
        for &(u, expected) in VALUES {
            let got = ln_1p_minus(u);
            assert!(
                (got / expected - 1.0).abs() < 1e-15,
                "{u}: {got} against {expected}"
            );
        }
    }

    #[test]
    fn branches_meet() {
        for edge in [-0.45f64, 0.8, 2.0 * 1e-3f64.sqrt() / (1.0 - 1e-3f64.sqrt())] {
            let (below, above) = (ln_1p_minus(edge - 1e-13), ln_1p_minus(edge + 1e-13));
            assert!(
                (below / above - 1.0).abs() < 1e-11,
                "{edge}: {below} {above}"
            );
        }
    }

    #[test]
    fn deviance_is_zero_only_at_its_centre() {
        assert_eq!(unit_deviance(5.0, 5.0, 0.0), 0.0);
        assert!(unit_deviance(5.0, 5.1, 5.1 - 5.0) > 0.0);
        assert!(unit_deviance(5.0, 1e-300, 1e-300 - 5.0) > 3000.0);
        assert_eq!(unit_deviance(0.0, 2.5, 2.5), 2.5);
    }
}
