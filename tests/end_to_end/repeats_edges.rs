//! `repeats` where every vehicle fails, and fails again at once.
//!
//! Six vehicles, each watched over 10 000 to 70 000 km on the engine's clock, each with a coil at 20, 40 and 60 thousand: all means are whole
//! numbers and no vehicle differs from another. All numbers below are counted by hand.

use std::fmt::Write;

use crate::shop::{self, FAMILIES};

const MAPPING: &str = r#"source = "desk"
files = ["orders.csv"]
[format]
kind = "delimited"
[defaults]
site = "Larkmouth"
distance_unit = "km"
[[table]]
into = "visits"
[table.columns]
record = "Order"
vehicle = { column = "Unit", kind = "unit" }
date = "Date"
odometer = "Km"
engine = "Engine"
[[table]]
into = "cases"
when = { column = "Cause", not_empty = true }
[table.columns]
case_id = "Order"
vehicle = { column = "Unit", kind = "unit" }
opened = "Date"
closed = "Date"
odometer = "Km"
engine = "Engine"
outcome = { value = "confirmed" }
[[table]]
into = "findings"
when = { column = "Cause", not_empty = true }
[table.columns]
case_id = "Order"
cause = "Cause"
cylinder = { value = "1" }
repair = { value = "coil_replace" }
confirmation = { value = "2" }
"#;

const VEHICLES: usize = 6;

/// Visits at 10 and 70 thousand km; a coil at each of `places` in between.
fn export(places: &[(u32, &str)]) -> String {
    let mut out = String::from("Order,Unit,Date,Km,Engine,Cause\n");
    let mut order = 0;
    for unit in 1..=VEHICLES {
        let ends = [(10_000, "2020-01-10"), (70_000, "2023-01-10")];
        let visits = ends.map(|(km, day)| (km, day, ""));
        let coils = places.iter().map(|(km, day)| (*km, *day, "ignition_coil"));
        for (km, day, cause) in visits.into_iter().chain(coils) {
            order += 1;
            writeln!(out, "{order},R{unit},{day},{km},ALDER 1.6,{cause}").unwrap();
        }
    }
    out
}

fn repeats(places: &[(u32, &str)]) -> serde_json::Value {
    let folder = tempfile::tempdir().unwrap();
    let exports = folder.path().join("exports");
    std::fs::create_dir(&exports).unwrap();
    for (name, text) in [
        ("orders.csv", export(places).as_str()),
        ("orders.mapping.toml", MAPPING),
        ("families.toml", FAMILIES),
    ] {
        std::fs::write(exports.join(name), text).unwrap();
    }
    let line = "ingest exports --store records --as-of 2024-06-30";
    shop::run(folder.path(), &line.split(' ').collect::<Vec<_>>()).done();
    let line = "repeats --store records --exposure last-sighting --format json";
    shop::run(folder.path(), &line.split(' ').collect::<Vec<_>>()).json()
}

#[test]
fn everyone_repeats_alike() {
    let answer = repeats(&[
        (20_000, "2020-07-10"),
        (40_000, "2021-07-10"),
        (60_000, "2022-07-10"),
    ]);
    let group = &answer["groups"][0];
    assert_eq!(group["evidence"]["events"], 18);
    assert_eq!(group["evidence"]["vehicles"], 6);
    // 60 000 km each.
    assert_eq!(group["evidence"]["exposure_m"], 360_000_000);
    let curve = group["curve"].as_array().unwrap();
    assert_eq!(curve.len(), 3);
    for (i, step) in curve.iter().enumerate() {
        assert_eq!(step["distance_m"], 20_000_000 * (i as i64 + 1));
        assert_eq!(step["at_risk"], 6);
        let mean = &step["mean"];
        // No vehicle differs from another: the limits are the mean.
        for field in ["value", "lower", "upper"] {
            let found = mean[field].as_f64().unwrap();
            assert!((found - (i + 1) as f64).abs() < 1e-12, "{field} {mean}");
        }
    }
    // Places at 1/6, 1/2 and 5/6 of each watch: their mean is its middle, so that nothing comes faster.
    let trend = &group["trend"];
    assert_eq!(trend["repairs"], 18);
    assert!(trend["laplace"].as_f64().unwrap().abs() < 1e-12, "{trend}");
    assert!((trend["p"].as_f64().unwrap() - 1.0).abs() < 1e-12);
    // A year between two failures is no comeback.
    let coil = &answer["comebacks"][0];
    assert_eq!(
        (&coil["repairs"], &coil["came_back"]),
        (&18.into(), &0.into())
    );
    let all = &answer["comeback_totals"][0];
    assert_eq!((&all["of"], &all["repairs"]), (&"all".into(), &18.into()));
    assert_eq!(answer["comeback_totals"].as_array().unwrap().len(), 1);
}

#[test]
fn everyone_comes_back_within_the_window() {
    // Ten days and 500 km after the repair: the same failure, which every repair of the first kind came back to.
    let answer = repeats(&[(20_000, "2020-07-10"), (20_500, "2020-07-20")]);
    let group = &answer["groups"][0];
    assert_eq!(group["evidence"]["events"], 6);
    let curve = group["curve"].as_array().unwrap();
    assert_eq!(curve.len(), 1);
    assert_eq!(curve[0]["mean"]["value"], 1.0);
    let coil = &answer["comebacks"][0];
    // The second repair of each did not come back.
    assert_eq!(
        (&coil["repairs"], &coil["came_back"]),
        (&12.into(), &6.into())
    );
    assert_eq!(coil["share"]["value"], 0.5);
}
