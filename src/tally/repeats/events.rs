//! Failure events, one a row.

use std::collections::BTreeMap;

use super::counting::Asked;
use crate::domain::catalog::Catalog;
use crate::domain::catalog::HeadOff;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;
use crate::tally::filter::switch;
use crate::tally::key::{KeyPart, keys};
use crate::tally::{Dimension, exposure::natural};

/// A failure event as the statement gives it.
pub(super) struct EventRow {
    /// Number of the vehicle, as [`Vehicles`] gives it.
    pub vehicle: usize,
    /// Cylinder, -1 where unknown.
    pub cylinder_key: i64,
    /// Number of the event among those of its cylinder.
    pub chain: i64,
    /// One part for each dimension of the tally.
    pub key: Vec<KeyPart>,
    /// Engine family.
    pub family: Option<String>,
    /// Which engine of the vehicle.
    pub engine_no: Option<i64>,
    /// Where it failed, on the engine's clock.
    pub position_m: Option<i64>,
    /// Where its last case stood.
    pub repaired_m: Option<i64>,
    /// Whether it counts: the vehicle was under observation.
    pub observed: bool,
    /// Whether the vehicle had been seen before.
    pub seen_before: bool,
    /// Whether the head came off.
    pub head_off: bool,
}

/// Numbers for vehicles, so that their names need not be kept.
#[derive(Default)]
pub(super) struct Vehicles(BTreeMap<String, usize>);

impl Vehicles {
    /// The number of a vehicle, a new one where it was not met before.
    pub fn number(&mut self, name: &str) -> usize {
        if let Some(&number) = self.0.get(name) {
            return number;
        }
        let number = self.0.len();
        self.0.insert(name.to_owned(), number);
        number
    }
}

/// The failures that pass the filter, by cause where that is a dimension.
pub(super) fn events(
    engine: &mut dyn Engine,
    asked: Asked<'_>,
    catalog: &Catalog,
    vehicles: &mut Vehicles,
) -> Result<Vec<EventRow>> {
    let Asked {
        filter, dimensions, ..
    } = asked;
    let off = catalog
        .repairs()
        .iter()
        .filter(|r| r.head_off == HeadOff::Yes);
    let mut parameters = filter.of_events();
    parameters.extend([
        filter.of_causes(),
        asked.with_later(),
        switch("by_cause", dimensions.contains(&Dimension::Cause)),
        (
            "head_off_repairs",
            Value::Texts(off.map(|r| r.id.clone()).collect()),
        ),
    ]);
    let batch = statement::query(engine, "repeat_events", &parameters)?;
    let table = Table::new(&batch);
    let names = table.names("vehicle")?;
    let cylinders = table.count("cylinder_key")?;
    let chains = table.count("chain")?;
    let families = table.text("engine_family")?;
    let engines = table.whole("engine_no")?;
    let positions = table.whole("position_m")?;
    let repaired = table.whole("repaired_m")?;
    let observed = table.flag("counted")?;
    let seen_before = table.flag("seen_before")?;
    let head_off = table.count("head_off")?;
    let rows = keys(&table, dimensions)?
        .into_iter()
        .zip(names)
        .zip(cylinders.into_iter().zip(chains))
        .zip(families)
        .zip(engines.into_iter().zip(positions).zip(repaired))
        .zip(observed.into_iter().zip(seen_before).zip(head_off));
    Ok(rows
        .map(
            |(
                ((((key, name), (cylinder_key, chain)), family), place),
                ((observed, seen_before), head_off),
            )| {
                let ((engine_no, position_m), repaired_m) = place;
                EventRow {
                    vehicle: vehicles.number(name.as_deref().unwrap_or_default()),
                    cylinder_key,
                    chain,
                    key,
                    family,
                    engine_no,
                    position_m,
                    repaired_m,
                    observed: observed.unwrap_or(false),
                    seen_before: seen_before.unwrap_or(false),
                    head_off: natural(head_off) > 0,
                }
            },
        )
        .collect())
}
