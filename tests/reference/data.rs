//! Reads the open data sets beside the checks.

use std::collections::BTreeMap;
use std::path::Path;

/// One row, by column name.
pub type Row = BTreeMap<String, String>;

/// All rows of a file in `tests/reference/data`.
pub fn rows(file: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/data")
        .join(file);
    let mut reader =
        csv::Reader::from_path(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    reader
        .deserialize()
        .collect::<Result<_, _>>()
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// A column as a decimal number.
pub fn number(row: &Row, column: &str) -> f64 {
    row[column]
        .parse()
        .unwrap_or_else(|error| panic!("{column} = {}: {error}", row[column]))
}

/// A column as a whole number.
pub fn whole(row: &Row, column: &str) -> u64 {
    row[column]
        .parse()
        .unwrap_or_else(|error| panic!("{column} = {}: {error}", row[column]))
}
