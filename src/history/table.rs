//! A derived table: which statement writes it, and its columns as the next statement reads them.

use std::sync::Arc;

use arrow::datatypes::{DataType, Field, Schema, SchemaRef};

use crate::domain::table::ColumnKind::{self, Day, Flag, Number, Text, Whole};

/// One derived table; the statement that writes it has the table's name.
#[derive(Debug, Clone, Copy)]
pub struct Derived {
    /// Name of statement, file and table.
    pub name: &'static str,
    /// Columns in the order the statement selects them.
    pub columns: &'static [(&'static str, ColumnKind)],
    /// Whether later floors read it; the others only serve the building of their layer.
    pub kept: bool,
    /// How it is cut into parts that are written one after the other.
    pub sliced: Sliced,
}

/// How a table is cut into slices, so that what its statement sorts and joins stays in memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sliced {
    /// Written whole.
    Not,
    /// Its rows are of one vehicle each: written some vehicles at a time. The statement has `:first_vehicle` and `:end_vehicle`, and
    /// sees of the tables sliced likewise only the rows of these vehicles.
    ByVehicle,
    /// The same with many more vehicles at a time: for statements that read the rest of the store again for each slice, or do so
    /// little that many slices would cost more than they save.
    ByManyVehicles,
    /// Its rows are of one key of records each: written for some digests at a time. The statement has `:first_digest` and
    /// `:end_digest`.
    ByDigest,
    /// Its rows are made of stored rows: written for some of them at a time, as they stand in the batches. The
    /// statement has `:first_batch` and `:first_line`, `:end_batch` and `:end_line`, and sees of its own table what was written before.
    ByRow,
    /// The same with many more rows at a time: for statements that hold little of each and read the rest of what was written for each
    /// slice.
    ByManyRows,
}

impl Sliced {
    /// Whether it is cut by the numbers of vehicles.
    pub fn by_vehicle(self) -> bool {
        matches!(self, Sliced::ByVehicle | Sliced::ByManyVehicles)
    }

    /// Whether it is cut by where rows stand in the batches.
    pub fn by_row(self) -> bool {
        matches!(self, Sliced::ByRow | Sliced::ByManyRows)
    }
}

impl Derived {
    /// The columns as Arrow's schema.
    pub fn schema(&self) -> SchemaRef {
        let fields: Vec<Field> = self
            .columns
            .iter()
            .map(|(name, kind)| Field::new(*name, arrow_type(*kind), true))
            .collect();
        Arc::new(Schema::new(fields))
    }

    /// Name of the file of its first slice, which is the only one unless there are many vehicles, or of a later one.
    pub fn file_name(&self, slice: usize) -> String {
        match slice {
            0 => format!("{}.parquet", self.name),
            later => format!("{}-{later}.parquet", self.name),
        }
    }

    /// Whether a file of that name is one of its slices.
    pub fn is_file(&self, name: &str) -> bool {
        let slice = name
            .strip_prefix(self.name)
            .and_then(|n| n.strip_suffix(".parquet"));
        slice.is_some_and(|s| {
            let number = |n: &str| n.bytes().all(|b| b.is_ascii_digit());
            s.is_empty() || s.strip_prefix('-').is_some_and(number)
        })
    }
}

fn arrow_type(kind: ColumnKind) -> DataType {
    match kind {
        Text => DataType::Utf8,
        Whole => DataType::Int64,
        Number => DataType::Float64,
        Day => DataType::Date32,
        Flag => DataType::Boolean,
    }
}
