//! Numbers with units: readings in the canonical unit of their test, working times, odometers in metres.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::domain::catalog;
use crate::domain::distance::DistanceUnit;
use crate::domain::unit::Unit;
use crate::ingest::cell::number::{Decimal, NumberFormat};
use crate::ingest::cell::text::normal_form;
use crate::ingest::mapping::Mapping;
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::read::RawRecord;
use crate::ingest::rule::{Reason, Rejection};

use super::cells::{Cell, column_text};

/// Words for units: the mapping's own first.
#[derive(Debug)]
pub struct Units<'a> {
    /// Of readings.
    pub readings: &'a BTreeMap<String, Unit>,
    /// Of distances.
    pub distances: &'a BTreeMap<String, DistanceUnit>,
    /// Of odometers without one of their own.
    pub default_distance: Option<DistanceUnit>,
    /// Marks of numbers.
    pub marks: NumberFormat,
    known_units: Known<Unit>,
    known_distances: Known<DistanceUnit>,
}

/// Words already looked up; an export uses few.
#[derive(Debug)]
struct Known<T>(RefCell<Vec<(String, Option<T>)>>);

impl<T: Copy> Known<T> {
    /// More words than this are free text, which is not remembered.
    const MOST: usize = 64;

    fn new() -> Self {
        Self(RefCell::new(Vec::new()))
    }

    fn get(&self, word: &str, find: impl FnOnce() -> Option<T>) -> Option<T> {
        let mut known = self.0.borrow_mut();
        if let Some((_, found)) = known.iter().find(|(w, _)| w == word) {
            return *found;
        }
        let found = find();
        if known.len() < Self::MOST {
            known.push((word.to_owned(), found));
        }
        found
    }
}

/// What an odometer cell says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Odometer {
    /// Whole metres.
    Metres(i64),
    /// 0, 1 or all nines: typed by someone who did not know.
    Placeholder,
}

/// No road vehicle has gone further (8 million km).
const FARTHEST: i64 = 8_000_000_000;

impl<'a> Units<'a> {
    /// The words of a mapping.
    pub fn of(mapping: &'a Mapping) -> Self {
        Self {
            readings: &mapping.units,
            distances: &mapping.distance_units,
            default_distance: mapping.distance_unit,
            marks: mapping.numbers,
            known_units: Known::new(),
            known_distances: Known::new(),
        }
    }

    /// The unit word of a number: in the cell itself, in its own column, or the mapping's.
    fn word<'r>(record: &'r RawRecord, field: &'r BoundField, rest: &'r str) -> Option<&'r str> {
        if !rest.is_empty() {
            return Some(rest);
        }
        let column = field.unit_column.map_or("", |c| column_text(record, c));
        if !column.is_empty() {
            return Some(column);
        }
        field.unit.as_deref()
    }

    fn unit(&self, word: &str) -> Option<Unit> {
        self.known_units.get(word, || {
            let own = self.readings.get(&normal_form(word)).copied();
            own.or_else(|| Unit::parse(word))
        })
    }

    /// An odometer cell that is not empty.
    pub fn odometer(
        &self,
        record: &RawRecord,
        field: &BoundField,
        cell: &Cell,
    ) -> Result<Odometer, Rejection> {
        let (number, rest) = cell.number(self.marks)?;
        if is_placeholder(number) {
            return Ok(Odometer::Placeholder);
        }
        self.metres(record, field, number, rest)
            .map(Odometer::Metres)
    }

    /// A distance in whole metres.
    pub fn distance(
        &self,
        record: &RawRecord,
        field: &BoundField,
        cell: &Cell,
    ) -> Result<i64, Rejection> {
        let (number, rest) = cell.number(self.marks)?;
        self.metres(record, field, number, rest)
    }

    fn metres(
        &self,
        record: &RawRecord,
        field: &BoundField,
        number: Decimal,
        rest: &str,
    ) -> Result<i64, Rejection> {
        let unit = match Self::word(record, field, rest) {
            Some(word) => self
                .known_distances
                .get(word, || {
                    let own = self.distances.get(&normal_form(word)).copied();
                    own.or_else(|| DistanceUnit::parse(word))
                })
                .ok_or_else(|| {
                    Rejection::with_hint(
                        Reason::UnitUnknown,
                        format!("{word:?} is neither km nor mi"),
                    )
                })?,
            None => self.default_distance.ok_or_else(|| {
                Rejection::with_hint(
                    Reason::UnitUnknown,
                    "set distance_unit under [defaults], or the odometer's unit",
                )
            })?,
        };
        unit.to_metres(number.to_f64())
            .filter(|m| (0..=FARTHEST).contains(m))
            .ok_or_else(|| Reason::NumberRange.into())
    }

    /// A time in `canonical` (minutes or hours); without a unit it is taken to be in it already.
    pub fn time(
        &self,
        record: &RawRecord,
        field: &BoundField,
        cell: &Cell,
        canonical: Unit,
        most: f64,
    ) -> Result<f64, Rejection> {
        let (number, rest) = cell.number(self.marks)?;
        let unit = match Self::word(record, field, rest) {
            Some(word) => self.unit(word).ok_or(Reason::UnitUnknown)?,
            None => canonical,
        };
        let value = unit
            .convert(number.to_f64(), canonical)
            .ok_or(Reason::UnitMismatch)?;
        if (0.0..=most).contains(&value) {
            Ok(value)
        } else {
            Err(Reason::NumberRange.into())
        }
    }

    /// A reading in a unit in which readings of `test` are stored.
    pub fn reading(
        &self,
        record: &RawRecord,
        field: &BoundField,
        cell: &Cell,
        test: &catalog::Test,
    ) -> Result<(f64, Unit), Rejection> {
        let (number, rest) = cell.number(self.marks)?;
        let word = Self::word(record, field, rest).ok_or(Reason::UnitUnknown)?;
        let unit = self.unit(word).ok_or_else(|| {
            Rejection::with_hint(
                Reason::UnitUnknown,
                format!("what does {word:?} measure? add it to [codes.unit]"),
            )
        })?;
        let canonical = unit.canonical();
        if !test.units.contains(&canonical) {
            let expected: Vec<&str> = test.units.iter().map(|u| u.symbol()).collect();
            let hint = if expected.is_empty() {
                format!("{} has no reading in numbers", test.id)
            } else {
                format!("{} is stored in {}", test.id, expected.join(" or "))
            };
            return Err(Rejection::with_hint(Reason::UnitMismatch, hint));
        }
        let mut value = unit.to_canonical(number.to_f64());
        if field.held {
            value = 100.0 - value;
        }
        let most = if canonical == Unit::Percent {
            1000.0
        } else {
            f64::MAX
        };
        if value < 0.0 || value > most {
            return Err(Reason::NumberRange.into());
        }
        Ok((value, canonical))
    }
}

fn is_placeholder(number: Decimal) -> bool {
    number.to_whole().is_some_and(|n| {
        matches!(n, 0 | 1) || (n >= 999_999 && n.to_string().bytes().all(|b| b == b'9'))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odometers_that_nobody_read() {
        let d = |mantissa, scale| Decimal { mantissa, scale };
        for n in [d(0, 0), d(1, 0), d(999_999, 0), d(9_999_999, 0), d(10, 1)] {
            assert!(is_placeholder(n), "{n:?}");
        }
        for n in [d(2, 0), d(99_999, 0), d(999_998, 0), d(11, 1)] {
            assert!(!is_placeholder(n), "{n:?}");
        }
    }
}
