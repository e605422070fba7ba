//! Shrinking small cells towards the mean: a family with one failure in a short distance is not "the worst".

use super::compute::exposure;
use super::types::{RateRow, Spread};
use crate::answer::parts::Estimate;
use crate::answer::statistic;
use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::stats::gamma_poisson;
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
    let at_risk: Vec<usize> = (0..tally.cells.len())
        .filter(|&i| tally.cells[i].exposure_m > 0)
        .collect();
    let counts: Vec<(u64, f64)> = at_risk
        .iter()
        .map(|&i| {
            (
                tally.cells[i].events,
                exposure(tally.cells[i].exposure_m, unit),
            )
        })
        .collect();
    if at_risk.len() < FEWEST_CELLS || counts.iter().all(|c| c.0 == 0) {
        rank(rows, |r| r.estimate.as_ref().map(|e| e.value));
        return Ok(None);
    }
    let fit = statistic::told(gamma_poisson::fit(&counts))?;
    for (&i, &(events, exposure)) in at_risk.iter().zip(&counts) {
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
        cells: at_risk.len(),
    }))
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
