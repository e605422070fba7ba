//! `budget`: arguments in, answer out.

use std::path::{Path, PathBuf};

use clap::Args;

use super::gather;
use super::past;
use super::plan::{self, Plan};
use super::roster::RosterArgs;
use crate::answer::budget::Budget;
use crate::cli::command::{Outcome, Subcommand};
use crate::cli::output::OutputArgs;
use crate::cli::question::{QuestionArgs, StoreArgs, Units};
use crate::domain::day::Day;
use crate::domain::distance::UnitSystem;
use crate::domain::problem::{Problem, Result};
use crate::report::render;

/// Arguments of `budget`.
#[derive(Debug, Args)]
pub struct BudgetArgs {
    #[command(flatten)]
    records: StoreArgs,
    #[command(flatten, next_help_heading = "Fleet")]
    fleet: RosterArgs,
    /// Months to budget for
    #[arg(long, default_value_t = 12, value_parser = clap::value_parser!(u32).range(1..=120), help_heading = "Fleet")]
    months: u32,
    /// Months that the roster's planned distances are for; the months budgeted for if not given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=120), help_heading = "Fleet", conflicts_with = "check")]
    plan_months: Option<u32>,
    /// First day of the period; the day after the last record if not given
    #[arg(long, value_name = "DAY", value_parser = parse_day, help_heading = "Fleet")]
    from: Option<Day>,
    /// What is repaired: head (all head-off causes of the catalog), or causes
    #[arg(
        long,
        value_delimiter = ',',
        default_value = "head",
        value_name = "CAUSES",
        help_heading = "Repairs"
    )]
    repairs: Vec<String>,
    /// Least confirmation that counts: 0 parts fitted, 1 fix verified, 2 seen, 3 measured after tear-down
    #[arg(long, value_name = "LEVEL", default_value_t = 1, value_parser = clap::value_parser!(u8).range(0..=3), help_heading = "Repairs")]
    confirmation: u8,
    /// Currency counted; the most frequent one of the records if not given
    #[arg(long, value_name = "CODE", help_heading = "Money")]
    currency: Option<String>,
    /// Year whose prices are wanted; that of the first day if not given
    #[arg(long, value_name = "YEAR", help_heading = "Money")]
    price_year: Option<i64>,
    /// Yearly inflation that brings older prices to that year, such as 0.03
    #[arg(
        long,
        value_name = "SHARE",
        default_value_t = 0.0,
        help_heading = "Money"
    )]
    inflation: f64,
    /// Rate per labour hour to budget with, in major units
    #[arg(long, value_name = "RATE", help_heading = "Money")]
    rate_per_hour: Option<f64>,
    /// Rate per labour hour that the recorded costs hold; read from them if not given
    #[arg(long, value_name = "RATE", help_heading = "Money")]
    recorded_rate: Option<f64>,
    /// Confidence of the reserve
    #[arg(
        long,
        value_name = "SHARE",
        default_value_t = 0.9,
        help_heading = "Money"
    )]
    confidence: f64,
    /// Cost of a repair, instead of the recorded ones, in the comparison with replacement
    #[arg(long, value_name = "COST", help_heading = "Replacement")]
    repair_cost: Option<f64>,
    /// Cost of a head replacement, instead of the recorded ones
    #[arg(long, value_name = "COST", help_heading = "Replacement")]
    head_cost: Option<f64>,
    /// Cost of an engine replacement, instead of the recorded ones
    #[arg(long, value_name = "COST", help_heading = "Replacement")]
    engine_cost: Option<f64>,
    /// Distance a vehicle is kept after the repair, in km or miles; 100,000 km if not given
    #[arg(long, value_name = "DISTANCE", help_heading = "Replacement")]
    keep: Option<f64>,
    /// Hold budgets made on these past days against what happened since (days like 2023-06-30, separated by commas)
    #[arg(long, value_delimiter = ',', value_name = "DAYS", value_parser = parse_day, help_heading = "Check", conflicts_with = "roster")]
    check: Vec<Day>,
    /// Seed of the simulation: the same seed gives the same budget
    #[arg(long, default_value_t = 1, help_heading = "Rules")]
    seed: u64,
    /// Draws of the lives; more are slower and smoother
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u32).range(50..=100_000), help_heading = "Rules")]
    draws: u32,
    /// Units to print
    #[arg(long, value_enum, default_value_t = Units::Metric, help_heading = "Output")]
    units: Units,
    /// Write the budget as a workbook too, with the rate per hour and inflation as cells to change
    #[arg(
        long,
        value_name = "FILE",
        help_heading = "Output",
        conflicts_with = "check"
    )]
    workbook: Option<PathBuf>,
    /// Write every table as CSV into this folder: families, ranges, all units, months, spread, replacement, assumptions
    #[arg(
        long,
        value_name = "FOLDER",
        help_heading = "Output",
        conflicts_with = "check"
    )]
    tables: Option<PathBuf>,
    #[command(flatten)]
    output: OutputArgs,
}

fn parse_day(text: &str) -> std::result::Result<Day, String> {
    Day::parse_iso(text).ok_or_else(|| "write the day like 2024-06-30".to_owned())
}

impl Subcommand for BudgetArgs {
    const NAME: &'static str = "budget";
    const ABOUT: &'static str = "Repairs to expect of a fleet, their cost, and a safe reserve";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally budget --roster fleet.csv --months 12 --store S\n  \
        boretally budget --roster fleet.csv --store S --repairs head_gasket,head_crack --inflation 0.03 --confidence 0.95\n  \
        boretally budget --check 2022-06-30,2023-06-30 --store S\n\n\
        The roster has one unit a row: unit (or vin), engine_family, odometer_km on the first day, planned_km over the months\n\
        budgeted for (or over --plan-months). A missing plan is estimated from the unit's own visits. Rows that cannot be used\n\
        are told and left out, never counted as 0.";

    fn run(self) -> Result<Outcome> {
        let mut question = QuestionArgs::plain(self.records.clone(), self.units);
        question.confirmation = self.confirmation;
        let mut asked = question.open()?;
        let plan = self.plan(&asked.catalog)?;
        if !self.check.is_empty() {
            let checked = past::checked(&mut asked, &plan, &self.check)?;
            if let Some(checked) = checked {
                self.output.emit(&checked)?;
            }
            return Ok(Outcome::Done);
        }
        let Some(place) = self.fleet.place() else {
            return Err(Problem::usage("a budget needs a fleet")
                .field("--roster")
                .remedy("add --roster FILE, one unit a row; or --check DAY to hold a past budget against what happened"));
        };
        let roster = gather::roster(&asked, &place, &plan)?;
        let budget = gather::budget(&mut asked, &plan, roster)?;
        if let Some(file) = &self.workbook {
            render::file::write(file, &render::workbook::budget(&budget)?)?;
        }
        if let Some(folder) = &self.tables {
            tables(&budget, folder)?;
        }
        self.output.emit(&budget)?;
        if budget.total.units == 0 {
            return Ok(Outcome::CheckFailed);
        }
        Ok(Outcome::Done)
    }
}

/// Every table as a file of its own.
fn tables(budget: &Budget, folder: &Path) -> Result<()> {
    for grid in budget.whole_grids() {
        let file = folder.join(format!("{}.csv", grid.id));
        render::file::write(&file, &render::csv::grid(&grid)?)?;
    }
    Ok(())
}

impl BudgetArgs {
    fn plan(&self, catalog: &crate::domain::catalog::Catalog) -> Result<Plan> {
        let share =
            |name: &str, value: f64, range: std::ops::RangeInclusive<f64>, way_out: &str| {
                if range.contains(&value) {
                    return Ok(value);
                }
                Err(Problem::usage("out of range")
                    .field(name)
                    .value(value.to_string())
                    .remedy(way_out))
            };
        let amount = |name: &str, value: Option<f64>| match value {
            Some(x) if !(x >= 0.0 && x.is_finite()) => Err(Problem::usage("not an amount")
                .field(name)
                .value(x.to_string())
                .remedy("write it in major units of the currency, such as 1850")),
            other => Ok(other),
        };
        let units = UnitSystem::from(self.units);
        let kept = |distance: f64| {
            let metres = units.distance().to_metres(distance);
            metres.filter(|m| *m > 0).ok_or_else(|| {
                Problem::usage("not a distance")
                    .field("--keep")
                    .value(distance.to_string())
                    .remedy("write it in the units of --units, such as 80000")
            })
        };
        let keep_m = self.keep.map(kept).transpose()?;
        Ok(Plan {
            repairs: self.repairs.join(", "),
            causes: plan::causes(&self.repairs, catalog)?,
            from: self.from,
            months: self.months,
            plan_months: self.plan_months,
            currency: self
                .currency
                .as_deref()
                .map(plan::currency_code)
                .transpose()?,
            price_year: self.price_year,
            inflation: share(
                "--inflation",
                self.inflation,
                -0.5..=1.0,
                "write 0.03 for 3 % a year",
            )?,
            rate_per_hour: amount("--rate-per-hour", self.rate_per_hour)?,
            recorded_rate: amount("--recorded-rate", self.recorded_rate)?,
            repair_cost: amount("--repair-cost", self.repair_cost)?,
            head_cost: amount("--head-cost", self.head_cost)?,
            engine_cost: amount("--engine-cost", self.engine_cost)?,
            keep_m,
            confidence: share(
                "--confidence",
                self.confidence,
                0.5..=0.999,
                "write 0.9 for 90 %",
            )?,
            seed: self.seed,
            draws: self.draws as usize,
            units,
        })
    }
}
