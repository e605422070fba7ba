//! `life --compare` where causes compete: Gray's test of open datasets taken in as a shop's export, against R `cmprsk`.
//!
//! Expected numbers are those of `tests/reference/data/competing_risks.json` (their origin is told in the README there). A month or a
//! day of a dataset is one kilometre here; the test does not depend on the unit.

use std::collections::BTreeMap;

use serde_json::Value as Json;

use super::life_store::{Unit, life, unit};

const EXPECTED: &str = include_str!("../reference/data/competing_risks.json");
const MGUS: &str = include_str!("../reference/data/mgus2.csv");
const MELANOMA: &str = include_str!("../reference/data/melanoma.csv");

/// The causes that stand for events 1 and 2; in this order among the answer's.
const CAUSES: [&str; 2] = ["exhaust_valve_leak", "ignition_coil"];

type Row = BTreeMap<String, String>;

fn units(text: &str, of: impl Fn(&Row) -> Unit) -> Vec<Unit> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<Row> = reader.deserialize().map(Result::unwrap).collect();
    rows.iter().map(of).collect()
}

fn event(row: &Row) -> Option<&'static str> {
    let event: usize = row["event"].parse().unwrap();
    event.checked_sub(1).map(|cause| CAUSES[cause])
}

fn same_as_cmprsk(answer: &Json, name: &str) {
    let file: Json = serde_json::from_str(EXPECTED).unwrap();
    let wanted = &file["gray"][name];
    let compared = &answer["comparisons"][0];
    assert_eq!(compared["left_out"], serde_json::json!([]));
    let causes = compared["causes"].as_array().unwrap();
    assert_eq!(causes.len(), 2);
    for (place, cause) in causes.iter().enumerate() {
        assert_eq!(cause["cause"], CAUSES[place]);
        assert_eq!(cause["from_m"], 0);
        assert_eq!(cause["degrees_of_freedom"], wanted["df"]);
        for (field, list) in [("chi_square", "statistic"), ("p", "p")] {
            let (found, wanted) = (
                cause[field].as_f64().unwrap(),
                wanted[list][place].as_f64().unwrap(),
            );
            assert!(
                (found / wanted - 1.0).abs() < 1e-8,
                "{name} {field} {place}: {found} against {wanted}"
            );
        }
    }
    // Two causes: the smaller p-value counts twice, the larger once (Benjamini & Hochberg 1995).
    let of =
        |field: &str| -> Vec<f64> { causes.iter().map(|c| c[field].as_f64().unwrap()).collect() };
    let (p, adjusted) = (of("p"), of("p_adjusted"));
    let (low, high) = if p[0] < p[1] { (0, 1) } else { (1, 0) };
    assert!((adjusted[high] - p[high]).abs() < 1e-15);
    assert!((adjusted[low] - (2.0 * p[low]).min(p[high])).abs() < 1e-15);
}

/// 205 patients with a melanoma, by ulceration.
#[test]
fn shares_by_cause_differ_as_in_cmprsk() {
    let patients = units(MELANOMA, |row| Unit {
        engine: if row["ulcer"] == "1" { "elm" } else { "ash" },
        ..unit(0.0, row["days"].parse().unwrap(), event(row))
    });
    let answer = life(&patients, "--compare");
    same_as_cmprsk(&answer, "melanoma by ulcer");
    let verdict = answer["verdict"].to_string();
    assert!(
        verdict.contains("The share that fails first differs in") && verdict.contains("Gray"),
        "{verdict}"
    );
    let caveats = answer["caveats"].to_string();
    assert!(caveats.contains("shares-compared"), "{caveats}");
}

/// 1384 patients in whole months, so that both events tie again and again; by sex within two groups of age.
#[test]
fn shares_by_cause_within_strata_differ_as_in_cmprsk() {
    let patients = units(MGUS, |row| {
        let age: f64 = row["age"].parse().unwrap();
        Unit {
            engine: if row["sex"] == "F" { "ash" } else { "elm" },
            year: if age < 70.0 { 2014 } else { 2015 },
            ..unit(0.0, row["months"].parse().unwrap(), event(row))
        }
    });
    let answer = life(&patients, "--compare --strata model-year");
    same_as_cmprsk(&answer, "mgus2 by sex within age");
}

/// With lives of its own for every cause, no cause competes.
#[test]
fn causes_with_lives_of_their_own_are_not_compared_as_competing() {
    let patients = units(MELANOMA, |row| Unit {
        engine: if row["ulcer"] == "1" { "elm" } else { "ash" },
        ..unit(0.0, row["days"].parse().unwrap(), event(row))
    });
    let answer = life(&patients, "--by family,cause --compare");
    for compared in answer["comparisons"].as_array().unwrap() {
        assert_eq!(compared["causes"], serde_json::json!([]));
    }
}
