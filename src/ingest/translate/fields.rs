//! The plain fields: days, years, texts, code words, numbers of one kind each.

use crate::domain::day::Day;
use crate::domain::trouble_code;
use crate::ingest::cell::date;
use crate::ingest::cell::number::NumberFormat;
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::read::{CellKind, RawRecord};
use crate::ingest::rule::{Flag, Reason, Rejection};

use super::cells::{Cell, cell};
use super::row::{Row, Value};

/// Days before this one are typing errors: 1980-01-01.
pub const FIRST_DAY: Day = Day(3652);

/// A day between 1980 and `last`; `None` if the cell is empty.
pub fn day(record: &RawRecord, field: &BoundField, last: Day) -> Result<Option<Day>, Rejection> {
    let cell = cell(record, field)?;
    if cell.is_empty() {
        return Ok(None);
    }
    let day = date::parse(field.dates, &cell.text)?;
    if day < FIRST_DAY {
        return Err(Reason::DateTooOld.into());
    }
    if day > last {
        return Err(Rejection::with_hint(
            Reason::DateInFuture,
            format!("later than {last}"),
        ));
    }
    Ok(Some(day))
}

/// A four-digit year (two digits: 80 to 99 are the 1900s), or the year of a date.
pub fn year(cell: &Cell, field: &BoundField, marks: NumberFormat) -> Result<i64, Rejection> {
    if cell.kind != CellKind::Number && cell.text.len() > 4 {
        return Ok(i64::from(date::parse(field.dates, &cell.text)?.year()));
    }
    let (number, rest) = match cell.kind {
        CellKind::Number => cell.number(marks)?,
        _ => NumberFormat::PLAIN.parse_with_rest(&cell.text)?,
    };
    let year = match number.to_whole() {
        Some(n) if !rest.is_empty() || n < 0 => return Err(Reason::NotANumber.into()),
        Some(n @ 0..=99) if cell.text.len() <= 2 => {
            if n >= i64::from(date::PIVOT) {
                1900 + n
            } else {
                2000 + n
            }
        }
        Some(n) => n,
        None => return Err(Reason::NotANumber.into()),
    };
    if (1900..=2100).contains(&year) {
        Ok(year)
    } else {
        Err(Reason::NumberRange.into())
    }
}

/// A whole number within a range.
pub fn whole(
    cell: &Cell,
    marks: NumberFormat,
    range: std::ops::RangeInclusive<i64>,
) -> Result<i64, Rejection> {
    let (number, rest) = cell.number(marks)?;
    if !rest.is_empty() {
        return Err(Reason::NotANumber.into());
    }
    let n = number.to_whole().ok_or(Reason::NotANumber)?;
    if range.contains(&n) {
        Ok(n)
    } else {
        Err(Reason::NumberRange.into())
    }
}

/// Trouble codes in normal form, and the one cylinder their misfire codes name.
pub fn codes(text: &str, row: &mut Row) -> (Value, Option<u8>) {
    let list = trouble_code::parse_list(text);
    if !list.unread.is_empty() {
        row.flag(Flag::CodeUnreadable);
    }
    if list.codes.is_empty() {
        return (Value::Missing, None);
    }
    let value = row.keep(&list.normalised());
    (value, list.misfire_cylinder())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::borrow::Cow;

    fn text(text: &str) -> Cell<'_> {
        Cell {
            text: Cow::Borrowed(text),
            kind: CellKind::Text,
        }
    }

    #[test]
    fn the_first_day_is_the_first_of_1980() {
        assert_eq!(FIRST_DAY.to_string(), "1980-01-01");
    }

    #[test]
    fn years_have_two_or_four_digits_or_are_dates() {
        let year = |t: &str| {
            year(&text(t), &BoundField::default(), NumberFormat::default()).map_err(|r| r.reason)
        };
        assert_eq!(year("2014"), Ok(2014));
        assert_eq!(year("98"), Ok(1998));
        assert_eq!(year("07"), Ok(2007));
        assert_eq!(year("2014-05-01"), Ok(2014));
        assert_eq!(year("1850"), Err(Reason::NumberRange));
        assert_eq!(year("abc"), Err(Reason::NotANumber));
        assert_eq!(year("12.5"), Err(Reason::NotANumber));
    }
}
