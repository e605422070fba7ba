//! A folder for tables that are in no file of the store: small ones held in memory, and those without a row.
//!
//! They reach the cluster as Parquet files like every other table, so empty tables, unknown values and types need no SQL of their
//! own. The folder lies in `history/`, which the cluster sees, and goes when the engine does; what a killed run leaves there is
//! removed with other leftovers of history.

use std::path::{Path, PathBuf};

use arrow::record_batch::RecordBatch;

use super::parquet_file::ParquetFile;
use crate::domain::problem::{AtFile, Result};

/// A folder made when it is first needed.
pub struct Scratch {
    folder: PathBuf,
    files: usize,
}

impl Scratch {
    /// `name` must be of this engine alone.
    pub fn new(parent: &Path, name: &str) -> Self {
        Self {
            folder: parent.join(format!(".{name}")),
            files: 0,
        }
    }

    /// Writes a table to a file of its own.
    pub fn write(&mut self, batch: &RecordBatch) -> Result<PathBuf> {
        std::fs::create_dir_all(&self.folder)
            .at_file(
                "make a folder for tables the cluster is to read",
                &self.folder,
            )
            .map_err(|p| p.remedy("make the store writable"))?;
        let path = self.folder.join(format!("{}.parquet", self.files));
        self.files += 1;
        let mut file = ParquetFile::create(&path, batch.schema())?;
        file.write(batch)?;
        file.finish()?;
        Ok(path)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        if self.files > 0 {
            // A leftover costs space only, and goes with the next rebuilding of history.
            let _ = std::fs::remove_dir_all(&self.folder);
        }
    }
}
