//! The list of batches at one moment. An answer is computed from one snapshot, whatever is ingested meanwhile.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::Arc;

use super::batch::{BatchInfo, Folder};
use super::durable::{folder_names, sha256};
use super::layout::Layout;
use crate::domain::problem::{AtFile, Result};
use crate::domain::table::Table;

/// A committed folder under `batches/` with its name.
#[derive(Debug, Clone)]
pub struct Named {
    /// Folder name.
    pub name: String,
    /// Its description.
    pub folder: Arc<Folder>,
}

/// Descriptions read before: a committed one never changes, and an ingest of a thousand exports asks a thousand times.
pub(super) type Known = BTreeMap<String, Arc<Folder>>;

/// The committed batches that count.
#[derive(Debug, Clone)]
pub struct Snapshot {
    layout: Layout,
    /// Folders that count, by name.
    pub live: Vec<Named>,
    /// Folders that another one stands in for; removed once nobody reads them.
    pub replaced: Vec<String>,
    /// Folders without a `batch.json`: left by a crash.
    pub unfinished: Vec<String>,
}

impl Snapshot {
    /// Reads every `batch.json` that is not known yet.
    pub(super) fn take(layout: &Layout, known: &mut Known) -> Result<Self> {
        let before = std::mem::take(known);
        let mut live = Vec::new();
        let mut unfinished = Vec::new();
        for name in folder_names(&layout.batches())? {
            if layout.batch_info(&name).is_file() {
                let folder = match before.get(&name) {
                    Some(folder) => folder.clone(),
                    None => Arc::new(Folder::load(layout, &name)?),
                };
                known.insert(name.clone(), folder.clone());
                live.push(Named { name, folder });
            } else {
                unfinished.push(name);
            }
        }
        let gone: BTreeSet<String> = live
            .iter()
            .flat_map(|n| n.folder.replaces.iter().cloned())
            .collect();
        let (replaced, live): (Vec<Named>, Vec<Named>) =
            live.into_iter().partition(|n| gone.contains(&n.name));
        Ok(Self {
            layout: layout.clone(),
            live,
            replaced: replaced.into_iter().map(|n| n.name).collect(),
            unfinished,
        })
    }

    /// Every batch that counts, by sequence number.
    pub fn batches(&self) -> Vec<BatchInfo> {
        let members = self.live.iter().flat_map(|n| &n.folder.members);
        let mut batches: Vec<BatchInfo> = members.cloned().collect();
        batches.sort_by_key(|b| b.seq);
        batches
    }

    /// The highest sequence number of a batch that counts; 0 when there is none.
    pub fn last_seq(&self) -> i64 {
        let members = self.live.iter().flat_map(|n| &n.folder.members);
        members.map(|b| b.seq).max().unwrap_or(0)
    }

    /// The batch of that id, if it counts.
    pub fn find(&self, id: &str) -> Option<&BatchInfo> {
        let mut members = self.live.iter().flat_map(|n| &n.folder.members);
        members.find(|b| b.id == id)
    }

    /// The files with the rows of a table.
    pub fn files(&self, table: Table) -> Vec<PathBuf> {
        let mut paths = Vec::new();
        for Named { name, folder } in &self.live {
            let files = folder.files.iter().filter(|f| f.table == table.name());
            paths.extend(files.map(|f| self.layout.batch(name).join(&f.name)));
        }
        paths
    }

    /// A hash over all that answers depend on: the batches that count, their order, the families and the catalog.
    /// Compacting does not change it.
    pub fn fingerprint(&self) -> Result<String> {
        let mut text = String::new();
        for batch in self.batches() {
            text.push_str(&format!("{} {}\n", batch.seq, batch.id));
        }
        for file in [self.layout.families(), self.layout.catalog()] {
            let hash = match std::fs::read(&file) {
                Ok(bytes) => sha256(&bytes),
                Err(e) if e.kind() == std::io::ErrorKind::NotFound => "none".into(),
                Err(e) => return Err(e).at_file("read", &file),
            };
            text.push_str(&hash);
            text.push('\n');
        }
        Ok(sha256(text.as_bytes()))
    }
}
