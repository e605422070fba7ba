//! Open recurrence data through the program as a user would take it: exported rows in, mean cumulative repairs out.
//!
//! Expected values: `tests/reference/data/recurrence.json`, made by numpy from the definitions, the robust figures the same from R
//! 4.2 with survival 3.5 (`survfit(Surv(start, stop, event) ~ 1, id = , robust = TRUE)`, `cumhaz` and `std.chaz`).
//!
//! The clocks of these studies are days or miles; here one is written as one kilometre, and every place is moved on by 1000 so that no
//! reading is the 0 that shops write for "unknown"; the end of a study does not wait for a failure. Events of one unit on one day get a cylinder each,
//! so that none is a comeback.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::path::Path;

use approx::assert_relative_eq;
use boretally::domain::day::Day;
use serde_json::Value as Json;

use crate::shop;

const MAPPING: &str = r#"source = "study"
files = ["units.csv"]
[format]
kind = "delimited"
decimal = "."
[defaults]
distance_unit = "km"
engine_family = "diesel"
[[table]]
into = "visits"
[table.columns]
record = "Row"
vehicle = { column = "Unit", kind = "unit" }
date = "Date"
odometer = "Km"
site = "Site"
[[table]]
into = "cases"
when = { column = "Failed", equals = "1" }
[table.columns]
case_id = "Row"
vehicle = { column = "Unit", kind = "unit" }
opened = "Date"
odometer = "Km"
site = "Site"
outcome = { value = "confirmed" }
[[table]]
into = "findings"
when = { column = "Failed", equals = "1" }
[table.columns]
case_id = "Row"
cause = { value = "exhaust_valve_leak" }
repair = { value = "head_repair" }
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

/// The places of all studies are moved on by this.
const OFFSET: i64 = 1000;

/// A unit seen at a place, with or without failure.
struct Seen<'a> {
    unit: &'a str,
    place: i64,
    site: &'a str,
    failed: bool,
}

/// The rows as one export; the day follows from the place, at `a_day` units of the clock.
fn export(rows: &[Seen<'_>], first: Day, a_day: i64) -> String {
    let mut out = String::from("Row,Unit,Date,Km,Site,Failed,Cylinder\n");
    let mut there: BTreeMap<(&str, Day), u32> = BTreeMap::new();
    for (i, seen) in rows.iter().enumerate() {
        let day = Day(first.0 + i32::try_from(seen.place / a_day).expect("a day"));
        let (km, failed) = (OFFSET + seen.place, u8::from(seen.failed));
        let cylinder = if seen.failed {
            let n = there.entry((seen.unit, day)).or_default();
            *n += 1;
            n.to_string()
        } else {
            String::new()
        };
        writeln!(
            out,
            "R{i},{},{day},{km},{},{failed},{cylinder}",
            seen.unit, seen.site
        )
        .expect("text");
    }
    out
}

fn store(folder: &Path, export: &str) -> String {
    let write = |name: &str, text: &str| std::fs::write(folder.join(name), text).expect("written");
    write("units.csv", export);
    write("units.mapping.toml", MAPPING);
    write("families.toml", FAMILIES);
    let store = folder.join("store").display().to_string();
    let exports = folder.display().to_string();
    shop::run(
        folder,
        &[
            "ingest",
            &exports,
            "--store",
            &store,
            "--as-of",
            "2024-01-01",
        ],
    )
    .done();
    store
}

fn repeats(folder: &Path, store: &str, more: &[&str]) -> Json {
    let mut arguments = vec![
        "repeats",
        "--store",
        store,
        "--window-days",
        "0",
        "--window-km",
        "0",
        "--exposure",
        "last-sighting",
        "--format",
        "json",
    ];
    arguments.extend(more);
    shop::run(folder, &arguments).json()
}

fn expected() -> Json {
    let text = include_str!("../reference/data/recurrence.json");
    serde_json::from_str(text).expect("JSON")
}

fn number(value: &Json) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

/// Rows of a file whose `replaced` = 0 ends a unit's history; every unit is first seen at day 0.
fn units(
    text: &'static str,
    site: fn(&[&'static str]) -> &'static str,
    columns: [usize; 3],
) -> Vec<Seen<'static>> {
    let mut started = BTreeSet::new();
    let mut rows = Vec::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [unit, day, replaced] = columns.map(|c| cells[c]);
        let site = site(&cells);
        if started.insert(unit) {
            rows.push(Seen {
                unit,
                place: 0,
                site,
                failed: false,
            });
        }
        let times: usize = replaced.parse().expect("a number");
        let place = day.parse().expect("a day");
        rows.extend((0..times.max(1)).map(|_| Seen {
            unit,
            place,
            site,
            failed: times > 0,
        }));
    }
    rows
}

/// Every step of a curve against the reference: mean, risk set, and limits, which hold the robust variance.
fn check_curve(group: &Json, wanted: &Json) {
    let curve = group["curve"].as_array().expect("a curve");
    let times = wanted["time"].as_array().expect("times");
    assert_eq!(curve.len(), times.len());
    for (i, point) in curve.iter().enumerate() {
        let place = (number(&times[i]) as i64 + OFFSET) * 1000;
        assert_eq!(point["distance_m"], place);
        assert_eq!(
            number(&point["at_risk"]),
            number(&wanted["n_risk"][i]),
            "{point}"
        );
        let mean = &point["mean"];
        assert_relative_eq!(
            number(&mean["value"]),
            number(&wanted["mcf"][i]),
            max_relative = 1e-10
        );
        let limits = &wanted["ci_robust_log"][i];
        assert_relative_eq!(
            number(&mean["lower"]),
            number(&limits[0]),
            max_relative = 1e-9
        );
        assert_relative_eq!(
            number(&mean["upper"]),
            number(&limits[1]),
            max_relative = 1e-9
        );
    }
    assert_eq!(
        number(&group["evidence"]["events"]),
        number(&wanted["events"])
    );
    assert_eq!(
        number(&group["evidence"]["vehicles"]),
        number(&wanted["units"])
    );
    assert_eq!(group["walk_ins"], 0);
    assert_eq!(group["unplaced"], 0);
}

#[test]
fn mcf_01_valve_seats() {
    let folder = tempfile::tempdir().expect("a folder");
    let rows = units(
        include_str!("../reference/data/valve_seat.csv"),
        |_| "Study",
        [0, 1, 2],
    );
    let start = Day::from_ymd(2000, 1, 1).expect("a day");
    let store = store(folder.path(), &export(&rows, start, 1));
    let answer = repeats(folder.path(), &store, &["--band", "0,1.1,1.2,1.5"]);
    let wanted = &expected()["MCF-01"];
    check_curve(&answer["groups"][0], wanted);
    // The row's printed values: day 61 M 0.0243902439, robust standard error 0.02409096577 (limits above).
    let at = answer["groups"][0]["at"].as_array().expect("points");
    let last = at.last().expect("the last repair");
    assert_relative_eq!(
        number(&last["mean"]["value"]),
        1.542687514,
        max_relative = 1e-9
    );
    assert_eq!(at[0]["distance_m"], 1_100_000);
    assert_eq!(at[0]["at_risk"], 41);
}

#[test]
fn mcf_03_two_batches_and_their_difference() {
    let folder = tempfile::tempdir().expect("a folder");
    let batch = |cells: &[&'static str]| {
        if cells[0] == "1" {
            "batch 1"
        } else {
            "batch 2"
        }
    };
    let rows = units(
        include_str!("../reference/data/braking_grids.csv"),
        batch,
        [1, 2, 3],
    );
    let start = Day::from_ymd(2000, 1, 1).expect("a day");
    let store = store(folder.path(), &export(&rows, start, 1));
    let answer = repeats(folder.path(), &store, &["--by", "site", "--band", "0,2.5"]);
    let wanted = &expected()["MCF-03"];
    let groups = answer["groups"].as_array().expect("groups");
    assert_eq!(groups.len(), 2, "{answer:#}");
    for (group, name) in groups.iter().zip(["1", "2"]) {
        assert_eq!(group["key"]["site"], format!("batch {name}"));
        check_curve(group, &wanted[format!("batch{name}")]);
    }
    let found: BTreeMap<i64, &Json> = answer["differences"]
        .as_array()
        .expect("differences")
        .iter()
        .map(|d| (d["distance_m"].as_i64().expect("a place"), &d["difference"]))
        .collect();
    let rows = wanted["difference_1_minus_2"].as_array().expect("rows");
    for row in rows {
        let place = (number(&row[0]) as i64 + OFFSET) * 1000;
        let got = found[&place];
        // A difference of means near 1: absolute, as wide as the sum of both means at 1e-10.
        for (name, i) in [("value", 1), ("lower", 3), ("upper", 4)] {
            let (a, b) = (number(&got[name]), number(&row[i]));
            assert!((a - b).abs() < 3e-10, "{name} at {place}: {a} {b}");
        }
    }
    let last = rows.last().expect("a row");
    assert_relative_eq!(number(&last[2]), 0.32407725, max_relative = 1e-7);
}

#[test]
fn xrec_01_vehicles_watched_in_windows_with_gaps() {
    // A vehicle is watched where it ends a stretch at the study's site; what it drove before a window ends elsewhere.
    let text = include_str!("../reference/data/army_vehicle_windows.csv");
    let mut rows = Vec::new();
    let mut started = BTreeSet::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (unit, from, to) = (
            cells[0],
            cells[2].parse().expect("miles"),
            cells[3].parse().expect("miles"),
        );
        if started.insert(unit) {
            rows.push(Seen {
                unit,
                place: -500,
                site: "Elsewhere",
                failed: false,
            });
        }
        if cells[1] == "window" {
            rows.push(Seen {
                unit,
                place: from,
                site: "Elsewhere",
                failed: false,
            });
            rows.push(Seen {
                unit,
                place: to,
                site: "Study",
                failed: false,
            });
        } else {
            rows.push(Seen {
                unit,
                place: to,
                site: "Study",
                failed: true,
            });
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let start = Day::from_ymd(1990, 1, 1).expect("a day");
    let store = store(folder.path(), &export(&rows, start, 3));
    let answer = repeats(
        folder.path(),
        &store,
        &["--site", "Study", "--band", "0,6,11,16,21,26"],
    );
    let wanted = &expected()["XREC-01"];
    let group = &answer["groups"][0];
    assert_eq!(group["evidence"]["events"], 239, "{group:#}");
    assert_eq!(group["evidence"]["exposure_m"], 83_731_000);
    assert_eq!(group["evidence"]["vehicles"], 10);
    for point in group["at"].as_array().expect("points") {
        let miles = point["distance_m"].as_i64().expect("a place") / 1000 - OFFSET;
        let Some(wanted) = wanted["at"].get(miles.to_string()) else {
            continue;
        };
        let (mean, error) = (number(&wanted["mcf"]), number(&wanted["se_robust"]));
        assert_relative_eq!(number(&point["mean"]["value"]), mean, max_relative = 1e-9);
        // Limits on the log scale at 1.959963984540054 standard errors (the normal quantile of 0.975).
        let upper = mean * (1.959963984540054 * error / mean).exp();
        assert_relative_eq!(number(&point["mean"]["upper"]), upper, max_relative = 1e-9);
    }
    assert!(
        answer["second_failures"]
            .as_array()
            .expect("a list")
            .is_empty(),
        "a site is a part of lives"
    );
    // XREC-03's log-likelihood of a constant rate, n ln(n / miles) - n, from what the answer counted.
    let (n, miles) = (
        number(&group["evidence"]["events"]),
        number(&group["evidence"]["exposure_m"]) / 1000.0,
    );
    assert_relative_eq!(
        n * (n / miles).ln() - n,
        number(&expected()["XREC-03"]["loglik_hpp"]),
        max_relative = 1e-12
    );
}
