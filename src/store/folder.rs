//! A store as the other floors see it: open one, ask for its batches, begin a new batch.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::batch::{BatchHeader, BatchInfo};
use super::batch_writer::{BatchWriter, Begin};
use super::durable::{self, remove_folder};
use super::key::VehicleKey;
use super::layout::Layout;
use super::lock::{ReadersLock, StoreLock};
use super::scrap::{self, Scrap};
use super::settings::{Settings, Vehicles};
use super::snapshot::{Known, Snapshot};
use crate::domain::catalog::Catalog;
use crate::domain::family::Families;
use crate::domain::problem::{AtFile, Problem, Result};
use crate::domain::table::Table;

/// A store. Clones share one view of its batches, taken when first asked for and renewed by an own commit.
#[derive(Debug, Clone)]
pub struct Store {
    shared: Arc<Shared>,
}

/// What a store and its writers share.
#[derive(Debug)]
pub(super) struct Shared {
    pub(super) layout: Layout,
    settings: Settings,
    readers: Option<ReadersLock>,
    snapshot: Mutex<Option<Arc<Snapshot>>>,
    known: Mutex<Known>,
}

impl Store {
    /// Opens a store for reading and writing.
    pub fn open(path: impl AsRef<Path>) -> Result<Self> {
        let layout = Layout::new(path.as_ref());
        let settings = Settings::load(&layout)?;
        let readers = ReadersLock::acquire(&layout);
        Ok(Self {
            shared: Arc::new(Shared {
                layout,
                settings,
                readers,
                snapshot: Mutex::new(None),
                known: Mutex::default(),
            }),
        })
    }

    /// The store's folder.
    pub fn path(&self) -> &Path {
        self.shared.layout.root()
    }

    /// Where everything lies in it.
    pub fn layout(&self) -> &Layout {
        &self.shared.layout
    }

    /// The folder of what is derived from the batches; may be deleted at any time.
    pub fn history_folder(&self) -> PathBuf {
        self.shared.layout.history()
    }

    /// Whether vehicles are stored as they stand in the exports (the owner's choice at `init`).
    pub fn keeps_vin(&self) -> bool {
        self.shared.settings.vehicles == Vehicles::AsWritten
    }

    /// The file the vehicle key is expected in.
    pub fn key_file(&self) -> PathBuf {
        let given = self.shared.settings.key_file.clone();
        given.unwrap_or_else(|| self.shared.layout.default_key())
    }

    /// The vehicle key, or `None` when its file is not there; a key that is not this store's is a problem.
    pub fn vehicle_key(&self) -> Result<Option<VehicleKey>> {
        let file = self.key_file();
        if file.exists() {
            self.vehicle_key_at(&file).map(Some)
        } else {
            Ok(None)
        }
    }

    /// The vehicle key from a file the user names.
    pub fn vehicle_key_at(&self, file: &Path) -> Result<VehicleKey> {
        let key = VehicleKey::load(file)?;
        match &self.shared.settings.key_check {
            Some(check) if *check != key.check_value() => Err(Problem::data(
                "this is not the key of this store: its vehicles would not be recognised",
            )
            .file(file)
            .remedy(format!(
                "give the key that was made with the store (usually {}) with --key",
                self.shared.layout.default_key().display()
            ))),
            _ => Ok(key),
        }
    }

    /// What to tell someone who wants to add records without the key.
    pub fn missing_key(&self) -> Problem {
        Problem::data("the store's vehicle key is not there; without it new records cannot be linked to known vehicles")
            .file(self.key_file())
            .remedy("bring the key file back from its owner or backup, or name it with --key FILE; questions are answered without it")
    }

    /// The engine families known to the store.
    pub fn families(&self) -> Result<Families> {
        let file = self.shared.layout.families();
        if file.exists() {
            Families::load(&file)
        } else {
            Ok(Families::default())
        }
    }

    /// Adds families; says whether the store knows more now. A family that contradicts a known one is a problem.
    pub fn add_families(&self, more: &Families) -> Result<bool> {
        let _lock = StoreLock::acquire(&self.shared.layout)?;
        let mut families = self.families()?;
        families.merge(more)?;
        let text = families.to_toml()?;
        let file = self.shared.layout.families();
        if std::fs::read_to_string(&file).is_ok_and(|old| old == text) {
            return Ok(false);
        }
        durable::write(&file, text.as_bytes())?;
        Ok(true)
    }

    /// The catalog that answers follow: the shop's own if the store has one, else the one that comes with the program.
    pub fn catalog(&self) -> Result<Catalog> {
        match self.catalog_file() {
            Some(file) => Catalog::load(file),
            None => Catalog::embedded(),
        }
    }

    /// The shop's own catalog in the store, if it has one.
    pub fn catalog_file(&self) -> Option<PathBuf> {
        let file = self.shared.layout.catalog();
        file.is_file().then_some(file)
    }

    /// Puts a catalog into the store, after checking it; `file` is where it comes from.
    pub fn set_catalog(&self, text: &str, file: &Path) -> Result<()> {
        Catalog::from_toml(text, file)?;
        let _lock = StoreLock::acquire(&self.shared.layout)?;
        durable::write(&self.shared.layout.catalog(), text.as_bytes())
    }

    /// Begins a batch, unless the same content was ingested in the same way before.
    pub fn begin_batch(&self, header: BatchHeader) -> Result<Begin> {
        BatchWriter::begin(&self.shared, header)
    }

    /// The view of the batches that this store (and its clones) works with.
    pub fn snapshot(&self) -> Result<Arc<Snapshot>> {
        let mut slot = self.shared.slot();
        if let Some(snapshot) = &*slot {
            return Ok(snapshot.clone());
        }
        let snapshot = Arc::new(self.shared.take_snapshot()?);
        *slot = Some(snapshot.clone());
        Ok(snapshot)
    }

    /// Every batch that counts, by sequence number.
    pub fn batches(&self) -> Result<Vec<BatchInfo>> {
        Ok(self.snapshot()?.batches())
    }

    /// The Parquet files with the rows of a table.
    pub fn table_files(&self, table: Table) -> Result<Vec<PathBuf>> {
        Ok(self.snapshot()?.files(table))
    }

    /// A hash over all that answers depend on; see [`Snapshot::fingerprint`].
    pub fn fingerprint(&self) -> Result<String> {
        self.snapshot()?.fingerprint()
    }

    pub(super) fn shared(&self) -> &Arc<Shared> {
        &self.shared
    }
}

impl Shared {
    fn slot(&self) -> std::sync::MutexGuard<'_, Option<Arc<Snapshot>>> {
        // The slot is only ever replaced as a whole, so a panic elsewhere cannot have left it half done.
        self.snapshot.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The list of batches as it is now.
    pub(super) fn take_snapshot(&self) -> Result<Snapshot> {
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        Snapshot::take(&self.layout, &mut known)
    }

    /// The next question sees what has been committed since.
    pub(super) fn forget_snapshot(&self) {
        *self.slot() = None;
    }

    /// Takes the next sequence number; a number is never given twice, even when its batch fails.
    pub(super) fn next_sequence(&self, snapshot: &Snapshot, _lock: &StoreLock) -> Result<i64> {
        let file = self.layout.sequence();
        let kept = match std::fs::read_to_string(&file) {
            Ok(text) => text.trim().parse::<i64>().at_file("read", &file)?,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => 1,
            Err(e) => return Err(e).at_file("read", &file),
        };
        let seq = kept.max(snapshot.last_seq() + 1);
        durable::write(&file, format!("{}\n", seq + 1).as_bytes())?;
        Ok(seq)
    }

    /// Removes folders that another one stands in for, unless somebody is reading them: then a later commit does.
    pub(super) fn clear_replaced(&self, _lock: &StoreLock) -> Result<Vec<Scrap>> {
        let replaced = self.take_snapshot()?.replaced;
        let replaced: Vec<Scrap> = replaced.iter().map(|n| scrap::replaced(n)).collect();
        let Some(readers) = self.readers.as_ref().filter(|_| !replaced.is_empty()) else {
            return Ok(Vec::new());
        };
        let removed = readers.when_alone(|| {
            for folder in &replaced {
                remove_folder(&self.layout.root().join(&folder.path))?;
            }
            Ok(())
        })?;
        Ok(if removed { replaced } else { Vec::new() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::sample::{ingest, store};

    #[test]
    fn a_wrong_key_is_noticed_and_a_missing_one_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        let other = folder.path().join("other.key");
        VehicleKey::create(&other).unwrap();
        let said = store.vehicle_key_at(&other).unwrap_err().to_string();
        assert!(said.contains("not the key of this store"), "{said}");
        std::fs::remove_file(store.key_file()).unwrap();
        assert!(store.vehicle_key().unwrap().is_none());
        assert!(store.missing_key().to_string().contains("s.key"));
        assert!(store.batches().unwrap().is_empty());
    }

    #[test]
    fn families_accumulate() {
        let folder = tempfile::tempdir().unwrap();
        let store = store(&folder);
        assert!(store.families().unwrap().is_empty());
        let before = store.fingerprint().unwrap();
        let text = "[[family]]\nid = \"ash\"\ntitle = \"Ash\"\ncylinders = 4\nlayout = \"inline\"\nfiring_order = [1, 3, 4, 2]\n";
        let ash = Families::from_toml(text, "families.toml").unwrap();
        assert!(store.add_families(&ash).unwrap());
        assert!(!store.add_families(&ash).unwrap());
        assert!(store.families().unwrap().get("ash").is_some());
        assert_ne!(store.fingerprint().unwrap(), before);
    }

    #[test]
    fn replaced_folders_stay_while_somebody_reads() {
        use crate::store::sample::{account, begin, header, visits};
        let folder = tempfile::tempdir().unwrap();
        let writer = store(&folder);
        ingest(&writer, "a", 5);
        let reader = Store::open(writer.path()).unwrap();
        let seen = reader.table_files(Table::Visits).unwrap();
        let correct = |hash: &str| {
            let mut batch = begin(&writer, header("a", "m.mapping.toml", hash));
            visits(&mut batch, "a", 4);
            batch.commit(account(4)).unwrap();
        };
        correct("m2");
        assert!(seen[0].is_file(), "removed under a reader");
        assert_ne!(writer.table_files(Table::Visits).unwrap(), seen);
        drop(reader);
        correct("m3");
        assert!(!seen[0].exists());
        assert_eq!(
            durable::folder_names(&writer.layout().batches())
                .unwrap()
                .len(),
            1
        );
    }
}
