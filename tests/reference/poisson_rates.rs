//! Limits of Poisson counts and rates.

use boretally::stats::Interval;
use boretally::stats::poisson_rate::{METHODS, methods};

use crate::assert_relative;
use crate::table::{intervals, mpmath};

fn limits(method: &str, count: f64, exposure: f64, level: f64) -> Interval {
    let method = methods::find(method).unwrap_or_else(|| panic!("no method {method}"));
    (method.function)(count as u64, exposure, level).unwrap()
}

/// `POI-01`: counts 0 to 100 and 1e6 (Garwood 1936 table cases), 1e-9 relative; exposure 8 only divides.
#[test]
fn every_method_against_python_and_r() {
    let mut seen: Vec<&str> = Vec::new();
    for row in intervals("rate") {
        let [program, check, method, count, level, lower, upper] = row[..] else {
            panic!("{row:?}")
        };
        let [count, level, lower, upper] =
            [count, level, lower, upper].map(|v| v.parse::<f64>().unwrap());
        for exposure in [1.0, 8.0] {
            let got = limits(method, count, exposure, level);
            let label = format!("{check} {program} {method} {count}");
            assert_relative(&label, got.lower * exposure, lower, 1e-9);
            assert_relative(&label, got.upper * exposure, upper, 1e-9);
        }
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
        ("garwood", "garwood"),
        ("poisson_jeffreys", "jeffreys"),
        ("poisson_mid_p", "mid_p"),
    ] {
        for row in mpmath(subject) {
            let [count, level, lower, upper] = row[..] else {
                panic!("{row:?}")
            };
            let got = limits(method, count, 1.0, level);
            let label = format!("{method} {count} at {level}");
            assert_relative(&label, got.lower, lower, 2e-14);
            assert_relative(&label, got.upper, upper, 2e-14);
        }
    }
}
