//! Batches on their way: each in a folder of its own with a file that its writer holds locked. When the writer dies the
//! system lets go of the lock, and the folder is known to be scrap.

use std::fs::File;
use std::path::{Path, PathBuf};

use super::durable::{create_folder, folder_names, remove_folder};
use super::layout::{LIVE, Layout};
use super::lock::{StoreLock, open_to_write};
use crate::domain::problem::{AtFile, Result};

/// A staging folder whose writer is this process; removed when dropped, unless it was put in its place.
#[derive(Debug)]
pub struct Staging {
    path: PathBuf,
    live: Option<File>,
}

impl Staging {
    /// Makes the folder; the lock is asked for because clearing away scrap holds it too, and must not find the folder
    /// before its own lock is taken.
    pub fn create(layout: &Layout, name: &str, _lock: &StoreLock) -> Result<Self> {
        let path = layout.staged(name);
        create_folder(&path)?;
        let live_path = path.join(LIVE);
        let live = open_to_write(&live_path)?;
        live.try_lock().at_file("lock", &live_path)?;
        Ok(Self {
            path,
            live: Some(live),
        })
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Moves the folder to `place`, which then is the caller's.
    pub fn put(mut self, place: &Path, _lock: &StoreLock) -> Result<()> {
        let live = self.path.join(LIVE);
        std::fs::remove_file(&live).at_file("remove", &live)?;
        super::durable::sync_folder(&self.path)?;
        super::durable::rename(&self.path, place)?;
        self.live = None;
        Ok(())
    }
}

impl Drop for Staging {
    fn drop(&mut self) {
        if self.live.take().is_some() {
            // What cannot be removed now is scrap, and `verify` names it.
            let _ = remove_folder(&self.path);
        }
    }
}

/// Names of staging folders whose writer is gone. Without the store's lock a folder just being made may be among them.
pub fn abandoned(layout: &Layout) -> Result<Vec<String>> {
    let mut names = folder_names(&layout.staging())?;
    names.retain(|name| match File::open(layout.staged(name).join(LIVE)) {
        // Getting the lock shows that nobody holds it; it is let go at once.
        Ok(file) => file.try_lock().is_ok(),
        Err(_) => true,
    });
    Ok(names)
}
