//! `store init`: makes a store and its vehicle key.

use std::path::PathBuf;

use clap::Args;

use crate::cli::command::Outcome;
use crate::cli::output;
use crate::domain::catalog::Catalog;
use crate::domain::family::Families;
use crate::domain::problem::{AtFile, Result};
use crate::store::{InitOptions, Store};

/// Arguments of `store init`.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  boretally store init shop.store
makes the folder shop.store and, beside it, the key shop.store.key. Several stores of one owner may share a key:
  boretally store init south.store --key shop.store.key
A key file that is there already is used and never overwritten.")]
pub struct Init {
    /// A new or empty folder
    path: PathBuf,
    /// The vehicle key: used if it is there, made if not; beside the store unless given
    #[arg(long, value_name = "FILE")]
    key: Option<PathBuf>,
    /// Keep vehicle identification numbers as they stand in the exports instead of keyed pseudonyms
    #[arg(long, conflicts_with = "key")]
    keep_vin: bool,
    /// Engine families to begin with
    #[arg(long, value_name = "FILE")]
    families: Option<PathBuf>,
    /// The shop's own catalog of causes, tests and repairs instead of the one that comes along
    #[arg(long, value_name = "FILE")]
    catalog: Option<PathBuf>,
}

impl Init {
    pub(super) fn run(self) -> Result<Outcome> {
        // What is wrong with a file should be said before there is half a store.
        let families = self.families.map(Families::load).transpose()?;
        let catalog = match &self.catalog {
            Some(file) => {
                Catalog::load(file)?;
                Some(std::fs::read_to_string(file).at_file("read the catalog", file)?)
            }
            None => None,
        };
        let options = InitOptions {
            key: self
                .key
                .map(std::path::absolute)
                .transpose()
                .at_file("use this path", &self.path)?,
            keep_vin: self.keep_vin,
        };
        let store = Store::init(&self.path, &options)?;
        if let Some(families) = &families {
            store.add_families(families)?;
        }
        if let (Some(text), Some(file)) = (catalog, self.catalog) {
            store.set_catalog(&text, &file)?;
        }
        let mut text = format!("Made the store {}.\n", store.path().display());
        if store.keeps_vin() {
            text += "Vehicles are kept as they stand in the exports: whoever has the store can read them.\n";
        } else {
            text += &format!(
                "Vehicles are stored as pseudonyms under the key {}.\n\
                 Keep that file, and a copy of it, apart from the store: without it new records cannot be linked to\n\
                 known vehicles; with it and the store, vehicles can be recognised.\n",
                store.key_file().display()
            );
        }
        output::print(text.as_bytes())?;
        Ok(Outcome::Done)
    }
}
