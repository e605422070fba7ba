//! From counts by cylinder to a test of equal shares.

use super::types::{
    CylinderRow, CylinderSensitivity, Cylinders, EqualSharesTest, Finding, Pair, StillNeeded,
};
use crate::answer::caveats;
use crate::answer::label::Labels;
use crate::answer::parts::{Estimate, Evidence};
use crate::answer::question::{Question, Rules};
use crate::answer::statistic::{self, told};
use crate::domain::problem::Result;
use crate::stats::{equal_shares, multiple, sample_size};
use crate::tally::cylinders::CylinderTally;

/// Wanted probability of seeing a difference that is there.
const POWER: f64 = 0.8;

/// A difference of this size (Cohen's w, "medium") should have been seen before "no difference seen" is said.
const MATTERS_W: f64 = 0.3;

/// Everything the answer is computed from.
pub struct Input<'a> {
    /// What was asked.
    pub question: Question,
    /// The rules it was asked under.
    pub rules: &'a Rules,
    /// Counts by cylinder.
    pub tally: &'a CylinderTally,
    /// The same under other rules: id, rule in words, counts.
    pub alternatives: &'a [(&'static str, String, CylinderTally)],
    /// Words for ids.
    pub labels: Labels<'a>,
    /// Seed of the Monte Carlo test.
    pub seed: u64,
}

/// The answer.
pub fn answer(input: Input<'_>) -> Result<Cylinders> {
    let Input {
        question,
        rules,
        tally,
        alternatives,
        labels,
        seed,
    } = input;
    let alpha = 1.0 - rules.level;
    let test = test(&tally.counts, seed)?;
    let finding = finding(&tally.counts, test.as_ref(), alpha)?;
    let mut sensitivity = Vec::with_capacity(alternatives.len());
    for (id, rule, other) in alternatives {
        let other_test = self::test(&other.counts, seed)?;
        let other_finding = self::finding(&other.counts, other_test.as_ref(), alpha)?;
        sensitivity.push(CylinderSensitivity {
            id: (*id).to_string(),
            rule: rule.clone(),
            cases: other.counts.iter().sum(),
            p: other_test.map(|t| t.p),
            finding: other_finding,
            changes_verdict: other_finding != finding,
        });
    }
    let mut answer = Cylinders {
        family: tally.family.clone(),
        family_title: labels.family(&tally.family),
        causes: question.causes.iter().map(|c| labels.cause(c)).collect(),
        question,
        finding,
        verdict: Vec::new(),
        cylinders: rows(tally, rules)?,
        pairs: pairs(&tally.counts, alpha)?,
        unknown: tally.unknown,
        impossible: tally.impossible,
        p_unknown_against: against(&tally.counts, tally.unknown, seed)?,
        repeats_left_out: tally.repeat_cases_left_out,
        still_needed: still_needed(&tally.counts, finding, alpha)?,
        evidence: Evidence {
            events: tally.counts.iter().sum::<u64>() + tally.unknown,
            vehicles: tally.vehicles,
            exposure_m: None,
            sites: tally.sites.len() as u64,
            first_date: tally.first,
            last_date: tally.last,
        },
        test,
        sensitivity,
        caveats: Vec::new(),
    };
    answer.verdict = super::verdict::verdict(&answer);
    answer.caveats = caveats::cylinders(&answer);
    Ok(answer)
}

fn rows(tally: &CylinderTally, rules: &Rules) -> Result<Vec<CylinderRow>> {
    let known: u64 = tally.counts.iter().sum();
    let method = statistic::simultaneous_method(&rules.method)?;
    let limits = if known == 0 {
        Vec::new()
    } else {
        told((method.function)(&tally.counts, rules.level))?
    };
    let share = |x: u64, n: u64| if n == 0 { 0.0 } else { x as f64 / n as f64 };
    tally
        .counts
        .iter()
        .enumerate()
        .map(|(i, &count)| {
            let (lower, upper) = limits.get(i).map_or((0.0, 1.0), |l| (l.lower, l.upper));
            Ok(CylinderRow {
                cylinder: number(i),
                count,
                share: Estimate {
                    value: share(count, known),
                    lower,
                    upper: Some(upper),
                    level: rules.level,
                    method: method.id.to_string(),
                },
                at_least: share(count, known + tally.unknown),
                at_most: share(count + tally.unknown, known + tally.unknown),
            })
        })
        .collect()
}

/// Exact test while the number of tables allows it, else a seeded Monte Carlo test.
fn test(counts: &[u64], seed: u64) -> Result<Option<EqualSharesTest>> {
    if counts.iter().sum::<u64>() == 0 || counts.len() < 2 {
        return Ok(None);
    }
    let equal = equal_shares::equal(counts.len());
    let chi = told(equal_shares::chi_square(counts, &equal))?;
    let g = told(equal_shares::g_test(counts, &equal))?;
    let settings = equal_shares::Settings {
        seed,
        ..equal_shares::Settings::default()
    };
    let found = told(equal_shares::test(counts, &equal, &settings))?;
    let Some(effect) = told(equal_shares::effect_size(counts, &equal))? else {
        return Ok(None);
    };
    let mut test = EqualSharesTest {
        method: "exact-multinomial",
        p: found.p,
        p_standard_error: None,
        draws: None,
        seed: None,
        chi_square: chi.statistic,
        chi_square_p: chi.p,
        g: g.statistic,
        g_p: g.p,
        effect_w: effect.w,
        effect_w_corrected: effect.w_corrected,
        effect: effect.magnitude.word(),
    };
    if let equal_shares::Road::MonteCarlo {
        draws,
        seed,
        standard_error,
    } = found.road
    {
        test.method = "monte-carlo";
        test.p_standard_error = Some(standard_error);
        test.draws = Some(draws);
        test.seed = Some(seed);
    }
    Ok(Some(test))
}

fn finding(counts: &[u64], test: Option<&EqualSharesTest>, alpha: f64) -> Result<Finding> {
    let Some(test) = test else {
        return Ok(Finding::TooFew);
    };
    if test.p <= alpha {
        return Ok(Finding::Differ);
    }
    let n: u64 = counts.iter().sum();
    let enough = told(sample_size::to_reject_equal_shares(
        counts.len() as u64,
        MATTERS_W,
        1.0 - alpha,
        POWER,
    ))?;
    Ok(if enough.is_some_and(|needed| n >= needed) {
        Finding::NoDifferenceSeen
    } else {
        Finding::TooFew
    })
}

fn pairs(counts: &[u64], alpha: f64) -> Result<Vec<Pair>> {
    if counts.len() < 2 {
        return Ok(Vec::new());
    }
    let found = told(equal_shares::pairwise(
        counts,
        &equal_shares::equal(counts.len()),
    ))?;
    Ok(found
        .into_iter()
        .map(|p| Pair {
            a: number(p.first),
            b: number(p.second),
            count_a: counts[p.first],
            count_b: counts[p.second],
            p: p.p,
            p_holm: p.adjusted,
            differ: multiple::rejects(p.adjusted, alpha),
        })
        .collect())
}

/// Cylinder number of a place in the counts; a family has at most 16 cylinders.
fn number(index: usize) -> u8 {
    u8::try_from(index + 1).unwrap_or(u8::MAX)
}

/// p-value after giving every unknown case to whichever cylinder has fewest, which works hardest against a difference.
fn against(counts: &[u64], unknown: u64, seed: u64) -> Result<Option<f64>> {
    if unknown == 0 || counts.is_empty() {
        return Ok(None);
    }
    let mut filled = counts.to_vec();
    for _ in 0..unknown {
        if let Some(least) = filled.iter_mut().min() {
            *least += 1;
        }
    }
    Ok(test(&filled, seed)?.map(|t| t.p))
}

/// More cases until a difference like the one seen would be told from chance with the wanted power.
fn still_needed(counts: &[u64], finding: Finding, alpha: f64) -> Result<Option<StillNeeded>> {
    let n: u64 = counts.iter().sum();
    if finding != Finding::TooFew || n == 0 || counts.len() < 2 {
        return Ok(None);
    }
    // The corrected size: with few cases chance alone makes shares look unequal.
    let seen = told(equal_shares::effect_size(
        counts,
        &equal_shares::equal(counts.len()),
    ))?
    .map_or(0.0, |e| e.w_corrected);
    // A smaller difference than `MATTERS_W` is not worth chasing: ask for enough cases to rule that one out.
    let (w, settles) = if seen >= MATTERS_W {
        (
            seen,
            "a difference between cylinders as large as the one seen so far".to_string(),
        )
    } else {
        (
            MATTERS_W,
            "whether any cylinder stands out by an amount that matters (w of 0.3)".to_string(),
        )
    };
    let needed = told(sample_size::to_reject_equal_shares(
        counts.len() as u64,
        w,
        1.0 - alpha,
        POWER,
    ))?;
    let more_cases = needed.map_or(0, |needed| needed.saturating_sub(n));
    Ok((more_cases > 0).then_some(StillNeeded {
        more_cases,
        power: POWER,
        settles,
    }))
}
