//! What programs read: the JSON of every answer against its documented contract, its other forms against its JSON, and the
//! rendered text of a tiny store as it was when it was last looked at.

use std::collections::BTreeSet;
use std::path::Path;

use arrow::array::{Array, AsArray};
use arrow::datatypes::{DataType, Float64Type, Int64Type};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use serde_json::Value as Json;

use super::contract_schema::Contracts;
use super::repeats::{ALDER, repeating_shop};
use super::shop::{ingest, run, shop, write_exports};

const RATES: &str = "rates --store records --by family";
const SHARES: &str = "shares --store records --by site";
const CYLINDERS: &str = "cylinders --store records --family alder-4";
const LIFE: &str = "life --store records --by family";
const LIST: &str = "store list records";

fn asked(folder: &Path, line: &str, form: &str) -> String {
    let arguments: Vec<&str> = line.split(' ').chain(["--format", form]).collect();
    run(folder, &arguments).done().to_owned()
}

fn json(folder: &Path, line: &str) -> Json {
    serde_json::from_str(&asked(folder, line, "json")).unwrap()
}

/// Listed fields that the answers below leave without a value: they need more than the tiny shop has, such as so many cases
/// that the test is drawn, or numbers that are hidden.
const NOT_SEEN: [&str; 9] = [
    "boretally.cylinders/1.p_unknown_against",
    "boretally.repeats/1.compared_at_m",
    "entry.hint",
    "equal_shares.draws",
    "equal_shares.p_standard_error",
    "equal_shares.seed",
    "rate_row.suppressed_below",
    "repeat_group.suppressed_below",
    "repeat_rule.highest",
];

#[test]
fn every_field_of_every_answer_is_documented_with_its_type() {
    let contracts = Contracts::read();
    let mut seen = BTreeSet::new();
    let mut names = BTreeSet::new();
    let lines = [
        RATES,
        "rates --store records --by family,cause,site --from 2022-01-01 --to 2023-12-31 --model-year 2014,2015,2016",
        LIFE,
        SHARES,
        "shares --store records --complaint P0303 --site Larkmouth",
        CYLINDERS,
        "cylinders --store records --family birch-6 --cause ignition_coil --cylinder 1,2",
        "repeats --store records --by family --exposure last-sighting",
        "test-order --store records --family birch-6 --complaint P0301 --odometer 120000km --quick --seen coil_swap:normal",
        "test-order --without borescope,cylinder_leakage,valve_lash_check,running_compression,secondary_pattern",
        "interval proportion 3 100",
        "interval rate 3 1.2e6 --per 100000",
        LIST,
        "store verify records",
        "store quarantine records",
    ];
    let repeated: Vec<&str> = ALDER.split(' ').collect();
    let fresh = tempfile::tempdir().unwrap();
    let exports = write_exports(fresh.path());
    // A file that fails, and what a writer that died leaves.
    std::fs::write(exports.join("visits-7.csv"), "").unwrap();
    let mut answers: Vec<Json> = lines.iter().map(|line| json(shop(), line)).collect();
    answers.push(run(repeating_shop(), &repeated).json());
    answers.extend(super::readings_shop::answers());
    let arguments = "ingest exports --store records --format json"
        .split(' ')
        .collect::<Vec<_>>();
    answers.push(serde_json::from_str(&run(fresh.path(), &arguments).out).unwrap());
    std::fs::create_dir_all(fresh.path().join("records/staging/000009-dead")).unwrap();
    answers.push(json(fresh.path(), "store verify records"));
    answers.extend(super::budget::answers());
    answers.extend(super::life::answers_of_every_kind());
    // Too few cases to judge by: said, and told by the exit code.
    let check = "test-order --store records --check 2023-01-01 --format json";
    let check: Vec<&str> = check.split(' ').collect();
    answers.push(serde_json::from_str(&run(shop(), &check).out).unwrap());
    answers.push(super::test_order::checked().clone());
    for answer in &answers {
        let wrong = contracts.check(answer, &mut seen);
        assert!(wrong.is_empty(), "{}\n{answer:#}", wrong.join("\n"));
        names.insert(answer["contract"].as_str().unwrap().to_owned());
    }
    assert_eq!(
        names.iter().map(String::as_str).collect::<BTreeSet<_>>(),
        contracts.names()
    );
    let listed = contracts.fields();
    let not_seen: Vec<&str> = listed.difference(&seen).map(String::as_str).collect();
    assert_eq!(
        not_seen, NOT_SEEN,
        "listed, and without a value in every answer"
    );
}

/// Counted by hand from the shop's exports.
#[test]
fn the_numbers_of_the_shop_are_those_counted_by_hand() {
    let rates = json(shop(), RATES);
    let row = |i: usize| &rates["rows"][i];
    let counts = |row: &Json| {
        let e = &row["evidence"];
        [
            &e["events"],
            &row["walk_ins"],
            &row["after_last_visit"],
            &e["vehicles"],
            &e["exposure_m"],
            &e["sites"],
        ]
        .map(|v| v.as_i64().unwrap())
    };
    assert_eq!(rates["rows"].as_array().unwrap().len(), 3);
    assert_eq!(row(0)["key"], serde_json::json!({"family": "alder-4"}));
    assert_eq!(counts(row(0)), [3, 1, 0, 3, 64_345_057, 2]);
    assert_eq!(row(1)["key"], serde_json::json!({"family": "birch-6"}));
    assert_eq!(counts(row(1)), [1, 0, 0, 2, 50_565_396, 2]);
    assert_eq!(row(2)["key"], serde_json::json!({"family": null}));
    assert_eq!(counts(row(2)), [0, 0, 0, 1, 13_767_123, 1]);
    assert_eq!(counts(&rates["total"]), [4, 1, 0, 6, 128_677_576, 2]);
    // 3 failures in 64,345.057 km.
    let value = row(0)["estimate"]["value"].as_f64().unwrap();
    assert!((value - 3.0 / 0.643_450_57).abs() < 1e-12, "{value}");
    // All cells together are no cell among others.
    for field in ["rank", "shrunk", "versus_others"] {
        assert!(rates["total"][field].is_null(), "{field}");
    }
    assert!(rates["question"]["from"].is_null());

    let shares = json(shop(), SHARES);
    assert!(shares["complaint"].is_null());
    let first = &shares["groups"][0]["causes"][0];
    assert_eq!(
        (&first["cause"], &first["count"]),
        (&"exhaust_valve_leak".into(), &2.into())
    );
    assert_eq!(shares["groups"][0]["confirmed_cases"], 3);
    assert_eq!(
        shares["groups"][0]["unconfirmed"],
        serde_json::json!([{"outcome": "no_fault_found", "cases": 1}])
    );

    let cylinders = json(shop(), CYLINDERS);
    let by_cylinder: Vec<i64> = cylinders["cylinders"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| c["count"].as_i64().unwrap())
        .collect();
    assert_eq!(by_cylinder, [1, 1, 2, 0]);
    assert_eq!(cylinders["finding"], "too-few");
    assert!(cylinders["evidence"].get("exposure_m").is_none());

    let none = json(shop(), "cylinders --store records --family birch-6");
    assert_eq!((&none["unknown"], &none["test"]), (&1.into(), &Json::Null));
}

/// Valve leaks were seen in alder-4 only: a ratio to a rate of zero is no number, and must not be told as one.
#[test]
fn a_ratio_to_no_failure_at_all_is_told_in_words() {
    let rates = json(shop(), "rates --store records --cause exhaust_valve_leak");
    let ratio = &rates["rows"][0]["versus_others"]["ratio"];
    assert_eq!(
        (&ratio["value"], &ratio["upper"]),
        (&Json::Null, &Json::Null)
    );
    assert!(ratio["lower"].as_f64() > Some(0.0), "{ratio}");
    let verdict = rates["verdict"].to_string();
    assert!(
        verdict.contains("the other engines had no failure") && !verdict.contains("inf "),
        "{verdict}"
    );
}

#[test]
fn the_same_exports_give_the_same_bytes() {
    let fresh = tempfile::tempdir().unwrap();
    write_exports(fresh.path());
    ingest(fresh.path());
    for line in [RATES, SHARES, CYLINDERS, LIFE, LIST] {
        assert_eq!(
            asked(fresh.path(), line, "json"),
            asked(shop(), line, "json"),
            "{line}"
        );
    }
}

/// The JSON numbers behind the columns of the main table, row by row.
fn expected(line: &str) -> Vec<Vec<(&'static str, Json)>> {
    let answer = json(shop(), line);
    let limits = |name: [&'static str; 3], e: &Json| {
        let parts = ["value", "lower", "upper"];
        name.into_iter()
            .zip(parts.map(|p| e[p].clone()))
            .collect::<Vec<_>>()
    };
    let list = |v: &Json| v.as_array().unwrap().clone();
    match line {
        RATES => {
            let rows = list(&answer["rows"])
                .into_iter()
                .chain([answer["total"].clone()]);
            rows.map(|r| {
                let mut row = limits(["rate", "rate_lower", "rate_upper"], &r["estimate"]);
                let km = r["evidence"]["exposure_m"].as_f64().unwrap() / 1000.0;
                row.extend([
                    ("events", r["evidence"]["events"].clone()),
                    ("walk_ins", r["walk_ins"].clone()),
                    ("rank", r["rank"].clone()),
                    ("exposure", km.into()),
                    ("ratio", r["versus_others"]["ratio"]["value"].clone()),
                    ("p_adjusted", r["versus_others"]["p_adjusted"].clone()),
                ]);
                row
            })
            .collect()
        }
        SHARES => {
            let of = |g: Json| list(&g["causes"]).into_iter().map(move |c| (g.clone(), c));
            let rows = list(&answer["groups"]).into_iter().flat_map(of);
            rows.map(|(g, c)| {
                let mut row = limits(["share", "share_lower", "share_upper"], &c["share"]);
                row.extend([
                    ("cases", c["count"].clone()),
                    ("of", g["confirmed_cases"].clone()),
                ]);
                row
            })
            .collect()
        }
        LIFE => {
            let km = |m: &Json| m.as_f64().map_or(Json::Null, |m| (m / 1000.0).into());
            let rows = list(&answer["groups"]).into_iter().map(|g| {
                let tenth = list(&g["shares"])
                    .into_iter()
                    .find(|s| s["share"] == 0.1 && s["method"] == "kaplan-meier")
                    .map_or(Json::Null, |s| s["distance"].clone());
                vec![
                    ("failures", g["evidence"]["events"].clone()),
                    ("walk_ins", g["walk_ins"].clone()),
                    ("lives", g["lives"].clone()),
                    ("vehicles", g["evidence"]["vehicles"].clone()),
                    ("exposure", km(&g["evidence"]["exposure_m"])),
                    ("begins", km(&g["from_m"])),
                    ("tenth", km(&tenth["value"])),
                    ("tenth_lower", km(&tenth["lower"])),
                    ("rate_at_most", g["bound"]["rate_at_most"].clone()),
                ]
            });
            rows.collect()
        }
        _ => {
            let rows = list(&answer["cylinders"]).into_iter();
            rows.map(|c| {
                let mut row = limits(["share", "share_lower", "share_upper"], &c["share"]);
                row.push(("cases", c["count"].clone()));
                row
            })
            .collect()
        }
    }
}

/// The JSON reader of these tests may miss the last bit of a number.
fn same(found: Option<f64>, expected: Option<f64>) -> bool {
    match (found, expected) {
        (Some(a), Some(b)) => (a - b).abs() <= 2.0 * f64::EPSILON * b.abs(),
        (a, b) => a == b,
    }
}

#[test]
fn csv_and_parquet_hold_the_numbers_of_the_json() {
    for line in [RATES, SHARES, CYLINDERS, LIFE] {
        let rows = expected(line);
        let text = asked(shop(), line, "csv");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let headings = reader.headers().unwrap().clone();
        let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();

        let file = tempfile::NamedTempFile::new().unwrap();
        let out = format!("{line} --out {}", file.path().display());
        asked(shop(), &out, "parquet");
        let written = std::fs::File::open(file.path()).unwrap();
        let mut batches = ParquetRecordBatchReaderBuilder::try_new(written)
            .unwrap()
            .build()
            .unwrap();
        let batch = batches.next().unwrap().unwrap();
        assert_eq!(batch.num_rows(), records.len(), "{line}");

        // Cylinders end with the cases whose cylinder is unknown.
        assert!(records.len() >= rows.len() && !rows.is_empty(), "{line}");
        for (i, row) in rows.iter().enumerate() {
            for (name, value) in row {
                let at = format!("{line}, row {i}, {name}");
                let place = headings.iter().position(|h| h == *name).expect(&at);
                let cell = &records[i][place];
                let csv: Json = cell.parse::<f64>().map_or(Json::Null, Json::from);
                assert!(
                    same(csv.as_f64(), value.as_f64()),
                    "CSV: {at}: {csv} {value}"
                );
                assert_eq!(csv.is_null(), cell.is_empty(), "CSV: {at}: {cell}");
                let column = batch.column_by_name(name).expect(&at);
                let parquet = match column.data_type() {
                    _ if column.is_null(i) => None,
                    DataType::Int64 => Some(column.as_primitive::<Int64Type>().value(i) as f64),
                    _ => Some(column.as_primitive::<Float64Type>().value(i)),
                };
                assert!(
                    same(parquet, value.as_f64()),
                    "Parquet: {at}: {parquet:?} {value}"
                );
            }
        }
    }
}

/// Looked at when they were made; a change here is a change that users see.
#[test]
fn rendered_forms_are_as_they_were() {
    let name = |line: &str, form: &str| format!("{}_{form}", line.split(' ').next().unwrap());
    for line in [RATES, SHARES, CYLINDERS, LIFE] {
        for form in ["table", "markdown", "csv"] {
            let text = asked(shop(), line, form).replace("\r\n", "\n");
            insta::assert_snapshot!(name(line, form), text);
        }
    }
    insta::assert_snapshot!(
        "interval_table",
        asked(shop(), "interval proportion 3 100", "table")
    );
}
