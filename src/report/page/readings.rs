//! The part of a family's page that shows what healthy cylinders read.

use maud::{Markup, html};

use super::parts;
use crate::answer::readings::Readings;
use crate::answer::sheet::Answer;
use crate::domain::problem::Result;
use crate::report::chart::distribution;
use crate::report::site::Folder;

/// Writes charts and tables of these answers; gives their part of the page, empty without an answer.
pub fn write(
    family: &str,
    answers: &[Readings],
    exercise: bool,
    folder: &Folder,
) -> Result<Markup> {
    let mut shown = Vec::with_capacity(answers.len());
    for answer in answers {
        let name = format!("{family}-readings-{}", answer.test);
        folder.answer(&name, answer)?;
        let svg = folder.chart(&name, &distribution::chart(answer, exercise))?;
        shown.push((answer, name, svg));
    }
    Ok(html! {
        @if !shown.is_empty() { h2 { "What healthy cylinders read" } }
        @for (answer, name, svg) in &shown {
            @let sheet = answer.sheet();
            h3 { (answer.test_title) ": " (answer.label) }
            (parts::figure(svg, name))
            (parts::basis(&sheet))
            details { summary { "The tables behind it" } @for grid in &sheet.grids { (parts::table(grid)) } }
            (parts::files(name))
        }
    })
}
