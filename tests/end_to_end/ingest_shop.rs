//! A small shop for tests of ingest: a folder for exports, a store, and SQL over what came in.

use std::path::{Path, PathBuf};

use arrow::util::display::{ArrayFormatter, FormatOptions};
use boretally::domain::catalog::Catalog;
use boretally::domain::day::Day;
use boretally::domain::family::Families;
use boretally::domain::problem::Problem;
use boretally::ingest::account::FileAccount;
use boretally::ingest::mapping::Mapping;
use boretally::ingest::mapping::code_list::Names;
use boretally::ingest::run::Ingest;
use boretally::ingest::translate::Naming;
use boretally::query::engine::Engine;
use boretally::query::local::Local;
use boretally::query::tables::open_tables;
use boretally::store::{InitOptions, Store, VehicleKey};

pub const FAMILIES: &str = r#"
[[family]]
id = "alder-4"
title = "Alder four"
cylinders = 4
layout = "inline"
firing_order = "1-3-4-2"
match = [{ engine = "Alder 1.6" }, { engine = "Common", from = 2010 }]

[[family]]
id = "birch-6"
title = "Birch six"
cylinders = 6
layout = "inline"
match = [{ engine = "Birch 3.0" }, { engine = "Common", to = 2009 }]
"#;

/// Vehicle numbers that pass the check digit (made up; computed for the trade notes of the project).
pub const VIN_A: &str = "11111111111111111";
pub const VIN_B: &str = "000AA00A8A0000001";

pub struct Shop {
    folder: tempfile::TempDir,
    catalog: Catalog,
    families: Families,
    /// Rows whose hashes are held in memory.
    pub held: usize,
    /// Take the hashes of known versions away before every file: they are made again from the batches.
    pub forget: bool,
}

impl Shop {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let store = folder.path().join("shop.store");
        Store::init(store, &InitOptions::default()).expect("a store");
        Self {
            folder,
            catalog: Catalog::embedded().expect("the catalog"),
            families: Families::from_toml(FAMILIES, "families.toml").expect("families"),
            held: 1000,
            forget: false,
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn store(&self) -> Store {
        Store::open(self.path("shop.store")).expect("the store")
    }

    pub fn key(&self) -> VehicleKey {
        self.store().vehicle_key().expect("a key").expect("a key")
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let file = self.path(name);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        std::fs::write(&file, bytes).expect("written");
        file
    }

    pub fn mapping(&self, text: &str) -> Result<Mapping, Problem> {
        let names = Names {
            catalog: &self.catalog,
            families: &self.families,
        };
        Mapping::from_text(text, &self.path("a.mapping.toml"), &names)
    }

    /// Gives a run of ingest to `work`.
    pub fn with_run<T>(&self, work: impl FnOnce(&Ingest) -> T) -> T {
        let store = self.store();
        work(&Ingest {
            store: &store,
            names: Names {
                catalog: &self.catalog,
                families: &self.families,
            },
            names_text: FAMILIES,
            naming: Naming::Keyed(Box::new(self.key())),
            as_of: Day::parse_iso("2025-12-31").expect("a day"),
            held: self.held,
        })
    }

    pub fn ingest_file(&self, file: &Path, mapping: &str) -> Result<FileAccount, Problem> {
        let mapping = self.mapping(mapping)?;
        let versions = self.store().layout().versions();
        if self.forget && versions.exists() {
            std::fs::remove_dir_all(&versions).expect("removed");
        }
        let account = self.with_run(|run| run.file(file, &mapping))?;
        assert_eq!(
            account.read,
            account.kept + account.flagged + account.duplicate + account.quarantined,
            "{account:?}"
        );
        Ok(account)
    }

    /// Writes `a.csv` and ingests it.
    pub fn ingest(&self, export: impl AsRef<[u8]>, mapping: &str) -> FileAccount {
        let file = self.write("a.csv", export);
        self.ingest_file(&file, mapping)
            .unwrap_or_else(|p| panic!("{p}"))
    }

    /// The rows of a query, cells joined by `|`; empty cells as nothing.
    pub fn rows(&self, sql: &str) -> Vec<String> {
        let mut engine = Local::new();
        open_tables(&mut engine, &self.store()).expect("tables");
        let batch = engine.query(sql).unwrap_or_else(|p| panic!("{p}"));
        let options = FormatOptions::default();
        let columns: Vec<ArrayFormatter> = batch
            .columns()
            .iter()
            .map(|c| ArrayFormatter::try_new(c.as_ref(), &options).expect("shown"))
            .collect();
        (0..batch.num_rows())
            .map(|i| {
                columns
                    .iter()
                    .map(|c| c.value(i).to_string())
                    .collect::<Vec<_>>()
                    .join("|")
            })
            .collect()
    }

    /// The quarantine: target, field, reason, value.
    pub fn quarantine(&self) -> Vec<String> {
        let store = self.store();
        let files = store
            .table_files(boretally::domain::table::Table::Quarantine)
            .expect("files");
        let schema = boretally::store::arrow_schema(boretally::domain::table::Table::Quarantine);
        let mut engine = Local::new();
        let rows = boretally::query::engine::Rows::Parquet { files, schema };
        engine.register("quarantine", rows).expect("registered");
        let batch = engine
            .query("SELECT line, target, field, reason, value, hint, raw FROM quarantine ORDER BY line, target, field")
            .expect("rows");
        let options = FormatOptions::default();
        let columns: Vec<ArrayFormatter> = batch
            .columns()
            .iter()
            .map(|c| ArrayFormatter::try_new(c.as_ref(), &options).expect("shown"))
            .collect();
        (0..batch.num_rows())
            .map(|i| {
                columns
                    .iter()
                    .map(|c| c.value(i).to_string())
                    .collect::<Vec<_>>()
                    .join("|")
            })
            .collect()
    }

    /// Every byte that the store keeps.
    pub fn bytes(&self) -> Vec<u8> {
        let mut all = Vec::new();
        let mut waiting = vec![self.path("shop.store")];
        while let Some(folder) = waiting.pop() {
            for entry in std::fs::read_dir(folder).expect("a folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    waiting.push(path);
                } else {
                    all.extend(std::fs::read(path).expect("bytes"));
                }
            }
        }
        all
    }
}

/// A mapping of visits only, with what a test adds to `[format]`.
pub fn visits(format: &str) -> String {
    format!(
        r#"
source = "desk"
files = ["*.csv"]
[format]
delimiter = ";"
{format}
[defaults]
site = "Larkmouth"
distance_unit = "km"
[[table]]
into = "visits"
[table.columns]
record = "Order"
vehicle = "VIN"
date = "In"
odometer = "Km"
engine = "Engine"
model_year = "MY"
"#
    )
}
