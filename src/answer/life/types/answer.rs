//! The whole answer `life` gives: its struct is the JSON contract `boretally.life/1`. Every distance is in metres.

use serde::Serialize;

use super::comparison::Comparison;
use super::few::PooledShape;
use super::group::GroupLife;
use crate::answer::label::RowKey;
use crate::answer::parts::{Caveat, Estimate};
use crate::answer::question::Question;

/// Survival of every group, and what follows from it.
#[derive(Debug, Clone, Serialize)]
pub struct Life {
    /// What was asked.
    pub question: Question,
    /// `engine`, `odometer` or `repair`: what distances are counted from.
    pub clock: &'static str,
    /// What fails, in words: a cause, several, or any failure.
    pub what: String,
    /// Whose life it is where groups are not split by family.
    pub whose: String,
    /// Plain words.
    pub verdict: Vec<String>,
    /// One entry a group.
    pub groups: Vec<GroupLife>,
    /// Shapes that groups with few failures borrow from all groups.
    pub pooled: Vec<PooledShape>,
    /// Tests of whether groups differ.
    pub comparisons: Vec<Comparison>,
    /// The same question under other rules.
    pub sensitivity: Vec<LifeRule>,
    /// What to know before using it.
    pub caveats: Vec<Caveat>,
}

/// A group under another rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LifeRule {
    /// Stable id, such as `confirmation-2`.
    pub id: String,
    /// The rule in words.
    pub rule: String,
    /// The group.
    pub key: RowKey,
    /// First failures.
    pub failures: u64,
    /// Distance by which 10 % have failed, by the curve.
    pub tenth: Option<Estimate>,
    /// Whether that lies outside the interval of the main answer.
    pub changes_verdict: bool,
}
