//! One cell of a tally of rates, and what happened at each site in it.

use serde::Serialize;

use super::key::KeyPart;
use crate::domain::day::Day;

/// Failures and exposure of one cell at one site.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SiteCell {
    /// Site; `None` where it is unknown.
    pub site: Option<String>,
    /// Failures under observation.
    pub events: u64,
    /// Metres under observation.
    pub exposure_m: i64,
}

/// Failures and exposure of one combination of the dimensions asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct RateCell {
    /// One part for each dimension.
    pub key: Vec<KeyPart>,
    /// Failures under observation: the numerator.
    pub events: u64,
    /// Failures of vehicles never seen before them: shown beside the rate, in no rate.
    pub walk_ins: u64,
    /// Failures of vehicles seen before, after their observation had ended: shown beside the rate, in no rate.
    pub after_last_visit: u64,
    /// Vehicles with a failure under observation.
    pub event_vehicles: u64,
    /// Vehicles with exposure in this cell.
    pub vehicles: u64,
    /// Metres under observation: the denominator. For a cylinder it is the distance of the engines that have it.
    pub exposure_m: i64,
    /// The same by site, for judging how much sites differ; sorted by site, without those that have neither.
    pub sites: Vec<SiteCell>,
    /// First day of exposure (or failure) of the family, site and model year of this cell.
    pub first: Option<Day>,
    /// Last day of exposure (or failure) of the family, site and model year of this cell.
    pub last: Option<Day>,
}

impl RateCell {
    /// Widens the cell's days.
    pub(super) fn cover(&mut self, first: Option<Day>, last: Option<Day>) {
        self.first = match (self.first, first) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        self.last = self.last.max(last);
    }
}
