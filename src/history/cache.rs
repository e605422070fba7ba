//! The folders of `history/`: each layer is built beside its place and renamed into it, with `history.json` written last.
//!
//! Whatever is found there is used only if its manifest and every file it names are whole; anything else is rebuilt.
//! Two processes that build the same layer do the same work, and the second to finish uses the first one's folder.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, SystemTime};

use parquet::file::reader::{FileReader, SerializedFileReader};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::table::Derived;
use crate::domain::problem::{AtFile, Problem, Result};

/// File that makes a layer's folder valid.
pub const MANIFEST: &str = "history.json";

/// Unfinished folders, and layers of records that have changed since, are left alone this long: someone may use them.
const GRACE: Duration = Duration::from_secs(6 * 60 * 60);

static BUILDS: AtomicU64 = AtomicU64::new(0);

/// One file of a layer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CachedFile {
    /// Name within the layer's folder.
    pub name: String,
    /// Rows it holds.
    pub rows: u64,
    /// Its size.
    pub bytes: u64,
}

/// What `history.json` says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest<A> {
    /// Key of the layer: a hash of everything it was made from.
    pub key: String,
    /// Fingerprint of the records it was made from.
    pub fingerprint: String,
    /// Its files.
    pub files: Vec<CachedFile>,
    /// The account of its making.
    pub account: A,
}

impl<A> Manifest<A> {
    /// The files of a table, one a slice.
    pub fn files_of(&self, table: &Derived) -> impl Iterator<Item = &CachedFile> {
        self.files.iter().filter(|f| table.is_file(&f.name))
    }
}

/// Reads the manifest of a finished layer, or nothing if the folder is missing, unfinished or damaged.
pub fn read<A: DeserializeOwned>(folder: &Path, key: &str) -> Option<Manifest<A>> {
    let text = fs::read_to_string(folder.join(MANIFEST)).ok()?;
    let manifest: Manifest<A> = serde_json::from_str(&text).ok()?;
    let whole = manifest.key == key && manifest.files.iter().all(|f| is_whole(folder, f));
    whole.then_some(manifest)
}

fn is_whole(folder: &Path, file: &CachedFile) -> bool {
    let Ok(opened) = fs::File::open(folder.join(&file.name)) else {
        return false;
    };
    let same_size = opened.metadata().is_ok_and(|m| m.len() == file.bytes);
    same_size
        && SerializedFileReader::new(opened)
            .is_ok_and(|r| u64::try_from(r.metadata().file_metadata().num_rows()) == Ok(file.rows))
}

/// A folder beside the layers in which one is being built; removed when dropped unfinished.
pub struct Building {
    folder: PathBuf,
}

impl Building {
    /// Begins in `history`, which is made if it is missing.
    pub fn begin(history: &Path, key: &str) -> Result<Self> {
        let number = BUILDS.fetch_add(1, Ordering::Relaxed);
        let name = format!(".building-{key}-{}-{number}", std::process::id());
        let folder = history.join(name);
        fs::create_dir_all(&folder)
            .at_file("make the folder for derived history", &folder)
            .map_err(|p| p.remedy("history is derived from the batches and needs a place to write; make the store writable"))?;
        Ok(Self { folder })
    }

    /// Where to write.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Size of a file that was written.
    pub fn file(&self, name: &str, rows: u64) -> Result<CachedFile> {
        let path = self.folder.join(name);
        let bytes = fs::metadata(&path).at_file("measure", &path)?.len();
        Ok(CachedFile {
            name: name.to_owned(),
            rows,
            bytes,
        })
    }

    /// Syncs the files, writes the manifest and renames the folder to `place`; gives the manifest that stands there in the end.
    pub fn finish<A: Serialize + DeserializeOwned>(
        self,
        place: &Path,
        manifest: Manifest<A>,
    ) -> Result<Manifest<A>> {
        for file in &manifest.files {
            let path = self.folder.join(&file.name);
            let synced = fs::File::open(&path).and_then(|f| f.sync_all());
            synced.at_file("sync", &path)?;
        }
        let path = self.folder.join(MANIFEST);
        let text = serde_json::to_string_pretty(&manifest).at_file("write", &path)?;
        fs::write(&path, text).at_file("write", &path)?;
        for _ in 0..8 {
            if fs::rename(&self.folder, place).is_ok() {
                return Ok(manifest);
            }
            if let Some(theirs) = read(place, &manifest.key) {
                return Ok(theirs);
            }
            set_aside(place)?;
        }
        Err(Problem::data(
            "could not put derived history in its place; something else keeps writing there",
        )
        .file(place)
        .remedy("let one run finish first, or delete the folder and run again"))
    }
}

impl Drop for Building {
    fn drop(&mut self) {
        // After a rename there is nothing left to remove; after a failure a leftover is removed by a later run.
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// Takes a damaged layer away; it is renamed first, so that no reader sees half of it.
fn set_aside(place: &Path) -> Result<()> {
    let number = BUILDS.fetch_add(1, Ordering::Relaxed);
    let aside = place.with_extension(format!("damaged-{}-{number}", std::process::id()));
    match fs::rename(place, &aside) {
        Ok(()) => fs::remove_dir_all(&aside).at_file("remove damaged history", &aside),
        // Another process was quicker.
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(e) => Err(e).at_file("set damaged history aside", place),
    }
}

/// Removes layers of records that have changed since, and folders that a crash left, once they are old enough.
///
/// What cannot be removed is left: it costs space only.
pub fn prune(history: &Path, fingerprint: &str) {
    let Ok(entries) = fs::read_dir(history) else {
        return;
    };
    for entry in entries.flatten() {
        let path = entry.path();
        let old = entry.metadata().and_then(|m| m.modified()).is_ok_and(|t| {
            SystemTime::now()
                .duration_since(t)
                .is_ok_and(|age| age > GRACE)
        });
        if path.is_dir() && old && !belongs_to(&path, fingerprint) {
            let _ = fs::remove_dir_all(&path);
        }
    }
}

fn belongs_to(folder: &Path, fingerprint: &str) -> bool {
    fs::read_to_string(folder.join(MANIFEST))
        .ok()
        .and_then(|text| serde_json::from_str::<Manifest<serde_json::Value>>(&text).ok())
        .is_some_and(|m| m.fingerprint == fingerprint)
}
