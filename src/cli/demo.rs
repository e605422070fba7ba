//! `demo`: the main job on the sample data, from exports to pages, with three findings in plain words.

use std::path::{Path, PathBuf};

use clap::Args;

use super::budget::{self, RosterPlace};
use super::command::{Outcome, Subcommand};
use super::ingest::Ingest;
use super::output;
use super::question::{EngineArgs, QuestionArgs, StoreArgs, Units};
use super::report::{self, Look};
use crate::answer::cylinders::types::Finding;
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::report::site::Report;
use crate::tally::Exposure;

/// The fleet's roster in the sample.
const ROSTER: &str = "fleet/roster.csv";

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct Demo {
    /// Folder of the sample exports and their mapping files
    #[arg(long, value_name = "FOLDER", default_value = "sample-data")]
    sample: PathBuf,
    /// Folder for the report
    #[arg(long, value_name = "FOLDER", default_value = "reports")]
    out: PathBuf,
    /// Folder for the store; an earlier demo's store is taken up again
    #[arg(long, value_name = "FOLDER", default_value = "target/demo-store")]
    store: PathBuf,
}

impl Subcommand for Demo {
    const NAME: &'static str = "demo";
    const ABOUT: &'static str = "Run the main job on the sample data and write its report";
    const EXAMPLE: &'static str = "Example:\n  boretally demo\n\n\
        Reads sample-data/, keeps the records in target/demo-store, writes reports/index.html.";

    fn run(self) -> Result<Outcome> {
        if !self.sample.is_dir() {
            return Err(Problem::data("the sample data are not here")
                .file(&self.sample)
                .remedy("run this in the project's folder, or give --sample FOLDER"));
        }
        // Fixed, so that the demo does the same on every day; the sample ends before it.
        let as_of = Day::from_ymd(2025, 1, 1)
            .ok_or_else(|| Problem::data("the calendar has no such day"))?;
        let ingested = Ingest::folder(&self.sample, &self.store, as_of).run()?;
        let question = QuestionArgs::plain(
            StoreArgs {
                store: self.store.clone(),
                catalog: None,
                engine: EngineArgs::default(),
            },
            Units::Metric,
        );
        let rules = question.rules("garwood", Exposure::Observed)?;
        let mut asked = question.open()?;
        let bands = asked.bands(None, rules.units)?;
        let look = Look {
            title: "What fails, how often, and where: the sample".to_string(),
            stamp: Some("Invented data: no real vehicle, shop or maker".to_string()),
            exercise: false,
        };
        let mut report = report::report(&mut asked, &bands, &rules, look)?;
        let roster = self.sample.join(ROSTER);
        if roster.is_file() {
            let place = RosterPlace {
                file: &roster,
                mapping: None,
                source: None,
            };
            report.budget = Some(budget::for_report(&mut asked, &place, rules.units)?);
        }
        let first = report.write(&self.out)?;
        output::print(findings(&report, &first).as_bytes())?;
        Ok(ingested)
    }
}

/// What to open, and three findings.
fn findings(report: &Report, first: &Path) -> String {
    let mut lines = vec![
        String::new(),
        "Three findings from the sample (invented data)".to_string(),
    ];
    let mut found = Vec::new();
    found.extend(report.by_family.verdict.get(1).cloned());
    found.extend(
        report
            .families
            .iter()
            .flat_map(|f| f.cylinders.iter().skip(1))
            .filter(|c| c.finding == Finding::Differ)
            .min_by(|a, b| p(a).total_cmp(&p(b)))
            .and_then(|c| {
                c.verdict
                    .first()
                    .map(|v| format!("{}, {}: {v}", c.family_title, c.cause_words()))
            }),
    );
    found.extend(
        report
            .shares
            .verdict
            .first()
            .map(|v| format!("Over all engines {v}")),
    );
    for (i, line) in found.into_iter().take(3).enumerate() {
        lines.push(format!("  {}. {line}", i + 1));
    }
    lines.push(String::new());
    lines.push(format!(
        "Open {} in a browser (no network needed).",
        first.display()
    ));
    lines.push(String::new());
    lines.join("\n")
}

fn p(answer: &crate::answer::cylinders::Cylinders) -> f64 {
    answer.test.as_ref().map_or(1.0, |t| t.p)
}
