//! `repeats`: how many repairs a vehicle has had, what they cost, and whether they come back.

use clap::{Args, ValueEnum};

use super::command::{Outcome, Subcommand};
use super::output::OutputArgs;
use super::question::{Asked, QuestionArgs};
use super::shares::variants;
use crate::answer::label::Labels;
use crate::answer::question::{Question, Rules};
use crate::answer::repeats::compute::{Input, marks};
use crate::answer::{repeats, statistic};
use crate::domain::currency;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::history::HistoryOptions;
use crate::tally::repeats::{Asked as Wanted, RepeatTally};
use crate::tally::{self, Dimension, Exposure};

/// Arguments of `repeats`.
#[derive(Debug, Args)]
pub struct RepeatsArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// What to split by
    #[arg(long, value_enum, value_delimiter = ',', help_heading = "Rules")]
    by: Vec<By>,
    /// Edges of mileage bands in thousands, such as 0,100,200: where means are given and engines compared
    #[arg(long, value_name = "EDGES", help_heading = "Rules")]
    band: Option<String>,
    /// Interval method of comeback shares (see `boretally interval proportion`)
    #[arg(
        long,
        default_value = "wilson",
        value_name = "ID",
        help_heading = "Rules"
    )]
    method: String,
    /// How far a vehicle's distance counts
    #[arg(long, value_enum, default_value_t = Reach::Observed, help_heading = "Rules")]
    exposure: Reach,
    /// Currency of the costs, such as EUR; the one with most repairs where not given
    #[arg(long, value_name = "CODE", help_heading = "Rules")]
    currency: Option<String>,
    /// Price year of the costs; the one with most repairs where not given
    #[arg(long, value_name = "YEAR", help_heading = "Rules")]
    price_year: Option<i64>,
    #[command(flatten)]
    output: OutputArgs,
}

/// What groups can be split by: what a vehicle has all its life, and the cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum By {
    /// One group an engine family
    Family,
    /// One group a cause
    Cause,
    /// One group a site
    Site,
    /// One group a model year
    ModelYear,
}

impl From<By> for Dimension {
    fn from(by: By) -> Self {
        match by {
            By::Family => Dimension::Family,
            By::Cause => Dimension::Cause,
            By::Site => Dimension::Site,
            By::ModelYear => Dimension::ModelYear,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Reach {
    /// To 30 days before its last visit without trouble
    Observed,
    /// To its last visit of any kind: for records whose end does not depend on failures, such as a study
    LastSighting,
}

impl From<Reach> for Exposure {
    fn from(reach: Reach) -> Self {
        match reach {
            Reach::Observed => Exposure::Observed,
            Reach::LastSighting => Exposure::LastSighting,
        }
    }
}

/// Money that costs are wanted in.
#[derive(Debug, Clone, Copy, Default)]
pub struct Money<'a> {
    /// ISO 4217 code.
    pub currency: Option<&'a str>,
    /// Year of the prices.
    pub price_year: Option<i64>,
}

impl Subcommand for RepeatsArgs {
    const NAME: &'static str = "repeats";
    const ABOUT: &'static str =
        "Mean number and cost of repairs a vehicle, and repairs that come back";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally repeats --store S --family alder-4\n  \
        boretally repeats --store S --by family --currency EUR --price-year 2022 --units us\n\n\
        Means are along the engine's own clock, with intervals that respect vehicles: two repairs of one vehicle are not\n\
        two witnesses. A comeback is a case that the comeback window folds into the failure before it.";

    fn run(self) -> Result<Outcome> {
        statistic::proportion_method(&self.method)?;
        let currency = self.currency.as_deref().map(known_currency).transpose()?;
        let rules = self.question.rules(&self.method, self.exposure.into())?;
        let mut by: Vec<Dimension> = Vec::new();
        for dimension in self.by.iter().map(|b| Dimension::from(*b)) {
            if !by.contains(&dimension) {
                by.push(dimension);
            }
        }
        let mut asked = self.question.open()?;
        let bands = asked.bands(self.band.as_deref(), rules.units)?;
        let money = Money {
            currency,
            price_year: self.price_year,
        };
        let answer = answer(&mut asked, &by, &bands, &rules, money)?;
        if answer
            .groups
            .iter()
            .all(|g| g.evidence.events + g.walk_ins + g.after_last_visit + g.unplaced == 0)
        {
            return Err(Problem::data("there is no repair among the records asked for")
                .file(asked.store.path())
                .remedy("loosen the filters, or ingest more cases (`boretally store list` shows what is there)"));
        }
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

fn known_currency(typed: &str) -> Result<&'static str> {
    currency::parse(typed).ok_or_else(|| {
        Problem::usage("no such currency")
            .field("--currency")
            .value(typed)
            .remedy("give its three letters, such as EUR or USD (ISO 4217)")
    })
}

/// The whole way from an open store to the answer, with the same question under other rules beside it.
pub fn answer(
    asked: &mut Asked,
    by: &[Dimension],
    bands: &MileageBands,
    rules: &Rules,
    money: Money<'_>,
) -> Result<repeats::Repeats> {
    let base = asked.options;
    let mut rules_beside: Vec<_> = variants(base)
        .into_iter()
        .map(|(id, rule, options)| (id, rule, options, rules.exposure))
        .collect();
    if rules.exposure == Exposure::Observed {
        let rule = "distance to the last visit of any kind, failures included".to_string();
        rules_beside.push(("exposure-last-sighting", rule, base, Exposure::LastSighting));
    }
    let mut alternatives = Vec::new();
    for (id, rule, options, exposure) in rules_beside {
        let under = Under {
            options,
            exposure,
            money,
            only_failures: true,
        };
        alternatives.push((id, rule, tally(asked, by, bands, under)?));
    }
    let under = Under {
        options: base,
        exposure: rules.exposure,
        money,
        only_failures: false,
    };
    let main = tally(asked, by, bands, under)?;
    of_tally(asked, bands, rules, &main, &alternatives)
}

/// The answer of a tally that is there already, such as one family's part of a larger one.
pub fn of_tally(
    asked: &Asked,
    bands: &MileageBands,
    rules: &Rules,
    tally: &RepeatTally,
    alternatives: &[(&'static str, String, RepeatTally)],
) -> Result<repeats::Repeats> {
    repeats::answer(Input {
        question: Question::new(&asked.filter, &tally.dimensions, rules),
        rules,
        tally,
        marks: &marks(bands),
        alternatives,
        labels: Labels {
            catalog: &asked.catalog,
            families: &asked.families,
            bands,
        },
    })
}

/// The rules of one tally.
#[derive(Debug, Clone, Copy)]
pub struct Under<'a> {
    /// Comeback window and confirmation.
    pub options: HistoryOptions,
    /// How far a vehicle's distance counts.
    pub exposure: Exposure,
    /// Money of the costs.
    pub money: Money<'a>,
    /// Leave out costs, comebacks and failures after a repair.
    pub only_failures: bool,
}

/// Failures along vehicles; history is opened under the rules.
pub fn tally(
    asked: &mut Asked,
    by: &[Dimension],
    bands: &MileageBands,
    under: Under<'_>,
) -> Result<RepeatTally> {
    let history = asked.history(under.options)?;
    let wanted = Wanted {
        filter: &asked.filter,
        dimensions: by,
        bands,
        exposure: under.exposure,
        marks: &marks(bands),
        currency: under.money.currency,
        price_year: under.money.price_year,
        only_failures: under.only_failures,
    };
    tally::repeats::tally(
        &mut asked.engine,
        &history,
        wanted,
        &asked.catalog,
        &asked.families,
    )
}
