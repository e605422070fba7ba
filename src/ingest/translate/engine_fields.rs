//! The engine of a record and its cylinders.

use crate::ingest::cell::cylinder;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::mapping::bind::BoundTable;
use crate::ingest::mapping::code_list::MOST_CYLINDERS;
use crate::ingest::read::RawRecord;
use crate::ingest::rule::Flag;
use crate::ingest::rule::Reason;
use crate::ingest::rule::Rejection;

use super::cells::cell;
use super::engine::Found;
use super::fields;
use super::record::Shared;
use super::record::Translator;
use super::row::Row;
use super::row::Value;

impl<'a> Translator<'a> {
    /// The family of a table's record: `None` if neither engine text nor family is there.
    pub(super) fn family(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
    ) -> Result<Option<Found<'a>>, Rejection> {
        if let Some(id) = self.id(i, Field::EngineFamily, table, record)? {
            return Ok(Some(
                self.matcher
                    .by_id(&id)
                    .map_or(Found::Unknown, Found::Family),
            ));
        }
        let Some(field) = table.field(Field::Engine) else {
            return Ok(None);
        };
        let year = match self.year(table, record, Field::ModelYear) {
            Ok(Value::Whole(year)) => i32::try_from(year).ok(),
            _ => None,
        };
        let cell = cell(record, field)?;
        let text = match field.codes.get(&cell.text) {
            Some(replaced) => replaced.unwrap_or("").to_owned(),
            None => cell.text.into_owned(),
        };
        if text.is_empty() {
            return Ok(None);
        }
        let found = self.matcher.by_text(&text, year);
        if found == Found::Unknown {
            self.unmatched.push((Field::Engine, text));
        }
        Ok(Some(found))
    }

    pub(super) fn engine_family(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        match self.family(i, table, record) {
            Ok(None) => Ok(Value::Missing),
            Ok(Some(Found::Family(family))) => Ok(row.keep(&family.id)),
            Ok(Some(Found::Unknown)) => {
                row.flag(Flag::EngineUnknown);
                Ok(Value::Missing)
            }
            Ok(Some(Found::Ambiguous)) => {
                row.flag(Flag::EngineAmbiguous);
                Ok(Value::Missing)
            }
            Err(rejection) => {
                row.flag(Flag::EngineUnknown);
                Err(rejection)
            }
        }
    }

    pub(super) fn codes(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(field) = table.field(Field::Codes) else {
            return Ok(Value::Missing);
        };
        let (value, named) = fields::codes(&cell(record, field)?.text, row);
        // The column of the complaint's cylinder comes later and, where it is filled, wins.
        if let Some(cylinder) = named {
            row.set("complaint_cylinder", Value::Whole(i64::from(cylinder)));
        }
        Ok(value)
    }

    pub(super) fn cylinder(
        &self,
        field: Field,
        table: &BoundTable,
        record: &RawRecord,
        shared: Shared<'a>,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let from_code = match (field, row.value("complaint_cylinder")) {
            (Field::ComplaintCylinder, Value::Whole(n)) => Some(n),
            _ => None,
        };
        row.set("complaint_cylinder", Value::Missing);
        let stated = match table.field(field) {
            Some(bound) => stated_cylinder(bound, record)?,
            None => None,
        };
        let Some(number) = stated.or(from_code) else {
            return Ok(Value::Missing);
        };
        let exists = match shared.family {
            Some(family) => family.cylinder(number).is_some(),
            None => (1..=i64::from(MOST_CYLINDERS)).contains(&number),
        };
        if exists {
            return Ok(Value::Whole(number));
        }
        let hint = shared.family.map_or_else(
            || format!("1 to {MOST_CYLINDERS}"),
            |f| format!("{} has cylinders 1 to {}", f.id, f.cylinders),
        );
        Err(Rejection::with_hint(Reason::CylinderNotInFamily, hint))
    }
}

fn stated_cylinder(bound: &BoundField, record: &RawRecord) -> Result<Option<i64>, Rejection> {
    let cell = cell(record, bound)?;
    if cell.is_empty() {
        return Ok(None);
    }
    match bound.codes.get(&cell.text) {
        Some(id) => Ok(id.and_then(|n| n.parse().ok())),
        None => cylinder::parse(&cell.text).map(Some),
    }
}
