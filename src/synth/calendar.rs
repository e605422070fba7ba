//! Days taken apart and put together: years added, months counted.

use jiff::civil::{Date, date};

use crate::domain::day::Day;

/// The civil date of a day; the last representable date beyond the calendar's end.
pub fn civil(day: Day) -> Date {
    jiff::Span::new()
        .try_days(i64::from(day.0))
        .ok()
        .and_then(|span| date(1970, 1, 1).checked_add(span).ok())
        .unwrap_or(Date::MAX)
}

/// Year, month and day of month.
pub fn parts(day: Day) -> (i32, u8, u8) {
    let d = civil(day);
    (
        i32::from(d.year()),
        d.month().unsigned_abs(),
        d.day().unsigned_abs(),
    )
}

/// The same day `years` later; 29 February becomes 1 March where there is none.
pub fn add_years(day: Day, years: i16) -> Option<Day> {
    let d = civil(day);
    let year = d.year().checked_add(years)?;
    Day::from_ymd(year, d.month(), d.day()).or_else(|| Day::from_ymd(year, 3, 1))
}

/// Months since year 0, for counting months between days.
pub fn month_number(day: Day) -> i32 {
    let (year, month, _) = parts(day);
    year * 12 + i32::from(month) - 1
}

/// First day of a month counted by `month_number`.
pub fn month_start(number: i32) -> Option<Day> {
    let year = i16::try_from(number.div_euclid(12)).ok()?;
    Day::from_ymd(year, (number.rem_euclid(12) + 1) as i8, 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn years_and_months_are_counted() {
        let leap = Day::parse_iso("2020-02-29").unwrap();
        assert_eq!(parts(leap), (2020, 2, 29));
        assert_eq!(add_years(leap, 1).unwrap().to_string(), "2021-03-01");
        assert_eq!(add_years(leap, 4).unwrap().to_string(), "2024-02-29");
        assert_eq!(
            month_start(month_number(leap)).unwrap().to_string(),
            "2020-02-01"
        );
        assert_eq!(parts(Day(-1)), (1969, 12, 31));
    }
}
