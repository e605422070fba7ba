//! The cells of one record as a mapping sees them.

use std::borrow::Cow;

use crate::ingest::cell::number::{Decimal, NumberFormat};
use crate::ingest::cell::text;
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::read::{CellKind, RawRecord};
use crate::ingest::rule::{Reason, Rejection};

/// A cell of a field: its text without what does not belong to it, and what the format knew about it.
#[derive(Debug, Clone)]
pub struct Cell<'a> {
    /// Trimmed text.
    pub text: Cow<'a, str>,
    /// What the format knew.
    pub kind: CellKind,
}

impl Cell<'_> {
    /// Whether there is nothing.
    pub fn is_empty(&self) -> bool {
        self.text.is_empty()
    }

    /// The number of a cell and what stands behind it; numbers that the format stored as such are not read by the
    /// mapping's marks.
    pub fn number(&self, marks: NumberFormat) -> Result<(Decimal, &str), Rejection> {
        match self.kind {
            CellKind::Number => Ok((stored_number(&self.text)?, "")),
            CellKind::Day | CellKind::Flag => Err(Reason::NotANumber.into()),
            _ => marks.parse_with_rest(&self.text),
        }
    }
}

/// Numbers of a workbook may come with an exponent and with more digits than were meant (0.30000000000000004).
fn stored_number(text: &str) -> Result<Decimal, Rejection> {
    if let Ok(decimal) = NumberFormat::PLAIN.parse(text) {
        return Ok(decimal);
    }
    let value: f64 = text
        .parse()
        .map_err(|_| Rejection::from(Reason::NotANumber))?;
    if !value.is_finite() || value.abs() >= 1e15 {
        return Err(Reason::NumberRange.into());
    }
    // Nine decimals are more than any reading has.
    NumberFormat::PLAIN.parse(&format!("{value:.9}"))
}

/// The trimmed text of a column.
pub fn column_text(record: &RawRecord, column: usize) -> &str {
    match record.kind(column) {
        CellKind::Empty | CellKind::Error => "",
        _ => text::trim(record.get(column)),
    }
}

/// The cell of a field: column through its pattern, else the constant; words that the code list says mean nothing are
/// empty.
pub fn cell<'a>(record: &'a RawRecord, field: &'a BoundField) -> Result<Cell<'a>, Rejection> {
    if let Some(column) = field.column {
        let kind = record.kind(column);
        if kind == CellKind::Error {
            return Err(Reason::CellError.into());
        }
        let mut found = column_text(record, column);
        if let Some(pattern) = &field.pattern {
            found = pattern
                .captures(found)
                .and_then(|c| c.get(1))
                .map_or("", |m| text::trim(m.as_str()));
        }
        if !found.is_empty() {
            return Ok(Cell {
                text: Cow::Borrowed(found),
                kind: if field.pattern.is_some() {
                    CellKind::Text
                } else {
                    kind
                },
            });
        }
    }
    Ok(Cell {
        text: Cow::Borrowed(field.constant.as_deref().unwrap_or("")),
        kind: CellKind::Text,
    })
}
