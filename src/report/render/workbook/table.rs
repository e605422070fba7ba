//! Tables of the answer as sheets of their own.

use rust_xlsxwriter::Worksheet;

use super::looks::{Looks, Written, write_cell};
use crate::answer::budget::Budget;
use crate::answer::sheet::{Cell, Grid};

/// Widths of columns, in characters: at least, and at most.
const WIDTHS: (usize, usize) = (11, 70);

/// One grid as a sheet of its name, with filters over its columns.
pub(super) fn table(sheet: &mut Worksheet, grid: &Grid, looks: &Looks) -> Written {
    sheet.set_name(grid.id.replace('_', " "))?;
    sheet.set_freeze_panes(1, 0)?;
    rows(sheet, 0, grid, looks)?;
    let last_row = u32::try_from(grid.rows.len()).unwrap_or(u32::MAX);
    let last_column = u16::try_from(grid.headings.len()).unwrap_or(u16::MAX);
    if last_row > 0 && last_column > 0 {
        sheet.autofilter(0, 0, last_row, last_column - 1)?;
    }
    Ok(())
}

/// Headings and rows of a grid from a row on; columns as wide as what stands in them.
pub(super) fn rows(sheet: &mut Worksheet, from: u32, grid: &Grid, looks: &Looks) -> Written {
    for (column, heading) in (0u16..).zip(&grid.headings) {
        sheet.write_string_with_format(from, column, &heading.title, &looks.head)?;
        let cells = grid
            .rows
            .iter()
            .filter_map(|row| row.get(usize::from(column)));
        let widest = cells.map(|cell| match cell {
            Cell::Text(text) => text.chars().count(),
            _ => 0,
        });
        let wide = widest.max().unwrap_or(0).clamp(WIDTHS.0, WIDTHS.1);
        sheet.set_column_width(column, wide as f64 + 2.0)?;
    }
    for (row, cells) in (from + 1..).zip(&grid.rows) {
        for ((column, cell), heading) in (0u16..).zip(cells).zip(&grid.headings) {
            write_cell(sheet, (row, column), cell, looks.of(heading.show), looks)?;
        }
    }
    Ok(())
}

/// Name of the sheet of reserves.
pub(super) const RESERVES: &str = "reserves";

/// What suffices for the whole fleet, confidence by confidence; the first sheet looks its reserve up here.
pub(super) fn reserves(sheet: &mut Worksheet, answer: &Budget, looks: &Looks) -> Written {
    sheet.set_name(RESERVES)?;
    sheet.set_freeze_panes(1, 0)?;
    let heads = [
        "confidence".to_string(),
        format!("reserve ({})", answer.question.money()),
        "missing on average if it does not suffice".to_string(),
    ];
    for (column, head) in (0u16..).zip(&heads) {
        sheet.write_string_with_format(0, column, head, &looks.head)?;
        sheet.set_column_width(column, 22.0)?;
    }
    for (row, reserve) in (1u32..).zip(&answer.reserves) {
        sheet.write_number_with_format(row, 0, reserve.confidence, &looks.percent)?;
        sheet.write_number_with_format(row, 1, reserve.amount, &looks.quantity)?;
        sheet.write_number_with_format(row, 2, reserve.mean_excess, &looks.quantity)?;
    }
    Ok(())
}
