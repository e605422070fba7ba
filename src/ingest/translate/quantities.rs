//! Days, years, odometers, times, steps and readings of a record.

use crate::domain::catalog::Access;
use crate::domain::unit::Unit;
use crate::ingest::cell::number::NumberFormat;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::{BoundField, BoundTable};
use crate::ingest::read::RawRecord;
use crate::ingest::rule::Flag;
use crate::ingest::rule::Rejection;

use super::cells::{Cell, cell};
use super::fields;
use super::reading::Odometer;
use super::record::Translator;
use super::row::Row;
use super::row::Value;

impl<'a> Translator<'a> {
    pub(super) fn day(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        field: Field,
    ) -> Result<Value, Rejection> {
        match table.field(field) {
            Some(bound) => Ok(fields::day(record, bound, self.settings.last_day)?
                .map_or(Value::Missing, Value::Day)),
            None => Ok(Value::Missing),
        }
    }

    pub(super) fn odometer(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(field) = table.field(Field::Odometer) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, field)?;
        if cell.is_empty() {
            row.flag(Flag::OdometerMissing);
            return Ok(Value::Missing);
        }
        match self.units.odometer(record, field, &cell)? {
            Odometer::Metres(metres) => Ok(Value::Whole(metres)),
            Odometer::Placeholder => {
                row.flag(Flag::OdometerPlaceholder);
                Ok(Value::Missing)
            }
        }
    }

    /// The distance a unit of a roster is planned to drive; 0 is a plan.
    pub(super) fn planned(
        &self,
        table: &BoundTable,
        record: &RawRecord,
    ) -> Result<Value, Rejection> {
        let Some((field, cell)) = filled(table, record, Field::PlannedDistance)? else {
            return Ok(Value::Missing);
        };
        self.units.distance(record, field, &cell).map(Value::Whole)
    }

    pub(super) fn year(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        field: Field,
    ) -> Result<Value, Rejection> {
        year(table, record, field, self.units.marks)
    }

    pub(super) fn time(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        field: Field,
        unit: Unit,
        most: f64,
    ) -> Result<Value, Rejection> {
        let Some((bound, cell)) = filled(table, record, field)? else {
            return Ok(Value::Missing);
        };
        self.units
            .time(record, bound, &cell, unit, most)
            .map(Value::Number)
    }

    /// Bench minutes; where nobody measured them, the catalog's for easy access, marked as such.
    pub(super) fn minutes(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let measured = self.time(table, record, Field::Minutes, Unit::Minute, 24.0 * 60.0);
        let (value, from) = match measured {
            Ok(value @ Value::Number(_)) => (Ok(value), "measured"),
            other => match self
                .settings
                .names
                .catalog
                .test(row.text(row.value("test")))
            {
                Some(test) => {
                    let value = Value::Number(test.minutes(Access::Easy));
                    row.set("minutes", value);
                    (other, "default")
                }
                None => return other,
            },
        };
        let from = row.keep(from);
        row.set("minutes_from", from);
        value
    }

    pub(super) fn step(&self, table: &BoundTable, record: &RawRecord) -> Result<Value, Rejection> {
        let Some((_, cell)) = filled(table, record, Field::Step)? else {
            return Ok(Value::Missing);
        };
        fields::whole(&cell, self.units.marks, 1..=10_000).map(Value::Whole)
    }

    pub(super) fn reading(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some((field, cell)) = filled(table, record, Field::Reading)? else {
            return Ok(Value::Missing);
        };
        let test = self
            .settings
            .names
            .catalog
            .test(row.text(row.value("test")));
        let Some(test) = test else {
            return Ok(Value::Missing);
        };
        let (value, unit) = self.units.reading(record, field, &cell, test)?;
        if test.id == "cylinder_leakage" && value > 50.0 {
            row.flag(Flag::LeakageOverHalf);
        }
        let unit = row.keep(unit.symbol());
        row.set("unit", unit);
        Ok(Value::Number(value))
    }
}

/// The year that a field says.
pub(super) fn year(
    table: &BoundTable,
    record: &RawRecord,
    field: Field,
    marks: NumberFormat,
) -> Result<Value, Rejection> {
    let Some((bound, cell)) = filled(table, record, field)? else {
        return Ok(Value::Missing);
    };
    fields::year(&cell, bound, marks).map(Value::Whole)
}

/// The cell of a field with what the mapping says of it; `None` if the field is not mapped or the cell is empty.
fn filled<'a>(
    table: &'a BoundTable,
    record: &'a RawRecord,
    field: Field,
) -> Result<Option<(&'a BoundField, Cell<'a>)>, Rejection> {
    let Some(bound) = table.field(field) else {
        return Ok(None);
    };
    let cell = cell(record, bound)?;
    Ok((!cell.is_empty()).then_some((bound, cell)))
}
