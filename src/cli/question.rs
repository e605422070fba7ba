//! The options that every question over a store shares, and what they mean once checked against that store.
//!
//! `QuestionArgs` is what was typed; `Asked` is what it means: ids that exist, a filter, rules, bands, an open engine.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::answer::question::Rules;
use crate::domain::catalog::{Catalog, Kind};
use crate::domain::day::Day;
use crate::domain::distance::UnitSystem;
use crate::domain::family::Families;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::domain::suggestion;
use crate::history::{self, History, HistoryOptions, StepAccount};
use crate::query::choice;
use crate::query::engine::Engine;
use crate::query::tables;
use crate::store::Store;
use crate::tally::{self, Exposure, Filter};

/// What runs the queries.
#[derive(Debug, Clone, Default, Args)]
pub struct EngineArgs {
    /// What runs the queries: embedded, or a cluster like flight-sql://host:50050 (flight-sqls:// with TLS); else BORETALLY_ENGINE.
    /// A cluster that does not see the store reads copies of its files in BORETALLY_OBJECT_STORE, like s3://bucket/prefix
    #[arg(long, value_name = "ADDRESS", help_heading = "Records")]
    pub engine: Option<String>,
}

impl EngineArgs {
    /// Opens it for a store.
    pub fn open(&self, store: &Store) -> Result<Box<dyn Engine>> {
        choice::open(self.engine.as_deref(), store)
    }
}

/// Where the records are.
#[derive(Debug, Clone, Args)]
pub struct StoreArgs {
    /// The store's folder
    #[arg(
        long,
        value_name = "FOLDER",
        default_value = "boretally-store",
        help_heading = "Records"
    )]
    pub store: PathBuf,
    /// Use this catalog of causes, tests and repairs instead of the store's own
    #[arg(long, value_name = "FILE", help_heading = "Records")]
    pub catalog: Option<PathBuf>,
    #[command(flatten)]
    pub engine: EngineArgs,
}

/// Units the reader thinks in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// Kilometres, kPa
    Metric,
    /// Miles, psi
    Us,
}

impl From<Units> for UnitSystem {
    fn from(units: Units) -> Self {
        match units {
            Units::Metric => UnitSystem::Metric,
            Units::Us => UnitSystem::Us,
        }
    }
}

/// Filters and rules of a question.
#[derive(Debug, Args)]
pub struct QuestionArgs {
    #[command(flatten)]
    pub records: StoreArgs,
    /// Engine family id (repeat, or separate with commas)
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "ID",
        help_heading = "Which cases"
    )]
    pub family: Vec<String>,
    /// Cause id or one of its aliases
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "ID",
        help_heading = "Which cases"
    )]
    pub cause: Vec<String>,
    /// Cylinder number
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "N",
        help_heading = "Which cases"
    )]
    pub cylinder: Vec<i64>,
    /// Site
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "NAME",
        help_heading = "Which cases"
    )]
    pub site: Vec<String>,
    /// Model year
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "YEAR",
        help_heading = "Which cases"
    )]
    pub model_year: Vec<i64>,
    /// First day counted, like 2023-01-01
    #[arg(long, value_name = "DAY", help_heading = "Which cases")]
    pub from: Option<String>,
    /// Last day counted, like 2023-12-31
    #[arg(long, value_name = "DAY", help_heading = "Which cases")]
    pub to: Option<String>,
    /// Least confirmation that counts: 0 parts fitted, 1 fix verified, 2 seen, 3 measured after tear-down
    #[arg(long, value_name = "LEVEL", default_value_t = 1, value_parser = clap::value_parser!(u8).range(0..=3), help_heading = "Rules")]
    pub confirmation: u8,
    /// A comeback within this many days is the same failure
    #[arg(long, value_name = "DAYS", default_value_t = 30, value_parser = clap::value_parser!(i64).range(0..=3650), help_heading = "Rules")]
    pub window_days: i64,
    /// ... and within this many kilometres
    #[arg(long, value_name = "KM", default_value_t = 1600, value_parser = clap::value_parser!(i64).range(0..=1_000_000), help_heading = "Rules")]
    pub window_km: i64,
    /// Confidence level of intervals
    #[arg(long, default_value_t = 0.95, help_heading = "Rules")]
    pub level: f64,
    /// Units to print
    #[arg(long, value_enum, default_value_t = Units::Metric, help_heading = "Output")]
    pub units: Units,
}

/// A question checked against its store, with the engine open.
pub struct Asked {
    /// The store.
    pub store: Store,
    /// Causes, tests and repairs.
    pub catalog: Catalog,
    /// Engine families.
    pub families: Families,
    /// The engine, with the store's tables open.
    pub engine: Box<dyn Engine>,
    /// Which cases.
    pub filter: Filter,
    /// Comeback window and confirmation.
    pub options: HistoryOptions,
    /// The history whose tables the engine holds now.
    opened: Option<History>,
}

impl QuestionArgs {
    /// Every case under the default rules.
    pub fn plain(records: StoreArgs, units: Units) -> Self {
        Self {
            records,
            family: Vec::new(),
            cause: Vec::new(),
            cylinder: Vec::new(),
            site: Vec::new(),
            model_year: Vec::new(),
            from: None,
            to: None,
            confirmation: 1,
            window_days: 30,
            window_km: 1600,
            level: 0.95,
            units,
        }
    }

    /// Opens the store and checks every id; `history` must be opened afterwards.
    pub fn open(&self) -> Result<Asked> {
        let store = Store::open(&self.records.store)?;
        let catalog = match &self.records.catalog {
            Some(file) => Catalog::load(file)?,
            None => store.catalog()?,
        };
        let families = store.families()?;
        let mut engine = self.records.engine.open(&store)?;
        tables::open_tables(&mut engine, &store)?;
        let filter = Filter {
            families: self.families(&families)?,
            causes: self.causes(&catalog)?,
            cylinders: self.cylinders()?,
            sites: self.sites(&mut engine)?,
            model_years: self.model_year.clone(),
            from: day("--from", self.from.as_deref())?,
            to: day("--to", self.to.as_deref())?,
        };
        if let (Some(from), Some(to)) = (filter.from, filter.to)
            && from > to
        {
            return Err(Problem::usage("the period ends before it begins")
                .field("--to")
                .value(to.to_string())
                .remedy(format!("give a day on or after {from}")));
        }
        Ok(Asked {
            store,
            catalog,
            families,
            engine,
            filter,
            options: self.options(),
            opened: None,
        })
    }

    fn options(&self) -> HistoryOptions {
        HistoryOptions {
            window_days: self.window_days,
            window_m: self.window_km * 1000,
            confirmation: i64::from(self.confirmation),
        }
    }

    /// The rules for an answer; `method` is the interval method, `exposure` how unseen distance is treated.
    pub fn rules(&self, method: &str, exposure: Exposure) -> Result<Rules> {
        if !(self.level > 0.0 && self.level < 1.0) {
            return Err(Problem::usage("a confidence level lies between 0 and 1")
                .field("--level")
                .value(self.level.to_string())
                .remedy("write 0.95 for 95 %"));
        }
        Ok(Rules {
            confirmation: self.confirmation,
            window_days: self.window_days,
            window_m: self.window_km * 1000,
            exposure,
            units: self.units.into(),
            level: self.level,
            method: method.to_string(),
        })
    }

    fn families(&self, families: &Families) -> Result<Vec<String>> {
        self.family
            .iter()
            .map(|id| families.expect_id(id, "--family").map(|f| f.id.clone()))
            .collect()
    }

    fn causes(&self, catalog: &Catalog) -> Result<Vec<String>> {
        self.cause
            .iter()
            .map(|id| {
                catalog
                    .expect(Kind::Cause, id, "--cause")
                    .map(str::to_string)
            })
            .collect()
    }

    fn cylinders(&self) -> Result<Vec<i64>> {
        for &n in &self.cylinder {
            if !(1..=16).contains(&n) {
                return Err(Problem::usage("cylinders are numbered from 1 to 16")
                    .field("--cylinder")
                    .value(n.to_string())
                    .remedy("give the cylinder's number"));
            }
        }
        Ok(self.cylinder.clone())
    }

    fn sites(&self, engine: &mut dyn Engine) -> Result<Vec<String>> {
        if self.site.is_empty() {
            return Ok(Vec::new());
        }
        let known = tally::sites::tally(engine)?;
        for site in &self.site {
            if !known.contains(site) {
                return Err(unknown_site(site, &known));
            }
        }
        Ok(self.site.clone())
    }
}

impl Asked {
    /// Builds or reuses the history under these options; its tables replace those of an earlier call.
    pub fn history(&mut self, options: HistoryOptions) -> Result<History> {
        if let Some(opened) = self.opened.as_ref().filter(|h| h.options == options) {
            return Ok(opened.clone());
        }
        let history = history::open(&self.store, &mut self.engine, &options)?;
        self.opened = Some(history.clone());
        Ok(history)
    }

    /// Opens the test steps beside the history under the options asked for.
    pub fn steps(&mut self) -> Result<StepAccount> {
        let history = self.history(self.options)?;
        history::open_steps(&self.store, &mut self.engine, &history)
    }

    /// The default mileage bands, or the ones typed (in thousands of the reader's unit).
    pub fn bands(&self, typed: Option<&str>, units: UnitSystem) -> Result<MileageBands> {
        match typed {
            Some(text) => MileageBands::parse(text, units.distance()),
            None => Ok(MileageBands::default_for(units)),
        }
    }
}

fn day(option: &str, text: Option<&str>) -> Result<Option<Day>> {
    text.map(|t| {
        Day::parse_iso(t).ok_or_else(|| {
            Problem::usage("not a day")
                .field(option)
                .value(t)
                .remedy("write it like 2023-06-30")
        })
    })
    .transpose()
}

fn unknown_site(site: &str, known: &[String]) -> Problem {
    let listed = format!("sites with records: {}", known.join(", "));
    let remedy = match suggestion::closest(site, known.iter().map(String::as_str)) {
        Some(close) => format!("did you mean {close}? {listed}"),
        None => listed,
    };
    Problem::data("no such site")
        .field("--site")
        .value(site)
        .remedy(remedy)
}
