//! The hold-out check: plans and odds from older cases, judged by newer ones.
//!
//! A shop stops testing when it has found the fault, and that decision knows more than the results before it: a coil that was
//! swapped, moved the misfire and was *not* the end of the case was not the coil. Odds that rest on results cannot know
//! this. They are therefore judged where results alone decided how far a case had come: before any test, and at the first
//! abnormal result. After all results they are shown beside, without a verdict.

mod judge;
mod minutes;
mod score;
mod sheet;
mod types;
mod verdict;

pub use types::{CalibrationBin, Comparison, Score, Stage, TestOrderCheck};

use super::learning::Learnt;
use crate::answer::caveats::{caveat, standing};
use crate::answer::parts::Estimate;
use crate::domain::catalog::Catalog;
use crate::domain::day::Day;
use crate::domain::family::Families;
use crate::domain::problem::Result;
use crate::stats::special::normal;
use crate::stats::test_order::Effort;
use crate::tally::test_order::{JudgedCase, TestOrderTally};

/// Fewest cases on either side of the day.
const ENOUGH: usize = 30;

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
    /// Whether the rules of thumb are worked out too, which takes twice as long as all the rest.
    pub rules_of_thumb: bool,
}

/// The check.
pub fn check(input: &Input<'_>) -> Result<TestOrderCheck> {
    let learnt = Learnt::new(input.catalog, input.tally)?;
    let judged = judge::judge(input, &learnt)?;
    let cases: u64 = input.tally.causes.iter().map(|c| c.cases).sum();
    let enough = cases >= ENOUGH as u64 && judged.len() >= ENOUGH;
    let mut answer = TestOrderCheck {
        day: input.day,
        learnt_from: cases,
        judged: judged.len() as u64,
        enough,
        verdict: Vec::new(),
        stages: Vec::new(),
        minutes: Vec::new(),
        caveats: caveats(),
    };
    if enough {
        answer.stages = score::stages(&judged, input.level)?;
        answer.minutes = minutes::compare(input, &learnt, &judged)?;
    }
    answer.verdict = verdict::verdict(&answer);
    Ok(answer)
}

fn caveats() -> Vec<crate::answer::parts::Caveat> {
    vec![
        standing(),
        caveat(
            "where-judged",
            "Odds are judged before any test and at the first abnormal result of a case. Whether testing went on after that was \
             decided by people who knew more than the results, so that after all results even perfect odds need not agree with \
             what happened.",
        ),
        caveat(
            "modelled-minutes",
            "Minutes of the plan and of other ways are those expected for the true cause of each case under the odds and chances \
             learnt; nobody drove the plan. Only recorded minutes were measured.",
        ),
        caveat(
            "recorded-minutes",
            "Recorded minutes are of tests alone and of cases whose every test was timed; what wrong repairs cost before the \
             cause was found is not recorded, so they are set against the test minutes of the plan only.",
        ),
    ]
}

/// Mean with its normal interval; `None` for fewer than two numbers.
fn mean(values: &[f64], level: f64) -> Option<Estimate> {
    let n = values.len() as f64;
    if values.len() < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    Some(normal_estimate(mean, (variance / n).sqrt(), level))
}

fn normal_estimate(value: f64, standard_error: f64, level: f64) -> Estimate {
    let half = normal::norm_quantile(0.5 + level / 2.0) * standard_error;
    Estimate {
        value,
        lower: value - half,
        upper: Some(value + half),
        level,
        method: "normal".to_string(),
    }
}
