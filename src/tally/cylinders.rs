//! The tally behind `cylinders`: which cylinder of one family failed, one failure a vehicle.
//!
//! All cylinders of an engine share its distance, so which of them fails can be judged from cases alone, as long as no
//! vehicle speaks twice and the failures of unknown cylinder are shown beside the known.

use std::collections::BTreeMap;

use serde::Serialize;

use super::exposure::natural;
use super::filter::Filter;
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::problem::{Problem, Result};
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;

/// Failures by cylinder at one site.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SiteCylinders {
    /// Site; `None` where it is unknown.
    pub site: Option<String>,
    /// Failures of cylinders 1, 2, ...
    pub counts: Vec<u64>,
    /// Failures of unknown cylinder.
    pub unknown: u64,
}

/// Failures by cylinder of one family, the first failure of each vehicle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CylinderTally {
    /// Engine family.
    pub family: String,
    /// Causes looked at; none means all.
    pub causes: Vec<String>,
    /// Failures of cylinders 1, 2, ...
    pub counts: Vec<u64>,
    /// Failures of unknown cylinder.
    pub unknown: u64,
    /// Failures of a cylinder that the family does not have; counted neither above nor as unknown.
    pub impossible: u64,
    /// Vehicles: the sum of the three above.
    pub vehicles: u64,
    /// Later failures of the same vehicles, left out.
    pub repeat_cases_left_out: u64,
    /// The same by site, sorted by site.
    pub sites: Vec<SiteCylinders>,
    /// Day the first failure opened.
    pub first: Option<Day>,
    /// Day the last failure opened.
    pub last: Option<Day>,
}

/// Tallies the cylinders of the one family in `filter`; walk-ins count.
///
/// # Errors
/// The filter names no family, several, or one that `families` does not know.
pub fn tally(
    engine: &mut dyn Engine,
    _history: &History,
    filter: &Filter,
    families: &Families,
) -> Result<CylinderTally> {
    let [family] = filter.families.as_slice() else {
        return Err(
            Problem::usage("cylinders are compared within one engine family")
                .field("--family")
                .remedy("name exactly one family"),
        );
    };
    let cylinders = usize::from(families.expect_id(family, "--family")?.cylinders);
    let mut parameters = filter.of_events();
    parameters.push(filter.of_causes());
    let batch = statement::query(engine, "cylinder_counts", &parameters)?;
    let table = Table::new(&batch);
    let mut tally = CylinderTally {
        family: family.clone(),
        causes: filter.causes.clone(),
        counts: vec![0; cylinders],
        unknown: 0,
        impossible: 0,
        vehicles: 0,
        repeat_cases_left_out: 0,
        sites: Vec::new(),
        first: table.day("first_day")?.into_iter().flatten().min(),
        last: table.day("last_day")?.into_iter().flatten().max(),
    };
    let repeats = table.count("repeats")?;
    tally.repeat_cases_left_out = repeats.into_iter().map(natural).sum();
    let mut sites: BTreeMap<Option<String>, SiteCylinders> = BTreeMap::new();
    let rows = table
        .whole("cylinder")?
        .into_iter()
        .zip(table.text("site")?)
        .zip(table.count("first_of_vehicle")?);
    for ((cylinder, site), count) in rows {
        let count = natural(count);
        let at_site = sites.entry(site.clone()).or_insert_with(|| SiteCylinders {
            site,
            counts: vec![0; cylinders],
            unknown: 0,
        });
        tally.vehicles += count;
        let place = cylinder.map(|c| usize::try_from(c - 1).ok());
        match place {
            None => {
                tally.unknown += count;
                at_site.unknown += count;
            }
            Some(place) => {
                let slot = place
                    .and_then(|p| Some((tally.counts.get_mut(p)?, at_site.counts.get_mut(p)?)));
                match slot {
                    Some((all, here)) => {
                        *all += count;
                        *here += count;
                    }
                    None => tally.impossible += count,
                }
            }
        }
    }
    let failed = |s: &SiteCylinders| s.unknown > 0 || s.counts.iter().any(|c| *c > 0);
    tally.sites = sites.into_values().filter(failed).collect();
    Ok(tally)
}
