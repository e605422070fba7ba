//! What an engine must be able to do: run the statements of `queries/` over registered tables and give back Arrow.
//!
//! Two engines share this trait, so that the same SQL runs embedded (`local`) and beyond one machine (`cluster`).

use std::path::{Path, PathBuf};

use arrow::datatypes::SchemaRef;
use arrow::record_batch::RecordBatch;

use crate::domain::problem::Result;

/// Where the rows of a registered table come from.
#[derive(Debug, Clone)]
pub enum Rows {
    /// Parquet files of one schema; no file at all is an empty table.
    Parquet {
        files: Vec<PathBuf>,
        schema: SchemaRef,
    },
    /// A small table held in memory (band edges, a list of families).
    Memory(RecordBatch),
}

/// What a written file is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// It stays: it is made small.
    Kept,
    /// It is read by a few statements and removed: it is made quickly.
    Passing,
}

/// Runs SQL over registered tables.
pub trait Engine {
    /// Makes `rows` known as `name`, replacing an earlier table of that name.
    fn register(&mut self, name: &str, rows: Rows) -> Result<()>;

    /// Runs one bound statement; the result must be small enough to hold.
    ///
    /// Whole numbers come back as Int64, numbers as Float64, text as Utf8, days as Date32, flags as Boolean,
    /// whatever width the engine used inside.
    fn query(&mut self, sql: &str) -> Result<RecordBatch>;

    /// Runs one bound statement and writes its rows to a Parquet file without holding them; gives their number.
    ///
    /// The file is not synced: most are read once and removed. Who keeps it syncs it.
    fn write(&mut self, sql: &str, file: &Path, purpose: Purpose) -> Result<u64>;
}

impl<E: Engine + ?Sized> Engine for Box<E> {
    fn register(&mut self, name: &str, rows: Rows) -> Result<()> {
        (**self).register(name, rows)
    }

    fn query(&mut self, sql: &str) -> Result<RecordBatch> {
        (**self).query(sql)
    }

    fn write(&mut self, sql: &str, file: &Path, purpose: Purpose) -> Result<u64> {
        (**self).write(sql, file, purpose)
    }
}
