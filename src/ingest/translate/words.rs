//! Fields of code words.

use crate::ingest::mapping::Field;
use crate::ingest::mapping::bind::BoundTable;
use crate::ingest::mapping::code_list::UNMAPPED;
use crate::ingest::read::RawRecord;
use crate::ingest::rule::Flag;
use crate::ingest::rule::Reason;
use crate::ingest::rule::Rejection;

use super::cells::cell;
use super::coded::Coded;
use super::record::Translator;
use super::record::fail;
use super::record::raw_text;
use super::row::Row;
use super::row::Value;

impl<'a> Translator<'a> {
    /// The id of a coded field; `None` if it is empty.
    pub(super) fn id(
        &mut self,
        i: usize,
        field: Field,
        table: &BoundTable,
        record: &RawRecord,
    ) -> Coded {
        let Some(bound) = table.field(field) else {
            return Ok(None);
        };
        let cell = cell(record, bound)?;
        if cell.is_empty() {
            return Ok(None);
        }
        let Some(memory) = self
            .memories
            .get_mut(i)
            .and_then(|m| m.get_mut(field.index()))
        else {
            return Ok(None);
        };
        let coded = memory
            .lookup(field, bound, &self.settings.names, &cell.text)
            .clone();
        if coded.is_err() {
            self.unmatched.push((field, cell.text.into_owned()));
        }
        coded
    }

    pub(super) fn word(
        &mut self,
        i: usize,
        field: Field,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let id = self.id(i, field, table, record)?;
        Ok(match (field, id) {
            (_, None) => Value::Missing,
            (Field::Confirmation, Some(id)) => id.parse().map_or(Value::Missing, Value::Whole),
            (Field::EngineReplaced, Some(id)) => Value::Flag(&*id == "true"),
            (_, Some(id)) => row.keep(&id),
        })
    }

    /// Causes and outcomes without a mapping are kept as such: leaving them out would bend every share.
    pub(super) fn or_unmapped(
        &mut self,
        i: usize,
        field: Field,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        match self.id(i, field, table, record) {
            Ok(id) => Ok(id.map_or(Value::Missing, |id| row.keep(&id))),
            Err(rejection) if rejection.reason == Reason::UnknownCode => {
                row.flag(if field == Field::Cause {
                    Flag::CauseUnmapped
                } else {
                    Flag::OutcomeUnmapped
                });
                let found = table
                    .field(field)
                    .map_or("", |bound| raw_text(record, bound));
                fail(row, field.name(), rejection, found, false);
                Ok(row.keep(UNMAPPED))
            }
            Err(rejection) => Err(rejection),
        }
    }
}
