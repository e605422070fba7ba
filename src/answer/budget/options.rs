//! Repair against head replacement against engine replacement: cost by distance, and from which distance on the dearer one pays.
//!
//! For the average engine of the roster, failing now. After a repair it goes on as repaired engines do (the repeat factor); a
//! replaced engine starts its life anew; with a replaced head only what sits in the head does, and the bottom end goes on.
//! Every further failure costs one repair. (Total expected cost over a stated distance: OMB Circular A-94, 1992, without
//! discounting, since the distance is driven within a few years.)

use rand_chacha::ChaCha8Rng;

use super::fleet::Cell;
use super::jobs::{Job, Work};
use super::model::Model;
use super::outlook::{Money, quantile};
use super::types::RepairOption;
use crate::answer::parts::Estimate;
use crate::domain::distance::DistanceUnit;
use crate::stats::borrowed_amounts::BorrowedAmounts;
use crate::stats::pooled_weibull::Draw;

/// What is stated, in minor units and metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated {
    /// Cost of a repair.
    pub repair_cost: Option<f64>,
    /// Cost of a head replacement.
    pub head_cost: Option<f64>,
    /// Cost of an engine replacement.
    pub engine_cost: Option<f64>,
    /// Distance a vehicle is kept after the repair.
    pub keep_m: i64,
    /// Whether somebody said so; else it is common practice.
    pub keep_is_stated: bool,
    /// Share of the failures that the head has no part in.
    pub bottom_end: f64,
}

/// Fewest recorded jobs with a cost that an option is priced from.
const FEWEST: usize = 5;
/// Draws looked at.
const DRAWS: usize = 200;
/// Engines looked at.
const ENGINES: usize = 100;
/// Distances at which a break-even is sought: this many, this far apart in metres.
const STEPS: usize = 100;
const STEP_M: f64 = 5e6;
/// Level of the intervals.
const LEVEL: f64 = 0.8;

/// Everything the comparison reads.
pub struct Engines<'a> {
    /// The fleet.
    pub cells: &'a [Cell],
    /// The lives.
    pub model: &'a Model,
    /// Recorded jobs.
    pub jobs: &'a [Job],
    /// What is stated.
    pub stated: Stated,
    /// Money.
    pub money: Money,
    /// Unit of distance for people.
    pub distance: DistanceUnit,
}

/// The three options; none without engines.
pub fn options(engines: &Engines, generator: &mut ChaCha8Rng) -> Vec<RepairOption> {
    let sample = sample(engines.cells);
    if sample.is_empty() {
        return Vec::new();
    }
    let step = (engines.model.draws.len() / DRAWS).max(1);
    let draws: Vec<&Draw> = engines.model.draws.iter().step_by(step).collect();
    let works = [Work::Repair, Work::Head, Work::Engine];
    let prices = works.map(|work| Price::of(work, engines, draws.len(), generator));
    let repairs = prices.first().map_or_else(Vec::new, |p| p.draws.clone());
    let kept = engines.stated.keep_m as f64;
    let plans: Vec<Plan> = works
        .iter()
        .zip(&prices)
        .map(|(work, price)| Plan {
            further: draws
                .iter()
                .map(|draw| further(*work, &sample, draw, engines, kept))
                .collect(),
            price,
        })
        .collect();
    let totals: Vec<Vec<f64>> = plans.iter().map(|plan| plan.totals(&repairs)).collect();
    let first = totals.first().cloned().unwrap_or_default();
    works
        .iter()
        .zip(&plans)
        .zip(&totals)
        .map(|((work, plan), totals)| {
            let even = (*work != Work::Repair)
                .then(|| break_even(*work, engines, &sample, &draws, &prices))
                .flatten();
            plan.row(*work, engines, totals, &first, even)
        })
        .collect()
}

/// Up to [`ENGINES`] cells with their weights, spread evenly over the fleet.
fn sample(cells: &[Cell]) -> Vec<(Cell, f64)> {
    let step = cells.len().div_ceil(ENGINES).max(1);
    let chosen: Vec<&Cell> = cells.iter().step_by(step).collect();
    let total: f64 = chosen.iter().map(|c| c.units).sum();
    let chosen = chosen.into_iter().map(|c| (*c, c.units / total));
    chosen.filter(|(_, weight)| *weight > 0.0).collect()
}

/// Further repairs over a distance, of the average engine.
fn further(work: Work, sample: &[(Cell, f64)], draw: &Draw, engines: &Engines, kept: f64) -> f64 {
    let repeat = engines.model.repeats.mean();
    let bottom = engines.stated.bottom_end;
    sample
        .iter()
        .map(|(cell, weight)| {
            let Some(life) = draw.lives.get(cell.family) else {
                return 0.0;
            };
            let on = repeat * life.hazard_between(cell.start, cell.start + kept);
            let anew = life.hazard_between(0.0, kept);
            weight
                * match work {
                    Work::Repair => on,
                    Work::Head => (1.0 - bottom) * anew + bottom * on,
                    Work::Engine => anew,
                }
        })
        .sum()
}

/// The price of one kind of job.
struct Price {
    jobs: usize,
    from: &'static str,
    /// Mean cost, draw by draw; empty where it is unknown.
    draws: Vec<f64>,
}

impl Price {
    fn of(work: Work, engines: &Engines, draws: usize, generator: &mut ChaCha8Rng) -> Self {
        let own = engines.jobs.iter().filter(|job| job.work == work);
        let costs: Vec<f64> = own.filter_map(|job| job.cost).collect();
        let stated = match work {
            Work::Repair => engines.stated.repair_cost,
            Work::Head => engines.stated.head_cost,
            Work::Engine => engines.stated.engine_cost,
        };
        let jobs = costs.len();
        if let Some(cost) = stated {
            let draws = vec![cost; draws];
            let from = "stated";
            return Self { jobs, from, draws };
        }
        let borrowed = BorrowedAmounts::new(&vec![Some(0); jobs], 1).filter(|_| jobs >= FEWEST);
        let Some(borrowed) = borrowed else {
            let (from, draws) = ("unknown", Vec::new());
            return Self { jobs, from, draws };
        };
        let mean = |generator: &mut ChaCha8Rng| {
            let weighted = borrowed.draw(generator);
            weighted.first().map_or(0.0, |w| {
                w.mean(|place| costs.get(place).copied().unwrap_or(0.0))
            })
        };
        Self {
            jobs,
            from: "records",
            draws: (0..draws).map(|_| mean(generator)).collect(),
        }
    }
}

struct Plan<'a> {
    further: Vec<f64>,
    price: &'a Price,
}

impl Plan<'_> {
    /// Cost of job and further repairs, draw by draw; empty where a price is unknown.
    fn totals(&self, repairs: &[f64]) -> Vec<f64> {
        let each = self.price.draws.iter().zip(&self.further).zip(repairs);
        each.map(|((cost, further), repair)| cost + further * repair)
            .collect()
    }

    fn row(
        &self,
        work: Work,
        engines: &Engines,
        totals: &[f64],
        repair: &[f64],
        break_even_m: Option<i64>,
    ) -> RepairOption {
        let (option, title) = match work {
            Work::Repair => ("repair", "repair"),
            Work::Head => ("head_replacement", "head replacement"),
            Work::Engine => ("engine_replacement", "engine replacement"),
        };
        let money = engines.money;
        let thousand = engines.distance.from_metres(engines.stated.keep_m) / 1000.0;
        let cheaper =
            (work != Work::Repair && !totals.is_empty() && !repair.is_empty()).then(|| {
                let less = totals.iter().zip(repair).filter(|(a, b)| a < b).count();
                less as f64 / totals.len() as f64
            });
        RepairOption {
            option,
            title: title.to_string(),
            jobs: self.price.jobs as u64,
            cost_from: self.price.from,
            cost: estimate(&self.price.draws, |x| money.major(x)),
            further_repairs: estimate(&self.further, |x| x),
            cost_per_distance: estimate(totals, |x| money.major(x / thousand)),
            break_even_m,
            cheaper,
        }
    }
}

fn estimate(draws: &[f64], show: impl Fn(f64) -> f64) -> Option<Estimate> {
    let mut sorted = draws.to_vec();
    sorted.sort_by(f64::total_cmp);
    let (first, last) = (sorted.first()?, sorted.last()?);
    let mean = sorted.iter().sum::<f64>() / sorted.len() as f64;
    let limit = |p: f64| {
        if first == last {
            show(mean)
        } else {
            show(quantile(&sorted, p))
        }
    };
    Some(Estimate {
        value: show(mean),
        lower: limit(0.5 * (1.0 - LEVEL)),
        upper: Some(limit(0.5 * (1.0 + LEVEL))),
        level: LEVEL,
        method: "draws".to_string(),
    })
}

/// The smallest distance kept at which the option costs no more than the repair, by expected values.
fn break_even(
    work: Work,
    engines: &Engines,
    sample: &[(Cell, f64)],
    draws: &[&Draw],
    prices: &[Price; 3],
) -> Option<i64> {
    let mean =
        |list: &[f64]| (!list.is_empty()).then(|| list.iter().sum::<f64>() / list.len() as f64);
    let price = |work: Work| {
        let works = [Work::Repair, Work::Head, Work::Engine];
        let place = works.iter().position(|w| *w == work)?;
        mean(&prices.get(place)?.draws)
    };
    let (repair, option) = (price(Work::Repair)?, price(work)?);
    // A few draws are enough for an expected value that is only sought on a grid of 5,000 km.
    let few: Vec<&&Draw> = draws.iter().step_by((draws.len() / 40).max(1)).collect();
    (0..=STEPS)
        .map(|step| step as f64 * STEP_M)
        .find(|kept| {
            let count = |work: Work| {
                few.iter()
                    .map(|draw| further(work, sample, draw, engines, *kept))
                    .sum::<f64>()
                    / few.len() as f64
            };
            option + count(work) * repair <= repair + count(Work::Repair) * repair
        })
        .map(|kept| kept as i64)
}
