//! The Arrow schema of each table, made from the one list of columns in [`crate::domain::table`].

use std::sync::Arc;

use arrow::datatypes::{DataType, Field, Schema, SchemaRef};

use crate::domain::table::{ColumnKind, Table};

/// The schema of a table as stored: its own columns, then provenance.
pub fn arrow_schema(table: Table) -> SchemaRef {
    let fields: Vec<Field> = table
        .columns()
        .map(|c| Field::new(c.name, data_type(c.kind), !c.required))
        .collect();
    Arc::new(Schema::new(fields))
}

/// The Arrow type of a kind of column.
pub fn data_type(kind: ColumnKind) -> DataType {
    match kind {
        ColumnKind::Text => DataType::Utf8,
        ColumnKind::Whole => DataType::Int64,
        ColumnKind::Number => DataType::Float64,
        ColumnKind::Day => DataType::Date32,
        ColumnKind::Flag => DataType::Boolean,
    }
}
