//! Reads figures that other programs gave for the open data sets, from JSON files in `data/` (origins in its README).

use std::path::Path;

use serde_json::Value;

/// The figures of a JSON file in `tests/reference/data`.
pub fn expected(file: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/data")
        .join(file);
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// A figure; the texts NaN and Inf and null stand for a value that does not exist and give NaN.
#[track_caller]
pub fn figure(value: &Value) -> f64 {
    let missing = value.is_null()
        || value
            .as_str()
            .is_some_and(|text| text == "NaN" || text == "Inf");
    value
        .as_f64()
        .or(missing.then_some(f64::NAN))
        .unwrap_or_else(|| panic!("{value} is no figure"))
}

/// A list of figures.
#[track_caller]
pub fn figures(value: &Value) -> Vec<f64> {
    let list = value
        .as_array()
        .unwrap_or_else(|| panic!("{value} is no list"));
    list.iter().map(figure).collect()
}
