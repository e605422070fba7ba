//! Rows that belong to a group, and distances in the reader's unit.

use crate::answer::columns::{Columns, distance_heading};
use crate::answer::label::RowKey;
use crate::answer::life::types::{GroupLife, Life};
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Cell, Show};

/// A detail of a group.
pub(super) struct Of<'a, T> {
    pub key: &'a RowKey,
    pub row: &'a T,
}

impl Life {
    pub(super) fn metres(&self, m: f64) -> Cell {
        Cell::Number(m / self.unit().metres_per_unit())
    }

    /// Value and limits in metres, shown in the reader's unit.
    pub(super) fn distances<'a, R>(
        &'a self,
        columns: &mut Columns<'a, R>,
        id: &str,
        title: &str,
        take: impl Fn(&R) -> Option<Estimate> + Copy + 'a,
    ) {
        let unit = self.unit();
        columns.add(
            id,
            distance_heading(title, unit),
            Show::Quantity,
            move |r| take(r).map_or(Cell::Empty, |e| self.metres(e.value)),
        );
        columns.add(format!("{id}_lower"), "from", Show::Quantity, move |r| {
            take(r).map_or(Cell::Empty, |e| self.metres(e.lower))
        });
        columns.add(format!("{id}_upper"), "to", Show::Quantity, move |r| {
            take(r).map_or(Cell::Empty, |e| {
                self.metres(e.upper.unwrap_or(f64::INFINITY))
            })
        });
    }

    pub(super) fn of<'a, T>(&'a self, list: impl Fn(&'a GroupLife) -> &'a [T]) -> Vec<Of<'a, T>> {
        self.groups
            .iter()
            .flat_map(|g| list(g).iter().map(|row| Of { key: &g.key, row }))
            .collect()
    }
}

/// A count that the log-rank family of tests keeps as a number.
pub(super) fn failures(n: f64) -> Cell {
    Cell::Whole(n.round() as i64)
}

/// A count.
pub(super) fn whole(n: u64) -> Cell {
    Cell::Whole(n as i64)
}
