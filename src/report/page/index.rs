//! The first page: what fails, how often, on which engines, and where to read on.

use maud::html;

use super::{parts, shell};
use crate::answer::sheet::Answer;
use crate::domain::problem::Result;
use crate::report::chart::{forest, heat_map, shares as shares_chart};
use crate::report::render::number;
use crate::report::site::{self, Folder, Report};

/// Writes `index.html` with its charts and tables.
pub fn write(report: &Report, folder: &Folder) -> Result<()> {
    let rates = report.by_family.sheet();
    let heat = report.by_family_and_cause.sheet();
    let shares = report.shares.sheet();
    folder.answer("rates-by-family", &report.by_family)?;
    folder.answer("rates-by-family-and-cause", &report.by_family_and_cause)?;
    folder.answer("shares-of-causes", &report.shares)?;
    let forest = forest::picture(&site::rate_forest(
        &report.by_family,
        "How often does each engine family fail?",
    ));
    let forest = folder.chart("rates-by-family", &forest)?;
    let map = heat_map::chart(
        &report.by_family_and_cause,
        "Which cause on which engine family?",
    );
    let map = folder.chart("family-by-cause", &map)?;
    let causes = match report.shares.groups.first() {
        Some(group) => {
            let chart = shares_chart::chart(
                &report.shares,
                group,
                "What was at fault, over all engines?",
            );
            Some(folder.chart("shares-of-causes", &chart)?)
        }
        None => None,
    };
    let body = html! {
        p { "Failures found in closed cases, set against the distance the same vehicles were under observation. "
            "A failure counts in a rate only if its vehicle had been seen before; the others (walk-ins) stand beside it." }
        (parts::verdict(&rates.verdict))
        (parts::figure(&forest, "rates-by-family"))
        (parts::basis(&rates))
        @for grid in &rates.grids { (parts::table(grid)) }
        (parts::files("rates-by-family"))
        @if let Some(budget) = &report.budget {
            h2 { a href=(super::budget::FILE) { (super::budget::TITLE) } }
            @for line in budget.verdict.iter().take(2) { p { (line) } }
        }
        @if let Some(check) = &report.check {
            h2 { a href=(super::check::FILE) { (super::check::TITLE) } }
            @for line in check.verdict.iter().take(2) { p { (line) } }
        }
        h2 { "Engine families" }
        ul { @for page in &report.families { li { a href=(site::family_file(&page.family.id)) { (page.family.title) } " — " (page.family.arrangement()) } } }
        h2 { "Causes by engine family" }
        (parts::figure(&map, "family-by-cause"))
        (parts::files("rates-by-family-and-cause"))
        details { summary { "The table behind it" } @for grid in heat.grids.iter().take(1) { (parts::table(grid)) } }
        h2 { "What was at fault?" }
        (parts::verdict(&shares.verdict))
        @if let Some(causes) = &causes { (parts::figure(causes, "shares-of-causes")) }
        @for grid in &shares.grids { (parts::table(grid)) }
        (parts::files("shares-of-causes"))
        h2 { "What the numbers rest on" }
        dl.facts { @for (what, n) in &report.facts { dt { (what) } dd { (number::grouped(*n)) } } }
        h2 { "Read with care" }
        (parts::caveats(report.by_family.caveats.iter().chain(&report.shares.caveats)))
        (parts::cautions())
    };
    let page = shell::Shell {
        title: &report.title,
        stamp: report.stamp.as_deref(),
        links: &[],
    };
    folder.page("index.html", &shell::page(&page, body))
}
