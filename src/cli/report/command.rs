//! `report`: the pages of a whole store, or of the part of it that is asked for.

use std::path::PathBuf;

use clap::Args;

use super::gather::{Look, report};
use crate::answer::suppress;
use crate::cli::budget::{self, RosterArgs};
use crate::cli::command::{Outcome, Subcommand};
use crate::cli::output;
use crate::cli::question::QuestionArgs;
use crate::domain::problem::Result;
use crate::report::site::Report;
use crate::tally::Exposure;

/// Arguments of `report`.
#[derive(Debug, Args)]
#[command(mut_arg("roster", |roster| roster.help("A fleet to budget head repairs for on a page of its own, as `boretally budget` reads it")))]
pub struct ReportArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// Folder for the pages, charts and tables
    #[arg(long, value_name = "FOLDER", help_heading = "Output")]
    out: PathBuf,
    /// Title of the first page
    #[arg(
        long,
        default_value = "What fails, how often, and where",
        help_heading = "Output"
    )]
    title: String,
    /// A stamp on every page, such as "invented data"
    #[arg(long, value_name = "TEXT", help_heading = "Output")]
    stamp: Option<String>,
    /// Leave verdicts out of the family pages, as an exercise for students
    #[arg(long, help_heading = "Output")]
    exercise: bool,
    /// Edges of mileage bands in thousands, such as 0,100,200
    #[arg(long, value_name = "EDGES", help_heading = "Rules")]
    band: Option<String>,
    #[command(flatten, next_help_heading = "Output")]
    fleet: RosterArgs,
    /// Leave out numbers of fewer cases than this, before pages are given to others
    #[arg(long, value_name = "N", help_heading = "Output")]
    suppress_below: Option<u64>,
}

impl Subcommand for ReportArgs {
    const NAME: &'static str = "report";
    const ABOUT: &'static str = "Write pages with charts and tables, one page an engine family";
    const EXAMPLE: &'static str = "Example:\n  \
        boretally report --store S --out pages\n\n\
        Then open pages/index.html: it needs no network. Charts are in pages/charts (SVG and PNG), tables in\n\
        pages/tables (CSV, Markdown, JSON, Parquet).";

    fn run(self) -> Result<Outcome> {
        let rules = self.question.rules("garwood", Exposure::Observed)?;
        let mut asked = self.question.open()?;
        let bands = asked.bands(self.band.as_deref(), rules.units)?;
        let look = Look {
            title: self.title,
            stamp: self.stamp,
            exercise: self.exercise,
        };
        let mut report = report(&mut asked, &bands, &rules, look)?;
        if let Some(place) = self.fleet.place() {
            report.budget = Some(budget::for_report(&mut asked, &place, rules.units)?);
        }
        if let Some(below) = self.suppress_below {
            suppress(&mut report, below);
        }
        let first = report.write(&self.out)?;
        output::print(format!("open {}\n", first.display()).as_bytes())?;
        Ok(Outcome::Done)
    }
}

/// Takes small counts out of every page.
fn suppress(report: &mut Report, below: u64) {
    suppress::rates(&mut report.by_family, below);
    suppress::rates(&mut report.by_family_and_cause, below);
    suppress::shares(&mut report.shares, below);
    // A roster names its units one by one.
    report.budget = None;
    // Its bins are too many and too small to hide one by one.
    report.check = None;
    for page in &mut report.families {
        suppress::rates(&mut page.by_band, below);
        suppress::rates(&mut page.by_cause, below);
        suppress::shares(&mut page.shares, below);
        suppress::repeats(&mut page.repeats, below);
        page.lives
            .retain_mut(|(_, life)| suppress::life(life, below));
        // Its counts by cause and test are too many and too small to hide one by one.
        page.test_order = None;
        page.cylinders.retain(|c| suppress::may_show(c, below));
        page.readings
            .retain(|r| suppress::may_show_readings(r, below));
    }
}
