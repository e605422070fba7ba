//! Vehicles under observation and events at each distance, from counts.
//!
//! As with survival, the numbers of stretches that start and end at each distance give the number of vehicles at risk, gaps
//! and late starts included. A vehicle is at risk at t when from < t <= to for one of its stretches.

use super::history::History;
use crate::stats::Error;

/// What happened at one distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecurrenceRow {
    /// The distance, >= 0.
    pub distance: f64,
    /// Stretches of observation that start here.
    pub entered: u64,
    /// Stretches that end here.
    pub left: u64,
    /// Events here.
    pub events: u64,
    /// Sum of the events' amounts: the events themselves when they are only counted, or their cost.
    pub amount: f64,
    /// Sum of the squared amounts.
    pub amount_squares: f64,
}

impl RecurrenceRow {
    /// A distance at which nothing happens; it only asks for the number at risk there.
    pub fn empty(distance: f64) -> Self {
        Self {
            distance,
            entered: 0,
            left: 0,
            events: 0,
            amount: 0.0,
            amount_squares: 0.0,
        }
    }

    /// One event of an amount.
    pub fn event(distance: f64, amount: f64) -> Self {
        Self {
            events: 1,
            amount,
            amount_squares: amount * amount,
            ..Self::empty(distance)
        }
    }

    /// Both ends of a stretch (from, to] that so many vehicles share.
    pub fn window(from: f64, to: f64, vehicles: u64) -> [Self; 2] {
        [
            Self {
                entered: vehicles,
                ..Self::empty(from)
            },
            Self {
                left: vehicles,
                ..Self::empty(to)
            },
        ]
    }
}

/// Counts by distance with the number at risk beside each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RecurrenceTable {
    rows: Vec<RecurrenceRow>,
    at_risk: Vec<u64>,
}

impl RecurrenceTable {
    /// Checks counts sorted by distance and adds the numbers at risk.
    ///
    /// # Errors
    /// [`Error::Parameter`] for a distance not larger than the one before, more stretches ending than are open, or events with
    /// nobody under observation; [`Error::Input`] for stretches that never end.
    pub fn from_counts(rows: Vec<RecurrenceRow>) -> Result<Self, Error> {
        let mut at_risk = Vec::with_capacity(rows.len());
        let (mut open, mut last) = (0u64, f64::NEG_INFINITY);
        for row in &rows {
            let refuse = |requirement| Error::Parameter {
                name: "distance",
                value: row.distance,
                requirement,
            };
            if !(row.distance >= 0.0 && row.distance.is_finite() && row.distance > last) {
                return Err(refuse(
                    "distances must be finite, not negative, and increase",
                ));
            }
            if row.events > 0 && open == 0 {
                return Err(refuse("an event needs a vehicle under observation"));
            }
            let Some(stayed) = open.checked_sub(row.left) else {
                return Err(refuse("more stretches end at this distance than are open"));
            };
            at_risk.push(open);
            open = stayed + row.entered;
            last = row.distance;
        }
        if open != 0 {
            return Err(Error::Input {
                name: "rows",
                requirement: "every stretch under observation must end at some distance",
            });
        }
        Ok(Self { rows, at_risk })
    }

    /// Counts single histories.
    ///
    /// # Errors
    /// As [`Self::from_counts`].
    pub fn from_histories(histories: &[History]) -> Result<Self, Error> {
        let mut single = Vec::new();
        for history in histories {
            for &(from, to) in history.windows() {
                single.extend(RecurrenceRow::window(from, to, 1));
            }
            let events = history.events().iter();
            single.extend(events.map(|&(distance, amount)| RecurrenceRow::event(distance, amount)));
        }
        Self::gather(single)
    }

    /// Sorts rows and folds those of one distance.
    ///
    /// # Errors
    /// As [`Self::from_counts`].
    pub fn gather(mut single: Vec<RecurrenceRow>) -> Result<Self, Error> {
        single.sort_by(|a, b| a.distance.total_cmp(&b.distance));
        let mut rows: Vec<RecurrenceRow> = Vec::new();
        for event in single {
            match rows.last_mut() {
                Some(row) if row.distance == event.distance => {
                    row.entered += event.entered;
                    row.left += event.left;
                    row.events += event.events;
                    row.amount += event.amount;
                    row.amount_squares += event.amount_squares;
                }
                _ => rows.push(event),
            }
        }
        Self::from_counts(rows)
    }

    /// Each row with the number at risk at its distance.
    pub fn with_risk_sets(&self) -> impl Iterator<Item = (RecurrenceRow, u64)> + '_ {
        self.rows.iter().copied().zip(self.at_risk.iter().copied())
    }

    /// Events in the table.
    pub fn events(&self) -> u64 {
        self.rows.iter().map(|row| row.events).sum()
    }

    /// Distance under observation by all vehicles: the sum of the stretches' lengths, not the last readings.
    pub fn exposure(&self) -> f64 {
        let neighbours = self.rows.iter().zip(self.rows.iter().skip(1));
        // At risk at a row is open since the row before.
        let stretches = neighbours.zip(self.at_risk.iter().skip(1));
        stretches
            .map(|((row, next), &open)| (next.distance - row.distance) * open as f64)
            .sum()
    }
}
