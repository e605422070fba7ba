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

/// The number of a column of provenance in a table.
fn provenance(table: Table, name: &str) -> usize {
    let own = table.own_columns().len();
    PROVENANCE
        .iter()
        .position(|c| c.name == name)
        .map_or(own, |i| own + i)
}

/// Writes a row.
pub fn write_row(sink: &mut BatchRows, row: &Row, place: Place, flags: &mut String) -> Result<()> {
    let table = row.table;
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
    sink.text(provenance(table, "record"), &row.record);
    sink.whole(provenance(table, "digest"), row.digest);
    if row.is_flagged() {
        flags.clear();
        for flag in row.flags() {
            if !flags.is_empty() {
                flags.push(' ');
            }
            flags.push_str(flag.id());
        }
        sink.text(provenance(table, "flags"), flags);
    }
    sink.whole(provenance(table, "line"), place.line as i64);
    if let Some(day) = place.export_date {
        sink.day(provenance(table, "export_date"), day);
    }
    sink.end_row()
}

/// Writes an entry of the quarantine.
pub fn write_entry(sink: &mut BatchRows, entry: &Entry, place: Place) -> Result<()> {
    let table = Table::Quarantine;
    for (i, column) in table.own_columns().iter().enumerate() {
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
    sink.text(provenance(table, "record"), &entry.record(place.line));
    sink.whole(provenance(table, "digest"), entry.digest());
    sink.whole(provenance(table, "line"), place.line as i64);
    if let Some(day) = place.export_date {
        sink.day(provenance(table, "export_date"), day);
    }
    sink.end_row()
}
