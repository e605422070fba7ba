//! Tails and quantiles against mpmath at 50 digits; origin of the figures in `data/mpmath.csv` itself.

use boretally::stats::special::{beta_i, beta_q, gamma_p, gamma_q};

use crate::assert_relative;

/// The rows of one subject of `data/mpmath.csv`.
fn rows(subject: &str) -> Vec<Vec<f64>> {
    let lines = include_str!("data/mpmath.csv")
        .lines()
        .filter(|line| !line.starts_with('#'));
    lines
        .filter_map(|line| line.strip_prefix(subject)?.strip_prefix(','))
        .map(|row| row.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect()
}

/// Relative error a tail may have: its own rounding and, multiplied by the exponential, that of its exponent.
fn allowed(tail: f64) -> f64 {
    2e-14 - 1e-15 * tail.ln()
}

#[test]
fn incomplete_gamma_tails() {
    let rows = rows("gamma_tails");
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
    let rows = rows("beta_tails");
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
