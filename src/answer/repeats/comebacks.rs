//! Shares of repairs that came back.

use super::types::{Comeback, ComebackTotal};
use crate::answer::label::Labels;
use crate::answer::parts::Estimate;
use crate::answer::question::Rules;
use crate::answer::statistic::{proportion_method, told};
use crate::domain::problem::Result;
use crate::tally::Dimension;
use crate::tally::repeats::ComebackCount;

/// One row a repair, most repairs first within its group.
pub(super) fn comebacks(
    counts: &[ComebackCount],
    dimensions: &[Dimension],
    rules: &Rules,
    labels: Labels<'_>,
) -> Result<Vec<Comeback>> {
    let mut sorted: Vec<&ComebackCount> = counts.iter().collect();
    sorted.sort_by(|a, b| (&a.key, b.repairs, &a.repair).cmp(&(&b.key, a.repairs, &b.repair)));
    let row = |count: &ComebackCount| -> Result<Comeback> {
        let share = match count.repairs {
            0 => None,
            n => Some(share(count.came_back, n, rules)?),
        };
        Ok(Comeback {
            key: labels.key(dimensions, &count.key),
            repair: count.repair.clone(),
            title: labels.repair(&count.repair),
            repairs: count.repairs,
            came_back: count.came_back,
            share,
            too_recent: count.too_recent,
            vehicles: count.vehicles,
        })
    };
    sorted.into_iter().map(row).collect()
}

/// Fewer repairs of a kind than this, none of them back, and its interval alone says next to nothing.
const RARE: u64 = 10;

/// All repairs of each group together, and those of rare kinds together, so that no kind is left out for being rare.
pub(super) fn totals(comebacks: &[Comeback], rules: &Rules) -> Result<Vec<ComebackTotal>> {
    let judged = |c: &&Comeback| c.repairs > 0;
    let rare = |c: &Comeback| c.repairs < RARE && c.came_back == 0;
    let mut out = Vec::new();
    for group in comebacks.chunk_by(|a, b| a.key == b.key) {
        let kinds: Vec<&Comeback> = group.iter().filter(judged).collect();
        let rarer: Vec<&Comeback> = kinds.iter().copied().filter(|c| rare(c)).collect();
        for (of, kinds) in [("all", kinds), ("rare", rarer)] {
            let Some(first) = kinds.first() else {
                continue;
            };
            let (repairs, came_back) = kinds.iter().fold((0, 0), |(all, back), c| {
                (all + c.repairs, back + c.came_back)
            });
            out.push(ComebackTotal {
                key: first.key.clone(),
                of,
                repairs,
                came_back,
                share: share(came_back, repairs, rules)?,
                kinds: kinds.iter().map(|c| c.repair.clone()).collect(),
            });
        }
    }
    Ok(out)
}

fn share(came_back: u64, repairs: u64, rules: &Rules) -> Result<Estimate> {
    let method = proportion_method(&rules.method)?;
    let limits = told((method.function)(came_back, repairs, rules.level))?;
    Ok(Estimate {
        value: came_back as f64 / repairs as f64,
        lower: limits.lower,
        upper: Some(limits.upper),
        level: rules.level,
        method: method.id.to_string(),
    })
}
