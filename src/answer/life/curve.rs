//! The survival curve of a group: steps, limits, band, mean, and its values at the edges of mileage bands.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::model::{self, WELL_FILLED, metres};
use super::types::{CurveStep, MeanDistance, Milestone, SimultaneousBand};
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::interval::normal_deviate;
use crate::stats::survival::{
    Band, KaplanMeier, NelsonAalen, RiskTable, Transformation, equal_precision, restricted_mean,
};

/// The scale of all limits of a curve.
pub const SCALE: Transformation = Transformation::LogLog;

/// A curve given that lives reach its start.
pub struct Curve<'a> {
    /// The lives that reach the start.
    pub table: Cow<'a, RiskTable>,
    /// The estimate.
    pub kaplan_meier: KaplanMeier,
    /// Where it starts.
    pub from: f64,
}

impl<'a> Curve<'a> {
    /// The curve from `start` on, or from where the lives carry it; none when nobody was observed there.
    ///
    /// # Errors
    /// None that a table with lives can have.
    pub fn new(lives: &'a RiskTable, start: Option<f64>) -> Result<Option<Self>> {
        let Some(own) = model::start(lives) else {
            return Ok(None);
        };
        let first = lives.first_entry();
        let from = start.unwrap_or(own);
        let table = match first {
            Some(first) if from <= first => Cow::Borrowed(lives),
            _ => Cow::Owned(lives.conditional_on(from)),
        };
        if table.lives() == 0 {
            return Ok(None);
        }
        let kaplan_meier = told(KaplanMeier::new(&table))?;
        Ok(Some(Self {
            from: from.max(table.first_entry().unwrap_or(from)),
            table,
            kaplan_meier,
        }))
    }

    /// The band over the well-filled part of the curve.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn band(&self, level: f64) -> Result<Option<Band>> {
        let filled = |n: u64| n >= WELL_FILLED;
        let mut steps = self.kaplan_meier.steps().iter();
        let Some(first) = steps.find(|step| filled(step.at_risk)) else {
            return Ok(None);
        };
        let last = self
            .kaplan_meier
            .steps()
            .iter()
            .rfind(|step| filled(step.at_risk));
        let to = last.map_or(first.distance, |step| step.distance);
        told(equal_precision(
            &self.kaplan_meier,
            first.distance,
            to,
            SCALE,
            level,
        ))
    }

    /// One step a distance with failures.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn steps(&self, band: Option<&Band>, level: f64) -> Result<Vec<CurveStep>> {
        let deviate = told(normal_deviate(level))?;
        let of_band: BTreeMap<i64, _> = band
            .iter()
            .flat_map(|band| &band.limits)
            .map(|(distance, limits)| (metres(*distance), *limits))
            .collect();
        let hazard = NelsonAalen::new(&self.table);
        let mut rows = self.table.rows().iter().peekable();
        let known = self.kaplan_meier.known_steps().len();
        let steps = self.kaplan_meier.steps().iter().zip(&hazard.steps);
        let steps = steps.enumerate().map(|(place, (step, hazard))| {
            let mut left = 0;
            // Who leaves at the distance of a failure was still at risk of it, and has left by the next.
            while let Some(row) = rows.next_if(|row| row.distance < step.distance) {
                left += row.left;
            }
            let limits = step.limits(SCALE, deviate).ok();
            let limits = limits.filter(|_| place < known);
            let at = metres(step.distance);
            CurveStep {
                distance_m: at,
                at_risk: step.at_risk,
                failed: step.failed,
                left,
                survival: step.survival,
                standard_error: step.standard_error(),
                lower: limits.map(|l| l.lower),
                upper: limits.map(|l| l.upper),
                band_lower: of_band.get(&at).map(|l| l.lower),
                band_upper: of_band.get(&at).map(|l| l.upper),
                cumulative_hazard: hazard.cumulative_hazard,
                cumulative_hazard_error: hazard.variance.sqrt(),
            }
        });
        Ok(steps.collect())
    }

    /// Share without failure at a distance, with limits; none where the data do not say.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn survival(&self, distance: f64, level: f64) -> Result<Option<Estimate>> {
        let Ok(value) = self.kaplan_meier.survival(distance) else {
            return Ok(None);
        };
        let limits = told(self.kaplan_meier.limits(distance, SCALE, level))?;
        Ok(limits.ok().map(|limits| Estimate {
            value,
            lower: limits.lower,
            upper: Some(limits.upper),
            level,
            method: SCALE.id().to_string(),
        }))
    }

    /// The curve at `edges` and at its end.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn milestones(&self, edges: &[i64], level: f64) -> Result<Vec<Milestone>> {
        let end = self.kaplan_meier.last_exit();
        let inside = |edge: &f64| self.from < *edge && *edge < end;
        let edges = edges.iter().map(|edge| *edge as f64).filter(inside);
        let mut rows = self.table.rows().iter().peekable();
        let (mut failed, mut left) = (0, 0);
        let mut out = Vec::new();
        for distance in edges.chain([end]) {
            while let Some(row) = rows.next_if(|row| row.distance < distance) {
                failed += row.failed;
                left += row.left;
            }
            let here = rows.peek().filter(|row| row.distance == distance);
            out.push(Milestone {
                distance_m: metres(distance),
                at_risk: self.table.at_risk(distance),
                failed: failed + here.map_or(0, |row| row.failed),
                left,
                survival: self.survival(distance, level)?,
            });
        }
        Ok(out)
    }

    /// Mean distance without failure from the start to the end of observation.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn mean(&self, level: f64) -> Result<Option<MeanDistance>> {
        let deviate = told(normal_deviate(level))?;
        let end = self.kaplan_meier.last_exit();
        let Ok(mean) = restricted_mean(&self.kaplan_meier, end) else {
            return Ok(None);
        };
        let half = deviate * mean.standard_error;
        Ok(Some(MeanDistance {
            from_m: metres(self.from),
            to_m: metres(end),
            distance: Estimate {
                value: mean.mean,
                lower: (mean.mean - half).max(0.0),
                upper: Some((mean.mean + half).min(end - self.from)),
                level,
                method: "restricted-mean".to_string(),
            },
            standard_error: mean.standard_error,
        }))
    }
}

/// The range of a band.
pub fn range(band: &Band) -> SimultaneousBand {
    SimultaneousBand {
        from_m: metres(band.from),
        to_m: metres(band.to),
        deviate: band.deviate,
    }
}
