//! What the records know of the vehicles of a roster.

use std::sync::Arc;

use arrow::array::{Int64Array, StringArray};
use arrow::datatypes::{DataType, Field, Schema};
use arrow::record_batch::RecordBatch;

use super::ask::BudgetAsk;
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::history::rows::Table;
use crate::query::engine::{Engine, Rows};
use crate::query::statement;

/// A vehicle as the records know it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// Its place in the roster.
    pub place: usize,
    /// Day of its last reading.
    pub last_day: Option<Day>,
    /// Odometer then, in metres.
    pub odometer_m: i64,
    /// Metres on the clock of the engine now in it; none where that engine's start is unknown.
    pub position_m: Option<i64>,
    /// Family.
    pub family: Option<String>,
    /// Day it was retired.
    pub retired_on: Option<Day>,
    /// Metres driven over days, by its last span.
    pub pace: Option<(i64, i64)>,
    /// Whether this engine has had one of the failures.
    pub repaired: bool,
}

/// Looks the vehicles up; `vehicles[i]` is the pseudonym of the roster's unit i. Those never seen are not in the answer.
///
/// # Errors
/// Those of the statement.
pub fn tally(
    engine: &mut dyn Engine,
    ask: &BudgetAsk,
    vehicles: &[Option<String>],
) -> Result<Vec<Known>> {
    let named = || {
        let places = (0i64..).zip(vehicles);
        places.filter_map(|(place, vehicle)| Some((place, vehicle.as_deref()?)))
    };
    let schema = Schema::new(vec![
        Field::new("place", DataType::Int64, true),
        Field::new("vehicle", DataType::Utf8, true),
    ]);
    let places: Int64Array = named().map(|(place, _)| Some(place)).collect();
    let names: StringArray = named().map(|(_, vehicle)| Some(vehicle)).collect();
    let batch = RecordBatch::try_new(Arc::new(schema), vec![Arc::new(places), Arc::new(names)])
        .map_err(|e| Problem::data(format!("could not look the roster's vehicles up: {e}")))?;
    engine.register("roster", Rows::Memory(batch))?;
    let batch = statement::query(engine, "budget_units", &[ask.causes()])?;
    let table = Table::new(&batch);
    let places = table.count("place")?;
    let (last, retired) = (table.day("last_day")?, table.day("retired_on")?);
    let odometers = table.count("odometer_m")?;
    let positions = table.whole("position_m")?;
    let families = table.text("engine_family")?;
    let (metres, days) = (table.whole("pace_m")?, table.whole("pace_days")?);
    let repaired = table.count("repaired")?;
    let place = places.into_iter().zip(odometers).zip(positions);
    let rest = last.into_iter().zip(retired).zip(families).zip(repaired);
    let rows = place.zip(rest).zip(metres.into_iter().zip(days));
    Ok(rows
        .filter_map(
            |((((place, odometer_m), position_m), rest), (metres, days))| {
                let (((last_day, retired_on), family), repaired) = rest;
                Some(Known {
                    place: usize::try_from(place).ok()?,
                    last_day,
                    odometer_m,
                    position_m,
                    family,
                    retired_on,
                    pace: metres.zip(days).filter(|(m, d)| *m > 0 && *d > 0),
                    repaired: repaired > 0,
                })
            },
        )
        .collect())
}
