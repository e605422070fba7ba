//! Recurring repairs against the definitions (numpy), R 4.2 `survfit(robust = TRUE)` and closed forms (`data/recurrence.json`).

use std::collections::BTreeMap;

use boretally::stats::interval::normal_deviate;
use boretally::stats::recurrence::{
    History, MeanAt, MeanCumulativeFunction, RecurrenceTable, RobustVariance, Truncation,
    difference, laplace, log_linear, mil_hdbk_189, power_law, unbiased_variance,
};
use boretally::stats::survival::Transformation;
use serde_json::Value;

use crate::assert_relative;
use crate::data::{Row, number, rows};
use crate::expected::{expected, figure, figures};

/// Pairs of distances, or of a distance and an amount.
type Pairs = Vec<(f64, f64)>;

/// Histories of units whose row with replaced = 0 ends observation; several replaced at once are several events.
fn histories(rows: &[Row], unit: &str) -> Vec<History> {
    let mut units: BTreeMap<&str, (Pairs, f64)> = BTreeMap::new();
    for row in rows {
        let (events, end) = units.entry(&row[unit]).or_default();
        let (day, replaced) = (number(row, "days"), number(row, "replaced") as usize);
        events.extend(vec![(day, 1.0); replaced]);
        if replaced == 0 {
            *end = day;
        }
    }
    let histories = units.into_values();
    histories
        .map(|(events, end)| History::new(vec![(0.0, end)], events).unwrap())
        .collect()
}

fn vehicles_in_windows() -> Vec<History> {
    let mut vehicles: BTreeMap<String, (Pairs, Pairs)> = BTreeMap::new();
    for row in rows("army_vehicle_windows.csv") {
        let (windows, events) = vehicles.entry(row["vehicle"].clone()).or_default();
        let (from, to) = (number(&row, "from_miles"), number(&row, "to_miles"));
        match row["kind"].as_str() {
            "window" => windows.push((from, to)),
            _ => events.push((from, 1.0)),
        }
    }
    let histories = vehicles.into_values().map(|(mut windows, events)| {
        windows.sort_by(|a, b| a.0.total_cmp(&b.0));
        History::new(windows, events).unwrap()
    });
    histories.collect()
}

fn mean_of(histories: &[History]) -> MeanCumulativeFunction {
    MeanCumulativeFunction::new(&RecurrenceTable::from_histories(histories).unwrap())
}

fn robust(mean: &MeanCumulativeFunction, histories: &[History], at: Vec<f64>) -> Vec<f64> {
    let mut variance = RobustVariance::new(mean, at);
    histories.iter().for_each(|history| variance.add(history));
    variance.variances().map(|(_, variance)| variance).collect()
}

fn check(label: &str, histories: &[History], wanted: &Value) -> Vec<MeanAt> {
    let mean = mean_of(histories);
    assert_eq!(histories.len() as f64, figure(&wanted["units"]));
    let column = |key: &str| figures(&wanted[key]);
    assert_eq!(mean.steps.len(), column("time").len());
    let distances: Vec<f64> = mean.steps.iter().map(|step| step.distance).collect();
    let robust = robust(&mean, histories, distances);
    let unbiased = unbiased_variance(&mean, histories).unwrap();
    let deviate = normal_deviate(0.95).unwrap();
    for (i, step) in mean.steps.iter().enumerate() {
        let label = format!("{label} at {}", step.distance);
        assert_eq!(step.distance, column("time")[i], "{label}");
        assert_eq!(step.at_risk as f64, column("n_risk")[i], "{label}");
        assert_eq!(step.events as f64, column("n_event")[i], "{label}");
        assert_relative(&label, step.mean, column("mcf")[i], 1e-10);
        assert_relative(
            &label,
            step.poisson_variance,
            column("var_poisson")[i],
            1e-10,
        );
        assert_relative(&label, robust[i], column("var_robust")[i], 1e-10);
        assert_relative(
            &label,
            unbiased[i].unwrap(),
            column("var_nelson_unbiased")[i],
            1e-10,
        );
        let limits = Transformation::Log.limits(step.mean, robust[i].sqrt() / step.mean, deviate);
        assert_relative(
            &label,
            limits.lower,
            figure(&wanted["ci_robust_log"][i][0]),
            1e-9,
        );
        assert_relative(
            &label,
            limits.upper,
            figure(&wanted["ci_robust_log"][i][1]),
            1e-9,
        );
    }
    let steps = mean.steps.iter().zip(robust);
    steps
        .map(|(step, variance)| MeanAt {
            distance: step.distance,
            mean: step.mean,
            variance,
        })
        .collect()
}

#[test]
fn mcf_01_valve_seats_three_variances() {
    let file = expected("recurrence.json");
    let steps = check(
        "valve seats",
        &histories(&rows("valve_seat.csv"), "engine"),
        &file["MCF-01"],
    );
    // Nelson 1995, first ages as remembered: 0.024 with standard error 0.024.
    assert_eq!((steps[0].mean * 1000.0).round(), 24.0);
    assert_eq!((steps[0].variance.sqrt() * 1000.0).round(), 24.0);
}

#[test]
fn mcf_03_two_batches_and_their_difference() {
    let file = expected("recurrence.json");
    let batch = |number: &str| {
        let rows: Vec<Row> = rows("braking_grids.csv")
            .into_iter()
            .filter(|row| row["batch"] == number)
            .collect();
        histories(&rows, "unit")
    };
    let first = check("batch 1", &batch("1"), &file["MCF-03"]["batch1"]);
    let second = check("batch 2", &batch("2"), &file["MCF-03"]["batch2"]);
    let wanted = file["MCF-03"]["difference_1_minus_2"].as_array().unwrap();
    let rows = difference(&first, &second, 0.95).unwrap();
    assert_eq!(rows.len(), wanted.len());
    for (row, wanted) in rows.iter().zip(wanted) {
        let wanted = figures(wanted);
        assert_eq!(row.distance, wanted[0]);
        assert!((row.difference - wanted[1]).abs() < 1e-12, "{row:?}");
        assert_relative("se", row.standard_error, wanted[2], 1e-10);
        assert!((row.limits.lower - wanted[3]).abs() < 1e-10 * (1.0 + wanted[3].abs()));
        assert!((row.limits.upper - wanted[4]).abs() < 1e-10 * (1.0 + wanted[4].abs()));
    }
}

#[test]
fn xrec_01_odometer_windows_with_gaps() {
    let file = expected("recurrence.json");
    let wanted = &file["XREC-01"];
    let vehicles = vehicles_in_windows();
    let table = RecurrenceTable::from_histories(&vehicles).unwrap();
    assert_eq!(vehicles.len() as f64, figure(&wanted["vehicles"]));
    assert_eq!(table.events() as f64, figure(&wanted["events"]));
    assert_eq!(table.exposure(), figure(&wanted["exposure_miles"]));
    let rate = 1000.0 * table.events() as f64 / table.exposure();
    assert_relative("rate", rate, figure(&wanted["rate_per_1000_miles"]), 1e-12);
    let mean = MeanCumulativeFunction::new(&table);
    let at = [5000.0, 10000.0, 15000.0, 20000.0, 25000.0];
    let robust = robust(&mean, &vehicles, at.to_vec());
    for (distance, variance) in at.iter().zip(robust) {
        let wanted = &wanted["at"][distance.to_string()];
        assert_relative("mean", mean.at(*distance), figure(&wanted["mcf"]), 1e-9);
        assert_relative("robust", variance, figure(&wanted["var_robust"]), 1e-9);
        let step = mean
            .steps
            .iter()
            .rfind(|step| step.distance <= *distance)
            .unwrap();
        assert_relative(
            "Poisson",
            step.poisson_variance,
            figure(&wanted["var_poisson"]),
            1e-9,
        );
    }
    assert!(
        unbiased_variance(&mean, &vehicles).is_err(),
        "the unbiased variance has no meaning with gaps"
    );
}

#[test]
fn xrec_02_one_engine_two_processes_and_trend_tests() {
    let file = expected("recurrence.json");
    let wanted = &file["XREC-02"];
    let events: Vec<f64> = rows("halfbeak_no4_engine.csv")
        .iter()
        .map(|row| number(row, "kilohours"))
        .collect();
    let end = figure(&wanted["T"]);
    assert_eq!(events.len() as f64, figure(&wanted["n"]));
    let history = History::new(
        vec![(0.0, end)],
        events.iter().map(|&event| (event, 1.0)).collect(),
    )
    .unwrap();
    let power = power_law(std::slice::from_ref(&history)).unwrap();
    let expected = &wanted["power_law"];
    let near = |label: &str, got: f64| assert_relative(label, got, figure(&expected[label]), 1e-9);
    near("beta", power.shape);
    near("eta", power.scale);
    near("loglik", power.log_likelihood);
    near("se_beta_info", power.standard_error);
    near(
        "beta_unbiased_failure_truncated",
        power.unbiased_shape(Truncation::Failure),
    );
    near(
        "beta_unbiased_time_truncated",
        power.unbiased_shape(Truncation::Distance),
    );
    for (key, truncation) in [
        ("ci_beta_chisq_failure_truncated", Truncation::Failure),
        ("ci_beta_chisq_time_truncated", Truncation::Distance),
    ] {
        let limits = power.exact_shape_limits(truncation, 0.95).unwrap();
        assert_relative(key, limits.lower, figure(&expected[key][0]), 1e-9);
        assert_relative(key, limits.upper, figure(&expected[key][1]), 1e-9);
    }
    let linear = log_linear(&[history]).unwrap();
    assert_relative(
        "gamma0",
        linear.intercept,
        figure(&wanted["log_linear"]["gamma0"]),
        1e-9,
    );
    assert_relative(
        "gamma1",
        linear.slope,
        figure(&wanted["log_linear"]["gamma1"]),
        1e-9,
    );
    assert_relative(
        "loglik",
        linear.log_likelihood,
        figure(&wanted["log_linear"]["loglik"]),
        1e-9,
    );
    let by = |truncation| {
        laplace(&[(0.0, end, &events)], truncation)
            .unwrap()
            .statistic
    };
    assert_relative(
        "Laplace",
        by(Truncation::Failure),
        figure(&wanted["laplace_failure_truncated"]),
        1e-9,
    );
    assert_relative(
        "Laplace",
        by(Truncation::Distance),
        figure(&wanted["laplace_time_truncated"]),
        1e-9,
    );
    let handbook = mil_hdbk_189(&[(end, &events)], Truncation::Failure).unwrap();
    assert_relative(
        "MIL-HDBK-189",
        handbook.statistic,
        figure(&wanted["mil_hdbk_189_chisq"]),
        1e-9,
    );
    assert_eq!(
        handbook.degrees_of_freedom as f64,
        figure(&wanted["mil_hdbk_189_df_failure_truncated"])
    );
    assert_relative(
        "p",
        handbook.p_increasing,
        figure(&wanted["mil_hdbk_189_p_lower_tail"]),
        1e-8,
    );
}

#[test]
fn xrec_03_power_law_over_many_windows() {
    let file = expected("recurrence.json");
    let wanted = &file["XREC-03"];
    let power = power_law(&vehicles_in_windows()).unwrap();
    assert_relative("beta", power.shape, figure(&wanted["beta"]), 1e-9);
    assert_relative("eta", power.scale, figure(&wanted["eta_miles"]), 1e-9);
    assert_relative(
        "ln L",
        power.log_likelihood,
        figure(&wanted["loglik"]),
        1e-11,
    );
    assert_relative(
        "ln L, constant",
        power.constant_log_likelihood,
        figure(&wanted["loglik_hpp"]),
        1e-11,
    );
}
