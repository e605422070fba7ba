//! What few failures can say.

use crate::answer::columns::{Columns, distance_heading};
use crate::answer::label::RowKey;
use crate::answer::life::types::{Life, StatedShape};
use crate::answer::sheet::{Cell, Grid, Show};

impl Life {
    pub(super) fn bound_grid(&self) -> Grid {
        let mut rows: Vec<(&RowKey, &StatedShape)> = Vec::new();
        for group in &self.groups {
            let shapes = group.bound.iter().flat_map(|b| &b.shapes);
            rows.extend(shapes.map(|s| (&group.key, s)));
        }
        let unit = self.unit();
        let mut columns: Columns<'_, (&RowKey, &StatedShape)> = Columns::default();
        columns.key(&self.question.by, |r| r.0);
        columns.add("shape", "if the Weibull shape is", Show::Quantity, |r| {
            Cell::Number(r.1.shape)
        });
        columns.add("source", "which is", Show::Text, |r| {
            Cell::Text(r.1.source.to_string())
        });
        columns.add("share", "share", Show::Percent, |r| Cell::Number(r.1.share));
        columns.add(
            "at_least",
            distance_heading("not failed before", unit),
            Show::Quantity,
            |r| self.metres(r.1.at_least_m),
        );
        columns.add("beyond", "beyond the data", Show::Text, |r| {
            Cell::Text(if r.1.beyond { "yes" } else { "no" }.to_string())
        });
        columns.grid("bound", "What so few failures can say", &rows)
    }
}
