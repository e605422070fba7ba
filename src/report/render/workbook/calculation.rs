//! The first sheet: cells to change, and what follows from them by formula.

use rust_xlsxwriter::{DataValidation, DataValidationRule, Worksheet, utility};

use super::looks::{Looks, Written, formula, heads, on_paper};
use super::table::RESERVES;
use crate::answer::budget::Budget;
use crate::answer::budget::types::{Expected, FamilyOutlook};
use crate::answer::sheet::Grid;

/// First row of the families.
const FIRST: u32 = 11;
/// Row of the confidence, and the cell as formulas name it.
const CONFIDENCE: (u32, &str) = (6, "$B$7");

/// Where figures stand as budgeted: the sheet of families, in the order of the answer, all of them last.
struct AsBudgeted {
    columns: Vec<String>,
}

impl AsBudgeted {
    fn new(families: &Grid) -> Self {
        let ids = families.headings.iter().map(|heading| heading.id.clone());
        Self {
            columns: ids.collect(),
        }
    }

    /// The cell of a column for a row of the first sheet.
    fn cell(&self, id: &str, row: u32) -> Option<String> {
        let place = self.columns.iter().position(|column| column == id)?;
        let column = utility::column_number_to_name(u16::try_from(place).ok()?);
        Some(format!("families!{column}{}", row - FIRST + 2))
    }
}

/// Writes it; `families` is the grid of the sheet of families.
pub(super) fn calculation(
    sheet: &mut Worksheet,
    answer: &Budget,
    families: &Grid,
    looks: &Looks,
) -> Written {
    let budgeted = AsBudgeted::new(families);
    sheet.set_name("budget")?;
    assumptions(sheet, answer, looks)?;
    let titles = [
        "units on the roster",
        "units, as changed",
        "repairs expected",
        "cost per repair, as recorded",
        "cost per repair, as changed",
        "expected cost",
        "80 % from",
        "80 % to",
        "days off the road",
    ];
    let titles = titles.map(|title| (title, false, 15.0));
    let titles = std::iter::once(("engine family", true, 44.0)).chain(titles);
    heads(sheet, FIRST - 1, titles, looks)?;
    on_paper(sheet, 0)?;
    for (row, one) in (FIRST..).zip(&answer.families) {
        family(sheet, row, (one, answer.labour.is_some()), &budgeted, looks)?;
    }
    totals(sheet, answer, &budgeted, looks)
}

fn text(sheet: &mut Worksheet, row: u32, text: &str, looks: &Looks) -> Written {
    sheet.write_string_with_format(row, 0, text, &looks.text)?;
    Ok(())
}

/// The cells to change.
fn assumptions(sheet: &mut Worksheet, answer: &Budget, looks: &Looks) -> Written {
    let question = &answer.question;
    let title = format!(
        "Budget in {}, {} months from {}",
        question.money(),
        question.months,
        question.from
    );
    sheet.write_string_with_format(0, 0, &title, &looks.title)?;
    text(sheet, FIRST - 4, "Change the yellow cells.", looks)?;
    if answer.total.cost.is_none() {
        return Ok(());
    }
    text(sheet, 1, "further yearly inflation", looks)?;
    sheet.write_number_with_format(1, 1, 0.0, &looks.change_percent)?;
    text(sheet, 2, "years it runs", looks)?;
    sheet.write_number_with_format(2, 1, 1.0, &looks.change)?;
    if let Some(labour) = &answer.labour {
        text(sheet, 3, "rate per labour hour", looks)?;
        sheet.write_number_with_format(3, 1, labour.rate_per_hour, &looks.change)?;
        text(sheet, 4, "rate per labour hour in the costs below", looks)?;
        sheet.write_number_with_format(4, 1, labour.rate_per_hour, &looks.quantity)?;
        text(sheet, 5, "labour hours per repair", looks)?;
        sheet.write_number_with_format(5, 1, labour.hours_per_repair, &looks.change)?;
    }
    let (row, _) = CONFIDENCE;
    text(sheet, row, "confidence of the reserve, 50 to 99 %", looks)?;
    sheet.write_number_with_format(row, 1, question.confidence, &looks.change_percent)?;
    let between = DataValidationRule::Between(0.5, 0.99);
    let rule = DataValidation::new()
        .allow_decimal_number(between)
        .set_error_message("between 50 % and 99 %")?;
    sheet.add_data_validation(row, 1, row, 1, &rule)?;
    text(
        sheet,
        FIRST - 3,
        "Ranges and reserve move as the expected cost does, which is right for prices; for many more or fewer units make the budget anew.",
        looks,
    )
}

fn range(expected: Option<&Expected>) -> [Option<f64>; 2] {
    let range = expected.and_then(|e| e.ranges.iter().find(|r| r.level == 0.8));
    [range.map(|r| r.lower), range.map(|r| r.upper)]
}

fn family(
    sheet: &mut Worksheet,
    row: u32,
    (family, labour): (&FamilyOutlook, bool),
    budgeted: &AsBudgeted,
    looks: &Looks,
) -> Written {
    let outlook = &family.outlook;
    let units = outlook.units as f64;
    let n = row + 1;
    text(sheet, row, &family.title, looks)?;
    sheet.write_number_with_format(row, 1, units, &looks.count)?;
    sheet.write_number_with_format(row, 2, units, &looks.change_count)?;
    let mut moved = |column: u16, id: &str, by: &str, value: Option<f64>| -> Written {
        let Some((value, cell)) = value.zip(budgeted.cell(id, row)) else {
            return Ok(());
        };
        let text = format!("={cell}{by}");
        formula(sheet, (row, column), &text, value, &looks.quantity)
    };
    let by_units = format!("*C{n}/B{n}");
    let by_price = format!("*F{n}/E{n}*C{n}/B{n}");
    let expected = outlook.count.expected;
    let days = outlook.downtime_days.as_ref().map(|e| e.expected);
    let cost = family.cost_per_repair.as_ref().map(|e| e.value);
    let [low, high] = range(outlook.cost.as_ref());
    moved(3, "repairs", &by_units, Some(expected))?;
    moved(4, "cost_per_repair", "", cost)?;
    let total = outlook.cost.as_ref().map(|e| e.expected);
    moved(6, "cost", &by_price, total)?;
    moved(7, "cost_from_80", &by_price, low)?;
    moved(8, "cost_to_80", &by_price, high)?;
    moved(9, "downtime_days", &by_units, days)?;
    let Some(cost) = cost else {
        return Ok(());
    };
    let changed = if labour {
        format!("=MAX(0,E{n}+$B$6*($B$4-$B$5))*(1+$B$2)^$B$3")
    } else {
        format!("=E{n}*(1+$B$2)^$B$3")
    };
    formula(sheet, (row, 5), &changed, cost, &looks.quantity)
}

/// The last rows: sums, and range and reserve of the whole moved as its expected cost moves. Ranges of families do not add up.
fn totals(sheet: &mut Worksheet, answer: &Budget, budgeted: &AsBudgeted, looks: &Looks) -> Written {
    let rows = u32::try_from(answer.families.len()).unwrap_or(0);
    let row = FIRST + rows;
    if rows == 0 {
        return Ok(());
    }
    sheet.write_string_with_format(row, 0, "all", &looks.title)?;
    let total = &answer.total;
    let (from, to) = (FIRST + 1, row);
    let sum = |column: &str| format!("=SUM({column}{from}:{column}{to})");
    let units = total.units as f64;
    formula(sheet, (row, 1), &sum("B"), units, &looks.count)?;
    formula(sheet, (row, 2), &sum("C"), units, &looks.count)?;
    let repairs = total.count.expected;
    formula(sheet, (row, 3), &sum("D"), repairs, &looks.quantity)?;
    if let Some(days) = &total.downtime_days {
        formula(sheet, (row, 9), &sum("J"), days.expected, &looks.quantity)?;
    }
    let (Some(cost), Some(reserve)) = (&total.cost, &total.reserve) else {
        return Ok(());
    };
    formula(sheet, (row, 6), &sum("G"), cost.expected, &looks.quantity)?;
    let Some(before) = budgeted.cell("cost", row) else {
        return Ok(());
    };
    let by = format!("*IF({before}=0,1,G{}/{before})", row + 1);
    let [low, high] = range(Some(cost));
    for (column, id, end) in [(7, "cost_from_80", low), (8, "cost_to_80", high)] {
        if let Some((end, cell)) = end.zip(budgeted.cell(id, row)) {
            let text = format!("={cell}{by}");
            formula(sheet, (row, column), &text, end, &looks.quantity)?;
        }
    }
    text(sheet, row + 1, "reserve at the confidence above", looks)?;
    // The first listed confidence that is not below the one asked for.
    let last = answer.reserves.len() + 1;
    let place = format!(
        "MIN({},SUMPRODUCT(--({RESERVES}!$A$2:$A${last}<{}))+1)",
        answer.reserves.len(),
        CONFIDENCE.1
    );
    let looked_up = format!("=INDEX({RESERVES}!$B$2:$B${last},{place}){by}");
    formula(
        sheet,
        (row + 1, 6),
        &looked_up,
        reserve.amount,
        &looks.quantity,
    )
}
