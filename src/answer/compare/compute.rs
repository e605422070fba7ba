//! From the readings just taken to what they say.

use super::next_step::{Situation, next_steps};
use super::practice::{MARK, practice};
use super::records::Records;
use super::types::{Comparison, CylinderReading, Finding, PracticeResult};
use super::verdict;
use crate::answer::parts::Estimate;
use crate::answer::readings::contrast::Contrast;
use crate::answer::words;
use crate::domain::catalog::{Catalog, FaultySide, Test};
use crate::domain::problem::Result;
use crate::domain::unit::Unit;
use crate::stats::quantile::median;

/// Below this no spark-ignition engine is said to read when it is warm and sound (common practice), in kPa.
const TYPICAL_LOWEST_KPA: f64 = 830.0;

/// One reading as it was typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Typed {
    /// Cylinder number.
    pub cylinder: u8,
    /// Reading in the canonical unit.
    pub canonical: f64,
    /// The text.
    pub text: String,
    /// Leak path id.
    pub leak_path: Option<String>,
}

/// Everything the answer is computed from.
pub struct Input<'a> {
    /// Readings of different cylinders, at least one.
    pub typed: &'a [Typed],
    /// The test.
    pub test: &'a Test,
    /// Canonical unit of all readings.
    pub canonical: Unit,
    /// Unit in which they are shown.
    pub unit: Unit,
    /// The unit that was inferred from the readings.
    pub unit_inferred: Option<Unit>,
    /// Family id and words, where named.
    pub family: Option<(String, String)>,
    /// The records of that family and test, in the unit shown.
    pub records: Option<Records<'a>>,
    /// Confidence level.
    pub level: f64,
    /// Causes, tests, paths.
    pub catalog: &'a Catalog,
}

/// The answer.
pub fn answer(input: &Input<'_>) -> Result<Comparison> {
    let contrast = Contrast::of(input.canonical);
    let values: Vec<f64> = input.typed.iter().map(|t| t.canonical).collect();
    let rule = practice(&input.test.id);
    let judged = rule.map(|r| r.judge(&values));
    let broken = judged.as_ref().map(|j| j.1.as_slice()).unwrap_or_default();
    let mut cylinders = rows(input, contrast, &values)?;
    judge(input, &mut cylinders, broken, judged.is_some());
    let result = rule
        .zip(judged.as_ref())
        .map(|(r, (kept, broken))| PracticeResult {
            rule: r.text,
            mark: MARK,
            kept: *kept,
            cylinders: cylinders
                .iter()
                .zip(broken)
                .filter(|(_, b)| **b)
                .map(|(c, _)| c.cylinder)
                .collect(),
        });
    let all_low = all_low(input, &values);
    let undecided = result
        .as_ref()
        .is_some_and(|p| !p.kept && p.cylinders.is_empty());
    let mut answer = Comparison {
        family: input.family.as_ref().map(|f| f.0.clone()),
        family_title: input.family.as_ref().map(|f| f.1.clone()),
        test: input.test.id.clone(),
        test_title: input.test.title.clone(),
        unit: input.unit.symbol().to_string(),
        contrast: contrast.id(),
        level: input.level,
        verdict: Vec::new(),
        all_low,
        next_steps: next_steps(
            Situation {
                test: &input.test.id,
                undecided,
                all_low,
            },
            &cylinders,
            input.catalog,
        ),
        practice: result,
        records: input.records.as_ref().map(|r| r.used.clone()),
        caveats: Vec::new(),
        cylinders,
    };
    answer.verdict = verdict::verdict(&answer);
    answer.caveats = verdict::caveats(&answer, input);
    Ok(answer)
}

fn rows(input: &Input<'_>, contrast: Contrast, values: &[f64]) -> Result<Vec<CylinderReading>> {
    let highest = values.iter().copied().fold(0.0, f64::max);
    let contrasts = contrast.of_each(values);
    let has_highest = contrast == Contrast::Ratio && input.test.faulty == FaultySide::Low;
    let records = input.records.as_ref();
    input
        .typed
        .iter()
        .zip(contrasts)
        .map(|(typed, against)| {
            let shown = input
                .canonical
                .convert(typed.canonical, input.unit)
                .unwrap_or(typed.canonical);
            // With two readings either stands against the other alone, which records of whole engines say nothing of.
            let weighed = against.filter(|_| values.len() > 2);
            let ask =
                |f: &dyn Fn(&Records<'_>) -> Result<Option<Estimate>>| records.map_or(Ok(None), f);
            Ok(CylinderReading {
                cylinder: typed.cylinder,
                reading: shown,
                typed: typed.text.clone(),
                leak_path: typed.leak_path.clone(),
                of_highest: (highest > 0.0 && has_highest).then(|| typed.canonical / highest),
                against_others: against,
                place: ask(&|r| r.place(shown))?,
                place_against_others: ask(&|r| {
                    weighed.map_or(Ok(None), |x| r.place_against_others(x))
                })?,
                likelihood_ratio: ask(&|r| weighed.map_or(Ok(None), |x| r.likelihood_ratio(x)))?,
                finding: Finding::Unjudged,
                because: Vec::new(),
            })
        })
        .collect()
}

fn judge(input: &Input<'_>, cylinders: &mut [CylinderReading], broken: &[bool], has_rule: bool) {
    let side = input.test.faulty;
    let furthest = furthest(input.typed);
    let several = cylinders.len() > 2;
    for (i, cylinder) in cylinders.iter_mut().enumerate() {
        if has_rule && input.typed.len() > 1 {
            cylinder.finding = Finding::InLine;
        }
        if broken.get(i) == Some(&true) {
            cylinder.finding = Finding::Abnormal;
            cylinder
                .because
                .push("breaks the common-practice rule".to_string());
        }
        let Some(records) = &input.records else {
            continue;
        };
        // On either side the others look odd against the odd one: only the furthest from the middle are judged.
        let may_judge = side != FaultySide::Either || furthest.get(i) == Some(&true);
        let against = cylinder.against_others.filter(|_| several);
        let beyond = match (against, records.outside(against.unwrap_or(f64::NAN), side)) {
            (Some(_), Some(outside)) => Some(outside && may_judge),
            _ => records
                .reading_outside(cylinder.reading, side)
                .filter(|_| !several),
        };
        let Some(beyond) = beyond else { continue };
        let ratio = cylinder.likelihood_ratio.as_ref().filter(|_| may_judge);
        let found = match (beyond, ratio) {
            (true, Some(r)) if r.lower > 1.0 => {
                cylinder.because.push(format!(
                    "outside of 95 % of healthy cylinders; such readings come {} times ({}) as often from a faulty as from a healthy cylinder",
                    words::number(r.value),
                    words::interval(r)
                ));
                Finding::Abnormal
            }
            (true, _) => {
                cylinder
                    .because
                    .push("outside of 95 % of healthy cylinders on record".to_string());
                Finding::Unusual
            }
            (false, _) => Finding::InLine,
        };
        cylinder.finding = cylinder.finding.max(found);
    }
}

/// Readings at least half as far from the middle of the set as the furthest one.
fn furthest(typed: &[Typed]) -> Vec<bool> {
    let mut values: Vec<f64> = typed.iter().map(|t| t.canonical).collect();
    let middle = median(&mut values).unwrap_or(0.0);
    let distance = |t: &Typed| (t.canonical - middle).abs();
    let most = typed.iter().map(distance).fold(0.0, f64::max);
    typed
        .iter()
        .map(|t| most > 0.0 && distance(t) >= 0.5 * most)
        .collect()
}

/// Whether the whole set reads lower than sound engines do: below what common practice says of cranking compression, or every
/// cylinder below the healthy range of its engine.
fn all_low(input: &Input<'_>, values: &[f64]) -> bool {
    let highest = values.iter().copied().fold(0.0, f64::max);
    let typical = input.test.id == "cranking_compression" && highest < TYPICAL_LOWEST_KPA;
    let shown = input.canonical.convert(highest, input.unit);
    let below = input.records.as_ref().zip(shown).and_then(|(r, x)| {
        let low = input.test.faulty == FaultySide::Low;
        r.reading_outside(x, FaultySide::Low).filter(|_| low)
    });
    typical || below == Some(true)
}
