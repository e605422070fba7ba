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
        @if let Some(families) = grid("families") { (parts::table(families)) }
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
            (parts::table(options))
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
