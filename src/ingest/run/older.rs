//! Versions of the rows of batches whose hashes are not in the store: somebody deleted them, they are damaged, or an ingest was
//! stopped between a batch and its hashes.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

use arrow::array::AsArray;
use arrow::datatypes::Int64Type;
use arrow::record_batch::RecordBatch;
use parquet::arrow::ProjectionMask;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use crate::domain::problem::{AtFile, Problem, Result};
use crate::domain::table::Table;
use crate::domain::version::key_hash;
use crate::store::Store;
use crate::store::batch_writer::folder_name;
use crate::store::versions::{Builder, Entry, Sorter};

/// Reads the rows of the builder's batches from the store.
pub(super) fn read(store: &Store, mut builder: Builder, held: usize) -> Result<Builder> {
    let mut older = Older {
        tags: BTreeMap::new(),
        rows: builder.sorter(held),
    };
    let names = builder.batches().iter().zip(0..);
    let tags: BTreeMap<&str, u32> = names.map(|(name, tag)| (name.as_str(), tag)).collect();
    let mut files = Vec::new();
    for live in &store.snapshot()?.live {
        let members = live.folder.members.iter();
        let wanted =
            members.filter_map(|b| Some((b.seq, *tags.get(folder_name(b.seq, &b.id).as_str())?)));
        let before = older.tags.len();
        older.tags.extend(wanted);
        if older.tags.len() > before {
            let folder = store.layout().batch(&live.name);
            files.extend(
                live.folder
                    .files
                    .iter()
                    .map(|f| (Table::from_name(&f.table), folder.join(&f.name))),
            );
        }
    }
    for (table, file) in files {
        if let Some(table) = table.filter(|t| *t != Table::Quarantine) {
            older.file(&file, table)?;
        }
    }
    builder.write(older.rows, |key, rows, out| {
        rows.iter()
            .try_for_each(|row| out.add(Entry::new(key, row.content(), row.number())))
    })?;
    Ok(builder)
}

struct Older {
    /// By number of the batch.
    tags: BTreeMap<i64, u32>,
    /// Rows by key; their numbers are the tags of their batches.
    rows: Sorter,
}

impl Older {
    fn file(&mut self, file: &Path, table: Table) -> Result<()> {
        let opened = File::open(file).at_file("read", file)?;
        let builder = ParquetRecordBatchReaderBuilder::try_new(opened).at_file("read", file)?;
        let columns = ["record", "digest", "source", "batch"];
        let mask = ProjectionMask::columns(builder.parquet_schema(), columns);
        let reader = builder
            .with_projection(mask)
            .build()
            .at_file("read", file)?;
        for rows in reader {
            self.add(&rows.at_file("read", file)?, table)?
                .ok_or_else(|| {
                    Problem::data("the file lacks a column that every table has")
                        .file(file)
                        .remedy("run `boretally store verify`")
                })?;
        }
        Ok(())
    }

    /// Nothing where a column is missing.
    fn add(&mut self, rows: &RecordBatch, table: Table) -> Result<Option<()>> {
        let text = |name| rows.column_by_name(name)?.as_string_opt::<i32>();
        let whole = |name| rows.column_by_name(name)?.as_primitive_opt::<Int64Type>();
        let (Some(record), Some(source)) = (text("record"), text("source")) else {
            return Ok(None);
        };
        let (Some(digest), Some(batch)) = (whole("digest"), whole("batch")) else {
            return Ok(None);
        };
        for i in 0..digest.len() {
            if let Some(tag) = self.tags.get(&batch.value(i)) {
                let key = key_hash(source.value(i), table, record.value(i));
                self.rows.add(key, digest.value(i) as u64, *tag)?;
            }
        }
        Ok(Some(()))
    }
}
