//! Rewrites many small batches into few large sorted files. Answers do not change: the same rows, with the same
//! provenance, and the same ids, so that an export ingested before is still known.

use std::path::PathBuf;

use serde::Serialize;

use super::batch::Folder;
use super::batch_writer::publish;
use super::durable::sha256;
use super::folder::Store;
use super::lock::StoreLock;
use super::snapshot::{Named, Snapshot};
use super::sort::{Limits, sort};
use super::staging::Staging;
use crate::domain::problem::{AtFile, Problem, Result};
use crate::domain::table::Table;

/// What compacting did.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Compaction {
    /// Batches whose rows were brought together.
    pub batches: u64,
    /// Rows.
    pub rows: u64,
    /// Files before.
    pub files_before: u64,
    /// Files after.
    pub files_after: u64,
    /// Bytes of those files before.
    pub bytes_before: u64,
    /// Bytes of those files after.
    pub bytes_after: u64,
}

impl Store {
    /// Brings the rows of all batches together; `None` when they are already.
    pub fn compact(&self) -> Result<Option<Compaction>> {
        self.compact_within(Limits::default())
    }

    fn compact_within(&self, limits: Limits) -> Result<Option<Compaction>> {
        let layout = self.layout();
        let lock = StoreLock::acquire(layout)?;
        let snapshot = self.shared().take_snapshot()?;
        if snapshot.live.iter().all(|n| n.folder.compacted) && snapshot.live.len() < 2 {
            return Ok(None);
        }
        let name = name_of(&snapshot);
        let staging = Staging::create(layout, &name, &lock)?;
        // Sorting takes its time; others may ingest meanwhile.
        drop(lock);
        let mut files = Vec::new();
        for table in Table::ALL {
            let inputs = snapshot.files(table);
            files.extend(sort(table, &inputs, staging.path(), limits)?);
        }
        let folder = Folder {
            members: snapshot.batches(),
            files,
            compacted: true,
            replaces: snapshot.live.iter().map(|n| n.name.clone()).collect(),
        };
        let done = Compaction {
            batches: folder.members.len() as u64,
            rows: folder.files.iter().map(|f| f.rows).sum(),
            files_before: file_count(&snapshot),
            files_after: folder.files.len() as u64,
            bytes_before: bytes(Table::ALL.into_iter().flat_map(|t| snapshot.files(t)))?,
            bytes_after: bytes(folder.files.iter().map(|f| staging.path().join(&f.name)))?,
        };
        let lock = StoreLock::acquire(layout)?;
        let now = self.shared().take_snapshot()?;
        let still = |n: &&Named| now.live.iter().any(|l| l.name == n.name);
        if snapshot.live.iter().filter(still).count() < snapshot.live.len() {
            return Err(
                Problem::data("batches were replaced while the store was compacted")
                    .file(layout.root())
                    .remedy("run `boretally store compact` again; nothing has changed"),
            );
        }
        publish(self.shared(), staging, &name, &folder, &lock)?;
        Ok(Some(done))
    }
}

/// Named after what it holds, apart from the names of single batches.
fn name_of(snapshot: &Snapshot) -> String {
    let batches = snapshot.batches();
    let ids: Vec<&str> = batches.iter().map(|b| b.id.as_str()).collect();
    let hash: String = sha256(ids.join("\n").as_bytes()).chars().take(16).collect();
    let last = batches.last().map_or(0, |b| b.seq);
    format!("{last:06}-compact-{hash}")
}

fn file_count(snapshot: &Snapshot) -> u64 {
    snapshot
        .live
        .iter()
        .map(|n| n.folder.files.len() as u64)
        .sum()
}

fn bytes(files: impl Iterator<Item = PathBuf>) -> Result<u64> {
    let mut sum = 0;
    for file in files {
        sum += std::fs::metadata(&file).at_file("read", &file)?.len();
    }
    Ok(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::sample::{account, begin, header, ingest, rows, store, visits};
    use crate::store::{Begin, durable};

    fn folders(store: &Store) -> usize {
        durable::folder_names(&store.layout().batches())
            .unwrap()
            .len()
    }

    #[test]
    fn rows_ids_and_fingerprint_stay_and_files_become_few() {
        for limits in [
            Limits::default(),
            Limits {
                run_rows: 700,
                run_bytes: usize::MAX,
                file_rows: 1500,
            },
            Limits {
                run_rows: 1,
                run_bytes: 1,
                file_rows: u64::MAX,
            },
        ] {
            let folder = tempfile::tempdir().unwrap();
            let store = store(&folder);
            for i in 0..5 {
                ingest(&store, &format!("c{i}"), 600 + i);
            }
            let before = rows(&store, Table::Visits);
            let (batches, fingerprint) = (store.batches().unwrap(), store.fingerprint().unwrap());
            let done = store.compact_within(limits).unwrap().unwrap();
            assert_eq!((done.batches, done.rows, done.files_before), (5, 3010, 5));
            assert_eq!(rows(&store, Table::Visits), before);
            assert_eq!(store.batches().unwrap(), batches);
            assert_eq!(store.fingerprint().unwrap(), fingerprint);
            assert_eq!(folders(&store), 1);
            let verified = store.verify().unwrap();
            assert!(
                verified.damage.is_empty() && verified.scrap.is_empty(),
                "{verified:?}"
            );
            assert_eq!(store.compact().unwrap(), None);
            let again = store
                .begin_batch(header("c3", "m.mapping.toml", "m1"))
                .unwrap();
            assert!(matches!(again, Begin::AlreadyThere(_)));
        }
    }

    #[test]
    fn rows_come_out_in_one_order_whatever_the_runs() {
        let hashes = [1000, 7, 1].map(|run_rows| {
            let folder = tempfile::tempdir().unwrap();
            let store = store(&folder);
            ingest(&store, "a", 40);
            ingest(&store, "b", 60);
            let limits = Limits {
                run_rows,
                run_bytes: usize::MAX,
                file_rows: u64::MAX,
            };
            store.compact_within(limits).unwrap();
            let file = &store.table_files(Table::Visits).unwrap()[0];
            let mut keys = Vec::new();
            for batch in crate::store::rewrite::read(file).unwrap() {
                use arrow::array::AsArray;
                let batch = batch.unwrap();
                let family = batch
                    .column_by_name("engine_family")
                    .unwrap()
                    .as_string::<i32>()
                    .clone();
                let vehicle = batch
                    .column_by_name("vehicle")
                    .unwrap()
                    .as_string::<i32>()
                    .clone();
                keys.extend(
                    family
                        .iter()
                        .zip(&vehicle)
                        .map(|(f, v)| (f.map(String::from), v.map(String::from))),
                );
            }
            assert!(keys.is_sorted(), "not sorted by family and vehicle");
            assert_eq!(keys.len(), 100);
            keys
        });
        assert!(hashes[0] == hashes[1] && hashes[1] == hashes[2]);
    }

    #[test]
    fn a_correction_of_a_compacted_batch_leaves_the_others() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        ingest(&store, "a", 50);
        ingest(&store, "b", 20);
        store.compact().unwrap();
        let mut writer = begin(&store, header("a", "m.mapping.toml", "m2"));
        visits(&mut writer, "right", 4);
        writer.commit(account(4)).unwrap();
        let now = rows(&store, Table::Visits);
        assert_eq!(now.len(), 24);
        assert_eq!(now.iter().filter(|r| r.starts_with("right")).count(), 4);
        assert_eq!(now.iter().filter(|r| r.starts_with('b')).count(), 20);
        assert_eq!(folders(&store), 1);
        assert!(store.verify().unwrap().damage.is_empty());
        store.compact().unwrap().unwrap();
        assert_eq!(rows(&store, Table::Visits), now);
    }

    #[test]
    fn an_ingest_during_compacting_stays() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        ingest(&store, "a", 50);
        ingest(&store, "b", 50);
        let other = Store::open(store.path()).unwrap();
        std::thread::scope(|scope| {
            scope.spawn(|| {
                store
                    .compact_within(Limits {
                        run_rows: 5,
                        ..Limits::default()
                    })
                    .unwrap()
            });
            for i in 0..4 {
                ingest(&other, &format!("late{i}"), 10);
            }
        });
        let fresh = Store::open(store.path()).unwrap();
        assert_eq!(rows(&fresh, Table::Visits).len(), 140);
        assert_eq!(fresh.batches().unwrap().len(), 6);
        assert!(fresh.verify().unwrap().damage.is_empty());
    }

    #[test]
    fn an_empty_store_has_nothing_to_compact() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(store(&folder).compact().unwrap(), None);
    }
}
