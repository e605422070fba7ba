//! The cumulative incidence of each cause with late entry and right censoring.

use super::competing_table::CompetingTable;
use super::variance::{VarianceFormula, variance};
use crate::stats::interval::normal_deviate;
use crate::stats::survival::{KaplanMeier, Transformation, Unidentified};
use crate::stats::{Error, Interval};

/// The incidences at one distance with failures.
#[derive(Debug, Clone, PartialEq)]
pub struct IncidenceStep {
    /// Distance of the failures.
    pub distance: f64,
    /// Lives at risk there.
    pub at_risk: u64,
    /// Failures there, by cause.
    pub failed: Vec<u64>,
    /// S just before this distance.
    pub survival_before: f64,
    /// S(t) from this distance on, against all causes.
    pub survival: f64,
    /// F_c(t) by cause: S(t) and all of them sum to 1.
    pub incidence: Vec<f64>,
}

impl IncidenceStep {
    /// Failures of all causes.
    pub fn failures(&self) -> u64 {
        self.failed.iter().sum()
    }
}

/// F_c(t) = sum over failure distances u <= t of S(u-) d_c(u) / n(u) (Aalen & Johansen 1978), given survival to the first
/// entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Incidence {
    causes: usize,
    steps: Vec<IncidenceStep>,
    curve: KaplanMeier,
}

impl Incidence {
    /// Estimates the incidences of all causes.
    ///
    /// # Errors
    /// [`Error::Input`] for a table without lives.
    pub fn new(table: &CompetingTable) -> Result<Self, Error> {
        let curve = KaplanMeier::new(table.all())?;
        let mut steps: Vec<IncidenceStep> = Vec::new();
        let mut incidence = vec![0.0; table.causes()];
        let mut survival = 1.0;
        let rows = table.rows().iter().zip(table.all().with_risk_sets());
        for (row, (total, at_risk)) in rows.filter(|(_, (total, _))| total.failed > 0) {
            let n = at_risk as f64;
            for (share, &failed) in incidence.iter_mut().zip(&row.failed) {
                *share += survival * failed as f64 / n;
            }
            let survival_before = survival;
            survival *= (n - total.failed as f64) / n;
            steps.push(IncidenceStep {
                distance: row.distance,
                at_risk,
                failed: row.failed.clone(),
                survival_before,
                survival,
                incidence: incidence.clone(),
            });
        }
        Ok(Self {
            causes: table.causes(),
            steps,
            curve,
        })
    }

    /// Number of causes.
    pub fn causes(&self) -> usize {
        self.causes
    }

    /// One step a distance with failures.
    pub fn steps(&self) -> &[IncidenceStep] {
        &self.steps
    }

    /// Survival against all causes, with what it cannot say.
    pub fn all_causes(&self) -> &KaplanMeier {
        &self.curve
    }

    /// The position of the step in force at `distance`; none before the first failure.
    ///
    /// # Errors
    /// Where the data do not reach, as [`KaplanMeier::step_at`].
    pub fn position_at(&self, distance: f64) -> Result<Option<usize>, Unidentified> {
        self.curve.step_at(distance)?;
        let passed = self.steps.partition_point(|step| step.distance <= distance);
        Ok(passed.checked_sub(1))
    }

    /// F_c(t).
    ///
    /// # Errors
    /// As [`Self::position_at`].
    pub fn incidence(&self, cause: usize, distance: f64) -> Result<f64, Unidentified> {
        let step = self
            .position_at(distance)?
            .and_then(|last| self.steps.get(last));
        Ok(step
            .and_then(|step| step.incidence.get(cause).copied())
            .unwrap_or(0.0))
    }

    /// The variance of F_c after each step.
    ///
    /// # Errors
    /// [`Error::Input`] for a cause past the number of causes.
    pub fn variance(&self, cause: usize, formula: VarianceFormula) -> Result<Vec<f64>, Error> {
        variance(self, cause, formula)
    }

    /// Limits of F_c after each step on the scale ln(-ln F), with the Greenwood-type variance; none while no life has failed
    /// by the cause.
    ///
    /// # Errors
    /// [`Error::Level`]; [`Error::Input`] for a cause past the number of causes.
    pub fn limits(&self, cause: usize, level: f64) -> Result<Vec<Option<Interval>>, Error> {
        let deviate = normal_deviate(level)?;
        let variances = self.variance(cause, VarianceFormula::Greenwood)?;
        let limits = self.steps.iter().zip(variances).map(|(step, variance)| {
            let share = step.incidence.get(cause).copied().unwrap_or(0.0);
            let usable = share > 0.0 && share < 1.0 && variance > 0.0;
            usable.then(|| Transformation::LogLog.limits(share, variance.sqrt() / share, deviate))
        });
        Ok(limits.collect())
    }
}
