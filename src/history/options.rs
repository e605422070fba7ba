//! What may be chosen about history: the comeback window and the confirmation level. Spans depend on neither.

use serde::Serialize;

/// More than this between two readings, for each day between them plus one, is no driving: 1,500 km (common practice).
pub const LARGEST_METRES_A_DAY: i64 = 1_500_000;

/// A vehicle seen less than so many days after a case with a finding ended may have been brought in by that failure: fetched,
/// looked at again, not yet right (30 days, common practice).
pub const AFTER_CASE_DAYS: i64 = 30;

/// Days between two sightings without trouble where a vehicle has no two of its own (common practice: a service a year).
pub const USUAL_DAYS: i64 = 365;

/// The comeback window and the confirmation level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub struct HistoryOptions {
    /// A case at most this many days after the case before it ended is a comeback.
    pub window_days: i64,
    /// ... and at most this many metres further on, where both odometers are known.
    pub window_m: i64,
    /// Findings below this confirmation level (0..=3) do not count.
    pub confirmation: i64,
}

impl Default for HistoryOptions {
    /// 30 days or 1,600 km, whichever comes first (common practice); fix verified.
    fn default() -> Self {
        Self {
            window_days: 30,
            window_m: 1_600_000,
            confirmation: 1,
        }
    }
}
