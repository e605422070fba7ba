//! The page of a budget: how many repairs, what they cost, which units first, repair or replace.

use maud::html;

use super::{parts, shell};
use crate::answer::budget::Budget;
use crate::answer::sheet::Answer;
use crate::domain::problem::Result;
use crate::report::chart::{budget_cost, budget_count};
use crate::report::render::{csv, file, workbook};
use crate::report::site::{Folder, Report};

/// File of the page.
pub const FILE: &str = "budget.html";
/// Title of the page.
pub const TITLE: &str = "Budget for the fleet";
/// Name of its charts and tables.
const NAME: &str = "budget";

/// Columns of the table of families, and of that of options, in two parts each that fit a page.
const REPAIRS_AND_COST: [&str; 10] = [
    "family",
    "units",
    "repairs",
    "repairs_from_80",
    "repairs_to_80",
    "none",
    "cost",
    "cost_from_80",
    "cost_to_80",
    "reserve",
];
const BEHIND: [&str; 6] = [
    "family",
    "planned",
    "cost_per_repair",
    "downtime_days",
    "failures",
    "costed_repairs",
];
const COMPARED: [&str; 7] = [
    "option",
    "jobs",
    "cost_per_distance",
    "cost_per_distance_lower",
    "cost_per_distance_upper",
    "break_even",
    "cheaper",
];
const OPTION_COSTS: [&str; 8] = [
    "option",
    "cost_from",
    "cost",
    "cost_lower",
    "cost_upper",
    "further_repairs",
    "further_repairs_lower",
    "further_repairs_upper",
];

/// Writes the page with its charts, tables and workbook.
pub fn write(report: &Report, budget: &Budget, folder: &Folder) -> Result<()> {
    folder.answer(NAME, budget)?;
    let book = folder.path().join("tables").join(format!("{NAME}.xlsx"));
    file::write(&book, &workbook::budget(budget)?)?;
    for grid in budget.whole_grids() {
        let table = book.with_file_name(format!("{NAME}-{}.csv", grid.id));
        file::write(&table, &csv::grid(&grid)?)?;
    }
    let count = format!("{NAME}-count");
    let counts = budget_count::chart(
        budget,
        "How many repairs will the fleet need?",
        report.exercise,
    );
    let counts = folder.chart(&count, &counts)?;
    let cost = format!("{NAME}-cost");
    let costs = budget_cost::chart(
        budget,
        "What will they cost, month by month added up?",
        report.exercise,
    )
    .map(|chart| folder.chart(&cost, &chart))
    .transpose()?;
    let sheet = budget.sheet();
    let grid = |id: &str| sheet.grids.iter().find(|g| g.id == id);
    let body = html! {
        @if !report.exercise { (parts::verdict(&sheet.verdict)) }
        (parts::figure(&counts, &count))
        @if let Some(costs) = &costs { (parts::figure(costs, &cost)) }
        (parts::basis(&sheet))
        @if let Some(families) = grid("families") {
            (parts::table(&families.part(&families.title, &REPAIRS_AND_COST)))
            (parts::table(&families.part("What stands behind it", &BEHIND)))
        }
        (parts::files(NAME))
        p.files { "To calculate on with: " a href=(format!("tables/{NAME}.xlsx")) { "workbook" } ", with units, rate per hour, inflation and confidence as cells to change." }
        @if let Some(ranges) = grid("ranges") { (parts::table(ranges)) }
        h2 { "Units to look at first" }
        @if let Some(bad) = grid("bad_rows") { (parts::table(bad)) }
        @if let Some(units) = grid("units") { (parts::table(units)) }
        p.files { "Every unit: " a href=(format!("tables/{NAME}-units.csv")) { "CSV" } }
        h2 { "Why the ranges are as wide as they are" }
        p { "Chance stays whatever is recorded; what few failures and few costs add shrinks as records grow." }
        @if let Some(drivers) = grid("drivers") { (parts::table(drivers)) }
        @if let Some(options) = grid("options") {
            h2 { "Repair or replace?" }
            p { "For information: the owner decides, engine by engine, after the tests that show how the rest of it stands." }
            (parts::table(&options.part(&options.title, &COMPARED)))
            (parts::table(&options.part("What each option costs and leaves", &OPTION_COSTS)))
        }
        @if let Some(months) = grid("months") { details { summary { "Every month" } (parts::table(months)) } }
        @if let Some(assumptions) = grid("assumptions") { (parts::table(assumptions)) }
        h2 { "Read with care" }
        (parts::caveats(&sheet.caveats))
        (parts::cautions())
    };
    let links = report.links();
    let shell = shell::Shell {
        title: TITLE,
        stamp: report.stamp.as_deref(),
        links: &links,
    };
    folder.page(FILE, &shell::page(&shell, body))
}
