//! Risk sets with the failures told apart by cause.

use crate::stats::Error;
use crate::stats::survival::{RiskRow, RiskTable};

/// What happened at one distance.
#[derive(Debug, Clone, PartialEq)]
pub struct CompetingRow {
    /// The distance, >= 0.
    pub distance: f64,
    /// Lives whose observation starts here.
    pub entered: u64,
    /// Lives whose observation ends here without failure.
    pub left: u64,
    /// Failures here, by cause.
    pub failed: Vec<u64>,
}

/// One life as observed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompetingLife {
    /// Distance at which observation starts (exclusive).
    pub entry: f64,
    /// Distance at which it ends (inclusive).
    pub exit: f64,
    /// The cause of the failure that ends it; none for a life that left unfailed.
    pub cause: Option<usize>,
}

/// Counts by distance and cause.
#[derive(Debug, Clone, PartialEq)]
pub struct CompetingTable {
    causes: usize,
    rows: Vec<CompetingRow>,
    all: RiskTable,
}

impl CompetingTable {
    /// Checks counts sorted by distance, each row with one count a cause.
    ///
    /// # Errors
    /// As [`RiskTable::from_counts`], and [`Error::Input`] for a row with another number of causes.
    pub fn from_counts(causes: usize, rows: Vec<CompetingRow>) -> Result<Self, Error> {
        if rows.iter().any(|row| row.failed.len() != causes) {
            return Err(Error::Input {
                name: "failed",
                requirement: "every row must count the failures of every cause",
            });
        }
        let all = rows.iter().map(|row| RiskRow {
            distance: row.distance,
            entered: row.entered,
            left: row.left,
            failed: row.failed.iter().sum(),
        });
        Ok(Self {
            causes,
            all: RiskTable::from_counts(all.collect())?,
            rows,
        })
    }

    /// Counts single lives. Lives with entry >= exit were never at risk: their positions are the second result.
    ///
    /// # Errors
    /// [`Error::Parameter`] for a distance that is negative or not finite; [`Error::Input`] for a cause past `causes`.
    pub fn from_lives(causes: usize, lives: &[CompetingLife]) -> Result<(Self, Vec<usize>), Error> {
        let mut events: Vec<CompetingRow> = Vec::with_capacity(2 * lives.len());
        let mut never_at_risk = Vec::new();
        for (position, life) in lives.iter().enumerate() {
            if life.entry >= life.exit {
                never_at_risk.push(position);
                continue;
            }
            let mut end = CompetingRow {
                distance: life.exit,
                entered: 0,
                left: u64::from(life.cause.is_none()),
                failed: vec![0; causes],
            };
            if let Some(cause) = life.cause {
                let Some(count) = end.failed.get_mut(cause) else {
                    return Err(Error::Input {
                        name: "cause",
                        requirement: "a cause must be one of those counted",
                    });
                };
                *count = 1;
            }
            events.push(CompetingRow {
                distance: life.entry,
                entered: 1,
                left: 0,
                failed: vec![0; causes],
            });
            events.push(end);
        }
        events.sort_by(|a, b| a.distance.total_cmp(&b.distance));
        let mut rows: Vec<CompetingRow> = Vec::new();
        for event in events {
            match rows.last_mut() {
                Some(row) if row.distance == event.distance => {
                    row.entered += event.entered;
                    row.left += event.left;
                    let counts = row.failed.iter_mut().zip(&event.failed);
                    counts.for_each(|(count, more)| *count += more);
                }
                _ => rows.push(event),
            }
        }
        Ok((Self::from_counts(causes, rows)?, never_at_risk))
    }

    /// Number of causes.
    pub fn causes(&self) -> usize {
        self.causes
    }

    /// The counts, by distance.
    pub fn rows(&self) -> &[CompetingRow] {
        &self.rows
    }

    /// All causes together.
    pub fn all(&self) -> &RiskTable {
        &self.all
    }

    /// One cause, failures of the others counted as left: right for a hazard, a fitted distribution or a log-rank test of the
    /// cause. One minus its survival curve is not the share that fails by the cause.
    ///
    /// # Errors
    /// [`Error::Input`] for a cause past the number of causes.
    pub fn cause(&self, cause: usize) -> Result<RiskTable, Error> {
        if cause >= self.causes {
            return Err(Error::Input {
                name: "cause",
                requirement: "a cause must be one of those counted",
            });
        }
        let rows = self.rows.iter().map(|row| {
            let failed = row.failed.get(cause).copied().unwrap_or(0);
            let others = row.failed.iter().sum::<u64>() - failed;
            RiskRow {
                distance: row.distance,
                entered: row.entered,
                left: row.left + others,
                failed,
            }
        });
        RiskTable::from_counts(rows.collect())
    }
}
