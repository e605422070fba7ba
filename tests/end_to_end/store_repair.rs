//! The way out of the quarantine: bad records written to a file, corrected there, and ingested through the same mapping.

use std::path::Path;

use assert_cmd::Command;
use boretally::query::engine::Engine;
use boretally::query::local::Local;
use boretally::query::tables::open_tables;
use boretally::store::Store;

fn run(arguments: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_boretally"));
    let output = command.args(arguments).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {said}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

const MAPPING: &str = r#"
source = "desk"
files = ["jobs*.csv"]
[format]
kind = "delimited"
delimiter = ";"
encoding = "windows-1252"
decimal = ","
thousands = "."
dates = "dmy"
[export_date]
file_name = "jobs {date}"
[defaults]
distance_unit = "km"
[[table]]
into = "visits"
[table.columns]
record = "Auftrag"
vehicle = "Fahrgestell"
date = "Eingang"
odometer = { column = "Stand", unit = "km" }
site = "Ort"
"#;

/// One good record and two that are not; Windows-1252, semicolons, decimal commas, days first.
const EXPORT: &[u8] = b"Auftrag;Kunde;Fahrgestell;Eingang;Stand;Ort\n\
    1;A;ZZZTESTVEHCLE0001;03.05.2024;120.000,5;L\xe4rkm\xfcnd\n\
    2;B;ZZZTESTVEHCLE0002;31.02.2024;98.000,0;L\xe4rkm\xfcnd\n\
    3;C;ZZZTESTVEHCLE0003;04.05.2024;12o.000;L\xe4rkm\xfcnd\n";

fn visits(store: &Path) -> Vec<String> {
    let mut engine = Local::new();
    open_tables(&mut engine, &Store::open(store).unwrap()).unwrap();
    let sql = "SELECT record, date, odometer_m, site, export_date, CASE WHEN LENGTH(vehicle) = 12 THEN 'keyed' ELSE vehicle END AS kept FROM visits ORDER BY record, batch";
    let batch = engine.query(sql).unwrap();
    let columns: Vec<_> = batch
        .columns()
        .iter()
        .map(|c| arrow::util::display::ArrayFormatter::try_new(c, &Default::default()).unwrap())
        .collect();
    let row = |r| {
        columns
            .iter()
            .map(|c| c.value(r).to_string())
            .collect::<Vec<_>>()
            .join(" ")
    };
    (0..batch.num_rows()).map(row).collect()
}

#[test]
fn corrected_records_go_in_through_the_same_mapping() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    std::fs::create_dir(at("exports")).unwrap();
    std::fs::write(at("exports/desk.mapping.toml"), MAPPING).unwrap();
    std::fs::write(at("exports/jobs 2024-06-30.csv"), EXPORT).unwrap();
    let store = at("shop.store");
    run(&["ingest", &at("exports"), "--store", &store]);
    assert_eq!(visits(Path::new(&store)).len(), 2);

    let said = run(&["store", "quarantine", &store, "--out", &at("bad.csv")]);
    assert!(said.contains("2 records of jobs 2024-06-30.csv"), "{said}");
    let text = std::fs::read_to_string(at("bad.csv")).unwrap();
    assert!(
        !text.contains("Kunde") && !text.contains("ZZZTEST"),
        "customer data came along: {text}"
    );
    let corrected = text
        .replace("31.02.2024", "29.02.2024")
        .replace("12o.000", "121.000");
    assert_eq!(text.lines().count(), 3);
    assert_ne!(text, corrected);
    // As a spreadsheet of another country saves it.
    let corrected = corrected
        .replace("\"98.000,0\"", "98.000,0")
        .replace("98.000,0", "98.000\u{0}0");
    let corrected = corrected.replace(',', ";").replace('\u{0}', ",");
    std::fs::write(at("bad.csv"), format!("\u{feff}{corrected}")).unwrap();

    let mapping = at("exports/desk.mapping.toml");
    run(&[
        "ingest",
        &at("bad.csv"),
        "--mapping",
        &mapping,
        "--store",
        &store,
    ]);
    assert_eq!(
        visits(Path::new(&store)),
        [
            "1 2024-05-03 120000500 Lärkmünd 2024-06-30 keyed",
            "2 2024-02-29 98000000 Lärkmünd 2024-06-30 keyed",
            // The first version stays, without the odometer that could not be read; history takes the newer one.
            "3 2024-05-04  Lärkmünd 2024-06-30 keyed",
            "3 2024-05-04 121000000 Lärkmünd 2024-06-30 keyed",
        ]
    );
    // The repair file names vehicles by their pseudonyms: both versions must be of the same vehicle.
    let mut engine = Local::new();
    open_tables(&mut engine, &Store::open(&store).unwrap()).unwrap();
    let sql = "SELECT DISTINCT vehicle FROM visits WHERE record = '3' ORDER BY vehicle";
    assert_eq!(engine.query(sql).unwrap().num_rows(), 1);
    let said = run(&["store", "quarantine", &store]);
    assert!(said.contains("nothing waits for repair"), "{said}");
    run(&["store", "verify", &store]);
}
