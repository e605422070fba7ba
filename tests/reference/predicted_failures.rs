//! Failures expected within a further distance, against two independent programs (`data/lifetime.json`).

use boretally::stats::lifetime::{Chance, Family, Observed, fit, prediction};
use boretally::stats::survival::{RiskRow, RiskTable};

use crate::assert_relative;
use crate::data::{number, rows};
use crate::expected::{expected, figure, figures};

/// Counts go in as counts, never as 1703 rows.
pub fn bearing_cages() -> RiskTable {
    let mut rows: Vec<RiskRow> = rows("bearing_cage.csv")
        .iter()
        .map(|row| {
            let count = number(row, "count") as u64;
            let failed = if row["failed"] == "1" { count } else { 0 };
            RiskRow {
                distance: number(row, "hours"),
                entered: 0,
                left: count - failed,
                failed,
            }
        })
        .collect();
    let lives = rows.iter().map(|row| row.left + row.failed).sum();
    let start = RiskRow {
        distance: 0.0,
        entered: lives,
        left: 0,
        failed: 0,
    };
    rows.insert(0, start);
    rows.sort_by(|a, b| a.distance.total_cmp(&b.distance));
    RiskTable::from_counts(rows).unwrap()
}

#[test]
fn pre_01_failures_within_the_next_300_hours() {
    let file = expected("lifetime.json");
    let (wanted, twin) = (&file["prediction"]["next_300_h"], &file["prediction_twin"]);
    let table = bearing_cages();
    let fit = fit(Family::Weibull, &Observed::from_table(&table)).unwrap();
    let running: Vec<(f64, u64)> = table
        .rows()
        .iter()
        .filter(|row| row.left > 0)
        .map(|row| (row.distance, row.left))
        .collect();
    let chances: Vec<Chance> = running
        .iter()
        .map(|&(age, lives)| Chance {
            lives,
            probability: fit.failure_probability(age, age + 300.0),
        })
        .collect();
    for ((age, _), chance) in running.iter().zip(&chances) {
        let probability = figure(&twin["conditional_probability"][age.to_string()]);
        assert_relative(
            "conditional probability",
            chance.probability,
            probability,
            1e-8,
        );
    }
    let next = prediction(&chances);
    assert_eq!(next.lives as f64, figure(&wanted["at_risk"]));
    assert_relative("expected", next.expected, figure(&wanted["expected"]), 1e-8);
    assert_relative("expected", next.expected, figure(&twin["expected"]), 1e-8);
    assert_relative(
        "variance",
        next.variance,
        figure(&wanted["var_binomial"]),
        1e-8,
    );
    for (k, probability) in figures(&wanted["pmf_0_to_20"]).into_iter().enumerate() {
        assert_relative(&format!("P({k})"), next.probabilities[k], probability, 1e-8);
    }
    for (p, quantile) in wanted["plug_in_quantiles"].as_object().unwrap() {
        assert_eq!(
            next.quantile(p.parse().unwrap()) as f64,
            figure(quantile),
            "{p}"
        );
    }
}
