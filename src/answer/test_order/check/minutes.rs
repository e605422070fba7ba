//! Minutes of the plan and of other ways, for the causes of the cases judged.

use std::collections::{BTreeMap, BTreeSet};

use super::judge::Judged;
use super::types::Comparison;
use super::{Input, mean};
use crate::answer::parallel::in_order;
use crate::answer::parts::Estimate;
use crate::answer::test_order::compute::habits;
use crate::answer::test_order::learning::Learnt;
use crate::answer::test_order::model::{Bay, Model};
use crate::domain::problem::Result;
use crate::stats::test_order::{Patience, Rule, Solution, evaluate_by_cause};

/// Minutes by cause of each way, for one family.
struct Ways {
    /// Plan with wrong repairs, plan's tests alone, then the others in the order of [`OTHERS`].
    by_cause: Vec<Vec<Option<f64>>>,
}

pub(super) fn compare(
    input: &Input<'_>,
    learnt: &Learnt<'_>,
    judged: &[Judged],
) -> Result<Vec<Comparison>> {
    let families: BTreeSet<Option<&str>> = judged.iter().map(|j| j.family.as_deref()).collect();
    let families: Vec<Option<&str>> = families.into_iter().collect();
    let all = in_order(&families, |family| ways(input, learnt, *family));
    let all: Vec<Ways> = all.into_iter().collect::<Result<_>>()?;
    let families: BTreeMap<Option<&str>, Ways> = families.into_iter().zip(all).collect();
    let of = |way: usize, j: &Judged| {
        families
            .get(&j.family.as_deref())
            .and_then(|w| w.by_cause.get(way)?[j.cause])
    };
    let column = |way: usize| -> Vec<f64> { judged.iter().filter_map(|j| of(way, j)).collect() };
    let more = |way: usize| -> Vec<f64> {
        let pair = |j| Some(of(way, j)? - of(0, j)?);
        judged.iter().filter_map(pair).collect()
    };
    let line = |id: &str, title: &str, values: Vec<f64>, more: Option<Estimate>| {
        Some(Comparison {
            id: id.to_string(),
            title: title.to_string(),
            cases: values.len() as u64,
            minutes: mean(&values, input.level)?,
            more,
        })
    };
    let mut lines = vec![line(
        "plan",
        "the plan: tests and wrong repairs",
        column(0),
        None,
    )];
    for (way, (id, title)) in OTHERS.into_iter().enumerate() {
        lines.push(line(
            id,
            title,
            column(way + 2),
            mean(&more(way + 2), input.level),
        ));
    }
    let timed: Vec<&Judged> = judged.iter().filter(|j| j.recorded.is_some()).collect();
    let tests = timed.iter().filter_map(|j| of(1, j)).collect();
    lines.push(line(
        "plan_tests",
        "the plan: tests alone, cases with every minute recorded",
        tests,
        None,
    ));
    let recorded = timed.iter().filter_map(|j| j.recorded).collect();
    let extra: Vec<f64> = timed
        .iter()
        .filter_map(|j| Some(j.recorded? - of(1, j)?))
        .collect();
    let title = "recorded: tests alone, the same cases (more than the plan's tests)";
    lines.push(line(
        "recorded_tests",
        title,
        recorded,
        mean(&extra, input.level),
    ));
    Ok(lines.into_iter().flatten().collect())
}

const OTHERS: [(&str, &str); 4] = [
    (
        "habit",
        "orders recorded at the sites, stopping at the best moments",
    ),
    (
        "cheapest_first",
        "cheapest test first, stopping at the best moments",
    ),
    (
        "information_per_minute",
        "most information for a minute, stopping at the best moments",
    ),
    ("repair_at_once", "no test: repair in order of odds"),
];

fn ways(input: &Input<'_>, learnt: &Learnt<'_>, family: Option<&str>) -> Result<Ways> {
    let bay = Bay {
        family: family.and_then(|f| input.families.get(f)),
        ..Bay::default()
    };
    let known = learnt.of(family)?;
    let model = Model::new(&known, &bay)?;
    let problem = &model.problem;
    let solution = Solution::find(problem, &model.course, input.effort);
    let plan = solution.plan();
    let course = &model.course;
    let rule = |rule: Rule<'_>| evaluate_by_cause(problem, course, &rule, Patience::BestMoment);
    let thumb = |of| match input.rules_of_thumb {
        true => rule(of),
        false => vec![None; problem.causes()],
    };
    let habits = habits(&model, input.tally);
    let cases: u64 = habits.iter().map(|h| h.1).sum();
    let mut habit = vec![None; problem.causes()];
    for (_, n, order) in &habits {
        let share = *n as f64 / cases as f64;
        for (sum, m) in habit.iter_mut().zip(rule(Rule::InOrder(order))) {
            *sum = m.map(|m| sum.unwrap_or(0.0) + share * m);
        }
    }
    Ok(Ways {
        by_cause: vec![
            plan.minutes_by_cause(problem, course),
            plan.test_minutes_by_cause(problem, course),
            habit,
            thumb(Rule::CheapestFirst),
            thumb(Rule::InformationPerMinute),
            rule(Rule::InOrder(&[])),
        ],
    })
}
