//! `store verify`: is everything there that was committed?

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::command::heading;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::cli::command::Outcome;
use crate::cli::output::OutputArgs;
use crate::domain::problem::Result;
use crate::store::Store;
use crate::store::scrap::Scrap;
use crate::store::verify::Verification;

/// Arguments of `store verify`.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  boretally store verify shop.store
  boretally store verify shop.store --remove-scrap
Exit code 1 if anything committed is damaged or missing. Scrap is what an ingest that was cut short left behind; it never
counts, and the next ingest takes it away too.")]
pub struct Verify {
    /// The store
    path: PathBuf,
    /// Take away what does not count
    #[arg(long)]
    remove_scrap: bool,
    #[command(flatten)]
    output: OutputArgs,
}

impl Verify {
    pub(super) fn run(self) -> Result<Outcome> {
        let store = Store::open(&self.path)?;
        let found = store.verify()?;
        let removed = if self.remove_scrap {
            store.remove_scrap()?
        } else {
            Vec::new()
        };
        let report = Report {
            store: store.path().display().to_string(),
            sound: found.damage.is_empty(),
            found,
            removed,
        };
        self.output.emit(&report)?;
        Ok(if report.sound {
            Outcome::Done
        } else {
            Outcome::CheckFailed
        })
    }
}

#[derive(Debug, Serialize)]
struct Report {
    store: String,
    sound: bool,
    #[serde(flatten)]
    found: Verification,
    removed: Vec<Scrap>,
}

impl Report {
    fn verdict(&self) -> Vec<String> {
        let found = &self.found;
        let mut lines = vec![if self.sound {
            format!(
                "sound: {} batches, {} files, {} rows are as they were written",
                found.batches, found.files, found.rows
            )
        } else {
            format!(
                "damaged: {} things are not as they were written; restore them from a backup, or remove the batch's \
                 folder and ingest its export again",
                found.damage.len()
            )
        }];
        if !self.removed.is_empty() {
            lines.push(format!("removed {} pieces of scrap", self.removed.len()));
        } else if !found.scrap.is_empty() {
            lines.push(format!(
                "{} pieces of scrap do not count and may be removed with --remove-scrap",
                found.scrap.len()
            ));
        }
        lines
    }
}

impl Answer for Report {
    const CONTRACT: &'static str = "boretally.store-verify/1";

    fn sheet(&self) -> Sheet {
        let row = |kind: &str, path: &std::path::Path, what: &str| {
            vec![
                Cell::Text(kind.into()),
                Cell::Text(path.display().to_string()),
                Cell::Text(what.into()),
            ]
        };
        let damage = self.found.damage.iter();
        let mut rows: Vec<_> = damage.map(|d| row("damage", &d.path, &d.what)).collect();
        let gone = |s: &&Scrap| self.removed.contains(s);
        let scrap = self.found.scrap.iter().filter(|s| !gone(s));
        rows.extend(scrap.map(|s| row("scrap", &s.path, s.what)));
        rows.extend(self.removed.iter().map(|s| row("removed", &s.path, s.what)));
        let headings = vec![
            heading("kind", "kind", Show::Text),
            heading("path", "where", Show::Text),
            heading("what", "what", Show::Text),
        ];
        let grid = Grid {
            id: "findings".into(),
            title: "What was found".into(),
            headings,
            rows,
        };
        Sheet {
            title: format!("Check of {}", self.store),
            basis: Vec::new(),
            verdict: self.verdict(),
            grids: vec![grid],
            caveats: Vec::new(),
        }
    }
}
