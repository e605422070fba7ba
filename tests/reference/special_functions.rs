//! Tails, densities and quantiles against mpmath at 50 digits; `data/mpmath.csv` says how its figures were made.

use boretally::stats::sample_size;
use boretally::stats::special::*;

use crate::assert_relative;
use crate::table::mpmath;

/// Relative error a tail may have: its own rounding and, multiplied by the exponential, that of its exponent.
fn allowed(tail: f64) -> f64 {
    2e-14 - 1e-15 * tail.ln()
}

#[test]
fn incomplete_gamma_tails() {
    let rows = mpmath("gamma_tails");
    assert!(rows.len() > 300);
    for row in rows {
        let [a, x, lower, upper] = row[..] else {
            panic!("{row:?}")
        };
        assert_relative(
            &format!("P({a}, {x})"),
            gamma_p(a, x),
            lower,
            allowed(lower),
        );
        assert_relative(
            &format!("Q({a}, {x})"),
            gamma_q(a, x),
            upper,
            allowed(upper),
        );
    }
}

#[test]
fn incomplete_beta_tails() {
    let rows = mpmath("beta_tails");
    assert!(rows.len() > 400);
    for row in rows {
        let [a, b, x, lower, upper] = row[..] else {
            panic!("{row:?}")
        };
        assert_relative(
            &format!("I_{x}({a}, {b})"),
            beta_i(a, b, x),
            lower,
            allowed(lower),
        );
        assert_relative(
            &format!("1 - I_{x}({a}, {b})"),
            beta_q(a, b, x),
            upper,
            allowed(upper),
        );
    }
}

#[test]
fn logarithm_of_beta() {
    for row in mpmath("ln_beta") {
        let [a, b, expected] = row[..] else {
            panic!("{row:?}")
        };
        assert_relative(&format!("ln B({a}, {b})"), ln_beta(a, b), expected, 1e-14);
    }
}

#[test]
fn chi_square_quantiles() {
    for row in mpmath("chi2") {
        let [q, df, above, below] = row[..] else {
            panic!("{row:?}")
        };
        assert_relative(
            &format!("chi2_isf({q}, {df})"),
            chi2_isf(q, df),
            above,
            1e-14,
        );
        assert_relative(
            &format!("chi2_quantile({q}, {df})"),
            chi2_quantile(q, df),
            below,
            1e-14,
        );
        assert_relative(
            &format!("chi2_sf({above}, {df})"),
            chi2_sf(above, df),
            q,
            1e-12,
        );
    }
}

#[test]
fn noncentral_chi_square_tails() {
    for row in mpmath("noncentral_chi2_sf") {
        let [x, df, lambda, expected] = row[..] else {
            panic!("{row:?}")
        };
        let got = noncentral_chi2_sf(x, df, lambda);
        assert!(
            (got - expected).abs() < 1e-13,
            "{x} {df} {lambda}: {got} against {expected}"
        );
        assert!((noncentral_chi2_cdf(x, df, lambda) + got - 1.0).abs() < 1e-15);
    }
}

#[test]
fn student_t_tails_and_quantiles() {
    for row in mpmath("student_t_sf") {
        let [t, df, expected] = row[..] else {
            panic!("{row:?}")
        };
        assert_relative(
            &format!("t {t}, df {df}"),
            student_t_sf(t, df),
            expected,
            5e-14,
        );
        assert_relative(
            &format!("t {}, df {df}", -t),
            student_t_cdf(-t, df),
            expected,
            5e-14,
        );
    }
    for row in mpmath("student_t_quantile") {
        let [q, df, expected] = row[..] else {
            panic!("{row:?}")
        };
        assert_relative(
            &format!("q {q}, df {df}"),
            -student_t_quantile(q, df),
            expected,
            1e-14,
        );
    }
}

#[test]
fn binomial_probabilities() {
    for row in mpmath("binomial") {
        let [k, n, p, point, below, above] = row[..] else {
            panic!("{row:?}")
        };
        let label = format!("{k} of {n} at {p}");
        let (k, n) = (k as u64, n as u64);
        assert_relative(&label, binomial_pmf(k, n, p), point, 1e-13);
        assert_relative(&label, binomial_cdf(k, n, p), below, 1e-13);
        assert_relative(&label, binomial_sf(k, n, p), above, 1e-13);
    }
}

#[test]
fn poisson_probabilities() {
    for row in mpmath("poisson") {
        let [k, mean, point, below, above] = row[..] else {
            panic!("{row:?}")
        };
        let label = format!("{k} at {mean}");
        assert_relative(&label, poisson_pmf(k as u64, mean), point, 1e-13);
        assert_relative(&label, poisson_cdf(k as u64, mean), below, 1e-13);
        assert_relative(&label, poisson_sf(k as u64, mean), above, 1e-13);
    }
}

#[test]
fn noncentrality_for_a_power() {
    for row in mpmath("noncentrality") {
        let [df, level, power, expected] = row[..] else {
            panic!("{row:?}")
        };
        let got = sample_size::noncentrality(df, level, power).unwrap();
        assert_relative(
            &format!("df {df}, level {level}, power {power}"),
            got,
            expected,
            1e-12,
        );
        // n w^2 = noncentrality, rounded up.
        let cells = df as u64 + 1;
        let cases = sample_size::to_reject_equal_shares(cells, 0.3, level, power).unwrap();
        assert_eq!(cases, Some((expected / 0.09).ceil() as u64));
    }
}
