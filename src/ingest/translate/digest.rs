//! The digest of a row: equal digests are the same record in the same version. It covers source, table, key and every own
//! column, and leaves out where the row was found, so that a monthly re-export repeats it.

use xxhash_rust::xxh3::Xxh3;

use crate::domain::table::Table;

use super::row::{Row, Value};

/// XXH3 with 64 bits over a canonical form: a tag for each kind of value, lengths before texts.
pub fn digest(source: &str, row: &Row) -> i64 {
    let mut hash = Xxh3::new();
    let mut text = |part: &str| {
        hash.update(&(part.len() as u64).to_le_bytes());
        hash.update(part.as_bytes());
    };
    text(source);
    text(row.table.name());
    text(&row.record);
    for value in &row.values {
        match *value {
            Value::Missing => hash.update(&[0]),
            Value::Text(start, end) => {
                hash.update(&[1]);
                hash.update(&((end - start) as u64).to_le_bytes());
                hash.update(row.text(*value).as_bytes());
            }
            Value::Whole(n) => {
                hash.update(&[2]);
                hash.update(&n.to_le_bytes());
            }
            Value::Number(x) => {
                hash.update(&[3]);
                hash.update(&x.to_bits().to_le_bytes());
            }
            Value::Day(day) => {
                hash.update(&[4]);
                hash.update(&day.0.to_le_bytes());
            }
            Value::Flag(yes) => hash.update(&[5, u8::from(yes)]),
        }
    }
    hash.digest() as i64
}

/// The hash of what stays the same from version to version of a row: source, table and key of the record.
pub fn key_hash(source: &str, table: Table, record: &str) -> u64 {
    of_texts(&[source, table.name(), record]) as u64
}

/// The digest of a quarantine entry.
pub fn of_texts(parts: &[&str]) -> i64 {
    let mut hash = Xxh3::new();
    for part in parts {
        hash.update(&(part.len() as u64).to_le_bytes());
        hash.update(part.as_bytes());
    }
    hash.digest() as i64
}
