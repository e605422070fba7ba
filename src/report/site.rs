//! The whole report: what goes into it, and the folder it is written to.

use std::path::{Path, PathBuf};

use super::chart::forest::{Forest, Row};
use super::chart::picture::Picture;
use super::page;
use super::render::{self, number};
use crate::answer::budget::Budget;
use crate::answer::cylinders::Cylinders;
use crate::answer::life::Life;
use crate::answer::rates::Rates;
use crate::answer::rates::types::RateRow;
use crate::answer::readings::Readings;
use crate::answer::repeats::Repeats;
use crate::answer::shares::Shares;
use crate::answer::sheet::Answer;
use crate::answer::test_order::TestOrder;
use crate::answer::test_order::check::TestOrderCheck;
use crate::domain::family::EngineFamily;
use crate::domain::problem::{Problem, Result};

/// The answers a report shows.
pub struct Report {
    /// Title of the first page.
    pub title: String,
    /// Stamp on every page, such as `invented data`.
    pub stamp: Option<String>,
    /// Leave verdicts out of the family pages, for students.
    pub exercise: bool,
    /// Rates by engine family.
    pub by_family: Rates,
    /// Rates by engine family and cause.
    pub by_family_and_cause: Rates,
    /// Shares of causes over all families.
    pub shares: Shares,
    /// One page a family.
    pub families: Vec<FamilyPage>,
    /// The budget of a fleet, where a roster was given.
    pub budget: Option<Budget>,
    /// Whether test orders were any good, where small numbers need not stay out of the pages.
    pub check: Option<TestOrderCheck>,
    /// Counts of records and what the rules did to them.
    pub facts: Vec<(String, i64)>,
}

/// The answers of one family's page.
pub struct FamilyPage {
    /// The family.
    pub family: EngineFamily,
    /// Rates by mileage band.
    pub by_band: Rates,
    /// Rates by cause.
    pub by_cause: Rates,
    /// Shares of causes.
    pub shares: Shares,
    /// First failures over distance, each under the name of its files.
    pub lives: Vec<(&'static str, Life)>,
    /// Cylinder comparisons: every cause together, then the most frequent ones.
    pub cylinders: Vec<Cylinders>,
    /// Repairs that happen again.
    pub repeats: Repeats,
    /// Readings of the best-filled tests.
    pub readings: Vec<Readings>,
    /// Which test first; `None` where small numbers must stay out of the pages.
    pub test_order: Option<TestOrder>,
}

impl Report {
    /// Links to all pages.
    pub fn links(&self) -> Vec<(String, String)> {
        std::iter::once(("index.html".to_string(), "All engines".to_string()))
            .chain(
                self.families
                    .iter()
                    .map(|f| (family_file(&f.family.id), f.family.title.clone())),
            )
            .chain(self.budget.iter().map(|_| {
                (
                    page::budget::FILE.to_string(),
                    page::budget::TITLE.to_string(),
                )
            }))
            .chain(self.check.iter().map(|_| {
                (
                    page::check::FILE.to_string(),
                    page::check::TITLE.to_string(),
                )
            }))
            .collect()
    }

    /// Writes every page, chart and table into `folder`; gives the first page.
    pub fn write(&self, folder: &Path) -> Result<PathBuf> {
        let folder = Folder(folder.to_path_buf());
        let threads = std::thread::available_parallelism().map_or(1, |n| n.get());
        let share = self.families.len().div_ceil(threads).max(1);
        // Drawing pictures is most of the work, and the pages do not know of each other.
        std::thread::scope(|scope| {
            let workers: Vec<_> = self
                .families
                .chunks(share)
                .map(|families| {
                    let folder = &folder;
                    scope.spawn(move || {
                        families
                            .iter()
                            .try_for_each(|f| page::family::write(self, f, folder))
                    })
                })
                .collect();
            let index = page::index::write(self, &folder);
            let budget = self.budget.iter();
            let budget = budget.map(|b| page::budget::write(self, b, &folder));
            let budget: Result<()> = budget.collect();
            let check = self.check.iter();
            let check = check.map(|c| page::check::write(self, c, &folder));
            let check: Result<()> = check.collect();
            workers.into_iter().try_for_each(|worker| {
                worker.join().unwrap_or_else(|payload| {
                    Err(Problem::stopped_inside("drawing a page", payload.as_ref()))
                })
            })?;
            budget.and(check).and(index)
        })?;
        Ok(folder.0.join("index.html"))
    }
}

/// File of a family's page.
pub fn family_file(id: &str) -> String {
    format!("family-{id}.html")
}

/// The folder of a report.
pub struct Folder(PathBuf);

impl Folder {
    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// Writes an answer's main table in four forms and as JSON.
    pub fn answer<A: Answer>(&self, name: &str, answer: &A) -> Result<()> {
        let sheet = answer.sheet();
        let tables = self.0.join("tables");
        let write = |kind: &str, bytes: &[u8]| {
            render::file::write(&tables.join(format!("{name}.{kind}")), bytes)
        };
        write("csv", &render::csv::render(&sheet)?)?;
        write("md", render::markdown::render(&sheet).as_bytes())?;
        write("json", &render::json::render(answer)?)?;
        write("parquet", &render::parquet::render(&sheet)?)
    }

    /// Writes a chart as SVG and PNG; gives the SVG for the page.
    pub fn chart(&self, name: &str, picture: &Picture) -> Result<String> {
        let svg = picture.svg()?;
        let charts = self.0.join("charts");
        render::file::write(&charts.join(format!("{name}.svg")), svg.as_bytes())?;
        render::file::write(&charts.join(format!("{name}.png")), &picture.png()?)?;
        Ok(svg)
    }

    /// Writes a page.
    pub fn page(&self, file: &str, html: &str) -> Result<()> {
        render::file::write(&self.0.join(file), html.as_bytes())
    }
}

/// A forest plot of an answer's rows, highest rank first, rows without exposure last.
pub fn rate_forest(answer: &Rates, title: &str) -> Forest {
    let mut rows: Vec<&RateRow> = answer
        .rows
        .iter()
        .filter(|r| r.evidence.events + r.walk_ins + r.after_last_visit > 0 || r.rank.is_some())
        .collect();
    rows.sort_by_key(|r| r.rank.unwrap_or(usize::MAX));
    let level = 100.0 * answer.question.level;
    let mut lines = answer.verdict.clone();
    lines.push(format!(
        "Thick: {} interval at {level:.0} %. Thin: across sites, where they vary. Square: apart from the other engines.",
        answer.question.method
    ));
    let unit = answer.distance_unit();
    Forest {
        title: title.to_string(),
        lines,
        unit: answer.unit.clone(),
        counts_title: format!("failures in {}", unit.symbol()),
        reference: answer
            .total
            .estimate
            .as_ref()
            .filter(|_| answer.question.by == ["family"])
            .map(|e| e.value),
        percent: false,
        rows: rows
            .into_iter()
            .map(|r| Row {
                label: r.key.title(),
                estimate: r.estimate.clone(),
                wider: r
                    .across_sites
                    .as_ref()
                    .filter(|a| a.widened)
                    .map(|a| a.interval.clone()),
                counts: format!(
                    "{} in {}",
                    r.evidence.events,
                    number::quantity(unit.from_metres(r.evidence.exposure_m.unwrap_or(0)))
                ),
                apart: r
                    .versus_others
                    .as_ref()
                    .is_some_and(|v| v.p_adjusted < 0.05),
            })
            .collect(),
    }
}
