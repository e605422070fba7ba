//! Who a record is about, where it was, and under which key it is known.

use crate::domain::table::Table;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::BoundTable;
use crate::ingest::read::RawRecord;
use crate::ingest::rule::Flag;
use crate::ingest::rule::Reason;
use crate::ingest::rule::Rejection;

use super::cells::cell;
use super::cells::column_text;
use super::quantities::year;
use super::record::Translator;
use super::record::fail;
use super::row::Row;
use super::row::Value;

impl<'a> Translator<'a> {
    pub(super) fn vehicle(
        &mut self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(field) = table.field(Field::Vehicle) else {
            return Ok(Value::Missing);
        };
        let marks = self.units.marks;
        let year = || {
            let year = year(table, record, Field::ModelYear, marks);
            match year {
                Ok(Value::Whole(year)) => i32::try_from(year).ok(),
                _ => None,
            }
        };
        let named = self.namer.name(record, field, year)?;
        if let Some(flag) = named.flag {
            row.flag(flag);
        }
        Ok(row.keep(named.name))
    }

    pub(super) fn text(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        field: Field,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(bound) = table.field(field) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, bound)?;
        Ok(if cell.is_empty() {
            Value::Missing
        } else {
            row.keep(&cell.text)
        })
    }

    pub(super) fn site(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(bound) = table.field(Field::Site) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, bound)?;
        match bound.codes.get(&cell.text) {
            Some(Some(site)) => return Ok(row.keep(site)),
            Some(None) => return Ok(Value::Missing),
            None => {}
        }
        if cell.is_empty() {
            return Ok(Value::Missing);
        }
        if !bound.codes.is_empty() && !bound.codes.is_target(&cell.text) {
            row.flag(Flag::SiteUnlisted);
        }
        Ok(row.keep(&cell.text))
    }

    /// The record's key: its columns, or what tells rows of this table apart by nature.
    pub(super) fn key(&self, table: &BoundTable, record: &RawRecord, row: &mut Row) {
        let mut key = std::mem::take(&mut row.record);
        key.clear();
        if table.record.is_empty() {
            natural_key(row, &mut key);
        } else {
            for (n, column) in table.record.iter().enumerate() {
                if n > 0 {
                    key.push('/');
                }
                let part = column_text(record, *column);
                if part.is_empty() {
                    fail(row, "record", Reason::RequiredMissing.into(), "", true);
                }
                key.push_str(part);
            }
        }
        key.push_str(&table.suffix);
        row.record = key;
    }
}

fn natural_key(row: &Row, key: &mut String) {
    let columns: &[&str] = match row.table {
        Table::Visits => &["vehicle", "date"],
        Table::Cases => &["case_id"],
        Table::Findings => &["case_id", "cause", "cylinder"],
        Table::Tests => &["case_id", "step"],
        Table::Roster => &["vehicle"],
        Table::Quarantine => &[],
    };
    for (n, column) in columns.iter().enumerate() {
        if n > 0 {
            key.push('/');
        }
        match row.value(column) {
            Value::Whole(n) => key.push_str(&n.to_string()),
            Value::Day(day) => key.push_str(&day.to_string()),
            value => key.push_str(row.text(value)),
        }
    }
}
