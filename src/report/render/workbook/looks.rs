//! How cells of the workbook look, and how single ones are written.

use rust_xlsxwriter::{ExcelDateTime, Format, FormatAlign, Formula, Worksheet, XlsxError};

use crate::answer::sheet::{Cell, Show};
use crate::domain::day::Day;

/// What writing gives.
pub(super) type Written = std::result::Result<(), XlsxError>;

/// Formats used throughout.
pub(super) struct Looks {
    pub head: Format,
    pub text: Format,
    pub wrapped: Format,
    pub day: Format,
    pub count: Format,
    pub quantity: Format,
    pub percent: Format,
    pub change: Format,
    pub change_count: Format,
    pub change_percent: Format,
}

impl Looks {
    pub fn new() -> Self {
        let number = |form: &str| Format::new().set_num_format(form);
        // Yellow ground: a cell to change.
        let change = |form: &str| number(form).set_background_color("#FFF2CC");
        let text = Format::new().set_quote_prefix();
        Self {
            head: Format::new()
                .set_bold()
                .set_text_wrap()
                .set_align(FormatAlign::Top)
                .set_quote_prefix(),
            wrapped: text.clone().set_text_wrap().set_align(FormatAlign::Top),
            text,
            day: number("yyyy-mm-dd"),
            count: number("#,##0"),
            quantity: number("#,##0.00"),
            percent: number("0.0%"),
            change: change("#,##0.00"),
            change_count: change("#,##0"),
            change_percent: change("0.0%"),
        }
    }

    pub fn of(&self, show: Show) -> &Format {
        match show {
            Show::Text => &self.text,
            Show::Day => &self.day,
            Show::Count => &self.count,
            Show::Percent => &self.percent,
            Show::Quantity | Show::PValue => &self.quantity,
        }
    }
}

/// One cell of an answer.
pub(super) fn write_cell(
    sheet: &mut Worksheet,
    (row, column): (u32, u16),
    cell: &Cell,
    format: &Format,
    looks: &Looks,
) -> Written {
    match cell {
        Cell::Empty => {}
        Cell::Text(text) => {
            sheet.write_string_with_format(row, column, text, &looks.text)?;
        }
        Cell::Whole(n) => {
            sheet.write_number_with_format(row, column, *n as f64, &looks.count)?;
        }
        Cell::Number(x) if x.is_finite() => {
            sheet.write_number_with_format(row, column, *x, format)?;
        }
        Cell::Number(_) => {
            sheet.write_string_with_format(row, column, "no limit", &looks.text)?;
        }
        Cell::Day(day) => {
            sheet.write_datetime_with_format(row, column, &date(*day)?, format)?;
        }
    }
    Ok(())
}

/// A formula with the value it has before anything is changed, for readers that do not calculate.
pub(super) fn formula(
    sheet: &mut Worksheet,
    (row, column): (u32, u16),
    text: &str,
    value: f64,
    format: &Format,
) -> Written {
    let formula = Formula::new(text).set_result(value.to_string());
    sheet.write_formula_with_format(row, column, formula, format)?;
    Ok(())
}

/// Serial day 25569 is 1970-01-01.
fn date(day: Day) -> std::result::Result<ExcelDateTime, XlsxError> {
    ExcelDateTime::from_serial_datetime(f64::from(day.0) + 25569.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_those_of_the_spreadsheet() {
        // 2024-01-01 is serial day 45292 (ECMA-376, 1900 date system).
        let day = Day::from_ymd(2024, 1, 1).unwrap();
        assert_eq!(f64::from(day.0) + 25569.0, 45292.0);
        assert!(date(day).is_ok());
    }
}
