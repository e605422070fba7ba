//! Past budgets, with what happened since.

use std::collections::BTreeSet;

use super::gather::{input, records};
use super::place::Placed;
use super::plan::Plan;
use crate::answer::budget::check::Past;
use crate::answer::budget::fleet::Unit;
use crate::answer::budget::jobs::{self, Jobs};
use crate::answer::budget::outlook::Money;
use crate::answer::budget::{BudgetCheck, check};
use crate::cli::question::Asked;
use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::tally::budget::{self as tally, BudgetAsk, Driven, Line};

/// Past budgets, one a cut-off, held against what happened in the months after it.
///
/// # Errors
/// A cut-off with no record before or after it.
pub fn checked(asked: &mut Asked, plan: &Plan, cut_offs: &[Day]) -> Result<Option<BudgetCheck>> {
    let pasts = cut_offs
        .iter()
        .map(|cut_off| past(asked, plan, *cut_off))
        .collect::<Result<Vec<_>>>()?;
    check::check(pasts)
}

fn past(asked: &mut Asked, plan: &Plan, cut_off: Day) -> Result<Past> {
    let history = asked.history(asked.options)?;
    let plan = Plan {
        from: Some(Day(cut_off.0.saturating_add(1))),
        ..plan.clone()
    };
    let wanted = cut_off.plus_months(plan.months).unwrap_or(cut_off);
    let until = history.cut_off().map_or(wanted, |last| last.min(wanted));
    let mut records = records(asked, &plan, Some(cut_off))?;
    let driven = tally::driven::tally(&mut asked.engine, &records.ask, cut_off, until)?;
    if until <= cut_off || driven.is_empty() {
        return Err(
            Problem::data("nothing is recorded after this day to check a budget with")
                .field("--check")
                .value(cut_off.to_string())
                .remedy("choose a day before the last records, after the first ones"),
        );
    }
    let later = BudgetAsk {
        last_day: until,
        ..records.ask.clone()
    };
    let vehicles: BTreeSet<&str> = driven.iter().map(|d| d.vehicle.as_str()).collect();
    let lines: Vec<Line> = tally::jobs::tally(&mut asked.engine, &later)?
        .into_iter()
        .filter(|l| l.opened > cut_off && vehicles.contains(l.vehicle.as_str()))
        .collect();
    let minor = Money::new(records.question.minor_digits).minor;
    let came = jobs::jobs(&lines, &plan.prices(&records.question, minor));
    records.question.known_to = cut_off;
    let units = driven.iter().filter_map(unit).collect();
    Ok(Past {
        cut_off,
        until,
        observed: driven
            .iter()
            .filter(|d| d.family.is_some())
            .map(|d| d.failures)
            .sum(),
        mean_cost: mean_cost(&came),
        input: input(asked, &plan, records, units, Vec::new())?,
    })
}

fn unit(driven: &Driven) -> Option<Placed> {
    let family = driven.family.clone()?;
    let unit = Unit {
        label: String::new(),
        line: 0,
        family: 0,
        start_m: driven.from_m,
        planned_m: driven.to_m - driven.from_m,
        is_planned: true,
        repaired: driven.repaired,
    };
    Some((family, unit))
}

fn mean_cost(jobs: &Jobs) -> Option<f64> {
    let costs: Vec<f64> = jobs.list.iter().filter_map(|job| job.cost).collect();
    (!costs.is_empty()).then(|| costs.iter().sum::<f64>() / costs.len() as f64)
}
