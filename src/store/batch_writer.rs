//! Takes a batch in: rows into staging, files completed, then, under the lock, one switch that makes it count.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use super::account::BatchAccount;
use super::batch::{BatchHeader, BatchInfo, Folder};
use super::durable::{self, remove_folder};
use super::folder::Shared;
use super::lock::StoreLock;
use super::origin::Origin;
use super::replace;
use super::scrap;
use super::staging::Staging;
use super::table_writer::{TableFile, TableWriter};
use crate::domain::problem::{Problem, Result};
use crate::domain::table::Table;

/// What `begin_batch` finds.
pub enum Begin {
    /// The same content was ingested in the same way before; there is nothing to do.
    AlreadyThere(Box<BatchInfo>),
    /// A batch to be filled.
    New(Box<BatchWriter>),
}

/// A batch being filled. Dropping it leaves no trace.
pub struct BatchWriter {
    shared: Arc<Shared>,
    staging: Staging,
    header: BatchHeader,
    seq: i64,
    origin: Arc<Origin>,
    tables: BTreeMap<Table, TableWriter>,
}

impl BatchWriter {
    pub(super) fn begin(shared: &Arc<Shared>, header: BatchHeader) -> Result<Begin> {
        let lock = StoreLock::acquire(&shared.layout)?;
        scrap::clear(&shared.layout, &lock)?;
        let snapshot = shared.take_snapshot()?;
        if let Some(info) = snapshot.find(&header.id()) {
            return Ok(Begin::AlreadyThere(Box::new(info.clone())));
        }
        let seq = shared.next_sequence(&snapshot, &lock)?;
        let staging = Staging::create(&shared.layout, &folder_name(seq, &header.id()), &lock)?;
        let origin = Arc::new(Origin {
            source: header.source.clone(),
            file: header.file.clone(),
            export_date: header.export_date,
            batch: seq,
        });
        let writer = |t| (t, TableWriter::new(t, staging.path(), &origin));
        let tables = Table::ALL.into_iter().map(writer).collect();
        Ok(Begin::New(Box::new(Self {
            shared: shared.clone(),
            staging,
            header,
            seq,
            origin,
            tables,
        })))
    }

    /// The batch's sequence number.
    pub fn seq(&self) -> i64 {
        self.seq
    }

    /// The batch's header.
    pub fn header(&self) -> &BatchHeader {
        &self.header
    }

    /// Makes buffers for rows of the batch that are filled elsewhere, see [`TableWriter::append`].
    pub fn origin(&self) -> Arc<Origin> {
        self.origin.clone()
    }

    /// The writer of one table.
    pub fn sink(&mut self, table: Table) -> Result<&mut TableWriter> {
        self.tables
            .get_mut(&table)
            .ok_or_else(|| Problem::data("a batch has no such table").field(table.name()))
    }

    /// Completes the files; the batch does not count yet.
    pub fn finish(self) -> Result<FinishedBatch> {
        let mut files = Vec::new();
        for writer in self.tables.into_values() {
            files.extend(writer.finish()?);
        }
        Ok(FinishedBatch {
            shared: self.shared,
            staging: self.staging,
            header: self.header,
            seq: self.seq,
            files,
        })
    }

    /// Completes the files and makes the batch count.
    pub fn commit(self, account: BatchAccount) -> Result<BatchInfo> {
        self.finish()?.commit(account)
    }
}

/// A batch whose files are complete and can be queried, and that does not count yet. Dropping it leaves no trace.
pub struct FinishedBatch {
    shared: Arc<Shared>,
    staging: Staging,
    header: BatchHeader,
    seq: i64,
    files: Vec<TableFile>,
}

impl FinishedBatch {
    /// The batch's sequence number.
    pub fn seq(&self) -> i64 {
        self.seq
    }

    /// The batch's header.
    pub fn header(&self) -> &BatchHeader {
        &self.header
    }

    /// The completed files of a table; none when it has no rows.
    pub fn files(&self, table: Table) -> Vec<PathBuf> {
        let own = self.files.iter().filter(|f| f.table == table.name());
        own.map(|f| self.staging.path().join(&f.name)).collect()
    }

    /// Rows of a table.
    pub fn rows(&self, table: Table) -> u64 {
        let own = self.files.iter().filter(|f| f.table == table.name());
        own.map(|f| f.rows).sum()
    }

    /// Makes the batch count. If another process committed the same batch meanwhile, that one stays and is given back.
    pub fn commit(self, mut account: BatchAccount) -> Result<BatchInfo> {
        account.check()?;
        for table in Table::ALL {
            match self.rows(table) {
                0 => account.rows.remove(table.name()),
                n => account.rows.insert(table.name().to_string(), n),
            };
        }
        let info = BatchInfo {
            id: self.header.id(),
            seq: self.seq,
            header: self.header,
            account,
        };
        let lock = StoreLock::acquire(&self.shared.layout)?;
        let snapshot = self.shared.take_snapshot()?;
        if let Some(there) = snapshot.find(&info.id) {
            return Ok(there.clone());
        }
        let mut folder = Folder {
            members: vec![info.clone()],
            files: self.files,
            compacted: false,
            replaces: Vec::new(),
        };
        replace::take_over(&snapshot, &self.shared.layout, &self.staging, &mut folder)?;
        let name = folder_name(info.seq, &info.id);
        publish(&self.shared, self.staging, &name, &folder, &lock)?;
        Ok(info)
    }
}

/// Puts a staged folder in its place; its description, written last, makes it count.
pub(super) fn publish(
    shared: &Shared,
    staging: Staging,
    name: &str,
    folder: &Folder,
    lock: &StoreLock,
) -> Result<()> {
    let place = shared.layout.batch(name);
    // Only a crash between the two steps below leaves a folder without description here.
    remove_folder(&place)?;
    staging.put(&place, lock)?;
    durable::write(
        &shared.layout.batch_info(name),
        folder.to_json()?.as_bytes(),
    )?;
    shared.forget_snapshot();
    shared.clear_replaced(lock)?;
    Ok(())
}

/// Folders sort by the order in which their batches came.
pub fn folder_name(seq: i64, id: &str) -> String {
    format!("{seq:06}-{id}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Store;
    use crate::store::sample::{account, begin, header, ingest, rows, store, visits};

    #[test]
    fn rows_come_back_with_their_origin() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        let info = ingest(&store, "a", 40_000);
        assert_eq!(info.account.rows["visits"], 40_000);
        assert_eq!(store.batches().unwrap(), std::slice::from_ref(&info));
        let rows = rows(&store, Table::Visits);
        assert_eq!(rows.len(), 40_000);
        let ends = format!("|desk|a.csv|2|2022-01-08|{}", info.seq);
        assert!(rows.iter().any(|r| r.ends_with(&ends)), "{}", rows[0]);
        assert!(store.table_files(Table::Cases).unwrap().is_empty());
        assert!(
            durable::folder_names(&store.layout().staging())
                .unwrap()
                .is_empty()
        );
    }

    #[test]
    fn the_same_content_read_in_the_same_way_is_there_already() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        let info = ingest(&store, "a", 3);
        let before = store.fingerprint().unwrap();
        let again = store
            .begin_batch(header("a", "m.mapping.toml", "m1"))
            .unwrap();
        assert!(matches!(again, Begin::AlreadyThere(there) if *there == info));
        let other_name = BatchHeader {
            file: "copy.csv".into(),
            ..header("a", "m.mapping.toml", "m1")
        };
        assert!(matches!(
            store.begin_batch(other_name).unwrap(),
            Begin::AlreadyThere(_)
        ));
        assert_eq!(store.fingerprint().unwrap(), before);
        ingest(&store, "b", 3);
        assert_ne!(store.fingerprint().unwrap(), before);
    }

    #[test]
    fn two_writers_of_the_same_content_leave_one_batch() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        let mut one = begin(&store, header("a", "m", "m1"));
        let mut two = begin(&store, header("a", "m", "m1"));
        assert_ne!(one.seq(), two.seq());
        visits(&mut one, "a", 5);
        visits(&mut two, "a", 5);
        let second = two.commit(account(5)).unwrap();
        let first = one.commit(account(5)).unwrap();
        assert_eq!(first, second);
        assert_eq!(rows(&store, Table::Visits).len(), 5);
        assert!(
            durable::folder_names(&store.layout().staging())
                .unwrap()
                .is_empty()
        );
    }

    #[test]
    fn a_finished_batch_can_be_queried_before_it_counts() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        let mut writer = begin(&store, header("a", "m", "m1"));
        visits(&mut writer, "a", 5);
        let done = writer.finish().unwrap();
        let files = done.files(Table::Visits);
        assert!(files.len() == 1 && files[0].is_file());
        assert_eq!((done.rows(Table::Visits), done.rows(Table::Tests)), (5, 0));
        assert!(done.files(Table::Tests).is_empty());
        assert!(store.batches().unwrap().is_empty());
        drop(done);
        assert!(!files[0].exists());
        assert!(
            durable::folder_names(&store.layout().staging())
                .unwrap()
                .is_empty()
        );
    }

    #[test]
    fn an_account_that_does_not_balance_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        let writer = begin(&store, header("a", "m", "m1"));
        let wrong = BatchAccount {
            read: 2,
            kept: 1,
            ..Default::default()
        };
        assert!(writer.commit(wrong).is_err());
        assert!(store.batches().unwrap().is_empty());
    }

    #[test]
    fn a_corrected_mapping_replaces_the_wrong_reading() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        ingest(&store, "a", 5);
        ingest(&store, "b", 2);
        let mut writer = begin(&store, header("a", "m.mapping.toml", "m2"));
        visits(&mut writer, "right", 4);
        writer.commit(account(4)).unwrap();
        let files: Vec<_> = store
            .batches()
            .unwrap()
            .iter()
            .map(|b| b.header.file.clone())
            .collect();
        assert_eq!(files, ["b.csv", "a.csv"]);
        assert_eq!(rows(&store, Table::Visits).len(), 6);
        // Another mapping of the same file is another reading, not a correction.
        let mut writer = begin(&store, header("a", "other.mapping.toml", "m3"));
        visits(&mut writer, "more", 1);
        writer.commit(account(1)).unwrap();
        assert_eq!(rows(&store, Table::Visits).len(), 7);
    }

    #[test]
    fn the_same_rows_give_the_same_bytes() {
        let one = tempfile::tempdir().unwrap();
        let two = tempfile::tempdir().unwrap();
        let hashes = [&one, &two].map(|folder| {
            let store = store(folder);
            ingest(&store, "a", 300);
            durable::sha256_file(&store.table_files(Table::Visits).unwrap()[0]).unwrap()
        });
        assert_eq!(hashes[0], hashes[1]);
    }

    #[test]
    fn many_threads_commit_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = store(&folder).path().to_path_buf();
        std::thread::scope(|scope| {
            for t in 0..6 {
                let path = &path;
                scope.spawn(move || {
                    let store = Store::open(path).unwrap();
                    for i in 0..3 {
                        ingest(&store, &format!("t{t}-{i}"), 10);
                    }
                });
            }
        });
        let store = Store::open(&path).unwrap();
        let seqs: Vec<i64> = store.batches().unwrap().iter().map(|b| b.seq).collect();
        assert_eq!(seqs, (1..=18).collect::<Vec<_>>());
        assert_eq!(rows(&store, Table::Visits).len(), 180);
    }
}
