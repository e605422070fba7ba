//! Several files at a time: while one is hashed, judged or closed, which keeps one thread busy, another is read.

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::mpsc::Receiver;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread;

use crate::domain::problem::{Problem, Result};
use crate::ingest::account::FileAccount;
use crate::ingest::mapping::Mapping;
use crate::ingest::read::Progress;
use crate::store::versions::Index;

use super::batch::{Ingest, Opened};
use super::turn::Turn;

/// Files that are read at a time.
const LANES: usize = 2;

/// One who is told how far the files are.
pub trait Watch: Sync {
    /// A file is begun.
    fn begun(&self, file: usize);
    /// So much of it is read.
    fn read(&self, file: usize, progress: Progress);
    /// What became of a file; told in the order of the files.
    fn done(&self, file: usize, result: &Result<FileAccount>);
}

/// Nobody watches.
impl Watch for () {
    fn begun(&self, _: usize) {}
    fn read(&self, _: usize, _: Progress) {}
    fn done(&self, _: usize, _: &Result<FileAccount>) {}
}

/// The files that are not begun yet. Batches are numbered in their order.
struct Waiting<'f> {
    files: &'f [(&'f Path, &'f Mapping)],
    next: usize,
    last: Receiver<Index>,
    /// Hashes of the contents begun so far.
    contents: BTreeSet<String>,
}

/// A file that is begun.
struct Begun<'f> {
    file: usize,
    mapping: &'f Mapping,
    turn: Turn,
    opened: Result<Opened>,
}

impl<'f> Waiting<'f> {
    fn begin(&mut self, run: &Ingest) -> Option<Begun<'f>> {
        let file = self.next;
        let (path, mapping) = *self.files.get(file)?;
        self.next += 1;
        let mut turn = Turn::behind(&mut self.last);
        let opened = run.look(path, mapping).and_then(|looked| {
            if !self.contents.insert(looked.header.content_hash.clone()) {
                // The file with the same content may be a batch by then.
                turn.wait();
            }
            run.open(path, mapping, looked)
        });
        Some(Begun {
            file,
            mapping,
            turn,
            opened,
        })
    }
}

impl Ingest<'_> {
    /// Takes files in, each through its mapping. An error means that nothing of its file is in the store. What is in the store
    /// afterwards, and what is told, is the same as if the files had been taken in one after another.
    pub fn files(
        &self,
        files: &[(&Path, &Mapping)],
        watch: &dyn Watch,
    ) -> Vec<Result<FileAccount>> {
        let waiting = Mutex::new(Waiting {
            files,
            next: 0,
            last: Turn::first(Index::default()),
            contents: BTreeSet::new(),
        });
        let results = Mutex::new(Vec::with_capacity(files.len()));
        let lane = || {
            loop {
                // Let go before the file is read.
                let begun = held(&waiting).begin(self);
                let Some(mut begun) = begun else { break };
                watch.begun(begun.file);
                let on_progress = &mut |progress| watch.read(begun.file, progress);
                // A file that stops the program inside is told of as itself, and the others are taken in.
                let fill = || {
                    let opened = begun.opened?;
                    self.fill(opened, begun.mapping, &mut begun.turn, on_progress)
                };
                let result = catch_unwind(AssertUnwindSafe(fill)).unwrap_or_else(|payload| {
                    let what = "taking the file in";
                    Err(Problem::stopped_inside(what, payload.as_ref()))
                });
                begun.turn.wait();
                watch.done(begun.file, &result);
                held(&results).push(result);
            }
        };
        thread::scope(|scope| {
            for _ in 1..LANES.min(files.len()) {
                // Without it the files are taken in one by one.
                let _ = thread::Builder::new().spawn_scoped(scope, lane);
            }
            lane();
        });
        results.into_inner().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes one file in.
    ///
    /// # Errors
    /// The file cannot be read, a column of the mapping is not there, or the store cannot be written.
    pub fn file(&self, file: &Path, mapping: &Mapping) -> Result<FileAccount> {
        let mut results = self.files(&[(file, mapping)], &());
        let none = || Err(Problem::data("the file was passed over").file(file));
        results.pop().unwrap_or_else(none)
    }
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A thread that stopped inside stops the run; nobody goes on with what it left.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
