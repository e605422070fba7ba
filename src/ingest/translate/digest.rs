//! The digest of a row: equal digests are the same record in the same version. It covers source, table, key and every own
//! column, and leaves out where the row was found, so that a monthly re-export repeats it. Beside it the hash of the key alone.

use xxhash_rust::xxh3::xxh3_64;

use crate::domain::version;

use super::row::{Row, Value};

/// Key hash and digest: XXH3 over a canonical form, a tag for each kind of value, lengths before texts; put together as [`version`]
/// says. The form begins with what [`version::key_hash`] covers. `form` is only a buffer.
pub fn hashes(source: &str, row: &Row, form: &mut Vec<u8>) -> (u64, i64) {
    form.clear();
    for part in [source, row.table.name(), &row.record] {
        text(part, form);
    }
    let key = xxh3_64(form);
    for value in &row.values {
        match *value {
            Value::Missing => form.push(0),
            Value::Text(..) => {
                form.push(1);
                text(row.text(*value), form);
            }
            Value::Whole(n) => {
                form.push(2);
                form.extend_from_slice(&n.to_le_bytes());
            }
            Value::Number(x) => {
                form.push(3);
                form.extend_from_slice(&x.to_bits().to_le_bytes());
            }
            Value::Day(day) => {
                form.push(4);
                form.extend_from_slice(&day.0.to_le_bytes());
            }
            Value::Flag(yes) => form.extend_from_slice(&[5, u8::from(yes)]),
        }
    }
    (key, version::digest(key, xxh3_64(form)))
}

/// The digest of a quarantine entry.
pub fn of_texts(parts: &[&str]) -> i64 {
    let mut form = Vec::with_capacity(parts.iter().map(|p| p.len() + 8).sum());
    for part in parts {
        text(part, &mut form);
    }
    xxh3_64(&form) as i64
}

fn text(part: &str, form: &mut Vec<u8>) {
    form.extend_from_slice(&(part.len() as u64).to_le_bytes());
    form.extend_from_slice(part.as_bytes());
}
