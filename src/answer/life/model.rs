//! A group's counts in the form the statistics take: risk table, likelihood terms, causes apart.

use crate::answer::statistic::told;
use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::stats::competing_risks::{CompetingRow, CompetingTable};
use crate::stats::lifetime::{Blocks, Family, Fit, Observed, Unfitted, fit};
use crate::stats::survival::{RiskRow, RiskTable};
use crate::tally::life::{LifeGroup, LifeRow};

/// Fewest lives at risk for a distance to count as well filled, and for a curve to begin with.
pub const WELL_FILLED: u64 = 10;

/// How numbers are asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Confidence level.
    pub level: f64,
    /// The reader's unit.
    pub unit: DistanceUnit,
}

/// Risk sets and likelihood of one group; distances in metres.
#[derive(Debug, Clone)]
pub struct Model {
    /// Counts with risk sets.
    pub table: RiskTable,
    /// Its rows in blocks.
    pub blocks: Blocks,
    /// Likelihood terms.
    pub observed: Observed,
}

impl Model {
    /// Takes over a group's counts.
    ///
    /// # Errors
    /// Counts that cannot be lives: an error in the tally.
    pub fn new(group: &LifeGroup) -> Result<Self> {
        let table = table(group.rows.iter().copied())?;
        let blocks = Blocks::new(&table);
        Ok(Self {
            observed: blocks.observed(&table),
            table,
            blocks,
        })
    }

    /// The fit of one family.
    ///
    /// # Errors
    /// Why there is none.
    pub fn fit(&self, family: Family) -> std::result::Result<Fit, Unfitted> {
        fit(family, &self.observed)
    }

    /// The last distance at which enough lives were at risk; none when never so many were.
    pub fn well_filled_to(&self) -> Option<f64> {
        self.table.filled_to(WELL_FILLED)
    }

    /// What a bound and a borrowed shape need of the group once its risk sets are gone.
    pub fn reach(&self) -> Reach {
        Reach {
            exposure: self.table.exposure(),
            failures: self.table.failures(),
            filled: self.well_filled_to(),
        }
    }
}

/// How far a group was watched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Metres at risk.
    pub exposure: f64,
    /// First failures.
    pub failures: u64,
    /// The last distance at which enough lives were at risk.
    pub filled: Option<f64>,
}

/// The risk sets of a group's counts.
///
/// # Errors
/// Counts that cannot be lives: an error in the tally.
pub fn table(counts: impl Iterator<Item = LifeRow>) -> Result<RiskTable> {
    let rows = counts.map(|row| RiskRow {
        distance: row.distance_m as f64,
        entered: row.entered,
        left: row.left,
        failed: row.failed,
    });
    told(RiskTable::from_counts(rows.collect()))
}

/// Where a curve begins, and why there: the first entry, unless the first risk sets are too small to carry all that follows
/// them.
pub fn start(table: &RiskTable) -> Option<f64> {
    let first = table.first_entry()?;
    Some(table.adequate_from(WELL_FILLED).unwrap_or(first))
}

/// The table of competing causes given that lives reach `from`.
///
/// # Errors
/// Counts that cannot be lives: an error in the tally.
pub fn competing(group: &LifeGroup, from: f64) -> Result<CompetingTable> {
    let causes = group.causes.len();
    let mut failures = group.failures.iter().peekable();
    let mut rows: Vec<CompetingRow> = Vec::new();
    let mut reached = 0u64;
    for row in &group.rows {
        let mut failed = vec![0; causes];
        while let Some(f) = failures.next_if(|f| f.distance_m <= row.distance_m) {
            if let Some(count) = failed.get_mut(f.cause) {
                *count += f.failed;
            }
        }
        let distance = row.distance_m as f64;
        if distance <= from {
            reached = (reached + row.entered).saturating_sub(row.left + row.failed);
            continue;
        }
        if rows.is_empty() && reached > 0 {
            rows.push(CompetingRow {
                distance: from,
                entered: reached,
                left: 0,
                failed: vec![0; causes],
            });
        }
        rows.push(CompetingRow {
            distance,
            entered: row.entered,
            left: row.left,
            failed,
        });
    }
    told(CompetingTable::from_counts(causes, rows))
}

/// A distance of a table back in whole metres; the tables hold nothing else.
pub fn metres(distance: f64) -> i64 {
    distance.round() as i64
}
