//! How often an engine fails again after a repair with the head off, against first failures.

use super::types::SecondFailure;
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::stratified_rate_ratio::{self, Stratum as Rates};
use crate::tally::repeats::{HeadRepairs, SecondFailures, Stratum};

/// Both comparisons; none where no engine was seen after such a repair.
pub(super) fn second_failures(found: &SecondFailures, level: f64) -> Result<Vec<SecondFailure>> {
    [
        ("any_cylinder", &found.any_cylinder),
        ("same_cylinder", &found.same_cylinder),
    ]
    .into_iter()
    .filter(|(_, strata)| strata.iter().any(|s| s.after_m > 0))
    .map(|(what, strata)| compare(what, found, strata, level))
    .collect()
}

fn compare(
    what: &'static str,
    found: &SecondFailures,
    strata: &[Stratum],
    level: f64,
) -> Result<SecondFailure> {
    let (both, others): (Vec<&Stratum>, Vec<&Stratum>) =
        strata.iter().partition(|s| s.after_m > 0 && s.first_m > 0);
    let rates: Vec<Rates> = both
        .iter()
        .map(|s| Rates {
            x1: s.after_events,
            t1: s.after_m as f64,
            x2: s.first_events,
            t2: s.first_m as f64,
        })
        .collect();
    let common = told(stratified_rate_ratio::exact(&rates, level))?;
    let after_events: u64 = both.iter().map(|s| s.after_events).sum();
    let first_events: u64 = both.iter().map(|s| s.first_events).sum();
    let sum = |take: fn(&HeadRepairs) -> u64| found.repairs.values().map(take).sum();
    let some = after_events + first_events > 0;
    Ok(SecondFailure {
        what,
        repairs: sum(|r| r.repairs),
        unplaced: sum(|r| r.unplaced),
        vehicles: sum(|r| r.vehicles),
        after_events,
        after_m: both.iter().map(|s| s.after_m).sum(),
        first_events,
        first_m: both.iter().map(|s| s.first_m).sum(),
        expected: common.expected,
        ratio: some.then(|| Estimate {
            value: common.ratio.unwrap_or(f64::INFINITY),
            lower: common.lower,
            upper: common.upper,
            level,
            method: "exact-conditional-stratified".to_string(),
        }),
        p: common.p_central,
        strata: both.len(),
        left_out: others.iter().map(|s| s.after_events).sum(),
    })
}
