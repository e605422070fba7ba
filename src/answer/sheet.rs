//! The one form in which an answer reaches every renderer: titled tables of typed cells.
//!
//! An answer is a struct of its own (which is also its JSON); `Sheet` is its view for people and for CSV, Markdown and Parquet.

use crate::answer::parts::Caveat;
use crate::domain::day::Day;

/// How a column's numbers are meant, which decides how they are shown (rounding happens in the renderer only).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Show {
    /// Text as it is.
    Text,
    /// Whole number with thousands marks for people.
    Count,
    /// A rate or quantity, three significant digits for people.
    Quantity,
    /// A share, shown in percent with one decimal.
    Percent,
    /// A p-value.
    PValue,
    /// Calendar day.
    Day,
}

/// One column of a sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heading {
    /// Machine name, used in CSV and Parquet.
    pub id: String,
    /// What people read, with the unit.
    pub title: String,
    /// How its cells are shown.
    pub show: Show,
}

/// One cell; the full-precision value.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing is known here (shown as an en dash, empty in CSV, null in Parquet).
    Empty,
    /// Text.
    Text(String),
    /// Whole number.
    Whole(i64),
    /// Number; never NaN (use `Empty`). Infinity is allowed for an upper limit that does not exist.
    Number(f64),
    /// Day.
    Day(Day),
}

/// One titled table.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Machine name, such as `cells`.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Columns.
    pub headings: Vec<Heading>,
    /// Rows, each as long as `headings`.
    pub rows: Vec<Vec<Cell>>,
}

impl Grid {
    /// The columns of these ids, in the table's order, under another title: a wide table in parts that fit a page.
    pub fn part(&self, title: &str, ids: &[&str]) -> Self {
        let is_kept = |heading: &Heading| ids.contains(&heading.id.as_str());
        let row = |cells: &Vec<Cell>| {
            let kept = cells.iter().zip(&self.headings);
            let kept = kept.filter(|(_, heading)| is_kept(heading));
            kept.map(|(cell, _)| cell.clone()).collect()
        };
        Self {
            id: self.id.clone(),
            title: title.to_string(),
            headings: self
                .headings
                .iter()
                .filter(|heading| is_kept(heading))
                .cloned()
                .collect(),
            rows: self.rows.iter().map(row).collect(),
        }
    }
}

/// Everything an answer shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// What was asked, as a question or title.
    pub title: String,
    /// Filters, period, units, method: one line each.
    pub basis: Vec<String>,
    /// Plain words, the first thing to read.
    pub verdict: Vec<String>,
    /// Tables, the main one first (the only one in CSV and Parquet).
    pub grids: Vec<Grid>,
    /// Caveats with their ids.
    pub caveats: Vec<Caveat>,
}

/// An answer: a serialisable struct that can be seen as a sheet.
pub trait Answer: serde::Serialize + Sync {
    /// Contract name and version, such as `boretally.rates/1`.
    const CONTRACT: &'static str;

    /// Its view for people, CSV, Markdown and Parquet.
    fn sheet(&self) -> Sheet;
}
