//! Where everything lies in a store's folder. Every path is made here, so that another kind of storage changes one file.

use std::path::{Path, PathBuf};

/// The paths of one store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    root: PathBuf,
}

impl Layout {
    /// The layout of the store at `root`.
    pub fn new(root: impl Into<PathBuf>) -> Self {
        Self { root: root.into() }
    }

    /// The store's folder.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Format number and choices made at `init`; its presence makes a folder a store.
    pub fn settings(&self) -> PathBuf {
        self.root.join("store.json")
    }

    /// Engine families, accumulated.
    pub fn families(&self) -> PathBuf {
        self.root.join("families.toml")
    }

    /// The shop's own catalog, when it has one.
    pub fn catalog(&self) -> PathBuf {
        self.root.join("catalog.toml")
    }

    /// Held for the moments in which the list of batches changes.
    pub fn lock(&self) -> PathBuf {
        self.root.join("lock")
    }

    /// Held (shared) by everyone who reads, so that replaced files stay while they are read.
    pub fn readers(&self) -> PathBuf {
        self.root.join("readers")
    }

    /// The next free sequence number.
    pub fn sequence(&self) -> PathBuf {
        self.root.join("sequence")
    }

    /// Folder of committed batches.
    pub fn batches(&self) -> PathBuf {
        self.root.join("batches")
    }

    /// Folder of one committed batch.
    pub fn batch(&self, name: &str) -> PathBuf {
        self.batches().join(name)
    }

    /// Written last; its presence makes a folder a batch.
    pub fn batch_info(&self, name: &str) -> PathBuf {
        self.batch(name).join(BATCH_INFO)
    }

    /// Folder of batches being written.
    pub fn staging(&self) -> PathBuf {
        self.root.join("staging")
    }

    /// Folder of one batch being written.
    pub fn staged(&self, name: &str) -> PathBuf {
        self.staging().join(name)
    }

    /// Folder of what is derived from the batches; may be deleted at any time.
    pub fn history(&self) -> PathBuf {
        self.root.join("history")
    }

    /// Folder of hashes of the rows there are; derived from the batches, may be deleted at any time.
    pub fn versions(&self) -> PathBuf {
        self.root.join("versions")
    }

    /// The vehicle key's place unless another is given: beside the store, never in it, so that a copy of the store
    /// does not carry the key along.
    pub fn default_key(&self) -> PathBuf {
        // `.` has no name of its own, and the key must not land inside.
        let root = match self.root.file_name() {
            Some(_) => self.root.clone(),
            None => std::path::absolute(&self.root).unwrap_or_else(|_| self.root.clone()),
        };
        let mut name = root.file_name().unwrap_or("store".as_ref()).to_os_string();
        name.push(".key");
        root.with_file_name(name)
    }
}

/// Name of the file that makes a folder a batch.
pub const BATCH_INFO: &str = "batch.json";
/// Name of the file that a live writer holds locked in its staging folder.
pub const LIVE: &str = "live";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_key_lies_beside_the_store() {
        let key = |s: &str| Layout::new(s).default_key();
        assert_eq!(key("/a/shop.store"), Path::new("/a/shop.store.key"));
        assert_eq!(key("shop/"), Path::new("shop.key"));
        let here = std::env::current_dir().unwrap();
        assert!(!key(".").starts_with(&here), "{}", key(".").display());
    }
}
