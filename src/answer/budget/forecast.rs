//! The forecast: how many repairs, when, and at what cost, over draws of what is not known for sure.

use rand::{Rng, RngExt};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Gamma, Poisson};

use super::fleet::{Cell, FamilyHazard, cell_hazard, hazards};
use crate::stats::aggregate::{Counter, Distribution, Moments, Part};
use crate::stats::borrowed_amounts::{BorrowedAmounts, Weighted};
use crate::stats::pooled_weibull::Draw;

/// How often engines fail again, as a multiple of a first failure's rate: gamma with mean shape / rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeats {
    /// Shape.
    pub shape: f64,
    /// Rate.
    pub rate: f64,
}

impl Repeats {
    /// What stands for "as bad as old after a repair" before any record: worth two failures.
    const PRIOR: f64 = 2.0;

    /// From further failures seen and those expected if a repaired engine were as bad as old.
    pub fn new(seen: u64, expected: f64) -> Self {
        Self {
            shape: Self::PRIOR + seen as f64,
            rate: Self::PRIOR + expected,
        }
    }

    /// The mean factor.
    pub fn mean(&self) -> f64 {
        self.shape / self.rate
    }

    /// The probability of a failure of an engine already repaired, over a hazard before the factor.
    pub fn probability(&self, hazard: f64) -> f64 {
        -(-self.shape * (hazard / self.rate).ln_1p()).exp_m1()
    }
}

/// Amounts of recorded jobs.
#[derive(Debug, Clone, PartialEq)]
pub struct Amounts {
    /// Whose they are.
    pub borrowed: BorrowedAmounts,
    /// Cost of each, in minor units.
    pub costs: Vec<f64>,
}

/// What a forecast is made from.
pub struct Setting<'a> {
    /// The fleet.
    pub cells: &'a [Cell],
    /// How many families.
    pub families: usize,
    /// Draws of their lives.
    pub draws: &'a [Draw],
    /// How often engines fail again.
    pub repeats: Repeats,
    /// Months.
    pub months: u32,
    /// Costs of jobs, where any is known.
    pub costs: Option<&'a Amounts>,
    /// Days of jobs, where any is known.
    pub days: Option<&'a Amounts>,
    /// Simulated years a draw.
    pub a_draw: usize,
}

/// What one draw expects of a family.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Expectation {
    /// Mean and variance of the number of repairs.
    pub count: Moments,
    /// Mean and variance of one cost.
    pub cost: Moments,
}

/// One simulated year.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Year {
    /// Repairs by family.
    pub counts: Vec<u64>,
    /// Cost by family.
    pub costs: Vec<f64>,
    /// Repairs by month.
    pub month_counts: Vec<u64>,
    /// Cost by month.
    pub month_costs: Vec<f64>,
    /// Days off the road by family.
    pub days: Vec<f64>,
    /// Days off the road by month.
    pub month_days: Vec<f64>,
}

/// The forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Number of repairs of the whole fleet.
    pub total: Distribution,
    /// ... by family.
    pub by_family: Vec<Distribution>,
    /// What each draw expects, by draw, then family.
    pub expectations: Vec<Vec<Expectation>>,
    /// Simulated years.
    pub years: Vec<Year>,
}

/// Draws whose months are looked at; the shape of a year hardly differs between draws.
const MONTH_DRAWS: usize = 64;

/// Makes the forecast. Counts are exact given a draw (see [`crate::stats::aggregate`]) and mixed over draws; costs, days and months
/// are simulated, `a_draw` years for each draw.
pub fn forecast(setting: &Setting, generator: &mut ChaCha8Rng) -> Forecast {
    let repeat = setting.repeats.mean();
    let mut counter = Counter::new(repeat);
    let mut totals = Vec::with_capacity(setting.draws.len());
    let mut by_family = vec![Vec::with_capacity(setting.draws.len()); setting.families];
    let mut expectations = Vec::with_capacity(setting.draws.len());
    let mut years = Vec::with_capacity(setting.draws.len() * setting.a_draw);
    let months = months(setting);
    for (i, draw) in setting.draws.iter().enumerate() {
        let hazards = hazards(setting.cells, draw, setting.families, repeat);
        let counts: Vec<Distribution> = hazards
            .iter()
            .map(|family| counter.count(&family.fresh, &[]))
            .collect();
        let costs = setting.costs.map(|c| c.borrowed.draw(generator));
        let days = setting.days.map(|d| d.borrowed.draw(generator));
        let simulated = Simulated {
            setting,
            hazards: &hazards,
            fresh: &counts,
            months: months.get(i % MONTH_DRAWS.max(1)).or(months.first()),
            costs: costs.as_deref(),
            days: days.as_deref(),
        };
        years.extend((0..setting.a_draw).map(|_| simulated.year(generator)));
        expectations.push(expect(setting, &hazards, costs.as_deref()));
        let (total, families) = count(&mut counter, &hazards, counts, setting.repeats);
        totals.push(total);
        for (list, one) in by_family.iter_mut().zip(families) {
            list.push(one);
        }
    }
    let nothing = Distribution {
        first: 0,
        probabilities: vec![1.0],
    };
    let mix =
        |list: &[Distribution]| Distribution::mixture(list).unwrap_or_else(|| nothing.clone());
    Forecast {
        total: mix(&totals),
        by_family: by_family.iter().map(|list| mix(list)).collect(),
        expectations,
        years,
    }
}

fn repaired_part(hazard: f64, repeats: Repeats) -> Part<'static> {
    Part::GammaPoisson {
        shape: repeats.shape,
        mean: hazard * repeats.mean(),
    }
}

fn count(
    counter: &mut Counter,
    hazards: &[FamilyHazard],
    fresh: Vec<Distribution>,
    repeats: Repeats,
) -> (Distribution, Vec<Distribution>) {
    let mut all = crate::stats::aggregate::Recurring::new(repeats.mean());
    let mut repaired = 0.0;
    let families = hazards
        .iter()
        .zip(fresh)
        .map(|(family, fresh)| {
            all.join(&family.fresh);
            repaired += family.repaired;
            if family.repaired > 0.0 {
                counter.count(&family.fresh, &[repaired_part(family.repaired, repeats)])
            } else {
                fresh
            }
        })
        .collect();
    let others: Vec<Part> = (repaired > 0.0)
        .then(|| repaired_part(repaired, repeats))
        .into_iter()
        .collect();
    (counter.count(&all, &others), families)
}

fn expect(
    setting: &Setting,
    hazards: &[FamilyHazard],
    costs: Option<&[Weighted]>,
) -> Vec<Expectation> {
    hazards
        .iter()
        .enumerate()
        .map(|(i, family)| {
            let fresh = Part::Recurring(&family.fresh).moments();
            let count = if family.repaired > 0.0 {
                fresh.plus(repaired_part(family.repaired, setting.repeats).moments())
            } else {
                fresh
            };
            let amounts = setting.costs.zip(costs.and_then(|list| list.get(i)));
            let cost = amounts.map_or_else(Moments::default, |(amounts, weighted)| {
                let cost = |place: usize| amounts.costs.get(place).copied().unwrap_or(0.0);
                let mean = weighted.mean(cost);
                Moments {
                    mean,
                    variance: weighted.mean(|place| (cost(place) - mean).powi(2)),
                    third: 0.0,
                }
            });
            Expectation { count, cost }
        })
        .collect()
}

/// Running shares of each family's expected repairs by month, for the first draws.
fn months(setting: &Setting) -> Vec<Vec<Vec<f64>>> {
    let months = setting.months.max(1);
    setting
        .draws
        .iter()
        .take(MONTH_DRAWS)
        .map(|draw| {
            let mut sums = vec![vec![0.0; months as usize]; setting.families];
            for cell in setting.cells {
                let Some(family) = sums.get_mut(cell.family) else {
                    continue;
                };
                for (month, sum) in (0..months).zip(family) {
                    let (from, to) = (f64::from(month), f64::from(month + 1));
                    let end = f64::from(months);
                    *sum += cell.units * cell_hazard(cell, draw, from / end, to / end);
                }
            }
            for family in &mut sums {
                let mut so_far = 0.0;
                for sum in family {
                    so_far += *sum;
                    *sum = so_far;
                }
            }
            sums
        })
        .collect()
}

/// One draw, ready to be simulated.
struct Simulated<'a> {
    setting: &'a Setting<'a>,
    hazards: &'a [FamilyHazard],
    fresh: &'a [Distribution],
    months: Option<&'a Vec<Vec<f64>>>,
    costs: Option<&'a [Weighted]>,
    days: Option<&'a [Weighted]>,
}

impl Simulated<'_> {
    fn year(&self, generator: &mut ChaCha8Rng) -> Year {
        let families = self.hazards.len();
        let mut year = Year {
            counts: Vec::with_capacity(families),
            costs: vec![0.0; families],
            month_counts: vec![0; self.setting.months as usize],
            month_costs: vec![0.0; self.setting.months as usize],
            days: vec![0.0; families],
            month_days: vec![0.0; self.setting.months as usize],
        };
        let repeats = self.setting.repeats;
        let factor = Gamma::new(repeats.shape, 1.0 / repeats.rate)
            .map_or(repeats.mean(), |gamma| gamma.sample(generator));
        for (i, (family, fresh)) in self.hazards.iter().zip(self.fresh).enumerate() {
            let again = poisson(factor * family.repaired, generator);
            let count = fresh.quantile(generator.random()) + again;
            year.counts.push(count);
            for _ in 0..count {
                self.repair(i, &mut year, generator);
            }
        }
        year
    }

    fn repair(&self, family: usize, year: &mut Year, generator: &mut ChaCha8Rng) {
        let month = self.month(family, generator);
        if let Some(count) = year.month_counts.get_mut(month) {
            *count += 1;
        }
        if let Some(cost) = pick(self.setting.costs, self.costs, family, generator) {
            let sums = [year.costs.get_mut(family), year.month_costs.get_mut(month)];
            for sum in sums.into_iter().flatten() {
                *sum += cost;
            }
        }
        if let Some(days) = pick(self.setting.days, self.days, family, generator) {
            let sums = [year.days.get_mut(family), year.month_days.get_mut(month)];
            for sum in sums.into_iter().flatten() {
                *sum += days;
            }
        }
    }

    fn month(&self, family: usize, generator: &mut ChaCha8Rng) -> usize {
        let at: f64 = generator.random();
        self.months
            .and_then(|months| months.get(family))
            .map_or(0, |sums| {
                let total = sums.last().copied().unwrap_or(0.0);
                let place = sums.partition_point(|sum| *sum <= at * total);
                place.min(sums.len().saturating_sub(1))
            })
    }
}

fn pick(
    amounts: Option<&Amounts>,
    weighted: Option<&[Weighted]>,
    family: usize,
    generator: &mut ChaCha8Rng,
) -> Option<f64> {
    let place = weighted?.get(family)?.pick(generator);
    amounts?.costs.get(place).copied()
}

fn poisson(mean: f64, generator: &mut impl Rng) -> u64 {
    if mean <= 0.0 {
        return 0;
    }
    // Counts stay far below 2^53, where the sample is a whole number exactly.
    Poisson::new(mean).map_or(0, |poisson| poisson.sample(generator) as u64)
}
