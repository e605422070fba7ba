//! From the tables to readings and accusations: two queries, whatever the number of tests and families.

use super::{Accusations, TestReading, Tested};
use crate::domain::problem::{Problem, Result};
use crate::domain::unit::Unit;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;
use crate::tally::Filter;

/// Which readings.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// Ids of the tests, at least one.
    pub tests: &'a [String],
    /// Families (at least one), sites, model years, period. Causes and cylinders are the judge's business.
    pub filter: &'a Filter,
}

/// Fetches readings and accusations; history and its test steps must be open.
///
/// # Errors
/// No test or no family named.
pub fn fetch(engine: &mut dyn Engine, asked: Asked<'_>) -> Result<Tested> {
    if asked.tests.is_empty() || asked.filter.families.is_empty() {
        return Err(
            Problem::usage("readings belong to a test and an engine family").remedy("name both"),
        );
    }
    let tests = ("tests", Value::Texts(asked.tests.to_vec()));
    let families = ("families", Value::Texts(asked.filter.families.clone()));
    let mut parameters = asked.filter.of_readings();
    parameters.extend([tests.clone(), families.clone()]);
    let batch = statement::query(engine, "test_readings", &parameters)?;
    let readings = readings(&Table::new(&batch))?;
    let batch = statement::query(engine, "test_accusations", &[tests, families])?;
    Ok(Tested {
        readings,
        accusations: Accusations::read(&Table::new(&batch))?,
    })
}

fn readings(table: &Table<'_>) -> Result<Vec<TestReading>> {
    let mut out = Vec::with_capacity(table.len());
    let ids = table
        .text("engine_family")?
        .into_iter()
        .zip(table.text("test")?)
        .zip(table.names("vehicle")?)
        .zip(table.text("site")?)
        .zip(table.day("opened")?);
    let case = table
        .text("source")?
        .into_iter()
        .zip(table.text("case_id")?);
    let values = table
        .whole("cylinder")?
        .into_iter()
        .zip(table.text("unit")?)
        .zip(table.number("reading")?)
        .zip(table.text("leak_path")?);
    for ((((((family, test), vehicle), site), opened), (source, case_id)), value) in
        ids.zip(case).zip(values)
    {
        let (((cylinder, unit), reading), leak_path) = value;
        let (Some(family), Some(test), Some(vehicle), Some(opened), Some(source), Some(case_id)) =
            (family, test, vehicle, opened, source, case_id)
        else {
            return Err(Problem::data("a reading came without its case"));
        };
        let unit = unit.unwrap_or_default();
        let unit = Unit::parse(&unit)
            .ok_or_else(|| Problem::data("a stored reading has a unit that is none").value(unit))?;
        let Some(value) = reading.filter(|r| r.is_finite()) else {
            continue;
        };
        out.push(TestReading {
            family,
            test,
            vehicle,
            site,
            opened,
            case: (source, case_id),
            cylinder,
            unit,
            value,
            leak_path,
        });
    }
    Ok(out)
}
