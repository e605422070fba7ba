//! Tests of whether groups fail alike.

use serde::Serialize;

use crate::answer::label::RowKey;

/// A test of whether groups fail alike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// What fails, where causes or cylinders are told apart.
    pub what: RowKey,
    /// Dimensions within which groups are compared.
    pub within: Vec<&'static str>,
    /// Log-rank statistic.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Its p-value; none when no two groups were at risk together.
    pub p: Option<f64>,
    /// p-value of the Peto-Peto test, which weighs early failures more.
    pub p_early: Option<f64>,
    /// The groups.
    pub groups: Vec<ComparedGroup>,
    /// Where causes compete to come first: whether their shares differ, cause by cause.
    pub causes: Vec<CauseComparison>,
    /// Groups that cannot be followed from where the shares are compared.
    pub left_out: Vec<RowKey>,
}

/// Gray's test of whether the share that fails first by one cause differs between groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CauseComparison {
    /// Cause id.
    pub cause: String,
    /// Cause in words.
    pub title: String,
    /// Given that lives reach this distance; with strata, the largest of those at which they begin.
    pub from_m: i64,
    /// The statistic.
    pub chi_square: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Its p-value; none when nothing can be compared.
    pub p: Option<f64>,
    /// The same, adjusted for the number of causes.
    pub p_adjusted: Option<f64>,
    /// First failures by the cause: counted, and expected if it took the same share of all groups.
    pub groups: Vec<ComparedGroup>,
}

/// One group of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComparedGroup {
    /// Ids of the group's parts.
    pub key: RowKey,
    /// First failures.
    pub observed: f64,
    /// First failures expected if all groups failed alike.
    pub expected: f64,
}

impl CauseComparison {
    /// The group with most failures against those expected.
    pub fn most(&self) -> Option<&ComparedGroup> {
        most(&self.groups)
    }
}

/// The group with most failures against those expected.
pub fn most(groups: &[ComparedGroup]) -> Option<&ComparedGroup> {
    let ratio = |g: &ComparedGroup| g.observed / g.expected;
    let known = groups.iter().filter(|g| g.expected > 0.0);
    known.max_by(|a, b| ratio(a).total_cmp(&ratio(b)))
}
