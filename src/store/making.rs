//! Making a store, once, whoever else tries at the same time.

use std::path::{Path, PathBuf};

use super::durable::{self, create_folder};
use super::folder::Store;
use super::key::VehicleKey;
use super::layout::Layout;
use super::lock::{StoreLock, open_to_write};
use super::settings::{FORMAT, Settings, Vehicles};
use crate::domain::problem::{AtFile, Problem, Result};

/// Choices made when a store is made.
#[derive(Debug, Clone, Default)]
pub struct InitOptions {
    /// Where the vehicle key is or shall be; beside the store when not given.
    pub key: Option<PathBuf>,
    /// Store vehicles as they stand in the exports instead of pseudonyms.
    pub keep_vin: bool,
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
    use crate::store::sample::store;

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
        let newer = r#"{"format": 5, "something": "else"}"#;
        std::fs::write(folder.path().join("store.json"), newer).unwrap();
        assert!(said(folder.path()).contains("format 5"));
        let older = r#"{"format": 2, "something": "else"}"#;
        std::fs::write(folder.path().join("store.json"), older).unwrap();
        assert!(said(folder.path()).contains("format 2"));
    }
}
