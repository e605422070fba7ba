//! One vehicle's stretches under observation and what happened in them.

use crate::stats::Error;

/// A vehicle watched over stretches of distance, with its events.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    windows: Vec<(f64, f64)>,
    events: Vec<(f64, f64)>,
}

impl History {
    /// Stretches (from, to], sorted and not overlapping, and events (distance, amount): amount 1 to count, a cost to sum. Two
    /// repairs at one distance are two events.
    ///
    /// # Errors
    /// [`Error::Parameter`] for a stretch without length, one that starts before the last ended, or an event outside all
    /// stretches.
    pub fn new(windows: Vec<(f64, f64)>, mut events: Vec<(f64, f64)>) -> Result<Self, Error> {
        let refuse = |value, requirement| Error::Parameter {
            name: "distance",
            value,
            requirement,
        };
        let mut last = 0.0;
        for &(from, to) in &windows {
            if !(from >= last && from < to && to.is_finite()) {
                let requirement = "stretches must be sorted, apart, finite and longer than 0";
                return Err(refuse(from, requirement));
            }
            last = to;
        }
        events.sort_by(|a, b| a.0.total_cmp(&b.0));
        for &(distance, amount) in &events {
            if !windows
                .iter()
                .any(|&(from, to)| from < distance && distance <= to)
            {
                return Err(refuse(
                    distance,
                    "an event must lie in a stretch under observation",
                ));
            }
            if !amount.is_finite() {
                return Err(refuse(distance, "an event's amount must be finite"));
            }
        }
        Ok(Self { windows, events })
    }

    /// The stretches.
    pub fn windows(&self) -> &[(f64, f64)] {
        &self.windows
    }

    /// The events, by distance.
    pub fn events(&self) -> &[(f64, f64)] {
        &self.events
    }

    /// Distance under observation.
    pub fn exposure(&self) -> f64 {
        self.windows.iter().map(|(from, to)| to - from).sum()
    }
}
