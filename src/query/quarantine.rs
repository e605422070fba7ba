//! The quarantine, read for people: what could not be used, why, and whether it was repaired since.

use arrow::array::{Array, AsArray, Int64Array, StringArray};
use arrow::datatypes::Int64Type;
use arrow::record_batch::RecordBatch;

use super::engine::Engine;
use super::statement::{self, Value};
use crate::domain::problem::{Problem, Result};
use crate::store::repair::BadField;

/// Which entries to read.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    /// Only these reasons; all when empty.
    pub reasons: Vec<String>,
    /// Only exports of these names; all when empty.
    pub files: Vec<String>,
    /// Also entries that a later batch repaired.
    pub with_repaired: bool,
}

/// Reads entries in the order of their exports and lines; the store's tables must be registered.
pub fn read(engine: &mut dyn Engine, wanted: &Wanted) -> Result<Vec<BadField>> {
    let parameters = [
        ("any_reason", Value::Flag(wanted.reasons.is_empty())),
        ("reasons", Value::Texts(wanted.reasons.clone())),
        ("any_file", Value::Flag(wanted.files.is_empty())),
        ("files", Value::Texts(wanted.files.clone())),
        ("with_repaired", Value::Flag(wanted.with_repaired)),
    ];
    let batch = statement::query(engine, "quarantine_open", &parameters)?;
    let columns = Columns {
        source: text(&batch, "source")?,
        file: text(&batch, "file")?,
        line: whole(&batch, "line")?,
        target: text(&batch, "target")?,
        record: text(&batch, "record")?,
        field: text(&batch, "field")?,
        reason: text(&batch, "reason")?,
        value: text(&batch, "value")?,
        hint: text(&batch, "hint")?,
        raw: text(&batch, "raw")?,
        batch: whole(&batch, "batch")?,
        is_repaired: whole(&batch, "is_repaired")?,
    };
    Ok((0..batch.num_rows())
        .map(|row| columns.entry(row))
        .collect())
}

struct Columns<'a> {
    source: &'a StringArray,
    file: &'a StringArray,
    line: &'a Int64Array,
    target: &'a StringArray,
    record: &'a StringArray,
    field: &'a StringArray,
    reason: &'a StringArray,
    value: &'a StringArray,
    hint: &'a StringArray,
    raw: &'a StringArray,
    batch: &'a Int64Array,
    is_repaired: &'a Int64Array,
}

impl Columns<'_> {
    /// The entry in a row that the result has.
    fn entry(&self, row: usize) -> BadField {
        let text = |c: &StringArray| c.is_valid(row).then(|| c.value(row).to_owned());
        let must = |c: &StringArray| text(c).unwrap_or_default();
        BadField {
            source: must(self.source),
            file: must(self.file),
            line: self.line.value(row),
            target: must(self.target),
            record: must(self.record),
            field: text(self.field),
            reason: must(self.reason),
            value: text(self.value),
            hint: text(self.hint),
            raw: must(self.raw),
            batch: self.batch.value(row),
            repaired: self.is_repaired.value(row) == 1,
        }
    }
}

fn text<'a>(batch: &'a RecordBatch, name: &str) -> Result<&'a StringArray> {
    let column = batch.column_by_name(name).and_then(|c| c.as_string_opt());
    column.ok_or_else(|| Problem::data("the result lacks a text column").field(name))
}

fn whole<'a>(batch: &'a RecordBatch, name: &str) -> Result<&'a Int64Array> {
    let column = batch.column_by_name(name);
    let column = column.and_then(|c| c.as_primitive_opt::<Int64Type>());
    column.ok_or_else(|| Problem::data("the result lacks a column of whole numbers").field(name))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::day::Day;
    use crate::domain::table::Table;
    use crate::query::local::Local;
    use crate::query::tables::open_tables;
    use crate::store::rows::index_of;
    use crate::store::{BatchAccount, BatchHeader, BatchWriter, Begin, InitOptions, Store};

    fn begin(store: &Store, content: &str) -> Box<BatchWriter> {
        let header = BatchHeader {
            source: "desk".into(),
            file: format!("{content}.csv"),
            content_hash: content.into(),
            mapping: "m".into(),
            mapping_hash: "m".into(),
            export_date: None,
        };
        match store.begin_batch(header).unwrap() {
            Begin::New(writer) => writer,
            Begin::AlreadyThere(_) => panic!("the store was empty"),
        }
    }

    fn texts(writer: &mut BatchWriter, table: Table, cells: &[(&str, &str)], line: i64) {
        let column = |name| index_of(table, name).unwrap();
        let sink = writer.sink(table).unwrap();
        for (name, text) in cells {
            sink.text(column(name), text);
        }
        sink.whole(column("digest"), line);
        sink.whole(column("line"), line);
        if table == Table::Visits {
            sink.day(column("date"), Day(19000));
        }
        sink.end_row().unwrap();
    }

    fn bad(writer: &mut BatchWriter, record: &str, target: &str, reason: &str, line: i64) {
        let cells = [
            ("target", target),
            ("field", "odometer"),
            ("reason", reason),
            ("value", "12x"),
            ("raw", "{}"),
            ("record", record),
        ];
        texts(writer, Table::Quarantine, &cells, line);
    }

    fn good(writer: &mut BatchWriter, record: &str, line: i64) {
        let cells = [("vehicle", "v"), ("site", "s"), ("record", record)];
        texts(writer, Table::Visits, &cells, line);
    }

    fn lines(store: &Store, wanted: Wanted) -> Vec<(i64, bool)> {
        let mut engine = Local::new();
        open_tables(&mut engine, store).unwrap();
        let entries = read(&mut engine, &wanted).unwrap();
        entries.iter().map(|e| (e.line, e.repaired)).collect()
    }

    #[test]
    fn a_record_is_repaired_once_a_later_batch_holds_it() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::init(folder.path().join("s"), &InitOptions::default()).unwrap();
        assert_eq!(lines(&store, Wanted::default()), []);
        let account = |read, kept| BatchAccount {
            read,
            kept,
            quarantined: read - kept,
            ..Default::default()
        };

        let mut first = begin(&store, "first");
        good(&mut first, "r4", 1);
        bad(&mut first, "r1", "visits", "bad-number", 2);
        bad(&mut first, "r2", "visits", "bad-date", 3);
        // The same key in another table, and a record of the same batch: neither is a repair.
        bad(&mut first, "r3", "cases", "bad-number", 4);
        bad(&mut first, "r4", "visits", "bad-number", 5);
        first.commit(account(5, 1)).unwrap();
        let all = [(2, false), (3, false), (4, false), (5, false)];
        assert_eq!(lines(&store, Wanted::default()), all);

        let mut repair = begin(&store, "repair");
        good(&mut repair, "r1", 1);
        good(&mut repair, "r3", 2);
        repair.commit(account(2, 2)).unwrap();
        assert_eq!(
            lines(&store, Wanted::default()),
            [(3, false), (4, false), (5, false)]
        );
        let reasons = vec!["bad-number".into(), "it's".into()];
        let wanted = Wanted {
            reasons,
            with_repaired: true,
            ..Default::default()
        };
        assert_eq!(lines(&store, wanted), [(2, true), (4, false), (5, false)]);
        let files = vec!["repair.csv".into()];
        assert_eq!(
            lines(
                &store,
                Wanted {
                    files,
                    ..Default::default()
                }
            ),
            []
        );
    }
}
