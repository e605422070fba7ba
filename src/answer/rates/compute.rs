//! From counts and exposure to rates.

use std::collections::BTreeMap;

use super::types::{AcrossSites, RateRow, Rates, Sensitivity};
use super::{compare, shrink};
use crate::answer::caveats;
use crate::answer::label::{Labels, RowKey};
use crate::answer::parts::{Estimate, Evidence};
use crate::answer::question::{Question, Rules};
use crate::answer::statistic;
use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::stats::cluster;
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;

/// Rates are printed per this many kilometres or miles.
pub const PER: f64 = 100_000.0;

/// Everything the answer is computed from.
pub struct Input<'a> {
    /// What was asked.
    pub question: Question,
    /// The rules it was asked under.
    pub rules: &'a Rules,
    /// The cells.
    pub tally: &'a RateTally,
    /// The same cells of all engines without the family split, to compare with.
    pub all_engines: Option<&'a RateTally>,
    /// All cells as one.
    pub total: &'a RateCell,
    /// The same question under other rules.
    pub alternatives: &'a [Alternative],
    /// Words for ids.
    pub labels: Labels<'a>,
}

/// The tally of the same question under another rule.
pub struct Alternative {
    /// Stable id, such as `window-15`.
    pub id: &'static str,
    /// The rule in words.
    pub rule: String,
    /// Its cells.
    pub tally: RateTally,
    /// All its cells as one.
    pub total: RateCell,
}

/// The answer.
pub fn answer(input: Input<'_>) -> Result<Rates> {
    let Input {
        question,
        rules,
        tally,
        all_engines,
        total,
        alternatives,
        labels,
    } = input;
    let unit = rules.units.distance();
    let mut rows = rows(tally, rules, labels)?;
    let spread = shrink::shrink(&mut rows, tally, unit, rules.level)?;
    let cells_compared = compare::compare(&mut rows, tally, all_engines, rules.level)?;
    let total = row(total, RowKey(Vec::new()), rules)?;
    let highest = highest(&rows).map(|r| r.key.title());
    let sensitivity = alternatives
        .iter()
        .map(|a| alternative(a, highest.as_deref(), rules, labels))
        .collect::<Result<Vec<_>>>()?;
    let mut answer = Rates {
        unit: format!("failures per 100 000 {}", unit.symbol()),
        question,
        verdict: Vec::new(),
        total,
        rows,
        cells_compared,
        spread,
        sensitivity,
        caveats: Vec::new(),
    };
    answer.verdict = super::sheet::verdict(&answer);
    answer.caveats = caveats::rates(&answer, tally);
    Ok(answer)
}

fn rows(tally: &RateTally, rules: &Rules, labels: Labels<'_>) -> Result<Vec<RateRow>> {
    tally
        .cells
        .iter()
        .map(|cell| row(cell, labels.key(&tally.dimensions, &cell.key), rules))
        .collect()
}

fn row(cell: &RateCell, key: RowKey, rules: &Rules) -> Result<RateRow> {
    let unit = rules.units.distance();
    Ok(RateRow {
        key,
        estimate: estimate(cell.events, cell.exposure_m, unit, rules)?,
        across_sites: across_sites(cell, unit, rules)?,
        shrunk: None,
        rank: None,
        versus_others: None,
        walk_ins: cell.walk_ins,
        after_last_visit: cell.after_last_visit,
        evidence: Evidence {
            events: cell.events,
            vehicles: cell.vehicles.max(cell.event_vehicles),
            exposure_m: Some(cell.exposure_m),
            sites: cell.sites.len() as u64,
            first_date: cell.first,
            last_date: cell.last,
        },
        suppressed_below: None,
    })
}

/// Exposure in units of `PER` kilometres or miles.
pub fn exposure(metres: i64, unit: DistanceUnit) -> f64 {
    unit.from_metres(metres) / PER
}

fn estimate(
    events: u64,
    exposure_m: i64,
    unit: DistanceUnit,
    rules: &Rules,
) -> Result<Option<Estimate>> {
    if exposure_m <= 0 {
        return Ok(None);
    }
    let method = statistic::rate_method(&rules.method)?;
    let at_risk = exposure(exposure_m, unit);
    let limits = statistic::told((method.function)(events, at_risk, rules.level))?;
    Ok(Some(Estimate {
        value: events as f64 / at_risk,
        lower: limits.lower,
        upper: Some(limits.upper),
        level: rules.level,
        method: method.id.to_string(),
    }))
}

fn across_sites(cell: &RateCell, unit: DistanceUnit, rules: &Rules) -> Result<Option<AcrossSites>> {
    let sites: Vec<(u64, f64)> = cell
        .sites
        .iter()
        .filter(|s| s.exposure_m > 0)
        .map(|s| (s.events, exposure(s.exposure_m, unit)))
        .collect();
    if sites.len() < 2 || sites.iter().all(|s| s.0 == 0) {
        return Ok(None);
    }
    let wide = statistic::told(cluster::widened_rate_interval(&sites, rules.level))?;
    let (Some(dispersion), Some(p)) = (wide.heterogeneity.phi, wide.heterogeneity.p) else {
        return Ok(None);
    };
    Ok(Some(AcrossSites {
        sites: sites.len(),
        dispersion,
        p,
        widened: wide.is_widened(),
        interval: Estimate {
            value: wide.rate,
            lower: wide.widened.lower,
            upper: Some(wide.widened.upper),
            level: rules.level,
            method: cluster::WidenedRate::METHOD.to_string(),
        },
    }))
}

/// The row to name first: highest shrunk rate among rows that are fully known.
pub fn highest(rows: &[RateRow]) -> Option<&RateRow> {
    rows.iter()
        .filter(|r| !r.key.has_unknown() && r.evidence.events > 0)
        .filter_map(|r| r.rank.map(|rank| (rank, r)))
        .min_by_key(|(rank, _)| *rank)
        .map(|(_, row)| row)
}

fn alternative(
    other: &Alternative,
    main: Option<&str>,
    rules: &Rules,
    labels: Labels<'_>,
) -> Result<Sensitivity> {
    let unit = rules.units.distance();
    let highest = shrink::highest(&other.tally, unit)?
        .map(|cell| labels.key(&other.tally.dimensions, &cell.key).title());
    Ok(Sensitivity {
        id: other.id.to_string(),
        rule: other.rule.clone(),
        events: other.total.events,
        estimate: estimate(other.total.events, other.total.exposure_m, unit, rules)?,
        changes_verdict: highest.as_deref() != main,
        highest,
    })
}

/// Cells by key, for looking up the counterpart in another tally.
pub fn by_key<K: Ord, F: Fn(&RateCell) -> K>(tally: &RateTally, key: F) -> BTreeMap<K, &RateCell> {
    tally.cells.iter().map(|c| (key(c), c)).collect()
}
