//! Shares of repairs that came back.

use super::types::Comeback;
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
    let method = proportion_method(&rules.method)?;
    let mut sorted: Vec<&ComebackCount> = counts.iter().collect();
    sorted.sort_by(|a, b| (&a.key, b.repairs, &a.repair).cmp(&(&b.key, a.repairs, &b.repair)));
    let row = |count: &ComebackCount| -> Result<Comeback> {
        let share = match count.repairs {
            0 => None,
            n => {
                let limits = told((method.function)(count.came_back, n, rules.level))?;
                Some(Estimate {
                    value: count.came_back as f64 / n as f64,
                    lower: limits.lower,
                    upper: Some(limits.upper),
                    level: rules.level,
                    method: method.id.to_string(),
                })
            }
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
