//! The struct of the hold-out check is the JSON contract `boretally.test-order-check/1`.

use serde::Serialize;

use crate::answer::parts::{Caveat, Estimate};
use crate::domain::day::Day;

/// How good odds from older cases were for newer ones.
#[derive(Debug, Clone, Serialize)]
pub struct TestOrderCheck {
    /// Cases up to this day were learnt from; later ones judged.
    pub day: Day,
    /// Cases learnt from.
    pub learnt_from: u64,
    /// Cases judged.
    pub judged: u64,
    /// Whether there were enough of both.
    pub enough: bool,
    /// Plain words.
    pub verdict: Vec<String>,
    /// The odds at three moments of a case.
    pub stages: Vec<Stage>,
    /// Minutes of the plan and of other ways, for the causes of the cases judged.
    pub minutes: Vec<Comparison>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// The odds at one moment of every case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stage {
    /// `before`, `first_abnormal` or `all_results`.
    pub id: &'static str,
    /// In words.
    pub title: &'static str,
    /// Whether nothing but results decided that a case came here, so that good odds must agree with what happened.
    pub fair: bool,
    /// Cases.
    pub cases: u64,
    /// Odds from the records.
    pub records: Score,
    /// Odds from the catalog alone.
    pub catalog: Score,
    /// Log score of the records' odds less that of the catalog alone; below 0 the records help.
    pub gained: Option<Estimate>,
    /// Odds of the first cause against how often it was the one.
    pub calibration: Vec<CalibrationBin>,
    /// The same of the catalog alone.
    pub catalog_calibration: Vec<CalibrationBin>,
    /// Spiegelhalter's z of the records' odds of the first cause, standard normal when calibrated.
    pub spiegelhalter_z: Option<f64>,
    /// Its two-sided p.
    pub calibration_p: Option<f64>,
    /// How bold the records' odds of all causes are: 1 when calibrated, below it too bold.
    pub slope: Option<Estimate>,
    /// Two-sided p of the score test that the slope is 1.
    pub slope_p: Option<f64>,
}

/// Scores of one way to name odds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Score {
    /// Mean of -ln of the odds of the true cause; lower is better.
    pub log_score: f64,
    /// Brier score over all causes, 0 to 2; lower is better.
    pub brier: f64,
    /// Share of cases whose first cause was the true one.
    pub first_right: Estimate,
    /// Mean rank of the true cause.
    pub mean_rank: f64,
}

/// One bin of the calibration table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CalibrationBin {
    /// From these odds.
    pub from: f64,
    /// To these.
    pub to: f64,
    /// Cases.
    pub cases: u64,
    /// Mean odds of the first cause.
    pub odds: f64,
    /// How often it was the one.
    pub right: Estimate,
}

/// Minutes of one way of working.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Stable id.
    pub id: String,
    /// In words.
    pub title: String,
    /// Cases.
    pub cases: u64,
    /// Mean minutes a case.
    pub minutes: Estimate,
    /// How many more than the plan's.
    pub more: Option<Estimate>,
}

impl TestOrderCheck {
    /// A stage by its id.
    pub fn stage(&self, id: &str) -> Option<&Stage> {
        self.stages.iter().find(|s| s.id == id)
    }
}
