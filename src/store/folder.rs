//! A store as the other floors see it: make one, open one, ask for its batches, begin a new batch.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::batch::{BatchHeader, BatchInfo};
use super::batch_writer::{BatchWriter, Begin};
use super::durable::{self, create_folder, remove_folder};
use super::key::VehicleKey;
use super::layout::Layout;
use super::lock::{ReadersLock, StoreLock, open_to_write};
use super::scrap::{self, Scrap};
use super::settings::{FORMAT, Settings, Vehicles};
use super::snapshot::{Known, Snapshot};
use crate::domain::catalog::Catalog;
use crate::domain::family::Families;
use crate::domain::problem::{AtFile, Problem, Result};
use crate::domain::table::Table;

/// Choices made when a store is made.
#[derive(Debug, Clone, Default)]
pub struct InitOptions {
    /// Where the vehicle key is or shall be; beside the store when not given.
    pub key: Option<PathBuf>,
    /// Store vehicles as they stand in the exports instead of pseudonyms.
    pub keep_vin: bool,
}

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
    /// Makes a store in a new or empty folder, and its vehicle key unless the key file is there already.
    pub fn init(path: impl AsRef<Path>, options: &InitOptions) -> Result<Self> {
        let layout = Layout::new(path.as_ref());
        refuse_used_folder(&layout)?;
        Self::make(layout, options)
    }

    /// Opens the store, or makes it where there is none; says whether it was made. Several processes may do so at once.
    pub fn open_or_init(path: impl AsRef<Path>, options: &InitOptions) -> Result<(Self, bool)> {
        let path = path.as_ref();
        let layout = Layout::new(path);
        if refuse_used_folder(&layout).is_ok() || is_half_made(&layout) {
            match Self::make(layout, options) {
                Ok(store) => return Ok((store, true)),
                // Another process was faster: its store is taken.
                Err(_) if Layout::new(path).settings().is_file() => {}
                Err(problem) => return Err(problem),
            }
        }
        Ok((Self::open(path)?, false))
    }

    fn make(layout: Layout, options: &InitOptions) -> Result<Self> {
        let mut settings = Settings {
            format: FORMAT,
            created_by: concat!("boretally ", env!("CARGO_PKG_VERSION")).into(),
            vehicles: Vehicles::Keyed,
            key_check: None,
            key_file: options.key.clone(),
        };
        let file = settings.key_file.clone();
        let file = file.unwrap_or_else(|| layout.default_key());
        refuse_key_inside(&file, &layout)?;
        create_folder(layout.root())?;
        let lock = StoreLock::acquire(&layout)?;
        if layout.settings().exists() {
            return Err(there_already(layout.root()));
        }
        if options.keep_vin {
            settings.vehicles = Vehicles::AsWritten;
        } else {
            let key = if file.exists() {
                VehicleKey::load(&file)?
            } else {
                VehicleKey::create(&file)?
            };
            settings.key_check = Some(key.check_value());
        }
        for folder in [layout.batches(), layout.staging(), layout.history()] {
            create_folder(&folder)?;
        }
        open_to_write(&layout.readers())?;
        durable::sync_folder(layout.root())?;
        settings.save(&layout)?;
        drop(lock);
        Self::open(layout.root())
    }

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

/// A key in the store would go along with every copy of it.
fn refuse_key_inside(key: &Path, layout: &Layout) -> Result<()> {
    let full = |path: &Path| std::path::absolute(path).at_file("use this path", path);
    if full(key)?.starts_with(full(layout.root())?) {
        return Err(Problem::data("the key must not lie in the store itself")
            .file(key)
            .remedy("name a file outside of the store's folder"));
    }
    Ok(())
}

/// Whether another process is making the store just now, or died doing it: nothing but our own is there, and no batch can be.
fn is_half_made(layout: &Layout) -> bool {
    let own = [
        layout.lock(),
        layout.readers(),
        layout.batches(),
        layout.staging(),
        layout.history(),
        layout.settings().with_extension("unfinished"),
    ];
    let Ok(mut entries) = std::fs::read_dir(layout.root()) else {
        return false;
    };
    layout.lock().is_file() && entries.all(|e| e.is_ok_and(|e| own.contains(&e.path())))
}

fn there_already(root: &Path) -> Problem {
    Problem::data("there is a store here already")
        .file(root)
        .remedy("use it as it is, or choose another folder for a new one")
}

fn refuse_used_folder(layout: &Layout) -> Result<()> {
    let root = layout.root();
    if layout.settings().exists() {
        return Err(there_already(root));
    }
    match std::fs::read_dir(root) {
        Ok(mut entries) => match entries.next() {
            Some(_) => Err(Problem::data("a store needs a new or empty folder")
                .file(root)
                .remedy("choose another folder")),
            None => Ok(()),
        },
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(e) => Err(e).at_file("make a store in", root),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::sample::{ingest, store};

    #[test]
    fn many_may_make_the_store_at_once_and_one_that_died_is_no_obstacle() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("s");
        let options = InitOptions::default();
        // One that died: the folder and its lock file are there.
        std::fs::create_dir(&path).unwrap();
        std::fs::write(Layout::new(&path).lock(), "").unwrap();
        let made: usize = std::thread::scope(|scope| {
            let open = || usize::from(Store::open_or_init(&path, &options).unwrap().1);
            let threads: Vec<_> = (0..8).map(|_| scope.spawn(open)).collect();
            threads.into_iter().map(|t| t.join().unwrap()).sum()
        });
        assert_eq!(made, 1);
        assert!(Store::open(&path).unwrap().vehicle_key().unwrap().is_some());
        let other = folder.path().join("other");
        std::fs::create_dir(&other).unwrap();
        std::fs::write(other.join("letter.txt"), "").unwrap();
        assert!(Store::open_or_init(&other, &options).is_err());
    }

    #[test]
    fn a_store_is_made_once_and_found_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("s");
        let made = store(&folder);
        assert!(Store::init(&path, &InitOptions::default()).is_err());
        assert!(path.with_file_name("s.key").is_file());
        let found = Store::open(&path).unwrap();
        let pseudonym = |s: &Store| s.vehicle_key().unwrap().unwrap().pseudonym("v");
        assert_eq!(pseudonym(&made), pseudonym(&found));
        assert!(!found.keeps_vin());
    }

    #[test]
    fn what_is_no_store_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let said = |path: &Path| Store::open(path).unwrap_err().to_string();
        assert!(said(&folder.path().join("none")).contains("there is no store here"));
        assert!(said(folder.path()).contains("not a store"));
        let file = folder.path().join("f");
        std::fs::write(&file, "x").unwrap();
        assert!(said(&file).contains("this is a file"));
        let problem = Store::init(folder.path(), &InitOptions::default()).unwrap_err();
        assert!(problem.to_string().contains("empty folder"), "{problem}");
        std::fs::write(folder.path().join("store.json"), "{").unwrap();
        assert!(said(folder.path()).contains("damaged"));
        let newer = r#"{"format": 2, "something": "else"}"#;
        std::fs::write(folder.path().join("store.json"), newer).unwrap();
        assert!(said(folder.path()).contains("format 2"));
    }

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
    fn an_existing_key_is_shared_between_stores() {
        let folder = tempfile::tempdir().unwrap();
        let key = folder.path().join("chain.key");
        let options = InitOptions {
            key: Some(key.clone()),
            keep_vin: false,
        };
        let one = Store::init(folder.path().join("one"), &options).unwrap();
        let bytes = std::fs::read(&key).unwrap();
        let two = Store::init(folder.path().join("two"), &options).unwrap();
        assert_eq!(std::fs::read(&key).unwrap(), bytes);
        let pseudonym = |s: &Store| s.vehicle_key().unwrap().unwrap().pseudonym("v");
        assert_eq!(pseudonym(&one), pseudonym(&two));
        let inside = InitOptions {
            key: Some(folder.path().join("in/in.key")),
            keep_vin: false,
        };
        assert!(Store::init(folder.path().join("in"), &inside).is_err());
        assert!(!folder.path().join("in").exists());
        let options = InitOptions {
            key: None,
            keep_vin: true,
        };
        let plain = Store::init(folder.path().join("plain"), &options).unwrap();
        assert!(plain.keeps_vin() && plain.vehicle_key().unwrap().is_none());
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
