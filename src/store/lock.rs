//! Who may change the list of batches, and who is still reading. Advisory locks of the system, which a crash releases.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::Path;
use std::time::{Duration, Instant};

use super::layout::Layout;
use crate::domain::problem::{AtFile, Problem, Result};

/// The lock is held only while a number is taken or a batch is put in its place: moments.
const PATIENCE: Duration = Duration::from_secs(30);

/// Held while the list of batches changes; released when dropped.
#[derive(Debug)]
pub struct StoreLock {
    _file: File,
}

impl StoreLock {
    /// Waits for the lock.
    pub fn acquire(layout: &Layout) -> Result<Self> {
        let path = layout.lock();
        let file = open_to_write(&path)?;
        let since = Instant::now();
        loop {
            match file.try_lock() {
                Ok(()) => return Ok(Self { _file: file }),
                Err(TryLockError::WouldBlock) if since.elapsed() < PATIENCE => {
                    std::thread::sleep(Duration::from_millis(10));
                }
                Err(TryLockError::WouldBlock) => {
                    return Err(Problem::data("another process is changing this store")
                        .file(layout.root())
                        .remedy("wait until it has finished and try again"));
                }
                Err(TryLockError::Error(e)) => return Err(e).at_file("lock", &path),
            }
        }
    }
}

/// Opens a lock file, making it if it is not there.
pub fn open_to_write(path: &Path) -> Result<File> {
    OpenOptions::new()
        .create(true)
        .truncate(false)
        .read(true)
        .write(true)
        .open(path)
        .map_err(|e| {
            Problem::data(format!("could not write to the store: {e}"))
                .file(path)
                .remedy("check who may write to this folder, or work on a copy of the store")
        })
}

/// Tells others that files are being read; released when dropped.
#[derive(Debug)]
pub struct ReadersLock {
    file: File,
}

impl ReadersLock {
    /// A store that cannot be locked (read-only media) is read all the same: nobody can replace its files there.
    pub fn acquire(layout: &Layout) -> Option<Self> {
        let file = File::open(layout.readers()).ok()?;
        // Who removes replaced files holds it for moments; going on without it could lose files while they are read.
        file.lock_shared().ok()?;
        Some(Self { file })
    }

    /// Runs `step` if nobody else is reading; says whether it ran.
    pub fn when_alone(&self, step: impl FnOnce() -> Result<()>) -> Result<bool> {
        // Taking one kind of lock over another on the same handle is not defined everywhere: let go first.
        if self.file.unlock().is_err() {
            return Ok(false);
        }
        let alone = self.file.try_lock().is_ok();
        let result = if alone { step() } else { Ok(()) };
        let _ = self.file.unlock();
        // Only a remover holds it alone, and only for a moment.
        let _ = self.file.lock_shared();
        result.map(|()| alone)
    }
}
