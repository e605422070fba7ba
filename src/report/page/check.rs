//! The page that says whether odds and plans were any good: older records held against the newest ones.

use maud::html;

use super::{parts, shell};
use crate::answer::sheet::Answer;
use crate::answer::test_order::check::TestOrderCheck;
use crate::domain::problem::Result;
use crate::report::chart::calibration;
use crate::report::site::{Folder, Report};

/// File of the page.
pub const FILE: &str = "test-order-check.html";
/// Title of the page.
pub const TITLE: &str = "Were the test orders any good?";
/// Name of its chart and tables.
const NAME: &str = "test-order-check";

/// Writes the page with its chart and tables.
pub fn write(report: &Report, check: &TestOrderCheck, folder: &Folder) -> Result<()> {
    folder.answer(NAME, check)?;
    let chart = calibration::chart(check)
        .map(|picture| folder.chart(NAME, &picture))
        .transpose()?;
    let sheet = check.sheet();
    let body = html! {
        p { "Odds of the causes, and the plans that follow from them, were learnt from the records up to " (check.day)
            " and held against the cases confirmed after it, which they had never seen." }
        (parts::verdict(&sheet.verdict))
        @if let Some(chart) = &chart { (parts::figure(chart, NAME)) }
        (parts::basis(&sheet))
        @for grid in sheet.grids.iter().filter(|g| !g.rows.is_empty()) {
            @match grid.id.as_str() {
                "scores" | "minutes" => (parts::table(grid)),
                _ => details { summary { (grid.title) } (parts::table(grid)) },
            }
        }
        (parts::files(NAME))
        p { "Another day, and the rules of thumb beside the plan: " code { "boretally test-order --check DAY" } }
        h2 { "Read with care" }
        (parts::caveats(&check.caveats))
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
