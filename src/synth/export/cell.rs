//! A cell of an export before a format has written it, and how a locale writes it.

use crate::domain::day::Day;
use crate::synth::calendar;

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// Text as it stands.
    Text(String),
    /// Whole number.
    Whole(i64),
    /// Number with its decimals.
    Number(f64, u8),
    /// Day.
    Day(Day),
}

impl Cell {
    /// Text, or nothing when it is empty.
    pub fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        if text.is_empty() {
            Cell::Empty
        } else {
            Cell::Text(text)
        }
    }

    /// A cylinder; 0 stands for none.
    pub fn cylinder(number: u8) -> Self {
        if number == 0 {
            Cell::Empty
        } else {
            Cell::Whole(i64::from(number))
        }
    }

    /// A number that may be missing.
    pub fn number(value: Option<f64>, decimals: u8) -> Self {
        value.map_or(Cell::Empty, |v| Cell::Number(v, decimals))
    }
}

/// Order of day, month and year.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateStyle {
    /// 31.05.2024
    DottedDayFirst,
    /// 05/31/2024
    MonthFirst,
    /// 2024-05-31
    Iso,
}

/// How a system writes numbers and days.
#[derive(Debug, Clone, Copy)]
pub struct Locale {
    /// Decimal mark.
    pub decimal: char,
    /// Days.
    pub dates: DateStyle,
}

impl Locale {
    /// The cell as text.
    pub fn render(self, cell: &Cell) -> String {
        match cell {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Whole(n) => n.to_string(),
            Cell::Number(v, decimals) => {
                let text = format!("{v:.*}", usize::from(*decimals));
                if self.decimal == '.' {
                    text
                } else {
                    text.replace('.', &self.decimal.to_string())
                }
            }
            Cell::Day(day) => {
                let (y, m, d) = calendar::parts(*day);
                match self.dates {
                    DateStyle::DottedDayFirst => format!("{d:02}.{m:02}.{y:04}"),
                    DateStyle::MonthFirst => format!("{m:02}/{d:02}/{y:04}"),
                    DateStyle::Iso => format!("{y:04}-{m:02}-{d:02}"),
                }
            }
        }
    }
}

/// What a column holds, so that mess knows what can be damaged in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Key of the record.
    Key,
    /// VIN.
    Vin,
    /// Unit number of the fleet.
    Unit,
    /// Day of the record.
    Date,
    /// Odometer.
    Odometer,
    /// Unit of the odometer.
    OdometerUnit,
    /// Cylinder of a finding.
    Cylinder,
    /// Cause of a finding.
    Cause,
    /// Name of the customer, or whatever says that a row is a test.
    Customer,
    /// Anything else.
    Other,
}

/// A column of an export.
#[derive(Debug, Clone)]
pub struct Column {
    /// Its heading; a path with dots in nested records.
    pub name: String,
    /// What it holds.
    pub role: Role,
}

/// Columns from headings and roles.
pub fn columns(list: &[(&str, Role)]) -> Vec<Column> {
    list.iter()
        .map(|(name, role)| Column {
            name: (*name).to_string(),
            role: *role,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writes_as_each_locale_does() {
        let day = Cell::Day(Day::parse_iso("2024-05-31").unwrap());
        let dotted = Locale {
            decimal: ',',
            dates: DateStyle::DottedDayFirst,
        };
        assert_eq!(dotted.render(&day), "31.05.2024");
        assert_eq!(dotted.render(&Cell::Number(8.25, 2)), "8,25");
        let month = Locale {
            decimal: '.',
            dates: DateStyle::MonthFirst,
        };
        assert_eq!(month.render(&day), "05/31/2024");
        assert_eq!(month.render(&Cell::cylinder(0)), "");
        assert_eq!(month.render(&Cell::Whole(-3)), "-3");
    }
}
