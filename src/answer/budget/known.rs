//! The cost if nothing were left open: every printed chance and every recorded cost taken as the truth. What the budget's own range is
//! wider by is what few records add.

use super::fleet::Shares;
use super::jobs::Job;
use super::model::Family;
use super::outlook::{Money, of_distribution};
use super::types::{Expected, Range};
use crate::stats::aggregate::{Amounts, Part, total};

/// Chances of one family are gathered into so many groups at the most, each at its mean.
const GROUPS: usize = 48;
/// Steps of the lattice up to six times the dearest repair or twice the expected total, whichever is more.
const STEPS: f64 = 1024.0;

/// Everything it is made from.
pub struct Certain<'a> {
    /// Each unit's cells, with its family.
    pub units: Vec<(usize, &'a Shares)>,
    /// Chance and expected repairs by cell.
    pub chances: &'a [(f64, f64)],
    /// Families.
    pub families: &'a [Family],
    /// Recorded jobs.
    pub jobs: &'a [Job],
    /// Money.
    pub money: Money,
}

/// Expected cost and ranges; none where no cost is known.
pub fn if_known(certain: &Certain) -> Option<Expected> {
    let all: Vec<f64> = certain.jobs.iter().filter_map(|job| job.cost).collect();
    let dearest = all.iter().copied().reduce(f64::max)?;
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    let by_family: Vec<Vec<f64>> = (0..certain.families.len())
        .map(|family| probabilities(certain, family))
        .collect();
    let expected: f64 = by_family.iter().flatten().sum::<f64>() * mean;
    let step = (6.0 * dearest).max(2.0 * expected) / STEPS;
    let lattices: Vec<Amounts> = certain
        .families
        .iter()
        .map(|family| {
            let own = certain
                .jobs
                .iter()
                .filter(|job| job.family.as_ref() == Some(&family.id));
            let own: Vec<f64> = own.filter_map(|job| job.cost).collect();
            let costs = if own.is_empty() { &all } else { &own };
            let weight = 1.0 / costs.len() as f64;
            Amounts::on_lattice(costs.iter().map(|cost| (*cost, weight)), step)
        })
        .collect();
    let parts: Vec<(Part, &Amounts)> = by_family
        .iter()
        .zip(&lattices)
        .flat_map(|(chances, amounts)| {
            grouped(chances)
                .into_iter()
                .map(move |part| (part, amounts))
        })
        .collect();
    let major = |x: f64| certain.money.major(x * step);
    let steps = of_distribution(&total(&parts));
    let ranges = steps.ranges.iter().map(|r| Range {
        level: r.level,
        lower: major(r.lower),
        upper: major(r.upper),
    });
    Some(Expected {
        expected: major(steps.expected),
        ranges: ranges.collect(),
    })
}

/// Chances of a family's units, in order.
fn probabilities(certain: &Certain, family: usize) -> Vec<f64> {
    let chance = |shares: &Shares| -> f64 {
        let each = shares
            .iter()
            .filter_map(|(cell, share)| Some(share * certain.chances.get(*cell)?.0));
        each.sum()
    };
    let own = certain.units.iter().filter(|(of, _)| *of == family);
    let mut list: Vec<f64> = own.map(|(_, shares)| chance(shares)).collect();
    list.sort_by(f64::total_cmp);
    list
}

/// Neighbouring chances as one part at their mean.
fn grouped(sorted: &[f64]) -> Vec<Part<'static>> {
    sorted
        .chunks(sorted.len().div_ceil(GROUPS).max(1))
        .map(|chunk| Part::Once {
            units: chunk.len() as u64,
            probability: chunk.iter().sum::<f64>() / chunk.len() as f64,
        })
        .collect()
}
