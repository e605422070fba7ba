//! Rows from a cluster into a Parquet file, a row group at a time.

use std::fs::File;
use std::path::{Path, PathBuf};

use arrow::datatypes::SchemaRef;
use arrow::record_batch::RecordBatch;
use parquet::arrow::ArrowWriter;
use parquet::basic::Compression;
use parquet::file::properties::WriterProperties;

use crate::domain::problem::{AtFile, Result};

/// Rows of one row group, as in files of the store.
const ROW_GROUP: usize = 128 * 1024;

/// A Parquet file being written; whoever writes it removes it if it stays unfinished.
pub struct ParquetFile {
    path: PathBuf,
    writer: ArrowWriter<File>,
    rows: u64,
}

impl ParquetFile {
    /// Begins a file of that schema.
    pub fn create(path: &Path, schema: SchemaRef) -> Result<Self> {
        let properties = WriterProperties::builder()
            .set_compression(Compression::LZ4_RAW)
            .set_max_row_group_row_count(Some(ROW_GROUP))
            .build();
        let file = File::create(path).at_file("write", path)?;
        let writer = ArrowWriter::try_new(file, schema, Some(properties)).at_file("write", path)?;
        Ok(Self {
            path: path.to_path_buf(),
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

    /// Writes the footer; gives the file's number of rows.
    pub fn finish(mut self) -> Result<u64> {
        self.writer.finish().at_file("write", &self.path)?;
        Ok(self.rows)
    }
}
