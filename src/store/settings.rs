//! `store.json`: the format's number and what was chosen at `init`.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::durable;
use super::layout::Layout;
use crate::domain::problem::{AtFile, Problem, Result};

/// The format this version writes. Formats 1 and 3 had other digests, format 2 longer pseudonyms.
pub const FORMAT: u32 = 4;

/// What `store.json` holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Settings {
    /// Number of the store's format; another one than [`FORMAT`] is refused.
    pub format: u32,
    /// Program and version that made the store.
    pub created_by: String,
    /// How vehicles are stored.
    pub vehicles: Vehicles,
    /// What the key gives for a fixed text, so that a wrong key is noticed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key_check: Option<String>,
    /// Where the key is, unless in its usual place beside the store.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key_file: Option<PathBuf>,
}

/// How vehicles are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Vehicles {
    /// As keyed pseudonyms.
    Keyed,
    /// As they stand in the exports; the owner's choice.
    AsWritten,
}

/// Only the number: read first, so that a newer format is named and not called damaged.
#[derive(Deserialize)]
struct Format {
    format: u32,
}

impl Settings {
    /// Reads `store.json`, refusing what is no store and what another version wrote.
    pub fn load(layout: &Layout) -> Result<Self> {
        let file = layout.settings();
        if !file.is_file() {
            return Err(not_a_store(layout));
        }
        let text = std::fs::read_to_string(&file).at_file("read the store", &file)?;
        let damaged = |e: serde_json::Error| {
            Problem::data(format!("the store's description is damaged: {e}"))
                .file(&file)
                .line(e.line() as u64)
                .remedy("restore this file from a backup; the batches are not affected")
        };
        let Format { format } = serde_json::from_str(&text).map_err(damaged)?;
        if format > FORMAT {
            return Err(Problem::data(format!(
                "this store has format {format}; this version of boretally reads up to {FORMAT}"
            ))
            .file(layout.root())
            .remedy("use the newer version of boretally that made it"));
        }
        if format < FORMAT {
            return Err(Problem::data(format!(
                "this store has format {format}; this version of boretally reads format {FORMAT} only"
            ))
            .file(layout.root())
            .remedy("make a new store and ingest the exports again, with a copy of this one's key for the same pseudonyms"));
        }
        serde_json::from_str(&text).map_err(damaged)
    }

    /// Writes `store.json`.
    pub fn save(&self, layout: &Layout) -> Result<()> {
        let mut text = serde_json::to_string_pretty(self).at_file("describe", layout.root())?;
        text.push('\n');
        durable::write(&layout.settings(), text.as_bytes())
    }
}

fn not_a_store(layout: &Layout) -> Problem {
    let root = layout.root();
    let what = if root.is_dir() {
        "this folder is not a store (it has no store.json)"
    } else if root.exists() {
        "a store is a folder, and this is a file"
    } else {
        "there is no store here"
    };
    Problem::data(what).file(root).remedy(format!(
        "give the store's own folder, or make a new store with `boretally store init {}`",
        root.display()
    ))
}
