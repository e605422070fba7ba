//! `cylinders`: which cylinder of a family fails most, and is the difference real.

use clap::Args;

use super::command::{Outcome, Subcommand};
use super::output::OutputArgs;
use super::question::{Asked, QuestionArgs};
use super::shares::variants;
use crate::answer::cylinders;
use crate::answer::cylinders::compute::Input;
use crate::answer::label::Labels;
use crate::answer::question::{Question, Rules};
use crate::answer::statistic;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::history::HistoryOptions;
use crate::tally::cylinders::CylinderTally;
use crate::tally::{self, Exposure};

/// Arguments of `cylinders`.
#[derive(Debug, Args)]
pub struct CylindersArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// Intervals for all cylinders at once: goodman or sison-glaz
    #[arg(
        long,
        default_value = "goodman",
        value_name = "ID",
        help_heading = "Rules"
    )]
    method: String,
    /// Seed of the Monte Carlo test, used when there are too many cases for the exact one
    #[arg(long, default_value_t = 1, help_heading = "Rules")]
    seed: u64,
    #[command(flatten)]
    output: OutputArgs,
}

impl Subcommand for CylindersArgs {
    const NAME: &'static str = "cylinders";
    const ABOUT: &'static str = "Which cylinder fails most, and whether the difference is real";
    const EXAMPLE: &'static str = "Example:\n  \
        boretally cylinders --store S --family alder-4 --cause exhaust_valve_leak\n\n\
        Says whether the cylinders differ more than chance would give, which pairs do, and if it cannot tell yet,\n\
        how many more cases would.";

    fn run(self) -> Result<Outcome> {
        statistic::simultaneous_method(&self.method)?;
        let rules = self.question.rules(&self.method, Exposure::Observed)?;
        let mut asked = self.question.open()?;
        let answer = answer(&mut asked, &rules, self.seed)?;
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

/// The whole way from an open store to the answer, with the same question under other rules beside it.
pub fn answer(asked: &mut Asked, rules: &Rules, seed: u64) -> Result<cylinders::Cylinders> {
    one_family(asked)?;
    let mut alternatives = Vec::new();
    for (id, rule, options) in variants(asked.options) {
        alternatives.push((id, rule, tally(asked, options)?));
    }
    with(asked, rules, seed, &alternatives)
}

/// The answer alone.
pub fn plain(asked: &mut Asked, rules: &Rules, seed: u64) -> Result<cylinders::Cylinders> {
    one_family(asked)?;
    with(asked, rules, seed, &[])
}

fn one_family(asked: &Asked) -> Result<()> {
    if asked.filter.families.len() == 1 {
        return Ok(());
    }
    let known = asked.families.ids().collect::<Vec<_>>().join(", ");
    let problem = Problem::usage("cylinders can be compared within one engine family only")
        .field("--family")
        .remedy(format!("give one of {known}"));
    Err(if asked.filter.families.is_empty() {
        problem
    } else {
        problem.value(asked.filter.families.join(","))
    })
}

fn with(
    asked: &mut Asked,
    rules: &Rules,
    seed: u64,
    alternatives: &[(&'static str, String, CylinderTally)],
) -> Result<cylinders::Cylinders> {
    let tally = tally(asked, asked.options)?;
    let bands = MileageBands::default_for(rules.units);
    cylinders::answer(Input {
        question: Question::new(&asked.filter, &[], rules),
        rules,
        tally: &tally,
        alternatives,
        labels: Labels {
            catalog: &asked.catalog,
            families: &asked.families,
            bands: &bands,
        },
        seed,
    })
}

fn tally(asked: &mut Asked, options: HistoryOptions) -> Result<CylinderTally> {
    let history = asked.history(options)?;
    tally::cylinders::tally(&mut asked.engine, &history, &asked.filter, &asked.families)
}
