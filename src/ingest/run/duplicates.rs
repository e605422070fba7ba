//! Which records of a new batch the store knows already, and which change an older version: for stores of any size, and
//! the twin that `known` is held against.
//!
//! Counted by SQL over the finished files, before the batch counts: memory stays flat, because only one part of the digests
//! is looked at in one pass. The rows themselves stay where they are; history leaves repeated ones out.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use arrow::array::{AsArray, RecordBatch};
use arrow::datatypes::{DataType, Field, Int64Type, Schema, SchemaRef};

use crate::domain::problem::{AtFile, Problem, Result};
use crate::domain::table::Table;
use crate::query::engine::{Engine, Rows};
use crate::query::local::Local;
use crate::query::statement::{self, Value};
use crate::store::{BatchHeader, FinishedBatch, Store, arrow_schema};

/// Rows, old and new, whose digests are looked at in one pass.
const ROWS_A_PASS: u64 = 4_000_000;

/// What was found.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Repeats {
    /// Records without a flag that are duplicates.
    pub kept: u64,
    /// Records with a flag that are duplicates.
    pub flagged: u64,
    /// Records that change an older version.
    pub edited: u64,
}

const TABLES: [(Table, &str, &str); 4] = [
    (Table::Visits, "new_visits", "old_visits"),
    (Table::Cases, "new_cases", "old_cases"),
    (Table::Findings, "new_findings", "old_findings"),
    (Table::Tests, "new_tests", "old_tests"),
];

/// Counts the repeats of a finished batch.
pub fn count(store: &Store, batch: &FinishedBatch) -> Result<Repeats> {
    let mut engine = Local::new();
    let mut folder = None;
    for (table, new, old) in TABLES {
        let files = batch.files(table);
        folder = folder.or_else(|| {
            files
                .first()
                .and_then(|f| f.parent())
                .map(Path::to_path_buf)
        });
        let schema = arrow_schema(table);
        engine.register(new, parquet(files, &schema))?;
        engine.register(old, parquet(store.table_files(table)?, &schema))?;
    }
    // Without a file there is no row that could repeat anything.
    let Some(folder) = folder else {
        return Ok(Repeats::default());
    };
    // No batch has the number -1.
    let superseded = superseded(store, batch.header())?.unwrap_or(-1);
    let scratch = Scratch::default();
    let scratch = repeated_rows(store, batch, &mut engine, &folder, superseded, scratch)?;
    let line = Arc::new(Schema::new(vec![Field::new("line", DataType::Int64, true)]));
    engine.register("duplicate_rows", parquet(scratch.files.clone(), &line))?;
    let records = statement::query(&mut engine, "duplicate_records", &[])?;
    let edited = statement::query(
        &mut engine,
        "edited_records",
        &[
            ("source", Value::text(batch.header().source.as_str())),
            ("superseded", Value::Int(superseded)),
        ],
    )?;
    let flagged = number(&records, "flagged")?;
    Ok(Repeats {
        kept: number(&records, "records")?.saturating_sub(flagged),
        flagged,
        edited: number(&edited, "records")?,
    })
}

fn parquet(files: Vec<PathBuf>, schema: &SchemaRef) -> Rows {
    Rows::Parquet {
        files,
        schema: schema.clone(),
    }
}

/// The batch that a new one will stand in for (the same export, its mapping corrected): its rows do not make the new ones
/// repeats.
pub fn superseded(store: &Store, new: &BatchHeader) -> Result<Option<i64>> {
    let older = store.batches()?.into_iter().find(|b| {
        b.header.content_hash == new.content_hash
            && b.header.mapping == new.mapping
            && b.header.mapping_hash != new.mapping_hash
    });
    Ok(older.map(|b| b.seq))
}

fn repeated_rows(
    store: &Store,
    batch: &FinishedBatch,
    engine: &mut Local,
    folder: &Path,
    superseded: i64,
    mut scratch: Scratch,
) -> Result<Scratch> {
    let new: u64 = TABLES.iter().map(|(table, ..)| batch.rows(*table)).sum();
    let old: u64 = store
        .batches()?
        .iter()
        .flat_map(|b| b.account.rows.values())
        .sum();
    let parts = (new + old).div_ceil(ROWS_A_PASS).max(1);
    for part in 0..parts {
        let file = folder.join(format!("duplicate-rows-{part}.parquet"));
        let parameters = [
            ("parts", Value::Int(parts as i64)),
            ("part", Value::Int(part as i64)),
            ("superseded", Value::Int(superseded)),
        ];
        scratch.files.push(file.clone());
        let rows = statement::write(engine, "duplicate_rows", &parameters, &file)?;
        if rows == 0 {
            scratch.files.pop();
            std::fs::remove_file(&file).at_file("remove", &file)?;
        }
    }
    Ok(scratch)
}

/// Files that must be gone before the batch is put in its place.
#[derive(Default)]
struct Scratch {
    files: Vec<PathBuf>,
}

impl Drop for Scratch {
    fn drop(&mut self) {
        for file in &self.files {
            // A file that stays is told by `store verify` as one that the batch does not list.
            let _ = std::fs::remove_file(file);
        }
    }
}

fn number(batch: &RecordBatch, column: &str) -> Result<u64> {
    batch
        .column_by_name(column)
        .and_then(|c| c.as_primitive_opt::<Int64Type>())
        .filter(|c| !arrow::array::Array::is_empty(*c))
        .and_then(|c| u64::try_from(c.value(0)).ok())
        .ok_or_else(|| Problem::data("a count of repeats has no answer").field(column))
}
