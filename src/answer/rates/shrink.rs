//! Shrinking small cells towards the mean: a family with one failure in a short distance is not "the worst".

use std::cmp::Ordering;

use super::compute::exposure;
use super::types::{RateRow, Spread};
use crate::answer::parts::Estimate;
use crate::answer::statistic;
use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::stats::gamma_poisson;
use crate::tally::KeyPart;
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;

/// Fewest cells with exposure for which a distribution over cells means something.
const FEWEST_CELLS: usize = 3;

/// Fits the gamma-Poisson model to all cells with exposure, fills in shrunk rates and ranks.
pub fn shrink(
    rows: &mut [RateRow],
    tally: &RateTally,
    unit: DistanceUnit,
    level: f64,
) -> Result<Option<Spread>> {
    let counts = counts(tally, unit);
    let Some(fit) = fit(&counts)? else {
        rank(rows, |r| r.estimate.as_ref().map(|e| e.value));
        return Ok(None);
    };
    for &(i, events, exposure) in &counts {
        let shrunk = statistic::told(fit.shrunk(events, exposure, level))?;
        rows[i].shrunk = Some(Estimate {
            value: shrunk.mean,
            lower: shrunk.interval.lower,
            upper: Some(shrunk.interval.upper),
            level,
            method: "gamma-poisson".to_string(),
        });
    }
    rank(rows, |r| r.shrunk.as_ref().map(|e| e.value));
    Ok(Some(Spread {
        mean: fit.mean,
        shape: (!fit.boundary).then_some(fit.shape),
        p: fit.p,
        cells: counts.len(),
    }))
}

/// The cell that [`shrink`] would rank first among those that are fully known and have a failure, without the limits that the
/// table shows.
pub fn highest(tally: &RateTally, unit: DistanceUnit) -> Result<Option<&RateCell>> {
    let counts = counts(tally, unit);
    let fit = fit(&counts)?;
    let mut best: Option<(f64, f64, &RateCell)> = None;
    for &(i, events, exposure) in &counts {
        let cell = &tally.cells[i];
        if events == 0 || cell.key.contains(&KeyPart::Unknown) {
            continue;
        }
        let raw = events as f64 / exposure;
        let value = fit.as_ref().map_or(raw, |f| f.mean(events, exposure));
        let higher = |(v, r, _): &(f64, f64, &RateCell)| {
            value.total_cmp(v).then(raw.total_cmp(r)) == Ordering::Greater
        };
        if best.as_ref().is_none_or(higher) {
            best = Some((value, raw, cell));
        }
    }
    Ok(best.map(|(.., cell)| cell))
}

/// Place, failures and exposure of the cells that have exposure.
fn counts(tally: &RateTally, unit: DistanceUnit) -> Vec<(usize, u64, f64)> {
    tally
        .cells
        .iter()
        .enumerate()
        .filter(|(_, c)| c.exposure_m > 0)
        .map(|(i, c)| (i, c.events, exposure(c.exposure_m, unit)))
        .collect()
}

/// The distribution of rates over cells; none where it would mean nothing.
fn fit(counts: &[(usize, u64, f64)]) -> Result<Option<gamma_poisson::Fit>> {
    if counts.len() < FEWEST_CELLS || counts.iter().all(|c| c.1 == 0) {
        return Ok(None);
    }
    let cells: Vec<(u64, f64)> = counts.iter().map(|c| (c.1, c.2)).collect();
    statistic::told(gamma_poisson::fit(&cells)).map(Some)
}

/// Ranks rows by a value, highest first; ties (all cells, where they do not differ more than chance) by the raw rate, then by
/// key order, so that the same input always ranks the same.
fn rank(rows: &mut [RateRow], value: impl Fn(&RateRow) -> Option<f64>) {
    let raw = |r: &RateRow| r.estimate.as_ref().map_or(0.0, |e| e.value);
    let mut order: Vec<(usize, f64, f64)> = rows
        .iter()
        .enumerate()
        .filter_map(|(i, r)| value(r).map(|v| (i, v, raw(r))))
        .collect();
    order.sort_by(|a, b| {
        b.1.total_cmp(&a.1)
            .then(b.2.total_cmp(&a.2))
            .then(a.0.cmp(&b.0))
    });
    for (place, (i, ..)) in order.into_iter().enumerate() {
        rows[i].rank = Some(place + 1);
    }
}
