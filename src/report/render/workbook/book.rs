//! The sheets of the workbook, in order.

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Workbook, Worksheet, XlsxError};

use super::calculation::calculation;
use super::looks::{Looks, Written, on_paper};
use super::replacement::replacement;
use super::table::{reserves, table};
use crate::answer::budget::Budget;
use crate::answer::sheet::Answer;
use crate::domain::problem::{Problem, Result};

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
    let grids = answer.whole_grids();
    let first = book.add_worksheet();
    if let Some(families) = grids.first() {
        calculation(first, answer, families, &looks)?;
    }
    for grid in grids {
        let sheet = book.add_worksheet();
        if grid.id == "options" {
            replacement(sheet, answer, &grid, &looks)?;
        } else {
            table(sheet, &grid, &looks)?;
        }
        if grid.id == "ranges" && !answer.reserves.is_empty() {
            reserves(book.add_worksheet(), answer, &looks)?;
        }
    }
    notes(book.add_worksheet(), answer, &looks)?;
    book.save_to_buffer()
}

/// Verdict, basis and caveats.
fn notes(sheet: &mut Worksheet, answer: &Budget, looks: &Looks) -> Written {
    sheet.set_name("read with care")?;
    sheet.set_column_width(0, 120.0)?;
    on_paper(sheet, 0)?;
    let view = answer.sheet();
    let caveats = view.caveats.iter().map(|c| c.text.as_str());
    let lines = view.verdict.iter().chain(&view.basis).map(String::as_str);
    for (row, line) in (0u32..).zip(lines.chain(caveats)) {
        sheet.write_string_with_format(row, 0, line, &looks.wrapped)?;
    }
    Ok(())
}
