//! How cells of the workbook look, and how single ones are written.

use rust_xlsxwriter::{ExcelDateTime, Format, FormatAlign, Formula, Worksheet, XlsxError};

use crate::answer::sheet::{Cell, Show};
use crate::domain::day::Day;

/// What writing gives.
pub(super) type Written = std::result::Result<(), XlsxError>;

/// Formats used throughout.
pub(super) struct Looks {
    pub title: Format,
    pub head: Format,
    pub head_of_text: Format,
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
        // Cents and metres where they matter, and not where they are dust.
        let amount = "[>=1000]#,##0;[>=10]#,##0.0;0.00";
        let head = text.clone().set_bold().set_text_wrap();
        let head = head.set_align(FormatAlign::Bottom);
        Self {
            title: text.clone().set_bold(),
            head_of_text: head.clone(),
            // Over its numbers.
            head: head.set_align(FormatAlign::Right),
            wrapped: text.clone().set_text_wrap().set_align(FormatAlign::Top),
            text,
            day: number("yyyy-mm-dd"),
            count: number("#,##0"),
            quantity: number(amount),
            percent: number("0.0%"),
            change: change(amount),
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

/// On paper: lying, as many pages long as it takes, one wide, headings on each.
pub(super) fn on_paper(sheet: &mut Worksheet, heading_row: u32) -> Written {
    sheet.set_landscape();
    sheet.set_paper_size(9);
    sheet.set_print_fit_to_pages(1, 0);
    sheet.set_repeat_rows(0, heading_row)?;
    sheet.set_footer("&L&A&R&P / &N");
    Ok(())
}

/// Headings of columns in a row high enough for them: title, whether text stands below, and width in characters.
pub(super) fn heads<'a>(
    sheet: &mut Worksheet,
    row: u32,
    titles: impl Iterator<Item = (&'a str, bool, f64)>,
    looks: &Looks,
) -> Written {
    let mut lines = 1.0f64;
    for (column, (title, is_text, wide)) in (0u16..).zip(titles) {
        let look = if is_text {
            &looks.head_of_text
        } else {
            &looks.head
        };
        sheet.write_string_with_format(row, column, title, look)?;
        sheet.set_column_width(column, wide)?;
        // Bold letters are wider, and words are not broken.
        lines = lines.max((1.15 * title.chars().count() as f64 / wide).ceil());
    }
    sheet.set_row_height(row, 15.0 * lines)?;
    Ok(())
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
