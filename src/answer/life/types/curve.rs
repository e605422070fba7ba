//! What is read off the lives without a distribution: survival, rates by band, which cause came first.

use serde::Serialize;

use crate::answer::parts::Estimate;

/// The curve from one distance with failures on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurveStep {
    /// Distance of the failures.
    pub distance_m: i64,
    /// Lives at risk there.
    pub at_risk: u64,
    /// First failures there.
    pub failed: u64,
    /// Lives that left unfailed since the step before.
    pub left: u64,
    /// Kaplan-Meier share without failure.
    pub survival: f64,
    /// Greenwood's standard error; none once nobody is left.
    pub standard_error: Option<f64>,
    /// Lower log-log limit.
    pub lower: Option<f64>,
    /// Upper log-log limit.
    pub upper: Option<f64>,
    /// Lower limit of the band that holds the whole curve at once.
    pub band_lower: Option<f64>,
    /// Upper limit of that band.
    pub band_upper: Option<f64>,
    /// Nelson-Aalen cumulative hazard.
    pub cumulative_hazard: f64,
    /// Its standard error.
    pub cumulative_hazard_error: f64,
}

/// Range and width of the simultaneous band.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SimultaneousBand {
    /// Where it begins.
    pub from_m: i64,
    /// Where it ends.
    pub to_m: i64,
    /// Standard errors on each side.
    pub deviate: f64,
}

/// The curve at one distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Milestone {
    /// The distance.
    pub distance_m: i64,
    /// Lives at risk there.
    pub at_risk: u64,
    /// First failures up to there.
    pub failed: u64,
    /// Lives that had left unfailed before it.
    pub left: u64,
    /// Share without failure; none where it is not identified.
    pub survival: Option<Estimate>,
}

/// A mean distance up to a limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeanDistance {
    /// From where.
    pub from_m: i64,
    /// Up to where.
    pub to_m: i64,
    /// Mean metres driven without failure in between.
    pub distance: Estimate,
    /// Standard error in metres.
    pub standard_error: f64,
}

/// First failures in one mileage band.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HazardBand {
    /// The band in words.
    pub band: String,
    /// Its beginning.
    pub from_m: i64,
    /// Its end; none for the last.
    pub to_m: Option<i64>,
    /// First failures in it.
    pub failures: u64,
    /// Metres at risk of a first failure.
    pub exposure_m: i64,
    /// First failures per 100 000 km (or miles).
    pub rate: Option<Estimate>,
    /// Every failure over all distance, as `rates` counts it.
    pub every_failure: Option<Estimate>,
}

/// One of several competing causes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CauseIncidence {
    /// Cause id.
    pub cause: String,
    /// Cause in words.
    pub title: String,
    /// Lives whose first failure it was.
    pub failed: u64,
    /// Share failed first by this cause, where it changes.
    pub steps: Vec<IncidenceStep>,
}

/// The incidence of a cause from one distance on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IncidenceStep {
    /// Distance.
    pub distance_m: i64,
    /// Aalen-Johansen share.
    pub share: f64,
    /// Standard error, Greenwood type.
    pub standard_error: f64,
    /// Lower limit on the log-log scale.
    pub lower: Option<f64>,
    /// Upper limit on the log-log scale.
    pub upper: Option<f64>,
}
