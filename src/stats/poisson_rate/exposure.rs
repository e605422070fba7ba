//! A count and its exposure, checked once.

use crate::stats::error::Error;

/// Events counted over a positive, finite exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observed {
    count: f64,
    exposure: f64,
}

impl Observed {
    /// Checks the exposure.
    ///
    /// # Errors
    /// [`Error::Parameter`] unless 0 < exposure < infinity and count <= 2^53.
    pub fn new(count: u64, exposure: f64) -> Result<Self, Error> {
        if !(exposure > 0.0 && exposure.is_finite()) {
            return Err(Error::Parameter {
                name: "exposure",
                value: exposure,
                requirement: "must be positive and finite; without exposure there is no rate",
            });
        }
        if count > 1 << 53 {
            return Err(Error::Parameter {
                name: "count",
                value: count as f64,
                requirement: "must be at most 2^53, the largest count held exactly",
            });
        }
        Ok(Self {
            count: count as f64,
            exposure,
        })
    }

    /// Events.
    pub fn count(self) -> f64 {
        self.count
    }

    /// Exposure in the caller's unit.
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// Events per unit of exposure.
    pub fn rate(self) -> f64 {
        self.count / self.exposure
    }
}
