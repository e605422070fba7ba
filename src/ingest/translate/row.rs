//! A row on its way to the store: values of its own columns, text in one reused buffer.

use crate::domain::day::Day;
use crate::domain::table::Table;
use crate::ingest::rule::{Flag, Rejection};

/// One value of a row.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Value {
    /// Unknown.
    #[default]
    Missing,
    /// Bytes of the row's text buffer.
    Text(usize, usize),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// A day.
    Day(Day),
    /// True or false.
    Flag(bool),
}

/// A value that could not be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// Field of the mapping.
    pub field: &'static str,
    /// Why, and what would repair it.
    pub rejection: Rejection,
    /// The value as found.
    pub value: String,
    /// Whether the row cannot be stored without it.
    pub fatal: bool,
}

/// One row, reused from record to record.
#[derive(Debug, Clone)]
pub struct Row {
    /// Table it is for.
    pub table: Table,
    /// By column of [`Table::own_columns`].
    pub values: Vec<Value>,
    /// Key of the record.
    pub record: String,
    /// Hash of source, table and key.
    pub key: u64,
    /// Hash of key and content.
    pub digest: i64,
    /// What could not be used.
    pub failures: Vec<Failure>,
    text: String,
    flags: u64,
}

impl Row {
    /// An empty row of a table.
    pub fn new(table: Table) -> Self {
        Self {
            table,
            values: vec![Value::Missing; table.own_columns().len()],
            record: String::new(),
            key: 0,
            digest: 0,
            failures: Vec::new(),
            text: String::new(),
            flags: 0,
        }
    }

    /// Makes it empty again.
    pub fn clear(&mut self) {
        self.values.fill(Value::Missing);
        self.record.clear();
        self.key = 0;
        self.digest = 0;
        self.failures.clear();
        self.text.clear();
        self.flags = 0;
    }

    /// Keeps a text for this row.
    pub fn keep(&mut self, text: &str) -> Value {
        let start = self.text.len();
        self.text.push_str(text);
        Value::Text(start, self.text.len())
    }

    /// The text of a value; empty for all other values.
    pub fn text(&self, value: Value) -> &str {
        match value {
            Value::Text(start, end) => self.text.get(start..end).unwrap_or(""),
            _ => "",
        }
    }

    /// The value of a column by name.
    pub fn value(&self, column: &str) -> Value {
        self.table
            .own_columns()
            .iter()
            .position(|c| c.name == column)
            .and_then(|i| self.values.get(i))
            .copied()
            .unwrap_or_default()
    }

    /// Sets a column by name.
    pub fn set(&mut self, column: &str, value: Value) {
        let at = self
            .table
            .own_columns()
            .iter()
            .position(|c| c.name == column);
        if let Some(place) = at.and_then(|i| self.values.get_mut(i)) {
            *place = value;
        }
    }

    /// Notes that a rule touched the row.
    pub fn flag(&mut self, flag: Flag) {
        self.flags |= 1 << flag as u64;
    }

    /// Whether any rule touched the row.
    pub fn is_flagged(&self) -> bool {
        self.flags != 0
    }

    /// The rules that touched the row, in the order of their list.
    pub fn flags(&self) -> impl Iterator<Item = Flag> + '_ {
        Flag::ALL
            .iter()
            .copied()
            .filter(|f| self.flags & (1 << *f as u64) != 0)
    }

    /// Whether the row cannot be stored.
    pub fn is_failed(&self) -> bool {
        self.failures.iter().any(|f| f.fatal)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flags_fit_and_come_back_in_order() {
        assert!(Flag::ALL.len() <= 64);
        let mut row = Row::new(Table::Visits);
        for flag in Flag::ALL.iter().rev() {
            row.flag(*flag);
        }
        assert_eq!(row.flags().collect::<Vec<_>>(), Flag::ALL);
        row.clear();
        assert!(!row.is_flagged());
    }

    #[test]
    fn columns_are_set_and_found_by_name() {
        let mut row = Row::new(Table::Visits);
        let site = row.keep("Larkmouth");
        row.set("site", site);
        assert_eq!(row.text(row.value("site")), "Larkmouth");
        assert_eq!(row.value("vehicle"), Value::Missing);
    }
}
