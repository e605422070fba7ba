//! The versions of one or more new batches on their way into the index: sorted beside, then one run.

use super::index::Index;
use super::merge::merge;
use super::run::{Run, Writer};
use super::sorter::{Row, Sorter};
use crate::domain::problem::Result;
use crate::store::folder::Store;
use crate::store::lock::StoreLock;
use crate::store::staging::Staging;

/// Makes the run of new batches. Dropping it leaves no trace.
pub struct Builder {
    store: Store,
    /// Names of the batches, sorted; tags of the entries are places in it.
    batches: Vec<String>,
    staging: Staging,
    own: Option<Run>,
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
            own: None,
        })
    }

    /// The names of its batches by tag.
    pub fn batches(&self) -> &[String] {
        &self.batches
    }

    /// Something that sorts rows, about `held` of them in memory.
    pub fn sorter(&self, held: usize) -> Sorter {
        Sorter::new(self.staging.path().join("rows"), held)
    }

    /// Writes the run: `each` is called with the rows of every key and adds entries to it, in their order.
    pub fn write(
        &mut self,
        rows: Sorter,
        mut each: impl FnMut(u64, &mut [Row], &mut Writer) -> Result<()>,
    ) -> Result<()> {
        let mut out = Writer::create(&self.staging.path().join("own"))?;
        rows.sorted(|key, rows| each(key, rows, &mut out))?;
        self.own = Some(out.finish(&self.batches)?);
        Ok(())
    }

    /// Puts what was written into the index, together with what is smaller there.
    pub fn finish(self, index: &mut Index) -> Result<()> {
        let Some(own) = self.own else { return Ok(()) };
        let absorbed = index.take_smaller(own.len());
        let whole = if absorbed.is_empty() {
            own
        } else {
            let runs: Vec<&Run> = std::iter::once(&own).chain(&absorbed).collect();
            merge(&runs, &self.staging.path().join("whole"))?
        };
        index.publish(&self.store, whole, &absorbed)
    }
}
