//! The lives of one group as counts by distance.

use std::collections::BTreeMap;

use super::rows::{Change, Counted, Kind, OfKind, Risk};
use crate::domain::day::Day;
use crate::tally::exposure::natural;
use crate::tally::key::KeyPart;

/// What happened at one distance.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct LifeRow {
    /// Metres on the clock.
    pub distance_m: i64,
    /// Engines whose observation begins here.
    pub entered: u64,
    /// Engines whose observation ends here unfailed.
    pub left: u64,
    /// First failures here.
    pub failed: u64,
}

/// First failures of one cause at one distance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FailedAt {
    /// Metres on the clock.
    pub distance_m: i64,
    /// Position in [`LifeGroup::causes`].
    pub cause: usize,
    /// How many.
    pub failed: u64,
}

/// First failures of the period that are known, by what became of them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct FirstFailures {
    /// Counted: the vehicle was under observation and drove a known distance up to it.
    pub failed: u64,
    /// Of vehicles never seen before: no failure of a life, and the end of it.
    pub walk_ins: u64,
    /// Of vehicles seen before, after their observation had ended: in no life.
    pub after_last_visit: u64,
    /// At an unknown distance: the life ends there, and the failure does not count.
    pub unplaced: u64,
    /// At the very distance at which observation began, or off the clock: no distance at risk.
    pub without_distance: u64,
}

/// What was watched.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Watched {
    /// Vehicles with distance on the clock; on the repair's clock those repaired.
    pub vehicles: u64,
    /// Sites they were seen at.
    pub sites: u64,
    /// Metres under observation whose place on the clock is unknown.
    pub unknown_m: i64,
    /// Engines seen at one distance only: never at risk.
    pub never_at_risk: u64,
    /// Lives that begin with a repair (on the repair's clock only).
    pub repairs: u64,
    /// First day of observation.
    pub first: Option<Day>,
    /// Last day of observation.
    pub last: Option<Day>,
}

/// The lives of one combination of the dimensions asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LifeGroup {
    /// One part for each dimension.
    pub key: Vec<KeyPart>,
    /// Causes of its failures, by id.
    pub causes: Vec<String>,
    /// Counts by distance, increasing; without rows in which nothing happens.
    pub rows: Vec<LifeRow>,
    /// The failures in `rows`, by cause; increasing in distance, then cause.
    pub failures: Vec<FailedAt>,
    /// All first failures.
    pub firsts: FirstFailures,
    /// What was watched.
    pub watched: Watched,
}

impl LifeGroup {
    /// Puts the changes that first failures make onto the risk sets; `touching`: rows where stretches of one engine meet are
    /// no end and no beginning.
    pub(super) fn new(
        key: Vec<KeyPart>,
        risk: &[Risk],
        kinds: &[(&Kind, &OfKind)],
        watched: Watched,
        touching: bool,
    ) -> Self {
        let fails = |kind: &OfKind| kind.changes.iter().any(|c| c.failed > 0);
        let failing = kinds.iter().filter(|(_, of_kind)| fails(of_kind));
        let mut causes: Vec<String> = failing.map(|((_, cause), _)| cause.clone()).collect();
        causes.sort();
        causes.dedup();
        let failures = failures(kinds, &causes);
        let (firsts, again) = counted(kinds, failures.iter().map(|f| f.failed).sum());
        // Without risk sets lives begin with a repair, or there are none.
        let vehicles = if risk.is_empty() {
            again.vehicles
        } else {
            watched.vehicles
        };
        let watched = Watched {
            repairs: again.repairs,
            vehicles,
            ..watched
        };
        let changes = kinds.iter().flat_map(|(_, kind)| &kind.changes);
        Self {
            key,
            causes,
            rows: merged(risk, changes.copied().collect(), touching),
            failures,
            firsts,
            watched,
        }
    }

    /// Metres under observation up to each first failure: the area under the risk set.
    pub fn exposure_m(&self) -> i64 {
        let mut at_risk = 0i64;
        let mut sum = 0i64;
        let mut before = 0i64;
        for row in &self.rows {
            sum += at_risk * (row.distance_m - before);
            before = row.distance_m;
            at_risk += signed(row.entered) - signed(row.left) - signed(row.failed);
        }
        sum
    }

    /// Both groups as one, under the key of this one.
    pub fn with(&mut self, other: &Self) {
        for cause in &other.causes {
            if let Err(place) = self.causes.binary_search(cause) {
                self.causes.insert(place, cause.clone());
                for failed in self.failures.iter_mut().filter(|f| f.cause >= place) {
                    failed.cause += 1;
                }
            }
        }
        let mut by_cause: BTreeMap<(i64, usize), u64> = BTreeMap::new();
        for f in &self.failures {
            *by_cause.entry((f.distance_m, f.cause)).or_default() += f.failed;
        }
        for f in &other.failures {
            let id = other.causes.get(f.cause);
            if let Some(Ok(cause)) = id.map(|id| self.causes.binary_search(id)) {
                *by_cause.entry((f.distance_m, cause)).or_default() += f.failed;
            }
        }
        self.failures = by_cause
            .into_iter()
            .map(|((distance_m, cause), failed)| FailedAt {
                distance_m,
                cause,
                failed,
            })
            .collect();
        let mut counts: BTreeMap<i64, LifeRow> = BTreeMap::new();
        for row in self.rows.iter().chain(&other.rows) {
            let at = counts.entry(row.distance_m).or_default();
            at.distance_m = row.distance_m;
            at.entered += row.entered;
            at.left += row.left;
            at.failed += row.failed;
        }
        self.rows = counts.into_values().collect();
        self.firsts.failed += other.firsts.failed;
        self.firsts.walk_ins += other.firsts.walk_ins;
        self.firsts.after_last_visit += other.firsts.after_last_visit;
        self.firsts.unplaced += other.firsts.unplaced;
        self.firsts.without_distance += other.firsts.without_distance;
        let (mine, theirs) = (&mut self.watched, &other.watched);
        mine.vehicles += theirs.vehicles;
        mine.sites = mine.sites.max(theirs.sites);
        mine.unknown_m += theirs.unknown_m;
        mine.never_at_risk += theirs.never_at_risk;
        mine.repairs += theirs.repairs;
        mine.first = [mine.first, theirs.first].into_iter().flatten().min();
        mine.last = mine.last.max(theirs.last);
    }
}

fn signed(n: u64) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}

/// The failures that count, by distance and cause.
fn failures(kinds: &[(&Kind, &OfKind)], causes: &[String]) -> Vec<FailedAt> {
    let mut failures: Vec<FailedAt> = Vec::new();
    for ((_, id), kind) in kinds {
        let Ok(cause) = causes.binary_search(id) else {
            continue;
        };
        let failing = kind.changes.iter().filter(|change| change.failed > 0);
        failures.extend(failing.map(|change| FailedAt {
            distance_m: change.distance_m,
            cause,
            failed: natural(change.failed),
        }));
    }
    failures.sort_unstable_by_key(|f| (f.distance_m, f.cause));
    failures.dedup_by(|f, before| {
        let same = (f.distance_m, f.cause) == (before.distance_m, before.cause);
        if same {
            before.failed += f.failed;
        }
        same
    });
    failures
}

/// All first failures by what became of them, of which so many count, and what is counted of all kinds together.
fn counted(kinds: &[(&Kind, &OfKind)], failed: u64) -> (FirstFailures, Counted) {
    let mut all = Counted::default();
    for (_, kind) in kinds {
        let of_kind = &kind.counted;
        all.placed += of_kind.placed;
        all.unplaced += of_kind.unplaced;
        all.later += of_kind.later;
        all.walk_ins += of_kind.walk_ins;
        all.repairs += of_kind.repairs;
        all.at_once += of_kind.at_once;
        all.vehicles += of_kind.vehicles;
    }
    let firsts = FirstFailures {
        failed,
        walk_ins: all.walk_ins,
        after_last_visit: all.later,
        unplaced: all.unplaced,
        without_distance: u64::saturating_sub(all.placed, failed) + all.at_once,
    };
    (firsts, all)
}

/// Risk rows and changes in one list by distance.
fn merged(risk: &[Risk], mut changes: Vec<Change>, touching: bool) -> Vec<LifeRow> {
    changes.sort_unstable_by_key(|change| change.distance_m);
    let mut rows = Vec::with_capacity(risk.len() + changes.len());
    let happens = |row: &LifeRow| row.entered + row.left + row.failed > 0;
    let mut rest = risk;
    for at in changes.chunk_by(|a, b| a.distance_m == b.distance_m) {
        let Some(Change { distance_m, .. }) = at.first().copied() else {
            continue;
        };
        let before = rest.iter().take_while(|row| row.distance_m < distance_m);
        let (unchanged, later) = rest.split_at(before.count());
        copied(&mut rows, unchanged, touching);
        let here = later.first().filter(|row| row.distance_m == distance_m);
        rest = here.and_then(|_| later.get(1..)).unwrap_or(later);
        let of = |count: fn(&Change) -> i64| at.iter().map(count).sum::<i64>();
        let entered = here.map_or(0, |row| row.entered) + of(|c| c.entered);
        let ended = here.map_or(0, |row| row.ended) + of(|c| c.ended);
        let row = row(distance_m, [entered, ended, of(|c| c.failed)], touching);
        rows.extend(Some(row).filter(happens));
    }
    copied(&mut rows, rest, touching);
    rows
}

/// Risk rows as they are; only where stretches touch can nothing be left of one.
fn copied(rows: &mut Vec<LifeRow>, risk: &[Risk], touching: bool) {
    let plain = |at: &Risk| row(at.distance_m, [at.entered, at.ended, 0], touching);
    if touching {
        rows.extend(
            risk.iter()
                .map(plain)
                .filter(|row| row.entered + row.left > 0),
        );
    } else {
        rows.extend(risk.iter().map(plain));
    }
}

fn row(distance_m: i64, [entered, ended, failed]: [i64; 3], touching: bool) -> LifeRow {
    let both = if touching {
        entered.min(ended).max(0)
    } else {
        0
    };
    LifeRow {
        distance_m,
        entered: natural(entered - both),
        left: natural(ended - both),
        failed: natural(failed),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_come_between_beside_and_beyond_the_risk_rows() {
        let risk = [(0, 3, 0), (5, 2, 2), (9, 0, 3)].map(|(distance_m, entered, ended)| Risk {
            distance_m,
            entered,
            ended,
        });
        let change = |distance_m, entered, ended, failed| Change {
            distance_m,
            entered,
            ended,
            failed,
        };
        // One fails at 4 in place of leaving at 9, one at 12 that was not seen to leave; of one, entry and end are taken back.
        let changes = vec![
            change(12, 0, 0, 1),
            change(9, 0, -1, 0),
            change(4, 0, 0, 1),
            change(5, -1, 0, 0),
            change(9, 0, -1, 0),
            change(7, 0, 0, 0),
        ];
        let rows = |touching| {
            let rows = merged(&risk, changes.clone(), touching).into_iter();
            let rows = rows.map(|row| (row.distance_m, row.entered, row.left, row.failed));
            rows.collect::<Vec<_>>()
        };
        let apart = [
            (0, 3, 0, 0),
            (4, 0, 0, 1),
            (5, 1, 2, 0),
            (9, 0, 1, 0),
            (12, 0, 0, 1),
        ];
        assert_eq!(rows(false), apart);
        let joined = [
            (0, 3, 0, 0),
            (4, 0, 0, 1),
            (5, 0, 1, 0),
            (9, 0, 1, 0),
            (12, 0, 0, 1),
        ];
        assert_eq!(rows(true), joined);
        assert_eq!(merged(&risk[1..2], Vec::new(), true), []);
        assert_eq!(merged(&risk[1..2], Vec::new(), false).len(), 1);
    }
}
