//! `store list`: the batches of a store.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::command::heading;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::cli::command::Outcome;
use crate::cli::output::OutputArgs;
use crate::domain::problem::Result;
use crate::domain::table::Table;
use crate::store::{BatchInfo, Store};

/// Arguments of `store list`.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  boretally store list shop.store
  boretally store list shop.store --format json
Each export is one batch. Records read = kept + flagged + duplicate + quarantined.")]
pub struct List {
    /// The store
    path: PathBuf,
    #[command(flatten)]
    output: OutputArgs,
}

impl List {
    pub(super) fn run(self) -> Result<Outcome> {
        let store = Store::open(&self.path)?;
        self.output.emit(&BatchList::of(&store)?)?;
        Ok(Outcome::Done)
    }
}

/// The batches of a store.
#[derive(Debug, Serialize)]
pub struct BatchList {
    /// The store's folder, as it was typed.
    pub store: String,
    /// Hash over batches, families and catalog: equal fingerprints give equal answers.
    pub fingerprint: String,
    /// Engine families known.
    pub families: u64,
    /// The batches, by number.
    pub batches: Vec<BatchInfo>,
}

impl BatchList {
    fn of(store: &Store) -> Result<Self> {
        Ok(Self {
            store: store.path().display().to_string(),
            fingerprint: store.fingerprint()?,
            families: store.families()?.len() as u64,
            batches: store.batches()?,
        })
    }

    fn rows(&self, table: Table) -> u64 {
        let rows = |b: &BatchInfo| b.account.rows.get(table.name()).copied().unwrap_or(0);
        self.batches.iter().map(rows).sum()
    }
}

impl Answer for BatchList {
    const CONTRACT: &'static str = "boretally.store-list/1";

    fn sheet(&self) -> Sheet {
        let count = |id, title| heading(id, title, Show::Count);
        let text = |id, title| heading(id, title, Show::Text);
        let headings = vec![
            count("batch", "batch"),
            text("source", "source"),
            text("file", "export"),
            heading("export_date", "exported", Show::Day),
            count("read", "records read"),
            count("kept", "kept"),
            count("flagged", "flagged"),
            count("duplicate", "duplicate"),
            count("quarantined", "quarantined"),
            count("edited", "of them edited"),
            text("id", "id"),
        ];
        let whole = |n: u64| Cell::Whole(i64::try_from(n).unwrap_or(i64::MAX));
        let row = |b: &BatchInfo| {
            let a = &b.account;
            vec![
                Cell::Whole(b.seq),
                Cell::Text(b.header.source.clone()),
                Cell::Text(b.header.file.clone()),
                b.header.export_date.map_or(Cell::Empty, Cell::Day),
                whole(a.read),
                whole(a.kept),
                whole(a.flagged),
                whole(a.duplicate),
                whole(a.quarantined),
                whole(a.edited),
                Cell::Text(b.id.clone()),
            ]
        };
        let rows = [Table::Visits, Table::Cases, Table::Findings, Table::Tests];
        let rows = rows.map(|t| format!("{} {}", self.rows(t), t.name()));
        Sheet {
            title: format!("Batches of {}", self.store),
            basis: vec![
                format!("rows: {}", rows.join(", ")),
                format!("engine families: {}", self.families),
            ],
            verdict: Vec::new(),
            grids: vec![Grid {
                id: "batches".into(),
                title: format!("{} batches", self.batches.len()),
                headings,
                rows: self.batches.iter().map(row).collect(),
            }],
            caveats: Vec::new(),
        }
    }
}
