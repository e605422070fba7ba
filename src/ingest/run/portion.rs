//! Some hundred records of one file: as they were read, and what translating them gave.
//!
//! Records are translated on several threads and taken up in the order of the file, so that nothing depends on which thread was
//! quicker.

use std::collections::BTreeMap;

use arrow::record_batch::RecordBatch;

use crate::domain::table::Table;
use crate::ingest::account::FileAccount;
use crate::ingest::read::{Damage, Progress, RawRecord};

use super::known::Version;

/// Records of one portion: few enough that what one thread has read is still in the cache of another that translates it.
pub(super) const RECORDS: usize = 512;

/// Different unknown words of one field that the account lists.
const MOST_UNMATCHED: usize = 200;

/// Records as they were read; the buffers are used again.
#[derive(Default)]
pub(super) struct Records {
    buffers: Vec<RawRecord>,
    /// By record: its line, unique within the file, and what is wrong with it; a damaged one has no content.
    found: Vec<(u64, Option<Damage>)>,
    /// How far the file was read after the last of them.
    pub(super) progress: Option<Progress>,
}

impl Records {
    /// Makes it empty; the buffers stay.
    pub(super) fn clear(&mut self) {
        self.found.clear();
        self.progress = None;
    }

    /// Whether it holds as many records as a portion has.
    pub(super) fn is_full(&self) -> bool {
        self.found.len() >= RECORDS
    }

    /// Whether it holds none.
    pub(super) fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// The buffer that the next record is to be read into.
    pub(super) fn next(&mut self) -> &mut RawRecord {
        let at = self.found.len();
        if self.buffers.len() <= at {
            self.buffers.resize_with(at + 1, RawRecord::new);
        }
        &mut self.buffers[at]
    }

    /// Counts what was read into [`Self::next`] as a record.
    pub(super) fn add(&mut self, line: u64, damage: Option<Damage>) {
        self.found.push((line, damage));
    }

    /// The records in order, each with its line and, if so, its damage.
    pub(super) fn iter(&self) -> impl Iterator<Item = (u64, &RawRecord, Option<&Damage>)> {
        let found = self.found.iter().zip(&self.buffers);
        found.map(|((line, damage), record)| (*line, record, damage.as_ref()))
    }
}

/// How a record counts if the store does not know it yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Count {
    Kept,
    Flagged,
    /// Counted already, among those of which something could not be used.
    Quarantined,
}

/// What translating gave.
pub(super) struct Portion {
    /// Rows by table.
    pub(super) rows: BTreeMap<Table, RecordBatch>,
    /// Counts of what does not depend on the records before.
    pub(super) read: u64,
    pub(super) quarantined: u64,
    pub(super) reasons: BTreeMap<&'static str, u64>,
    pub(super) flags: BTreeMap<&'static str, u64>,
    pub(super) unmatched: Vec<(&'static str, String)>,
    /// By used column of the plan: whether it ever had a value.
    pub(super) seen: Vec<bool>,
    /// The records that have rows, and how many of `versions` each has.
    pub(super) records: Vec<(Count, usize)>,
    /// The stored rows' versions, record after record.
    pub(super) versions: Vec<Version>,
    /// How far the file was read.
    pub(super) progress: Option<Progress>,
}

impl Portion {
    /// Nothing yet, of a plan with so many used columns.
    pub(super) fn new(used_columns: usize) -> Self {
        Self {
            rows: BTreeMap::new(),
            read: 0,
            quarantined: 0,
            reasons: BTreeMap::new(),
            flags: BTreeMap::new(),
            unmatched: Vec::new(),
            seen: vec![false; used_columns],
            records: Vec::new(),
            versions: Vec::new(),
            progress: None,
        }
    }

    /// Adds its counts to the account of the file.
    pub(super) fn count_in(&self, account: &mut FileAccount) {
        account.read += self.read;
        account.quarantined += self.quarantined;
        for (reason, n) in &self.reasons {
            *account.reasons.entry((*reason).to_owned()).or_default() += n;
        }
        for (flag, n) in &self.flags {
            *account.flags.entry((*flag).to_owned()).or_default() += n;
        }
        for (field, word) in &self.unmatched {
            count_word(&mut account.unmatched, field, word);
        }
    }
}

fn count_word(unmatched: &mut BTreeMap<String, BTreeMap<String, u64>>, field: &str, word: &str) {
    let words = unmatched.entry(field.to_owned()).or_default();
    if let Some(count) = words.get_mut(word) {
        *count += 1;
    } else if words.len() < MOST_UNMATCHED {
        words.insert(word.to_owned(), 1);
    }
}
