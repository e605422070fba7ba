//! What the values of columns say: marks of numbers, order of dates, whether a column holds vehicle numbers.

use crate::domain::day::Day;
use crate::domain::unit::{Unit, infer_pressure_unit};
use crate::domain::vin::{self, Vin};
use crate::ingest::cell::date;
use crate::ingest::cell::number::NumberFormat;
use crate::ingest::read::DateOrder;

use super::sample::Column;

/// The marks of numbers, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Marks {
    /// Decimal mark, if any value shows it.
    pub decimal: Option<char>,
    /// Mark of thousands, if any value shows it.
    pub thousands: Option<char>,
    /// The value that shows it, or why nothing does.
    pub reason: String,
}

/// The marks that the values of all number columns together show.
pub fn marks<'c>(columns: impl Iterator<Item = &'c Column> + Clone) -> Marks {
    let values = || {
        columns
            .clone()
            .filter(|c| c.typed == 0)
            .flat_map(|c| c.values.keys())
            .filter(|v| v.bytes().any(|b| b.is_ascii_digit()))
    };
    let shows =
        |decimal: char, thousands: char| values().find(|v| shows_marks(v, decimal, thousands));
    let grouped = |mark: char| values().any(|v| is_grouped(v, mark));
    match (shows(',', '.'), shows('.', ',')) {
        (Some(value), None) => Marks {
            decimal: Some(','),
            thousands: grouped('.').then_some('.'),
            reason: format!("{value:?} can only be read with a decimal comma"),
        },
        (None, Some(value)) => Marks {
            decimal: Some('.'),
            thousands: grouped(',').then_some(','),
            reason: format!("{value:?} can only be read with a decimal point"),
        },
        (Some(a), Some(b)) => Marks {
            decimal: None,
            thousands: None,
            reason: format!("{a:?} speaks for a decimal comma, {b:?} for a point: find out which is right"),
        },
        (None, None) => Marks {
            decimal: None,
            thousands: None,
            reason: "no value shows the decimal mark; numbers like 1.234 go to quarantine until it is set".into(),
        },
    }
}

/// The digits and marks at the start of a value.
fn number_part(value: &str) -> &str {
    let end = value
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',')))
        .unwrap_or(value.len());
    value.get(..end).unwrap_or("")
}

/// Whether a value can only be read with this decimal mark: one of it, not followed by exactly three digits, or behind a
/// group of thousands.
fn shows_marks(value: &str, decimal: char, thousands: char) -> bool {
    let number = number_part(value);
    let Some((whole, fraction)) = number.split_once(decimal) else {
        // "1.234.567" shows that the point is not the decimal mark.
        return number.matches(thousands).count() > 1 && is_grouped(number, thousands);
    };
    if fraction.is_empty() || whole.is_empty() || !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return false;
    }
    let plain = whole.bytes().all(|b| b.is_ascii_digit());
    (plain && (fraction.len() != 3 || whole.len() > 3 || whole == "0"))
        || (!plain && is_grouped(whole, thousands))
}

/// Whether the whole part of a value is groups of three digits parted by this mark.
fn is_grouped(value: &str, mark: char) -> bool {
    let other = if mark == '.' { ',' } else { '.' };
    let number = number_part(value);
    let whole = number.split(other).next().unwrap_or(number);
    let mut groups = whole.split(mark);
    let first = groups.next().unwrap_or("");
    let rest: Vec<&str> = groups.collect();
    (1..=3).contains(&first.len())
        && !rest.is_empty()
        && rest
            .iter()
            .all(|g| g.len() == 3 && g.bytes().all(|b| b.is_ascii_digit()))
}

/// The order of dates that fits most values of the date columns, and why.
pub fn date_order<'c>(
    columns: impl Iterator<Item = &'c Column>,
) -> Option<(&'static str, DateOrder, String)> {
    let values: Vec<(&str, u64)> = columns
        .filter(|c| c.typed == 0)
        .flat_map(|c| c.values.iter().map(|(v, n)| (v.as_str(), *n)))
        .collect();
    let total: u64 = values.iter().map(|(_, n)| n).sum();
    let is_iso = |v: &str| v.get(..10).is_some_and(|d| Day::parse_iso(d).is_some());
    if total > 0 && values.iter().all(|(v, _)| is_iso(v)) {
        return Some(("ymd", DateOrder::Ymd, "all are written YYYY-MM-DD".into()));
    }
    let fits = |order: DateOrder| -> u64 {
        values
            .iter()
            .filter(|(v, _)| date::parse(order, v).is_ok_and(|d| (1980..=2100).contains(&d.year())))
            .map(|(_, n)| n)
            .sum()
    };
    let mut scored: Vec<(u64, &'static str, DateOrder)> = date::WORDS
        .iter()
        .map(|(word, order)| (fits(*order), *word, *order))
        .collect();
    // Stable: the first of equals stays first.
    scored.sort_by_key(|s| std::cmp::Reverse(s.0));
    let (best, word, order) = *scored.first()?;
    if best == 0 {
        return None;
    }
    let rivals: Vec<&str> = scored
        .iter()
        .skip(1)
        .filter(|s| s.0 == best)
        .map(|s| s.1)
        .collect();
    let mut reason = format!("{best} of {total} values fit");
    if !rivals.is_empty() {
        reason += &format!("; so they do with {}: check it", rivals.join(", "));
    }
    Some((word, order, reason))
}

/// The share of filled cells that pass a test.
pub fn share(column: &Column, test: impl Fn(&str) -> bool) -> f64 {
    let counted: u64 = column.values.values().sum();
    let passed: u64 = column
        .values
        .iter()
        .filter(|(v, _)| test(v))
        .map(|(_, n)| n)
        .sum();
    if counted == 0 {
        0.0
    } else {
        passed as f64 / counted as f64
    }
}

/// Whether a column holds vehicle identification numbers.
pub fn holds_vins(column: &Column) -> bool {
    share(column, |v| {
        matches!(vin::parse(v), Vin::Good(_) | Vin::Flagged(_))
    }) > 0.5
}

/// Whether a column holds dates of any order.
pub fn holds_dates(column: &Column) -> bool {
    let any = |v: &str| {
        date::WORDS
            .iter()
            .any(|(_, order)| date::parse(*order, v).is_ok())
    };
    column.filled > 0 && share(column, any) > 0.5
}

/// The unit of pressure that a whole column of readings speaks for.
pub fn pressure_unit(column: &Column, marks: NumberFormat) -> Option<Unit> {
    let readings: Option<Vec<f64>> = column
        .values
        .keys()
        .map(|v| marks.parse(v).ok().map(|d| d.to_f64()))
        .collect();
    infer_pressure_unit(&readings.filter(|r| !r.is_empty())?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(values: &[&str]) -> Column {
        Column {
            name: "c".into(),
            values: values.iter().map(|v| ((*v).to_owned(), 1)).collect(),
            filled: values.len() as u64,
            typed: 0,
        }
    }

    #[test]
    fn marks_are_seen_over_the_whole_column() {
        let found = |values: &[&str]| {
            let m = marks([column(values)].iter());
            (m.decimal, m.thousands)
        };
        assert_eq!(found(&["1.234", "12,5"]), (Some(','), Some('.')));
        assert_eq!(found(&["1,234", "12.5"]), (Some('.'), Some(',')));
        assert_eq!(found(&["1.234", "2.345"]), (None, None));
        assert_eq!(found(&["1.234.567", "5"]), (Some(','), Some('.')));
        assert_eq!(found(&["12.5", "12,5"]), (None, None));
        assert_eq!(found(&["5", "7"]), (None, None));
    }

    #[test]
    fn the_order_of_dates_is_what_fits_most() {
        let word = |values: &[&str]| date_order([column(values)].iter()).map(|o| o.0);
        assert_eq!(word(&["31.05.2024", "01.06.2024"]), Some("dmy"));
        assert_eq!(word(&["05/31/2024", "06/01/2024"]), Some("mdy"));
        assert_eq!(word(&["2024-05-31"]), Some("ymd"));
        assert_eq!(word(&["45443", "45444"]), Some("serial-1900"));
        assert_eq!(word(&["abc"]), None);
        assert!(
            date_order([column(&["01/02/2024"])].iter())
                .unwrap()
                .2
                .contains("check it")
        );
    }
}
