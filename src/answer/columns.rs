//! Building a grid from rows: each column says its heading and how to get its cell, once.

use super::label::RowKey;
use super::parts::Estimate;
use super::sheet::{Cell, Grid, Heading, Show};
use crate::domain::distance::DistanceUnit;

type Take<'a, R> = Box<dyn Fn(&R) -> Cell + 'a>;

/// Columns over rows of type `R`.
pub struct Columns<'a, R> {
    list: Vec<(Heading, Take<'a, R>)>,
}

impl<R> Default for Columns<'_, R> {
    fn default() -> Self {
        Self { list: Vec::new() }
    }
}

impl<'a, R> Columns<'a, R> {
    /// One column.
    pub fn add(
        &mut self,
        id: impl Into<String>,
        title: impl Into<String>,
        show: Show,
        take: impl Fn(&R) -> Cell + 'a,
    ) {
        self.list.push((
            Heading {
                id: id.into(),
                title: title.into(),
                show,
            },
            Box::new(take),
        ));
    }

    /// One text column for each part of the key.
    pub fn key(&mut self, by: &[&'static str], key: impl Fn(&R) -> &RowKey + Copy + 'a) {
        for (i, id) in by.iter().enumerate() {
            self.add(*id, id.replace('_', " "), Show::Text, move |r| {
                key(r)
                    .0
                    .get(i)
                    .map_or(Cell::Empty, |l| Cell::Text(l.title.clone()))
            });
        }
    }

    /// Value and both limits of an estimate.
    pub fn estimate(
        &mut self,
        id: &str,
        title: impl Into<String>,
        take: impl Fn(&R) -> Option<&Estimate> + Copy + 'a,
    ) {
        self.shown(id, title, Show::Quantity, take);
    }

    /// Value and both limits of an estimate that is a share of one.
    pub fn share(
        &mut self,
        id: &str,
        title: impl Into<String>,
        take: impl Fn(&R) -> Option<&Estimate> + Copy + 'a,
    ) {
        self.shown(id, title, Show::Percent, take);
    }

    fn shown(
        &mut self,
        id: &str,
        title: impl Into<String>,
        show: Show,
        take: impl Fn(&R) -> Option<&Estimate> + Copy + 'a,
    ) {
        self.add(id, title, show, move |r| {
            take(r).map_or(Cell::Empty, |e| Cell::Number(e.value))
        });
        self.both(id, "", show, take);
    }

    /// Both limits only.
    pub fn limits(
        &mut self,
        id: &str,
        title: &str,
        take: impl Fn(&R) -> Option<&Estimate> + Copy + 'a,
    ) {
        self.both(id, &format!("{title} "), Show::Quantity, take);
    }

    fn both(
        &mut self,
        id: &str,
        prefix: &str,
        show: Show,
        take: impl Fn(&R) -> Option<&Estimate> + Copy + 'a,
    ) {
        self.add(
            format!("{id}_lower"),
            format!("{prefix}from"),
            show,
            move |r| take(r).map_or(Cell::Empty, |e| Cell::Number(e.lower)),
        );
        self.add(
            format!("{id}_upper"),
            format!("{prefix}to"),
            show,
            move |r| {
                take(r).map_or(Cell::Empty, |e| {
                    Cell::Number(e.upper.unwrap_or(f64::INFINITY))
                })
            },
        );
    }

    /// The finished grid.
    pub fn grid(self, id: &str, title: &str, rows: &[R]) -> Grid {
        Grid {
            id: id.to_string(),
            title: title.to_string(),
            rows: rows
                .iter()
                .map(|r| self.list.iter().map(|(_, take)| take(r)).collect())
                .collect(),
            headings: self.list.into_iter().map(|(h, _)| h).collect(),
        }
    }
}

/// A heading with the distance unit.
pub fn distance_heading(what: &str, unit: DistanceUnit) -> String {
    format!("{what} ({})", unit.symbol())
}
