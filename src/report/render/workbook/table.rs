//! Tables of the answer as sheets of their own.

use rust_xlsxwriter::Worksheet;

use super::looks::{Looks, Written, heads, on_paper, write_cell};
use crate::answer::budget::Budget;
use crate::answer::sheet::{Cell, Grid, Show};

/// Widths of columns, in characters: at least, and at most.
const WIDTHS: (usize, usize) = (11, 70);

/// One grid as a sheet of its name, with filters over its columns.
pub(super) fn table(sheet: &mut Worksheet, grid: &Grid, looks: &Looks) -> Written {
    sheet.set_name(grid.id.replace('_', " "))?;
    sheet.set_freeze_panes(1, 0)?;
    rows(sheet, 0, grid, looks)?;
    on_paper(sheet, 0)?;
    let last_row = u32::try_from(grid.rows.len()).unwrap_or(u32::MAX);
    let last_column = u16::try_from(grid.headings.len()).unwrap_or(u16::MAX);
    if last_row > 0 && last_column > 0 {
        sheet.autofilter(0, 0, last_row, last_column - 1)?;
    }
    Ok(())
}

/// Headings and rows of a grid from a row on; columns as wide as what stands in them.
pub(super) fn rows(sheet: &mut Worksheet, from: u32, grid: &Grid, looks: &Looks) -> Written {
    let titles = grid.headings.iter().zip(widths(grid));
    let titles = titles.map(|(h, wide)| (h.title.as_str(), h.show == Show::Text, wide));
    heads(sheet, from, titles, looks)?;
    for (row, cells) in (from + 1..).zip(&grid.rows) {
        for ((column, cell), heading) in (0u16..).zip(cells).zip(&grid.headings) {
            write_cell(sheet, (row, column), cell, looks.of(heading.show), looks)?;
        }
    }
    Ok(())
}

/// Widths of a grid's columns: as wide as what stands in them, within reason.
fn widths(grid: &Grid) -> impl Iterator<Item = f64> + '_ {
    (0..grid.headings.len()).map(|column| {
        let cells = grid.rows.iter().filter_map(move |row| row.get(column));
        let widest = cells.map(|cell| match cell {
            Cell::Text(text) => text.chars().count(),
            _ => 0,
        });
        widest.max().unwrap_or(0).clamp(WIDTHS.0, WIDTHS.1) as f64 + 2.0
    })
}

/// Name of the sheet of reserves.
pub(super) const RESERVES: &str = "reserves";

/// What suffices for the whole fleet, confidence by confidence; the first sheet looks its reserve up here.
pub(super) fn reserves(sheet: &mut Worksheet, answer: &Budget, looks: &Looks) -> Written {
    sheet.set_name(RESERVES)?;
    sheet.set_freeze_panes(1, 0)?;
    let titles = [
        "confidence".to_string(),
        format!("reserve ({})", answer.question.money()),
        "missing on average if it does not suffice".to_string(),
    ];
    heads(
        sheet,
        0,
        titles.iter().map(|t| (t.as_str(), false, 22.0)),
        looks,
    )?;
    on_paper(sheet, 0)?;
    for (row, reserve) in (1u32..).zip(&answer.reserves) {
        sheet.write_number_with_format(row, 0, reserve.confidence, &looks.percent)?;
        sheet.write_number_with_format(row, 1, reserve.amount, &looks.quantity)?;
        sheet.write_number_with_format(row, 2, reserve.mean_excess, &looks.quantity)?;
    }
    Ok(())
}
