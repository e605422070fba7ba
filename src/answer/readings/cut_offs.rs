//! The cut-off that best separates confirmed faults from healthy cylinders, on the contrast and on the reading itself.

use std::collections::BTreeMap;

use super::contrast::Contrast;
use super::sample::{Judged, Sample};
use super::types::{CorrectedAccuracy, CorrectedShare, CutOffRow};
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::answer::words;
use crate::domain::catalog::FaultySide;
use crate::domain::problem::Result;
use crate::stats::cluster::cluster_share_interval;
use crate::stats::cut_off::youden_cut_off;
use crate::stats::verification_bias::{Corrected, Stratum, begg_greenes};

/// A ratio further apart than this is no further for a cut-off.
const FURTHEST: f64 = 1e6;

/// Turns a number into a score that is low for a fault.
#[derive(Debug, Clone, Copy)]
struct Scale {
    side: FaultySide,
    contrast: Option<Contrast>,
}

impl Scale {
    fn score(self, x: f64) -> f64 {
        match (self.side, self.contrast) {
            (FaultySide::Low, _) => x,
            (FaultySide::High, _) => -x,
            // How far apart, on either side; a reading of 0 is as far apart as any.
            (FaultySide::Either, Some(Contrast::Ratio)) => -x.max(1.0 / x).min(FURTHEST),
            (FaultySide::Either, _) => -x.abs(),
        }
    }

    fn side(self) -> &'static str {
        match self.side {
            FaultySide::Low => "at-or-below",
            FaultySide::High => "at-or-above",
            FaultySide::Either => "apart",
        }
    }

    fn words(self, cut: f64, unit: &str) -> String {
        let cut = words::number(cut);
        match (self.contrast, self.side) {
            (None, FaultySide::Low) => format!("reads {cut} {unit} or less"),
            (None, _) => format!("reads {cut} {unit} or more"),
            (Some(Contrast::Ratio), FaultySide::Low) => {
                format!("reads {cut} times the median of the others or less")
            }
            (Some(Contrast::Ratio), FaultySide::High) => {
                format!("reads {cut} times the median of the others or more")
            }
            (Some(Contrast::Ratio), FaultySide::Either) => {
                format!("is {cut} times apart from the median of the others or more, up or down")
            }
            (Some(Contrast::Difference), FaultySide::Low) => {
                format!(
                    "lies {} points or more below the median of the others",
                    cut.replace('-', "")
                )
            }
            (Some(Contrast::Difference), FaultySide::High) => {
                format!("lies {cut} points or more above the median of the others")
            }
            (Some(Contrast::Difference), FaultySide::Either) => {
                format!("lies {cut} points or more from the median of the others")
            }
        }
    }
}

/// Both cut-offs, where they separate anything: on the contrast first.
pub fn cut_offs(sample: &Sample, side: FaultySide, level: f64) -> Result<Vec<CutOffRow>> {
    let on_contrast = Scale {
        side,
        contrast: Some(sample.contrast),
    };
    let mut out = Vec::new();
    out.extend(row(sample, "contrast", on_contrast, |c| c.contrast, level)?);
    // A fault on either side of the others lies on no one side of all engines' readings.
    if side != FaultySide::Either {
        let on_reading = Scale {
            side,
            contrast: None,
        };
        out.extend(row(
            sample,
            "reading",
            on_reading,
            |c| Some(c.value),
            level,
        )?);
    }
    Ok(out)
}

fn row(
    sample: &Sample,
    on: &'static str,
    scale: Scale,
    number: impl Fn(&Judged) -> Option<f64> + Copy,
    level: f64,
) -> Result<Option<CutOffRow>> {
    let score = |c: &Judged| number(c).map(|x| scale.score(x)).filter(|s| !s.is_nan());
    let faulty: Vec<f64> = sample.faulty().filter_map(score).collect();
    let healthy: Vec<f64> = sample.healthy().filter_map(score).collect();
    let Some(cut) = told(youden_cut_off(&faulty, &healthy))? else {
        return Ok(None);
    };
    let beyond = |c: &Judged| score(c).map(|s| s <= cut.value);
    let sensitivity = clustered(sample.faulty(), beyond, true, level)?;
    let specificity = clustered(sample.healthy(), beyond, false, level)?;
    let value = match scale.side {
        FaultySide::Low => cut.value,
        FaultySide::High | FaultySide::Either => -cut.value,
    };
    let unverified: Vec<bool> = sample.unverified().filter_map(beyond).collect();
    let unverified_beyond = unverified.iter().filter(|b| **b).count() as u64;
    let unverified_within = unverified.len() as u64 - unverified_beyond;
    let strata = (
        Stratum {
            present: cut.counts.true_positive,
            absent: cut.counts.false_positive,
            unverified: unverified_beyond,
        },
        Stratum {
            present: cut.counts.false_negative,
            absent: cut.counts.true_negative,
            unverified: unverified_within,
        },
    );
    let corrected = told(begg_greenes(strata.0, strata.1, level))?;
    Ok(Some(CutOffRow {
        on,
        side: scale.side(),
        rule: scale.words(value, sample.unit.symbol()),
        value,
        youden: cut.youden,
        faulty: cut.counts.present(),
        healthy: cut.counts.absent(),
        sensitivity,
        specificity,
        corrected: corrected.map(|c| CorrectedAccuracy {
            method: "begg-greenes",
            unverified_beyond,
            unverified_within,
            prevalence: c.prevalence,
            sensitivity: share(c.sensitivity, level),
            specificity: share(c.specificity, level),
        }),
    }))
}

fn share(corrected: Corrected, level: f64) -> CorrectedShare {
    CorrectedShare {
        value: corrected.value,
        lower: corrected.interval.map(|i| i.lower),
        upper: corrected.interval.map(|i| i.upper),
        level,
    }
}

/// Share of readings that lie where they should, with the interval that respects engines.
fn clustered<'a>(
    cylinders: impl Iterator<Item = &'a Judged>,
    beyond: impl Fn(&Judged) -> Option<bool>,
    wanted: bool,
    level: f64,
) -> Result<Estimate> {
    let mut engines: BTreeMap<usize, (u64, u64)> = BTreeMap::new();
    for cylinder in cylinders {
        if let Some(is_beyond) = beyond(cylinder) {
            let (right, all) = engines.entry(cylinder.engine).or_default();
            *right += u64::from(is_beyond == wanted);
            *all += 1;
        }
    }
    let engines: Vec<(u64, u64)> = engines.into_values().collect();
    let (right, all) = engines.iter().fold((0, 0), |(r, n), e| (r + e.0, n + e.1));
    let limits = told(cluster_share_interval(&engines, level))?;
    Ok(Estimate {
        value: right as f64 / all as f64,
        lower: limits.lower,
        upper: Some(limits.upper),
        level,
        method: "korn-graubard".to_string(),
    })
}
