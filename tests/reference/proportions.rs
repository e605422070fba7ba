//! Limits of proportions and of their differences.

use boretally::stats::Interval;
use boretally::stats::proportion::{METHODS, methods};
use boretally::stats::proportion_difference::newcombe;

use crate::assert_relative;
use crate::table::{intervals, mpmath};

fn limits(method: &str, x: f64, n: f64, level: f64) -> Interval {
    let method = methods::find(method).unwrap_or_else(|| panic!("no method {method}"));
    (method.function)(x as u64, n as u64, level).unwrap()
}

/// `BIN-01` (Newcombe 1998, Stat Med 17, 857, table I cases) and `BIN-03` (edges): 1e-9 relative.
#[test]
fn every_method_against_python_and_r() {
    let mut seen: Vec<&str> = Vec::new();
    for row in intervals("proportion") {
        let [program, check, method, x, n, level, lower, upper] = row[..] else {
            panic!("{row:?}")
        };
        let [x, n, level, lower, upper] =
            [x, n, level, lower, upper].map(|v| v.parse::<f64>().unwrap());
        let got = limits(method, x, n, level);
        let label = format!("{check} {program} {method} {x}/{n}");
        assert_relative(&label, got.lower, lower, 1e-9);
        assert_relative(&label, got.upper, upper, 1e-9);
        seen.push(method);
    }
    for method in METHODS {
        assert!(
            seen.contains(&method.id),
            "{} has no outside figure",
            method.id
        );
    }
}

/// Limits at counts up to 1e9 and levels up to 0.999999 against mpmath: 1e-12 is promised, 2e-14 is measured.
#[test]
fn large_counts_and_high_levels_against_mpmath() {
    for (subject, method) in [
        ("clopper_pearson", "clopper_pearson"),
        ("proportion_jeffreys", "jeffreys"),
        ("proportion_mid_p", "mid_p"),
        ("proportion_likelihood_ratio", "likelihood_ratio"),
        ("proportion_wilson", "wilson"),
        ("proportion_wilson_cc", "wilson_cc"),
    ] {
        for row in mpmath(subject) {
            let [x, n, level, lower, upper] = row[..] else {
                panic!("{row:?}")
            };
            let got = limits(method, x, n, level);
            let label = format!("{method} {x}/{n} at {level}");
            assert_relative(&label, got.lower, lower, 2e-14);
            assert_relative(&label, got.upper, upper, 2e-14);
        }
    }
}

/// Closed form: the one-sided 95 % upper limit at 0 of n is 1 - 0.05^(1/n), near 3/n; `BIN-03`.
#[test]
fn rule_of_three() {
    for (n, expected) in [
        (10.0, 0.2588655508930523),
        (30.0, 0.09503385285530414),
        (300.0, 0.009936081944457711),
        (1e7, 2.995731824833443e-7),
    ] {
        let got = limits("clopper_pearson", 0.0, n, 0.90);
        assert_eq!(got.lower, 0.0);
        assert_relative(&format!("0/{n}"), got.upper, expected, 1e-13);
        assert!(got.upper < 3.0 / n);
    }
}

/// `BIN-04`: Newcombe 1998, Stat Med 17, 873, table II method 10, computed with Python from the definition; 1e-9 relative.
#[test]
fn hybrid_score_difference() {
    for row in intervals("difference") {
        let program_and_check = row[..2].join(" ");
        let cells: Vec<f64> = row[2..].iter().map(|v| v.parse().unwrap()).collect();
        let [x1, n1, x2, n2, difference, lower, upper] = cells[..] else {
            panic!("{row:?}")
        };
        let got = newcombe(x1 as u64, n1 as u64, x2 as u64, n2 as u64, 0.95).unwrap();
        let label = format!("{program_and_check} {x1}/{n1}-{x2}/{n2}");
        assert_relative(&label, got.difference, difference, 1e-9);
        assert_relative(&label, got.interval.lower, lower, 1e-9);
        assert_relative(&label, got.interval.upper, upper, 1e-9);
    }
}
