//! The day of an export: which version of a record is the newest depends on it.

use std::path::Path;

use crate::domain::day::Day;
use crate::domain::problem::Result;

use super::mistake::InMapping;
use super::raw::RawExportDate;

/// Where the day of an export comes from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum ExportDate {
    /// Not told.
    #[default]
    None,
    /// In the file's name: what stands before and behind it (either may be empty).
    FileName {
        /// Text before the day.
        before: String,
        /// Text behind the day.
        behind: String,
    },
    /// In a column.
    Column(String),
    /// The same for all.
    Value(Day),
}

impl ExportDate {
    /// Checks `[export_date]`.
    pub fn read(raw: Option<&RawExportDate>, at: InMapping) -> Result<Self> {
        let Some(raw) = raw else {
            return Ok(Self::None);
        };
        match (&raw.file_name, &raw.column, &raw.value) {
            (Some(pattern), None, None) => match pattern.split_once("{date}") {
                Some((before, behind)) if !behind.contains("{date}") => Ok(Self::FileName {
                    before: before.to_owned(),
                    behind: behind.to_owned(),
                }),
                _ => Err(at
                    .mistake("export_date.file_name", "the pattern does not hold {date} once")
                    .value(pattern)
                    .remedy("write for instance \"jobs_{date}.csv\", or \"{date}\" for a day anywhere in the name")),
            },
            (None, Some(column), None) => Ok(Self::Column(column.clone())),
            (None, None, Some(value)) => Day::parse_iso(value).map(Self::Value).ok_or_else(|| {
                at.mistake("export_date.value", "not a day")
                    .value(value)
                    .remedy("write it like \"2024-06-30\"")
            }),
            _ => Err(at
                .mistake("export_date", "the day must come from one place")
                .remedy("give exactly one of file_name, column and value")),
        }
    }

    /// The day that holds for a whole file; `None` if it is not told, or stands in a column.
    pub fn of_file(&self, file: &Path, at: InMapping) -> Result<Option<Day>> {
        match self {
            Self::None | Self::Column(_) => Ok(None),
            Self::Value(day) => Ok(Some(*day)),
            Self::FileName { before, behind } => {
                let name = file.file_name().and_then(|n| n.to_str()).unwrap_or("");
                day_in_name(name, before, behind).map(Some).ok_or_else(|| {
                    at.mistake("export_date.file_name", "the file's name holds no day at that place")
                        .value(name)
                        .remedy("name the file with its day (2024-06-30, 20240630, 2024-06), or correct the pattern")
                })
            }
        }
    }
}

/// The day that a file's name holds anywhere, if any.
pub fn found_in(file: &Path) -> Option<Day> {
    day_in_name(file.file_name()?.to_str()?, "", "")
}

fn day_in_name(name: &str, before: &str, behind: &str) -> Option<Day> {
    let starts: Vec<usize> = if before.is_empty() {
        name.char_indices().map(|(i, _)| i).collect()
    } else {
        name.match_indices(before)
            .map(|(i, b)| i + b.len())
            .collect()
    };
    starts.into_iter().find_map(|start| {
        // A day does not begin in the middle of a longer number.
        let inside = name[..start].ends_with(|c: char| c.is_ascii_digit());
        if inside && before.is_empty() {
            return None;
        }
        let (day, length) = leading_day(&name[start..])?;
        let rest = &name[start + length..];
        (!rest.starts_with(|c: char| c.is_ascii_digit()) && rest.starts_with(behind)).then_some(day)
    })
}

/// A day at the start of a text and how long it is; a month alone is its last day.
fn leading_day(text: &str) -> Option<(Day, usize)> {
    let number = |at: usize, length: usize| -> Option<i16> {
        let digits = text.get(at..at + length)?;
        digits
            .bytes()
            .all(|b| b.is_ascii_digit())
            .then(|| digits.parse().ok())?
    };
    let year = number(0, 4)?;
    let mark = |at: usize| matches!(text.as_bytes().get(at), Some(b'-' | b'_' | b'.'));
    if mark(4) {
        let month = number(5, 2)? as i8;
        if mark(7)
            && let Some(day) = number(8, 2)
        {
            return Day::from_ymd(year, month, day as i8).map(|d| (d, 10));
        }
        return last_of_month(year, month).map(|d| (d, 7));
    }
    let month = number(4, 2)? as i8;
    let day = number(6, 2)? as i8;
    Day::from_ymd(year, month, day).map(|d| (d, 8))
}

fn last_of_month(year: i16, month: i8) -> Option<Day> {
    (28..=31)
        .rev()
        .find_map(|day| Day::from_ymd(year, month, day))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(name: &str, pattern: &str) -> Option<String> {
        let (before, behind) = pattern.split_once("{date}").unwrap();
        day_in_name(name, before, behind).map(|d| d.to_string())
    }

    #[test]
    fn finds_the_day_in_a_name() {
        assert_eq!(
            found("jobs_2024-06-30.csv", "{date}").as_deref(),
            Some("2024-06-30")
        );
        assert_eq!(
            found("jobs_20240630.csv.gz", "jobs_{date}.csv").as_deref(),
            Some("2024-06-30")
        );
        assert_eq!(
            found("7-2024_06_30x.csv", "{date}").as_deref(),
            Some("2024-06-30")
        );
        assert_eq!(
            found("north-2024-02.csv", "{date}").as_deref(),
            Some("2024-02-29")
        );
        assert_eq!(found("north-2024-02-31.csv", "{date}"), None);
        assert_eq!(found("jobs_2024-06-30.csv", "orders_{date}"), None);
        assert_eq!(found("no day.csv", "{date}"), None);
        assert_eq!(found("120240630.csv", "{date}"), None);
    }
}
