//! `compare`: the readings just taken, cylinder by cylinder.

use std::path::PathBuf;

use clap::Args;

use super::command::{Outcome, Subcommand};
use super::output::OutputArgs;
use super::question::{Asked, EngineArgs, QuestionArgs, StoreArgs, Units};
use super::readings::{cylinder_test, fetch, input, one_family};
use super::typed_reading::{self, TypedSet};
use crate::answer::compare::{self, compute::Input, records::Records};
use crate::answer::readings::sample::shown_unit;
use crate::domain::catalog::{Catalog, Test};
use crate::domain::distance::UnitSystem;
use crate::domain::problem::{Problem, Result};
use crate::domain::unit::Unit;
use crate::tally::Exposure;

/// Where records are looked for when no store is named.
const USUAL_STORE: &str = "boretally-store";

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Readings, one a cylinder: 1=620kPa 3=140psi, or 3=35%@exhaust for a leak with its path
    #[arg(required = true, value_name = "CYLINDER=READING")]
    readings: Vec<String>,
    /// Test that was done
    #[arg(long, value_name = "ID")]
    test: String,
    /// Engine family, to compare with healthy cylinders of the same engine
    #[arg(long, value_name = "ID", help_heading = "Records")]
    family: Option<String>,
    /// The store's folder; without records common practice alone judges
    #[arg(long, value_name = "FOLDER", help_heading = "Records")]
    store: Option<PathBuf>,
    /// Use this catalog of causes, tests and repairs
    #[arg(long, value_name = "FILE", help_heading = "Records")]
    catalog: Option<PathBuf>,
    #[command(flatten)]
    engine: EngineArgs,
    /// Confidence level of intervals
    #[arg(long, default_value_t = 0.95, help_heading = "Rules")]
    level: f64,
    /// Seed of the samples that are drawn again for intervals
    #[arg(long, default_value_t = 1, help_heading = "Rules")]
    seed: u64,
    /// Units to print; those of the readings unless told
    #[arg(long, value_enum, help_heading = "Output")]
    units: Option<Units>,
    #[command(flatten)]
    output: OutputArgs,
}

impl Subcommand for CompareArgs {
    const NAME: &'static str = "compare";
    const ABOUT: &'static str =
        "Compare the readings just taken: which cylinder is odd, and what next";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally compare --test cranking_compression 1=90psi 2=140psi\n  \
        boretally compare --store S --family alder-4 --test cranking_compression 1=965kPa 2=950kPa 3=620kPa 4=9.7bar\n  \
        boretally compare --test cylinder_leakage 1=8% 2=35%@exhaust 3=7% 4=9%\n\n\
        The first calls cylinder 1 abnormal, 64 % of the highest, and sends you to a leakage test with its path. Needs no records.";

    fn run(self) -> Result<Outcome> {
        let asked = self.records()?;
        let catalog = match (&asked, &self.catalog) {
            (Some(asked), _) => asked.catalog.clone(),
            (None, Some(file)) => Catalog::load(file)?,
            (None, None) => Catalog::embedded()?,
        };
        let test = cylinder_test(&catalog, &self.test)?;
        let set = typed_reading::read(&self.readings, test, &catalog)?;
        let units = self.units.map_or_else(|| units_of(&set), UnitSystem::from);
        let answer = match asked {
            Some(mut asked) => self.with_records(&mut asked, test, &set, units)?,
            None => {
                let family = self.family.clone().map(|id| (id.clone(), id));
                compare::answer(&self.input(test, &set, units, &catalog, family, None))?
            }
        };
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

/// The reader thinks in psi if every reading was typed in it.
fn units_of(set: &TypedSet) -> UnitSystem {
    let in_psi = !set.units.is_empty() && set.units.iter().all(|u| *u == Unit::Psi);
    if in_psi {
        UnitSystem::Us
    } else {
        UnitSystem::Metric
    }
}

impl CompareArgs {
    /// The store, if there is one to ask and the family is named.
    fn records(&self) -> Result<Option<Asked>> {
        let store = match &self.store {
            Some(store) => store.clone(),
            None if PathBuf::from(USUAL_STORE).is_dir() => PathBuf::from(USUAL_STORE),
            None => {
                // The level is checked here where no question checks it.
                self.question(PathBuf::new())
                    .rules("", Exposure::Observed)?;
                return Ok(None);
            }
        };
        let mut asked = self.question(store);
        match &self.family {
            Some(family) => asked.family = vec![family.clone()],
            None if self.store.is_some() => {
                return Err(Problem::usage(
                    "records can be compared with for one engine family only",
                )
                .field("--family")
                .remedy("name the family, or leave --store out"));
            }
            None => return Ok(None),
        }
        asked.open().map(Some)
    }

    fn question(&self, store: PathBuf) -> QuestionArgs {
        let records = StoreArgs {
            store,
            catalog: self.catalog.clone(),
            engine: self.engine.clone(),
        };
        QuestionArgs {
            level: self.level,
            ..QuestionArgs::plain(records, self.units.unwrap_or(Units::Metric))
        }
    }

    fn with_records(
        &self,
        asked: &mut Asked,
        test: &Test,
        set: &TypedSet,
        units: UnitSystem,
    ) -> Result<compare::Comparison> {
        let mut rules = self
            .question(PathBuf::new())
            .rules("", Exposure::Observed)?;
        rules.units = units;
        let family = one_family(asked)?;
        let filter = asked.filter.clone();
        let tested = fetch(asked, &filter, std::slice::from_ref(&test.id))?;
        let question = input(asked, &family, &rules, test, &tested, self.seed)?;
        let sample = question.sample(i64::from(rules.confirmation))?;
        let has = question.cylinders;
        if let Some(over) = set.readings.iter().find(|r| r.cylinder > has) {
            return Err(
                Problem::usage(format!("this engine family has {has} cylinders"))
                    .field("READINGS")
                    .value(&over.text)
                    .remedy("correct the cylinder or the family"),
            );
        }
        let named = (family.clone(), question.family_title());
        // Readings of another kind than the records' are judged without them: units are never mixed.
        let same = sample.unit == shown_unit(set.canonical, units);
        let records = same
            .then(|| Records::new(&sample, test.faulty, self.level, self.seed))
            .transpose()?;
        compare::answer(&self.input(test, set, units, &asked.catalog, Some(named), records))
    }

    fn input<'a>(
        &self,
        test: &'a Test,
        set: &'a TypedSet,
        units: UnitSystem,
        catalog: &'a Catalog,
        family: Option<(String, String)>,
        records: Option<Records<'a>>,
    ) -> Input<'a> {
        Input {
            typed: &set.readings,
            test,
            canonical: set.canonical,
            unit: shown_unit(set.canonical, units),
            unit_inferred: set.inferred,
            family,
            records,
            level: self.level,
            catalog,
        }
    }
}
