//! Where the rows of a batch come from, and buffers whose rows carry it: they can be filled on any thread and then be added to
//! the batch in their order.

use std::sync::Arc;

use super::rows::RowBuffer;
use crate::domain::day::Day;
use crate::domain::problem::Result;
use crate::domain::table::{PROVENANCE, Table};

/// What is the same for every row of a batch.
#[derive(Debug)]
pub struct Origin {
    pub(super) source: String,
    pub(super) file: String,
    pub(super) export_date: Option<Day>,
    pub(super) batch: i64,
}

impl Origin {
    /// An empty buffer for rows of one table of the batch.
    pub fn rows(self: &Arc<Self>, table: Table) -> BatchRows {
        let own = table.own_columns().len();
        let at = |name| {
            let place = PROVENANCE.iter().position(|c| c.name == name);
            own + place.unwrap_or(own)
        };
        let mut rows = RowBuffer::new(table);
        rows.same_text(at("source"), &self.source);
        rows.same_text(at("file"), &self.file);
        rows.same_whole(at("batch"), self.batch);
        BatchRows {
            rows,
            origin: self.clone(),
            export_date: at("export_date"),
        }
    }
}

/// Rows of one table of a batch. Dereferences to [`RowBuffer`] for its setters.
pub struct BatchRows {
    rows: RowBuffer,
    origin: Arc<Origin>,
    /// Number of that column.
    export_date: usize,
}

impl BatchRows {
    /// Ends the row; `source`, `file`, `batch` and, where not set, `export_date` come from the batch's header.
    pub fn end_row(&mut self) -> Result<()> {
        if let Some(day) = self.origin.export_date
            && !self.rows.is_set(self.export_date)
        {
            self.rows.day(self.export_date, day);
        }
        self.rows.end_row()
    }
}

impl std::ops::Deref for BatchRows {
    type Target = RowBuffer;
    fn deref(&self) -> &RowBuffer {
        &self.rows
    }
}

impl std::ops::DerefMut for BatchRows {
    fn deref_mut(&mut self) -> &mut RowBuffer {
        &mut self.rows
    }
}
