//! Records of a little store held in memory, and how they become tables of the engine.

use std::sync::Arc;

use arrow::array::{ArrayRef, BooleanArray, Date32Array, Float64Array, Int64Array, StringArray};
use arrow::datatypes::{DataType, Field, Schema};
use arrow::record_batch::RecordBatch;
use boretally::domain::table::{ColumnKind, Table};
use boretally::query::engine::{Engine, Rows};

/// Where a row came from and which version it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    pub source: String,
    pub record: String,
    pub digest: i64,
    pub line: i64,
    pub export_date: Option<i32>,
    pub batch: i64,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    pub vehicle: String,
    pub site: String,
    pub date: i32,
    pub odometer_m: Option<i64>,
    pub family: Option<String>,
    pub year: Option<i64>,
    pub replaced: Option<bool>,
    pub origin: Origin,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Case {
    pub case_id: String,
    pub vehicle: String,
    pub site: String,
    pub opened: i32,
    pub closed: Option<i32>,
    pub family: Option<String>,
    pub year: Option<i64>,
    pub odometer_m: Option<i64>,
    pub codes: Option<String>,
    pub cylinder: Option<i64>,
    pub outcome: String,
    pub origin: Origin,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    pub case_id: String,
    pub cause: String,
    pub cylinder: Option<i64>,
    pub confirmation: i64,
    pub repair: Option<String>,
    pub origin: Origin,
}

/// All records of a store, in every version.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Records {
    pub visits: Vec<Visit>,
    pub cases: Vec<Case>,
    pub findings: Vec<Finding>,
}

/// One cell of a table.
enum Cell {
    Text(Option<String>),
    Whole(Option<i64>),
    Day(Option<i32>),
    Flag(Option<bool>),
    Nothing,
}

impl Records {
    /// Registers visits, cases and findings, and an empty quarantine.
    pub fn register(&self, engine: &mut dyn Engine) -> boretally::domain::problem::Result<()> {
        let visits = batch(Table::Visits, &self.visits, visit_cell);
        let cases = batch(Table::Cases, &self.cases, case_cell);
        let findings = batch(Table::Findings, &self.findings, finding_cell);
        engine.register("visits", Rows::Memory(visits))?;
        engine.register("cases", Rows::Memory(cases))?;
        engine.register("findings", Rows::Memory(findings))?;
        let quarantine = Rows::Parquet {
            files: Vec::new(),
            schema: boretally::store::arrow_schema(Table::Quarantine),
        };
        engine.register("quarantine", quarantine)
    }
}

fn visit_cell(v: &Visit, column: &str) -> Cell {
    match column {
        "vehicle" => text(&v.vehicle),
        "site" => text(&v.site),
        "date" => Cell::Day(Some(v.date)),
        "odometer_m" => Cell::Whole(v.odometer_m),
        "engine_family" => Cell::Text(v.family.clone()),
        "model_year" => Cell::Whole(v.year),
        "engine_replaced" => Cell::Flag(v.replaced),
        other => origin_cell(&v.origin, other),
    }
}

fn case_cell(c: &Case, column: &str) -> Cell {
    match column {
        "case_id" => text(&c.case_id),
        "vehicle" => text(&c.vehicle),
        "site" => text(&c.site),
        "opened" => Cell::Day(Some(c.opened)),
        "closed" => Cell::Day(c.closed),
        "engine_family" => Cell::Text(c.family.clone()),
        "model_year" => Cell::Whole(c.year),
        "odometer_m" => Cell::Whole(c.odometer_m),
        "codes" => Cell::Text(c.codes.clone()),
        "complaint_cylinder" => Cell::Whole(c.cylinder),
        "outcome" => text(&c.outcome),
        other => origin_cell(&c.origin, other),
    }
}

fn finding_cell(f: &Finding, column: &str) -> Cell {
    match column {
        "case_id" => text(&f.case_id),
        "cause" => text(&f.cause),
        "cylinder" => Cell::Whole(f.cylinder),
        "confirmation" => Cell::Whole(Some(f.confirmation)),
        "repair" => Cell::Text(f.repair.clone()),
        other => origin_cell(&f.origin, other),
    }
}

fn origin_cell(o: &Origin, column: &str) -> Cell {
    match column {
        "source" => text(&o.source),
        "record" => text(&o.record),
        "digest" => Cell::Whole(Some(o.digest)),
        "line" => Cell::Whole(Some(o.line)),
        "export_date" => Cell::Day(o.export_date),
        "batch" => Cell::Whole(Some(o.batch)),
        "file" => text("test.csv"),
        _ => Cell::Nothing,
    }
}

fn text(t: &str) -> Cell {
    Cell::Text(Some(t.to_owned()))
}

fn batch<R>(table: Table, rows: &[R], cell: fn(&R, &str) -> Cell) -> RecordBatch {
    let mut fields = Vec::new();
    let mut arrays: Vec<ArrayRef> = Vec::new();
    for column in table.columns() {
        let cells = rows.iter().map(|r| cell(r, column.name));
        let array: ArrayRef = match column.kind {
            ColumnKind::Text => Arc::new(StringArray::from_iter(cells.map(|c| match c {
                Cell::Text(t) => t,
                _ => None,
            }))),
            ColumnKind::Whole => Arc::new(Int64Array::from_iter(cells.map(|c| match c {
                Cell::Whole(n) => n,
                _ => None,
            }))),
            ColumnKind::Day => Arc::new(Date32Array::from_iter(cells.map(|c| match c {
                Cell::Day(d) => d,
                _ => None,
            }))),
            ColumnKind::Flag => Arc::new(BooleanArray::from_iter(cells.map(|c| match c {
                Cell::Flag(f) => f,
                _ => None,
            }))),
            ColumnKind::Number => Arc::new(Float64Array::new_null(rows.len())),
        };
        let kind: DataType = array.data_type().clone();
        fields.push(Field::new(column.name, kind, true));
        arrays.push(array);
    }
    RecordBatch::try_new(Arc::new(Schema::new(fields)), arrays).expect("columns fit their schema")
}
