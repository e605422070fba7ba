//! A past forecast held against what happened: fitted on what was known then, for the distance that was driven since.

use std::cmp::Ordering;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde::Serialize;

use super::compute::{Input, Made, make};
use super::forecast::Year;
use super::outlook::{Has, Money, outlook};
use super::types::{BudgetQuestion, Expected, Range};
use crate::answer::parts::Caveat;
use crate::answer::words;
use crate::domain::day::Day;
use crate::domain::problem::Result;

/// The answer of `budget --check`: the JSON contract `boretally.budget-check/1`.
#[derive(Debug, Clone, Serialize)]
pub struct BudgetCheck {
    /// What was asked; `from` and `known_to` are those of the first cut-off.
    pub question: BudgetQuestion,
    /// Plain words.
    pub verdict: Vec<String>,
    /// One row a cut-off.
    pub rows: Vec<CheckRow>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// One cut-off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckRow {
    /// Last day that was known.
    pub cut_off: Day,
    /// Last day looked at.
    pub until: Day,
    /// Engines known by the cut-off and driven after it.
    pub units: u64,
    /// What they drove.
    pub driven_m: i64,
    /// First failures known by the cut-off.
    pub failures_known: u64,
    /// Forecast number of repairs.
    pub count: Expected,
    /// Repairs that came.
    pub observed: u64,
    /// Share of the forecast below what came, plus half of what it gave to just that: near 0 or 1, the forecast was off.
    pub place: f64,
    /// Probability that the forecast gave to just the number that came.
    pub probability: f64,
    /// Forecast cost.
    pub cost: Option<Expected>,
    /// Cost of what came: every repair at the mean of those with a cost; none where repairs came and none has a cost.
    pub observed_cost: Option<f64>,
    /// Share of the forecast costs below what came, plus half of those equal to it.
    pub cost_place: Option<f64>,
}

/// One past forecast.
pub struct Past {
    /// Last day that was known.
    pub cut_off: Day,
    /// Last day looked at.
    pub until: Day,
    /// The fleet, with what it went on to drive, and what was known of it.
    pub input: Input,
    /// Repairs that came.
    pub observed: u64,
    /// Mean cost of those with one, in minor units.
    pub mean_cost: Option<f64>,
}

/// Makes every past forecast and compares.
///
/// # Errors
/// Nothing was under observation by a cut-off.
pub fn check(pasts: Vec<Past>) -> Result<Option<BudgetCheck>> {
    let Some(question) = pasts.first().map(|past| past.input.question.clone()) else {
        return Ok(None);
    };
    let rows = pasts.into_iter().map(row).collect::<Result<Vec<_>>>()?;
    let verdict = verdict(&rows);
    Ok(Some(BudgetCheck {
        question,
        verdict,
        rows,
        caveats: vec![
            Caveat {
                id: "driven-distance-known",
                text: "The forecast is given the distance the engines went on to drive, so that it is the lives that are judged and not \
                       the mileage plan. Records that came in late count as known at the cut-off."
                    .to_string(),
            },
            Caveat {
                id: "prices-move",
                text: "Costs are compared in the prices of each period's first year, brought there with the inflation stated and no other."
                    .to_string(),
            },
            Caveat {
                id: "periods-overlap",
                text: "Periods that overlap, or follow each other on the same vehicles, are not independent: ten cut-offs are less than ten \
                       trials."
                    .to_string(),
            },
        ],
    }))
}

fn row(past: Past) -> Result<CheckRow> {
    let input = &past.input;
    let mut generator = ChaCha8Rng::seed_from_u64(input.question.seed);
    let made = make(input, &mut generator)?;
    let money = Money::new(input.question.minor_digits);
    let has = Has {
        costs: made.has_costs,
        days: false,
        confidence: input.question.confidence,
        money,
    };
    let driven_m = input.units.iter().map(|u| u.planned_m).sum();
    let units = input.units.len() as u64;
    let outlook = outlook(&made.forecast, None, units, driven_m, has);
    let below = made.forecast.total.values();
    let below: f64 = below
        .filter(|(n, _)| *n < past.observed)
        .map(|(_, p)| p)
        .sum();
    // No repair costs nothing, with or without a price: leaving such periods out would keep only those that came dear.
    let observed_cost = match past.observed {
        0 => made.has_costs.then_some(0.0),
        repairs => past.mean_cost.map(|mean| mean * repairs as f64),
    };
    let probability = made.forecast.total.probability(past.observed);
    Ok(CheckRow {
        cut_off: past.cut_off,
        until: past.until,
        units,
        driven_m,
        failures_known: made.model.failures,
        count: outlook.count,
        observed: past.observed,
        place: below + 0.5 * probability,
        probability,
        cost: outlook.cost,
        observed_cost: observed_cost.map(|cost| money.major(cost)),
        cost_place: observed_cost
            .filter(|_| made.has_costs)
            .map(|cost| cost_place(&made, cost)),
    })
}

fn cost_place(made: &Made, came: f64) -> f64 {
    let years = &made.forecast.years;
    let place = |year: &Year| {
        let total: f64 = year.costs.iter().sum();
        match total.total_cmp(&came) {
            Ordering::Less => 1.0,
            Ordering::Equal => 0.5,
            Ordering::Greater => 0.0,
        }
    };
    years.iter().map(place).sum::<f64>() / (years.len() as f64).max(1.0)
}

/// Whether a value lies in the range of that level.
pub fn is_within(expected: &Expected, level: f64, value: f64) -> bool {
    let holds = |r: &Range| r.level == level && r.lower <= value && value <= r.upper;
    expected.ranges.iter().any(holds)
}

fn verdict(rows: &[CheckRow]) -> Vec<String> {
    let counts = |r: &CheckRow, level| Some(is_within(&r.count, level, r.observed as f64));
    let costs = |r: &CheckRow, level| Some(is_within(r.cost.as_ref()?, level, r.observed_cost?));
    let mut lines = vec![held(rows, "number", &counts)];
    if rows.iter().any(|r| costs(r, 0.8).is_some()) {
        lines.push(held(rows, "cost", &costs));
    }
    let expected: f64 = rows.iter().map(|r| r.count.expected).sum();
    let observed: u64 = rows.iter().map(|r| r.observed).sum();
    lines.push(format!(
        "Together {} repairs expected and {} seen.",
        words::number(expected),
        observed
    ));
    lines
}

/// How often what came lay within its ranges, where that is known.
fn held(
    rows: &[CheckRow],
    what: &str,
    is_inside: &dyn Fn(&CheckRow, f64) -> Option<bool>,
) -> String {
    let known = rows.iter().filter(|r| is_inside(r, 0.8).is_some()).count();
    let times = |level: f64| {
        let inside = rows.iter().filter(|r| is_inside(r, level) == Some(true));
        inside.count()
    };
    format!(
        "Of {}, the {what} that came lay within the 80 % range in {} and within the 95 % range in {}.",
        words::count(known as u64, "past forecast"),
        times(0.8),
        times(0.95)
    )
}
