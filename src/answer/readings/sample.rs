//! The judged readings of one family and test in the reader's unit, engine by engine.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

use super::contrast::Contrast;
use crate::domain::day::Day;
use crate::domain::distance::UnitSystem;
use crate::domain::unit::{Quantity, Unit};
use crate::stats::quantile::median;
use crate::tally::test_readings::judge::Unverified;
use crate::tally::test_readings::{Judgement, Rule, TestReading, Tested};

/// One cylinder read in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Which engine, from 0.
    pub engine: usize,
    /// Site; `None` where unknown.
    pub site: Option<String>,
    /// Day of the case.
    pub opened: Day,
    /// Reading in the reader's unit.
    pub value: f64,
    /// Against the other cylinders of the same case; `None` without others.
    pub contrast: Option<f64>,
    /// Healthy, faulty or not known.
    pub judgement: Judgement,
}

/// All readings of one family and test, in one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// The reader's unit.
    pub unit: Unit,
    /// How cylinders of one engine are set against each other.
    pub contrast: Contrast,
    /// The readings, by engine, then day and cylinder.
    pub cylinders: Vec<Judged>,
    /// Readings of the same test that measured something else and are left out: units are never mixed.
    pub other_unit: u64,
}

/// Which of the fetched readings.
#[derive(Debug, Clone, Copy)]
pub struct Wanted<'a> {
    /// Engine family.
    pub family: &'a str,
    /// Test.
    pub test: &'a str,
    /// Canonical unit of the test, where there is no reading to tell it.
    pub usual_unit: Unit,
    /// Cylinders to keep once they have been set against the others; none means all.
    pub cylinders: &'a [i64],
    /// The reader's units.
    pub units: UnitSystem,
}

/// The unit a reader of this system sees a canonical reading in.
pub fn shown_unit(canonical: Unit, units: UnitSystem) -> Unit {
    match canonical.quantity() {
        Quantity::Pressure => units.pressure(),
        _ => canonical,
    }
}

/// An order of engines by what was read on them, not by whose they are.
fn in_order(a: &[Judged], b: &[Judged]) -> Ordering {
    let when = |engine: &[Judged]| -> Vec<(Day, Option<String>)> {
        engine.iter().map(|c| (c.opened, c.site.clone())).collect()
    };
    let values = a.iter().zip(b);
    when(a).cmp(&when(b)).then_with(|| {
        values.fold(Ordering::Equal, |so_far, (x, y)| {
            so_far.then(x.value.total_cmp(&y.value))
        })
    })
}

impl Sample {
    /// Judges the readings of one family and test.
    pub fn new(tested: &Tested, wanted: Wanted<'_>, rule: &Rule<'_>) -> Self {
        let mine: Vec<&TestReading> = tested
            .readings
            .iter()
            .filter(|r| r.family == wanted.family && r.test == wanted.test)
            .collect();
        let canonical = most_frequent_unit(&mine).unwrap_or(wanted.usual_unit);
        let unit = shown_unit(canonical, wanted.units);
        let contrast = Contrast::of(canonical);
        let kept: Vec<&TestReading> = mine
            .iter()
            .copied()
            .filter(|r| r.unit == canonical)
            .collect();
        let mut engines: Vec<Vec<Judged>> = Vec::new();
        for of_engine in kept.chunk_by(|a, b| a.vehicle == b.vehicle) {
            let mut cylinders = Vec::with_capacity(of_engine.len());
            for case in of_engine.chunk_by(|a, b| a.case == b.case) {
                let judged = of_case(tested, case, rule, contrast, |value| {
                    canonical.convert(value, unit).unwrap_or(value)
                });
                cylinders.extend(
                    case.iter()
                        .zip(judged)
                        .filter(|(r, _)| {
                            wanted.cylinders.is_empty()
                                || r.cylinder.is_some_and(|c| wanted.cylinders.contains(&c))
                        })
                        .map(|(_, judged)| judged),
                );
            }
            engines.push(cylinders);
        }
        // Pseudonyms order vehicles, and another key orders them otherwise; sums and draws must not depend on it.
        engines.sort_by(|a, b| in_order(a, b));
        let numbered = engines.into_iter().enumerate();
        let cylinders = numbered
            .flat_map(|(engine, of)| {
                of.into_iter()
                    .map(move |judged| Judged { engine, ..judged })
            })
            .collect();
        Self {
            unit,
            contrast,
            cylinders,
            other_unit: (mine.len() - kept.len()) as u64,
        }
    }

    /// The healthy ones.
    pub fn healthy(&self) -> impl Iterator<Item = &Judged> {
        self.cylinders
            .iter()
            .filter(|c| c.judgement == Judgement::Healthy)
    }

    /// Those with a confirmed fault that the test is looked at for.
    pub fn faulty(&self) -> impl Iterator<Item = &Judged> {
        self.cylinders
            .iter()
            .filter(|c| matches!(c.judgement, Judgement::Faulty(_)))
    }

    /// Those of which it is not known.
    pub fn unverified(&self) -> impl Iterator<Item = &Judged> {
        self.cylinders
            .iter()
            .filter(|c| matches!(c.judgement, Judgement::Unverified(_)))
    }

    /// Different engines among some readings.
    pub fn engines<'a>(cylinders: impl Iterator<Item = &'a Judged>) -> u64 {
        cylinders.map(|c| c.engine).collect::<BTreeSet<_>>().len() as u64
    }
}

/// Numbers of some readings, engine by engine.
pub fn by_engine<'a>(
    cylinders: impl Iterator<Item = &'a Judged>,
    number: impl Fn(&Judged) -> Option<f64>,
) -> Vec<Vec<f64>> {
    let mut engines: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for cylinder in cylinders {
        if let Some(x) = number(cylinder) {
            engines.entry(cylinder.engine).or_default().push(x);
        }
    }
    engines.into_values().collect()
}

fn most_frequent_unit(readings: &[&TestReading]) -> Option<Unit> {
    let mut counts: BTreeMap<Unit, usize> = BTreeMap::new();
    for r in readings {
        *counts.entry(r.unit).or_default() += 1;
    }
    // The first unit among equals.
    counts
        .into_iter()
        .rev()
        .max_by_key(|(_, n)| *n)
        .map(|(u, _)| u)
}

/// Judges the readings of one case and sets each against the median of the other cylinders without a confirmed fault, which a
/// fault beside a healthy cylinder must not move.
fn of_case(
    tested: &Tested,
    case: &[&TestReading],
    rule: &Rule<'_>,
    contrast: Contrast,
    shown: impl Fn(f64) -> f64,
) -> Vec<Judged> {
    let judgements: Vec<Judgement> = case
        .iter()
        .map(|r| tested.accusations.judge(r, rule))
        .collect();
    let placed = |j: &Judgement| *j != Judgement::Unverified(Unverified::NoCylinder);
    let compares = |j: &Judgement| placed(j) && !matches!(j, Judgement::Faulty(_));
    let against_others = |i: usize, value: f64| {
        let mut others: Vec<f64> = case
            .iter()
            .zip(&judgements)
            .enumerate()
            .filter(|(other, (_, j))| *other != i && compares(j))
            .map(|(_, (r, _))| r.value)
            .collect();
        contrast.against(value, median(&mut others)?)
    };
    case.iter()
        .zip(&judgements)
        .enumerate()
        .map(|(i, (r, judgement))| Judged {
            engine: 0,
            site: r.site.clone(),
            opened: r.opened,
            value: shown(r.value),
            contrast: placed(judgement)
                .then(|| against_others(i, r.value))
                .flatten(),
            judgement: judgement.clone(),
        })
        .collect()
}
