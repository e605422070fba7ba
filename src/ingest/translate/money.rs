//! Costs: net amounts into whole minor units, never through a binary fraction.

use crate::domain::currency;
use crate::ingest::cell::number::NumberFormat;
use crate::ingest::read::CellKind;
use crate::ingest::rule::{Reason, Rejection};

use super::cells::Cell;

/// An amount in major units as minor units of `code`, rounded half away from zero.
pub fn minor_units(cell: &Cell, marks: NumberFormat, code: &str) -> Result<i64, Rejection> {
    let exponent = currency::exponent(code);
    let decimal = if cell.kind == CellKind::Number {
        cell.number(marks)?.0
    } else {
        let (decimal, rest) = marks.parse_with_rest(currency::strip_sign(&cell.text))?;
        if !rest.is_empty() && currency::parse(rest) != Some(code) {
            return Err(Reason::NotANumber.into());
        }
        decimal
    };
    decimal
        .scaled(exponent)
        .ok_or_else(|| Reason::NumberRange.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::borrow::Cow;

    fn cents(text: &str, code: &str) -> Result<i64, Reason> {
        let cell = Cell {
            text: Cow::Borrowed(text),
            kind: CellKind::Text,
        };
        let marks = NumberFormat {
            decimal: Some('.'),
            thousands: Some(','),
        };
        minor_units(&cell, marks, code).map_err(|r| r.reason)
    }

    #[test]
    fn amounts_are_exact() {
        assert_eq!(cents("$1,234.10", "USD"), Ok(123_410));
        assert_eq!(cents("0.29", "EUR"), Ok(29));
        assert_eq!(cents("1.005 EUR", "EUR"), Ok(101));
        assert_eq!(cents("1500", "JPY"), Ok(1500));
        assert_eq!(cents("1.234", "KWD"), Ok(1234));
        assert_eq!(cents("-12.50", "EUR"), Ok(-1250));
        assert_eq!(cents("12 USD", "EUR"), Err(Reason::NotANumber));
        assert_eq!(cents("99999999999999999", "EUR"), Err(Reason::NumberRange));
    }
}
