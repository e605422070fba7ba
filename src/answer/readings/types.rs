//! The answer `readings` gives: its struct is the JSON contract `boretally.readings/1`.

use serde::Serialize;

use crate::answer::parts::{Caveat, Estimate, Evidence};
use crate::answer::question::Question;

/// What healthy cylinders of one family read in one test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Readings {
    /// What was asked.
    pub question: Question,
    /// Engine family id.
    pub family: String,
    /// Engine family in words.
    pub family_title: String,
    /// Test id.
    pub test: String,
    /// Test in words.
    pub test_title: String,
    /// Unit of the readings.
    pub unit: String,
    /// `ratio` or `difference`: how a cylinder is set against the others of its engine.
    pub contrast: &'static str,
    /// On which side of the healthy a fault reads: `low`, `high` or `either`.
    pub faulty_side: &'static str,
    /// What these numbers are, and what they are not.
    pub label: &'static str,
    /// Plain words.
    pub verdict: Vec<String>,
    /// Engines by their median, single cylinders, and cylinders against the others of their engine.
    pub ranges: Vec<Range>,
    /// Cut-offs that best separate confirmed faults, on the contrast and on the reading.
    pub cut_offs: Vec<CutOffRow>,
    /// Confirmed faults by cause.
    pub faulty: Vec<FaultyCause>,
    /// Readings that are neither healthy nor faulty, by reason.
    pub left_out: Vec<LeftOut>,
    /// Counts for a chart: of the readings and of the contrast.
    pub histograms: Vec<Histogram>,
    /// The same under stricter confirmation.
    pub sensitivity: Vec<ReadingRule>,
    /// What stands behind it; events are cylinders with a confirmed fault.
    pub evidence: Evidence,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// Where the healthy lie.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Range {
    /// `engine`, `cylinder` or `contrast`.
    pub id: &'static str,
    /// In words.
    pub title: String,
    /// Unit.
    pub unit: String,
    /// Engines behind it.
    pub engines: u64,
    /// Readings behind it; cylinders of one engine are alike, so these are not as many independent values.
    pub readings: u64,
    /// `order-statistic`, `robust` or `comparison-only`.
    pub method: &'static str,
    /// Middle.
    pub median: Option<Estimate>,
    /// Lower end of the central 95 %.
    pub lower: Option<Estimate>,
    /// Upper end.
    pub upper: Option<Estimate>,
    /// Least.
    pub least: Option<f64>,
    /// Greatest.
    pub greatest: Option<f64>,
    /// Confidence that least and greatest hold 95 % of engines between them; only where no range is given.
    pub held_confidence: Option<f64>,
}

/// A cut-off and what it makes of the records.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CutOffRow {
    /// `contrast` or `reading`.
    pub on: &'static str,
    /// `at-or-below`, `at-or-above` or `apart`.
    pub side: &'static str,
    /// In words.
    pub rule: String,
    /// The cut-off in the unit of what it is on.
    pub value: f64,
    /// Sensitivity + specificity - 1.
    pub youden: f64,
    /// Confirmed faults judged.
    pub faulty: u64,
    /// Healthy cylinders judged.
    pub healthy: u64,
    /// Share of confirmed faults beyond it.
    pub sensitivity: Estimate,
    /// Share of healthy cylinders within it.
    pub specificity: Estimate,
    /// The same if everybody had been verified; absent where that cannot be known.
    pub corrected: Option<CorrectedAccuracy>,
}

/// Accuracy corrected for verification that depended on the reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CorrectedAccuracy {
    /// Method id.
    pub method: &'static str,
    /// Readings beyond the cut-off whose cylinder nobody verified.
    pub unverified_beyond: u64,
    /// Readings within it whose cylinder nobody verified.
    pub unverified_within: u64,
    /// Share of faulty cylinders among all that were read.
    pub prevalence: f64,
    /// Sensitivity.
    pub sensitivity: CorrectedShare,
    /// Specificity.
    pub specificity: CorrectedShare,
}

/// A corrected share; limits are absent where a count is 0.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CorrectedShare {
    /// The share.
    pub value: f64,
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Confidence level.
    pub level: f64,
}

/// Confirmed faults of one cause.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FaultyCause {
    /// Cause id.
    pub cause: String,
    /// In words.
    pub title: String,
    /// Cylinders.
    pub readings: u64,
    /// Median reading.
    pub median: f64,
    /// Median contrast; absent where none had other cylinders to be set against.
    pub median_contrast: Option<f64>,
}

/// Readings left out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOut {
    /// Stable id.
    pub id: &'static str,
    /// In words.
    pub title: &'static str,
    /// How many.
    pub readings: u64,
}

/// Counts in bins of equal width.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Histogram {
    /// `cylinder` or `contrast`, as the ranges.
    pub of: &'static str,
    /// Lower edge of the first bin.
    pub from: f64,
    /// Width of a bin; bins are [lower, upper).
    pub width: f64,
    /// Healthy cylinders by bin.
    pub healthy: Vec<u64>,
    /// Confirmed faults by bin.
    pub faulty: Vec<u64>,
    /// Readings below the first bin, not drawn.
    pub below: u64,
    /// Readings above the last bin, not drawn.
    pub above: u64,
}

/// The answer under another rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingRule {
    /// Stable id.
    pub id: String,
    /// The rule in words.
    pub rule: String,
    /// Engines with a healthy cylinder.
    pub engines: u64,
    /// Confirmed faults.
    pub faulty: u64,
    /// Lower end for single cylinders.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Cut-off on the contrast.
    pub cut_off: Option<f64>,
    /// Whether an end or the cut-off falls outside the main answer's intervals, or the method changes.
    pub changes_verdict: bool,
}
