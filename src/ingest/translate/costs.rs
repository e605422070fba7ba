//! What a repair cost, in which currency, and what looks odd about it.

use crate::domain::currency;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::BoundTable;
use crate::ingest::read::RawRecord;
use crate::ingest::rule::Flag;
use crate::ingest::rule::Reason;
use crate::ingest::rule::Rejection;

use super::cells::cell;
use super::money;
use super::record::Translator;
use super::row::Row;
use super::row::Value;

impl<'a> Translator<'a> {
    pub(super) fn currency(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let code = self.currency_code(i, table, record)?;
        let paid = row.value("cost") != Value::Missing;
        Ok(match code {
            Some(code) if paid => row.keep(code),
            _ => Value::Missing,
        })
    }

    pub(super) fn currency_code(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
    ) -> Result<Option<&'static str>, Rejection> {
        match self.id(i, Field::Currency, table, record)? {
            None => Ok(None),
            Some(text) => currency::parse(&text)
                .map(Some)
                .ok_or_else(|| Reason::CurrencyUnknown.into()),
        }
    }

    pub(super) fn cost(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(field) = table.field(Field::Cost) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, field)?;
        if cell.is_empty() {
            return Ok(Value::Missing);
        }
        if row.text(row.value("repair")) == "repair_declined" {
            row.flag(Flag::CostDeclined);
            return Ok(Value::Missing);
        }
        let code = self
            .currency_code(i, table, record)?
            .ok_or(Reason::CurrencyUnknown)?;
        money::minor_units(&cell, self.units.marks, code).map(Value::Whole)
    }
}
