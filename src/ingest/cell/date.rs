//! Days: written dates in a stated order, months as words, spreadsheet day numbers. A time of day is dropped: the local
//! day is kept as it was written.

use crate::domain::day::Day;
use crate::ingest::read::DateOrder;
use crate::ingest::rule::{Reason, Rejection};

use super::month_name;

/// Two-digit years from this on belong to the 1900s, lower ones to the 2000s.
pub const PIVOT: i16 = 80;

/// 1899-12-30 and 1904-01-01 as days since 1970-01-01: day number 0 of the two spreadsheet calendars (from 1 March 1900 on).
const SERIAL_1900: i64 = -25_569;
const SERIAL_1904: i64 = -24_107;

/// The last spreadsheet day number: 9999-12-31.
const LAST_SERIAL: i64 = 2_958_465;

/// All orders with the words mapping files use.
pub const WORDS: &[(&str, DateOrder)] = &[
    ("ymd", DateOrder::Ymd),
    ("dmy", DateOrder::Dmy),
    ("mdy", DateOrder::Mdy),
    ("serial-1900", DateOrder::Serial1900),
    ("serial-1904", DateOrder::Serial1904),
];

/// Reads a day; the cell must not be empty. ISO 8601 days with a four-digit year first are read under every order.
pub fn parse(order: DateOrder, text: &str) -> Result<Day, Rejection> {
    if let Some(day) = iso(text) {
        return day;
    }
    match order {
        DateOrder::Serial1900 => serial(text, false),
        DateOrder::Serial1904 => serial(text, true),
        written => Parts::of(text)?.day(written),
    }
}

fn serial(text: &str, from_1904: bool) -> Result<Day, Rejection> {
    // The fraction is the time of day; some programs write it with a comma.
    let whole = text.split(['.', ',']).next().unwrap_or(text);
    let number: i64 = match whole.parse() {
        Ok(number) if whole.len() <= 7 => number,
        _ => return Err(Reason::NotADate.into()),
    };
    serial_day(number, from_1904).ok_or_else(|| Reason::DateImpossible.into())
}

/// The day of a spreadsheet day number.
pub fn serial_day(number: i64, from_1904: bool) -> Option<Day> {
    if !(1..=LAST_SERIAL).contains(&number) {
        return None;
    }
    let days = if from_1904 {
        SERIAL_1904 + number
    } else if number >= 61 {
        SERIAL_1900 + number
    } else if number == 60 {
        return None;
    } else {
        SERIAL_1900 + number + 1
    };
    i32::try_from(days).ok().map(Day)
}

/// `YYYY-MM-DD`, alone or with a time behind it; `None` if the text is no such thing.
fn iso(text: &str) -> Option<Result<Day, Rejection>> {
    let bytes = text.as_bytes();
    let digits = |range: std::ops::Range<usize>| {
        bytes.get(range)?.iter().try_fold(0i16, |n, b| {
            b.is_ascii_digit().then(|| n * 10 + i16::from(b - b'0'))
        })
    };
    let (year, month, day) = (digits(0..4)?, digits(5..7)?, digits(8..10)?);
    if bytes.get(4) != Some(&b'-') || bytes.get(7) != Some(&b'-') {
        return None;
    }
    if !matches!(bytes.get(10), None | Some(b'T' | b' ')) {
        return None;
    }
    let day = Day::from_ymd(year, month as i8, day as i8);
    Some(day.ok_or_else(|| Reason::DateImpossible.into()))
}

/// The three parts of a written date, in the order they stand.
struct Parts {
    number: [(i64, usize); 3],
    /// Which of them was a word, and the month it names.
    month: Option<(usize, i8)>,
}

impl Parts {
    fn of(text: &str) -> Result<Self, Rejection> {
        let mut number = [(0i64, 0usize); 3];
        let mut month = None;
        let mut filled = 0;
        for token in tokens(text) {
            if filled == 3 {
                break;
            }
            if token.bytes().all(|b| b.is_ascii_digit()) {
                if filled == 0 && token.len() == 8 {
                    return Self::compact(token);
                }
                let value = token.parse().map_err(|_| Reason::NotADate)?;
                number[filled] = (value, token.len());
                filled += 1;
            } else if let Some(m) = month_name::month(token) {
                if month.is_some() {
                    return Err(Reason::NotADate.into());
                }
                month = Some((filled, m));
                filled += 1;
            } else if filled < 3 && !is_filler(token) {
                return Err(Reason::NotADate.into());
            }
        }
        match filled {
            3 => Ok(Self { number, month }),
            1 if month.is_none() && (4..=6).contains(&number[0].1) => {
                Err(Reason::DateSerial.into())
            }
            _ => Err(Reason::NotADate.into()),
        }
    }

    /// `20240531`: eight digits can only be cut by the order the mapping states, so they are cut later.
    fn compact(token: &str) -> Result<Self, Rejection> {
        let part = |range: std::ops::Range<usize>| -> Result<(i64, usize), Rejection> {
            let text = token.get(range).ok_or(Reason::NotADate)?;
            Ok((text.parse().map_err(|_| Reason::NotADate)?, text.len()))
        };
        // A year first (1980..=2099) leaves a month of 1..=12 behind it, which 0101..1231 as "dmy" or "mdy" cannot fake.
        let number = if matches!(&token[..2], "19" | "20")
            && matches!(&token[4..5], "0" | "1")
            && !matches!(&token[4..6], "19" | "20")
        {
            [part(0..4)?, part(4..6)?, part(6..8)?]
        } else {
            [part(0..2)?, part(2..4)?, part(4..8)?]
        };
        Ok(Self {
            number,
            month: None,
        })
    }

    fn day(&self, order: DateOrder) -> Result<Day, Rejection> {
        let n = |i: usize| self.number[i];
        if let Some((at, month)) = self.month {
            let rest: Vec<(i64, usize)> = (0..3).filter(|i| *i != at).map(n).collect();
            // "2024 May 31" or a year-first order; else the year stands last.
            let (year, day) = if rest[0].1 == 4 || (order == DateOrder::Ymd && rest[1].1 != 4) {
                (rest[0], rest[1])
            } else {
                (rest[1], rest[0])
            };
            return build(year, i64::from(month), day.0);
        }
        if n(0).1 == 4 {
            return build(n(0), n(1).0, n(2).0);
        }
        match order {
            DateOrder::Dmy => either(n(2), n(1).0, n(0).0, "mdy"),
            DateOrder::Mdy => either(n(2), n(0).0, n(1).0, "dmy"),
            _ if n(2).1 == 4 => {
                let (a, b) = (n(0).0, n(1).0);
                let hint = match (a > 12, b > 12) {
                    (true, false) => "dates = \"dmy\"",
                    (false, true) => "dates = \"mdy\"",
                    _ => "dates = \"dmy\" or \"mdy\": look at other lines",
                };
                Err(Rejection::with_hint(Reason::DateOrder, hint))
            }
            _ => build(n(0), n(1).0, n(2).0),
        }
    }
}

/// Pieces between separators: `31.05.2024`, `31-Mai-24`, `May 31, 2024`, `31/05/2024 14:22`.
fn tokens(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| c.is_whitespace() || matches!(c, '.' | '/' | '-' | ',' | ':'))
        .filter(|t| !t.is_empty())
}

/// Words between the parts of a written-out date.
fn is_filler(token: &str) -> bool {
    const WEEKDAYS: &[&str] = &[
        "mon",
        "tue",
        "wed",
        "thu",
        "fri",
        "sat",
        "sun",
        "mo",
        "di",
        "mi",
        "do",
        "fr",
        "sa",
        "so",
        "lun",
        "jeu",
        "ven",
        "sam",
        "dim",
        "mer",
        "mié",
        "jue",
        "vie",
        "sáb",
        "dom",
        "montag",
        "dienstag",
        "mittwoch",
        "donnerstag",
        "freitag",
        "samstag",
        "sonntag",
    ];
    let token = token.to_lowercase();
    matches!(token.as_str(), "de" | "of" | "the" | "le" | "del")
        || WEEKDAYS.contains(&token.as_str())
}

fn either(year: (i64, usize), month: i64, day: i64, other: &str) -> Result<Day, Rejection> {
    if month > 12 && (1..=12).contains(&day) {
        return Err(Rejection::with_hint(
            Reason::DateOrder,
            format!("{month} cannot be a month; dates = \"{other}\"?"),
        ));
    }
    build(year, month, day)
}

fn build((year, digits): (i64, usize), month: i64, day: i64) -> Result<Day, Rejection> {
    let year = match digits {
        4 => year,
        1 | 2 if year >= i64::from(PIVOT) => 1900 + year,
        1 | 2 => 2000 + year,
        _ => return Err(Reason::NotADate.into()),
    };
    let small = |n: i64| i8::try_from(n).ok();
    i16::try_from(year)
        .ok()
        .zip(small(month))
        .zip(small(day))
        .and_then(|((y, m), d)| Day::from_ymd(y, m, d))
        .ok_or_else(|| Reason::DateImpossible.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(order: DateOrder, text: &str) -> Result<String, Reason> {
        parse(order, text)
            .map(|d| d.to_string())
            .map_err(|r| r.reason)
    }

    fn ok(text: &str) -> Result<String, Reason> {
        Ok(text.to_owned())
    }

    #[test]
    fn reads_the_stated_order() {
        use DateOrder::{Dmy, Mdy, Ymd};
        assert_eq!(day(Dmy, "31.05.2024"), ok("2024-05-31"));
        assert_eq!(day(Dmy, "1/6/24"), ok("2024-06-01"));
        assert_eq!(day(Mdy, "1/6/24"), ok("2024-01-06"));
        assert_eq!(day(Mdy, "05-31-2024 11:59 PM"), ok("2024-05-31"));
        assert_eq!(day(Ymd, "2024/5/31"), ok("2024-05-31"));
        assert_eq!(day(Ymd, "20240531"), ok("2024-05-31"));
        assert_eq!(day(Dmy, "31052024"), ok("2024-05-31"));
        assert_eq!(day(Ymd, "2024-05-31T23:59:59+02:00"), ok("2024-05-31"));
        assert_eq!(day(Dmy, "2024-05-31"), ok("2024-05-31"));
        assert_eq!(day(Dmy, "01.01.79"), ok("2079-01-01"));
        assert_eq!(day(Dmy, "01.01.80"), ok("1980-01-01"));
    }

    #[test]
    fn reads_months_as_words() {
        use DateOrder::{Dmy, Mdy, Ymd};
        assert_eq!(day(Dmy, "31-Mai-24"), ok("2024-05-31"));
        assert_eq!(day(Mdy, "May 31, 2024"), ok("2024-05-31"));
        assert_eq!(day(Dmy, "3. M\u{e4}rz 2023"), ok("2023-03-03"));
        assert_eq!(day(Dmy, "31 de enero de 2024"), ok("2024-01-31"));
        assert_eq!(day(Ymd, "2024 ao\u{fb}t 02"), ok("2024-08-02"));
        assert_eq!(day(Mdy, "Fri 31 May 2024"), ok("2024-05-31"));
    }

    #[test]
    fn the_wrong_order_is_noticed_and_named() {
        let wrong = parse(DateOrder::Dmy, "05/31/2024").unwrap_err();
        assert_eq!(wrong.reason, Reason::DateOrder);
        assert!(wrong.hint.unwrap().contains("31 cannot be a month"));
        assert_eq!(day(DateOrder::Mdy, "31/05/2024"), Err(Reason::DateOrder));
        assert_eq!(day(DateOrder::Ymd, "31/05/2024"), Err(Reason::DateOrder));
    }

    #[test]
    fn spreadsheet_day_numbers() {
        // 45443 is 2024-05-31 in the 1900 calendar; the 1904 calendar is 1462 days behind (common practice).
        assert_eq!(day(DateOrder::Serial1900, "45443"), ok("2024-05-31"));
        assert_eq!(day(DateOrder::Serial1900, "45443.75"), ok("2024-05-31"));
        assert_eq!(day(DateOrder::Serial1904, "43981"), ok("2024-05-31"));
        assert_eq!(day(DateOrder::Serial1900, "1"), ok("1900-01-01"));
        assert_eq!(
            day(DateOrder::Serial1900, "60"),
            Err(Reason::DateImpossible)
        );
        assert_eq!(day(DateOrder::Serial1900, "61"), ok("1900-03-01"));
        assert_eq!(day(DateOrder::Dmy, "45443"), Err(Reason::DateSerial));
    }

    #[test]
    fn impossible_and_unreadable() {
        assert_eq!(
            day(DateOrder::Dmy, "30.02.2024"),
            Err(Reason::DateImpossible)
        );
        assert_eq!(
            day(DateOrder::Ymd, "2023-02-29"),
            Err(Reason::DateImpossible)
        );
        for text in [
            "",
            "soon",
            "1.2",
            "99999999999999999999",
            "31 Mai",
            "12:30",
            "a.b.c",
        ] {
            assert!(
                matches!(day(DateOrder::Dmy, text), Err(Reason::NotADate)),
                "{text}: {:?}",
                day(DateOrder::Dmy, text)
            );
        }
    }
}
