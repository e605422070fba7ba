//! The answer `rates` gives: its struct is the JSON contract `boretally.rates/1`.

use serde::Serialize;

use crate::answer::label::RowKey;
use crate::answer::parts::{Caveat, Estimate, Evidence};
use crate::answer::question::Question;

/// Rates by cell, with everything needed to judge them.
#[derive(Debug, Clone, Serialize)]
pub struct Rates {
    /// What was asked.
    pub question: Question,
    /// Unit of every rate, such as `events per 100,000 km`.
    pub unit: String,
    /// Plain words.
    pub verdict: Vec<String>,
    /// All cells together.
    pub total: RateRow,
    /// One row a cell, in key order.
    pub rows: Vec<RateRow>,
    /// Number of cells that were compared with all other engines.
    pub cells_compared: usize,
    /// The distribution of true rates over cells, fitted by gamma-Poisson.
    pub spread: Option<Spread>,
    /// The same question under other rules.
    pub sensitivity: Vec<Sensitivity>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// One cell.
#[derive(Debug, Clone, Serialize)]
pub struct RateRow {
    /// Which cell.
    pub key: RowKey,
    /// Events over exposure; absent where there is no exposure.
    pub estimate: Option<Estimate>,
    /// Wider interval that allows for sites that vary.
    pub across_sites: Option<AcrossSites>,
    /// Shrunk towards the mean of all cells, used for ranking.
    pub shrunk: Option<Estimate>,
    /// Rank by shrunk rate, 1 the highest; absent where there is no exposure.
    pub rank: Option<usize>,
    /// Exact rate ratio against all other engines.
    pub versus_others: Option<VersusOthers>,
    /// Failures of vehicles never seen before: beside the rate, not in it.
    pub walk_ins: u64,
    /// Failures of vehicles seen before, after their last plain visit: beside the rate, not in it.
    pub after_last_visit: u64,
    /// What stands behind it.
    pub evidence: Evidence,
    /// The numbers are left out because there are fewer failures than this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub suppressed_below: Option<u64>,
}

/// How much the sites of a cell differ.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AcrossSites {
    /// Sites with exposure.
    pub sites: usize,
    /// Pearson dispersion; 1 is what chance alone gives.
    pub dispersion: f64,
    /// p-value of equal rates at all sites.
    pub p: f64,
    /// Whether the wider interval is the one to use.
    pub widened: bool,
    /// The interval that respects sites.
    pub interval: Estimate,
}

/// This cell against the same cell of all other engines.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VersusOthers {
    /// Rate ratio with its exact conditional interval; infinite (null in JSON) where the others have no event.
    pub ratio: Estimate,
    /// Exact two-sided p-value.
    pub p: f64,
    /// The same after Benjamini-Hochberg over the cells compared.
    pub p_adjusted: f64,
    /// Events of the others.
    pub other_events: u64,
    /// Exposure of the others in metres.
    pub other_exposure_m: i64,
}

/// Gamma distribution of true rates over the cells.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spread {
    /// Mean rate, in the answer's unit.
    pub mean: f64,
    /// Shape of the gamma distribution; absent when the cells do not differ more than chance.
    pub shape: Option<f64>,
    /// p-value of no difference between cells (half chi-square, one degree of freedom).
    pub p: f64,
    /// Cells it was fitted to.
    pub cells: usize,
}

/// The total under another rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// Stable id, such as `window-15`.
    pub id: String,
    /// The rule in words.
    pub rule: String,
    /// Events in the rate.
    pub events: u64,
    /// Rate of all cells together.
    pub estimate: Option<Estimate>,
    /// Cell with the highest shrunk rate, in words.
    pub highest: Option<String>,
    /// Whether that is another cell than in the main answer.
    pub changes_verdict: bool,
}
