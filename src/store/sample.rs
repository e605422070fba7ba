//! Small batches for the tests of this floor.

use super::rows::index_of;
use super::{BatchAccount, BatchHeader, BatchInfo, BatchWriter, Begin, InitOptions, Store};
use crate::domain::day::Day;
use crate::domain::table::Table;

pub(super) fn store(folder: &tempfile::TempDir) -> Store {
    Store::init(folder.path().join("s"), &InitOptions::default()).unwrap()
}

pub(super) fn header(content: &str, mapping: &str, mapping_hash: &str) -> BatchHeader {
    BatchHeader {
        source: "desk".into(),
        file: format!("{content}.csv"),
        content_hash: content.into(),
        mapping: mapping.into(),
        mapping_hash: mapping_hash.into(),
        export_date: Some(Day(19000)),
    }
}

pub(super) fn begin(store: &Store, header: BatchHeader) -> Box<BatchWriter> {
    match store.begin_batch(header).unwrap() {
        Begin::New(writer) => writer,
        Begin::AlreadyThere(info) => panic!("{} is there already", info.id),
    }
}

/// Adds `n` visits of vehicles `<prefix>0..`.
pub(super) fn visits(writer: &mut BatchWriter, prefix: &str, n: i64) {
    let column = |name| index_of(Table::Visits, name).unwrap();
    let sink = writer.sink(Table::Visits).unwrap();
    for i in 0..n {
        sink.text(column("vehicle"), &format!("{prefix}{i}"));
        sink.text(column("site"), "Larkmouth");
        sink.day(column("date"), Day(18000 + (i % 700) as i32));
        sink.whole(column("odometer_m"), (n - i) * 1000);
        if i % 3 != 0 {
            sink.text(
                column("engine_family"),
                if i % 2 == 0 { "ash" } else { "elm" },
            );
        }
        sink.text(column("record"), &format!("{prefix}/{i}"));
        sink.whole(column("digest"), i * 7919);
        sink.whole(column("line"), i + 2);
        sink.end_row().unwrap();
    }
}

pub(super) fn account(kept: u64) -> BatchAccount {
    BatchAccount {
        read: kept,
        kept,
        ..Default::default()
    }
}

pub(super) fn ingest(store: &Store, content: &str, n: i64) -> BatchInfo {
    let mut writer = begin(store, header(content, "m.mapping.toml", "m1"));
    visits(&mut writer, content, n);
    writer.commit(account(n as u64)).unwrap()
}

/// Every row of a table as text, sorted: what must stay the same whatever files hold it.
pub(super) fn rows(store: &Store, table: Table) -> Vec<String> {
    let mut rows = Vec::new();
    for file in store.table_files(table).unwrap() {
        for batch in super::rewrite::read(&file).unwrap() {
            let batch = batch.unwrap();
            let cells: Vec<_> = batch
                .columns()
                .iter()
                .map(|c| {
                    arrow::util::display::ArrayFormatter::try_new(c, &Default::default()).unwrap()
                })
                .collect();
            for row in 0..batch.num_rows() {
                let row: Vec<_> = cells.iter().map(|c| c.value(row).to_string()).collect();
                rows.push(row.join("|"));
            }
        }
    }
    rows.sort();
    rows
}
