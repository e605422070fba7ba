//! Quantiles, order statistics and reference intervals.

use boretally::stats::kruskal_wallis::kruskal_wallis;
use boretally::stats::order_statistic::{content_confidence, quantile_ranks, sample_for_content};
use boretally::stats::quantile::{QuantileType, quantile};
use boretally::stats::robust_interval::robust_interval;

use crate::assert_relative;
use crate::data::{number, rows};

/// Twelve gauge readings of the NIST/SEMATECH e-Handbook, section 7.2.6.2.
const GAUGE: [f64; 12] = [
    95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065, 95.0925,
    95.1990, 95.1682,
];

fn sorted(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values
}

fn column(file: &str, name: &str) -> Vec<f64> {
    rows(file).iter().map(|row| number(row, name)).collect()
}

/// `REF-01`: numpy 1.26 and R 4.2 `quantile(type = 1..9)`, which agree; the handbook prints 95.1981 for type 6 (from memory).
#[test]
fn nine_types_of_quantile() {
    let values = sorted(GAUGE.to_vec());
    let p90 = [
        95.1959,
        95.1959,
        95.1959,
        95.19546,
        95.19682999999999,
        95.19807,
        95.19568,
        95.19724333333333,
        95.19713999999999,
    ];
    let medians = [
        95.1567, 95.1579, 95.1567, 95.1567, 95.1579, 95.1579, 95.1579, 95.1579, 95.1579,
    ];
    for (i, kind) in QuantileType::ALL.into_iter().enumerate() {
        let label = format!("type {}", i + 1);
        assert_relative(&label, quantile(&values, 0.9, kind).unwrap(), p90[i], 1e-12);
        assert_relative(
            &label,
            quantile(&values, 0.5, kind).unwrap(),
            medians[i],
            1e-12,
        );
    }
}

/// `REF-02` and the table of `RFI-01`: SciPy 1.17 `binom`, R `qbinom`; the table for 119 to 248 values is that of CLSI EP28 (from memory).
#[test]
fn ranks_that_bound_a_quantile() {
    let table = [
        (118, None, Some(7)),
        (119, Some(1), Some(7)),
        (120, Some(1), Some(7)),
        (132, Some(1), Some(7)),
        (133, Some(1), Some(8)),
        (160, Some(1), Some(8)),
        (161, Some(1), Some(9)),
        (187, Some(1), Some(9)),
        (188, Some(2), Some(9)),
        (189, Some(2), Some(9)),
        (190, Some(2), Some(10)),
        (218, Some(2), Some(10)),
        (219, Some(2), Some(11)),
        (248, Some(2), Some(11)),
        (249, Some(2), Some(12)),
    ];
    for (n, lower, upper) in table {
        let low = quantile_ranks(n, 0.025, 0.90).unwrap();
        assert_eq!((low.lower, low.upper), (lower, upper), "n = {n}");
        // The upper end mirrors the lower.
        let high = quantile_ranks(n, 0.975, 0.90).unwrap();
        let mirrored = |rank: Option<u64>| rank.map(|r| n + 1 - r);
        assert_eq!(
            (high.lower, high.upper),
            (mirrored(upper), mirrored(lower)),
            "n = {n}"
        );
    }
    let median = quantile_ranks(25, 0.5, 0.95).unwrap();
    assert_eq!((median.lower, median.upper), (Some(8), Some(18)));
}

/// `RFI-01`: 120 made-up readings; Python from the definitions, R 4.2 the same to 1e-9.
#[test]
fn reference_interval_of_120() {
    let values = sorted(column("ref120.csv", "psi"));
    assert_eq!(values.len(), 120);
    let at = |rank: Option<u64>| values[rank.unwrap() as usize - 1];
    for (p, type_2, type_6, type_7, limits) in [
        (0.025, 143.39999999999998, 142.64, 144.16, [136.0, 147.3]),
        (0.975, 186.60000000000002, 187.36, 185.84, [182.7, 194.0]),
    ] {
        let of = |kind| quantile(&values, p, kind).unwrap();
        assert_relative("type 2", of(QuantileType::AveragedInverse), type_2, 1e-9);
        assert_relative("type 6", of(QuantileType::Weibull), type_6, 1e-9);
        assert_relative("type 7", of(QuantileType::Mode), type_7, 1e-9);
        let ranks = quantile_ranks(120, p, 0.90).unwrap();
        assert_eq!([at(ranks.lower), at(ranks.upper)], limits);
    }
}

/// `TOL-01`: Wilks 1941, Ann Math Stat 12:91; 59 and 93 are the figures usually printed (from memory).
#[test]
fn values_that_hold_most_of_a_population() {
    for (content, level, removed, expected) in [
        (0.90, 0.95, 1, 29),
        (0.95, 0.95, 1, 59),
        (0.95, 0.95, 2, 93),
        (0.95, 0.95, 3, 124),
        (0.90, 0.95, 2, 46),
    ] {
        assert_eq!(
            sample_for_content(content, level, removed).unwrap(),
            expected
        );
    }
    // Closed form: 1 - 0.95^59.
    let one_end = content_confidence(59, 0.95, 1).unwrap();
    assert_relative("59", one_end, 1.0 - 0.95f64.powi(59), 1e-12);
    // Closed form: 1 - n p^(n-1) + (n-1) p^n.
    let both = content_confidence(20, 0.95, 2).unwrap();
    let expected = 1.0 - 20.0 * 0.95f64.powi(19) + 19.0 * 0.95f64.powi(20);
    assert_relative("20", both, expected, 1e-12);
}

/// `REF-05`: one Python implementation of the recipe, written apart from this one; the recipe is from memory (Horn & Pesce 2003).
#[test]
fn robust_interval_of_gears_and_gauge() {
    let gears = column("gear_diameters.csv", "diameter");
    for (values, centre, lower, upper) in [
        (
            gears.as_slice(),
            0.9978985484420783,
            0.9853761532087971,
            1.0104209436753595,
        ),
        (
            GAUGE.as_slice(),
            95.15036656896048,
            95.04505877240054,
            95.25567436552042,
        ),
    ] {
        let found = robust_interval(values, 0.95).unwrap().unwrap();
        assert_relative("centre", found.centre, centre, 1e-6);
        assert_relative("lower", found.lower, lower, 1e-6);
        assert_relative("upper", found.upper, upper, 1e-6);
    }
}

/// `READ-01`: SciPy 1.17 `kruskal` and R 4.2 `kruskal.test`, which agree to 5e-14, on the ten batches of gears.
#[test]
fn batches_of_gears_compared_by_ranks() {
    let mut batches = vec![Vec::new(); 10];
    for row in rows("gear_diameters.csv") {
        batches[number(&row, "batch") as usize - 1].push(number(&row, "diameter"));
    }
    let found = kruskal_wallis(&batches).unwrap().unwrap();
    assert_eq!(found.degrees, 9);
    assert_relative("H", found.h, 17.031238695549614, 1e-9);
    assert_relative("p", found.p, 0.048229022813053905, 1e-9);
}
