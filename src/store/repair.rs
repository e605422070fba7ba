//! The way out of the quarantine: a CSV file of the records that could not be used, for a person to correct and to ingest
//! through the mapping that was used before.
//!
//! A repair file is UTF-8 with commas and a header row, whatever its export looked like. It holds the columns that the
//! mapping uses, as they were found, and behind them what is wrong. Cells are not altered, so that what was right stays
//! right; open such a file as text where a spreadsheet would change numbers.

use serde::de::{Deserializer, MapAccess, Visitor};
use serde::{Deserialize, Serialize};

use crate::domain::problem::{Problem, Result};

/// The column by which a repair file is known.
pub const REASON_NOTE: &str = "boretally_reason";
/// The column with the name of the export.
pub const FILE_NOTE: &str = "boretally_file";

/// Columns behind those of the export: what is wrong, where, and what might repair it. Ingest leaves them out.
pub const NOTES: [&str; 6] = [
    REASON_NOTE,
    "boretally_field",
    "boretally_value",
    "boretally_hint",
    FILE_NOTE,
    "boretally_line",
];

/// One entry of the quarantine: a field of a record that could not be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BadField {
    /// System the export came from.
    pub source: String,
    /// File name of the export.
    pub file: String,
    /// Line or record number in it, from 1.
    pub line: i64,
    /// Table the record was meant for.
    pub target: String,
    /// Key of the record, where it is known.
    pub record: String,
    /// Field that failed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
    /// Reason id.
    pub reason: String,
    /// Value that failed, as it was found.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<String>,
    /// What would repair it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hint: Option<String>,
    /// The record's columns as a JSON object.
    #[serde(skip)]
    pub raw: String,
    /// Sequence number of the batch.
    pub batch: i64,
    /// Whether a later batch holds the record.
    pub repaired: bool,
}

/// The columns of a record in the order they were written.
struct Cells(Vec<(String, String)>);

impl<'de> Deserialize<'de> for Cells {
    fn deserialize<D: Deserializer<'de>>(d: D) -> std::result::Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Cells;
            fn expecting(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
                f.write_str("an object of column names to text")
            }
            fn visit_map<M: MapAccess<'de>>(
                self,
                mut map: M,
            ) -> std::result::Result<Cells, M::Error> {
                let mut cells = Vec::new();
                while let Some(cell) = map.next_entry()? {
                    cells.push(cell);
                }
                Ok(Cells(cells))
            }
        }
        d.deserialize_map(InOrder)
    }
}

/// One record of the repair file: its cells, and its entries joined.
struct Record<'a> {
    line: i64,
    batch: i64,
    file: &'a str,
    cells: Vec<(String, String)>,
    reasons: Vec<&'a str>,
    fields: Vec<&'a str>,
    values: Vec<&'a str>,
    hints: Vec<&'a str>,
}

/// The repair file of entries of one export, which must come in the order of their lines.
pub fn repair_csv(entries: &[BadField]) -> Result<Vec<u8>> {
    let mut records: Vec<Record> = Vec::new();
    for entry in entries {
        let same = |r: &&mut Record| r.line == entry.line && r.batch == entry.batch;
        match records.last_mut().filter(same) {
            Some(record) => record.add(entry),
            None => records.push(Record::new(entry)?),
        }
    }
    let mut columns: Vec<&str> = Vec::new();
    for (name, _) in records.iter().flat_map(|r| &r.cells) {
        if !columns.contains(&name.as_str()) {
            columns.push(name);
        }
    }
    let mut out = csv::Writer::from_writer(Vec::new());
    let failed = |e: csv::Error| Problem::data(format!("could not write the repair file: {e}"));
    out.write_record(columns.iter().chain(&NOTES))
        .map_err(failed)?;
    for record in &records {
        out.write_record(record.line_of(&columns)).map_err(failed)?;
    }
    out.into_inner()
        .map_err(|e| Problem::data(format!("could not write the repair file: {e}")))
}

impl<'a> Record<'a> {
    fn new(entry: &'a BadField) -> Result<Self> {
        let Cells(cells) = serde_json::from_str(&entry.raw).map_err(|e| {
            Problem::data(format!("a record in quarantine cannot be read: {e}"))
                .file(&entry.file)
                .line(u64::try_from(entry.line).unwrap_or(0))
        })?;
        let mut record = Self {
            line: entry.line,
            batch: entry.batch,
            file: &entry.file,
            cells,
            reasons: Vec::new(),
            fields: Vec::new(),
            values: Vec::new(),
            hints: Vec::new(),
        };
        record.add(entry);
        Ok(record)
    }

    fn add(&mut self, entry: &'a BadField) {
        self.reasons.push(&entry.reason);
        self.fields.push(entry.field.as_deref().unwrap_or(""));
        self.values.push(entry.value.as_deref().unwrap_or(""));
        self.hints.extend(entry.hint.as_deref());
    }

    fn line_of(&self, columns: &[&str]) -> Vec<String> {
        let mut line: Vec<String> = Vec::with_capacity(columns.len() + NOTES.len());
        for column in columns {
            let cell = self.cells.iter().find(|(name, _)| name == column);
            line.push(cell.map(|(_, text)| text.clone()).unwrap_or_default());
        }
        for notes in [&self.reasons, &self.fields, &self.values, &self.hints] {
            line.push(notes.join("; "));
        }
        line.push(self.file.to_owned());
        line.push(self.line.to_string());
        line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(line: i64, field: &str, raw: &str) -> BadField {
        BadField {
            source: "desk".into(),
            file: "jobs.csv".into(),
            line,
            target: "visits".into(),
            record: format!("r{line}"),
            field: Some(field.into()),
            reason: "not-a-number".into(),
            value: Some("12x".into()),
            hint: None,
            raw: raw.into(),
            batch: 1,
            repaired: false,
        }
    }

    #[test]
    fn a_record_is_one_line_with_all_that_is_wrong() {
        let raw = r#"{"Order":"7","Km in":"12x","Note":"a, \"b\"\nc"}"#;
        let entries = [
            entry(3, "odometer", raw),
            entry(3, "date", raw),
            entry(9, "odometer", r#"{"Order":"8","Colour":"=1+1"}"#),
        ];
        let text = String::from_utf8(repair_csv(&entries).unwrap()).unwrap();
        let expected = "Order,Km in,Note,Colour,boretally_reason,boretally_field,boretally_value,boretally_hint,boretally_file,boretally_line\n\
            7,12x,\"a, \"\"b\"\"\nc\",,not-a-number; not-a-number,odometer; date,12x; 12x,,jobs.csv,3\n\
            8,,,=1+1,not-a-number,odometer,12x,,jobs.csv,9\n";
        assert_eq!(text, expected);
        assert!(repair_csv(&[entry(1, "a", "no json")]).is_err());
    }
}
