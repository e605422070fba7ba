//! Successes and trials, checked once.

use crate::stats::error::Error;

/// Largest count a double holds exactly.
const MAX_COUNT: u64 = 1 << 53;

/// x successes in n trials with 0 <= x <= n and n >= 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    x: f64,
    n: f64,
}

impl Sample {
    /// Checks the counts.
    ///
    /// # Errors
    /// [`Error::Proportion`] if n = 0 or x > n; [`Error::Parameter`] if n is above 2^53.
    pub fn new(x: u64, n: u64) -> Result<Self, Error> {
        if n == 0 || x > n {
            return Err(Error::Proportion {
                successes: x,
                trials: n,
            });
        }
        if n > MAX_COUNT {
            return Err(Error::Parameter {
                name: "trials",
                value: n as f64,
                requirement: "must be at most 2^53, the largest count held exactly",
            });
        }
        Ok(Self {
            x: x as f64,
            n: n as f64,
        })
    }

    /// Successes.
    pub fn successes(self) -> f64 {
        self.x
    }

    /// Trials without success.
    pub fn failures(self) -> f64 {
        self.n - self.x
    }

    /// Trials.
    pub fn trials(self) -> f64 {
        self.n
    }

    /// The observed share x / n.
    pub fn share(self) -> f64 {
        self.x / self.n
    }

    /// Whether there was no success.
    pub fn none(self) -> bool {
        self.x == 0.0
    }

    /// Whether every trial was a success.
    pub fn all(self) -> bool {
        self.x == self.n
    }
}
