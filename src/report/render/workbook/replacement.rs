//! Repair against replacement, with costs as cells to change.

use rust_xlsxwriter::Worksheet;

use super::looks::{Looks, Written, formula, on_paper};
use super::table::rows;
use crate::answer::budget::Budget;
use crate::answer::sheet::Grid;

/// First row of the table as budgeted, below the one to change.
const AS_BUDGETED: u32 = 8;

/// The sheet: costs to change with what follows from them, then the table as budgeted.
pub(super) fn replacement(
    sheet: &mut Worksheet,
    answer: &Budget,
    grid: &Grid,
    looks: &Looks,
) -> Written {
    sheet.set_name("repair or replace")?;
    rows(sheet, AS_BUDGETED, grid, looks)?;
    on_paper(sheet, 0)?;
    sheet.write_string_with_format(AS_BUDGETED - 1, 0, &grid.title, &looks.title)?;
    let unit = answer.question.distance_unit();
    let kept = unit.from_metres(answer.question.keep_m);
    let money = answer.question.money();
    let title = format!("Cost by distance in {money}; change the yellow cells");
    sheet.write_string_with_format(0, 0, &title, &looks.title)?;
    let label = format!("distance kept ({})", unit.symbol());
    sheet.write_string_with_format(1, 0, &label, &looks.text)?;
    sheet.write_number_with_format(1, 1, kept, &looks.count)?;
    let heads = [
        "what is done".to_string(),
        "cost".to_string(),
        "further repairs".to_string(),
        format!("cost per 1000 {}", unit.symbol()),
    ];
    for (column, head) in (0u16..).zip(&heads) {
        let look = if column == 0 {
            &looks.head_of_text
        } else {
            &looks.head
        };
        sheet.write_string_with_format(2, column, head, look)?;
    }
    sheet.set_row_height(2, 30)?;
    let cost_of = |option: &str| {
        let found = answer.options.iter().find(|o| o.option == option);
        found.and_then(|o| o.cost.as_ref()).map(|e| e.value)
    };
    let repair = cost_of("repair");
    for (row, option) in (3u32..).zip(&answer.options) {
        sheet.write_string_with_format(row, 0, &option.title, &looks.text)?;
        let cost = option.cost.as_ref().map(|e| e.value);
        match cost {
            Some(cost) => sheet.write_number_with_format(row, 1, cost, &looks.change)?,
            None => sheet.write_blank(row, 1, &looks.change)?,
        };
        let Some(further) = option.further_repairs.as_ref().map(|e| e.value) else {
            continue;
        };
        sheet.write_number_with_format(row, 2, further, &looks.quantity)?;
        let n = row + 1;
        // A cell left empty is no cost of 0.
        let text = format!("=IF(OR(B{n}=\"\",$B$4=\"\"),\"no cost\",(B{n}+C{n}*$B$4)/($B$2/1000))");
        let value = cost
            .zip(repair)
            .map(|(c, r)| (c + further * r) / (kept / 1000.0));
        formula(
            sheet,
            (row, 3),
            &text,
            value.unwrap_or(0.0),
            &looks.quantity,
        )?;
    }
    Ok(())
}
