//! Rows of the statements of life, decoded.

use std::collections::BTreeMap;

use super::group::Watched;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::tally::dimension::Dimension;
use crate::tally::exposure::natural;
use crate::tally::key::{KeyPart, groups, keys};

/// Engines that come under observation, and whose observation ends, at one distance: at least one does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Risk {
    pub distance_m: i64,
    pub entered: i64,
    pub ended: i64,
}

/// What first failures of one cause change at one distance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    pub distance_m: i64,
    pub entered: i64,
    pub ended: i64,
    pub failed: i64,
}

/// First failures, and repairs on their clock, that are only counted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counted {
    pub placed: u64,
    pub unplaced: u64,
    pub later: u64,
    pub walk_ins: u64,
    pub repairs: u64,
    pub at_once: u64,
    pub vehicles: u64,
}

/// The changes that one cause makes, in one cylinder where cylinders are told apart; in any order, several at one distance.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OfKind {
    pub changes: Vec<Change>,
    pub counted: Counted,
}

/// A cylinder where cylinders are told apart, and a cause.
pub type Kind = (KeyPart, String);

/// What changes in each group, by what fails.
pub type Changes = BTreeMap<Vec<KeyPart>, BTreeMap<Kind, OfKind>>;

/// The risk rows by group, each distance once, in order.
pub fn risk(table: &Table<'_>, who: &[Dimension]) -> Result<BTreeMap<Vec<KeyPart>, Vec<Risk>>> {
    let distances = table.count("distance_m")?;
    let (entered, ended) = (table.count("entered")?, table.count("ended")?);
    let groups = groups(table, who)?;
    let mut sizes = vec![0; groups.keys.len()];
    for group in &groups.of_row {
        if let Some(size) = sizes.get_mut(*group) {
            *size += 1;
        }
    }
    let mut rows: Vec<Vec<Risk>> = sizes.into_iter().map(Vec::with_capacity).collect();
    let counts = distances.into_iter().zip(entered.into_iter().zip(ended));
    for (group, (distance_m, (entered, ended))) in groups.of_row.iter().zip(counts) {
        if let Some(rows) = rows.get_mut(*group).filter(|_| entered > 0 || ended > 0) {
            rows.push(Risk {
                distance_m,
                entered,
                ended,
            });
        }
    }
    let folded = rows.into_iter().map(|mut rows| {
        rows.sort_unstable_by_key(|row| row.distance_m);
        rows.dedup_by(|row, before| {
            let same = row.distance_m == before.distance_m;
            if same {
                before.entered += row.entered;
                before.ended += row.ended;
            }
            same
        });
        rows
    });
    Ok(groups.keys.into_iter().zip(folded).collect())
}

/// What was watched, by group, with the number of pieces behind it.
pub fn watched(
    table: &Table<'_>,
    who: &[Dimension],
) -> Result<BTreeMap<Vec<KeyPart>, (Watched, u64)>> {
    let column = |name| table.count(name);
    let (pieces, never, unknown) = (column("pieces")?, column("never")?, column("unknown_m")?);
    let (vehicles, sites) = (column("vehicles")?, column("sites")?);
    let (first, last) = (table.day("first_day")?, table.day("last_day")?);
    let rows = keys(table, who)?
        .into_iter()
        .zip(pieces)
        .zip(never.into_iter().zip(unknown))
        .zip(vehicles.into_iter().zip(sites))
        .zip(first.into_iter().zip(last));
    Ok(rows
        .map(
            |((((key, pieces), (never, unknown_m)), (vehicles, sites)), (first, last))| {
                let watched = Watched {
                    vehicles: natural(vehicles),
                    sites: natural(sites),
                    unknown_m,
                    never_at_risk: natural(never),
                    repairs: 0,
                    first,
                    last,
                };
                (key, (watched, natural(pieces)))
            },
        )
        .collect())
}

/// The groups of what fails, and the number of each in a row.
struct Kinds {
    names: Vec<(Vec<KeyPart>, Kind)>,
    of_row: Vec<usize>,
}

fn kinds(table: &Table<'_>, who: &[Dimension], by_cylinder: bool) -> Result<Kinds> {
    let kind: &[Dimension] = match by_cylinder {
        true => &[Dimension::Cylinder, Dimension::Cause],
        false => &[Dimension::Cause],
    };
    let all: Vec<Dimension> = who.iter().chain(kind).copied().collect();
    let groups = groups(table, &all)?;
    let names = groups.keys.into_iter().map(|mut key| {
        let cause = match key.pop() {
            Some(KeyPart::Text(id)) => id,
            _ => String::new(),
        };
        let cylinder = match by_cylinder {
            true => key.pop().unwrap_or(KeyPart::Unknown),
            false => KeyPart::Unknown,
        };
        (key, (cylinder, cause))
    });
    Ok(Kinds {
        names: names.collect(),
        of_row: groups.of_row,
    })
}

impl Kinds {
    /// The kinds by group, each with what `add` made of its rows.
    fn gather(self, mut add: impl FnMut(&mut OfKind, usize)) -> Changes {
        let mut kinds = vec![OfKind::default(); self.names.len()];
        for (row, kind) in self.of_row.iter().enumerate() {
            if let Some(kind) = kinds.get_mut(*kind) {
                add(kind, row);
            }
        }
        let mut changes = Changes::new();
        for ((who, kind), of_kind) in self.names.into_iter().zip(kinds) {
            changes.entry(who).or_default().insert(kind, of_kind);
        }
        changes
    }
}

/// The rows of `life_failures` by group and what failed.
pub fn failures(table: &Table<'_>, who: &[Dimension], by_cylinder: bool) -> Result<Changes> {
    let column = |name| table.count(name);
    let (from, to, end) = (column("from_m")?, column("to_m")?, column("end_m")?);
    let (fate, n) = (column("fate")?, column("n")?);
    let at = |column: &[i64], row: usize| column.get(row).copied().unwrap_or(0);
    Ok(kinds(table, who, by_cylinder)?.gather(|kind, row| {
        let n = at(&n, row);
        let count = match at(&fate, row) {
            2 => &mut kind.counted.placed,
            3 => &mut kind.counted.unplaced,
            4 => &mut kind.counted.later,
            5 => &mut kind.counted.walk_ins,
            failed => {
                let piece = [at(&from, row), at(&to, row), at(&end, row)];
                kind.changes.extend(shortened(piece, n, failed * n));
                return;
            }
        };
        *count += natural(n);
    }))
}

/// What becomes of `n` pieces between two distances that first failures end at a third, `failed` of them as failures that
/// count: those that would have begun later never begin.
fn shortened([from, to, end]: [i64; 3], n: i64, failed: i64) -> [Change; 2] {
    let change = |distance_m, entered, ended, failed| Change {
        distance_m,
        entered,
        ended,
        failed,
    };
    let whole = change(to, 0, -n, 0);
    match end > from {
        true => [whole, change(end, 0, n - failed, failed)],
        false => [whole, change(from, -n, 0, 0)],
    }
}

/// The rows of `life_repairs` by group and what failed next.
pub fn repairs(table: &Table<'_>, who: &[Dimension], by_cylinder: bool) -> Result<Changes> {
    let column = |name| table.count(name);
    let (distance, entered) = (column("distance_m")?, column("entered")?);
    let (ended, failed) = (column("ended")?, column("failed")?);
    let (repairs, at_once) = (column("repairs")?, column("again_at_once")?);
    let vehicles = column("vehicles")?;
    let at = |column: &[i64], row: usize| column.get(row).copied().unwrap_or(0);
    Ok(kinds(table, who, by_cylinder)?.gather(|kind, row| {
        if at(&distance, row) < 0 {
            kind.counted.repairs += natural(at(&repairs, row));
            kind.counted.at_once += natural(at(&at_once, row));
            kind.counted.vehicles += natural(at(&vehicles, row));
            return;
        }
        kind.changes.push(Change {
            distance_m: at(&distance, row),
            entered: at(&entered, row),
            ended: at(&ended, row),
            failed: at(&failed, row),
        });
    }))
}
