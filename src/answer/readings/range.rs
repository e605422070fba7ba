//! Median and central 95 % of healthy readings, with intervals that respect that cylinders of one engine are alike.

use super::types::Range;
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::bootstrap::percentile_limits;
use crate::stats::interval::Interval;
use crate::stats::order_statistic::{content_confidence, quantile_ranks};
use crate::stats::quantile::{QuantileType, median, quantile};
use crate::stats::robust_interval::robust_interval;

/// The central share of healthy readings.
pub const CENTRAL: f64 = 0.95;
/// Confidence of the intervals on its two ends, as reference-interval guidance has it.
pub const ENDS_LEVEL: f64 = 0.90;
/// Engines from which the ends are order statistics.
pub const ORDER_STATISTICS_FROM: u64 = 120;
/// Engines from which the robust method is used; below, readings are for comparison only.
pub const ROBUST_FROM: u64 = 20;
/// Samples drawn for the intervals of the robust method.
const DRAWS: usize = 500;

/// What a range is of.
#[derive(Debug, Clone, Copy)]
pub struct Of<'a> {
    /// Stable id.
    pub id: &'static str,
    /// In words.
    pub title: &'a str,
    /// Unit for people.
    pub unit: &'a str,
    /// Whether a value below 0 cannot be read.
    pub never_negative: bool,
    /// Confidence level of the median's interval.
    pub level: f64,
    /// Seed of the draws.
    pub seed: u64,
}

/// The range of `engines`, each with its values.
///
/// With 120 engines or more the ends are type-6 quantiles with order-statistic limits; from 20 on the robust method with limits
/// from engines drawn again; below, least and greatest only. Limits stand at the ranks that as many independent values as there
/// are engines would give, whatever the number of cylinders: alike cylinders of one engine add no more than that for certain.
pub fn range(of: Of<'_>, engines: &[Vec<f64>]) -> Result<Range> {
    let n = engines.len() as u64;
    let mut all: Vec<f64> = engines.iter().flatten().copied().collect();
    all.sort_by(f64::total_cmp);
    let mut found = Range {
        id: of.id,
        title: of.title.to_string(),
        unit: of.unit.to_string(),
        engines: n,
        readings: all.len() as u64,
        method: "comparison-only",
        median: None,
        lower: None,
        upper: None,
        least: all.first().copied(),
        greatest: all.last().copied(),
        held_confidence: None,
    };
    if all.is_empty() {
        return Ok(found);
    }
    found.median = Some(at(&all, n, 0.5, of.level)?);
    if n >= ORDER_STATISTICS_FROM {
        let tail = (1.0 - CENTRAL) / 2.0;
        found.method = "order-statistic";
        found.lower = Some(at(&all, n, tail, ENDS_LEVEL)?);
        found.upper = Some(at(&all, n, 1.0 - tail, ENDS_LEVEL)?);
    } else if n >= ROBUST_FROM
        && let Some((lower, upper)) = robust(of, engines, &all)?
    {
        found.method = "robust";
        (found.lower, found.upper) = (Some(lower), Some(upper));
    } else {
        found.held_confidence = Some(told(content_confidence(n, CENTRAL, 2))?);
    }
    Ok(found)
}

/// A quantile with the limits that `n` independent values allow.
///
/// Where `n` values reach no such level the limits are the extremes, at the level they do reach (the median's: `1 - 2^(1 - n)`).
fn at(sorted: &[f64], n: u64, p: f64, level: f64) -> Result<Estimate> {
    let position = |p: f64| told(quantile(sorted, p, QuantileType::Weibull));
    let ranks = told(quantile_ranks(n, p, level))?;
    let share = |rank: u64| rank as f64 / (n as f64 + 1.0);
    let (lower, upper, level) = match (ranks.lower, ranks.upper) {
        (Some(l), Some(u)) => (share(l), share(u), level),
        _ => {
            let n = n as f64;
            (0.0, 1.0, 1.0 - p.powf(n) - (1.0 - p).powf(n))
        }
    };
    Ok(Estimate {
        value: position(p)?,
        lower: position(lower)?,
        upper: Some(position(upper)?),
        level: level.max(0.0),
        method: "order-statistic".to_string(),
    })
}

fn robust(of: Of<'_>, engines: &[Vec<f64>], all: &[f64]) -> Result<Option<(Estimate, Estimate)>> {
    let floor = if of.never_negative {
        0.0
    } else {
        f64::NEG_INFINITY
    };
    let Some(found) = told(robust_interval(all, CENTRAL))? else {
        return Ok(None);
    };
    let ends = |sample: &[f64]| {
        Ok(match robust_interval(sample, CENTRAL)? {
            Some(r) => (r.lower.max(floor), r.upper),
            // A sample without spread: its middle is all it says.
            None => {
                let middle = median(&mut sample.to_vec()).unwrap_or(f64::NAN);
                (middle, middle)
            }
        })
    };
    let (lower, upper) = told(percentile_limits(engines, DRAWS, of.seed, ENDS_LEVEL, ends))?;
    let estimate = |value: f64, limits: Interval| Estimate {
        value,
        lower: limits.lower.min(value),
        upper: Some(limits.upper.max(value)),
        level: ENDS_LEVEL,
        method: "robust-bootstrap".to_string(),
    };
    Ok(Some((
        estimate(found.lower.max(floor), lower),
        estimate(found.upper, upper),
    )))
}
