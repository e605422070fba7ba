//! What a crash can leave behind, and taking it away. Scrap never counts and never harms; it only takes room.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::durable::{folder_names, remove_folder};
use super::folder::Store;
use super::layout::Layout;
use super::lock::StoreLock;
use super::staging::abandoned;
use crate::domain::problem::{AtFile, Result};

/// Something in the store's folder that does not count.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Scrap {
    /// Where, from the store's folder.
    pub path: PathBuf,
    /// What it is.
    pub what: &'static str,
}

/// What lies about, apart from replaced folders.
pub(super) fn find(layout: &Layout) -> Result<Vec<Scrap>> {
    let mut scrap = Vec::new();
    let mut add = |path: &Path, what| {
        let path = path.strip_prefix(layout.root()).unwrap_or(path);
        let path = path.to_path_buf();
        scrap.push(Scrap { path, what });
    };
    for name in abandoned(layout)? {
        let what = "left by an ingest or a compaction that did not finish";
        add(&layout.staged(&name), what);
    }
    for name in folder_names(&layout.batches())? {
        if !layout.batch_info(&name).is_file() {
            let what = "a batch whose description was not written any more";
            add(&layout.batch(&name), what);
        }
    }
    for file in unfinished_files(layout.root())? {
        add(&file, "a small file whose writing did not finish");
    }
    Ok(scrap)
}

/// A folder that another one stands in for.
pub(super) fn replaced(name: &str) -> Scrap {
    Scrap {
        path: PathBuf::from("batches").join(name),
        what: "replaced by a newer reading or by compacting; kept while somebody reads it",
    }
}

fn unfinished_files(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).at_file("list", folder)? {
        let path = entry.at_file("list", folder)?.path();
        if path.extension().is_some_and(|e| e == "unfinished") && path.is_file() {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Takes scrap away; under the lock nothing that is being written is taken for scrap.
pub(super) fn clear(layout: &Layout, _lock: &StoreLock) -> Result<Vec<Scrap>> {
    let scrap = find(layout)?;
    for Scrap { path, .. } in &scrap {
        let path = layout.root().join(path);
        if path.is_dir() {
            remove_folder(&path)?;
            continue;
        }
        match std::fs::remove_file(&path) {
            // Its writer has taken it away at this moment.
            Err(e) if e.kind() == ErrorKind::NotFound => {}
            removed => removed.at_file("remove", &path)?,
        }
    }
    Ok(scrap)
}

impl Store {
    /// Takes away what a crash left and folders that another one stands in for; gives what was taken.
    pub fn remove_scrap(&self) -> Result<Vec<Scrap>> {
        let layout = self.layout();
        let lock = StoreLock::acquire(layout)?;
        let mut taken = clear(layout, &lock)?;
        taken.extend(self.shared().clear_replaced(&lock)?);
        Ok(taken)
    }
}
