//! Rows on their way to a table: one typed column builder each, filled by column number, no map and no copy of names.
//!
//! A caller looks its columns up once ([`index_of`]), sets the cells that it knows and ends the row; what was not set is
//! empty. Mistakes (a kind that does not fit, a required column left empty) come out at the end of the row.

use std::sync::Arc;

use arrow::array::{
    ArrayBuilder, ArrayRef, BooleanBuilder, Date32Builder, Float64Builder, Int64Array,
    Int64Builder, StringArray, StringBuilder,
};
use arrow::buffer::{Buffer, OffsetBuffer};
use arrow::datatypes::SchemaRef;
use arrow::record_batch::RecordBatch;

use super::schema::arrow_schema;
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::domain::table::{Column, ColumnKind, Table};

/// The number of a column of a table, for the setters of [`RowBuffer`].
pub fn index_of(table: Table, column: &str) -> Option<usize> {
    table.columns().position(|c| c.name == column)
}

/// Texts of the next rows may take a sixteenth more room than those before.
const MORE: usize = 16;

enum Cells {
    Text(StringBuilder),
    Whole(Int64Builder),
    Number(Float64Builder),
    Day(Date32Builder),
    Flag(BooleanBuilder),
    /// The same text in every row.
    SameText(String),
    /// The same whole number in every row.
    SameWhole(i64),
}

impl Cells {
    fn new(kind: ColumnKind) -> Self {
        match kind {
            ColumnKind::Text => Cells::Text(StringBuilder::new()),
            ColumnKind::Whole => Cells::Whole(Int64Builder::new()),
            ColumnKind::Number => Cells::Number(Float64Builder::new()),
            ColumnKind::Day => Cells::Day(Date32Builder::new()),
            ColumnKind::Flag => Cells::Flag(BooleanBuilder::new()),
        }
    }

    /// Cells there are; empty ones at the end may be missing.
    fn len(&self) -> usize {
        match self {
            Cells::Text(b) => b.len(),
            Cells::Whole(b) => b.len(),
            Cells::Number(b) => b.len(),
            Cells::Day(b) => b.len(),
            Cells::Flag(b) => b.len(),
            Cells::SameText(_) | Cells::SameWhole(_) => usize::MAX,
        }
    }

    /// Adds the empty cells that are missing from so many rows.
    fn fill_up(&mut self, rows: usize) {
        let missing = rows.saturating_sub(self.len());
        match self {
            Cells::Text(b) => b.append_nulls(missing),
            Cells::Whole(b) => b.append_nulls(missing),
            Cells::Number(b) => b.append_nulls(missing),
            Cells::Day(b) => b.append_nulls(missing),
            Cells::Flag(b) => b.append_nulls(missing),
            Cells::SameText(_) | Cells::SameWhole(_) => {}
        }
    }

    /// The cells of so many rows. As much room is made at once for the next ones: grown bit by bit it costs a copy at every doubling.
    fn finish(&mut self, rows: usize) -> ArrayRef {
        self.fill_up(rows);
        match self {
            Cells::SameText(text) => {
                let offsets = OffsetBuffer::from_repeated_length(text.len(), rows);
                let values = Buffer::from_vec(text.repeat(rows).into_bytes());
                Arc::new(StringArray::new(offsets, values, None))
            }
            Cells::SameWhole(n) => Arc::new(Int64Array::from_value(*n, rows)),
            Cells::Text(b) => {
                let bytes = b.values_slice().len();
                let next = StringBuilder::with_capacity(rows, bytes + bytes / MORE);
                Arc::new(std::mem::replace(b, next).finish())
            }
            Cells::Whole(b) => {
                Arc::new(std::mem::replace(b, Int64Builder::with_capacity(rows)).finish())
            }
            Cells::Number(b) => {
                Arc::new(std::mem::replace(b, Float64Builder::with_capacity(rows)).finish())
            }
            Cells::Day(b) => {
                Arc::new(std::mem::replace(b, Date32Builder::with_capacity(rows)).finish())
            }
            Cells::Flag(b) => {
                Arc::new(std::mem::replace(b, BooleanBuilder::with_capacity(rows)).finish())
            }
        }
    }
}

struct Slot {
    column: &'static Column,
    /// One more than there are rows where the row being filled has this cell.
    cells: Cells,
}

/// Rows of one table, column by column.
pub struct RowBuffer {
    table: Table,
    schema: SchemaRef,
    slots: Vec<Slot>,
    /// Numbers of the columns that no row may leave empty.
    required: Vec<usize>,
    rows: usize,
    mistake: Option<Problem>,
}

macro_rules! setter {
    ($(#[$doc:meta])* $name:ident, $variant:ident, $type:ty, |$value:ident| $convert:expr) => {
        $(#[$doc])*
        #[inline]
        pub fn $name(&mut self, column: usize, $value: $type) {
            let rows = self.rows;
            match self.slots.get_mut(column) {
                Some(Slot { cells: Cells::$variant(builder), .. }) if builder.len() <= rows => {
                    // Rows before that left it empty.
                    if builder.len() < rows {
                        builder.append_nulls(rows - builder.len());
                    }
                    builder.append_value($convert);
                }
                _ => self.misuse(column, stringify!($name)),
            }
        }
    };
}

impl RowBuffer {
    /// An empty buffer for a table.
    pub fn new(table: Table) -> Self {
        let slots = table
            .columns()
            .map(|column| Slot {
                column,
                cells: Cells::new(column.kind),
            })
            .collect();
        let columns = table.columns().enumerate();
        Self {
            table,
            schema: arrow_schema(table),
            slots,
            required: columns.filter(|c| c.1.required).map(|c| c.0).collect(),
            rows: 0,
            mistake: None,
        }
    }

    /// Gives every row the same text in a column, which is then not set any more.
    pub(super) fn same_text(&mut self, column: usize, text: &str) {
        self.same(column, ColumnKind::Text, Cells::SameText(text.to_owned()));
    }

    /// Gives every row the same whole number in a column, which is then not set any more.
    pub(super) fn same_whole(&mut self, column: usize, n: i64) {
        self.same(column, ColumnKind::Whole, Cells::SameWhole(n));
    }

    fn same(&mut self, column: usize, kind: ColumnKind, cells: Cells) {
        match self.slots.get_mut(column) {
            Some(slot) if slot.column.kind == kind && self.rows == 0 => slot.cells = cells,
            _ => self.misuse(column, "same"),
        }
    }

    /// The table it is for.
    pub fn table(&self) -> Table {
        self.table
    }

    /// Rows ended so far.
    pub fn len(&self) -> usize {
        self.rows
    }

    /// Whether no row has ended yet.
    pub fn is_empty(&self) -> bool {
        self.rows == 0
    }

    setter!(
        /// Sets a text cell of the row being filled.
        text, Text, &str, |value| value
    );
    setter!(
        /// Sets a whole-number cell of the row being filled.
        whole, Whole, i64, |value| value
    );
    setter!(
        /// Sets a number cell of the row being filled.
        number, Number, f64, |value| value
    );
    setter!(
        /// Sets a day cell of the row being filled.
        day, Day, Day, |value| value.0
    );
    setter!(
        /// Sets a flag cell of the row being filled.
        flag, Flag, bool, |value| value
    );

    /// Whether the row being filled has a cell in this column.
    pub(super) fn is_set(&self, column: usize) -> bool {
        let slot = self.slots.get(column);
        slot.is_some_and(|s| s.cells.len() > self.rows)
    }

    /// Ends the row; cells that were not set are empty.
    pub fn end_row(&mut self) -> Result<()> {
        let lacks = |column: &&usize| !self.is_set(**column);
        if let Some(column) = self.required.iter().find(lacks)
            && self.mistake.is_none()
        {
            let name = self.slots.get(*column).map_or("", |s| s.column.name);
            self.mistake = Some(
                Problem::data(format!(
                    "a row of {} lacks a required column",
                    self.table.name()
                ))
                .field(name),
            );
        }
        self.rows += 1;
        match &self.mistake {
            Some(problem) => Err(problem.clone()),
            None => Ok(()),
        }
    }

    /// Takes the rows ended so far as one Arrow batch and leaves the buffer empty.
    pub fn take(&mut self) -> Result<RecordBatch> {
        if let Some(problem) = &self.mistake {
            return Err(problem.clone());
        }
        let begun = |s: &Slot| s.cells.len() == self.rows + 1;
        if self.slots.iter().any(begun) {
            return Err(Problem::data(format!(
                "a row of {} was begun and not ended",
                self.table.name()
            )));
        }
        let rows = std::mem::take(&mut self.rows);
        let arrays = self
            .slots
            .iter_mut()
            .map(|s| s.cells.finish(rows))
            .collect();
        RecordBatch::try_new(self.schema.clone(), arrays).map_err(|e| {
            Problem::data(format!("could not hold rows of {}: {e}", self.table.name()))
        })
    }

    #[cold]
    fn misuse(&mut self, column: usize, setter: &str) {
        let name = self.slots.get(column).map_or("", |s| s.column.name);
        let problem = Problem::data(format!(
            "column {column} of {} was set twice in a row or does not take `{setter}`",
            self.table.name()
        ))
        .field(name);
        self.mistake.get_or_insert(problem);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use arrow::array::{Array, AsArray};

    fn column(name: &str) -> usize {
        index_of(Table::Visits, name).unwrap()
    }

    fn fill(rows: &mut RowBuffer) {
        for name in ["vehicle", "site", "record", "source", "file"] {
            rows.text(column(name), name);
        }
        for name in ["digest", "line", "batch"] {
            rows.whole(column(name), 7);
        }
        rows.day(column("date"), Day(3));
    }

    #[test]
    fn cells_land_in_their_columns_and_the_rest_is_empty() {
        let mut rows = RowBuffer::new(Table::Visits);
        fill(&mut rows);
        rows.flag(column("engine_replaced"), true);
        rows.end_row().unwrap();
        fill(&mut rows);
        rows.end_row().unwrap();
        assert_eq!(rows.len(), 2);
        let batch = rows.take().unwrap();
        assert_eq!(batch.schema(), arrow_schema(Table::Visits));
        let flags = batch.column(column("engine_replaced")).as_boolean();
        assert!(flags.value(0) && flags.is_null(1));
        assert_eq!(batch.column(column("odometer_m")).null_count(), 2);
        assert!(rows.is_empty());
    }

    #[test]
    fn mistakes_come_out_at_the_end_of_the_row() {
        let mut rows = RowBuffer::new(Table::Visits);
        fill(&mut rows);
        rows.text(column("odometer_m"), "12");
        assert!(rows.end_row().is_err());

        let mut rows = RowBuffer::new(Table::Visits);
        fill(&mut rows);
        rows.text(column("site"), "again");
        assert!(rows.end_row().is_err());

        let mut rows = RowBuffer::new(Table::Visits);
        rows.text(column("site"), "alone");
        let problem = rows.end_row().unwrap_err().to_string();
        assert!(problem.contains("vehicle"), "{problem}");
        assert!(rows.take().is_err());

        let mut rows = RowBuffer::new(Table::Visits);
        rows.whole(999, 1);
        fill(&mut rows);
        assert!(rows.end_row().is_err());
    }
}
