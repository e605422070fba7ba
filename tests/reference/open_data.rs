//! Open data sets and the figures other programs gave for them, read from `data/` (origins in its README).

use std::collections::BTreeMap;
use std::path::PathBuf;

use serde_json::Value;

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/data")
        .join(name)
}

/// The rows of a CSV file, by column name.
pub fn rows(name: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(path(name)).unwrap();
    let rows: Vec<_> = reader.deserialize().map(|row| row.unwrap()).collect();
    assert!(!rows.is_empty(), "{name} has no rows");
    rows
}

/// A column's number.
pub fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap()
}

/// The expected figures of a JSON file.
pub fn expected(name: &str) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path(name)).unwrap()).unwrap()
}

/// A figure; the texts NaN, Inf and null stand for a value that does not exist and give NaN.
pub fn figure(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

/// A list of figures.
pub fn figures(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(figure).collect()
}
