//! What a roster holds once read.

use serde::Serialize;

/// One unit that can be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RosterUnit {
    /// Line of the roster.
    pub line: u64,
    /// The unit as the roster writes it.
    pub label: String,
    /// Its name in the store.
    pub vehicle: String,
    /// Engine family id; none where the roster does not say.
    pub family: Option<String>,
    /// Odometer in metres.
    pub odometer_m: Option<i64>,
    /// Planned distance in metres.
    pub planned_m: Option<i64>,
}

/// A row that cannot be used, and the way out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BadRow {
    /// Line of the roster.
    pub line: u64,
    /// The unit as the roster writes it.
    pub unit: String,
    /// Field of the mapping.
    pub field: String,
    /// Value as found.
    pub value: String,
    /// What is wrong.
    pub problem: String,
    /// What to do about it.
    pub remedy: String,
}

/// A roster as read.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Roster {
    /// Units, in the roster's order.
    pub units: Vec<RosterUnit>,
    /// Rows that cannot be used.
    pub bad: Vec<BadRow>,
    /// Rows read.
    pub read: u64,
}
