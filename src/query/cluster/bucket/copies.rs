//! The copies of one store's files in a bucket: made when a statement first reads a file, removed when the store no longer has it.
//!
//! They lie under a prefix that belongs to this store alone: the mark of its `store.json`, which no other store has, a copy of the
//! store neither. An object bears the mark of its file, so it is there or not, and never out of date.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::time::Duration;

use futures::stream::{self, StreamExt, TryStreamExt};
use object_store::ObjectMeta;
use tokio::runtime::{Builder, Runtime};

use super::access::Access;
use super::client::Client;
use super::mark::{Mark, is_mark};
use super::place::Place;
use super::progress;
use super::upload::upload;
use crate::domain::problem::{AtFile, Problem, Result};
use crate::store::layout::Layout;

/// Files on their way at once.
const AT_ONCE: usize = 4;
/// Longest time given at the end to removing what nobody needs any more; what is left is removed by the next who opens the store.
const LEAVING: Duration = Duration::from_secs(5);
const SUFFIX: &str = ".parquet";

/// The copies of a store's files.
pub struct Copies {
    runtime: Runtime,
    client: Client,
    place: Place,
    /// Name of the prefix that belongs to this store alone.
    store: String,
    /// The folders whose files may be copied.
    folders: [PathBuf; 2],
    /// Marks of the objects that are there, and their sizes.
    there: BTreeMap<String, u64>,
    /// Marks of those that were needed here.
    used: BTreeSet<String>,
}

impl Copies {
    /// Asks what is there, and removes what the store no longer has.
    pub fn open(place: &Place, access: Access, layout: &Layout) -> Result<Self> {
        let runtime = Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|e| Problem::data(format!("could not prepare to talk to a bucket: {e}")))?;
        let store = Mark::of(&layout.settings())?.text;
        let client = Client::new(&access, place.clone())?;
        let folder = place.key(&store);
        let listed = runtime.block_on(client.list(&folder))?;
        let there = listed.iter().filter_map(|o| marked(o, &folder)).collect();
        let mut copies = Self {
            runtime,
            client,
            place: place.clone(),
            store,
            folders: [layout.batches(), layout.history()],
            there,
            used: BTreeSet::new(),
        };
        copies.remove_stale()?;
        Ok(copies)
    }

    /// Sees to it that there are copies of these files; gives their addresses.
    pub fn bring(&mut self, files: &[PathBuf]) -> Result<Vec<String>> {
        let marks: Vec<Mark> = files.iter().map(|f| Mark::of(f)).collect::<Result<_>>()?;
        self.used.extend(marks.iter().map(|m| m.text.clone()));
        let mut missing = BTreeMap::new();
        for (mark, file) in marks.iter().zip(files) {
            if self.there.get(&mark.text) != Some(&mark.size) {
                missing.insert(mark.text.as_str(), (mark, file.as_path()));
            }
        }
        let bytes = missing.values().map(|(mark, _)| mark.size).sum();
        let bar = progress::bar(&self.place, bytes);
        let copied = stream::iter(missing.into_values())
            .map(|(mark, file)| self.copy(mark, file, |bytes| bar.inc(bytes)))
            .buffer_unordered(AT_ONCE)
            .try_collect::<Vec<(String, u64)>>();
        let copied = self.runtime.block_on(copied);
        bar.finish_and_clear();
        self.there.extend(copied?);
        let address = |m: &Mark| self.place.address(&self.name(&m.text));
        Ok(marks.iter().map(address).collect())
    }

    fn remove_stale(&mut self) -> Result<()> {
        let living = living(&self.folders)?;
        let stale = self.there.keys().filter(|m| !living.contains(*m));
        let stale: Vec<String> = stale.cloned().collect();
        self.runtime.block_on(self.remove(&stale))?;
        for mark in &stale {
            self.there.remove(mark);
        }
        Ok(())
    }

    async fn copy(&self, mark: &Mark, file: &Path, sent: impl Fn(u64)) -> Result<(String, u64)> {
        let key = self.place.key(&self.name(&mark.text));
        upload(&self.client, file, mark.size, &key, &sent).await?;
        if Mark::of(file)? != *mark {
            // Nobody will ask for it under the mark it bears, and it goes with what the store no longer has.
            return Err(Problem::data("this file changed while it was copied")
                .file(file)
                .remedy("run this again; files of a store never change by themselves"));
        }
        Ok((mark.text.clone(), mark.size))
    }

    async fn remove(&self, marks: &[String]) -> Result<()> {
        let keys = marks.iter().map(|mark| self.place.key(&self.name(mark)));
        self.client.remove(keys).await
    }

    /// What an object is called below the place.
    fn name(&self, mark: &str) -> String {
        format!("{}/{mark}{SUFFIX}", self.store)
    }
}

/// What was needed here only for a while: rows that were held in memory, steps on the way to history.
impl Drop for Copies {
    fn drop(&mut self) {
        // Whatever fails here is done, or told of, by the next who opens the store.
        let Ok(living) = living(&self.folders) else {
            return;
        };
        let stale: Vec<String> = self.used.difference(&living).cloned().collect();
        let removed = async { tokio::time::timeout(LEAVING, self.remove(&stale)).await };
        let _ = self.runtime.block_on(removed);
    }
}

/// The mark that an object bears; none for what others have put there, which is left alone.
fn marked(object: &ObjectMeta, folder: &str) -> Option<(String, u64)> {
    let name = object.location.as_ref().strip_prefix(folder)?;
    let name = name.strip_prefix('/')?;
    let mark = name.strip_suffix(SUFFIX).filter(|m| is_mark(m))?;
    Some((mark.to_owned(), object.size))
}

/// Marks of all files in these folders. Looked at twice: another process may rename a folder, once, while this one looks.
fn living(folders: &[PathBuf]) -> Result<BTreeSet<String>> {
    let mut marks = BTreeSet::new();
    for folder in folders.iter().chain(folders) {
        add_marks(folder, &mut marks)?;
    }
    Ok(marks)
}

fn add_marks(folder: &Path, marks: &mut BTreeSet<String>) -> Result<()> {
    let entries = match std::fs::read_dir(folder) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        entries => entries.at_file("list", folder)?,
    };
    for entry in entries {
        let path = entry.at_file("list", folder)?.path();
        if path.is_dir() {
            add_marks(&path, marks)?;
            continue;
        }
        match Mark::of(&path) {
            Ok(mark) => {
                marks.insert(mark.text);
            }
            // Taken away by its owner while this one looked.
            Err(_) if !path.exists() => {}
            Err(problem) => return Err(problem),
        }
    }
    Ok(())
}
