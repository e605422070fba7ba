//! Entries of the quarantine: what failed, why, and as much of the record as its repair needs, and no more.

use serde_json::{Map, Value as Json};

use crate::ingest::cell::text;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::Plan;
use crate::ingest::read::{CellKind, RawRecord};
use crate::ingest::translate::{PSEUDONYM, Row, digest_of_texts};

/// The key under which the text of a record stands that could not be split into cells.
pub const WHOLE_RECORD: &str = "(record)";

/// One entry.
#[derive(Debug, Clone, Copy)]
pub struct Entry<'a> {
    /// Table the record was meant for.
    pub target: &'a str,
    /// Field that failed.
    pub field: Option<&'a str>,
    /// Reason id.
    pub reason: &'a str,
    /// Value as found.
    pub value: Option<&'a str>,
    /// What would repair it.
    pub hint: Option<&'a str>,
    /// The record, as a JSON object.
    pub raw: &'a str,
    /// Key of the record, where it is known.
    pub key: &'a str,
}

impl Entry<'_> {
    /// Key of the record, or its line where the key is what is wrong.
    pub fn record(&self, line: u64) -> String {
        if self.key.is_empty() {
            format!("line {line}")
        } else {
            self.key.to_owned()
        }
    }

    /// Hash of what failed and how.
    pub fn digest(&self) -> i64 {
        digest_of_texts(&[
            self.target,
            self.field.unwrap_or(""),
            self.reason,
            self.value.unwrap_or(""),
            self.raw,
        ])
    }
}

/// A record that could not be split into cells.
pub fn whole_record(raw: &str) -> String {
    object([(WHOLE_RECORD.to_owned(), raw.to_owned())])
}

/// Only the columns of these numbers: what is left out on purpose need not be kept in full.
pub fn columns(plan: &Plan, record: &RawRecord, wanted: &[usize]) -> String {
    object(
        plan.used
            .iter()
            .filter(|(i, _)| wanted.contains(i))
            .map(|(i, name)| (name.clone(), record.get(*i).to_owned())),
    )
}

/// All columns that the mapping uses. A vehicle that was readable stands there as its pseudonym, which the repaired record
/// may keep; numbers stand with the decimal mark of the mapping, so that it reads them back.
pub fn used_columns(
    plan: &Plan,
    record: &RawRecord,
    rows: &[&Row],
    decimal: Option<char>,
    keyed: bool,
) -> String {
    let vehicle = rows.iter().find_map(|row| {
        let name = row.text(row.value("vehicle"));
        (keyed && !name.is_empty()).then(|| format!("{PSEUDONYM}{name}"))
    });
    let secret: Vec<usize> = plan
        .tables
        .iter()
        .filter_map(|t| t.field(Field::Vehicle))
        .flat_map(|f| [f.column, f.unit_id])
        .flatten()
        .collect();
    object(plan.used.iter().map(|(i, name)| {
        let found = record.get(*i);
        let value = match &vehicle {
            Some(pseudonym) if secret.contains(i) && !text::trim(found).is_empty() => {
                pseudonym.clone()
            }
            _ if record.kind(*i) == CellKind::Number && decimal == Some(',') => {
                found.replace('.', ",")
            }
            _ => found.to_owned(),
        };
        (name.clone(), value)
    }))
}

fn object(pairs: impl IntoIterator<Item = (String, String)>) -> String {
    let map: Map<String, Json> = pairs
        .into_iter()
        .map(|(name, value)| (name, Json::String(value)))
        .collect();
    Json::Object(map).to_string()
}
