//! Where a reading stands among the healthy cylinders on record, and what its distance from the others speaks for.

use std::collections::BTreeMap;

use super::types::RecordsUsed;
use crate::answer::parts::Estimate;
use crate::answer::readings::compute::{LABEL, find, ranges};
use crate::answer::readings::cut_offs::cut_offs;
use crate::answer::readings::range::ROBUST_FROM;
use crate::answer::readings::sample::{Judged, Sample};
use crate::answer::statistic::told;
use crate::domain::catalog::FaultySide;
use crate::domain::problem::Result;
use crate::stats::cluster::cluster_share_interval;
use crate::stats::neighbour_likelihood_ratio::neighbour_likelihood_ratio;

/// Fewer confirmed faults than this weigh nothing.
const FEWEST_FAULTS: usize = 3;

/// The records of one family and test, ready to set readings against.
pub struct Records<'a> {
    sample: &'a Sample,
    level: f64,
    healthy: Vec<f64>,
    faulty: Vec<f64>,
    /// What they hold.
    pub used: RecordsUsed,
}

impl<'a> Records<'a> {
    /// Ranges and cut-off of the records.
    pub fn new(sample: &'a Sample, side: FaultySide, level: f64, seed: u64) -> Result<Self> {
        let ranges = ranges(sample, level, seed)?;
        let cut = cut_offs(sample, side, level)?;
        let contrast = find(&ranges, "contrast");
        let cylinder = find(&ranges, "cylinder");
        let end = |e: Option<&Estimate>| e.map(|e| e.value);
        let used = RecordsUsed {
            engines: Sample::engines(sample.healthy()),
            healthy: sample.healthy().count() as u64,
            faulty: sample.faulty().count() as u64,
            method: contrast.map_or("comparison-only", |r| r.method),
            lower: end(contrast.and_then(|r| r.lower.as_ref())),
            upper: end(contrast.and_then(|r| r.upper.as_ref())),
            reading_lower: end(cylinder.and_then(|r| r.lower.as_ref())),
            reading_upper: end(cylinder.and_then(|r| r.upper.as_ref())),
            cut_off: cut.iter().find(|c| c.on == "contrast").map(|c| c.value),
            label: LABEL,
        };
        Ok(Self {
            sample,
            level,
            healthy: sample.healthy().filter_map(|c| c.contrast).collect(),
            faulty: sample.faulty().filter_map(|c| c.contrast).collect(),
            used,
        })
    }

    /// Share of healthy cylinders that read `value` or lower.
    pub fn place(&self, value: f64) -> Result<Option<Estimate>> {
        self.share_at_or_below(value, |c| Some(c.value))
    }

    /// Share of healthy cylinders that stood at `contrast` or lower.
    pub fn place_against_others(&self, contrast: f64) -> Result<Option<Estimate>> {
        self.share_at_or_below(contrast, |c| c.contrast)
    }

    fn share_at_or_below(
        &self,
        x: f64,
        number: impl Fn(&Judged) -> Option<f64>,
    ) -> Result<Option<Estimate>> {
        let mut engines: BTreeMap<usize, (u64, u64)> = BTreeMap::new();
        for cylinder in self.sample.healthy() {
            if let Some(own) = number(cylinder) {
                let (below, all) = engines.entry(cylinder.engine).or_default();
                *below += u64::from(own <= x);
                *all += 1;
            }
        }
        if engines.is_empty() {
            return Ok(None);
        }
        let engines: Vec<(u64, u64)> = engines.into_values().collect();
        let (below, all) = engines.iter().fold((0, 0), |(b, n), e| (b + e.0, n + e.1));
        let limits = told(cluster_share_interval(&engines, self.level))?;
        Ok(Some(Estimate {
            value: below as f64 / all as f64,
            lower: limits.lower,
            upper: Some(limits.upper),
            level: self.level,
            method: "korn-graubard".to_string(),
        }))
    }

    /// How much more often faulty cylinders stand like this than healthy ones; `None` where too few are on record to weigh it.
    pub fn likelihood_ratio(&self, contrast: f64) -> Result<Option<Estimate>> {
        if self.faulty.len() < FEWEST_FAULTS || self.used.engines < ROBUST_FROM {
            return Ok(None);
        }
        let found = told(neighbour_likelihood_ratio(
            contrast,
            &self.faulty,
            &self.healthy,
            self.level,
        ))?;
        Ok(found.map(|r| Estimate {
            value: r.value,
            lower: r.interval.lower,
            upper: Some(r.interval.upper),
            level: self.level,
            method: "nearest-neighbours".to_string(),
        }))
    }

    /// Whether a contrast lies outside of the healthy 95 % on the side where faults lie; `None` where there is no range.
    pub fn outside(&self, contrast: f64, side: FaultySide) -> Option<bool> {
        outside((self.used.lower?, self.used.upper?), contrast, side)
    }

    /// The same for a reading.
    pub fn reading_outside(&self, value: f64, side: FaultySide) -> Option<bool> {
        outside(
            (self.used.reading_lower?, self.used.reading_upper?),
            value,
            side,
        )
    }
}

fn outside((lower, upper): (f64, f64), x: f64, side: FaultySide) -> Option<bool> {
    Some(match side {
        FaultySide::Low => x < lower,
        FaultySide::High => x > upper,
        FaultySide::Either => x < lower || x > upper,
    })
}
