//! One record as it stands in an exported file: text cells with their line, in buffers that are reused.
//!
//! Every format ends here, so that the mapping and the checks are written once. The text of a whole record lies in one
//! buffer and cells are ranges into it: a file of millions of rows costs no allocation a row.

use std::borrow::Cow;
use std::collections::HashMap;

/// How much the format itself knew about a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CellKind {
    /// Text to be read by the mapping's rules (decimal mark, date order).
    Text,
    /// A number the format stored as a number: shortest decimal that reads back equal, with `.`; no decimal-mark rule applies.
    Number,
    /// A date the format stored as a date, as `YYYY-MM-DD`; no date-order rule applies.
    Day,
    /// A truth value the format stored as such: `true` or `false`.
    Flag,
    /// Nothing: no cell, an empty one, or a null.
    Empty,
    /// A cell the format itself marks as failed, such as `#N/A` in a workbook; its text is that mark.
    Error,
}

#[derive(Debug, Clone, Copy)]
struct Cell {
    start: u32,
    end: u32,
    kind: CellKind,
}

/// One record, reused from row to row.
#[derive(Debug, Clone, Default)]
pub struct RawRecord {
    line: u64,
    text: String,
    /// How many bytes at the start of `text` are the record as found in the file; 0 when the format is not text.
    raw: usize,
    cells: Vec<Cell>,
}

impl RawRecord {
    /// An empty record to read into.
    pub fn new() -> Self {
        Self::default()
    }

    /// The physical line where the record starts, or the row or record number of formats without lines; from 1.
    pub fn line(&self) -> u64 {
        self.line
    }

    /// How many cells the record has.
    pub fn len(&self) -> usize {
        self.cells.len()
    }

    /// True when it has no cell.
    pub fn is_empty(&self) -> bool {
        self.cells.is_empty()
    }

    /// The text of a cell as found (not trimmed); empty beyond the last.
    pub fn get(&self, column: usize) -> &str {
        self.cells
            .get(column)
            .and_then(|c| self.text.get(c.start as usize..c.end as usize))
            .unwrap_or("")
    }

    /// What the format knew about a cell; `Empty` beyond the last.
    pub fn kind(&self, column: usize) -> CellKind {
        self.cells.get(column).map_or(CellKind::Empty, |c| {
            if c.start == c.end {
                CellKind::Empty
            } else {
                c.kind
            }
        })
    }

    /// The cells in order.
    pub fn iter(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).map(|i| self.get(i))
    }

    /// The record as it stood in the file; for formats that are not text, its cells as comma-separated values.
    pub fn raw(&self) -> Cow<'_, str> {
        if self.raw > 0 {
            return Cow::Borrowed(self.text.get(..self.raw).unwrap_or(""));
        }
        let mut line = String::new();
        for (i, cell) in self.iter().enumerate() {
            if i > 0 {
                line.push(',');
            }
            if cell.contains([',', '"', '\n', '\r']) {
                line.push('"');
                line.push_str(&cell.replace('"', "\"\""));
                line.push('"');
            } else {
                line.push_str(cell);
            }
        }
        Cow::Owned(line)
    }

    /// Starts a record of a format that is not text.
    pub(super) fn begin(&mut self, line: u64) {
        self.line = line;
        self.text.clear();
        self.cells.clear();
        self.raw = 0;
    }

    /// Keeps the record's own text; cells added by `push_range` point into it.
    pub(super) fn set_raw(&mut self, raw: &str) {
        self.text.clear();
        self.text.push_str(raw);
        self.raw = raw.len();
    }

    /// Adds a text cell that lies at these bytes of the text set by `set_raw`.
    pub(super) fn push_range(&mut self, start: u32, end: u32) {
        self.cells.push(Cell {
            start,
            end,
            kind: CellKind::Text,
        });
    }

    /// Undoes the doubled quotes of a cell added by `push_range`.
    pub(super) fn unescape(&mut self, column: usize) {
        let Some(cell) = self.cells.get_mut(column) else {
            return;
        };
        let (start, end) = (cell.start as usize, cell.end as usize);
        cell.start = self.text.len() as u32;
        let plain = self
            .text
            .get(start..end)
            .unwrap_or("")
            .replace("\"\"", "\"");
        self.text.push_str(&plain);
        cell.end = self.text.len() as u32;
    }

    /// Where the cells lie in the record's text.
    pub(super) fn ranges(&self) -> impl Iterator<Item = std::ops::Range<usize>> {
        self.cells.iter().map(|c| c.start as usize..c.end as usize)
    }

    pub(super) fn truncate(&mut self, cells: usize) {
        self.cells.truncate(cells);
    }

    /// Adds a cell whose text is written by `write`.
    pub(super) fn push_with(&mut self, kind: CellKind, write: impl FnOnce(&mut String)) {
        let start = self.text.len() as u32;
        write(&mut self.text);
        let end = self.text.len() as u32;
        self.cells.push(Cell { start, end, kind });
    }

    /// Adds a cell.
    pub(super) fn push(&mut self, kind: CellKind, text: &str) {
        self.push_with(kind, |buffer| buffer.push_str(text));
    }

    /// Adds a cell of what is displayed.
    pub(super) fn push_display(&mut self, kind: CellKind, value: impl std::fmt::Display) {
        use std::fmt::Write as _;
        // Writing to a String cannot fail.
        self.push_with(kind, |text| {
            let _ = write!(text, "{value}");
        });
    }

    /// Adds a number as its shortest decimal; what is no number is a cell in error.
    pub(super) fn push_float(&mut self, value: f64) {
        let kind = if value.is_finite() {
            CellKind::Number
        } else {
            CellKind::Error
        };
        // Adding zero turns a negative zero into zero.
        self.push_display(kind, value + 0.0);
    }

    /// Sets the cell of a column in any order, filling the gap with empty cells; `false` if it already has text.
    pub(super) fn set_with(
        &mut self,
        column: usize,
        kind: CellKind,
        write: impl FnOnce(&mut String),
    ) -> bool {
        self.pad(column + 1);
        let start = self.text.len() as u32;
        write(&mut self.text);
        let end = self.text.len() as u32;
        match self.cells.get_mut(column) {
            Some(cell) if cell.start == cell.end => {
                *cell = Cell { start, end, kind };
                true
            }
            _ => false,
        }
    }

    /// Adds empty cells up to this many.
    pub(super) fn pad(&mut self, cells: usize) {
        let empty = Cell {
            start: 0,
            end: 0,
            kind: CellKind::Empty,
        };
        while self.cells.len() < cells {
            self.cells.push(empty);
        }
    }
}

/// The columns of a file by name.
///
/// Names are as found, trimmed. A name that is there twice is made visible as `Name (2)`, one without text as `column 3`.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Header {
    names: Vec<String>,
    index: HashMap<String, usize>,
    open: bool,
}

impl Header {
    /// A header of these names; `open` when later records may bring more columns (JSON).
    pub fn new<S: AsRef<str>>(names: impl IntoIterator<Item = S>, open: bool) -> Self {
        let mut header = Self {
            open,
            ..Self::default()
        };
        for name in names {
            header.add(name.as_ref());
        }
        header
    }

    /// The names in order.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// How many columns there are.
    pub fn len(&self) -> usize {
        self.names.len()
    }

    /// True when there is no column.
    pub fn is_empty(&self) -> bool {
        self.names.is_empty()
    }

    /// The column of that name, exactly as in `names`.
    pub fn index(&self, name: &str) -> Option<usize> {
        self.index.get(name).copied()
    }

    /// True when later records may bring columns that are not listed yet (JSON); columns are only ever appended.
    pub fn is_open(&self) -> bool {
        self.open
    }

    /// Appends a column and gives its index.
    pub(super) fn add(&mut self, name: &str) -> usize {
        let column = self.names.len();
        let mut visible = name.trim_start_matches('\u{feff}').trim().to_string();
        if visible.is_empty() {
            visible = format!("column {}", column + 1);
        }
        let mut unique = visible.clone();
        let mut times = 1;
        while self.index.contains_key(&unique) {
            times += 1;
            unique = format!("{visible} ({times})");
        }
        self.index.insert(unique.clone(), column);
        self.names.push(unique);
        column
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn makes_duplicate_and_missing_names_visible() {
        let h = Header::new(["\u{feff} VIN ", "Km", "Km", "", "Km"], false);
        assert_eq!(h.names(), ["VIN", "Km", "Km (2)", "column 4", "Km (3)"]);
        assert_eq!(h.index("Km (2)"), Some(2));
        assert_eq!(h.index("km"), None);
    }

    #[test]
    fn a_record_without_text_of_its_own_shows_its_cells() {
        let mut r = RawRecord::new();
        r.begin(7);
        r.push(CellKind::Number, "1.5");
        r.push(CellKind::Text, "a \"b\", c");
        assert_eq!(r.raw(), "1.5,\"a \"\"b\"\", c\"");
        assert_eq!((r.kind(0), r.kind(5)), (CellKind::Number, CellKind::Empty));
    }
}
