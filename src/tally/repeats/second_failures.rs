//! How soon an engine fails again after a repair with the head off, against how soon engines fail for the first time.
//!
//! Both are failures over metres in the same mileage bands of the same families, so that neither the age at which heads come
//! off nor the families that need it most decide the comparison.

use std::collections::{BTreeMap, BTreeSet};

use super::events::EventRow;
use super::watched::{WatchedSet, Window};
use crate::domain::family::Families;
use crate::domain::mileage_band::MileageBands;
use crate::tally::exposure::ExposureRow;
use crate::tally::key::KeyPart;

/// Failures and metres of one family and mileage band, after a repair and before any failure.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Stratum {
    /// Engine family.
    pub family: Option<String>,
    /// Number of the mileage band.
    pub band: usize,
    /// Next failures after a repair with the head off.
    pub after_events: u64,
    /// Metres from the repair to the next failure or the end of observation.
    pub after_m: i64,
    /// First failures.
    pub first_events: u64,
    /// Metres before the first failure.
    pub first_m: i64,
}

/// How many repairs with the head off there were.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct HeadRepairs {
    /// At a known place.
    pub repairs: u64,
    /// At an unknown place; they are followed nowhere.
    pub unplaced: u64,
    /// Vehicles of those at a known place.
    pub vehicles: u64,
}

/// The two comparisons.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SecondFailures {
    /// Repairs with the head off, by engine family.
    pub repairs: BTreeMap<Option<String>, HeadRepairs>,
    /// Any cylinder of the engine: metres of the engine.
    pub any_cylinder: Vec<Stratum>,
    /// The cylinder that was repaired, against first failures of a cylinder: metres of the cylinder.
    pub same_cylinder: Vec<Stratum>,
}

impl SecondFailures {
    /// The comparisons of one family alone.
    pub fn of_family(&self, family: &str) -> Self {
        let is_of = |f: &Option<String>| f.as_deref() == Some(family);
        let strata = |all: &[Stratum]| all.iter().filter(|s| is_of(&s.family)).cloned().collect();
        let repairs = self.repairs.iter().filter(|(f, _)| is_of(f));
        Self {
            repairs: repairs.map(|(f, r)| (f.clone(), *r)).collect(),
            any_cylinder: strata(&self.any_cylinder),
            same_cylinder: strata(&self.same_cylinder),
        }
    }
}

type Strata = BTreeMap<(Option<String>, usize), Stratum>;

/// What an engine went through.
#[derive(Default)]
struct Engine<'a> {
    family: Option<String>,
    windows: Vec<Window>,
    /// Failures with a known place, by place.
    events: Vec<&'a EventRow>,
}

/// Follows every engine; `metres` is all exposure by family. Events may stand once a cause.
pub(super) fn second_failures(
    events: &[EventRow],
    sets: &[WatchedSet],
    metres: &[ExposureRow],
    bands: &MileageBands,
    families: &Families,
) -> SecondFailures {
    let mut out = SecondFailures::default();
    let (mut any, mut same) = (Strata::new(), Strata::new());
    for row in metres {
        let family = match &row.family {
            KeyPart::Text(id) => Some(id.clone()),
            _ => None,
        };
        let cylinders = family.as_deref().and_then(|id| families.get(id));
        for (band, &metres) in row.bands_m.iter().enumerate() {
            at(&mut any, &family, band).first_m += metres;
            if let Some(known) = cylinders {
                at(&mut same, &family, band).first_m += i64::from(known.cylinders) * metres;
            }
        }
    }
    let engines = engines(events, sets, &mut out.repairs);
    let mut vehicles = BTreeSet::new();
    for ((vehicle, _), engine) in &engines {
        follow(engine, None, bands, &mut any);
        let known = engine.family.as_deref().and_then(|id| families.get(id));
        if known.is_some() {
            let cylinders: BTreeSet<i64> = engine.events.iter().map(|e| e.cylinder_key).collect();
            for cylinder in cylinders.into_iter().filter(|c| *c > 0) {
                follow(engine, Some(cylinder), bands, &mut same);
            }
        }
        let heads = engine.events.iter().filter(|e| e.head_off).count() as u64;
        if heads > 0 {
            let repairs = out.repairs.entry(engine.family.clone()).or_default();
            repairs.repairs += heads;
            repairs.vehicles += u64::from(vehicles.insert(*vehicle));
        }
    }
    let shown = |strata: Strata| {
        let some = |s: &Stratum| s.after_m > 0 || s.first_m > 0 || s.first_events > 0;
        strata.into_values().filter(some).collect()
    };
    out.any_cylinder = shown(any);
    out.same_cylinder = shown(same);
    out
}

fn at<'a>(strata: &'a mut Strata, family: &Option<String>, band: usize) -> &'a mut Stratum {
    strata
        .entry((family.clone(), band))
        .or_insert_with(|| Stratum {
            family: family.clone(),
            band,
            ..Stratum::default()
        })
}

/// Engines with a failure at a known place; repairs with the head off at an unknown one are only counted.
fn engines<'a>(
    events: &'a [EventRow],
    sets: &[WatchedSet],
    repairs: &mut BTreeMap<Option<String>, HeadRepairs>,
) -> BTreeMap<(usize, i64), Engine<'a>> {
    let mut engines: BTreeMap<(usize, i64), Engine<'a>> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    for event in events {
        if !seen.insert((event.vehicle, event.cylinder_key, event.chain)) {
            continue;
        }
        match (event.engine_no, event.position_m) {
            (Some(number), Some(_)) => {
                let engine = engines.entry((event.vehicle, number)).or_default();
                engine.family = event.family.clone();
                engine.events.push(event);
            }
            _ if event.head_off => {
                repairs.entry(event.family.clone()).or_default().unplaced += 1;
            }
            _ => {}
        }
    }
    for (&vehicle, watched) in sets.iter().flat_map(|s| &s.vehicles) {
        for window in &watched.windows {
            if let Some(engine) = engines.get_mut(&(vehicle, window.engine_no)) {
                engine.windows.push(*window);
            }
        }
    }
    for engine in engines.values_mut() {
        engine
            .events
            .sort_by_key(|e| (e.position_m, e.cylinder_key, e.chain));
    }
    engines
}

/// Adds one engine, or one cylinder of it, to its strata.
fn follow(engine: &Engine<'_>, cylinder: Option<i64>, bands: &MileageBands, strata: &mut Strata) {
    let events: Vec<(&EventRow, i64)> = engine
        .events
        .iter()
        .filter(|e| cylinder.is_none_or(|c| c == e.cylinder_key))
        .filter_map(|e| Some((*e, e.position_m?)))
        .collect();
    let Some(&(first, first_m)) = events.first() else {
        return;
    };
    for (band, metres) in driven(&engine.windows, first_m, i64::MAX, bands) {
        at(strata, &engine.family, band).first_m -= metres;
    }
    if let Some(band) = bands.index_of(first_m).filter(|_| first.observed) {
        at(strata, &engine.family, band).first_events += 1;
    }
    let repaired: BTreeSet<i64> = events
        .iter()
        .filter(|(e, _)| e.head_off)
        .map(|(e, position)| e.repaired_m.unwrap_or(*position))
        .collect();
    for from in repaired {
        let next = events.iter().find(|(_, position)| *position > from);
        let to = next.map_or(i64::MAX, |(_, position)| *position);
        for (band, metres) in driven(&engine.windows, from, to, bands) {
            at(strata, &engine.family, band).after_m += metres;
        }
        let observed = next.filter(|(e, _)| e.observed);
        if let Some(band) = observed.and_then(|(_, position)| bands.index_of(*position)) {
            at(strata, &engine.family, band).after_events += 1;
        }
    }
}

/// Metres under observation between two places, by band.
fn driven(windows: &[Window], from: i64, to: i64, bands: &MileageBands) -> Vec<(usize, i64)> {
    (0..bands.len())
        .map(|band| {
            let (lower, upper) = bands.bounds(band);
            let (lower, upper) = (lower.max(from), upper.unwrap_or(i64::MAX).min(to));
            let inside = |w: &Window| (w.to_m.min(upper) - w.from_m.max(lower)).max(0);
            (band, windows.iter().map(inside).sum())
        })
        .filter(|(_, metres)| *metres > 0)
        .collect()
}
