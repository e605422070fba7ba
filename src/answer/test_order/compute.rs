//! From counts to the plan, and to what it is held against.

use std::collections::BTreeMap;

use super::learning::Learnt;
use super::model::{Bay, Model};
use super::narrative::Words;
use super::types::{
    Alternative, Baseline, CauseLine, Caution, ChanceLine, First, TestLine, TestOrder,
};
use super::{learning, sheet};
use crate::answer::parts::Evidence;
use crate::domain::caution;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::stats::test_order::{Effort, Patience, Plan, Rule, Solution, evaluate};
use crate::tally::test_order::TestOrderTally;

/// Sites whose habit stands beside the plan, those with the most tested cases first.
const HABITS: usize = 5;

/// Fewest cases of a site, and of a test there, that make a habit.
const ENOUGH_FOR_HABIT: u64 = 5;

/// Everything the answer is computed from.
pub struct Input<'a> {
    /// The catalog, and what was learnt from records.
    pub learnt: &'a Learnt<'a>,
    /// The engine in the bay.
    pub bay: Bay<'a>,
    /// Mileage bands.
    pub bands: &'a MileageBands,
    /// Complaint in words.
    pub complaint: Option<String>,
    /// How much work the proof may cost.
    pub effort: Effort,
}

/// The answer.
pub fn answer(input: &Input<'_>) -> Result<TestOrder> {
    let (catalog, tally) = (input.learnt.catalog, input.learnt.tally);
    let known = input.learnt.of(input.bay.family.map(|f| f.id.as_str()))?;
    let model = Model::new(&known, &input.bay)?;
    let words = Words {
        catalog,
        model: &model,
    };
    let solution = Solution::find(&model.problem, &model.course, input.effort);
    let plan = solution.plan();
    let mut answer = TestOrder {
        family: input.bay.family.map(|f| f.id.clone()),
        family_title: input
            .bay
            .family
            .map_or("any engine".to_string(), |f| f.title.clone()),
        complaint: input.complaint.clone(),
        cylinder: input.bay.cylinder,
        band: input.bay.band.map(|b| input.bands.label(b)),
        seen: input
            .bay
            .seen
            .iter()
            .map(|s| sheet::seen(catalog, s))
            .collect(),
        access: model.access.0,
        access_times: model.access.1,
        verdict: Vec::new(),
        evidence: evidence(tally, &model),
        minutes: solution.minutes,
        lower: solution.lower,
        exact: solution.left_out.is_empty(),
        positions: solution.positions() as u64,
        first: first(&words, &solution, plan, input.effort),
        alternatives: alternatives(&words, &solution),
        baselines: baselines(&model, tally, &solution),
        causes: causes(&words),
        tests: tests(&model),
        chances: chances(&model, input.learnt.chances.family_weight[0]),
        steps: words.lines(plan),
        plan: words.points(plan),
        cautions: cautions(&model),
        mark: catalog.mark().to_string(),
        caveats: Vec::new(),
    };
    answer.verdict = sheet::verdict(&answer);
    answer.caveats = sheet::caveats(&answer, &solution.left_out, &words);
    Ok(answer)
}

fn evidence(tally: &TestOrderTally, model: &Model<'_>) -> Evidence {
    let [all, family, _] = learning::totals(&model.priors);
    let mut sites: Vec<&String> = tally.steps.iter().filter_map(|s| s.site.as_ref()).collect();
    sites.sort();
    sites.dedup();
    Evidence {
        events: if family > 0 { family } else { all },
        vehicles: 0,
        exposure_m: None,
        sites: sites.len() as u64,
        first_date: tally.first,
        last_date: tally.last,
    }
}

fn first(words: &Words<'_>, solution: &Solution, plan: &Plan, effort: Effort) -> Option<First> {
    let problem = &words.model.problem;
    let number = solution.first()?;
    let entry = &words.model.tests[number];
    let mut without = words.model.course.clone();
    without.at = without.at.without(problem, number);
    let effort = Effort {
        bound: false,
        ..effort
    };
    let shorter = Solution::find(problem, &without, effort);
    Some(First {
        test: entry.test.id.clone(),
        title: entry.test.title.clone(),
        minutes: words.model.course.at.price(problem, number),
        separates: entry.test.separates.clone(),
        abnormal: entry.test.abnormal.clone(),
        needs: entry.test.needs.clone(),
        results: words.meanings(plan),
        leaving_out_costs: (shorter.minutes - solution.minutes).max(0.0),
    })
}

fn alternatives(words: &Words<'_>, solution: &Solution) -> Vec<Alternative> {
    let problem = &words.model.problem;
    let first = solution.first();
    let mut all: Vec<Alternative> = words
        .model
        .course
        .at
        .available(problem)
        .filter(|t| Some(*t) != first)
        .filter_map(|t| {
            let minutes = solution.minutes_with_first(problem, t)?;
            Some(Alternative {
                test: words.model.tests[t].test.id.clone(),
                title: words.test(t),
                minutes,
                more: minutes - solution.minutes,
            })
        })
        .collect();
    all.sort_by(|a, b| a.minutes.total_cmp(&b.minutes).then(a.test.cmp(&b.test)));
    all
}

/// The order of tests that a site's records show: by the mean number of the step.
pub fn habits(model: &Model<'_>, tally: &TestOrderTally) -> Vec<(String, u64, Vec<usize>)> {
    let mut sites: BTreeMap<&str, BTreeMap<&str, (u64, i64)>> = BTreeMap::new();
    for step in &tally.steps {
        if let Some(site) = &step.site {
            let tests = sites.entry(site).or_default();
            let sum = tests.entry(&step.test).or_default();
            sum.0 += step.cases;
            sum.1 += step.places;
        }
    }
    let mut habits: Vec<(String, u64, Vec<usize>)> = sites
        .into_iter()
        .filter_map(|(site, tests)| {
            let cases = tests.values().map(|t| t.0).max()?;
            let often = tests.iter().filter(|(_, t)| t.0 >= ENOUGH_FOR_HABIT);
            let mean = |t: &(u64, i64)| t.1 as f64 / t.0 as f64;
            let mut order: Vec<(f64, usize)> = often
                .filter_map(|(id, t)| Some((mean(t), model.test(id)?)))
                .collect();
            order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            let order: Vec<usize> = order.into_iter().map(|(_, t)| t).collect();
            (!order.is_empty()).then(|| (site.to_string(), cases, order))
        })
        .collect();
    habits.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    habits.truncate(HABITS);
    habits
}

fn baselines(model: &Model<'_>, tally: &TestOrderTally, solution: &Solution) -> Vec<Baseline> {
    let minutes =
        |rule: Rule<'_>| evaluate(&model.problem, &model.course, &rule, Patience::BestMoment);
    let line = |id: &str, title: String, minutes: f64| Baseline {
        id: id.to_string(),
        title,
        minutes,
        more: minutes - solution.minutes,
    };
    let mut lines = vec![
        line(
            "information_per_minute",
            "most information for a minute, one step ahead".to_string(),
            minutes(Rule::InformationPerMinute),
        ),
        line(
            "cheapest_first",
            "cheapest test first".to_string(),
            minutes(Rule::CheapestFirst),
        ),
        line(
            "repair_at_once",
            "no test: repair in order of odds".to_string(),
            minutes(Rule::InOrder(&[])),
        ),
    ];
    for (site, cases, order) in habits(model, tally) {
        let title = format!("order recorded at {site} ({cases} cases)");
        lines.push(line("habit", title, minutes(Rule::InOrder(&order))));
    }
    lines
}

fn causes(words: &Words<'_>) -> Vec<CauseLine> {
    let model = words.model;
    let now = model.course.causes(&model.problem);
    let mut lines: Vec<CauseLine> = model
        .priors
        .iter()
        .zip(&model.repairs)
        .zip(now)
        .map(|((prior, repair), probability)| CauseLine {
            cause: prior.cause.clone(),
            title: words
                .catalog
                .title(crate::domain::catalog::Kind::Cause, &prior.cause)
                .to_string(),
            probability,
            before: prior.probability,
            starting: prior.starting,
            cases_all: prior.cases[0],
            cases_family: prior.cases[1],
            cases_band: prior.cases[2],
            weight_all: prior.weights[0],
            weight_family: prior.weights[1],
            repair: repair.repair.map(|r| r.title.clone()),
            repair_minutes: repair.minutes,
            head_off: repair.head_off,
        })
        .collect();
    lines.sort_by(|a, b| {
        b.probability
            .total_cmp(&a.probability)
            .then(a.cause.cmp(&b.cause))
    });
    lines
}

fn tests(model: &Model<'_>) -> Vec<TestLine> {
    let counted = |number: usize, family: bool| {
        let cells = model.cells.iter().filter(|c| c.test == number);
        cells
            .map(|c| {
                if family {
                    c.results.family[1]
                } else {
                    c.results.all[1]
                }
            })
            .sum()
    };
    let numbered = model.tests.iter().enumerate();
    numbered
        .map(|(number, entry)| TestLine {
            test: entry.test.id.clone(),
            title: entry.test.title.clone(),
            minutes: entry.minutes,
            minutes_from: entry.from.id().to_string(),
            timed: entry.timed,
            set_ups: entry.test.set_ups.clone(),
            cases_all: counted(number, false),
            cases_family: counted(number, true),
        })
        .collect()
}

fn chances(model: &Model<'_>, weight_all: f64) -> Vec<ChanceLine> {
    model
        .cells
        .iter()
        .map(|cell| ChanceLine {
            cause: model.priors[cell.cause].cause.clone(),
            test: model.tests[cell.test].test.id.clone(),
            probability: cell.probability,
            starting: cell.starting.0 / 100.0,
            weight: cell.starting.1,
            weight_all,
            abnormal_all: cell.results.all[0],
            cases_all: cell.results.all[1],
            abnormal_family: cell.results.family[0],
            cases_family: cell.results.family[1],
            sure: cell.results.sure,
        })
        .collect()
}

fn cautions(model: &Model<'_>) -> Vec<Caution> {
    let hazards = model.tests.iter().flat_map(|t| &t.test.hazards);
    caution::hazards_of(hazards.map(String::as_str))
        .into_iter()
        .map(|h| Caution {
            id: h.id,
            title: h.title,
            text: h.text,
            mark: h.mark,
        })
        .collect()
}
