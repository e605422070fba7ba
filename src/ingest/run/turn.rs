//! Files are read side by side and count one after another: a file is judged when all files before it are done.

use std::sync::mpsc::{Receiver, Sender, channel};

use crate::store::versions::Index;

/// A file's place in the order: what the store holds comes to it from the file before and goes on to the next when this is dropped,
/// whatever became of the file.
pub(super) struct Turn {
    before: Receiver<Index>,
    next: Sender<Index>,
    /// `None` while it is not this file's turn, and while the file works with it.
    index: Option<Index>,
    waited: bool,
}

impl Turn {
    /// Puts a file behind the one that gives to `last`, which then is what this one gives to.
    pub(super) fn behind(last: &mut Receiver<Index>) -> Self {
        let (next, after) = channel();
        Self {
            before: std::mem::replace(last, after),
            next,
            index: None,
            waited: false,
        }
    }

    /// The place of the first file.
    pub(super) fn first(index: Index) -> Receiver<Index> {
        let (to, first) = channel();
        // The receiver is there.
        let _ = to.send(index);
        first
    }

    /// Waits until all files before are done.
    pub(super) fn wait(&mut self) {
        if !self.waited {
            self.index = self.before.recv().ok();
            self.waited = true;
        }
    }

    /// Takes what the store holds, when it is this file's turn. What is not given back is read from the store again.
    pub(super) fn take(&mut self) -> Index {
        self.wait();
        self.index.take().unwrap_or_default()
    }

    /// Gives back what the store holds.
    pub(super) fn give_back(&mut self, index: Index) {
        self.index = Some(index);
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        self.wait();
        // Behind the last file nobody may be waiting.
        let _ = self.next.send(self.index.take().unwrap_or_default());
    }
}
