//! Stores made of lives: each line of a dataset as a vehicle with its visits and its failure, exported and ingested as a shop would.
//!
//! One unit of the dataset (a month, an hour, a week, a kilometre) is written as one kilometre. A life that is watched from 0 on
//! gets a new engine at its first visit, since an odometer of 0 is how shops write "unknown"; one that is seen from a later
//! distance on has that odometer at its first visit.

use std::fmt::Write;
use std::path::Path;

use boretally::domain::day::Day;
use serde_json::Value as Json;

use super::shop::run;

/// One vehicle, distances in km on the engine's clock.
#[derive(Debug, Clone, Default)]
pub struct Unit {
    /// Engine text: a family's id.
    pub engine: &'static str,
    /// Site of all its visits.
    pub site: &'static str,
    /// Model year.
    pub year: i32,
    /// Where it comes under observation.
    pub entry: f64,
    /// Where it was last seen; nothing more for a vehicle that is seen once.
    pub exit: Option<f64>,
    /// Failures with their causes, each also a visit.
    pub failures: Vec<(f64, &'static str)>,
}

/// A vehicle that is watched from `entry` to `exit`, where it fails by `cause` if one is named.
pub fn unit(entry: f64, exit: f64, cause: Option<&'static str>) -> Unit {
    Unit {
        engine: "ash",
        site: "Study",
        year: 2015,
        entry,
        exit: Some(exit),
        failures: cause.map(|cause| (exit, cause)).into_iter().collect(),
    }
}

const MAPPING: &str = r#"source = "study"
files = ["lives.csv"]
[format]
kind = "delimited"
decimal = "."
[defaults]
distance_unit = "km"
[[table]]
into = "visits"
[table.columns]
record = "Row"
vehicle = { column = "Unit", kind = "unit" }
site = "Site"
date = "Date"
odometer = "Km"
engine = "Engine"
model_year = "Year"
engine_replaced = "New"
[[table]]
into = "cases"
when = { column = "Cause", not_empty = true }
[table.columns]
case_id = "Row"
vehicle = { column = "Unit", kind = "unit" }
site = "Site"
opened = "Date"
odometer = "Km"
engine = "Engine"
model_year = "Year"
outcome = { value = "confirmed" }
[[table]]
into = "findings"
when = { column = "Cause", not_empty = true }
[table.columns]
case_id = "Row"
cause = "Cause"
cylinder = { value = "1" }
confirmation = { value = "2" }
"#;

const FAMILIES: &str = r#"[[family]]
id = "ash"
title = "Ash of the study"
cylinders = 4
layout = "inline"
match = [{ engine = "ash" }]

[[family]]
id = "elm"
title = "Elm of the study"
cylinders = 4
layout = "inline"
match = [{ engine = "elm" }]
"#;

/// Odometer at which a life that is watched from 0 on gets its new engine.
const NEW_AT: f64 = 1000.0;

fn export(units: &[Unit]) -> String {
    let mut out = String::from("Row,Unit,Site,Date,Km,Engine,Year,New,Cause\n");
    let start = Day::from_ymd(2000, 1, 1).expect("a day");
    let mut row = 0;
    for (number, unit) in units.iter().enumerate() {
        let new = unit.entry == 0.0;
        let origin = if new { NEW_AT } else { 0.0 };
        let mut places: Vec<(f64, Option<&str>)> = vec![(unit.entry, None)];
        places.extend(unit.failures.iter().map(|(at, cause)| (*at, Some(*cause))));
        let failed_at_end = unit.failures.iter().any(|(at, _)| Some(*at) == unit.exit);
        places.extend(unit.exit.filter(|_| !failed_at_end).map(|at| (at, None)));
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (i, (at, cause)) in places.iter().enumerate() {
            row += 1;
            // At most 500 km a day, and every visit on a day of its own.
            let day = start.0 + i as i32 + ((at - unit.entry) / 500.0).ceil() as i32;
            writeln!(
                out,
                "R{row},U{number},{},{},{},{},{},{},{}",
                unit.site,
                Day(day),
                origin + at,
                unit.engine,
                unit.year,
                if new && i == 0 { "yes" } else { "no" },
                cause.unwrap_or(""),
            )
            .expect("text");
        }
    }
    out
}

/// Writes and ingests the lives into `folder/records`.
pub fn ingest(folder: &Path, units: &[Unit]) {
    let exports = folder.join("exports");
    std::fs::create_dir_all(&exports).unwrap();
    for (name, text) in [
        ("lives.csv", export(units).as_str()),
        ("lives.mapping.toml", MAPPING),
        ("families.toml", FAMILIES),
    ] {
        std::fs::write(exports.join(name), text).unwrap();
    }
    let arguments = "ingest exports --store records --as-of 2100-01-01 --format json";
    let account = run(folder, &arguments.split(' ').collect::<Vec<_>>()).json();
    assert_eq!(account["totals"]["quarantined"], 0, "{account:#}");
    assert_eq!(account["totals"]["flagged"], 0, "{account:#}");
}

/// What `boretally life` answers over these lives; `options` as typed.
pub fn life(units: &[Unit], options: &str) -> Json {
    let folder = tempfile::tempdir().unwrap();
    ingest(folder.path(), units);
    ask(folder.path(), options)
}

/// What `boretally life` answers over an ingested folder.
pub fn ask(folder: &Path, options: &str) -> Json {
    // A study watches to a given end, whatever fails.
    let line = format!("life --store records --format json --exposure last-sighting {options}");
    run(folder, &line.split_whitespace().collect::<Vec<_>>()).json()
}
