//! What a record is to the records there are: new, another version of one, or the same once more.
//!
//! The rows of a file are sorted by key and walked through the store's runs of versions in step, once, when all of them are read
//! and it is the file's turn: the answer is that of a set of every row ever read, in the order they were read. Memory does not grow
//! with the store, with the file by half a byte a record, and time with the rows read and the hashes there are.

use std::collections::BTreeSet;

use crate::domain::problem::{Problem, Result};
use crate::ingest::translate::Row;
use crate::store::batch_writer::{BatchWriter, folder_name};
use crate::store::versions::{Builder, Entry, Index, Row as Sorted, Sorter, Walk};
use crate::store::{BatchHeader, BatchInfo, Store};

use super::judged::Judged;
use super::older;
use super::portion::Count;
use super::turn::Turn;

/// How often hashes are looked for again that another process took away while merging.
const PATIENCE: usize = 10;

/// Rows of a file whose hashes are held in memory, 16 bytes each, before they go to disk.
pub const HELD: usize = 1 << 20;

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
    pub fn of(row: &Row) -> Self {
        Self {
            digest: row.digest as u64,
            key: row.key,
        }
    }
}

/// Records of a file that are not new.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Repeats {
    /// Records without a flag that are duplicates: every row is there already in the same version.
    pub kept: u64,
    /// Records with a flag that are duplicates.
    pub flagged: u64,
    /// Records that change an older version: at least one row has the key of a row that is there, and other content.
    pub edited: u64,
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

/// Judges the records of one file. Dropping it leaves no trace.
pub struct Judge<'t> {
    turn: &'t mut Turn,
    store: Store,
    seq: i64,
    superseded: Option<i64>,
    /// Holds so many rows in memory; the answer does not depend on it.
    held: usize,
    /// Rows by key; their numbers are those that `records` gave.
    rows: Sorter,
    records: Judged,
    builder: Builder,
    /// What the rows were compared with.
    index: Option<Index>,
}

impl<'t> Judge<'t> {
    /// For the file of a batch.
    pub(super) fn new(
        turn: &'t mut Turn,
        store: &Store,
        batch: &BatchWriter,
        superseded: Option<i64>,
        held: usize,
    ) -> Result<Self> {
        let name = folder_name(batch.seq(), &batch.header().id());
        let builder = Builder::new(store, &name, vec![name.clone()])?;
        Ok(Self {
            turn,
            store: store.clone(),
            seq: batch.seq(),
            superseded,
            held,
            rows: builder.sorter(held),
            records: Judged::default(),
            builder,
            index: None,
        })
    }

    /// Takes up the next record of the file.
    pub(super) fn add(&mut self, count: Count, versions: &[Version]) -> Result<()> {
        let number = self.records.add(count, versions.len())?;
        for version in versions {
            self.rows.add(version.key, version.digest, number)?;
        }
        Ok(())
    }

    /// What became of the records, after the last; waits until it is this file's turn.
    pub fn repeats(&mut self) -> Result<Repeats> {
        let index = self.index()?;
        let mut walks = index.walks();
        let rows = std::mem::replace(&mut self.rows, self.builder.sorter(self.held));
        let mut contents = BTreeSet::new();
        let records = &mut self.records;
        self.builder.write(rows, |key, rows, out| {
            find(key, rows, &mut walks, &mut contents, records)?;
            rows.iter()
                .try_for_each(|row| out.add(Entry::new(key, row.content(), 0)))
        })?;
        drop(walks);
        self.index = Some(index);
        Ok(self.records.repeats())
    }

    /// The hashes of all that is in the store; those that are not there are made first.
    fn index(&mut self) -> Result<Index> {
        let mut index = self.turn.take();
        let mut tries = 0..PATIENCE;
        loop {
            let missing = index.refresh(&self.store, self.superseded)?;
            if missing.is_empty() {
                return Ok(index);
            }
            // Another process may take away what was just made, merged with its own.
            if tries.next().is_none() {
                return Err(Problem::data(format!(
                    "the hashes of {} batches are not in the store, though they were made {PATIENCE} times: other processes keep \
                     taking them away",
                    missing.len()
                ))
                .file(self.store.layout().versions())
                .remedy("ingest again when no other ingest is running"));
            }
            let builder = Builder::new(&self.store, &format!("older-{}", self.seq), missing)?;
            older::read(&self.store, builder, self.held)?.finish(&mut index)?;
        }
    }

    /// Remembers the rows, now that the batch counts.
    pub fn keep(self, batch: &BatchInfo) -> Result<()> {
        let Some(mut index) = self.index else {
            return Ok(());
        };
        // Where another process committed the same file first, its batch counts.
        if batch.seq == self.seq {
            self.builder.finish(&mut index)?;
        }
        self.turn.give_back(index);
        Ok(())
    }
}

/// Compares the rows of one key with those there are and, in the order they were read, with each other.
fn find(
    key: u64,
    rows: &mut [Sorted],
    walks: &mut [Walk],
    contents: &mut BTreeSet<u64>,
    records: &mut Judged,
) -> Result<()> {
    contents.clear();
    for walk in walks {
        walk.entries(key, |entry| {
            contents.insert(entry.content());
        })?;
    }
    let several = rows.len() > 1;
    if several {
        rows.sort_unstable_by_key(|row| row.number());
    }
    for row in rows.iter() {
        if contents.contains(&row.content()) {
            records.is_old(row.number());
        } else {
            records.is_new(row.number(), !contents.is_empty());
        }
        if several {
            contents.insert(row.content());
        }
    }
    if several {
        rows.sort_unstable();
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;
    use crate::store::{BatchAccount, Begin, InitOptions};

    /// The same by two sets of all rows, in the order they were read.
    #[derive(Default)]
    struct Twin {
        digests: HashSet<u64>,
        keys: HashSet<u64>,
    }

    impl Twin {
        fn judge(&mut self, files: &[(Count, Vec<Version>)]) -> Repeats {
            let mut repeats = Repeats::default();
            for (count, versions) in files {
                let (mut is_new, mut is_edit) = (false, false);
                for version in versions {
                    let new_digest = self.digests.insert(version.digest);
                    let new_key = self.keys.insert(version.key);
                    is_new |= new_digest;
                    is_edit |= new_digest && !new_key;
                }
                match count {
                    Count::Quarantined => {}
                    _ if is_edit => repeats.edited += 1,
                    Count::Kept => repeats.kept += u64::from(!is_new),
                    Count::Flagged => repeats.flagged += u64::from(!is_new),
                }
            }
            repeats
        }
    }

    /// Records of one to three rows, of few keys with few contents each.
    fn records(random: &mut impl FnMut(u64) -> u64, n: u64) -> Vec<(Count, Vec<Version>)> {
        let counts = [Count::Kept, Count::Flagged, Count::Quarantined];
        let mut record = |_| {
            let versions = (0..=random(3)).map(|_| {
                let key =
                    crate::ingest::translate::digest_of_texts(&[&random(40).to_string()]) as u64;
                Version {
                    key,
                    digest: key.rotate_left(17) ^ random(3) << 8,
                }
            });
            let versions = versions.collect();
            (counts[random(3) as usize], versions)
        };
        (0..n).map(&mut record).collect()
    }

    #[test]
    fn sorted_rows_and_runs_judge_as_two_sets_of_all_rows_would() {
        for (held, files, size) in [(1, 4, 20), (600, 30, 12), (1 << 20, 9, 60), (1000, 3, 900)] {
            let folder = tempfile::tempdir().unwrap();
            let store = Store::init(folder.path().join("s"), &InitOptions::default()).unwrap();
            let mut last = Turn::first(Index::default());
            let mut twin = Twin::default();
            let mut state = held as u64;
            // Knuth's MMIX generator, The Art of Computer Programming 2, 3.3.4 table 1 line 26.
            let mut random = |below: u64| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                (state >> 33) % below
            };
            for i in 0..files {
                let header = BatchHeader {
                    source: "desk".into(),
                    file: format!("{i}.csv"),
                    content_hash: i.to_string(),
                    mapping: "m".into(),
                    mapping_hash: "m1".into(),
                    export_date: None,
                };
                let Begin::New(batch) = store.begin_batch(header).unwrap() else {
                    panic!("a new batch");
                };
                let mut turn = Turn::behind(&mut last);
                let mut judge = Judge::new(&mut turn, &store, &batch, None, held).unwrap();
                let records = records(&mut random, size);
                for (count, versions) in &records {
                    judge.add(*count, versions).unwrap();
                }
                assert_eq!(
                    judge.repeats().unwrap(),
                    twin.judge(&records),
                    "file {i}, {held} rows held"
                );
                let info = batch.commit(BatchAccount::default()).unwrap();
                judge.keep(&info).unwrap();
            }
            let runs = std::fs::read_dir(store.layout().versions())
                .unwrap()
                .count();
            assert!(runs <= 8, "{runs} runs after {files} files");
        }
    }
}
