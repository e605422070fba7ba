//! `store compact`: many small batches into few sorted files.

use std::path::PathBuf;

use clap::Args;

use crate::cli::command::Outcome;
use crate::cli::output;
use crate::domain::problem::Result;
use crate::store::Store;

/// Arguments of `store compact`.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  boretally store compact shop.store
Answers do not change; questions over many small batches become faster. Others may read and ingest meanwhile.")]
pub struct Compact {
    /// The store
    path: PathBuf,
}

impl Compact {
    pub(super) fn run(self) -> Result<Outcome> {
        let store = Store::open(&self.path)?;
        let text = match store.compact()? {
            None => format!(
                "{} is compact already; nothing was changed.\n",
                store.path().display()
            ),
            Some(done) => format!(
                "Brought {} batches with {} rows together: {} files ({:.1} MiB) became {} ({:.1} MiB).\n",
                done.batches,
                done.rows,
                done.files_before,
                mebibytes(done.bytes_before),
                done.files_after,
                mebibytes(done.bytes_after)
            ),
        };
        output::print(text.as_bytes())?;
        Ok(Outcome::Done)
    }
}

fn mebibytes(bytes: u64) -> f64 {
    bytes as f64 / (1024.0 * 1024.0)
}
