//! Rows into the buffers of a batch.

use crate::domain::day::Day;
use crate::domain::problem::Result;
use crate::domain::table::{PROVENANCE, Table};
use crate::ingest::translate::{Row, Value};
use crate::store::origin::BatchRows;

use super::quarantine::Entry;

/// Where a row was found.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// Line or record number, from 1, unique within the file.
    pub line: u64,
    /// Day of the export from a column; the batch's own otherwise.
    pub export_date: Option<Day>,
}

/// The place of a column among those of provenance, found while compiling.
const fn place(name: &str) -> usize {
    let mut i = 0;
    while i < PROVENANCE.len() {
        if same(PROVENANCE[i].name.as_bytes(), name.as_bytes()) {
            return i;
        }
        i += 1;
    }
    panic!("there is no such column");
}

const fn same(a: &[u8], b: &[u8]) -> bool {
    let mut i = 0;
    while i < a.len() && i < b.len() && a[i] == b[i] {
        i += 1;
    }
    i == a.len() && i == b.len()
}

const RECORD: usize = place("record");
const DIGEST: usize = place("digest");
const FLAGS: usize = place("flags");
const LINE: usize = place("line");
const EXPORT_DATE: usize = place("export_date");

/// Writes a row.
pub fn write_row(sink: &mut BatchRows, row: &Row, place: Place, flags: &mut String) -> Result<()> {
    let own = row.values.len();
    for (i, value) in row.values.iter().enumerate() {
        match *value {
            Value::Missing => {}
            Value::Text(..) => sink.text(i, row.text(*value)),
            Value::Whole(n) => sink.whole(i, n),
            Value::Number(x) => sink.number(i, x),
            Value::Day(day) => sink.day(i, day),
            Value::Flag(yes) => sink.flag(i, yes),
        }
    }
    sink.text(own + RECORD, &row.record);
    sink.whole(own + DIGEST, row.digest);
    if row.is_flagged() {
        flags.clear();
        for flag in row.flags() {
            if !flags.is_empty() {
                flags.push(' ');
            }
            flags.push_str(flag.id());
        }
        sink.text(own + FLAGS, flags);
    }
    sink.whole(own + LINE, place.line as i64);
    if let Some(day) = place.export_date {
        sink.day(own + EXPORT_DATE, day);
    }
    sink.end_row()
}

/// Writes an entry of the quarantine.
pub fn write_entry(sink: &mut BatchRows, entry: &Entry, place: Place) -> Result<()> {
    let columns = Table::Quarantine.own_columns();
    let own = columns.len();
    for (i, column) in columns.iter().enumerate() {
        let text = match column.name {
            "target" => Some(entry.target),
            "field" => entry.field,
            "reason" => Some(entry.reason),
            "value" => entry.value,
            "hint" => entry.hint,
            "raw" => Some(entry.raw),
            _ => None,
        };
        if let Some(text) = text {
            sink.text(i, text);
        }
    }
    sink.text(own + RECORD, &entry.record(place.line));
    sink.whole(own + DIGEST, entry.digest());
    sink.whole(own + LINE, place.line as i64);
    if let Some(day) = place.export_date {
        sink.day(own + EXPORT_DATE, day);
    }
    sink.end_row()
}
