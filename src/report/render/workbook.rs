//! A budget as a workbook: real numbers and days, and formulas where a manager would change an assumption.
//!
//! Text is written as text and marked so (`quotePrefix`), so that a unit called `=2+3` stays what it is even when its cell is edited.

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, Formula, Workbook, Worksheet, XlsxError,
};

use crate::answer::budget::Budget;
use crate::answer::sheet::{Answer, Cell, Grid, Show};
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};

type Written = std::result::Result<(), XlsxError>;

/// The workbook's bytes.
///
/// # Errors
/// More rows or columns than a worksheet has.
pub fn budget(answer: &Budget) -> Result<Vec<u8>> {
    write(answer).map_err(|e| Problem::data(format!("could not write the workbook: {e}")))
}

fn write(answer: &Budget) -> std::result::Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // The time of writing would make every run a different file.
    let created = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&created));
    let looks = Looks::new();
    calculation(book.add_worksheet(), answer, &looks)?;
    for grid in answer.sheet().grids {
        let whole = match grid.id.as_str() {
            "units" => answer.unit_grid(usize::MAX),
            _ => grid,
        };
        table(book.add_worksheet(), &whole, &looks)?;
    }
    notes(book.add_worksheet(), answer, &looks)?;
    book.save_to_buffer()
}

/// Formats used throughout.
struct Looks {
    head: Format,
    text: Format,
    day: Format,
    count: Format,
    quantity: Format,
    percent: Format,
    change: Format,
    change_percent: Format,
}

impl Looks {
    fn new() -> Self {
        let number = |form: &str| Format::new().set_num_format(form);
        // Yellow ground: a cell to change.
        let change = |form: &str| number(form).set_background_color("#FFF2CC");
        Self {
            head: Format::new().set_bold().set_text_wrap().set_quote_prefix(),
            text: Format::new().set_quote_prefix(),
            day: number("yyyy-mm-dd"),
            count: number("#,##0"),
            quantity: number("#,##0.00"),
            percent: number("0.0%"),
            change: change("#,##0.00"),
            change_percent: change("0.0%"),
        }
    }

    fn of(&self, show: Show) -> &Format {
        match show {
            Show::Text => &self.text,
            Show::Day => &self.day,
            Show::Count => &self.count,
            Show::Percent => &self.percent,
            Show::Quantity | Show::PValue => &self.quantity,
        }
    }
}

/// One grid as a sheet of its name.
fn table(sheet: &mut Worksheet, grid: &Grid, looks: &Looks) -> Written {
    sheet.set_name(grid.id.replace('_', " "))?;
    sheet.set_freeze_panes(1, 0)?;
    for (column, heading) in (0u16..).zip(&grid.headings) {
        sheet.write_string_with_format(0, column, &heading.title, &looks.head)?;
        let wide = if heading.show == Show::Text {
            24.0
        } else {
            13.0
        };
        sheet.set_column_width(column, wide)?;
    }
    for (row, cells) in (1u32..).zip(&grid.rows) {
        for ((column, cell), heading) in (0u16..).zip(cells).zip(&grid.headings) {
            write_cell(sheet, (row, column), cell, looks.of(heading.show), looks)?;
        }
    }
    Ok(())
}

fn write_cell(
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
            sheet.write_number_with_format(row, column, *n as f64, format)?;
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

/// Serial day 25569 is 1970-01-01.
fn date(day: Day) -> std::result::Result<ExcelDateTime, XlsxError> {
    ExcelDateTime::from_serial_datetime(f64::from(day.0) + 25569.0)
}

/// First row of the families on the first sheet.
const FIRST: u32 = 8;

/// The first sheet: cells to change, and what follows from them by formula.
fn calculation(sheet: &mut Worksheet, answer: &Budget, looks: &Looks) -> Written {
    sheet.set_name("budget")?;
    sheet.set_column_width(0, 44.0)?;
    for column in 1u16..=8 {
        sheet.set_column_width(column, 16.0)?;
    }
    let text = |sheet: &mut Worksheet, row: u32, text: &str| -> Written {
        sheet.write_string_with_format(row, 0, text, &looks.text)?;
        Ok(())
    };
    let title = format!(
        "Budget in {}; change the yellow cells",
        answer.question.money()
    );
    sheet.write_string_with_format(0, 0, &title, &looks.head)?;
    text(sheet, 1, "further yearly inflation")?;
    sheet.write_number_with_format(1, 1, 0.0, &looks.change_percent)?;
    text(sheet, 2, "years it runs")?;
    sheet.write_number_with_format(2, 1, 1.0, &looks.change)?;
    let labour = answer.labour.as_ref();
    if let Some(labour) = labour {
        text(sheet, 3, "rate per labour hour")?;
        sheet.write_number_with_format(3, 1, labour.rate_per_hour, &looks.change)?;
        text(sheet, 4, "rate per labour hour in the costs below")?;
        sheet.write_number_with_format(4, 1, labour.rate_per_hour, &looks.quantity)?;
        text(sheet, 5, "labour hours per repair")?;
        sheet.write_number_with_format(5, 1, labour.hours_per_repair, &looks.change)?;
    }
    let heads = [
        "engine family",
        "units",
        "repairs expected",
        "cost per repair, as recorded",
        "cost per repair, as changed",
        "expected cost",
        "80 % from",
        "80 % to",
        "reserve",
    ];
    for (column, head) in (0u16..).zip(heads) {
        sheet.write_string_with_format(FIRST - 1, column, head, &looks.head)?;
    }
    for (row, family) in (FIRST..).zip(&answer.families) {
        let outlook = &family.outlook;
        sheet.write_string_with_format(row, 0, &family.title, &looks.text)?;
        sheet.write_number_with_format(row, 1, outlook.units as f64, &looks.count)?;
        sheet.write_number_with_format(row, 2, outlook.count.expected, &looks.quantity)?;
        let Some(cost) = &family.cost_per_repair else {
            continue;
        };
        sheet.write_number_with_format(row, 3, cost.value, &looks.quantity)?;
        let n = row + 1;
        let changed = match labour {
            Some(_) => format!("=(D{n}+$B$6*($B$4-$B$5))*(1+$B$2)^$B$3"),
            None => format!("=D{n}*(1+$B$2)^$B$3"),
        };
        formula(sheet, (row, 4), &changed, cost.value, looks)?;
        formula(
            sheet,
            (row, 5),
            &format!("=C{n}*E{n}"),
            outlook.count.expected * cost.value,
            looks,
        )?;
        let range = outlook
            .cost
            .as_ref()
            .and_then(|c| c.ranges.iter().find(|r| r.level == 0.8));
        let ends = [
            range.map(|r| r.lower),
            range.map(|r| r.upper),
            outlook.reserve.as_ref().map(|r| r.amount),
        ];
        for (column, end) in (6u16..).zip(ends) {
            if let Some(end) = end {
                formula(
                    sheet,
                    (row, column),
                    &format!("={end}*E{n}/D{n}"),
                    end,
                    looks,
                )?;
            }
        }
    }
    totals(sheet, answer, looks)
}

/// The last row: sums, and the range of the whole moved as its expected cost moves. Ranges of families do not add up.
fn totals(sheet: &mut Worksheet, answer: &Budget, looks: &Looks) -> Written {
    let rows = u32::try_from(answer.families.len()).unwrap_or(0);
    let row = FIRST + rows;
    if rows == 0 {
        return Ok(());
    }
    sheet.write_string_with_format(row, 0, "all", &looks.head)?;
    let total = &answer.total;
    let (from, to) = (FIRST + 1, row);
    let sum = |column: &str| format!("=SUM({column}{from}:{column}{to})");
    formula(sheet, (row, 1), &sum("B"), total.units as f64, looks)?;
    formula(sheet, (row, 2), &sum("C"), total.count.expected, looks)?;
    let (Some(cost), Some(reserve)) = (&total.cost, &total.reserve) else {
        return Ok(());
    };
    formula(sheet, (row, 5), &sum("F"), cost.expected, looks)?;
    let before = format!("SUMPRODUCT(C{from}:C{to},D{from}:D{to})");
    let range = cost.ranges.iter().find(|r| r.level == 0.8);
    let ends = [
        range.map(|r| r.lower),
        range.map(|r| r.upper),
        Some(reserve.amount),
    ];
    for (column, end) in (6u16..).zip(ends) {
        if let Some(end) = end {
            let moved = format!("={end}*F{}/{before}", row + 1);
            formula(sheet, (row, column), &moved, end, looks)?;
        }
    }
    Ok(())
}

/// A formula with the value it has before anything is changed, for readers that do not calculate.
fn formula(
    sheet: &mut Worksheet,
    (row, column): (u32, u16),
    text: &str,
    value: f64,
    looks: &Looks,
) -> Written {
    let formula = Formula::new(text).set_result(value.to_string());
    sheet.write_formula_with_format(row, column, formula, &looks.quantity)?;
    Ok(())
}

/// Verdict, basis and caveats.
fn notes(sheet: &mut Worksheet, answer: &Budget, looks: &Looks) -> Written {
    sheet.set_name("read with care")?;
    sheet.set_column_width(0, 120.0)?;
    let view = answer.sheet();
    let caveats = view.caveats.iter().map(|c| c.text.as_str());
    let lines = view.verdict.iter().chain(&view.basis).map(String::as_str);
    for (row, line) in (0u32..).zip(lines.chain(caveats)) {
        sheet.write_string_with_format(row, 0, line, &looks.text)?;
    }
    Ok(())
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
