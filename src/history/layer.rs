//! A layer of history: tables written one after the other by their statements, used again while their inputs stay the same.

use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

use super::cache::{self, Building, Manifest};
use super::options::{AFTER_CASE_DAYS, HistoryOptions, LARGEST_METRES_A_DAY, USUAL_DAYS};
use super::table::Derived;
use crate::domain::engine_life::{REPLACING_REPAIRS, RETIRING_REPAIRS};
use crate::domain::problem::Result;
use crate::query::engine::{Engine, Rows};
use crate::query::literal::Value;
use crate::query::statement;

/// Which tables, from which inputs.
pub struct Layer<'a> {
    /// First part of the folder's name.
    pub name: &'static str,
    /// Its tables in the order of building.
    pub tables: &'static [Derived],
    /// Fingerprint of the records.
    pub fingerprint: &'a str,
    /// Key of the layer it reads from; empty when it reads the records.
    pub below: &'a str,
    /// Comeback window and confirmation level, for the statements that depend on them.
    pub options: HistoryOptions,
}

impl Layer<'_> {
    /// Hash of all it is made from: the records, the bound statements, and this program's idea of the columns.
    pub fn key(&self) -> Result<String> {
        let mut hash = Sha256::new();
        let mut add = |text: &str| {
            hash.update(text.len().to_le_bytes());
            hash.update(text.as_bytes());
        };
        add(self.fingerprint);
        add(self.below);
        for table in self.tables {
            add(&statement::bind(table.name, &self.parameters(table.name))?);
            for (column, kind) in table.columns {
                add(&format!("{column} {kind:?}"));
            }
        }
        let digest = hash.finalize();
        Ok(digest.iter().take(10).map(|b| format!("{b:02x}")).collect())
    }

    fn parameters(&self, statement: &str) -> Vec<(&'static str, Value)> {
        let list = |ids: &[&str]| Value::Texts(ids.iter().map(|id| (*id).to_owned()).collect());
        match statement {
            "sightings" => vec![
                ("replacing_repairs", list(&REPLACING_REPAIRS)),
                ("after_case_days", Value::Int(AFTER_CASE_DAYS)),
            ],
            "vehicles" => vec![("retiring_repairs", list(&RETIRING_REPAIRS))],
            "odometer_checks" | "readings" => {
                vec![("metres_a_day", Value::Int(LARGEST_METRES_A_DAY))]
            }
            "observation_ends" => vec![
                ("after_case_days", Value::Int(AFTER_CASE_DAYS)),
                ("usual_days", Value::Int(USUAL_DAYS)),
            ],
            "failures" => vec![("confirmation", Value::Int(self.options.confirmation))],
            "chain_cases" => vec![
                ("window_days", Value::Int(self.options.window_days)),
                ("window_m", Value::Int(self.options.window_m)),
            ],
            _ => Vec::new(),
        }
    }

    /// Registers its tables, building them first if they are not there in good order; gives its account.
    ///
    /// `prepare` registers what the statements read from below and runs only before building.
    pub fn open<A: Serialize + DeserializeOwned>(
        &self,
        history: &Path,
        engine: &mut dyn Engine,
        prepare: &mut dyn FnMut(&mut dyn Engine) -> Result<()>,
        count: fn(&mut dyn Engine) -> Result<A>,
    ) -> Result<A> {
        let key = self.key()?;
        let place = history.join(format!("{}-{key}", self.name));
        let manifest = match cache::read(&place, &key) {
            Some(manifest) => manifest,
            None => {
                prepare(engine)?;
                let manifest = self.build(history, &place, &key, engine, count)?;
                cache::prune(history, self.fingerprint);
                manifest
            }
        };
        for table in self.tables.iter().filter(|t| t.kept) {
            register(engine, table, &place)?;
        }
        Ok(manifest.account)
    }

    fn build<A: Serialize + DeserializeOwned>(
        &self,
        history: &Path,
        place: &Path,
        key: &str,
        engine: &mut dyn Engine,
        count: fn(&mut dyn Engine) -> Result<A>,
    ) -> Result<Manifest<A>> {
        let building = Building::begin(history, key)?;
        let mut files = Vec::new();
        for table in self.tables {
            let file = building.folder().join(table.file_name());
            let rows = statement::write(engine, table.name, &self.parameters(table.name), &file)?;
            register(engine, table, building.folder())?;
            if table.kept {
                files.push(building.file(&table.file_name(), rows)?);
            }
        }
        let account = count(engine)?;
        for table in self.tables.iter().filter(|t| !t.kept) {
            // Only an intermediate: nothing reads it any more, and an empty table takes its place.
            engine.register(
                table.name,
                Rows::Parquet {
                    files: Vec::new(),
                    schema: table.schema(),
                },
            )?;
            let file = building.folder().join(table.file_name());
            // A file that stays costs space only.
            let _ = std::fs::remove_file(file);
        }
        building.finish(
            place,
            Manifest {
                key: key.to_owned(),
                fingerprint: self.fingerprint.to_owned(),
                files,
                account,
            },
        )
    }
}

fn register(engine: &mut dyn Engine, table: &Derived, folder: &Path) -> Result<()> {
    engine.register(
        table.name,
        Rows::Parquet {
            files: vec![folder.join(table.file_name())],
            schema: table.schema(),
        },
    )
}
