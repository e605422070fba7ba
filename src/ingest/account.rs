//! The closing account: what became of every record of every file.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::domain::problem::Problem;
use crate::store::account::BatchAccount;

/// Name and version of the account's JSON form.
pub const CONTRACT: &str = "boretally.ingest/1";

/// How a file ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Its batch is in the store now.
    Committed,
    /// The same content was ingested through the same mapping before; nothing was done.
    AlreadyThere,
    /// Nothing of it is in the store.
    Failed,
}

impl Status {
    /// The word in tables.
    pub fn id(self) -> &'static str {
        match self {
            Self::Committed => "committed",
            Self::AlreadyThere => "already there",
            Self::Failed => "failed",
        }
    }
}

/// One file through one mapping. `read` = `kept` + `flagged` + `duplicate` + `quarantined`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileAccount {
    /// The file as it was given.
    pub file: String,
    /// The mapping file.
    pub mapping: String,
    /// Id of the batch, if there is one.
    pub batch: Option<String>,
    /// How it ended.
    pub status: Status,
    /// Records read.
    pub read: u64,
    /// Records used as they are.
    pub kept: u64,
    /// Records used, of which a rule noticed something.
    pub flagged: u64,
    /// Records that were there already in the same version.
    pub duplicate: u64,
    /// Records of which at least one row could not be used.
    pub quarantined: u64,
    /// Records (among kept and flagged) that change an older version.
    pub edited: u64,
    /// Records by reason of quarantine; a flagged record may stand here for an optional field.
    pub reasons: BTreeMap<String, u64>,
    /// Records by rule that noticed something.
    pub flags: BTreeMap<String, u64>,
    /// Rows written by table.
    pub tables: BTreeMap<String, u64>,
    /// Words that were not understood, by field, with how often: the next lines of a code list or of families.toml.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub unmatched: BTreeMap<String, BTreeMap<String, u64>>,
    /// What was detected and what looks odd.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
    /// Why it failed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub problem: Option<String>,
}

impl FileAccount {
    /// An account of nothing yet.
    pub fn new(file: String, mapping: String, status: Status) -> Self {
        Self {
            file,
            mapping,
            batch: None,
            status,
            read: 0,
            kept: 0,
            flagged: 0,
            duplicate: 0,
            quarantined: 0,
            edited: 0,
            reasons: BTreeMap::new(),
            flags: BTreeMap::new(),
            tables: BTreeMap::new(),
            unmatched: BTreeMap::new(),
            notes: Vec::new(),
            problem: None,
        }
    }

    /// The account of a file that failed.
    pub fn failed(file: String, mapping: String, problem: &Problem) -> Self {
        Self {
            problem: Some(problem.to_string()),
            ..Self::new(file, mapping, Status::Failed)
        }
    }

    /// What the store keeps of it.
    pub fn of_batch(&self) -> BatchAccount {
        BatchAccount {
            read: self.read,
            kept: self.kept,
            flagged: self.flagged,
            duplicate: self.duplicate,
            quarantined: self.quarantined,
            edited: self.edited,
            reasons: self.reasons.clone(),
            flags: self.flags.clone(),
            rows: self.tables.clone(),
        }
    }

    /// Takes over what the store kept of an earlier ingest.
    pub fn with_batch(mut self, batch: &BatchAccount) -> Self {
        self.read = batch.read;
        self.kept = batch.kept;
        self.flagged = batch.flagged;
        self.duplicate = batch.duplicate;
        self.quarantined = batch.quarantined;
        self.edited = batch.edited;
        self.reasons = batch.reasons.clone();
        self.flags = batch.flags.clone();
        self.tables = batch.rows.clone();
        self
    }
}

/// Sums over the files that are in the store after this run.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Totals {
    /// Files of this run.
    pub files: u64,
    /// Of these, files that failed.
    pub failed: u64,
    /// Of these, files that were there already; their records are not summed.
    pub already_there: u64,
    /// Records read.
    pub read: u64,
    /// Records used as they are.
    pub kept: u64,
    /// Records used, of which a rule noticed something.
    pub flagged: u64,
    /// Records that were there already.
    pub duplicate: u64,
    /// Records in quarantine.
    pub quarantined: u64,
    /// Records that change an older version.
    pub edited: u64,
}

/// The whole account of one run.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Account {
    /// File by file, in the order they were read.
    pub files: Vec<FileAccount>,
    /// Sums.
    pub totals: Totals,
}

impl Account {
    /// Sums up.
    pub fn new(files: Vec<FileAccount>) -> Self {
        let mut totals = Totals {
            files: files.len() as u64,
            ..Totals::default()
        };
        for file in &files {
            match file.status {
                Status::Committed => {
                    totals.read += file.read;
                    totals.kept += file.kept;
                    totals.flagged += file.flagged;
                    totals.duplicate += file.duplicate;
                    totals.quarantined += file.quarantined;
                    totals.edited += file.edited;
                }
                Status::AlreadyThere => totals.already_there += 1,
                Status::Failed => totals.failed += 1,
            }
        }
        Self { files, totals }
    }
}
