//! The versions of records that the store holds, as two sets of 64-bit hashes: enough to tell duplicates and edits while a
//! file is read. A store too large for that is asked by SQL after each file instead (`duplicates`).

use std::collections::HashSet;
use std::fs::File;
use std::hash::{BuildHasherDefault, Hasher};
use std::path::Path;

use arrow::array::AsArray;
use arrow::datatypes::Int64Type;
use arrow::record_batch::RecordBatch;
use parquet::arrow::ProjectionMask;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use crate::domain::problem::{AtFile, Problem, Result};
use crate::domain::table::Table;
use crate::ingest::translate::{Row, key_hash};
use crate::store::Store;

/// Rows whose versions are held in memory at most: two sets of 8-byte hashes, about 150 MB when full.
pub const MOST_ROWS: u64 = 4_000_000;

/// The hashes are hashes already.
#[derive(Default)]
struct AsIs(u64);

impl Hasher for AsIs {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = self.0.rotate_left(8) ^ u64::from(*byte);
        }
    }

    fn write_u64(&mut self, n: u64) {
        self.0 = n;
    }
}

type Hashes = HashSet<u64, BuildHasherDefault<AsIs>>;

/// What the store says about a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judgement {
    /// At least one row is new, and no row changes an older version.
    New,
    /// At least one row is another version of a row that is there.
    Edit,
    /// Every row is there already in the same version.
    Duplicate,
}

/// Which version of which record a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Version {
    /// Hash of key and content.
    digest: u64,
    /// Hash of the key alone.
    key: u64,
}

impl Version {
    /// The version that a row is.
    pub fn of(source: &str, row: &Row) -> Self {
        Self {
            digest: row.digest as u64,
            key: key_hash(source, row.table, &row.record),
        }
    }
}

/// Digests and keys of the rows there are.
#[derive(Default)]
pub struct KnownVersions {
    digests: Hashes,
    keys: Hashes,
}

impl KnownVersions {
    /// What the store holds, without the batch of that number (which a new one will stand in for); `None` if that is more
    /// than is held in memory.
    pub fn load(store: &Store, superseded: Option<i64>) -> Result<Option<Self>> {
        let rows: u64 = store
            .batches()?
            .iter()
            .flat_map(|b| b.account.rows.values())
            .sum();
        if rows > MOST_ROWS {
            return Ok(None);
        }
        let mut known = Self::default();
        for table in [Table::Visits, Table::Cases, Table::Findings, Table::Tests] {
            for file in store.table_files(table)? {
                known.add_file(&file, table, superseded)?;
            }
        }
        Ok(Some(known))
    }

    fn add_file(&mut self, file: &Path, table: Table, superseded: Option<i64>) -> Result<()> {
        let opened = File::open(file).at_file("read", file)?;
        let builder = ParquetRecordBatchReaderBuilder::try_new(opened).at_file("read", file)?;
        let columns = ["record", "digest", "source", "batch"];
        let mask = ProjectionMask::columns(builder.parquet_schema(), columns);
        let reader = builder
            .with_projection(mask)
            .build()
            .at_file("read", file)?;
        for batch in reader {
            self.add_rows(&batch.at_file("read", file)?, table, superseded)
                .ok_or_else(|| {
                    Problem::data("the file lacks a column that every table has")
                        .file(file)
                        .remedy("run `boretally store verify`")
                })?;
        }
        Ok(())
    }

    fn add_rows(
        &mut self,
        rows: &RecordBatch,
        table: Table,
        superseded: Option<i64>,
    ) -> Option<()> {
        let text = |name| rows.column_by_name(name)?.as_string_opt::<i32>();
        let whole = |name| rows.column_by_name(name)?.as_primitive_opt::<Int64Type>();
        let (record, source) = (text("record")?, text("source")?);
        let (digest, batch) = (whole("digest")?, whole("batch")?);
        for i in 0..digest.len() {
            if superseded != Some(batch.value(i)) {
                self.digests.insert(digest.value(i) as u64);
                self.keys
                    .insert(key_hash(source.value(i), table, record.value(i)));
            }
        }
        Some(())
    }

    /// Judges a record by the versions of its rows, and remembers them.
    pub fn judge(&mut self, versions: &[Version]) -> Judgement {
        let mut judgement = Judgement::Duplicate;
        for version in versions {
            let is_new = self.digests.insert(version.digest);
            let is_new_key = self.keys.insert(version.key);
            if is_new && !is_new_key {
                judgement = Judgement::Edit;
            } else if is_new && judgement == Judgement::Duplicate {
                judgement = Judgement::New;
            }
        }
        judgement
    }

    /// Whether there are more rows than memory is meant to hold.
    pub fn is_full(&self) -> bool {
        self.digests.len() as u64 > MOST_ROWS
    }
}
