//! From units, lives and jobs to the answer.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::fleet::{self, Unit};
use super::forecast::{Amounts, Forecast, Setting, forecast};
use super::jobs::{Job, Jobs, Work};
use super::known::Certain;
use super::model::{Family, Model, model};
use super::options::{Engines, Stated, options};
use super::outlook::{Has, Money, outlook, quantile, reserves};
use super::types::{BadRow, Budget, BudgetQuestion, FamilyOutlook, Labour, Outlook};
use super::unit_list::{Lists, chances, list};
use super::{assumptions, caveats, drivers, known, months, verdict};
use crate::answer::parts::{Estimate, Evidence};
use crate::domain::distance::DistanceUnit;
use crate::domain::problem::Result;
use crate::stats::borrowed_amounts::BorrowedAmounts;
use crate::stats::pooled_weibull::Draw;
use crate::tally::budget::Stretch;

/// Everything a budget is made from.
pub struct Input {
    /// What is asked; `currency`, `minor_digits` and `simulations` are filled in here.
    pub question: BudgetQuestion,
    /// Units.
    pub units: Vec<Unit>,
    /// All families, those of the roster among them; units refer to them by place.
    pub families: Vec<Family>,
    /// What engines did after a first failure.
    pub stretches: Vec<Stretch>,
    /// Jobs.
    pub jobs: Jobs,
    /// What is stated for the comparison of repair and replacement.
    pub stated: Stated,
    /// Rows of the roster that could not be used.
    pub bad_rows: Vec<BadRow>,
    /// What stands behind the lives.
    pub evidence: Evidence,
    /// Unit of distance for people.
    pub distance: DistanceUnit,
}

/// Simulated years in all, at most; and events simulated in all, about.
const MOST_YEARS: usize = 20_000;
const MOST_EVENTS: f64 = 1e7;

/// What was forecast, before it is put into words.
pub struct Made {
    /// The lives.
    pub model: Model,
    /// The cells of the fleet.
    pub cells: Vec<fleet::Cell>,
    /// Each unit's cells.
    pub shares: Vec<fleet::Shares>,
    /// The forecast.
    pub forecast: Forecast,
    /// Costs of jobs, where any is known.
    pub has_costs: bool,
    /// Days of jobs, where any is known.
    pub has_days: bool,
}

/// Fits, draws and simulates.
///
/// # Errors
/// No vehicle was under observation over any distance.
pub fn make(input: &Input, generator: &mut ChaCha8Rng) -> Result<Made> {
    let model = model(
        &input.families,
        &input.stretches,
        input.question.draws,
        generator,
    )?;
    let (cells, shares) = fleet::cells(&input.units);
    let repairs: Vec<&Job> = input.jobs.list.iter().collect();
    let costs = amounts(&repairs, &input.families, |job| job.cost);
    let days = amounts(&repairs, &input.families, |job| job.days);
    let setting = Setting {
        cells: &cells,
        families: input.families.len(),
        draws: &model.draws,
        repeats: model.repeats,
        months: input.question.months,
        costs: costs.as_ref(),
        days: days.as_ref(),
        a_draw: years_a_draw(&cells, &model),
    };
    let forecast = forecast(&setting, generator);
    Ok(Made {
        has_costs: costs.is_some(),
        has_days: days.is_some(),
        model,
        cells,
        shares,
        forecast,
    })
}

/// As many years as are quick: fewer where each has many repairs.
fn years_a_draw(cells: &[fleet::Cell], model: &Model) -> usize {
    let draws = model.draws.len().max(1);
    let expected: f64 = model.draws.first().map_or(0.0, |draw| {
        let hazard = |cell| fleet::cell_hazard(cell, draw, 0.0, 1.0);
        cells.iter().map(|cell| cell.units * hazard(cell)).sum()
    });
    let years = (MOST_EVENTS / expected.max(1.0)).min(MOST_YEARS as f64);
    // A whole number of years between 1 and MOST_YEARS / draws.
    ((years / draws as f64).floor() as usize).clamp(1, (MOST_YEARS / draws).max(1))
}

fn amounts(
    jobs: &[&Job],
    families: &[Family],
    of: impl Fn(&Job) -> Option<f64>,
) -> Option<Amounts> {
    let place = |job: &Job| {
        families
            .iter()
            .position(|f| Some(&f.id) == job.family.as_ref())
    };
    let known: Vec<(Option<usize>, f64)> = jobs
        .iter()
        .filter_map(|job| Some((place(job), of(job)?)))
        .collect();
    let groups: Vec<Option<usize>> = known.iter().map(|(group, _)| *group).collect();
    let borrowed = BorrowedAmounts::new(&groups, families.len())?;
    Some(Amounts {
        borrowed,
        costs: known.into_iter().map(|(_, amount)| amount).collect(),
    })
}

/// The answer.
///
/// # Errors
/// As [`make`].
pub fn answer(input: Input) -> Result<Budget> {
    let mut generator = ChaCha8Rng::seed_from_u64(input.question.seed);
    let made = make(&input, &mut generator)?;
    let money = Money::new(input.question.minor_digits);
    let has = Has {
        costs: made.has_costs,
        days: made.has_days,
        confidence: input.question.confidence,
        money,
    };
    let total = outlook(
        &made.forecast,
        None,
        input.units.len() as u64,
        input.units.iter().map(|u| u.planned_m).sum(),
        has,
    );
    let chances = chances(&made.cells, &made.model);
    let units = list(&Lists {
        units: &input.units,
        shares: &made.shares,
        chances: &chances,
        families: &input.families,
        model: &made.model,
        expectations: &made.forecast.expectations,
        costs: made.has_costs,
        money,
        distance: input.distance,
    });
    let ids: Vec<String> = input.families.iter().map(|f| f.id.clone()).collect();
    let engines = Engines {
        cells: &made.cells,
        model: &made.model,
        jobs: &input.jobs.list,
        stated: input.stated,
        money,
        distance: input.distance,
    };
    let mut question = input.question.clone();
    question.simulations = made.forecast.years.len();
    let mut answer = Budget {
        verdict: Vec::new(),
        families: family_rows(&input, &made, has),
        months: months::months(&input.question, &made.forecast, has),
        reserves: reserves(&made.forecast, has),
        units,
        count_distribution: count_distribution(&made.forecast),
        drivers: drivers::drivers(&made.forecast.expectations, &ids, made.has_costs),
        options: options(&engines, &mut generator),
        assumptions: assumptions::assumptions(
            &question,
            &made.model,
            &input.jobs,
            &input.stated,
            input.distance,
        ),
        caveats: Vec::new(),
        labour: labour(&input, money),
        if_known: known::if_known(&Certain {
            units: input
                .units
                .iter()
                .map(|u| u.family)
                .zip(&made.shares)
                .collect(),
            chances: &chances,
            families: &input.families,
            jobs: &input.jobs.list,
            money,
        }),
        total,
        question,
        bad_rows: input.bad_rows,
        evidence: input.evidence,
    };
    answer.caveats = caveats::caveats(&answer, &made.model, &input.jobs);
    answer.verdict = verdict::verdict(&answer);
    Ok(answer)
}

/// Hours of a repair and the rate in its cost: the stated one where the costs were brought to it, else the recorded one.
fn labour(input: &Input, money: Money) -> Option<Labour> {
    let recorded = input.jobs.recorded_rate.map(|rate| money.major(rate))?;
    Some(Labour {
        hours_per_repair: input.jobs.mean_hours?,
        rate_per_hour: input.question.rate_per_hour.unwrap_or(recorded),
    })
}

/// Probabilities from 0 on, without a tail below one in a million.
fn count_distribution(forecast: &Forecast) -> Vec<f64> {
    let last = forecast.total.quantile(1.0 - 1e-6);
    (0..=last).map(|n| forecast.total.probability(n)).collect()
}

fn family_rows(input: &Input, made: &Made, has: Has) -> Vec<FamilyOutlook> {
    let rows = input.families.iter().enumerate().filter_map(|(i, family)| {
        let own: Vec<&Unit> = input.units.iter().filter(|u| u.family == i).collect();
        if own.is_empty() {
            return None;
        }
        let planned = own.iter().map(|u| u.planned_m).sum();
        let outlook = outlook(&made.forecast, Some(i), own.len() as u64, planned, has);
        let costed = input
            .jobs
            .list
            .iter()
            .filter(|job| job.cost.is_some() && job.family.as_ref() == Some(&family.id));
        Some(FamilyOutlook {
            family: family.id.clone(),
            title: family.title.clone(),
            outlook,
            cost_per_repair: made.has_costs.then(|| cost_per_repair(made, i, has.money)),
            failures: family.lives.table.failures(),
            vehicles: family.lives.vehicles,
            exposure_m: family.lives.exposure_m,
            costed_repairs: costed.count() as u64,
            shape: shape(&made.model.draws, i),
        })
    });
    let mut rows: Vec<FamilyOutlook> = rows.collect();
    let weight = |o: &Outlook| o.cost.as_ref().map_or(o.count.expected, |c| c.expected);
    rows.sort_by(|a, b| {
        weight(&b.outlook)
            .total_cmp(&weight(&a.outlook))
            .then(a.family.cmp(&b.family))
    });
    rows
}

fn central(
    mut draws: Vec<f64>,
    value: impl Fn(&[f64]) -> f64,
    show: impl Fn(f64) -> f64,
) -> Estimate {
    draws.sort_by(f64::total_cmp);
    Estimate {
        value: show(value(&draws)),
        lower: show(quantile(&draws, 0.025)),
        upper: Some(show(quantile(&draws, 0.975))),
        level: 0.95,
        method: "draws".to_string(),
    }
}

fn cost_per_repair(made: &Made, family: usize, money: Money) -> Estimate {
    let draws = made.forecast.expectations.iter();
    let draws: Vec<f64> = draws
        .filter_map(|d| Some(d.get(family)?.cost.mean))
        .collect();
    let mean = |list: &[f64]| list.iter().sum::<f64>() / (list.len() as f64).max(1.0);
    central(draws, mean, |x| money.major(x))
}

fn shape(draws: &[Draw], family: usize) -> Estimate {
    let shapes = draws
        .iter()
        .filter_map(|d| Some(d.lives.get(family)?.shape));
    central(shapes.collect(), |list| quantile(list, 0.5), |x| x)
}

/// The share of jobs whose every cause is of the bottom end; half of one job stands for "some" before any record.
pub fn bottom_end(jobs: &Jobs, is_bottom: impl Fn(&str) -> bool) -> f64 {
    let heads = jobs.list.iter().filter(|job| job.work != Work::Engine);
    let (mut all, mut bottom) = (1.0, 0.5);
    for job in heads {
        all += 1.0;
        if job.causes.iter().all(|cause| is_bottom(cause)) {
            bottom += 1.0;
        }
    }
    bottom / all
}
