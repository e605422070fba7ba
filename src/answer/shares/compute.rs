//! From counts by cause to shares.

use super::types::{CauseShare, OutcomeCount, ShareGroup, ShareSensitivity, Shares};
use crate::answer::caveats;
use crate::answer::label::Labels;
use crate::answer::parts::{Estimate, Evidence};
use crate::answer::question::{Question, Rules};
use crate::answer::statistic::{self, told};
use crate::domain::problem::Result;
use crate::stats::proportion;
use crate::tally::shares::{ShareGroup as Counted, ShareTally};

/// Method of the intervals that hold for all causes at once, unless another is asked for.
const TOGETHER: &str = "goodman";

/// Everything the answer is computed from.
pub struct Input<'a> {
    /// What was asked.
    pub question: Question,
    /// The rules it was asked under.
    pub rules: &'a Rules,
    /// Complaint the cases were filtered by, in words.
    pub complaint: Option<String>,
    /// Counts by group and cause.
    pub tally: &'a ShareTally,
    /// Counts of all groups under other rules: id, rule in words, one group.
    pub alternatives: &'a [(&'static str, String, ShareTally)],
    /// Words for ids.
    pub labels: Labels<'a>,
}

/// The answer.
pub fn answer(input: Input<'_>) -> Result<Shares> {
    let Input {
        question,
        rules,
        complaint,
        tally,
        alternatives,
        labels,
    } = input;
    let groups = tally
        .groups
        .iter()
        .map(|cell| group(cell, tally, rules, labels))
        .collect::<Result<Vec<_>>>()?;
    let first = overall_first(tally, labels);
    let sensitivity = alternatives
        .iter()
        .map(|(id, rule, other)| {
            let other_first = overall_first(other, labels);
            ShareSensitivity {
                id: (*id).to_string(),
                rule: rule.clone(),
                confirmed_cases: other.groups.iter().map(|g| g.confirmed_cases).sum(),
                changes_verdict: other_first.as_ref().map(|f| &f.0) != first.as_ref().map(|f| &f.0),
                first: other_first.map(|(title, share)| format!("{title}, {:.0} %", 100.0 * share)),
            }
        })
        .collect();
    let mut answer = Shares {
        question,
        complaint,
        kind: "share of failures, not a rate",
        verdict: Vec::new(),
        groups,
        sensitivity,
        caveats: Vec::new(),
    };
    answer.verdict = super::sheet::verdict(&answer);
    answer.caveats = caveats::shares(&answer);
    Ok(answer)
}

fn group(
    cell: &Counted,
    tally: &ShareTally,
    rules: &Rules,
    labels: Labels<'_>,
) -> Result<ShareGroup> {
    // A method for all causes at once leaves each cause alone with the default.
    let method = match statistic::simultaneous_method(&rules.method) {
        Ok(_) => statistic::proportion_method("wilson")?,
        Err(_) => statistic::proportion_method(&rules.method)?,
    };
    let together = together(cell, rules)?;
    let mut causes = Vec::with_capacity(cell.causes.len());
    for (i, found) in cell.causes.iter().enumerate() {
        causes.push(CauseShare {
            cause: found.cause.clone(),
            title: labels.cause(&found.cause),
            count: found.cases,
            share: share(method, found.cases, cell.confirmed_cases, rules.level)?,
            simultaneous: together.as_ref().map(|all| all[i].clone()),
        });
    }
    causes.sort_by(|a, b| b.count.cmp(&a.count).then_with(|| a.cause.cmp(&b.cause)));
    Ok(ShareGroup {
        key: labels.key(&tally.dimensions, &cell.key),
        confirmed_cases: cell.confirmed_cases,
        causes,
        unconfirmed: cell
            .not_confirmed
            .iter()
            .map(|(outcome, cases)| OutcomeCount {
                outcome: outcome.clone(),
                cases: *cases,
            })
            .collect(),
        evidence: Evidence {
            events: cell.confirmed_cases,
            vehicles: cell.vehicles,
            exposure_m: None,
            sites: cell.sites.len() as u64,
            first_date: cell.first,
            last_date: cell.last,
        },
    })
}

fn share(method: &proportion::Method, x: u64, n: u64, level: f64) -> Result<Estimate> {
    let limits = told((method.function)(x, n, level))?;
    Ok(Estimate {
        value: x as f64 / n as f64,
        lower: limits.lower,
        upper: Some(limits.upper),
        level,
        method: method.id.to_string(),
    })
}

/// Intervals for all causes of the group at once, where there is more than one.
fn together(cell: &Counted, rules: &Rules) -> Result<Option<Vec<Estimate>>> {
    let counts: Vec<u64> = cell.causes.iter().map(|c| c.cases).collect();
    if counts.len() < 2 || cell.confirmed_cases == 0 {
        return Ok(None);
    }
    let method = statistic::simultaneous_method(&rules.method)
        .or_else(|_| statistic::simultaneous_method(TOGETHER))?;
    let limits = told((method.function)(&counts, rules.level))?;
    let n = cell.confirmed_cases as f64;
    Ok(Some(
        counts
            .iter()
            .zip(limits)
            .map(|(&x, l)| Estimate {
                value: x as f64 / n,
                lower: l.lower,
                upper: Some(l.upper),
                level: rules.level,
                method: method.id.to_string(),
            })
            .collect(),
    ))
}

/// The most frequent cause over all groups, with its share.
fn overall_first(tally: &ShareTally, labels: Labels<'_>) -> Option<(String, f64)> {
    let mut counts = std::collections::BTreeMap::<&str, u64>::new();
    for found in tally.groups.iter().flat_map(|g| &g.causes) {
        *counts.entry(&found.cause).or_default() += found.cases;
    }
    let all: u64 = counts.values().sum();
    let (cause, n) = counts
        .into_iter()
        .min_by_key(|&(cause, n)| (std::cmp::Reverse(n), cause))?;
    Some((labels.cause(cause), n as f64 / all as f64))
}
