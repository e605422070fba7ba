//! Rows of the statements of life, decoded.

use std::collections::BTreeMap;

use super::group::Watched;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::tally::dimension::Dimension;
use crate::tally::exposure::natural;
use crate::tally::key::{KeyPart, keys, runs};

/// Engines that come under observation, and whose observation ends, at one distance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Risk {
    pub distance_m: i64,
    pub entered: i64,
    pub ended: i64,
}

/// What first failures of one cause change at one distance; -1 for mere counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    pub distance_m: i64,
    pub entered: i64,
    pub ended: i64,
    pub failed: i64,
    pub placed: i64,
    pub walk_ins: i64,
    pub later: i64,
    pub unplaced: i64,
    pub repairs: i64,
    pub at_once: i64,
    pub vehicles: i64,
}

/// The changes that one cause makes, in one cylinder where cylinders are told apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfKind {
    pub cylinder: KeyPart,
    pub cause: String,
    pub changes: Vec<Change>,
}

/// The risk rows by group.
pub fn risk(table: &Table<'_>, who: &[Dimension]) -> Result<BTreeMap<Vec<KeyPart>, Vec<Risk>>> {
    let distances = table.count("distance_m")?;
    let (entered, ended) = (table.count("entered")?, table.count("ended")?);
    let rows: Vec<Risk> = distances
        .into_iter()
        .zip(entered.into_iter().zip(ended))
        .map(|(distance_m, (entered, ended))| Risk {
            distance_m,
            entered,
            ended,
        })
        .collect();
    let groups = runs(table, who)?.into_iter();
    let of = |range: std::ops::Range<usize>| rows.get(range).unwrap_or_default().to_vec();
    Ok(groups.map(|(key, range)| (key, of(range))).collect())
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

/// The changes of `life_failures`, or of `life_repairs`, by group.
pub fn changes(
    table: &Table<'_>,
    who: &[Dimension],
    by_cylinder: bool,
    repairs: bool,
) -> Result<BTreeMap<Vec<KeyPart>, Vec<OfKind>>> {
    let rows = plain_changes(table, repairs)?;
    let kind: &[Dimension] = match by_cylinder {
        true => &[Dimension::Cylinder, Dimension::Cause],
        false => &[Dimension::Cause],
    };
    let all: Vec<Dimension> = who.iter().chain(kind).copied().collect();
    let mut groups: BTreeMap<Vec<KeyPart>, Vec<OfKind>> = BTreeMap::new();
    for (mut key, range) in runs(table, &all)? {
        let cause = match key.pop() {
            Some(KeyPart::Text(id)) => id,
            _ => String::new(),
        };
        let cylinder = match by_cylinder {
            true => key.pop().unwrap_or(KeyPart::Unknown),
            false => KeyPart::Unknown,
        };
        groups.entry(key).or_default().push(OfKind {
            cylinder,
            cause,
            changes: rows.get(range).unwrap_or_default().to_vec(),
        });
    }
    Ok(groups)
}

fn plain_changes(table: &Table<'_>, repairs: bool) -> Result<Vec<Change>> {
    let column = |name: &str, there: bool| match there {
        true => table.count(name),
        false => Ok(vec![0; table.len()]),
    };
    let distances = table.count("distance_m")?;
    let (entered, ended, failed) = (
        table.count("entered")?,
        table.count("ended")?,
        table.count("failed")?,
    );
    let placed = column("placed", !repairs)?;
    let walk_ins = column("walk_ins", !repairs)?;
    let later = column("later", !repairs)?;
    let unplaced = column("unplaced", !repairs)?;
    let repaired = column("repairs", repairs)?;
    let at_once = column("again_at_once", repairs)?;
    let vehicles = column("vehicles", repairs)?;
    let rows = distances
        .into_iter()
        .zip(entered.into_iter().zip(ended).zip(failed))
        .zip(placed.into_iter().zip(walk_ins).zip(later).zip(unplaced))
        .zip(repaired.into_iter().zip(at_once).zip(vehicles));
    Ok(rows
        .map(
            |(
                ((distance_m, ((entered, ended), failed)), (((placed, walk_ins), later), unplaced)),
                ((repairs, at_once), vehicles),
            )| Change {
                distance_m,
                entered,
                ended,
                failed,
                placed,
                walk_ins,
                later,
                unplaced,
                repairs,
                at_once,
                vehicles,
            },
        )
        .collect())
}
