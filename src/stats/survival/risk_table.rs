//! Who is at risk at each distance, from counts alone.
//!
//! Survival estimates with late entry need no list of vehicles: the numbers that enter, leave unfailed and fail at each
//! distance suffice, because the risk set is their running difference. So a million vehicles reach this floor as one row a
//! distinct distance. Order at one distance: failure before leaving before entering, so that a life is at risk at t when
//! entry < t <= exit.

use crate::stats::Error;

/// What happened at one distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RiskRow {
    /// The distance, >= 0.
    pub distance: f64,
    /// Lives whose observation starts here; at risk beyond this distance.
    pub entered: u64,
    /// Lives whose observation ends here without failure; still at risk at this distance.
    pub left: u64,
    /// Lives that fail here.
    pub failed: u64,
}

/// One life as observed: from `entry` (exclusive) to `exit` (inclusive).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Life {
    /// Distance at which observation starts.
    pub entry: f64,
    /// Distance at which it ends.
    pub exit: f64,
    /// Whether it ends with the failure.
    pub failed: bool,
}

/// A table of lives, with those that could not be used.
#[derive(Debug, Clone, PartialEq)]
pub struct Tabulated {
    /// The counts.
    pub table: RiskTable,
    /// Positions of lives with entry >= exit: never at risk, so they carry no information and are left out.
    pub never_at_risk: Vec<usize>,
}

/// Counts by distance with the risk set beside each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RiskTable {
    rows: Vec<RiskRow>,
    /// Lives at risk just after each row.
    after: Vec<u64>,
    /// All that entered.
    lives: u64,
    /// All that failed.
    failures: u64,
}

impl RiskTable {
    /// Checks counts sorted by distance and adds the risk sets.
    ///
    /// # Errors
    /// [`Error::Parameter`] for a distance that is not finite, negative or not larger than the one before; for a distance at
    /// which more lives end than are at risk; [`Error::Input`] when lives that entered never end.
    pub fn from_counts(rows: Vec<RiskRow>) -> Result<Self, Error> {
        let mut after = Vec::with_capacity(rows.len());
        let (mut at_risk, mut last) = (0u64, f64::NEG_INFINITY);
        let (mut lives, mut failures) = (0, 0);
        for row in &rows {
            let refuse = |requirement| Error::Parameter {
                name: "distance",
                value: row.distance,
                requirement,
            };
            if !row.distance.is_finite() || row.distance < 0.0 {
                return Err(refuse("a distance must be finite and not negative"));
            }
            if row.distance <= last {
                return Err(refuse("distances must increase from row to row"));
            }
            let ended = row.left.checked_add(row.failed);
            let stayed = ended.and_then(|ended| at_risk.checked_sub(ended));
            let Some(stayed) = stayed else {
                return Err(refuse(
                    "more lives end at this distance than entered before it",
                ));
            };
            let Some(now) = stayed.checked_add(row.entered) else {
                return Err(refuse("more lives than can be counted"));
            };
            (at_risk, last) = (now, row.distance);
            (lives, failures) = (lives + row.entered, failures + row.failed);
            after.push(at_risk);
        }
        if at_risk != 0 {
            return Err(Error::Input {
                name: "rows",
                requirement: "every life that enters must leave or fail at some distance",
            });
        }
        Ok(Self {
            rows,
            after,
            lives,
            failures,
        })
    }

    /// Counts single lives. Lives with entry >= exit are set apart, not used.
    ///
    /// # Errors
    /// [`Error::Parameter`] for a distance that is negative or not finite.
    pub fn from_lives(lives: &[Life]) -> Result<Tabulated, Error> {
        let mut events = Vec::with_capacity(2 * lives.len());
        let mut never_at_risk = Vec::new();
        for (position, life) in lives.iter().enumerate() {
            for distance in [life.entry, life.exit] {
                if !distance.is_finite() || distance < 0.0 {
                    return Err(Error::Parameter {
                        name: "distance",
                        value: distance,
                        requirement: "a distance must be finite and not negative",
                    });
                }
            }
            if life.entry >= life.exit {
                never_at_risk.push(position);
                continue;
            }
            let end = [0, u64::from(!life.failed), u64::from(life.failed)];
            events.push((life.entry, [1, 0, 0]));
            events.push((life.exit, end));
        }
        Ok(Tabulated {
            table: Self::from_counts(merge(events))?,
            never_at_risk,
        })
    }

    /// The counts, by distance.
    pub fn rows(&self) -> &[RiskRow] {
        &self.rows
    }

    /// Each row with the number at risk at its distance.
    pub fn with_risk_sets(&self) -> impl Iterator<Item = (RiskRow, u64)> + '_ {
        let before = std::iter::once(0).chain(self.after.iter().copied());
        self.rows.iter().copied().zip(before)
    }

    /// Lives with entry < `distance` <= exit.
    pub fn at_risk(&self, distance: f64) -> u64 {
        let before = self.rows.partition_point(|row| row.distance < distance);
        self.risk_after_rows(before)
    }

    /// Lives with entry <= `distance` < exit.
    pub fn at_risk_beyond(&self, distance: f64) -> u64 {
        let until = self.rows.partition_point(|row| row.distance <= distance);
        self.risk_after_rows(until)
    }

    /// The end of the last stretch in which at least so many, and anyone, are at risk; none without such a stretch.
    pub fn filled_to(&self, least: u64) -> Option<f64> {
        let last = self.after.iter().rposition(|&n| n >= least.max(1))?;
        self.rows.get(last + 1).map(|row| row.distance)
    }

    fn risk_after_rows(&self, rows: usize) -> u64 {
        rows.checked_sub(1)
            .and_then(|last| self.after.get(last).copied())
            .unwrap_or(0)
    }

    /// Lives in the table.
    pub fn lives(&self) -> u64 {
        self.lives
    }

    /// Failures in the table.
    pub fn failures(&self) -> u64 {
        self.failures
    }

    /// Distance of the first entry; none in an empty table.
    pub fn first_entry(&self) -> Option<f64> {
        self.rows
            .iter()
            .find(|row| row.entered > 0)
            .map(|row| row.distance)
    }

    /// Distance of the last exit; none in an empty table.
    pub fn last_exit(&self) -> Option<f64> {
        self.rows.last().map(|row| row.distance)
    }

    /// Stretches between the first entry and the last exit in which nobody is at risk.
    pub fn gaps(&self) -> Vec<(f64, f64)> {
        let first = self.rows.iter().position(|row| row.entered > 0);
        let Some(first) = first else {
            return Vec::new();
        };
        let neighbours = self.rows.iter().zip(self.rows.iter().skip(1));
        neighbours
            .zip(&self.after)
            .skip(first)
            .filter(|&(_, &after)| after == 0)
            .map(|((row, next), _)| (row.distance, next.distance))
            .collect()
    }

    /// The same lives, given that they reach `distance`: those that end at or before it are left out, and those that entered
    /// before it enter there.
    pub fn conditional_on(&self, distance: f64) -> Self {
        let from = self.rows.partition_point(|row| row.distance <= distance);
        let entered = self.risk_after_rows(from);
        let later = self.rows.get(from..).unwrap_or_default();
        let start = (entered > 0).then_some(RiskRow {
            distance,
            entered,
            left: 0,
            failed: 0,
        });
        let after = self.after.get(from..).unwrap_or_default();
        let at_start = start.map(|row| row.entered);
        let rows: Vec<RiskRow> = start.into_iter().chain(later.iter().copied()).collect();
        Self {
            lives: rows.iter().map(|row| row.entered).sum(),
            failures: rows.iter().map(|row| row.failed).sum(),
            rows,
            after: at_start.into_iter().chain(after.iter().copied()).collect(),
        }
    }

    /// A distance to condition on when the first risk sets are too small to carry the whole curve: the last failure before
    /// the first that is met by `least` lives or more, or the first entry when that is the very first failure. Small risk sets
    /// at the far end are not looked at. None when no failure is met by as many.
    pub fn adequate_from(&self, least: u64) -> Option<f64> {
        let mut from = self.first_entry()?;
        for (row, at_risk) in self.with_risk_sets().filter(|(row, _)| row.failed > 0) {
            if at_risk >= least {
                return Some(from);
            }
            from = row.distance;
        }
        None
    }

    /// Stretches from one row to the next with the number at risk in between.
    pub fn stretches(&self) -> impl Iterator<Item = (f64, f64, u64)> + '_ {
        self.stretches_from(0)
    }

    /// The stretches after so many rows.
    fn stretches_from(&self, passed: usize) -> impl Iterator<Item = (f64, f64, u64)> + '_ {
        let rows = self.rows.get(passed..).unwrap_or_default();
        let neighbours = rows.iter().zip(rows.iter().skip(1));
        neighbours
            .zip(self.after.get(passed..).unwrap_or_default())
            .map(|((row, next), &after)| (row.distance, next.distance, after))
    }

    /// Distance under observation by all lives together between `from` and `to`.
    pub fn exposure_between(&self, from: f64, to: f64) -> f64 {
        let passed = self.rows.partition_point(|row| row.distance <= from);
        self.stretches_from(passed.saturating_sub(1))
            .take_while(|(start, ..)| *start < to)
            .map(|(start, end, at_risk)| (end.min(to) - start.max(from)).max(0.0) * at_risk as f64)
            .sum()
    }

    /// Distance under observation by all lives together.
    pub fn exposure(&self) -> f64 {
        self.exposure_between(0.0, f64::INFINITY)
    }

    /// Failures at distances in [from, to).
    pub fn failures_between(&self, from: f64, to: f64) -> u64 {
        let before = |distance| self.rows.partition_point(|row| row.distance < distance);
        let rows = self.rows.get(before(from)..before(to));
        rows.into_iter().flatten().map(|row| row.failed).sum()
    }
}

/// Rows sorted by distance from single events (entered, left, failed).
fn merge(mut events: Vec<(f64, [u64; 3])>) -> Vec<RiskRow> {
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut rows: Vec<RiskRow> = Vec::new();
    for (distance, [entered, left, failed]) in events {
        match rows.last_mut() {
            Some(row) if row.distance == distance => {
                row.entered += entered;
                row.left += left;
                row.failed += failed;
            }
            _ => rows.push(RiskRow {
                distance,
                entered,
                left,
                failed,
            }),
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    fn life(entry: f64, exit: f64, failed: bool) -> Life {
        Life {
            entry,
            exit,
            failed,
        }
    }

    #[test]
    fn failure_comes_before_leaving_and_entry_after_both() {
        let lives = [
            life(0.0, 5.0, true),
            life(0.0, 5.0, false),
            life(5.0, 9.0, true),
        ];
        let table = RiskTable::from_lives(&lives).unwrap().table;
        assert_eq!(table.at_risk(5.0), 2);
        assert_eq!(table.at_risk(5.1), 1);
        assert_eq!(table.at_risk(0.0), 0);
        assert_eq!(table.at_risk(9.5), 0);
        assert_eq!(
            [0.0, 4.9, 5.0, 9.0].map(|d| table.at_risk_beyond(d)),
            [2, 2, 1, 0]
        );
        assert_eq!(
            [0, 1, 2, 3].map(|n| table.filled_to(n)),
            [Some(9.0), Some(9.0), Some(5.0), None]
        );
        assert_eq!(RiskTable::default().filled_to(1), None);
    }

    #[test]
    fn life_that_is_never_at_risk_is_named_and_left_out() {
        let lives = [
            life(0.0, 4.0, true),
            life(0.0, 0.0, true),
            life(7.0, 6.0, false),
        ];
        let tabulated = RiskTable::from_lives(&lives).unwrap();
        assert_eq!(tabulated.never_at_risk, [1, 2]);
        assert_eq!(tabulated.table.lives(), 1);
    }

    #[test]
    fn counts_that_cannot_be_lives_are_refused() {
        let row = |distance, entered, left, failed| RiskRow {
            distance,
            entered,
            left,
            failed,
        };
        for rows in [
            vec![row(0.0, 1, 0, 1)],
            vec![row(0.0, 1, 0, 0), row(3.0, 0, 1, 1)],
            vec![row(0.0, 2, 0, 0), row(3.0, 0, 1, 0)],
            vec![row(3.0, 1, 0, 0), row(3.0, 0, 1, 0)],
            vec![row(-1.0, 1, 0, 0), row(3.0, 0, 1, 0)],
            vec![row(0.0, 1, 0, 0), row(f64::NAN, 0, 1, 0)],
            vec![row(0.0, 1, 0, 0), row(1.0, 0, u64::MAX, 1)],
        ] {
            assert!(RiskTable::from_counts(rows.clone()).is_err(), "{rows:?}");
        }
    }

    #[test]
    fn exposure_and_gaps_follow_the_risk_set() {
        let lives = [
            life(0.0, 4.0, true),
            life(1.0, 4.0, false),
            life(6.0, 10.0, true),
        ];
        let table = RiskTable::from_lives(&lives).unwrap().table;
        assert_eq!(table.exposure(), 11.0);
        assert_eq!(table.exposure_between(2.0, 7.0), 5.0);
        assert_eq!(table.gaps(), [(4.0, 6.0)]);
        assert_eq!(table.failures_between(4.0, 10.0), 1);
    }

    #[test]
    fn conditioning_moves_entries_up_and_drops_the_ended() {
        let lives = [
            life(0.0, 4.0, true),
            life(1.0, 8.0, false),
            life(6.0, 10.0, true),
        ];
        let table = RiskTable::from_lives(&lives).unwrap().table;
        let later = [life(4.0, 8.0, false), life(6.0, 10.0, true)];
        assert_eq!(
            table.conditional_on(4.0),
            RiskTable::from_lives(&later).unwrap().table
        );
        assert_eq!(table.conditional_on(99.0).rows(), []);
    }
}
