//! The tally behind shares: which causes were confirmed, of how many cases, walk-ins included.
//!
//! Shares need no exposure, so every confirmed failure counts, each once and under its primary cause. The filter's
//! causes are left to the answer: a share of some causes is still a share of all.

use std::collections::BTreeMap;

use serde::Serialize;

use super::dimension::Dimension;
use super::exposure::natural;
use super::filter::{Filter, Parameters, once, placing};
use super::key::{KeyPart, keys};
use crate::domain::day::Day;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::{Problem, Result};
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;

/// Which complaints count: cases with a trouble code that begins with one of these, e.g. `P030` for any misfire code.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Complaint {
    /// Beginnings of trouble codes; none means every case, with or without codes.
    pub codes: Vec<String>,
}

impl Complaint {
    /// The pattern that codes separated by one space must match; letters and digits only, so that no code is a pattern.
    fn pattern(&self) -> Result<Option<Value>> {
        let plain = |code: &String| {
            !code.is_empty() && code.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
        };
        if let Some(odd) = self.codes.iter().find(|code| !plain(code)) {
            return Err(
                Problem::usage("this is not the beginning of a trouble code")
                    .value(odd.as_str())
                    .remedy("give letters and digits, for instance P0301 or P030"),
            );
        }
        let starts = self.codes.join("|").to_ascii_uppercase();
        Ok((!self.codes.is_empty()).then(|| Value::Text(format!("(^| )({starts})"))))
    }
}

/// Confirmed failures of one cause in one group.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CauseCount {
    /// Cause.
    pub cause: String,
    /// Failures with this primary cause.
    pub cases: u64,
    /// Vehicles with at least one.
    pub vehicles: u64,
    /// The same failures by site, sorted by site.
    pub sites: Vec<(Option<String>, u64)>,
}

/// One group of shares.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ShareGroup {
    /// One part for each dimension.
    pub key: Vec<KeyPart>,
    /// Confirmed failures: the denominator.
    pub confirmed_cases: u64,
    /// By primary cause, sorted by cause.
    pub causes: Vec<CauseCount>,
    /// Confirmed failures of all causes by site, sorted by site.
    pub sites: Vec<(Option<String>, u64)>,
    /// Cases that count nowhere above, by outcome: no fault found, declined, or confirmed below the level asked for.
    pub not_confirmed: Vec<(String, u64)>,
    /// Vehicles with a confirmed failure.
    pub vehicles: u64,
    /// Day the first of these failures opened.
    pub first: Option<Day>,
    /// Day the last of these failures opened.
    pub last: Option<Day>,
}

/// Counts of every group.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShareTally {
    /// What the groups are split by.
    pub dimensions: Vec<Dimension>,
    /// Sorted by key.
    pub groups: Vec<ShareGroup>,
}

/// Tallies confirmed failures by cause, and by `dimensions` (any but the cause itself).
pub fn tally(
    engine: &mut dyn Engine,
    _history: &History,
    filter: &Filter,
    dimensions: &[Dimension],
    bands: &MileageBands,
    complaint: &Complaint,
) -> Result<ShareTally> {
    if dimensions.contains(&Dimension::Cause) {
        return Err(
            Problem::usage("shares are of causes already, and cannot be split by cause")
                .remedy("leave cause out of --by"),
        );
    }
    let mut parameters = filter.of_events();
    parameters.extend(placing(bands));
    parameters.push(once("complaint", complaint.pattern()?));
    let mut groups: BTreeMap<Vec<KeyPart>, ShareGroup> = BTreeMap::new();
    let counted = |engine: &mut dyn Engine, more: &[Dimension]| {
        confirmed(engine, &parameters, dimensions, more)
    };
    for row in counted(engine, &[])? {
        let group = at(&mut groups, row.key);
        group.confirmed_cases = row.cases;
        group.vehicles = row.vehicles;
        group.first = row.first;
        group.last = row.last;
    }
    for row in counted(engine, &[Dimension::Site])? {
        at(&mut groups, row.key).sites.push((row.site, row.cases));
    }
    for row in counted(engine, &[Dimension::Cause])? {
        at(&mut groups, row.key).causes.push(CauseCount {
            cause: row.cause,
            cases: row.cases,
            vehicles: row.vehicles,
            sites: Vec::new(),
        });
    }
    for row in counted(engine, &[Dimension::Cause, Dimension::Site])? {
        let group = at(&mut groups, row.key);
        if let Some(count) = group.causes.iter_mut().find(|c| c.cause == row.cause) {
            count.sites.push((row.site, row.cases));
        }
    }
    for (key, outcome, cases) in unconfirmed(engine, &parameters, dimensions)? {
        at(&mut groups, key).not_confirmed.push((outcome, cases));
    }
    Ok(ShareTally {
        dimensions: dimensions.to_vec(),
        groups: groups.into_values().map(sorted).collect(),
    })
}

fn at(groups: &mut BTreeMap<Vec<KeyPart>, ShareGroup>, key: Vec<KeyPart>) -> &mut ShareGroup {
    groups.entry(key.clone()).or_insert_with(|| ShareGroup {
        key,
        ..ShareGroup::default()
    })
}

fn sorted(mut group: ShareGroup) -> ShareGroup {
    group.sites.sort();
    group.causes.sort_by(|a, b| a.cause.cmp(&b.cause));
    for count in &mut group.causes {
        count.sites.sort();
    }
    group.not_confirmed.sort();
    group
}

pub(super) struct Row {
    pub key: Vec<KeyPart>,
    pub cause: String,
    site: Option<String>,
    pub cases: u64,
    vehicles: u64,
    pub first: Option<Day>,
    pub last: Option<Day>,
}

/// Confirmed failures by cause and `dimensions`, in one pass.
pub(super) fn causes(
    engine: &mut dyn Engine,
    _history: &History,
    filter: &Filter,
    dimensions: &[Dimension],
    bands: &MileageBands,
    complaint: &Complaint,
) -> Result<Vec<Row>> {
    let mut parameters = filter.of_events();
    parameters.extend(placing(bands));
    parameters.push(once("complaint", complaint.pattern()?));
    confirmed(engine, &parameters, dimensions, &[Dimension::Cause])
}

fn confirmed(
    engine: &mut dyn Engine,
    parameters: &Parameters,
    dimensions: &[Dimension],
    more: &[Dimension],
) -> Result<Vec<Row>> {
    let mut parameters = parameters.clone();
    parameters.push(("dimension", columns(dimensions, more)));
    let batch = statement::query(engine, "confirmed_counts", &parameters)?;
    let table = Table::new(&batch);
    let optional = |d: Dimension| match more.contains(&d) {
        true => table.text(d.column()),
        false => Ok(vec![None; table.len()]),
    };
    let causes = optional(Dimension::Cause)?;
    let sites = optional(Dimension::Site)?;
    let cases = table.count("cases")?;
    let vehicles = table.count("vehicles")?;
    let first = table.day("first_day")?;
    let last = table.day("last_day")?;
    let rows = keys(&table, dimensions)?
        .into_iter()
        .zip(causes.into_iter().zip(sites))
        .zip(cases.into_iter().zip(vehicles))
        .zip(first.into_iter().zip(last));
    Ok(rows
        .map(
            |(((key, (cause, site)), (cases, vehicles)), (first, last))| Row {
                key,
                cause: cause.unwrap_or_default(),
                site,
                cases: natural(cases),
                vehicles: natural(vehicles),
                first,
                last,
            },
        )
        .collect())
}

fn unconfirmed(
    engine: &mut dyn Engine,
    parameters: &Parameters,
    dimensions: &[Dimension],
) -> Result<Vec<(Vec<KeyPart>, String, u64)>> {
    let mut parameters = parameters.clone();
    parameters.push(("dimension", columns(dimensions, &[])));
    let batch = statement::query(engine, "unconfirmed_counts", &parameters)?;
    let table = Table::new(&batch);
    let outcomes = table.text("outcome")?;
    let cases = table.count("cases")?;
    let rows = keys(&table, dimensions)?
        .into_iter()
        .zip(outcomes.into_iter().zip(cases));
    Ok(rows
        .map(|(key, (outcome, cases))| (key, outcome.unwrap_or_default(), natural(cases)))
        .collect())
}

fn columns(dimensions: &[Dimension], more: &[Dimension]) -> Value {
    let mut columns: Vec<Value> = Vec::new();
    for dimension in dimensions.iter().chain(more) {
        let column = Value::Column(dimension.column());
        if !columns.contains(&column) {
            columns.push(column);
        }
    }
    Value::Each(columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_complaint_is_no_pattern() {
        let of = |codes: &[&str]| {
            Complaint {
                codes: codes.iter().map(|c| (*c).to_owned()).collect(),
            }
            .pattern()
        };
        assert_eq!(of(&[]), Ok(None));
        assert_eq!(
            of(&["p030", "P0316"]),
            Ok(Some(Value::text("(^| )(P030|P0316)")))
        );
        assert!(of(&["P0.*"]).is_err());
        assert!(of(&[""]).is_err());
    }
}
