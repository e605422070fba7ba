//! What repairs took: the recorded lines.

use super::ask::BudgetAsk;
use crate::domain::day::Day;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;

/// One recorded finding of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Source and number of the case.
    pub case: (String, String),
    /// Pseudonym of the vehicle.
    pub vehicle: String,
    /// Day the case was opened.
    pub opened: Day,
    /// Day it was closed, or opened where that is unknown.
    pub ended: Day,
    /// Whether that day is known.
    pub closed_known: bool,
    /// Family; none where unknown.
    pub family: Option<String>,
    /// Cause id.
    pub cause: String,
    /// Repair id.
    pub repair: Option<String>,
    /// Labour hours.
    pub labour_hours: Option<f64>,
    /// Net cost in minor units.
    pub cost: Option<i64>,
    /// Currency of the cost.
    pub currency: Option<String>,
    /// Year whose prices it is in.
    pub price_year: Option<i64>,
    /// Who paid.
    pub payer: Option<String>,
}

/// All of them, by vehicle and day.
///
/// # Errors
/// Those of the statement.
pub fn tally(engine: &mut dyn Engine, ask: &BudgetAsk) -> Result<Vec<Line>> {
    let batch = statement::query(engine, "budget_jobs", &ask.of_jobs())?;
    let table = Table::new(&batch);
    let (sources, cases) = (table.text("source")?, table.text("case_id")?);
    let vehicles = table.names("vehicle")?;
    let (opened, ended) = (table.day("opened")?, table.day("ended")?);
    let closed_known = table.count("closed_known")?;
    let families = table.text("engine_family")?;
    let (causes, repairs) = (table.text("cause")?, table.text("repair")?);
    let hours = table.number("labour_hours")?;
    let costs = table.whole("cost")?;
    let (currencies, years) = (table.text("currency")?, table.whole("price_year")?);
    let payers = table.text("payer")?;
    let who = sources.into_iter().zip(cases).zip(vehicles);
    let when = opened.into_iter().zip(ended).zip(closed_known);
    let what = families.into_iter().zip(causes).zip(repairs);
    let price = costs.into_iter().zip(currencies).zip(years).zip(payers);
    let rows = who.zip(when).zip(what).zip(hours).zip(price);
    let line = |row| {
        let (((who, when), what), labour_hours) = row;
        let ((source, case_id), vehicle) = who;
        let ((opened, ended), closed_known): ((Option<Day>, Option<Day>), i64) = when;
        let ((family, cause), repair) = what;
        Some(Line {
            case: (source?, case_id?),
            vehicle: vehicle?,
            opened: opened?,
            ended: ended.or(opened)?,
            closed_known: closed_known > 0,
            family,
            cause: cause?,
            repair,
            labour_hours,
            cost: None,
            currency: None,
            price_year: None,
            payer: None,
        })
    };
    Ok(rows
        .filter_map(|(row, (((cost, currency), price_year), payer))| {
            line(row).map(|line: Line| Line {
                cost,
                currency,
                price_year,
                payer,
                ..line
            })
        })
        .collect())
}
