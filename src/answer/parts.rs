//! What every answer is made of: an estimate with its interval, the evidence behind it, and caveats.

use serde::Serialize;

use crate::domain::day::Day;

/// A number with its interval.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Estimate {
    /// Point estimate.
    pub value: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit; `None` where the data set no upper limit.
    pub upper: Option<f64>,
    /// Confidence level, such as 0.95.
    pub level: f64,
    /// Method id, such as `garwood`.
    pub method: String,
}

/// How much stands behind an answer.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Evidence {
    /// Failures counted.
    pub events: u64,
    /// Vehicles they (and the exposure) come from.
    pub vehicles: u64,
    /// Distance under observation in metres; absent where the answer needs none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub exposure_m: Option<i64>,
    /// Sites that contributed.
    pub sites: u64,
    /// First day seen.
    pub first_date: Option<Day>,
    /// Last day seen.
    pub last_date: Option<Day>,
}

/// What a reader must know before using an answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Caveat {
    /// Stable id, such as `walk-ins-apart`.
    pub id: &'static str,
    /// One or two sentences with the numbers in them.
    pub text: String,
}
