//! One engine family: how often, from which distance on, which causes, which cylinder.

use maud::html;

use super::{bay, parts, readings, repeats, shell};
use crate::answer::sheet::Answer;
use crate::domain::problem::Result;
use crate::report::chart::{bands, cylinders, forest, shares as shares_chart};
use crate::report::site::{self, FamilyPage, Folder, Report};

/// Writes the page of one family with its charts and tables.
pub fn write(report: &Report, page: &FamilyPage, folder: &Folder) -> Result<()> {
    let id = &page.family.id;
    let title = &page.family.title;
    let name = |what: &str| format!("{id}-{what}");
    folder.answer(&name("rates-by-band"), &page.by_band)?;
    folder.answer(&name("rates-by-cause"), &page.by_cause)?;
    folder.answer(&name("shares"), &page.shares)?;
    let band = bands::chart(
        &page.by_band,
        &format!("From which distance on does {title} fail?"),
    );
    let band = folder.chart(&name("rates-by-band"), &band)?;
    let causes = forest::picture(&site::rate_forest(
        &page.by_cause,
        &format!("What fails on {title}, and how often?"),
    ));
    let causes = folder.chart(&name("rates-by-cause"), &causes)?;
    let shares = match page.shares.groups.first() {
        Some(group) if group.confirmed_cases > 0 => {
            let chart = shares_chart::chart(
                &page.shares,
                group,
                &format!("What was at fault on {title}?"),
            );
            Some(folder.chart(&name("shares"), &chart)?)
        }
        _ => None,
    };
    let mut cylinder_charts = Vec::new();
    for (i, answer) in page.cylinders.iter().enumerate() {
        let name = name(&format!(
            "cylinders-{}",
            answer.question.causes.first().map_or("all", String::as_str)
        ));
        folder.answer(&name, answer)?;
        let svg = folder.chart(&name, &cylinders::chart(answer, report.exercise))?;
        cylinder_charts.push((i, name, svg));
    }
    let repeated = repeats::section(
        &page.repeats,
        &name("repeats"),
        title,
        report.exercise,
        folder,
    )?;
    let reading_part = readings::write(id, &page.readings, report.exercise, folder)?;
    let life = super::life::section(report, id, title, &page.lives, folder)?;
    let (band_sheet, cause_sheet, share_sheet) = (
        page.by_band.sheet(),
        page.by_cause.sheet(),
        page.shares.sheet(),
    );
    let bay = match &page.test_order {
        Some(plan) => Some(bay::write(report, page, plan, folder)?),
        None => None,
    };
    let body = html! {
        p {
            (page.family.arrangement())
            @if let Some(bay) = &bay { " · " a href=(bay) { "Which test first: the page for the bay" } }
        }
        h2 { "From which distance on" }
        @if !report.exercise { (parts::verdict(&band_sheet.verdict)) }
        (parts::figure(&band, &name("rates-by-band")))
        (parts::basis(&band_sheet))
        @for grid in &band_sheet.grids { (parts::table(grid)) }
        (parts::files(&name("rates-by-band")))
        (life)
        h2 { "Which causes" }
        (parts::figure(&causes, &name("rates-by-cause")))
        @for grid in cause_sheet.grids.iter().take(1) { (parts::table(grid)) }
        (parts::files(&name("rates-by-cause")))
        @if let Some(shares) = &shares {
            (parts::figure(shares, &name("shares")))
            @for grid in &share_sheet.grids { (parts::table(grid)) }
            (parts::files(&name("shares")))
        }
        h2 { "Which cylinder" }
        @for (i, name, svg) in &cylinder_charts {
            @let sheet = page.cylinders[*i].sheet();
            h3 { (page.cylinders[*i].cause_words()) }
            (parts::figure(svg, name))
            (parts::basis(&sheet))
            details { summary { "The tables behind it" } @for grid in &sheet.grids { (parts::table(grid)) } }
            (parts::files(name))
        }
        (repeated)
        (reading_part)
        @if report.exercise {
            h2 { "Exercise" }
            p { "Which differences on this page are larger than chance would often give? Which cylinder would you test first, and why? \
                 What else could make one cylinder look worse than it is?" }
        }
        h2 { "Read with care" }
        (parts::grouped_caveats(&[
            ("Rates", page.by_band.caveats.iter().chain(&page.by_cause.caveats).collect()),
            ("Distance to the first failure", page.lives.iter().flat_map(|(_, l)| &l.caveats).collect()),
            ("Shares and cylinders", page.shares.caveats.iter().chain(page.cylinders.iter().flat_map(|c| &c.caveats)).collect()),
            ("Repairs", page.repeats.caveats.iter().collect()),
            ("Readings", page.readings.iter().flat_map(|r| &r.caveats).collect()),
        ]))
        (parts::cautions())
    };
    let links = report.links();
    let shell = shell::Shell {
        title,
        stamp: report.stamp.as_deref(),
        links: &links,
    };
    folder.page(&site::family_file(id), &shell::page(&shell, body))
}
