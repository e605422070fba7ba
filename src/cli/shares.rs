//! `shares`: which causes, among confirmed failures.

use clap::Args;

use super::command::{Outcome, Subcommand};
use super::output::OutputArgs;
use super::question::{Asked, QuestionArgs};
use super::rates::{By, dimensions};
use crate::answer::label::Labels;
use crate::answer::question::{Question, Rules};
use crate::answer::shares::compute::Input;
use crate::answer::{shares, statistic};
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::domain::trouble_code;
use crate::history::HistoryOptions;
use crate::tally::shares::{Complaint, ShareTally};
use crate::tally::{self, Dimension, Exposure, Filter};

/// Arguments of `shares`.
#[derive(Debug, Args)]
pub struct SharesArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// What to split by (not by cause: that is what is counted)
    #[arg(long, value_enum, value_delimiter = ',', help_heading = "Rules")]
    by: Vec<By>,
    /// Edges of mileage bands in thousands, such as 0,100,200
    #[arg(long, value_name = "EDGES", help_heading = "Rules")]
    band: Option<String>,
    /// Only cases with this trouble code, such as P0303, or `misfire` for P0300 to P0312
    #[arg(long, value_name = "CODE", help_heading = "Which cases")]
    complaint: Option<String>,
    /// Interval method (see `boretally interval proportion`), or goodman, sison-glaz for all causes at once
    #[arg(
        long,
        default_value = "wilson",
        value_name = "ID",
        help_heading = "Rules"
    )]
    method: String,
    #[command(flatten)]
    output: OutputArgs,
}

impl Subcommand for SharesArgs {
    const NAME: &'static str = "shares";
    const ABOUT: &'static str = "Shares of causes among confirmed failures (not rates)";
    const EXAMPLE: &'static str = "Examples:\n  \
        boretally shares --store S --complaint P0303\n  \
        boretally shares --store S --by family --method sison-glaz --format markdown";

    fn run(self) -> Result<Outcome> {
        if statistic::simultaneous_method(&self.method).is_err() {
            statistic::proportion_method(&self.method)?;
        }
        if self.by.contains(&By::Cause) {
            return Err(Problem::usage("causes are what is counted here")
                .field("--by")
                .value("cause")
                .remedy("split by family, cylinder, band, site or model-year"));
        }
        let complaint = self
            .complaint
            .as_deref()
            .map(complaint)
            .transpose()?
            .unwrap_or_default();
        let rules = self.question.rules(&self.method, Exposure::Observed)?;
        let mut asked = self.question.open()?;
        let bands = asked.bands(self.band.as_deref(), rules.units)?;
        let answer = answer(
            &mut asked,
            &dimensions(&self.by),
            &bands,
            &complaint,
            &rules,
        )?;
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

/// The codes a complaint means: one code, or every misfire code.
pub fn complaint(typed: &str) -> Result<Complaint> {
    if typed.eq_ignore_ascii_case("misfire") {
        let codes = ["P030", "P0310", "P0311", "P0312"]
            .map(str::to_string)
            .to_vec();
        return Ok(Complaint { codes });
    }
    let list = trouble_code::parse_list(typed);
    match list.codes.as_slice() {
        [one] if list.unread.is_empty() => Ok(Complaint {
            codes: vec![one.to_string()],
        }),
        _ => Err(Problem::usage("not a trouble code")
            .field("--complaint")
            .value(typed)
            .remedy("write one code like P0303, or misfire")),
    }
}

/// The whole way from an open store to the answer, with the same question under other rules beside it.
pub fn answer(
    asked: &mut Asked,
    by: &[Dimension],
    bands: &MileageBands,
    complaint: &Complaint,
    rules: &Rules,
) -> Result<shares::Shares> {
    let filter = asked.filter.clone();
    let mut alternatives = Vec::new();
    for (id, rule, options) in variants(asked.options) {
        let tally = tally(asked, options, &filter, &[], bands, complaint)?;
        alternatives.push((id, rule, tally));
    }
    with(asked, by, bands, complaint, rules, &alternatives)
}

/// The answer of a tally that is there already, such as one family's part of a larger one.
pub fn of_tally(
    asked: &Asked,
    bands: &MileageBands,
    rules: &Rules,
    tally: &ShareTally,
) -> Result<shares::Shares> {
    shares::answer(Input {
        question: Question::new(&asked.filter, &tally.dimensions, rules),
        rules,
        complaint: None,
        tally,
        alternatives: &[],
        labels: Labels {
            catalog: &asked.catalog,
            families: &asked.families,
            bands,
        },
    })
}

fn with(
    asked: &mut Asked,
    by: &[Dimension],
    bands: &MileageBands,
    complaint: &Complaint,
    rules: &Rules,
    alternatives: &[(&'static str, String, ShareTally)],
) -> Result<shares::Shares> {
    let filter = asked.filter.clone();
    let tally = tally(asked, asked.options, &filter, by, bands, complaint)?;
    shares::answer(Input {
        question: Question::new(&filter, by, rules),
        rules,
        complaint: (!complaint.codes.is_empty())
            .then(|| format!("trouble code {}", complaint.codes.join(", "))),
        tally: &tally,
        alternatives,
        labels: Labels {
            catalog: &asked.catalog,
            families: &asked.families,
            bands,
        },
    })
}

/// Counts of causes; history is opened under `options`.
pub fn tally(
    asked: &mut Asked,
    options: HistoryOptions,
    filter: &Filter,
    by: &[Dimension],
    bands: &MileageBands,
    complaint: &Complaint,
) -> Result<ShareTally> {
    let history = asked.history(options)?;
    tally::shares::tally(&mut asked.engine, &history, filter, by, bands, complaint)
}

/// Stricter confirmation and other comeback windows, where they differ from what was asked.
pub fn variants(base: HistoryOptions) -> Vec<(&'static str, String, HistoryOptions)> {
    let mut out: Vec<(&'static str, String, HistoryOptions)> =
        [(15, "window-15"), (90, "window-90")]
            .into_iter()
            .filter(|(days, _)| *days != base.window_days)
            .map(|(days, id)| {
                (
                    id,
                    format!("comebacks within {days} days"),
                    HistoryOptions {
                        window_days: days,
                        ..base
                    },
                )
            })
            .collect();
    if base.confirmation < 2 {
        let rule = "only causes seen or measured (confirmation 2 and above)".to_string();
        out.push((
            "confirmation-2",
            rule,
            HistoryOptions {
                confirmation: 2,
                ..base
            },
        ));
    }
    out
}
