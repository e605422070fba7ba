//! The register of methods; lists elsewhere derive from it.

use super::{byar, garwood, jeffreys, mid_p, score};
use crate::stats::error::Error;
use crate::stats::interval::Interval;

/// A way to put limits on a rate.
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
    /// Limits from count, exposure and level.
    pub function: fn(u64, f64, f64) -> Result<Interval, Error>,
}

/// Every method, the recommended one first.
pub const METHODS: &[Method] = &[
    Method {
        id: "garwood",
        title: "Garwood (exact)",
        source: "Garwood 1936",
        coverage: "never below the level",
        function: garwood,
    },
    Method {
        id: "mid_p",
        title: "mid-P",
        source: "Lancaster 1961",
        coverage: "close to the level on average, a little below it for some rates",
        function: mid_p,
    },
    Method {
        id: "byar",
        title: "Byar",
        source: "Breslow and Day 1987",
        coverage: "close to Garwood from a count of 5 on",
        function: byar,
    },
    Method {
        id: "score",
        title: "score",
        source: "Barker 2002",
        coverage: "close to the level on average",
        function: score,
    },
    Method {
        id: "jeffreys",
        title: "Jeffreys, equal-tailed",
        source: "Brown, Cai and DasGupta 2003",
        coverage: "close to the level on average, below it for rates near 0",
        function: jeffreys,
    },
];

/// The method with this id.
pub fn find(id: &str) -> Option<&'static Method> {
    METHODS.iter().find(|method| method.id == id)
}
