//! The runs of a store: which there are, which batches they cover, and putting a new one in its place.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::path::{Path, PathBuf};

use super::run::{Run, Walk};
use crate::domain::problem::{AtFile, Result};
use crate::store::batch_writer::folder_name;
use crate::store::durable::{self, create_folder, sha256};
use crate::store::folder::Store;
use crate::store::lock::StoreLock;

const ENDING: &str = "versions";

/// The opened runs of a store. Every batch that counts is in at most one of them.
#[derive(Debug, Default)]
pub struct Index {
    runs: Vec<Run>,
}

impl Index {
    /// Looks at the runs there are; gives the names of the batches, among those that count, that none of them covers. Rows of
    /// the batch numbered `superseded` are passed over.
    pub fn refresh(&mut self, store: &Store, superseded: Option<i64>) -> Result<Vec<String>> {
        let batches = store.batches()?;
        let name = |b: &crate::store::BatchInfo| folder_name(b.seq, &b.id);
        let live: BTreeSet<String> = batches.iter().map(name).collect();
        let passed_over = batches.iter().find(|b| Some(b.seq) == superseded).map(name);
        let lock = StoreLock::acquire(store.layout())?;
        let mut runs = self.open(&store.layout().versions())?;
        let live_in = |run: &Run| run.batches().iter().filter(|b| live.contains(*b)).count();
        runs.sort_by_key(|run| (std::cmp::Reverse(live_in(run)), run.path().to_path_buf()));
        let mut covered = BTreeSet::new();
        for mut run in runs {
            let own: Vec<String> = run
                .batches()
                .iter()
                .filter(|b| live.contains(*b))
                .cloned()
                .collect();
            if own.is_empty() || own.iter().any(|b| covered.contains(b)) {
                // Replaced batches, or what two processes merged at the same time.
                remove(run.path())?;
                continue;
            }
            run.set_counting(|b| live.contains(b) && passed_over.as_deref() != Some(b));
            covered.extend(own);
            self.runs.push(run);
        }
        drop(lock);
        let missing = live
            .into_iter()
            .filter(|b| !covered.contains(b) && passed_over.as_ref() != Some(b));
        Ok(missing.collect())
    }

    /// Every run in the folder; those that are open already stay so.
    fn open(&mut self, folder: &Path) -> Result<Vec<Run>> {
        let before = std::mem::take(&mut self.runs);
        let mut before: BTreeMap<PathBuf, Run> = before
            .into_iter()
            .map(|r| (r.path().to_path_buf(), r))
            .collect();
        let mut runs = Vec::new();
        for path in files(folder)? {
            match before.remove(&path).map_or_else(|| Run::open(&path), Ok) {
                Ok(run) => runs.push(run),
                // It can be made again.
                Err(_) => remove(&path)?,
            }
        }
        Ok(runs)
    }

    /// The opened runs.
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// Walks through all runs.
    pub fn walks(&self) -> Vec<Walk<'_>> {
        self.runs.iter().map(Run::walk).collect()
    }

    /// Takes out the runs that are no larger than so many entries and those before.
    pub(super) fn take_smaller(&mut self, mut entries: u64) -> Vec<Run> {
        self.runs.sort_by_key(|run| std::cmp::Reverse(run.len()));
        let mut taken = Vec::new();
        while let Some(run) = self.runs.pop_if(|run| run.len() <= entries) {
            entries += run.len();
            taken.push(run);
        }
        taken
    }

    /// Puts a run in its place, which stands in for those it absorbed.
    pub(super) fn publish(&mut self, store: &Store, run: Run, absorbed: &[Run]) -> Result<()> {
        let folder = store.layout().versions();
        let last = run.batches().last().map_or("", String::as_str);
        let hash: String = sha256(run.batches().join("\n").as_bytes())
            .chars()
            .take(16)
            .collect();
        let place = folder.join(format!("{last}-{hash}.{ENDING}"));
        let file = File::open(run.path()).at_file("sync", run.path())?;
        file.sync_all().at_file("sync", run.path())?;
        create_folder(&folder)?;
        let _lock = StoreLock::acquire(store.layout())?;
        if !absorbed.iter().all(|run| run.path().exists()) {
            // Another process has merged them meanwhile; what is then missing is made when it is needed.
            return Ok(());
        }
        durable::rename(run.path(), &place)?;
        for run in absorbed.iter().filter(|run| run.path() != place) {
            remove(run.path())?;
        }
        self.runs.push(run.moved(place));
        Ok(())
    }
}

/// The files of runs, sorted.
pub(in crate::store) fn files(folder: &Path) -> Result<Vec<PathBuf>> {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => return Err(e).at_file("list", folder),
    };
    let mut files = Vec::new();
    for entry in entries {
        let path = entry.at_file("list", folder)?.path();
        if path.extension().is_some_and(|e| e == ENDING) {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Removes a file of the index; one that is gone already is fine.
fn remove(path: &Path) -> Result<()> {
    match std::fs::remove_file(path) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(e).at_file("remove", path),
        _ => Ok(()),
    }
}
