//! One record through a bound mapping: which tables it feeds, its rows, and what becomes of it.

use crate::domain::catalog::Access;
use crate::domain::day::Day;
use crate::domain::family::EngineFamily;
use crate::domain::table::Table;
use crate::domain::unit::Unit;
use crate::ingest::cell::text::normal_form;
use crate::ingest::cell::{currency, cylinder};
use crate::ingest::mapping::bind::{BoundField, BoundTable, Plan};
use crate::ingest::mapping::code_list::{MOST_CYLINDERS, Names, UNMAPPED};
use crate::ingest::mapping::{Field, Mapping, Test};
use crate::ingest::read::RawRecord;
use crate::ingest::rule::{Flag, Reason, Rejection};

use super::cells::{cell, column_text};
use super::coded::Memory;
use super::engine::{Found, Matcher};
use super::reading::{Odometer, Units};
use super::row::{Failure, Row, Value};
use super::vehicle::{Namer, Naming};
use super::{digest, fields, money};

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
    settings: Settings<'a>,
    units: Units<'a>,
    namer: Namer,
    matcher: Matcher<'a>,
    /// By table of the mapping, then by field.
    memories: Vec<Vec<Memory>>,
    rows: Vec<Row>,
    /// Which of `rows` the current record has.
    live: Vec<usize>,
    /// Words that were not understood, for the account.
    unmatched: Vec<(Field, String)>,
}

/// What the rows of one record share.
#[derive(Clone, Copy, Default)]
struct Shared<'a> {
    family: Option<&'a EngineFamily>,
}

impl<'a> Translator<'a> {
    /// A translator for one export.
    pub fn new(settings: Settings<'a>) -> Self {
        let mapping = settings.mapping;
        let tables = &settings.plan.tables;
        Self {
            units: Units {
                readings: &mapping.units,
                distances: &mapping.distance_units,
                default_distance: mapping.distance_unit,
                marks: mapping.numbers,
            },
            namer: Namer::new(settings.naming.clone(), &mapping.source),
            matcher: Matcher::new(settings.names.families),
            memories: tables
                .iter()
                .map(|_| Field::ALL.iter().map(|_| Memory::default()).collect())
                .collect(),
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
        for i in &live {
            if let (Some(table), Some(row)) = (plan.tables.get(*i), self.rows.get_mut(*i)) {
                let mut row = std::mem::replace(row, Row::new(table.into));
                row.clear();
                self.fill(*i, table, record, shared, &mut row);
                self.rows[*i] = row;
            }
        }
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
        for (at, column) in table.into.own_columns().iter().enumerate() {
            let field = match column.name {
                "odometer_m" => "odometer",
                name => name,
            };
            match self.value(i, table, record, shared, column.name, row) {
                Ok(Value::Missing) if column.required => {
                    fail(row, field, Reason::RequiredMissing.into(), "", true);
                }
                Ok(value) => {
                    if let Some(place) = row.values.get_mut(at)
                        && value != Value::Missing
                    {
                        *place = value;
                    }
                }
                Err(rejection) => {
                    let found = Field::from_name(field)
                        .and_then(|f| table.field(f))
                        .map_or("", |bound| raw_text(record, bound));
                    fail(row, field, rejection, found, column.required);
                }
            }
        }
        check_across(row);
        self.key(table, record, row);
        row.digest = digest::digest(&self.settings.mapping.source, row);
    }

    /// The value of one stored column.
    fn value(
        &mut self,
        i: usize,
        table: &BoundTable,
        record: &RawRecord,
        shared: Shared<'a>,
        column: &str,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        match column {
            "vehicle" => self.vehicle(table, record, row),
            "date" => self.day(table, record, Field::Date),
            "opened" => self.day(table, record, Field::Opened),
            "closed" => self.day(table, record, Field::Closed),
            "odometer_m" => self.odometer(table, record, row),
            "engine_family" => self.engine_family(i, table, record, row),
            "model_year" => self.year(table, record, Field::ModelYear),
            "price_year" => self.year(table, record, Field::PriceYear),
            "codes" => self.codes(table, record, row),
            "complaint_cylinder" => {
                self.cylinder(Field::ComplaintCylinder, table, record, shared, row)
            }
            "cylinder" => self.cylinder(Field::Cylinder, table, record, shared, row),
            "case_id" => self.text(table, record, Field::CaseId, row),
            "site" => self.site(table, record, row),
            "cause" => self.or_unmapped(i, Field::Cause, table, record, row),
            "outcome" => self.or_unmapped(i, Field::Outcome, table, record, row),
            "currency" => self.currency(i, table, record, row),
            "cost" => self.cost(i, table, record, row),
            "labour_hours" => self.time(table, record, Field::LabourHours, Unit::Hour, 2000.0),
            "minutes" => self.minutes(table, record, row),
            "step" => self.step(table, record),
            "reading" => self.reading(table, record, row),
            // Written together with the reading and the minutes.
            "unit" | "minutes_from" => Ok(Value::Missing),
            name => match Field::from_name(name) {
                Some(field) => self.word(i, field, table, record, row),
                None => Ok(Value::Missing),
            },
        }
    }

    fn vehicle(
        &mut self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(field) = table.field(Field::Vehicle) else {
            return Ok(Value::Missing);
        };
        let year = match self.year(table, record, Field::ModelYear) {
            Ok(Value::Whole(year)) => i32::try_from(year).ok(),
            _ => None,
        };
        let named = self.namer.name(record, field, year)?;
        if let Some(flag) = named.flag {
            row.flag(flag);
        }
        Ok(row.keep(&named.name))
    }

    fn day(
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

    fn odometer(
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

    /// The family of a table's record: `None` if neither engine text nor family is there.
    fn family(
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

    fn engine_family(
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

    fn year(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        field: Field,
    ) -> Result<Value, Rejection> {
        let Some(bound) = table.field(field) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, bound)?;
        if cell.is_empty() {
            return Ok(Value::Missing);
        }
        fields::year(&cell, bound, self.units.marks).map(Value::Whole)
    }

    fn codes(
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

    fn cylinder(
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

    fn text(
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

    fn site(
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

    /// The id of a coded field; `None` if it is empty.
    fn id(
        &mut self,
        i: usize,
        field: Field,
        table: &BoundTable,
        record: &RawRecord,
    ) -> Result<Option<String>, Rejection> {
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

    fn word(
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
            (Field::EngineReplaced, Some(id)) => Value::Flag(id == "true"),
            (_, Some(id)) => row.keep(&id),
        })
    }

    /// Causes and outcomes without a mapping are kept as such: leaving them out would bend every share.
    fn or_unmapped(
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

    fn currency(
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

    fn currency_code(
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

    fn cost(
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

    fn time(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        field: Field,
        unit: Unit,
        most: f64,
    ) -> Result<Value, Rejection> {
        let Some(bound) = table.field(field) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, bound)?;
        if cell.is_empty() {
            return Ok(Value::Missing);
        }
        self.units
            .time(record, bound, &cell, unit, most)
            .map(Value::Number)
    }

    /// Bench minutes; where nobody measured them, the catalog's for easy access, marked as such.
    fn minutes(
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

    fn step(&self, table: &BoundTable, record: &RawRecord) -> Result<Value, Rejection> {
        let Some(bound) = table.field(Field::Step) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, bound)?;
        if cell.is_empty() {
            return Ok(Value::Missing);
        }
        fields::whole(&cell, self.units.marks, 1..=10_000).map(Value::Whole)
    }

    fn reading(
        &self,
        table: &BoundTable,
        record: &RawRecord,
        row: &mut Row,
    ) -> Result<Value, Rejection> {
        let Some(field) = table.field(Field::Reading) else {
            return Ok(Value::Missing);
        };
        let cell = cell(record, field)?;
        let test = self
            .settings
            .names
            .catalog
            .test(row.text(row.value("test")));
        let (false, Some(test)) = (cell.is_empty(), test) else {
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

    /// The record's key: its columns, or what tells rows of this table apart by nature.
    fn key(&self, table: &BoundTable, record: &RawRecord, row: &mut Row) {
        let mut key = String::new();
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

fn natural_key(row: &Row, key: &mut String) {
    let columns: &[&str] = match row.table {
        Table::Visits => &["vehicle", "date"],
        Table::Cases => &["case_id"],
        Table::Findings => &["case_id", "cause", "cylinder"],
        Table::Tests => &["case_id", "step"],
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

/// Rules that look at several fields of a row.
fn check_across(row: &mut Row) {
    if let (Value::Day(opened), Value::Day(closed)) = (row.value("opened"), row.value("closed"))
        && closed < opened
    {
        row.flag(Flag::ClosedBeforeOpened);
    }
    if let Value::Whole(cost) = row.value("cost") {
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

fn raw_text<'r>(record: &'r RawRecord, bound: &'r BoundField) -> &'r str {
    match bound.column {
        Some(column) if !record.get(column).is_empty() => record.get(column),
        _ => bound.constant.as_deref().unwrap_or(""),
    }
}

fn fail(row: &mut Row, field: &str, rejection: Rejection, value: &str, fatal: bool) {
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
