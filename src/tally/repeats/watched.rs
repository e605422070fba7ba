//! What the vehicles were watched for: windows one by one where needed, counted where not.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use arrow::array::Int64Array;
use arrow::datatypes::{DataType, Field, Schema};
use arrow::record_batch::RecordBatch;

use super::counting::Asked;
use super::events::{EventRow, Vehicles};
use crate::domain::problem::{Problem, Result};
use crate::history::rows::Table;
use crate::query::engine::{Engine, Rows};
use crate::query::literal::Value;
use crate::query::statement;
use crate::tally::Dimension;
use crate::tally::exposure::{calendar, natural, reach};
use crate::tally::filter::{Parameters, switch};
use crate::tally::key::{KeyPart, keys};

/// One unbroken window of one engine, from (exclusive) to (inclusive), metres on the engine's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Window {
    /// Which engine of the vehicle.
    pub engine_no: i64,
    /// Where it begins.
    pub from_m: i64,
    /// Where it ends.
    pub to_m: i64,
}

/// Vehicles that saw the same cuts and had no failure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QuietWindow {
    /// The last cut at or below their entry, or 0.
    pub from_m: i64,
    /// The last cut at or below their exit.
    pub to_m: i64,
    /// How many.
    pub vehicles: u64,
}

/// The vehicles of one family, site and model year, as far as the tally is split by these.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct WatchedSet {
    /// One part for each dimension that says something about vehicles.
    pub key: Vec<KeyPart>,
    /// Vehicles followed one by one: number, engine family, windows.
    pub vehicles: BTreeMap<usize, WatchedVehicle>,
    /// The others.
    pub quiet: Vec<QuietWindow>,
}

/// One vehicle followed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct WatchedVehicle {
    /// Its engine family.
    pub family: Option<String>,
    /// Its windows in order of engine and place.
    pub windows: Vec<Window>,
}

impl WatchedVehicle {
    /// Whether a place on the clock of one engine lies in a window.
    pub fn saw(&self, engine_no: i64, position_m: i64) -> bool {
        self.windows
            .iter()
            .any(|w| w.engine_no == engine_no && w.from_m < position_m && position_m <= w.to_m)
    }
}

/// The dimensions that say something about vehicles, not about failures.
pub(super) fn of_vehicles(dimensions: &[Dimension]) -> Vec<Dimension> {
    dimensions
        .iter()
        .copied()
        .filter(|d| *d != Dimension::Cause)
        .collect()
}

/// Reads the windows and puts them into sets, sorted by key.
pub(super) fn watched(
    engine: &mut dyn Engine,
    asked: Asked<'_>,
    events: &[EventRow],
    vehicles: &mut Vehicles,
) -> Result<Vec<WatchedSet>> {
    let split = of_vehicles(asked.dimensions);
    let mut sets: BTreeMap<Vec<KeyPart>, WatchedSet> = BTreeMap::new();
    followed(engine, asked, &split, vehicles, &mut sets)?;
    quiet(engine, asked, &split, events, &mut sets)?;
    Ok(sets
        .into_iter()
        .map(|(key, set)| WatchedSet { key, ..set })
        .collect())
}

fn parameters(asked: Asked<'_>, split: &[Dimension]) -> Parameters {
    let filter = asked.filter;
    let by_site = split.contains(&Dimension::Site);
    let whole_spans = !filter.by_calendar() && filter.sites.is_empty() && !by_site;
    let (source, place) = match whole_spans {
        true => ("spans", "main_site"),
        false => ("stretches", "site"),
    };
    let (distance, exit) = reach(asked.exposure);
    let mut parameters = filter.of_exposure();
    parameters.extend(calendar(filter));
    parameters.extend([
        ("distance", Value::Column(distance)),
        ("exit", Value::Column(exit)),
        ("source", Value::Column(source)),
        ("place", Value::Column(place)),
        switch("by_site", by_site),
    ]);
    parameters
}

fn followed(
    engine: &mut dyn Engine,
    asked: Asked<'_>,
    split: &[Dimension],
    vehicles: &mut Vehicles,
    sets: &mut BTreeMap<Vec<KeyPart>, WatchedSet>,
) -> Result<()> {
    let batch = statement::query(engine, "repeat_windows", &parameters(asked, split))?;
    let table = Table::new(&batch);
    let places = table
        .count("engine_no")?
        .into_iter()
        .zip(table.count("entry_m")?)
        .zip(table.count("exit_m")?);
    let rows = keys(&table, split)?
        .into_iter()
        .zip(table.names("vehicle")?)
        .zip(table.text("engine_family")?)
        .zip(places);
    for (((key, name), family), ((engine_no, from_m), to_m)) in rows {
        let number = vehicles.number(name.as_deref().unwrap_or_default());
        let vehicle = sets.entry(key).or_default().vehicles.entry(number);
        let vehicle = vehicle.or_default();
        vehicle.family = family;
        vehicle.windows.push(Window {
            engine_no,
            from_m,
            to_m,
        });
    }
    Ok(())
}

fn quiet(
    engine: &mut dyn Engine,
    asked: Asked<'_>,
    split: &[Dimension],
    events: &[EventRow],
    sets: &mut BTreeMap<Vec<KeyPart>, WatchedSet>,
) -> Result<()> {
    let Asked { filter, marks, .. } = asked;
    register_marks(engine, marks)?;
    let columns = split.iter().map(|d| Value::Column(d.column())).collect();
    let mut parameters = parameters(asked, split);
    parameters.extend([
        ("dimension", Value::Each(columns)),
        filter.of_causes(),
        asked.with_later(),
    ]);
    // What failures are filtered by beside exposure.
    let beside = filter.of_events();
    parameters.extend(beside.into_iter().skip(filter.of_exposure().len()));
    let batch = statement::query(engine, "repeat_quiet", &parameters)?;
    let table = Table::new(&batch);
    let cuts = cuts(asked.dimensions, events, marks);
    let marks_only: Vec<i64> = marks
        .iter()
        .copied()
        .collect::<BTreeSet<_>>()
        .into_iter()
        .collect();
    let steps = table
        .count("entry_step")?
        .into_iter()
        .zip(table.count("exit_step")?)
        .zip(table.count("vehicles")?);
    for (key, ((entry, exit), vehicles)) in keys(&table, split)?.into_iter().zip(steps) {
        let cuts = cuts.get(&key).unwrap_or(&marks_only);
        let at = |step: i64| -> Option<i64> {
            let before = usize::try_from(step).ok()?.checked_sub(1);
            before.map_or(Some(0), |i| cuts.get(i).copied())
        };
        let (Some(from_m), Some(to_m)) = (at(entry), at(exit)) else {
            return Err(
                Problem::data("a window was counted by an event that is not there")
                    .file("queries/repeat_quiet.sql"),
            );
        };
        sets.entry(key).or_default().quiet.push(QuietWindow {
            from_m,
            to_m,
            vehicles: natural(vehicles),
        });
    }
    Ok(())
}

/// The cuts of each set in order, as `repeat_quiet` counts them.
fn cuts(
    dimensions: &[Dimension],
    events: &[EventRow],
    marks: &[i64],
) -> BTreeMap<Vec<KeyPart>, Vec<i64>> {
    let mut cuts: BTreeMap<Vec<KeyPart>, BTreeSet<i64>> = BTreeMap::new();
    for event in events.iter().filter(|e| e.observed) {
        if let Some(at) = event.position_m {
            let key = set_key(dimensions, &event.key);
            cuts.entry(key)
                .or_insert_with(|| marks.iter().copied().collect())
                .insert(at);
        }
    }
    cuts.into_iter()
        .map(|(key, cuts)| (key, cuts.into_iter().collect()))
        .collect()
}

/// The parts of a failure's key that say something about its vehicle.
pub(super) fn set_key(dimensions: &[Dimension], key: &[KeyPart]) -> Vec<KeyPart> {
    let parts = dimensions.iter().zip(key);
    parts
        .filter(|(d, _)| **d != Dimension::Cause)
        .map(|(_, part)| part.clone())
        .collect()
}

fn register_marks(engine: &mut dyn Engine, marks: &[i64]) -> Result<()> {
    let field = Field::new("at_m", DataType::Int64, false);
    let column = Arc::new(Int64Array::from(marks.to_vec()));
    let batch = RecordBatch::try_new(Arc::new(Schema::new(vec![field])), vec![column])
        .map_err(|e| Problem::data(format!("could not hold the marks: {e}")))?;
    engine.register("repeat_marks", Rows::Memory(batch))
}
