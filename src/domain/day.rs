//! A calendar day without time or zone: a case is closed on a day, and day precision is enough.

use std::fmt;

use jiff::civil::{Date, date};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Days since 1970-01-01 in the Gregorian calendar (negative before), as Arrow's `Date32` stores them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(pub i32);

const EPOCH: Date = date(1970, 1, 1);

impl Day {
    /// The day of a year, month (1..=12) and day of month; `None` if the calendar has no such day.
    pub fn from_ymd(year: i16, month: i8, day: i8) -> Option<Self> {
        Date::new(year, month, day).ok().map(Self::from_date)
    }

    /// Reads `YYYY-MM-DD` (ISO 8601) and nothing else.
    pub fn parse_iso(text: &str) -> Option<Self> {
        if text.len() != 10 {
            return None;
        }
        text.parse::<Date>().ok().map(Self::from_date)
    }

    fn from_date(d: Date) -> Self {
        Self(d.since(EPOCH).map(|s| s.get_days()).unwrap_or(0))
    }

    fn date(self) -> Option<Date> {
        EPOCH
            .checked_add(jiff::Span::new().try_days(i64::from(self.0)).ok()?)
            .ok()
    }

    /// The day so many months later, or the last day of that month where it is shorter; none outside the calendar.
    pub fn plus_months(self, months: u32) -> Option<Self> {
        let span = jiff::Span::new().try_months(i64::from(months)).ok()?;
        self.date()?.checked_add(span).ok().map(Self::from_date)
    }

    /// The calendar year.
    pub fn year(self) -> i32 {
        self.date().map_or(0, |d| i32::from(d.year()))
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.date() {
            Some(d) => write!(f, "{d}"),
            None => write!(f, "day {}", self.0),
        }
    }
}

impl Serialize for Day {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Day::parse_iso(&text).ok_or_else(|| {
            serde::de::Error::custom(format!("{text:?} is not a day like 2024-05-31"))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_from_the_unix_epoch() {
        assert_eq!(Day::parse_iso("1970-01-01"), Some(Day(0)));
        // 2000-03-01 is day 11017 (common knowledge of Unix time: 951868800 s / 86400).
        assert_eq!(Day::parse_iso("2000-03-01"), Some(Day(11017)));
        assert_eq!(Day(11017).to_string(), "2000-03-01");
        assert_eq!(Day::parse_iso("2023-02-29"), None);
        assert_eq!(Day(-1).to_string(), "1969-12-31");
        assert_eq!(Day(11017).year(), 2000);
    }
}
