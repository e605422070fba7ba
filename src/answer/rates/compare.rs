//! Each cell against the same cell of all other engines: is this engine worse than the rest, or is it chance?

use super::compute::by_key;
use super::types::{RateRow, VersusOthers};
use crate::answer::parts::Estimate;
use crate::answer::statistic;
use crate::domain::problem::Result;
use crate::stats::{multiple, rate_ratio};
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;
use crate::tally::{Dimension, KeyPart};

/// Fills in the exact rate ratios with Benjamini-Hochberg adjusted p-values; gives the number of cells compared.
///
/// `all_engines` holds the cells of every engine without the family split; the others are that cell less this one.
pub fn compare(
    rows: &mut [RateRow],
    tally: &RateTally,
    all_engines: Option<&RateTally>,
    level: f64,
) -> Result<usize> {
    let Some(all) = all_engines else {
        return Ok(0);
    };
    let everyone = by_key(all, |c| c.key.clone());
    let mut compared = Vec::new();
    for (i, cell) in tally.cells.iter().enumerate() {
        let others = everyone.get(&without_family(&tally.dimensions, &cell.key));
        if let Some(found) = others.and_then(|all| versus(cell, all, level).transpose()) {
            compared.push((i, found?));
        }
    }
    let raw: Vec<f64> = compared.iter().map(|(_, v)| v.p).collect();
    let adjusted = statistic::told(multiple::benjamini_hochberg(&raw))?;
    let n = compared.len();
    for ((i, mut versus), p) in compared.into_iter().zip(adjusted) {
        versus.p_adjusted = p;
        rows[i].versus_others = Some(versus);
    }
    Ok(n)
}

fn without_family(dimensions: &[Dimension], key: &[KeyPart]) -> Vec<KeyPart> {
    dimensions
        .iter()
        .zip(key)
        .filter(|(d, _)| **d != Dimension::Family)
        .map(|(_, k)| k.clone())
        .collect()
}

fn versus(cell: &RateCell, all: &RateCell, level: f64) -> Result<Option<VersusOthers>> {
    let other_events = all.events.saturating_sub(cell.events);
    let other_exposure_m = all.exposure_m - cell.exposure_m;
    if cell.exposure_m <= 0 || other_exposure_m <= 0 || cell.events + other_events == 0 {
        return Ok(None);
    }
    let found = statistic::told(rate_ratio::exact(
        cell.events,
        cell.exposure_m as f64,
        other_events,
        other_exposure_m as f64,
        level,
    ))?;
    Ok(Some(VersusOthers {
        ratio: Estimate {
            // Without failures of the others the ratio has no finite value; its lower limit still says something.
            value: found.ratio.unwrap_or(f64::INFINITY),
            lower: found.lower,
            upper: found.upper,
            level,
            method: "exact-conditional".to_string(),
        },
        p: found.p_central,
        p_adjusted: 1.0,
        other_events,
        other_exposure_m,
    }))
}
