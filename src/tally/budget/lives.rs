//! First failures of the causes asked for by family, on the engine's clock.

use std::collections::BTreeMap;

use super::ask::BudgetAsk;
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::problem::{Problem, Result};
use crate::history::History;
use crate::query::engine::Engine;
use crate::stats::survival::{RiskRow, RiskTable};
use crate::tally::life::{self, Clock, LifeAsk};
use crate::tally::{Dimension, Exposure, Filter, KeyPart};

/// One family's lives.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FamilyLives {
    /// Counts by distance in metres.
    pub table: RiskTable,
    /// Vehicles behind them.
    pub vehicles: u64,
    /// Metres under observation up to each first failure.
    pub exposure_m: i64,
    /// Sites they were seen at.
    pub sites: u64,
    /// First and last day of observation.
    pub days: Option<(Day, Day)>,
}

/// Lives by family; vehicles of unknown family are left out, since no unit of a roster can be one of theirs.
///
/// # Errors
/// Those of the statements, and counts that cannot be lives.
pub fn tally(
    engine: &mut dyn Engine,
    history: &History,
    ask: &BudgetAsk,
    families: &Families,
) -> Result<BTreeMap<String, FamilyLives>> {
    let lives = LifeAsk {
        filter: Filter {
            causes: ask.causes.clone(),
            to: history
                .cut_off()
                .filter(|end| *end > ask.last_day)
                .map(|_| ask.last_day),
            ..Filter::default()
        },
        dimensions: vec![Dimension::Family],
        clock: Clock::Engine,
        exposure: Exposure::Observed,
    };
    let mut found = BTreeMap::new();
    life::for_each(engine, history, &lives, families, &mut |group| {
        let [KeyPart::Text(family)] = group.key.as_slice() else {
            return Ok(());
        };
        let rows = group.rows.iter().map(|row| RiskRow {
            distance: row.distance_m as f64,
            entered: row.entered,
            left: row.left,
            failed: row.failed,
        });
        let table = RiskTable::from_counts(rows.collect())
            .map_err(|e| Problem::data(format!("the lives of {family} do not add up: {e}")))?;
        let lives = FamilyLives {
            table,
            vehicles: group.watched.vehicles,
            exposure_m: group.exposure_m(),
            sites: group.watched.sites,
            days: group.watched.first.zip(group.watched.last),
        };
        found.insert(family.clone(), lives);
        Ok(())
    })?;
    Ok(found)
}
