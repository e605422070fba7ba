//! The versions of one or more new batches on their way into the index: sorted portions on disk beside, then one run.

use super::entry::Entry;
use super::index::Index;
use super::merge::merge;
use super::run::{Run, Writer};
use crate::domain::problem::Result;
use crate::store::folder::Store;
use crate::store::lock::StoreLock;
use crate::store::staging::Staging;

/// Portions of new batches. Dropping it leaves no trace.
pub struct Builder {
    store: Store,
    /// Names of the batches, sorted; tags of the entries are places in it.
    batches: Vec<String>,
    staging: Staging,
    portions: Vec<Run>,
}

impl Builder {
    /// For the batches of these names; `label` tells apart what is staged at the same time.
    pub fn new(store: &Store, label: &str, mut batches: Vec<String>) -> Result<Self> {
        batches.sort();
        let lock = StoreLock::acquire(store.layout())?;
        let staging = Staging::create(store.layout(), &format!("versions-{label}"), &lock)?;
        Ok(Self {
            store: store.clone(),
            batches,
            staging,
            portions: Vec::new(),
        })
    }

    /// The names of its batches by tag.
    pub fn batches(&self) -> &[String] {
        &self.batches
    }

    /// The portions written so far.
    pub fn portions(&self) -> &[Run] {
        &self.portions
    }

    /// Writes entries, in their order, to a portion of their own.
    pub fn write(&mut self, sorted: impl IntoIterator<Item = Entry>) -> Result<()> {
        let path = self
            .staging
            .path()
            .join(format!("portion-{}", self.portions.len()));
        let mut writer = Writer::create(&path)?;
        for entry in sorted {
            writer.add(entry)?;
        }
        self.portions.push(writer.finish(&self.batches)?);
        Ok(())
    }

    /// Puts everything into the index, together with what is smaller there.
    pub fn finish(mut self, index: &mut Index) -> Result<()> {
        let absorbed = index.take_smaller(self.portions.iter().map(Run::len).sum());
        let whole = match (self.portions.as_slice(), absorbed.as_slice()) {
            ([_], []) => self.portions.remove(0),
            _ => {
                let runs: Vec<&Run> = self.portions.iter().chain(&absorbed).collect();
                merge(&runs, &self.staging.path().join("whole"))?
            }
        };
        index.publish(&self.store, whole, &absorbed)
    }
}
