//! `boretally synth`: an invented fleet with its exports, mapping files and truth.

use std::path::PathBuf;

use clap::Args;

use super::command::{Outcome, Subcommand};
use super::output::print;
use crate::domain::day::Day;
use crate::domain::problem::{AtFile, Problem, Result};
use crate::synth::generate::{Options, generate};
use crate::synth::scenario::Scenario;

/// Arguments of `boretally synth`.
#[derive(Debug, Args)]
pub struct Synth {
    /// Number of vehicles; each of them is seen at least once
    #[arg(long, value_name = "N")]
    vehicles: u64,
    /// Number of sites; export habits go round
    #[arg(long, value_name = "K", default_value_t = 5)]
    sites: usize,
    /// Seed: the same seed gives the same bytes
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// Share of rows that are spoiled as real exports are
    #[arg(long, value_name = "SHARE", default_value_t = 0.0)]
    mess: f64,
    /// Folder to create
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
    /// Years that the records cover
    #[arg(long, value_name = "Y")]
    years: Option<i16>,
    /// First day of the records, as 2019-01-01
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    /// Another invented world; start from truth/scenario.toml of a generated folder
    #[arg(long, value_name = "FILE")]
    scenario: Option<PathBuf>,
}

impl Synth {
    fn scenario(&self) -> Result<Scenario> {
        let mut scenario = match &self.scenario {
            Some(file) => {
                let text = std::fs::read_to_string(file).at_file("read the scenario", file)?;
                Scenario::from_toml(&text, &file.display().to_string())?
            }
            None => Scenario::embedded()?,
        };
        if let Some(years) = self.years {
            if !(1..=40).contains(&years) {
                return Err(Problem::usage("must be 1 to 40")
                    .field("--years")
                    .value(years.to_string()));
            }
            scenario.period.years = years;
        }
        if let Some(from) = &self.from {
            scenario.period.from = Day::parse_iso(from).ok_or_else(|| {
                Problem::usage("not a day")
                    .field("--from")
                    .value(from)
                    .remedy("write the day as year-month-day, for instance 2019-01-01")
            })?;
        }
        scenario.with_sites(self.sites)
    }

    /// The command as it can be typed again.
    fn command(&self) -> String {
        let mut text = format!(
            "boretally synth --vehicles {} --sites {} --seed {} --mess {}",
            self.vehicles, self.sites, self.seed, self.mess
        );
        if let Some(years) = self.years {
            text.push_str(&format!(" --years {years}"));
        }
        if let Some(from) = &self.from {
            text.push_str(&format!(" --from {from}"));
        }
        if let Some(file) = &self.scenario {
            let name = file.file_name().unwrap_or(file.as_os_str());
            text.push_str(&format!(" --scenario {}", name.to_string_lossy()));
        }
        text.push_str(&format!(
            " --out {}",
            self.out
                .file_name()
                .unwrap_or(self.out.as_os_str())
                .to_string_lossy()
        ));
        text
    }
}

impl Subcommand for Synth {
    const NAME: &'static str = "synth";
    const ABOUT: &'static str =
        "Invent a fleet: exports of several habits, their mapping files, and the truth";
    const EXAMPLE: &'static str = "Example:\n  \
        boretally synth --vehicles 3000 --sites 6 --seed 1 --mess 0.03 --out invented\n  \
        boretally ingest invented --store shop.store\n\n\
        Names, engines and figures are invented; invented/truth/ says what is true.";

    fn run(self) -> Result<Outcome> {
        let options = Options {
            scenario: self.scenario()?,
            seed: self.seed,
            vehicles: self.vehicles,
            mess: self.mess,
            out: self.out.clone(),
            command: self.command(),
        };
        let bar = indicatif::ProgressBar::new(self.vehicles);
        let made = generate(&options, |done| {
            if done % 256 == 0 {
                bar.set_position(done);
            }
        })?;
        bar.finish_and_clear();
        let mut text = format!(
            "{} vehicles in {} rows, {} of them spoiled on purpose: {}\n",
            made.vehicles,
            made.rows,
            made.mess.values().sum::<u64>(),
            options.out.display()
        );
        for (kind, count) in &made.mess {
            text.push_str(&format!("  {kind}: {count}\n"));
        }
        text.push_str(&format!(
            "next: boretally ingest {} --store FOLDER\n",
            options.out.display()
        ));
        print(text.as_bytes())?;
        Ok(Outcome::Done)
    }
}
