//! A layer of history: tables written one after the other by their statements, used again while their inputs stay the same.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

use super::cache::{self, Building, Manifest};
use super::options::{AFTER_CASE_DAYS, HistoryOptions, LARGEST_METRES_A_DAY, USUAL_DAYS};
use super::span_tables::VEHICLE_NUMBERS;
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
    /// Vehicles of one slice, see [`VEHICLES_A_SLICE`].
    pub vehicles_a_slice: u64,
}

/// Sliced tables are written for so many vehicles at a time: what a statement sorts and joins then stays in memory, however many
/// there are. Some 20 sightings a vehicle make half a million rows.
pub const VEHICLES_A_SLICE: u64 = 25_000;

/// Vehicles from one number to another.
#[derive(Debug, Clone, Copy)]
struct Slice {
    first: i64,
    end: i64,
}

impl Slice {
    const ALL: Slice = Slice {
        first: i64::MIN,
        end: i64::MAX,
    };

    /// Cuts vehicles 1, 2, ... into slices; there is always one.
    fn cut(vehicles: u64, size: u64) -> Vec<Slice> {
        let number = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
        let size = size.max(1);
        (0..vehicles.div_ceil(size).max(1))
            .map(|i| Slice {
                first: number(i * size + 1),
                end: number((i + 1) * size + 1),
            })
            .collect()
    }
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
                &self.parameters(table, Slice::ALL),
            )?);
            for (column, kind) in table.columns {
                add(&format!("{column} {kind:?}"));
            }
        }
        let digest = hash.finalize();
        Ok(digest.iter().take(10).map(|b| format!("{b:02x}")).collect())
    }

    fn parameters(&self, table: &Derived, slice: Slice) -> Vec<(&'static str, Value)> {
        let list = |ids: &[&str]| Value::Texts(ids.iter().map(|id| (*id).to_owned()).collect());
        let mut parameters = match table.name {
            "sightings" => vec![
                ("replacing_repairs", list(&REPLACING_REPAIRS)),
                ("after_case_days", Value::Int(AFTER_CASE_DAYS)),
            ],
            "vehicles" => vec![("retiring_repairs", list(&RETIRING_REPAIRS))],
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
        if table.sliced {
            parameters.push(("first_vehicle", Value::Int(slice.first)));
            parameters.push(("end_vehicle", Value::Int(slice.end)));
        }
        parameters
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
            let files = manifest.files.iter().filter(|f| table.is_file(&f.name));
            let files = files.map(|f| place.join(&f.name)).collect();
            register(engine, table, files)?;
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
        let mut scratch = Vec::new();
        let mut slices = vec![Slice::ALL];
        for table in self.tables {
            let mut written = Vec::new();
            let mut rows = 0;
            let parts = if table.sliced { slices.len() } else { 1 };
            for (i, slice) in slices.iter().take(parts).enumerate() {
                let name = table.file_name(i);
                let file = building.folder().join(&name);
                rows =
                    statement::write(engine, table.name, &self.parameters(table, *slice), &file)?;
                if table.kept {
                    files.push(building.file(&name, rows)?);
                } else {
                    scratch.push(file.clone());
                }
                written.push(file);
            }
            register(engine, table, written)?;
            if table.name == VEHICLE_NUMBERS {
                slices = Slice::cut(rows, self.vehicles_a_slice);
            }
        }
        let account = count(engine)?;
        for table in self.tables.iter().filter(|t| !t.kept) {
            // Only an intermediate: nothing reads it any more, and an empty table takes its place.
            register(engine, table, Vec::new())?;
        }
        for file in scratch {
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

fn register(engine: &mut dyn Engine, table: &Derived, files: Vec<PathBuf>) -> Result<()> {
    engine.register(
        table.name,
        Rows::Parquet {
            files,
            schema: table.schema(),
        },
    )
}
