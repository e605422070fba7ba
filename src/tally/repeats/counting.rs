//! From the rows of the statements to groups: which failures of which vehicles, over which windows.

use std::collections::{BTreeMap, BTreeSet};

use super::comebacks::{self, ComebackCount};
use super::costs::{CostAccount, Costs, EventId};
use super::events::{EventRow, Vehicles, events};
use super::second_failures::{SecondFailures, second_failures};
use super::watched::{WatchedSet, of_vehicles, set_key, watched};
use crate::domain::catalog::Catalog;
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::history::History;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::tally::Dimension;
use crate::tally::exposure::{ExposureRow, VehicleRow, Wanted};
use crate::tally::filter::{Exposure, Filter, switch};
use crate::tally::key::KeyPart;

/// What is to be followed.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// Which part of history.
    pub filter: &'a Filter,
    /// What the groups are split by: any of family, site, model year and cause.
    pub dimensions: &'a [Dimension],
    /// Mileage bands in which repaired engines are compared with others.
    pub bands: &'a MileageBands,
    /// How far a vehicle's distance counts; to the end of observation or the last sighting.
    pub exposure: Exposure,
    /// Places at which the number under observation is wanted, increasing.
    pub marks: &'a [i64],
    /// Currency of the costs; the most used one where not named.
    pub currency: Option<&'a str>,
    /// Price year of the costs; the most used one where not named.
    pub price_year: Option<i64>,
    /// What costs, comebacks and second failures need besides; without it only failures are counted.
    pub only_failures: bool,
}

impl Asked<'_> {
    /// Whether failures after the end of observation count.
    pub(super) fn with_later(&self) -> (&'static str, Value) {
        switch("with_later", self.exposure != Exposure::Observed)
    }
}

/// One failure at a known place under observation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RepeatEvent {
    /// Number of its vehicle in the group's set.
    pub vehicle: usize,
    /// Place on the engine's clock.
    pub position_m: i64,
    /// Cost in minor units of the currency of the tally, where known.
    pub cost: Option<i64>,
}

/// The failures of one group.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RepeatGroup {
    /// One part for each dimension.
    pub key: Vec<KeyPart>,
    /// Which of the tally's sets its vehicles are; none where nobody was watched at a known place.
    pub set: Option<usize>,
    /// Failures under observation at a known place.
    pub events: Vec<RepeatEvent>,
    /// Failures of vehicles never seen before.
    pub walk_ins: u64,
    /// Failures of vehicles seen before, after observation had ended.
    pub after_last_visit: u64,
    /// Failures under observation at an unknown place, in no curve.
    pub unplaced: u64,
    /// Vehicles under observation.
    pub vehicles: u64,
    /// Metres under observation at a known place on the engine's clock.
    pub exposure_m: i64,
    /// Metres under observation at an unknown place.
    pub unknown_m: i64,
    /// Sites with exposure.
    pub sites: u64,
    /// First day of exposure.
    pub first: Option<Day>,
    /// Last day of exposure.
    pub last: Option<Day>,
    /// Which money was added, if any.
    pub costs: Option<CostAccount>,
}

/// Everything `repeats` is computed from.
#[derive(Debug, Clone, PartialEq)]
pub struct RepeatTally {
    /// What the groups are split by.
    pub dimensions: Vec<Dimension>,
    /// Vehicles as they were watched.
    pub sets: Vec<WatchedSet>,
    /// Sorted by key.
    pub groups: Vec<RepeatGroup>,
    /// Comebacks by repair, split by what says something about vehicles.
    pub comebacks: Vec<ComebackCount>,
    /// Failures after a repair with the head off; none where the filter shows only a part of the vehicles' lives.
    pub second_failures: Option<SecondFailures>,
}

/// Tallies failures along vehicles.
pub fn tally(
    engine: &mut dyn Engine,
    history: &History,
    asked: Asked<'_>,
    catalog: &Catalog,
    families: &Families,
) -> Result<RepeatTally> {
    let Asked {
        filter, dimensions, ..
    } = asked;
    let split = of_vehicles(dimensions);
    let wanted = Wanted {
        filter,
        bands: asked.bands,
        exposure: asked.exposure,
        by_site: split.contains(&Dimension::Site),
        by_year: split.contains(&Dimension::ModelYear),
    };
    let metres = wanted.metres(engine, history)?;
    let at_risk = wanted.vehicles(engine, history)?;
    let mut vehicles = Vehicles::default();
    let rows = events(engine, asked, catalog, &mut vehicles)?;
    let sets = watched(engine, asked, &rows, &mut vehicles)?;
    let mut groups = groups(dimensions, &rows, &sets, &metres, &at_risk);
    let mut comebacks = Vec::new();
    let mut second = None;
    if !asked.only_failures {
        let costs = Costs::read(engine, filter, catalog, &mut vehicles)?;
        add_costs(&mut groups, &costs, asked);
        comebacks = comebacks::tally(engine, history, filter, &split, catalog)?;
        if !filter.by_calendar() && filter.sites.is_empty() {
            second = Some(second_failures(
                &rows,
                &sets,
                &metres,
                asked.bands,
                families,
            ));
        }
    }
    Ok(RepeatTally {
        dimensions: dimensions.to_vec(),
        sets,
        groups: groups.into_values().map(|g| g.group).collect(),
        comebacks,
        second_failures: second,
    })
}

/// A group while it is filled, with the ids of its events for their costs.
#[derive(Default)]
struct Filling {
    group: RepeatGroup,
    ids: Vec<EventId>,
}

fn groups(
    dimensions: &[Dimension],
    rows: &[EventRow],
    sets: &[WatchedSet],
    metres: &[ExposureRow],
    at_risk: &[VehicleRow],
) -> BTreeMap<Vec<KeyPart>, Filling> {
    let places: BTreeMap<&[KeyPart], usize> = sets
        .iter()
        .enumerate()
        .map(|(i, set)| (set.key.as_slice(), i))
        .collect();
    let mut groups: BTreeMap<Vec<KeyPart>, Filling> = BTreeMap::new();
    for key in group_keys(dimensions, rows, sets) {
        let set = places.get(set_key(dimensions, &key).as_slice()).copied();
        let mut filling = Filling::default();
        filling.group.set = set;
        filling.group.key = key.clone();
        groups.insert(key, filling);
    }
    for (key, filling) in &mut groups {
        watch(
            &mut filling.group,
            &set_key(dimensions, key),
            &of_vehicles(dimensions),
            metres,
            at_risk,
        );
    }
    for row in rows {
        let Some(filling) = groups.get_mut(&row.key) else {
            continue;
        };
        let group = &mut filling.group;
        let set = group.set.and_then(|i| sets.get(i));
        let seen = |engine, place| {
            set.and_then(|s| s.vehicles.get(&row.vehicle))
                .is_some_and(|v| v.saw(engine, place))
        };
        match (row.observed, row.engine_no, row.position_m) {
            (false, ..) if row.seen_before => group.after_last_visit += 1,
            (false, ..) => group.walk_ins += 1,
            (true, Some(engine), Some(position_m)) if seen(engine, position_m) => {
                group.events.push(RepeatEvent {
                    vehicle: row.vehicle,
                    position_m,
                    cost: None,
                });
                filling.ids.push((row.vehicle, row.cylinder_key, row.chain));
            }
            _ => group.unplaced += 1,
        }
    }
    groups
}

/// The keys of all groups: sets, each with every cause that occurs where causes are asked for.
fn group_keys(
    dimensions: &[Dimension],
    rows: &[EventRow],
    sets: &[WatchedSet],
) -> BTreeSet<Vec<KeyPart>> {
    let mut keys: BTreeSet<Vec<KeyPart>> = rows.iter().map(|r| r.key.clone()).collect();
    let cause = dimensions.iter().position(|d| *d == Dimension::Cause);
    let Some(cause) = cause else {
        keys.extend(sets.iter().map(|s| s.key.clone()));
        return keys;
    };
    let causes: BTreeSet<KeyPart> = rows
        .iter()
        .filter_map(|r| r.key.get(cause).cloned())
        .collect();
    for set in sets {
        for part in &causes {
            let mut key = set.key.clone();
            key.insert(cause.min(key.len()), part.clone());
            keys.insert(key);
        }
    }
    keys
}

/// Adds the exposure of a group's set.
fn watch(
    group: &mut RepeatGroup,
    set: &[KeyPart],
    split: &[Dimension],
    metres: &[ExposureRow],
    at_risk: &[VehicleRow],
) {
    let is_of = |family: &KeyPart, site: &KeyPart, year: &KeyPart| {
        split
            .iter()
            .zip(set)
            .all(|(dimension, part)| match dimension {
                Dimension::Family => family == part,
                Dimension::Site => site == part,
                Dimension::ModelYear => year == part,
                _ => true,
            })
    };
    let mut sites = BTreeSet::new();
    for row in metres {
        if is_of(
            &row.family,
            &KeyPart::text(row.site.clone()),
            &row.model_year,
        ) {
            group.exposure_m += row.bands_m.iter().sum::<i64>();
            group.unknown_m += row.unknown_m;
            group.first = [group.first, row.first].into_iter().flatten().min();
            group.last = group.last.max(row.last);
            sites.insert(&row.site);
        }
    }
    group.sites = sites.len() as u64;
    let rows = at_risk
        .iter()
        .filter(|r| is_of(&r.family, &r.site, &r.model_year));
    group.vehicles = rows.map(|r| r.vehicles).sum();
}

/// Puts costs to events, all in one money.
fn add_costs(groups: &mut BTreeMap<Vec<KeyPart>, Filling>, costs: &Costs, asked: Asked<'_>) {
    let ids: BTreeSet<EventId> = groups
        .values()
        .flat_map(|g| g.ids.iter().copied())
        .collect();
    let ids: Vec<EventId> = ids.into_iter().collect();
    let Some((currency, year)) = costs.most_used(&ids, asked.currency, asked.price_year) else {
        return;
    };
    for filling in groups.values_mut() {
        for (event, id) in filling.group.events.iter_mut().zip(&filling.ids) {
            event.cost = costs.of(id, &currency, year);
        }
        filling.group.costs = Some(costs.account(&filling.ids, &currency, year));
    }
}
