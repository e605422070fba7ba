//! What the page of one engine family shows.

use super::gather::{Split, Tallies, rates_of};
use super::slices::{only, repeats_of, shares_of};
use crate::answer::question::Rules;
use crate::answer::readings::Readings;
use crate::answer::test_order::TestOrder;
use crate::cli::question::Asked;
use crate::cli::{cylinders, repeats, shares};
use crate::domain::family::EngineFamily;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::report::site::FamilyPage;
use crate::tally::rates::RateTally;
use crate::tally::shares::ShareTally;
use crate::tally::{Dimension, Filter};

/// Causes that get a cylinder chart of their own on a family's page, most frequent first.
const CYLINDER_CAUSES: usize = 2;

/// Fewest cases for a cylinder chart of one cause.
const FEWEST_CASES: u64 = 5;

/// What was worked out for all families at once, of one of them.
pub struct Own {
    /// Readings of the best-filled tests.
    pub readings: Vec<Readings>,
    /// Which test first.
    pub test_order: Option<TestOrder>,
}

/// The answers of one family.
pub fn family_page(
    asked: &mut Asked,
    family: EngineFamily,
    tallies: &Tallies,
    bands: &MileageBands,
    rules: &Rules,
    own: Own,
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
    let repeats = repeats::of_tally(
        asked,
        bands,
        &wilson(rules),
        &repeats_of(&tallies.repeats, &family.id),
        &[],
    );
    asked.filter = whole;
    let repeats = repeats?;
    let (shares, cylinders) = pages?;
    let lives = tallies.lives.iter().filter_map(|(name, life)| {
        let of_family = life.of_family(&family.id, &family.title)?;
        Some((*name, of_family))
    });
    Ok(FamilyPage {
        lives: lives.collect(),
        family,
        by_band,
        by_cause,
        shares,
        cylinders,
        repeats,
        readings: own.readings,
        test_order: own.test_order,
    })
}

fn wilson(rules: &Rules) -> Rules {
    Rules {
        method: "wilson".to_string(),
        ..rules.clone()
    }
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
    let shares = shares::of_tally(asked, bands, &wilson(rules), tally)?;
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
