//! The hold-out check: plans and odds from older cases, judged by newer ones.
//!
//! Its struct is the JSON contract `boretally.test-order-check/1`.

use std::collections::BTreeMap;

use serde::Serialize;

use super::compute::habits;
use super::model::{Bay, Model, Seen};
use crate::answer::caveats::{caveat, standing};
use crate::answer::columns::Columns;
use crate::answer::parts::{Caveat, Estimate};
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::answer::statistic::told;
use crate::answer::words;
use crate::domain::catalog::Catalog;
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::problem::Result;
use crate::stats::special::normal;
use crate::stats::test_order::{Effort, Patience, Rule, Solution, evaluate_by_cause};
use crate::stats::{forecast_score, proportion};
use crate::tally::test_order::{JudgedCase, TestOrderTally};

/// Fewest cases on either side of the day.
const ENOUGH: usize = 30;

/// Bins of the calibration table.
const BINS: usize = 5;

/// How good odds from older cases were for newer ones.
#[derive(Debug, Clone, Serialize)]
pub struct TestOrderCheck {
    /// Cases up to this day were learnt from; later ones judged.
    pub day: Day,
    /// Cases learnt from.
    pub learnt_from: u64,
    /// Cases judged.
    pub judged: u64,
    /// Whether there were enough of both.
    pub enough: bool,
    /// Plain words.
    pub verdict: Vec<String>,
    /// Scores of the odds.
    pub scores: Vec<Score>,
    /// Log score of the records' odds after tests less that of the catalog alone; below 0 the records help.
    pub log_score_gained: Option<Estimate>,
    /// Odds of the first cause against how often it was the one.
    pub calibration: Vec<CalibrationBin>,
    /// Spiegelhalter's z of these odds, standard normal when calibrated.
    pub spiegelhalter_z: Option<f64>,
    /// Its two-sided p.
    pub calibration_p: Option<f64>,
    /// Minutes of the plan and of other ways, for the causes of the cases judged.
    pub minutes: Vec<Comparison>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// Scores of one way to name odds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Score {
    /// `records` or `catalog`, `before` or `after` tests.
    pub id: &'static str,
    /// In words.
    pub title: &'static str,
    /// Mean of -ln of the odds of the true cause; lower is better.
    pub log_score: f64,
    /// Brier score over all causes, 0 to 2; lower is better.
    pub brier: f64,
    /// Share of cases whose first cause was the true one.
    pub first_right: Estimate,
    /// Mean rank of the true cause.
    pub mean_rank: f64,
}

/// One bin of the calibration table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CalibrationBin {
    /// From these odds.
    pub from: f64,
    /// To these.
    pub to: f64,
    /// Cases.
    pub cases: u64,
    /// Mean odds of the first cause.
    pub odds: f64,
    /// How often it was the one.
    pub right: Estimate,
}

/// Minutes of one way of working.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Stable id.
    pub id: String,
    /// In words.
    pub title: String,
    /// Cases.
    pub cases: u64,
    /// Mean minutes a case.
    pub minutes: Estimate,
    /// How many more than the plan's.
    pub more: Option<Estimate>,
}

/// Everything the check is computed from.
pub struct Input<'a> {
    /// The day.
    pub day: Day,
    /// Causes, tests and repairs.
    pub catalog: &'a Catalog,
    /// Engine families.
    pub families: &'a Families,
    /// Counts up to the day.
    pub tally: &'a TestOrderTally,
    /// Cases after it.
    pub cases: &'a [JudgedCase],
    /// Confidence level.
    pub level: f64,
    /// Work allowed for each plan.
    pub effort: Effort,
}

/// One judged case: true cause by number, family, odds by way.
struct Judged {
    cause: usize,
    family: Option<String>,
    recorded: Option<f64>,
    odds: [Vec<f64>; 4],
}

const WAYS: [(&str, &str); 4] = [
    ("records_after", "records, after the tests of the case"),
    (
        "catalog_after",
        "catalog alone, after the tests of the case",
    ),
    ("records_before", "records, before any test"),
    ("catalog_before", "catalog alone, before any test"),
];

/// The check.
pub fn check(input: &Input<'_>) -> Result<TestOrderCheck> {
    let judged = judge(input)?;
    let learnt: u64 = input.tally.causes.iter().map(|c| c.cases).sum();
    let enough = learnt >= ENOUGH as u64 && judged.len() >= ENOUGH;
    let mut answer = TestOrderCheck {
        day: input.day,
        learnt_from: learnt,
        judged: judged.len() as u64,
        enough,
        verdict: Vec::new(),
        scores: Vec::new(),
        log_score_gained: None,
        calibration: Vec::new(),
        spiegelhalter_z: None,
        calibration_p: None,
        minutes: Vec::new(),
        caveats: vec![
            standing(),
            caveat(
                "recorded-minutes",
                "Recorded minutes are of tests alone and of cases whose every test was timed; what wrong repairs cost before the \
                 cause was found is not recorded, so they are set against the test minutes of the plan only.",
            ),
        ],
    };
    if enough {
        for (way, (id, title)) in WAYS.into_iter().enumerate() {
            answer
                .scores
                .push(score(&judged, way, id, title, input.level)?);
        }
        let gains: Vec<f64> = judged
            .iter()
            .map(|j| (j.odds[1][j.cause] / j.odds[0][j.cause]).ln())
            .collect();
        answer.log_score_gained = mean(&gains, input.level);
        calibrate(&mut answer, &judged, input.level)?;
        answer.minutes = compare(input, &judged)?;
    }
    answer.verdict = verdict(&answer);
    Ok(answer)
}

fn judge(input: &Input<'_>) -> Result<Vec<Judged>> {
    let empty = TestOrderTally::default();
    let causes = input.catalog.causes();
    let mut judged = Vec::new();
    for case in input.cases {
        let Some(cause) = causes.iter().position(|c| c.id == case.cause) else {
            continue;
        };
        let family = case.family.as_ref().and_then(|f| input.families.get(f));
        let bay = |seen: Vec<Seen>| Bay {
            family,
            band: case.band,
            seen,
            ..Bay::default()
        };
        let known = usable(input.catalog, case);
        let odds = |tally, seen: Vec<Seen>| -> Result<Vec<f64>> {
            let model = Model::new(input.catalog, tally, &bay(seen))?;
            Ok(model.course.causes(&model.problem))
        };
        judged.push(Judged {
            cause,
            family: family.map(|f| f.id.clone()),
            recorded: recorded(case),
            odds: [
                odds(input.tally, known.clone())?,
                odds(&empty, known)?,
                odds(input.tally, Vec::new())?,
                odds(&empty, Vec::new())?,
            ],
        });
    }
    Ok(judged)
}

/// Results of a case that the model knows: a wet step without a low dry reading, or a leak without a path, is left out.
fn usable(catalog: &Catalog, case: &JudgedCase) -> Vec<Seen> {
    let dry_low = case
        .steps
        .iter()
        .any(|s| s.0 == "cranking_compression" && s.1);
    let says = |test: &str| match test {
        "wet_compression" => dry_low,
        _ => catalog.causes().first().is_some_and(|c| {
            catalog.chance_abnormal(&c.id, test).is_some()
                || catalog.follow_up(&c.id, test).is_some()
        }),
    };
    let told = |test: &str, abnormal: bool, path: &Option<String>| {
        test != "cylinder_leakage" || !abnormal || path.is_some()
    };
    case.steps
        .iter()
        .filter(|(test, abnormal, path, _)| says(test) && told(test, *abnormal, path))
        .map(|(test, abnormal, path, _)| Seen {
            test: test.clone(),
            abnormal: *abnormal,
            path: path.clone().filter(|_| test == "cylinder_leakage"),
        })
        .collect()
}

/// Minutes of all tests of a case, if each was noted.
fn recorded(case: &JudgedCase) -> Option<f64> {
    if case.steps.is_empty() {
        return None;
    }
    case.steps.iter().map(|s| s.3).sum()
}

fn score(
    judged: &[Judged],
    way: usize,
    id: &'static str,
    title: &'static str,
    level: f64,
) -> Result<Score> {
    let odds: Vec<Vec<f64>> = judged.iter().map(|j| bounded(&j.odds[way])).collect();
    let truth: Vec<usize> = judged.iter().map(|j| j.cause).collect();
    let scores = told(forecast_score::classes(&odds, &truth))?;
    let ranks = odds
        .iter()
        .zip(&truth)
        .map(|(o, t)| forecast_score::rank(o, *t));
    let ranks: Vec<usize> = ranks.collect();
    let first = ranks.iter().filter(|r| **r == 1).count() as u64;
    Ok(Score {
        id,
        title,
        log_score: scores.log_score,
        brier: scores.brier,
        first_right: share(first, judged.len() as u64, level)?,
        mean_rank: ranks.iter().sum::<usize>() as f64 / ranks.len() as f64,
    })
}

/// Rounding may leave a probability a hair above 1.
fn bounded(odds: &[f64]) -> Vec<f64> {
    odds.iter().map(|p| p.clamp(0.0, 1.0)).collect()
}

fn share(x: u64, n: u64, level: f64) -> Result<Estimate> {
    let limits = told(proportion::wilson(x, n, level))?;
    Ok(Estimate {
        value: x as f64 / n as f64,
        lower: limits.lower,
        upper: Some(limits.upper),
        level,
        method: "wilson".to_string(),
    })
}

/// Mean with its normal interval; `None` for fewer than two numbers.
fn mean(values: &[f64], level: f64) -> Option<Estimate> {
    let n = values.len() as f64;
    if values.len() < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let half = normal::norm_quantile(0.5 + level / 2.0) * (variance / n).sqrt();
    Some(Estimate {
        value: mean,
        lower: mean - half,
        upper: Some(mean + half),
        level,
        method: "normal".to_string(),
    })
}

fn calibrate(answer: &mut TestOrderCheck, judged: &[Judged], level: f64) -> Result<()> {
    let first: Vec<(f64, bool)> = judged
        .iter()
        .map(|j| {
            let odds = bounded(&j.odds[0]);
            let top = (0..odds.len()).find(|c| forecast_score::rank(&odds, *c) == 1);
            let top = top.unwrap_or_default();
            (odds[top], top == j.cause)
        })
        .collect();
    let (odds, hits): (Vec<f64>, Vec<bool>) = first.iter().copied().unzip();
    let scores = told(forecast_score::binary(&odds, &hits))?;
    answer.spiegelhalter_z = scores.spiegelhalter_z;
    answer.calibration_p = scores
        .spiegelhalter_z
        .map(|z| 2.0 * normal::norm_sf(z.abs()));
    for bin in 0..BINS {
        let (from, to) = (bin as f64 / BINS as f64, (bin + 1) as f64 / BINS as f64);
        let within = |p: f64| from <= p && (p < to || bin + 1 == BINS);
        let inside: Vec<&(f64, bool)> = first.iter().filter(|f| within(f.0)).collect();
        if inside.is_empty() {
            continue;
        }
        let n = inside.len() as u64;
        let hits = inside.iter().filter(|f| f.1).count() as u64;
        answer.calibration.push(CalibrationBin {
            from,
            to,
            cases: n,
            odds: inside.iter().map(|f| f.0).sum::<f64>() / n as f64,
            right: share(hits, n, level)?,
        });
    }
    Ok(())
}

/// Minutes by cause of each way, for one family.
struct Ways {
    /// Plan with wrong repairs, plan's tests alone, then the others in the order of `titles`.
    by_cause: Vec<Vec<Option<f64>>>,
}

fn compare(input: &Input<'_>, judged: &[Judged]) -> Result<Vec<Comparison>> {
    let mut families: BTreeMap<Option<String>, Ways> = BTreeMap::new();
    for j in judged {
        if !families.contains_key(&j.family) {
            families.insert(j.family.clone(), ways(input, j.family.as_deref())?);
        }
    }
    let of = |way: usize, j: &Judged| {
        families
            .get(&j.family)
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

fn ways(input: &Input<'_>, family: Option<&str>) -> Result<Ways> {
    let bay = Bay {
        family: family.and_then(|f| input.families.get(f)),
        ..Bay::default()
    };
    let model = Model::new(input.catalog, input.tally, &bay)?;
    let problem = &model.problem;
    let solution = Solution::find(problem, &model.course, input.effort);
    let plan = solution.plan(problem);
    // The same tests for every way.
    let course = solution.course();
    let rule = |rule: Rule<'_>| evaluate_by_cause(problem, course, &rule, Patience::BestMoment);
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
            rule(Rule::CheapestFirst),
            rule(Rule::InformationPerMinute),
            rule(Rule::InOrder(&[])),
        ],
    })
}

fn verdict(answer: &TestOrderCheck) -> Vec<String> {
    if !answer.enough {
        return vec![format!(
            "Too few cases to judge: {} up to {}, {} after it; {ENOUGH} of each are needed.",
            answer.learnt_from, answer.day, answer.judged
        )];
    }
    let mut lines = Vec::new();
    if let Some(score) = answer.scores.first() {
        lines.push(format!(
            "Learnt from {} cases up to {}, judged by {} later ones: the first cause named was the true one in {} ({}), its mean \
             rank {}.",
            answer.learnt_from,
            answer.day,
            answer.judged,
            words::percent(score.first_right.value),
            limits_in_percent(&score.first_right),
            words::number(score.mean_rank)
        ));
    }
    if let Some(gain) = &answer.log_score_gained {
        let upper = gain.upper.unwrap_or(f64::INFINITY);
        let what = match (gain.lower > 0.0, upper < 0.0) {
            (false, true) => "The records beat the catalog alone",
            (true, false) => "The catalog alone was better than the records",
            _ => "Records and catalog alone cannot be told apart",
        };
        lines.push(format!(
            "{what}: log score {} ({}); below 0 the records help.",
            words::number(gain.value),
            words::interval(gain)
        ));
    }
    if let Some(p) = answer.calibration_p {
        let what = match p < 0.05 {
            true => "The odds are off by more than chance",
            false => "The odds agree with what happened within chance",
        };
        lines.push(format!("{what} (calibration p = {p:.3})."));
    }
    for line in answer
        .minutes
        .iter()
        .filter(|m| m.id == "habit" || m.id == "cheapest_first")
    {
        if let Some(more) = &line.more {
            lines.push(format!(
                "{}: {} minutes a case more than the plan ({}).",
                line.title,
                words::number(more.value),
                words::interval(more)
            ));
        }
    }
    lines
}

fn limits_in_percent(e: &Estimate) -> String {
    format!(
        "{:.0} % {} to {}",
        100.0 * e.level,
        words::percent(e.lower),
        words::percent(e.upper.unwrap_or(1.0))
    )
}

impl Answer for TestOrderCheck {
    const CONTRACT: &'static str = "boretally.test-order-check/1";

    fn sheet(&self) -> Sheet {
        let basis = vec![format!(
            "learnt from {} cases up to {}, judged by {} later ones",
            self.learnt_from, self.day, self.judged
        )];
        Sheet {
            title: "Were the odds and the plan any good?".to_string(),
            basis,
            verdict: self.verdict.clone(),
            grids: vec![
                self.scores_grid(),
                self.calibration_grid(),
                self.minutes_grid(),
            ],
            caveats: self.caveats.clone(),
        }
    }
}

impl TestOrderCheck {
    fn scores_grid(&self) -> Grid {
        let mut columns: Columns<'_, Score> = Columns::default();
        columns.add("odds", "odds from", Show::Text, |s| {
            Cell::Text(s.title.to_string())
        });
        columns.add("log_score", "log score", Show::Quantity, |s| {
            Cell::Number(s.log_score)
        });
        columns.add("brier", "Brier (0 to 2)", Show::Quantity, |s| {
            Cell::Number(s.brier)
        });
        columns.share("first_right", "first cause right", |s| Some(&s.first_right));
        columns.add("mean_rank", "mean rank", Show::Quantity, |s| {
            Cell::Number(s.mean_rank)
        });
        columns.grid(
            "scores",
            "Odds of the true cause (lower scores are better)",
            &self.scores,
        )
    }

    fn calibration_grid(&self) -> Grid {
        let mut columns: Columns<'_, CalibrationBin> = Columns::default();
        columns.add("from", "odds from", Show::Percent, |b| Cell::Number(b.from));
        columns.add("to", "to", Show::Percent, |b| Cell::Number(b.to));
        columns.add("cases", "cases", Show::Count, |b| {
            Cell::Whole(b.cases as i64)
        });
        columns.add("odds", "mean odds", Show::Percent, |b| Cell::Number(b.odds));
        columns.share("right", "was the one", |b| Some(&b.right));
        columns.grid(
            "calibration",
            "Odds of the first cause against how often it was the one",
            &self.calibration,
        )
    }

    fn minutes_grid(&self) -> Grid {
        let mut columns: Columns<'_, Comparison> = Columns::default();
        columns.add("way", "way of working", Show::Text, |c| {
            Cell::Text(c.title.clone())
        });
        columns.add("cases", "cases", Show::Count, |c| {
            Cell::Whole(c.cases as i64)
        });
        columns.estimate("minutes", "minutes a case", |c| Some(&c.minutes));
        columns.estimate("more", "more than the plan", |c| c.more.as_ref());
        columns.grid(
            "minutes",
            "Minutes for the causes of the cases judged",
            &self.minutes,
        )
    }
}
