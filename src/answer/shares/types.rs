//! The answer `shares` gives: its struct is the JSON contract `boretally.shares/1`.

use serde::Serialize;

use crate::answer::label::RowKey;
use crate::answer::parts::{Caveat, Estimate, Evidence};
use crate::answer::question::Question;

/// Shares of causes among confirmed cases, by group.
#[derive(Debug, Clone, Serialize)]
pub struct Shares {
    /// What was asked.
    pub question: Question,
    /// The complaint the cases were filtered by, in words.
    pub complaint: Option<String>,
    /// What the numbers are: `share of failures, not a rate`.
    pub kind: &'static str,
    /// Plain words.
    pub verdict: Vec<String>,
    /// One group for each value of `--by`.
    pub groups: Vec<ShareGroup>,
    /// The same question under other rules.
    pub sensitivity: Vec<ShareSensitivity>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// The causes of one group.
#[derive(Debug, Clone, Serialize)]
pub struct ShareGroup {
    /// Which group.
    pub key: RowKey,
    /// Confirmed cases: the denominator of every share.
    pub confirmed_cases: u64,
    /// One row a cause, most frequent first.
    pub causes: Vec<CauseShare>,
    /// Cases without a confirmed cause, by outcome.
    pub unconfirmed: Vec<OutcomeCount>,
    /// What stands behind it.
    pub evidence: Evidence,
}

/// One cause of a group.
#[derive(Debug, Clone, Serialize)]
pub struct CauseShare {
    /// Cause id.
    pub cause: String,
    /// Cause in words.
    pub title: String,
    /// Cases.
    pub count: u64,
    /// Share with the interval for this cause alone.
    pub share: Estimate,
    /// Share with an interval that holds for all causes of the group at once.
    pub simultaneous: Option<Estimate>,
}

/// Cases that ended without a confirmed cause.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OutcomeCount {
    /// Outcome id.
    pub outcome: String,
    /// Cases.
    pub cases: u64,
}

/// The most frequent cause under another rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShareSensitivity {
    /// Stable id.
    pub id: String,
    /// The rule in words.
    pub rule: String,
    /// Confirmed cases under it.
    pub confirmed_cases: u64,
    /// Most frequent cause in words, with its share.
    pub first: Option<String>,
    /// Whether another cause comes first than in the main answer.
    pub changes_verdict: bool,
}
