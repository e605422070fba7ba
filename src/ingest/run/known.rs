//! What a record is to the records there are: new, another version of one, or the same once more.
//!
//! Rows are gathered, some million at a time, sorted, and walked through the store's runs of versions and the earlier portions of
//! their own file: the answer is that of a set of every row ever read, in the order they were read, in memory that does not grow
//! with the store.

use std::collections::BTreeSet;

use crate::domain::problem::{Problem, Result};
use crate::ingest::translate::Row;
use crate::store::batch_writer::{BatchWriter, folder_name};
use crate::store::versions::{Builder, Entry, Index, Walk};
use crate::store::{BatchHeader, BatchInfo, Store};

use super::older;
use super::portion::Count;
use super::turn::Turn;

/// How often hashes are looked for again that another process took away while merging.
const PATIENCE: usize = 10;

/// Rows compared at a time: 16 bytes each, and 3 for a record. Every time all hashes of the store are walked through, so that fewer at a
/// time cost more the larger the store is.
pub const PORTION: usize = 2_000_000;

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

/// What is found out about a record of the portion.
#[derive(Clone, Copy)]
struct Found {
    count: Count,
    is_new: bool,
    is_edit: bool,
}

/// Judges the records of one file. Dropping it leaves no trace.
pub struct Judge<'t> {
    turn: &'t mut Turn,
    store: Store,
    seq: i64,
    name: String,
    superseded: Option<i64>,
    /// Since it was this file's turn.
    judging: Option<Judging>,
    /// Compares so many rows at a time; the answer does not depend on it.
    portion: usize,
    /// Rows of the portion; tags are places in `records`.
    rows: Vec<Entry>,
    records: Vec<Found>,
    repeats: Repeats,
}

/// What records are judged by, and what remembers them.
struct Judging {
    index: Index,
    builder: Builder,
}

impl Judging {
    /// Hashes of older batches that are not there are made first.
    fn begin(judge: &mut Judge) -> Result<Self> {
        let mut index = judge.turn.take();
        let (store, name, superseded) = (&judge.store, &judge.name, judge.superseded);
        let mut tries = 0..PATIENCE;
        loop {
            let missing = index.refresh(store, superseded)?;
            if missing.is_empty() {
                break;
            }
            // Another process may take away what was just made, merged with its own.
            if tries.next().is_none() {
                return Err(Problem::data(format!(
                    "the hashes of {} batches are not in the store, though they were made {PATIENCE} times: other processes keep \
                     taking them away",
                    missing.len()
                ))
                .file(store.layout().versions())
                .remedy("ingest again when no other ingest is running"));
            }
            let builder = Builder::new(store, &format!("{name}-older"), missing)?;
            older::read(store, builder, judge.portion)?.finish(&mut index)?;
        }
        let builder = Builder::new(store, name, vec![name.clone()])?;
        Ok(Self { index, builder })
    }
}

impl<'t> Judge<'t> {
    /// For the file of a batch.
    pub(super) fn new(
        turn: &'t mut Turn,
        store: &Store,
        batch: &BatchWriter,
        superseded: Option<i64>,
        portion: usize,
    ) -> Self {
        Self {
            turn,
            store: store.clone(),
            seq: batch.seq(),
            name: folder_name(batch.seq(), &batch.header().id()),
            superseded,
            judging: None,
            portion: portion.clamp(1, Entry::TAGS as usize / 2),
            rows: Vec::new(),
            records: Vec::new(),
            repeats: Repeats::default(),
        }
    }

    /// Takes up the next record of the file.
    pub(super) fn add(&mut self, count: Count, versions: &[Version]) -> Result<()> {
        let tag = self.records.len() as u32;
        self.records.push(Found {
            count,
            is_new: false,
            is_edit: false,
        });
        self.rows
            .extend(versions.iter().map(|v| Entry::new(v.key, v.digest, tag)));
        if self.rows.len() >= self.portion || self.records.len() >= self.portion {
            self.settle()?;
        }
        Ok(())
    }

    /// What became of the records, after the last.
    pub fn repeats(&mut self) -> Result<Repeats> {
        self.settle()?;
        Ok(self.repeats)
    }

    /// Remembers the rows, now that the batch counts.
    pub fn keep(self, batch: &BatchInfo) -> Result<()> {
        let Some(Judging { mut index, builder }) = self.judging else {
            return Ok(());
        };
        // Where another process committed the same file first, its batch counts.
        if batch.seq == self.seq {
            builder.finish(&mut index)?;
        }
        self.turn.give_back(index);
        Ok(())
    }

    /// Waits until it is this file's turn.
    fn settle(&mut self) -> Result<()> {
        let mut judging = match self.judging.take() {
            Some(judging) => judging,
            None => Judging::begin(self)?,
        };
        self.rows.sort_unstable();
        let mut walks = judging.index.walks();
        walks.extend(judging.builder.portions().iter().map(|run| run.walk()));
        let mut contents = BTreeSet::new();
        for same_key in self.rows.chunk_by_mut(|a, b| a.key() == b.key()) {
            find(same_key, &mut walks, &mut contents, &mut self.records)?;
        }
        drop(walks);
        for found in &self.records {
            let repeats = match found.count {
                Count::Kept => &mut self.repeats.kept,
                Count::Flagged => &mut self.repeats.flagged,
                Count::Quarantined => continue,
            };
            if found.is_edit {
                self.repeats.edited += 1;
            } else if !found.is_new {
                *repeats += 1;
            }
        }
        let rows = self.rows.iter().map(|row| row.with_tag(0));
        judging.builder.write(rows)?;
        self.judging = Some(judging);
        self.rows.clear();
        self.records.clear();
        Ok(())
    }
}

/// Compares the rows of one key with those there are and, in the order they were read, with each other.
fn find(
    rows: &mut [Entry],
    walks: &mut [Walk],
    contents: &mut BTreeSet<u64>,
    records: &mut [Found],
) -> Result<()> {
    let Some(key) = rows.first().map(|row| row.key()) else {
        return Ok(());
    };
    contents.clear();
    for walk in walks {
        walk.entries(key, |entry| {
            contents.insert(entry.content());
        })?;
    }
    let several = rows.len() > 1;
    if several {
        rows.sort_unstable_by_key(|row| row.tag());
    }
    for row in rows.iter() {
        let is_first = contents.is_empty();
        if let Some(found) = records.get_mut(row.tag() as usize)
            && !contents.contains(&row.content())
        {
            found.is_new = true;
            found.is_edit |= !is_first;
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
    fn portions_and_runs_judge_as_two_sets_of_all_rows_would() {
        for (portion, files, size) in [(1, 4, 20), (7, 30, 12), (1000, 9, 60), (50, 3, 400)] {
            let folder = tempfile::tempdir().unwrap();
            let store = Store::init(folder.path().join("s"), &InitOptions::default()).unwrap();
            let mut last = Turn::first(Index::default());
            let mut twin = Twin::default();
            let mut state = portion as u64;
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
                let mut judge = Judge::new(&mut turn, &store, &batch, None, portion);
                let records = records(&mut random, size);
                for (count, versions) in &records {
                    judge.add(*count, versions).unwrap();
                }
                assert_eq!(
                    judge.repeats().unwrap(),
                    twin.judge(&records),
                    "file {i} in portions of {portion}"
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
