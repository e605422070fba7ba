//! From judged readings to ranges and cut-offs.

use std::collections::{BTreeMap, BTreeSet};

use super::range::{Of, range};
use super::sample::{Judged, Sample, Wanted, by_engine};
use super::types::{FaultyCause, LeftOut, Range, ReadingRule, Readings};
use super::{caveats, cut_offs, histogram, verdict};
use crate::answer::parts::Evidence;
use crate::answer::question::{Question, Rules};
use crate::domain::catalog::{Catalog, FaultySide, Kind, Test};
use crate::domain::family::Families;
use crate::domain::problem::{Problem, Result};
use crate::domain::unit::Unit;
use crate::stats::quantile::median;
use crate::tally::test_readings::judge::Unverified;
use crate::tally::test_readings::{Judgement, Rule, Tested};

/// What stands beside every number of this answer.
pub const LABEL: &str = "shop comparison, not a specification";

/// Everything the answer is computed from.
pub struct Input<'a> {
    /// What was asked.
    pub question: Question,
    /// The rules it was asked under.
    pub rules: &'a Rules,
    /// Family id.
    pub family: &'a str,
    /// The test.
    pub test: &'a Test,
    /// Cylinders the family has.
    pub cylinders: u8,
    /// Readings and accusations.
    pub tested: &'a Tested,
    /// Causes and tests.
    pub catalog: &'a Catalog,
    /// Engine families.
    pub families: &'a Families,
    /// Seed of the draws.
    pub seed: u64,
    /// Whether to answer under stricter confirmation as well.
    pub sensitivity: bool,
}

impl Input<'_> {
    /// The family in words.
    pub fn family_title(&self) -> String {
        self.families
            .get(self.family)
            .map_or_else(|| self.family.to_string(), |f| f.title.clone())
    }

    /// The readings judged at a confirmation level.
    ///
    /// # Errors
    /// A test that has no readings in numbers.
    pub fn sample(&self, confirmation: i64) -> Result<Sample> {
        let shown = match self.question.causes.as_slice() {
            [] => self.catalog.shown_by(self.test),
            causes => causes.iter().map(String::as_str).collect(),
        };
        let rule = Rule {
            confirmation,
            window_days: self.rules.window_days,
            shown,
            reaching: self.catalog.reaching_neighbours(),
            cylinders: self.cylinders,
        };
        let wanted = Wanted {
            family: self.family,
            test: &self.test.id,
            usual_unit: usual_unit(self.test)?,
            cylinders: &self.question.cylinders,
            units: self.rules.units,
        };
        Ok(Sample::new(self.tested, wanted, &rule))
    }
}

fn usual_unit(test: &Test) -> Result<Unit> {
    test.canonical_unit().ok_or_else(|| {
        Problem::usage("this test has no readings in numbers")
            .field("--test")
            .value(&test.id)
            .remedy("ask for a test with a gauge or a meter, such as cranking_compression")
    })
}

/// The answer.
pub fn answer(input: Input<'_>) -> Result<Readings> {
    let sample = input.sample(i64::from(input.rules.confirmation))?;
    let test = input.test;
    let mut answer = Readings {
        family: input.family.to_string(),
        family_title: input.family_title(),
        test: test.id.clone(),
        test_title: test.title.clone(),
        unit: sample.unit.symbol().to_string(),
        contrast: sample.contrast.id(),
        faulty_side: side(test.faulty),
        label: LABEL,
        verdict: Vec::new(),
        ranges: ranges(&sample, input.rules.level, input.seed)?,
        cut_offs: cut_offs::cut_offs(&sample, test.faulty, input.rules.level)?,
        faulty: faulty(&sample, input.catalog),
        left_out: left_out(&sample),
        histograms: histograms(&sample),
        sensitivity: Vec::new(),
        evidence: evidence(&sample),
        caveats: Vec::new(),
        question: input.question.clone(),
    };
    if input.sensitivity {
        answer.sensitivity = stricter(&input, &answer)?;
    }
    answer.verdict = verdict::verdict(&answer);
    answer.caveats = caveats::caveats(&answer, &sample, test, input.catalog)?;
    Ok(answer)
}

fn side(side: FaultySide) -> &'static str {
    match side {
        FaultySide::Low => "low",
        FaultySide::High => "high",
        FaultySide::Either => "either",
    }
}

/// Engines by their median, single cylinders, contrasts.
pub fn ranges(sample: &Sample, level: f64, seed: u64) -> Result<Vec<Range>> {
    let cylinders = by_engine(sample.healthy(), |c| Some(c.value));
    let medians: Vec<Vec<f64>> = cylinders
        .iter()
        .filter_map(|values| median(&mut values.clone()).map(|m| vec![m]))
        .collect();
    let contrasts = by_engine(sample.healthy(), |c| c.contrast);
    let of = |id, title, unit, never_negative| Of {
        id,
        title,
        unit,
        never_negative,
        level,
        seed,
    };
    let unit = sample.unit.symbol();
    let (contrast, ratio) = (sample.contrast, sample.contrast.id() == "ratio");
    let mut engines = range(
        of(
            "engine",
            "engines, by the median of their healthy cylinders",
            unit,
            true,
        ),
        &medians,
    )?;
    engines.readings = cylinders.iter().map(|c| c.len() as u64).sum();
    Ok(vec![
        engines,
        range(
            of("cylinder", "single healthy cylinders", unit, true),
            &cylinders,
        )?,
        range(
            of("contrast", contrast.title(), contrast.unit(), ratio),
            &contrasts,
        )?,
    ])
}

fn faulty(sample: &Sample, catalog: &Catalog) -> Vec<FaultyCause> {
    let mut causes: BTreeMap<&str, Vec<&Judged>> = BTreeMap::new();
    for cylinder in sample.faulty() {
        if let Judgement::Faulty(cause) = &cylinder.judgement {
            causes.entry(cause).or_default().push(cylinder);
        }
    }
    let mut rows: Vec<FaultyCause> = causes
        .into_iter()
        .map(|(cause, cylinders)| {
            let mut values: Vec<f64> = cylinders.iter().map(|c| c.value).collect();
            let mut contrasts: Vec<f64> = cylinders.iter().filter_map(|c| c.contrast).collect();
            FaultyCause {
                cause: cause.to_string(),
                title: catalog.title(Kind::Cause, cause).to_string(),
                readings: cylinders.len() as u64,
                median: median(&mut values).unwrap_or(f64::NAN),
                median_contrast: median(&mut contrasts),
            }
        })
        .collect();
    rows.sort_by(|a, b| {
        b.readings
            .cmp(&a.readings)
            .then_with(|| a.cause.cmp(&b.cause))
    });
    rows
}

fn left_out(sample: &Sample) -> Vec<LeftOut> {
    let count = |judgement: Judgement| {
        let same = |c: &&Judged| c.judgement == judgement;
        sample.cylinders.iter().filter(same).count() as u64
    };
    let mut rows = vec![LeftOut {
        id: "other-fault",
        title: "confirmed fault of a kind this test is not looked at for",
        readings: count(Judgement::OtherFault),
    }];
    rows.extend(Unverified::ALL.map(|reason| LeftOut {
        id: reason.id(),
        title: reason.title(),
        readings: count(Judgement::Unverified(reason)),
    }));
    rows.push(LeftOut {
        id: "other-unit",
        title: "measured in a unit of another kind",
        readings: sample.other_unit,
    });
    rows.retain(|r| r.readings > 0);
    rows
}

fn histograms(sample: &Sample) -> Vec<super::types::Histogram> {
    let of = |number: fn(&Judged) -> Option<f64>| {
        (
            sample.healthy().filter_map(number).collect::<Vec<f64>>(),
            sample.faulty().filter_map(number).collect::<Vec<f64>>(),
        )
    };
    let (healthy, faulty) = of(|c| Some(c.value));
    let (healthy_contrast, faulty_contrast) = of(|c| c.contrast);
    [
        histogram::histogram("cylinder", &healthy, &faulty),
        histogram::histogram("contrast", &healthy_contrast, &faulty_contrast),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn evidence(sample: &Sample) -> Evidence {
    let judged = || sample.healthy().chain(sample.faulty());
    let sites: BTreeSet<&str> = judged().filter_map(|c| c.site.as_deref()).collect();
    Evidence {
        events: sample.faulty().count() as u64,
        vehicles: Sample::engines(judged()),
        exposure_m: None,
        sites: sites.len() as u64,
        first_date: judged().map(|c| c.opened).min(),
        last_date: judged().map(|c| c.opened).max(),
    }
}

/// The same where a fault must have been seen or measured.
fn stricter(input: &Input<'_>, main: &Readings) -> Result<Vec<ReadingRule>> {
    if input.rules.confirmation >= 2 {
        return Ok(Vec::new());
    }
    let sample = input.sample(2)?;
    let ranges = ranges(&sample, input.rules.level, input.seed)?;
    let cut = cut_offs::cut_offs(&sample, input.test.faulty, input.rules.level)?;
    let (Some(range), Some(before)) = (find(&ranges, "cylinder"), find(&main.ranges, "cylinder"))
    else {
        return Ok(Vec::new());
    };
    let outside = |now: &Option<_>, then: &Option<crate::answer::parts::Estimate>| match (now, then)
    {
        (Some(now), Some(then)) => !within(now, then),
        _ => false,
    };
    Ok(vec![ReadingRule {
        id: "confirmation-2".to_string(),
        rule: "faults seen or measured only".to_string(),
        engines: range.engines,
        faulty: sample.faulty().count() as u64,
        lower: range.lower.as_ref().map(|e| e.value),
        upper: range.upper.as_ref().map(|e| e.value),
        cut_off: cut.iter().find(|c| c.on == "contrast").map(|c| c.value),
        changes_verdict: range.method != before.method
            || outside(&range.lower, &before.lower)
            || outside(&range.upper, &before.upper),
    }])
}

fn within(now: &crate::answer::parts::Estimate, then: &crate::answer::parts::Estimate) -> bool {
    then.lower <= now.value && then.upper.is_none_or(|u| now.value <= u)
}

/// The range of that id.
pub fn find<'a>(ranges: &'a [Range], id: &str) -> Option<&'a Range> {
    ranges.iter().find(|r| r.id == id)
}
