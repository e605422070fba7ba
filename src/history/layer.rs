//! A layer of history: tables written one after the other by their statements, used again while their inputs stay the same.

use std::path::Path;

use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

use super::building::{self, register};
use super::cache::{self, Manifest};
use super::options::{AFTER_CASE_DAYS, HistoryOptions, LARGEST_METRES_A_DAY, USUAL_DAYS};
use super::slice::Slice;
use super::table::{Derived, Sliced};
use crate::domain::engine_life::{REPLACING_REPAIRS, RETIRING_REPAIRS};
use crate::domain::problem::Result;
use crate::query::engine::Engine;
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
    /// Rows of visits, cases and findings, about: by their number digests are cut into slices.
    pub stored_rows: u64,
    /// Vehicles that have a number, where a layer below numbers them.
    pub vehicles: u64,
    /// Vehicles of one slice, see [`super::slice::VEHICLES_A_SLICE`].
    pub vehicles_a_slice: u64,
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
            add(&statement::bind(
                table.name,
                &self.parameters(table, Slice::all(table.sliced)),
            )?);
            for (column, kind) in table.columns {
                add(&format!("{column} {kind:?}"));
            }
        }
        let digest = hash.finalize();
        Ok(digest.iter().take(10).map(|b| format!("{b:02x}")).collect())
    }

    /// What the statement of a table is bound to.
    pub(super) fn parameters(&self, table: &Derived, slice: Slice) -> Vec<(&'static str, Value)> {
        let list = |ids: &[&str]| Value::Texts(ids.iter().map(|id| (*id).to_owned()).collect());
        let mut parameters = match table.name {
            "marked_cases" => vec![
                ("replacing_repairs", list(&REPLACING_REPAIRS)),
                ("retiring_repairs", list(&RETIRING_REPAIRS)),
            ],
            "sightings" => vec![("after_case_days", Value::Int(AFTER_CASE_DAYS))],
            "odd_vehicles" | "odometer_checks" | "clocks" => {
                vec![("metres_a_day", Value::Int(LARGEST_METRES_A_DAY))]
            }
            "observation_ends" => vec![
                ("after_case_days", Value::Int(AFTER_CASE_DAYS)),
                ("usual_days", Value::Int(USUAL_DAYS)),
            ],
            "episodes" | "unconfirmed_cases" => {
                vec![("confirmation", Value::Int(self.options.confirmation))]
            }
            "chain_cases" => vec![
                ("confirmation", Value::Int(self.options.confirmation)),
                ("window_days", Value::Int(self.options.window_days)),
                ("window_m", Value::Int(self.options.window_m)),
            ],
            _ => Vec::new(),
        };
        let mut add = |name, number| parameters.push((name, Value::Int(number)));
        match table.sliced {
            Sliced::Not => {}
            Sliced::ByVehicle | Sliced::ByManyVehicles => {
                add("first_vehicle", slice.first);
                add("end_vehicle", slice.end);
            }
            Sliced::ByDigest => {
                add("first_digest", slice.first);
                add("end_digest", slice.end);
            }
            Sliced::ByRow | Sliced::ByManyRows => {
                let (first, end) = (
                    Slice::batch_and_line(slice.first),
                    Slice::batch_and_line(slice.end),
                );
                add("first_batch", first.0);
                add("first_line", first.1);
                add("end_batch", end.0);
                add("end_line", end.1);
            }
        }
        parameters
    }

    /// Registers its tables, building them first if they are not there in good order; gives its manifest.
    ///
    /// `prepare` registers what the statements read from below and runs only before building.
    pub fn open<A: Serialize + DeserializeOwned>(
        &self,
        history: &Path,
        engine: &mut dyn Engine,
        prepare: &mut dyn FnMut(&mut dyn Engine) -> Result<()>,
        count: fn(&mut dyn Engine) -> Result<A>,
    ) -> Result<Manifest<A>> {
        let key = self.key()?;
        let place = history.join(format!("{}-{key}", self.name));
        let manifest = match cache::read(&place, &key) {
            Some(manifest) => manifest,
            None => {
                prepare(engine)?;
                let manifest = building::build(self, history, &place, &key, engine, count)?;
                cache::prune(history, self.fingerprint);
                manifest
            }
        };
        for table in self.tables.iter().filter(|t| t.kept) {
            let files = manifest.files_of(table).map(|f| place.join(&f.name));
            register(engine, table, files.collect())?;
        }
        Ok(manifest)
    }
}
