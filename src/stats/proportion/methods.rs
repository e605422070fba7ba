//! The register of methods; lists elsewhere derive from it.

use super::{
    agresti_coull, clopper_pearson, jeffreys, jeffreys_modified, likelihood_ratio, mid_p, wald,
    wilson, wilson_cc,
};
use crate::stats::error::Error;
use crate::stats::interval::Interval;

/// A way to put limits on a proportion.
#[derive(Debug, Clone, Copy)]
pub struct Method {
    /// Stable id, as options and JSON use it.
    pub id: &'static str,
    /// Name as printed.
    pub title: &'static str,
    /// Author and year.
    pub source: &'static str,
    /// What to expect of its coverage, in one clause.
    pub coverage: &'static str,
    /// Limits from successes, trials and level.
    pub function: fn(u64, u64, f64) -> Result<Interval, Error>,
}

/// Every method, the recommended one first.
pub const METHODS: &[Method] = &[
    Method {
        id: "wilson",
        title: "Wilson score",
        source: "Wilson 1927",
        coverage: "close to the level on average",
        function: wilson,
    },
    Method {
        id: "wilson_cc",
        title: "Wilson score, continuity-corrected",
        source: "Newcombe 1998",
        coverage: "seldom below the level",
        function: wilson_cc,
    },
    Method {
        id: "clopper_pearson",
        title: "Clopper-Pearson (exact)",
        source: "Clopper and Pearson 1934",
        coverage: "never below the level",
        function: clopper_pearson,
    },
    Method {
        id: "mid_p",
        title: "mid-P",
        source: "Lancaster 1961",
        coverage: "close to the level on average, a little below it for some shares",
        function: mid_p,
    },
    Method {
        id: "jeffreys",
        title: "Jeffreys, equal-tailed",
        source: "Brown, Cai and DasGupta 2001",
        coverage: "close to the level on average, below it near 0 and 1",
        function: jeffreys,
    },
    Method {
        id: "jeffreys_modified",
        title: "Jeffreys, with 0 and 1 at the ends",
        source: "Brown, Cai and DasGupta 2001",
        coverage: "close to the level on average",
        function: jeffreys_modified,
    },
    Method {
        id: "likelihood_ratio",
        title: "likelihood ratio",
        source: "Wilks 1938",
        coverage: "close to the level for large counts",
        function: likelihood_ratio,
    },
    Method {
        id: "agresti_coull",
        title: "Agresti-Coull",
        source: "Agresti and Coull 1998",
        coverage: "close to the level or above it; may leave 0 to 1",
        function: agresti_coull,
    },
    Method {
        id: "wald",
        title: "Wald",
        source: "textbook",
        coverage: "often far below the level; for comparison only",
        function: wald,
    },
];

/// The method with this id.
pub fn find(id: &str) -> Option<&'static Method> {
    METHODS.iter().find(|method| method.id == id)
}
