//! The `store` command: hands over to its actions.

use clap::Args;

use super::compact::Compact;
use super::init::Init;
use super::list::List;
use super::quarantine::Quarantine;
use super::verify::Verify;
use crate::answer::sheet::{Heading, Show};
use crate::cli::command::{Outcome, Subcommand};
use crate::domain::problem::Result;

/// Arguments of `store`.
#[derive(Debug, Args)]
pub struct StoreCommand {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Make a store, and the key that turns vehicles into pseudonyms
    Init(Init),
    /// List the batches: what came from where, and what became of its records
    List(List),
    /// Compare every file with its checksum, and name what a crash left behind
    Verify(Verify),
    /// Show the records that could not be used, and write them to a file for repair
    Quarantine(Quarantine),
    /// Bring many small batches together in few sorted files
    Compact(Compact),
}

impl Subcommand for StoreCommand {
    const NAME: &'static str = "store";
    const ABOUT: &'static str = "Make, list, check, repair and compact a store";
    const EXAMPLE: &'static str = "\
A store is one folder: copy it to back it up. Its key file lies beside it, not in it; keep a copy of that too.

Example:
  boretally store init shop.store
  boretally ingest exports --store shop.store
  boretally store list shop.store
  boretally store verify shop.store
  boretally store quarantine shop.store --out bad.csv";

    fn run(self) -> Result<Outcome> {
        match self.action {
            Action::Init(action) => action.run(),
            Action::List(action) => action.run(),
            Action::Verify(action) => action.run(),
            Action::Quarantine(action) => action.run(),
            Action::Compact(action) => action.run(),
        }
    }
}

pub(super) fn heading(id: &str, title: &str, show: Show) -> Heading {
    Heading {
        id: id.into(),
        title: title.into(),
        show,
    }
}
