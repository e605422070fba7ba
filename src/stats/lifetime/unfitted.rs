//! Why a distribution was not fitted, as a value.

/// No estimate, and why.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Unfitted {
    /// Two parameters need failures at two distances or more. A bound on the rate or a stated shape can still be given:
    /// `exponential`, `fixed_shape`.
    #[error(
        "{failures} failures at {distances} different distances: two parameters need at least two of each"
    )]
    TooFewFailures {
        /// Failures observed.
        failures: u64,
        /// Different distances with failures.
        distances: usize,
    },
    /// The likelihood keeps rising towards the edge of its range: no finite estimate exists.
    #[error(
        "the likelihood has no maximum at a finite shape: the lives do not determine this distribution"
    )]
    NoMaximum,
    /// The iteration ended away from a point with gradient 0.
    #[error("the maximum of the likelihood was not reached")]
    NotConverged,
}
