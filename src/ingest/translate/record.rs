//! One record through a bound mapping: which tables it feeds, its rows, and what becomes of it.

use crate::domain::day::Day;
use crate::domain::family::EngineFamily;
use crate::domain::table::Table;
use crate::domain::unit::Unit;
use crate::ingest::cell::text::normal_form;
use crate::ingest::mapping::Field;
use crate::ingest::mapping::Mapping;
use crate::ingest::mapping::Test;
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::mapping::bind::BoundTable;
use crate::ingest::mapping::bind::Plan;
use crate::ingest::mapping::code_list::Names;
use crate::ingest::read::RawRecord;
use crate::ingest::rule::Flag;
use crate::ingest::rule::Reason;
use crate::ingest::rule::Rejection;

use super::cells::column_text;
use super::coded::Memory;
use super::digest;
use super::engine::Found;
use super::engine::Matcher;
use super::reading::Units;
use super::row::Failure;
use super::row::Row;
use super::row::Value;
use super::supply::Supplied;
use super::supply::Supply;
use super::supply::field_name;
use super::supply::supplies;
use super::vehicle::Namer;
use super::vehicle::Naming;

/// What holds for all records of one export.
pub struct Settings<'a> {
    /// The mapping.
    pub mapping: &'a Mapping,
    /// The mapping laid over the export's columns.
    pub plan: &'a Plan,
    /// Catalog and families.
    pub names: Names<'a>,
    /// How vehicles are named in the store.
    pub naming: Naming,
    /// No record can be later than this.
    pub last_day: Day,
}

/// What became of a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It has rows (some of them may have failed).
    Rows,
    /// The mapping leaves it out: the column and word that say so.
    Excluded { column: usize, value: String },
    /// No table takes it.
    NotSelected,
}

/// Translates the records of one export, reusing its buffers.
pub struct Translator<'a> {
    pub(super) settings: Settings<'a>,
    pub(super) units: Units<'a>,
    pub(super) namer: Namer,
    pub(super) matcher: Matcher<'a>,
    /// By table of the mapping, then by field.
    pub(super) memories: Vec<Vec<Memory>>,
    /// By table of the mapping: the own columns that a row may have or must have.
    supplies: Vec<Vec<Supplied>>,
    /// What the digest is taken of.
    form: Vec<u8>,
    rows: Vec<Row>,
    /// Which of `rows` the current record has.
    live: Vec<usize>,
    /// Words that were not understood, for the account.
    pub(super) unmatched: Vec<(Field, String)>,
}

/// What the rows of one record share.
#[derive(Clone, Copy, Default)]
pub(super) struct Shared<'a> {
    pub(super) family: Option<&'a EngineFamily>,
}

impl<'a> Translator<'a> {
    /// A translator for one export.
    pub fn new(settings: Settings<'a>) -> Self {
        let mapping = settings.mapping;
        let tables = &settings.plan.tables;
        Self {
            units: Units::of(mapping),
            namer: Namer::new(settings.naming.clone(), &mapping.source),
            matcher: Matcher::new(settings.names.families),
            memories: tables
                .iter()
                .map(|_| Field::ALL.iter().map(|_| Memory::default()).collect())
                .collect(),
            supplies: tables.iter().map(supplies).collect(),
            form: Vec::new(),
            rows: tables.iter().map(|t| Row::new(t.into)).collect(),
            live: Vec::new(),
            unmatched: Vec::new(),
            settings,
        }
    }

    /// Translates a record; its rows are then in [`Self::rows`].
    pub fn translate(&mut self, record: &RawRecord) -> Fate {
        self.live.clear();
        self.unmatched.clear();
        let plan = self.settings.plan;
        for (column, words) in &plan.exclude {
            let found = column_text(record, *column);
            if words.contains(&normal_form(found)) {
                return Fate::Excluded {
                    column: *column,
                    value: found.to_owned(),
                };
            }
        }
        for (i, table) in plan.tables.iter().enumerate() {
            if table
                .when
                .iter()
                .all(|(column, test)| holds(column_text(record, *column), test))
            {
                self.live.push(i);
            }
        }
        if self.live.is_empty() {
            return Fate::NotSelected;
        }
        let live = std::mem::take(&mut self.live);
        let shared = self.shared(record, &live);
        // Taken out while they are filled, so that their buffers are used again.
        let mut rows = std::mem::take(&mut self.rows);
        for i in &live {
            if let (Some(table), Some(row)) = (plan.tables.get(*i), rows.get_mut(*i)) {
                row.clear();
                self.fill(*i, table, record, shared, row);
            }
        }
        self.rows = rows;
        self.live = live;
        Fate::Rows
    }

    /// The rows of the record translated last.
    pub fn rows(&self) -> impl Iterator<Item = &Row> {
        self.live.iter().filter_map(|i| self.rows.get(*i))
    }

    /// Notes a rule on every row of the record translated last.
    pub fn flag_all(&mut self, flag: Flag) {
        for i in &self.live {
            if let Some(row) = self.rows.get_mut(*i) {
                row.flag(flag);
            }
        }
    }

    /// Words of the record translated last that meant nothing.
    pub fn unmatched(&self) -> &[(Field, String)] {
        &self.unmatched
    }

    /// The first table of the record that tells the engine tells it for all.
    fn shared(&mut self, record: &RawRecord, live: &[usize]) -> Shared<'a> {
        let plan = self.settings.plan;
        let has_cylinder = |i: &usize| {
            plan.tables.get(*i).is_some_and(|t| {
                t.field(Field::Cylinder).is_some() || t.field(Field::ComplaintCylinder).is_some()
            })
        };
        // Only cylinders ask for it.
        if !live.iter().any(has_cylinder) {
            return Shared::default();
        }
        let family = live.iter().find_map(|i| {
            let table = plan.tables.get(*i)?;
            self.family(*i, table, record)
                .ok()
                .flatten()
                .and_then(|f| match f {
                    Found::Family(family) => Some(family),
                    _ => None,
                })
        });
        Shared { family }
    }

    fn fill(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
        shared: Shared<'a>,
        row: &mut Row,
    ) {
        // Taken out because the fields are translated by all of `self`.
        let supplies = self.supplies.get_mut(i).map(std::mem::take);
        for supplied in supplies.iter().flatten() {
            let column = supplied.column;
            match self.value(i, table, record, shared, supplied.from, row) {
                Ok(Value::Missing) if column.required => {
                    let field = field_name(column.name);
                    fail(row, field, Reason::RequiredMissing.into(), "", true);
                }
                Ok(Value::Missing) => {}
                Ok(value) => {
                    if let Some(place) = row.values.get_mut(supplied.at) {
                        *place = value;
                    }
                }
                Err(rejection) => {
                    let field = field_name(column.name);
                    let found = Field::from_name(field)
                        .and_then(|f| table.field(f))
                        .map_or("", |bound| raw_text(record, bound));
                    fail(row, field, rejection, found, column.required);
                }
            }
        }
        if let (Some(place), Some(supplies)) = (self.supplies.get_mut(i), supplies) {
            *place = supplies;
        }
        check_across(row);
        self.key(table, record, row);
        let source = &self.settings.mapping.source;
        (row.key, row.digest) = digest::hashes(source, row, &mut self.form);
    }

    /// The value of one stored column.
    fn value(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
        shared: Shared<'a>,
        supply: Supply,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        match supply {
            Supply::Vehicle => self.vehicle(table, record, row),
            Supply::Day(field) => self.day(table, record, field),
            Supply::Odometer => self.odometer(table, record, row),
            Supply::Planned => self.planned(table, record),
            Supply::Family => self.engine_family(i, table, record, row),
            Supply::Year(field) => self.year(table, record, field),
            Supply::Codes => self.codes(table, record, row),
            Supply::Cylinder(field) => self.cylinder(field, table, record, shared, row),
            Supply::Text(field) => self.text(table, record, field, row),
            Supply::Site => self.site(table, record, row),
            Supply::OrUnmapped(field) => self.or_unmapped(i, field, table, record, row),
            Supply::Currency => self.currency(i, table, record, row),
            Supply::Cost => self.cost(i, table, record, row),
            Supply::Hours(field) => self.time(table, record, field, Unit::Hour, 2000.0),
            Supply::Minutes => self.minutes(table, record, row),
            Supply::Step => self.step(table, record),
            Supply::Reading => self.reading(table, record, row),
            Supply::Word(field) => self.word(i, field, table, record, row),
            Supply::Elsewhere => Ok(Value::Missing),
        }
    }
}

/// Rules that look at several fields of a row.
fn check_across(row: &mut Row) {
    if row.table == Table::Cases
        && let (Value::Day(opened), Value::Day(closed)) = (row.value("opened"), row.value("closed"))
        && closed < opened
    {
        row.flag(Flag::ClosedBeforeOpened);
    }
    if row.table == Table::Findings
        && let Value::Whole(cost) = row.value("cost")
    {
        if cost < 0 {
            row.flag(Flag::CostNegative);
        } else if cost == 0 && row.value("payer") == Value::Missing {
            row.flag(Flag::CostZeroUnpaid);
        }
    }
}

fn holds(text: &str, test: &Test) -> bool {
    match test {
        Test::Empty => text.is_empty(),
        Test::NotEmpty => !text.is_empty(),
        Test::OneOf(words) => words.contains(&normal_form(text)),
        Test::NoneOf(words) => !words.contains(&normal_form(text)),
    }
}

pub(super) fn raw_text<'r>(record: &'r RawRecord, bound: &'r BoundField) -> &'r str {
    match bound.column {
        Some(column) if !record.get(column).is_empty() => record.get(column),
        _ => bound.constant.as_deref().unwrap_or(""),
    }
}

pub(super) fn fail(row: &mut Row, field: &str, rejection: Rejection, value: &str, fatal: bool) {
    if !fatal {
        row.flag(Flag::FieldQuarantined);
    }
    let field = Field::from_name(field).map_or("record", Field::name);
    row.failures.push(Failure {
        field,
        rejection,
        value: value.to_owned(),
        fatal,
    });
}
