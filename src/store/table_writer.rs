//! Writes one table of a batch to Parquet while it comes in: bounded memory, the same bytes for the same rows.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use arrow::record_batch::RecordBatch;
use parquet::arrow::ArrowWriter;
use parquet::basic::{Compression, Encoding, ZstdLevel};
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::schema::types::ColumnPath;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::durable::hex;
use super::origin::{BatchRows, Origin};
use super::schema::arrow_schema;
use crate::domain::problem::{AtFile, Result};
use crate::domain::table::{ColumnKind, Table};

/// Rows of one row group: what is skipped or read as a whole.
pub const ROW_GROUP: usize = 128 * 1024;
/// Rows gathered before they are encoded.
const BUFFERED_ROWS: usize = 16 * 1024;

/// A finished Parquet file of a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableFile {
    /// The table.
    pub table: String,
    /// File name in the batch's folder.
    pub name: String,
    /// Rows in it.
    pub rows: u64,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}

/// Counts bytes into a hash on their way to the file, so that the file need not be read again.
struct Hashing {
    file: BufWriter<File>,
    hash: Sha256,
}

impl Write for Hashing {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let n = self.file.write(bytes)?;
        self.hash.update(bytes.get(..n).unwrap_or(bytes));
        Ok(n)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
    }
}

/// Writes Arrow batches of one table's schema to one file.
pub struct ParquetFile {
    path: PathBuf,
    table: Table,
    writer: ArrowWriter<Hashing>,
    rows: u64,
}

impl ParquetFile {
    /// Creates a file of the store, for rows in the order in which they come.
    pub fn create(path: &Path, table: Table) -> Result<Self> {
        Self::create_with(path, table, properties(table, false))
    }

    /// Creates a file of the store, for rows that are sorted so that neighbours are alike.
    pub fn create_sorted(path: &Path, table: Table) -> Result<Self> {
        Self::create_with(path, table, properties(table, true))
    }

    /// Creates a file that is soon read back and removed: cheap to write, and small pages, since many are read at once.
    pub(super) fn create_run(path: &Path, table: Table) -> Result<Self> {
        let properties = WriterProperties::builder()
            .set_compression(Compression::ZSTD(ZstdLevel::try_new(1).unwrap_or_default()))
            .set_dictionary_enabled(false)
            .set_statistics_enabled(EnabledStatistics::None)
            .set_data_page_size_limit(64 * 1024)
            .set_max_row_group_row_count(Some(ROW_GROUP))
            .build();
        Self::create_with(path, table, properties)
    }

    fn create_with(path: &Path, table: Table, properties: WriterProperties) -> Result<Self> {
        let file = File::create(path).at_file("write", path)?;
        let hashing = Hashing {
            file: BufWriter::new(file),
            hash: Sha256::new(),
        };
        let writer = ArrowWriter::try_new(hashing, arrow_schema(table), Some(properties))
            .at_file("write", path)?;
        Ok(Self {
            path: path.to_path_buf(),
            table,
            writer,
            rows: 0,
        })
    }

    /// Adds rows.
    pub fn write(&mut self, batch: &RecordBatch) -> Result<()> {
        self.writer.write(batch).at_file("write", &self.path)?;
        self.rows += batch.num_rows() as u64;
        Ok(())
    }

    /// Writes the footer and makes the file last.
    pub fn finish(mut self) -> Result<TableFile> {
        self.writer.finish().at_file("write", &self.path)?;
        let hashing = self.writer.inner_mut();
        hashing.flush().at_file("write", &self.path)?;
        let synced = hashing.file.get_ref().sync_all();
        synced.at_file("sync", &self.path)?;
        let sha256 = hex(&hashing.hash.clone().finalize());
        let name = self.path.file_name().unwrap_or_default();
        Ok(TableFile {
            table: self.table.name().to_string(),
            name: name.to_string_lossy().into_owned(),
            rows: self.rows,
            sha256,
        })
    }
}

/// Nothing in the file tells when or by which version it was written.
fn properties(table: Table, is_sorted: bool) -> WriterProperties {
    // Sorted files are written once and read often; those of an ingest are waited for, and their hashes hardly compress.
    let level = ZstdLevel::try_new(if is_sorted { 3 } else { 1 }).unwrap_or_default();
    let mut properties = WriterProperties::builder()
        .set_created_by("boretally".into())
        .set_compression(Compression::ZSTD(level))
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_max_row_group_row_count(Some(ROW_GROUP));
    for column in table.columns() {
        let path = ColumnPath::from(column.name);
        // Least and greatest of what comes in no order, or is the same throughout, let nobody skip anything.
        let says_nothing = match column.name {
            "digest" | "record" | "raw" | "source" | "file" => true,
            "vehicle" | "case_id" => !is_sorted,
            _ => false,
        };
        if says_nothing {
            properties =
                properties.set_column_statistics_enabled(path.clone(), EnabledStatistics::None);
        }
        match (column.name, column.kind) {
            // A hash neither repeats nor compresses.
            ("digest", _) => {
                properties = properties
                    .set_column_dictionary_enabled(path.clone(), false)
                    .set_column_compression(path, Compression::UNCOMPRESSED);
            }
            // Counts up, or is different in nearly every row.
            ("line" | "odometer_m", _) => {
                properties = properties
                    .set_column_dictionary_enabled(path.clone(), false)
                    .set_column_encoding(path, Encoding::DELTA_BINARY_PACKED);
            }
            // Different in every row: trying a dictionary first costs time and saves nothing.
            ("record" | "raw", _) => {
                properties = properties.set_column_dictionary_enabled(path, false);
            }
            // Repeat, but seldom within a row group that is not sorted by them.
            ("vehicle" | "case_id", _) if !is_sorted => {
                properties = properties.set_column_dictionary_enabled(path, false);
            }
            (_, ColumnKind::Text) => {
                properties = properties.set_column_dictionary_enabled(path, true);
            }
            _ => {}
        }
    }
    properties.build()
}

/// Takes the rows of one table of a batch. Dereferences to [`RowBuffer`](super::rows::RowBuffer) for its setters.
pub struct TableWriter {
    path: PathBuf,
    /// Made with the first rows: a table without rows has no file.
    file: Option<ParquetFile>,
    rows: BatchRows,
}

impl std::ops::Deref for TableWriter {
    type Target = BatchRows;
    fn deref(&self) -> &BatchRows {
        &self.rows
    }
}

impl std::ops::DerefMut for TableWriter {
    fn deref_mut(&mut self) -> &mut BatchRows {
        &mut self.rows
    }
}

impl TableWriter {
    pub(super) fn new(table: Table, folder: &Path, origin: &Arc<Origin>) -> Self {
        Self {
            path: folder.join(format!("{}.parquet", table.name())),
            file: None,
            rows: origin.rows(table),
        }
    }

    /// Ends the row, as [`BatchRows::end_row`] does, and writes the rows gathered so far once they are many.
    pub fn end_row(&mut self) -> Result<()> {
        self.rows.end_row()?;
        if self.rows.len() >= BUFFERED_ROWS {
            self.flush()?;
        }
        Ok(())
    }

    /// Adds rows that were filled elsewhere, taken from [`BatchRows`] of the same batch and table.
    pub fn append(&mut self, rows: &RecordBatch) -> Result<()> {
        self.flush()?;
        self.put(rows)
    }

    fn flush(&mut self) -> Result<()> {
        if self.rows.is_empty() {
            return Ok(());
        }
        let batch = self.rows.take()?;
        self.put(&batch)
    }

    fn put(&mut self, batch: &RecordBatch) -> Result<()> {
        if batch.num_rows() == 0 {
            return Ok(());
        }
        let file = match &mut self.file {
            Some(file) => file,
            None => self
                .file
                .insert(ParquetFile::create(&self.path, self.rows.table())?),
        };
        file.write(batch)
    }

    /// Completes the file; `None` when there was no row.
    pub(super) fn finish(mut self) -> Result<Option<TableFile>> {
        self.flush()?;
        self.file.map(ParquetFile::finish).transpose()
    }
}
