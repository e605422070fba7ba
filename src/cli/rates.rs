//! `rates`: failures per distance under observation.

use clap::{Args, ValueEnum};

use super::command::{Outcome, Subcommand};
use super::output::OutputArgs;
use super::question::{Asked, QuestionArgs};
use crate::answer::label::Labels;
use crate::answer::question::{Question, Rules};
use crate::answer::rates::compute::{Alternative, Input};
use crate::answer::{rates, statistic};
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::history::HistoryOptions;
use crate::query::engine::Engine;
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;
use crate::tally::{self, Dimension, Exposure, Filter};

/// Arguments of `rates`.
#[derive(Debug, Args)]
pub struct RatesArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// What to split by
    #[arg(
        long,
        value_enum,
        value_delimiter = ',',
        default_value = "family",
        help_heading = "Rules"
    )]
    by: Vec<By>,
    /// Edges of mileage bands in thousands, such as 0,100,200
    #[arg(long, value_name = "EDGES", help_heading = "Rules")]
    band: Option<String>,
    /// Interval method (see `boretally interval rate`)
    #[arg(
        long,
        default_value = "garwood",
        value_name = "ID",
        help_heading = "Rules"
    )]
    method: String,
    /// How far a vehicle's distance counts
    #[arg(long, value_enum, default_value_t = Carry::Observed, help_heading = "Rules")]
    exposure: Carry,
    #[command(flatten)]
    output: OutputArgs,
}

/// What rows can be split by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum By {
    /// One row an engine family
    Family,
    /// One row a cause
    Cause,
    /// One row a cylinder
    Cylinder,
    /// One row a mileage band
    Band,
    /// One row a site
    Site,
    /// One row a model year
    ModelYear,
}

impl From<By> for Dimension {
    fn from(by: By) -> Self {
        match by {
            By::Family => Dimension::Family,
            By::Cause => Dimension::Cause,
            By::Cylinder => Dimension::Cylinder,
            By::Band => Dimension::Band,
            By::Site => Dimension::Site,
            By::ModelYear => Dimension::ModelYear,
        }
    }
}

/// Dimensions typed, each once, in the order typed.
pub fn dimensions(by: &[By]) -> Vec<Dimension> {
    let mut out = Vec::new();
    for &b in by {
        let d = Dimension::from(b);
        if !out.contains(&d) {
            out.push(d);
        }
    }
    out
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Carry {
    /// To 30 days before its last visit without trouble
    Observed,
    /// To its last visit of any kind: for records whose end does not depend on failures, such as a study
    LastSighting,
    /// On to the end of the data, at the vehicle's own pace
    Carried,
}

impl From<Carry> for Exposure {
    fn from(carry: Carry) -> Self {
        match carry {
            Carry::Observed => Exposure::Observed,
            Carry::LastSighting => Exposure::LastSighting,
            Carry::Carried => Exposure::Carried,
        }
    }
}

impl Subcommand for RatesArgs {
    const NAME: &'static str = "rates";
    const ABOUT: &'static str = "Failures per distance under observation, with intervals";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally rates --store S --by family,cause\n  \
        boretally rates --store S --family alder-4 --cause exhaust_valve_leak --by band --units us\n\n\
        A rate counts a failure only if its vehicle was under observation; failures of vehicles never seen before\n\
        (walk-ins), and those after a vehicle's last visit without trouble, stand beside it.";

    fn run(self) -> Result<Outcome> {
        statistic::rate_method(&self.method)?;
        let rules = self.question.rules(&self.method, self.exposure.into())?;
        let by = dimensions(&self.by);
        let mut asked = self.question.open()?;
        let bands = asked.bands(self.band.as_deref(), rules.units)?;
        let answer = answer(&mut asked, &by, &bands, &rules)?;
        if answer.total.evidence.exposure_m == Some(0)
            && answer.total.evidence.events == 0
            && answer.total.walk_ins + answer.total.after_last_visit == 0
        {
            return Err(Problem::data("there is no rate: among the records asked for, no vehicle was seen twice and nothing failed")
                .file(asked.store.path())
                .remedy("loosen the filters, or ingest routine visits and cases too (`boretally store list` shows what is there)"));
        }
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

/// The whole way from an open store to the answer.
pub fn answer(
    asked: &mut Asked,
    by: &[Dimension],
    bands: &MileageBands,
    rules: &Rules,
) -> Result<rates::Rates> {
    let filter = asked.filter.clone();
    let alternatives = alternatives(asked, by, bands, rules)?;
    let (tally, total) = tallies(
        asked,
        asked.options,
        &filter,
        by,
        bands,
        rules.exposure,
        tally::rates::tally,
    )?;
    let all_engines = reference(asked, &filter, by, bands, rules.exposure)?;
    rates::answer(Input {
        question: Question::new(&filter, by, rules),
        rules,
        tally: &tally,
        all_engines: all_engines.as_ref(),
        total: &total,
        alternatives: &alternatives,
        labels: Labels {
            catalog: &asked.catalog,
            families: &asked.families,
            bands,
        },
    })
}

/// How much of the cells is counted: all of them, or failures and metres alone.
type Count = fn(&mut dyn Engine, tally::rates::Asked<'_>) -> Result<RateTally>;

/// The cells asked for and the one of everything, under some rules.
fn tallies(
    asked: &mut Asked,
    options: HistoryOptions,
    filter: &Filter,
    by: &[Dimension],
    bands: &MileageBands,
    exposure: Exposure,
    count: Count,
) -> Result<(RateTally, RateCell)> {
    let history = asked.history(options)?;
    let mut run = |by: &[Dimension]| {
        let wanted = tally::rates::Asked {
            history: &history,
            filter,
            dimensions: by,
            bands,
            exposure,
            families: &asked.families,
        };
        count(&mut asked.engine, wanted)
    };
    let tally = run(by)?;
    let total = run(&[])?.cells.into_iter().next().unwrap_or_default();
    Ok((tally, total))
}

/// The cells of every engine, without the family split, for "against all other engines"; none if nothing names a family.
fn reference(
    asked: &mut Asked,
    filter: &Filter,
    by: &[Dimension],
    bands: &MileageBands,
    exposure: Exposure,
) -> Result<Option<RateTally>> {
    if filter.families.is_empty() && !by.contains(&Dimension::Family) {
        return Ok(None);
    }
    let everyone = Filter {
        families: Vec::new(),
        ..filter.clone()
    };
    let rest: Vec<Dimension> = by
        .iter()
        .copied()
        .filter(|d| *d != Dimension::Family)
        .collect();
    let history = asked.history(asked.options)?;
    let wanted = tally::rates::Asked {
        history: &history,
        filter: &everyone,
        dimensions: &rest,
        bands,
        exposure,
        families: &asked.families,
    };
    // Only the failures and the metres of the others enter the ratio.
    tally::rates::failures_and_metres(&mut asked.engine, wanted).map(Some)
}

/// The same question with other comeback windows, stricter confirmation and the other bound of exposure.
fn alternatives(
    asked: &mut Asked,
    by: &[Dimension],
    bands: &MileageBands,
    rules: &Rules,
) -> Result<Vec<Alternative>> {
    let base = asked.options;
    let filter = asked.filter.clone();
    let mut variants: Vec<(&'static str, String, HistoryOptions, Exposure)> =
        [(15, "window-15"), (90, "window-90")]
            .into_iter()
            .filter(|(days, _)| *days != base.window_days)
            .map(|(days, id)| {
                let options = HistoryOptions {
                    window_days: days,
                    ..base
                };
                (
                    id,
                    format!("comebacks within {days} days"),
                    options,
                    rules.exposure,
                )
            })
            .collect();
    if base.confirmation < 2 {
        let options = HistoryOptions {
            confirmation: 2,
            ..base
        };
        let rule = "only causes seen or measured (confirmation 2 and above)".to_string();
        variants.push(("confirmation-2", rule, options, rules.exposure));
    }
    if rules.exposure == Exposure::Observed {
        let rule = "distance to the last visit of any kind, failures included".to_string();
        variants.push(("exposure-last-sighting", rule, base, Exposure::LastSighting));
        let rule = "distance carried on to the end of the data".to_string();
        variants.push(("exposure-carried", rule, base, Exposure::Carried));
    }
    variants
        .into_iter()
        .map(|(id, rule, options, exposure)| {
            let count = tally::rates::failures_and_metres;
            let (tally, total) = tallies(asked, options, &filter, by, bands, exposure, count)?;
            Ok(Alternative {
                id,
                rule,
                tally,
                total,
            })
        })
        .collect()
}
