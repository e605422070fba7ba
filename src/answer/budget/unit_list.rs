//! Unit by unit: chance, expected repairs and cost, rank, and the reason for it.

use std::collections::BTreeSet;

use super::fleet::{Cell, Shares, Unit, cell_hazard};
use super::forecast::Expectation;
use super::model::{Family, Model, typical};
use super::outlook::Money;
use super::types::UnitOutlook;
use crate::answer::words;
use crate::domain::distance::DistanceUnit;
use crate::stats::pooled_weibull::Life;

/// Draws a unit's chance is averaged over.
const DRAWS: usize = 200;
/// A reason is named when without it the unit's risk would be lower by this factor.
const NOTABLE: f64 = 1.25;

/// Chance of at least one repair and expected repairs of one unit of each cell.
pub fn chances(cells: &[Cell], model: &Model) -> Vec<(f64, f64)> {
    let step = (model.draws.len() / DRAWS).max(1);
    let draws: Vec<_> = model.draws.iter().step_by(step).collect();
    let n = (draws.len() as f64).max(1.0);
    let repeat = model.repeats.mean();
    cells
        .iter()
        .map(|cell| {
            let mut sums = (0.0, 0.0);
            for draw in &draws {
                let hazard = cell_hazard(cell, draw, 0.0, 1.0);
                let (chance, expected) = if cell.repaired {
                    (model.repeats.probability(hazard), repeat * hazard)
                } else {
                    let once = -(-hazard).exp_m1();
                    (once, once + repeat * (hazard - once))
                };
                sums.0 += chance / n;
                sums.1 += expected / n;
            }
            sums
        })
        .collect()
}

/// What the list is made from.
pub struct Lists<'a> {
    /// Units.
    pub units: &'a [Unit],
    /// Each unit's cells.
    pub shares: &'a [Shares],
    /// Chance and expected repairs by cell.
    pub chances: &'a [(f64, f64)],
    /// Families.
    pub families: &'a [Family],
    /// Model.
    pub model: &'a Model,
    /// What draws expect.
    pub expectations: &'a [Vec<Expectation>],
    /// Whether costs are known.
    pub costs: bool,
    /// Money.
    pub money: Money,
    /// Unit of distance for people.
    pub distance: DistanceUnit,
}

/// Every unit, the one with the highest expected cost (or chance) first.
pub fn list(lists: &Lists) -> Vec<UnitOutlook> {
    let costs: Vec<f64> = (0..lists.families.len())
        .map(|i| mean_cost(lists, i))
        .collect();
    let fleet = Fleet::of(lists);
    let mut rows: Vec<(f64, UnitOutlook)> = lists
        .units
        .iter()
        .zip(lists.shares)
        .map(|(unit, shares)| {
            let (probability, expected) =
                shares.iter().fold((0.0, 0.0), |(p, e), (cell, share)| {
                    let (chance, count) = lists.chances.get(*cell).copied().unwrap_or_default();
                    (p + share * chance, e + share * count)
                });
            let cost = expected * costs.get(unit.family).copied().unwrap_or(0.0);
            let family = lists.families.get(unit.family);
            let row = UnitOutlook {
                rank: 0,
                unit: unit.label.clone(),
                line: unit.line,
                family: family.map_or_else(String::new, |f| f.id.clone()),
                start_m: unit.start_m,
                planned_m: unit.planned_m,
                planned_from: if unit.is_planned {
                    "roster"
                } else {
                    "own pace"
                },
                probability,
                expected,
                cost: lists.costs.then(|| lists.money.major(cost)),
                repaired: unit.repaired,
                reason: fleet.reason(unit, lists),
            };
            (if lists.costs { cost } else { expected }, row)
        })
        .collect();
    rows.sort_by(|(a, x), (b, y)| b.total_cmp(a).then(x.line.cmp(&y.line)));
    rows.into_iter()
        .zip(1..)
        .map(|((_, row), rank)| UnitOutlook { rank, ..row })
        .collect()
}

/// Mean cost of one repair of a family over the draws, in minor units.
pub fn mean_cost(lists: &Lists, family: usize) -> f64 {
    let draws = lists.expectations.iter().filter_map(|d| d.get(family));
    let n = (lists.expectations.len() as f64).max(1.0);
    draws.map(|e| e.cost.mean).sum::<f64>() / n
}

/// What is usual in this fleet.
struct Fleet {
    start: f64,
    planned: f64,
    lives: Vec<Life>,
    /// Families that have a unit.
    present: BTreeSet<usize>,
}

impl Fleet {
    fn of(lists: &Lists) -> Self {
        let median = |of: fn(&Unit) -> i64| {
            let mut values: Vec<f64> = lists.units.iter().map(|u| of(u) as f64).collect();
            values.sort_by(f64::total_cmp);
            super::outlook::quantile(&values, 0.5)
        };
        Self {
            start: median(|u| u.start_m),
            planned: median(|u| u.planned_m),
            lives: typical(&lists.model.draws, lists.families.len()),
            present: lists.units.iter().map(|u| u.family).collect(),
        }
    }

    /// What raises the unit's risk most, by asking how much lower it would be with the fleet's usual in its place.
    fn reason(&self, unit: &Unit, lists: &Lists) -> String {
        let Some(life) = self.lives.get(unit.family) else {
            return String::new();
        };
        let (start, planned) = (unit.start_m as f64, unit.planned_m as f64);
        let hazard =
            |life: &Life, start: f64, planned: f64| life.hazard_between(start, start + planned);
        let own = hazard(life, start, planned);
        let all = self.present.iter().filter_map(|i| self.lives.get(*i));
        let others = all.map(|l| hazard(l, start, planned)).sum::<f64>()
            / (self.present.len() as f64).max(1.0);
        let distance = |m: f64| {
            let value = lists.distance.from_metres(m as i64);
            format!("{} {}", words::large(value), lists.distance.symbol())
        };
        let repeat = lists.model.repeats.mean();
        let mut reasons = vec![
            (
                own / hazard(life, self.start, planned),
                format!("far along ({})", distance(start)),
            ),
            (
                own / hazard(life, start, self.planned),
                format!("much planned ({})", distance(planned)),
            ),
            (
                own / others,
                "its engine family fails more often".to_string(),
            ),
        ];
        if unit.repaired {
            reasons.push((
                repeat,
                "repaired before, and such engines come back".to_string(),
            ));
        }
        let family = lists.families.get(unit.family);
        let longest = family.and_then(|f| f.lives.table.last_exit());
        let beyond = longest.is_some_and(|longest| start > longest);
        reasons.retain(|(factor, _)| factor.is_finite() && *factor > NOTABLE);
        reasons.sort_by(|a, b| b.0.total_cmp(&a.0));
        reasons.truncate(2);
        let mut words: Vec<String> = reasons
            .into_iter()
            .map(|(factor, text)| format!("{text}: x {factor:.1}"))
            .collect();
        if family.is_some_and(|f| f.lives.exposure_m == 0) {
            words.push("no record of its family: judged by all others".to_string());
        }
        if beyond {
            words.push(
                "beyond every engine of its family watched up to a first such repair: extrapolated, check the odometer"
                    .to_string(),
            );
        }
        if words.is_empty() {
            words.push("nothing unusual".to_string());
        }
        words.join("; ")
    }
}
