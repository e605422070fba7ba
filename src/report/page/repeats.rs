//! The part of a page that tells of repairs that happen again.

use maud::{Markup, html};

use super::parts;
use crate::answer::repeats::Repeats;
use crate::answer::sheet::Answer;
use crate::domain::problem::Result;
use crate::report::chart::{comebacks, mean_cumulative};
use crate::report::site::Folder;

/// Writes charts and tables under `name`; gives the section. `of` names the vehicles in titles, such as a family.
pub fn section(
    answer: &Repeats,
    name: &str,
    of: &str,
    exercise: bool,
    folder: &Folder,
) -> Result<Markup> {
    folder.answer(name, answer)?;
    let means = match answer.groups.iter().any(|g| !g.curve.is_empty()) {
        true => {
            let title = format!("How many repairs has a vehicle had, by distance? {of}");
            let chart = mean_cumulative::chart(answer, &title, exercise);
            Some(folder.chart(&format!("{name}-means"), &chart)?)
        }
        false => None,
    };
    let back = comebacks::chart(answer, &format!("Which repairs came back? {of}"))
        .map(|chart| folder.chart(&format!("{name}-comebacks"), &chart))
        .transpose()?;
    let sheet = answer.sheet();
    Ok(html! {
        h2 { "Repairs that happen again" }
        @if !exercise { (parts::verdict(&sheet.verdict)) }
        @if let Some(means) = &means { (parts::figure(means, &format!("{name}-means"))) }
        @if let Some(back) = &back { (parts::figure(back, &format!("{name}-comebacks"))) }
        (parts::basis(&sheet))
        details { summary { "The tables behind it" } @for grid in &sheet.grids { (parts::table(grid)) } }
        (parts::files(name))
    })
}
