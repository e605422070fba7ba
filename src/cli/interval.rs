//! `interval`: a calculator over the same code that the answers use.

use clap::{Args, Subcommand as ClapSubcommand};

use super::command::{Outcome, Subcommand};
use super::output::OutputArgs;
use crate::answer::interval;
use crate::domain::problem::{Problem, Result};

/// Arguments of `interval`.
#[derive(Debug, Args)]
pub struct Interval {
    #[command(subcommand)]
    of: Of,
}

#[derive(Debug, ClapSubcommand)]
enum Of {
    /// Events out of trials, such as 3 failures among 100 vehicles
    Proportion {
        /// Events
        events: u64,
        /// Trials
        trials: u64,
        #[command(flatten)]
        common: Common,
    },
    /// Events over an exposure, such as 3 failures in 1.2e6 km
    Rate {
        /// Events
        events: u64,
        /// Exposure, in any unit of distance or time
        exposure: f64,
        /// Give the rate per this much exposure
        #[arg(long, default_value_t = 1.0)]
        per: f64,
        #[command(flatten)]
        common: Common,
    },
}

#[derive(Debug, Args)]
struct Common {
    /// Confidence level
    #[arg(long, default_value_t = 0.95)]
    level: f64,
    #[command(flatten)]
    output: OutputArgs,
}

impl Subcommand for Interval {
    const NAME: &'static str = "interval";
    const ABOUT: &'static str = "Intervals of one proportion or rate, every method side by side";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally interval proportion 3 100\n  \
        boretally interval rate 3 1.2e6 --per 100000 --format json\n\n\
        The second prints 0.25 events per 100 000 with the exact (Garwood) interval 0.0516 to 0.731 and the others.";

    fn run(self) -> Result<Outcome> {
        match self.of {
            Of::Proportion {
                events,
                trials,
                common,
            } => {
                level(common.level)?;
                if trials == 0 || events > trials {
                    return Err(Problem::usage(format!(
                        "{events} events out of {trials} trials is no proportion"
                    ))
                    .field("TRIALS")
                    .value(trials.to_string())
                    .remedy("give at least one trial, and no more events than trials"));
                }
                common
                    .output
                    .emit(&interval::proportion(events, trials, common.level)?)?;
            }
            Of::Rate {
                events,
                exposure,
                per,
                common,
            } => {
                level(common.level)?;
                positive("EXPOSURE", exposure)?;
                positive("--per", per)?;
                common
                    .output
                    .emit(&interval::rate(events, exposure, per, common.level)?)?;
            }
        }
        Ok(Outcome::Done)
    }
}

fn level(level: f64) -> Result<()> {
    if level > 0.0 && level < 1.0 {
        return Ok(());
    }
    Err(Problem::usage("a confidence level lies between 0 and 1")
        .field("--level")
        .value(level.to_string())
        .remedy("write 0.95 for 95 %"))
}

fn positive(name: &str, x: f64) -> Result<()> {
    if x > 0.0 && x.is_finite() {
        return Ok(());
    }
    Err(Problem::usage("must be a positive number")
        .field(name)
        .value(x.to_string())
        .remedy("for instance 1.2e6"))
}
