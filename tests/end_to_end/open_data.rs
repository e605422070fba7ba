//! An open dataset through the program as a user would take it: exported rows in, rates by age band out.
//!
//! Replacements of exhaust valve seats on 41 diesel engines (Nelson & Doganaksoy 1989; Nelson 1995, Technometrics 37:147;
//! `tests/reference/data/valve_seat.csv`). The clock of that study is days; here a day is written as one kilometre, and every
//! age is moved on by 1000 so that no reading is the 0 that shops write for "unknown". The last row of each engine is the end of
//! the study, whatever failed, so distance counts to the last sighting.
//!
//! Expected values: a person-years split by a dozen lines of Python over the same file, run apart from this program: engine by
//! engine the overlap of (0, last day] with each band, and replacements by half-open band. Garwood's limits with SciPy 1.17.1
//! (`chi2.ppf(.025, 2*48)/2`, `chi2.ppf(.975, 2*49)/2` over 25363 days).
//!
//! R 4.2.2 with survival 3.5-3 gives the same, run apart as well: `survSplit` over (0, last day] cut at 150, 300, 450 and 600,
//! `cut(days, right = FALSE)` for the events, `poisson.test(48, 25363)` for the rate and its limits. The Python script printed:
//!
//! ```text
//! 0 150 6150 9 | 150 300 6150 10 | 300 450 6089 12 | 450 600 5806 10 | 600 - 1168 7
//! 25363 48 189.25206008752906 139.53952932808912 250.92077507442835   (rate and limits per 100 000)
//! ```

use std::collections::HashMap;
use std::fmt::Write;

use approx::assert_relative_eq;
use assert_cmd::Command;
use boretally::domain::day::Day;
use serde_json::Value as Json;

const MAPPING: &str = r#"source = "valve-seats"
files = ["engines.csv"]
[format]
kind = "delimited"
decimal = "."
[defaults]
site = "Study"
distance_unit = "km"
engine_family = "diesel"
[[table]]
into = "visits"
[table.columns]
record = "Row"
vehicle = { column = "Engine", kind = "unit" }
date = "Date"
odometer = "Km"
[[table]]
into = "cases"
when = { column = "Replaced", equals = "1" }
[table.columns]
case_id = "Row"
vehicle = { column = "Engine", kind = "unit" }
opened = "Date"
odometer = "Km"
outcome = { value = "confirmed" }
[[table]]
into = "findings"
when = { column = "Replaced", equals = "1" }
[table.columns]
case_id = "Row"
cause = { value = "exhaust_valve_leak" }
cylinder = "Cylinder"
confirmation = { value = "2" }
"#;

const FAMILIES: &str = r#"[[family]]
id = "diesel"
title = "Diesel of the study"
cylinders = 16
layout = "vee"
match = [{ engine = "study diesel" }]
"#;

/// Every engine begins at day 0; two replacements of one engine on one day are two failures, so they get two cylinders.
fn export() -> String {
    let data = include_str!("../reference/data/valve_seat.csv");
    let mut out = String::from("Row,Engine,Date,Km,Replaced,Cylinder\n");
    let start = Day::from_ymd(2000, 1, 1).expect("a day");
    let mut seen: HashMap<(String, i32), u32> = HashMap::new();
    let mut row = 0;
    let mut line = |engine: &str, day: i32, replaced: &str, cylinder: &str| {
        row += 1;
        let date = Day(start.0 + day);
        writeln!(
            out,
            "R{row},E{engine},{date},{},{replaced},{cylinder}",
            1000 + day
        )
        .expect("text");
    };
    let mut started: Vec<&str> = Vec::new();
    for record in data.lines().skip(1) {
        let cells: Vec<&str> = record.split(',').collect();
        let (engine, day) = (cells[0], cells[1].parse::<i32>().expect("a day"));
        if !started.contains(&engine) {
            started.push(engine);
            line(engine, 0, "0", "");
        }
        let cylinder = seen.entry((engine.to_owned(), day)).or_default();
        *cylinder += 1;
        let named = if cells[2] == "1" {
            cylinder.to_string()
        } else {
            String::new()
        };
        line(engine, day, cells[2], &named);
    }
    out
}

fn run(arguments: &[&str]) -> Vec<u8> {
    let run = Command::cargo_bin("boretally")
        .expect("the program")
        .args(arguments)
        .assert()
        .success();
    run.get_output().stdout.clone()
}

#[test]
fn valve_seats_by_age_are_the_person_years_split() {
    let folder = tempfile::tempdir().expect("a folder");
    let write =
        |name: &str, text: &str| std::fs::write(folder.path().join(name), text).expect("written");
    write("engines.csv", &export());
    write("engines.mapping.toml", MAPPING);
    write("families.toml", FAMILIES);
    let store = folder.path().join("store").display().to_string();
    let exports = folder.path().display().to_string();
    run(&[
        "ingest",
        &exports,
        "--store",
        &store,
        "--as-of",
        "2010-01-01",
    ]);
    let printed = run(&[
        "rates",
        "--store",
        &store,
        "--family",
        "diesel",
        "--by",
        "band",
        "--band",
        "0,1.15,1.3,1.45,1.6",
        "--exposure",
        "last-sighting",
        "--window-days",
        "0",
        "--window-km",
        "0",
        "--format",
        "json",
    ]);
    let answer: Json = serde_json::from_slice(&printed).expect("JSON");
    let expected: [(i64, i64); 5] = [(6150, 9), (6150, 10), (6089, 12), (5806, 10), (1168, 7)];
    let rows = answer["rows"].as_array().expect("rows");
    assert_eq!(rows.len(), expected.len(), "{answer:#}");
    for (row, (days, replaced)) in rows.iter().zip(expected) {
        assert_eq!(row["evidence"]["exposure_m"], days * 1000, "{row:#}");
        assert_eq!(row["evidence"]["events"], replaced, "{row:#}");
        assert_eq!(row["walk_ins"], 0, "{row:#}");
    }
    let total = &answer["total"];
    assert_eq!(total["evidence"]["exposure_m"], 25_363_000);
    assert_eq!(total["evidence"]["events"], 48);
    let number = |name: &str| total["estimate"][name].as_f64().expect("a number");
    assert_relative_eq!(number("value"), 189.25206008752906, max_relative = 1e-12);
    assert_relative_eq!(number("lower"), 139.53952932808912, max_relative = 1e-9);
    assert_relative_eq!(number("upper"), 250.92077507442835, max_relative = 1e-9);
}
