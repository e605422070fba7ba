//! The part of a family's page that tells how far engines come before the first failure.

use maud::{Markup, html};

use super::parts;
use crate::answer::life::Life;
use crate::answer::life::types::{GroupLife, Status};
use crate::answer::life::verdict;
use crate::answer::sheet::Answer;
use crate::domain::problem::Result;
use crate::report::chart::{hazard, incidence, probability_plot, survival};
use crate::report::site::{Folder, Report};

/// Fewest causes for a chart of which comes first.
const CAUSES: usize = 2;

/// Writes charts and tables of the lives and gives the section; nothing where no engine was watched.
pub fn section(
    report: &Report,
    family: &str,
    title: &str,
    lives: &[(&'static str, Life)],
    folder: &Folder,
) -> Result<Markup> {
    let mut parts_of = Vec::new();
    for (name, life) in lives {
        let watched = |g: &&GroupLife| g.status != Status::NothingObserved;
        if let Some(group) = life.groups.iter().find(watched) {
            parts_of.push(part(
                report,
                &format!("{family}-{name}"),
                title,
                life,
                group,
                folder,
            )?);
        }
    }
    Ok(html! {
        @if !parts_of.is_empty() {
            h2 { "How far until the first failure" }
            p { "Every engine is followed from where it was first seen to its first failure, or to where it was last seen without. Engines that \
                were seen late enter late: what failed before nobody saw, and it is not made up." }
            @for part in &parts_of { (part) }
        }
    })
}

fn part(
    report: &Report,
    name: &str,
    title: &str,
    life: &Life,
    group: &GroupLife,
    folder: &Folder,
) -> Result<Markup> {
    folder.answer(name, life)?;
    let mut told = vec![verdict::group(life, group)];
    told.extend(verdict::best(group));
    let shown = if report.exercise { &[][..] } else { &told };
    let mut charts = Vec::new();
    if !group.curve.is_empty() {
        let title = format!("How far does {title} come without a {}?", life.what);
        let picture = survival::chart(life, group, &title, shown);
        charts.push((format!("{name}-survival"), picture));
    }
    // Causes are told apart where all of them count; one distribution for all of them would say little.
    let every_cause = life.question.causes.is_empty();
    if every_cause && group.incidence.len() >= CAUSES {
        let title = format!("Which cause comes first on {title}?");
        charts.push((
            format!("{name}-causes"),
            incidence::chart(life, group, &title),
        ));
    }
    let mut behind = Vec::new();
    let plot_title = format!(
        "Does the first {} of {title} follow a Weibull life?",
        life.what
    );
    let plot = probability_plot::chart(life, group, &plot_title).filter(|_| !every_cause);
    behind.extend(plot.map(|plot| (format!("{name}-weibull"), plot)));
    if !every_cause && !group.hazard.is_empty() {
        let title = format!("Rate of a first {} on {title} by mileage band", life.what);
        behind.push((format!("{name}-hazard"), hazard::chart(life, group, &title)));
    }
    let draw = |list: Vec<(String, _)>| -> Result<Vec<(String, String)>> {
        let drawn = list.into_iter().map(|(name, picture)| {
            let svg = folder.chart(&name, &picture)?;
            Ok((name, svg))
        });
        drawn.collect()
    };
    let (charts, behind) = (draw(charts)?, draw(behind)?);
    let sheet = life.sheet();
    Ok(html! {
        h3 { "A first " (life.what) }
        @if !report.exercise { (parts::verdict(&told)) }
        @for (name, svg) in &charts { (parts::figure(svg, name)) }
        (parts::basis(&sheet))
        details {
            summary { "Distribution, rate by band, and the tables behind it" }
            @for (name, svg) in &behind { (parts::figure(svg, name)) }
            @for grid in &sheet.grids { (parts::table(grid)) }
        }
        (parts::files(name))
    })
}
