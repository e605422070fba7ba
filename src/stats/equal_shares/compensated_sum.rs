//! A sum of many small terms.

/// A sum that keeps the digits a plain one loses (Neumaier 1974, Z angew Math Mech 54:39).
#[derive(Default)]
pub(super) struct CompensatedSum {
    sum: f64,
    lost: f64,
}

impl CompensatedSum {
    /// Adds one term.
    pub fn add(&mut self, value: f64) {
        let sum = self.sum + value;
        self.lost += if self.sum >= value {
            (self.sum - sum) + value
        } else {
            (value - sum) + self.sum
        };
        self.sum = sum;
    }

    /// The sum so far.
    pub fn value(&self) -> f64 {
        self.sum + self.lost
    }
}
