//! `report`: the pages of a whole store, or of the part of it that is asked for.

use std::path::PathBuf;

use clap::Args;

use super::command::{Outcome, Subcommand};
use super::output;
use super::question::{Asked, QuestionArgs};
use super::{cylinders, rates, shares};
use crate::answer::label::Labels;
use crate::answer::question::{Question, Rules};
use crate::answer::rates::compute::Input;
use crate::answer::suppress;
use crate::domain::family::EngineFamily;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::history::HistoryAccount;
use crate::report::site::{FamilyPage, Report};
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;
use crate::tally::shares::{Complaint, ShareGroup, ShareTally};
use crate::tally::{self, Dimension, Exposure, Filter, KeyPart};

/// Causes that get a cylinder chart of their own on a family's page, most frequent first.
const CYLINDER_CAUSES: usize = 2;

/// Fewest cases for a cylinder chart of one cause.
const FEWEST_CASES: u64 = 5;

/// Arguments of `report`.
#[derive(Debug, Args)]
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
    for page in &mut report.families {
        suppress::rates(&mut page.by_band, below);
        suppress::rates(&mut page.by_cause, below);
        suppress::shares(&mut page.shares, below);
        page.cylinders.retain(|c| suppress::may_show(c, below));
    }
}

/// Title, stamp and kind of a report.
pub struct Look {
    /// Title of the first page.
    pub title: String,
    /// Stamp on every page.
    pub stamp: Option<String>,
    /// Leave verdicts out of family pages.
    pub exercise: bool,
}

/// All answers of a report.
pub fn report(
    asked: &mut Asked,
    bands: &MileageBands,
    rules: &Rules,
    look: Look,
) -> Result<Report> {
    let by_family = rates::answer(asked, &[Dimension::Family], bands, rules)?;
    if by_family.total.evidence.events + by_family.total.walk_ins == 0 && by_family.rows.is_empty()
    {
        return Err(
            Problem::data("the store has no visit and no failure to report on")
                .file(asked.store.path())
                .remedy("ingest some exports first"),
        );
    }
    let share_rules = Rules {
        method: "wilson".to_string(),
        ..rules.clone()
    };
    let shares = shares::answer(asked, &[], bands, &Complaint::default(), &share_rules)?;
    let filter = asked.filter.clone();
    let by_family_shares = shares::tally(
        asked,
        asked.options,
        &filter,
        &[Dimension::Family],
        bands,
        &Complaint::default(),
    )?;
    let history = asked.history(asked.options)?;
    let everyone = Filter {
        families: Vec::new(),
        ..filter.clone()
    };
    let mut cells = |filter: &Filter, by: &[Dimension]| {
        tally::rates::tally(
            &mut asked.engine,
            &history,
            filter,
            by,
            bands,
            rules.exposure,
            &asked.families,
        )
    };
    let tallies = Tallies {
        by_family: cells(&filter, &[Dimension::Family])?,
        by_band: cells(&filter, &[Dimension::Family, Dimension::Band])?,
        by_cause: cells(&filter, &[Dimension::Family, Dimension::Cause])?,
        all_by_band: cells(&everyone, &[Dimension::Band])?,
        all_by_cause: cells(&everyone, &[Dimension::Cause])?,
        shares: by_family_shares,
    };
    let total = cells(&filter, &[])?
        .cells
        .into_iter()
        .next()
        .unwrap_or_default();
    let by_family_and_cause = rates_of(
        asked,
        Split {
            by: &[Dimension::Family, Dimension::Cause],
            filter: &filter,
            tally: &tallies.by_cause,
            all_engines: &tallies.all_by_cause,
            total: &total,
        },
        bands,
        rules,
    )?;
    let shown: Vec<EngineFamily> = asked
        .families
        .iter()
        .filter(|f| {
            tallies
                .by_family
                .cells
                .iter()
                .any(|c| c.key == [KeyPart::Text(f.id.clone())])
        })
        .cloned()
        .collect();
    let families = shown
        .into_iter()
        .map(|family| family_page(asked, family, &tallies, bands, rules))
        .collect::<Result<Vec<_>>>()?;
    Ok(Report {
        title: look.title,
        stamp: look.stamp,
        exercise: look.exercise,
        by_family,
        by_family_and_cause,
        shares,
        families,
        facts: facts(&history.account),
    })
}

/// Cells that several pages are cut from, so that each is counted once.
struct Tallies {
    by_family: RateTally,
    by_band: RateTally,
    by_cause: RateTally,
    all_by_band: RateTally,
    all_by_cause: RateTally,
    shares: ShareTally,
}

struct Split<'a> {
    by: &'a [Dimension],
    filter: &'a Filter,
    tally: &'a RateTally,
    all_engines: &'a RateTally,
    total: &'a RateCell,
}

fn rates_of(
    asked: &Asked,
    split: Split<'_>,
    bands: &MileageBands,
    rules: &Rules,
) -> Result<crate::answer::rates::Rates> {
    crate::answer::rates::answer(Input {
        question: Question::new(split.filter, split.by, rules),
        rules,
        tally: split.tally,
        all_engines: Some(split.all_engines),
        total: split.total,
        alternatives: &[],
        labels: Labels {
            catalog: &asked.catalog,
            families: &asked.families,
            bands,
        },
    })
}

fn family_page(
    asked: &mut Asked,
    family: EngineFamily,
    tallies: &Tallies,
    bands: &MileageBands,
    rules: &Rules,
) -> Result<FamilyPage> {
    let whole = asked.filter.clone();
    let filter = Filter {
        families: vec![family.id.clone()],
        ..whole.clone()
    };
    let total = only(&tallies.by_family, &family.id)
        .cells
        .into_iter()
        .next()
        .unwrap_or_default();
    let split =
        |by: &'static [Dimension], tally: &RateTally, all_engines: &RateTally, asked: &Asked| {
            let split = Split {
                by,
                filter: &filter,
                tally,
                all_engines,
                total: &total,
            };
            rates_of(asked, split, bands, rules)
        };
    let by_band = split(
        &[Dimension::Band],
        &only(&tallies.by_band, &family.id),
        &tallies.all_by_band,
        asked,
    )?;
    let by_cause = split(
        &[Dimension::Cause],
        &only(&tallies.by_cause, &family.id),
        &tallies.all_by_cause,
        asked,
    )?;
    asked.filter = filter.clone();
    let pages = shares_and_cylinders(asked, &shares_of(&tallies.shares, &family.id), bands, rules);
    asked.filter = whole;
    let (shares, cylinders) = pages?;
    Ok(FamilyPage {
        family,
        by_band,
        by_cause,
        shares,
        cylinders,
    })
}

fn shares_and_cylinders(
    asked: &mut Asked,
    tally: &ShareTally,
    bands: &MileageBands,
    rules: &Rules,
) -> Result<(
    crate::answer::shares::Shares,
    Vec<crate::answer::cylinders::Cylinders>,
)> {
    let share_rules = Rules {
        method: "wilson".to_string(),
        ..rules.clone()
    };
    let shares = shares::of_tally(asked, bands, &share_rules, tally)?;
    let cylinder_rules = Rules {
        method: "goodman".to_string(),
        ..rules.clone()
    };
    let mut compared = vec![cylinders::plain(asked, &cylinder_rules, 1)?];
    let frequent: Vec<String> = shares
        .groups
        .iter()
        .flat_map(|g| &g.causes)
        .filter(|c| c.count >= FEWEST_CASES)
        .take(CYLINDER_CAUSES)
        .map(|c| c.cause.clone())
        .collect();
    let causes = asked.filter.causes.clone();
    for cause in frequent {
        asked.filter.causes = vec![cause];
        let answer = cylinders::plain(asked, &cylinder_rules, 1);
        asked.filter.causes = causes.clone();
        compared.push(answer?);
    }
    Ok((shares, compared))
}

/// The shares of one family, as one group.
fn shares_of(tally: &ShareTally, family: &str) -> ShareTally {
    let of = KeyPart::Text(family.to_string());
    ShareTally {
        dimensions: Vec::new(),
        groups: tally
            .groups
            .iter()
            .filter(|g| g.key.first() == Some(&of))
            .map(|g| ShareGroup {
                key: Vec::new(),
                ..g.clone()
            })
            .collect(),
    }
}

/// The cells of one family, without the family in their key.
fn only(tally: &RateTally, family: &str) -> RateTally {
    let of = KeyPart::Text(family.to_string());
    RateTally {
        dimensions: tally.dimensions.iter().skip(1).copied().collect(),
        exposure: tally.exposure,
        history: tally.history.clone(),
        cells: tally
            .cells
            .iter()
            .filter(|c| c.key.first() == Some(&of))
            .map(|c| RateCell {
                key: c.key.iter().skip(1).cloned().collect(),
                ..c.clone()
            })
            .collect(),
    }
}

/// The history's account in words, for the foot of the first page.
fn facts(account: &HistoryAccount) -> Vec<(String, i64)> {
    let (spans, episodes) = (&account.spans, &account.episodes);
    let mut facts: Vec<(String, i64)> = spans
        .versions
        .iter()
        .flat_map(|v| {
            [
                (format!("records in {}", v.table), v.records as i64),
                (
                    format!("older or repeated rows of {} set aside", v.table),
                    v.superseded as i64,
                ),
            ]
        })
        .collect();
    let counts = [
        ("vehicles seen", spans.vehicles),
        (
            "vehicles with distance under observation",
            spans.vehicles_at_risk,
        ),
        ("odometer readings unknown", spans.without_odometer),
        ("odometer readings ignored as out of order", spans.isolated),
        ("odometer readings ignored as too fast", spans.too_fast),
        (
            "odometers that stepped back (rollback or exchange)",
            spans.segments_opened,
        ),
        ("engines replaced", spans.engines_replaced),
        ("vehicles retired", spans.retired),
        ("failures (comebacks folded in)", episodes.events),
        (
            "failures of vehicles never seen before (walk-ins)",
            episodes.walk_ins,
        ),
        ("comebacks", episodes.comebacks),
        ("failures of unknown cylinder", episodes.without_cylinder),
        ("failures at unknown odometer", episodes.without_odometer),
        ("failures of unknown engine family", episodes.without_family),
        ("cases without a confirmed cause", episodes.unconfirmed),
    ];
    facts.extend(counts.map(|(what, n)| (what.to_string(), n as i64)));
    facts
}
