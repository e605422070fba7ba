//! The page for the bay: the plan of one family as a tree and as a numbered list, with the cautions, to print.

use maud::html;

use super::{parts, shell};
use crate::answer::sheet::Answer;
use crate::answer::test_order::TestOrder;
use crate::domain::problem::Result;
use crate::report::chart::plan;
use crate::report::site::{FamilyPage, Folder, Report, family_file};

/// Writes the page; gives its file.
pub fn write(
    report: &Report,
    page: &FamilyPage,
    order: &TestOrder,
    folder: &Folder,
) -> Result<String> {
    let id = &page.family.id;
    let name = format!("{id}-test-order");
    folder.answer(&name, order)?;
    let svg = folder.chart(&name, &plan::chart(order, report.exercise))?;
    let sheet = order.sheet();
    let title = format!("In the bay: {}", page.family.title);
    let body = html! {
        p { (page.family.arrangement()) " · " a href=(family_file(id)) { "everything about this family" } }
        @if !report.exercise { (parts::verdict(&sheet.verdict)) }
        (parts::figure(&svg, &name))
        (parts::basis(&sheet))
        @for grid in sheet.grids.iter().filter(|g| g.id != "cautions") {
            @if grid.id == "plan" { (parts::table(grid)) }
            @else { details { summary { (grid.title) } (parts::table(grid)) } }
        }
        (parts::files(&name))
        p { "With what is known already, or another shop's minutes: "
            code { "boretally test-order --family " (id) " --seen TEST:RESULT" } }
        h2 { "Read with care" }
        (parts::caveats(&order.caveats))
        (parts::cautions())
    };
    let links = report.links();
    let shell = shell::Shell {
        title: &title,
        stamp: report.stamp.as_deref(),
        links: &links,
    };
    let file = format!("bay-{id}.html");
    folder.page(&file, &shell::page(&shell, body))?;
    Ok(file)
}
