//! From failures and windows to means, shares and ratios.

use std::collections::BTreeSet;

use super::comebacks::{comebacks, totals};
use super::costs::cost;
use super::curve::{Curve, trend};
use super::second::second_failures;
use super::types::{MeanDifference, MeanPoint, RepeatGroup, RepeatRule, Repeats};
use crate::answer::label::Labels;
use crate::answer::parts::{Estimate, Evidence};
use crate::answer::question::{Question, Rules};
use crate::answer::statistic::told;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::stats::recurrence::difference;
use crate::tally::Dimension;
use crate::tally::repeats::{RepeatEvent, RepeatGroup as Counted, RepeatTally};

/// Fewest vehicles under observation at a place where groups are compared.
pub const FEWEST_AT_RISK: u64 = 20;

/// Where a group's curve may be quoted to: enough vehicles, or of a small group half of the most ever watched at one place. With one
/// vehicle left its limits do not widen at all, whatever happens.
pub fn enough_at_risk(group: &RepeatGroup) -> u64 {
    let most = group.at_risk.iter().map(|a| a.vehicles).max().unwrap_or(0);
    FEWEST_AT_RISK.min(most.div_ceil(2)).max(1)
}

/// Most rows of differences.
const MOST_DIFFERENCES: usize = 200;

/// How many marks a mileage band is cut into, to show vehicles under observation along the clock.
const MARKS_A_BAND: i64 = 8;

/// Everything the answer is computed from.
pub struct Input<'a> {
    /// What was asked.
    pub question: Question,
    /// The rules it was asked under.
    pub rules: &'a Rules,
    /// Failures and windows.
    pub tally: &'a RepeatTally,
    /// The places the tally was prepared for.
    pub marks: &'a [i64],
    /// The same under other rules: id, rule in words, tally.
    pub alternatives: &'a [(&'static str, String, RepeatTally)],
    /// Words for ids.
    pub labels: Labels<'a>,
}

/// The places at which numbers under observation are wanted: the mileage edges, and even steps between and beyond them.
pub fn marks(bands: &MileageBands) -> Vec<i64> {
    let inner: Vec<i64> = bands.edges.iter().copied().filter(|e| *e > 0).collect();
    let step = inner
        .first()
        .map_or(1, |first| (first / MARKS_A_BAND).max(1));
    let last = inner.last().copied().unwrap_or(0);
    // At the most as many as ten bands have, however narrow the first one.
    let step = step.max(last / (10 * MARKS_A_BAND));
    let even = (1..=15 * MARKS_A_BAND)
        .map(|i| i * step)
        .take_while(|m| *m <= last + last / 2);
    let all: BTreeSet<i64> = even.chain(inner).collect();
    all.into_iter().collect()
}

/// The answer.
pub fn answer(input: Input<'_>) -> Result<Repeats> {
    let Input {
        question,
        rules,
        tally,
        marks,
        alternatives,
        labels,
    } = input;
    let computed = tally
        .groups
        .iter()
        .map(|counted| group(counted, tally, marks, rules, labels))
        .collect::<Result<Vec<_>>>()?;
    let differences = differences(&computed, rules.level)?;
    let groups: Vec<RepeatGroup> = computed.into_iter().map(|(group, _)| group).collect();
    let compared_at_m = compared_at(&groups, labels.bands);
    let main = highest(&groups, compared_at_m).map(|g| g.key.title());
    let sensitivity = alternatives
        .iter()
        .map(|(id, rule, other)| {
            let other = other
                .groups
                .iter()
                .map(|counted| Ok(group(counted, other, marks, rules, labels)?.0))
                .collect::<Result<Vec<_>>>()?;
            let highest = highest(&other, compared_at_m).map(|g| g.key.title());
            Ok(RepeatRule {
                id: (*id).to_string(),
                rule: rule.clone(),
                repairs: other.iter().map(|g| g.evidence.events).sum(),
                changes_verdict: highest != main,
                highest,
            })
        })
        .collect::<Result<Vec<_>>>()?;
    let split: Vec<Dimension> = tally
        .dimensions
        .iter()
        .copied()
        .filter(|d| *d != Dimension::Cause)
        .collect();
    let second = match &tally.second_failures {
        Some(found) => second_failures(found, rules.level)?,
        None => Vec::new(),
    };
    let comebacks = comebacks(&tally.comebacks, &split, rules, labels)?;
    let mut answer = Repeats {
        comeback_totals: totals(&comebacks, rules)?,
        comebacks,
        question,
        verdict: Vec::new(),
        compared_at_m,
        groups,
        differences,
        second_failures: second,
        sensitivity,
        caveats: Vec::new(),
    };
    answer.verdict = super::verdict::verdict(&answer);
    answer.caveats = super::caveats::caveats(&answer, tally);
    Ok(answer)
}

/// A group with its curve, where there is one.
fn group(
    counted: &Counted,
    tally: &RepeatTally,
    marks: &[i64],
    rules: &Rules,
    labels: Labels<'_>,
) -> Result<(RepeatGroup, Option<Curve>)> {
    let vehicles: BTreeSet<usize> = counted.events.iter().map(|e| e.vehicle).collect();
    let mut group = RepeatGroup {
        key: labels.key(&tally.dimensions, &counted.key),
        at: Vec::new(),
        curve: Vec::new(),
        at_risk: Vec::new(),
        cost: None,
        trend: None,
        walk_ins: counted.walk_ins,
        after_last_visit: counted.after_last_visit,
        unplaced: counted.unplaced,
        evidence: Evidence {
            events: counted.events.len() as u64,
            vehicles: counted.vehicles.max(vehicles.len() as u64),
            exposure_m: Some(counted.exposure_m),
            sites: counted.sites,
            first_date: counted.first,
            last_date: counted.last,
        },
        suppressed_below: None,
    };
    let Some(set) = counted.set.and_then(|i| tally.sets.get(i)) else {
        return Ok((group, None));
    };
    let edges: Vec<i64> = edges(labels.bands);
    let events: Vec<(RepeatEvent, f64)> = counted.events.iter().map(|e| (*e, 1.0)).collect();
    let curve = Curve::new(set, &events, marks, rules.level)?;
    group.at = points(&curve, &edges)?;
    group.curve = curve.points()?;
    group.at_risk = curve.at_risk_along(marks);
    group.trend = trend(set, &counted.events);
    group.cost = cost(counted, set, &edges, rules.level)?;
    Ok((group, Some(curve)))
}

/// The edges of mileage bands, the first left out: nothing has happened at 0.
fn edges(bands: &MileageBands) -> Vec<i64> {
    bands.edges.iter().copied().filter(|e| *e > 0).collect()
}

fn points(curve: &Curve, edges: &[i64]) -> Result<Vec<MeanPoint>> {
    let mut places: Vec<i64> = edges.to_vec();
    places.extend(curve.last_repair());
    places.sort_unstable();
    places.dedup();
    places.into_iter().map(|at| curve.point(at, 1.0)).collect()
}

/// The largest edge that enough vehicles of every group with repairs passed; of fewer groups where there is none.
fn compared_at(groups: &[RepeatGroup], bands: &MileageBands) -> Option<i64> {
    let with: Vec<&RepeatGroup> = groups.iter().filter(|g| g.evidence.events > 0).collect();
    let enough = |edge: i64| {
        let watched = |g: &&&RepeatGroup| {
            let there = g.at.iter().find(|p| p.distance_m == edge);
            there.is_some_and(|p| p.at_risk >= FEWEST_AT_RISK)
        };
        with.iter().filter(watched).count()
    };
    let counts: Vec<(usize, i64)> = edges(bands).into_iter().map(|e| (enough(e), e)).collect();
    let most = counts.iter().map(|(n, _)| *n).max().filter(|n| *n > 0)?;
    counts
        .into_iter()
        .filter(|(n, _)| *n == most)
        .map(|(_, e)| e)
        .max()
}

/// The group with the highest mean at the place where groups are compared, among those fully known and watched there.
pub fn highest(groups: &[RepeatGroup], at_m: Option<i64>) -> Option<&RepeatGroup> {
    let mean = |g: &RepeatGroup| {
        let point = g.at.iter().find(|p| Some(p.distance_m) == at_m)?;
        let watched = point.at_risk >= FEWEST_AT_RISK && !g.key.has_unknown();
        point.mean.as_ref().filter(|_| watched).map(|e| e.value)
    };
    groups
        .iter()
        .filter_map(|g| Some((g, mean(g)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(g, _)| g)
}

/// First minus second group, where there are exactly two with known keys. Rows by cause share their vehicles: their difference
/// would need more than both variances.
fn differences(groups: &[(RepeatGroup, Option<Curve>)], level: f64) -> Result<Vec<MeanDifference>> {
    let known: Vec<&Curve> = groups
        .iter()
        .filter(|(g, _)| !g.key.has_unknown() && g.key.part(Dimension::Cause).is_none())
        .filter_map(|(_, curve)| curve.as_ref())
        .collect();
    let [first, second] = known.as_slice() else {
        return Ok(Vec::new());
    };
    let rows = told(difference(&first.steps(), &second.steps(), level))?;
    // Where neither has had a repair yet there is nothing to tell.
    let rows: Vec<_> = rows
        .into_iter()
        .filter(|r| r.standard_error > 0.0)
        .collect();
    let every = rows.len().div_ceil(MOST_DIFFERENCES).max(1);
    let last = rows.len().saturating_sub(1);
    let chosen = rows
        .into_iter()
        .enumerate()
        .filter(|(i, _)| i % every == 0 || *i == last);
    Ok(chosen
        .map(|(_, row)| MeanDifference {
            distance_m: row.distance as i64,
            difference: Estimate {
                value: row.difference,
                lower: row.limits.lower,
                upper: Some(row.limits.upper),
                level,
                method: "lawless-nadeau".to_string(),
            },
        })
        .collect())
}
