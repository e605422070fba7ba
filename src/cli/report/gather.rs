//! What a report needs, gathered: cells that several pages are cut from are counted once.

use super::facts::facts;
use super::family::{Own, family_page};
use super::readings;
use crate::answer::label::Labels;
use crate::answer::life::Life;
use crate::answer::question::{Question, Rules};
use crate::answer::rates::compute::Input;
use crate::cli::question::Asked;
use crate::cli::repeats::{Money, Under};
use crate::cli::test_order::Judging;
use crate::cli::{life, rates, repeats, shares, test_order};
use crate::domain::family::EngineFamily;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::report::site::Report;
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;
use crate::tally::repeats::RepeatTally;
use crate::tally::shares::{Complaint, ShareTally};
use crate::tally::{self, Dimension, Filter, KeyPart};

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
    let beside = by_family.total.walk_ins + by_family.total.after_last_visit;
    if by_family.total.evidence.events + beside == 0 && by_family.rows.is_empty() {
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
    let under = Under {
        options: asked.options,
        exposure: rules.exposure,
        money: Money::default(),
        only_failures: false,
    };
    let by_family_repeats = repeats::tally(asked, &[Dimension::Family], bands, under)?;
    let test_order = test_order::learn(asked, filter.to, &Complaint::default(), bands)?;
    let check = test_order
        .last
        .map(|last| Judging::start(asked, last, filter.to, bands))
        .transpose()?;
    let history = asked.history(asked.options)?;
    let everyone = Filter {
        families: Vec::new(),
        ..filter.clone()
    };
    let mut cells = |filter: &Filter, by: &[Dimension]| {
        let wanted = tally::rates::Asked {
            history: &history,
            filter,
            dimensions: by,
            bands,
            exposure: rules.exposure,
            families: &asked.families,
        };
        tally::rates::tally(&mut asked.engine, wanted)
    };
    let mut tallies = Tallies {
        lives: Vec::new(),
        by_family: cells(&filter, &[Dimension::Family])?,
        by_band: cells(&filter, &[Dimension::Family, Dimension::Band])?,
        by_cause: cells(&filter, &[Dimension::Family, Dimension::Cause])?,
        all_by_band: cells(&everyone, &[Dimension::Band])?,
        all_by_cause: cells(&everyone, &[Dimension::Cause])?,
        shares: by_family_shares,
        repeats: by_family_repeats,
    };
    let total = cells(&filter, &[])?
        .cells
        .into_iter()
        .next()
        .unwrap_or_default();
    for (name, head_off) in [("head-off-life", true), ("life", false)] {
        let lives = life::by_family(asked, head_off, &tallies.by_band, bands, rules)?;
        tallies.lives.push((name, lives));
    }
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
    let mut readings = readings::by_family(asked, rules)?;
    let mut orders = test_order::by_family(asked, &test_order, &shown, bands)?;
    let families = shown
        .into_iter()
        .map(|family| {
            let own = Own {
                readings: readings.remove(&family.id).unwrap_or_default(),
                test_order: orders.remove(&family.id),
            };
            family_page(asked, family, &tallies, bands, rules, own)
        })
        .collect::<Result<Vec<_>>>()?;
    Ok(Report {
        title: look.title,
        stamp: look.stamp,
        exercise: look.exercise,
        by_family,
        by_family_and_cause,
        shares,
        families,
        budget: None,
        check: check.map(Judging::finish).transpose()?,
        facts: facts(&history.account),
    })
}

/// Cells that several pages are cut from, so that each is counted once.
pub struct Tallies {
    pub by_family: RateTally,
    pub by_band: RateTally,
    pub by_cause: RateTally,
    pub all_by_band: RateTally,
    pub all_by_cause: RateTally,
    pub shares: ShareTally,
    pub repeats: RepeatTally,
    /// First failures by family, each under the name of its files.
    pub lives: Vec<(&'static str, Life)>,
}

/// One table of rates: how its cells are split, and what they are compared with.
pub struct Split<'a> {
    pub by: &'a [Dimension],
    pub filter: &'a Filter,
    pub tally: &'a RateTally,
    pub all_engines: &'a RateTally,
    pub total: &'a RateCell,
}

/// Its rates.
pub fn rates_of(
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
