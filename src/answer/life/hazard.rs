//! The rate of first failures by mileage band, beside the rate of every failure.

use std::collections::BTreeMap;

use super::model::{Model, Setting, metres};
use super::types::HazardBand;
use crate::answer::parts::Estimate;
use crate::answer::rates::compute::PER;
use crate::answer::statistic::told;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::stats::lifetime::piecewise_exponential;
use crate::stats::poisson_rate::garwood;
use crate::tally::KeyPart;
use crate::tally::cell::RateCell;
use crate::tally::rates::RateTally;

/// Every failure and all distance by group and band, as `rates` counts them: its dimensions are the group's and the band.
pub struct EveryFailure<'a>(BTreeMap<(Vec<KeyPart>, usize), &'a RateCell>);

impl<'a> EveryFailure<'a> {
    /// Takes over a tally whose last dimension is the band.
    pub fn new(tally: &'a RateTally) -> Self {
        let cells = tally.cells.iter().filter_map(|cell| {
            let (last, group) = cell.key.split_last()?;
            match last {
                KeyPart::Band(band) => Some(((group.to_vec(), *band), cell)),
                _ => None,
            }
        });
        Self(cells.collect())
    }

    fn rate(&self, group: &[KeyPart], band: usize, setting: Setting) -> Result<Option<Estimate>> {
        let Some(cell) = self.0.get(&(group.to_vec(), band)) else {
            return Ok(None);
        };
        rate(cell.events, cell.exposure_m as f64, setting)
    }
}

/// Failures per 100 000 of the reader's unit with Garwood's limits; none without distance.
pub fn rate(failures: u64, exposure_m: f64, setting: Setting) -> Result<Option<Estimate>> {
    let exposure = exposure_m / setting.unit.metres_per_unit() / PER;
    if exposure <= 0.0 {
        return Ok(None);
    }
    let limits = told(garwood(failures, exposure, setting.level))?;
    Ok(Some(Estimate {
        value: failures as f64 / exposure,
        lower: limits.lower,
        upper: Some(limits.upper),
        level: setting.level,
        method: "garwood".to_string(),
    }))
}

/// The bands somebody reached.
///
/// # Errors
/// A level outside (0, 1).
pub fn bands(
    model: &Model,
    bands: &MileageBands,
    group: &[KeyPart],
    every: Option<&EveryFailure<'_>>,
    setting: Setting,
) -> Result<Vec<HazardBand>> {
    let edges: Vec<f64> = bands.edges.iter().map(|edge| *edge as f64).collect();
    let pieces = told(piecewise_exponential(&model.table, &edges, setting.level))?;
    let mut out = Vec::new();
    for (i, piece) in pieces.bands.iter().enumerate() {
        let Some(constant) = piece.rate else {
            continue;
        };
        let (from_m, to_m) = bands.bounds(i);
        out.push(HazardBand {
            band: bands.label(i),
            from_m,
            to_m,
            failures: constant.failures,
            exposure_m: metres(constant.exposure),
            rate: rate(constant.failures, constant.exposure, setting)?,
            every_failure: every
                .map(|every| every.rate(group, i, setting))
                .transpose()?
                .flatten(),
        });
    }
    Ok(out)
}
