//! The tally behind the order of tests: how often which cause, what the tests showed under it, how long they took.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use serde::Serialize;

use super::filter::{Filter, once};
use super::key::KeyPart;
use super::shares::{self, Complaint};
use super::{Dimension, exposure::natural};
use crate::domain::day::Day;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;

/// Confirmed failures of one cause in one family and mileage band.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CauseCell {
    /// Cause.
    pub cause: String,
    /// Family; `None` where it is unknown.
    pub family: Option<String>,
    /// Mileage band; `None` where the odometer is unknown.
    pub band: Option<usize>,
    /// Failures.
    pub cases: u64,
}

/// What one test showed under one cause at one site.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepCell {
    /// Cause that was confirmed.
    pub cause: String,
    /// Family.
    pub family: Option<String>,
    /// Cylinder at fault.
    pub cylinder: Option<i64>,
    /// Site.
    pub site: Option<String>,
    /// Test.
    pub test: String,
    /// Whether it was abnormal.
    pub abnormal: bool,
    /// Where the leak was heard.
    pub leak_path: Option<String>,
    /// Cases.
    pub cases: u64,
    /// Of these, cases whose cause was seen or measured.
    pub sure: u64,
    /// Of these, cases with measured minutes.
    pub timed: u64,
    /// Sum of the measured minutes, in hundredths.
    pub hundredths: i64,
    /// Sum of the step numbers.
    pub places: i64,
}

/// Cases of one cause and family in which the same tests showed the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CasePattern {
    /// Cause that was confirmed.
    pub cause: String,
    /// Family.
    pub family: Option<String>,
    /// Tests and whether they were abnormal, by test.
    pub results: Vec<(String, bool)>,
    /// Cases.
    pub cases: u64,
}

/// Everything the order of tests is learnt from.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct TestOrderTally {
    /// Failures by cause, family and band.
    pub causes: Vec<CauseCell>,
    /// Results that were seen together in a case.
    pub patterns: Vec<CasePattern>,
    /// Results by cause, family, cylinder, site and test.
    pub steps: Vec<StepCell>,
    /// Day the first of these failures opened.
    pub first: Option<Day>,
    /// Day the last of these failures opened.
    pub last: Option<Day>,
}

/// One case with what its tests showed, in the order they were done.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JudgedCase {
    /// Confirmed cause.
    pub cause: String,
    /// Family.
    pub family: Option<String>,
    /// Cylinder at fault.
    pub cylinder: Option<i64>,
    /// Mileage band.
    pub band: Option<usize>,
    /// Test, abnormal or not, leak path, minutes noted; in the order they were done.
    pub steps: Vec<(String, bool, Option<String>, Option<f64>)>,
}

impl JudgedCase {
    /// Orders cases by all that they say.
    fn by_content(&self, other: &Self) -> Ordering {
        let head = self.cause.cmp(&other.cause);
        let head = head.then_with(|| self.family.cmp(&other.family));
        let head = head.then_with(|| (self.cylinder, self.band).cmp(&(other.cylinder, other.band)));
        head.then_with(|| {
            let bits = |minutes: Option<f64>| minutes.map(f64::to_bits);
            let one = self.steps.iter().map(|s| (&s.0, s.1, &s.2, bits(s.3)));
            one.cmp(other.steps.iter().map(|s| (&s.0, s.1, &s.2, bits(s.3))))
        })
    }
}

/// Counts causes and results; `to` in the filter ends both, its families are left to the answer.
///
/// Test steps must be open beside the history.
pub fn tally(
    engine: &mut dyn Engine,
    history: &History,
    to: Option<Day>,
    complaint: &Complaint,
    bands: &MileageBands,
) -> Result<TestOrderTally> {
    let filter = Filter {
        to,
        ..Filter::default()
    };
    let by = [Dimension::Family, Dimension::Band];
    let groups = shares::causes(engine, history, &filter, &by, bands, complaint)?;
    let mut out = TestOrderTally::default();
    for row in groups {
        let family = match row.key.first() {
            Some(KeyPart::Text(family)) => Some(family.clone()),
            _ => None,
        };
        let band = match row.key.get(1) {
            Some(KeyPart::Band(band)) => Some(*band),
            _ => None,
        };
        out.first = match (out.first, row.first) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        out.last = out.last.max(row.last);
        out.causes.push(CauseCell {
            cause: row.cause,
            family,
            band,
            cases: row.cases,
        });
    }
    let parameters = [once("to", to.map(Value::Day))];
    let batch = statement::query(engine, "test_order_steps", &parameters)?;
    out.steps = steps(&Table::new(&batch))?;
    out.patterns = patterns(&cases(engine, &opened(None, to), bands)?);
    Ok(out)
}

fn steps(table: &Table<'_>) -> Result<Vec<StepCell>> {
    let text = |name| table.text(name).map(Vec::into_iter);
    let count = |name| table.count(name).map(Vec::into_iter);
    let (mut causes, mut families, mut sites) =
        (text("cause")?, text("engine_family")?, text("site")?);
    let (mut tests, mut paths) = (text("test")?, text("leak_path")?);
    let mut cylinders = table.whole("cylinder")?.into_iter();
    let (mut abnormal, mut cases, mut sure) = (count("abnormal")?, count("cases")?, count("sure")?);
    let (mut timed, mut hundredths, mut places) =
        (count("timed")?, count("hundredths")?, count("places")?);
    let mut next = || {
        Some(StepCell {
            cause: causes.next()?.unwrap_or_default(),
            family: families.next()?,
            cylinder: cylinders.next()?,
            site: sites.next()?,
            test: tests.next()?.unwrap_or_default(),
            abnormal: abnormal.next()? > 0,
            leak_path: paths.next()?,
            cases: natural(cases.next()?),
            sure: natural(sure.next()?),
            timed: natural(timed.next()?),
            hundredths: hundredths.next()?,
            places: places.next()?,
        })
    };
    Ok(std::iter::from_fn(&mut next).collect())
}

/// The days on which the cases of a statement opened.
fn opened(after: Option<Day>, to: Option<Day>) -> [(&'static str, Value); 2] {
    [
        once("after", after.map(Value::Day)),
        once("to", to.map(Value::Day)),
    ]
}

/// Cases that opened after a day, and not after the last day that counts, each with what its tests showed; in an order that does not
/// depend on the names of vehicles, which are pseudonyms under the store's own key: sums over cases are the same in every store.
pub fn cases_after(
    engine: &mut dyn Engine,
    after: Day,
    to: Option<Day>,
    bands: &MileageBands,
) -> Result<Vec<JudgedCase>> {
    let mut found = cases(engine, &opened(Some(after), to), bands)?;
    found.sort_by(JudgedCase::by_content);
    Ok(found)
}

/// Folds cases into what was seen together, and how often.
fn patterns(cases: &[JudgedCase]) -> Vec<CasePattern> {
    type Seen<'a> = (&'a str, Option<&'a str>, Vec<(&'a str, bool)>);
    let mut counts: BTreeMap<Seen<'_>, u64> = BTreeMap::new();
    for case in cases.iter().filter(|c| !c.steps.is_empty()) {
        let each = case.steps.iter();
        let mut results: Vec<(&str, bool)> = each.map(|s| (s.0.as_str(), s.1)).collect();
        results.sort_unstable();
        *counts
            .entry((&case.cause, case.family.as_deref(), results))
            .or_default() += 1;
    }
    let each = counts.into_iter();
    each.map(|((cause, family, results), cases)| CasePattern {
        cause: cause.to_string(),
        family: family.map(str::to_string),
        results: results
            .into_iter()
            .map(|(t, a)| (t.to_string(), a))
            .collect(),
        cases,
    })
    .collect()
}

fn cases(
    engine: &mut dyn Engine,
    opened: &[(&'static str, Value); 2],
    bands: &MileageBands,
) -> Result<Vec<JudgedCase>> {
    let batch = statement::query(engine, "test_order_cases", opened)?;
    let table = Table::new(&batch);
    let (vehicles, cylinders) = (table.names("vehicle")?, table.whole("cylinder")?);
    let (chains, causes) = (table.count("chain")?, table.text("cause")?);
    let (families, positions) = (table.text("engine_family")?, table.whole("position_m")?);
    let (tests, abnormal) = (table.text("test")?, table.count("abnormal")?);
    let (paths, minutes) = (table.text("leak_path")?, table.number("minutes")?);
    let mut order: Vec<JudgedCase> = Vec::new();
    let mut known: BTreeMap<(Option<String>, Option<i64>, i64), usize> = BTreeMap::new();
    for row in 0..table.len() {
        let key = (vehicles[row].clone(), cylinders[row], chains[row]);
        let at = *known.entry(key).or_insert_with(|| {
            order.push(JudgedCase {
                cause: causes[row].clone().unwrap_or_default(),
                family: families[row].clone(),
                cylinder: cylinders[row],
                band: positions[row].and_then(|m| bands.index_of(m)),
                steps: Vec::new(),
            });
            order.len() - 1
        });
        if let Some(test) = &tests[row] {
            let step = (
                test.clone(),
                abnormal[row] > 0,
                paths[row].clone(),
                minutes[row],
            );
            order[at].steps.push(step);
        }
    }
    Ok(order)
}
