//! What is known of a batch: where it came from, what became of its records, and which files hold its rows.
//!
//! A folder under `batches/` holds one ingested batch, or many that were compacted into few files; either way its
//! `batch.json` lists the batches in it (`members`) and the folders it stands in for (`replaces`). One rename of one
//! file therefore switches readers from the old folders to the new one.

use serde::{Deserialize, Serialize};

use super::account::BatchAccount;
use super::durable::sha256;
use super::layout::Layout;
use super::table_writer::TableFile;
use crate::domain::day::Day;
use crate::domain::problem::{AtFile, Problem, Result};

/// Where a batch comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BatchHeader {
    /// The system the export came from.
    pub source: String,
    /// File name of the export.
    pub file: String,
    /// SHA-256 of the export's content, in hexadecimal.
    pub content_hash: String,
    /// Name of the mapping file.
    pub mapping: String,
    /// SHA-256 over everything that decided how the file was read (mapping, families, catalog, version of the rules).
    pub mapping_hash: String,
    /// Day of the export, where the mapping tells it for the whole file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub export_date: Option<Day>,
}

impl BatchHeader {
    /// The batch's id: the same content read in the same way is the same batch.
    pub fn id(&self) -> String {
        let whole = sha256(format!("{}\n{}\n", self.content_hash, self.mapping_hash).as_bytes());
        whole.chars().take(16).collect()
    }

    /// Whether this is the same export through the same mapping file, whose text may have been corrected since.
    pub(super) fn supersedes(&self, older: &BatchHeader) -> bool {
        self.content_hash == older.content_hash
            && self.mapping == older.mapping
            && self.mapping_hash != older.mapping_hash
    }
}

/// One ingested batch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BatchInfo {
    /// Id from content and mapping.
    pub id: String,
    /// Sequence number in its store; the value of the column `batch`.
    pub seq: i64,
    /// Where it comes from.
    #[serde(flatten)]
    pub header: BatchHeader,
    /// What became of its records.
    pub account: BatchAccount,
}

/// What a `batch.json` holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Folder {
    /// The batches whose rows are in this folder, by sequence number.
    pub members: Vec<BatchInfo>,
    /// The files with the rows.
    pub files: Vec<TableFile>,
    /// Whether the rows were sorted by compacting.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub compacted: bool,
    /// Names of the folders this one stands in for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub replaces: Vec<String>,
}

impl Folder {
    /// Reads the `batch.json` of the folder called `name`.
    pub fn load(layout: &Layout, name: &str) -> Result<Self> {
        let file = layout.batch_info(name);
        let text = std::fs::read_to_string(&file).at_file("read the batch", &file)?;
        serde_json::from_str(&text).map_err(|e| {
            Problem::data(format!("the batch's description is damaged: {e}"))
                .file(&file)
                .line(e.line() as u64)
                .remedy(
                    "restore the folder from a backup, or remove it and ingest its export again",
                )
        })
    }

    /// The text of `batch.json`.
    pub fn to_json(&self) -> Result<String> {
        let text = serde_json::to_string_pretty(self)
            .map_err(|e| Problem::data(format!("could not describe the batch: {e}")))?;
        Ok(text + "\n")
    }
}
