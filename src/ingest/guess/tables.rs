//! Which tables an export can feed, and from which columns.

use std::collections::BTreeMap;
use std::path::Path;

use crate::domain::distance::DistanceUnit;
use crate::domain::problem::{Problem, Result};
use crate::domain::table::Table;
use crate::domain::unit::Unit;
use crate::ingest::mapping::Field;

use super::header_word::{Meaning, meaning};
use super::sample::{Column, Sample};
use super::value::{holds_dates, holds_vins, share};

/// A column taken for a field, and why.
#[derive(Debug, Clone)]
pub struct Taken {
    /// Index into the sample's columns.
    pub column: usize,
    /// Why.
    pub reason: String,
}

/// What was guessed.
#[derive(Debug, Clone)]
pub struct Tables {
    /// Column of each field.
    pub fields: BTreeMap<Field, Taken>,
    /// Column of units, if any.
    pub unit: Option<usize>,
    /// Tables that can be filled.
    pub into: Vec<Table>,
}

impl Tables {
    /// Guesses from names first; a column whose values contradict its name is left out.
    pub fn guess(sample: &Sample, file: &Path) -> Result<Self> {
        let mut fields: BTreeMap<Field, Taken> = BTreeMap::new();
        let mut unit = None;
        let mut length: BTreeMap<Field, usize> = BTreeMap::new();
        for (i, column) in sample.columns.iter().enumerate() {
            match meaning(&column.name) {
                Some((Meaning::Unit, _)) if holds_units(column) => unit = unit.or(Some(i)),
                // "Unit" may as well be the number of a vehicle of the fleet.
                Some((Meaning::Unit, phrase)) if !fields.contains_key(&Field::Vehicle) => {
                    length.insert(Field::Vehicle, 0);
                    let reason =
                        format!("the name says {phrase:?} and its values are no units of measure");
                    fields.insert(Field::Vehicle, Taken { column: i, reason });
                }
                Some((Meaning::Field(field), phrase)) if fits(field, column) => {
                    // Two columns of one meaning: the one whose name says it at more length, then a vehicle number
                    // before a unit number, then the first.
                    let weight = phrase.len()
                        + if field == Field::Vehicle && holds_vins(column) {
                            100
                        } else {
                            0
                        };
                    if length.get(&field).is_none_or(|l| *l < weight) {
                        length.insert(field, weight);
                        let reason = format!("the name says {phrase:?}");
                        fields.insert(field, Taken { column: i, reason });
                    }
                }
                _ => {}
            }
        }
        if !fields.contains_key(&Field::Vehicle)
            && let Some(i) = sample.columns.iter().position(holds_vins)
        {
            let reason = "its values look like vehicle identification numbers".into();
            fields.insert(Field::Vehicle, Taken { column: i, reason });
        }
        if !fields.contains_key(&Field::Opened)
            && let Some(i) = sample
                .columns
                .iter()
                .position(|c| meaning(&c.name).is_none() && holds_dates(c))
        {
            let reason = "its values are dates".into();
            fields.insert(Field::Opened, Taken { column: i, reason });
        }
        let into = possible(&fields);
        if into.is_empty() {
            let names: Vec<&str> = sample.columns.iter().map(|c| c.name.as_str()).collect();
            return Err(Problem::data("no table can be guessed from the names of the columns")
                .file(file)
                .value(names.join(", "))
                .remedy("write the mapping by hand: a table needs at least a vehicle and a date, or an order number with a cause or a test"));
        }
        Ok(Self { fields, unit, into })
    }

    /// The column of a field.
    pub fn column<'s>(&self, sample: &'s Sample, field: Field) -> Option<&'s Column> {
        self.fields
            .get(&field)
            .and_then(|t| sample.columns.get(t.column))
    }
}

fn holds_units(column: &Column) -> bool {
    let is_unit = |v: &str| Unit::parse(v).is_some() || DistanceUnit::parse(v).is_some();
    share(column, is_unit) > 0.5
}

fn fits(field: Field, column: &Column) -> bool {
    match field {
        Field::Opened | Field::Closed => column.filled == 0 || holds_dates(column),
        Field::Odometer
        | Field::ModelYear
        | Field::Reading
        | Field::Minutes
        | Field::LabourHours
        | Field::Step => {
            column.filled == 0
                || share(column, |v| v.starts_with(|c: char| c.is_ascii_digit())) > 0.5
        }
        _ => true,
    }
}

fn possible(fields: &BTreeMap<Field, Taken>) -> Vec<Table> {
    let has = |list: &[Field]| list.iter().all(|f| fields.contains_key(f));
    let any = |list: &[Field]| list.iter().any(|f| fields.contains_key(f));
    let mut tables = Vec::new();
    if has(&[Field::Vehicle, Field::Opened]) {
        tables.push(Table::Visits);
        if has(&[Field::CaseId]) && any(&[Field::Outcome, Field::Codes, Field::Cause]) {
            tables.push(Table::Cases);
        }
    }
    if has(&[Field::CaseId, Field::Cause]) {
        tables.push(Table::Findings);
    }
    if has(&[Field::CaseId, Field::Test]) && any(&[Field::Reading, Field::Result]) {
        tables.push(Table::Tests);
    }
    tables
}
