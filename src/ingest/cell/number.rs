//! Numbers with decimal and thousands marks, exact until the last step.
//!
//! Which mark is which is a property of the file and comes from its mapping. Without it, a text like `1.234` is left
//! alone: deciding cell by cell would turn a thousand into one in the middle of a column.

use crate::ingest::rule::{Reason, Rejection};

/// The marks of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct NumberFormat {
    /// `.` or `,`; `None` if the mapping does not say.
    pub decimal: Option<char>,
    /// `.`, `,`, `'` or a space; `None` if the mapping does not say.
    pub thousands: Option<char>,
}

/// A decimal number as written: `mantissa` x 10^-`scale`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Decimal {
    /// All digits, signed.
    pub mantissa: i64,
    /// How many of them stand after the decimal mark.
    pub scale: u32,
}

/// More digits than this are not a reading, an odometer or an amount.
const MOST_DIGITS: usize = 18;

impl Decimal {
    /// The nearest double.
    pub fn to_f64(self) -> f64 {
        // Both operands are exact below 2^53 and 10^22, so one division rounds correctly (Clinger 1990).
        if self.mantissa.unsigned_abs() < (1 << 53) {
            return self.mantissa as f64 / 10f64.powi(self.scale as i32);
        }
        format!("{}e-{}", self.mantissa, self.scale)
            .parse()
            .unwrap_or(f64::NAN)
    }

    /// The whole number, if it is one.
    pub fn to_whole(self) -> Option<i64> {
        let divisor = 10i64.checked_pow(self.scale)?;
        (self.mantissa % divisor == 0).then_some(self.mantissa / divisor)
    }

    /// The number times 10^`places`, rounded half away from zero; `None` if it does not fit.
    pub fn scaled(self, places: u32) -> Option<i64> {
        if places >= self.scale {
            return self
                .mantissa
                .checked_mul(10i64.checked_pow(places - self.scale)?);
        }
        let divisor = 10i64.checked_pow(self.scale - places)?;
        let quotient = self.mantissa / divisor;
        let rest = (self.mantissa % divisor).abs();
        let up = i64::from(rest >= divisor - rest);
        Some(quotient + up * self.mantissa.signum())
    }
}

impl NumberFormat {
    /// The marks of numbers that a program wrote: a point, no thousands.
    pub const PLAIN: NumberFormat = NumberFormat {
        decimal: Some('.'),
        thousands: None,
    };

    /// Reads a number and nothing else.
    pub fn parse(&self, text: &str) -> Result<Decimal, Rejection> {
        let (number, rest) = self.parse_with_rest(text)?;
        if rest.is_empty() {
            Ok(number)
        } else {
            Err(Reason::NotANumber.into())
        }
    }

    /// Reads a number and gives back what stands behind it (a unit, a percent sign), trimmed.
    pub fn parse_with_rest<'a>(&self, text: &'a str) -> Result<(Decimal, &'a str), Rejection> {
        match self.plain(text) {
            Some(decimal) => Ok((decimal, "")),
            None => self.any_with_rest(text),
        }
    }

    /// The usual cell: a digit first, then digits and at most one decimal mark.
    fn plain(&self, text: &str) -> Option<Decimal> {
        let mark = self.decimal.and_then(|c| u8::try_from(c).ok());
        let bytes = text.as_bytes();
        if bytes.len() > MOST_DIGITS || !bytes.first()?.is_ascii_digit() {
            return None;
        }
        let (mut mantissa, mut decimals) = (0i64, None);
        for (i, b) in bytes.iter().enumerate() {
            if b.is_ascii_digit() {
                mantissa = mantissa * 10 + i64::from(b - b'0');
            } else if decimals.is_none() && Some(*b) == mark {
                decimals = Some(i);
            } else {
                return None;
            }
        }
        let scale = decimals.map_or(0, |i| bytes.len() - i - 1);
        Some(Decimal {
            mantissa,
            scale: scale as u32,
        })
    }

    fn any_with_rest<'a>(&self, text: &'a str) -> Result<(Decimal, &'a str), Rejection> {
        let (negative, body) = match text.strip_prefix(['-', '\u{2212}']) {
            Some(body) => (true, body),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let end = body
            .find(|c: char| !(c.is_ascii_digit() || is_mark(c)))
            .unwrap_or(body.len());
        let (number, rest) = body.split_at(end);
        let number = number.trim_end_matches(|c: char| c.is_whitespace());
        if !number.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ',')
            || !number.bytes().any(|b| b.is_ascii_digit())
        {
            return Err(Reason::NotANumber.into());
        }
        // "1.2E+05" is what a spreadsheet leaves of a longer number: its lost digits are not a number to use.
        if rest.starts_with(['E', 'e'])
            && rest[1..].starts_with(['+', '-', '0', '1', '2', '3', '4', '5', '6', '7', '8', '9'])
        {
            return Err(Reason::NotANumber.into());
        }
        let decimal = self.digits(number, negative)?;
        Ok((decimal, rest.trim()))
    }

    fn digits(&self, number: &str, negative: bool) -> Result<Decimal, Rejection> {
        let (whole, fraction) = self.split(number)?;
        let mut mantissa: i64 = 0;
        let mut count = 0usize;
        for b in whole
            .bytes()
            .chain(fraction.bytes())
            .filter(u8::is_ascii_digit)
        {
            count += usize::from(count > 0 || b != b'0');
            if count > MOST_DIGITS {
                return Err(Reason::NumberRange.into());
            }
            mantissa = mantissa * 10 + i64::from(b - b'0');
        }
        if fraction.len() > MOST_DIGITS {
            return Err(Reason::NumberRange.into());
        }
        Ok(Decimal {
            mantissa: if negative { -mantissa } else { mantissa },
            scale: fraction.len() as u32,
        })
    }

    /// Whole part (marks of thousands still in it, checked) and decimals.
    fn split<'a>(&self, number: &'a str) -> Result<(&'a str, &'a str), Rejection> {
        if number.bytes().all(|b| b.is_ascii_digit()) {
            return Ok((number, ""));
        }
        let decimal = match (self.decimal, self.thousands) {
            (Some(decimal), _) => decimal,
            (None, Some('.')) => ',',
            (None, Some(_)) => '.',
            (None, None) => unstated(number)?,
        };
        let (whole, fraction) = match number.split_once(decimal) {
            Some((whole, fraction)) => (whole, fraction),
            None => (number, ""),
        };
        if !fraction.bytes().all(|b| b.is_ascii_digit()) {
            return Err(Reason::NumberMarks.into());
        }
        self.check_groups(whole)?;
        Ok((whole, fraction))
    }

    fn check_groups(&self, whole: &str) -> Result<(), Rejection> {
        if whole.bytes().all(|b| b.is_ascii_digit()) {
            return Ok(());
        }
        let Some(mark) = self.thousands else {
            return Err(Reason::NumberMarks.into());
        };
        let same = |c: char| {
            c == mark
                || (mark.is_whitespace() && c.is_whitespace())
                || (is_apostrophe(mark) && is_apostrophe(c))
        };
        for (i, group) in whole.split(same).enumerate() {
            let digits = group.bytes().all(|b| b.is_ascii_digit());
            let fits = if i == 0 {
                (1..=3).contains(&group.len())
            } else {
                group.len() == 3
            };
            if !(digits && fits) {
                return Err(Reason::NumberMarks.into());
            }
        }
        Ok(())
    }
}

fn is_apostrophe(c: char) -> bool {
    matches!(c, '\'' | '\u{2019}')
}

fn is_mark(c: char) -> bool {
    matches!(c, '.' | ',' | '\'' | '\u{2019}' | '_')
        || (c.is_whitespace() && c != '\n' && c != '\t')
}

/// The decimal mark of a number whose file does not state one, where only one reading is possible.
fn unstated(number: &str) -> Result<char, Rejection> {
    let marks = number.chars().filter(|c| is_mark(*c)).count();
    let Some((whole, fraction)) = number.split_once(['.', ',']) else {
        return Err(Reason::NumberMarks.into());
    };
    if marks != 1 {
        return Err(Reason::NumberMarks.into());
    }
    // "0.750" cannot be a count of thousands, "1.234" can.
    if fraction.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0') {
        return Err(Reason::AmbiguousNumber.into());
    }
    if number.contains(',') {
        return Err(Rejection::with_hint(Reason::NumberMarks, "decimal = \",\""));
    }
    Ok('.')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn format(decimal: Option<char>, thousands: Option<char>) -> NumberFormat {
        NumberFormat { decimal, thousands }
    }

    fn value(f: NumberFormat, text: &str) -> Result<f64, Reason> {
        f.parse(text).map(Decimal::to_f64).map_err(|r| r.reason)
    }

    #[test]
    fn the_mapping_decides_what_a_mark_means() {
        let german = format(Some(','), Some('.'));
        assert_eq!(value(german, "1.234"), Ok(1234.0));
        assert_eq!(value(german, "1.234.567,5"), Ok(1_234_567.5));
        assert_eq!(value(german, "12,34"), Ok(12.34));
        assert_eq!(value(german, "12.34"), Err(Reason::NumberMarks));
        assert_eq!(value(format(Some('.'), None), "1.234"), Ok(1.234));
        assert_eq!(
            value(format(Some('.'), None), "1,234"),
            Err(Reason::NumberMarks)
        );
        assert_eq!(value(format(Some('.'), Some(',')), "1,234"), Ok(1234.0));
        assert_eq!(
            value(format(Some(','), Some(' ')), "12\u{a0}345,5"),
            Ok(12345.5)
        );
        assert_eq!(
            value(format(Some('.'), Some('\'')), "12\u{2019}345"),
            Ok(12345.0)
        );
    }

    #[test]
    fn an_unstated_mark_is_never_decided_cell_by_cell() {
        let open = NumberFormat::default();
        assert_eq!(value(open, "1.234"), Err(Reason::AmbiguousNumber));
        assert_eq!(value(open, "1,234"), Err(Reason::AmbiguousNumber));
        assert_eq!(value(open, "1,23"), Err(Reason::NumberMarks));
        assert_eq!(value(open, "0.750"), Ok(0.75));
        assert_eq!(value(open, "1234.567"), Ok(1234.567));
        assert_eq!(value(open, "0012"), Ok(12.0));
    }

    #[test]
    fn what_is_not_a_number_is_told() {
        let plain = NumberFormat::PLAIN;
        for text in ["", "-", ".", "abc", "12x", "1.2E+05", "--3"] {
            assert_eq!(value(plain, text), Err(Reason::NotANumber), "{text}");
        }
        assert_eq!(value(plain, "1.2.3"), Err(Reason::NumberMarks));
        assert_eq!(
            value(plain, "12345678901234567890"),
            Err(Reason::NumberRange)
        );
        let (number, rest) = plain.parse_with_rest("135.5 psi").unwrap();
        assert_eq!((number.to_f64(), rest), (135.5, "psi"));
    }

    #[test]
    fn scaling_is_exact_and_rounds_half_away_from_zero() {
        let d = |mantissa, scale| Decimal { mantissa, scale };
        assert_eq!(d(1999, 2).scaled(2), Some(1999));
        assert_eq!(d(2675, 3).scaled(2), Some(268));
        assert_eq!(d(-2675, 3).scaled(2), Some(-268));
        assert_eq!(d(2674, 3).scaled(2), Some(267));
        assert_eq!(d(12, 0).scaled(3), Some(12_000));
        assert_eq!(d(i64::MAX, 0).scaled(2), None);
        assert_eq!(d(1200, 2).to_whole(), Some(12));
        assert_eq!(d(1250, 2).to_whole(), None);
    }
}
