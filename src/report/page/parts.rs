//! Pieces that pages share: verdict, chart, table, caveats, cautions, links to files.

use maud::{Markup, PreEscaped, html};

use crate::answer::parts::Caveat;
use crate::answer::sheet::{Grid, Sheet, Show};
use crate::domain::caution::{HAZARDS, NOTICES};
use crate::report::render::number;

/// Plain words first.
pub fn verdict(lines: &[String]) -> Markup {
    html! { @if !lines.is_empty() { div.verdict { @for line in lines { p { (line) } } } } }
}

/// Filters, period, method.
pub fn basis(sheet: &Sheet) -> Markup {
    html! { div.basis { @for line in &sheet.basis { p { (line) } } } }
}

/// An inline chart with links to its files.
pub fn figure(svg: &str, name: &str) -> Markup {
    html! {
        figure {
            (PreEscaped(svg))
            figcaption.files { a href=(format!("charts/{name}.svg")) { "SVG" } " · " a href=(format!("charts/{name}.png")) { "PNG" } }
        }
    }
}

/// A table; the last row is set apart when it is the total.
pub fn table(grid: &Grid) -> Markup {
    let class = |show: Show| if show == Show::Text { "text" } else { "" };
    html! {
        div.scroll {
            table {
                caption { (grid.title) }
                thead { tr { @for h in &grid.headings { th class=(class(h.show)) scope="col" { (h.title) } } } }
                tbody {
                    @for row in &grid.rows {
                        tr.all[is_total(row)] {
                            @for (cell, h) in row.iter().zip(&grid.headings) {
                                td class=(class(h.show)) { (number::text(cell, h.show)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn is_total(row: &[crate::answer::sheet::Cell]) -> bool {
    matches!(row.first(), Some(crate::answer::sheet::Cell::Text(t)) if t == "all")
}

/// Links to an answer's files.
pub fn files(name: &str) -> Markup {
    html! {
        p.files {
            "This table: "
            @for (i, kind) in ["csv", "md", "json", "parquet"].into_iter().enumerate() {
                @if i > 0 { " · " }
                a href=(format!("tables/{name}.{kind}")) { (kind.to_uppercase()) }
            }
        }
    }
}

/// A part of a page, and the caveats of its answers.
pub type CaveatGroup<'a> = (&'a str, Vec<&'a Caveat>);

/// Caveats under the part of the page they belong to, each once on the page.
pub fn grouped_caveats(groups: &[CaveatGroup<'_>]) -> Markup {
    let mut shown: Vec<&Caveat> = Vec::new();
    let mut parts = Vec::new();
    for (title, caveats) in groups {
        let before = shown.len();
        for caveat in caveats {
            if !shown.contains(caveat) {
                shown.push(caveat);
            }
        }
        parts.push((*title, before..shown.len()));
    }
    html! {
        @for (title, range) in parts.into_iter().filter(|(_, range)| !range.is_empty()) {
            h3 { (title) }
            (caveats(shown.get(range).unwrap_or_default().iter().copied()))
        }
    }
}

/// Caveats of several answers, each once.
pub fn caveats<'a>(all: impl IntoIterator<Item = &'a Caveat>) -> Markup {
    let mut shown: Vec<&Caveat> = Vec::new();
    for caveat in all {
        if !shown.contains(&caveat) {
            shown.push(caveat);
        }
    }
    html! { ul.care { @for c in shown { li { (c.text) " " code { (c.id) } } } } }
}

/// The box of cautions that stands on every page.
pub fn cautions() -> Markup {
    html! {
        section.cautions {
            h2 { "Before anyone tests" }
            ul { @for c in NOTICES { li { (c.text) } } }
            h3 { "Usual cautions around these tests" }
            ul { @for c in HAZARDS { li { b { (c.title) } ": " (c.text) span.mark { " (" (c.mark) ")" } } } }
            p.basis { "The vehicle maker's procedure and local rules come first." }
        }
    }
}
